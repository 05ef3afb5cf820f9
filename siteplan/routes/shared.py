"""Yard, starts and ends in; the cheapest set of lines that serves the sources out, sharing trenches where that pays.

Lines of a bundle of sources meet at a cell with cost C1 + C2 and invert min(z1, z2), and run on with
(cost, invert) labels: the tree of least cost over all shapes, joins and outlets on the net. Each label knows the size
of pipe of its line: where two meet, one goes on as the trunk, in its own size, and the other is no larger.

References
----------
S. E. Dreyfus and R. A. Wagner, The Steiner problem in graphs, Networks 1 (1971), 195-207, here with a second
criterion (the invert) and the size of pipe carried on every label (from memory).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from siteplan.books.prices import Prices
from siteplan.routes import kernels
from siteplan.routes.ends import End, Start
from siteplan.routes.labels import (
    Arrival,
    Labels,
    Leg,
    Network,
    arrival_at,
    key_of,
    labels_of,
    leg_of,
    meetings,
    no_labels,
    own_start,
)
from siteplan.routes.reach import reach_sweep
from siteplan.routes.terms import Terms
from siteplan.routes.yard import Floats, Yard

MOST = 5  # sources laid out together over every way to join them; more are searched bundle by bundle
_SLACK = 0.004  # m of invert below which two labels count as equal
_NEVER = 1e-6  # m: a highest line that misses by more than rounding can never arrive


class Kit(NamedTuple):
    """The net as lines of one size see it at one least grade."""

    yard: Yard
    starts: Sequence[Start]
    ends: Sequence[End]
    terms: Terms
    prices: Prices


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gauges:
    """The sizes of pipe that lines may have, smallest first, as a search asks for them.

    `kit` gives the net by number of the size and least grade; `grade` the least grade at which a size carries what a
    bundle brings, None where it carries it at none. `larger` is what lines cost more at the least once one of them is
    of a larger size than the smallest: then one runs in such a size from a source all the way to an outlet.
    """

    count: int
    kit: Callable[[int, float], Kit]
    grade: Callable[[int, int], float | None]
    larger: float = 0.0


def _anywhere(_bundle: int, _end: int) -> bool:
    return True


def _no_limit(_end: int) -> int | None:
    return None


@dataclass(slots=True, kw_only=True, eq=False)
class Search:
    """A search under way: what it is asked, and what it has grown so far."""

    gauges: Gauges
    table: NDArray[Any]
    cells: int
    sources: int
    spare: Floats  # by source and outlet
    may: Callable[[int, int], bool]
    most: tuple[int | None, ...]  # by outlet: how many trees may end there; None: any number
    slack: float
    everyone: int
    labels: dict[int, Labels] = field(default_factory=dict)
    arrivals: dict[tuple[int, int], Arrival] = field(default_factory=dict)
    best: dict[int, tuple[float, tuple[tuple[int, int], ...]]] = field(default_factory=dict)
    made: dict[int, frozenset[tuple[int, int, int, int]]] = field(default_factory=dict)  # what each was grown from
    turn: dict[int, int] = field(default_factory=dict)  # how often each was grown
    grown: int = 0  # bundles grown, again and again: the work done
    exits: dict[Any, tuple[NDArray[np.int32], NDArray[np.int32], Floats]] = field(default_factory=dict)

    @property
    def limited(self) -> bool:
        """Whether some outlet takes a number of trees and no more."""
        return any(number is not None for number in self.most)

    def network(self) -> Network:
        """What was found so far."""
        return Network(labels=self.labels, arrivals=self.arrivals, best=self.best)


def one_size(yard: Yard, starts: Sequence[Start], ends: Sequence[End], terms: Terms, prices: Prices) -> Gauges:
    """Pipe of one size that carries whatever comes.

    Parameters
    ----------
    yard, starts, ends, terms, prices
        As for `solve`.

    Returns
    -------
    Gauges
        Of count 1.
    """
    kit = Kit(yard, starts, ends, terms, prices)
    return Gauges(count=1, kit=lambda _size, _grade: kit, grade=lambda _bundle, _size: terms.grade)


def search_of(
    gauges: Gauges,
    *,
    neighbours: int = 16,
    slack: float = _SLACK,
    may: Callable[[int, int], bool] = _anywhere,
    most: Callable[[int], int | None] = _no_limit,
) -> Search:
    """A search before anything is grown.

    Parameters
    ----------
    gauges : Gauges
        Sizes of pipe; the kit of the smallest at its own least grade tells sources and outlets.
    neighbours, slack, may, most
        As for `solve`.

    Returns
    -------
    Search
        With what each source could have at each outlet by itself.
    """
    yard, starts, ends, terms, _ = gauges.kit(0, -math.inf)
    table = kernels.moves(neighbours, yard.cols)
    spare = np.array([_spare(yard, start, ends, table, terms.grade) for start in starts]).reshape(
        len(starts), len(ends)
    )
    return Search(
        gauges=gauges,
        table=table,
        cells=yard.rows * yard.cols,
        sources=len(starts),
        spare=spare,
        may=may,
        most=tuple(most(number) for number in range(len(ends))),
        slack=slack,
        everyone=(1 << len(starts)) - 1,
    )


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
    most: Callable[[int], int | None] = _no_limit,
    all_or_none: bool = False,
    gauges: Gauges | None = None,
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
    most : callable
        How many trees may end at the outlet of a number; None: any number.
    all_or_none : bool
        True: only all sources together at one outlet are asked for; nothing is searched where none can have them.
    gauges : Gauges, optional
        Sizes of pipe in place of the one that yard, starts, ends, terms and prices speak of.

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
    sizes = gauges or one_size(yard, starts, ends, terms, prices)
    search = search_of(sizes, neighbours=neighbours, slack=slack, may=may, most=most)
    if all_or_none and not _ever(search.spare, search.everyone, _allowed(search, search.everyone)):
        return Network(labels={}, arrivals={}, best={})
    bundles = range(1, search.everyone + 1)
    if sizes.grade(search.everyone, 0) == sizes.grade(0, 0):  # the smallest pipe carries it all
        grow_all(search, bundles)
        return search.network()
    # lines in the smallest pipe, whatever comes, cost no more than any others; where they carry it, they are the answer
    plain = replace(search, gauges=_smallest(sizes, carry=False), **nothing_grown())
    grow_all(plain, bundles)
    costs = {end: arrival.cost for end, arrival in plain.arrivals.items()}
    least = plain.best.get(plain.everyone)
    if least is not None and all(_carried(plain, part, end, sizes) for part, end in least[1]):
        return replace(plain.network(), plain=costs)
    if search.limited or least is None:
        grow_all(search, bundles)
        return replace(search.network(), plain=costs)
    small = replace(search, gauges=_smallest(sizes, carry=True), **nothing_grown())
    for bundle in [b for b in plain.turn if sizes.grade(b, 0) == sizes.grade(0, 0)]:
        small.turn[bundle], small.made[bundle] = plain.turn[bundle], plain.made[bundle]
        small.labels[bundle] = plain.labels[bundle]
        small.arrivals |= {key: arrival for key, arrival in plain.arrivals.items() if key[0] == bundle}
        small.best |= {bundle: plain.best[bundle]} if bundle in plain.best else {}
    grow_all(small, bundles)
    found = small.best.get(small.everyone)
    if sizes.count == 1 or (found is not None and found[0] <= least[0] + sizes.larger):
        return replace(small.network(), plain=costs)
    grow_all(search, bundles)
    return replace(search.network(), plain=costs)


def _smallest(sizes: Gauges, *, carry: bool) -> Gauges:
    """The smallest pipe alone, where it carries what comes or whatever comes."""
    grade = sizes.grade if carry else lambda _bundle, _size: sizes.grade(0, 0)
    return Gauges(count=1, kit=sizes.kit, grade=grade)


def nothing_grown() -> dict[str, Any]:
    """What makes a copy of a search one that has not begun.

    Returns
    -------
    dict
        Fields of `Search`.
    """
    return {"labels": {}, "arrivals": {}, "best": {}, "made": {}, "turn": {}, "exits": {}, "grown": 0}


def _carried(search: Search, bundle: int, end: int, sizes: Gauges) -> bool:
    """Whether the smallest pipe carries at the rules' own grade what comes to each stretch of a tree."""

    def every(leg: Leg) -> bool:
        return sizes.grade(leg.bundle, 0) == sizes.grade(0, 0) and all(every(arm) for arm in leg.above)

    return every(leg_of(search.network(), bundle, search.arrivals[bundle, end].label))


