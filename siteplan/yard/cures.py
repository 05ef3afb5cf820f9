"""Sources that no line serves in; out.

The single changes with each of which a line was laid to them, in the order practice tries them.

Nothing is offered on a formula: every change is made on the site in memory and that source laid out again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from siteplan import units
from siteplan.books import rules
from siteplan.books.kinds import pumped
from siteplan.books.practice import DEEPEST, LEAST_COVER_SHARE, LONGEST_ZONE, MOST_FILL, POPUP_HEAD
from siteplan.books.pumping import LEAST_PUMPED
from siteplan.books.rules import Rule, RuleBook
from siteplan.fall.band import Band
from siteplan.fall.highest import spare
from siteplan.routes.daylight import lawful_ends
from siteplan.routes.ends import End, Start, end_of, start_of
from siteplan.routes.outlets import lowest_control
from siteplan.routes.sharing import may_end
from siteplan.routes.straight import Place, lawful_chain
from siteplan.routes.terms import Terms, terms
from siteplan.routes.trace import Trace, trace
from siteplan.routes.yard import MARGIN, Grounds, Yard, grounds_of, yard_of
from siteplan.site import Floats, Site
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.tried import Attempt, AttemptPlace, Candidate, Cure, CureKind, MissedWay
from siteplan.values.water_ends import Outlet, Source
from siteplan.yard.candidates import BOTTOMLESS, arrival_spare, least_lossy_way, swept, walled_in
from siteplan.yard.groups import lay_out
from siteplan.yard.pressed import lifted_line, with_lifted
from siteplan.yard.regrade import regraded

MOST_SOURCES = 6  # of one plan that changes are tried for
MOST_OUTLETS = 2  # of one source, the nearest miss first
_AT_SOURCE = 1.0  # m of ground at the source that is not raised: it is the house's
_DRAWN_STEP = 1.0  # m between places of a line that is drawn though it is not legal
STEPS_MORE = 2  # a figure that the net found and the finished line did not keep is tried so many steps further
_STEPS = {  # of the figures offered [m]: what is printed is what was laid
    "m": {"zone": 1.5, "cover": 0.01, "invert": 0.01, "depth": 0.1},
    "ft": {"zone": 5 * units.FOOT, "cover": 0.5 * units.INCH, "invert": 0.01 * units.FOOT, "depth": 0.25 * units.FOOT},
}


Weigh = Callable[[Site, Outlet, Line | None], tuple[str, ...]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ask:
    """One source and one outlet of a site, and the net between them."""

    site: Site
    spots: tuple[LowSpot, ...]
    pipe: Pipe
    source: Source
    outlet: Outlet
    terms: Terms
    grounds: Grounds
    yard: Yard
    start: Start
    weigh: Weigh

    def arrives(self, *, asked: Terms | None = None, outlet: Outlet | None = None) -> bool:
        """Whether the net brings the source to the outlet under other terms, or to another outlet."""
        held, end = asked or self.terms, outlet or self.outlet
        yard, start = self.yard, self.start
        if held.cover != self.terms.cover or held.depth != self.terms.depth:
            yard = _under(yard, self.terms, held)
            start = start_of(self.site, yard, self.source, held, self.site.laying.prices)
        last: End = end_of(self.site, yard, end, held, self.site.laying.prices)
        amount = arrival_spare(swept(yard, start, held), last, end, held) if start.nodes.size else None
        return amount is not None and amount >= 0

    def laid(
        self, *, book: RuleBook | None = None, outlet: Outlet | None = None, site: Site | None = None
    ) -> tuple[Line, tuple[str, ...]] | None:
        """The line laid anew for this source alone, with the whole of the planner.

        Also the rules that it breaks beside the others; or None.
        """
        end = outlet or self.outlet
        whole = replace(site or self.site, rules=book or self.site.rules)
        alone = replace(whole, sources=(self.source,))
        lines = lay_out(alone, (end,), self.spots, self.pipe, self.site.laying.prices).lines
        line = next((line for line in lines if self.source.id in line.sources and line.end == end.id), None)
        return None if line is None else (line, self.weigh(whole, end, line))


def attempts_of(
    site: Site,
    outlets: Sequence[Outlet],
    spots: Sequence[LowSpot],
    pipe: Pipe,
    candidates: Sequence[Candidate],
    lines: Sequence[Line],
    ways: Sequence[MissedWay] = (),
    weigh: Weigh = lambda _site, _outlet, _line: (),
) -> tuple[Attempt, ...]:
    """What was tried for every source that no line serves, and what would serve it.

    Parameters
    ----------
    site : Site
        The surveyed site.
    outlets : sequence of Outlet
        The plan's.
    spots : sequence of LowSpot
        Wet ground.
    pipe : Pipe
        The pipe laid.
    candidates : sequence of Candidate
        Why each pair failed.
    lines : sequence of Line
        As laid.
    ways : sequence of MissedWay
        Along which candidates were found short: what is drawn, and told of it, is that way. A candidate without one is
        drawn along the way of a net of its own that loses least.
    weigh : callable, optional
        A site as changed, an outlet and a line laid to it beside the others (None: its source is lifted there on that
        site) to the ids of rules that break with it.

    Returns
    -------
    tuple of Attempt
        By source and nearest miss; then, for each named outlet that nothing reaches while lines go elsewhere, the
        nearest miss of a source that is served, with the lift that would make that outlet work. Each cure was laid out:
        its figure is the one that then gave a line, and `spare` is that line's. `tried` is False where no change was
        tried, for the number of sources or outlets.
    """
    served = {key for line in lines for key in line.sources}
    by_id = {outlet.id: outlet for outlet in outlets}
    looked_at = {(one.source, one.outlet): one.way for one in ways}
    found: list[Attempt] = []
    for number, source in enumerate(one for one in site.sources if one.id not in served):
        missed = sorted(
            (
                c
                for c in candidates
                if c.sources == (source.id,) and c.outlet in by_id and may_end(site, source, by_id[c.outlet])
            ),
            key=lambda c: (-(round(c.margin, 4) if c.margin is not None else math.inf), c.outlet),
        )
        helped = False
        for place, candidate in enumerate(missed):
            tried = number < MOST_SOURCES and place < MOST_OUTLETS and not helped
            ask = _ask(site, source, by_id[candidate.outlet], spots, pipe, weigh)
            cures = tuple(sorted(_cures(ask, first=place == 0), key=lambda one: bool(one.fails))) if tried else ()
            along = _measured(ask, looked_at.get((source.id, candidate.outlet)))
            helped |= any(cure.kind != "lift" and not cure.fails for cure in cures)
            found.append(
                Attempt(
                    source=source.id,
                    outlet=candidate.outlet,
                    cures=cures,
                    tried=tried,
                    station=_binding(ask, along),
                    line=_drawn(ask, along),
                    short_by=None if candidate.margin is None else _even(max(0.0, -candidate.margin)),
                )
            )
    return (*found, *_unused(site, outlets, spots, pipe, candidates, served, looked_at, weigh))


def _unused(
    site: Site,
    outlets: Sequence[Outlet],
    spots: Sequence[LowSpot],
    pipe: Pipe,
    candidates: Sequence[Candidate],
    served: set[str],
    looked_at: Mapping[tuple[str, str], Sequence[Place]],
    weigh: Weigh,
) -> Iterator[Attempt]:
    """For each named outlet that nothing reaches though lines go elsewhere.

    Its nearest miss, and the lift that would make it work.
    """
    by_id = {source.id: source for source in site.sources}
    for outlet in (one for one in outlets if not one.found):
        tries = [c for c in candidates if c.outlet == outlet.id]
        missed = [
            (round(c.margin, 4), c.sources[0])
            for c in tries
            if len(c.sources) == 1 and c.sources[0] in served and c.margin is not None
        ]
        if not missed or any(c.feasible for c in tries):
            continue
        short, source = max(missed, key=lambda miss: miss[0])
        ask = _ask(site, by_id[source], outlet, spots, pipe, weigh)
        cures = tuple(_lift(ask)) if ask.start.nodes.size else ()
        along = _measured(ask, looked_at.get((source, outlet.id)))
        yield Attempt(
            source=source,
            outlet=outlet.id,
            cures=cures,
            tried=True,
            station=_binding(ask, along),
            line=_drawn(ask, along),
            short_by=_even(max(0.0, -short)),
        )


def _ask(site: Site, source: Source, outlet: Outlet, spots: Sequence[LowSpot], pipe: Pipe, weigh: Weigh) -> _Ask:
    prices, asked = site.laying.prices, terms(site.rules, pipe)
    grounds = grounds_of(site, (outlet,), spots, asked, prices)
    yard = yard_of(site, grounds, asked, prices)
    return _Ask(
        site=site,
        spots=tuple(spots),
        pipe=pipe,
        source=source,
        outlet=outlet,
        terms=asked,
        grounds=grounds,
        yard=yard,
        start=start_of(site, yard, source, asked, prices),
        weigh=weigh,
    )


def _binding(ask: _Ask, along: Trace | None) -> float | None:
    """Station of the limit that decides, on the way that loses least [m]."""
    if along is None:
        return None
    band = Band(station=along.station, ceiling=along.ceiling, floor=along.floor)
    return _even(spare(band, grade=ask.terms.grade).binding_station)


def _short(ask: _Ask, along: Trace) -> tuple[Floats, Floats]:
    """The lowest inverts that still fall to the outlet, and how far each lies over the highest legal one [m]."""
    at, grade = along.station, ask.terms.grade
    level = np.maximum.accumulate(np.maximum(along.floor - grade * at, ask.outlet.control))
    invert = level + grade * at
    return invert, np.where(np.isfinite(along.ceiling), np.maximum(0.0, invert - along.ceiling), 0.0)


def _measured(ask: _Ask, way: Sequence[Place] | None) -> Trace | None:
    """The way that the candidate's figures were measured along, so that one shortage has one figure.

    Else the one that loses least.
    """
    if way is None:
        return _pulled(ask)
    return trace(ask.site, ask.grounds, tuple(reversed(way)), ask.source, ask.outlet, ask.terms)


def _pulled(ask: _Ask) -> Trace | None:
    """The way that loses least, in the longest straight runs that stay lawful where that is no worse than the net's own steps."""
    along = _along(ask) if ask.start.nodes.size else None
    if along is None:
        return None
    corners = list(along.corners)
    kept = [corners[0]]
    while kept[-1] != corners[-1]:
        here = corners.index(kept[-1])
        ahead = range(len(corners) - 1, here + 1, -1)
        kept.append(
            next((corners[k] for k in ahead if lawful_chain(ask.grounds, (corners[k], kept[-1]))), corners[here + 1])
        )
    straight = trace(ask.site, ask.grounds, tuple(kept), ask.source, ask.outlet, ask.terms)
    known = straight.known.all() or not along.known.all()
    return straight if known and _short(ask, straight)[1].max() <= _short(ask, along)[1].max() else along


