"""A tree of legs over cells in; lines in plan out: trunk first, branches joined to it at wyes, each run proven."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from siteplan.books.practice import JOINTS_GIVE
from siteplan.books.prices import Prices
from siteplan.routes.bends import neater
from siteplan.routes.labels import Leg
from siteplan.routes.straight import Place, RunTarget, fittings_for, lawful_chain, straighten, turn
from siteplan.routes.terms import Terms
from siteplan.routes.trace import Trace, places_at, trace
from siteplan.routes.yard import MARGIN, Yard
from siteplan.site import Site
from siteplan.values.laid_pipe import Fitting, FittingKind, Pipe
from siteplan.values.water_ends import Outlet, Source

_WYE = Fitting(kind=FittingKind.WYE)
WYE_WINDOW = 6.0  # m along the trunk each way in which a branch may join
WYE_STEP = 0.5  # m
OVER_LINE = 0.28  # m in plan within which a source drops straight into a line that passes it
ONE_PLACE = 0.10  # m: a source that drops in this near a bend drops in at the bend
WYE_CLEAR = 0.6  # m kept between a wye and a bend or another wye


class YardWay(NamedTuple):
    """A line before it is straightened: its source's number, cells downward, and what it ends at."""

    source: int
    cells: tuple[int, ...]
    parent: int | None  # number of the way it joins; None: ends at the outlet
    carried: tuple[int, ...]  # sources, its own first
    size: int = 0  # number of its size of pipe, smallest 0
    grade: float = 0.0  # least grade at which that size carries what comes, where it is more than the rules'


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """A line in plan. Corners outlet first, wyes of branches among them."""

    source: Source
    carried: tuple[Source, ...]
    parent: int | None  # number of the trunk in the same list
    outlet: Outlet | None
    trace: Trace
    fittings: tuple[tuple[Fitting, ...], ...]  # by corner
    straight: bool  # False: the route over cells had to be kept
    drawn: bool = False  # by a person: inverts stand as they are, whatever the least grade
    drops: tuple[tuple[Source, Place], ...] = ()  # sources that stand over the line and drop straight in
    size: int = 0
    grade: float = 0.0
    pipe: Pipe | None = None  # of a drawn line beside lines of another yard; None: that of its size


def ways_of(leg: Leg) -> tuple[YardWay, ...]:
    """A tree taken apart into lines: at each meeting the longer arm is the trunk, of those in its size of pipe.

    Parameters
    ----------
    leg : Leg
        The tree, from `leg_of`.

    Returns
    -------
    tuple of Way
        Trunk before its branches.
    """
    ways: list[YardWay] = []

    def unfold(leg: Leg, below: tuple[int, ...], parent: int | None) -> None:
        cells, branches, at, grade = leg.cells + below, [], leg, leg.grade
        while at.above:
            main, side = sorted(at.above, key=lambda arm: (arm.size != leg.size, -_reach(arm), _sources(arm)))
            branches.append(side)
            at, grade = main, max(grade, main.grade)
            cells = main.cells + cells[1:]
        assert at.source is not None
        number = len(ways)
        ways.append(
            YardWay(
                at.source,
                cells,
                parent,
                (at.source, *(s for side in reversed(branches) for s in _sources(side))),
                leg.size,
                grade,
            )
        )
        for side in branches:
            unfold(side, (), number)

    unfold(leg, (), None)
    return tuple(ways)


def _reach(leg: Leg) -> int:
    return len(leg.cells) + max((_reach(arm) for arm in leg.above), default=0)


def _sources(leg: Leg) -> tuple[int, ...]:
    if leg.source is not None:
        return (leg.source,)
    return tuple(sorted(s for arm in leg.above for s in _sources(arm)))


