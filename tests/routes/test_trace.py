"""The limits along a finished line: at every edge it crosses, and at every crease of the ground."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from siteplan.books.prices import DEFAULT_PRICES
from siteplan.routes.outlets import named_outlets
from siteplan.routes.terms import terms
from siteplan.routes.trace import passages, places_at, stations_of, trace, undercrossings
from siteplan.routes.yard import grounds_of
from siteplan.site import heights
from siteplan.values.forecasts import LowSpot

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).with_name("drawn_yards.py"))
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)


def traced(*features, corners, **more):
    site = yards.drawn(*features, **more)
    asked = terms(site.rules, yards.PIPE)
    outlets = named_outlets(site)
    grounds = grounds_of(site, outlets, (), asked, DEFAULT_PRICES)
    return trace(site, grounds, corners, site.sources[0], outlets[0] if outlets else None, asked), asked, site


def test_stations_and_places():
    corners = ((0.0, 0.0), (3.0, 4.0), (3.0, 10.0))
    assert stations_of(corners) == (0.0, 5.0, 11.0)
    np.testing.assert_allclose(places_at(corners, [2.5, 5.0, 8.0]), [(1.5, 2.0), (3.0, 4.0), (3.0, 7.0)])


def test_pavement_cover_begins_and_ends_at_its_edges():
    along, asked, _ = traced(
        ("downspout", (24.0, 14.0)),
        ("driveway", yards.box(29.013, 0, 2.5, 30)),
        corners=((38.0, 14.0), (24.0, 14.0)),
        asked={"min_cover_pavement_m": 0.6, "min_cover_m": 0.3},
        house=None,
    )
    cover = along.ground - along.ceiling - asked.rise
    inside = (along.x >= 29.013 - 1e-9) & (along.x <= 31.513 + 1e-9)
    assert asked.cover_pavement > 0.3
    np.testing.assert_allclose(cover[inside], asked.cover_pavement)
    far = (along.x < 29.013 - 2e-4) | (along.x > 31.513 + 2e-4)
    # heavy pipe goes on 2 ft past the edges, its top stands higher: the least cover is over it
    beside = far & (np.maximum(29.013 - along.x, along.x - 31.513) < 0.6096)
    assert beside.any()
    assert asked.heavier == pytest.approx(0.0042672)
    np.testing.assert_allclose(cover[beside], 0.3 + asked.heavier)
    beyond = np.maximum(29.013 - along.x, along.x - 31.513) > 0.95
    np.testing.assert_allclose(cover[beyond], 0.3)
    for edge in (29.013, 31.513):
        assert np.abs(along.x - edge).min() < 1e-9


def test_under_wheels_the_heavy_pipe_that_is_laid_keeps_its_cover():
    """Heavy pipe is allowed 0.4 m where other pipe is asked for more.

    It is laid, and its top stands higher than the line's own.
    """
    along, asked, _ = traced(
        ("downspout", (24.0, 14.0)),
        ("driveway", yards.box(29.0, 0, 2.5, 30)),
        corners=((38.0, 14.0), (24.0, 14.0)),
        asked={"min_cover_pavement_heavy_m": 0.4, "min_cover_m": 0.3},
        house=None,
    )
    cover = along.ground - along.ceiling - asked.rise
    inside = (along.x >= 29.0) & (along.x <= 31.5)
    # schedule 40 stands (4.5 + 4.026) / 2 in over its invert, SDR 35 (4.215 + 3.975) / 2 in
    np.testing.assert_allclose(cover[inside], 0.4 + (4.5 + 4.026 - 4.215 - 3.975) / 2 * 0.0254, atol=1e-9)


def test_a_kerb_thinner_than_the_samples_is_met():
    along, asked, _ = traced(
        ("downspout", (24.0, 14.0)),
        ("driveway", yards.box(29.013, 0, 0.01, 30)),
        corners=((38.0, 14.0), (24.0, 14.0)),
        asked={"min_cover_pavement_m": 0.6, "min_cover_m": 0.3},
        house=None,
    )
    assert (along.ground - along.ceiling - asked.rise).max() == pytest.approx(asked.cover_pavement)


def test_every_crease_of_the_ground_is_sampled():
    rng = np.random.default_rng(1)
    bumps = rng.normal(0, 0.1, (200, 200))
    along, _, site = traced(
        ("downspout", (24.03, 14.01)),
        corners=((38.0, 9.77), (30.2, 12.9), (24.03, 14.01)),
        house=None,
        ground=lambda x, y: 30 + bumps[: x.shape[0], : x.shape[1]],
    )
    row, col = site.grid.to_index(*places_at(along.corners, np.linspace(0, along.station[-1], 40001)).T)
    fine = np.linspace(0, along.station[-1], 40001)
    for index in (row, col):
        for k in np.flatnonzero(np.diff(np.floor(index))):
            assert np.abs(along.station - fine[k]).min() < 2e-3
    true = heights(site.grid, *places_at(along.corners, fine).T)
    assert np.abs(np.interp(fine, along.station, along.ground) - true).max() < 5e-4


def test_a_branch_has_its_full_cover_again_where_it_joins():
    along, asked, _ = traced(
        ("downspout", (24.0, 14.0)), corners=((26.0, 14.0), (24.0, 14.0)), asked={"start_zone_m": 5.0}, house=None
    )
    cover = along.ground - along.ceiling - asked.rise
    assert cover[0] == pytest.approx(asked.cover)
    np.testing.assert_allclose(cover[1:], 0.0, atol=1e-12)


def test_in_a_start_zone_heavier_pipe_does_not_stand_out_and_wheels_keep_their_cover():
    # vehicles drive 26 to 28; heavy pipe goes on 2 ft past; the start zone covers all of it
    along, asked, _ = traced(
        ("downspout", (24.0, 14.0)),
        ("driveway", yards.box(26.0, 0, 2.0, 30)),
        corners=((38.0, 14.0), (24.0, 14.0)),
        asked={"min_cover_pavement_m": 0.6, "min_cover_m": 0.3, "start_zone_m": 8.0},
        house=None,
    )
    cover = along.ground - along.ceiling - asked.rise
    under = (along.x >= 26.0 - 1e-9) & (along.x <= 28.0 + 1e-9)
    np.testing.assert_allclose(cover[under], asked.cover_pavement)
    past = np.maximum(26.0 - along.x, along.x - 28.0)
    # schedule 40 stands (4.5 + 4.026) / 2 in over its invert, SDR 35 (4.215 + 3.975) / 2 in
    more = (4.5 + 4.026 - 4.215 - 3.975) / 2 * 0.0254
    np.testing.assert_allclose(cover[(past > 2e-4) & (past < 0.6)], more, atol=1e-9)
    np.testing.assert_allclose(cover[along.x < 25.05], 0.0, atol=1e-12)


def test_limits_at_an_outlet():
    along, asked, _ = traced(
        ("downspout", (24.0, 14.0)),
        ("curb_outlet", (40.8, 14.0), {"invert": 27.9}),
        corners=((40.8, 14.0), (24.0, 14.0)),
        house=None,
    )
    assert along.floor[0] == 27.9
    cover = along.ground - along.ceiling - asked.rise
    zone = (along.station > asked.stretch + 1e-9) & (along.station < asked.zone)
    np.testing.assert_allclose(cover[zone], asked.zone_cover, atol=1e-12)
    np.testing.assert_allclose(cover[along.station > asked.zone + 1e-9], asked.cover, atol=1e-12)
    np.testing.assert_allclose(along.floor[1:], along.ground[1:] - asked.depth)


def test_unknown_ground_at_a_source_takes_what_the_survey_took():
    def holed(x, y):
        return np.where(x < 24.9, np.nan, yards.falling(x, y))

    along, _, _ = traced(
        ("downspout", (24.0, 14.0), {"ground": 29.1}), corners=((38.0, 14.0), (24.0, 14.0)), ground=holed, house=None
    )
    assert not along.known[-1]
    assert along.ground[-1] == 29.1
    assert (along.ground[along.station > 13.2] <= 29.1).all()


def test_crossings_with_their_stations_and_angles():
    site = yards.drawn(
        ("driveway", yards.box(29, 0, 2, 30), {"name": "Drive"}),
        ("utility", [(33, 0), (33, 30)], {"name": "Gas"}),
        ("walk", [(25, 12), (27, 12), (29, 16), (27, 16)]),
        house=None,
    )
    drive, gas, *_ = sorted(
        undercrossings(site, ((38.0, 14.0), (24.0, 14.0))),
        key=lambda u: {"driveway": 0, "utility": 1, "walk": 2}[u.kind],
    )
    assert (drive.station_from, drive.station_to, drive.name) == (pytest.approx(7.0), pytest.approx(9.0), "Drive")
    assert drive.angle == pytest.approx(90.0)
    assert gas.station_from == gas.station_to == pytest.approx(5.0)
    walk = next(u for u in undercrossings(site, ((38.0, 14.0), (24.0, 14.0))) if u.kind == "walk")
    assert walk.angle == pytest.approx(np.degrees(np.arctan2(4, 2)))


def test_a_line_that_begins_in_a_driveway_crosses_it_at_the_edge_it_comes_out_by():
    site = yards.drawn(("driveway", yards.box(24, 9, 16, 3), {"name": "Drive"}), house=None)
    # from the house's corner at the drive's side out over its lower edge, 3 across in 4 down
    (drive,) = undercrossings(site, ((22.75, 5.0), (27.25, 11.0), (24.3, 11.2)))
    assert drive.angle == pytest.approx(np.degrees(np.arctan2(4, 3)))
    (inside,) = undercrossings(site, ((36.0, 10.0), (26.0, 11.0)))
    assert inside.angle == 90.0


def test_passages_through_wet_ground():
    spot = LowSpot(
        id="LS1",
        kind="hollow",
        depth=0.1,
        area=4.0,
        volume=0.2,
        spill_elevation=29.0,
        spill=None,
        catchment=None,
        certain=True,
        rings=(((30.0, 13.0), (32.0, 13.0), (32.0, 15.0), (30.0, 15.0), (30.0, 13.0)),),
    )
    (passage,) = passages((spot,), ((38.0, 14.0), (24.0, 14.0)))
    assert (passage.station_from, passage.station_to) == (pytest.approx(6.0), pytest.approx(8.0))
    assert passages((spot,), ((38.0, 16.0), (24.0, 16.0))) == ()
