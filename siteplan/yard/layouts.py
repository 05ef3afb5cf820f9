"""A yard as laid in.

Other ways to lay it that are worth a try, what a layout costs by one list of prices, and whether two are one, out.

A try is the site as the planner takes it for one layout: other prices, a steeper least grade, an outlet out of play.
What it gives is then priced and judged on the site as surveyed, like the plan itself.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from siteplan.books import rules
from siteplan.books.kinds import PAVEMENT_KINDS, SOURCES, Kind
from siteplan.books.practice import DIG_DEARER, PAVEMENT_DEARER, SAME_SHARE, SAME_TRENCH
from siteplan.books.prices import Prices
from siteplan.routes.straight import bend_price, chain_price, turn
from siteplan.routes.terms import terms
from siteplan.routes.yard import grounds_of
from siteplan.site import Feature, Site, heights
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.other_layouts import Aim
from siteplan.values.tried import Candidate, LaidOut, MissedWay
from siteplan.values.water_ends import Outlet
from siteplan.yard.groups import yard_scene
from siteplan.yard.pairs import tried_pair
from siteplan.yard.spares import laid_yard, last_of, way_to_outlet
from siteplan.yard.taken import elsewhere

LEAST_COST = Aim(what="cost")
_STEEPER = (3.0, 2.5, 2.0, 1.75, 1.5, 1.25)  # times the least grade in force
_STEP = 0.1  # m along a line between places that are priced
_GRADE = 1e-4  # grades nearer than this are one setting of the laser [-]
_LEAST_CROSSED = 0.5  # m under pavement that are worth a way round


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Try:
    """One layout to lay: what for, and the site and prices that the planner takes for it."""

    aim: Aim
    site: Site
    prices: Prices


def tries(
    site: Site,
    lines: Sequence[Line],
    outlets: Sequence[Outlet],
    spots: Sequence[LowSpot],
    candidates: Sequence[Candidate],
    pipe: Pipe,
    *,
    every: bool,
) -> Iterator[Try]:
    """Other layouts, those that are quick to lay first.

    Parameters
    ----------
    site : Site
        As surveyed.
    lines : sequence of Line
        As laid at least cost.
    outlets : sequence of Outlet
        The plan's.
    spots : sequence of LowSpot
        Wet ground.
    candidates : sequence of Candidate
        Every pair of source and outlet, and whether it can be served there.
    pipe : Pipe
        Smallest on offer, in which a steeper grade is tried on the net first.
    every : bool
        True: every step of grade that serves all; else the steepest one alone.

    Yields
    ------
    Try
        Only such as have a reason: an outlet in use that could be done without, pavement crossed, fall to be had, a
        trench shared.
    """
    plain = site.laying.prices
    served = {key for line in lines for key in line.sources}
    effort = replace(site.laying.effort, closer=False)
    alone = replace(
        site,
        sources=tuple(one for one in site.sources if one.id in served),
        laying=replace(site.laying, effort=effort),
    )
    drawn = {one.attributes["to"] for one in site.of_kind(Kind.DRAIN)}  # a person wants lines there
    free = [outlet for outlet in outlets if outlet.name not in drawn]
    for grade in _steeper(alone, lines, outlets, spots, pipe, every=every):
        yield Try(aim=Aim(what="fall", grade=grade), site=_at_grade(alone, grade), prices=plain)
    if under_pavement(lines) >= _LEAST_CROSSED:
        dear = {name: PAVEMENT_DEARER * getattr(plain, name) for name in ("driveway", "paving", "walk", "askew")}
        yield Try(aim=Aim(what="pavement"), site=alone, prices=plain._replace(**dear))
    if any(len(line.sources) > 1 for line in lines):
        yield Try(aim=Aim(what="apart"), site=_all_alone(alone), prices=plain)
    dig = {"digging": DIG_DEARER * plain.digging, "deep": DIG_DEARER * plain.deep}
    yield Try(aim=Aim(what="depth"), site=alone, prices=plain._replace(**dig))
    for outlet in _spareable(lines, free, candidates):
        without = replace(site.what_if, without=(*site.what_if.without, outlet.name))
        yield Try(aim=Aim(what="outlet", outlet=outlet.id), site=replace(alone, what_if=without), prices=plain)


def _spareable(lines: Sequence[Line], outlets: Sequence[Outlet], candidates: Sequence[Candidate]) -> list[Outlet]:
    """Named outlets in use without which every source that ends there has another, those that carry most first."""
    carried = {
        outlet.id: {key for line in lines if line.end == outlet.id for key in line.sources}
        for outlet in outlets
        if not outlet.found
    }
    elsewhere_too = {
        name: {one.outlet for one in candidates if one.feasible and one.sources == (name,)}
        for name in {key for keys in carried.values() for key in keys}
    }
    able = [
        outlet
        for outlet in outlets
        if carried.get(outlet.id) and all(elsewhere_too[key] - {outlet.id} for key in carried[outlet.id])
    ]
    return sorted(able, key=lambda outlet: (-len(carried[outlet.id]), outlet.id))


def _steeper(
    site: Site, lines: Sequence[Line], outlets: Sequence[Outlet], spots: Sequence[LowSpot], pipe: Pipe, *, every: bool
) -> Iterator[float]:
    """Least grades at which the net still brings every source to an outlet and a way as laid does not.

    The steepest first [-].
    """
    least = rules.needed(site.rules, rules.MIN_GRADE)
    most = rules.limit(site.rules, rules.MAX_GRADE)
    for times in _STEEPER:
        grade = round(times * least, 6)
        if (most is not None and grade > most) or _borne(site, lines, outlets, spots, grade):
            continue
        steep = _at_grade(site, grade)
        scene = yard_scene(steep, tuple(outlets), (), pipe, site.laying.prices)
        if all(any(tried_pair(scene, one, end).why is None for end in outlets) for one in steep.sources):
            yield grade
            if not every:
                return


def _borne(
    site: Site, lines: Sequence[Line], outlets: Sequence[Outlet], spots: Sequence[LowSpot], grade: float
) -> bool:
    """Whether the ways as laid would all bear a steeper least grade: then a layout for it is the same one."""
    laid = laid_yard(lines, site, outlets, spots)
    for line in lines:
        way = way_to_outlet(line, laid)
        if float((way.ceiling - grade * way.station).min()) < laid.outlets[last_of(line, laid.lines).end].control:
            return False
    return True


def _at_grade(site: Site, grade: float) -> Site:
    held = site.rules[rules.MIN_GRADE.id]
    raised = {**site.rules, rules.MIN_GRADE.id: held._replace(limit=grade)}
    return replace(site, rules=raised, settle_grade=rules.needed(site.rules, rules.MIN_GRADE))


def _all_alone(site: Site) -> Site:
    def alone(one: Feature) -> Feature:
        return replace(one, attributes={**one.attributes, "own_line": True}) if one.kind in SOURCES else one

    return replace(site, features=tuple(alone(one) for one in site.features))


def under_pavement(lines: Sequence[Line]) -> float:
    """Length of trench under driveways, paving and walks.

    Parameters
    ----------
    lines : sequence of Line
        With what they cross.

    Returns
    -------
    float
        [m].
    """
    return sum(
        one.station_to - one.station_from for line in lines for one in line.crossings if one.kind in PAVEMENT_KINDS
    )


def priced(
    site: Site, lines: Sequence[Line], outlets: Sequence[Outlet], spots: Sequence[LowSpot]
) -> tuple[float, tuple[Line, ...]]:
    """What a layout costs by the site's own prices, whatever prices it was laid by.

    Parameters
    ----------
    site : Site
        As surveyed.
    lines : sequence of Line
        Of one layout.
    outlets : sequence of Outlet
        Where they end.
    spots : sequence of LowSpot
        Wet ground, which is priced.

    Returns
    -------
    tuple of float and tuple of Line
        Trench, bends, wyes, changes of grade and pavement edges crossed askew [-]; and the lines with the trench's
        share each.

    References
    ----------
    docs/costs.md; relative, common practice, no source.
    """
    prices = site.laying.prices
    total, told = 0.0, []
    for line in lines:
        asked = terms(site.rules, line.pipe)
        chain = [(vertex.x, vertex.y) for vertex in line.vertices]
        grounds = grounds_of(site, outlets, spots, asked, prices)
        bends = sum(bend_price(turn(*chain[k - 1 : k + 2]), prices) for k in range(1, len(chain) - 1))
        # run by run: a line that a person drew may turn more sharply than any fitting, which has no price
        surface = sum(chain_price(grounds, pair, prices) for pair in itertools.pairwise(chain))
        dug = _dug(site, line, prices, asked.below, asked.ladder)
        total += surface + dug + (bends if np.isfinite(bends) else 0.0)
        total += 0.0 if line.end in {one.id for one in outlets} else prices.wye
        total += prices.grade_break * _settings(line)
        told.append(replace(line, cost=surface + dug))
    return total, tuple(told)


def _dug(site: Site, line: Line, prices: Prices, below: float, ladder: float) -> float:
    """Price of the depth along a line; unknown ground is taken between what is known."""
    at = np.linspace(0.0, line.length, max(2, int(line.length / _STEP) + 1))
    x, y, invert = (np.array(part) for part in zip(*(line.at(float(s)) for s in at), strict=True))
    ground = heights(site.grid, x, y)
    known = np.isfinite(ground)
    if not known.any():
        return 0.0
    bottom = np.interp(at, at[known], ground[known]) - invert + below
    unit = prices.digging * bottom + prices.deep * np.maximum(0.0, bottom - ladder)
    return float(((unit[1:] + unit[:-1]) / 2 * np.diff(at)).sum())


def _settings(line: Line) -> int:
    """How many grades a line is laid at."""
    grades = [
        (b.invert - a.invert) / (b.station - a.station)
        for a, b in itertools.pairwise(line.vertices)
        if b.station - a.station > 0.05
    ]
    return 1 + sum(abs(b - a) > _GRADE for a, b in itertools.pairwise(grades))


def alike(one: Sequence[Line], ends: Sequence[Outlet], other: Sequence[Line], other_ends: Sequence[Outlet]) -> bool:
    """Whether two layouts are one to whoever digs them.

    Parameters
    ----------
    one, other : sequence of Line
        Their lines.
    ends, other_ends : sequence of Outlet
        Their outlets; found points are told by their place, not by their id.

    Returns
    -------
    bool
        True where every source leaves by the same outlet, the same sources share a trench, and no more than
        `SAME_SHARE` of either's trench lies farther than `SAME_TRENCH` from the other's.

    References
    ----------
    The two figures: common practice, no source.
    """
    if _served_by(one, ends) != _served_by(other, other_ends):
        return False
    if {line.sources for line in _sorted(one)} != {line.sources for line in _sorted(other)}:
        return False
    a, b = _trench(one), _trench(other)
    return all(
        float(shapely.difference(first, shapely.buffer(second, SAME_TRENCH)).length) <= SAME_SHARE * float(first.length)
        for first, second in ((a, b), (b, a))
    )


def _sorted(lines: Sequence[Line]) -> list[Line]:
    return [replace(line, sources=tuple(sorted(line.sources))) for line in lines]


def _served_by(lines: Sequence[Line], outlets: Sequence[Outlet]) -> dict[str, tuple[float, float]]:
    places = {one.id: (round(one.x, 1), round(one.y, 1)) for one in outlets}
    return {key: places[line.end] for line in lines if line.end in places for key in line.sources}


def _trench(lines: Sequence[Line]) -> shapely.Geometry:
    return shapely.multilinestrings([shapely.linestrings([(v.x, v.y) for v in line.vertices]) for line in lines])


def as_candidates(
    plain: LaidOut, taken: LaidOut, named: Sequence[Outlet], sources: Sequence[str]
) -> tuple[Candidate, ...]:
    """The ways weighed, as a plan that takes another layout lists them.

    Parameters
    ----------
    plain : LaidOut
        At least cost: what it says of named outlets was weighed on the site as surveyed.
    taken : LaidOut
        The layout taken: what it says of points that it found.
    named : sequence of Outlet
        The site's own outlets.
    sources : sequence of str
        Ids of the site's sources, in order.

    Returns
    -------
    tuple of Candidate
        One of each source and outlet, those taken marked; costs of found points are not told, other prices may have
        found them.
    """
    own = {one.id for one in named}
    told = (*(c for c in plain.candidates if c.outlet in own), *(c for c in taken.candidates if c.outlet not in own))
    rows = [c if c.outlet in own else replace(c, cost=None) for c in told if len(c.sources) == 1]
    ends = {outlet.id for outlet in taken.outlets}
    last = {key: line.end for line in taken.lines if line.end in ends for key in line.sources}
    order = {name: place for place, name in enumerate(sources)}
    listed = (elsewhere(c, last.get(c.sources[0])) for c in rows)
    return tuple(sorted(listed, key=lambda c: order[c.sources[0]]))


def missed_ways(plain: LaidOut, taken: LaidOut, named: Sequence[Outlet]) -> tuple[MissedWay, ...]:
    """The ways along which the candidates that `as_candidates` lists were found short.

    Parameters
    ----------
    plain, taken : LaidOut
        As there.
    named : sequence of Outlet
        The site's own outlets.

    Returns
    -------
    tuple of MissedWay
        To named outlets those of the one, to points that were found those of the other.
    """
    own = {one.id for one in named}
    return (*(m for m in plain.missed if m.outlet in own), *(m for m in taken.missed if m.outlet not in own))
