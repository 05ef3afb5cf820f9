"""Straight runs between bends: turns and fittings, and chains over ground and round obstacles whose answer is known."""

from __future__ import annotations

import importlib.util
import itertools
import math
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon

from siteplan.books.fittings import fitting_words
from siteplan.books.prices import DEFAULT_PRICES
from siteplan.routes import straight
from siteplan.routes.outlets import named_outlets
from siteplan.routes.straight import RunTarget, bend_price, chain_price, fittings_for, straighten, thinned, turn
from siteplan.routes.terms import terms
from siteplan.routes.yard import grounds_of

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).with_name("drawn_yards.py"))
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)


def polar(degrees, length=1.0):
    return (length * math.cos(math.radians(degrees)), length * math.sin(math.radians(degrees)))


@pytest.mark.parametrize("angle", [0.0, 3.0, 22.5, 45.0, 90.0, 135.0, 180.0])
def test_turn_is_the_change_of_direction(angle):
    for sign in (1, -1):
        assert turn((-1.0, 0.0), (0.0, 0.0), polar(sign * angle)) == pytest.approx(angle)


@pytest.mark.parametrize(
    ("angle", "made"),
    [
        (1.0, ""),
        (22.5, "22.5"),
        (24.0, "22.5"),
        (45.0, "45"),
        (67.0, "45 + 22.5"),
        (90.0, "two 45s"),
        (33.0, "22.5 + 10 degrees by a turned pair of 22.5s"),
        (10.0, "10 degrees by a turned pair of 22.5s"),
    ],
)
def test_fittings(angle, made):
    assert fitting_words(fittings_for(angle)) == made


def test_bend_prices_favour_standard_angles():
    price = {angle: bend_price(angle, DEFAULT_PRICES) for angle in (1.0, 22.5, 33.0, 45.0, 90.0, 101.0)}
    assert price[1.0] == 0
    assert price[22.5] == price[45.0] == DEFAULT_PRICES.bend
    assert price[33.0] == DEFAULT_PRICES.bend + DEFAULT_PRICES.odd_bend
    assert price[90.0] == 2 * DEFAULT_PRICES.bend
    assert price[101.0] == math.inf


def test_thinned_keeps_ends_and_real_bends():
    route = [(0.1 * k, 0.0) for k in range(50)] + [(4.9 + 0.1 * k, 0.1 * k) for k in range(1, 50)]
    kept = thinned(route, 20)
    assert kept[0] == route[0]
    assert kept[-1] == route[-1]
    assert len(kept) <= 20
    assert LineString(kept).hausdorff_distance(LineString(route)) < 0.6


@pytest.mark.parametrize("angle", [17.0, 30.0, 50.0, 62.0, 80.0, 95.0])
def test_a_moved_bend_turns_by_a_standard_angle(angle):
    a, v, b = (-3.0, 0.0), (0.0, 0.0), polar(angle, 2.0)
    moved = straight.at_standard_turn(a, v, b)
    nearest = min(straight.STANDARD, key=lambda standard: abs(standard - angle))
    assert turn(a, moved, b) == pytest.approx(nearest, abs=1e-9)
    assert math.dist(moved, v) < 1.0


def target_of(outlet):
    return RunTarget(places=((outlet.x, outlet.y),), least=(outlet.control,), heading=(None,), outlet=outlet)


def scene(*features, **more):
    site = yards.drawn(*features, **more)
    asked = terms(site.rules, yards.PIPE)
    outlets = named_outlets(site)
    return site, grounds_of(site, outlets, (), asked, DEFAULT_PRICES), asked, outlets


def stairs(a, b, steps):
    """A route in steps east and south, as a net would have it."""
    xs, ys = np.linspace(a[0], b[0], steps), np.linspace(a[1], b[1], steps)
    return [
        a,
        *itertools.chain.from_iterable(
            ((x1, y0), (x1, y1))
            for (_, x1), (y0, y1) in zip(itertools.pairwise(xs), itertools.pairwise(ys), strict=True)
        ),
    ]


def test_an_open_yard_gets_one_straight_run():
    site, grounds, asked, (outlet,) = scene(("downspout", (24.0, 20.0)), ("curb_outlet", (40.8, 5.0)), house=None)
    route = stairs((24.0, 20.0), (38.0, 7.0), 12)
    chain = straighten(site, grounds, route, site.sources[0], target_of(outlet), asked, DEFAULT_PRICES)
    assert chain == ((24.0, 20.0), (outlet.x, outlet.y))


def test_an_obstacle_bends_the_line_round_it():
    block = yards.box(29, 8, 4, 8)
    site, grounds, asked, (outlet,) = scene(
        ("downspout", (24.0, 14.0)), ("curb_outlet", (40.8, 9.0)), ("no_dig", block), house=None
    )
    route = [
        (24.0, 14.0),
        (26.0, 16.0),
        (28.0, 17.0),
        (31.0, 17.0),
        (34.0, 17.0),
        (36.0, 14.0),
        (38.0, 11.0),
        (39.0, 10.0),
    ]
    chain = straighten(site, grounds, route, site.sources[0], target_of(outlet), asked, DEFAULT_PRICES)
    assert chain is not None
    assert len(chain) > 2
    assert LineString(chain).distance(Polygon(block)) >= asked.half_trench - 1e-9


