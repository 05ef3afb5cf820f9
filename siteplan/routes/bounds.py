"""A net, its sources and outlets in; a cost that no set of lines serving them all can be under, out.

Every line pays at least what its moves cost at the highest invert with which any source arrives there, in the smallest
pipe at the least grade. A set of places that holds a source and no outlet is left by some line, so what is charged to
all moves out of it in equal shares is a part of the whole; such sets are grown round each source in turn until each is
through to an outlet, and no move is charged more than it costs. The sum is a lower bound, whatever the order of
growing.

References
----------
R. T. Wong, A dual ascent approach for Steiner tree problems on a directed graph, Mathematical Programming 28 (1984),
271-287 (from memory).
"""

from __future__ import annotations

import math

import numpy as np

from siteplan.compiling import compiled
from siteplan.routes.kernels import Flags, Floats, Ints, arrive, pop, push, unit_price
from siteplan.routes.reach import reach_sweep
from siteplan.routes.shared import Search, exits_of

_ROUNDS = 24  # shares in which sets are grown in turn: more even growing makes a higher bound


def least_cost(search: Search) -> float:
    """A cost that no way to serve all sources of a search is under.

    Parameters
    ----------
    search : Search
        Sources that some outlet can have, and outlets.

    Returns
    -------
    float
        On the net, in relative prices; infinite where some source comes to no outlet.

    References
    ----------
    Of wyes: as many as there are sources, less one for every tree. So each source is charged one, and each tree that
    ends is forgiven one; where a last run costs less than a wye, no more than that run is counted.
    """
    kit = search.gauges.kit(0, -math.inf)
    net, terms, prices = kit.yard, kit.terms, kit.prices
    members = [k for k in range(search.everyone.bit_length()) if search.everyone >> k & 1]
    reach = np.full(net.ceiling.size, -np.inf)
    for k in members:
        start = kit.starts[k]
        own = reach_sweep(
            net.ceiling,
            net.floor,
            net.is_open,
            net.shut,
            search.table,
            net.cell,
            terms.grade,
            start.nodes.astype(np.int64),
            start.inverts,
        )
        reach = np.maximum(reach, own)
    price = np.array([prices.digging, prices.deep, terms.below, terms.ladder])
    moving = _moves_cost(
        net.ceiling,
        net.floor,
        net.ground,
        net.rate,
        net.is_open,
        net.shut,
        search.table,
        net.cell,
        terms.grade,
        price,
        reach,
    )
    allowed = tuple(any(search.may(1 << k, n) for k in members) for n in range(len(kit.ends)))
    leaving = _leaving(reach, terms.grade, *exits_of(search, kit, 0, allowed))
    cheapest = float(leaving.min(initial=math.inf))
    if not math.isfinite(cheapest):
        return math.inf
    wye = min(prices.wye, cheapest)
    leaving -= wye
    total = wye * len(members)
    starts = [(kit.starts[k].nodes.astype(np.int64), kit.starts[k].costs.copy()) for k in members]
    first = max(_grown(nodes, costs, moving, leaving, search.table, math.inf)[2] for nodes, costs in starts)
    if not math.isfinite(first):
        return math.inf
    waiting = list(range(len(members)))
    while waiting:
        still = []
        for k in waiting:
            nodes, costs = starts[k]
            away, seen, out = _grown(nodes, costs, moving, leaving, search.table, first / _ROUNDS)
            by = min(out, first / _ROUNDS)
            _charged(nodes, costs, moving, leaving, search.table, away, seen, by)
            total += by
            if out > first / _ROUNDS:
                still.append(k)
        waiting = still
    return total


