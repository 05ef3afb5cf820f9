"""Yard, starts and ends in; the cheapest set of lines that serves the sources out, sharing trenches where that pays.

Lines of a bundle of sources meet at a cell with cost C1 + C2 and invert min(z1, z2), and run on with
(cost, invert) labels: the tree of least cost over all shapes, joins and outlets on the net.

References
----------
S. E. Dreyfus and R. A. Wagner, The Steiner problem in graphs, Networks 1 (1971), 195-207, here with a second
criterion (the invert) carried on every label (from memory).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
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
_NEVER = 1e-6  # m: a highest line that misses by more than rounding can never arrive


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
    all_or_none: bool = False,
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
    all_or_none : bool
        True: only all sources together at one outlet are asked for; nothing is searched where none can have them.

    Returns
    -------
    Network
        A bundle is a bit mask of source numbers. `best` holds the cheapest way to serve each bundle that
        can be served at all, possibly as several trees. A bundle of several that no outlet can have has no labels.

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
    spare = np.array([_spare(yard, start, ends, table, terms.grade) for start in starts]).reshape(-1, len(ends))
    everyone = (1 << len(starts)) - 1

    def allowed_ends(bundle: int) -> tuple[bool, ...]:
        return tuple(may(bundle, number) for number in range(len(ends)))

    if all_or_none and not _ever(spare, everyone, allowed_ends(everyone)):
        return Network(labels={}, arrivals={}, best={})
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
    for bundle in range(1, everyone + 1):
        parts = [(a, bundle ^ a) for a in _halves(bundle)]
        allowed = allowed_ends(bundle)
        bound, split = _apart(parts, best)
        if parts and not _ever(spare, bundle, allowed):  # together they end nowhere: no trench is shared
            labels[bundle] = _no_labels(cells)
            if split is not None:
                best[bundle] = (bound, split)
            continue
        seeds = _own_start(starts, bundle) if not parts else _meetings(parts, labels, prices.wye, bound)
        node, cost, level, left, right, halves = seeds
        begin = (node.astype(np.int64), cost, level)
        # a label dearer than a way to serve its whole bundle helps no larger one: leaving that bundle to itself is as
        # cheap. Of one source and of all, every outlet is weighed
        every = not parts or bundle == everyone
        served = np.array(allowed, bool) & (spare[_members(bundle)] >= 0).all(axis=0)
        awaited = np.where(served | (not every), math.inf, -math.inf)
        grown = grow(*begin, bound, awaited, allowed, every=every)
        labels[bundle] = _labels(grown, cells, left, right, halves)
        least, where = bound, split
        for number in itertools.compress(range(len(ends)), allowed):
            arrival = arrival_at(labels[bundle], ends[number], terms)
            if arrival is None:
                continue
            arrivals[bundle, number] = arrival
            if arrival.cost < least:
                least, where = arrival.cost, ((bundle, number),)
        if where is not None:
            best[bundle] = (least, where)
    return Network(labels=labels, arrivals=arrivals, best=best)


def _spare(yard: Yard, start: Start, ends: Sequence[End], table: NDArray[Any], grade: float) -> list[float]:
    """By how much a source's highest lines arrive above what each outlet needs [m]; minus infinity where none comes."""
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
    return [float(np.max(reach[end.nodes] - end.needs, initial=-math.inf)) for end in ends]


def _members(bundle: int) -> list[int]:
    return [k for k in range(bundle.bit_length()) if bundle >> k & 1]


def _ever(spare: Floats, bundle: int, allowed: Sequence[bool]) -> bool:
    """Whether any one outlet can have all sources of a bundle: it may, and each of them gets there by itself."""
    can = (spare[_members(bundle)] > -_NEVER).all(axis=0)
    return bool((can & np.array(allowed, bool)).any())


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


def _apart(
    parts: Sequence[tuple[int, int]], best: Mapping[int, tuple[float, tuple[tuple[int, int], ...]]]
) -> tuple[float, tuple[tuple[int, int], ...] | None]:
    """Cost of a bundle served in two parts, and the trees of both; infinite and None where it cannot be."""
    bound: float = math.inf
    split: tuple[tuple[int, int], ...] | None = None
    for a, b in parts:
        if a in best and b in best and best[a][0] + best[b][0] < bound:
            bound, split = best[a][0] + best[b][0], best[a][1] + best[b][1]
    return bound, split


def _no_labels(cells: int) -> Labels:
    none, nowhere = np.zeros(0, np.int32), np.zeros(0)
    return Labels(
        node=none, cost=nowhere, level=nowhere, prev=none, seed=none,
        start=np.zeros(cells + 1, np.int32), order=none, left=none, right=none, halves=none,
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
