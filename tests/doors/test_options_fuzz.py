"""Every option of every command with what nobody should type: never a fault of ours, never a traceback, never a hang.

`SITEPLAN_FUZZ=2000 python -m pytest tests/doors/test_options_fuzz.py` tries so many; a seeded hundred are tried always.
"""

from __future__ import annotations

import argparse
import itertools
import json
import os
import random
import shutil
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from siteplan.cli.main import COMMANDS, main

ROOT = Path(__file__).parents[2]
TRIES = int(os.environ.get("SITEPLAN_FUZZ", "120"))
NINES, MANY_NINES = "9" * 49, "9" * 400
FIGURES = [
    NINES,
    MANY_NINES,
    f"-{NINES}",
    "1e308",
    "1e400",
    "-1e308",
    "1e-320",
    "nan",
    "inf",
    "-inf",
    "-0",
    "0",
    "1_0",
    "0x10",
    "1/0",
    f"1/{MANY_NINES}",
    f"{MANY_NINES}/8 in",
    f"5'-{NINES}\"",
    "5'-4 1/8\"",
    "64.25in",
    "1.63m",
    "4.86",
    "12",
    "+",
    "-",
    ".",
    "\u0661\u0662",
    "\u221e",
    "4,86",
    "% ",
    "1e5",
    "3 in 4",
]
TEXTS = [
    "",
    " ",
    "x" * 300,
    "\x1b[31mred",
    "\u202egpj",
    "../../etc",
    "/",
    "/nonexist/x",
    ".",
    "=1+1",
    "%s{0}",
    "L1",
    "a,b,c",
    "@",
    "x@1",
    "L1:0+30,left,3,98.62",
    "\udcff",
]
BOOK = "point,BS,IFS,FS,station,remark\nBM,4.12,,,,EL 100.00\nA,,4.86,,,\nBM,,,4.12,,\n"
CALLS = "unit = ft\nNorth 100\nEast 80\nSouth 100\nWest 80\n"
FRESH = itertools.count()
LIST = "1,0,0,98.0,INV\n2,10,0,98.2,INV\n"


@pytest.fixture(scope="module")
def bench(tmp_path_factory, sample_plan):
    """A folder with a plan, a level book and a point list, which commands may be turned on."""
    folder = tmp_path_factory.mktemp("bench")
    shutil.copytree(sample_plan("marsh-lane").folder, folder / "plan")
    (folder / "book.csv").write_text(BOOK, encoding="utf-8")
    (folder / "list.csv").write_text(LIST, encoding="utf-8")
    (folder / "lot.deed").write_text(CALLS, encoding="utf-8")
    (folder / "unready").mkdir()
    (folder / "unready" / "site.toml").write_text('name = "Not ready"\n', encoding="utf-8")
    (folder / "lots" / "unready").mkdir(parents=True)
    shutil.copy(folder / "unready" / "site.toml", folder / "lots" / "unready")
    county(folder)
    return folder


