"""Small lots and plans for the tests of checks, described as data. Metres, unless a scene says otherwise.

The ground is a profile along x, the same for every y, with boxes of other heights or none cut into it.
What a plan states is worked out here from the description, apart from the checks and from the planner.
"""

from __future__ import annotations

import math
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from siteplan.books import rules
from siteplan.books.kinds import LINE_KINDS, PAVEMENT_KINDS
from siteplan.books.pipes import pipe
from siteplan.checks.outlet_ends import fall_to_spare
from siteplan.checks.pressed_flow import figures_again, head_asked
from siteplan.checks.scene import scene_of
from siteplan.site import Feature, Grid, Laying, Rain, Site, Sizing, heights
from siteplan.values.forecasts import BellyForecast, LowSpot
from siteplan.values.laid_pipe import Bedding, Fitting, FittingKind, SleevePipe
from siteplan.values.lines import Crossing, Line, Passage, Reach, Row, Vertex
from siteplan.values.told import Finding
from siteplan.values.tried import Candidate
from siteplan.values.water_ends import Inflows, Outlet, Pump, Pumped, Source
from siteplan.values.whole_plan import Plan

BASE: dict[str, Any] = {
    "unit": "m",
    "accuracy": 0.02,
    "cell": 0.5,
    "extent": [-20.0, -20.0, 80.0, 60.0],
    "knots": [[-20.0, 9.6], [10.0, 9.9], [13.0, 10.6], [80.0, 11.94]],
    "boxes": [],
    "lot": [0.0, 0.0, 60.0, 40.0],
    "rules": {},
    "rainfall": 3e-5,
    "rain": {},
    "sizing": {},
    "laying": {},
    "features": [{"kind": "building", "box": [40.0, 10.0, 55.0, 30.0]}],
    "more": [],
    "sources": [{"id": "S1", "kind": "downspout", "name": "DS-1", "at": [40.0, 20.0], "roof_area": 50.0}],
    "outlets": [{"id": "O1", "kind": "daylight_outlet", "name": "SLOPE", "at": [10.0, 20.0]}],
    "lines": [
        {"id": "L1", "start": "S1", "end": "O1", "path": [[10.0, 20.0], [40.0, 20.0]], "grade": 0.02, "reaches": []}
    ],
    "pumps": [],
    "pressed": [],
    "low_spots": [],
    "candidates": [],
    "tamper": [],
}


def build(**given: Any) -> tuple[Plan, Site]:
    """A plan and its site from a description; what is not given is BASE's."""
    unknown = set(given) - set(BASE)
    assert not unknown, f"a scene has no {unknown}"
    told = {**BASE, **given}
    if told["rainfall"] == "unknown":
        told["rainfall"] = None
    site = _site(told)
    plan = _with_spares(_plan(told, site), site)
    for change in told["tamper"]:
        plan = changed(plan, change["at"], by=change.get("by"), to=change.get("to"))
    return plan, site


def _with_spares(plan: Plan, site: Site) -> Plan:
    """Lines whose entry states no spare state what the recheck finds: cases that are about a spare give their own."""
    scene = scene_of(plan, site)

    def stated(line: Line) -> Line:
        if math.isfinite(line.spare):
            return line
        found = fall_to_spare(scene, line)
        return replace(line, spare=0.0 if found is None else found)

    plan = replace(plan, lines=tuple(stated(line) for line in plan.lines))
    plan = replace(plan, pressed=tuple(_with_figures(line, plan, site) for line in plan.pressed))
    rates = plan.pumped_rates
    return replace(
        plan,
        sources=tuple(replace(one, pump_rate=rates.get(one.id, one.pump_rate)) for one in plan.sources),
        inflows=Inflows(flows=tuple({**dict(plan.inflows.flows), **rates}.items())),
    )


