"""First and last runs: their limits on ground whose answer is known, and what bars them."""

from __future__ import annotations

import importlib.util
import math
from pathlib import Path

import numpy as np
import pytest

from siteplan.books.prices import DEFAULT_PRICES
from siteplan.routes.ends import end_of, run_cost, start_of, straight_runs, zone_ceiling
from siteplan.routes.outlets import named_outlets
from siteplan.routes.terms import terms
from siteplan.routes.yard import MARGIN, grounds_of, yard_of
from siteplan.units import FOOT

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).with_name("drawn_yards.py"))
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)


def level(x, y):
    return np.full(np.shape(x), 30.0)


def scene(*features, **more):
    site = yards.drawn(*features, **more)
    asked = terms(site.rules, yards.PIPE)
    outlets = named_outlets(site)
    return (
        site,
        yard_of(site, grounds_of(site, outlets, (), asked, DEFAULT_PRICES), asked, DEFAULT_PRICES),
        asked,
        outlets,
    )


def test_first_runs_on_level_ground_lose_the_least_grade():
    site, yard, asked, _ = scene(("downspout", (30.0, 20.0)), ground=level)
    start = start_of(site, yard, site.sources[0], asked, DEFAULT_PRICES)
    assert start.nodes.size > 10
    length = np.hypot(*(yard.places(start.nodes) - [30.0, 20.0]).T)
    np.testing.assert_allclose(start.inverts, 30 - asked.rise - asked.cover - MARGIN - asked.grade * length, atol=2e-7)


def test_a_sources_own_limit_holds_its_first_runs_down():
    site, yard, asked, _ = scene(("downspout", (30.0, 20.0), {"invert": 29.2}), ground=level)
    start = start_of(site, yard, site.sources[0], asked, DEFAULT_PRICES)
    length = np.hypot(*(yard.places(start.nodes) - [30.0, 20.0]).T)
    np.testing.assert_allclose(start.inverts, 29.2 - asked.grade * length, atol=2e-7)


def test_a_source_below_the_greatest_depth_has_no_first_run():
    site, yard, asked, _ = scene(("downspout", (30.0, 20.0), {"invert": 28.0}), ground=level)
    assert start_of(site, yard, site.sources[0], asked, DEFAULT_PRICES).nodes.size == 0


@pytest.mark.parametrize(("inside", "leaves"), [(0.0, True), (0.25, True), (0.5, False)])
def test_a_source_may_stand_a_little_inside_the_drawn_wall(inside, leaves):
    site, yard, asked, _ = scene(("downspout", (22.0 - inside, 14.0)))
    assert (start_of(site, yard, site.sources[0], asked, DEFAULT_PRICES).nodes.size > 0) is leaves


def test_a_start_zone_is_length_along_the_run():
    site, yard, asked, _ = scene(("downspout", (30.0, 20.0)), ground=level, asked={"start_zone_m": 1.0})
    start = start_of(site, yard, site.sources[0], asked, DEFAULT_PRICES)
    length = np.hypot(*(yard.places(start.nodes) - [30.0, 20.0]).T)
    beyond = length > 1.0 + 1e-6
    # full cover from 1 m on: the run loses nothing before it that counts
    want = 30 - asked.rise - asked.cover - MARGIN - asked.grade * (length[beyond] - 1.0)
    np.testing.assert_allclose(start.inverts[beyond], want, atol=1e-3)


@pytest.mark.parametrize("kind", ["daylight_outlet", "curb_outlet"])
def test_zone_ceiling_stretch_by_stretch(kind):
    """A daylight pipe may show over the last 2 m.

    One to a curb keeps the zone's cover, but never lies lower than its hole.
    """
    _site, _, asked, outlets = scene(
        (kind, (40.8, 5.0)),
        asked={"min_cover_m": 0.3, "outlet_zone_m": 4.0, "outlet_zone_cover_m": 0.1, "daylight_stretch_m": 2.0},
    )
    (outlet,) = outlets
    away = np.array([0.0, 1.0, 3.0, 5.0, 3.0])
    ground = np.full(5, outlet.control + 0.2)
    cover = np.array([0.3, 0.3, 0.3, 0.3, 0.5])
    paved = np.array([False, False, False, False, True])
    found = zone_ceiling(ground, away, outlet, cover, paved, asked) - outlet.control
    shows = [0.2 + 0.05 * FOOT] * 2 if kind == "daylight_outlet" else [0.0, 0.01]
    np.testing.assert_allclose(found[:2], shows, atol=1e-12)
    np.testing.assert_allclose(found[2:] - (0.2 - asked.rise), [-0.1 - asked.heavier, -0.3, -0.5], atol=1e-12)


