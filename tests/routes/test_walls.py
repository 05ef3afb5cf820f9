"""Retaining walls on a lot.

Lines go round them or are not laid, found daylight points keep off them, fences are no walls.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point

from siteplan.routes.faces import steep_faces
from siteplan.site import Grid
from siteplan.units import FOOT

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).with_name("drawn_yards.py"))
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)

DS = ("downspout", (22.3, 14.0), {"name": "DS1"})
BANK = ("daylight_outlet", (39.0, 14.0), {"name": "Bank"})


def terrace(x, y):
    """2 % to the east and 1.2 m down at a wall at x = 30, north of y = 6; a ramp passes it south of there."""
    face = np.clip((x - 29.75) / 0.5, 0, 1)
    ramp = np.clip((x - 24.0) / 12.0, 0, 1)
    return 30 - 0.02 * x - 1.2 * np.where(np.asarray(y) > 6, face, ramp)


def paths(plan):
    return [LineString([(v.x, v.y) for v in line.vertices]) for line in plan.lines]


WALL = LineString([(30, 6), (30, 30)])


def wall(*places, kind="wall"):
    return (kind, list(places or WALL.coords), {"name": "Terrace wall"})


def test_a_line_goes_round_a_retaining_wall_and_keeps_off_it():
    site = yards.drawn(DS, BANK, wall(), ground=terrace)
    plan = yards.laid_out(site)
    assert yards.served(plan) == {"S1"}
    for path in paths(plan):
        assert path.distance(WALL) >= 3 * FOOT - 1e-6
    assert max(row.grade for line in plan.lines for row in line.rows) < 0.3


def test_without_a_way_round_no_line_is_laid_and_the_wall_is_named():
    site = yards.drawn(DS, BANK, wall((30, -1), (30, 31)), ground=terrace)
    plan = yards.laid_out(site)
    assert not [line for line in plan.lines if line.end == "O1"]
    (bank,) = [c for c in plan.candidates if c.outlet == "O1"]
    assert not bank.feasible
    assert "Terrace wall" in bank.reason


@pytest.mark.parametrize("turned", [0.0, 33.0])
@pytest.mark.parametrize("cell", [0.5, 1.5])
def test_found_daylight_points_keep_off_walls_and_off_ground_drawn_across_them(turned, cell):
    site = yards.drawn(DS, wall(), ground=terrace, turned=turned, cell=cell)
    plan = yards.laid_out(site)
    (drawn,) = [feature.geometry for feature in site.of_kind("wall")]
    found = [outlet for outlet in plan.outlets if outlet.found]
    assert found
    for outlet in found:
        assert Point(outlet.x, outlet.y).distance(drawn) >= 3 * FOOT - 1e-6
        row, col = (float(v[0]) for v in site.grid.to_index(np.array([outlet.x]), np.array([outlet.y])))
        r, c = int(np.floor(row)), int(np.floor(col))
        square = shapely.Polygon(
            [tuple(float(v) for v in site.grid.to_plan(r + i, c + j)) for i, j in ((0, 0), (0, 1), (1, 1), (1, 0))]
        )
        assert not square.intersects(drawn)


def test_found_daylight_points_keep_off_faces_that_heights_alone_show():
    site = yards.drawn(DS, ground=terrace)
    for outlet in yards.laid_out(site).outlets:
        if outlet.y > 6:
            assert abs(outlet.x - 30) > 0.5


def test_a_fence_is_no_wall():
    lines = [paths(yards.laid_out(yards.drawn(DS, BANK, *more))) for more in ((), (wall(kind="fence"),))]
    assert lines[0] == lines[1]


def test_no_line_is_steeper_than_a_drop():
    """Down a face of 3 m that nobody drew a wall on: the line is laid at 1 to 1 at most, or not at all."""
    site = yards.drawn(DS, BANK, ground=lambda x, y: np.where(x > 30, 27.0, 30.0) - 0.02 * x + 0 * y)
    plan = yards.laid_out(site)
    for line in plan.lines:
        for below, above in zip(line.vertices, line.vertices[1:], strict=False):
            assert above.invert - below.invert <= 1.0 * (above.station - below.station) + 1e-6


def test_a_source_at_the_foot_of_a_wall_is_served_away_from_it():
    site = yards.drawn(
        ("downspout", (31.0, 14.0), {"name": "DS1"}),
        BANK,
        wall(),
        ground=lambda x, y: terrace(x, y) - 0.2 * np.clip(x - 34, 0, 6),
    )
    plan = yards.laid_out(site)
    assert yards.served(plan) == {"S1"}
    assert not any(path.intersects(WALL) for path in paths(plan))


def test_a_line_that_may_pass_keeps_the_distance_from_a_walls_end():
    """The straight way passes the end of the wall by 0.6 m."""
    end = ((30, 14.6), (30, 30))
    site = yards.drawn(DS, BANK, wall(*end))
    plan = yards.laid_out(site)
    assert yards.served(plan) == {"S1"}
    assert [path.distance(LineString(end)) >= 3 * FOOT - 1e-6 for path in paths(plan)] == [True]


def test_no_first_run_goes_through_a_wall_beside_its_source():
    """At a house wall a first run may start within it; through a retaining wall it may not."""
    across = ((30, -1), (30, 31))
    site = yards.drawn(("downspout", (29.7, 14.0), {"name": "DS1"}), BANK, wall(*across), cell=0.2)
    plan = yards.laid_out(site)
    assert not any(path.intersects(LineString(across)) for path in paths(plan))
    assert not [line for line in plan.lines if line.end == "O1"]


def stepped(*steps, unknown=()):
    """A lot of 10 m on squares of 0.25 m, level to the north.

    That rises by so much within one square east of each place.
    """
    x = np.arange(0.0, 10.01, 0.25)
    z = np.tile(20.0 + sum(up * (x > at) for at, up in steps), (len(x), 1))
    z[:, [round(at / 0.25) for at in unknown]] = np.nan
    grid = Grid(
        z=z,
        cell=0.25,
        to_index=lambda px, py: (np.asarray(py) / 0.25, np.asarray(px) / 0.25),
        to_plan=lambda row, col: (np.asarray(col) * 0.25, np.asarray(row) * 0.25),
    )
    return steep_faces(SimpleNamespace(grid=grid), shapely.box(0, 0, 10, 10), 1.0)


@pytest.mark.parametrize(("up", "face"), [(0.30, False), (0.31, True)])
def test_a_face_is_a_foot_high(up, face):
    """A curb is lower, a wall seldom is: common practice, no source."""
    found = stepped((5.0, up))
    assert found.is_empty != face
    if face:
        assert found.bounds == pytest.approx((5.0, 0.0, 5.25, 10.0))


@pytest.mark.parametrize(("beyond", "face"), [(0.5, True), (1.0, False)])
def test_the_height_of_a_face_is_what_rises_within_three_quarters_of_a_metre(beyond, face):
    """A step of 0.27 m, and 0.05 m more on the flat beyond it.

    No steeper than a bank, it makes the foot where it is near enough.
    """
    assert stepped((5.0, 0.27), (5.0 + beyond, 0.05)).is_empty != face


def test_ground_that_is_not_known_makes_no_face_of_a_curb():
    """Terraces of 0.2 m a step beside a strip nobody shot.

    The strip has no height of its own, whatever the rest of the lot is like.
    """
    assert stepped((5.0, 0.20), (9.0, 0.8 * 0.25), unknown=[5.75]).is_empty
    high = [(1.0 + 0.25 * k, 0.2) for k in range(8)]  # bank of 0.8 to 1 well away lifts the mean of the lot
    assert stepped(*high, (5.0, 0.26), unknown=[5.75]).is_empty
