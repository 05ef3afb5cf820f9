"""What cells measure in plan."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import MultiPolygon, Polygon

from siteplan.ground import cells as cells_module
from siteplan.ground.cells import cell_areas, cells_within, centre
from siteplan.site import Grid


def bending_grid(rows, cols):
    """A frame whose cells grow to the south and lean to the east, as a projection of degrees does, only more so."""

    def to_plan(row, col):
        return (col + 0.1 * row) * (1 + 1e-4 * row), -row * (1 + 2e-4 * row)

    def to_index(x, y):
        pytest.fail("areas are worked out from the corners of cells alone")

    return Grid(z=np.zeros((rows, cols)), to_index=to_index, to_plan=to_plan, cell=1.0)


def test_areas_of_turned_oblong_cells(make_grid):
    assert np.allclose(cell_areas(make_grid(np.zeros((4, 6)), cell=0.5, tall=3.0, angle=1.1)), 0.75, rtol=1e-9)


def test_areas_in_a_frame_that_bends():
    grid = bending_grid(5, 4)
    areas = cell_areas(grid)
    for r, c in np.ndindex(5, 4):
        corner = [grid.to_plan(r + dr, c + dc) for dr, dc in ((-0.5, -0.5), (-0.5, 0.5), (0.5, 0.5), (0.5, -0.5))]
        assert areas[r, c] == pytest.approx(Polygon(corner).area, rel=1e-12)
    assert areas[4, 0] > areas[0, 0]


def test_interpolated_areas_of_a_big_grid_are_as_good(monkeypatch):
    grid = bending_grid(700, 300)
    exact = cell_areas(grid)
    monkeypatch.setattr(cells_module, "EXACT_CELLS", 1000)
    rough = cell_areas(grid)
    assert not np.array_equal(rough, exact)
    assert np.allclose(rough, exact, rtol=1e-5)
    assert rough.sum() == pytest.approx(exact.sum(), rel=1e-5)


def test_centre_of_a_numbered_cell(make_grid):
    grid = make_grid(np.zeros((3, 4)), cell=2.0, origin=(10.0, 20.0))
    assert centre(grid, 6) == (14.0, 18.0)


def test_cells_within_are_those_with_their_centre_inside(make_grid, cells):
    grid = make_grid(np.zeros((10, 12)), cell=0.5, angle=0.6)
    block = cells(grid, 2, 3, 6, 8)
    wanted = np.zeros((10, 12), bool)
    wanted[2:6, 3:8] = True
    assert np.array_equal(cells_within(grid, [block]), wanted)
    corner = cells(grid, -3, -3, 1, 1)  # half off the grid
    wanted[0, 0] = True
    assert np.array_equal(cells_within(grid, [MultiPolygon([block, corner])]), wanted)
    wanted[1, 4] = True
    chip = cells(grid, 1, 4, 2, 5)  # its window reaches over cells of the block
    assert np.array_equal(cells_within(grid, [block, corner, chip]), wanted)
    assert not cells_within(grid, [cells(grid, 40, 40, 50, 50), Polygon()]).any()
    assert not cells_within(grid, []).any()