def _with_figures(line: Line, plan: Plan, site: Site) -> Line:
    """A line under pressure that states what the recheck finds: cases that are about a figure change it."""
    pump = next(one for one in site.pumps if one.source == line.start)
    walk = scene_of(replace(plan, lines=(*plan.lines, line), pressed=()), site).walks[line.id]
    own, bore = figures_again(walk, pump), line.pipe.bore
    below = next((one for one in plan.lines if one.id == line.end), None)
    area = math.pi / 4 * bore**2
    wanted = max(pump.wanted or 0.0, pump.inflow or 0.0, 0.6096 * area)
    flow = own.flow if pump.curve else wanted
    friction, fittings = head_asked(own, bore, flow)
    usual = None
    if pump.storage and pump.inflow and 0 < pump.inflow < flow:
        usual = (pump.storage - own.fallen) / pump.inflow + pump.storage / (flow - pump.inflow)
    return replace(
        line,
        spare=math.nan,
        pumped=Pumped(
            static=own.static,
            friction=friction,
            fittings=fittings,
            flow=flow,
            velocity=flow / area,
            smoothness=140.0,
            losses=own.losses,
            length=own.length,
            off_level=pump.off_level,
            curve=pump.curve,
            check_valve=pump.check_valve,
            fallen=own.fallen,
            standing=own.standing,
            gap=None if below is None else line.vertices[0].invert - below.vertices[-1].invert - below.pipe.bore,
            cycle=own.cycle,
            cycle_usual=usual,
            wanted_flow=wanted,
            wanted_head=own.static + sum(head_asked(own, bore, wanted)),
        ),
    )


def changed(value: Any, path: str, *, by: float | None = None, to: Any = None) -> Any:
    """The same value with one place in it changed: 'lines.0.rows.1.cover'."""
    if not path:
        return to if by is None else value + by
    head, _, rest = path.partition(".")
    if is_dataclass(value):
        assert head in {field.name for field in fields(value)}, f"{type(value).__name__} has no {head}"
        return replace(value, **{head: changed(getattr(value, head), rest, by=by, to=to)})
    place = int(head)
    return (*value[:place], changed(value[place], rest, by=by, to=to), *value[place + 1 :])


def of_rule(found: tuple[Finding, ...], rule: str, subject: str = "") -> list[Finding]:
    """Findings of one rule, on one subject when it is given."""
    return [one for one in found if one.rule == rule and (not subject or one.subject.split(":")[0] == subject)]


def said(finding: Finding) -> str:
    """What a finding says, with the two kinds of flag that are no breach told apart."""
    for kind in ("cannot tell", "limit not known"):
        if finding.message.startswith(kind):
            assert finding.status == "flag"
            return kind
    return finding.status


def _grid(told: dict[str, Any]) -> Grid:
    west, south, east, north = told["extent"]
    cell = told["cell"]
    cols, rows_ = round((east - west) / cell) + 1, round((north - south) / cell) + 1
    x, y = west + np.arange(cols) * cell, north - np.arange(rows_) * cell
    at, up = np.array(told["knots"], float).T
    z = np.tile(np.interp(x, at, up), (rows_, 1))
    for hole in told["boxes"]:
        left, low, right, high = hole["box"]
        held = (x[None, :] >= left) & (x[None, :] <= right) & (y[:, None] >= low) & (y[:, None] <= high)
        z[held] = hole.get("z", np.nan)
    z.setflags(write=False)
    return Grid(
        z=z,
        cell=cell,
        to_index=lambda px, py: ((north - np.asarray(py)) / cell, (np.asarray(px) - west) / cell),
        to_plan=lambda row, col: (west + np.asarray(col) * cell, north - np.asarray(row) * cell),
    )


def _shape(entry: dict[str, Any]) -> Any:
    if "box" in entry:
        return box(*entry["box"])
    if "ring" in entry:
        return Polygon(entry["ring"])
    return LineString(entry["line"]) if "line" in entry else Point(entry["at"])


