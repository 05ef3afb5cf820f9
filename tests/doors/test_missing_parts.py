"""A part of the plan that fails by a fault of ours: the plan stands without it, and says so wherever people read."""

from __future__ import annotations

import json
from importlib import import_module

import pytest

from siteplan.cli.main import main
from siteplan.errors import InputError

# part, where the planner finds what makes it
TOGETHER = [
    ("found-outlets", "siteplan.yard.groups.found_outlets"),
    ("candidates", "siteplan.yard.groups._candidate"),
    ("candidates", "siteplan.yard.groups._bundles"),
    ("sharing", "siteplan.yard.serving.decided"),
    ("parting", "siteplan.yard.groups.parted"),
    ("finer-net", "siteplan.yard.groups.fine_scene"),
    ("improving", "siteplan.yard.groups.improved"),
    ("margins", "siteplan.yard.groups.with_margins"),
    ("pipes", "siteplan.trench.reaches.forecast_of"),
    ("stakes", "siteplan.yard.rows.stakes_apart"),
    ("doubt", "siteplan.yard.doubts._doubt"),
    ("chances", "siteplan.yard.doubts.with_ends_fall"),
    ("attempts", "siteplan.yard.cures.attempts_of"),
    ("blocked-outlets", "siteplan.waterworks.works._blocked"),
    ("outlet-paths", "siteplan.waterworks.works._paths"),
    ("storm", "siteplan.waterworks.works.storm_of"),
    ("notes", "siteplan.trench.reaches.pipe_assumptions"),
    ("profiles", "siteplan.sheets.map_page._profiles"),
]
ALONE = [
    ("layouts", "siteplan.layouts.weighed"),
    ("surface-water", "siteplan.ground.runoff.runoff_surface"),
    ("low-spots", "siteplan.ground.hollows.low_spots"),
    ("inflows", "siteplan.waterworks.inflows.inflows_told"),
    ("inlet-flows", "siteplan.waterworks.inflows.inlet_flows"),
    ("sizes", "siteplan.waterworks.sizing.asked_sizes"),
    ("pipes", "siteplan.trench.reaches.ground_along"),
    ("doubt", "siteplan.yard.doubts.with_doubt"),
    ("water", "siteplan.waterworks.works.water_of"),
    ("map", "siteplan.sheets.map_page.page_data"),
    ("printed", "siteplan.plotting.printed.plan_pages"),
]
IN_SHEET = {"map", "printed", "profiles"}  # parts of the page itself, which plan.json knows nothing of


@pytest.fixture(scope="module")
def folder(lots, tmp_path_factory):
    return lots.lot(tmp_path_factory.mktemp("lot") / "lot", 1)


def _broken(*_, **__):
    raise ZeroDivisionError("a bug")


def _break(monkeypatch, place, fault=_broken):
    module, _, name = place.rpartition(".")
    monkeypatch.setattr(import_module(module), name, fault)


@pytest.mark.parametrize("parts", [TOGETHER, *([one] for one in ALONE)], ids=["many", *(place for _, place in ALONE)])
def test_parts_that_fail_are_named_and_end_nothing(parts, folder, tmp_path, monkeypatch, capfd):
    for _, place in parts:
        _break(monkeypatch, place)
    code = main(
        [
            "plan",
            str(folder),
            "--out",
            str(tmp_path / "out"),
            "--layouts",
            "3" if any("layouts" in place for _, place in parts) else "1",
        ]
    )
    told, faults = capfd.readouterr()
    assert code in {0, 1}, faults
    plain = " ".join(told.split())
    assert "NOT KNOWN, by a fault of ours" in plain
    assert "--debug and send the report (ZeroDivisionError)" in plain
    plan = json.loads((tmp_path / "out" / "plan.json").read_text())
    assert plan["lines"]
    page = (tmp_path / "out" / "map.html").read_text()
    assert "by a fault of ours" in page
    assert {one["part"] for one in plan["missing"]} == {part for part, _ in parts} - IN_SHEET
    said = [one for one in plan["assumptions"] if "by a fault of ours" in one]
    assert len(said) == len(plan["missing"])
    assert all("ZeroDivisionError" in one for one in said)
    assert (tmp_path / "out" / "trench_schedule.csv").stat().st_size > 100


def test_a_check_that_fails_is_no_pass(folder, tmp_path, monkeypatch, capfd):
    _break(monkeypatch, "siteplan.checks.pipe_loads._wet")
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) in {0, 1}
    capfd.readouterr()
    checks = json.loads((tmp_path / "out" / "plan.json").read_text())["checks"]
    mine = [one for one in checks if one["rule"] == "flotation"]
    assert [one["status"] for one in mine] == ["flag"]
    assert mine[0]["message"].startswith("cannot tell: this check could not be made, by a fault of ours")


def test_debug_shows_the_fault_itself(folder, tmp_path, monkeypatch):
    _break(monkeypatch, "siteplan.waterworks.works.storm_of")
    with pytest.raises(ZeroDivisionError):
        main(["plan", str(folder), "--out", str(tmp_path / "out"), "--debug"])


def test_what_the_input_has_wrong_is_never_left_out(folder, tmp_path, monkeypatch, capfd):
    def wrong(*_, **__):
        raise InputError("site.toml", "is wrong", "Mend it.")

    _break(monkeypatch, "siteplan.waterworks.works.storm_of", wrong)
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) == 2
    assert "site.toml: is wrong. Mend it." in capfd.readouterr().err
    assert not (tmp_path / "out").exists()


def test_an_honest_plan_goes_without_nothing(folder, tmp_path, capfd):
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) in {0, 1}
    assert "by a fault of ours" not in capfd.readouterr().out
    assert json.loads((tmp_path / "out" / "plan.json").read_text())["missing"] == []
