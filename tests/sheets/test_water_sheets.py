"""What the sheets say of water.

The numbers of the plan, a chart that stands still, and no word of a user's as markup.
"""

from __future__ import annotations

import csv
import importlib.util
import io
import json
import math
from dataclasses import replace
from pathlib import Path

import pytest

from siteplan.ground.runoff import runoff_surface
from siteplan.sheets.map_page import map_page
from siteplan.sheets.plan_json import plan_json
from siteplan.sheets.schedule import trench_schedule
from siteplan.sheets.summary import summary
from siteplan.sheets.water_panel import storm_chart, storm_panel, water_line, water_panel
from siteplan.site import Rain
from siteplan.waterworks.works import water_of

NASTY = "<img src=x onerror=alert(1)>"


@pytest.fixture(scope="module")
def scenes():
    place = Path(__file__).parents[1] / "checks" / "scenes.py"
    spec = importlib.util.spec_from_file_location("siteplan_sheets_scenes", place)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def planned(scenes):
    plan, site = scenes.build(
        sources=[{"id": "S1", "kind": "downspout", "name": NASTY, "at": [40.0, 20.0], "roof_area": 250.0, "rim": 10.8}],
        outlets=[{"id": "O1", "kind": "curb_outlet", "name": f"O {NASTY}", "at": [10.0, 20.0], "diameter": 0.07}],
    )
    table = ((300.0, 3e-5), (600.0, 2.4e-5), (3600.0, 1e-5))
    site = replace(site, rain=Rain(table=table, duration=300.0, source=f"{NASTY}"))
    return replace(plan, water=water_of(site, plan.inflows, runoff_surface(site), (), plan.lines, plan.outlets)), site


def test_plan_json_carries_the_water_without_a_nan(planned):
    plan, site = planned
    record = json.loads(plan_json(plan, site), parse_constant=pytest.fail)["water"]
    run = record["lines"][0]["runs"][0]
    assert run["flow_lps"] == 7.5
    assert run["full_lps"] == pytest.approx(8.857, abs=0.001)
    assert run["share"] == pytest.approx(run["flow_lps"] / run["capacity_lps"], abs=1e-4)
    assert record["lines"][0]["weakest"]["kind"] == "curb hole"
    assert [one["outlet"] for one in record["outlets"]] == ["O1"]
    assert record["blocked"][0]["level"] == 10.8
    storm = record["storm"]
    gone = storm["outflow"] + storm["overflow"] + storm["flooded"] + storm["stored"]
    assert storm["inflow"] == pytest.approx(gone, abs=5e-6)


def test_a_figure_that_is_no_number_is_null(planned):
    plan, site = planned
    line = replace(plan.water.lines[0], rim_spare=math.nan)
    broken = replace(plan, water=replace(plan.water, lines=(line,)))
    assert json.loads(plan_json(broken, site))["water"]["lines"][0]["rim_spare"] is None


def test_the_schedule_has_flow_and_share(planned):
    plan, _ = planned
    rows = list(csv.DictReader(io.StringIO(trench_schedule(plan).decode("utf-8-sig"))))
    assert {row["flow_lps"] for row in rows} == {"7.50"}
    assert {row["share_percent"] for row in rows} == {"87"}
    dry = list(csv.DictReader(io.StringIO(trench_schedule(replace(plan, water=None)).decode("utf-8-sig"))))
    assert {row["flow_lps"] for row in dry} == {""}


def test_the_summary_names_flow_capacity_share_and_the_weak_link(planned):
    plan, site = planned
    told = water_line(plan, "L1")
    assert told.startswith("7.50 L/s of 8.66 L/s in 4 in (107 mm outside) (87 %); weakest link curb hole")
    assert "7.50 L/s of 8.66 L/s" in summary(plan, site)
    assert water_line(replace(plan, water=None), "L1") == ""


def test_the_page_draws_the_path_and_the_storm_and_nothing_moves(planned):
    plan, site = planned
    page = map_page(plan, site).decode()
    assert NASTY not in page
    assert "Water after the outlets" in page
    assert "Storm test" in page
    chart = storm_chart(plan.water.storm, "m")
    assert "animate" not in chart
    assert chart.count("<rect") == 12  # a bar for each block of five minutes
    assert "rain, at most 108.0 mm/h" in chart


def test_panels_without_water_are_empty(planned):
    plan, _ = planned
    bare = replace(plan, water=None)
    assert water_panel(bare, "L1") == storm_panel(bare) == ""
