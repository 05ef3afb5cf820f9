"""Reach: the highest invert with which a line can arrive at each cell. Same padded flat arrays as `kernels`.

Two engines in turn. Scans over the rows, down and up again, raise every cell from the cells already passed; on open
ground a handful settle nearly all, at the speed of reading memory. What the last scan still raised goes through a
queue of buckets, highest first. Both only ever raise a cell to what a real line can do, and the queue ends when
nothing rises: the values are those of exhaustion, whatever the order.
"""

from __future__ import annotations

import numpy as np

from siteplan.compiling import compiled
from siteplan.routes.kernels import BORDER, Flags, Floats, Ints, arrive

_SCANS = 12  # at most; the queue does the rest
_FEW = 64  # a scan that raised fewer than one cell in so many is followed by one last
_MOST_BUCKETS = 4_000_000


@compiled
def reach_sweep(
    ceiling: Floats,
    floor: Floats,
    is_open: Flags,
    shut: Ints,
    table: Ints,
    cell: float,
    grade: float,
    seeds: Ints,
    seed_inverts: Floats,
) -> Floats:
    """Highest invert with which a line can arrive at each cell; -inf where none comes."""
    n = ceiling.size
    best = np.full(n, -np.inf)
    top, low = -np.inf, np.inf
    for i in range(n):
        if is_open[i]:
            low = min(low, floor[i])
    for k in range(seeds.size):
        i = seeds[k]
        z = min(seed_inverts[k], ceiling[i])
        if is_open[i] and z >= floor[i] and z > best[i]:
            best[i] = z
            top = max(top, z)
    if not np.isfinite(top) or not np.isfinite(low):
        return best
    lengths = np.empty(table.shape[0])
    for m in range(table.shape[0]):
        lengths[m] = cell * np.sqrt(float(table[m, 3]))
    raised = np.empty(n, np.int32)
    down, many = True, n
    for k in range(_SCANS):
        few = many * _FEW < n or k == _SCANS - 1
        many = _scan(best, ceiling, floor, is_open, shut, table, lengths, grade, down, raised, few)
        down = not down
        if few:
            break
    if many:
        _settle(best, ceiling, floor, is_open, shut, table, lengths, grade, raised[:many], top, low)
    return best


@compiled
def _scan(
    best: Floats,
    ceiling: Floats,
    floor: Floats,
    is_open: Flags,
    shut: Ints,
    table: Ints,
    lengths: Floats,
    grade: float,
    down: bool,
    raised: Ints,
    listed: bool,
) -> int:
    """Raise every cell from the rows before it and from its own row, both ways; how many rose, and, if asked, which.

    What a cell gets from the rows behind it is another scan's business, so only cells that rose in the last scan
    can still have something to give.
    """
    cols = table[1, 0]  # the second move is one row down
    rows = best.size // cols
    step = -cols if down else cols
    straight, left, right = (1, 7, 6) if down else (0, 5, 4)  # moves that come from there to here
    side_loss, half_loss = grade * lengths[0], 0.5 * grade * lengths[4]
    before = np.empty(cols)
    count, rose, one = 0, 0, np.uintp(1)
    for k in range(BORDER, rows - BORDER):
        base = (k if down else rows - 1 - k) * cols
        if listed:
            before[:] = best[base : base + cols]
        for c in range(BORDER, cols - BORDER):
            j = np.uintp(base + c)  # unsigned: no index is ever counted from the end
            high = ceiling[j]
            was = best[j]
            if not is_open[j] or was == high:
                continue
            i = np.uintp(base + c + step)
            west, east, i_west, i_east = j - one, j + one, i - one, i + one
            new = was
            if not (shut[i] >> straight) & 1:
                new = max(new, min(best[i] - side_loss, high))
            if is_open[i]:
                if is_open[west] and not (shut[i_west] >> left) & 1:
                    middle = min(best[i_west] - half_loss, 0.25 * (ceiling[i_west] + high + ceiling[i] + ceiling[west]))
                    end = min(middle - half_loss, high)
                    if end > new and middle >= 0.25 * (floor[i_west] + floor[j] + floor[i] + floor[west]):
                        new = end
                if is_open[east] and not (shut[i_east] >> right) & 1:
                    middle = min(best[i_east] - half_loss, 0.25 * (ceiling[i_east] + high + ceiling[i] + ceiling[east]))
                    end = min(middle - half_loss, high)
                    if end > new and middle >= 0.25 * (floor[i_east] + floor[j] + floor[i] + floor[east]):
                        new = end
            for m in range(8, table.shape[0]):
                far = base + c - table[m, 0]
                if (table[m, 0] > 0) != down or not is_open[far] or (shut[far] >> m) & 1:
                    continue
                a, b = far + table[m, 1], far + table[m, 2]
                if best[far] - grade * lengths[m] > new and is_open[a] and is_open[b]:
                    end = arrive(best[far], far, base + c, a, b, 5, lengths[m], grade, ceiling, floor)[1]
                    if end > new:  # noqa: PLR1730 - NaN means no way on
                        new = end
            if not (shut[west] >> 3) & 1:
                new = max(new, min(best[west] - side_loss, high))
            if new > was and new >= floor[j]:
                best[j] = new
                count += 1
        for c in range(cols - 1 - BORDER, BORDER - 1, -1):
            j = np.uintp(base + c)
            east = j + one
            end = min(best[east] - side_loss, ceiling[j])
            if end > best[j] and is_open[j] and not (shut[east] >> 2) & 1 and end >= floor[j]:
                best[j] = end
                count += 1
        if listed:
            for c in range(BORDER, cols - BORDER):
                if best[base + c] > before[c]:
                    raised[rose] = base + c
                    rose += 1
    return rose if listed else count


