"""Laid lines and the ground in; all that a plan says of water out.

Flows, capacities, weak links, levels, paths, a storm.

Nothing here stops a plan: what is not known is None and a sentence in `notes`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from siteplan import units
from siteplan.books.hydraulics import USUAL_KB, runoff_of
from siteplan.books.kinds import SOURCES, Flow, into_pipe, pumped
from siteplan.ground.runoff import Surface
from siteplan.optional import optional
from siteplan.site import Site
from siteplan.values.flows_worked import BlockedOutlet, LineWater, OutletPath, RunFlow, Water
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.water_ends import Inflows, Outlet, Source
from siteplan.water.inflow import SHORT, area_inflow, pump_inflow, side_by_side
from siteplan.water.rain import MINUTE, Rainfall, read_rain
from siteplan.water.run_flow import run_water
from siteplan.water.sizes import Basis, capacity_by
from siteplan.water.standing import Blocked, Opening, blocked_outlet, standing_length
from siteplan.water.surface import RunSurface, SurfaceRun, hydraulic_grade_line
from siteplan.waterworks.carried import FlowNetwork, Piece, network, roughness_taken
from siteplan.waterworks.inflows import DRAIN_COVER, INLET_COVER
from siteplan.waterworks.overland import OverlandWay, way_of, way_text
from siteplan.waterworks.passages import comes_to, links_of, popup_at, tail_waters
from siteplan.waterworks.sizing import basis_of, on_offer, run_sizes
from siteplan.waterworks.storm_run import storm_of

EUROPEAN_N = 0.012  # of plastic drains in European tables; from memory


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Scene:
    """What every figure is taken from."""

    site: Site
    surface: Surface
    spots: tuple[LowSpot, ...]
    lines: tuple[Line, ...]
    outlets: Mapping[str, Outlet]
    inflows: Inflows
    net: FlowNetwork
    rims: Mapping[str, float]  # source id to the elevation at which its water comes out
    tails: Mapping[str, float]  # root run to the water outside its outlet
    rain: Rainfall | None


def water_of(
    site: Site,
    inflows: Inflows,
    surface: Surface,
    spots: Sequence[LowSpot],
    lines: Sequence[Line],
    outlets: Sequence[Outlet],
) -> Water:
    """All that a plan says of water.

    Parameters
    ----------
    site : Site
        As surveyed.
    inflows : Inflows
        What its sources bring.
    surface : Surface
        From `ground.runoff.water_surface`.
    spots : sequence of LowSpot
        Wet ground.
    lines : sequence of Line
        As laid, with their pipe.
    outlets : sequence of Outlet
        Where lines end.

    Returns
    -------
    Water
        Flows add downstream; each capacity stands beside its basis.

    References
    ----------
    docs/water.md; each formula in the module of `siteplan.water` that holds it.
    """
    net = network(lines, outlets, site.sources, inflows, site.sizing)
    rims, notes = _rims(site, lines, net)
    by_id = {outlet.id: outlet for outlet in outlets}
    tails, more = tail_waters(site, lines, by_id, net)
    scene = _Scene(
        site=site,
        surface=surface,
        spots=tuple(spots),
        lines=tuple(lines),
        outlets=by_id,
        inflows=inflows,
        net=net,
        rims=rims,
        tails=tails,
        rain=rainfall_of(site),
    )
    surfaces = _surfaces(scene)
    told = tuple(_line(scene, line, surfaces) for line in lines)
    storm, told_of_storm = optional("storm", lambda: storm_of(site, inflows, net, rims, tails, scene.rain), (None, ()))
    return Water(
        code=site.sizing.basis,
        kb=site.sizing.kb,
        basis=_basis(site, on_offer(site.sizing)),
        rain=read_rain(scene.rain, site.rain.duration or SHORT, unit=site.length_unit).statement,
        inflows=_inflows(scene),
        lines=told,
        blocked=optional("blocked-outlets", lambda: _all_blocked(scene), ()),
        paths=optional("outlet-paths", lambda: _paths(scene), ()),
        storm=storm,
        notes=(*notes, *more, *told_of_storm),
    )


def rainfall_of(site: Site) -> Rainfall | None:
    """The site's rain as the water room takes it.

    Parameters
    ----------
    site : Site
        As surveyed.

    Returns
    -------
    Rainfall or None
        None when the site gives none.
    """
    rain = site.rain
    if rain.table:
        durations, rates = zip(*rain.table, strict=True)
        return Rainfall(durations=durations, intensities=rates, source=rain.source, years=rain.years)
    if site.rainfall is None:
        return None
    return Rainfall(durations=None, intensities=(site.rainfall,), source=rain.source, years=rain.years)


def _basis(site: Site, offered: Sequence[Pipe]) -> str:
    basis, sizing = basis_of(site.sizing), site.sizing
    text = next(iter(_edition(basis)), "") or capacity_by(basis, offered[0], 0.02).basis
    sizes = ", ".join(units.size_text(pipe.nominal, pipe.od, site.length_unit) for pipe in offered)
    aged = {
        "design": "the pipe's design roughness",
        "new": "the roughness of new pipe",
        "aged": "the roughness of aged pipe",
    }
    if sizing.kb is not None:
        usual = (
            " (what EN 12056-2 annex B takes, from memory)"
            if math.isclose(sizing.kb, USUAL_KB * units.MILLIMETRE)
            else ""
        )
        return (
            f"{text}{usual}; depths and velocities by Manning with the n of the same full flow; sizes on offer: "
            f"{sizes} {offered[0].title}"
        )
    taken = roughness_taken(offered[0], sizing, 0.01)
    if site.length_unit == "m" and taken < EUROPEAN_N:
        kinder = round(100 * (EUROPEAN_N / taken - 1))
        text += f" (European tables take n {EUROPEAN_N:g} or its like: n {taken:g} gives {kinder} % more)"
    return f"{text}; {aged[sizing.age]} for depths and velocities; sizes on offer: {sizes} {offered[0].title}"


def _edition(basis: Basis) -> list[str]:
    from siteplan.books.hydraulics import code_tables

    return [
        (
            f"{table.edition} as printed, at the steepest printed slope not above the run's; "
            f"{sum(row.basis == 'memory' for row in table.rows)} of its rows are from memory, "
            f"{sum(row.basis == 'read' for row in table.rows)} read; where it prints none, Manning at the design "
            "fill and never more than its next steeper row"
        )
        for table in code_tables()
        if table.code == basis.code
    ]


def _rims(site: Site, lines: Sequence[Line], net: FlowNetwork) -> tuple[dict[str, float], list[str]]:
    """Where each source's water comes out when it cannot get away."""
    runs = {piece.run.id: piece for piece in net.pieces}
    rims, notes = {}, []
    for source in site.sources:
        if source.id not in net.feeds:
            continue
        run = runs[net.feeds[source.id]].run
        given = site.told_of(source).get("rim")
        rim = source.ground if given is None else float(given)
        if rim < run.invert_up + run.bore:
            rim = run.invert_up + run.bore
            notes.append(
                f"{source.name}: its {'rim' if given is not None else 'ground'} is below the top of its pipe; "
                "water is taken to come out at the top of the pipe there."
            )
        rims[source.id] = rim
    plain = [
        source.name
        for source in site.sources
        if source.id in rims and "rim" not in site.told_of(source) and not pumped(source.kind)
    ]
    shut = [
        source.name for source in site.sources if source.id in rims and pumped(source.kind) and not _gap(site, source)
    ]
    rimless = [
        source.name for source in site.sources if source.name in shut and site.told_of(source).get("air_gap") == "open"
    ]
    shut = [name for name in shut if name not in rimless]
    if rimless and lines:
        notes.append(
            f"The gap at {', '.join(rimless)} is open, and its rim is not given: how high water may stand "
            "there is not known."
        )
    if shut and lines:
        notes.append(
            f"No open gap is known at {', '.join(shut)}: water that cannot get away has no way out there but the pit."
        )
    if plain and lines:
        notes.append(
            f"Water that cannot get away is taken to come out at the ground at {', '.join(plain)}: no rim is "
            "given there."
        )
    return rims, notes


