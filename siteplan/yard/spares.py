"""Lines laid and their site in.

The limits on their whole way to the outlet, and the fall to spare that these leave, out.

One figure a line, for the pipe that it was given in the end: head, schedule, map, findings and candidates print it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from siteplan import units
from siteplan.books.kinds import into_pipe
from siteplan.routes.terms import Terms, for_length, terms
from siteplan.routes.trace import trace
from siteplan.routes.yard import Grounds, grounds_of
from siteplan.site import Floats, Site
from siteplan.values.forecasts import LowSpot
from siteplan.values.lines import Line
from siteplan.values.water_ends import Outlet, Source


class FoundWay(NamedTuple):
    """Limits on the whole way of a source to its outlet, by station from the outlet [m]."""

    station: Floats
    ceiling: Floats
    x: Floats
    y: Floats
    below: float  # way left from where the line itself ends: 0 at an outlet
    lines: tuple[tuple[str, float], ...]  # lines of the way, the one at the outlet first, and where each begins


class LaidYard(NamedTuple):
    """Lines as laid and what their limits come from, each by id; `asked` for a line's own pipe."""

    site: Site
    lines: Mapping[str, Line]
    asked: Mapping[str, Terms]
    grounds: Grounds  # for the pavement under vehicles
    sources: Mapping[str, Source]
    outlets: Mapping[str, Outlet]


def with_spares(
    lines: Sequence[Line], site: Site, outlets: Sequence[Outlet], spots: Sequence[LowSpot]
) -> tuple[Line, ...]:
    """The lines with their fall to spare, and the place that decides it.

    Parameters
    ----------
    lines : sequence of Line
        As laid out and given their pipes.
    site : Site
        The surveyed site.
    outlets : sequence of Outlet
        The plan's.
    spots : sequence of LowSpot
        Wet ground.

    Returns
    -------
    tuple of Line
        Spare: least of ceiling - least grade x way to the outlet, less the outlet's control elevation [m].

    References
    ----------
    Fall available minus fall needed, at the tightest place on the way: common practice, no source.
    """
    if not lines:
        return ()
    laid = laid_yard(lines, site, outlets, spots)

    def told(line: Line) -> Line:
        way = way_to_outlet(line, laid)
        left = way.ceiling - laid.asked[line.id].grade * way.station
        tight = int(np.argmin(left))
        ident, begins = [part for part in way.lines if part[1] <= float(way.station[tight])][-1]
        other = None if ident == line.id else ident
        return replace(
            line,
            spare=float(left[tight]) - laid.outlets[last_of(line, laid.lines).end].control,
            binding=binding_text(float(way.station[tight]) - begins, other, line.length, site.length_unit),
        )

    return tuple(told(line) for line in lines)


def binding_text(station: float, other: str | None, length: float, unit: str) -> str:
    """Which place decides a line's fall to spare, in one sentence.

    Parameters
    ----------
    station : float
        Of that place, on its line [m].
    other : str or None
        Id of that line where it is another one, on the way to the outlet.
    length : float
        Of the line itself [m].
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        Without a full stop.
    """
    if other is None and length - station < 1e-6:
        return "the cover at the source decides"
    where = "" if other is None else f" of {other} on its way to the outlet"
    return f"the cover at station {units.station_text(station, unit)}{where} decides"


def last_of(line: Line, by_id: Mapping[str, Line]) -> Line:
    """The line of the tree that ends at the outlet.

    Parameters
    ----------
    line : Line
        Any of the tree.
    by_id : mapping of str to Line
        All lines.

    Returns
    -------
    Line
        Itself where it joins none.
    """
    while line.end in by_id:
        line = by_id[line.end]
    return line


def laid_yard(lines: Sequence[Line], site: Site, outlets: Sequence[Outlet], spots: Sequence[LowSpot]) -> LaidYard:
    """What a way to the outlet is found with.

    Parameters
    ----------
    lines : sequence of Line
        As laid, one at least.
    site : Site
        The surveyed site.
    outlets : sequence of Outlet
        The plan's.
    spots : sequence of LowSpot
        Wet ground.

    Returns
    -------
    LaidYard
        By id.
    """
    asked = {line.id: terms(site.rules, line.pipe) for line in lines}
    return LaidYard(
        site=site,
        lines={line.id: line for line in lines},
        asked=asked,
        grounds=grounds_of(site, outlets, spots, asked[lines[0].id], site.laying.prices),
        sources={source.id: source for source in site.sources},
        outlets={outlet.id: outlet for outlet in outlets},
    )


def way_to_outlet(line: Line, laid: LaidYard) -> FoundWay:
    """Limits from the outlet up; of a trunk only what lies downstream of the wye. The daylight stretch is left out.

    Parameters
    ----------
    line : Line
        Whose way it is.
    laid : LaidYard
        All lines of the yard.

    Returns
    -------
    Way
        Stations from the outlet [m].
    """
    chain = [(line, line.length)]
    while chain[-1][0].end in laid.lines:
        here = chain[-1][0]
        trunk = laid.lines[here.end]
        wye = min(
            trunk.vertices,
            key=lambda vertex: (vertex.x - here.vertices[0].x) ** 2 + (vertex.y - here.vertices[0].y) ** 2,
        )
        chain.append((trunk, wye.station))
    parts, below, begins = [], 0.0, []
    for one, upto in reversed(chain):
        held = laid.asked[one.id]
        outlet = laid.outlets.get(one.end)
        corners = tuple((vertex.x, vertex.y) for vertex in one.vertices)
        along = trace(laid.site, laid.grounds, corners, laid.sources[one.start], outlet, held)
        use = (along.station <= upto + 1e-9) & np.isfinite(along.ceiling)
        shows = for_length(held, one.length).stretch
        if outlet is not None and not into_pipe(outlet.kind) and (along.station[use] > shows).any():
            use &= along.station > shows
        parts.append((along.station[use] + below, along.ceiling[use], along.x[use], along.y[use]))
        begins.append((one.id, below))
        below += upto
    station, ceiling, x, y = (np.concatenate([part[k] for part in parts]) for k in range(4))
    return FoundWay(station, ceiling, x, y, below - line.length, tuple(begins))
