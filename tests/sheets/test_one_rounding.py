"""A level that ends in 5 reads alike on every sheet: schedule, map, profile, drawings, workbook, stake-out points."""

from __future__ import annotations

import csv
import io
import json
import re
import xml.etree.ElementTree as ET
import zipfile
from dataclasses import replace

import numpy as np
import pytest

from siteplan import units

SAMPLES = ["alder-court", "marsh-lane", "kiln-rise"]


def ending_in_five(value, unit):
    """The nearest height whose first digit that is not printed is a 5, as a survey in that unit may give it."""
    digits = 3 if unit == "m" else 2
    return float(f"{int(value / units.LENGTH[unit] * 10**digits) / 10**digits:.{digits}f}5") * units.LENGTH[unit]


@pytest.fixture(scope="module", params=SAMPLES)
def halved(request, sample_plan):
    """A sample's plan with the invert of every vertex on such a height, and the rows between them."""
    made = sample_plan(request.param)
    unit = made.plan.elevation_unit

    def moved(line):
        bent = tuple(replace(one, invert=ending_in_five(one.invert, unit)) for one in line.vertices)
        at, low = [one.station for one in bent], [one.invert for one in bent]
        rows = tuple(replace(one, invert=float(np.interp(one.station, at, low))) for one in line.rows)
        return replace(line, rows=rows, vertices=bent)

    lines = tuple(map(moved, made.plan.lines))
    return replace(made.plan, lines=lines), made.site, unit


@pytest.fixture(scope="module")
def by_hand(halved):
    """Line and station -> the invert with the 5 rounded up, by decimal arithmetic on its own digits."""
    from decimal import ROUND_HALF_UP, Decimal

    plan, _, unit = halved
    digits = 3 if unit == "m" else 2
    return {
        (line.id, round(one.station, 3)): str(
            Decimal(f"{one.invert / units.LENGTH[unit]:.6f}").quantize(Decimal(10) ** -digits, ROUND_HALF_UP)
        )
        for line in plan.lines
        for one in (*line.rows, *line.vertices)
    }


def test_the_schedule_rounds_a_five_up(halved, by_hand):
    from siteplan.sheets.schedule import trench_schedule

    plan, _, _ = halved
    wanted = [by_hand[line.id, round(row.station, 3)] for line in plan.lines for row in line.rows]
    schedule = list(csv.DictReader(io.StringIO(trench_schedule(plan).decode("utf-8-sig"))))
    (head,) = (one for one in schedule[0] if one.startswith("invert_"))
    assert [one[head] for one in schedule][: len(wanted)] == wanted


def test_map_and_profile_print_the_schedules_invert(halved, by_hand):
    from siteplan.sheets.map_page import map_page

    plan, site, unit = halved
    page = map_page(plan, site).decode()
    told = json.loads(re.search(r'id="plan-data"[^>]*>(.*?)</script>', page, re.DOTALL)[1])
    figures = re.findall(r'<figure class="profile.*?</figure>', page, re.DOTALL)
    seen = 0
    for line, one, figure in zip(plan.lines, told["lines"], figures, strict=False):
        own = {f"{by_hand[line.id, round(v.station, 3)]}" for v in line.vertices}
        assert set(re.findall(r">inv ([\d.]+)<", figure)) == own
        table = set(re.findall(r">([\d.]+)(?:\u00a0| |&nbsp;)(?:ft|m)<", figure))
        assert own <= table, own - table
        at = {text[0]: text[2] for text in one["told"]}
        for row in line.rows:
            said = at[units.station_text(row.station, plan.length_unit)]
            assert said == f"{by_hand[line.id, round(row.station, 3)]} {unit}"
            seen += 1
        high, low = (by_hand[line.id, round(line.vertices[k].station, 3)] for k in (-1, 0))
        assert any(
            dict(popup["facts"]).get("Inverts") == f"{high} {unit} down to {low} {unit}"
            for popup in told["popups"]["line_touch"]
        )
    assert seen > 10


def test_drawings_print_the_schedules_invert(halved, by_hand):
    from siteplan.plotting.graded import place_texts, told_places

    plan, _, _ = halved
    assert sum(len(place.rows) for place in told_places(plan)) >= 2 * len(plan.lines) > 0
    for place in told_places(plan):
        texts = place_texts(place, plan)
        for line, station, _ in place.rows:
            if (line, round(station, 3)) not in by_hand:
                continue  # under pressure: not moved here
            at = units.station_text(station, plan.length_unit)
            assert f"{line} {at} inv {by_hand[line, round(station, 3)]}" in texts


def test_the_printed_set_and_the_workbook_take_the_schedules_cells(halved, by_hand, tmp_path):
    from siteplan.exchange.workbook import plan_workbook
    from siteplan.planset.texts.schedules import _schedule
    from siteplan.stored.folder_of import StoredPlan

    plan, _, _ = halved
    book = zipfile.ZipFile(io.BytesIO(plan_workbook(StoredPlan(plan=plan, record={}, folder=tmp_path))))
    main = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
    cut_sheet = ET.fromstring(book.read("xl/worksheets/sheet1.xml"))
    held = [
        float(cell.find(f"{main}v").text)
        for cell in cut_sheet.iter(f"{main}c")
        if re.match(r"G\d", cell.get("r")) and cell.get("t") != "s" and cell.find(f"{main}v") is not None
    ]
    wanted = [by_hand[line.id, round(row.station, 3)] for line in plan.lines for row in line.rows]
    assert held[: len(wanted)] == [float(one) for one in wanted]
    for line in plan.lines:
        table = _schedule(plan, line, "english")
        assert [row[3] for row in table.rows] == [by_hand[line.id, round(row.station, 3)] for row in line.rows]