def _gap(site: Site, source: Source) -> bool:
    """Whether a sump has an open gap whose rim is known."""
    told = site.told_of(source)
    return "rim" in told and told.get("air_gap") != "none"


def _inflows(scene: _Scene) -> tuple[tuple[str, float | None, float | None, str], ...]:
    site, unit = scene.site, scene.site.length_unit
    told: list[tuple[str, float | None, float | None, str]] = []
    for source in site.sources:
        if pumped(source.kind):
            one = pump_inflow(source.name, source.pump_rate or None, unit=unit)
            told.append((source.id, None, one.flow, one.statement))
            continue
        if SOURCES[source.kind].flow is Flow.AREA and "flow" in site.told_of(source):
            given = scene.inflows.of(source.id) or 0.0
            told.append((source.id, None, given, f"{source.name}: {units.flow_text(given, unit)}, its flow as given"))
            continue
        area, share, what = _area(scene, source)
        answers = list(side_by_side(source.name, area, scene.rain, coefficient=share, what=what, unit=unit))
        own = site.rain.duration
        if (
            site.rain.table
            and own is not None
            and all(one.duration is None or not math.isclose(one.duration, own) for one in answers)
        ):
            answers.insert(0, area_inflow(source.name, area, scene.rain, own, coefficient=share, what=what, unit=unit))
        told += [
            (source.id, None if one.duration is None else one.duration / MINUTE, one.flow, one.statement)
            for one in answers
        ]
    return tuple(told)