def _site(told: dict[str, Any]) -> Site:
    grid = _grid(told)
    entries = [*told["features"], *told["more"]]
    if told["lot"]:
        entries.insert(0, {"kind": "lot", "box": told["lot"]})
    entries += [
        {"kind": o["kind"], "name": o["name"], "at": o["at"], "invert": o.get("invert"), **_told(o)}
        for o in told["outlets"]
        if not o.get("found")
    ]
    entries += [{"kind": s["kind"], "name": s["name"], "at": s["at"], **_told(s)} for s in told["sources"]]
    told_apart = {"kind", "name", "box", "ring", "line", "at"}
    features = tuple(
        Feature(
            kind=entry["kind"],
            name=entry.get("name", ""),
            geometry=_shape(entry),
            file="features.geojson",
            number=number,
            attributes={key: value for key, value in entry.items() if key not in told_apart and value is not None},
        )
        for number, entry in enumerate(entries, 1)
    )
    sources = []
    pumps = tuple(_pump(entry, grid) for entry in told["pumps"])
    pits = {pump.source: (pump.x, pump.y, pump.ground) for pump in pumps}
    for entry in told["sources"]:
        x, y = entry["at"]
        ground = float(heights(grid, np.array([x]), np.array([y]))[0])
        sources.append(
            Source(
                id=entry["id"],
                kind=entry["kind"],
                name=entry["name"],
                x=x,
                y=y,
                ground_known=math.isfinite(ground),
                ground=ground if math.isfinite(ground) else entry["ground"],
                invert_limit=entry.get("invert_limit"),
                roof_area=entry.get("roof_area"),
                pump_rate=entry.get("pump_rate"),
                pit=pits.get(entry["id"]),
            )
        )
    return Site(
        name="scene",
        crs="local",
        length_unit=told["unit"],
        elevation_unit=told["unit"],
        accuracy=told["accuracy"],
        grid=grid,
        features=features,
        sources=tuple(sources),
        rules=rules.rule_book(told["rules"]),
        rainfall=told["rainfall"],
        inputs=(),
        rain=_rain(told["rain"]),
        sizing=Sizing(**told["sizing"]),
        laying=Laying(**told["laying"]),
        pumps=pumps,
        lifted=tuple(
            Source(id=pump.source, kind="sump", name=pump.name, x=pump.x, y=pump.y, ground=pump.ground)
            for pump in pumps
            if pump.to_outlet
        ),
    )


def _pump(entry: dict[str, Any], grid: Grid) -> Pump:
    """A pump of a pit: {source, at, discharge} and what else `Pump` has; to an outlet unless told otherwise."""
    x, y = entry["at"]
    usual = {"name": "PIT", "to_outlet": True, "off_level": 8.0, "off_level_given": True, "check_valve": True}
    told = {key: value for key, value in entry.items() if key not in {"at", "curve"}}
    return Pump(
        **{**usual, **told},
        x=x,
        y=y,
        ground=float(heights(grid, np.array([x]), np.array([y]))[0]),
        curve=tuple((flow, head) for flow, head in entry.get("curve", [])),
    )


def _told(entry: dict[str, Any]) -> dict[str, Any]:
    """What the survey says of a source or outlet beyond its place, in SI."""
    keys = (
        "rim",
        "tail_water",
        "diameter",
        "curb_height",
        "pit_diameter",
        "pit_rise",
        "pit_depth",
        "refill_s",
        "holes",
        "hole_spacing",
        "own_line",
        "takes",
        "refuses",
        "curb_height_doubt",
        "air_gap",
        "takes_flow",
    )
    return {key: entry[key] for key in keys if key in entry}


def _rain(told: dict[str, Any]) -> Rain:
    pairs = {key: tuple((t, i) for t, i in told[key]) for key in ("table", "series") if key in told}
    return Rain(**{**told, **pairs})


