"""The net: where it lies, what it opens and closes, and that it moves and turns with the lot."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest
import shapely

from siteplan.books.prices import DEFAULT_PRICES
from siteplan.routes import kernels
from siteplan.routes.reach import reach_sweep
from siteplan.routes.terms import terms
from siteplan.routes.yard import MARGIN, grounds_of, root_radius, yard_of
from siteplan.units import FOOT, INCH

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).with_name("drawn_yards.py"))
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)


def net(site, **more):
    asked = terms(site.rules, yards.PIPE)
    return yard_of(site, grounds_of(site, (), (), asked, DEFAULT_PRICES), asked, DEFAULT_PRICES, **more), asked


def test_open_cells_keep_clear_and_border_is_closed():
    site = yards.drawn(("no_dig", yards.box(26, 4, 3, 5)), ("neighbour", yards.box(40, 0, 5, 30)))
    yard, asked = net(site)
    grid = yard.is_open.reshape(yard.rows, yard.cols)
    assert not grid[:2].any()
    assert not grid[-2:].any()
    assert not grid[:, :2].any()
    assert not grid[:, -2:].any()
    places = shapely.points(yard.places(np.flatnonzero(yard.is_open)))
    for feature in site.of_kind("no_dig", "neighbour"):
        assert shapely.distance(places, feature.geometry).min() >= asked.half_trench - 1e-9
    for feature in site.of_kind("building"):
        # a round buffer is drawn with straight pieces, a little inside
        assert shapely.distance(places, feature.geometry).min() >= asked.wall_clearance - 1e-9
    assert shapely.covers(site.lot, places).all()
    assert 3000 < yard.is_open.sum() < 6000


def test_ceiling_is_ground_less_cover_pipe_and_margin():
    site = yards.drawn(("driveway", yards.box(22, 9, 18, 3)), asked={"min_cover_pavement_m": 0.6, "min_cover_m": 0.3})
    yard, asked = net(site)
    nodes = np.flatnonzero(yard.is_open)
    x, y = yard.places(nodes).T
    on_drive = shapely.intersects_xy(site.of_kind("driveway")[0].geometry, x, y)
    depth = yard.ground[nodes] - yard.ceiling[nodes]
    np.testing.assert_allclose(depth[on_drive], asked.rise + asked.cover_pavement + MARGIN, atol=1e-9)
    far = shapely.distance(shapely.points(x, y), site.of_kind("driveway")[0].geometry) > yard.cell
    away = shapely.distance(shapely.points(x, y), site.of_kind("driveway")[0].geometry)
    # heavy pipe goes on 2 ft past the pavement and stands higher
    beside, beyond = far & (away < 0.6096), away > 0.91 + yard.cell
    np.testing.assert_allclose(depth[beside], asked.rise + asked.heavier + 0.3 + MARGIN, atol=1e-9)
    np.testing.assert_allclose(depth[beyond], asked.rise + 0.3 + MARGIN, atol=1e-9)
    np.testing.assert_allclose(yard.floor[nodes], yard.ground[nodes] - asked.depth, atol=1e-9)


@pytest.mark.parametrize(("asked", "wide"), [({}, 10 * FOOT), ({"foundation_backfill_m": 2.0}, 2.0)])
def test_all_the_loose_fill_that_is_flagged_is_priced_and_its_deep_half_more(asked, wide):
    site = yards.drawn(asked=asked)
    yard, terms = net(site)
    nodes = np.flatnonzero(yard.is_open)
    x, y = yard.places(nodes).T
    away = shapely.distance(shapely.points(x, y), site.of_kind("building")[0].geometry)
    inner = (x > 1) & (x < 39) & (y > 1) & (y < 29)  # along the lot line another price comes on top
    rate = yard.rate[nodes]
    deep, shallow = inner & (away < wide / 2 - 0.05), inner & (away > wide / 2 + 0.05) & (away < wide)
    beyond = inner & (away > wide + terms.half_trench + 0.05)
    assert min(deep.sum(), shallow.sum(), beyond.sum()) > 0
    np.testing.assert_allclose(rate[deep], 1.0 + 1.5 + 1.5)
    np.testing.assert_allclose(rate[shallow], 1.0 + 1.5)
    np.testing.assert_allclose(rate[beyond], 1.0)


def test_unknown_ground_is_closed():
    def holed(x, y):
        return np.where((x > 26) & (x < 30), np.nan, yards.falling(x, y))

    yard, _ = net(yards.drawn(ground=holed))
    x, _ = yard.places(np.flatnonzero(yard.is_open)).T
    assert not ((x > 26.01) & (x < 29.99)).any()
    assert (x < 25).any()


def test_a_strip_thinner_than_a_cell_cannot_be_stepped_over():
    site = yards.drawn(("no_dig", yards.box(30.2, -1, 0.01, 32)), asked={"trench_width_m": 0.02})
    yard, _asked = net(site)
    x, _ = yard.places(np.arange(yard.is_open.size)).T
    assert yard.is_open[(x > 29) & (x < 31)].sum() > 100, "cells on both sides must be open for this to be a test"
    start = np.flatnonzero((yard.is_open > 0) & (x < 25))[:1]
    best = reach_sweep(
        np.where(yard.is_open, 100.0, -np.inf),
        np.where(yard.is_open, 0.0, np.inf),
        yard.is_open,
        yard.shut,
        kernels.moves(16, yard.cols),
        yard.cell,
        0.01,
        start,
        np.array([90.0]),
    )
    assert np.isfinite(best[x < 30]).any()
    assert not np.isfinite(best[x > 30.25]).any()


def test_moves_do_not_leave_the_lot_round_a_notch():
    lot = [(0, 0), (40, 0), (40, 14), (30, 14), (30, 14.2), (40, 14.2), (40, 30), (0, 30)]
    yard, _ = net(yards.drawn(lot=lot, house=None), cell=0.9)
    for move, step in enumerate(kernels.moves(16, yard.cols)[:, 0].tolist()):
        nodes = np.flatnonzero(yard.is_open)
        nodes = nodes[(yard.is_open[nodes + step] > 0) & (yard.shut[nodes] >> move & 1 == 0)]
        runs = shapely.linestrings(np.stack((yard.places(nodes), yard.places(nodes + step)), axis=1))
        assert shapely.covers(yard.grounds.allowed, runs).all()


@pytest.mark.parametrize("way", [{"moved": (2e6, 5e5)}, {"turned": 90}, {"turned": -28.6}, {"mirrored": True}])
def test_the_net_moves_with_the_lot(way):
    plain, _ = net(yards.drawn(("no_dig", yards.box(26, 4, 3, 5))))
    other, _ = net(yards.drawn(("no_dig", yards.box(26, 4, 3, 5)), **way))
    assert other.is_open.sum() == plain.is_open.sum()
    assert other.cell == plain.cell
    np.testing.assert_allclose(
        np.sort(other.ground[other.is_open > 0]), np.sort(plain.ground[plain.is_open > 0]), atol=1e-6
    )


def test_prices_add_up_where_areas_lie_on_each_other():
    site = yards.drawn(("driveway", yards.box(22, 9, 18, 3)), ("tree", (30.0, 10.5), {"diameter": 12 * INCH}))
    yard, _ = net(site)
    x, y = yard.places(np.arange(yard.is_open.size)).T
    inside = (np.hypot(x - 30, y - 10.5) < 0.8) & (yard.is_open > 0)
    assert inside.any()
    np.testing.assert_allclose(
        yard.rate[inside], DEFAULT_PRICES.trench + DEFAULT_PRICES.driveway + DEFAULT_PRICES.roots
    )


def test_root_circle_is_a_foot_for_each_inch():
    assert root_radius(10 * INCH) == pytest.approx(10 * FOOT)
    assert root_radius(None) == pytest.approx(6 * FOOT)
