"""The checks' own reading of the ground, against planes, against the survey's reading, and at its edges."""

from __future__ import annotations

import numpy as np
import pytest

from siteplan.checks.sampling import ground_at, lowest_near, nearest_known_ground
from siteplan.site import Grid, heights


def _grid(z, turn: float = 0.0) -> Grid:
    """Cells of 0.7 m, the first centre at (100, 200), turned by an angle."""
    z = np.asarray(z, float)
    c, s, cell = np.cos(turn), np.sin(turn), 0.7

    def to_index(x, y):
        dx, dy = np.asarray(x) - 100.0, np.asarray(y) - 200.0
        return (s * dx - c * dy) / cell, (c * dx + s * dy) / cell

    def to_plan(row, col):
        return 100.0 + cell * (c * col + s * row), 200.0 + cell * (s * col - c * row)

    return Grid(z=z, to_index=to_index, to_plan=to_plan, cell=cell)


@pytest.mark.parametrize("turn", [0.0, 0.3, 2.0])
def test_a_plane_is_read_back(turn):
    grid = _grid(np.zeros((9, 12)), turn)
    row, col = np.mgrid[0:9, 0:12].astype(float)
    x, y = grid.to_plan(row, col)
    grid = _grid(5 + 0.03 * x - 0.02 * y, turn)
    rng = np.random.default_rng(1)
    r, c = rng.uniform(0, 8, 200), rng.uniform(0, 11, 200)
    x, y = grid.to_plan(r, c)
    assert ground_at(grid, x, y) == pytest.approx(5 + 0.03 * x - 0.02 * y, abs=1e-9)


def test_agrees_with_the_survey_on_rough_ground_with_gaps():
    rng = np.random.default_rng(2)
    z = rng.normal(50, 1, (20, 30))
    z[rng.random(z.shape) < 0.1] = np.nan
    grid = _grid(z, 0.4)
    x, y = grid.to_plan(rng.uniform(-2, 22, 3000), rng.uniform(-2, 32, 3000))
    mine, theirs = ground_at(grid, x, y), heights(grid, x, y)
    assert (np.isnan(mine) == np.isnan(theirs)).all()
    assert np.isfinite(mine).sum() > 500
    known = np.isfinite(mine)
    assert mine[known] == pytest.approx(theirs[known], abs=1e-9)


def test_a_gap_has_no_say_on_its_neighbours_centre_line():
    z = np.array([[1.0, 2.0, np.nan], [1.0, 2.0, np.nan], [1.0, 2.0, 3.0]])
    grid = _grid(z)
    row, col = np.array([0.5, 0.5, 2.0, 1.9]), np.array([1.0, 1.01, 1.5, 1.5])
    found = ground_at(grid, *grid.to_plan(row, col))
    assert found[0] == pytest.approx(2.0)
    assert np.isnan(found[1])
    assert found[2] == pytest.approx(2.5)
    assert np.isnan(found[3])


def test_half_a_cell_beyond_the_outer_centres_is_still_the_grid():
    grid = _grid([[1.0, 2.0], [3.0, 4.0]])
    row, col = np.array([-0.49, -0.51, 1.49, 0.0]), np.array([0.0, 0.0, 1.0, 1.6])
    found = ground_at(grid, *grid.to_plan(row, col))
    assert found[0] == pytest.approx(1.0)
    assert found[2] == pytest.approx(4.0)
    assert np.isnan(found[[1, 3]]).all()


def test_nearest_known_and_lowest():
    z = np.full((11, 11), 7.0)
    z[:, 5] = 6.5
    z[0:4, :] = np.nan
    grid = _grid(z)
    x, y = (float(v) for v in grid.to_plan(1.0, 8.0))
    assert nearest_known_ground(grid, x, y, 0.5) != nearest_known_ground(grid, x, y, 0.5)
    assert nearest_known_ground(grid, x, y, 2.5) == pytest.approx(7.0, abs=0.01)
    x, y = (float(v) for v in grid.to_plan(7.0, 5.5))
    assert lowest_near(grid, x, y, 0.6) == pytest.approx(6.5, abs=1e-9)
    x, y = (float(v) for v in grid.to_plan(7.0, 8.0))
    assert lowest_near(grid, x, y, 0.6) == pytest.approx(7.0)