def _control(site: Site, entry: dict[str, Any]) -> float:
    if entry.get("invert") is not None:
        wider = entry.get("diameter", 0.0) - 0.100965 if entry["kind"] == "tie_in" else 0.0  # than 4 in SDR 35
        return float(entry["invert"]) + rules.needed(site.rules, rules.TIE_IN_LEVEL) * max(0.0, wider)
    if "ground" in entry:
        return float(entry["ground"]) + rules.needed(site.rules, rules.DAYLIGHT_ALLOWANCE)
    x, y = entry["at"]
    if entry["kind"] == "curb_outlet":
        dx, dy = (axis.ravel() for axis in np.meshgrid(*(np.arange(-6, 7) / 10,) * 2))
        near = np.hypot(dx, dy) <= 0.6 + 1e-9
        return float(heights(site.grid, x + dx[near], y + dy[near]).min()) + rules.needed(
            site.rules, rules.CURB_ALLOWANCE
        )
    return float(heights(site.grid, np.array([x]), np.array([y]))[0]) + rules.needed(
        site.rules, rules.DAYLIGHT_ALLOWANCE
    )


def _plan(told: dict[str, Any], site: Site) -> Plan:
    outlets = tuple(
        Outlet(
            id=entry["id"],
            kind=entry["kind"],
            name=entry["name"],
            x=entry["at"][0],
            y=entry["at"][1],
            basis="scene",
            ground=entry.get("ground", float(heights(site.grid, *np.array([entry["at"]], float).T)[0])),
            control=_control(site, entry),
            invert=entry.get("invert"),
            found=entry.get("found", False),
            size=entry.get("diameter") if entry["kind"] == "tie_in" else None,
            takes=entry.get("takes_flow"),
        )
        for entry in told["outlets"]
    )
    spots = tuple(_spot(entry) for entry in told["low_spots"])
    flows = tuple(
        (
            source.id,
            source.pump_rate if source.kind == "sump" else (source.roof_area or 0.0) * (site.rainfall or 0.0),
        )
        for source in site.sources
        if source.kind != "inlet" or source.roof_area is not None
    )
    lines: list[Line] = []
    for entry in told["lines"]:
        lines.append(_line(entry, site, outlets, lines, spots))
    pressed = tuple(
        _line({"pipe": ["pvc_sch40", "1.5 in"], **entry}, site, outlets, lines, spots) for entry in told["pressed"]
    )
    return Plan(
        pressed=pressed,
        site_name="scene",
        crs="local",
        length_unit=told["unit"],
        elevation_unit=told["unit"],
        accuracy=told["accuracy"],
        stamp=None,
        inputs=(),
        sources=site.every_source,
        inflows=Inflows(flows=tuple((name, flow) for name, flow in flows if flow is not None)),
        outlets=outlets,
        lines=tuple(lines),
        low_spots=spots,
        candidates=tuple(
            Candidate(
                sources=("S1",),
                outlet="O1",
                feasible=True,
                fall_available=entry["available"],
                fall_needed=entry["needed"],
                margin=entry["available"] - entry["needed"],
                length=30.0,
                cost=None,
                chosen=False,
                reason=None,
            )
            for entry in told["candidates"]
        ),
        findings=(),
        assumptions=(),
        cautions=(),
    )


def _spot(entry: dict[str, Any]) -> LowSpot:
    left, low, right, high = entry["box"]
    ring = ((left, low), (right, low), (right, high), (left, high), (left, low))
    area = (right - left) * (high - low)
    depth = entry.get("depth", 0.0)
    return LowSpot(
        id=entry["id"],
        kind=entry.get("kind", "hollow"),
        depth=depth,
        area=area,
        volume=area * depth,
        spill_elevation=entry.get("spill"),
        spill=None,
        catchment=None,
        certain=entry.get("certain", True),
        rings=(ring,),
    )


