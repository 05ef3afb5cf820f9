"""Labels of bundles of sources over a net in; where bundles meet, how they arrive, and the tree above a label, out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from siteplan.routes import kernels
from siteplan.routes.ends import End
from siteplan.routes.terms import Terms
from siteplan.routes.yard import Floats

_SIZES = 40  # bits below the number of a size in a key: more than sources of any lot


def key_of(bundle: int, size: int = 0) -> int:
    """The key of a bundle's labels in pipe of a size: the bundle itself in the smallest.

    Parameters
    ----------
    bundle : int
        A bit mask of source numbers.
    size : int
        Number of the size of the line that the bundle's water is in, smallest 0.

    Returns
    -------
    int
        Of `Network.labels`.
    """
    return bundle | size << _SIZES


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Labels:
    """Settled labels of one bundle in one size, and where each began."""

    node: NDArray[np.int32]
    cost: Floats
    level: Floats
    prev: NDArray[np.int32]
    seed: NDArray[np.int32]
    start: NDArray[np.int32]
    order: NDArray[np.int32]
    left: NDArray[np.int32]  # by seed: label of the first half, or of nothing
    right: NDArray[np.int32]
    meeting: NDArray[np.int32]  # by seed: number in `halves`; -1 for a source's own start
    halves: tuple[tuple[Labels, Labels], ...]  # what meets
    bundle: int = 0
    size: int = 0
    grade: float = 0.0  # least grade that they were grown with


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """A bundle at an outlet: total cost, invert on arrival, the label it came from, the size of its last line."""

    cost: float
    invert: float
    label: int
    size: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A stretch of the tree, cells from its upper end down. Either a source starts it or two legs meet at its head."""

    cells: tuple[int, ...]
    source: int | None
    above: tuple[Leg, ...]
    cost: float
    size: int = 0
    grade: float = 0.0  # least grade at which that size carries what comes
    bundle: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Network:
    """Labels and arrivals of every bundle looked at: what serving any sources together at any outlet costs."""

    labels: dict[int, Labels]  # by `key_of`
    arrivals: dict[tuple[int, int], Arrival]  # (bundle, outlet number)
    best: dict[int, tuple[float, tuple[tuple[int, int], ...]]]  # bundle -> cost, its (part, outlet number)
    plain: Mapping[tuple[int, int], float] = field(
        default_factory=dict
    )  # cost at an outlet if the smallest pipe carried it


def labels_of(
    grown: tuple[NDArray[Any], ...],
    cells: int,
    seeds: tuple[Any, ...],
    halves: Sequence[tuple[Labels, Labels]],
    *,
    bundle: int,
    size: int,
    grade: float,
) -> Labels:
    """What the kernel grew, by cell.

    Parameters
    ----------
    grown : tuple of ndarray
        From `kernels.grow`.
    cells : int
        Of the net.
    seeds : tuple
        From `own_start` or `meetings`.
    halves : sequence of tuple of Labels
        What met.
    bundle, size : int
        Whose they are, and of which size of pipe.
    grade : float
        Least grade they were grown with [-].

    Returns
    -------
    Labels
        Each cell's by cost.
    """
    start, order = kernels.by_node(grown[0], cells)
    return Labels(
        node=grown[0],
        cost=grown[1],
        level=grown[2],
        prev=grown[3],
        seed=grown[4],
        start=start,
        order=order,
        left=seeds[3],
        right=seeds[4],
        meeting=seeds[5],
        halves=tuple(halves),
        bundle=bundle,
        size=size,
        grade=grade,
    )


def no_labels(cells: int) -> Labels:
    """A bundle that comes nowhere.

    Parameters
    ----------
    cells : int
        Of the net.

    Returns
    -------
    Labels
        Empty.
    """
    none, nowhere = np.zeros(0, np.int32), np.zeros(0)
    return Labels(
        node=none,
        cost=nowhere,
        level=nowhere,
        prev=none,
        seed=none,
        start=np.zeros(cells + 1, np.int32),
        order=none,
        left=none,
        right=none,
        meeting=none,
        halves=(),
    )


def own_start(nodes: NDArray[Any], costs: Floats, inverts: Floats) -> tuple[Any, ...]:
    """Seeds of a source by itself.

    Parameters
    ----------
    nodes, costs, inverts : ndarray
        Of its first runs.

    Returns
    -------
    tuple
        Node, cost, invert, and three arrays that say that nothing met.
    """
    none = np.full(nodes.size, -1, np.int32)
    return nodes, costs, inverts, none, none, none


def meetings(pairs: Sequence[tuple[Labels, Labels]], wye: float, bound: float) -> tuple[Any, ...]:
    """Seeds of a bundle whose halves meet.

    Parameters
    ----------
    pairs : sequence of tuple of Labels
        Of the two halves of each way to part it.
    wye : float
        What a wye costs.
    bound : float
        Above which no meeting is wanted.

    Returns
    -------
    tuple
        Node, cost, invert, labels of both, number of the pair.
    """
    pieces: list[tuple[NDArray[Any], ...]] = []
    for number, (one, two) in enumerate(pairs):
        met = kernels.merge(
            one.start, one.order, one.cost, one.level, two.start, two.order, two.cost, two.level, wye, bound
        )
        pieces.append((*met, np.full(met[0].size, number, np.int32)))
    return tuple(np.concatenate([piece[k] for piece in pieces]) for k in range(6))


def arrival_at(labels: Labels, end: End, terms: Terms, size: int = 0) -> Arrival | None:
    """Cheapest arrival of a bundle at an outlet.

    Parameters
    ----------
    labels : Labels
        The bundle's settled labels.
    end : End
        Last runs to the outlet.
    terms : Terms
        Least grade.
    size : int
        Number of the size that the labels are of.

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
                chosen = Arrival(cost=cost, invert=invert, label=int(label), size=size)
    return chosen


def leg_of(network: Network, bundle: int, label: int, size: int = 0) -> Leg:
    """The tree above a label, read back from the labels.

    Parameters
    ----------
    network : Network
        What a search gave.
    bundle : int
        The bundle the label belongs to.
    label : int
        A settled label of it.
    size : int
        Number of the size that the label is of.

    Returns
    -------
    Leg
        The leg that ends at the label's cell, with the legs that meet at its head.
    """
    return _leg(network.labels[key_of(bundle, size)], label)


def _leg(labels: Labels, label: int) -> Leg:
    cells = [int(labels.node[label])]
    at = label
    while labels.prev[at] >= 0:
        at = int(labels.prev[at])
        cells.append(int(labels.node[at]))
    seed = int(labels.seed[label])
    met = int(labels.meeting[seed])
    downward, cost = tuple(reversed(cells)), float(labels.cost[label])
    if met < 0:
        number = labels.bundle.bit_length() - 1
        return Leg(
            cells=downward,
            source=number,
            above=(),
            cost=cost,
            size=labels.size,
            grade=labels.grade,
            bundle=labels.bundle,
        )
    one, other = labels.halves[met]
    above = (_leg(one, int(labels.left[seed])), _leg(other, int(labels.right[seed])))
    return Leg(
        cells=downward, source=None, above=above, cost=cost, size=labels.size, grade=labels.grade, bundle=labels.bundle
    )
