"""Site in; out: where surface water runs: filled ground, the neighbour each cell drains to, water gathered, paths.

The functions on plain arrays come first; `runoff_surface` puts them together for a site.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from siteplan.ground.cells import STEPS, cell_areas, cells_within, neighbour_steps
from siteplan.ground.fill import PLAIN_CELLS, Engine, Hole, fill, outlet_cells
from siteplan.site import Grid, Site

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Cells = NDArray[np.int64]

LEAVES = -1  # water leaves the ground here
NO_WAY_KNOWN = -2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """The ground as water sees it; arrays of shape (rows, cols), read-only.

    Attributes
    ----------
    grid : Grid
        As surveyed.
    ground, filled : ndarray [m]
        NaN where unknown and, when buildings hold water back, under them.
    down : ndarray of int
        Number (row by row) of the cell that a cell drains to; `LEAVES` or `NO_WAY_KNOWN`.
    area : ndarray [m2]
        True area of each cell.
    gathered : ndarray [m2]
        Ground that drains through each cell, itself included; NaN where unknown.
    """

    grid: Grid
    ground: Floats
    filled: Floats
    down: Cells
    area: Floats
    gathered: Floats


def flow_to(
    filled: Floats,
    *,
    outlets: Bools,
    steps: Floats | None = None,
    engine: Engine = "auto",
) -> Cells:
    """The neighbour that each cell of filled ground drains to, so that every drop of water leaves.

    Parameters
    ----------
    filled : ndarray, shape (rows, cols) [m]
        Ground without hollows, NaN where unknown.
    outlets : ndarray of bool, shape (rows, cols)
        Where water may leave (`fill.outlet_cells`); it does where no neighbour is lower.
    steps : ndarray, shape (8,) [m], optional
        Plan distance to the neighbours in the order of `cells.STEPS`; square cells of 1 m when absent.
    engine : {'auto', 'plain', 'compiled'}
        numpy, or numba on big grids; the answers are the same.

    Returns
    -------
    ndarray of int, shape (rows, cols)
        Number of the receiving cell (row by row), `LEAVES`, or `NO_WAY_KNOWN`. The steepest way down; of equal ones the
        first in the order of `cells.STEPS`. On level ground, which is what a filled hollow is, the way with the fewest
        cells to a place that drains on.

    Raises
    ------
    ValueError
        If some known cell has no way out: the ground is not filled.

    References
    ----------
    Steepest of eight neighbours ("D8"), O'Callaghan and Mark 1984 (memory). Level ground by distance to its way out:
    common practice.
    """
    if steps is None:
        steps = np.array([1.0] * 4 + [2**0.5] * 4)
    if engine == "compiled" or (engine == "auto" and filled.size > PLAIN_CELLS):
        from siteplan.ground.compiled_flow import flow_compiled

        down = flow_compiled(filled, outlets, steps)
    else:
        down = _flow_plain(filled, outlets, steps)
    if (down == _OPEN).any():
        raise ValueError("some ground has no way out; fill it first")
    return down


_OPEN = -3  # not settled yet


def _flow_plain(filled: Floats, outlets: Bools, steps: Floats) -> Cells:
    rows, cols = filled.shape
    stride = cols + 2
    level = np.full((rows + 2, stride), np.nan)
    level[1:-1, 1:-1] = filled
    known = np.isfinite(filled)
    steepest = np.zeros((rows, cols))
    way = np.full((rows, cols), _OPEN)
    for k, (dr, dc) in enumerate(STEPS):
        slope = (filled - level[1 + dr : 1 + dr + rows, 1 + dc : 1 + dc + cols]) / steps[k]
        better = slope > steepest
        steepest[better] = slope[better]
        way[better] = k
    way[outlets & (way == _OPEN)] = LEAVES
    way[~known] = NO_WAY_KNOWN
    padded = np.full((rows + 2, stride), NO_WAY_KNOWN)
    padded[1:-1, 1:-1] = way
    ways, levels = padded.ravel(), level.ravel()
    offsets = np.array([dr * stride + dc for dr, dc in STEPS])
    _settle_level(ways, levels, offsets)
    if (ways == _OPEN).any():
        # ground that walls shut in on all sides: water leaves beside the wall, as in `fill`
        still = np.flatnonzero(ways == _OPEN)
        beside = (ways[still[:, None] + offsets] == NO_WAY_KNOWN).any(axis=1)
        ways[still[beside]] = LEAVES
        _settle_level(ways, levels, offsets)
    way = ways.reshape(rows + 2, stride)[1:-1, 1:-1]
    moves = np.array([dr * cols + dc for dr, dc in STEPS])
    number = np.arange(rows * cols).reshape(rows, cols)
    return np.asarray(np.where(way >= 0, number + moves[np.maximum(way, 0)], way), dtype=np.int64)


def _settle_level(ways: Cells, levels: Floats, offsets: Cells) -> None:
    """Send level ground to its nearest way out, ring by ring from where it is settled already."""
    still = np.flatnonzero(ways == _OPEN)
    if not len(still):
        return
    near = still[:, None] + offsets
    settled = (ways[near] > NO_WAY_KNOWN) & (levels[near] == levels[still][:, None])
    front = np.unique(near[settled])
    while len(front):
        reached = []
        for k, offset in enumerate(offsets):
            target = front - offset  # the cells whose k-th neighbour is on the front
            target = target[(ways[target] == _OPEN) & (levels[target] == levels[front])]
            ways[target] = k
            reached.append(target)
        front = np.concatenate(reached)


def accumulation(down: Cells, weight: Floats, *, engine: Engine = "auto") -> Floats:
    """What gathers at each cell when every cell hands its own share and all it received to the one it drains to.

    Parameters
    ----------
    down : ndarray of int, shape (rows, cols)
        From `flow_to`.
    weight : ndarray, shape (rows, cols) [any]
        Each cell's own share: its area [m2], or the water that falls on it [m3/s].
    engine : {'auto', 'plain', 'compiled'}
        Plain Python, or numba on big grids; they agree bit for bit.

    Returns
    -------
    ndarray, shape (rows, cols) [unit of weight]
        float64; NaN where unknown. Nothing is lost: the sum over the cells where water leaves is the sum of all
        known shares.
    """
    if engine == "compiled" or (engine == "auto" and down.size > PLAIN_CELLS):
        from siteplan.ground.compiled_flow import accumulate_compiled

        return accumulate_compiled(down, np.asarray(weight, dtype=np.float64))
    flat = down.ravel()
    missing = np.bincount(flat[flat >= 0], minlength=flat.size)
    sources = np.flatnonzero((missing == 0) & (flat >= 0)).tolist()
    waiting: list[int] = missing.tolist()
    to: list[int] = flat.tolist()
    total: list[float] = np.asarray(weight, dtype=np.float64).ravel().tolist()
    for i in sources:
        at, onto = i, to[i]
        while onto >= 0:
            total[onto] += total[at]
            waiting[onto] -= 1
            if waiting[onto]:
                break
            at, onto = onto, to[onto]
    gathered = np.array(total).reshape(down.shape)
    gathered[down == NO_WAY_KNOWN] = np.nan
    return gathered


def runoff_surface(site: Site, *, hole: Hole = "wall", buildings: bool = True) -> Surface:
    """The ground of a site as water sees it: filled, with the way down from every cell.

    Parameters
    ----------
    site : Site
        As surveyed.
    hole : {'wall', 'outlet'}
        What an inner no-data hole does to water (`fill.fill`).
    buildings : bool
        True: cells whose centre lies in a building hold water back, whatever the grid says there. False: the grid's
        own elevations count under buildings too.

    Returns
    -------
    Surface
        Arrays read-only.
    """
    grid = site.grid
    wall = None
    ground = grid.z
    if buildings and site.of_kind("building"):
        wall = cells_within(grid, (feature.geometry for feature in site.of_kind("building")))
        ground = np.where(wall, np.nan, ground)
    filled = fill(ground, hole=hole, wall=wall)
    down = flow_to(filled, outlets=outlet_cells(ground, hole=hole, wall=wall), steps=neighbour_steps(grid))
    area = cell_areas(grid)
    gathered = accumulation(down, area)
    for array in (ground, filled, down, area, gathered):
        array.flags.writeable = False
    return Surface(grid=grid, ground=ground, filled=filled, down=down, area=area, gathered=gathered)


def path_down(
    site: Site, x: float, y: float, *, surface: Surface | None = None, hole: Hole = "wall"
) -> tuple[tuple[float, float], ...]:
    """Where surface water runs from a place: through hollows filled to their spill, to where it leaves the grid.

    Parameters
    ----------
    site : Site
        As surveyed.
    x, y : float
        The place in the plan's frame [m].
    surface : Surface, optional
        From `runoff_surface`, when many paths are asked for.
    hole : {'wall', 'outlet'}
        As for `runoff_surface`; without meaning when a surface is given.

    Returns
    -------
    tuple of (x, y) [m]
        The place itself, the centre of the cell it lies in, then cell after cell to one where water leaves: on the
        grid's edge, or beside no-data that swallows it. Empty when the place is off the grid, on unknown ground or
        in a building.
    """
    surface = runoff_surface(site, hole=hole) if surface is None else surface
    rows, cols = surface.down.shape
    row, col = surface.grid.to_index(np.array([float(x)]), np.array([float(y)]))
    if not (-0.5 <= row[0] <= rows - 0.5 and -0.5 <= col[0] <= cols - 0.5):
        return ()
    r, c = min(int(np.floor(row[0] + 0.5)), rows - 1), min(int(np.floor(col[0] + 0.5)), cols - 1)
    if surface.down[r, c] == NO_WAY_KNOWN:
        return ()
    cells = [r * cols + c]
    down = surface.down.ravel()
    while down[cells[-1]] >= 0:
        cells.append(int(down[cells[-1]]))
    at = np.array(cells)
    px, py = surface.grid.to_plan((at // cols).astype(float), (at % cols).astype(float))
    places = list(zip(px.tolist(), py.tolist(), strict=True))
    start = (float(x), float(y))
    return tuple(places) if places[0] == start else (start, *places)
