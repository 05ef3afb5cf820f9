"""Smaller pipe before a curb: how long it is, and what stops it. A 3 in hole bored for a 4 in line on 30 m."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from siteplan.trench.curb_piece import Company, curb_piece

_spec = importlib.util.spec_from_file_location("checks_scenes", Path(__file__).parents[1] / "checks" / "scenes.py")
scenes = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(scenes)
FOOT = 0.3048


def piece(joins=(), bend=None):
    path = [[10.0, 20.0], [40.0, 20.0]] if bend is None else [[10.0, 20.0], [10.0 + bend, 20.0], [40.0, 22.0]]
    plan, site = scenes.build(
        outlets=[{"id": "O1", "kind": "curb_outlet", "name": "CURB", "at": [10.0, 20.0], "diameter": 0.0779}],
        lines=[
            {
                "id": "L1",
                "start": "S1",
                "end": "O1",
                "path": path,
                "grade": 0.02,
                "reaches": [{"to": 99.0, "kind": "pvc_sch40"}],
            }
        ],
    )
    (line,) = plan.lines
    return curb_piece(line, line.reaches, site, plan.outlets[0], joins, Company(("L1",), None, 0.02))


def test_it_is_five_feet_of_three_inch_pipe():
    """The project's reference page on the trade, section 5: last 5 ft, flat-bottom reducer to a 3 in curb hole."""
    told = piece()
    assert (told.pipe.nominal, told.number, told.fitting) == ("3 in", 1, "flat-bottom reducer")
    assert told.station_to == pytest.approx(5 * FOOT)


@pytest.mark.parametrize(("stop", "feet"), [(6.5, 5.0), (5.0, 4.0), (3.0, 2.0), (2.1, 1.1)])
def test_the_reducer_lies_a_foot_below_a_wye_or_a_bend(stop, feet):
    """1 ft for the coupling: common practice, no source."""
    assert piece(joins=[stop * FOOT]).station_to == pytest.approx(feet * FOOT)
    assert piece(bend=stop * FOOT).station_to == pytest.approx(feet * FOOT)


def test_a_piece_shorter_than_a_foot_is_not_laid():
    """Common practice, no source."""
    assert piece(joins=[1.9 * FOOT]) is None
    assert piece(joins=[2.1 * FOOT]) is not None


@pytest.mark.parametrize(("flow", "holes"), [(0.0100, 4), (0.0135, None)])
def test_no_more_than_four_holes_are_taken_by_ourselves(flow, holes):
    """4: common practice, no source. 3 in pipe of n 0.011 carries 2.95 L/s full at 1 % (Manning).

    10 L/s take 3.4 of them, 13.5 L/s 4.6.

    In a face of 145 mm, 12 mm over the gutter and with 1.5 in of concrete left, 3 in pipe (89 mm) has room and 4 in
    (114 mm) has none.
    """
    plan, site = scenes.build(
        outlets=[
            {
                "id": "O1",
                "kind": "curb_outlet",
                "name": "CURB",
                "at": [10.0, 20.0],
                "curb_height": 0.145,
                "hole_spacing": 0.30,
            }
        ],
        lines=[
            {
                "id": "L1",
                "start": "S1",
                "end": "O1",
                "path": [[10.0, 20.0], [40.0, 20.0]],
                "grade": 0.01,
                "reaches": [{"to": 99.0, "kind": "pvc_sch40"}],
            }
        ],
    )
    (line,) = plan.lines
    told = curb_piece(line, line.reaches, site, plan.outlets[0], (), Company(("L1",), flow, 0.01))
    assert (told.number if told else None) == holes
