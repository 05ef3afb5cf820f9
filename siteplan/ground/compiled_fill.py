"""Elevations in; out: the same filled, by a graph of basins compiled with numba. For grids too big for plain Python.

Imported only when a grid is big (`fill.PLAIN_CELLS`), because numba costs a quarter of a second to import.
Method: every cell points at its lowest neighbour, so every cell drains to one minimum (a basin). A cell joins two
basins only where its lower neighbours fall apart into groups that do not touch each other: a saddle. Each saddle is
an edge of a small graph, as high as the saddle; the lowest way out of each basin is found on the graph by Boruvka's
rounds, and every cell is raised to the level of its basin.
Order everywhere is (elevation, cell index), so flats need no special case.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from siteplan.compiling import compiled

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Labels = NDArray[np.int32]

# neighbours in the order of their index: NW N NE W (self) E SW S SE
_ROW = (-1, -1, -1, 0, 0, 0, 1, 1, 1)
_COL = (-1, 0, 1, -1, 0, 1, -1, 0, 1)
_SELF = 4
_SADDLE = 16  # flag beside the direction
_UNKNOWN = 32
_OUTSIDE = 33  # unknown, and water leaves there
_OUTLET = 34  # known, and water leaves there


def _groups() -> Bytes:
    """For each set of lower neighbours (bit k: k-th of NW N NE W E SW S SE).

    One bit of each group that hangs together.
    """
    places = [(row, col) for row, col in zip(_ROW, _COL, strict=True) if (row, col) != (0, 0)]
    heads = np.zeros(256, np.uint8)
    for members in range(256):
        left = {k for k in range(8) if members >> k & 1}
        while left:
            first = min(left)
            group, todo = {first}, [first]
            while todo:
                row, col = places[todo.pop()]
                near = {k for k in left - group if max(abs(places[k][0] - row), abs(places[k][1] - col)) == 1}
                group |= near
                todo += near
            heads[members] |= 1 << first
            left -= group
    return heads


_HEADS = _groups()


def fill_compiled(z: Floats, hole_leaves: bool, wall: NDArray[np.bool_] | None) -> Floats:
    """Fill every hollow; see `siteplan.ground.fill.fill` for the contract.

    Parameters
    ----------
    z : ndarray, shape (rows, cols) [m]
        C order, NaN unknown, finite otherwise. Not changed.
    hole_leaves : bool
        Water leaves over an inner no-data hole.
    wall : ndarray of bool, shape (rows, cols), optional
        Cells that hold water back whatever `hole_leaves` says.

    Returns
    -------
    ndarray, shape (rows, cols) [m]
        Filled elevations, NaN where unknown and at walls.

    References
    ----------
    Graph of basins and passes: the idea is in papers on depression filling by minimum spanning trees (memory);
    Boruvka's minimum spanning tree: any text on graphs. That one edge per group of lower neighbours is enough:
    own argument, in docs/ground.md.
    """
    rows, cols = z.shape
    filled = np.empty((rows, cols))
    code = np.empty((rows, cols), np.uint8)
    no_wall = np.zeros((0, 0), np.bool_)
    unknown = _load(z, no_wall if wall is None else wall, filled, code)
    if unknown:
        _find_outside(code, hole_leaves, wall is not None, no_wall if wall is None else wall)
    _find_outlets(code, unknown)
    _descend(filled, code)
    label = np.empty((rows, cols), np.int32)
    while True:
        basins = _label(code, label)
        edges = _count_passes(filled, code, _HEADS)
        ends = np.empty((edges, 2), np.int32)
        height = np.empty(edges)
        edges = _collect_passes(filled, code, label, _HEADS, ends, height)
        level, cut_off = _spill_levels(basins, edges, ends, height)
        if not cut_off:
            break
        _open_islands(code, label, level)
    _raise(filled, label, level)
    return filled


@compiled
def _load(z: Floats, wall: NDArray[np.bool_], filled: Floats, code: Bytes) -> bool:
    """Copy with unknown cells at infinity; tell whether there are any."""
    rows, cols = z.shape
    some = False
    walled = wall.size > 0
    for r in range(rows):
        for c in range(cols):
            v = z[r, c]
            if v != v or (walled and wall[r, c]):  # noqa: PLR0124 - NaN is the value that differs from itself
                filled[r, c] = np.inf
                code[r, c] = _UNKNOWN
                some = True
            else:
                filled[r, c] = v + 0.0  # -0.0 becomes 0.0
                code[r, c] = _SELF
    return some


@compiled
def _find_outside(code: Bytes, hole_leaves: bool, walled: bool, wall: NDArray[np.bool_]) -> None:
    """Mark unknown cells over which water leaves: all, or those connected with the grid's edge."""
    rows, cols = code.shape
    stack = [np.int64(0) for _ in range(0)]
    for r in range(rows):
        for c in range(cols):
            if code[r, c] != _UNKNOWN or (walled and wall[r, c]):
                continue
            if hole_leaves or r in (0, rows - 1) or c in (0, cols - 1):
                code[r, c] = _OUTSIDE
                if not hole_leaves:
                    stack.append(np.int64(r) * cols + c)
    while stack:
        i = stack.pop()
        r, c = i // cols, i % cols
        for rr in range(max(r - 1, 0), min(r + 2, rows)):
            for cc in range(max(c - 1, 0), min(c + 2, cols)):
                if code[rr, cc] == _UNKNOWN and not (walled and wall[rr, cc]):
                    code[rr, cc] = _OUTSIDE
                    stack.append(np.int64(rr) * cols + cc)


