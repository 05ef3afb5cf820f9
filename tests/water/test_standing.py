from __future__ import annotations

import math

import pytest

from siteplan.water.standing import (
    Blocked,
    Opening,
    blocked_outlet,
    left_standing,
    standing_length,
)
from siteplan.water.surface import SurfaceRun
from siteplan.water.trouble import Trouble

RUNS = [
    SurfaceRun(id="a", into=None, length=20.0, invert_up=10.2, invert_down=10.0, bore=0.1, roughness=0.011),
    SurfaceRun(id="b", into="a", length=10.0, invert_up=10.4, invert_down=10.2, bore=0.1, roughness=0.011),
    SurfaceRun(id="other", into=None, length=5.0, invert_up=10.1, invert_down=10.0, bore=0.1, roughness=0.011),
]


def test_standing_length_by_similar_triangles():
    assert standing_length(20.0, 10.2, 10.0, 10.05) == pytest.approx(5.0)
    assert standing_length(20.0, 10.2, 10.0, 10.15, rise=0.1) == pytest.approx(5.0)
    assert standing_length(20.0, 10.2, 10.0, 9.0) == 0.0
    assert standing_length(20.0, 10.2, 10.0, 11.0) == 20.0
    assert standing_length(20.0, 10.0, 10.2, 10.05) == pytest.approx(5.0)  # a pipe that rises holds water too
    assert standing_length(20.0, 10.0, 10.0, 10.0) == 0.0


def test_volume_of_a_full_and_of_a_half_wet_pipe():
    wet, full, volume = left_standing(RUNS[:1], 11.0)
    assert (wet, full) == (20.0, 20.0)
    assert volume == pytest.approx(math.pi * 0.01 / 4 * 20)
    # a wedge: water to the crown at the low end, to the invert at the high end, holds half
    wedge = SurfaceRun(id="w", into=None, length=20.0, invert_up=10.1, invert_down=10.0, bore=0.1, roughness=0.011)
    assert left_standing([wedge], 10.1)[2] == pytest.approx(math.pi * 0.01 / 4 * 10, rel=1e-4)


def test_blocked_the_lowest_rim_is_the_way_out():
    openings = [
        Opening(name="DS1 joint", run="b", rim=11.0),
        Opening(name="lawn grate", run="a", rim=10.9),
        Opening(name="far", run="other", rim=10.2),
    ]
    result = blocked_outlet(RUNS, openings, outlet="a", inflow=0.001)
    assert isinstance(result, Blocked)
    assert result.first.name == "lawn grate"
    assert result.level == 10.9
    assert result.next_rim == 11.0
    assert result.standing == pytest.approx(30.0)
    assert result.full == pytest.approx(30.0)
    assert result.filled_in == pytest.approx(math.pi * 0.01 / 4 * 30 / 0.001)
    assert "comes out first at lawn grate" in result.statement
    higher_up = blocked_outlet(RUNS, openings, outlet="b")
    assert isinstance(higher_up, Blocked)
    assert higher_up.first.name == "DS1 joint"
    assert higher_up.next_rim is None
    none = blocked_outlet(RUNS, openings[:0], outlet="a")
    assert isinstance(none, Trouble)
    assert "no known way out" in none.message
    with pytest.raises(ValueError, match="no run here"):
        blocked_outlet(RUNS, openings, outlet="z")
    with pytest.raises(ValueError, match="stands on z"):
        blocked_outlet(RUNS, [Opening(name="x", run="z", rim=1.0)], outlet="a")
