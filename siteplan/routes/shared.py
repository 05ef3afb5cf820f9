"""Yard, starts and ends in; the cheapest set of lines that serves the sources out, sharing trenches where that pays.

Lines of a bundle of sources meet at a cell with cost C1 + C2 and invert min(z1, z2), and run on with
(cost, invert) labels: the tree of least cost over all shapes, joins and outlets on the net.

References
----------
S. E. Dreyfus and R. A. Wagner, The Steiner problem in graphs, Networks 1 (1971), 195-207, here with a second
criterion (the invert) carried on every label (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from siteplan.books.prices import Prices
from siteplan.routes import kernels
from siteplan.routes.ends import End, Start
from siteplan.routes.reach import reach_sweep
from siteplan.routes.terms import Terms
from siteplan.routes.yard import Floats, Yard

MOST = 5  # sources laid out together; more are laid out in groups
_SLACK = 0.004  # m of invert below which two labels count as equal


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Labels:
    """Settled labels of one bundle, and where each began."""

    node: NDArray[np.int32]
    cost: Floats
    level: Floats
    prev: NDArray[np.int32]
    seed: NDArray[np.int32]
    start: NDArray[np.int32]
    order: NDArray[np.int32]
    left: NDArray[np.int32]  # by seed: label of the first half, or of nothing
    right: NDArray[np.int32]
    halves: NDArray[np.int32]  # by seed: bundle of the first half; 0 for a source's own start


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """A bundle at an outlet: total cost, invert on arrival, the label it came from."""

    cost: float
    invert: float
    label: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A stretch of the tree, cells from its upper end down. Either a source starts it or two legs meet at its head."""

    cells: tuple[int, ...]
    source: int | None
    above: tuple[Leg, ...]
    cost: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Network:
    """Every bundle's labels and arrivals: what serving any sources together at any outlet costs."""

    labels: dict[int, Labels]
    arrivals: dict[tuple[int, int], Arrival]  # (bundle, outlet number)
    best: dict[int, tuple[float, tuple[tuple[int, int], ...]]]  # bundle -> cost, its (part, outlet number)


def _anywhere(_bundle: int, _end: int) -> bool:
    return True