def _area(scene: _Scene, source: Source) -> tuple[float | None, float, str]:
    comes = SOURCES[source.kind].flow
    if comes is Flow.AREA:
        told = scene.site.told_of(source)
        return told.get("drained_area"), runoff_of(told.get("cover", DRAIN_COVER)).default, "paving"
    flow = scene.inflows.of(source.id)
    if comes is Flow.ROOF or flow is None or not scene.site.rainfall:
        return source.roof_area, 1.0, "roof"
    told = scene.site.told_of(source)
    share = (
        1.0
        if source.roof_area is not None and "cover" not in told
        else runoff_of(told.get("cover", INLET_COVER)).default
    )
    return flow / scene.site.rainfall / share, share, "ground"


def _surfaces(scene: _Scene) -> dict[str, RunSurface]:
    """Water surface of every tree whose flows are known."""
    found: dict[str, RunSurface] = {}
    for root in scene.net.roots.values():
        runs = scene.net.tree(root)
        flows = {run.id: flow for run in runs if (flow := scene.net.flows[run.id]) is not None}
        if len(flows) == len(runs):
            found.update(hydraulic_grade_line(runs, flows, dict(scene.tails)))
    return found


def _line(scene: _Scene, line: Line, surfaces: Mapping[str, RunSurface]) -> LineWater:
    site, pieces = scene.site, scene.net.of_line(line.id)
    sized = run_sizes(site, scene.inflows, scene.lines, on_offer(site.sizing))
    runs = _merged([_run(scene, piece, sized.get(piece.run.id)) for piece in pieces])
    links, weakest = links_of(
        site,
        scene.inflows,
        line,
        scene.lines,
        scene.outlets.get(line.end),
        scene.net,
        scene.tails,
        scene.rims.get(line.start),
    )
    levels: list[tuple[float, float]] = []
    jump, full = None, 0.0
    for piece in pieces:
        if piece.run.id not in surfaces:
            continue
        surface = surfaces[piece.run.id]
        base = piece.station_from - surface.points[0].station
        levels += [
            (point.station + base, point.level)
            for point in surface.points
            if not levels or point.station + base > levels[-1][0] + 1e-6
        ]
        jump = surface.jump + base if jump is None and surface.jump is not None else jump
        full += surface.full_length
    rim = scene.rims.get(line.start, line.vertices[-1].ground)
    return LineWater(
        line=line.id,
        flow=scene.net.flows[pieces[0].run.id] if pieces else None,
        runs=runs,
        links=links,
        weakest=weakest,
        levels=tuple(levels),
        full_length=full,
        jump=jump,
        rim=rim,
        rim_spare=rim - levels[-1][1] if levels else None,
        standing=_standing(scene, pieces),
    )


def _run(scene: _Scene, piece: Piece, smallest: Pipe | None) -> RunFlow:
    sizing, run = scene.site.sizing, piece.run
    basis = basis_of(sizing)
    flow = scene.net.flows[run.id]
    water = run_water(flow, run.bore, run.grade, run.roughness)
    held = capacity_by(basis, piece.pipe, run.grade) if run.grade > 0 else None
    allowed = None if held is None else held.flow
    return RunFlow(
        station_from=piece.station_from,
        station_to=piece.station_to,
        grade=run.grade,
        bore=run.bore,
        roughness=run.roughness,
        flow=flow,
        full=water.full,
        design=allowed,
        share=None if flow is None or allowed is None else flow / allowed,
        depth=water.depth,
        velocity=water.velocity if flow else None,
        velocity_full=water.velocity_full,
        smallest=smallest.nominal if smallest else None,
        printed=None if held is None else held.printed,
        capacity_from="manning" if held is None else held.held,
    )