def grow_all(search: Search, family: Iterable[int]) -> None:
    """Grow bundles, each from every two bundles known that make it up, and find the cheapest ways to serve them.

    Parameters
    ----------
    search : Search
        Grows.
    family : iterable of int
        Bundles, in any order; one whose parts have not changed since it was grown is left as it is.
    """
    for bundle in sorted(set(family), key=lambda one: (one.bit_count(), one)):
        known = [a for a in search.turn if a & ~bundle == 0 and a & bundle & -bundle and a != bundle]
        parts = sorted(((a, bundle ^ a) for a in known if bundle ^ a in search.turn), reverse=True)
        if bundle.bit_count() > 1 and not parts:
            continue
        made = frozenset((a, search.turn[a], b, search.turn[b]) for a, b in parts)
        if search.made.get(bundle) == made:
            continue
        search.made[bundle] = made
        search.turn[bundle] = search.turn.get(bundle, 0) + 1
        search.grown += 1
        _grow(search, bundle, parts)


def _allowed(search: Search, bundle: int) -> tuple[bool, ...]:
    return tuple(search.may(bundle, number) for number in range(len(search.most)))


def _grow(search: Search, bundle: int, parts: Sequence[tuple[int, int]]) -> None:
    """One bundle in every size that carries it, and the cheapest way to serve it."""
    for n in range(len(search.most)):
        search.arrivals.pop((bundle, n), None)
    bound, split = _apart(parts, search.best)
    if parts and not _ever(search.spare, bundle, _allowed(search, bundle)):  # they end nowhere: no trench is shared
        search.labels[bundle] = no_labels(search.cells)
    else:
        for size in range(search.gauges.count):
            _in_size(search, bundle, parts, size, bound)
    if search.limited:
        _divided(search, bundle)
        return
    ends = [(search.arrivals[bundle, n].cost, n) for n in range(len(search.most)) if (bundle, n) in search.arrivals]
    if ends and min(ends)[0] < bound:
        search.best[bundle] = (min(ends)[0], ((bundle, min(ends)[1]),))
    elif split is not None:
        search.best[bundle] = (bound, split)


