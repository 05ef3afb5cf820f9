"""Invented yards held in memory, moved and turned at will.

Also a judge of laid lines that shares nothing with the planner.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from siteplan.books import pipes, rules
from siteplan.site import Feature, Grid, Site, heights
from siteplan.values.water_ends import Outlet, Source

PIPE = pipes.pipe()
LOT = [(0, 0), (40, 0), (40, 30), (0, 30)]
HOUSE = [(10, 8), (22, 8), (22, 20), (10, 20)]
LINES = {"curb", "utility", "fence", "wall"}
POINTS = {"downspout", "sump", "inlet", "curb_outlet", "daylight_outlet", "tree"}
SOURCES = {"downspout", "sump", "inlet"}


def falling(x, y):
    """3 % to the east, with a bank from x = 36 on."""
    return 30 - 0.03 * x + 0.01 * y - 0.25 * np.clip(x - 36, 0, 9)


def rough(seed, height=0.1):
    """The same with waves of a few metres."""
    rng = np.random.default_rng(seed)
    phase, kx, ky = rng.uniform(0, 6, 6), rng.uniform(-0.5, 0.5, 6), rng.uniform(-0.5, 0.5, 6)
    return lambda x, y: (
        falling(x, y) + height * sum(np.sin(a * x + b * y + p) for a, b, p in zip(kx, ky, phase, strict=True)) / 2
    )


def box(x, y, wide, high):
    return [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]


def drawn(
    *features,
    ground=falling,
    asked=None,
    moved=(0.0, 0.0),
    turned=0.0,
    mirrored=False,
    lifted=0.0,
    extent=(-6.0, -6.0, 48.0, 36.0),
    cell=0.5,
    lot=LOT,
    house=HOUSE,
):
    """A site: (kind, place or places, attributes) drawn in metres, then mirrored, turned (degrees) and moved."""
    angle = math.radians(turned)
    cos, sin, flip = math.cos(angle), math.sin(angle), -1.0 if mirrored else 1.0

    def out(x, y):
        x, y = np.asarray(x, float), np.asarray(y, float) * flip
        return cos * x - sin * y + moved[0], sin * x + cos * y + moved[1]

    def back(x, y):
        x, y = np.asarray(x, float) - moved[0], np.asarray(y, float) - moved[1]
        return cos * x + sin * y, (-sin * x + cos * y) * flip

    west, south, east, north = extent
    xs, ys = np.arange(west, east + cell / 2, cell), np.arange(south, north + cell / 2, cell)[::-1]
    z = np.asarray(ground(*np.meshgrid(xs, ys)), float) + lifted

    def to_index(x, y):
        u, v = back(x, y)
        return (ys[0] - v) / cell, (u - west) / cell

    grid = Grid(
        z=z,
        to_index=to_index,
        to_plan=lambda row, col: out(west + np.asarray(col) * cell, ys[0] - np.asarray(row) * cell),
        cell=cell,
    )
    every = [
        ("lot", lot, {}),
        *([("building", house, {})] if house else []),
        *((*f, {}) if len(f) == 2 else f for f in features),
    ]
    made, sources = [], []
    for number, (kind, coords, more) in enumerate(every, start=1):
        if kind in POINTS:
            x, y = (float(v) for v in out(*coords))
            geometry = Point(x, y)
        else:
            places = [tuple(float(v) for v in out(*place)) for place in coords]
            geometry = LineString(places) if kind in LINES else Polygon(places)
        more = dict(more)  # noqa: PLW2901 -- a copy to take keys from
        name = more.pop("name", f"{kind} {number}")
        for key in ("invert",):
            if key in more:
                more[key] += lifted
        made.append(Feature(kind=kind, name=name, geometry=geometry, attributes=more, file="drawn", number=number))
        if kind in SOURCES:
            known = float(heights(grid, np.array([x]), np.array([y]))[0])
            sources.append(
                Source(
                    id=f"S{len(sources) + 1}",
                    kind=kind,
                    name=name,
                    x=x,
                    y=y,
                    ground=known if math.isfinite(known) else more["ground"] + lifted,
                    ground_known=math.isfinite(known),
                    invert_limit=more.get("invert"),
                )
            )
    return Site(
        name="drawn",
        crs="local",
        length_unit="m",
        elevation_unit="m",
        accuracy=0.03,
        grid=grid,
        features=tuple(made),
        sources=tuple(sources),
        rules=rules.rule_book(asked or {}),
        rainfall=None,
        inputs=(),
    )


def laid_out(site, prices=None):
    from siteplan.books.prices import DEFAULT_PRICES
    from siteplan.ground.hollows import low_spots
    from siteplan.routes.outlets import named_outlets
    from siteplan.yard.groups import lay_out

    return lay_out(site, named_outlets(site), low_spots(site), PIPE, prices or DEFAULT_PRICES)


def served(plan):
    return {key for line in plan.lines for key in line.sources}


def faults(site, plan, *, slack=0.002, deep=True):
    """Every limit that a laid line breaks by more than the slack [m], walked at 2 cm."""

    def limit(rule):
        return rules.limit(site.rules, rule)

    pavement, _ = rules.pavement_covers(site.rules)
    found = []
    outlets: dict[str, Outlet] = {outlet.id: outlet for outlet in plan.outlets}
    lines = {line.id: line for line in plan.lines}
    solid = shapely.union_all([f.geometry for f in site.of_kind("building", "no_dig", "neighbour")])
    vehicles = shapely.union_all([f.geometry for f in site.of_kind("driveway")])
    paths = {}
    for line in plan.lines:
        station = np.array([v.station for v in line.vertices])
        xy = np.array([(v.x, v.y) for v in line.vertices])
        invert = np.array([v.invert for v in line.vertices])
        paths[line.id] = LineString(xy)
        if not np.allclose(np.hypot(*np.diff(xy, axis=0).T), np.diff(station), atol=1e-6):
            found.append((line.id, "stations"))
        if (np.diff(invert) < limit(rules.MIN_GRADE) * np.diff(station) - 1e-9).any():
            found.append((line.id, "grade"))
        s = np.unique(np.concatenate((np.arange(0, station[-1], 0.02), station)))
        x, y, z = (np.interp(s, station, values) for values in (xy[:, 0], xy[:, 1], invert))
        ground = heights(site.grid, x, y)
        cover = ground - z - line.pipe.rise
        asked = np.full(s.shape, limit(rules.MIN_COVER))
        if line.end in outlets:
            asked[s < limit(rules.OUTLET_ZONE)] = limit(rules.OUTLET_ZONE_COVER)
            asked[s <= limit(rules.DAYLIGHT_STRETCH)] = -math.inf
        asked[s > max(station[-1] - limit(rules.START_ZONE), 1e-6)] = (
            -math.inf if limit(rules.START_ZONE) else limit(rules.MIN_COVER)
        )
        inside = shapely.intersects_xy(vehicles.buffer(-1e-6), x, y)
        if pavement is not None and inside.any():
            asked = np.where(inside, min(pavement, limit(rules.MIN_COVER)), asked)
        short = np.where(np.isfinite(ground), asked - cover, -math.inf).max()
        if short > slack:
            found.append((line.id, "cover", float(short)))
        if deep and np.nanmax(ground - z) > limit(rules.MAX_DEPTH) + slack:
            found.append((line.id, "depth"))
        if paths[line.id].intersection(solid).length > 0.31:
            found.append((line.id, "solid"))
        if not paths[line.id].is_simple:
            found.append((line.id, "crosses itself"))
        if any(v.bend > 100 for v in line.vertices):
            found.append((line.id, "sharp"))
        if line.end in outlets and invert[0] < outlets[line.end].control - 1e-6:
            found.append((line.id, "control"))
        if line.end in lines:
            met = [v for v in lines[line.end].vertices if math.dist((v.x, v.y), xy[0]) < 1e-6]
            if not met or invert[0] < met[0].invert - 1e-9:
                found.append((line.id, "join"))
    for a, b in itertools.combinations(paths, 2):
        for place in shapely.get_coordinates(paths[a].intersection(paths[b])):
            joins = [one for one, other in ((a, b), (b, a)) if lines[one].end in {other, lines[other].end}]
            if not any(math.dist((lines[one].vertices[0].x, lines[one].vertices[0].y), place) < 0.01 for one in joins):
                found.append((a, b, "cross"))
    return found