def _merged(runs: Sequence[RunFlow]) -> tuple[RunFlow, ...]:
    """Runs that only a bend or a cleanout parts, as one."""
    told: list[RunFlow] = []
    for run in runs:
        last = told[-1] if told else None
        same = (
            last is not None
            and math.isclose(
                last.grade, run.grade, rel_tol=0.0, abs_tol=2e-5
            )  # alike as printed, and as read back from plan.json
            and (last.bore, last.flow, last.smallest) == (run.bore, run.flow, run.smallest)
        )
        if same and last is not None:
            told[-1] = replace(last, station_to=run.station_to)
        else:
            told.append(run)
    return tuple(told)


def _standing(scene: _Scene, pieces: Sequence[Piece]) -> float:
    """Length of a line that stands in water because its way out is over a rim."""
    if not pieces:
        return 0.0
    root = _root(scene.net, pieces[0].run.id)
    line = next((line for line in scene.lines if scene.net.roots.get(line.id) == root), None)
    outlet = scene.outlets.get(line.end) if line is not None else None
    rim = popup_at(scene.site, outlet)
    if rim is None:
        return 0.0
    return math.fsum(standing_length(p.run.length, p.run.invert_up, p.run.invert_down, rim) for p in pieces)


def _root(net: FlowNetwork, run: str) -> str:
    into = {piece.run.id: piece.run.into for piece in net.pieces}
    down = into[run]
    while down is not None:
        run, down = down, into[down]
    return run


def _all_blocked(scene: _Scene) -> tuple[BlockedOutlet, ...]:
    return tuple(_blocked(scene, line) for line in scene.lines if line.id in scene.net.roots)


def _blocked(scene: _Scene, line: Line) -> BlockedOutlet:
    site, root = scene.site, scene.net.roots[line.id]
    runs: tuple[SurfaceRun, ...] = scene.net.tree(root)
    names = {run.id for run in runs}
    flow = scene.net.flows[root]
    openings = [
        Opening(name=source.name, run=scene.net.feeds[source.id], rim=scene.rims[source.id], source=source.id)
        for source in site.sources
        if scene.net.feeds.get(source.id) in names and (not pumped(source.kind) or _gap(site, source))
    ]
    found = blocked_outlet(
        runs, openings, outlet=root, inflow=flow or None, unit=site.length_unit, elevation_unit=site.elevation_unit
    )
    if not isinstance(found, Blocked):
        return BlockedOutlet(
            line=line.id,
            outlet=line.end,
            level=None,
            source=None,
            next_rim=None,
            standing=0.0,
            volume=0.0,
            filled_in=None,
            statement=found.message.replace(root, line.id, 1),
        )
    source = next(source for source in site.sources if source.id == found.first.source)
    way = way_of(site, scene.surface, scene.spots, source.x, source.y, from_wall=True)
    text = found.statement.replace(root, line.id, 1)
    if found.filled_in is not None:
        text += f"; at the design flow that takes {found.filled_in / MINUTE:.1f} minutes"
    return BlockedOutlet(
        line=line.id,
        outlet=line.end,
        level=found.level,
        source=found.first.source,
        next_rim=found.next_rim,
        standing=found.standing,
        volume=found.volume,
        filled_in=found.filled_in,
        statement=f"{text}; {_from_there(way, site.length_unit)}",
        path=way.path,
        meets=way.meets,
    )


def _from_there(way: OverlandWay, unit: str) -> str:
    return f"from there {way_text(way, unit)}"


def _paths(scene: _Scene) -> tuple[OutletPath, ...]:
    told = []
    for name, outlet in scene.outlets.items():
        ends = [line for line in scene.lines if line.end == name]
        if not ends or into_pipe(outlet.kind):
            continue
        way = way_of(scene.site, scene.surface, scene.spots, outlet.x, outlet.y)
        told.append(
            OutletPath(
                outlet=name,
                flow=comes_to(name, scene.lines, scene.net),
                path=way.path,
                meets=way.meets,
                statement=f"after it leaves {outlet.name}, {way_text(way, scene.site.length_unit)}",
            )
        )
    return tuple(told)
