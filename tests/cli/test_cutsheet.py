"""`siteplan cutsheet` from outside: forms of output, exit codes, one line for what cannot be used."""

from __future__ import annotations

import json
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import pytest

from siteplan.cli.main import main

FOOT = 1200 / 3937  # of the sample: US survey feet


REPO = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def plan(sample_plan):
    return sample_plan("alder-court").folder


def test_screen_card_json_and_page(plan, tmp_path, capsys):
    assert main(["cutsheet", str(plan), "--hi", "104.20", "--html", str(tmp_path / "cut.html")]) == 0
    screen = capsys.readouterr().out
    assert max(map(len, screen.splitlines())) <= 80
    screen = " ".join(screen.split())
    assert "Stations run from the OUTLET (0) upstream" in screen
    assert "CUT is from the ground to the TRENCH BOTTOM" in screen
    assert main(["cutsheet", str(plan), "--hi", "104.20", "--card", "--line", "L1"]) == 0
    assert max(map(len, capsys.readouterr().out.splitlines())) <= 40
    assert main(["cutsheet", str(plan), "--hi", "104.20", "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    stored = json.loads((plan / "plan.json").read_text(encoding="utf-8"))
    assert [line["line"] for line in record["lines"]] == [line["id"] for line in stored["lines"]]
    for told, line in zip(record["lines"], stored["lines"], strict=True):
        stations = [row["station"] for row in line["stations"]]
        assert len(told["targets"]) > 0.8 * len(stations)  # rows a hand's breadth apart are one stake
        for target in told["targets"]:
            row = line["stations"][min(range(len(stations)), key=lambda k, at=target: abs(stations[k] - at["station"]))]
            bottom = row["ground"] - row["cut"]
            assert target["rod_bottom"] == pytest.approx(104.20 * 0.3048 - bottom, abs=0.0016)  # half of 0.01 ft
    page = (tmp_path / "cut.html").read_text(encoding="utf-8")
    assert page.startswith("<!DOCTYPE html>")
    assert "@page" in page


def test_the_same_input_gives_the_same_bytes_in_another_process(plan, tmp_path):
    made = []
    for seed in ("1", "2"):
        target = tmp_path / f"{seed}.html"
        command = [
            sys.executable,
            "-m",
            "siteplan",
            "cutsheet",
            str(plan),
            "--hi",
            "104.2",
            "--offset",
            "left,3",
            "--html",
            str(target),
        ]
        done = subprocess.run(
            command, capture_output=True, check=False, env={"PYTHONHASHSEED": seed, "PATH": ""}, cwd=REPO
        )
        made.append((done.returncode, done.stdout, target.read_bytes()))
    assert made[0] == made[1]
    assert made[0][0] == 0


def test_out_of_reach_leaves_with_one(plan, capsys):
    assert main(["cutsheet", str(plan), "--hi", "101.00"]) == 1
    assert "ABOVE THE BEAM" in capsys.readouterr().out


@pytest.mark.parametrize(
    "rest", [["--hi", "x"], [], ["--hi", "104.2", "--line", "L99"], ["--hi", "104.2", "--html", "/nowhere/at/all.html"]]
)
def test_what_cannot_be_used_is_one_line_and_two(plan, rest, capsys):
    assert main(["cutsheet", str(plan), *rest]) == 2
    told = capsys.readouterr()
    assert len(told.err.strip().splitlines()) == 1
    assert "Traceback" not in told.err


def test_a_folder_that_is_no_plan(tmp_path, capsys):
    assert main(["cutsheet", str(tmp_path), "--hi", "100"]) == 2
    assert "holds no plan.json" in capsys.readouterr().err


@pytest.mark.parametrize("command", [["cutsheet", "--hi", "104"], ["belly"], ["review"]])
def test_a_sheet_in_place_of_the_folder_is_named(plan, command, capsys):
    assert main([*command[:1], str(plan / "map.html"), *command[1:]]) == 2
    told = capsys.readouterr().err
    assert told == "map.html: is no plan folder. Name the folder that siteplan plan wrote, or its plan.json.\n"


def test_a_hub_of_another_datum_is_refused_like_such_an_hi(plan, tmp_path, capsys):
    assert main(["cutsheet", str(plan), "--hi", "104.20", "--stake", "L1:0+30,left,3,31.0"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    (line,) = [one for one in json.loads((plan / "plan.json").read_text())["lines"] if one["id"] == "L1"]
    corners = [(corner["station"], corner["invert"]) for corner in line["vertices"]]
    (low, a), (high, b) = next((one, two) for one, two in pairwise(corners) if two[0] > 30 * FOOT)
    invert = (a + (b - a) * (30 * FOOT - low) / (high - low)) / FOOT
    told = f"--stake: hub 31.00 ft lies {invert - 31:.2f} ft below the invert of L1 at 0+30.0 ({invert:.2f} ft)."
    assert said.err.startswith(told)
    assert "another datum or unit" in said.err
    table = tmp_path / "stakes.csv"
    table.write_text("line,station,side,distance,hub\nL1,0+30,left,3,1031\n")
    assert main(["cutsheet", str(plan), "--hi", "104.20", "--stakes", str(table)]) == 2
    assert capsys.readouterr().err.startswith("--stake: hub 1031.00 ft lies ")
