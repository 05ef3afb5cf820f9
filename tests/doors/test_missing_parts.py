"""A part of the plan that fails by a fault of ours: the plan stands without it, and says so wherever people read."""

from __future__ import annotations

import json
from importlib import import_module

import pytest

from siteplan.cli.main import main
from siteplan.errors import InputError

# part, where the planner finds what makes it
PARTS = [
    ("surface-water", "siteplan.ground.runoff.water_surface"),
    ("low-spots", "siteplan.ground.hollows.low_spots"),
    ("inlet-flows", "siteplan.waterworks.works.inlet_flows"),
    ("sizes", "siteplan.waterworks.sizing.asked_sizes"),
    ("found-outlets", "siteplan.yard.groups.found_outlets"),
    ("candidates", "siteplan.yard.groups._candidate"),
    ("candidates", "siteplan.yard.groups._bundles"),
    ("parting", "siteplan.yard.groups.parted"),
    ("pipes", "siteplan.trench.reaches.forecast_of"),
    ("pipes", "siteplan.trench.reaches.along"),
    ("stakes", "siteplan.yard.rows.stakes_apart"),
    ("doubt", "siteplan.yard.doubts._doubt"),
    ("doubt", "siteplan.yard.doubts.with_doubt"),
    ("chances", "siteplan.yard.doubts.with_ends_fall"),
    ("attempts", "siteplan.yard.cures.attempts_of"),
    ("water", "siteplan.waterworks.works.water_of"),
    ("blocked-outlets", "siteplan.waterworks.works._blocked"),
    ("outlet-paths", "siteplan.waterworks.works._paths"),
    ("storm", "siteplan.waterworks.works.storm_of"),
    ("notes", "siteplan.trench.reaches.pipe_assumptions"),
    ("profiles", "siteplan.sheets.map_page._profiles"),
    ("map", "siteplan.sheets.map_page.page_data"),
]


def _broken(*_, **__):
    raise ZeroDivisionError("a bug")


def _break(monkeypatch, place, fault=_broken):
    module, _, name = place.rpartition(".")
    monkeypatch.setattr(import_module(module), name, fault)


@pytest.mark.parametrize(("part", "place"), PARTS, ids=[place for _, place in PARTS])
def test_a_part_that_fails_is_named_and_ends_nothing(part, place, site, tmp_path, monkeypatch, capfd):
    _break(monkeypatch, place)
    code = main(["plan", str(site()), "--out", str(tmp_path / "out")])
    told, faults = capfd.readouterr()
    assert code in {0, 1}, faults
    plain = " ".join(told.split())
    assert "NOT KNOWN, by a fault of ours" in plain
    assert "--debug and send the report (ZeroDivisionError)" in plain
    plan = json.loads((tmp_path / "out" / "plan.json").read_text())
    assert plan["lines"]
    page = (tmp_path / "out" / "map.html").read_text()
    assert "by a fault of ours" in page
    if part not in {"map", "profiles"}:
        assert part in [one["part"] for one in plan["missing"]]
        assert any("by a fault of ours" in one and "ZeroDivisionError" in one for one in plan["assumptions"])
    assert (tmp_path / "out" / "trench_schedule.csv").stat().st_size > 100


def test_a_check_that_fails_is_no_pass(site, tmp_path, monkeypatch, capfd):
    _break(monkeypatch, "siteplan.checks.pipes._wet")
    assert main(["plan", str(site()), "--out", str(tmp_path / "out")]) in {0, 1}
    capfd.readouterr()
    checks = json.loads((tmp_path / "out" / "plan.json").read_text())["checks"]
    mine = [one for one in checks if one["rule"] == "flotation"]
    assert [one["status"] for one in mine] == ["flag"]
    assert mine[0]["message"].startswith("cannot tell: this check could not be made, by a fault of ours")


def test_debug_shows_the_fault_itself(site, tmp_path, monkeypatch):
    _break(monkeypatch, "siteplan.waterworks.works.storm_of")
    with pytest.raises(ZeroDivisionError):
        main(["plan", str(site()), "--out", str(tmp_path / "out"), "--debug"])


def test_what_the_input_has_wrong_is_never_left_out(site, tmp_path, monkeypatch, capfd):
    def wrong(*_, **__):
        raise InputError("site.toml", "is wrong", "Mend it.")

    _break(monkeypatch, "siteplan.waterworks.works.storm_of", wrong)
    assert main(["plan", str(site()), "--out", str(tmp_path / "out")]) == 2
    assert "site.toml: is wrong. Mend it." in capfd.readouterr().err
    assert not (tmp_path / "out").exists()


def test_an_honest_plan_goes_without_nothing(site, tmp_path, capfd):
    assert main(["plan", str(site()), "--out", str(tmp_path / "out")]) in {0, 1}
    assert "by a fault of ours" not in capfd.readouterr().out
    assert json.loads((tmp_path / "out" / "plan.json").read_text())["missing"] == []
