"""Grid in; out: what its cells measure in plan (areas, steps between neighbours) and which lie under a polygon."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from siteplan.site import Grid

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

EXACT_CELLS = 250_000  # above this, areas are interpolated: a projection bends little over a few cells
_LATTICE = 65

# the eight neighbours in the order in which equal choices are settled: straight ones before diagonal ones
STEPS = ((-1, 0), (0, -1), (0, 1), (1, 0), (-1, -1), (-1, 1), (1, -1), (1, 1))


def cell_areas(grid: Grid) -> Floats:
    """True area of every cell in the plan's frame.

    Parameters
    ----------
    grid : Grid
        The elevation grid, `EXACT_CELLS` or more for interpolated areas.

    Returns
    -------
    ndarray, shape (rows, cols) [m2]
        From the four corners of each cell; on grids above `EXACT_CELLS` cells, worked out for 65 x 65 cells spread
        over the grid and interpolated between them.

    References
    ----------
    Area of a quadrilateral from its diagonals: half their cross product, any text on surveying.
    """
    rows, cols = grid.z.shape
    if rows * cols <= EXACT_CELLS:
        return _quads(grid, np.arange(rows, dtype=float), np.arange(cols, dtype=float))
    row, col = np.linspace(0, rows - 1, min(rows, _LATTICE)), np.linspace(0, cols - 1, min(cols, _LATTICE))
    coarse = _quads(grid, row, col)
    down = np.empty((rows, len(col)))
    for k in range(len(col)):
        down[:, k] = np.interp(np.arange(rows), row, coarse[:, k])
    areas = np.empty((rows, cols))
    for r in range(rows):
        areas[r] = np.interp(np.arange(cols), col, down[r])
    return areas


def _quads(grid: Grid, row: Floats, col: Floats) -> Floats:
    """Areas of the cells at these rows and columns, from their corners."""
    rr, cc = (a.ravel() for a in np.meshgrid(row, col, indexing="ij"))
    corners = [grid.to_plan(rr + dr, cc + dc) for dr, dc in ((-0.5, -0.5), (-0.5, 0.5), (0.5, 0.5), (0.5, -0.5))]
    (xa, ya), (xb, yb), (xc, yc), (xd, yd) = corners
    areas = np.abs((xc - xa) * (yd - yb) - (xd - xb) * (yc - ya)) / 2
    return np.asarray(areas, dtype=np.float64).reshape(len(row), len(col))


def neighbour_steps(grid: Grid) -> Floats:
    """Plan distance from a cell to its eight neighbours, in the order of `STEPS`, taken at the middle of the grid.

    Parameters
    ----------
    grid : Grid
        The elevation grid.

    Returns
    -------
    ndarray, shape (8,) [m]
        Cells need not be square.
    """
    rows, cols = grid.z.shape
    row, col = (rows - 1) / 2, (cols - 1) / 2
    offsets = np.array(STEPS, float) / 2
    x0, y0 = grid.to_plan(row - offsets[:, 0], col - offsets[:, 1])
    x1, y1 = grid.to_plan(row + offsets[:, 0], col + offsets[:, 1])
    return np.asarray(np.hypot(x1 - x0, y1 - y0), dtype=np.float64)


def centre(grid: Grid, cell: int) -> tuple[float, float]:
    """Plan place of a cell's centre, the cell given by its number (row by row).

    Parameters
    ----------
    grid : Grid
        The elevation grid.
    cell : int
        row * cols + col.

    Returns
    -------
    tuple of float
        x, y [m].
    """
    row, col = divmod(cell, grid.z.shape[1])
    x, y = grid.to_plan(np.array([float(row)]), np.array([float(col)]))
    return float(x[0]), float(y[0])


def cells_within(grid: Grid, shapes: Iterable[BaseGeometry]) -> Bools:
    """Cells whose centre lies inside any of these polygons.

    Parameters
    ----------
    grid : Grid
        The elevation grid.
    shapes : iterable of shapely geometry
        Polygons in the plan's frame [m].

    Returns
    -------
    ndarray of bool, shape (rows, cols)
        A centre exactly on an outline is outside.
    """
    import shapely

    rows, cols = grid.z.shape
    inside = np.zeros((rows, cols), bool)
    for shape in shapes:
        corners = shapely.get_coordinates(shape)
        if not len(corners):
            continue
        row, col = grid.to_index(corners[:, 0], corners[:, 1])
        # an outline's corners bound it in rows and columns; one cell more for a frame that bends
        r0, r1 = max(int(np.floor(row.min())) - 1, 0), min(int(np.ceil(row.max())) + 2, rows)
        c0, c1 = max(int(np.floor(col.min())) - 1, 0), min(int(np.ceil(col.max())) + 2, cols)
        if r0 >= r1 or c0 >= c1:
            continue
        rr, cc = np.meshgrid(np.arange(r0, r1, dtype=float), np.arange(c0, c1, dtype=float), indexing="ij")
        x, y = grid.to_plan(rr.ravel(), cc.ravel())
        shapely.prepare(shape)
        inside[r0:r1, c0:c1] |= shapely.contains_xy(shape, x, y).reshape(rr.shape)
    return inside
