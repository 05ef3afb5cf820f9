"""Stretches of one grade are the same on map, plan sheet and profile, and a line with a drop in it has them too."""

from __future__ import annotations

import html
import json
import re
from dataclasses import replace

import pytest

from siteplan.sheets.graded_runs import graded_runs, one_grade_runs


@pytest.fixture(scope="module")
def line(sample_plan):
    return next(line for line in sample_plan("alder-court").plan.lines if line.id == "L1")


def test_a_vertical_drop_parts_two_runs_and_ends_nothing(line):
    low, *rest = line.vertices
    second = rest[0]
    dropped = replace(line, vertices=(low, second, *(replace(one, invert=one.invert + 0.2) for one in rest)))
    runs = one_grade_runs(dropped)
    assert second.station in [run.station_to for run in runs]
    assert [run.station_to for run in runs[:-1]] == [run.station_from for run in runs[1:]]
    assert graded_runs(dropped)[-1].station_to == pytest.approx(line.length)


def test_the_last_digit_of_a_stored_invert_is_no_grade_break(line):
    """On a piece of a metre a millionth of one is 1e-6 of its grade: one run all the same."""
    a, b = line.vertices[:2]
    grade = (b.invert - a.invert) / (b.station - a.station)
    at = [0.0, 0.4, b.station]
    even = [round(a.invert + grade * station, 6) + (1e-6 if station == 0.4 else 0.0) for station in at]
    piece = replace(
        line,
        vertices=tuple(replace(a, station=s, invert=z, fittings=()) for s, z in zip(at, even, strict=True)),
        reaches=(),
    )
    assert len(one_grade_runs(piece)) == 1


def test_the_map_lists_the_runs_that_plan_json_has(sample_plan):
    """Grades worked out here from the vertices of plan.json; pipe by its reaches."""
    folder = sample_plan("alder-court").folder
    record = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    page = html.unescape((folder / "map.html").read_text(encoding="utf-8")).replace("\u00a0", " ")
    for told in record["lines"]:
        grades = {
            f"{100 * (b['invert'] - a['invert']) / (b['station'] - a['station']):.2f} %"
            for a, b in zip(told["vertices"], told["vertices"][1:], strict=False)
        }
        for grade in grades:
            assert re.search(rf">{re.escape(grade)}<", page), (told["id"], grade)