def _line(
    entry: dict[str, Any], site: Site, outlets: tuple[Outlet, ...], laid: list[Line], spots: tuple[LowSpot, ...]
) -> Line:
    path = np.array(entry["path"], float)
    stations = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))))
    ends = {outlet.id: outlet.control for outlet in outlets}
    for line in laid:
        if line.id == entry["end"]:
            ends[line.id] = min(line.vertices, key=lambda v: math.dist((v.x, v.y), path[0])).invert
    start = entry.get("invert", ends.get(entry["end"], 0.0)) + entry.get("lift", 0.0)
    inverts = np.array(entry["inverts"], float) if "inverts" in entry else start + entry["grade"] * stations
    guessed = next((source.ground for source in site.sources if source.id == entry["start"]), 0.0)
    ground = np.nan_to_num(heights(site.grid, path[:, 0], path[:, 1]), nan=guessed)
    fittings = entry.get("fittings", [[]] * len(path))
    carrier = pipe(*entry.get("pipe", ("pvc_sdr35", "4 in")))
    top, bottom = (carrier.od + carrier.bore) / 2, (carrier.od - carrier.bore) / 2
    bedding = rules.needed(site.rules, rules.BEDDING)
    vertices = []
    for i, (x, y) in enumerate(path):
        bend = 0.0
        if 0 < i < len(path) - 1:
            before, after = (math.atan2(*(path[i + k] - path[i + k - 1])) for k in (0, 1))
            bend = abs(math.degrees((after - before + math.pi) % (2 * math.pi) - math.pi))
        vertices.append(
            Vertex(
                x=x,
                y=y,
                station=stations[i],
                invert=inverts[i],
                ground=ground[i],
                bend=bend,
                fittings=tuple(
                    Fitting(kind=FittingKind(kind), angle=angle)
                    for kind, angle in ((*one, None)[:2] for one in fittings[i])
                ),
            )
        )
    rows = []
    for station in sorted({*stations.tolist(), *entry.get("rows", [])}):
        x, y, invert = (float(np.interp(station, stations, line)) for line in (path[:, 0], path[:, 1], inverts))
        up = float(np.nan_to_num(heights(site.grid, np.array([x]), np.array([y])), nan=guessed)[0])
        piece = max(0, int(np.searchsorted(stations, station - 1e-9)) - 1)
        rows.append(
            Row(
                station=station,
                x=x,
                y=y,
                ground=up,
                invert=invert,
                cut=up - (invert - bottom - bedding),
                cover=up - (invert + top),
                grade=(inverts[piece + 1] - inverts[piece]) / (stations[piece + 1] - stations[piece]),
                note=entry.get("notes", {}).get(f"{station:g}", ""),
            )
        )
    laid_line = Line(
        id=entry["id"],
        sources=tuple(entry.get("sources", [entry["start"]])),
        start=entry["start"],
        end=entry["end"],
        pipe=carrier,
        vertices=tuple(vertices),
        rows=tuple(rows),
        low_spots=_passages(path, spots),
        spare=entry.get("spare", math.inf),
        binding="",
        cost=0.0,
        crossings=_crossings(path, stations, inverts, top, site, entry.get("reaches", [])),
        reaches=_reaches(entry.get("reaches", []), path, stations, inverts, site),
        belly=_belly(entry.get("belly")),
    )
    return replace(
        laid_line,
        rows=tuple(
            replace(row, cut=row.cut + (lies.od - lies.bore) / 2 - bottom)
            for row in rows
            for lies in (laid_line.pipe_at(row.station),)
        ),
    )


def _reaches(
    told: list[dict[str, Any]], path: np.ndarray, stations: np.ndarray, inverts: np.ndarray, site: Site
) -> tuple[Reach, ...]:
    """Reaches from the outlet up: {to, kind} and, where it has one, {sleeve = {kind, nominal, from, to}}."""
    found = []
    start = 0.0
    for entry in told:
        end = min(entry["to"], float(stations[-1]))
        lies = pipe(entry["kind"], entry.get("nominal", "4 in"))
        at = np.unique(np.concatenate((np.linspace(start, end, 801), stations[(stations > start) & (stations < end)])))
        x, y = (np.interp(at, stations, path[:, axis]) for axis in (0, 1))
        over = heights(site.grid, x, y) - np.interp(at, stations, inverts) - (lies.od + lies.bore) / 2
        sleeve = entry.get("sleeve")
        found.append(
            Reach(
                station_from=start,
                station_to=end,
                place=entry.get("place", "lawn"),
                pipe=lies,
                why="",
                bedding=Bedding(entry.get("bedding", "tamped_sides")),
                cover_min=float(np.nanmin(over)),
                sleeve=sleeve
                and SleevePipe(
                    pipe=pipe(sleeve["kind"], sleeve["nominal"]),
                    station_from=sleeve["from"],
                    station_to=sleeve["to"],
                    above=0.0,
                    play=0.0,
                ),
            )
        )
        start = end
    return tuple(found)