@compiled
def _find_outlets(code: Bytes, unknown: bool) -> None:
    """Mark the known cells where water leaves: on the grid's edge, and beside what counts as outside."""
    rows, cols = code.shape
    for r in range(rows):
        step = 1 if r in (0, rows - 1) else max(cols - 1, 1)
        for c in range(0, cols, step):
            if code[r, c] == _SELF:
                code[r, c] = _OUTLET
    if not unknown:
        return
    for r in range(rows):
        for c in range(cols):
            if code[r, c] != _OUTSIDE:
                continue
            for rr in range(max(r - 1, 0), min(r + 2, rows)):
                for cc in range(max(c - 1, 0), min(c + 2, cols)):
                    if code[rr, cc] == _SELF:
                        code[rr, cc] = _OUTLET


@compiled
def _descend(filled: Floats, code: Bytes) -> None:
    """Point every inner cell at its lowest neighbour and flag the saddles."""
    rows, cols = filled.shape
    n = cols - 2
    for r in range(1, rows - 1):
        up, mid, low = filled[r - 1], filled[r], filled[r + 1]
        a0, a1, a2 = up[:n], up[1 : n + 1], up[2:]
        a3, own, a5 = mid[:n], mid[1 : n + 1], mid[2:]
        a6, a7, a8 = low[:n], low[1 : n + 1], low[2:]
        out = code[r, 1 : n + 1]
        for c in range(n):
            v = own[c]
            b, k = a0[c], 0
            if a1[c] < b:
                b, k = a1[c], 1
            if a2[c] < b:
                b, k = a2[c], 2
            if a3[c] < b:
                b, k = a3[c], 3
            if v < b:
                b, k = v, 4
            if a5[c] < b:
                b, k = a5[c], 5
            if a6[c] < b:
                b, k = a6[c], 6
            if a7[c] < b:
                b, k = a7[c], 7
            if a8[c] < b:
                b, k = a8[c], 8
            nw, n_, ne, w_ = a0[c] <= v, a1[c] <= v, a2[c] <= v, a3[c] <= v
            e_, sw, s_, se = a5[c] < v, a6[c] < v, a7[c] < v, a8[c] < v
            # groups of lower neighbours, counted at the gaps between them going round
            gaps = (
                np.int64((not e_) & (ne | n_))
                + np.int64((not n_) & (nw | w_))
                + np.int64((not w_) & (sw | s_))
                + np.int64((not s_) & (se | e_))
            )
            if gaps > 1:
                k += _SADDLE
            if out[c] < _UNKNOWN:
                out[c] = k