def _in_size(search: Search, bundle: int, parts: Sequence[tuple[int, int]], size: int, bound: float) -> None:
    """Labels of a bundle in pipe of one size, and where they arrive for less than in a smaller one."""
    grade, key = search.gauges.grade(bundle, size), key_of(bundle, size)
    search.labels.pop(key, None)
    pairs = _meeting_pairs(search, parts, size)
    if grade is None or (parts and not pairs):
        return
    kit, allowed = search.gauges.kit(size, grade), _allowed(search, bundle)
    # a label dearer than a way to serve its whole bundle helps no larger one: leaving that bundle to itself is as
    # cheap, unless an outlet has no room for it. Of one source and of all, every outlet is weighed
    every = not parts or bundle == search.everyone
    awaited = np.full(len(allowed), -math.inf)
    if search.limited:
        bound = math.inf
    else:
        served = np.array(allowed, bool) & (search.spare[_members(bundle)] >= 0).all(axis=0)
        awaited[served | (not every)] = math.inf
        smaller = [
            search.arrivals[bundle, n].cost if (bundle, n) in search.arrivals else math.inf
            for n in np.flatnonzero(awaited > 0).tolist()
        ]
        if size and smaller:
            bound = min(bound, (max(smaller) if every else min(smaller)) * (1 + 1e-9))
    if parts:
        seeds = meetings(pairs, kit.prices.wye, bound)
    else:
        start = kit.starts[bundle.bit_length() - 1]
        seeds = own_start(start.nodes, start.costs, start.inverts)
    net, price = kit.yard, np.array([kit.prices.digging, kit.prices.deep, kit.terms.below, kit.terms.ladder])
    grown = kernels.grow(
        net.ceiling,
        net.floor,
        net.ground,
        net.rate,
        net.is_open,
        net.shut,
        search.table,
        net.cell,
        kit.terms.grade,
        price,
        seeds[0].astype(np.int64),
        seeds[1],
        seeds[2],
        bound,
        search.slack,
        *exits_of(search, kit, size, allowed),
        awaited,
        every,
    )
    search.labels[key] = labels_of(grown, search.cells, seeds, pairs, bundle=bundle, size=size, grade=kit.terms.grade)
    for number in itertools.compress(range(len(kit.ends)), allowed):
        arrival = arrival_at(search.labels[key], kit.ends[number], kit.terms, size)
        before = search.arrivals.get((bundle, number))
        if arrival is not None and (before is None or arrival.cost < before.cost):
            search.arrivals[bundle, number] = arrival