def test_where_the_ground_lies_low_the_pipe_keeps_its_grade_up_from_the_control():
    _, _, asked, (outlet,) = scene(("daylight_outlet", (39.0, 5.0)))
    away = np.array([0.0, 1.0])
    found = zone_ceiling(np.full(2, outlet.control - 1.0), away, outlet, np.full(2, 0.3), np.zeros(2, bool), asked)
    np.testing.assert_allclose(found, outlet.control + asked.grade * away)


def arrival(site, asked, outlet, place, z):
    """A pipe from a place straight to the outlet, walked at 2 mm: invert on arrival, or None."""
    from siteplan.site import heights

    length = math.dist(place, (outlet.x, outlet.y))
    away = np.linspace(length, 0.0, int(length / 0.002) + 2)
    x = outlet.x + (place[0] - outlet.x) * away / length
    y = outlet.y + (place[1] - outlet.y) * away / length
    ground = heights(site.grid, x, y)
    limit = zone_ceiling(ground, away, outlet, np.full(away.shape, asked.cover), np.zeros(away.shape, bool), asked)
    for k in range(len(away)):
        z = z if k == 0 else z - asked.grade * (away[k - 1] - away[k])
        z = min(z, limit[k])
        if z < (outlet.control if k == len(away) - 1 else ground[k] - asked.depth) - 1e-9:
            return None
    return z


def test_last_runs_equal_a_walk_at_two_millimetres():
    site, yard, asked, (outlet,) = scene(("curb_outlet", (40.8, 5.0)), ground=yards.rough(4, 0.2))
    end = end_of(site, yard, outlet, asked, DEFAULT_PRICES)
    assert end.nodes.size > 10
    places, roomy = yard.places(end.nodes), np.flatnonzero(end.tops - end.needs > 0.1)
    assert roomy.size > 30
    for k in roomy[::5]:
        for z in (end.needs[k] + 0.03, end.tops[k], end.needs[k] - 0.03):
            walked = arrival(site, asked, outlet, tuple(places[k]), z)
            if z < end.needs[k]:
                assert walked is None
                continue
            assert walked == pytest.approx(min(z - asked.grade * end.lengths[k], end.caps[k]), abs=MARGIN)


def test_unknown_ground_beyond_two_metres_bars_a_last_run():
    def holed(x, y):
        return np.where((x > 35) & (x < 37), np.nan, yards.falling(x, y))

    site, yard, asked, (outlet,) = scene(("daylight_outlet", (39.2, 5.0)), ground=holed, asked={"outlet_zone_m": 8.0})
    end = end_of(site, yard, outlet, asked, DEFAULT_PRICES)
    assert end.nodes.size
    assert (yard.places(end.nodes)[:, 0] > 36.9).all()


def test_last_runs_keep_the_pavements_cover_in_the_outlet_zone():
    drive = ("driveway", yards.box(36, 0, 4, 10))
    bare = scene(("curb_outlet", (40.8, 5.0)))
    paved = scene(("curb_outlet", (40.8, 5.0)), drive)
    assert end_of(bare[0], bare[1], bare[3][0], bare[2], DEFAULT_PRICES).nodes.size > 10
    end = end_of(paved[0], paved[1], paved[3][0], paved[2], DEFAULT_PRICES)
    for place in paved[1].places(end.nodes):
        assert not yards.Polygon(drive[1]).intersects(yards.LineString([tuple(place), (40.8, 5.0)]))


def test_an_outlet_inside_a_building_has_no_last_run():
    site, yard, asked, (outlet,) = scene(("daylight_outlet", (15.0, 14.0)))
    assert end_of(site, yard, outlet, asked, DEFAULT_PRICES).nodes.size == 0


def test_run_cost_is_exact_where_depth_grows_evenly():
    _, _, asked, _ = scene()
    along = np.array([[0.0, 1.0, 2.5, 4.0]])
    depth = 0.4 + 0.05 * along
    deepest = depth + asked.below
    assert deepest.max() < asked.ladder
    want = 4.0 * (1.5 + DEFAULT_PRICES.digging * (0.4 + 0.05 * 2.0 + asked.below))
    assert run_cost(along, np.full((1, 4), 1.5), depth, asked, DEFAULT_PRICES) == pytest.approx([want])


def test_runs_are_sampled_on_both_sides_of_a_zones_edge():
    _, _, away, length = straight_runs(np.zeros(2), np.array([[3.0, 4.0], [0.3, 0.4]]), (2.0,))
    assert length == pytest.approx([5.0, 0.5])
    assert (np.diff(away, axis=1) >= 0).all()
    assert np.isclose(away[0], 2.0, atol=1e-12).any()
    assert ((away[0] > 2.0) & (away[0] < 2.001)).any()
    assert away[1].max() == pytest.approx(0.5)
