from __future__ import annotations

import math

import pytest

from siteplan.books.pipes import pipe
from siteplan.units import FOOT, GALLON_PER_MINUTE, INCH
from siteplan.water.capacity import full_flow
from siteplan.water.curb import concrete_left, curb_holes, gutter_depth, rectangle_full_flow, swale_depth
from siteplan.water.links import (
    ORIFICE,
    WEIR,
    Link,
    leader_flow,
    link_table,
    outlet_funnel_flow,
    popup_level,
    reducer,
    reducer_lift,
    submerged_outlet,
)
from siteplan.water.section import GRAVITY

GPM = GALLON_PER_MINUTE
FOUR, THREE = pipe().bore, pipe("pvc_sch40", "3 in").bore


def test_a_concentric_reducer_lifts_half_the_difference_and_ponds():
    assert reducer_lift(FOUR, THREE, "concentric") == pytest.approx((3.975 - 3.068) / 2 * INCH)
    assert reducer_lift(FOUR, THREE, "eccentric") == 0.0
    link, ponded = reducer("L1 at the curb", FOUR, THREE, "concentric", 0.01, 0.011, 30.0)
    assert ponded == pytest.approx(0.4535 * INCH / 0.01)
    assert link.tail_water == pytest.approx(30.0 + 0.4535 * INCH)
    assert link.capacity == pytest.approx(50 * GPM, rel=0.01)
    assert "lifts the invert" in link.statement
    flat, none = reducer("L1", FOUR, THREE, "eccentric", 0.01, 0.011, 30.0)
    assert none == 0.0
    assert flat.tail_water is None
    with pytest.raises(ValueError, match="give the larger bore first"):
        reducer_lift(THREE, FOUR, "concentric")
    with pytest.raises(ValueError, match="flat bottom"):
        reducer_lift(FOUR, THREE, "bell")  # type: ignore[arg-type]


def test_curb_holes_concrete_count_and_spacing():
    hole = {"curb_height": 6 * INCH, "curb_length": 0.85, "between": 6 * INCH}
    each = full_flow(THREE, 0.01, 0.011)
    fine = curb_holes("L1", 90 * GPM, each, opening_height=3.5 * INCH, opening_width=3.5 * INCH, **hole)
    assert fine.needed == 2
    assert fine.concrete == pytest.approx(2.5 * INCH)
    # four holes and three gaps take 32 in of the 33.5 in, five would take 41.5
    assert fine.fitting == 4
    assert fine.troubles == ()
    high = curb_holes(
        "L1", 90 * GPM, 10 * each, opening_height=4.5 * INCH, opening_width=4.5 * INCH, lift=0.04 * FOOT, **hole
    )
    assert [t.rule for t in high.troubles] == ["curb-concrete"]
    assert "flattened" in high.troubles[0].message
    short = curb_holes("L1", 300 * GPM, each, opening_height=3.5 * INCH, opening_width=3.5 * INCH, **hole)
    assert (short.needed, [t.rule for t in short.troubles]) == (7, ["curb-holes"])
    assert concrete_left(0.15, 0.2) < 0  # it breaks out at the top, and the number says so
    exact = curb_holes("L1", 2 * each, each, opening_height=3.5 * INCH, opening_width=3.5 * INCH, **hole)
    assert exact.needed == 2


def test_a_square_and_its_circle_carry_alike():
    side = 0.1
    assert rectangle_full_flow(side, side, 0.01, 0.011) == pytest.approx(full_flow(side, 0.01, 0.011) * 4 / math.pi)
    assert rectangle_full_flow(0.2, 0.05, 0.01, 0.011) < rectangle_full_flow(side, side, 0.01, 0.011)


def test_popup_stands_at_its_rim_and_higher_in_flow():
    assert popup_level(100.0, FOUR, 0.0, lid_lift=0.02) == 100.0
    flow, ring = 42 * GPM, math.pi * FOUR
    over = popup_level(100.0, FOUR, flow, lid_lift=1.0) - 100.0
    assert WEIR * ring * over**1.5 == pytest.approx(flow)
    through = popup_level(100.0, FOUR, flow, lid_lift=0.005) - 100.0
    assert ORIFICE * ring * 0.005 * math.sqrt(2 * GRAVITY * through) == pytest.approx(flow)
    assert through > over


def test_gutter_and_swale_depth():
    depth = gutter_depth(0.05, 0.02, 0.01, 0.016)
    # the same by slicing the triangle across its spread
    spread = depth / 0.02
    slices = 4000
    width = spread / slices
    depths = [0.02 * (place + 0.5) * width for place in range(slices)]
    flow = sum(width * y ** (5 / 3) * math.sqrt(0.01) / 0.016 for y in depths)
    assert flow == pytest.approx(0.05, rel=0.005)  # 0.376 in print, 3/8 exact
    assert swale_depth(0.05, 0.3, 3.0, 0.01, 0.035) == pytest.approx(0.136, abs=0.01)
    assert gutter_depth(0.0, 0.02, 0.01, 0.016) == 0.0


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


def test_the_table_names_the_weakest_link():
    run = Link(kind="run", name="L1", capacity=99 * GPM, tail_water=None, statement="")
    hole = Link(kind="curb hole", name="L1 at the curb", capacity=50 * GPM, tail_water=None, statement="")
    rim = Link(kind="pop-up", name="L1 rim", capacity=None, tail_water=31.0, statement="")
    table = link_table("L1", 61 * GPM, [run, rim, hole], rims=[("DS1", 30.9), ("DS2", 31.2)])
    assert table.links == (hole, run, rim)
    assert table.weakest is hole
    assert table.highest_water is rim
    assert [t.rule for t in table.troubles] == ["weakest-link", "tail-water"]
    assert "curb hole L1 at the curb, passes 50.0 gpm" in table.troubles[0].message
    assert "DS1" in table.troubles[1].message
    calm = link_table("L1", 40 * GPM, [run, hole])
    assert calm.troubles == ()
    assert calm.highest_water is None
    unknown = link_table("L1", None, [rim])
    assert unknown.weakest is None
    assert unknown.troubles == ()
