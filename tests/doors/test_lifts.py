"""Sumps with a pump and no discharge: what the plan lifts them to where gravity serves them nowhere."""

from __future__ import annotations

import json
import math
import re

import pytest

from siteplan.cli.main import main

FOOT, GPM = 0.3048, 3.785411784 / 60
PUMP = {"pump_flow": 40, "pump_head": 20, "pump_rate": 30}


def planned(folder, out, *options):
    code = main(["plan", str(folder), "--out", str(out), *options])
    assert code in {0, 1}
    return code, json.loads((out / "plan.json").read_text(encoding="utf-8"))


def pressed(plan):
    (line,) = [one for one in plan["lines"] if one["kind"] == "pressure"]
    return line


def street_ground(north):
    """Feet: falling to the street."""
    return 100.0 + 0.05 * north


def ridge_ground(north):
    """Feet: level about the house, a low ridge behind it, down to the rear below the house."""
    return 91.4 if north < 74 else 91.4 + 0.35 * (north - 74) if north < 86 else 95.6 - 0.25 * (north - 86)


def test_a_drawn_point_is_lifted_to_where_the_pump_does_not_bring_all_to_the_curb(pumped_lot, tmp_path, capsys):
    """40 gpm come to the pit; through 1.5 in the curb is too far for that, and the point that was drawn is not."""
    sump = {
        **PUMP,
        "off_level": 93.0,
        "invert": 98.4,
        "diameter_in": 1.5,
        "pit_diameter": 2,
        "pit_rise": 1,
        "refill_s": 34,
    }
    box = {"kind": "discharge_point", "name": "Box", "at": (70, 40)}
    curb = {**pumped_lot.CURB, "invert": 98.9}
    folder = pumped_lot.site_folder(tmp_path / "s", sump=sump, more=(curb, box), ground=street_ground)
    code, plan = planned(folder, tmp_path / "p", "--only", "Curb")
    said = " ".join(capsys.readouterr().out.split())
    line = pressed(plan)
    (below,) = [one for one in plan["lines"] if one["kind"] == "gravity"]
    assert code == 0
    assert (line["to"], below["to"]) == (below["id"], plan["outlets"][0]["id"])
    told = line["pumped"]
    assert (told["lift_chosen"], told["lift_to"], told["box_found"]) == (True, "Box", False)
    comes = math.pi * FOOT**3 / 34 * 1000  # L/s: a pit 2 ft across, 1 ft of float, in 34 s
    assert told["flow_lps"] > comes
    assert "its own pump lifts it; write discharge" in said
    capsys.readouterr()
    assert main(["review", str(tmp_path / "p"), str(folder)]) == 0


def test_a_box_is_found_where_no_outlet_takes_its_water(pumped_lot, tmp_path, capsys):
    """The curb refuses it and about the house nothing falls.

    Over the ridge behind it there is daylight, from a box that nobody drew.
    """
    folder = pumped_lot.site_folder(
        tmp_path / "s",
        sump={**PUMP, "off_level": 84.0},
        more=({**pumped_lot.CURB, "refuses": "sump"},),
        ground=ridge_ground,
    )
    code, plan = planned(folder, tmp_path / "p")
    said = " ".join(capsys.readouterr().out.split())
    assert code == 0
    line = pressed(plan)
    (below,) = [one for one in plan["lines"] if one["kind"] == "gravity"]
    told, (pit,) = line["pumped"], plan["sources"]
    assert (told["lift_chosen"], told["box_found"], told["lift_to"]) == (True, True, "found box 1")
    assert next(one for one in plan["outlets"] if one["id"] == below["to"])["kind"] == "daylight_outlet"
    # the box stands where the line by gravity starts, on the far side of the rise and 10 ft and more off the house
    x, y = (v / FOOT for v in pit["lifted_to"][:2])
    assert (below["vertices"][-1]["x"] / FOOT, below["vertices"][-1]["y"] / FOOT) == pytest.approx((x, y), abs=0.01)
    assert math.hypot(max(22 - x, 0, x - 60), max(44 - y, 0, y - 74)) >= 10
    assert {one["status"] for one in plan["checks"] if one["rule"] == "served"} == {"pass"}
    assert "lifts it to a box at a place found here, found box 1" in said
    assert any("a place found here for a box" in text for text in plan["assumptions"])
    # drawn on every sheet as a point that was drawn is
    assert any(one["kind"] == "discharge_point" and one["name"] == "found box 1" for one in plan["features"])
    assert main(["review", str(tmp_path / "p"), str(folder)]) == 0
    # an edited box is found
    file = tmp_path / "p" / "plan.json"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace('"box_found": true', '"box_found": false'), encoding="utf-8")
    capsys.readouterr()
    assert main(["review", str(tmp_path / "p"), str(folder)]) == 1
    moved = re.sub(r'("lifted_to": \[\s*)[\d.]+', rf"\g<1>{pit['lifted_to'][0] + 1.0:.3f}", text)
    assert moved != text
    file.write_text(moved, encoding="utf-8")
    assert main(["review", str(tmp_path / "p"), str(folder)]) == 1


def test_a_larger_bore_is_laid_where_the_small_one_floods_the_pit(pumped_lot, tmp_path, capsys):
    sump = {
        "pump_flow": 40,
        "pump_head": 20,
        "off_level": 90.0,
        "discharge": "Curb",
        "pit_diameter": 2,
        "pit_rise": 1,
        "refill_s": 34,
    }
    folder = pumped_lot.site_folder(tmp_path / "s", sump=sump)
    code, plan = planned(folder, tmp_path / "p")
    line = pressed(plan)
    assert code == 0
    assert line["pipe"]["nominal"] == "2 in"
    assert line["pumped"]["flow_lps"] > math.pi * FOOT**3 / 34 * 1000
    (reaches,) = [one for one in plan["checks"] if one["rule"] == "pump-reaches"]
    assert reaches["status"] == "pass"
    capsys.readouterr()
