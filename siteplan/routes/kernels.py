"""The sweeps, on plain flat arrays with a closed border two cells wide; compiled once, then read from a cache.

A cell is a place where a line may pass. `ceiling` is the highest legal invert there, `floor` the lowest.
Moving along an edge of length d a pipe falls at least s d and ducks under the ceiling where that is lower:
T(z) = min(z - s d, ceiling) as long as that is not below the floor. The ground between cells counts: a diagonal
passes the mean of four cells, a knight's move the mean of the two cells it crosses (bilinear ground).
Bit m of `shut` closes move m out of a cell: the straight way there touches something that bars lines.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from siteplan.compiling import compiled

Floats = NDArray[np.float64]
Ints = NDArray[Any]  # int32 or int64, as each array is made
Flags = NDArray[np.uint8]

BORDER = 2

# (row, col) offsets of the move, then of the two cells that the middle of the edge lies between
_ORTHOGONAL = ((-1, 0), (1, 0), (0, -1), (0, 1))
_DIAGONAL = ((-1, -1), (-1, 1), (1, -1), (1, 1))
_KNIGHT = ((-2, -1), (-2, 1), (-1, -2), (-1, 2), (1, -2), (1, 2), (2, -1), (2, 1))


def moves(neighbours: int, cols: int) -> Ints:
    """Moves to 8 or 16 neighbours on a padded grid.

    Parameters
    ----------
    neighbours : int
        8 or 16.
    cols : int
        Columns of the padded grid.

    Returns
    -------
    ndarray, shape (neighbours, 4)
        Offset of the neighbour, offsets of the two cells beside the edge's middle, and the kind of
        move (1 orthogonal, 2 diagonal, 5 knight: the squared length in cells).

    Raises
    ------
    ValueError
        If neighbours is neither 8 nor 16.
    """
    if neighbours not in {8, 16}:
        raise ValueError("neighbours is 8 or 16")
    table = [(r * cols + c, 0, r * cols + c, 1) for r, c in _ORTHOGONAL]
    table += [(r * cols + c, r * cols, c, 2) for r, c in _DIAGONAL]
    if neighbours == 16:
        for r, c in _KNIGHT:
            if abs(c) == 2:
                table.append((r * cols + c, c // 2, r * cols + c // 2, 5))
            else:
                table.append((r * cols + c, (r // 2) * cols, (r // 2) * cols + c, 5))
    return np.array(table, dtype=np.int64)


@compiled
def arrive(
    z: float, i: int, j: int, a: int, b: int, kind: int, length: float, grade: float, ceiling: Floats, floor: Floats
) -> tuple[float, float]:
    """Inverts at the middle and the end of an edge; the last is NaN when there is no way on."""
    if kind == 1:
        end = min(z - grade * length, ceiling[j])
        return 0.5 * (z + end), end if end >= floor[j] else np.nan
    if kind == 2:
        top = 0.25 * (ceiling[i] + ceiling[j] + ceiling[a] + ceiling[b])
        bottom = 0.25 * (floor[i] + floor[j] + floor[a] + floor[b])
    else:
        top = 0.5 * (ceiling[a] + ceiling[b])
        bottom = 0.5 * (floor[a] + floor[b])
    middle = min(z - 0.5 * grade * length, top)
    if middle < bottom:
        return middle, np.nan
    end = min(middle - 0.5 * grade * length, ceiling[j])
    return middle, end if end >= floor[j] else np.nan


@compiled
def unit_price(rate: float, ground: float, z: float, price: Floats) -> float:
    """Cost of a metre of trench with its invert at z. price: digging, deep, below, ladder."""
    depth = ground - z + price[2]
    return float(rate + price[0] * depth + price[1] * max(0.0, depth - price[3]))


@compiled
def push(heap_cost: Floats, heap_label: Ints, size: int, cost: float, label: int) -> None:
    """Put a label on a heap of `size`, cheapest first, of equals the lower number; there is room for it."""
    k = size
    while k > 0:
        up = (k - 1) >> 1
        if heap_cost[up] < cost or (heap_cost[up] == cost and heap_label[up] < label):
            break
        heap_cost[k] = heap_cost[up]
        heap_label[k] = heap_label[up]
        k = up
    heap_cost[k] = cost
    heap_label[k] = label


@compiled
def pop(heap_cost: Floats, heap_label: Ints, size: int) -> None:
    """Drop the root of a heap of `size`; the caller has read it."""
    cost = heap_cost[size - 1]
    label = heap_label[size - 1]
    last = size - 1
    k = 0
    while True:
        child = 2 * k + 1
        if child >= last:
            break
        right = child + 1
        if right < last and (
            heap_cost[right] < heap_cost[child]
            or (heap_cost[right] == heap_cost[child] and heap_label[right] < heap_label[child])
        ):
            child = right
        if cost < heap_cost[child] or (cost == heap_cost[child] and label < heap_label[child]):
            break
        heap_cost[k] = heap_cost[child]
        heap_label[k] = heap_label[child]
        k = child
    heap_cost[k] = cost
    heap_label[k] = label


@compiled
def grow(
    ceiling: Floats,
    floor: Floats,
    ground: Floats,
    rate: Floats,
    is_open: Flags,
    shut: Ints,
    table: Ints,
    cell: float,
    grade: float,
    price: Floats,
    seed_node: Ints,
    seed_cost: Floats,
    seed_z: Floats,
    bound: float,
    slack: float,
    exit_start: Ints,
    exit_end: Ints,
    exit_number: Floats,
    awaited: Floats,
    every: bool,
) -> tuple[Ints, Floats, Floats, Ints, Ints]:
    """Cheapest lines from seeds to every cell: all labels (cost, invert) that nothing cheaper and as high beats.

    Labels are settled in order of cost; one whose invert is not more than `slack` above the best already
    settled at its cell is dropped (slack 0 is exact). Exits are last runs to ends, by the cell that each leaves:
    `exit_end` its end, `exit_number` its need, cap, length, cost, digging and top. Once a way to an end is found,
    nothing dearer is settled; with `every`, once a way to each end that is `awaited` (infinite; minus infinite for the
    others). Returns the settled labels: node, cost, invert, the settled label each came from (-1 for a seed) and the
    number of the seed it started at.
    """
    room = max(1024, 4 * seed_node.size)
    node = np.empty(room, np.int32)
    cost = np.empty(room)
    level = np.empty(room)
    prev = np.empty(room, np.int32)
    seed = np.empty(room, np.int32)
    used = 0
    heap_cost = np.empty(room)
    heap_label = np.empty(room, np.int32)
    size = 0
    # of each cell the label that waits last: one that costs more and lies no higher would only be dropped after it
    waiting_cost = np.full(ceiling.size, np.inf)
    waiting_level = np.full(ceiling.size, -np.inf)
    for k in range(seed_node.size):
        i = seed_node[k]
        if seed_cost[k] > bound or (seed_cost[k] >= waiting_cost[i] and seed_z[k] <= waiting_level[i]):
            continue
        waiting_cost[i] = seed_cost[k]
        waiting_level[i] = seed_z[k]
        node[used] = seed_node[k]
        cost[used] = seed_cost[k]
        level[used] = seed_z[k]
        prev[used] = -1
        seed[used] = k
        push(heap_cost, heap_label, size, seed_cost[k], used)
        size += 1
        used += 1
    best = np.full(ceiling.size, -np.inf)
    settled = np.empty(room, np.int32)
    count = 0
    lengths = np.empty(table.shape[0])
    for m in range(table.shape[0]):
        lengths[m] = cell * np.sqrt(float(table[m, 3]))
    found = awaited.copy()
    while size > 0:
        label = heap_label[0]
        if heap_cost[0] > bound:
            break
        pop(heap_cost, heap_label, size)
        size -= 1
        i = node[label]
        z = level[label]
        if z <= best[i] + (slack if best[i] > -np.inf else 0.0):
            continue
        best[i] = z
        if count == settled.size:
            settled = np.concatenate((settled, np.empty(settled.size, np.int32)))
        settled[count] = label
        number = count
        count += 1
        for k in range(exit_start[i], exit_start[i + 1]):
            if z < exit_number[k, 0]:
                continue
            low = exit_number[k, 1] - (z - grade * exit_number[k, 2])
            deeper = 0.5 * (max(0.0, exit_number[k, 5] - z) + max(0.0, low))
            whole = cost[label] + exit_number[k, 3] + exit_number[k, 4] * deeper
            e = exit_end[k]
            if whole < found[e]:
                found[e] = whole
                bound = min(bound, (found.max() if every else found.min()) * (1 + 1e-9))
        unit_i = unit_price(rate[i], ground[i], z, price)
        for m in range(table.shape[0]):
            j = i + table[m, 0]
            if not is_open[j] or (shut[i] >> m) & 1:
                continue
            highest = min(z - grade * lengths[m], ceiling[j])
            if best[j] > -np.inf and highest <= best[j] + slack:
                continue
            if highest <= waiting_level[j] and cost[label] >= waiting_cost[j]:
                continue
            kind = table[m, 3]
            a = i + table[m, 1]
            b = i + table[m, 2]
            if kind != 1 and not (is_open[a] and is_open[b]):
                continue
            middle, end = arrive(z, i, j, a, b, kind, lengths[m], grade, ceiling, floor)
            if not end > -np.inf:
                continue
            if best[j] > -np.inf and end <= best[j] + slack:
                continue
            if kind == 1:
                ground_m = 0.5 * (ground[i] + ground[j])
                rate_m = 0.5 * (rate[i] + rate[j])
            elif kind == 2:
                ground_m = 0.25 * (ground[i] + ground[j] + ground[a] + ground[b])
                rate_m = 0.25 * (rate[i] + rate[j] + rate[a] + rate[b])
            else:
                ground_m = 0.5 * (ground[a] + ground[b])
                rate_m = 0.5 * (rate[a] + rate[b])
            spent = cost[label] + lengths[m] * (
                0.25 * unit_i
                + 0.5 * unit_price(rate_m, ground_m, middle, price)
                + 0.25 * unit_price(rate[j], ground[j], end, price)
            )
            if spent > bound or (spent >= waiting_cost[j] and end <= waiting_level[j]):
                continue
            waiting_cost[j] = spent
            waiting_level[j] = end
            if used == node.size:
                node = np.concatenate((node, np.empty(node.size, np.int32)))
                cost = np.concatenate((cost, np.empty(cost.size)))
                level = np.concatenate((level, np.empty(level.size)))
                prev = np.concatenate((prev, np.empty(prev.size, np.int32)))
                seed = np.concatenate((seed, np.empty(seed.size, np.int32)))
            if size == heap_cost.size:
                heap_cost = np.concatenate((heap_cost, np.empty(heap_cost.size)))
                heap_label = np.concatenate((heap_label, np.empty(heap_label.size, np.int32)))
            node[used] = j
            cost[used] = spent
            level[used] = end
            prev[used] = number
            seed[used] = seed[label]
            push(heap_cost, heap_label, size, spent, used)
            size += 1
            used += 1
    out_node = np.empty(count, np.int32)
    out_cost = np.empty(count)
    out_level = np.empty(count)
    out_prev = np.empty(count, np.int32)
    out_seed = np.empty(count, np.int32)
    for k in range(count):
        label = settled[k]
        out_node[k] = node[label]
        out_cost[k] = cost[label]
        out_level[k] = level[label]
        out_prev[k] = prev[label]
        out_seed[k] = seed[label]
    return out_node, out_cost, out_level, out_prev, out_seed


@compiled
def by_node(node: Ints, cells: int) -> tuple[Ints, Ints]:
    """Labels grouped by cell, each group in the order given: (start of each group, label numbers)."""
    start = np.zeros(cells + 1, np.int32)
    for k in range(node.size):
        start[node[k] + 1] += 1
    for i in range(cells):
        start[i + 1] += start[i]
    at = start[:-1].copy()
    order = np.empty(node.size, np.int32)
    for k in range(node.size):
        order[at[node[k]]] = k
        at[node[k]] += 1
    return start, order


@compiled
def merge(
    start_a: Ints,
    order_a: Ints,
    cost_a: Floats,
    level_a: Floats,
    start_b: Ints,
    order_b: Ints,
    cost_b: Floats,
    level_b: Floats,
    extra: float,
    bound: float,
) -> tuple[Ints, Floats, Floats, Ints, Ints]:
    """Two bundles of lines meet at a cell: cost C1 + C2 + extra, invert min(z1, z2).

    In each group cost and invert rise together, so for every invert the cheapest pair is found in one pass.
    Returns node, cost, invert, label of a, label of b.
    """
    cells = start_a.size - 1
    room = 1024
    node = np.empty(room, np.int32)
    cost = np.empty(room)
    level = np.empty(room)
    left = np.empty(room, np.int32)
    right = np.empty(room, np.int32)
    count = 0
    for i in range(cells):
        p, p_end = start_a[i], start_a[i + 1]
        q, q_end = start_b[i], start_b[i + 1]
        while p < p_end and q < q_end:
            la = order_a[p]
            lb = order_b[q]
            total = cost_a[la] + cost_b[lb] + extra
            if total > bound:
                break
            if count == node.size:
                node = np.concatenate((node, np.empty(node.size, np.int32)))
                cost = np.concatenate((cost, np.empty(cost.size)))
                level = np.concatenate((level, np.empty(level.size)))
                left = np.concatenate((left, np.empty(left.size, np.int32)))
                right = np.concatenate((right, np.empty(right.size, np.int32)))
            node[count] = i
            cost[count] = total
            level[count] = min(level_a[la], level_b[lb])
            left[count] = la
            right[count] = lb
            count += 1
            # only a higher lower one can lift the pair
            if level_a[la] <= level_b[lb]:
                p += 1
            else:
                q += 1
    return node[:count].copy(), cost[:count].copy(), level[:count].copy(), left[:count].copy(), right[:count].copy()


@compiled
def last_runs_sweep(
    reach: Floats,
    ground: Floats,
    is_open: Flags,
    ends: Ints,
    rays: Ints,
    cols: int,
    cell: float,
    grade: float,
    terms: Floats,
) -> tuple[Floats, Floats]:
    """Highest arrival at each of some cells by a straight last run, legal and free of the daylight stretch.

    `rays` are (row, col) steps without a common factor, by which a run goes up from its end; between cells the ground
    is that of the two beside it. terms: zone, stretch, face allowance, rise + zone cover, greatest depth, margin. Every
    limit at a distance a from the end is held against `limit - grade a`: a run of length L arrives at min(reach - grade
    L, the least ceiling so lifted), and is legal while no ceiling lies under a floor nearer to the end. Runs that end
    lower than the face allowance over the ground are left out.
    """
    zone, stretch, allowance, buried, depth, margin = terms[0], terms[1], terms[2], terms[3], terms[4], terms[5]
    legal = np.full(ends.size, -np.inf)
    free = np.full(ends.size, -np.inf)
    for e in range(ends.size):
        q = ends[e]
        if not is_open[q]:
            continue
        face = ground[q] + allowance
        for m in range(rays.shape[0]):
            down, right = rays[m, 0], rays[m, 1]
            parts = max(abs(down), abs(right))
            step = cell * np.sqrt(float(down * down + right * right)) / parts
            along, aside, slip = (cols, 1, right) if abs(down) == parts else (1, cols, down)
            along *= np.sign(down) if abs(down) == parts else np.sign(right)
            side = aside * np.sign(slip)
            top, roomy, bottom = np.inf, np.inf, ground[q] - depth
            before = ground[q]
            for t in range(int(zone / step + 1e-9) + 1):
                away = t * step
                # the border is closed, so that a run never leaves the net
                whole, rest = (t * abs(slip)) // parts, (t * abs(slip)) % parts
                p = q + t * along + whole * side
                if not is_open[p] or (rest and not is_open[p + side]):
                    break
                share = rest / parts
                here = ground[p] + (share * (ground[p + side] - ground[p]) if rest else 0.0)
                if t and away - step <= stretch < away:
                    # the zone's cover holds right up to the stretch, between two samples
                    edge = here + (before - here) * (away - stretch) / step - buried - grade * stretch
                    roomy = min(roomy, edge)
                    top = min(top, edge - margin)
                    if top < bottom or top < face:
                        break
                before = here
                if t and not rest and reach[p] > -np.inf and t % parts == 0:
                    z = reach[p] - grade * away
                    if z >= bottom and z >= face:
                        legal[e] = max(legal[e], min(z, top))
                        free[e] = max(free[e], min(z, roomy))
                bottom = max(bottom, here - depth - grade * away)
                if away <= stretch:
                    top = min(top, here + allowance - (margin if t else 0.0) - grade * away)
                else:
                    top = min(top, here - buried - margin - grade * away)
                    roomy = min(roomy, here - buried - grade * away)
                if top < bottom or top < face:
                    break
    return legal, free
