"""Pumped lines: closed forms, and cases that nobody can mistake."""

from __future__ import annotations

import math

import pytest

from siteplan.water.pressed import (
    curve_of_point,
    cycle_at,
    emptied,
    fitting_head,
    friction_head,
    pump_head,
    resulting_flow,
    shortest_cycle,
    velocity,
)


def test_a_litre_a_second_through_a_square_decimetre_of_pipe() -> None:
    bore = math.sqrt(4 * 0.01 / math.pi)
    assert velocity(0.001, bore) == pytest.approx(0.1)
    assert fitting_head(0.01, bore, 2.0) == pytest.approx(1 / 9.80665, rel=1e-3)  # 2 x (1 m/s)^2 / 2 g


def test_friction_grows_with_length_and_falls_with_the_bore() -> None:
    once = friction_head(0.0025, 0.04, 10.0, 140)
    assert friction_head(0.0025, 0.04, 30.0, 140) == pytest.approx(3 * once)
    assert friction_head(0.0050, 0.04, 10.0, 140) == pytest.approx(2**1.852 * once)
    assert friction_head(0.0, 0.04, 10.0, 140) == 0.0


def test_a_curve_through_one_rated_point_passes_it_and_its_ends() -> None:
    curve = curve_of_point(0.0025, 6.0, 4 / 3, 2.0)
    assert curve[0] == (0.0, pytest.approx(8.0))
    assert pump_head(curve, 0.0025) == pytest.approx(6.0)
    assert curve[-1] == (pytest.approx(0.005), pytest.approx(0.0, abs=1e-12))
    assert pump_head(curve, 0.00125) == pytest.approx(8 - 2 / 4, abs=0.02)  # the parabola 8 - 2 (q / q0)^2


def test_the_flow_that_results_is_where_a_straight_curve_meets_a_parabola() -> None:
    # 10 - 2000 q = 2 + 4e5 q^2: q = (-2000 + sqrt(4e6 + 1.28e7)) / 8e5
    meets = (-2000 + math.sqrt(4e6 + 4 * 4e5 * 8)) / (2 * 4e5)
    assert resulting_flow(((0.0, 10.0), (0.005, 0.0)), lambda q: 2 + 4e5 * q * q) == pytest.approx(meets, abs=1e-9)


def test_a_pump_that_does_not_lift_so_high_gives_nothing() -> None:
    curve = ((0.0, 4.0), (0.003, 1.0))
    assert resulting_flow(curve, lambda q: 4.0 + q) == 0.0
    assert resulting_flow(curve, lambda _: 0.5) == 0.003  # past its last point nobody knows


def test_a_line_that_climbs_all_the_way_falls_back_whole() -> None:
    assert emptied([(0.0, 0.0), (10.0, 1.0), (30.0, 2.0)]) == (30.0, 0.0, 0.0)


def test_a_line_over_a_crest_runs_out_both_ways_and_a_sag_stays_full() -> None:
    assert emptied([(0.0, 0.0), (10.0, 2.0), (25.0, 0.5)]) == (10.0, 15.0, 0.0)
    # up 1 in 10 m, down 0.5 in 5, up to 2 in 15: the sag stands from its fore edge until 1.0 is reached again, 5 m up
    back, out, full = emptied([(0.0, 0.0), (10.0, 1.0), (15.0, 0.5), (30.0, 2.0)])
    assert (back, out, full) == (pytest.approx(20.0), 0.0, pytest.approx(10.0))


def test_what_falls_back_shortens_the_cycle_until_the_pump_never_rests() -> None:
    assert shortest_cycle(0.04, 0.0, 0.002) == pytest.approx(4 * 0.04 / 0.002)
    assert shortest_cycle(0.04, 0.04, 0.002) == 0.0
    worst = min(cycle_at(k * 1e-5, 0.04, 0.01, 0.002) for k in range(1, 200))
    assert shortest_cycle(0.04, 0.01, 0.002) == pytest.approx(worst, rel=1e-4)
    assert cycle_at(0.003, 0.04, 0.0, 0.002) == math.inf
