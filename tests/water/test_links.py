from __future__ import annotations

import math

import pytest

from siteplan.books.pipes import pipe
from siteplan.units import FOOT, GALLON_PER_MINUTE, INCH
from siteplan.water.capacity import full_flow
from siteplan.water.curb import concrete_left, curb_holes, holes_for
from siteplan.water.links import (
    ORIFICE,
    WEIR,
    leader_flow,
    outlet_funnel_flow,
    popup_level,
    submerged_outlet,
)
from siteplan.water.section import GRAVITY

GPM = GALLON_PER_MINUTE
FOUR, THREE = pipe().bore, pipe("pvc_sch40", "3 in").bore


def test_curb_holes_needed_and_fitting():
    hole = {"wide": 3.5 * INCH, "curb_length": 0.85, "between": 6 * INCH}
    each = full_flow(THREE, 0.01, 0.011)
    # four holes and three gaps take 32 in of the 33.5 in, five would take 41.5
    assert curb_holes(90 * GPM, each, **hole) == (2, 4)
    assert curb_holes(300 * GPM, each, **hole) == (7, 4)
    assert curb_holes(2 * each, each, **hole) == (2, 4)


def test_concrete_over_a_hole():
    assert concrete_left(6 * INCH, 3.5 * INCH) == pytest.approx(2.5 * INCH)
    assert concrete_left(6 * INCH, 4.5 * INCH, lift=0.04 * FOOT) == pytest.approx(6 * INCH - 4.5 * INCH - 0.48 * INCH)
    assert concrete_left(0.15, 0.2) < 0  # it breaks out at the top, and the number says so


@pytest.mark.parametrize(("told", "lines", "holes"), [(None, 1, 1), (3, 1, 3), (None, 2, 1), (2, 2, 1), (3, 2, 3)])
def test_several_lines_have_a_hole_each_or_share_them_all(told, lines, holes):
    assert holes_for(told, lines) == holes


def test_popup_stands_at_its_rim_and_higher_in_flow():
    assert popup_level(100.0, FOUR, 0.0, lid_lift=0.02) == 100.0
    flow, ring = 42 * GPM, math.pi * FOUR
    over = popup_level(100.0, FOUR, flow, lid_lift=1.0) - 100.0
    assert WEIR * ring * over**1.5 == pytest.approx(flow)
    through = popup_level(100.0, FOUR, flow, lid_lift=0.005) - 100.0
    assert ORIFICE * ring * 0.005 * math.sqrt(2 * GRAVITY * through) == pytest.approx(flow)
    assert through > over


def test_submerged_outlet_states():
    assert submerged_outlet("L1", 10.0, 0.1, 9.9).tail_water is None
    partly, drowned = submerged_outlet("L1", 10.0, 0.1, 10.05), submerged_outlet("L1", 10.0, 0.1, 10.1)
    assert partly.statement.startswith("partly drowned")
    assert drowned.statement.startswith("drowned")
    assert drowned.tail_water == 10.1


def test_weir_meets_orifice_at_half_the_diameter():
    below, above = outlet_funnel_flow(0.1, 0.05), outlet_funnel_flow(0.1, 0.05 + 1e-9)
    assert below == pytest.approx(above, rel=1e-6)
    assert outlet_funnel_flow(0.1, 0.2) == pytest.approx(2 * below)
    assert outlet_funnel_flow(0.1, 0.05 / 4) == pytest.approx(below / 8)
    assert leader_flow(0.1, 1 / 3) > leader_flow(0.1, 7 / 24)