def lay(
    site: Site,
    yard: Yard,
    ways: Sequence[YardWay],
    sources: Sequence[Source],
    outlet: Outlet,
    held: Sequence[Terms],
    prices: Prices,
    *,
    straightened: bool = True,
    margin: float = MARGIN,
) -> tuple[Laid, ...] | None:
    """Lay a tree of ways as lines with straight runs.

    Parameters
    ----------
    site : Site
        For the ground and features.
    yard : Yard
        The net the ways were found on.
    ways : sequence of Way
        Trunk before its branches.
    sources : sequence of Source
        By the numbers in the ways.
    outlet : Outlet
        Where the trunk ends.
    held : sequence of Terms
        Cover, depth, grade, zones, by way.
    prices : Prices
        Relative prices.
    straightened : bool
        False keeps the routes over cells.
    margin : float
        Kept from the ceilings while runs are chosen [m].

    Returns
    -------
    tuple of Laid, or None
        In the order of the ways, less those whose source stands over its trunk and drops straight in; None when a
        branch finds no proven way to its trunk.
    """
    laid: list[Laid] = []
    number_of: dict[int, int] = {}  # way to line: a way that drops in stands for its trunk
    way_of: list[int] = []  # line to way
    for number, way in enumerate(ways):
        terms = held[number]
        source = sources[way.source]
        parent = None if way.parent is None else number_of[way.parent]
        trunk_terms = terms if way.parent is None else held[way_of[number_of[way.parent]]]
        if parent is not None and (dropped := _dropped(site, yard, laid[parent], source, trunk_terms)) is not None:
            laid[parent] = dropped
            number_of[number] = parent
            continue
        number_of[number] = len(laid)
        way_of.append(number)
        route = _route(yard, way, sources)
        if parent is None:
            target = RunTarget(places=((outlet.x, outlet.y),), least=(outlet.control,), heading=(None,), outlet=outlet)
        else:
            target = wyes(laid[parent], route, trunk_terms)
        joining = [_route(yard, branch, sources) for branch in ways if branch.parent == number]
        chain = _chain(
            site, yard, route, source, target, terms, prices, straightened=straightened, margin=margin, branches=joining
        )
        if chain is None:
            return None
        corners = tuple(reversed(chain))
        if parent is not None:
            corners, laid[parent] = cornered(site, yard, laid[parent], corners, trunk_terms)
        carried = tuple(sources[k] for k in way.carried)
        ends_at = outlet if parent is None else None
        along = trace(site, yard.grounds, corners, source, ends_at, terms)
        fittings = fittings_of(corners)
        laid.append(
            Laid(
                source=source,
                carried=carried,
                parent=parent,
                outlet=ends_at,
                trace=along,
                fittings=fittings,
                straight=straightened,
                size=way.size,
                grade=way.grade,
            )
        )
    return tuple(with_wyes(laid))


def _route(yard: Yard, way: YardWay, sources: Sequence[Source]) -> list[Place]:
    source = sources[way.source]
    return [(source.x, source.y), *((x, y) for x, y in yard.places(np.array(way.cells)).tolist())]


def _chain(
    site: Site,
    yard: Yard,
    route: Sequence[Place],
    source: Source,
    target: RunTarget,
    terms: Terms,
    prices: Prices,
    *,
    straightened: bool,
    margin: float,
    branches: Sequence[Sequence[Place]],
) -> tuple[Place, ...] | None:
    if not straightened:
        if target.outlet is not None:
            raw = _without_collinear([*route, target.places[0]])
        else:
            here = route[-1]
            raw = _without_collinear([*route, min(target.places, key=lambda place: (math.dist(here, place), place))])
        return raw if len(raw) > 1 and lawful_chain(yard.grounds, raw) else None
    chain = straighten(site, yard.grounds, route, source, target, terms, prices, margin=margin, branches=branches)
    if chain is None:
        return None
    return neater(
        site, yard, _without_collinear(chain), source, target, terms, prices, margin=margin - MARGIN, branches=branches
    )


def _without_collinear(places: Sequence[Place]) -> tuple[Place, ...]:
    kept = [places[0]]
    for k in range(1, len(places) - 1):
        if math.dist(kept[-1], places[k]) > 1e-6 and turn(kept[-1], places[k], places[k + 1]) > 0.01:
            kept.append(places[k])
    if math.dist(kept[-1], places[-1]) > 1e-6:
        kept.append(places[-1])
    return tuple(kept)