def _drawn(ask: _Ask, along: Trace | None) -> tuple[AttemptPlace, ...]:
    """The best line, place by place, though it is not legal."""
    if along is None:
        return ()
    at = along.station
    invert, short = _short(ask, along)
    wanted = [*along.corner_stations, *np.arange(0.0, at[-1], _DRAWN_STEP), at[int(np.argmax(short))]]
    kept = sorted({int(np.argmin(np.abs(at - station))) for station in wanted})
    return tuple(
        AttemptPlace(
            station=_even(at[k]),
            x=_even(along.x[k]),
            y=_even(along.y[k]),
            ground=_even(along.ground[k]) if along.known[k] else math.nan,
            invert=_even(invert[k]),
            short=_even(short[k]),
        )
        for k in kept
    )


def _cures(ask: _Ask, *, first: bool) -> Iterator[Cure]:
    if not ask.start.nodes.size:
        return
    if walled_in(ask.yard, ask.outlet):
        if first:
            yield from _pop_up(ask)
        return
    yield from _longer_zone(ask)
    yield from _less_cover(ask)
    yield from _lower_outlet(ask)
    if first:
        yield from _pop_up(ask)
    yield from _fill(ask)
    yield from _deeper(ask)
    if first:
        yield from _lift(ask)


def _step(ask: _Ask, what: str, *, elevation: bool = False) -> float:
    unit = ask.site.elevation_unit if elevation else ask.site.length_unit
    return _STEPS["m" if unit == "m" else "ft"][what]