@compiled
def _label(code: Bytes, label: Labels) -> int:
    """Number every cell by the minimum it drains to; 0 drains off the grid, -1 unknown. Returns the count."""
    rows, cols = code.shape
    flat = code.ravel()
    into = label.ravel()
    into[:] = -2
    basins = 1
    for start in range(rows * cols):
        if into[start] != -2:
            continue
        i = start
        found = np.int32(-2)
        while True:
            if into[i] != -2:
                found = into[i]
                break
            k = flat[i]
            if k >= _UNKNOWN:
                found = np.int32(0 if k == _OUTLET else -1)
                into[i] = found
                break
            k &= 15
            if k == _SELF:
                found = np.int32(basins)
                basins += 1
                into[i] = found
                break
            i += (np.int64(k) // 3 - 1) * cols + np.int64(k) % 3 - 1
        i = start
        while into[i] == -2:
            into[i] = found
            k = flat[i] & 15
            i += (np.int64(k) // 3 - 1) * cols + np.int64(k) % 3 - 1
    return basins


@compiled
def _lower(filled: Floats, r: int, c: int) -> int:
    """Set of lower neighbours of a cell, one bit each in the order NW N NE W E SW S SE."""
    rows, cols = filled.shape
    v = filled[r, c]
    members = 0
    bit = 1
    for dr in range(-1, 2):
        for dc in range(-1, 2):
            if dr == 0 and dc == 0:
                continue
            rr, cc = r + dr, c + dc
            if 0 <= rr < rows and 0 <= cc < cols:
                w = filled[rr, cc]
                if w < v or (w == v and (dr < 0 or (dr == 0 and dc < 0))):
                    members |= bit
            bit <<= 1
    return members


@compiled
def _count_passes(filled: Floats, code: Bytes, heads: Bytes) -> int:
    """Upper bound of the edges that `_collect_passes` finds."""
    rows, cols = code.shape
    count = 0
    for r in range(rows):
        for c in range(cols):
            k = code[r, c]
            if k == _OUTLET or (k < _UNKNOWN and k >= _SADDLE):
                groups = heads[_lower(filled, r, c)]
                while groups:
                    groups &= groups - np.uint8(1)
                    count += 1
    return count


@compiled
def _collect_passes(filled: Floats, code: Bytes, label: Labels, heads: Bytes, ends: Labels, height: Floats) -> int:
    """Edges between basins: two labels, and the height of the saddle that joins them."""
    rows, cols = code.shape
    count = 0
    for r in range(rows):
        for c in range(cols):
            k = code[r, c]
            if not (k == _OUTLET or (k < _UNKNOWN and k >= _SADDLE)):
                continue
            groups = heads[_lower(filled, r, c)]
            own = label[r, c]
            for bit in range(8):
                if not groups >> bit & 1:
                    continue
                place = bit if bit < _SELF else bit + 1
                other = label[r + place // 3 - 1, c + place % 3 - 1]
                if other != own:
                    ends[count, 0] = own
                    ends[count, 1] = other
                    height[count] = filled[r, c]
                    count += 1
    return count


@compiled
def _spill_levels(basins: int, edges: int, ends: Labels, height: Floats) -> tuple[Floats, bool]:
    """Level to which each basin fills, and whether some basin has no way out (level infinite)."""
    parent = np.arange(basins).astype(np.int32)  # where a basin spills to
    over = np.full(basins, -np.inf)  # how high it must stand to do so
    group = np.arange(basins).astype(np.int32)
    best = np.empty(basins, np.int32)
    active = np.arange(1, basins).astype(np.int32)
    while edges > 0:
        edges = _lowest_ways(edges, ends, height, group, best)
        for x in active:
            e = best[x]
            if e >= 0:
                parent[x] = ends[e, 0] + ends[e, 1] - x
                over[x] = height[e]
        active = _merge(active, best, parent, group)
    level = np.full(basins, np.nan)
    level[0] = -np.inf
    for x in active:
        level[x] = np.inf
    chain = np.empty(basins, np.int32)
    for start in range(basins):
        depth = 0
        x = np.int32(start)
        while np.isnan(level[x]):
            chain[depth] = x
            depth += 1
            x = parent[x]
        high = level[x]
        for k in range(depth - 1, -1, -1):
            high = max(high, over[chain[k]])
            level[chain[k]] = high
    return level, len(active) > 0


@compiled
def _lowest_ways(edges: int, ends: Labels, height: Floats, group: Labels, best: Labels) -> int:
    """Each group's lowest edge into another; edges inside a group are dropped. Returns how many are left."""
    best[:] = -1
    kept = 0
    for e in range(edges):
        a, b = group[ends[e, 0]], group[ends[e, 1]]
        if a == b:
            continue
        h = height[e]
        ends[kept, 0], ends[kept, 1], height[kept] = a, b, h
        if best[a] < 0 or h < height[best[a]]:
            best[a] = kept
        if best[b] < 0 or h < height[best[b]]:
            best[b] = kept
        kept += 1
    return kept


@compiled
def _merge(active: Labels, best: Labels, parent: Labels, group: Labels) -> Labels:
    """Join every group to the one it chose; return those that are left on top, the outside not among them."""
    for x in active:
        p = parent[x]
        if p > x and best[x] == best[p] and parent[p] == x:
            parent[x] = x  # two that chose each other: the lower number stays on top
    for x in active:
        top = x
        while parent[top] != top:
            top = group[top] if group[top] != top else parent[top]
        y = x
        while y != top:
            ahead = group[y] if group[y] != y else parent[y]
            group[y] = top
            y = ahead
    on_top: Labels = active[group[active] == active]
    return on_top


@compiled
def _open_islands(code: Bytes, label: Labels, level: Floats) -> None:
    """Let water leave from the rim of ground that walls shut in on all sides."""
    rows, cols = code.shape
    for r in range(rows):
        for c in range(cols):
            if code[r, c] >= _UNKNOWN or level[label[r, c]] < np.inf:
                continue
            for rr in range(max(r - 1, 0), min(r + 2, rows)):
                for cc in range(max(c - 1, 0), min(c + 2, cols)):
                    if code[rr, cc] == _UNKNOWN:
                        code[r, c] = _OUTLET


@compiled
def _raise(filled: Floats, label: Labels, level: Floats) -> None:
    """Every known cell to the level of its basin or its own, whichever is higher."""
    rows, cols = filled.shape
    for r in range(rows):
        for c in range(cols):
            basin = label[r, c]
            filled[r, c] = np.nan if basin < 0 else max(filled[r, c], level[basin])
