"""Pumps and the lines by gravity in; the lines under pressure out.

Way, inverts, the flow that results and what goes with it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from siteplan import units
from siteplan.books import rules
from siteplan.books.kinds import pumped
from siteplan.books.pipes import sizes
from siteplan.books.pumping import (
    BASIN_BELOW_GROUND,
    LEAST_PUMPED,
    LOSSES,
    PIT_BELOW_GROUND,
    PRESSURE_PIPE,
    RUN_OUT,
    SHUT_OFF,
    SMOOTHNESS,
    pit_storage,
)
from siteplan.fall.band import Profile
from siteplan.fall.margins import margin_for
from siteplan.routes.lines import Laid, fittings_of
from siteplan.routes.straight import Place, chain_price
from siteplan.routes.terms import Terms, terms
from siteplan.routes.trace import Trace, passages, trace
from siteplan.routes.yard import grounds_of, yard_of
from siteplan.site import Feature, Site
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import FittingKind, Pipe
from siteplan.values.lines import Line
from siteplan.values.water_ends import Outlet, Pump, Pumped, Source
from siteplan.water.pressed import (
    curve_of_point,
    cycle_at,
    emptied,
    fitting_head,
    friction_head,
    resulting_flow,
    shortest_cycle,
    velocity,
)
from siteplan.yard.as_written import lines_as_written
from siteplan.yard.pressed_way import PLAY, Floats, pressed_inverts, pressed_way
from siteplan.yard.rows import crossings_of, marks_of, on_paper, rows_of, vertices_of

_CROSSING = 0.4  # m to each side of a pipe that is crossed, over which the line keeps clear of it
_FREE = 1.0  # m round the ends of a line under pressure where another trench may lie: both come into one box
GAP_BORES = 2.0  # of the pressure pipe, from its end down to what it pours into
_LEAST_GAP = 1 * units.INCH


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _End:
    """Where a line under pressure ends.

    The id it ends at, its place, the invert there, and how far that stands over what it pours into.
    """

    id: str
    name: str
    outlet: Outlet  # an outlet, or a stand-in for the discharge point
    into: float | None  # elevation of what it pours into through an open gap [m]; None: into the open at an outlet

    def gap(self, pipe: Pipe) -> float | None:
        """From the end of a pipe down to what it pours into [m]."""
        return None if self.into is None else max(GAP_BORES * pipe.bore, _LEAST_GAP)

    def invert(self, pipe: Pipe) -> float:
        """Where a pipe ends [m]."""
        return self.outlet.control if self.into is None else self.into + (self.gap(pipe) or 0.0)


def with_expected_rates(site: Site, spots: Sequence[LowSpot], outlets: Sequence[Outlet]) -> Site:
    """The site with what each pump would give through its line, before any line by gravity is laid.

    Parameters
    ----------
    site : Site
        As surveyed.
    spots : sequence of LowSpot
        Wet ground.
    outlets : sequence of Outlet
        Named outlets.

    Returns
    -------
    Site
        Sizes of lines by gravity are chosen for these rates; unchanged where no pump lifts through a line.
    """
    if not site.pumps:
        return site
    return site.with_rates(rates_of(pressed_lines(site, spots, (), outlets, alone=True)[0]))


def rates_of(lines: Sequence[Line]) -> dict[str, float]:
    """What pumps give through their lines.

    Parameters
    ----------
    lines : sequence of Line
        Under pressure.

    Returns
    -------
    dict of str to float
        By id of the sump [m3/s]; the flow asked for where no pump is stated.
    """
    return {line.start: line.pumped.flow for line in lines if line.pumped is not None and line.pumped.flow > 0}


def pressed_lines(
    site: Site, spots: Sequence[LowSpot], lines: Sequence[Line], outlets: Sequence[Outlet], *, alone: bool = False
) -> tuple[tuple[Line, ...], tuple[str, ...]]:
    """Lines under pressure.

    Parameters
    ----------
    site : Site
        With its pumps.
    spots : sequence of LowSpot
        Wet ground.
    lines : sequence of Line
        By gravity, as laid.
    outlets : sequence of Outlet
        The plan's.
    alone : bool
        True: a discharge point needs no line by gravity yet.

    Returns
    -------
    tuple of Line, and of str
        In the order of the pumps, and what could not be laid and why. Trenches of lines by gravity are gone round where
        a way leads round them.
    """
    found: list[Line] = []
    notes: list[str] = []
    for pump in site.pumps:
        end = _end_of(site, pump, lines, outlets, alone=alone)
        if isinstance(end, str):
            notes.append(end)
            continue
        line = _line(site, spots, pump, end, (*lines, *found), f"P{len(found) + 1}")
        if line is None:
            notes.append(f"{pump.name}: no lawful way for a line under pressure to {end.name} is found on this net")
            continue
        found.append(line)
        notes += _crossed(line, lines)
    return tuple(found), tuple(notes)


def lifted_line(site: Site, spots: Sequence[LowSpot], source: Source, outlet: Outlet) -> Line | None:
    """A line under pressure from a source that names no discharge to an outlet, as a sump there would have it.

    Parameters
    ----------
    site : Site
        As surveyed.
    spots : sequence of LowSpot
        Wet ground.
    source : Source
        A sump, whose own pump counts where it is stated; of any other source a basin with a pump.
    outlet : Outlet
        One of the plan's.

    Returns
    -------
    Line or None
        None where no lawful way is found on this net.
    """
    alone = with_lifted(replace(site, pumps=(), sources=(source,), lifted=()), source, outlet)
    return next(iter(pressed_lines(alone, spots, (), (outlet,))[0]), None)


def with_lifted(site: Site, source: Source, outlet: Outlet) -> Site:
    """The site with a source lifted all the way to an outlet.

    Parameters
    ----------
    site : Site
        As surveyed.
    source : Source
        One of its sources that names no discharge.
    outlet : Outlet
        One of the plan's.

    Returns
    -------
    Site
        The source is among those lifted, with a pump.
    """
    pump = _pump_at(site, source, outlet.name, to_outlet=True)
    left = tuple(one for one in site.sources if one.id != source.id)
    return replace(site, pumps=(*site.pumps, pump), sources=left, lifted=(*site.lifted, source))


def line_to_box(site: Site, spots: Sequence[LowSpot], source: Source, box: Source, name: str) -> Line | None:
    """A line under pressure from a sump that names no discharge to a place from which gravity is to go on.

    Parameters
    ----------
    site : Site
        As surveyed.
    spots : sequence of LowSpot
        Wet ground.
    source : Source
        The sump.
    box : Source
        The same as it would stand to gravity, at the box.
    name : str
        Of the box.

    Returns
    -------
    Line or None
        None where no lawful way is found on this net.
    """
    pump = _pump_at(site, source, name, to_outlet=False)
    alone = replace(site, pumps=(pump,), sources=(box,), lifted=())
    return next(iter(pressed_lines(alone, spots, (), (), alone=True)[0]), None)


def _pump_at(site: Site, source: Source, discharge: str, *, to_outlet: bool) -> Pump:
    told = site.told_of(source)
    lifts = pumped(source.kind)
    wanted = source.pump_rate if lifts else None
    if not lifts and site.rainfall is not None and source.roof_area is not None:
        wanted = source.roof_area * site.rainfall
    storage = pit_storage(told) if lifts else None
    return Pump(
        source=source.id,
        name=source.name,
        x=source.x,
        y=source.y,
        ground=source.ground,
        discharge=discharge,
        to_outlet=to_outlet,
        curve=told.get("pump_curve", (told["pump_point"],) if "pump_point" in told else ()) if lifts else (),
        off_level=told.get("off_level", source.ground - (PIT_BELOW_GROUND if lifts else BASIN_BELOW_GROUND)),
        off_level_given="off_level" in told,
        check_valve=told.get("check_valve", True),
        wanted=wanted,
        invert=told.get("invert") if lifts else None,
        bore=told.get("diameter") if lifts else None,
        storage=storage,
        inflow=storage / told["refill_s"] if storage and "refill_s" in told else None,
    )


def _end_of(site: Site, pump: Pump, lines: Sequence[Line], outlets: Sequence[Outlet], *, alone: bool) -> _End | str:
    if pump.to_outlet:
        outlet = next((one for one in outlets if one.name == pump.discharge), None)
        if outlet is None or not site.what_if.plays(outlet.name):
            return f"{pump.name} is lifted to {pump.discharge}, which is out of play"
        return _End(id=outlet.id, name=outlet.name, outlet=outlet, into=None)
    source = next(one for one in site.sources if one.id == pump.source)
    below = next((line for line in lines if line.start == pump.source), None)
    if below is None and not alone:
        return (
            f"{pump.name} is lifted to {pump.discharge}, from where no line leads on: its line under pressure is "
            "not laid"
        )
    if below is None:
        into = source.ground - rules.needed(site.rules, rules.MIN_COVER)
    else:
        first = below.vertices[-1]
        into = first.invert + below.pipe_at(first.station).bore
    stand_in = Outlet(
        id=pump.source,
        kind="daylight_outlet",
        name=pump.discharge,
        x=source.x,
        y=source.y,
        ground=source.ground,
        control=into,
        basis="",
    )
    return _End(id=pump.source if below is None else below.id, name=pump.discharge, outlet=stand_in, into=into)


def _line(
    site: Site, spots: Sequence[LowSpot], pump: Pump, end: _End, others: Sequence[Line], name: str
) -> Line | None:
    offered = sizes(PRESSURE_PIPE, site.laying.own_pipes)
    if pump.bore is not None:
        asked = pump.bore
        offered = (min(offered, key=lambda one: abs(one.bore - asked)),)
    chain = _way(site, spots, end.outlet, others, terms(site.rules, offered[0]), (pump.x, pump.y))
    if chain is None:
        return None
    most = rules.limit(site.rules, rules.PUMPED_VELOCITY_MOST) or math.inf
    laid: Line | None = None
    able: Line | None = None
    for pipe in offered:
        laid, before = _laid(site, spots, pump, end, chain, others, name, pipe), laid
        figures = laid.pumped
        if figures is None:
            return laid
        if figures.flow >= LEAST_PUMPED and figures.velocity <= most:
            if figures.flow >= (pump.inflow or 0.0):
                return laid
            able = able or laid  # a larger bore may bring all that comes to the pit
            continue
        if able is not None:
            return able
        # more bore helps against velocity and friction, not against height; and none is wanted once velocity is all
        # that is left
        if before is not None and before.pumped is not None and figures.flow < LEAST_PUMPED <= before.pumped.flow:
            return before
        if figures.flow < LEAST_PUMPED and pump.curve and figures.static >= _curve(pump)[0][1]:
            return laid
    return able or laid


def _laid(
    site: Site,
    spots: Sequence[LowSpot],
    pump: Pump,
    end: _End,
    chain: Sequence[Place],
    others: Sequence[Line],
    name: str,
    pipe: Pipe,
) -> Line:
    asked = terms(site.rules, pipe)
    frost = site.laying.frost if pump.check_valve else None  # it stands full: it lies under the frost
    sure = margin_for(site.accuracy, site.laying.certainty)
    for cover in (max(frost or 0.0, asked.cover) + sure, asked.cover + sure):
        if cover + asked.rise + sure <= asked.depth:
            asked = asked._replace(cover=cover, cover_pavement=max(cover, asked.cover_pavement + sure))
            break
    pit = Source(
        id=pump.source, kind="sump", name=pump.name, x=pump.x, y=pump.y, ground=pump.ground, invert_limit=pump.invert
    )
    corners = tuple(reversed(chain))
    grounds = grounds_of(site, (end.outlet,), spots, asked, site.laying.prices)
    outlet = replace(end.outlet, control=end.invert(pipe))
    # no zone of less cover: it comes up to its end over the last few steps
    along = trace(site, grounds, corners, pit, None, asked)
    ceiling = _under(along, others, pipe, asked.apart, (corners[0], corners[-1]))
    runs = pressed_inverts(along.station, ceiling, along.floor, end.invert(pipe), runs_back=not pump.check_valve)
    profile = Profile(station=np.array([at for at, _ in runs]), invert=np.array([z for _, z in runs]))
    laid = Laid(
        source=pit,
        carried=(pit,),
        parent=None,
        outlet=outlet,
        trace=along,
        fittings=fittings_of(corners),
        straight=True,
    )
    cost = chain_price(grounds, corners, site.laying.prices)
    return _as_line(site, spots, pump, end, laid, profile, pipe, asked, name, cost)


def _under(along: Trace, others: Sequence[Line], pipe: Pipe, apart: float, ends: Sequence[Place]) -> Floats:
    """The ceiling, lowered where the line crosses another that it does not clear from above.

    The drain keeps its place.
    """
    import shapely

    own, ceiling = shapely.LineString(along.corners), along.ceiling.copy()
    for other in others:
        path = shapely.LineString([(v.x, v.y) for v in other.vertices])
        for place in shapely.get_coordinates(own.intersection(path)).tolist():
            if min(math.dist(place, end) for end in ends) < _FREE:
                continue
            station, there = (float(line.project(shapely.Point(place))) for line in (own, path))
            invert, lies = other.at(there)[2], other.pipe_at(there)
            near = np.abs(along.station - station) <= _CROSSING
            over = invert + lies.rise + apart + pipe.below
            if float(ceiling[near].min()) - PLAY < over:
                ceiling[near] = np.minimum(ceiling[near], invert - lies.below - apart - pipe.rise)
    return ceiling


def _way(
    site: Site, spots: Sequence[LowSpot], outlet: Outlet, others: Sequence[Line], asked: Terms, start: Place
) -> tuple[Place, ...] | None:
    """The cheapest way that keeps out of other trenches, else the cheapest that crosses them."""
    prices, last = site.laying.prices, (outlet.x, outlet.y)
    for trenches in (_trenches(others, asked, (start, last)), ()) if others else ((),):
        beside = replace(site, features=(*site.features, *trenches))
        grounds = grounds_of(beside, (outlet,), spots, asked, prices)
        chain = pressed_way(yard_of(beside, grounds, asked, prices), start, last, prices)
        if chain is not None:
            return chain
    return None


def _trenches(lines: Sequence[Line], asked: Terms, free: Sequence[Place]) -> tuple[Feature, ...]:
    import shapely

    ends = shapely.union_all([shapely.Point(place).buffer(_FREE) for place in free])
    return tuple(
        Feature(
            kind="no_dig",
            name=line.id,
            attributes={},
            file="",
            number=k,
            geometry=shapely.LineString([(v.x, v.y) for v in line.vertices]).buffer(asked.half_trench) - ends,
        )
        for k, line in enumerate(lines, start=1)
    )


def _as_line(
    site: Site,
    spots: Sequence[LowSpot],
    pump: Pump,
    end: _End,
    laid: Laid,
    profile: Profile,
    pipe: Pipe,
    asked: Terms,
    name: str,
    cost: float,
) -> Line:
    along, unit = laid.trace, site.length_unit
    vertices = on_paper(vertices_of(laid, profile, along.ground, ()), None, -math.inf)
    crossings = crossings_of(site, laid, profile, pipe)
    wet = passages(spots, along.corners)
    gap = end.gap(pipe)
    told = (
        f"outlet: {end.name}" if gap is None else f"{end.name}: ends {units.small_text(gap, unit)} over the pipe below"
    )
    zoneless = asked._replace(zone=2 * along.corner_stations[-1])
    marks = marks_of(laid, vertices, crossings, wet, {"": told}, zoneless, unit)
    line = Line(
        id=name,
        sources=(pump.source,),
        start=pump.source,
        end=end.id,
        pipe=pipe,
        vertices=vertices,
        rows=rows_of(laid, vertices, marks, pipe, asked),
        crossings=crossings,
        low_spots=wet,
        spare=math.nan,
        binding="under pressure: it follows the ground at its cover",
        cost=cost,
    )
    line = lines_as_written((line,))[0]  # its figures follow from what is printed
    return replace(line, pumped=pumped_figures(line, pump, site, gap=gap))


def _curve(pump: Pump) -> tuple[tuple[float, float], ...]:
    if len(pump.curve) == 1:
        return curve_of_point(*pump.curve[0], float(SHUT_OFF), float(RUN_OUT))
    return pump.curve


def pumped_figures(line: Line, pump: Pump, site: Site, *, gap: float | None) -> Pumped:
    """Heads, flow, velocity, what falls back and how often the pump starts.

    Parameters
    ----------
    line : Line
        Under pressure; its vertices count.
    pump : Pump
        Its pump and pit.
    site : Site
        For the least velocity, by which a pump that would serve is told.
    gap : float or None
        From the end of the line down to what it pours into [m].

    Returns
    -------
    Pumped
        Of a pump that does not lift so high the flow is 0. Of one that is not stated the flow is the one asked for.
    """
    bore, length = line.pipe.bore, line.length
    profile = [(length - v.station, v.invert) for v in reversed(line.vertices)]
    slope = math.fsum(math.dist(a, b) for a, b in itertools.pairwise(profile))
    riser = max(profile[0][1] - pump.off_level, 0.0)
    static = max(z for _, z in profile) + bore - pump.off_level
    losses = math.fsum(
        [
            LOSSES["entry"],
            LOSSES["riser"],
            LOSSES["exit"],
            LOSSES["check_valve"] if pump.check_valve else 0.0,
            *(
                LOSSES["turn_45"] * (fitting.angle or 0.0) / 45
                for vertex in line.vertices
                for fitting in vertex.fittings
                if fitting.kind in {FittingKind.BEND, FittingKind.TURNED_PAIR}
            ),
        ]
    )
    smooth, pipe_length = float(SMOOTHNESS), slope + riser

    def lost(flow: float) -> float:
        return friction_head(flow, bore, pipe_length, smooth) + fitting_head(flow, bore, losses)

    slow = rules.limit(site.rules, rules.PUMPED_VELOCITY_LEAST) or 0.0
    wanted = max(pump.wanted or 0.0, pump.inflow or 0.0, slow * math.pi / 4 * bore**2, LEAST_PUMPED)
    flow = resulting_flow(_curve(pump), lambda q: static + lost(q)) if pump.curve else wanted
    flow = (
        round(flow / units.LITRE, 6) * units.LITRE
    )  # as plan.json writes it: what follows from it follows from what is printed
    back, _, full = emptied(profile)
    area = math.pi / 4 * bore**2
    fallen = 0.0 if pump.check_valve else area * (back + riser)
    return Pumped(
        static=static,
        friction=friction_head(flow, bore, pipe_length, smooth),
        fittings=fitting_head(flow, bore, losses),
        flow=flow,
        velocity=velocity(flow, bore),
        smoothness=smooth,
        losses=losses,
        length=pipe_length,
        off_level=pump.off_level,
        curve=pump.curve,
        check_valve=pump.check_valve,
        fallen=fallen,
        standing=full + (back if pump.check_valve else 0.0),
        gap=gap,
        cycle=shortest_cycle(pump.storage, fallen, flow) if pump.storage and flow > 0 else None,
        cycle_usual=cycle_at(pump.inflow, pump.storage, fallen, flow)
        if pump.storage and pump.inflow and 0 < pump.inflow < flow
        else None,
        wanted_flow=wanted,
        wanted_head=static + lost(wanted),
        chosen=pump.chosen,
        lift_to=pump.discharge if pump.chosen else None,
        box=pump.box,
    )


def _crossed(line: Line, others: Sequence[Line]) -> list[str]:
    """Lines by gravity that a line under pressure crosses away from its end."""
    import shapely

    own = shapely.LineString([(v.x, v.y) for v in line.vertices])
    end = shapely.Point(own.coords[0])
    met = [
        other.id
        for other in others
        if not (cut := own.intersection(shapely.LineString([(v.x, v.y) for v in other.vertices]))).is_empty
        and shapely.distance(cut, end) > _FREE
    ]
    if not met:
        return []
    return [
        (
            f"{line.id} is under pressure and crosses {', '.join(met)}: no way round was found; see lines-cross "
            "for the height between them"
        )
    ]
