"""The surveyed grid and a place in; the way its water runs, walked cell by cell, and what it comes to first, out.

The plainest way: always to the steepest of the eight cells around; where none is lower, water rises until it finds one.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from siteplan.books.kinds import pumped
from siteplan.books.practice import BACK_AT_SUMP, GUTTER_OF_CURB, PATH_FOLLOWED, WETS_A_FOOTING
from siteplan.checks.scene import Scene
from siteplan.checks.walk import Floats

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

AROUND = ((-1, 0), (0, -1), (0, 1), (1, 0), (-1, -1), (-1, 1), (1, -1), (1, 1))

Cell = tuple[int, int]


class Come(NamedTuple):
    """What water comes to, and after how far [m]."""

    what: str  # foundation | own sump | neighbour | walk | lot line | curb | easement
    name: str
    distance: float


def standing_ground(scene: Scene) -> Floats:
    """The grid with the cells whose centre lies in a building taken out.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    ndarray, shape (rows, cols) [m]
        NaN where unknown or built on.
    """
    import shapely

    grid = scene.site.grid
    z = np.array(grid.z)
    for feature in scene.site.of_kind("building"):
        west, south, east, north = feature.geometry.bounds
        row, col = grid.to_index(np.array([west, west, east, east]), np.array([south, north, south, north]))
        r0, r1 = max(0, math.floor(row.min())), min(z.shape[0], math.ceil(row.max()) + 1)
        c0, c1 = max(0, math.floor(col.min())), min(z.shape[1], math.ceil(col.max()) + 1)
        if r0 >= r1 or c0 >= c1:
            continue
        r, c = (axis.ravel() for axis in np.mgrid[r0:r1, c0:c1])
        inside = shapely.contains_xy(feature.geometry, *grid.to_plan(r.astype(float), c.astype(float)))
        z[r[inside], c[inside]] = np.nan
    return z


def walked_down(scene: Scene, z: Floats, x: float, y: float) -> Floats:
    """The way water runs from a place.

    Parameters
    ----------
    scene : Scene
        For the grid's place in the plan.
    z : ndarray, shape (rows, cols) [m]
        From `standing_ground`.
    x, y : float
        The place [m].

    Returns
    -------
    ndarray, shape (n, 2) [m]
        The place itself and cell centres down to the grid's edge, or 60 m of way; the place alone when its ground is
        not known.

    References
    ----------
    Steepest of eight neighbours; hollows filled by always spreading to the lowest cell at hand (common practice).
    """
    grid = scene.site.grid
    row, col = (float(v[0]) for v in grid.to_index(np.array([x]), np.array([y])))
    cell = (math.floor(row + 0.5), math.floor(col + 0.5))
    way, length = [(x, y)], 0.0
    if not (0 <= cell[0] < z.shape[0] and 0 <= cell[1] < z.shape[1] and math.isfinite(z[cell])):
        return np.array(way)
    field = _field(scene, z)
    path = [(cell[0] + 1) * field.wide + cell[1] + 1]
    way.append(_place(scene, cell))
    while length < PATH_FOLLOWED and not field.edge[path[-1]]:
        nearer = _steepest(field, path[-1])
        onward = [nearer] if nearer is not None else _spill(field, path[-1])
        if not onward:
            break
        for step in onward:
            path.append(step)
            down, right = divmod(step, field.wide)
            way.append(_place(scene, (down - 1, right - 1)))
            length += math.dist(way[-1], way[-2])
    return np.array(way)


class _Field(NamedTuple):
    """The ground as a plain list, row by row, with a border of unknown cells: walked by number, that is quickest."""

    level: list[float]  # [m], NaN where unknown
    edge: list[bool]  # cells of the grid's outermost rows and columns
    wide: int
    moves: tuple[int, ...]  # to the cells around
    steps: tuple[float, ...]  # length of each move [m]


def _field(scene: Scene, z: Floats) -> _Field:
    level = np.pad(np.where(np.isfinite(z), z, np.nan), 1, constant_values=np.nan)
    edge = np.ones(level.shape, bool)
    edge[2:-2, 2:-2] = False
    wide, origin = level.shape[1], _place(scene, (0, 0))
    return _Field(
        level.ravel().tolist(),
        edge.ravel().tolist(),
        wide,
        tuple(down * wide + right for down, right in AROUND),
        tuple(math.dist(origin, _place(scene, move)) for move in AROUND),
    )


def _place(scene: Scene, cell: Cell) -> tuple[float, float]:
    x, y = scene.site.grid.to_plan(np.array([float(cell[0])]), np.array([float(cell[1])]))
    return float(x[0]), float(y[0])


def _steepest(field: _Field, cell: int) -> int | None:
    best: tuple[float, int] | None = None
    here = field.level[cell]
    for move, step in zip(field.moves, field.steps, strict=True):
        slope = (here - field.level[cell + move]) / step
        if slope > 0 and (best is None or slope > best[0]):  # never of unknown ground: that compares false
            best = (slope, cell + move)
    return None if best is None else best[1]


def _spill(field: _Field, pit: int) -> list[int]:
    """Cells from a pit to the first one below the level at which it spills, or at the grid's edge."""
    levels, edge, moves = field.level, field.edge, field.moves
    came = {pit: pit}
    waiting = [(levels[pit], 0, pit)]
    level, count = -math.inf, 0
    while waiting:
        height, _, cell = heapq.heappop(waiting)
        if height < level or (edge[cell] and cell != pit):
            back: list[int] = []
            while cell != pit:
                back.append(cell)
                cell = came[cell]
            return back[::-1]
        level = max(level, height)
        for move in moves:
            other = cell + move
            high = levels[other]
            if high == high and other not in came:  # noqa: PLR0124 - NaN is unknown ground
                count += 1
                came[other] = cell
                heapq.heappush(waiting, (high, count, other))
    return []