def _with(book: RuleBook, rule: Rule, limit: float) -> RuleBook:
    return {**book, rule.id: book[rule.id]._replace(limit=limit)}


def _cure(kind: CureKind, amount: float, held: float, laid: tuple[Line, tuple[str, ...]], **more: object) -> Cure:
    line, fails = laid
    return Cure(
        kind=kind,
        amount=_even(amount),
        held=_even(held),
        spare=_even(line.spare),
        length=_even(line.length),
        cut=_even(max(row.cut for row in line.rows)) if line.rows else None,
        fails=fails,
        **more,  # type: ignore[arg-type]
    )


def _even(value: float) -> float:
    """A figure as plan.json keeps it, so that every sheet prints the same."""
    return round(float(value), 6)


def _longer_zone(ask: _Ask) -> Iterator[Cure]:
    """Heavy pipe with the outlet zone's cover over a longer last stretch."""
    held, step = ask.terms, _step(ask, "zone")
    if held.zone_cover >= held.cover:
        return
    zones = [zone for k in range(1, 20) if held.zone < (zone := k * step) <= LONGEST_ZONE]
    near = math.dist((ask.source.x, ask.source.y), (ask.outlet.x, ask.outlet.y)) < LONGEST_ZONE / 2
    # near the outlet the line is a straight run or two, which the net's own test does not know
    able = [zone for zone in zones if near or ask.arrives(asked=held._replace(zone=zone))]
    for zone in able[: 1 + STEPS_MORE]:
        line = ask.laid(book=_with(ask.site.rules, rules.OUTLET_ZONE, zone))
        if line is not None:
            yield _cure("outlet-zone", zone, held.zone, line)
            return


