"""Site in; polygons out.

Ground that is no ground to lay a line in, round retaining walls and on faces known from heights alone.

Between the heights at the top and at the toe of a wall the grid draws a slope that is not there.
"""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from siteplan.site import Site
from siteplan.units import FOOT

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_FACE = 1 * FOOT  # height from which steep ground counts as a face; a curb is lower
_REACH = 0.75  # m each way within which a face's height is looked for
ROUND = 5.0  # m round the lot that is looked at
_MOST = 40_000  # squares of the grid made into polygons


def across_walls(site: Site, walls: BaseGeometry, lot: BaseGeometry) -> BaseGeometry:
    """Squares of the ground's grid that a wall runs through: heights in them are drawn from one side to the other.

    Parameters
    ----------
    site : Site
        For its grid.
    walls : geometry
        Retaining walls, as lines [m].
    lot : geometry
        Only what lies within 5 m of it is looked at.

    Returns
    -------
    geometry
        Union of the squares between four grid centres; empty without walls.
    """
    import shapely
    from shapely.geometry import Polygon

    near = shapely.intersection(walls, lot.buffer(ROUND))
    if near.is_empty:
        return Polygon()
    places = shapely.get_coordinates(shapely.segmentize(near, 0.5 * site.grid.cell))
    row, col = (np.floor(index).astype(int) for index in site.grid.to_index(places[:, 0], places[:, 1]))
    around = [(row + r, col + c) for r, c in itertools.product((-1, 0, 1), repeat=2)]
    rows, cols = site.grid.z.shape
    corners = np.unique(np.concatenate([np.column_stack(pair) for pair in around]), axis=0)
    inside = (corners >= 0).all(axis=1) & (corners[:, 0] < rows - 1) & (corners[:, 1] < cols - 1)
    squares = _squares(site, corners[inside])
    return shapely.union_all(squares[shapely.intersects(squares, near)])


def steep_faces(site: Site, lot: BaseGeometry, steepest: float | None) -> BaseGeometry:
    """Ground steeper than a bank stands, over the height of a face.

    Parameters
    ----------
    site : Site
        For its grid.
    lot : geometry
        Only what lies within 5 m of it is looked at.
    steepest : float or None
        Slope [-]; None: not known, no ground counts.

    Returns
    -------
    geometry
        Union of squares between four grid centres.
    """
    import shapely
    from shapely.geometry import Polygon

    z, cell = site.grid.z, site.grid.cell
    if steepest is None or min(z.shape) < 2:
        return Polygon()
    west, south, east, north = lot.buffer(ROUND).bounds
    row, col = site.grid.to_index(np.array([west, west, east, east]), np.array([south, north, south, north]))
    r0, r1 = max(0, math.floor(row.min())), min(z.shape[0], math.ceil(row.max()) + 2)
    c0, c1 = max(0, math.floor(col.min())), min(z.shape[1], math.ceil(col.max()) + 2)
    here = z[r0:r1, c0:c1]
    if min(here.shape) < 2:
        return Polygon()
    a, b, c, d = here[:-1, :-1], here[:-1, 1:], here[1:, :-1], here[1:, 1:]
    east_rise, north_rise = (b + d - a - c) / (2 * cell), (c + d - a - b) / (2 * cell)
    steep = np.hypot(east_rise, north_rise) > steepest
    if not steep.any():
        return Polygon()
    from scipy.ndimage import maximum_filter, minimum_filter  # few lots need it, and it is slow to come

    wide = 2 * math.ceil(_REACH / cell) + 1
    known = np.isfinite(here)  # what is not known is neither high nor low
    high = maximum_filter(np.where(known, here, -np.inf), wide) - minimum_filter(np.where(known, here, np.inf), wide)
    found = np.argwhere(steep & (high[:-1, :-1] >= _FACE))
    if not len(found) or len(found) > _MOST:
        return Polygon()
    return shapely.union_all(_squares(site, found + np.array([r0, c0])))


def _squares(site: Site, corners: NDArray[np.intp]) -> NDArray[np.object_]:
    import shapely

    at = np.asarray(corners, np.float64)
    ring = [(0, 0), (0, 1), (1, 1), (1, 0)]
    places = [np.column_stack(site.grid.to_plan(at[:, 0] + r, at[:, 1] + c)) for r, c in ring]
    made: NDArray[np.object_] = shapely.polygons(np.stack(places, axis=1))
    return made
