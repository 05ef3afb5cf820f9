"""Places on the sheets are in the survey's own system and unit, named in the head."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace

import numpy as np
import pytest

from siteplan.sheets.coordinates import place_text, survey_places
from siteplan.sheets.map_page import map_page
from siteplan.sheets.plan_json import plan_json
from siteplan.sheets.schedule import trench_schedule
from siteplan.sheets.summary import summary
from siteplan.values.forecasts import WantedShot


@pytest.fixture(scope="module")
def surveyed(yard):
    """The yard, surveyed in a state system of US survey feet (EPSG:2240) and planned in UTM metres."""
    plan, site = yard
    shot = WantedShot(x=plan.outlets[0].x, y=plan.outlets[0].y, place="outlet", chance_min_grade=0.9, fall=0.01)
    unsure = replace(plan.lines[0].doubt, chance_min_grade=0.5, shots_wanted=(shot,))
    lines = (replace(plan.lines[0], doubt=unsure), plan.lines[1])
    system = {"survey_crs": "EPSG:2240", "survey_unit": "us-ft"}
    return replace(plan, lines=lines, **system), replace(site, **system)


def reference(plan):
    """The transformation by PROJ itself, in the test's own call."""
    from pyproj import Transformer

    return Transformer.from_crs("EPSG:32616", "EPSG:2240", always_xy=True).transform


def test_the_schedule_prints_the_surveys_coordinates_and_names_its_system(surveyed):
    plan, _ = surveyed
    rows = list(csv.DictReader(io.StringIO(trench_schedule(plan).decode("utf-8-sig"))))
    assert len(rows) > 20
    for shown in rows:
        line = next(one for one in plan.lines if one.id == shown["line"])
        at = float(shown["station_ft_up_from_outlet"]) * 0.3048
        row = min(line.rows, key=lambda one, at=at: abs(one.station - at))
        east, north = reference(plan)(row.x, row.y)
        assert float(shown["east_us_ft_EPSG_2240"]) == pytest.approx(east, abs=0.0051)
        assert float(shown["north_us_ft_EPSG_2240"]) == pytest.approx(north, abs=0.0051)


def test_plan_json_carries_both(surveyed):
    plan, site = surveyed
    record = json.loads(plan_json(plan, site))
    assert record["site"]["survey_crs"] == "EPSG:2240"
    assert record["site"]["survey_unit"] == "us-ft"
    for line in record["lines"]:
        for row in line["stations"]:
            assert (row["survey_x"], row["survey_y"]) == pytest.approx(reference(plan)(row["x"], row["y"]), abs=1e-4)


def test_shots_wanted_are_told_in_the_surveys_system(surveyed):
    plan, site = surveyed
    east, north = reference(plan)(plan.outlets[0].x, plan.outlets[0].y)
    told = " ".join(summary(plan, site).split())
    assert f"Shots wanted (EPSG:2240, US survey ft): L1 outlet (N {north:.2f} E {east:.2f})" in told
    data = json.loads(re.search(r'id="plan-data">(.*?)</script>', map_page(plan, site).decode(), re.DOTALL)[1])
    mark = next(mark for mark in data["marks"] if mark["kind"] == "shot_wanted")
    assert ["At, EPSG:2240, US survey ft", f"N {north:.2f} E {east:.2f}"] in mark["facts"]


def test_the_cursor_reads_the_surveys_system_all_over_the_page(surveyed):
    plan, site = surveyed
    data = json.loads(re.search(r'id="plan-data">(.*?)</script>', map_page(plan, site).decode(), re.DOTALL)[1])
    grid = data["grid"]
    assert (grid["unit"], grid["system"]) == ("US survey ft", "EPSG:2240")
    corners = np.array(grid["corners"])
    for u, v in ((0.5, 0.5), (0.1, 0.8), (0.97, 0.03)):  # the page mixes the four corners
        told = (corners[0] * (1 - u) + corners[1] * u) * (1 - v) + (corners[2] * (1 - u) + corners[3] * u) * v
        x, y = data["origin"][0] + u * data["size"][0], data["origin"][1] + v * data["size"][1]
        assert told == pytest.approx(reference(plan)(x, y), abs=0.002)


def test_a_survey_in_degrees_and_one_on_its_own_grid(yard, metric_yard):
    plan = replace(yard[0], survey_crs="EPSG:4326", survey_unit="degree")
    east, north = survey_places(plan, [plan.outlets[0].x], [plan.outlets[0].y])
    assert -180 < east[0] < 0 < north[0] < 90
    assert re.fullmatch(r"lat \d+\.\d{8} lon -\d+\.\d{8}", place_text(plan, plan.outlets[0].x, plan.outlets[0].y))
    assert "longitude_deg_EPSG_4326" in trench_schedule(plan).decode().splitlines()[0]
    feet = replace(metric_yard[0], length_unit="ft", survey_crs="local", survey_unit="ft")
    assert place_text(feet, 3.048, 30.48) == "N 100.00 E 10.00"


def test_a_planned_site_keeps_its_own_system(tmp_path):
    from pathlib import Path

    from siteplan.survey.folder import read_site

    site = read_site(Path(__file__).parents[2] / "sample_sites" / "alder-court")
    assert site.crs != "EPSG:6539"
    assert (site.survey_crs, site.survey_unit) == ("EPSG:6539", "us-ft")
