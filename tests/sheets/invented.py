"""An invented lot with everything a sheet must show, some of it nasty. No survey, no planner: figures by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from types import MappingProxyType

import numpy as np
from shapely.geometry import LineString, Point, Polygon, box

from siteplan.books.fittings import fitting_words
from siteplan.books.pipes import pipe
from siteplan.books.rules import rule_book
from siteplan.site import Feature, Grid, Site, heights
from siteplan.units import FOOT, GALLON_PER_MINUTE
from siteplan.values.asked_for import InputFile
from siteplan.values.forecasts import LineDoubt, LowSpot
from siteplan.values.laid_pipe import Fitting, FittingKind
from siteplan.values.lines import Crossing, Line, Passage, Row, Vertex
from siteplan.values.told import Finding
from siteplan.values.tried import Attempt, Candidate, Cure
from siteplan.values.water_ends import Inflows, Outlet, Source
from siteplan.values.whole_plan import Plan

SCRIPT = "</script><img src=x onerror=alert(1)>"
SUM = "{{ 7*7 }}"
BLOCK = "{% x %}"
FORMULA = '=HYPERLINK("http://x")'
PIPE = pipe()
BEDDING = 0.25 * FOOT
# as good as certain: what the sheets say of a line then hangs on its findings alone
DOUBT = LineDoubt(
    fall=0.03, ends=0.03, grade=0.001, chance_min_grade=0.995, chance_falls=0.999, method="simulation", shots_wanted=()
)
EAST, NORTH = 431_250.0, 4_618_400.0  # a projected frame: coordinates far from zero


def _ground(x, y):
    """Falls to a street in the south, a hollow in the side yard, a hump behind the house."""
    z = 30.0 + 0.021 * y + 0.004 * x
    z = z - 0.24 * np.exp(-(((x - 24.5) / 3.0) ** 2 + ((y - 15.0) / 3.4) ** 2))
    z = z + 0.35 * np.exp(-(((x - 12.0) / 5.0) ** 2 + ((y - 41.0) / 4.0) ** 2))
    wave = 0.006 * np.sin(1.7 * x + 0.3 * y) + 0.014 * np.sin(0.31 * y - 0.23 * x) + 0.011 * np.sin(0.19 * x + 0.47 * y)
    return z + wave


def _grid(east, north):
    cell, rows, cols = 0.5, 128, 96
    west, top = -8.0, 56.0
    row, col = np.mgrid[0:rows, 0:cols]
    z = _ground(west + (col + 0.5) * cell, top - (row + 0.5) * cell)
    z[20:26, 84:90] = np.nan
    z.setflags(write=False)
    return Grid(
        z=z,
        to_index=lambda x, y: ((top - (y - north)) / cell - 0.5, ((x - east) - west) / cell - 0.5),
        to_plan=lambda r, c: (east + west + (c + 0.5) * cell, north + top - (r + 0.5) * cell),
        cell=cell,
    )


def _line(
    name,
    sources,
    start,
    end,
    corners,
    inverts,
    grid,
    *,
    fittings,
    bends,
    crossings=(),
    passages=(),
    spare=0.1,
    binding="",
):
    """A line by its corners from the outlet upstream, with a schedule row every 10 ft and at each corner."""
    xy = np.array(corners, float)
    sta = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    inv = np.array(inverts, float)
    rise, below = PIPE.rise, PIPE.below

    def at(station):
        x, y = float(np.interp(station, sta, xy[:, 0])), float(np.interp(station, sta, xy[:, 1]))
        return x, y, float(heights(grid, np.array([x]), np.array([y]))[0]), float(np.interp(station, sta, inv))

    vertices = tuple(
        Vertex(x=x, y=y, station=float(s), invert=float(z), ground=at(s)[2], bend=bend, fittings=made)
        for (x, y), s, z, bend, made in zip(xy, sta, inv, bends, fittings, strict=True)
    )
    places = set(sta) | {n * 10 * FOOT for n in range(1, int(sta[-1] / (10 * FOOT)) + 1)}
    places |= {c.station_from for c in crossings} | {c.station_to for c in crossings}
    rows = []
    for station in sorted(map(float, places)):
        x, y, ground, invert = at(station)
        run = max(int(np.searchsorted(sta, station - 1e-9)), 1)
        grade = float((inv[run] - inv[run - 1]) / (sta[run] - sta[run - 1]))
        here = [v for v in vertices if v.station == station]
        said = [f"outlet or joint: {end}"] if station == 0 else [f"start: {start}"] if station == sta[-1] else []
        said += [f"bend {v.bend:.1f} degrees: {fitting_words(v.fittings)}" for v in here if v.fittings]
        said += [f"edge of {c.kind} {c.name}" for c in crossings if station in {c.station_from, c.station_to}]
        rows.append(
            Row(
                station=station,
                note="; ".join(said),
                x=x,
                y=y,
                ground=ground,
                invert=invert,
                cut=ground - invert + below + BEDDING,
                cover=ground - invert - rise,
                grade=grade,
            )
        )
    return Line(
        id=name,
        sources=sources,
        start=start,
        end=end,
        pipe=PIPE,
        vertices=vertices,
        rows=tuple(rows),
        crossings=tuple(crossings),
        low_spots=tuple(passages),
        spare=spare,
        binding=binding,
        cost=123.4,
        doubt=DOUBT,
    )


def _features(e, n):
    def poly(kind, name, shape, **attributes):
        return kind, name, shape, attributes

    lot = Polygon([(e, n), (e + 28, n), (e + 28, n + 44), (e, n + 44)])
    drive = Polygon([(e + 1.5, n - 3), (e + 5.5, n - 3), (e + 5.5, n + 24), (e + 1.5, n + 24)])
    listed = [
        poly("lot", "Lot 7", lot),
        poly("building", SCRIPT, Polygon([(e + 7, n + 18), (e + 21, n + 18), (e + 21, n + 34), (e + 7, n + 34)])),
        poly("driveway", f"Drive {SUM}", drive, vehicle="car"),
        poly("walk", BLOCK, box(e + 11, n + 3, e + 12.2, n + 18)),
        poly("paving", "Patio", box(e + 9, n + 34, e + 17, n + 38)),
        poly("no_dig", "Old well", Point(e + 24, n + 39).buffer(1.8)),
        poly("easement", "Power easement", box(e, n + 42, e + 28, n + 44)),
        poly("neighbour", "Next door", box(e + 28, n, e + 38, n + 44)),
        poly(
            "wet_area", "Soft corner", Polygon([(e + 1, n + 36), (e + 5, n + 36.5), (e + 4, n + 40), (e + 1, n + 40)])
        ),
        poly("curb", "Street", LineString([(e - 6, n - 3), (e + 34, n - 3)])),
        poly("utility", "Gas", LineString([(e + 18, n - 3), (e + 18, n + 18)])),
        poly("fence", "Back fence", LineString([(e, n + 44), (e + 28, n + 44)])),
        poly("tree", "Oak", Point(e + 8, n + 9), diameter=0.4),
        poly("benchmark", "BM-1 nail in step", Point(e + 12, n + 17.8)),
        poly("sprinkler", "", Point(e + 17, n + 8)),
    ]
    return tuple(
        Feature(kind=k, name=name, geometry=shape, attributes=MappingProxyType(a), file="features.geojson", number=i)
        for i, (k, name, shape, a) in enumerate(listed, 1)
    )


def yard(unit="ft", *, local=False):
    """The plan and the site: three sources, two joined lines, one source not drained."""
    e, n = (0.0, 0.0) if local else (EAST, NORTH)
    crs = "local" if local else "EPSG:32616"
    grid = _grid(e, n)

    def known(x, y):
        return float(heights(grid, np.array([e + x]), np.array([n + y]))[0])

    def source(ident, kind, name, x, y, **more):
        return Source(id=ident, kind=kind, name=name, x=e + x, y=n + y, ground=known(x, y), **more)

    sources = (
        source("S1", "downspout", "Front right", 21.3, 18.5, roof_area=52.0),
        source("S2", "sump", FORMULA, 21.3, 33.0, pump_rate=40 * GALLON_PER_MINUTE),
        source("S3", "downspout", SUM, 6.6, 33.5, roof_area=61.0, note=SCRIPT),
    )
    outlets = (
        Outlet(
            id="O1",
            kind="curb_outlet",
            name="Curb",
            x=e + 22.0,
            y=n - 3.0,
            ground=known(22, -3),
            control=29.62,
            basis="gutter flow line 97.14 ft plus 0.04 ft",
            invert=29.608,
        ),
        Outlet(
            id="O2",
            kind="daylight_outlet",
            name=SCRIPT,
            x=e + 1.0,
            y=n + 43.0,
            ground=known(1, 43),
            control=31.2,
            basis="ground at the face plus 0.05 ft",
            note=BLOCK,
        ),
        Outlet(
            id="O3",
            kind="daylight_outlet",
            name="",
            x=e + 26.5,
            y=n + 2.0,
            ground=known(26.5, 2),
            control=30.3,
            basis="found by the tool",
            found=True,
        ),
    )
    trunk = _line(
        "L1",
        ("S1", "S2"),
        "S1",
        "O1",
        [(e + 22, n - 3), (e + 22, n + 14), (e + 21.3, n + 18.5)],
        [29.62, 29.62 + 17 * 0.0115, 29.62 + 17 * 0.0115 + 4.5541 * 0.0150],
        grid,
        fittings=((), (Fitting(kind=FittingKind.WYE),), ()),
        bends=(0.0, 8.8, 0.0),
        passages=(Passage(id="LS1", station_from=15.2, station_to=17.0),),
        spare=0.128,
        binding="cover at the start, station 0+70.7, holds the invert down",
    )
    branch = _line(
        "L2",
        ("S2",),
        "S2",
        "L1",
        [(e + 22, n + 14), (e + 23.5, n + 18), (e + 23.5, n + 31), (e + 21.3, n + 33)],
        [
            29.62 + 17 * 0.0115,
            29.8155 + 4.272 * 0.012,
            29.8155 + 4.272 * 0.012 + 13 * 0.0125,
            29.8155 + 4.272 * 0.012 + 13 * 0.0125 + 2.973 * 0.02,
        ],
        grid,
        fittings=((), (Fitting(kind=FittingKind.BEND, angle=22.5),), (Fitting(kind=FittingKind.BEND, angle=45.0),), ()),
        bends=(20.6, 20.6, 47.7, 0.0),
        crossings=(
            Crossing(
                kind="walk",
                name=BLOCK,
                station_from=6.0,
                station_to=7.2,
                angle=88.0,
                cover_from=0.31,
                cover_to=0.33,
                cover_min=0.31,
                sleeve=None,
            ),
        ),
        spare=0.052,
        binding="cover where the walk is crossed",
    )
    ring = tuple((e + 24.5 + 2.6 * math.cos(a), n + 15.0 + 3.0 * math.sin(a)) for a in np.linspace(0, 2 * math.pi, 25))
    wet = tuple((e + x, n + y) for x, y in ((1, 36), (5, 36.5), (4, 40), (1, 40), (1, 36)))
    spots = (
        LowSpot(
            id="LS1",
            kind="hollow",
            depth=0.121,
            area=24.2,
            volume=1.46,
            spill_elevation=30.32,
            spill=(e + 26.9, n + 13.0),
            catchment=130.0,
            certain=True,
            rings=(ring,),
        ),
        LowSpot(
            id="LS2",
            kind="wet_area",
            depth=0.0,
            area=13.1,
            volume=0.0,
            spill_elevation=None,
            spill=None,
            catchment=None,
            certain=True,
            rings=(wet,),
        ),
        LowSpot(
            id="LS3",
            kind="hollow",
            depth=0.03,
            area=3.0,
            volume=0.05,
            spill_elevation=30.4,
            spill=(e + 14.0, n + 12.0),
            catchment=None,
            certain=False,
            rings=(tuple((e + x, n + y) for x, y in ((13, 9), (15, 9), (15, 11), (13, 11), (13, 9))),),
        ),
    )
    candidates = (
        Candidate(
            sources=("S1", "S2"),
            outlet="O1",
            feasible=True,
            fall_available=0.39,
            fall_needed=0.262,
            margin=0.128,
            length=21.55,
            cost=123.4,
            chosen=True,
            reason=None,
        ),
        Candidate(
            sources=("S1",),
            outlet="O3",
            feasible=True,
            fall_available=0.3,
            fall_needed=0.2,
            margin=0.1,
            length=18.0,
            cost=240.0,
            chosen=False,
            reason="costs more: 18.0 m against a shared trench",
        ),
        Candidate(
            sources=("S3",),
            outlet="O1",
            feasible=False,
            fall_available=0.31,
            fall_needed=0.43,
            margin=-0.12,
            length=43.0,
            cost=None,
            chosen=False,
            reason="short of fall at the driveway",
        ),
        Candidate(
            sources=("S3",),
            outlet="O2",
            feasible=False,
            fall_available=-0.4,
            fall_needed=0.1,
            margin=-0.5,
            length=11.0,
            cost=None,
            chosen=False,
            reason=f"the ground rises toward it {SUM}",
        ),
    )

    zone = Cure(kind="outlet-zone", amount=6.096, held=4.572, spare=0.02, length=43.0, cut=0.8)
    attempts = (Attempt(source="S3", outlet="O1", short_by=0.12, station=5.0, cures=(zone,), tried=True),)

    def found(rule, subject, status, value, limit, unit_of, where, message, doubt=None):
        return Finding(
            rule=rule,
            subject=subject,
            status=status,
            value=value,
            limit=limit,
            unit=unit_of,
            where=where,
            message=message,
            doubt=doubt,
        )

    findings = (
        found("continuous-fall", "L1", "pass", None, None, "", "", "falls all the way"),
        found("continuous-fall", "L2", "pass", None, None, "", "", "falls all the way"),
        found("min-grade", "L1", "pass", 1.15, 1.0, "percent", "0+00.0 to 0+55.8", "least grade of any run", 0.2),
        found(
            "min-grade",
            "L2",
            "flag",
            1.2,
            1.0,
            "percent",
            "0+00.0 to 0+14.0",
            "cannot tell: the survey's doubt is larger than the margin",
            0.9,
        ),
        found(
            "min-cover",
            "L2: walk",
            "fail",
            0.27,
            0.3048,
            "m",
            "station 0+21.7",
            f"cover runs short under the walk {SCRIPT}",
            0.03,
        ),
        found("max-depth", "L1", "pass", 0.81, 1.3716, "m", "station 0+74.0", "greatest depth of the invert", 0.03),
        found("served", "S3", "fail", None, None, "", "", "no line carries it: nearest miss is Curb, 0.12 m short"),
        found(
            "inside-lot",
            "L1",
            "flag",
            3.0,
            None,
            "m",
            "0+00.0 to 0+09.8",
            "leaves the lot to the curb: the road owner's permit is needed",
        ),
        found(
            "low-spot-crossed",
            "L1: LS1",
            "flag",
            1.8,
            None,
            "m",
            "0+49.9 to 0+55.8",
            "soft bed: over-dig and bed in stone",
        ),
        found("utility-crossed", "L1: Gas", "flag", 0.6, None, "m", "0+40.0", "hand-dig each side of the mark"),
    )
    inputs = (
        InputFile(file="site.toml", sha256="ab" * 32),
        InputFile(file="ground.tif", sha256="0123456789abcdef" * 4),
        InputFile(file="features.geojson", sha256="cd" * 32),
    )
    plan = Plan(
        site_name=f"Alder & {SUM} lot {SCRIPT}",
        crs=crs,
        length_unit=unit,
        elevation_unit=unit,
        accuracy=0.03,
        stamp=None,
        inputs=inputs,
        inflows=Inflows(flows=(("S1", 0.0021), ("S2", 40 * GALLON_PER_MINUTE), ("S3", 0.0024))),
        sources=sources,
        outlets=outlets,
        lines=(trunk, branch),
        low_spots=spots,
        candidates=candidates,
        attempts=attempts,
        findings=findings,
        assumptions=("Work happens in EPSG:32616, metres.", f"Roof of {SUM} drains to one downspout."),
        cautions=("Before digging: request public locates and wait.", "Planning aid, not an approval."),
        reach_note=("S3 reaches no outlet.",),
    )
    site = Site(
        name=plan.site_name,
        crs=crs,
        length_unit=unit,
        elevation_unit=unit,
        accuracy=0.03,
        grid=grid,
        features=_features(e, n),
        sources=sources,
        rules=rule_book({"min_cover_in": 12.0, "clear_of_trees_ft": "unknown"}),
        rainfall=None,
        inputs=inputs,
    )
    return plan, site


def hopeless(unit="ft"):
    """The same site when nothing can drain: no line at all."""
    plan, site = yard(unit)
    tried = tuple(replace(c, chosen=False, feasible=False, reason=c.reason or "short of fall") for c in plan.candidates)
    return replace(
        plan, lines=(), candidates=tried, findings=tuple(f for f in plan.findings if f.rule == "served")
    ), site
