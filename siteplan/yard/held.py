"""Lines laid, with what their margins cost, in.

The margin that each holds to each of its limits, and why where less than asked, out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from typing import NamedTuple

import numpy as np

from siteplan.books import rules
from siteplan.books.kinds import into_pipe
from siteplan.books.pipes import strength
from siteplan.books.practice import READING_SPREAD
from siteplan.fall.margins import grade_margin, margin_for
from siteplan.optional import optional
from siteplan.routes.ends import paved_at
from siteplan.routes.terms import Terms, for_length
from siteplan.routes.trace import Trace, trace
from siteplan.site import Floats, Site
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line, Margin, ShortOf
from siteplan.values.water_ends import Outlet
from siteplan.yard.bought import outlet_doubt
from siteplan.yard.spares import LaidYard, laid_yard, last_of

_SLACK = 2e-6  # m and ratio: inverts are written to the micrometre
_ONE_GRADE = 1e-4  # two pieces whose grades differ by less are one run [-]
_AT_JOIN = 0.05  # m: lines that meet so near to an end of theirs join there
_COVERS = frozenset(
    rule.id
    for rule in (
        rules.MIN_COVER,
        rules.MIN_COVER_PAVEMENT,
        rules.MIN_COVER_PAVEMENT_HEAVY,
        rules.OUTLET_ZONE_COVER,
    )
)


class _Found(NamedTuple):
    """A margin before anyone asks what is wanted of it."""

    rule: str
    held: float
    station: float


def with_margins_held(
    lines: Sequence[Line], site: Site, outlets: Sequence[Outlet], spots: Sequence[LowSpot]
) -> tuple[Line, ...]:
    """The lines with the margin that each holds to cover, depth, grade, its outlet and lines that it crosses.

    Parameters
    ----------
    lines : sequence of Line
        As written, with their pipes, their fall to spare, and what margins cost.
    site : Site
        The surveyed site.
    outlets : sequence of Outlet
        The plan's.
    spots : sequence of LowSpot
        Wet ground.

    Returns
    -------
    tuple of Line
        Of the four limits of cover the one that binds is told; the outlet of lines that end at one; crossing lines of
        those that do.
    """
    if not lines:
        return ()
    laid = laid_yard(lines, site, outlets, spots)
    return tuple(optional("margins", partial(_told, line, laid), line, line.id) for line in lines)


def _told(line: Line, laid: LaidYard) -> Line:
    site, asked = laid.site, laid.asked[line.id]
    outlet, certainty = laid.outlets.get(line.end), site.laying.certainty
    along = trace(site, laid.grounds, tuple((v.x, v.y) for v in line.vertices), laid.sources[line.start], outlet, asked)
    ground, setting = margin_for(site.accuracy, certainty), margin_for(READING_SPREAD, certainty)
    grade = grade_margin(line.length, certainty)
    at_outlet = margin_for(outlet_doubt(site, laid.outlets[last_of(line, laid.lines).end]), certainty)
    wanted: list[tuple[_Found | None, float]] = [
        (_cover(line, along, laid, asked, free=outlet is not None and not into_pipe(outlet.kind)), ground),
        (_grade(line, asked), grade),
        (None if outlet is None else _outlet(line, asked, outlet), at_outlet),
        (_depth(line, along, asked), ground),
        (_crossing(line, laid, asked), setting),
    ]
    bought = {_group(one.rule): one for one in line.margins}
    depth = wanted[3][0]
    bare = line.spare <= ground + at_outlet + grade * line.length + _SLACK
    margins = []
    for found, target in wanted:
        if found is None:
            continue
        before = bought.get(_group(found.rule))
        short: ShortOf | None = None
        if found.held < target - _SLACK:
            if line.own:
                short = "drawn"
            elif before is not None and before.short_of == "price":
                short = "price"
            elif found.rule == rules.LINES_CROSS.id:
                short = "crossing"
            elif before is not None and before.short_of == "flow":
                short = "flow"
            elif bare or found.rule == rules.MAX_DEPTH.id:
                short = "fall"
            elif found.rule in _COVERS and depth is not None and depth.held < target:
                short = "depth"
            else:
                short = "grades"
        margins.append(
            Margin(
                rule=found.rule,
                held=found.held,
                asked=target,
                cost=0.0 if before is None else before.cost,
                station=found.station,
                short_of=short,
            )
        )
    return replace(line, margins=tuple(margins))


def _group(rule: str) -> str:
    return rules.MIN_COVER.id if rule in _COVERS else rule


def _inverts(line: Line, station: Floats) -> Floats:
    at = [vertex.station for vertex in line.vertices]
    found: Floats = np.interp(station, at, [vertex.invert for vertex in line.vertices])
    return found


def _cover(line: Line, along: Trace, laid: LaidYard, asked: Terms, *, free: bool) -> _Found | None:
    """Over the pipe that lies there, where a cover is asked for.

    The stretch that may show and the last foot at a source have none.
    """
    book, s = laid.site.rules, along.station
    pipes = _pipes(line, s)
    top = _inverts(line, s) + np.array([pipe.rise for pipe in pipes])
    heavy = np.array([_heavy(pipe, laid.site) for pipe in pipes])
    driven = paved_at(laid.grounds, along.x, along.y)
    zone = asked.zone if free else 0.0
    shows = for_length(asked, line.length).stretch if free else 0.0
    head = max(0.0, line.length - asked.start_zone)
    plain, relieved = rules.pavement_covers(book)
    under = driven & (np.where(heavy, relieved is not None or plain is not None, plain is not None))
    places: list[tuple[str, float | None, np.ndarray]] = [
        (rules.MIN_COVER.id, asked.cover, (s >= zone) & (s <= head) & ~under),
        (rules.OUTLET_ZONE_COVER.id, rules.limit(book, rules.OUTLET_ZONE_COVER), (s > shows) & (s < zone)),
        (rules.MIN_COVER_PAVEMENT.id, plain, under & ~(heavy & (relieved is not None))),
        (rules.MIN_COVER_PAVEMENT_HEAVY.id, relieved, under & heavy),
    ]
    found: list[_Found] = []
    for rule, limit, where in places:
        use = where & along.known
        if limit is None or not use.any():
            continue
        left = np.where(use, along.ground - top - limit, np.inf)
        tight = int(np.argmin(left))
        found.append(_Found(rule, float(left[tight]), float(s[tight])))
    return min(found, key=lambda one: one.held, default=None)


def _pipes(line: Line, station: Floats) -> list[Pipe]:
    """The pipe at each station; where two meet, the one whose top stands higher."""
    found = []
    for s in station.tolist():
        here = {id(pipe): pipe for pipe in (line.pipe_at(s - 1e-6), line.pipe_at(s + 1e-6))}
        found.append(max(here.values(), key=lambda pipe: pipe.rise))
    return found


def _heavy(pipe: Pipe, site: Site) -> bool:
    entry = strength(pipe.kind, pipe.nominal, site.laying.own_pipes)
    return entry is not None and entry.is_heavy


def _grade(line: Line, asked: Terms) -> _Found:
    flattest = min(_pieces(line), key=lambda piece: piece[1])
    return _Found(rules.MIN_GRADE.id, flattest[1] - asked.grade, flattest[0])


def _pieces(line: Line) -> list[tuple[float, float]]:
    """Lower station and grade of each piece between two vertices, outlet first."""
    pairs = zip(line.vertices, line.vertices[1:], strict=False)
    return [(a.station, (b.invert - a.invert) / (b.station - a.station)) for a, b in pairs if b.station > a.station]


def _outlet(line: Line, asked: Terms, outlet: Outlet) -> _Found:
    """How far the outlet may turn out higher with the run that ends there still at the least grade."""
    pieces = _pieces(line)
    after = next((s for s, grade in pieces if abs(grade - pieces[0][1]) > _ONE_GRADE), line.length)
    _, _, up = line.at(after)
    return _Found(rules.OUTLET_CONTROL.id, up - asked.grade * after - outlet.control, 0.0)


def _depth(line: Line, along: Trace, asked: Terms) -> _Found | None:
    if not along.known.any():
        return None
    left = np.where(along.known, asked.depth - along.ground + _inverts(line, along.station), np.inf)
    tight = int(np.argmin(left))
    return _Found(rules.MAX_DEPTH.id, float(left[tight]), float(along.station[tight]))


def _crossing(line: Line, laid: LaidYard, asked: Terms) -> _Found | None:
    """Clear height beyond the least between this line's pipe and those of lines that it crosses without joining."""
    found = []
    for other in laid.lines.values():
        for station, there in () if other.id == line.id else _meetings(line, other):
            low, high = sorted(
                (
                    (invert - pipe.below, invert + pipe.rise)
                    for one, at in ((line, station), (other, there))
                    for invert, pipe in ((one.at(at)[2], one.pipe_at(at)),)
                ),
            )
            found.append(_Found(rules.LINES_CROSS.id, high[0] - low[1] - asked.apart, station))
    return min(found, key=lambda one: one.held, default=None)


def _meetings(line: Line, other: Line) -> list[tuple[float, float]]:
    """Stations of two lines at which they cross and do not join [m]."""
    import shapely

    one, two = (shapely.LineString([(v.x, v.y) for v in each.vertices]) for each in (line, other))
    met = shapely.intersection(one, two)
    places = [shapely.Point(xy) for xy in shapely.get_coordinates(met)]
    pairs = [(float(shapely.line_locate_point(one, p)), float(shapely.line_locate_point(two, p))) for p in places]
    joins = (line.end == other.id, other.end == line.id, line.end == other.end)
    return [
        (s, t)
        for s, t in pairs
        if not (
            (joins[0] and s < _AT_JOIN) or (joins[1] and t < _AT_JOIN) or (joins[2] and s < _AT_JOIN and t < _AT_JOIN)
        )
    ]
