"""Daylight points that the tool finds by itself: the last runs against plain loops, and where points may lie."""

from __future__ import annotations

import importlib.util
import itertools
import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from siteplan.books import rules
from siteplan.books.prices import DEFAULT_PRICES
from siteplan.routes.daylight import SIDE_STEPS, found_outlets, last_runs
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
        ("downspout", (22.3, 14.0)), ground=yards.rough(5, 0.3), asked={"outlet_zone_m": 3.0, "daylight_stretch_m": 1.3}
    )
    legal, _ = last_runs(yard, reach, asked)
    rng = np.random.default_rng(0)
    nodes = rng.choice(np.flatnonzero(yard.is_open), 120, replace=False)
    for node in nodes:
        best = -math.inf
        for r, c in SIDE_STEPS:
            step, length = r * yard.cols + c, yard.cell * math.hypot(r, c)
            for count in range(1, int(asked.zone / length) + 1):
                run = [node + step * left for left in range(count, -1, -1)]
                if not all(yard.is_open[p] for p in run):
                    break
                z = reach[run[0]]
                for left, (before, p) in zip(range(count - 1, -1, -1), itertools.pairwise(run), strict=True):
                    past = asked.stretch - left * length
                    if 0 <= past < length:
                        ground = yard.ground[p] + (yard.ground[before] - yard.ground[p]) * past / length
                        z = min(z, ground - asked.rise - asked.zone_cover - MARGIN / 2 + asked.grade * (length - past))
                    shows = left * length <= asked.stretch
                    top = (
                        yard.ground[p] + asked.daylight_allowance
                        if shows
                        else yard.ground[p] - asked.rise - asked.zone_cover - MARGIN / 2
                    )
                    z = min(z - asked.grade * length, top - (MARGIN / 2 if shows and left else 0.0))
                    if z < yard.ground[p] - asked.depth:
                        z = -math.inf
                best = max(best, z)
        if math.isinf(best) or math.isinf(legal[node]):
            assert best == legal[node]
        else:
            assert legal[node] == pytest.approx(best, abs=MARGIN)


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
    assert bool(found_outlets(site, yard, reaches, (), asked, sump=False)) is found


@pytest.mark.parametrize("stretch", [1.2, 1.8, 2.4, 3.6])
def test_the_taper_formula_tells_the_slope_at_which_daylight_begins(stretch):
    """Among slopes tried one after the other, daylight is found from the formula's on."""
    asked_rules = {"daylight_stretch_m": stretch, "outlet_zone_m": stretch + 6.0}
    begins = None
    for share in np.arange(0.03, 0.16, 0.004):
        site, yard, asked, reaches = scene(("downspout", (22.3, 14.0)), ground=slope(float(share)), asked=asked_rules)
        if found_outlets(site, yard, reaches, (), asked, sump=False):
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
    points = found_outlets(site, yard, reaches, (), asked, sump=True)
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
    assert found_outlets(site, yard, reaches, (), asked, sump=False) == ()
    assert found_outlets(site, yard, [], (), asked, sump=False) == ()
