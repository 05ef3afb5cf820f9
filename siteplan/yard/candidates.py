"""Sources and outlets in; why each pair does or does not work out.

Fall available, needed and missing, and what decides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from siteplan import units
from siteplan.books import rules
from siteplan.books.kinds import DRIVEN_KINDS
from siteplan.fall.band import Band
from siteplan.fall.highest import Spare, spare
from siteplan.routes import kernels
from siteplan.routes.ends import End, Start, too_deep
from siteplan.routes.parts import closed_off
from siteplan.routes.reach import reach_sweep, way_back
from siteplan.routes.straight import Place, thinned
from siteplan.routes.terms import Terms
from siteplan.routes.trace import trace, undercrossings
from siteplan.routes.yard import Floats, Yard
from siteplan.site import Site
from siteplan.values.water_ends import Outlet, Source

_AT_EDGE = 0.5  # of a building, a no-dig area or a neighbour's land, as drawn [m]
BOTTOMLESS = 60.0  # m below ground: no depth limit, and still a finite number of buckets


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Swept:
    """How far a source's line can come: highest inverts by cell, and the floor that was held to."""

    inverts: Floats
    floor: np.ndarray


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """Why a source cannot be served from an outlet."""

    reason: str
    fall_available: float | None
    fall_needed: float | None
    margin: float | None
    length: float | None
    chain: tuple[Place, ...] | None = None  # the way from the source to the outlet, where its fall is enough
    way: tuple[Place, ...] | None = None  # the way looked at, whether its fall is enough or not


def swept(yard: Yard, start: Start, terms: Terms, *, any_depth: bool = False) -> Swept:
    """Reach of a source over the yard.

    Parameters
    ----------
    yard : Yard
        The net.
    start : Start
        The source's first runs.
    terms : Terms
        Least grade.
    any_depth : bool
        True leaves the greatest depth out, to tell what bars a line.

    Returns
    -------
    Swept
        -inf where no line comes.
    """
    floor = np.where(yard.is_open > 0, yard.ground - BOTTOMLESS, np.inf) if any_depth else yard.floor
    inverts = reach_sweep(
        yard.ceiling,
        floor,
        yard.is_open,
        yard.shut,
        kernels.moves(16, yard.cols),
        yard.cell,
        terms.grade,
        start.nodes.astype(np.int64),
        start.inverts,
    )
    return Swept(inverts=inverts, floor=floor)


def arrival_spare(reach: Swept, end: End, outlet: Outlet, terms: Terms) -> float | None:
    """Fall to spare of the highest line from a source to an outlet on the net.

    Parameters
    ----------
    reach : Swept
        The source's reach.
    end : End
        Last runs to the outlet.
    outlet : Outlet
        Its control elevation [m].
    terms : Terms
        Least grade.

    Returns
    -------
    float or None
        [m]; None when no line arrives.
    """
    z = reach.inverts[end.nodes]
    good = z >= end.needs
    if not good.any():
        return None
    return float(np.minimum(z - terms.grade * end.lengths, end.free)[good].max() - outlet.control)


def walled_in(yard: Yard, outlet: Outlet) -> bool:
    """Whether an outlet lies so far inside ground where no line may run that no line can end at it.

    Nothing needs to be tried.

    Parameters
    ----------
    yard : Yard
        The net.
    outlet : Outlet
        The outlet.

    Returns
    -------
    bool
        False within drawing accuracy of the edge, where the last run decides.
    """
    import shapely

    solid = yard.grounds.solid
    if not shapely.contains_xy(solid, outlet.x, outlet.y):
        return False
    return float(shapely.distance(shapely.boundary(solid), shapely.Point(outlet.x, outlet.y))) > _AT_EDGE


