"""Sources and outlets in; which may share a trench, and which may end where, by what their owners asked for, out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from siteplan.books import rules
from siteplan.books.kinds import pumped
from siteplan.site import Site
from siteplan.values.water_ends import Outlet, Source

_ROUNDED = 1e-6  # m


def may_end(site: Site, source: Source, outlet: Outlet) -> bool:
    """Whether an outlet takes the water of a source of this kind.

    Parameters
    ----------
    site : Site
        The surveyed site; the outlet's keys `takes` and `refuses` list kinds of source.
    source, outlet : Source, Outlet
        The pair.

    Returns
    -------
    bool
        True where neither key is given; a point that the tool found takes a sump's water only as far from foundations
        as that asks.
    """
    if outlet.found and pumped(source.kind) and not clear_of_foundations(site, outlet):
        return False
    told = site.told_of(outlet)
    takes: Sequence[str] = told.get("takes", ())
    refuses: Sequence[str] = told.get("refuses", ())
    return (not takes or source.kind in takes) and source.kind not in refuses


def clear_of_foundations(site: Site, outlet: Outlet) -> bool:
    """Whether a place is as far from foundations as a sump's outlet keeps.

    Parameters
    ----------
    site : Site
        The surveyed site.
    outlet : Outlet
        The place.

    Returns
    -------
    bool
        True where the rule asks for nothing.
    """
    from shapely.geometry import Point

    asked = rules.limit(site.rules, rules.SUMP_OUTLET_FOUNDATION) or 0.0
    place = Point(outlet.x, outlet.y)
    return all(one.geometry.distance(place) >= asked - _ROUNDED for one in site.of_kind("building"))


def may_share(site: Site, sources: Iterable[Source]) -> bool:
    """Whether the water of these sources may run in one line.

    Parameters
    ----------
    site : Site
        The surveyed site; a source's key `own_line` asks for a line of its own down to the outlet.
    sources : iterable of Source
        Those that would share.

    Returns
    -------
    bool
        True for one source, and where none asks for a line of its own.
    """
    members = {source.id: source for source in sources}
    return len(members) < 2 or not any(site.told_of(source).get("own_line") for source in members.values())


def most_lines(site: Site, outlet: Outlet) -> int | None:
    """How many lines may end at an outlet.

    Parameters
    ----------
    site : Site
        The surveyed site; an outlet's key `holes` says how many holes go through a curb, one for each line; a pipe that
        can still take so much water takes it from one line.
    outlet : Outlet
        The outlet.

    Returns
    -------
    int or None
        None where nothing is said: a crew cuts as many as come.
    """
    if outlet.takes is not None:
        return 1
    holes = site.told_of(outlet).get("holes")
    return None if holes is None else int(holes)
