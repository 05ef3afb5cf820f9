"""Outlines of sets of cells: valid, turned the right way, covering exactly the cells."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import unary_union
from shapely.geometry import Polygon

from siteplan.ground.hollows import label_groups
from siteplan.ground.outline import PINCH, outline


def test_one_cell(make_grid):
    grid = make_grid(np.zeros((3, 3)), cell=2.0, origin=(0.0, 0.0))
    (ring,) = outline(grid, np.array([1]), np.array([2]))
    assert ring == ((5.0, -1.0), (3.0, -1.0), (3.0, -3.0), (5.0, -3.0), (5.0, -1.0))


def test_a_frame_has_a_hole_turned_the_other_way(make_grid):
    grid = make_grid(np.zeros((5, 5)))
    row, col = np.nonzero(np.pad(np.zeros((1, 1)), 1, constant_values=1))
    outer, hole = outline(grid, row, col)
    assert Polygon(outer).area == pytest.approx(9)
    assert Polygon(hole).area == pytest.approx(1)
    assert Polygon(outer).exterior.is_ccw
    assert not Polygon(hole).exterior.is_ccw


@pytest.mark.parametrize("corner", [((1, 1), (2, 2)), ((1, 2), (2, 1))])
def test_cells_that_touch_at_a_corner_make_one_valid_polygon(make_grid, corner):
    grid = make_grid(np.zeros((4, 4)), cell=3.0, angle=0.2)
    rings = outline(grid, np.array([c[0] for c in corner]), np.array([c[1] for c in corner]))
    assert len(rings) == 1
    shape = Polygon(rings[0])
    assert shape.is_valid
    assert shape.area == pytest.approx(9 * (2 + PINCH**2))


def test_any_group_of_cells(make_grid):
    rng = np.random.default_rng(0)
    holes = pinches = 0
    for number in range(120):
        held = rng.random(rng.integers(1, 11, 2)) < (0.3, 0.5, 0.7)[number % 3]
        grid = make_grid(np.zeros(held.shape), cell=0.5, angle=number / 7)
        labels, count = label_groups(held)
        for label in range(1, count + 1):
            row, col = np.nonzero(labels == label)
            rings = outline(grid, row, col)
            assert all(ring[0] == ring[-1] for ring in rings)
            shape = Polygon(rings[0], rings[1:])
            assert shape.is_valid
            assert shape.exterior.is_ccw
            assert not any(ring.is_ccw for ring in shape.interiors)
            corners = [
                grid.to_plan(row + dr, col + dc) for dr, dc in ((-0.5, -0.5), (-0.5, 0.5), (0.5, 0.5), (0.5, -0.5))
            ]
            squares = [Polygon([(x[k], y[k]) for x, y in corners]) for k in range(len(row))]
            assert unary_union(squares).difference(shape).area < 1e-9
            extra = (shape.area - 0.25 * len(row)) / (0.25 * PINCH**2)
            assert extra == pytest.approx(round(extra), abs=1e-5)
            holes += len(rings) - 1
            pinches += round(extra)
    assert holes > 50
    assert pinches > 200


def test_same_cells_in_another_order_same_rings(make_grid):
    grid = make_grid(np.zeros((4, 4)))
    row, col = np.array([0, 0, 1, 2, 2, 2]), np.array([0, 1, 2, 1, 2, 3])
    assert outline(grid, row, col) == outline(grid, row[::-1], col[::-1])