def _meeting_pairs(search: Search, parts: Sequence[tuple[int, int]], size: int) -> list[tuple[Labels, Labels]]:
    """What may meet to run on in a size: the trunk lies in it already, what comes in is no larger."""
    pairs = []
    for a, b in parts:
        for other in range(size + 1):
            pairs.append((key_of(a, size), key_of(b, other)))
            if other < size:
                pairs.append((key_of(a, other), key_of(b, size)))
    labels = search.labels
    return [(labels[a], labels[b]) for a, b in pairs if a in labels and b in labels]


def _divided(search: Search, bundle: int) -> None:
    """The cheapest trees that serve a bundle where outlets take so many trees and no more."""
    whole: dict[tuple[int, tuple[int, ...]], tuple[float, tuple[tuple[int, int], ...]]] = {}
    ends = [(part, n, arrival.cost) for (part, n), arrival in search.arrivals.items()]

    def rest(left: int, used: tuple[int, ...]) -> tuple[float, tuple[tuple[int, int], ...]]:
        if not left:
            return 0.0, ()
        if (left, used) not in whole:
            found: tuple[float, tuple[tuple[int, int], ...]] = (math.inf, ())
            for part, n, cost in ends:
                room = search.most[n]
                if part & ~left or not part & left & -left or (room is not None and used[n] >= room):
                    continue
                more = tuple(count + (k == n and room is not None) for k, count in enumerate(used))
                then = rest(left ^ part, more)
                if cost + then[0] < found[0]:
                    found = (cost + then[0], ((part, n), *then[1]))
            whole[left, used] = found
        return whole[left, used]

    found = rest(bundle, (0,) * len(search.most))
    if found[0] < math.inf:
        search.best[bundle] = found


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


def exits_of(
    search: Search, kit: Kit, size: int, allowed: tuple[bool, ...]
) -> tuple[NDArray[np.int32], NDArray[np.int32], Floats]:
    """Last runs of a size to the ends allowed, by the cell that each leaves.

    Parameters
    ----------
    search : Search
        Keeps what was worked out.
    kit : Kit
        Of the size.
    size : int
        Its number.
    allowed : tuple of bool
        By outlet.

    Returns
    -------
    tuple of ndarray
        First run of each cell, each run's end, each run's numbers (see `kernels.grow`).
    """
    asked = (size, kit.terms.grade, allowed)
    if asked not in search.exits:
        search.exits[asked] = _exits(kit.ends, allowed, search.cells)
    return search.exits[asked]


def _exits(
    ends: Sequence[End], allowed: Sequence[bool], cells: int
) -> tuple[NDArray[np.int32], NDArray[np.int32], Floats]:
    """Last runs to the ends allowed by the cell that each leaves.

    First run of each cell, the run's end, its numbers (see `kernels.grow`).
    """
    open_ends = [(k, end) for k, end in enumerate(ends) if allowed[k]]
    nodes = np.concatenate([np.zeros(0, np.int32), *(end.nodes for _, end in open_ends)]).astype(np.int32)
    number = np.concatenate([np.full(end.nodes.size, k, np.int32) for k, end in open_ends] or [nodes])
    columns = [(e.needs, e.caps, e.lengths, e.costs, e.digging, e.tops) for _, e in open_ends]
    figures = np.concatenate([np.zeros((0, 6)), *(np.stack(column, axis=1) for column in columns)])
    first, order = kernels.by_node(nodes, cells)
    return first, number[order], figures[order]


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
