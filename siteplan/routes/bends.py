"""A proven chain of straight runs in; the same line with fewer and more usual bends out, each change proven again.

The choice of runs sees only places on the route. Here bends are left out, merged and moved off it: a change stays
when the line still falls under its limits and its trench, crossings, digging and bends cost less together.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

import numpy as np

from siteplan.books.practice import JOINTS_GIVE, NEAREST_GROUND
from siteplan.books.prices import Prices
from siteplan.routes.lattice import EVEN
from siteplan.routes.straight import (
    STANDARD,
    Place,
    RunTarget,
    at_standard_turn,
    bend_price,
    branch_longer,
    chain_price,
    join_price,
    lawful_chain,
    turn,
    with_standard_bends,
)
from siteplan.routes.terms import Terms
from siteplan.routes.trace import Trace, trace
from siteplan.routes.yard import Floats, Yard
from siteplan.site import Site
from siteplan.values.water_ends import Source

_ROUNDS = 40  # changes made to one line at most
_TRIED = 120  # changes proven for one line at most
SHORTEST = 0.15  # m, of a run between two bends
_SPACING = 0.1  # m between samples; the finished line is proven finer
GAIN = 1e-6


def highest(along: Trace, grade: float) -> tuple[Floats, Floats]:
    """Highest inverts on the samples of a trace under its ceilings, and its floors.

    Parameters
    ----------
    along : Trace
        The line.
    grade : float
        Least fall over length [-].

    Returns
    -------
    tuple of ndarray, shape (n,) [m]
        Inverts and floors.

    References
    ----------
    z(t) = min over u >= t of ceiling(u) - grade (u - t): difference constraints have a highest member.
    """
    lowered = along.ceiling - grade * along.station
    return np.minimum.accumulate(lowered[::-1])[::-1] + grade * along.station, along.floor


def neater(
    site: Site,
    yard: Yard,
    chain: Sequence[Place],
    source: Source,
    target: RunTarget,
    terms: Terms,
    prices: Prices,
    *,
    margin: float = 0.0,
    branches: Sequence[Sequence[Place]] = (),
) -> tuple[Place, ...]:
    """A line with fewer and more usual bends.

    Parameters
    ----------
    site : Site
        For the ground.
    yard : Yard
        For where a line may run.
    chain : sequence of tuple
        Bends from the source to the end [m].
    source : Source
        The start.
    target : Target
        The end is one of its places, and stays.
    terms : Terms
        Cover, depth, grade, zones.
    prices : Prices
        Relative prices.
    margin : float
        Kept from the ceilings [m].
    branches : sequence of sequence of tuple
        Routes of lines that join this one, as `straighten` takes them [m].

    Returns
    -------
    tuple of tuple
        Bends [m]; the chain itself where nothing better is proven.
    """
    best = tuple(chain)
    cost = proven_cost(site, yard, best, source, target, terms, prices, margin=margin, branches=branches)
    tried = 0
    for _ in range(_ROUNDS):
        # cheapest in plan first: bends and length decide what is worth proving
        options = {option: _in_plan(option, target, prices) for option in changes(best)}
        now = _in_plan(best, target, prices)
        for option in sorted(options, key=lambda option: round(options[option], EVEN)):
            if options[option] >= now - GAIN or tried == _TRIED:
                return best
            tried += 1
            found = proven_cost(site, yard, option, source, target, terms, prices, margin=margin, branches=branches)
            if found < cost - GAIN:
                best, cost = option, found
                break
        else:
            return best
    return best


def proven_cost(
    site: Site,
    yard: Yard,
    chain: Sequence[Place],
    source: Source,
    target: RunTarget,
    terms: Terms,
    prices: Prices,
    *,
    margin: float = 0.0,
    branches: Sequence[Sequence[Place]] = (),
) -> float:
    """What a chain costs when it runs as high as it may; infinite when it breaks a limit.

    Parameters
    ----------
    site : Site
        For the ground.
    yard : Yard
        For where a line may run.
    chain : sequence of tuple
        Bends from the source to the end [m].
    source : Source
        The start.
    target : Target
        The end is one of its places.
    terms : Terms
        Cover, depth, grade, zones.
    prices : Prices
        Relative prices.
    margin : float
        Kept from the ceilings [m].
    branches : sequence of sequence of tuple
        Routes of lines that join this one, as `straighten` takes them [m].

    Returns
    -------
    float
        Relative cost.
    """
    from shapely.geometry import LineString

    if not lawful_chain(yard.grounds, chain):
        return math.inf
    along = trace(site, yard.grounds, tuple(reversed(chain)), source, target.outlet, terms, spacing=_SPACING)
    inverts, floors = highest(along, terms.grade)
    inverts = inverts - np.where(along.station > 0, margin, 0.0)
    arrives = inverts[0] >= target.least[target.places.index(chain[-1])]
    if not along.known.all() and not _known_enough(along):
        return math.inf
    if not arrives or not (inverts >= floors - 1e-9).all():
        return math.inf
    bottom = along.ground - inverts + terms.below
    dug = prices.digging * bottom + prices.deep * np.maximum(0.0, bottom - terms.ladder)
    digging = float((0.5 * (dug[1:] + dug[:-1]) * np.diff(along.station)).sum())
    drawn = np.array([LineString(chain)])
    longer = sum(float(branch_longer(branch, drawn)[0]) for branch in branches)
    joined = _joining(chain, target, prices) + (prices.trench + prices.digging) * longer
    return chain_price(yard.grounds, chain, prices) + joined + digging


def _known_enough(along: Trace) -> bool:
    length = float(along.station[-1])
    inside = (along.station > NEAREST_GROUND) & (along.station < length - NEAREST_GROUND)
    return bool(along.known[inside].all())


def _joining(chain: Sequence[Place], target: RunTarget, prices: Prices) -> float:
    heading = target.heading[target.places.index(chain[-1])]
    return join_price(chain[-2], chain[-1], heading, prices)


def _in_plan(chain: Sequence[Place], target: RunTarget, prices: Prices) -> float:
    """Length, bends and join: the part of the cost that is read off the plan."""
    total = prices.trench * sum(math.dist(a, b) for a, b in itertools.pairwise(chain))
    total += sum(bend_price(turn(*chain[k - 1 : k + 2]), prices) for k in range(1, len(chain) - 1))
    # a run too short to lay between two bends is as bad as a bend more
    total += prices.bend * sum(math.dist(a, b) < SHORTEST for a, b in itertools.pairwise(chain[1:-1]))
    return total + _joining(chain, target, prices)


def changes(chain: tuple[Place, ...]) -> Iterator[tuple[Place, ...]]:
    """Chains one change away: a bend left out, two merged, one moved to a standard turn, all moved to standard turns.

    Parameters
    ----------
    chain : tuple of tuple
        Bends [m].

    Yields
    ------
    tuple of tuple
        With the same ends; not proven.
    """
    neat = with_standard_bends(chain)
    if neat != chain:
        yield neat
    for k in range(1, len(chain) - 1):
        before, here, after = chain[k - 1], chain[k], chain[k + 1]
        yield (*chain[:k], *chain[k + 1 :])
        moved = [at_standard_turn(before, here, after)]
        for standard in STANDARD:
            moved += _slid(before, here, after, standard)
            moved += _slid(after, here, before, standard)
        for place in moved:
            if math.dist(place, here) > 1e-6:
                yield (*chain[:k], place, *chain[k + 1 :])
        if k + 2 < len(chain):
            meeting = _crossing(before, here, after, chain[k + 2])
            if meeting is not None:
                yield (*chain[:k], meeting, *chain[k + 2 :])
        if k + 3 < len(chain):
            meeting = _crossing(before, here, chain[k + 2], chain[k + 3])
            if meeting is not None:
                yield (*chain[:k], meeting, *chain[k + 3 :])


def _slid(a: Place, v: Place, b: Place, standard: float) -> list[Place]:
    """The bend moved along its run from a, so that the turn on to b is a standard one."""
    run = math.dist(a, v)
    if run < 1e-9 or turn(a, v, b) <= JOINTS_GIVE:
        return []
    ux, uy = (v[0] - a[0]) / run, (v[1] - a[1]) / run
    ahead = (b[0] - a[0]) * ux + (b[1] - a[1]) * uy
    off = abs((b[1] - a[1]) * ux - (b[0] - a[0]) * uy)
    back = 0.0 if standard == 90.0 else off / math.tan(math.radians(standard))
    at = ahead - back
    return [(a[0] + ux * at, a[1] + uy * at)] if at > SHORTEST else []


def _crossing(a: Place, b: Place, c: Place, d: Place) -> Place | None:
    """Where the run from a through b, drawn on, meets the run from d through c, drawn back."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], c[0] - d[0], c[1] - d[1]
    across = ux * vy - uy * vx
    if abs(across) < 1e-9 * (abs(ux) + abs(uy)) * (abs(vx) + abs(vy)):
        return None
    s = ((d[0] - a[0]) * vy - (d[1] - a[1]) * vx) / across
    t = ((d[0] - a[0]) * uy - (d[1] - a[1]) * ux) / across
    return (a[0] + s * ux, a[1] + s * uy) if s > 0 and t > 0 else None