def wyes(trunk: Laid, route: Sequence[Place], terms: Terms, *, in_zone: bool = False) -> RunTarget:
    """Places on a trunk where a branch may join: near the meeting, and where each place of its route meets it at 45.

    Parameters
    ----------
    trunk : Laid
        The line joined.
    route : sequence of tuple
        The branch's way, from its source down to the meeting [m].
    terms : Terms
        Least grade, outlet zone.
    in_zone : bool
        Whether places in the outlet zone are told beside others.

    Returns
    -------
    Target
        Upstream of the outlet zone where that can be had, and clear of bends and other wyes.
    """
    along = trunk.trace
    corners = along.corners
    total = along.corner_stations[-1]
    meeting = station_of(corners, route[-1])
    low, high = max(0.3, meeting - WYE_WINDOW), min(total - 0.3, meeting + WYE_WINDOW)
    if not in_zone and trunk.outlet is not None and terms.zone + WYE_CLEAR < high:
        low = max(low, terms.zone + WYE_CLEAR)  # upstream of the outlet zone where that can be had
    wanted = [meeting, *np.arange(low, high, WYE_STEP)]
    for place in route[:: max(1, len(route) // 24)]:
        foot = station_of(corners, place)
        away = math.dist(place, tuple(places_at(corners, [foot])[0]))
        wanted += [foot - away, foot]  # 45 degrees downstream of the foot, and square
    clear = []
    for station in wanted:
        if low <= station <= high:
            near = min(along.corner_stations, key=lambda at: abs(at - station))
            clear.append(near if abs(near - station) < WYE_CLEAR and near not in {0.0, total} else station)
    stations = sorted({round(station, 6) for station in clear})
    if not stations:
        stations = [min(max(meeting, total * 0.02), total * 0.98)]
    # lowest invert at each that still lets the trunk fall to its end: a branch may lower the trunk down to it
    least = np.maximum.accumulate(along.floor - terms.grade * along.station) + terms.grade * along.station
    places = places_at(corners, stations)
    headings = []
    for station in stations:
        a, b = places_at(corners, [max(0.0, station - 0.05), station])
        headings.append((float(a[0] - b[0]), float(a[1] - b[1])))
    return RunTarget(
        places=tuple((float(px), float(py)) for px, py in places),
        least=tuple(float(v) for v in np.interp(stations, along.station, least) + 1e-6),
        heading=tuple(headings),
        outlet=None,
    )


def station_of(corners: Sequence[Place], place: Place) -> float:
    """Station of the place on a line that is nearest to a place.

    Parameters
    ----------
    corners : sequence of tuple
        Outlet first [m].
    place : tuple of float
        [m]

    Returns
    -------
    float
        [m]
    """
    from shapely.geometry import LineString, Point

    return float(LineString(corners).project(Point(place)))


def _dropped(site: Site, yard: Yard, trunk: Laid, source: Source, terms: Terms) -> Laid | None:
    """The trunk with a corner under a source that stands over it; None when it does not."""
    if source.invert_limit is not None:
        return None
    station = station_of(trunk.trace.corners, (source.x, source.y))
    x, y = (float(v) for v in places_at(trunk.trace.corners, [station])[0])
    if math.dist((x, y), (source.x, source.y)) > OVER_LINE or not terms.zone < station:
        return None
    (place, _), trunk = cornered(site, yard, trunk, ((x, y), (source.x, source.y)), terms, near=ONE_PLACE)
    return replace(trunk, drops=(*trunk.drops, (source, place)))


def cornered(
    site: Site, yard: Yard, trunk: Laid, corners: tuple[Place, ...], terms: Terms, *, near: float = 1e-4
) -> tuple[tuple[Place, ...], Laid]:
    """Put a branch's end on its trunk as one of the trunk's corners.

    Parameters
    ----------
    site : Site
        For the ground.
    yard : Yard
        For the pavement under vehicles.
    trunk : Laid
        The line joined.
    corners : tuple of tuple
        The branch's, its end on the trunk first [m].
    terms : Terms
        Cover, depth, zones.
    near : float
        A corner of the trunk nearer than this serves [m].

    Returns
    -------
    tuple
        The branch's corners, its end exactly a corner of the trunk; and the trunk with it.
    """
    end = corners[0]
    station = station_of(trunk.trace.corners, end)
    at = trunk.trace.corner_stations
    closest = min(range(len(at)), key=lambda k: abs(at[k] - station))
    if abs(at[closest] - station) < near:
        return (trunk.trace.corners[closest], *corners[1:]), trunk
    place = tuple(float(v) for v in places_at(trunk.trace.corners, [station])[0])
    k = int(np.searchsorted(at, station))
    more = (*trunk.trace.corners[:k], (place[0], place[1]), *trunk.trace.corners[k:])
    along = trace(site, yard.grounds, more, trunk.source, trunk.outlet, terms)
    return ((place[0], place[1]), *corners[1:]), replace(trunk, trace=along, fittings=fittings_of(more))


def fittings_of(corners: Sequence[Place]) -> tuple[tuple[Fitting, ...], ...]:
    """How each corner of a line is made.

    Parameters
    ----------
    corners : sequence of tuple
        Outlet first [m].

    Returns
    -------
    tuple of tuple of Fitting
        None at both ends and where joints take the turn.
    """
    inner = [fittings_for(turn(corners[k - 1], corners[k], corners[k + 1])) for k in range(1, len(corners) - 1)]
    return ((), *inner, ())


def _with_drops(one: Laid) -> Laid:
    fittings = list(one.fittings)
    for _, place in one.drops:
        k = one.trace.corners.index(place)
        if 0 < k < len(fittings) - 1:
            fittings[k] = (*fittings[k], _WYE)
    return replace(one, fittings=tuple(fittings))


def with_wyes(laid: Sequence[Laid]) -> list[Laid]:
    """Name the wyes: on the trunk where a branch comes in, and at the branch's end how it is turned in.

    Parameters
    ----------
    laid : sequence of Laid
        Lines of one tree, trunk before branches, their own bends named.

    Returns
    -------
    list of Laid
        In the same order.
    """
    named = [_with_drops(one) for one in laid]
    for branch in range(len(named)):
        parent = named[branch].parent
        if parent is None:
            continue
        corners = named[branch].trace.corners
        trunk = named[parent]
        k = trunk.trace.corners.index(corners[0])
        below = trunk.trace.corners[max(0, k - 1)]
        heading = (below[0] - corners[0][0], below[1] - corners[0][1])
        angle = turn(corners[1], corners[0], (corners[0][0] + heading[0], corners[0][1] + heading[1]))
        made = (
            (_WYE,)
            if abs(angle - 45.0) <= JOINTS_GIVE
            else (Fitting(kind=FittingKind.WYE, angle=round(angle, 2)), *fittings_for(abs(angle - 45.0)))
        )
        at_trunk = list(trunk.fittings)
        at_trunk[k] = (*at_trunk[k], _WYE)
        named[parent] = replace(trunk, fittings=tuple(at_trunk))
        at_branch = list(named[branch].fittings)
        at_branch[0] = made
        named[branch] = replace(named[branch], fittings=tuple(at_branch))
    return named