def _less_cover(ask: _Ask) -> Iterator[Cure]:
    """Less cover all along; only where the cover is the default and not what a site or its town asks for."""
    book, held, step = ask.site.rules, ask.terms, _step(ask, "cover")
    if book[rules.MIN_COVER.id].replaced is not None:
        return
    covers = [held.cover - k * step for k in range(1, 1 + round(held.cover * (1 - LEAST_COVER_SHARE) / step))]
    best = _first(covers, lambda cover: ask.arrives(asked=held._replace(cover=cover)))
    for cover in covers[best : best + 1 + STEPS_MORE] if best is not None else ():
        line = ask.laid(book=_with(book, rules.MIN_COVER, cover))
        if line is not None:
            yield _cure("min-cover", cover, held.cover, line)
            return


def _lower_outlet(ask: _Ask) -> Iterator[Cure]:
    """The same outlet lower, down to the ground that it pours on."""
    outlet, step = ask.outlet, _step(ask, "invert", elevation=True)
    if outlet.found or outlet.invert is None:
        return  # its control is as low as its ground and the rules' allowance let it be
    lowest = lowest_control(ask.site, outlet)
    whole = math.floor(outlet.control / step + 1e-6)
    levels = [level for k in range(200) if lowest - 1e-9 <= (level := (whole - k) * step) < outlet.control - 1e-9]
    best = _first(levels, lambda level: ask.arrives(outlet=replace(outlet, control=level, invert=level)))
    for level in levels[best : best + 1 + STEPS_MORE] if best is not None else ():
        line = ask.laid(outlet=replace(outlet, control=level, invert=level))
        if line is not None:
            yield _cure("outlet-invert", level, outlet.control, line)
            return


def _pop_up(ask: _Ask) -> Iterator[Cure]:
    """A pop-up on the lawn.

    The line arrives under its cover, and the water rises to a rim that lies under the source.
    """
    held, yard = ask.terms, ask.yard
    nodes = np.flatnonzero(yard.is_open)
    reach = swept(yard, ask.start, held).inverts[nodes]
    place = yard.places(nodes)
    away = np.hypot(place[:, 0] - ask.source.x, place[:, 1] - ask.source.y)
    good = np.isfinite(reach) & (yard.ground[nodes] <= ask.source.ground - POPUP_HEAD) & (away >= held.zone)
    good &= lawful_ends(ask.site, yard, nodes, ask.spots, sump=pumped(ask.source.kind))
    step = _step(ask, "invert", elevation=True)
    for k in np.flatnonzero(good)[np.lexsort((nodes[good], np.round(away[good], 3)))][:1]:
        ground = float(yard.ground[nodes[k]])
        level = math.floor((min(float(reach[k]), ground - held.cover - held.rise) - 0.02) / step) * step
        end = Outlet(
            id="P1",
            kind="daylight_outlet",
            name="pop-up",
            x=float(place[k, 0]),
            y=float(place[k, 1]),
            ground=ground,
            control=level,
            basis="",
            invert=level,
        )
        line = ask.laid(outlet=end)
        if line is not None:
            yield _cure(
                "pop-up", ask.source.ground - ground, 0.0, line, x=_even(end.x), y=_even(end.y), invert=_even(level)
            )


