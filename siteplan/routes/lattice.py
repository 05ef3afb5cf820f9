"""Where a line may run in.

The places of a square net there, their ground and the steps between them that are closed, out.

Rows run south from the north-west corner; a border of closed cells two wide saves the kernels their bounds tests. The
same places serve every pipe and every limit of one yard, so the last few are kept.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from siteplan.routes.kernels import moves
from siteplan.site import Grid, heights

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]

EVEN = 7  # decimals of what the searches start from [m]: below any survey, above the noise of large coordinates
_BORDER = 2
_BLOCK = 8  # cells on a side looked at together
_KEPT = 6  # nets


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lattice:
    """The places of a net. Arrays are flat, (rows * cols,), border included.

    They are shared, and nobody writes on them.
    """

    west: float  # of the centres of column 0, along the net's own east, from its origin
    north: float  # of the centres of row 0
    cell: float
    rows: int
    cols: int
    x: Floats
    y: Floats
    ground: Floats  # 0 where closed
    is_open: NDArray[np.uint8]
    shut: NDArray[np.int32]  # bit m: move m out of the cell touches what bars lines


_LAST: OrderedDict[tuple[Any, ...], tuple[Grid, Lattice]] = OrderedDict()


def lattice(
    grid: Grid,
    areas: tuple[BaseGeometry, BaseGeometry, BaseGeometry],
    cell: float,
    origin: tuple[float, float],
    turned: float,
    shifted: float,
) -> Lattice:
    """The places of a net.

    Parameters
    ----------
    grid : Grid
        The ground.
    areas : tuple of three Polygons
        Where places lie, what bars lines, and what no step may leave.
    cell : float
        Spacing [m].
    origin : tuple of float
        The net is centred and turned about it [m].
    turned : float
        The net's east from the frame's east, to the left [radians].
    shifted : float
        How far it lies off its usual place, both ways, as a share of its spacing.

    Returns
    -------
    Lattice
        The one kept where the same was asked for lately.
    """
    key = (id(grid), *(area.wkb for area in areas), cell, origin, turned, shifted)
    if key in _LAST:
        _LAST.move_to_end(key)
    else:
        _LAST[key] = grid, _lattice(grid, areas, cell, origin, turned, shifted)
        if len(_LAST) > _KEPT:
            _LAST.popitem(last=False)
    return _LAST[key][1]


def _lattice(
    grid: Grid,
    areas: tuple[BaseGeometry, BaseGeometry, BaseGeometry],
    cell: float,
    origin: tuple[float, float],
    turned: float,
    shifted: float,
) -> Lattice:
    import shapely
    from shapely import affinity

    reachable, barred, allowed = areas
    for area in areas:
        shapely.prepare(area)
    own = affinity.rotate(
        affinity.translate(reachable, -origin[0], -origin[1]), -turned, origin=(0, 0), use_radians=True
    )
    low_x, low_y, high_x, high_y = own.bounds
    across, down = (int((high - low) / cell + 1e-6) + 1 for low, high in ((low_x, high_x), (low_y, high_y)))
    cols, rows = across + 2 * _BORDER, down + 2 * _BORDER
    west = (low_x + high_x - (across - 1) * cell) / 2 - (_BORDER - shifted) * cell
    north = (low_y + high_y + (down - 1) * cell) / 2 + (_BORDER - shifted) * cell
    col, row = np.meshgrid(np.arange(cols), np.arange(rows))
    x, y = to_plan((west + col * cell).ravel(), (north - row * cell).ravel(), origin, turned)
    border = ((row < _BORDER) | (row >= rows - _BORDER) | (col < _BORDER) | (col >= cols - _BORDER)).ravel()
    within = shapely.intersects_xy(reachable, x, y) & ~border
    within[within] = ~shapely.intersects_xy(barred, x[within], y[within])
    ground = np.full(x.shape, np.nan)
    # rounded, so that equal ways stay equal when the whole site is moved or turned
    ground[within] = np.round(heights(grid, x[within], y[within]), EVEN)
    is_open = within & np.isfinite(ground)
    net = Lattice(
        west=west,
        north=north,
        cell=cell,
        rows=rows,
        cols=cols,
        x=x,
        y=y,
        ground=np.where(is_open, ground, 0.0),
        is_open=is_open.astype(np.uint8),
        shut=np.zeros(x.size, np.int32),
    )
    _close(net, barred, allowed)
    for field in (net.x, net.y, net.ground, net.is_open, net.shut):
        field.flags.writeable = False
    return net


def _close(net: Lattice, barred: BaseGeometry, allowed: BaseGeometry) -> None:
    """Note the moves between open cells whose straight way touches what bars lines.

    Or leaves the lot and the street.
    """
    import shapely

    nodes = np.flatnonzero(net.is_open)
    if not nodes.size:
        return
    table = moves(16, net.cols)[:, 0].tolist()
    back = [table.index(-step) for step in table]
    edges = shapely.union_all([barred.boundary, allowed.boundary])
    shapely.prepare(edges)
    # what a move touches lies within half its length of one of its ends
    near = _near(net, nodes, edges, 0.5 * math.sqrt(5) * net.cell * 1.01)
    places = np.column_stack((net.x, net.y))
    for move, step in enumerate(table):
        other = near + step
        both = net.is_open[other] > 0
        runs = shapely.linestrings(np.stack((places[near[both]], places[other[both]]), axis=1))
        bad = shapely.intersects(barred, runs) | ~shapely.covers(allowed, runs)
        net.shut[near[both][bad]] |= 1 << move
        net.shut[other[both][bad]] |= 1 << back[move]


def _near(net: Lattice, nodes: NDArray[np.intp], edges: BaseGeometry, radius: float) -> NDArray[np.intp]:
    """Which cells lie within a radius of some edges: blocks of cells first, then each cell of those that are near."""
    import shapely

    row, col = np.divmod(nodes, net.cols)
    across = -(-net.cols // _BLOCK)
    block = (row // _BLOCK) * across + col // _BLOCK
    blocks, first = np.unique(block, return_index=True)
    far = radius + math.sqrt(2) * _BLOCK * net.cell
    some = nodes[first]  # any one of each block
    close = blocks[shapely.dwithin(edges, shapely.points(net.x[some], net.y[some]), far)]
    some = nodes[np.isin(block, close)]
    near: NDArray[np.intp] = some[shapely.dwithin(edges, shapely.points(net.x[some], net.y[some]), radius)]
    return near


def to_plan(east: Floats, north: Floats, origin: tuple[float, float], turned: float) -> tuple[Floats, Floats]:
    """Coordinates in the plan's frame of places in a net's own.

    Parameters
    ----------
    east, north : ndarray [m]
        From the origin, along the net's own axes.
    origin : tuple of float
        [m]
    turned : float
        The net's east from the frame's east, to the left [radians].

    Returns
    -------
    tuple of ndarray [m]
        Same shape.
    """
    cos, sin = math.cos(turned), math.sin(turned)
    return origin[0] + cos * east - sin * north, origin[1] + sin * east + cos * north
