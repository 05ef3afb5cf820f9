from __future__ import annotations

import math

import pytest

from siteplan.units import FOOT
from siteplan.water.standing import (
    Blocked,
    Opening,
    blocked_outlet,
    rim_standing,
    spills,
    standing_length,
    standing_water,
)
from siteplan.water.surface import Run, water_surface
from siteplan.water.trouble import Trouble

RUNS = [
    Run(id="a", into=None, length=20.0, invert_up=10.2, invert_down=10.0, bore=0.1, roughness=0.011),
    Run(id="b", into="a", length=10.0, invert_up=10.4, invert_down=10.2, bore=0.1, roughness=0.011),
    Run(id="other", into=None, length=5.0, invert_up=10.1, invert_down=10.0, bore=0.1, roughness=0.011),
]


def test_standing_length_by_similar_triangles():
    assert standing_length(20.0, 10.2, 10.0, 10.05) == pytest.approx(5.0)
    assert standing_length(20.0, 10.2, 10.0, 10.15, rise=0.1) == pytest.approx(5.0)
    assert standing_length(20.0, 10.2, 10.0, 9.0) == 0.0
    assert standing_length(20.0, 10.2, 10.0, 11.0) == 20.0
    assert standing_length(20.0, 10.0, 10.2, 10.05) == pytest.approx(5.0)  # a pipe that rises holds water too
    assert standing_length(20.0, 10.0, 10.0, 10.0) == 0.0


def test_volume_of_a_full_and_of_a_half_wet_pipe():
    wet, full, volume = standing_water(RUNS[:1], 11.0)
    assert (wet, full) == (20.0, 20.0)
    assert volume == pytest.approx(math.pi * 0.01 / 4 * 20)
    # a wedge: water to the crown at the low end, to the invert at the high end, holds half
    wedge = Run(id="w", into=None, length=20.0, invert_up=10.1, invert_down=10.0, bore=0.1, roughness=0.011)
    assert standing_water([wedge], 10.1)[2] == pytest.approx(math.pi * 0.01 / 4 * 10, rel=1e-4)


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


def test_story_s3_a_popup_over_the_inverts_stands_full():
    """Pop-up at 42 ft, rim 99.00, highest invert 98.26: works under head, stands full between pumpings, freezes."""
    line = Run(
        id="S",
        into=None,
        length=42 * FOOT,
        invert_up=98.26 * FOOT,
        invert_down=(98.26 - 0.42) * FOOT,
        bore=0.33125 * FOOT,
        roughness=0.011,
    )
    trouble = rim_standing("S", [line], 99.00 * FOOT)
    assert trouble is not None
    assert trouble.value == pytest.approx(42 * FOOT)
    assert "0.74 ft (0'-8 7/8\") above the highest invert" in trouble.message
    assert "42.0 ft of it full" in trouble.message
    # a weep at the low elbow empties it; daylight has no rim above the invert
    assert rim_standing("S", [line], 99.00 * FOOT, weep=(98.26 - 0.42) * FOOT) is None
    assert rim_standing("S", [line], 97.80 * FOOT) is None
    blocked = blocked_outlet(
        [line],
        [Opening(name="air gap", run="S", rim=99.85 * FOOT), Opening(name="pop-up", run="S", rim=99.0 * FOOT)],
        outlet="S",
    )
    assert isinstance(blocked, Blocked)
    assert blocked.first.name == "pop-up"
    assert "0.85 ft" in blocked.statement


def test_part_of_a_line_behind_a_rim():
    trouble = rim_standing("L1", RUNS[:1], 10.1, unit="m")
    assert trouble is not None
    assert trouble.value == pytest.approx(10.0)
    assert "part of the inverts" in trouble.message


def test_spills_are_sorted_by_what_is_left():
    surface = water_surface(RUNS, {"a": 0.012, "b": 0.012, "other": 0.0}, None)
    openings = [Opening(name="high", run="b", rim=12.0), Opening(name="low", run="a", rim=10.35)]
    low, high = spills(surface, openings)
    assert (low.opening.name, high.opening.name) == ("low", "high")
    assert low.spare == pytest.approx(10.35 - surface["a"].upstream.level)
    assert low.spare < 0 < high.spare
    with pytest.raises(ValueError, match="no run here"):
        spills(surface, [Opening(name="x", run="z", rim=1.0)])
