from __future__ import annotations

import math

import pytest

from siteplan.units import FOOT, GALLON_PER_MINUTE, INCH
from siteplan.water.run_flow import run_water
from siteplan.water.section import Circle, flow_area

BORE, N = 3.975 * INCH, 0.011
GPM = GALLON_PER_MINUTE
# by hand: 1.486/0.011 0.08618 ft2 (0.08281 ft)^(2/3) S^(1/2), 0.2709 ft3/s at 1.5 %
FULL = {0.015: 121.6, 0.01: 99.3}


def test_a_run_that_fits():
    run = run_water(42 * GPM, BORE, 0.015, N)
    assert run.full / GPM == pytest.approx(FULL[0.015], abs=0.05)
    assert run.velocity * flow_area(Circle(bore=BORE), run.depth) == pytest.approx(42 * GPM, rel=1e-9)
    # Q/Qfull 0.345: y/D between 0.39 and 0.42 on the hydraulic elements chart of any handbook, from memory
    assert 0.39 < run.depth / BORE < 0.42
    assert run.velocity_full / FOOT == pytest.approx(0.2709 / 0.08618, rel=1e-3)


def test_above_full_it_passes_part_full_to_seven_hundredths_more_and_then_under_pressure():
    """A circle carries most at y/D 0.938, 1.076 times its full flow (any text on open channels, from memory)."""
    above = run_water(1.05 * FULL[0.01] * GPM, BORE, 0.01, N)
    assert above.depth / BORE < 0.938
    pressed = run_water(1.3 * FULL[0.01] * GPM, BORE, 0.01, N)
    assert pressed.depth is None
    assert pressed.velocity == pytest.approx(1.3 * FULL[0.01] * GPM / (math.pi * BORE**2 / 4))


def test_no_fall_is_a_result_not_an_error():
    for grade in (0.0, -0.01):
        run = run_water(1 * GPM, BORE, grade, N)
        assert (run.full, run.depth, run.velocity, run.velocity_full) == (None, None, None, None)


def test_unknown_flow_leaves_the_capacity_known():
    run = run_water(None, BORE, 0.01, N)
    assert run.full / GPM == pytest.approx(FULL[0.01], abs=0.05)
    assert run.depth is None
