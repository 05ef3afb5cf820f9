"""An area drain from the file of a site to its sheets: its flow, what is said of it, and a flow that was changed."""

from __future__ import annotations

import json

import pytest

from siteplan.cli.main import main

GPM = 0.0630902  # L/s in a US gallon a minute
# water of one inch of rain an hour on a square foot [gpm]; International Plumbing Code 2021, commentary to 1106 (from
# memory)
INCH_ON_A_FOOT = 0.0104


def planned(folder, out, capsys):
    code = main(["plan", str(folder), "--out", str(out)])
    screen = " ".join(capsys.readouterr().out.split())
    return code, screen, json.loads((out / "plan.json").read_text(encoding="utf-8"))


@pytest.fixture
def drained(stories, tmp_path):
    """The house on the bank, its sump made a drain in the patio; rain of 5.5 in/h."""

    def write(rules="", **told):
        folder = stories.s3(tmp_path / "site", tables=f"\n[rainfall]\nintensity = 5.5\n{rules}")
        (path,) = folder.glob("*.geojson")
        layer = json.loads(path.read_text(encoding="utf-8"))
        (drain,) = (one for one in layer["features"] if one["properties"]["kind"] == "sump")
        drain["properties"] = {"kind": "area_drain", "name": "PATIO", **told}
        path.write_text(json.dumps(layer), encoding="utf-8")
        return folder

    return write


def patio(plan):
    return next(one for one in plan["sources"] if one["name"] == "PATIO")


@pytest.mark.parametrize(("cover", "share"), [(None, 0.95), ("asphalt", 0.95), ("lawn_heavy", 0.22)])
def test_its_flow_is_its_area_times_rain_times_the_share_that_runs_off(drained, tmp_path, capsys, cover, share):
    folder = drained(drained_area=600, **({"cover": cover} if cover else {}))
    _, _, plan = planned(folder, tmp_path / "out", capsys)
    by_hand = INCH_ON_A_FOOT * 5.5 * 600 * share * GPM
    assert patio(plan)["flow_lps"] == pytest.approx(by_hand, rel=0.005)
    told = " ".join(plan["assumptions"])
    assert f"PATIO: 600 sq ft, the area given, with a runoff coefficient of {share:g}" in told
    assert ("cover not given: concrete" in told) == (cover is None)


def test_a_flow_of_its_own_is_taken_before_an_area(drained, tmp_path, capsys):
    _, _, plan = planned(drained(flow=12, drained_area=600), tmp_path / "out", capsys)
    assert patio(plan)["flow_lps"] == pytest.approx(12 * GPM, rel=1e-4)
    assert "PATIO: its own flow is taken; drained_area is not used" in " ".join(plan["assumptions"])
    assert [one["statement"] for one in plan["water"]["inflows"]] == ["PATIO: 12.0 gpm, its flow as given"]


def test_without_an_area_its_flow_is_not_known_and_that_is_said(drained, tmp_path, capsys):
    _, _, plan = planned(drained(), tmp_path / "out", capsys)
    assert patio(plan)["flow_lps"] is None
    assert "PATIO: neither flow nor drained_area is given, so its flow is not known" in " ".join(plan["assumptions"])


def test_the_place_says_whether_its_water_may_leave_onto_the_ground(drained, tmp_path, capsys):
    folder = drained("\n[rules]\narea_drain_to_daylight = 'fail'\n", drained_area=600)
    code, screen, plan = planned(folder, tmp_path / "out", capsys)
    told = {(one["rule"], one["status"]) for one in plan["checks"] if one["rule"].startswith("area-drain-to-")}
    assert code == 1
    assert told == {("area-drain-to-daylight", "fail")}
    assert "PATIO drains onto the ground" in screen


def test_a_flow_changed_in_the_plan_is_found(drained, tmp_path, capsys):
    folder, out = drained(drained_area=600), tmp_path / "out"
    _, _, plan = planned(folder, out, capsys)
    patio(plan)["flow_lps"] /= 2
    (out / "plan.json").write_text(json.dumps(plan), encoding="utf-8")
    assert main(["review", str(out), str(folder)]) == 1
    assert "flow [m3/s] of the source" in " ".join(capsys.readouterr().out.split())
