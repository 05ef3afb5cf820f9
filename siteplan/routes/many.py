"""More sources than can be joined in every way in.

Lines that serve them, a bound under which no lines are, and the gap, out.

Sources in the order in which they stand round the house: every stretch of that order is a bundle, grown from its parts,
so that all trees that do not cross themselves between neighbours are weighed at once. What is found is improved: one
source at a time is taken out and may be put back anywhere, two change places, two branches that follow one another
change their order; places of wyes and outlets are found anew each time. The work is counted in bundles grown, so that
the same input has the same answer.

References
----------
R. E. Erickson, C. L. Monma and A. F. Veinott, Send-and-split method for minimum-concave-cost network flows, Mathematics
of Operations Research 12 (1987), 634-664: stretches of a circular order are enough where sources stand round one face
(from memory).
"""

from __future__ import annotations

import itertools
import math
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from siteplan.routes.bounds import least_cost
from siteplan.routes.labels import Leg, leg_of
from siteplan.routes.shared import Search, grow_all, nothing_grown
from siteplan.routes.straight import Place
from siteplan.values.tried import SearchEffort, SearchResult, SearchStop

Told = Callable[[float, float], None]  # share of the work done, gap as it is
_NEAR = 3  # neighbours with which a source is tried in exchange
_BETTER = 1e-9
_ROUGH = 0.03  # m of invert below which two lines count as equally high while joins are looked for


def searched(
    search: Search, places: Sequence[Place], effort: SearchEffort, told: Told | None = None
) -> SearchResult | None:
    """Serve many sources, and say how near to the least cost that is.

    Parameters
    ----------
    search : Search
        Grows; afterwards its `best` of `everyone` is what was found. Sources that no outlet can have are left out of
        it.
    places : sequence of tuple
        Of the sources [m].
    effort : SearchEffort
        When to stop.
    told : callable, optional
        Is told how far the search has come.

    Returns
    -------
    SearchResult or None
        None where no source comes to any outlet.
    """
    began = time.monotonic()
    grow_all(search, [1 << k for k in range(search.everyone.bit_length())])
    can = [k for k in range(search.everyone.bit_length()) if 1 << k in search.best]
    search.everyone = sum(1 << k for k in can)
    if not can:
        return None
    bound = least_cost(search) if math.isfinite(effort.gap) else 0.0
    rough = replace(search, slack=max(search.slack, _ROUGH), **nothing_grown())

    def cost() -> float:
        return rough.best[rough.everyone][0] if rough.everyone in rough.best else math.inf

    def stop() -> SearchStop | None:
        if told is not None:
            told(min(1.0, rough.grown / effort.steps), cost() / bound - 1 if bound > 0 else math.inf)
        if cost() <= bound * (1 + effort.gap) or (math.isinf(effort.gap) and cost() < math.inf):
            return "gap"
        if rough.grown >= effort.steps:
            return "steps"
        return "time" if effort.seconds is not None and time.monotonic() - began >= effort.seconds else None

    for order in _orders([places[k] for k in can]):
        grow_all(rough, _stretches([can[k] for k in order]))
        if stop():
            break
    stopped, before = stop(), math.inf
    while not stopped and cost() < before - _BETTER:
        before = cost()
        for family in _changes(rough, can, places):
            grow_all(rough, family)
            stopped = stop()
            if stopped:
                break
    # the joins found, once more without counting lines a hand apart in height as equal
    grow_all(search, [*_held(rough), search.everyone])
    if search.everyone not in search.best:
        grow_all(search, _stretches([can[k] for k in next(_orders([places[k] for k in can]))]))
    if told is not None:
        told(1.0, cost() / bound - 1 if bound > 0 else math.inf)
    found = search.best[search.everyone][0] if search.everyone in search.best else math.inf
    return SearchResult(
        sources=len(can),
        cost=found,
        bound=min(bound, found),
        steps=rough.grown + search.grown,
        stopped=stopped or "no-better",
        gap_asked=effort.gap,
        steps_asked=effort.steps,
        seconds_asked=effort.seconds,
    )


def _orders(places: Sequence[Place]) -> Iterator[list[int]]:
    """Circular orders of places: round their middle, and along a short round trip."""
    x, y = (sum(place[k] for place in places) / len(places) for k in (0, 1))
    yield sorted(range(len(places)), key=lambda k: (round(math.atan2(places[k][1] - y, places[k][0] - x), 9), k))
    yield _round_trip(places)


def _round_trip(places: Sequence[Place]) -> list[int]:
    """A short round trip.

    Each place put in where it lengthens it least, then stretches turned round while that helps.
    """

    def away(a: int, b: int) -> float:
        return math.dist(places[a], places[b])

    trip: list[int] = []
    for k in range(len(places)):
        if len(trip) < 2:
            trip.append(k)
            continue
        after = range(len(trip))
        at = min(
            after, key=lambda n: (round(away(trip[n - 1], k) + away(k, trip[n]) - away(trip[n - 1], trip[n]), 9), n)
        )
        trip.insert(at, k)
    better = True
    while better:
        better = False
        for i, j in itertools.combinations(range(len(trip)), 2):
            a, b, c, d = trip[i - 1], trip[i], trip[j], trip[(j + 1) % len(trip)]
            if a != c and b != d and away(a, c) + away(b, d) < away(a, b) + away(c, d) - 1e-9:
                trip[i : j + 1] = reversed(trip[i : j + 1])
                better = True
    return trip


def _stretches(order: Sequence[int]) -> list[int]:
    """Every stretch of a circular order, as bundles."""
    n = len(order)
    return [sum(1 << order[(first + k) % n] for k in range(length)) for length in range(1, n + 1) for first in range(n)]


def _changes(search: Search, can: Sequence[int], places: Sequence[Place]) -> Iterator[list[int]]:
    """Families of bundles, each of which holds what a change of the best lines found would need."""
    for k in can:
        yield _put_back(search, k)
    for k in can:
        near = sorted(
            (other for other in can if other > k), key=lambda o: (round(math.dist(places[k], places[o]), 6), o)
        )
        for other in near[:_NEAR]:
            yield _exchanged(search, 1 << k | 1 << other)
    yield _reordered(search)


def _put_back(search: Search, k: int) -> list[int]:
    """One source out of every bundle, and in every bundle."""
    held, one = _held(search), 1 << k
    return [c for bundle in held for c in (bundle & ~one, bundle | one) if c] + [search.everyone]


def _exchanged(search: Search, two: int) -> list[int]:
    """Two sources in each other's place."""
    return [bundle ^ two if (bundle & two).bit_count() == 1 else bundle for bundle in _held(search)]


def _reordered(search: Search) -> list[int]:
    """Of two meetings that follow one another, the one before the other."""
    held = _held(search)
    more = []
    for a, b in itertools.combinations(held, 2):
        if not a & b:
            more.append(a | b)
    return [*more, search.everyone]


def _held(search: Search) -> list[int]:
    """Bundles of the best lines found: one for every meeting and every tree."""
    network, found = search.network(), set()
    for bundle, number in search.best.get(search.everyone, (0.0, ()))[1]:
        arrival = search.arrivals[bundle, number]
        found |= {bundle, *_met(leg_of(network, bundle, arrival.label, arrival.size))}
    return sorted(found | {1 << k for k in range(search.everyone.bit_length()) if search.everyone >> k & 1})


def _met(leg: Leg) -> set[int]:
    """Bundles of the legs of a tree."""
    return {leg.bundle}.union(*(_met(arm) for arm in leg.above))