def county(folder: Path) -> None:
    """One parcel without a name on ground that falls away."""
    ring = [[-93.0, 41.5], [-92.9997, 41.5], [-92.9997, 41.5003], [-93.0, 41.5003], [-93.0, 41.5]]
    lot = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    (folder / "lots.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [lot]}), encoding="utf-8")
    with rasterio.open(
        folder / "ground.tif",
        "w",
        driver="GTiff",
        height=60,
        width=60,
        count=1,
        dtype="float64",
        crs="EPSG:4326",
        transform=Affine(1e-5, 0, -93.0002, 0, -1e-5, 41.5005),
    ) as out:
        out.write(np.tile(np.linspace(103.0, 100.0, 60), (60, 1)), 1)


def arguments(command: str, bench: Path) -> list[str]:
    """What the command needs, in a form that works."""
    plan, out = str(bench / "plan"), str(bench / "out")
    return {
        "plan": [str(bench / "missing"), "--out", out],
        "new": [str(bench / f"begun-{next(FRESH)}")],
        "check": [str(bench / "unready")],
        "deed": [str(bench / "lot.deed")],
        "completion": ["bash"],
        "sheets": [plan, "--out", str(bench / "set.pdf"), "--parts", "cover"],
        "draw": [str(bench / "unready"), "--no-browser"],
        "fall": ["--rod-start", "4.86", "--rod-outlet", "7.50", "--length", "84"],
        "levels": [str(bench / "book.csv")],
        "belly": [plan],
        "cutsheet": [plan, "--hi", "4.5"],
        "asbuilt": [plan, str(bench / "list.csv")],
        "review": [plan],
        "compare": [plan, plan],
        "export": [plan, "--to", "svg", "--out", str(bench / "plan.svg")],
        "batch": [str(bench / "lots"), "--out", str(bench / "many"), "--workers", "0"],
        "screen": [
            "--parcels",
            str(bench / "lots.geojson"),
            "--elevation",
            str(bench / "ground.tif"),
            "--out",
            str(bench / "seen"),
            "--workers",
            "0",
            "--elevation-unit",
            "m",
        ],
        "record": [plan, str(bench / "list.csv"), "--out", out],
    }.get(command, [])


def options_of(command: str) -> list[tuple[str, int]]:
    """Options that take values, and how many."""
    parser = argparse.ArgumentParser(add_help=False)
    import_module(f"siteplan.cli.{command}").declare(parser)
    return [
        (action.option_strings[0], action.nargs if isinstance(action.nargs, int) else 1)
        for action in parser._actions
        if action.option_strings and action.nargs != 0
    ]


def tried(command: str, given: list[str], bench: Path, capsys, monkeypatch) -> int:
    monkeypatch.chdir(bench)
    monkeypatch.setattr("siteplan.table.serving.IDLE", 0.02)  # nobody looks at the page that `draw` serves
    code = main([command, *given])
    shown = capsys.readouterr()
    assert code in {0, 1, 2}, (given, shown.err[-300:])
    assert "Traceback" not in shown.err
    assert "fault of ours" not in shown.err
    if code == 2:
        assert shown.err.strip()
    return code


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_the_bench_itself_works(command, bench, capsys, monkeypatch):
    """What the options are tried on is no broken case already.

    `plan` is given no site, for it takes seconds each time.
    """
    code = tried(command, arguments(command, bench), bench, capsys, monkeypatch)
    assert (code == 2) == (command == "plan")


def cases(seed: int, count: int) -> list[tuple[str, str, list[str]]]:
    chance = random.Random(seed)
    every = [(command, *option) for command in sorted(COMMANDS) for option in options_of(command)]
    # each option once with each of two figures, then at random
    fixed = [(command, option, [NINES] * count) for command, option, count in every]
    fixed += [(command, option, [MANY_NINES] * count) for command, option, count in every]
    drawn = []
    for _ in range(max(0, count - len(fixed))):
        command, option, values = chance.choice(every)
        drawn.append((command, option, [chance.choice(FIGURES + TEXTS) for _ in range(values)]))
    return [*fixed, *drawn]


def test_no_option_ends_in_a_fault_of_ours(bench, capsys, monkeypatch):
    for command, option, values in cases(20_260, TRIES):
        given = [*arguments(command, bench), *([f"{option}={values[0]}"] if len(values) == 1 else [option, *values])]
        if option == "--out":
            given = [*arguments(command, bench)[:-2], f"--out={values[0]}"]
        tried(command, given, bench, capsys, monkeypatch)


@pytest.mark.parametrize(
    ("given", "text"),
    [
        (
            ["fall", "--rod-start", "4.86", "--rod-outlet", "7.5", "--length", MANY_NINES],
            "--length: '99999999999999999999'... has 400 characters, too many for a figure.",
        ),
        (
            ["fall", "--rod-start", "4.86", "--rod-outlet", "7.5", "--length", "1e308"],
            "--length: '1e308' is larger than any length on earth.",
        ),
        (
            ["belly", "plan", "--chart", "/nonexist/x.svg"],
            "'/nonexist/x.svg' would lie in a folder that is not there; make it first",
        ),
        (["belly", "plan", "--chart", ""], "argument --chart: names no file"),
        (["belly", "plan", "--chart", "plan"], "'plan' is a folder; name a file in it"),
        (["cutsheet", "plan", "--hi", "4.5", "--html", ""], "argument --html: names no file"),
        (["cutsheet", "plan", "--hi", "4.5", "--html", "x" * 300], "has a name of more than 255 bytes"),
        (["review", "plan", "--html", "/nonexist/y.html"], "would lie in a folder that is not there"),
        (["belly", "plan", "--line", "L1", "--wet", "nan", "3"], "'nan' is no number that can be used"),
        (["belly", "x" * 300], "file name too long. Check the name"),
        (["review", "x" * 300], "file name too long"),
        (["plan", "x" * 300, "--out", "out"], "file name too long"),
    ],
)
def test_what_it_says(bench, capsys, monkeypatch, given, text):
    monkeypatch.chdir(bench)
    assert main(given) == 2
    assert text in capsys.readouterr().err
