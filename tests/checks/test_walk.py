"""Walking a line: samples, stretches, turns, edge angles."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from siteplan.checks.crossings import cuts, edge_angles
from siteplan.checks.places import nearest, stretches_near
from siteplan.checks.scene import scene_of
from siteplan.checks.walk import can_be_walked, length_of, runs_of_samples, stretches_inside, turn_at


def pairs(stretches) -> list[float]:
    return [station for stretch in stretches for station in stretch]


ZIGZAG = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)])
AT = np.array([0.0, 10.0, 20.0, 30.0])


def test_stretches_of_a_path_that_comes_back():
    assert pairs(stretches_inside(ZIGZAG, AT, box(4, -1, 6, 11))) == pytest.approx([4.0, 6.0, 24.0, 26.0])


def test_a_stretch_round_a_corner_is_one():
    assert pairs(stretches_inside(ZIGZAG, AT, box(8, -1, 11, 3))) == pytest.approx([8.0, 13.0])


def test_a_touch_is_no_crossing():
    assert stretches_inside(ZIGZAG, AT, box(4, -1, 6, -0.001)) == ()
    assert stretches_inside(ZIGZAG, AT, box(10, -1, 12, 0)) == ()
    assert stretches_inside(ZIGZAG, AT, Polygon()) == ()


def test_holes_and_many_parts():
    ring = Polygon(box(2, -2, 8, 2).exterior.coords, [box(4, -1, 6, 1).exterior.coords])
    assert pairs(stretches_inside(ZIGZAG, AT, ring)) == pytest.approx([2.0, 4.0, 6.0, 8.0])
    two = MultiPolygon([box(1, -1, 2, 1), box(3, -1, 4, 1)])
    assert pairs(stretches_inside(ZIGZAG, AT, two)) == pytest.approx([1.0, 2.0, 3.0, 4.0])


@settings(max_examples=60, derandomize=True, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=2, max_size=6, unique=True))
def test_stretches_add_up_to_what_lies_inside(corners):
    path = np.array(corners, float)
    at = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))))
    area = Point(6.3, 6.1).buffer(3.7)
    inside = stretches_inside(path, at, area)
    whole = sum(LineString(path[i : i + 2]).intersection(area).length for i in range(len(path) - 1))
    assert length_of(inside) == pytest.approx(whole, abs=0.011 * len(path))
    for start, end in inside:
        middle = (start + end) / 2
        place = Point(np.interp(middle, at, path[:, 0]), np.interp(middle, at, path[:, 1]))
        assert area.buffer(1e-6).contains(place)


def test_runs_of_samples():
    assert runs_of_samples(np.array([True, True, False, True, False, False, True])) == ((0, 1), (3, 3), (6, 6))
    assert runs_of_samples(np.zeros(4, bool)) == ()


@pytest.mark.parametrize("angle", [0.0, 22.5, 45.0, 90.0, 135.0, 180.0])
@pytest.mark.parametrize("side", [1, -1])
def test_turn(angle, side):
    a = np.radians(angle) * side
    after = np.array([1.0 + 3 * np.cos(a), 3 * np.sin(a)])
    assert turn_at(np.array([-5.0, 0.0]), np.array([1.0, 0.0]), after) == pytest.approx(angle, abs=1e-5)


@pytest.fixture
def walk(scenes):
    plan, site = scenes.build()
    return scene_of(plan, site).walks["L1"]


def test_samples_are_close_and_hold_every_edge(scenes):
    plan, site = scenes.build(more=[{"kind": "driveway", "name": "D", "box": [20.013, 0.0, 24.017, 40.0]}])
    walk = scene_of(plan, site).walks["L1"]
    assert np.diff(walk.s).max() <= 0.05 + 1e-9
    for edge in (0.0, 10.013, 14.017, walk.zone, walk.stretch, 30.0):
        assert np.abs(walk.s - edge).min() < 1e-9
    assert walk.z == pytest.approx(walk.inverts[0] + 0.02 * walk.s)
    assert walk.rise == pytest.approx(plan.lines[0].pipe.rise)


@pytest.mark.parametrize("angle", [30.0, 59.0, 90.0, 120.0])
def test_edge_angle_is_that_of_the_edge_crossed(walk, angle):
    lean = 4 / np.tan(np.radians(angle))
    strip = Polygon([(20 - lean, 16), (24 - lean, 16), (24 + lean, 24), (20 + lean, 24)])
    both = edge_angles(walk, strip, (10.0, 14.0))
    assert both == pytest.approx([min(angle, 180 - angle)] * 2, abs=1e-6)


def test_an_end_inside_crosses_no_edge(walk):
    assert edge_angles(walk, box(5, 0, 20, 40), (0.0, 10.0)) == pytest.approx([90.0])


def test_cuts_of_a_broken_line(walk):
    found = cuts(walk, LineString([(15, 15), (15, 25), (20, 25), (30, 15)]))
    assert [cut.station for cut in found] == pytest.approx([5.0, 15.0])
    assert [cut.angle for cut in found] == pytest.approx([90.0, 45.0])
    assert cuts(walk, LineString([(0, 0), (50, 0)])) == ()


def test_nearest_place(walk):
    assert nearest(walk, np.array([20.0, 23.0])) == pytest.approx((10.0, 3.0))
    assert nearest(walk, np.array([44.0, 23.0])) == pytest.approx((30.0, 5.0))


def test_stretches_near_end_where_the_band_ends(walk):
    away = np.hypot(walk.x - 20.0, walk.y - 20.0)
    assert pairs(stretches_near(walk, away, 2.013)) == pytest.approx([10 - 2.013, 10 + 2.013], abs=1e-9)


def test_what_cannot_be_walked(scenes):
    plan, _ = scenes.build()
    line = plan.lines[0]
    assert can_be_walked(line)
    assert not can_be_walked(scenes.changed(line, "vertices", to=line.vertices[:1]))
    assert not can_be_walked(scenes.changed(line, "vertices.0.x", to=float("nan")))
    assert not can_be_walked(scenes.changed(line, "vertices", to=(line.vertices[0], line.vertices[0])))
