"""Grid and places in; ground out, in the plainest way: along the row, then across.

Written apart from the survey's own interpolation, so that a slip in one shows against the other.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from siteplan.site import Grid

Floats = NDArray[np.float64]

NEAR_CENTRE = 1e-9  # cells; a place this near a cell's centre line lies on it


def ground_at(grid: Grid, x: Floats, y: Floats) -> Floats:
    """Ground elevation at places, straight between the four cell centres around each.

    Parameters
    ----------
    grid : Grid
        The elevation grid as surveyed.
    x, y : ndarray, shape (n,) [m]
        Places in the plan's frame.

    Returns
    -------
    ndarray, shape (n,) [m]
        NaN off the grid and where a centre that has a share in the answer is not known.

    References
    ----------
    Bilinear interpolation as two straight steps, along the row and then across; from memory.
    """
    row, col = grid.to_index(np.asarray(x, np.float64), np.asarray(y, np.float64))
    rows, cols = grid.z.shape
    on_grid = (row >= -0.5) & (row <= rows - 0.5) & (col >= -0.5) & (col <= cols - 0.5)
    upper, lower, down = _neighbours(np.where(on_grid, row, 0.0), rows)
    left, right, along = _neighbours(np.where(on_grid, col, 0.0), cols)
    first = _between(grid.z[upper, left], grid.z[upper, right], along)
    second = _between(grid.z[lower, left], grid.z[lower, right], along)
    z: Floats = np.where(on_grid, _between(first, second, down), np.nan)
    return z


def nearest_known_ground(grid: Grid, x: float, y: float, within: float) -> float:
    """Ground at a place, or the nearest known ground to it.

    Parameters
    ----------
    grid : Grid
        The elevation grid as surveyed.
    x, y : float
        A place in the plan's frame [m].
    within : float
        How far to look when the ground at the place itself is not known [m].

    Returns
    -------
    float
        Elevation [m]; NaN when nothing is known that near.
    """
    for radius in np.arange(0.0, within + 0.05, 0.1):
        around = ground_at(grid, *_ring(x, y, float(radius)))
        if np.isfinite(around).any():
            return float(np.nanmean(around))
    return float("nan")


def lowest_near(grid: Grid, x: float, y: float, within: float) -> float:
    """The lowest known ground inside a circle.

    Parameters
    ----------
    grid : Grid
        The elevation grid as surveyed.
    x, y : float
        Centre of the circle in the plan's frame [m].
    within : float
        Its radius [m].

    Returns
    -------
    float
        Elevation [m]; NaN when no ground in it is known.
    """
    rings = [_ring(x, y, float(radius)) for radius in np.linspace(0.0, within, 13)]
    around = ground_at(grid, np.concatenate([ring[0] for ring in rings]), np.concatenate([ring[1] for ring in rings]))
    return float(np.nanmin(around)) if np.isfinite(around).any() else float("nan")


def _ring(x: float, y: float, radius: float) -> tuple[Floats, Floats]:
    if radius == 0.0:
        return np.array([x]), np.array([y])
    turn = np.arange(72) * (2 * np.pi / 72)
    return x + radius * np.cos(turn), y + radius * np.sin(turn)


def _neighbours(place: Floats, count: int) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """Indices before and behind a place, and the share of the way between them."""
    place = np.clip(place, 0.0, count - 1.0)
    whole = np.round(place)
    place = np.where(np.abs(place - whole) < NEAR_CENTRE, whole, place)
    before = np.floor(place)
    return before.astype(np.intp), np.ceil(place).astype(np.intp), place - before


def _between(start: Floats, end: Floats, share: Floats) -> Floats:
    return start + (end - start) * share
