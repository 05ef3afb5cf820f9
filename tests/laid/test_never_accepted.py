"""Nothing is accepted of pipe that nobody shot.

Plans without a line, lines without a shot, shots that were left out.
"""

from __future__ import annotations

import json

import pytest

from siteplan.cli.main import main

HI = ["--hi", "101.84"]
TWO = "line,station,invert\nA,0,95.50\nA,40,95.90\nA,80,96.30\nB,0,96.00\nB,30,96.45\nB,60,96.90\n"
A = "".join(f"A,{s},{6.34 - s / 100:.2f}\n" for s in range(0, 90, 10))


@pytest.fixture
def bare(day):
    """A plan whose water is carried by no line: not drained, or pumped away."""
    path = day() / "plan.json"
    record = json.loads(path.read_text(encoding="utf-8"))
    record["lines"] = []
    path.write_text(json.dumps(record), encoding="utf-8")
    return path.parent


@pytest.mark.parametrize(
    "text",
    [
        "station,rod\n0,6.34\n10,6.24\n20,6.14\n",
        "1,5010,2040,95.50,SLAB\n2,5020,2040,95.60,TREE\n",
        "1,5010,2040,95.50,INV\n2,5020,2040,95.60,INV\n3,5030,2040,95.70,INV\n",
    ],
)
@pytest.mark.parametrize("command", ["asbuilt", "record"])
def test_a_plan_without_a_line_is_refused(bare, shots, tmp_path, command, text, capsys):
    out = ["--out", str(tmp_path / "rec")] if command == "record" else []
    assert main([command, str(bare), shots(text), *HI, *out]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("plan.json: holds no line")
    assert len(told.err.strip().splitlines()) == 1
    assert not (tmp_path / "rec").exists()


@pytest.mark.parametrize(
    "of_b",
    ["", "B,0,5.84\n", "".join(f"B,{s},{rod}\n" for s in (0, 30, 60) for rod in (5.84, 5.14))],
    ids=["not shot", "one shot", "every shot left out, for two of one place quarrel"],
)
def test_a_line_that_nobody_shot_is_never_accepted(shots, of_b, capsys):
    text = "line,station,rod\n" + A + of_b
    code = main(["asbuilt", shots(TWO, "plan.csv"), shots(text), *HI, "--on", "invert"])
    out = capsys.readouterr().out
    assert code == 1
    assert out.startswith("CANNOT TELL YET")
    assert "B: " in out


@pytest.mark.parametrize("text", ["", "\n\n", "station,rod\n", "# hi = 101.84\n", "1,5010,2040,,INV\n"])
def test_a_list_without_a_shot_is_refused(shots, text, capsys):
    assert main(["asbuilt", shots(TWO, "plan.csv"), shots(text), *HI]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.strip().splitlines()) == 1


def test_a_line_of_a_list_that_gives_one_invert_is_not_passed_over(shots, capsys):
    """It was dropped, and the rest of the plan accepted."""
    plan = TWO.split("B,30", maxsplit=1)[0]
    assert main(["asbuilt", shots(plan, "plan.csv"), shots("line,station,rod\n" + A), *HI, "--on", "invert"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("plan.csv, line B: ")


@pytest.mark.parametrize(("first", "last", "missing"), [(0, 40, "0+40.0 and 1+00.0"), (50, 100, "0+00.0 and 0+50.0")])
def test_an_end_that_nobody_shot_is_named_for_a_list_by_stations_too(shots, first, last, missing, capsys):
    """The one line of a list without names was taken for one that goes on and on.

    Half of it shot was all of it accepted.
    """
    rows = "".join(f"{s},{6.34 - s / 100:.2f}\n" for s in range(first, last + 10, 10))
    plan = shots("station,invert\n0,95.50\n100,96.50\n", "plan.csv")
    assert main(["asbuilt", plan, shots("station,rod\n" + rows), *HI, "--on", "invert"]) == 1
    assert f"No shot between {missing}" in capsys.readouterr().out
