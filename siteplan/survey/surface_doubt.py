"""A site and places in; how unsure the ground is there, and how far the doubts of two places go together, out.

Three parts. A shot's own error, shared by all places interpolated from it. The ground that nobody shot between shots:
it grows with the distance to the nearest shot, faster on slopes. And where a grid gives the ground, the grid's error,
whose neighbours go together, pinned down near shots. What all elevations have in common is told apart
(`Site.shared_accuracy`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from siteplan.books.practice import ROUGH_GROUND, ROUGH_SLOPES, ROUGHEST
from siteplan.site import Floats, Shot, Site, Tin
from siteplan.survey.tin import shares
from siteplan.survey.tin_grid import slopes

# distance over which errors of unshot ground and of a grid go together, 1/e [m]; common practice, no source
TOGETHER = 3.0
_NEAR = 5 * TOGETHER
_MOST_SHOTS = 300


def ground_covariance(site: Site, x: Floats, y: Floats) -> Floats:
    """Covariance of the errors of the ground at places.

    Parameters
    ----------
    site : Site
        With its shots, its accuracy and, for ground from shots alone, its triangles.
    x, y : ndarray, shape (n,) [m]
        Places.

    Returns
    -------
    ndarray, shape (n, n) [m2]
        Symmetric, no negative eigenvalue beyond rounding. Without the part that all elevations share.

    References
    ----------
    Shots: linear propagation through the shares of a triangle's corners. Unshot ground and grid: an exponential
    covariance; a grid with shots: that covariance conditioned on the shots (best linear estimate; any text on
    geostatistics, memory). The constants are common practice, no source.
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    if site.tin is not None and site.shots:
        return _of_shots(site.tin, site.shots, x, y)
    prior = site.accuracy**2 * _together(x, y, x, y)
    near = _near(site.shots, x, y)
    if not near:
        return prior
    sx, sy = (np.array([getattr(shot, axis) for shot in near]) for axis in "xy")
    own = np.array([shot.accuracy for shot in near])
    cross = site.accuracy**2 * _together(x, y, sx, sy)
    held = site.accuracy**2 * _together(sx, sy, sx, sy) + np.diag(own**2)
    left: Floats = prior - cross @ np.linalg.solve(held, cross.T)
    return (left + left.T) / 2


def surface_covariance(site: Site, x: Floats, y: Floats) -> Floats:
    """Covariance of the errors of the surface that a plan is made on, at places.

    A grid's errors are those of its cells, and between them they are interpolated as its heights are. Ground from shots
    alone has the errors of its shots, interpolated in its triangles.

    Parameters
    ----------
    site : Site
        See `ground_covariance`.
    x, y : ndarray, shape (n,) [m]
        Places.

    Returns
    -------
    ndarray, shape (n, n) [m2]
        As `ground_covariance`; between cell centres a little less than at them.

    References
    ----------
    Linear propagation through bilinear weights; any text on errors (memory).
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    if site.tin is not None and site.shots:
        return ground_covariance(site, x, y)
    cells, weights = cell_weights(site, x, y)
    row, col = np.divmod(cells, site.grid.z.shape[1])
    at = site.grid.to_plan(row.astype(float), col.astype(float))
    return np.asarray(weights @ ground_covariance(site, *at) @ weights.T, float)


def cell_weights(site: Site, x: Floats, y: Floats) -> tuple[NDArray[np.intp], Floats]:
    """Cells of a grid that heights at places are interpolated from, and their shares.

    Parameters
    ----------
    site : Site
        For its grid.
    x, y : ndarray, shape (n,) [m]
        Places; off the grid its nearest cells count.

    Returns
    -------
    tuple of ndarray
        Cell numbers, shape (m,), row by row, and shares, shape (n, m), each row's sum 1.
    """
    rows, cols = site.grid.z.shape
    row, col = site.grid.to_index(x, y)
    row, col = (np.clip(np.nan_to_num(row), 0, rows - 1), np.clip(np.nan_to_num(col), 0, cols - 1))
    r0 = np.minimum(row.astype(np.intp), max(rows - 2, 0))
    c0 = np.minimum(col.astype(np.intp), max(cols - 2, 0))
    r1, c1 = np.minimum(r0 + 1, rows - 1), np.minimum(c0 + 1, cols - 1)
    fr, fc = row - r0, col - c0
    corner = np.column_stack([r0 * cols + c0, r0 * cols + c1, r1 * cols + c0, r1 * cols + c1])
    share = np.column_stack([(1 - fr) * (1 - fc), (1 - fr) * fc, fr * (1 - fc), fr * fc])
    cells, place = np.unique(corner, return_inverse=True)
    weights = np.zeros((len(x), len(cells)))
    np.add.at(weights, (np.repeat(np.arange(len(x)), 4), place.ravel()), share.ravel())
    return cells, weights


def ground_doubt(site: Site, x: Floats, y: Floats) -> Floats:
    """One standard deviation of the ground at places.

    Parameters
    ----------
    site : Site
        See `ground_covariance`.
    x, y : ndarray, shape (n,) [m]
        Places.

    Returns
    -------
    ndarray, shape (n,) [m]
        Without the part that all elevations share.
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    parts = [np.diag(ground_covariance(site, x[k : k + 500], y[k : k + 500])) for k in range(0, len(x), 500)]
    return np.sqrt(np.maximum(np.concatenate(parts), 0.0)) if parts else np.zeros(0)


def _together(x: Floats, y: Floats, sx: Floats, sy: Floats) -> Floats:
    away = np.hypot(x[:, None] - sx[None, :], y[:, None] - sy[None, :])
    return np.exp(-away / TOGETHER)


def _near(shots: tuple[Shot, ...], x: Floats, y: Floats) -> list[Shot]:
    """Shots that have a say about any of the places, the nearest three hundred."""
    if not shots or not len(x):
        return []
    from scipy.spatial import cKDTree

    away, _ = cKDTree(np.column_stack([x, y])).query([(shot.x, shot.y) for shot in shots])
    order = np.argsort(away, kind="stable")[:_MOST_SHOTS]
    return [shots[k] for k in sorted(order[away[order] <= _NEAR].tolist())]


def _of_shots(tin: Tin, shots: tuple[Shot, ...], x: Floats, y: Floats) -> Floats:
    from scipy.spatial import cKDTree

    tree = cKDTree([(shot.x, shot.y) for shot in shots])
    away, nearest = tree.query(np.column_stack([x, y]))
    triangle, share = shares(tin, x, y)
    beyond = triangle < 0
    # beyond the hull the nearest shot alone speaks
    corner = np.where(beyond[:, None], -1, tin.triangles[np.maximum(triangle, 0)])
    _, vertex = tree.query(tin.xy)
    used = np.where(corner < 0, nearest[:, None], vertex[np.maximum(corner, 0)])
    share = np.where(beyond[:, None], np.array([1.0, 0.0, 0.0]), share)
    own = np.array([shot.accuracy for shot in shots])
    columns, inverse = np.unique(used, return_inverse=True)
    weights = np.zeros((len(x), len(columns)))
    np.add.at(weights, (np.repeat(np.arange(len(x)), 3), inverse.ravel()), share.ravel())
    steep = np.hypot(*slopes(tin).T)
    slope = np.where(beyond, 0.0, steep[np.maximum(triangle, 0)])
    rough = np.minimum(ROUGHEST, (ROUGH_GROUND + ROUGH_SLOPES * slope) * away)
    shot_part = (weights * own[columns] ** 2) @ weights.T
    covariance: Floats = shot_part + rough[:, None] * rough[None, :] * _together(x, y, x, y)
    return covariance