@compiled
def _moves_cost(
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
    reach: Floats,
) -> Floats:
    """Least cost of each move out of each cell: at the highest invert with which a line comes there."""
    cost = np.full((ceiling.size, table.shape[0]), np.inf)
    for i in range(ceiling.size):
        z = reach[i]
        if not is_open[i] or not z > -np.inf:
            continue
        here = unit_price(rate[i], ground[i], z, price)
        for m in range(table.shape[0]):
            j, kind = i + table[m, 0], table[m, 3]
            a, b = i + table[m, 1], i + table[m, 2]
            if not is_open[j] or (shut[i] >> m) & 1 or (kind != 1 and not (is_open[a] and is_open[b])):
                continue
            length = cell * np.sqrt(float(kind))
            middle, end = arrive(z, i, j, a, b, kind, length, grade, ceiling, floor)
            if not end > -np.inf:
                continue
            if kind == 1:
                ground_m, rate_m = 0.5 * (ground[i] + ground[j]), 0.5 * (rate[i] + rate[j])
            elif kind == 2:
                ground_m = 0.25 * (ground[i] + ground[j] + ground[a] + ground[b])
                rate_m = 0.25 * (rate[i] + rate[j] + rate[a] + rate[b])
            else:
                ground_m, rate_m = 0.5 * (ground[a] + ground[b]), 0.5 * (rate[a] + rate[b])
            cost[i, m] = length * (
                0.25 * here
                + 0.5 * unit_price(rate_m, ground_m, middle, price)
                + 0.25 * unit_price(rate[j], ground[j], end, price)
            )
    return cost


@compiled
def _leaving(reach: Floats, grade: float, first: Ints, _ends: Ints, figures: Floats) -> Floats:
    """Least cost of a last run out of each cell."""
    cost = np.full(reach.size, np.inf)
    for i in range(reach.size):
        for k in range(first[i], first[i + 1]):
            z = reach[i]
            if z < figures[k, 0]:
                continue
            low = figures[k, 1] - (z - grade * figures[k, 2])
            deeper = 0.5 * (max(0.0, figures[k, 5] - z) + max(0.0, low))
            cost[i] = min(cost[i], figures[k, 3] + figures[k, 4] * deeper)
    return cost


@compiled
def _grown(
    nodes: Ints, costs: Floats, moving: Floats, leaving: Floats, table: Ints, most: float
) -> tuple[Floats, Ints, float]:
    """Cost from one source to each place nearer than `most` and than an outlet, those places.

    Also the cost to an outlet.
    """
    away = np.full(leaving.size, np.inf)
    done = np.zeros(leaving.size, np.uint8)
    seen = np.empty(leaving.size, np.int64)
    heap_cost, heap_label = np.empty(1024), np.empty(1024, np.int64)
    size, count, out = 0, 0, np.inf
    for k in range(nodes.size):
        if costs[k] < away[nodes[k]]:
            away[nodes[k]] = costs[k]
            if size == heap_cost.size:
                heap_cost = np.concatenate((heap_cost, np.empty(size)))
                heap_label = np.concatenate((heap_label, np.empty(size, np.int64)))
            push(heap_cost, heap_label, size, costs[k], nodes[k])
            size += 1
    while size > 0:
        i, far = heap_label[0], heap_cost[0]
        if far >= min(out, most):
            break
        pop(heap_cost, heap_label, size)
        size -= 1
        if done[i]:
            continue
        done[i] = 1
        seen[count] = i
        count += 1
        out = min(out, far + leaving[i])
        for m in range(table.shape[0]):
            j, then = i + table[m, 0], far + moving[i, m]
            if then < np.inf and then < away[j]:
                away[j] = then
                if size == heap_cost.size:
                    heap_cost = np.concatenate((heap_cost, np.empty(size)))
                    heap_label = np.concatenate((heap_label, np.empty(size, np.int64)))
                push(heap_cost, heap_label, size, then, j)
                size += 1
    return away, seen[:count], out


@compiled
def _charged(
    nodes: Ints, costs: Floats, moving: Floats, leaving: Floats, table: Ints, away: Floats, seen: Ints, by: float
) -> None:
    """Take off every move out of a set that grew by `by` what it is charged for."""
    for k in range(nodes.size):
        costs[k] = max(0.0, costs[k] - min(by, away[nodes[k]]))
    for i in seen:
        if away[i] >= by:
            continue
        for m in range(table.shape[0]):
            if moving[i, m] < np.inf:
                more = min(by, away[i + table[m, 0]]) - away[i]
                if more > 0:
                    moving[i, m] = max(0.0, moving[i, m] - more)
        leaving[i] = max(0.0, leaving[i] - (by - away[i]))
