"""The coarse site of a lot by its figures in docs/screen.md: where sources and outlets stand."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon, box

from siteplan.screen.asked import HALF_STREET, PUBLIC_ELEVATION_FT, SURE_FROM
from siteplan.screen.coarse import corners_of, house_of, lowest_apart, street_places
from siteplan.site import Grid

LOT = box(0, 0, 30, 40)


@pytest.mark.parametrize(("side", "drains"), [(19.9 / 4, False), (20.1 / 4, True)])
def test_what_is_smaller_than_twenty_square_metres_is_a_shed(side, drains):
    shed = box(5, 5, 9, 5 + side)
    assert house_of(LOT, [shed]) == (shed if drains else None)


def test_leaders_stand_three_tenths_of_a_metre_off_the_corners():
    found = sorted(corners_of(LOT, box(10, 10, 20, 22)))
    assert found == [pytest.approx(each) for each in sorted([(9.7, 9.7), (20.3, 9.7), (20.3, 22.3), (9.7, 22.3)])]


@pytest.mark.parametrize(("steps", "sources"), [(1, 6), (2, 8), (3, 4)])
def test_a_house_with_many_corners_is_taken_by_its_outermost(steps, sources):
    """A house cut back in steps at one corner has 4 + 2 corners a step.

    At most eight leaders, else those by its rectangle's.
    """
    places = [(8.0, 8.0), (22.0, 8.0), (22.0, 20.0)]
    for k in range(steps):
        places += [(8.0 + 2 * (steps - k), 20.0 + 2 * k), (8.0 + 2 * (steps - k), 22.0 + 2 * k)]
    places.append((8.0, places[-1][1]))
    assert len(corners_of(box(0, 0, 40, 40), Polygon(places))) == sources


def test_where_no_house_is_drawn_one_stands_in_the_middle():
    # 0.35 of 30 by 40 m about (15, 20)
    found = sorted(corners_of(LOT, None))
    assert found == [pytest.approx((15 + a * 5.25, 20 + b * 7.0)) for a in (-1, 1) for b in (-1, 1)]


@pytest.mark.parametrize(("away", "faces"), [(17.9, True), (18.1, False)])
def test_a_lot_faces_a_street_whose_gutter_is_no_farther_than_fourteen_metres(away, faces):
    # half a street of 4 m, and 14 m behind it
    places = street_places(LOT, [LineString([(-50, -away), (80, -away)])], 4.0)
    assert bool(len(places)) == faces
    if faces:
        assert set(np.round(places[:, 1], 6)) == {round(4.0 - away, 6)}


def test_places_are_looked_at_every_three_metres_of_front():
    # 140 m round the lot in 47 parts; the front is 30 m of it
    places = street_places(LOT, [LineString([(-50, -6.0), (80, -6.0)])], 4.0)
    steps = np.diff(np.sort(places[:, 0]))
    assert steps.max() == pytest.approx(140 / 47, abs=1e-6)


def test_the_lowest_four_that_stand_five_metres_apart():
    # ground that falls a centimetre a metre to the west; places every 2.4 m along it
    z = np.tile(np.arange(60.0) * 0.01, (3, 1))
    grid = Grid(z=z, to_index=lambda x, y: (y, x), to_plan=lambda row, col: (col, row), cell=1.0)
    places = np.array([(2.4 * k, 1.0) for k in range(20)])
    found = lowest_apart(places[::-1], grid)
    assert found[:, 0].tolist() == pytest.approx([0.0, 7.2, 14.4, 21.6])  # 4.8 m is too near, and a fifth is too many
    near = np.array([(0.0, 1.0), (4.9, 1.0), (10.1, 1.0), (15.2, 1.0)])
    assert lowest_apart(near, grid)[:, 0].tolist() == pytest.approx([0.0, 10.1, 15.2])


def test_figures_that_stand_for_what_nobody_gave():
    # docs/screen.md: 0.30 ft of public lidar, 4 m to the gutter, 95 % as elsewhere (docs/doubt.md)
    assert (PUBLIC_ELEVATION_FT, HALF_STREET, SURE_FROM) == (0.30, 4.0, 0.95)
