"""A retaining wall on the survey, as users are told of it: the terminal, plan.json and its checks."""

from __future__ import annotations

import json

from siteplan.cli.main import main
from siteplan.units import FOOT


def planned(folder, out, capsys):
    code = main(["plan", str(folder), "--out", str(out)])
    said = " ".join(capsys.readouterr().out.split())
    return code, said, json.loads((out / "plan.json").read_text(encoding="utf-8"))


def test_a_wall_right_across_closes_the_way_and_is_named(tmp_path, stories, capsys):
    wall = {**stories.one("wall", [(5112, 1995), (5112, 2065)], "Terrace wall")}
    rear = stories.one("daylight_outlet", (5138, 2012), "REAR", invert=96.00)
    folder = stories.s1(tmp_path / "s", features=[rear, wall], tables="\n[rules]\noutlet_zone_ft = 25\n")
    code, said, plan = planned(folder, tmp_path / "out", capsys)
    assert code == 1
    assert plan["lines"] == []
    assert "NOT DRAINED DS1" in said
    assert "Terrace wall" in said


def test_a_line_past_the_end_of_a_wall_keeps_off_it(tmp_path, stories, capsys):
    wall = stories.one("wall", [(5112, 2014), (5112, 2065)], "Terrace wall")
    rear = stories.one("daylight_outlet", (5138, 2012), "REAR", invert=96.00)
    folder = stories.s1(tmp_path / "s", features=[rear, wall], tables="\n[rules]\noutlet_zone_ft = 25\n")
    _, said, plan = planned(folder, tmp_path / "out", capsys)
    (line,) = plan["lines"]
    assert line["to"] == "O2"
    (check,) = [c for c in plan["checks"] if c["rule"] == "wall-crossed"]
    assert check["status"] == "pass"
    assert check["value"] >= 3 * FOOT - 1e-6
    assert "goes through" not in said