def _belly(told: dict[str, Any] | None) -> BellyForecast | None:
    if told is None:
        return None
    low, likely, high = told["depth"]
    return BellyForecast(
        depth=(low, likely, high),
        length=(0.0, 0.0, 0.0),
        pools=(),
        stress=told.get("stress"),
        turn=told.get("turn", 0.0),
        turn_limit=2.0,
        risk=told.get("risk", True),
        decides="",
        mends=(),
        statements=(),
    )


def _passages(path: np.ndarray, spots: tuple[LowSpot, ...]) -> tuple[Passage, ...]:
    way = LineString(path)
    found = []
    for spot in spots:
        for part in _parts(way.intersection(Polygon(spot.rings[0]))):
            ends = sorted(way.project(Point(place)) for place in (part.coords[0], part.coords[-1]))
            if ends[1] - ends[0] > 0.01:
                found.append(Passage(id=spot.id, station_from=ends[0], station_to=ends[1]))
    return tuple(found)


def _crossings(
    path: np.ndarray, stations: np.ndarray, inverts: np.ndarray, top: float, site: Site, reaches: list[dict[str, Any]]
) -> tuple[Crossing, ...]:
    """What a straight line crosses.

    The scenes cross on straight pieces, and the angle is that of a vertical edge or line.
    """
    way = LineString(path)

    def cover(at: float) -> float:
        x, y = way.interpolate(at).coords[0]
        return float(
            heights(site.grid, np.array([x]), np.array([y]))[0] - np.interp(at, stations, inverts) - higher(at)
        )

    def higher(at: float) -> float:
        """Top of the pipe that lies there over the invert; the one upstream where two meet."""
        starts = [0.0, *(entry["to"] for entry in reaches)]
        pipes = [pipe(entry["kind"], entry.get("nominal", "4 in")) for entry in reaches]
        tops = [
            (p.od + p.bore) / 2 for p, a, b in zip(pipes, starts, starts[1:], strict=False) if a - 1e-6 <= at < b - 1e-6
        ]
        return next(iter(tops), top)

    found = []
    for feature in site.of_kind(*PAVEMENT_KINDS, *LINE_KINDS):
        for part in _parts(way.intersection(feature.geometry)):
            ends = sorted(way.project(Point(place)) for place in (part.coords[0], part.coords[-1]))
            if feature.kind in PAVEMENT_KINDS and ends[1] - ends[0] < 0.01:
                continue
            middle = min(max(sum(ends) / 2, 0.01), way.length - 0.01)
            one, two = (np.array(way.interpolate(middle + d).coords[0]) for d in (-0.005, 0.005))
            along = (two - one) / np.hypot(*(two - one))
            corners = shapely.get_coordinates(feature.geometry)
            edge = corners[1] - corners[0]
            if feature.kind in PAVEMENT_KINDS:
                edge = np.array([0.0, 1.0])
            angle = math.degrees(math.acos(min(1.0, abs(along @ edge) / np.hypot(*edge))))
            covers = [cover(at) for at in np.linspace(*ends, 401)]
            found.append(
                Crossing(
                    kind=feature.kind,
                    name=feature.name,
                    station_from=ends[0],
                    station_to=ends[1],
                    angle=angle,
                    cover_from=covers[0],
                    cover_to=covers[-1],
                    cover_min=min(covers),
                    depth=feature.attributes.get("depth"),
                    service=feature.attributes.get("service", ""),
                    hand_dig=site.rules["utility-crossed"].limit if feature.kind == "utility" else None,
                )
            )
    return tuple(found)


def _parts(shape: Any) -> list[Any]:
    return [part for part in shapely.get_parts(shape) if not part.is_empty]