def solve(
    yard: Yard,
    starts: Sequence[Start],
    ends: Sequence[End],
    terms: Terms,
    prices: Prices,
    *,
    neighbours: int = 16,
    slack: float = _SLACK,
    may: Callable[[int, int], bool] = _anywhere,
) -> Network:
    """Cheapest lines for every bundle of sources.

    Parameters
    ----------
    yard : Yard
        The net.
    starts, ends : sequence
        Fans of sources (at most MOST) and outlets.
    terms : Terms
        Grade and pipe.
    prices : Prices
        Relative prices.
    neighbours : int
        8 or 16 moves from a cell.
    slack : float
        Inverts closer than this count as equal [m]; 0 is exact.
    may : callable
        Whether a bundle may end together at the outlet of a number; what may end nowhere together shares no trench.

    Returns
    -------
    Network
        A bundle is a bit mask of source numbers. `best` holds the cheapest way to serve each bundle that
        can be served at all, possibly as several trees.

    Raises
    ------
    ValueError
        For more than MOST starts.
    """
    if len(starts) > MOST:
        raise ValueError(f"at most {MOST} sources together")
    table = kernels.moves(neighbours, yard.cols)
    price = np.array([prices.digging, prices.deep, terms.below, terms.ladder])
    cells = yard.rows * yard.cols
    able = [_able(yard, start, ends, table, terms.grade) for start in starts]

    exits: dict[tuple[bool, ...], tuple[NDArray[np.int32], NDArray[np.int32], Floats]] = {}

    def grow(
        nodes: NDArray[Any],
        costs: Floats,
        levels: Floats,
        bound: float,
        awaited: Floats,
        allowed: tuple[bool, ...],
        *,
        every: bool,
    ) -> tuple[NDArray[Any], ...]:
        if allowed not in exits:
            exits[allowed] = _exits(ends, allowed, cells)
        return kernels.grow(
            yard.ceiling, yard.floor, yard.ground, yard.rate, yard.is_open, yard.shut, table, yard.cell, terms.grade, price,
            nodes, costs, levels, bound, slack, *exits[allowed], awaited, every,
        )  # fmt: skip

    labels: dict[int, Labels] = {}
    arrivals: dict[tuple[int, int], Arrival] = {}
    best: dict[int, tuple[float, tuple[tuple[int, int], ...]]] = {}
    for bundle in range(1, 1 << len(starts)):
        parts = [(a, bundle ^ a) for a in _halves(bundle)]
        allowed = tuple(may(bundle, number) for number in range(len(ends)))
        bound = math.inf
        split: tuple[tuple[int, int], ...] | None = None
        for a, b in parts:
            if a in best and b in best and best[a][0] + best[b][0] < bound:
                bound, split = best[a][0] + best[b][0], best[a][1] + best[b][1]
        seeds = _own_start(starts, bundle) if not parts else _meetings(parts, labels, prices.wye, bound)
        if parts and not any(allowed):  # together they may end nowhere: no trench is shared
            seeds = tuple(column[:0] for column in seeds)
        node, cost, level, left, right, halves = seeds
        begin = (node.astype(np.int64), cost, level)
        # a label dearer than a way to serve its whole bundle helps no larger one: leaving that bundle to itself is as
        # cheap. Of one source and of all, every outlet is weighed
        every = not parts or bundle == (1 << len(starts)) - 1
        awaited = np.full(len(ends), math.inf)
        if every:
            served = [
                allowed[number] and all(number in able[k] for k in range(len(starts)) if bundle >> k & 1)
                for number in range(len(ends))
            ]
            awaited = np.where(served, math.inf, -math.inf)
        grown = grow(*begin, bound, awaited, allowed, every=every)
        labels[bundle] = _labels(grown, cells, left, right, halves)
        least, where = bound, split
        for number, end in enumerate(ends):
            if not allowed[number]:
                continue
            arrival = arrival_at(labels[bundle], end, terms)
            if arrival is None:
                continue
            arrivals[bundle, number] = arrival
            if arrival.cost < least:
                least, where = arrival.cost, ((bundle, number),)
        if where is not None:
            best[bundle] = (least, where)
    return Network(labels=labels, arrivals=arrivals, best=best)


def _able(yard: Yard, start: Start, ends: Sequence[End], table: NDArray[Any], grade: float) -> set[int]:
    """Outlets at which a source's highest lines arrive at all."""
    reach = reach_sweep(
        yard.ceiling,
        yard.floor,
        yard.is_open,
        yard.shut,
        table,
        yard.cell,
        grade,
        start.nodes.astype(np.int64),
        start.inverts,
    )
    return {number for number, end in enumerate(ends) if (reach[end.nodes] >= end.needs).any()}


def _exits(
    ends: Sequence[End], allowed: Sequence[bool], cells: int
) -> tuple[NDArray[np.int32], NDArray[np.int32], Floats]:
    """Last runs to the ends allowed by the cell that each leaves: first run of each cell, the run's end, its numbers (see `kernels.grow`)."""
    open_ends = [(k, end) for k, end in enumerate(ends) if allowed[k]]
    nodes = np.concatenate([np.zeros(0, np.int32), *(end.nodes for _, end in open_ends)]).astype(np.int32)
    number = np.concatenate([np.full(end.nodes.size, k, np.int32) for k, end in open_ends] or [nodes])
    columns = [(e.needs, e.caps, e.lengths, e.costs, e.digging, e.tops) for _, e in open_ends]
    figures = np.concatenate([np.zeros((0, 6)), *(np.stack(column, axis=1) for column in columns)])
    first, order = kernels.by_node(nodes, cells)
    return first, number[order], figures[order]


