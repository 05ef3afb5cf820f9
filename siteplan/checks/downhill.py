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
        The place itself and cell centres down to the grid's edge, or 60 m of way; the place alone when its ground is not
        known.

    References
    ----------
    Steepest of eight neighbours; hollows filled by always spreading to the lowest cell at hand (common practice).
    """
    grid = scene.site.grid
    row, col = (float(v[0]) for v in grid.to_index(np.array([x]), np.array([y])))
    cell = (math.floor(row + 0.5), math.floor(col + 0.5))
    way, length = [(x, y)], 0.0
    if not _known(z, cell):
        return np.array(way)
    steps = _steps(scene)
    path = [cell]
    way.append(_place(scene, cell))
    while length < PATH_FOLLOWED and not _at_edge(z, path[-1]):
        nearer = _steepest(z, path[-1], steps)
        onward = [nearer] if nearer is not None else _spill(z, path[-1])
        if not onward:
            break
        for step in onward:
            path.append(step)
            way.append(_place(scene, step))
            length += math.dist(way[-1], way[-2])
    return np.array(way)


def _known(z: Floats, cell: Cell) -> bool:
    return 0 <= cell[0] < z.shape[0] and 0 <= cell[1] < z.shape[1] and math.isfinite(z[cell])


def _at_edge(z: Floats, cell: Cell) -> bool:
    return cell[0] in {0, z.shape[0] - 1} or cell[1] in {0, z.shape[1] - 1}


def _place(scene: Scene, cell: Cell) -> tuple[float, float]:
    x, y = scene.site.grid.to_plan(np.array([float(cell[0])]), np.array([float(cell[1])]))
    return float(x[0]), float(y[0])


def _steps(scene: Scene) -> dict[Cell, float]:
    origin = _place(scene, (0, 0))
    return {move: math.dist(origin, _place(scene, move)) for move in AROUND}


def _steepest(z: Floats, cell: Cell, steps: dict[Cell, float]) -> Cell | None:
    best: tuple[float, Cell] | None = None
    for move in AROUND:
        other = (cell[0] + move[0], cell[1] + move[1])
        if not _known(z, other):
            continue
        slope = float(z[cell] - z[other]) / steps[move]
        if slope > 0 and (best is None or slope > best[0]):
            best = (slope, other)
    return None if best is None else best[1]


def _spill(z: Floats, pit: Cell) -> list[Cell]:
    """Cells from a pit to the first one below the level at which it spills, or at the grid's edge."""
    came: dict[Cell, Cell | None] = {pit: None}
    waiting: list[tuple[float, int, Cell]] = [(float(z[pit]), 0, pit)]
    level, count = -math.inf, 0
    while waiting:
        height, _, cell = heapq.heappop(waiting)
        if height < level or (_at_edge(z, cell) and cell != pit):
            back: list[Cell] = []
            at: Cell | None = cell
            while at is not None and at != pit:
                back.append(at)
                at = came[at]
            return back[::-1]
        level = max(level, height)
        for move in AROUND:
            other = (cell[0] + move[0], cell[1] + move[1])
            if _known(z, other) and other not in came:
                count += 1
                came[other] = cell
                heapq.heappush(waiting, (float(z[other]), count, other))
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
    areas += [("own sump", Point(s.x, s.y), max(BACK_AT_SUMP, cell)) for s in scene.site.sources if pumped(s.kind)]
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
