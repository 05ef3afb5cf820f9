"""Daylight points that the tool finds by itself: the last runs against plain loops, and where points may lie."""

from __future__ import annotations

import importlib.util
import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from siteplan.books import rules
from siteplan.books.prices import DEFAULT_PRICES
from siteplan.routes.daylight import RAYS, found_outlets, last_runs
from siteplan.routes.ends import start_of
from siteplan.routes.terms import terms
from siteplan.routes.yard import MARGIN, grounds_of, yard_of
from siteplan.yard.candidates import swept

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).with_name("drawn_yards.py"))
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)


def scene(*features, **more):
    site = yards.drawn(*features, **more)
    asked = terms(site.rules, yards.PIPE)
    yard = yard_of(site, grounds_of(site, (), (), asked, DEFAULT_PRICES), asked, DEFAULT_PRICES)
    reaches = [
        swept(yard, start_of(site, yard, source, asked, DEFAULT_PRICES), asked).inverts for source in site.sources
    ]
    return site, yard, asked, reaches


def slope(share):
    return lambda x, y: 40 - share * np.asarray(x, float) + 0 * np.asarray(y, float)


def test_last_runs_equal_plain_loops():
    _, yard, asked, (reach,) = scene(
        ("downspout", (22.3, 14.0)),
        ground=lambda x, y: yards.rough(5, 0.3)(x, y) - 0.12 * x,
        asked={"outlet_zone_m": 3.0, "daylight_stretch_m": 1.3},
    )
    nodes = np.random.default_rng(0).choice(np.flatnonzero(yard.is_open), 120, replace=False)
    legal, _ = last_runs(yard, reach, asked, nodes)
    arrived = 0
    for node, told in zip(nodes.tolist(), legal.tolist(), strict=True):
        control = yard.ground[node] + asked.daylight_allowance
        best = max((highest_run(yard, reach, asked, node, ray) for ray in RAYS), default=-math.inf)
        if best < control - MARGIN:
            assert math.isinf(told)
        elif best >= control - 1e-9:
            arrived += 1
            assert told == pytest.approx(best, abs=1e-9)
    assert arrived > 10


def highest_run(yard, reach, asked, node, ray):
    """Highest arrival along one ray.

    Each run walked down from its upper end on ground between the two cells beside it.
    """
    parts, length = max(map(abs, ray)), yard.cell * math.hypot(*ray)
    row, col = divmod(node, yard.cols)

    def beside(t):
        r, c = row + ray[0] * t / parts, col + ray[1] * t / parts
        cells = {(math.floor(r + 1e-9), math.floor(c + 1e-9)), (math.ceil(r - 1e-9), math.ceil(c - 1e-9))}
        weights = {cell: 1 - max(abs(cell[0] - r), abs(cell[1] - c)) for cell in cells}
        return {r * yard.cols + c: weight for (r, c), weight in weights.items()}

    def ground(t):
        return sum(weight * yard.ground[cell] for cell, weight in beside(t).items())

    best = -math.inf
    for whole in range(1, int(asked.zone / length + 1e-9) + 1):
        run = range(whole * parts + 1)
        if not all(yard.is_open[cell] for t in run for cell in beside(t)):
            break
        step = length / parts
        z, before = reach[node + whole * (ray[0] * yard.cols + ray[1])], ground(whole * parts)
        for t in range(whole * parts - 1, -1, -1):
            here, away = ground(t), t * step
            if away <= asked.stretch < away + step:
                edge = here + (before - here) * (asked.stretch - away) / step
                top = edge - asked.rise - asked.zone_cover - MARGIN / 2
                z = min(z, top + asked.grade * (away + step - asked.stretch))
            shows = away <= asked.stretch
            top = here + asked.daylight_allowance if shows else here - asked.rise - asked.zone_cover - MARGIN / 2
            z = min(z - asked.grade * step, top - (MARGIN / 2 if shows and t else 0.0))
            if z < here - asked.depth:
                z = -math.inf
                break
            before = here
        best = max(best, z)
    return best


@pytest.mark.parametrize(("share", "found"), [(0.03, False), (0.05, False), (0.09, False), (0.11, True), (0.15, True)])
def test_daylight_needs_the_taper_that_the_slope_asks(share, found):
    """On even ground of slope m a line comes to daylight within a taper of (cover + pipe + drop) / (m - s).

    Difference constraints on a plane, own derivation. There are two tapers: the pipe's own height is won within the
    stretch in which it may show, and its full cover within the outlet zone.
    """
    site, yard, asked, reaches = scene(("downspout", (22.3, 14.0)), ground=slope(share))
    needed = (asked.rise + asked.zone_cover + asked.daylight_allowance) / (share - asked.grade)
    whole = (asked.rise + asked.cover + asked.daylight_allowance) / (share - asked.grade)
    assert (needed < asked.stretch and whole < asked.zone) is found, "the case lies on the wrong side of the formula"
    assert bool(found_outlets(site, yard, reaches, (), asked, sumps=[False])) is found


@pytest.mark.parametrize("stretch", [1.2, 1.8, 2.4, 3.6])
def test_the_taper_formula_tells_the_slope_at_which_daylight_begins(stretch):
    """Among slopes tried one after the other, daylight is found from the formula's on."""
    asked_rules = {"daylight_stretch_m": stretch, "outlet_zone_m": stretch + 6.0}
    begins = None
    for share in np.arange(0.03, 0.16, 0.004):
        site, yard, asked, reaches = scene(("downspout", (22.3, 14.0)), ground=slope(float(share)), asked=asked_rules)
        if found_outlets(site, yard, reaches, (), asked, sumps=[False]):
            begins = float(share)
            break
    assert begins is not None

    drop = asked.rise + asked.daylight_allowance
    least = asked.grade + max((drop + asked.zone_cover) / stretch, (drop + asked.cover) / asked.zone)

    # never where the formula says no; and not much later: slopes are tried in steps, runs lie in eight directions
    assert least <= begins <= least + 0.006


def test_found_points_keep_their_distances_and_run_off():
    site, yard, asked, reaches = scene(
        ("downspout", (22.3, 14.0)), ("sump", (22.3, 17.0)), ("driveway", yards.box(30, 0, 4, 30)), ground=slope(0.12)
    )
    points = found_outlets(site, yard, reaches, (), asked, sumps=[False, True])
    assert points
    lot_line, wall = (
        rules.limit(site.rules, rules.OUTLET_LOT_LINE),
        rules.limit(site.rules, rules.SUMP_OUTLET_FOUNDATION),
    )
    for outlet in points:
        place = shapely.Point(outlet.x, outlet.y)
        assert site.lot.boundary.distance(place) >= lot_line - 1e-9
        assert all(f.geometry.distance(place) >= wall - 1e-9 for f in site.of_kind("building"))
        assert all(not f.geometry.intersects(place) for f in site.of_kind("driveway"))
        assert outlet.found
        assert outlet.control == pytest.approx(outlet.ground + asked.daylight_allowance)
    assert len(points) == 1 or math.dist((points[0].x, points[0].y), (points[1].x, points[1].y)) >= 8.0


def test_nothing_is_found_where_all_ground_is_barred():
    site, yard, asked, reaches = scene(
        ("downspout", (22.3, 14.0)), ground=slope(0.12), asked={"outlet_lot_line_m": 100.0}
    )
    assert found_outlets(site, yard, reaches, (), asked, sumps=[False]) == ()
    assert found_outlets(site, yard, [], (), asked, sumps=[]) == ()
