"""A triangulated surface in.

The same heights on a fine grid out, so that every later room works on one kind of ground.
"""

from __future__ import annotations

import numpy as np

from siteplan import units
from siteplan.site import Floats, Grid, Indices, Tin
from siteplan.survey.tin import raster_heights

_FINEST = {
    "ft": units.FOOT / 4,
    "us-ft": units.US_SURVEY_FOOT / 4,
    "m": 0.1,
}  # [m]; shots read to half a foot then fall on nodes
_MOST_NODES = 1_500_000
STEEPEST = 2.0  # a triangle on the hull steeper than this is a sliver: its plane is not carried on [-]


def tin_grid(tin: Tin, unit: str) -> tuple[Grid, float]:
    """Rasterise a surface.

    Parameters
    ----------
    tin : Tin
        The surface in the plan's frame.
    unit : str
        The site's length unit; nodes stand at round coordinates of it.

    Returns
    -------
    grid : Grid
        Its nodes are the surface to rounding inside the hull. Around the hull one ring of nodes carries the
        surface on, so that places just inside the hull are known; beyond that nothing is.
    cell : float
        Distance between nodes [m].
    """
    cell = _FINEST[unit]
    west, south = tin.xy.min(axis=0)
    east, north = tin.xy.max(axis=0)
    while (east - west) * (north - south) > _MOST_NODES * cell**2:
        cell *= 2
    left, top = (np.floor(west / cell) - 2) * cell, (np.ceil(north / cell) + 2) * cell
    rows, cols = (int(np.ceil(size / cell)) + 3 for size in (top - south, east - left))
    z = raster_heights(tin, left, top, cell, rows, cols)
    _carry_on(tin, z, left, top, cell)
    z.setflags(write=False)

    def to_index(x: Floats, y: Floats) -> tuple[Floats, Floats]:
        return (top - np.asarray(y, float)) / cell, (np.asarray(x, float) - left) / cell

    def to_plan(row: Floats, col: Floats) -> tuple[Floats, Floats]:
        return left + np.asarray(col, float) * cell, top - np.asarray(row, float) * cell

    return Grid(z=z, to_index=to_index, to_plan=to_plan, cell=cell), cell


def hull_edges(tin: Tin) -> tuple[Indices, Indices]:
    """Edges on the rim of a surface.

    Parameters
    ----------
    tin : Tin
        The surface.

    Returns
    -------
    edges : ndarray of int, shape (k, 2)
        Vertex numbers.
    owner : ndarray of int, shape (k,)
        The one triangle at each.
    """
    edges = np.concatenate([tin.triangles[:, [a, b]] for a, b in ((0, 1), (1, 2), (2, 0))])
    owner = np.tile(np.arange(len(tin.triangles)), 3)
    plain = np.sort(edges, axis=1)
    _, first, count = np.unique(plain, axis=0, return_index=True, return_counts=True)
    rim = first[count == 1]
    return edges[rim], owner[rim]


def _carry_on(tin: Tin, z: Floats, left: float, top: float, cell: float) -> None:
    """Fill the one ring of nodes around the hull from the nearest rim edge's own plane.

    Level where that is a sliver.
    """
    import shapely

    known = np.isfinite(z)
    near = np.zeros_like(known)
    padded = np.pad(known, 1)
    for dr in range(3):
        for dc in range(3):
            near |= padded[dr : dr + known.shape[0], dc : dc + known.shape[1]]
    row, col = np.nonzero(near & ~known)
    if not len(row):
        return
    x, y = left + col * cell, top - row * cell
    edges, owner = hull_edges(tin)
    lines = shapely.linestrings(tin.xy[edges])
    rim = shapely.STRtree(lines).nearest(shapely.points(x, y))
    a, b = tin.xy[edges[rim, 0]], tin.xy[edges[rim, 1]]
    along = b - a
    share = np.clip(((x - a[:, 0]) * along[:, 0] + (y - a[:, 1]) * along[:, 1]) / (along**2).sum(axis=1), 0, 1)
    foot = a + share[:, None] * along
    level = tin.z[edges[rim, 0]] * (1 - share) + tin.z[edges[rim, 1]] * share
    slope = slopes(tin)[owner[rim]]
    carried = level + slope[:, 0] * (x - foot[:, 0]) + slope[:, 1] * (y - foot[:, 1])
    # never beyond what the triangle itself shows: a gutter shot on the rim stays the lowest of its curb
    corners = tin.z[tin.triangles[owner[rim]]]
    carried = np.clip(carried, corners.min(axis=1), corners.max(axis=1))
    z[row, col] = np.where(np.hypot(slope[:, 0], slope[:, 1]) <= STEEPEST, carried, level)


def slopes(tin: Tin) -> Floats:
    """Slope of each triangle.

    Parameters
    ----------
    tin : Tin
        The surface.

    Returns
    -------
    ndarray, shape (m, 2) [-]
        Rise over run to the east and to the north.
    """
    corner, z = tin.xy[tin.triangles], tin.z[tin.triangles]
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    du, dv = z[:, 1] - z[:, 0], z[:, 2] - z[:, 0]
    twice = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    return np.column_stack([(du * v[:, 1] - dv * u[:, 1]) / twice, (dv * u[:, 0] - du * v[:, 0]) / twice])
