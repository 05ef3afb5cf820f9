"""One place of the source changed at a time, and the tests run that call it: how many such mutants do the tests find?

    python benchmarks/mutants.py [--count N] [--seed K] [--rooms books,checks,...] [--evenly] [--kinds
    figure,compare,ends,sign]
                                 [--seconds S] [--folder FOLDER] [--only FILE:LINE[:COLUMN],...]
                                 [--by "tests/checks/test_rule_cases.py -k curb"]

On demand. A copy of the tree is changed, never the tree itself. The first run notes for each test how long it takes and
which functions it calls (`--folder` keeps the notes, the copy and its compiled code; half an hour of one core). A
mutant is then tried by the tests that call its function, those of its own room and the quickest first, until one fails
or the seconds of the processor are up. The tests run in children of one warmed process, so most mutants cost a few
seconds. With `--by` only the tests that are named are run and nothing need be noted: a place is tried in seconds. What
survives is printed with its place; `survivors.md` has the reasons of those that were looked at. Tests that only hold a
page written from the code (`PAGES`) kill nothing here: such a page is written anew, not judged.

Kinds: a `figure` in the code of a room (not 0, 1 or 2, which are mostly places and powers, and none of a
millionth or less, which is room for rounding) or in a CSV of the books, made half
as large again, whole numbers at least one more; a comparison (`compare`) that takes in its bound or leaves it out;
`ends`: min and max exchanged; a `sign` turned.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import re
import shlex
import shutil
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import warm_tests
from mutant_kinds import KINDS, REPO, Function, Mutant, Tree, every_mutant

COPIED = (
    "siteplan",
    "tests",
    "sample_sites",
    "docs",
    "benchmarks",
    "pyproject.toml",
    "README.md",
    "DEVELOPERS.md",
    "CHANGELOG.md",
    ".ci",
)
ROOMS = [
    "books",
    "checks",
    "review",
    "yard",
    "trench",
    "fall",
    "water",
    "waterworks",
    "bedding",
    "laid",
    "ground",
    "routes",
    "quick",
]
SINCE = ["plotting", "planset", "deeds", "underlay", "screen", "batch", "begin", "table"]
SETS = {"first": ROOMS, "since": SINCE}
PICTURES = ("siteplan/planset/texts/detail_drawings.py",)  # drawn not to scale: a stroke's place is no figure
PAGES = (
    "tests/checks/test_rules_page.py",
    "tests/books/test_practice_page.py",
    "tests/doors/test_walks.py",
    "tests/doors/test_tree.py",
    "tests/recipes/test_recipes.py",
)
SOON = 15.0  # seconds of tests that are read and run first
PATIENCE = 240.0  # seconds for a file of tests while they are noted


class Noted:
    """What the tests call, as noted: seconds and functions of each test."""

    def __init__(self, path: Path) -> None:
        self.files: dict[str, Any] = {}
        if path.exists():
            for row in path.read_text("utf-8").splitlines():
                held = json.loads(row)
                self.files[held["file"]] = held
        self.usual: dict[str, float] = {}
        self.callers: dict[Function, set[str]] = {}
        self.file_of: dict[str, str] = {}
        for file, held in self.files.items():
            for test, (seconds, called) in held.get("tests", {}).items():
                if test in held["failed"] or file in PAGES:
                    continue
                self.usual[test], self.file_of[test] = seconds, file
                for function in (*called, *held.get("collected", ())):
                    self.callers.setdefault((function[0], function[1]), set()).add(test)

    def stages(self, functions: set[Function], room: str, readers: set[str]) -> list[list[str]]:
        """Tests in the order in which they are to be run.

        Soon, then the others that call or read it, then their neighbours.
        """
        direct = set().union(*(self.callers.get(function, set()) for function in functions))
        direct |= {test for test, file in self.file_of.items() if file in readers}
        files = {self.file_of[test] for test in direct}
        cost = {file: sum(self.usual[test] for test in direct if self.file_of[test] == file) for file in files}
        order = sorted(direct, key=lambda test: self._place(test, room, cost))
        soon, spent = [], 0.0
        while order and (not soon or spent + self.usual[order[0]] < SOON):
            spent += self.usual[order[0]]
            soon.append(order.pop(0))
        others = [test for test, file in self.file_of.items() if file in files and test not in direct]
        return [part for part in (soon, order, sorted(others, key=lambda test: self._place(test, room, cost))) if part]

    def _place(self, test: str, room: str, cost: dict[str, float]) -> tuple[bool, float, str, float]:
        file = self.file_of[test]
        return not file.startswith(f"tests/{room}/"), cost[file], file, self.usual[test]


def copied(copy: Path) -> None:
    """Bring the copy up to date; byte code and compiled kernels in it stay."""
    for name in COPIED:
        source, target = REPO / name, copy / name
        target.parent.mkdir(parents=True, exist_ok=True)
        if source.is_dir():
            for path in [p for p in target.rglob("*") if p.is_file() and "__pycache__" not in p.parts]:
                if not (source / path.relative_to(target)).exists():
                    path.unlink()
            shutil.copytree(source, target, dirs_exist_ok=True, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy2(source, target)


def note(copy: Path, path: Path, asked: tuple[str, ...]) -> Noted:
    """Note each file of tests that has not been noted."""
    known = set(Noted(path).files)
    files = sorted(p.relative_to(copy).as_posix() for p in (copy / "tests").rglob("test_*.py"))
    with path.open("a", encoding="utf-8") as out:
        for file in files:
            if file in known or file in PAGES or not file.startswith(asked):
                continue
            began = time.monotonic()
            held = warm_tests.record(copy, file, PATIENCE)
            out.write(json.dumps({"file": file, "failed": [], **held}) + "\n")
            out.flush()
            print(
                (
                    f"{file}: {len(held.get('tests', {}))} tests, {time.monotonic() - began:.0f} s, "
                    f"{len(held.get('failed', []))} fail"
                ),
                flush=True,
            )
    return Noted(path)


def readers_of(copy: Path, tree: Tree, mutant: Mutant) -> set[str]:
    """Files of tests that name what the changed line gives."""
    if not mutant.file.endswith(".py") or tree.within(mutant.file, mutant.line):
        return set()
    names = [re.compile(rf"\b{name}\b") for name in tree.names(mutant.file, mutant.line)]
    files = {path.relative_to(copy).as_posix(): path.read_text("utf-8") for path in (copy / "tests").rglob("test_*.py")}
    return {file for file, text in files.items() if any(name.search(text) for name in names)}


def tried(
    copy: Path, tree: Tree, noted: Noted, mutant: Mutant, number: int, seconds: float, by: tuple[str, ...] = ()
) -> tuple[str, str]:
    """Killed, survives, or survives what was run in the time; and by which test. `by`.

    Only these tests, as pytest is told them.
    """
    target = copy / mutant.file
    kept, times = target.read_bytes(), target.stat()
    target.write_text(mutant.text, encoding="utf-8")
    os.utime(
        target, (times.st_mtime + 10 * number,) * 2
    )  # byte code and machine code of another mutant are not taken for this one's
    kernels = {f"{name.replace('.', '/')}.py" for name in warm_tests.compiled_modules()}
    kernels |= set().union(*(tree.imports[file] for file in kernels)) - {"siteplan/site.py"}
    left = seconds
    readers = readers_of(copy, tree, mutant)
    stages = [] if by else noted.stages(tree.workers(mutant.file, mutant.line), mutant.file.split("/")[1], readers)
    if mutant.file.endswith(".py"):
        changed_files = {mutant.file}
    else:
        changed_files = {file for file, _ in tree.workers(mutant.file, mutant.line)}
    try:
        with tempfile.TemporaryDirectory() as folder:
            compiled = folder if mutant.file in kernels else None
            gone = tree.importers(changed_files) | (kernels if compiled else set())
            for stage in [[]] if by else stages:
                if left <= 0:
                    return "SURVIVES (time)", ""
                files = list(by or dict.fromkeys(noted.file_of[test] for test in stage))
                failed, late, took = warm_tests.first_failing(
                    lambda: warm_tests.forget(gone, compiled=compiled), files, stage, noted.usual, left
                )
                if failed:
                    return "killed", failed
                if late:
                    return "SURVIVES (time)", ""
                left -= took
        if by:
            return "SURVIVES", "these tests"
        return ("SURVIVES", f"{sum(map(len, stages))} tests") if stages else ("SURVIVES", "no test calls it")
    finally:
        target.write_bytes(kept)
        os.utime(target, ns=(times.st_atime_ns, times.st_mtime_ns))


def drawn(offered: list[Mutant], count: int, seed: int, *, evenly: bool) -> list[Mutant]:
    """Some of them by chance; evenly: from each room as many as from another, while it has any."""
    if not evenly:
        return random.Random(seed).sample(offered, min(count, len(offered)))
    shuffled = random.Random(seed).sample(offered, len(offered))
    turn: dict[str, int] = {}
    ordered: list[tuple[int, Mutant]] = []
    for one in shuffled:
        room = one.file.split("/")[1]
        turn[room] = turn.get(room, 0) + 1
        ordered.append((turn[room], one))
    return [one for _, one in sorted(ordered, key=lambda pair: (pair[0], pair[1].file))][:count]


def main() -> int:
    """Try them, print the survivors."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rooms", default="first", help="rooms by name, or a set of them: " + ", ".join(SETS))
    parser.add_argument("--evenly", action="store_true", help="as many of each room")
    parser.add_argument("--kinds", default="figure")
    parser.add_argument("--seconds", type=float, default=90.0)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--after", type=int, default=0, help="go on after this one of the chosen")
    parser.add_argument("--tests", default="tests/", help="files and folders of tests that are noted")
    parser.add_argument("--only", default="", help="places, as they are printed")
    parser.add_argument("--by", default="", help="only these tests, as pytest is told them; nothing is noted then")
    asked = parser.parse_args()
    kinds = tuple(kind for kind in asked.kinds.split(",") if kind in KINDS)
    dead = 0
    with tempfile.TemporaryDirectory() as own:
        folder = (asked.folder or Path(own)).resolve()
        copy = folder / "tree"
        copied(copy)
        rooms = [room for name in asked.rooms.split(",") for room in SETS.get(name, [name])]
        offered = [one for one in every_mutant(copy, tuple(rooms), kinds) if one.file not in PICTURES]
        chosen = drawn(offered, asked.count, asked.seed, evenly=asked.evenly)
        if asked.only:
            places = asked.only.split(",")
            chosen = [one for one in offered if {at := f"{one.file}:{one.line}", f"{at}:{one.column}"} & set(places)]
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        sys.dont_write_bytecode = False
        warm_tests.warm(copy)
        by = tuple(shlex.split(asked.by))
        noted = Noted(folder / "no notes") if by else note(copy, folder / "noted.jsonl", tuple(asked.tests.split(",")))
        tree = Tree(copy)
        for number, mutant in enumerate(chosen, 1):
            if number <= asked.after:
                continue
            began = time.monotonic()
            state, killer = tried(copy, tree, noted, mutant, number, asked.seconds, by)
            dead += state == "killed"
            took = time.monotonic() - began
            place = f"{mutant.file}:{mutant.line}"
            print(
                f"{number:4d} {state:8s} {place}  {mutant.kind}: {mutant.old} -> {mutant.new}  [{took:.0f} s; {killer}]",
                flush=True,
            )
    part = 100 * dead / max(1, len(chosen))
    print(f"{dead} of {len(chosen)} killed ({part:.0f} %), of {len(offered)} that could be made")
    return 0


if __name__ == "__main__":
    sys.exit(main())
