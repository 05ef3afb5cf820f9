"""Elevations in; out: the same with every hollow filled to the level at which it spills.

Two engines under one contract, with no line in common, so that each proves the other: plain Python below
`PLAIN_CELLS`, a compiled graph of basins (`compiled_fill`) above.
"""

from __future__ import annotations

import heapq
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Hole = Literal["wall", "outlet"]
Engine = Literal["auto", "plain", "compiled"]

PLAIN_CELLS = 400_000  # measured, docs/ground.md: below it plain Python ends before numba has been loaded


def fill(
    z: ArrayLike, *, hole: Hole = "wall", wall: NDArray[np.bool_] | None = None, engine: Engine = "auto"
) -> Floats:
    """Every hollow filled exactly to the level at which it spills; nothing else is touched.

    A cell's filled elevation is the lowest level at which water standing there can leave, over the eight neighbours:
    the least, over all ways off the ground, of the highest cell on the way.

    Parameters
    ----------
    z : array_like, shape (rows, cols) [m]
        Ground, integer or float, NaN where unknown. Not changed.
    hole : {'wall', 'outlet'}
        What an inner no-data hole does to water: holds it back, or swallows it. No-data that is connected with the
        grid's edge (over the eight neighbours) is outside, hence an outlet, and so is the grid's edge itself.
    wall : ndarray of bool, shape (rows, cols), optional
        Cells that hold water back whatever `hole` says, and wherever they lie: buildings.
    engine : {'auto', 'plain', 'compiled'}
        By the size of the grid, or one of the two. They agree bit for bit.

    Returns
    -------
    ndarray, shape (rows, cols) [m]
        float64, at or above the ground; NaN where unknown and at walls. Ground that walls shut in on all sides has
        no level at which it spills: there the cells beside the wall count as outlets.

    Raises
    ------
    ValueError
        If z is not two-dimensional, holds an infinity, or wall has another shape; or an option is not known.

    References
    ----------
    Definition: any text on depression filling. Plain engine: priority flood with a plain stack for raised cells
    (memory). Compiled engine: see `siteplan.ground.compiled_fill`.

    Examples
    --------
    >>> fill([[5, 5, 5, 5], [5, 1, 2, 5], [5, 5, 3, 5]])
    array([[5., 5., 5., 5.],
           [5., 3., 3., 5.],
           [5., 5., 3., 5.]])
    """
    ground = np.ascontiguousarray(z, dtype=np.float64)
    if ground.ndim != 2:
        raise ValueError(f"the ground has {ground.ndim} dimensions; it needs rows and columns")
    if np.isinf(ground).any():
        raise ValueError("the ground holds an infinite elevation; unknown ground is NaN")
    if wall is not None and wall.shape != ground.shape:
        raise ValueError(f"the wall has shape {wall.shape}, the ground {ground.shape}")
    if hole not in {"wall", "outlet"}:
        raise ValueError(f"hole is {hole!r}; 'wall' or 'outlet'")
    if engine not in {"auto", "plain", "compiled"}:
        raise ValueError(f"engine is {engine!r}; 'auto', 'plain' or 'compiled'")
    if engine == "compiled" or (engine == "auto" and ground.size > PLAIN_CELLS):
        from siteplan.ground.compiled_fill import fill_compiled

        return fill_compiled(ground, hole == "outlet", wall)
    return _flood(ground, hole, wall)


def outlet_cells(z: Floats, *, hole: Hole = "wall", wall: NDArray[np.bool_] | None = None) -> NDArray[np.bool_]:
    """Known cells where water leaves the ground: on the grid's edge, and beside no-data that counts as outside.

    Parameters
    ----------
    z : ndarray, shape (rows, cols) [m]
        Ground, NaN where unknown.
    hole, wall
        As for `fill`.

    Returns
    -------
    ndarray of bool, shape (rows, cols)
        The extra outlets of ground shut in by walls are not among them.
    """
    rows, cols = z.shape
    known = np.isfinite(z) if wall is None else np.isfinite(z) & ~wall
    outside = np.ones((rows + 2, cols + 2), bool)
    middle = outside[1:-1, 1:-1]
    middle[:] = np.isnan(z) if wall is None else np.isnan(z) & ~wall
    if hole == "wall" and middle.any():
        middle[:] = _joined_to_edge(middle)
    beside = np.zeros((rows, cols), bool)
    for r in range(3):
        for c in range(3):
            beside |= outside[r : r + rows, c : c + cols]
    return np.asarray(known & beside, dtype=np.bool_)


def _joined_to_edge(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The part of a mask that hangs together with the grid's edge over the eight neighbours."""
    rows, cols = mask.shape
    stride = cols + 2
    free = bytearray((rows + 2) * stride)
    field = np.frombuffer(free, np.uint8).reshape(rows + 2, stride)
    field[1:-1, 1:-1] = mask
    edge = mask.copy()
    edge[1:-1, 1:-1] = False
    places = np.argwhere(edge)
    stack: list[int] = ((places[:, 0] + 1) * stride + places[:, 1] + 1).tolist()
    for i in stack:
        free[i] = 2
    around = (-stride - 1, -stride, -stride + 1, -1, 1, stride - 1, stride, stride + 1)
    while stack:
        i = stack.pop()
        for step in around:
            if free[i + step] == 1:
                free[i + step] = 2
                stack.append(i + step)
    return np.asarray(field[1:-1, 1:-1] == 2, dtype=np.bool_)


def _flood(z: Floats, hole: Hole, wall: NDArray[np.bool_] | None) -> Floats:
    """Fill by letting the sea rise from the outlets inward, lowest cell first."""
    rows, cols = z.shape
    stride = cols + 2
    blocked = np.isnan(z) if wall is None else np.isnan(z) | wall
    padded = np.full((rows + 2, stride), np.nan)
    padded[1:-1, 1:-1] = np.where(blocked, np.nan, z + 0.0)  # -0.0 becomes 0.0
    done = bytearray(np.isnan(padded).astype(np.uint8).tobytes())
    level: list[float] = padded.ravel().tolist()
    around = (-stride - 1, -stride, -stride + 1, -1, 1, stride - 1, stride, stride + 1)
    seeds = np.zeros((rows + 2, stride), bool)
    seeds[1:-1, 1:-1] = outlet_cells(z, hole=hole, wall=wall)
    _rise(level, done, around, np.flatnonzero(seeds).tolist())
    if 0 in done:  # ground shut in by walls: its rim is where water leaves
        unknown = np.isnan(padded).ravel()
        shut_in = np.flatnonzero(np.frombuffer(bytes(done), np.uint8) == 0)
        beside = unknown[shut_in[:, None] + np.array(around)].any(axis=1)
        _rise(level, done, around, shut_in[beside].tolist())
    return np.array(level).reshape(rows + 2, stride)[1:-1, 1:-1].copy()


def _rise(level: list[float], done: bytearray, around: tuple[int, ...], seeds: list[int]) -> None:
    """Raise what is not done, from the seeds inward."""
    heap = []
    for i in seeds:
        done[i] = 1
        heap.append((level[i], i))
    heapq.heapify(heap)
    push, pop = heapq.heappush, heapq.heappop
    while heap:
        high, i = pop(heap)
        flooded = [i]
        while flooded:
            i = flooded.pop()
            for step in around:
                j = i + step
                if done[j]:
                    continue
                done[j] = 1
                own = level[j]
                if own <= high:
                    level[j] = high
                    flooded.append(j)
                else:
                    push(heap, (own, j))