def _deeper(ask: _Ask) -> Iterator[Cure]:
    """A trench deeper than the limit in force, where depth is what bars the line."""
    held, step = ask.terms, _step(ask, "depth")
    if held.depth >= DEEPEST or not ask.arrives(asked=held._replace(depth=BOTTOMLESS)):
        return
    depths = [depth for k in range(1, 60) if held.depth + 1e-9 < (depth := k * step) <= DEEPEST]
    best = _first(depths, lambda depth: ask.arrives(asked=held._replace(depth=depth)))
    for depth in depths[best : best + 1 + STEPS_MORE] if best is not None else ():
        line = ask.laid(book=_with(ask.site.rules, rules.MAX_DEPTH, depth))
        if line is not None:
            yield _cure("max-depth", depth, held.depth, line)
            return


def _along(ask: _Ask) -> Trace | None:
    """Ground and limits along the way that loses least fall, whatever its depth; None where no way is open."""
    way = least_lossy_way(ask.yard, ask.start, ask.source, ask.outlet, ask.terms)
    if way is None:
        return None
    corners = tuple(reversed(way))
    return trace(ask.site, ask.grounds, corners, ask.source, ask.outlet, ask.terms)


def _fill(ask: _Ask) -> Iterator[Cure]:
    """Ground raised along the way that loses least, where the cover falls short there; never at the house."""
    along = _along(ask)
    if along is None:
        return
    raised = regraded(ask.site, along, ask.outlet.control, ask.terms, spare=2 * MARGIN)
    length = along.corner_stations[-1]
    if raised is None or raised.highest > MOST_FILL or raised.station_to > length - _AT_SOURCE:
        return
    line = ask.laid(site=raised.site)
    if line is not None:
        yield _cure(
            "fill",
            raised.highest,
            0.0,
            line,
            volume=_even(raised.volume),
            width=raised.width,
            way=tuple((_even(x), _even(y), _even(z)) for x, y, z in raised.way),
            station_from=_even(raised.station_from),
            station_to=_even(raised.station_to),
        )


def _lift(ask: _Ask) -> Iterator[Cure]:
    """The water lifted at its source, under pressure all the way: it needs an open way and no fall."""
    along = _along(ask)
    if along is None:
        return
    top = max(float(np.max(along.ceiling)), ask.outlet.control)
    lift = max(0.0, top - float(along.ceiling[-1]))
    plain = Cure(
        kind="lift", amount=_even(lift), held=0.0, spare=None, length=_even(along.corner_stations[-1]), cut=None
    )
    line = lifted_line(ask.site, ask.spots, ask.source, ask.outlet)
    if line is None or line.pumped is None:
        yield plain
        return
    told = line.pumped
    own = bool(told.curve) and told.flow >= LEAST_PUMPED
    yield replace(
        plain,
        length=_even(line.length),
        cut=_even(max(row.cut for row in line.rows)),
        flow=told.flow if own else round(told.wanted_flow / units.LITRE, 6) * units.LITRE,
        head=_even(told.head if own else told.wanted_head),
        own_pump=own,
        fails=ask.weigh(with_lifted(ask.site, ask.source, ask.outlet), ask.outlet, None),
    )


def _first(figures: Sequence[float], good: Callable[[float], bool]) -> int | None:
    """The first of figures that are the easier the later; by halving."""
    if not figures or not good(figures[-1]):
        return None
    low, high = -1, len(figures) - 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if good(figures[middle]) else (middle, high)
    return high


def _under(yard: Yard, now: Terms, then: Terms) -> Yard:
    """The net under another cover on lawns, or another depth."""
    lawn = yard.ceiling >= yard.ground - now.cover - now.rise - MARGIN - 1e-9
    cover = np.where(lawn, now.cover - then.cover, max(0.0, now.cover_pavement - then.cover_pavement))
    return replace(
        yard,
        ceiling=np.where(yard.is_open > 0, yard.ceiling + cover, -np.inf),
        floor=np.where(yard.is_open > 0, yard.ground - then.depth, np.inf),
    )
