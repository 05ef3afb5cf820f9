"""Shots and breaklines in; a triangulated surface, its heights anywhere and on a raster out.

Nothing is known beyond the hull.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from siteplan.site import Floats, Indices, Tin

if TYPE_CHECKING:
    from collections.abc import Sequence

_SAME_PLACE = 1e-4  # shots nearer than this in plan are one vertex [m]
_INSIDE = 1e-9  # a place this far outside a triangle, in shares of it, lies on its edge [-]


class CrossingBreaklines(ValueError):  # noqa: N818 -- named for what it is
    """Two breaklines cross between their shots: one of them would have to be cut.

    `pairs` are their places in the list given.
    """

    def __init__(self, pairs: Sequence[tuple[int, int]]) -> None:
        super().__init__(f"breaklines cross: {list(pairs)[:3]}")
        self.pairs = tuple(pairs)


def one_a_place(xy: Floats) -> tuple[Indices, Indices]:
    """Vertices of which no two share a place.

    Parameters
    ----------
    xy : ndarray, shape (n, 2) [m]
        Places.

    Returns
    -------
    first : ndarray of int, shape (k,)
        The first of each place, in the order given.
    belongs : ndarray of int, shape (n,)
        Which of the k each place is.
    """
    from scipy.spatial import cKDTree

    xy = np.asarray(xy, float)
    # thousands on one and the same place would make millions of pairs
    alone, lead, same = np.unique(xy, axis=0, return_index=True, return_inverse=True)
    pairs = np.sort(lead[cKDTree(alone).query_pairs(_SAME_PLACE, output_type="ndarray")], axis=1)
    owner = np.arange(len(xy))
    for a, b in sorted(map(tuple, pairs.tolist())):
        owner[b] = min(owner[b], owner[a])
    first, belongs = np.unique(owner[lead[same.ravel()]], return_inverse=True)
    return first, belongs.ravel()


def tin_of(xy: Floats, z: Floats, breaklines: Sequence[tuple[int, int]] = ()) -> Tin:
    """Triangulate shots so that every breakline is an edge.

    Parameters
    ----------
    xy : ndarray, shape (n, 2) [m]
        Places of the shots, no two the same (see `one_a_place`).
    z : ndarray, shape (n,) [m]
        Their heights.
    breaklines : sequence of (int, int)
        Pairs of shots joined by an edge; a shot that lies on one splits it.

    Returns
    -------
    Tin
        The constrained Delaunay triangulation of the convex hull.

    Raises
    ------
    ValueError
        If there are fewer than three shots, or all lie on one line.
    CrossingBreaklines
        If two breaklines cross between their shots.

    References
    ----------
    Constrained Delaunay triangulation, library pythoncdt (docs/dependencies.md). Valid for: ground that is a
    height over plan. Not for: overhangs and vertical faces, which need two shots a little apart in plan.
    """
    import pythoncdt

    xy, z = np.ascontiguousarray(xy, float), np.asarray(z, float)
    middle = xy.mean(axis=0) if len(xy) else np.zeros(2)
    place = np.ascontiguousarray(xy - middle)  # coordinates of millions would cost the predicates their last digits
    if len(xy) < 3 or _width(place) < 10 * _SAME_PLACE:
        raise ValueError("fewer than three shots, or all on one line")
    wanted = np.unique(
        np.sort(np.asarray([pair for pair in breaklines if pair[0] != pair[1]], np.intp).reshape(-1, 2), axis=1), axis=0
    )
    crossing = _crossing(place, wanted)
    if crossing:
        given = [tuple(sorted(pair)) for pair in breaklines]
        raise CrossingBreaklines(
            [(given.index(tuple(wanted[a].tolist())), given.index(tuple(wanted[b].tolist()))) for a, b in crossing]
        )
    work: Any = pythoncdt.Triangulation(
        pythoncdt.VertexInsertionOrder.AUTO, pythoncdt.IntersectingConstraintEdges.NOT_ALLOWED, 0.0
    )
    work.insert_vertices(place)
    if len(wanted):
        work.insert_edges(wanted.astype(np.uint32))
    fixed = np.asarray(sorted((edge.v1, edge.v2) for edge in work.fixed_edges_iter()), np.intp).reshape(-1, 2) - (
        3 if len(wanted) else 0
    )
    work.erase_super_triangle()
    triangles = np.asarray(work.triangles_array()["vertices"], np.intp)
    a, b, c = (place[triangles[:, k]] for k in range(3))
    twice = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    triangles = _ordered(triangles[twice > 0])
    for array in (xy, z, triangles, fixed):
        array.setflags(write=False)
    return Tin(xy=xy, z=z, triangles=triangles, breaklines=fixed)


def _width(place: Floats) -> float:
    """How far the shots stray from their best straight line, the most of them [m]."""
    _, _, axes = np.linalg.svd(place - place.mean(axis=0), full_matrices=False)
    return float(np.abs((place - place.mean(axis=0)) @ axes[1]).max()) if len(axes) > 1 else 0.0


def _ordered(triangles: Indices) -> Indices:
    """Each turned so that its least vertex leads, then sorted: one surface has one list."""
    a, b, c = triangles.T
    second, third = (b < a) & (b < c), (c < a) & (c < b)
    turned = np.stack(
        [
            np.where(second, b, np.where(third, c, a)),
            np.where(second, c, np.where(third, a, b)),
            np.where(second, a, np.where(third, b, c)),
        ],
        axis=1,
    )
    # an edge bounds one triangle on its left: its two vertices tell triangles apart
    key = turned[:, 0] * (int(triangles.max(initial=0)) + 1) + turned[:, 1]
    return np.ascontiguousarray(turned[np.argsort(key)])


def _crossing(place: Floats, edges: Indices) -> list[tuple[int, int]]:
    """Pairs of breaklines that cross inside both."""
    if len(edges) < 2:
        return []
    import shapely

    lines = shapely.linestrings(place[edges])
    a, b = shapely.STRtree(lines).query(lines, predicate="crosses")
    return [(int(i), int(j)) for i, j in sorted(zip(a.tolist(), b.tolist(), strict=True)) if i < j]


def shares(tin: Tin, x: Floats, y: Floats) -> tuple[Indices, Floats]:
    """The triangle over each place and the shares of its three vertices.

    Parameters
    ----------
    tin : Tin
        The surface.
    x, y : ndarray, shape (n,) [m]
        Places.

    Returns
    -------
    triangle : ndarray of int, shape (n,)
        Number of the triangle; -1 beyond the hull.
    share : ndarray, shape (n, 3) [-]
        Adding up to 1; NaN beyond the hull.

    References
    ----------
    Barycentric coordinates; any text on computer graphics (memory).
    """
    import shapely

    x, y = np.asarray(x, float), np.asarray(y, float)
    found = np.full(len(x), -1, np.intp)
    share = np.full((len(x), 3), np.nan)
    corners = tin.xy[tin.triangles]
    boxes = shapely.box(*corners.min(axis=1).T, *corners.max(axis=1).T)
    reach = 1e-9 * max(1.0, float(np.ptp(tin.xy, axis=0).max()))
    places = shapely.box(x - reach, y - reach, x + reach, y + reach)
    at, over = shapely.STRtree(boxes).query(places)
    a, b, c = (corners[over, k] for k in range(3))
    one, two = _shares(a, b, c, x[at], y[at])
    least = np.minimum(np.minimum(one, two), 1 - one - two)
    good = least >= -_INSIDE
    at, over, one, two, least = at[good], over[good], one[good], two[good], least[good]
    rank = np.lexsort((over, -np.round(least, 12), at))
    at, over, one, two = at[rank], over[rank], one[rank], two[rank]
    lead = np.flatnonzero(np.diff(at, prepend=-1))
    found[at[lead]] = over[lead]
    one, two = np.clip(one[lead], 0, 1), np.clip(two[lead], 0, 1)
    share[at[lead]] = np.column_stack([1 - one - two, one, two])
    return found, share


def _shares(a: Floats, b: Floats, c: Floats, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Shares of the second and third corner."""
    twice = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    px, py = x - a[:, 0], y - a[:, 1]
    two = (b[:, 0] - a[:, 0]) * py - (b[:, 1] - a[:, 1]) * px
    one = px * (c[:, 1] - a[:, 1]) - py * (c[:, 0] - a[:, 0])
    return one / twice, two / twice


def raster_heights(tin: Tin, west: float, north: float, cell: float, rows: int, cols: int) -> Floats:
    """Heights of the surface on the nodes of a raster, by scanning its triangles.

    Parameters
    ----------
    tin : Tin
        The surface.
    west, north : float
        Place of node (0, 0) [m].
    cell : float
        Distance between nodes [m].
    rows, cols : int
        Size.

    Returns
    -------
    ndarray, shape (rows, cols) [m]
        Row 0 north; NaN beyond the hull.

    References
    ----------
    Scan conversion of triangles, row by row; any text on computer graphics (memory).
    """
    from siteplan.survey.tin_scan import scan_triangles

    corners = tin.xy[tin.triangles]
    col, row = (corners[..., 0] - west) / cell, (north - corners[..., 1]) / cell
    z: Floats = scan_triangles(col, row, tin.z[tin.triangles], rows, cols).reshape(rows, cols)
    return z