def comes_down_to(scene: Scene, way: Floats) -> Iterator[Come]:
    """What the water comes to, place by place.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    way : ndarray, shape (n, 2) [m]
        From `walked_down`.

    Yields
    ------
    Come
        Each thing once, in the order met.
    """
    from shapely.geometry import LineString, Point

    seen: set[str] = set()
    cell = scene.site.grid.cell
    lot = scene.areas.get("lot")
    areas: list[tuple[str, BaseGeometry, float]] = [
        ("foundation", scene.areas["building"], max(WETS_A_FOOTING, cell))
        for _ in range(int("building" in scene.areas))
    ]
    areas += [(kind, scene.areas[kind], 0.0) for kind in ("neighbour", "walk", "easement") if kind in scene.areas]
    areas += [("curb", one.geometry, max(GUTTER_OF_CURB, cell)) for one in scene.site.of_kind("curb")]
    areas += [
        ("own sump", Point((s.pit or (s.x, s.y))[:2]), max(BACK_AT_SUMP, cell))
        for s in scene.site.every_source
        if pumped(s.kind)
    ]
    on_lot = lot is not None and lot.covers(Point(*way[0]))
    length = 0.0
    for before, here in itertools.pairwise(way):
        piece = LineString([before, here])
        here_met = [
            Come(what, "", length + _until(piece, shape, reach))
            for what, shape, reach in areas
            if what not in seen and piece.distance(shape) <= reach
        ]
        if on_lot and lot is not None and "lot line" not in seen and not lot.covers(Point(*here)):
            here_met.append(Come("lot line", "", length + float(LineString([before, here]).intersection(lot).length)))
        for one in sorted(here_met, key=lambda met: (met.distance, met.what)):
            if one.what not in seen:
                seen.add(one.what)
                yield one
        length += float(piece.length)


def _until(piece: BaseGeometry, shape: BaseGeometry, reach: float) -> float:
    """How far along a step the shape is met: to a tenth of the step."""
    for tenth in range(11):
        if piece.interpolate(tenth / 10, normalized=True).distance(shape) <= reach:
            return float(piece.length) * tenth / 10
    return float(piece.length)