def why_not(
    site: Site,
    yard: Yard,
    start: Start,
    source: Source,
    outlet: Outlet,
    terms: Terms,
    unit: str,
    end: End | None = None,
) -> Why:
    """Why no line from a source can end at an outlet, on the way that loses least.

    Parameters
    ----------
    site : Site
        For the ground.
    yard : Yard
        The net.
    start : Start
        The source's first runs.
    source, outlet : Source, Outlet
        The pair.
    terms : Terms
        Cover, depth, grade.
    unit : str
        Unit of the sentences.
    end : End, optional
        Last runs to the outlet: the way comes by the one that leaves least missing. Any straight one when absent, or
        where a line comes to none of them.

    Returns
    -------
    Why
        With fall available and needed along that way when there is one. Without a reason, and with the way, where the
        fall along it is enough: then what bars a line is something else, or nothing.
    """
    import shapely

    if shapely.intersects_xy(yard.grounds.solid, outlet.x, outlet.y):
        return Why(
            reason="the outlet stands on ground where no line may run (a building, a no-dig area or a neighbour's land)",
            fall_available=None,
            fall_needed=None,
            margin=None,
            length=None,
        )
    if not start.nodes.size:
        return Why(
            reason="no line can leave the source: nothing around it is both open and deep enough for the cover",
            fall_available=None,
            fall_needed=None,
            margin=None,
            length=None,
        )
    way = least_lossy_way(yard, start, source, outlet, terms, end)
    if way is None:
        return Why(
            reason=_no_way(yard, source, outlet, unit) + _in_the_way(site, source, outlet),
            fall_available=None,
            fall_needed=None,
            margin=None,
            length=None,
        )
    return why_along(site, yard, way, source, outlet, terms, unit)


def least_lossy_way(
    yard: Yard, start: Start, source: Source, outlet: Outlet, terms: Terms, end: End | None = None
) -> list[Place] | None:
    """The way from a source to an outlet that loses least fall, whatever its depth.

    Parameters
    ----------
    yard : Yard
        The net.
    start : Start
        First runs of the source, not empty.
    source : Source
        Where it begins.
    outlet : Outlet
        Where it ends.
    terms : Terms
        Grade and outlet zone.
    end : End, optional
        Last runs to the outlet: it comes by the one that leaves least missing. Any straight one when absent, or where
        a line comes to none of them.

    Returns
    -------
    list of (float, float) or None
        Source first [m]; None where no way is open.
    """
    deep = swept(yard, start, terms, any_depth=True)
    near = yard.near(outlet.x, outlet.y, max(terms.zone, 2.5 * yard.cell))
    near = near[np.isfinite(deep.inverts[near])]
    if not near.size:
        return None
    place = yard.places(near)
    gap = np.hypot(place[:, 0] - outlet.x, place[:, 1] - outlet.y)
    node = int(near[int(np.argmax(deep.inverts[near] - terms.grade * gap))])
    if end is not None and end.nodes.size and np.isfinite(deep.inverts[end.nodes]).any():
        z = deep.inverts[end.nodes]
        least = np.minimum(np.minimum(z - terms.grade * end.lengths, end.caps) - outlet.control, z - end.needs)
        node = int(end.nodes[int(np.argmax(least))])
    cells = way_back(
        deep.inverts,
        yard.ceiling,
        deep.floor,
        yard.is_open,
        yard.shut,
        kernels.moves(16, yard.cols),
        yard.cell,
        terms.grade,
        start.nodes.astype(np.int64),
        start.inverts,
        node,
    )
    way: list[Place] = [
        (source.x, source.y),
        *((float(px), float(py)) for px, py in yard.places(cells[::-1])),
        (outlet.x, outlet.y),
    ]
    return list(thinned(way, most=200))


def why_too_deep(site: Site, outlet: Outlet, terms: Terms) -> Why:
    """Why no line comes into an old pipe that lies deeper than lines may.

    Parameters
    ----------
    site : Site
        For its units and whose the limit is.
    outlet : Outlet
        The tie-in.
    terms : Terms
        Greatest depth.

    Returns
    -------
    Why
        Without a fall: what is missing is no fall.
    """
    unit = site.length_unit
    over = units.small_text(too_deep(outlet, terms), unit)
    return Why(
        reason=f"too deep by {over} at the old pipe: {_depth_limit(site, unit)}; a line would have to come in by a drop",
        fall_available=None,
        fall_needed=None,
        margin=None,
        length=None,
    )


