from __future__ import annotations

import math

import pytest

from siteplan.books.pipes import pipe
from siteplan.units import FOOT, GALLON_PER_MINUTE, INCH
from siteplan.water.capacity import full_flow
from siteplan.water.curb import concrete_left, curb_holes
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


def test_curb_holes_concrete_count_and_spacing():
    hole = {"curb_height": 6 * INCH, "curb_length": 0.85, "between": 6 * INCH}
    each = full_flow(THREE, 0.01, 0.011)
    fine = curb_holes(90 * GPM, each, opening_height=3.5 * INCH, opening_width=3.5 * INCH, **hole)
    assert fine.needed == 2
    assert fine.concrete == pytest.approx(2.5 * INCH)
    # four holes and three gaps take 32 in of the 33.5 in, five would take 41.5
    assert fine.fitting == 4
    high = curb_holes(
        90 * GPM, 10 * each, opening_height=4.5 * INCH, opening_width=4.5 * INCH, lift=0.04 * FOOT, **hole
    )
    assert (high.needed, high.concrete) == (1, pytest.approx(6 * INCH - 4.5 * INCH - 0.48 * INCH))
    short = curb_holes(300 * GPM, each, opening_height=3.5 * INCH, opening_width=3.5 * INCH, **hole)
    assert short.needed == 7 > short.fitting
    assert concrete_left(0.15, 0.2) < 0  # it breaks out at the top, and the number says so
    exact = curb_holes(2 * each, each, opening_height=3.5 * INCH, opening_width=3.5 * INCH, **hole)
    assert exact.needed == 2


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
