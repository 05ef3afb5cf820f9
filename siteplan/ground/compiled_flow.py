"""Filled ground in; out: the way down and the water gathered, compiled with numba. For grids too big for plain Python.

Imported only when a grid is big. Same answers as `runoff` and `hollows`, which say what the functions mean.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from siteplan.compiling import compiled
from siteplan.ground.cells import STEPS

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Cells = NDArray[np.int64]
Labels = NDArray[np.int32]

_LEAVES, _UNKNOWN, _OPEN = -1, -2, -3
_ROW = np.array([row for row, _ in STEPS])
_COL = np.array([col for _, col in STEPS])


def flow_compiled(filled: Floats, outlets: Bools, steps: Floats) -> Cells:
    """The neighbour each cell drains to; see `runoff.flow_to`.

    Parameters
    ----------
    filled : ndarray, shape (rows, cols) [m]
        Ground without hollows, NaN where unknown.
    outlets : ndarray of bool, shape (rows, cols)
        Where water may leave.
    steps : ndarray, shape (8,) [m]
        Distance to the neighbours in the order of `cells.STEPS`.

    Returns
    -------
    ndarray of int, shape (rows, cols)
        Number of the receiving cell, -1 leaves, -2 unknown, -3 no way out.
    """
    down = np.empty(filled.shape, np.int64)
    level = np.ascontiguousarray(filled)
    _steepest(level, outlets, steps, _ROW, _COL, down)
    if _settle_level(level, _ROW, _COL, down) > 0 and _open_islands(_ROW, _COL, down) > 0:
        _settle_level(level, _ROW, _COL, down)
    return down


def accumulate_compiled(down: Cells, weight: Floats) -> Floats:
    """What gathers at each cell; see `runoff.accumulation`.

    Parameters
    ----------
    down : ndarray of int, shape (rows, cols)
        From `flow_compiled`.
    weight : ndarray, shape (rows, cols) [any]
        Each cell's own share.

    Returns
    -------
    ndarray, shape (rows, cols) [unit of weight]
        NaN where unknown.
    """
    total = weight.copy(order="C")
    _gather(down.ravel(), total.ravel(), np.zeros(down.size, np.uint8))
    return total


def label_compiled(raised: Bools) -> tuple[Labels, int]:
    """Number the groups of marked cells; see `hollows.label_groups`.

    Parameters
    ----------
    raised : ndarray of bool, shape (rows, cols)
        The marked cells.

    Returns
    -------
    tuple
        Labels from 1 in the order of the first cell, 0 elsewhere; and how many.
    """
    label = np.zeros(raised.shape, np.int32)
    return label, _label_groups(np.ascontiguousarray(raised), label)


@compiled
def _steepest(filled: Floats, outlets: Bools, steps: Floats, row: Cells, col: Cells, down: Cells) -> None:
    rows, cols = filled.shape
    for r in range(rows):
        inner = 0 < r < rows - 1
        for c in range(cols):
            v = filled[r, c]
            way = np.int64(_OPEN)
            steepest = 0.0
            if v != v:  # noqa: PLR0124 - NaN is the value that differs from itself
                down[r, c] = _UNKNOWN
                continue
            for k in range(8):
                rr, cc = r + row[k], c + col[k]
                if (inner and 0 < c < cols - 1) or (0 <= rr < rows and 0 <= cc < cols):
                    slope = (v - filled[rr, cc]) / steps[k]
                    if slope > steepest:
                        steepest = slope
                        way = rr * cols + cc
            if way == _OPEN and outlets[r, c]:
                way = np.int64(_LEAVES)
            down[r, c] = way


@compiled
def _settle_level(filled: Floats, row: Cells, col: Cells, down: Cells) -> int:
    """Send level ground to its nearest way out, ring by ring. Returns how many cells stay open."""
    rows, cols = filled.shape
    front = [np.int64(0) for _ in range(0)]
    still = 0
    for r in range(rows):
        for c in range(cols):
            if down[r, c] != _OPEN:
                continue
            still += 1
            for k in range(8):
                rr, cc = r + row[k], c + col[k]
                if 0 <= rr < rows and 0 <= cc < cols and down[rr, cc] > _UNKNOWN and filled[rr, cc] == filled[r, c]:
                    front.append(rr * cols + cc)
    while front:
        reached = [np.int64(0) for _ in range(0)]
        for k in range(8):
            for i in front:
                r, c = i // cols, i % cols
                rr, cc = r - row[k], c - col[k]
                if 0 <= rr < rows and 0 <= cc < cols and down[rr, cc] == _OPEN and filled[rr, cc] == filled[r, c]:
                    down[rr, cc] = i
                    reached.append(rr * cols + cc)
                    still -= 1
        front = reached
    return still


@compiled
def _open_islands(row: Cells, col: Cells, down: Cells) -> int:
    """Let water leave beside the walls of ground that is shut in."""
    rows, cols = down.shape
    opened = 0
    for r in range(rows):
        for c in range(cols):
            if down[r, c] != _OPEN:
                continue
            for k in range(8):
                rr, cc = r + row[k], c + col[k]
                if not (0 <= rr < rows and 0 <= cc < cols) or down[rr, cc] == _UNKNOWN:
                    down[r, c] = _LEAVES
            opened += down[r, c] == _LEAVES
    return opened


@compiled
def _gather(down: Cells, total: Floats, waiting: NDArray[np.uint8]) -> None:
    n = len(down)
    for i in range(n):
        if down[i] >= 0:
            waiting[down[i]] += 1
    springs = waiting == 0
    for i in range(n):
        if down[i] == _UNKNOWN:
            total[i] = np.nan
        if not springs[i] or down[i] < 0:
            continue
        at = np.int64(i)
        onto = down[at]
        while onto >= 0:
            total[onto] += total[at]
            waiting[onto] -= 1
            if waiting[onto] > 0:
                break
            at = onto
            onto = down[at]


@compiled
def _label_groups(raised: Bools, label: Labels) -> int:
    rows, cols = raised.shape
    count = 0
    stack = [np.int64(0) for _ in range(0)]
    for r in range(rows):
        for c in range(cols):
            if not raised[r, c] or label[r, c]:
                continue
            count += 1
            label[r, c] = count
            stack.append(np.int64(r) * cols + c)
            while stack:
                i = stack.pop()
                y, x = i // cols, i % cols
                for rr in range(max(y - 1, 0), min(y + 2, rows)):
                    for cc in range(max(x - 1, 0), min(x + 2, cols)):
                        if raised[rr, cc] and not label[rr, cc]:
                            label[rr, cc] = count
                            stack.append(rr * cols + cc)
    return count