@compiled
def _settle(
    best: Floats,
    ceiling: Floats,
    floor: Floats,
    is_open: Flags,
    shut: Ints,
    table: Ints,
    lengths: Floats,
    grade: float,
    raised: Ints,
    top: float,
    low: float,
) -> None:
    """Raise what can still rise, highest first, starting from the cells of the last scan."""
    width = max(grade * lengths[0] * 0.999, (top - low) / _MOST_BUCKETS, 1e-12)
    count = int((top - low) / width) + 2
    head = np.full(count, -1, np.int32)
    room = max(1024, 2 * raised.size)
    cells, after = np.empty(room, np.int32), np.empty(room, np.int32)
    used, free = 0, -1
    for k in range(raised.size):
        bucket = int((top - best[raised[k]]) / width)
        cells[used] = raised[k]
        after[used] = head[bucket]
        head[bucket] = used
        used += 1
    bucket = 0
    while bucket < count:
        entry = head[bucket]
        if entry < 0:
            bucket += 1
            continue
        head[bucket] = after[entry]
        i = cells[entry]
        after[entry] = free
        free = entry
        z = best[i]
        if int((top - z) / width) < bucket:
            continue  # it rose since, and was looked at then
        for m in range(table.shape[0]):
            j = i + table[m, 0]
            if not is_open[j] or min(z - grade * lengths[m], ceiling[j]) <= best[j] or (shut[i] >> m) & 1:
                continue
            a, b, kind = i + table[m, 1], i + table[m, 2], table[m, 3]
            if kind != 1 and not (is_open[a] and is_open[b]):
                continue
            end = arrive(z, i, j, a, b, kind, lengths[m], grade, ceiling, floor)[1]
            if not end > best[j]:
                continue
            best[j] = end
            if free >= 0:
                entry = free
                free = after[entry]
            else:
                if used == room:
                    more, later = np.empty(2 * room, np.int32), np.empty(2 * room, np.int32)
                    more[:room], later[:room] = cells, after
                    cells, after, room = more, later, 2 * room
                entry = used
                used += 1
            at = max(bucket, int((top - end) / width))
            cells[entry] = j
            after[entry] = head[at]
            head[at] = entry


@compiled
def way_back(
    best: Floats,
    ceiling: Floats,
    floor: Floats,
    is_open: Flags,
    shut: Ints,
    table: Ints,
    cell: float,
    grade: float,
    seeds: Ints,
    seed_inverts: Floats,
    node: int,
) -> Ints:
    """Cells from `node` back to the seed of a highest line that arrives there."""
    seeded = np.zeros(best.size, np.uint8)
    for k in range(seeds.size):
        if min(seed_inverts[k], ceiling[seeds[k]]) == best[seeds[k]]:
            seeded[seeds[k]] = 1
    path = np.empty(best.size, np.int64)
    path[0] = node
    count = 1
    while not seeded[node] and count < best.size:
        found, highest = -1, -np.inf
        for m in range(table.shape[0]):
            i = node - table[m, 0]
            if not is_open[i] or not best[i] > best[node] or (shut[i] >> m) & 1:
                continue
            a, b, kind = i + table[m, 1], i + table[m, 2], table[m, 3]
            if kind != 1 and not (is_open[a] and is_open[b]):
                continue
            length = cell * np.sqrt(float(kind))
            end = arrive(best[i], i, node, a, b, kind, length, grade, ceiling, floor)[1]
            if end > highest:
                found, highest = i, end
        if found < 0:
            break
        node = found
        path[count] = node
        count += 1
    return path[:count]
