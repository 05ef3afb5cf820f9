"""A coarse site in.

By how much its corners can fall to the street and to the rear, and what that says at its survey's accuracy, out.

The reach of each corner, the last runs and the lawful places for daylight are the planner's own (`routes`, `yard`),
over a coarse net; a way over a coarse net is a little longer than a real one, so that fall to spare is told a little
too small.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from siteplan.books.prices import DEFAULT_PRICES
from siteplan.fall.doubt import chance_above, fall_doubt
from siteplan.routes.daylight import last_runs, lawful_ends
from siteplan.routes.ends import End, Start, end_of, start_of
from siteplan.routes.outlets import named_outlets
from siteplan.routes.terms import Terms, terms
from siteplan.routes.yard import Yard, grounds_of, usual_cell, yard_of
from siteplan.screen.asked import SURE_FROM, ScreenState, ScreenWhy
from siteplan.site import Floats, Site
from siteplan.values.forecasts import LowSpot
from siteplan.values.water_ends import Outlet
from siteplan.waterworks.sizing import on_offer
from siteplan.yard.candidates import Swept, swept

_CELLS = 1500  # places of the net on a lot
_FINEST = 0.6  # m
_MOST_ENDS, _MOST_NODES = 60, 500  # lawful places, and places of the net, between which a shortage is measured

Place = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fall:
    """Fall to spare of one corner by one way out [m], and where that way ends. -inf: no open way at all."""

    spare: float
    end: Place | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What a lot's corners can do. Margins are the least of all corners."""

    state: ScreenState
    margin: float | None
    street: float | None
    rear: float | None
    chance: float | None
    why: ScreenWhy
    deciding: tuple[Place, Place | None]  # corner, end of its better way


def judged_site(site: Site, spots: tuple[LowSpot, ...]) -> Judged:
    """Judge a coarse site.

    Parameters
    ----------
    site : Site
        From `coarse_site`, with at least one source.
    spots : tuple of LowSpot
        Wet ground: no outlet lies in it.

    Returns
    -------
    Judged
        A lot drains where every corner has a way that is there with a chance of `SURE_FROM` at the least, and is short
        where one has none with that chance; in between nobody can tell.
    """
    pipe = on_offer(site.sizing)[0]
    asked, outlets = terms(site.rules, pipe), named_outlets(site)
    grounds = grounds_of(site, outlets, spots, asked, DEFAULT_PRICES)
    yard = yard_of(site, grounds, asked, DEFAULT_PRICES, cell=usual_cell(grounds, cells=_CELLS, finest=_FINEST))
    ends = [(outlet, end_of(site, yard, outlet, asked, DEFAULT_PRICES)) for outlet in outlets]
    nodes = np.flatnonzero(yard.is_open)
    lawful = nodes[lawful_ends(site, yard, nodes, spots, sump=False)] if nodes.size else nodes
    falls: list[tuple[Fall, Fall]] = []
    for source in site.sources:
        start = start_of(site, yard, source, asked, DEFAULT_PRICES)
        reach = swept(yard, start, asked)
        deep = cache(partial(swept, yard, start, asked, any_depth=True))  # asked for where no legal line arrives
        falls.append((_to_street(reach, deep, start, ends, asked), _to_rear(yard, reach, deep, lawful, asked)))
    return _told(site, falls, bool(outlets))


def _to_street(
    reach: Swept, deep: Callable[[], Swept], start: Start, ends: Sequence[tuple[Outlet, End]], asked: Terms
) -> Fall:
    best = Fall(spare=-math.inf, end=None)
    for outlet, end in ends:
        if not start.nodes.size or not end.nodes.size:
            continue
        z, legal = reach.inverts[end.nodes], reach.inverts[end.nodes] >= end.needs
        if legal.any():
            spare = float(np.minimum(z - asked.grade * end.lengths, end.free)[legal].max() - outlet.control)
        else:
            # short of fall, or too deep on the way: by how much, as `why_not` of the planner measures it
            z = deep().inverts[end.nodes]
            least = np.minimum(np.minimum(z - asked.grade * end.lengths, end.caps) - outlet.control, z - end.needs)
            spare = min(float(least.max()), 0.0)
        if spare > best.spare:
            best = Fall(spare=spare, end=(outlet.x, outlet.y))
    return best


def _to_rear(yard: Yard, reach: Swept, deep: Callable[[], Swept], lawful: NDArray[np.intp], asked: Terms) -> Fall:
    if not lawful.size:
        return Fall(spare=-math.inf, end=None)
    control = yard.ground[lawful] + asked.daylight_allowance
    legal, free = last_runs(yard, reach.inverts, asked, lawful)
    spare = np.where(legal >= control, free - control, -np.inf)
    best = int(np.argmax(spare))
    if spare[best] == -np.inf:
        lawful = lawful[:: max(1, lawful.size // _MOST_ENDS)]
        spare = _short_of(yard, deep, lawful, asked)
        best = int(np.argmax(spare))
        if spare[best] == -np.inf:
            return Fall(spare=-math.inf, end=None)
    x, y = yard.places(lawful[best : best + 1])[0]
    return Fall(spare=float(spare[best]), end=(float(x), float(y)))


def _short_of(yard: Yard, deep: Callable[[], Swept], lawful: NDArray[np.intp], asked: Terms) -> Floats:
    """What a straight last run at the least grade is short of at each place, from buried places a zone's length off.

    At most nothing.
    """
    reach = deep().inverts
    nodes = np.flatnonzero(np.isfinite(reach))
    nodes = nodes[:: max(1, nodes.size // _MOST_NODES)]
    if not nodes.size:
        return np.full(lawful.size, -np.inf)
    ends, there = yard.places(lawful), yard.places(nodes)
    found = np.full(lawful.size, -np.inf)
    for k, (x, y) in enumerate(ends):
        away = np.hypot(there[:, 0] - x, there[:, 1] - y)
        ring = (away <= asked.zone + yard.cell) & (away >= min(asked.zone / 2, asked.stretch))
        if ring.any():
            found[k] = float((reach[nodes[ring]] - asked.grade * away[ring]).max())
    return np.minimum(found - yard.ground[lawful] - asked.daylight_allowance, 0.0)


def _told(site: Site, falls: Sequence[tuple[Fall, Fall]], streets: bool) -> Judged:
    doubt = fall_doubt(site.accuracy, site.accuracy)
    better = [max(pair, key=lambda one: one.spare) for pair in falls]
    worst = min(range(len(better)), key=lambda k: better[k].spare)
    least = [min(pair[way].spare for pair in falls) for way in (0, 1)]
    margin = better[worst].spare
    chance = chance_above(margin, doubt) if math.isfinite(margin) else 0.0
    sure = [chance_above(one, doubt) >= SURE_FROM if math.isfinite(one) else False for one in least]
    why: ScreenWhy = ""
    state: ScreenState
    if chance >= SURE_FROM:
        state = "both" if all(sure) else "street" if sure[0] else "rear" if sure[1] else "both"
        why = "" if any(sure) else "parted"
    elif chance <= 1 - SURE_FROM:
        state = "short"
        why = "" if math.isfinite(margin) else "no-way"
    else:
        state = "cannot-tell"
    if not why and state == "short" and not streets:
        why = "no-outlet"
    corner = site.sources[worst]

    def known(value: float) -> float | None:
        return round(value, 4) + 0.0 if math.isfinite(value) else None

    return Judged(
        state=state,
        margin=known(margin),
        street=known(least[0]),
        rear=known(least[1]),
        chance=round(chance, 4),
        why=why,
        deciding=((corner.x, corner.y), better[worst].end),
    )
