"""One line with every figure worked by hand, in the way of a level book: 84 ft from a downspout to a curb.

The story is invented. Its arithmetic (highest start = ground - cover - top of pipe; fall available = highest start -
outlet invert; fall needed = least grade x length) is common practice, no source; figures in feet.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from siteplan.units import FOOT

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).parents[1] / "routes" / "drawn_yards.py")
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)

# station and ground [ft], outlet first: the shots of the story
SHOTS = (
    (0, 97.12),
    (10, 97.55),
    (20, 98.02),
    (30, 98.45),
    (40, 98.70),
    (50, 98.85),
    (60, 98.95),
    (70, 99.08),
    (84, 99.26),
)
RULES = {"min_grade_percent": 1.0, "min_cover_ft": 1.0, "outlet_zone_cover_in": 0, "daylight_stretch_ft": 7.5}
OUTLET = 96.62 + 0.04  # gutter flow line and the curb allowance
TOP = 0.341  # of the pipe above its invert


def story(zone):
    """The shots along a lawn that is level across; the line runs west to east, its last `zone` ft with less cover."""
    end = 40.8
    stations, ground = (np.array(v) * FOOT for v in zip(*SHOTS, strict=True))

    def lawn(x, y):
        return np.interp(end - np.asarray(x, float), stations, ground) + 0 * np.asarray(y, float)

    site = yards.drawn(
        ("downspout", (end - 84 * FOOT, 14.0), {"name": "DS1"}),
        ("curb_outlet", (end, 14.0), {"invert": OUTLET * FOOT, "name": "Curb"}),
        house=None,
        ground=lawn,
        asked={**RULES, "outlet_zone_ft": zone},
        cell=0.1,
    )
    return site, yards.laid_out(site)


@pytest.fixture(scope="module")
def thirty():
    return story(30)


def test_the_line_is_straight_and_84_feet_long(thirty):
    site, plan = thirty
    (line,) = plan.lines
    assert yards.faults(site, plan) == []
    assert line.length / FOOT == pytest.approx(84.0, abs=0.005)
    assert all(v.bend <= 2.5 for v in line.vertices)


def test_the_start_lies_no_higher_than_its_cover_lets_it(thirty):
    """Highest start 99.26 - 1.00 - 0.341 = 97.919, worked by hand; 0.84 ft over the outlet at 96.66 are needed."""
    (line,) = thirty[1].lines
    assert 97.50 - 1e-5 <= line.vertices[-1].invert / FOOT <= 97.919 + 1e-5


def test_spare_is_the_least_of_what_every_station_leaves(thirty):
    """At 0+30, where full cover begins: 98.45 - 1.341 - 0.30 - 96.66 = 0.149, less than the start's own 0.419."""
    (line,) = thirty[1].lines
    assert line.spare / FOOT == pytest.approx(0.149, abs=0.005)
    assert "0+009.14" in line.binding


def test_with_full_cover_from_25_feet_on_it_is_short(thirty):
    """Half-way between two shots nobody looked: ground 98.235 at 0+25, less 1.341, less 0.25, is 96.644.

    0.016 short.
    """
    _, plan = story(25)
    assert plan.lines == ()
    (found,) = [c for c in plan.candidates if c.outlet == "O1"]
    assert found.margin / FOOT == pytest.approx(-0.016, abs=0.005)
    assert "short of fall" in found.reason


def test_each_station_of_the_schedule(thirty):
    """Cover and cut follow from ground and invert at every stake, to the thousandth of a foot."""
    (line,) = thirty[1].lines
    for row in line.rows:
        ground = float(np.interp(row.station / FOOT, *zip(*SHOTS, strict=True)))
        # the grid smooths a shot's crease over its cell
        assert row.ground / FOOT == pytest.approx(ground, abs=0.01)
        assert row.cover / FOOT == pytest.approx(row.ground / FOOT - row.invert / FOOT - TOP, abs=0.001)
        assert row.cut / FOOT == pytest.approx(row.ground / FOOT - row.invert / FOOT + 0.01 + 0.25, abs=0.001)
    curb = line.rows[0]
    assert curb.invert / FOOT == pytest.approx(96.66, abs=0.001)
    assert curb.cover / FOOT == pytest.approx(97.12 - 96.66 - TOP, abs=0.005)  # 1.4 in: the outlet zone's flag
