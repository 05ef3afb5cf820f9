"""Hollows whose depth, area, volume, spill and catchment are known by construction, and what a person marked."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import MultiPolygon, Point, Polygon

from siteplan.ground import hollows as hollows_module
from siteplan.ground.fill import fill
from siteplan.ground.hollows import (
    BUILDING_ASSUMPTION,
    HOLE_ASSUMPTION,
    assumptions,
    hollow_table,
    label_groups,
    low_spots,
)
from siteplan.ground.runoff import runoff_surface

SHARED = Path(__file__).parents[2] / ".." / "shared" / "data"


def slope(rows=20, cols=30, grade=0.02):
    """Ground that falls to the east."""
    return np.broadcast_to(10.0 - grade * np.arange(cols), (rows, cols)).copy()


@pytest.mark.parametrize("turn", [0.0, 0.7, 2.5])
def test_a_pit_in_a_slope_is_known_to_the_last_digit(make_grid, make_site, turn):
    z = slope()
    z[5:9, 10:15] = 9.0
    grid = make_grid(z, cell=0.5, tall=2.0, angle=turn)
    (spot,) = low_spots(make_site(grid))
    # round the pit the lowest ground is the column east of it, at 10 - 0.02 * 15
    assert spot.id == "LS1"
    assert spot.kind == "hollow"
    assert spot.spill_elevation == pytest.approx(9.7, abs=1e-12)
    assert spot.depth == pytest.approx(0.7, abs=1e-12)
    assert spot.area == pytest.approx(20 * 0.5, rel=1e-9)
    assert spot.volume == pytest.approx(20 * 0.5 * 0.7, rel=1e-9)
    row, col = grid.to_index(*(np.array([v]) for v in spot.spill))
    assert round(float(col[0])) == 15
    assert 4 <= round(float(row[0])) <= 9
    shape = Polygon(spot.rings[0], spot.rings[1:])
    assert shape.area == pytest.approx(spot.area, rel=1e-9)
    x, y = grid.to_plan(np.array([6.5]), np.array([12.0]))
    assert shape.centroid.distance(Point(x[0], y[0])) < 1e-9
    # what drains in: the pit's own four rows uphill of it, and what the pit's edge draws in beside it
    own_rows = 4 * 15 * 0.5
    assert own_rows <= spot.catchment < own_rows + 2 * 15 * 0.5


@pytest.mark.parametrize("cell", [0.5, 0.25, 0.125])
def test_a_round_bowl_within_the_bounds_of_its_cells(make_grid, make_site, cell):
    # a paraboloid of depth D and radius R, level at its rim, in ground that falls away from it at grade s
    D, R, s, half = 0.5, 5.0, 0.05, 8.0
    n = int(2 * half / cell) + 1
    grid = make_grid(np.zeros((n, n)), cell=cell, angle=0.3, origin=(0.0, 0.0))
    row, col = np.mgrid[:n, :n].astype(float)
    x, y = (a.reshape(n, n) for a in grid.to_plan(row.ravel(), col.ravel()))
    cx, cy = (float(a[0]) for a in grid.to_plan(np.array([n / 2 + 0.13]), np.array([n / 2 - 0.21])))
    r = np.hypot(x - cx, y - cy)
    z = np.where(r < R, -D * (1 - (r / R) ** 2), -s * (r - R))
    spots = low_spots(make_site(make_grid(z, cell=cell, angle=0.3, origin=(0.0, 0.0))))
    assert len(spots) == 1
    spot = spots[0]
    # water crosses the rim in one step of at most cell * sqrt 2, inside at grade up to 2 D / R, outside at s:
    # the higher end of such a step lies at most `drop` below the rim
    step, steep = cell * 2**0.5, 2 * D / R
    drop = step * steep * s / (steep + s)
    assert -drop <= spot.spill_elevation <= 0
    bottom = D * (step / 2 / R) ** 2  # the lowest centre lies within half a diagonal of the middle
    assert D - drop - bottom <= spot.depth <= D
    # cells whose centre is inside the water's edge: the edge lies between `inner` and R, a cell reaches half a diagonal
    inner = R * math.sqrt(1 - drop / D)
    assert math.pi * (inner - step / 2) ** 2 <= spot.area <= math.pi * (R + step / 2) ** 2
    # volume under the level found: midpoint rule inside (h^2 / 24 of the curvature 4 D / R^2), and in the strip of
    # cells
    # on the water's edge half of what the depth there can be
    level = spot.spill_elevation
    whole = math.pi * R**2 * D / 2 * (1 + level / D) ** 2
    inside, rim = cell**2 / 24 * 4 * math.pi * D, 2 * math.pi * R * step * (steep * step) / 2
    assert abs(spot.volume - whole) <= inside + rim
    assert len(spot.rings) == 1


def test_a_hollow_round_a_mound_has_a_hole(make_grid, make_site):
    z = slope()
    z[5:12, 10:17] = 9.0
    z[8, 13] = 11.0
    (spot,) = low_spots(make_site(make_grid(z)))
    assert len(spot.rings) == 2
    assert Polygon(spot.rings[0], spot.rings[1:]).area == pytest.approx(spot.area)
    assert spot.area == pytest.approx(48)


def test_deepest_first_then_what_was_marked_in_the_order_read(make_grid, make_site, feature, cells):
    z = slope()
    z[3:6, 4:7] = 9.6
    z[12:15, 18:22] = 9.0
    grid = make_grid(z)
    wet = feature("wet_area", cells(grid, 8, 8, 10, 12))
    spray = feature("sprinkler", Point(1003, 1990))
    spots = low_spots(make_site(grid, spray, wet))
    assert [(spot.id, spot.kind) for spot in spots] == [
        ("LS1", "hollow"),
        ("LS2", "hollow"),
        ("LS3", "wet_area"),
        ("LS4", "sprinkler"),
    ]
    assert spots[0].depth > spots[1].depth > 0


@pytest.mark.parametrize(
    ("accuracy", "rules", "certain"),
    [(0.1, {}, True), (0.15, {}, False), (0.1, {"low_spot_doubt": 3}, False), (0.25, {"low_spot_doubt": 1}, True)],
)
def test_certain_when_deeper_than_the_survey_can_err(make_grid, make_site, accuracy, rules, certain):
    z = np.full((9, 9), 4.0)
    z[4, 4] = 3.75
    (spot,) = low_spots(make_site(make_grid(z), accuracy=accuracy, rules=rules))
    assert spot.certain is certain


def test_certain_at_the_limit_itself(make_grid, make_site):
    z = np.full((9, 9), 4.0)
    z[4, 4] = 3.75
    (spot,) = low_spots(make_site(make_grid(z), accuracy=0.125))
    assert spot.certain


def test_dust_is_left_out(make_grid, make_site):
    z = np.full((9, 9), 4.0)
    z[2, 2] = 4.0 - 0.0009
    z[6, 6] = 4.0 - 0.0011
    site = make_site(make_grid(z))
    assert len(low_spots(site)) == 1
    assert len(low_spots(site, least_depth=0.0)) == 2
    assert low_spots(site, least_depth=0.01) == ()


def test_only_hollows_at_or_near_the_lot(make_grid, make_site, feature, cells):
    z = np.full((10, 60), 4.0)
    z[5, 8] = z[5, 24] = z[5, 45] = 3.0
    z[5, 45] = 2.0
    grid = make_grid(z)
    lot = feature("lot", cells(grid, 0, 0, 10, 15))
    site = make_site(grid, lot)
    assert len(low_spots(site)) == 2
    assert len(low_spots(site, near=8.9)) == 1  # the second lies 9 m from the lot
    assert len(low_spots(site, near=9.1)) == 2
    assert [spot.depth for spot in low_spots(site, near=100)] == [2.0, 1.0, 1.0]
    assert len(low_spots(make_site(grid))) == 3  # no lot: all of them


def test_a_pit_under_a_building_is_no_wet_spot_unless_asked(make_grid, make_site, feature, cells):
    z = slope()
    z[5:9, 10:15] = 7.0
    grid = make_grid(z)
    site = make_site(grid, feature("building", cells(grid, 4, 9, 10, 16)))
    assert all(spot.depth < 0.2 for spot in low_spots(site))
    assert low_spots(site, buildings=False)[0].depth == pytest.approx(2.7)
    assert low_spots(site, surface=runoff_surface(site, buildings=False))[0].depth == pytest.approx(2.7)


def test_a_building_across_the_slope_dams_the_water(make_grid, make_site, feature, cells):
    z = slope(21, 30)
    z[:, :15] += np.abs(np.arange(21) - 10)[:, None] * 0.05  # a swale down the middle
    grid = make_grid(z)
    free = low_spots(make_site(grid))
    site = make_site(grid, feature("building", cells(grid, 8, 15, 13, 20)))
    (spot,) = low_spots(site)
    assert free == ()
    assert spot.depth == pytest.approx(fill(np.where(runoff_surface(site).ground == z, z, 99.0))[10, 14] - z[10, 14])


def test_unknown_ground_is_a_wall_or_swallows(make_grid, make_site):
    z = np.full((9, 9), 9.0)
    z[2:7, 2:7] = 5.0
    z[4, 4] = np.nan
    site = make_site(make_grid(z))
    (spot,) = low_spots(site)
    assert spot.depth == 4.0
    assert len(spot.rings) == 2
    assert low_spots(site, hole="outlet") == ()


def test_catchment_is_all_ground_whose_way_down_meets_the_hollow():
    # whole levels make many hollows at one level with ways that lead back into the hollow over its level rim
    rng = np.random.default_rng(3)
    seen = back = several = 0
    for _ in range(60):
        z = rng.integers(0, 5, (14, 14)).astype(float)
        surface = _surface(z)
        labels, count = label_groups(surface.filled > surface.ground)
        down = surface.down.ravel()
        for label in range(1, count + 1):
            cells = np.flatnonzero(labels == label)
            met = 0
            over = {}  # cells whose water leaves the hollow for good over this cell of the rim
            for start in range(z.size):
                at, last = start, -1
                while at >= 0:
                    last = at if labels.ravel()[at] == label else last
                    at = int(down[at])
                if last >= 0:
                    met += 1
                    over[int(down[last])] = over.get(int(down[last]), 0) + 1
            (x, y), catchment = hollows_module._spill(surface, labels, label, cells)
            assert catchment == met
            assert met >= len(cells)
            rim = round(-y) * 14 + round(x)
            assert rim == min(over, key=lambda cell: (-over[cell], cell))
            several += len(set(over.values())) > 1
            level = surface.filled.ravel()[cells[0]]
            assert surface.ground.ravel()[rim] == level
            assert min(np.abs(np.subtract(divmod(rim, 14), divmod(c, 14))).max() for c in cells.tolist()) == 1
            leaving = [c for c in cells.tolist() if labels.ravel()[down[c]] != label]
            back += catchment != sum(surface.gathered.ravel()[c] for c in leaving)
            seen += 1
    assert seen > 200
    assert several > 0  # ways out that carry unlike amounts
    assert back > 0  # the case that adding up the ways out gets wrong does occur


def _surface(z):
    from siteplan.books.rules import rule_book
    from siteplan.site import Grid, Site

    def to_plan(row, col):
        return np.asarray(col, float), -np.asarray(row, float)

    def to_index(x, y):
        return -np.asarray(y, float), np.asarray(x, float)

    grid = Grid(z=z, to_index=to_index, to_plan=to_plan, cell=1.0)
    return runoff_surface(
        Site(
            name="",
            crs="local",
            length_unit="m",
            elevation_unit="m",
            accuracy=0.1,
            grid=grid,
            features=(),
            sources=(),
            rules=rule_book({}),
            rainfall=None,
            inputs=(),
        )
    )


def test_a_chain_of_hollows_hands_its_water_on(make_grid, make_site):
    z = np.full((5, 40), 9.0)
    z[2, :] = 5.0 - 0.02 * np.arange(40)
    z[2, 10], z[2, 20] = 3.0, 3.5
    first, second = low_spots(make_site(make_grid(z)))
    assert first.depth == pytest.approx(5 - 0.02 * 11 - 3.0)
    assert second.catchment > first.catchment
    assert second.spill[0] == pytest.approx(1021.0)


def test_wet_area_takes_depth_from_the_ground_inside_it(make_grid, make_site, feature, cells):
    z = slope()
    z[5:9, 10:15] = 9.0
    grid = make_grid(z)
    marked = cells(grid, 7, 9, 12, 13)  # over six cells of the pit
    site = make_site(grid, feature("wet_area", marked))
    hollow, wet = low_spots(site)
    assert wet.depth == pytest.approx(0.7)
    assert wet.area == pytest.approx(20.0)
    assert wet.volume == pytest.approx(6 * 0.7)
    assert wet.certain
    assert (wet.spill_elevation, wet.spill, wet.catchment) == (hollow.spill_elevation, hollow.spill, hollow.catchment)
    assert Polygon(wet.rings[0]).equals(marked)
    assert Polygon(wet.rings[0]).exterior.is_ccw


def test_wet_area_on_a_slope_or_off_the_known_ground_has_no_depth(make_grid, make_site, feature, cells):
    z = slope()
    z[0:4, 0:5] = np.nan
    grid = make_grid(z)
    ring = cells(grid, 12, 3, 18, 9).difference(cells(grid, 14, 5, 16, 7))
    both = MultiPolygon([cells(grid, 0, 0, 3, 3), ring])
    spots = low_spots(make_site(grid, feature("wet_area", both)))
    assert [spot.id for spot in spots] == ["LS1", "LS2"]
    for spot, area in zip(spots, (9.0, 32.0), strict=True):
        assert (spot.depth, spot.volume, spot.spill_elevation, spot.spill, spot.catchment) == (
            0.0,
            0.0,
            None,
            None,
            None,
        )
        assert spot.certain
        assert spot.area == pytest.approx(area)
    assert len(spots[1].rings) == 2


@pytest.mark.parametrize(
    ("given", "radius"), [({}, 3.0), ({"radius": 4.5}, 4.5), ({"radius": None}, 3.0), ({"radius": -1}, 3.0)]
)
def test_sprinkler_wets_a_disc(make_grid, make_site, feature, given, radius):
    site = make_site(make_grid(slope()), feature("sprinkler", Point(1010, 1990), **given))
    (spot,) = low_spots(site)
    assert spot.kind == "sprinkler"
    assert spot.certain
    assert spot.area == pytest.approx(math.pi * radius**2)
    shape = Polygon(spot.rings[0])
    assert shape.centroid.distance(Point(1010, 1990)) < 1e-9
    assert shape.area == pytest.approx(spot.area, rel=0.004)  # a polygon of 48 corners in the circle
    assert any("3.000 m" in text for text in assumptions(site)) is (given.get("radius") != 4.5)


def test_assumptions_are_those_that_bear_on_the_site(make_grid, make_site, feature, cells):
    grid = make_grid(slope())
    assert assumptions(make_site(grid)) == ()
    house = make_site(grid, feature("building", cells(grid, 4, 4, 8, 8)))
    assert assumptions(house) == (BUILDING_ASSUMPTION,)
    assert assumptions(house, buildings=False) == ()
    z = slope()
    z[3, 3] = np.nan
    hole = make_site(make_grid(z))
    assert assumptions(hole) == (HOLE_ASSUMPTION["wall"],)
    assert assumptions(hole, hole="outlet") == (HOLE_ASSUMPTION["outlet"],)
    assert "swallows" in HOLE_ASSUMPTION["outlet"]


def test_label_engines_agree():
    rng = np.random.default_rng(2)
    for number in range(80):
        raised = rng.random(rng.integers(1, 20, 2)) < (0.2, 0.4, 0.6)[number % 3]
        plain, count = label_groups(raised, engine="plain")
        compiled, again = label_groups(raised, engine="compiled")
        assert count == again
        assert np.array_equal(plain, compiled)


def test_labels_equal_those_of_a_general_library():
    from skimage.measure import label  # the same definition, other people's code

    rng = np.random.default_rng(12)
    raised = rng.random((70, 50)) < 0.35
    labels, count = label_groups(raised)
    wanted, wanted_count = label(raised, connectivity=2, return_num=True)
    assert count == wanted_count
    assert np.array_equal(labels, wanted)


def test_table_of_no_hollows():
    z = slope()
    labels, count = label_groups(np.zeros(z.shape, bool))
    assert count == 0
    assert hollow_table(z, z, np.ones(z.shape), labels, count).shape == (0, 4)


def test_same_site_same_spots(make_grid, make_site):
    rng = np.random.default_rng(21)
    z = slope(40, 40) + rng.normal(0, 0.03, (40, 40))
    site = make_site(make_grid(z, angle=0.2))
    spots = low_spots(site)
    assert len(spots) > 20
    assert spots == low_spots(site)
    depths = [spot.depth for spot in spots]
    assert depths == sorted(depths, reverse=True)


@pytest.mark.parametrize(
    ("folder", "depth", "cells_over", "name"),
    [
        ("mill-road", 0.26, 116, "deepest_low_spot_on_lot 0.26; low_spot_cells_over_0.05 116"),
        ("brick-row", 0.521, 4, "deepest_low_spot_on_lot 0.521; low_spot_cells_over_0.05 4"),
    ],
)
def test_real_lots_have_the_low_spots_their_readme_gives(folder, depth, cells_over, name):
    # README.md of each folder, "Facts computed from the real ground", worked out by whoever made the folder; ground
    # under the
    # house counted, cells whose centre lies in the lot
    if not (SHARED / folder).is_dir():
        pytest.skip("the shared sites are not beside this checkout")
    from siteplan.ground.cells import cells_within
    from siteplan.survey.folder import read_site

    assert name in (SHARED / folder / "README.md").read_text(encoding="utf-8")
    site = read_site(SHARED / folder)
    surface = runoff_surface(site, buildings=False)
    stands = np.where(cells_within(site.grid, [site.of_kind("lot")[0].geometry]), surface.filled - surface.ground, 0.0)
    assert stands.max() == pytest.approx(depth, abs=0.0005 if depth > 0.5 else 0.005)
    assert (stands > 0.05).sum() == cells_over
    lot = site.of_kind("lot")[0].geometry
    deepest = max(
        spot.depth for spot in low_spots(site, surface=surface, near=0.0) if Polygon(spot.rings[0]).intersects(lot)
    )
    assert deepest >= stands.max() - 1e-12


@pytest.mark.parametrize(("accuracy", "kept"), [(0.05, 2), (0.3, 1)])
def test_what_the_survey_cannot_tell_is_kept_only_beside_the_lot(make_grid, make_site, feature, cells, accuracy, kept):
    """Two hollows of 0.25 m, one on the lot and one 5 m off.

    In a big tile of rough ground there are thousands of the second kind.
    """
    z = np.full((30, 40), 4.0)
    z[10, 10] = z[10, 24] = 3.75
    grid = make_grid(z)
    lot = feature("lot", cells(grid, 2, 2, 20, 20))
    site = make_site(grid, lot, accuracy=accuracy)
    assert len(low_spots(site)) == kept
    assert any("too shallow for this survey to tell within" in text for text in assumptions(site))


def test_no_wet_spot_begins_with_the_letter_of_a_buried_service(make_grid, make_site):
    from siteplan.books.services import SERVICES

    z = slope()
    z[5:9, 10:15] = 9.0
    (spot,) = low_spots(make_site(make_grid(z, cell=0.5, tall=2.0)))
    assert spot.id.rstrip("0123456789") not in {one.letter for one in SERVICES}