def _labels(grown: tuple[NDArray[Any], ...], cells: int, left: Any, right: Any, halves: Any) -> Labels:
    start, order = kernels.by_node(grown[0], cells)
    return Labels(
        node=grown[0], cost=grown[1], level=grown[2], prev=grown[3], seed=grown[4],
        start=start, order=order, left=left, right=right, halves=halves,
    )  # fmt: skip


def _halves(bundle: int) -> list[int]:
    """Proper parts of a bundle that hold its lowest source, so that each split is met once."""
    low = bundle & -bundle
    rest = bundle ^ low
    parts = []
    sub = rest
    while sub:
        sub = (sub - 1) & rest
        parts.append(sub | low)
    return parts


def _own_start(starts: Sequence[Start], bundle: int) -> tuple[NDArray[Any], ...]:
    start = starts[bundle.bit_length() - 1]
    none = np.full(start.nodes.size, -1, np.int32)
    return start.nodes, start.costs, start.inverts, none, none, np.zeros(start.nodes.size, np.int32)


def _meetings(
    parts: list[tuple[int, int]], labels: dict[int, Labels], wye: float, bound: float
) -> tuple[NDArray[Any], ...]:
    pieces: list[tuple[NDArray[Any], ...]] = []
    for a, b in parts:
        one, two = labels[a], labels[b]
        met = kernels.merge(
            one.start, one.order, one.cost, one.level, two.start, two.order, two.cost, two.level, wye, bound
        )
        pieces.append((*met, np.full(met[0].size, a, np.int32)))
    return tuple(np.concatenate([piece[k] for piece in pieces]) for k in range(6))


def arrival_at(labels: Labels, end: End, terms: Terms) -> Arrival | None:
    """Cheapest arrival of a bundle at an outlet.

    Parameters
    ----------
    labels : Labels
        The bundle's settled labels.
    end : End
        Last runs to the outlet.
    terms : Terms
        Least grade.

    Returns
    -------
    Arrival or None
        None when the bundle cannot end there.
    """
    chosen: Arrival | None = None
    first, last = labels.start[end.nodes], labels.start[end.nodes + 1]
    for k in np.flatnonzero(last > first):
        for label in labels.order[first[k] : last[k]]:
            z = labels.level[label]
            if z < end.needs[k]:
                continue
            low = end.caps[k] - (z - terms.grade * end.lengths[k])
            extra = end.digging[k] * 0.5 * (max(0.0, end.tops[k] - z) + max(0.0, low))
            cost = float(labels.cost[label] + end.costs[k] + extra)
            if chosen is None or cost < chosen.cost:
                invert = float(min(z - terms.grade * end.lengths[k], end.caps[k]))
                chosen = Arrival(cost=cost, invert=invert, label=int(label))
    return chosen


def leg_of(network: Network, bundle: int, label: int) -> Leg:
    """The tree above a label, read back from the labels.

    Parameters
    ----------
    network : Network
        What `solve` gave.
    bundle : int
        The bundle the label belongs to.
    label : int
        A settled label of it.

    Returns
    -------
    Leg
        The leg that ends at the label's cell, with the legs that meet at its head.
    """
    labels = network.labels[bundle]
    cells = [int(labels.node[label])]
    at = label
    while labels.prev[at] >= 0:
        at = int(labels.prev[at])
        cells.append(int(labels.node[at]))
    seed = int(labels.seed[label])
    half = int(labels.halves[seed])
    cost = float(labels.cost[label])
    downward = tuple(reversed(cells))
    if half == 0:
        return Leg(cells=downward, source=bundle.bit_length() - 1, above=(), cost=cost)
    above = (
        leg_of(network, half, int(labels.left[seed])),
        leg_of(network, bundle ^ half, int(labels.right[seed])),
    )
    return Leg(cells=downward, source=None, above=above, cost=cost)