def test_no_chain_where_the_ground_is_too_low_on_the_way():
    def dip(x, y):
        return yards.falling(x, y) - np.where((x > 29) & (x < 33), 3.0, 0.0)

    site, grounds, asked, (outlet,) = scene(
        ("downspout", (24.0, 14.0)), ("curb_outlet", (40.8, 9.0)), ground=dip, house=None
    )
    assert (
        straighten(
            site,
            grounds,
            stairs((24.0, 14.0), (39.0, 10.0), 12),
            site.sources[0],
            target_of(outlet),
            asked,
            DEFAULT_PRICES,
        )
        is None
    )


def test_no_run_across_unknown_ground():
    def holed(x, y):
        return np.where((x > 29) & (x < 31), np.nan, yards.falling(x, y))

    site, grounds, asked, (outlet,) = scene(
        ("downspout", (24.0, 14.0)), ("curb_outlet", (40.8, 9.0)), ground=holed, house=None
    )
    assert (
        straighten(
            site,
            grounds,
            stairs((24.0, 14.0), (39.0, 10.0), 12),
            site.sources[0],
            target_of(outlet),
            asked,
            DEFAULT_PRICES,
        )
        is None
    )


def test_a_corner_of_a_driveway_narrower_than_the_samples_is_not_clipped():
    """The run passes 3 cm inside the corner of a drive: it lies there with the pavement's cover or goes round."""
    site, grounds, asked, (outlet,) = scene(
        ("downspout", (24.0, 14.0)),
        ("curb_outlet", (40.8, 5.0)),
        ("driveway", [(30, 8.18), (32.4, 12), (26, 16), (26, 8.18)]),
        house=None,
        asked={"min_cover_pavement_m": 5.0},
    )
    chain = straighten(
        site, grounds, stairs((24.0, 7.9), (39.0, 7.0), 12), site.sources[0], target_of(outlet), asked, DEFAULT_PRICES
    )
    assert chain is None or not LineString(chain).intersects(grounds.vehicles)


def test_join_prices():
    along = (-1.0, 0.0)  # the trunk flows west
    at = {
        angle: straight.join_price(
            (math.cos(math.radians(angle)), math.sin(math.radians(angle))), (0.0, 0.0), along, DEFAULT_PRICES
        )
        for angle in (45, 90, 70, 120)
    }
    assert at[45] == DEFAULT_PRICES.wye
    assert at[90] == DEFAULT_PRICES.wye + DEFAULT_PRICES.bend
    assert at[70] > at[90]
    assert at[120] == math.inf
    assert straight.join_price((1.0, 0.0), (0.0, 0.0), None, DEFAULT_PRICES) == 0


def test_a_branch_is_longer_by_what_the_line_leaves_it_aside():
    branch = [(0.0, 5.0), (0.0, 3.0), (0.0, 0.0)]
    lines = np.array([LineString([(-9, 0), (9, 0)]), LineString([(-9, -2), (9, -2)]), LineString([(-9, 4), (9, 4)])])
    np.testing.assert_allclose(straight.branch_longer(branch, lines), [0.0, 2.0, -4.0])


def test_a_line_that_others_join_keeps_by_them():
    """Without the branch the run goes straight; with it, it comes by the place where they met."""
    site, grounds, asked, (outlet,) = scene(("downspout", (24.0, 14.0)), ("curb_outlet", (40.8, 14.0)), house=None)
    route = [
        (24.0, 14.0),
        (26.0, 17.0),
        (28.0, 20.0),
        (30.0, 21.0),
        (32.0, 20.0),
        (34.0, 18.0),
        (36.0, 16.0),
        (38.0, 14.5),
    ]
    plain = straighten(site, grounds, route, site.sources[0], target_of(outlet), asked, DEFAULT_PRICES)
    branch = [(30.0, 28.0), (30.0, 24.0), (30.0, 21.0)]
    joined = straighten(
        site, grounds, route, site.sources[0], target_of(outlet), asked, DEFAULT_PRICES, branches=[branch]
    )
    meeting = shapely.Point(30.0, 28.0)
    assert LineString(plain).distance(meeting) > 13
    assert LineString(joined).distance(meeting) < LineString(plain).distance(meeting) - 3


def test_a_pavement_with_a_hole_counts_its_own_edges_alone():
    ring = [(26, 8), (34, 8), (34, 16), (26, 16)]
    site = yards.drawn(("driveway", ring), house=None)
    asked = terms(site.rules, yards.PIPE)
    whole = grounds_of(site, (), (), asked, DEFAULT_PRICES)
    holed = Polygon(ring, [[(29, 11), (31, 11), (31, 13), (29, 13)]])
    feature = site.of_kind("driveway")[0]
    from dataclasses import replace

    site = replace(site, features=tuple(replace(f, geometry=holed) if f is feature else f for f in site.features))
    grounds = grounds_of(site, (), (), asked, DEFAULT_PRICES)
    # far from the hole, through the line that would join the end of one ring to the start of the other
    chain = ((25.0, 9.0), (30.0, 9.4), (35.0, 9.0))
    assert chain_price(grounds, chain, DEFAULT_PRICES) == pytest.approx(chain_price(whole, chain, DEFAULT_PRICES))


@pytest.mark.parametrize(("angle", "edges"), [(90.0, 0), (61.0, 0), (59.0, 2), (121.0, 2), (119.0, 0)])
def test_an_edge_of_pavement_is_crossed_square_down_to_sixty_degrees(angle, edges):
    """Flatter, the saw cuts a long wedge: common practice, no source; the rule crossing-angle asks the same."""
    drive = shapely.box(-50.0, 0.0, 50.0, 4.0)
    x, y = polar(angle, 8.0)
    chain = [(-x / 2, 2.0 - y / 2), (x / 2, 2.0 + y / 2)]
    assert straight.crossed_askew(SimpleNamespace(pavements=(drive,)), chain) == edges
