"""The tree itself: conversion factors in one place, arrows one way, what README and docs promise."""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import re
import subprocess
import sys
from pathlib import Path

import pytest

import siteplan
from siteplan.cli.main import COMMANDS

REPO = Path(__file__).parents[2]
SOURCES = sorted((REPO / "siteplan").rglob("*.py"))
FACTORS = re.compile(
    r"(?<![\d.])(0?\.3048\d*|1200\s*/\s*3937|25\.4|0?\.0254|448\.83?|15\.850?3?|6\.309\d*e-0?5|3\.2808\d*|4\.448\d*|0?\.4535\d*)(?!\d)"
)


@pytest.mark.parametrize(
    "path", [path for path in SOURCES if path.name != "units.py"], ids=lambda path: str(path.relative_to(REPO))
)
def test_conversion_factors_stand_in_units_alone(path):
    found = [
        (node.lineno, node.value)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, float) and FACTORS.fullmatch(repr(node.value))
    ]
    assert found == []


def test_no_sentence_prints_a_function():
    """A name that lost its local value falls back on a function of that name.

    Which neither lint nor types find in a sentence.
    """
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in SOURCES}
    functions = {one.name for tree in trees.values() for one in tree.body if isinstance(one, ast.FunctionDef)}
    found = []
    for path, tree in trees.items():
        own = {one.name for one in tree.body if isinstance(one, ast.FunctionDef)}
        own |= {
            alias.asname or alias.name
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom)
            for alias in node.names
            if alias.name in functions
        }
        for place in (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)):
            inside = [*ast.walk(place)]
            local = {node.id for node in inside if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)}
            local |= {node.arg for node in inside if isinstance(node, ast.arg)}
            found += [
                (str(path.relative_to(REPO)), node.lineno, node.value.id)
                for node in inside
                if isinstance(node, ast.FormattedValue)
                and isinstance(node.value, ast.Name)
                and node.value.id in own - local
            ]
    assert found == []


def test_no_module_gives_a_name_twice():
    """Of two constants of one name the second holds everywhere, and neither lint nor types tell."""
    found = []
    for path in SOURCES:
        names: list[str] = []
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.Assign):
                names += [one.id for target in node.targets for one in ast.walk(target) if isinstance(one, ast.Name)]
            elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name) and node.value is not None:
                names.append(node.target.id)
            elif isinstance(node, ast.FunctionDef | ast.ClassDef):
                names.append(node.name)
        found += [(str(path.relative_to(REPO)), name) for name in sorted(set(names)) if names.count(name) > 1]
    assert found == []


def test_arrows_go_one_way():
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports; raise SystemExit(lint_imports())"],
        cwd=REPO,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_readme_test_command_is_what_ci_runs():
    readme = (REPO / "README.md").read_text(encoding="utf-8")
    commands = re.findall(r"```\n(python -m pip install .*?)\n```", readme)
    assert len(commands) == 2
    assert "siteplan plan sample_sites/" in commands[0]
    assert commands[1].endswith("python -m pytest")
    ci = (REPO / ".ci" / "run").read_text(encoding="utf-8")
    assert commands[1] in ci


def test_every_link_in_the_docs_leads_somewhere():
    pages = [REPO / "README.md", REPO / "DEVELOPERS.md", *sorted((REPO / "docs").glob("*.md"))]
    dead = [
        f"{page.name}: {target}"
        for page in pages
        for target in re.findall(r"\]\(([^)#\s]+)", page.read_text(encoding="utf-8"))
        if not target.startswith(("http:", "https:", "mailto:")) and not (page.parent / target).exists()
    ]
    assert dead == []


def test_every_command_is_in_the_manual():
    text = "\n".join(
        page.read_text(encoding="utf-8") for page in [REPO / "README.md", *sorted((REPO / "docs").glob("*.md"))]
    )
    assert [name for name in COMMANDS if f"siteplan {name}" not in text] == []


def test_what_every_commands_exit_codes_mean_is_told_once():
    """'0 all well' stood in the README, and a plan whose sources cannot be told ends with 0."""
    page = (REPO / "docs" / "conventions.md").read_text(encoding="utf-8").partition("## Exit codes")[2]
    heads = [row.split("|")[1] for row in page.splitlines() if row.startswith("| `")]
    assert sorted(re.findall(r"`(\w+)`", " ".join(heads))) == sorted(COMMANDS)
    assert "all well" not in (REPO / "README.md").read_text(encoding="utf-8")


def public_functions():
    for module in pkgutil.walk_packages(siteplan.__path__, "siteplan."):
        if module.name.endswith("__main__"):
            continue
        for name, value in vars(importlib.import_module(module.name)).items():
            if inspect.isfunction(value) and value.__module__ == module.name and not name.startswith("_"):
                yield f"{module.name}.{name}", value


def test_public_functions_say_what_comes_in_and_out():
    short = {"declare", "run"}  # a command's two functions have one form, stated in DEVELOPERS.md
    missing = []
    for name, function in public_functions():
        if name.rsplit(".", 1)[1] in short:
            continue
        text = inspect.getdoc(function) or ""
        takes = [p for p in inspect.signature(function).parameters if p not in {"self", "cls"}]
        if (
            not text
            or (takes and "Parameters\n" not in text)
            or (
                function.__annotations__.get("return") not in {None, "None"}
                and "Returns\n" not in text
                and "Yields\n" not in text
            )
        ):
            missing.append(name)
    assert missing == []
