from __future__ import annotations

import math

import pytest

from siteplan.water.section import (
    GRAVITY,
    Circle,
    Trapezoid,
    critical_depth,
    first_moment,
    flow_area,
    segment_factor,
    top_width,
    velocity_head,
    wetted_perimeter,
)

PIPE = Circle(bore=0.1)
SWALE = Trapezoid(bottom=0.3, side=3.0)


def integral(function, upper, steps=20000):
    width = upper / steps
    return sum(function((place + 0.5) * width) for place in range(steps)) * width


@pytest.mark.parametrize("section", [PIPE, SWALE])
@pytest.mark.parametrize("share", [0.07, 0.4, 0.77, 0.99])
def test_area_and_first_moment_are_the_integrals_of_the_width(section, share):
    depth = 0.1 * share
    assert flow_area(section, depth) == pytest.approx(integral(lambda y: top_width(section, y), depth), rel=1e-5)
    moment = integral(lambda y: top_width(section, y) * (depth - y), depth)
    assert first_moment(section, depth) == pytest.approx(moment, rel=1e-5)


def test_full_pipe_and_beyond():
    assert flow_area(PIPE, 0.1) == pytest.approx(math.pi * 0.01 / 4)
    assert flow_area(PIPE, 0.5) == flow_area(PIPE, 0.1)
    assert wetted_perimeter(PIPE, 0.1) == pytest.approx(math.pi * 0.1)
    assert top_width(PIPE, 0.1) == 0.0
    assert first_moment(PIPE, 0.5) == pytest.approx(math.pi * 0.01 / 4 * 0.45)
    assert first_moment(PIPE, 0.1) == pytest.approx(first_moment(PIPE, 0.1 - 1e-12), rel=1e-6)


def test_thin_water_keeps_its_digits():
    # a flat circle segment is nearly a parabola: 2/3 of chord times depth
    depth = 1e-9
    assert flow_area(PIPE, depth) == pytest.approx(2 / 3 * top_width(PIPE, depth) * depth, rel=1e-6)
    assert segment_factor(0.1 + 1e-9) == pytest.approx(segment_factor(0.1 - 1e-9), rel=1e-6)


@pytest.mark.parametrize("section", [PIPE, SWALE])
def test_critical_depth_has_the_least_energy(section):
    flow = 0.004
    depth = critical_depth(section, flow)
    least = depth + velocity_head(section, depth, flow)
    for other in (0.98 * depth, 1.02 * depth):
        assert other + velocity_head(section, other, flow) > least
    assert flow**2 * top_width(section, depth) == pytest.approx(GRAVITY * flow_area(section, depth) ** 3, rel=1e-6)
    assert critical_depth(section, 0.0) == 0.0


def test_critical_depth_stays_under_the_crown():
    assert 0.09 < critical_depth(PIPE, 0.05) <= 0.1