def why_along(
    site: Site, yard: Yard, chain: Sequence[Place], source: Source, outlet: Outlet, terms: Terms, unit: str
) -> Why:
    """What a line along given bends is short of.

    Parameters
    ----------
    site : Site
        For the ground.
    yard : Yard
        The net.
    chain : sequence of tuple
        Bends from the source to the outlet [m].
    source, outlet : Source, Outlet
        The pair.
    terms : Terms
        Cover, depth, grade.
    unit : str
        Unit of the sentences.

    Returns
    -------
    Why
        As from `why_not`.
    """
    corners = tuple(reversed(chain))
    along = trace(site, yard.grounds, corners, source, outlet, terms)
    band = Band(station=along.station, ceiling=along.ceiling, floor=along.floor)
    short = spare(band, grade=terms.grade)
    needed = terms.grade * band.length
    available = needed + short.amount  # from the highest start that the cover along the way allows
    if short.amount >= 0:
        # the fall is there: whoever asked tries to lay a line along this way, and says what bars it if none can be laid
        return Why(
            reason="",
            fall_available=available,
            fall_needed=needed,
            margin=short.amount,
            length=band.length,
            chain=tuple(reversed(corners)),
            way=tuple(reversed(corners)),
        )
    under = next(
        (
            u
            for u in undercrossings(site, corners)
            if u.station_from - 0.2 <= short.binding_station <= u.station_to + 0.2 and u.kind in DRIVEN_KINDS
        ),
        None,
    )
    reason = _short_reason(
        band,
        short,
        outlet,
        unit,
        site.elevation_unit,
        "" if under is None else f" under the {under.kind} {under.name}".rstrip(),
        _depth_limit(site, unit),
    )
    return Why(
        reason=reason,
        fall_available=available,
        fall_needed=needed,
        margin=short.amount,
        length=band.length,
        way=tuple(reversed(corners)),
    )


def _no_way(yard: Yard, source: Source, outlet: Outlet, unit: str) -> str:
    """That every path is closed, where the grounds themselves prove it; else that a net of this step found none."""
    if closed_off(yard.grounds, (source.x, source.y), (outlet.x, outlet.y)):
        return "no open way: buildings, no-dig ground, retaining walls or the lot's edge close every path"
    return (
        f"no open way found on a net of {units.length_text(yard.cell, unit)}: unknown ground, or what bars "
        "lines, closes every path as wide as that; "
        "narrower ones were not looked at"
    )


def _in_the_way(site: Site, source: Source, outlet: Outlet) -> str:
    """What stands on the straight way between the two, by name."""
    from shapely.geometry import LineString

    apart = math.dist((source.x, source.y), (outlet.x, outlet.y))
    if apart < 1e-6:
        return ""
    straight = LineString([(source.x, source.y), (outlet.x, outlet.y)])
    met = []
    for feature in site.of_kind("building", "no_dig", "neighbour", "wall"):
        inside = straight.intersection(feature.geometry)
        if inside.length > 0.3 or (feature.kind == "wall" and not inside.is_empty):
            met.append(feature.name or feature.kind.replace("_", " "))
    return f"; on the straight way stands {', '.join(dict.fromkeys(met))}" if met else ""


def _depth_limit(site: Site, unit: str) -> str:
    """The greatest depth in force, and whose it is."""
    held = site.rules[rules.MAX_DEPTH.id]
    whose = "a default of this tool, common practice" if held.replaced is None else f"set by {held.source}"
    return (
        f"the invert may lie no deeper than {units.length_text(rules.needed(site.rules, rules.MAX_DEPTH), unit)} "
        f"(rule max-depth, {whose})"
    )


def _short_reason(
    band: Band, short: Spare, outlet: Outlet, unit: str, elevation_unit: str, under: str, depth: str
) -> str:
    missing = units.small_text(-short.amount, unit)
    if short.station < 1e-6:
        what = (
            f"short of fall by {missing}: the outlet's invert can be no lower than "
            f"{units.length_text(outlet.control, elevation_unit)}"
        )
    else:
        what = f"too deep by {missing} at station {units.station_text(short.station, unit)}: {depth}"
    if not under and (short.binding == "start" or band.length - short.binding_station < 1.0):
        return f"{what}, and the cover at the source lets the line start no higher"
    place = f"{units.length_text(short.binding_station, unit, 1)} from the outlet"
    return f"{what}, and the cover asked for{under or ' over the ground'} {place} holds the line down"
