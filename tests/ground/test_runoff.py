"""Where surface water runs: directions known by construction, water conserved, paths that always leave."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from siteplan.ground.cells import STEPS, neighbour_steps
from siteplan.ground.fill import fill, outlet_cells
from siteplan.ground.runoff import LEAVES, NO_WAY_KNOWN, accumulation, flow_to, path_down, runoff_surface

ENGINES = ("plain", "compiled")


def grounds(count, seed):
    rng = np.random.default_rng(seed)
    for number in range(count):
        rows, cols = rng.integers(1, 15, 2)
        z = rng.random((rows, cols)) if number % 2 else rng.integers(0, 4, (rows, cols)).astype(float)
        if number % 3:
            z[rng.random((rows, cols)) < rng.choice([0.05, 0.3, 0.6])] = np.nan
        yield z, "wall" if number % 4 < 2 else "outlet"


def flow(z, hole="wall", engine="plain", steps=None):
    filled = fill(z, hole=hole)
    return filled, flow_to(filled, outlets=outlet_cells(z, hole=hole), steps=steps, engine=engine)


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("engine", ENGINES)
def test_a_plane_drains_the_way_it_falls(step, engine):
    row, col = np.mgrid[:7, :7].astype(float)
    length = math.hypot(*step)
    z = -0.02 * (row * step[0] + col * step[1]) / length
    _, down = flow(z, engine=engine)
    inner = down[1:-1, 1:-1]
    wanted = np.arange(49).reshape(7, 7)[1:-1, 1:-1] + step[0] * 7 + step[1]
    assert np.array_equal(inner, wanted)


@pytest.mark.parametrize("engine", ENGINES)
def test_steepest_counts_the_real_distance_in_plan(engine, make_grid):
    z = np.full((3, 3), 5.0)
    z[1, 1], z[1, 2], z[2, 1] = 3.0, 2.8, 2.0  # east falls 0.2 in 1 m, south 1.0 in 10 m
    steps = neighbour_steps(make_grid(z, tall=10.0, angle=0.4))
    assert np.allclose(steps, [10, 1, 1, 10, *[101**0.5] * 4], rtol=1e-12)
    outlets = outlet_cells(z)
    assert flow_to(z, outlets=outlets, steps=steps, engine=engine)[1, 1] == 5
    assert flow_to(z, outlets=outlets, engine=engine)[1, 1] == 7


def test_every_path_leaves_and_never_rises_and_the_engines_agree():
    for z, hole in grounds(300, seed=5):
        filled, down = flow(z, hole)
        assert np.array_equal(down, flow(z, hole, "compiled")[1])
        assert np.array_equal(down == NO_WAY_KNOWN, np.isnan(z))
        flat, level = down.ravel(), filled.ravel()
        for start in np.flatnonzero(flat != NO_WAY_KNOWN).tolist():
            at, walked = start, 0
            while flat[at] >= 0:
                near = np.abs(np.subtract(np.divmod(flat[at], z.shape[1]), divmod(at, z.shape[1])))
                assert near.max() == 1
                assert level[flat[at]] <= level[at]
                at = int(flat[at])
                walked += 1
                assert walked <= z.size
            assert flat[at] == LEAVES


def test_water_goes_down_the_steepest_way_where_there_is_one():
    seen = 0
    for z, hole in grounds(60, seed=6):
        filled, down = flow(z, hole)
        for (r, c), onto in np.ndenumerate(down):
            if onto < 0:
                continue
            slopes = {}
            for dr, dc in STEPS:
                if 0 <= r + dr < z.shape[0] and 0 <= c + dc < z.shape[1] and not np.isnan(filled[r + dr, c + dc]):
                    slopes[r + dr, c + dc] = (filled[r, c] - filled[r + dr, c + dc]) / math.hypot(dr, dc)
            target = divmod(int(onto), z.shape[1])
            if max(slopes.values()) > 0:
                assert slopes[target] == max(slopes.values())
                seen += 1
            else:
                assert slopes[target] == 0
    assert seen > 500


def test_level_ground_drains_by_the_fewest_cells():
    z = np.full((9, 9), 3.0)
    z[0, :] = z[-1, :] = z[:, 0] = z[:, -1] = 4.0
    z[4, 0] = 3.0  # the only way out
    _, down = flow(z)
    at, walked = 1 * 9 + 7, 0
    while down.ravel()[at] >= 0:
        at, walked = int(down.ravel()[at]), walked + 1
    assert at == 4 * 9
    assert walked == 7  # as many as columns lie between


def test_no_water_is_lost():
    rng = np.random.default_rng(7)
    for z, hole in grounds(200, seed=8):
        _, down = flow(z, hole)
        rain = rng.random(z.shape)
        gathered = accumulation(down, rain, engine="plain")
        assert np.array_equal(gathered, accumulation(down, rain, engine="compiled"), equal_nan=True)
        assert gathered[down == LEAVES].sum() == pytest.approx(rain[~np.isnan(z)].sum(), rel=1e-12, abs=1e-12)
        assert np.array_equal(np.isnan(gathered), np.isnan(z))


def test_water_gathered_is_what_lies_upstream():
    for z, hole in grounds(40, seed=9):
        _, down = flow(z, hole)
        upstream = np.zeros(z.size)
        for start in np.flatnonzero(down.ravel() != NO_WAY_KNOWN).tolist():
            at = start
            while at >= 0:
                upstream[at] += 1
                at = int(down.ravel()[at])
        gathered = accumulation(down, np.ones(z.shape))
        known = ~np.isnan(gathered)
        assert np.array_equal(gathered[known], upstream.reshape(z.shape)[known])


def test_a_big_ground_keeps_its_water_to_the_last_litre():
    rng = np.random.default_rng(10)
    row, col = np.mgrid[:300, :280]
    z = 0.01 * col + np.sin(col / 11) * np.cos(row / 13) + rng.normal(0, 0.02, row.shape)
    _, down = flow(z)
    gathered = accumulation(down, np.full(z.shape, 0.1), engine="compiled")
    assert gathered[down == LEAVES].sum() == pytest.approx(0.1 * z.size, rel=1e-9)


@pytest.mark.parametrize("engine", ENGINES)
def test_ground_with_a_hollow_is_refused(engine):
    z = np.full((5, 5), 2.0)
    z[2, 2] = 1.0
    with pytest.raises(ValueError, match="some ground has no way out; fill it first"):
        flow_to(z, outlets=outlet_cells(z), engine=engine)


def yard():
    """A slope to the south with a hollow in the middle that spills to the south-east."""
    z = 10 - 0.05 * np.mgrid[:21, :21][0]
    z[8:13, 8:13] = 9.0
    z[13, 12] = 9.3
    return z


def test_path_runs_through_the_hollow_to_the_edge(make_grid, make_site):
    site = make_site(make_grid(yard(), cell=2.0, angle=0.7))
    x, y = site.grid.to_plan(np.array([5.2]), np.array([10.1]))
    path = path_down(site, float(x[0]), float(y[0]))
    assert path[0] == (float(x[0]), float(y[0]))
    row, col = site.grid.to_index(*np.array(path[1:]).T)
    assert np.allclose([row[0], col[0]], [5, 10])
    cells = list(zip(np.rint(row).astype(int).tolist(), np.rint(col).astype(int).tolist(), strict=True))
    assert (13, 12) in cells  # over the spill
    assert cells[-1][0] == 20  # and off the south edge
    filled = fill(yard())
    assert all(filled[b] <= filled[a] for a, b in itertools.pairwise(cells))
    assert path == path_down(site, float(x[0]), float(y[0]), surface=runoff_surface(site))


def test_path_from_a_cells_centre_does_not_repeat_it(make_grid, make_site):
    site = make_site(make_grid(yard()))
    x, y = site.grid.to_plan(np.array([19.0]), np.array([3.0]))
    path = path_down(site, float(x[0]), float(y[0]))
    assert len(path) == 2


def test_no_path_from_off_the_grid_unknown_ground_or_a_building(make_grid, make_site, feature, cells):
    z = yard()
    z[3, 3] = np.nan
    grid = make_grid(z)
    site = make_site(grid, feature("building", cells(grid, 1, 12, 4, 17)))

    def path(row, col, **options):
        x, y = grid.to_plan(np.array([row]), np.array([col]))
        return path_down(site, float(x[0]), float(y[0]), **options)

    assert path(-0.6, 4.0) == ()
    assert path(4.0, 20.6) == ()
    assert path(3.2, 2.9) == ()
    assert path(2.0, 14.0) == ()
    assert len(path(2.0, 14.0, surface=runoff_surface(site, buildings=False))) > 10
    assert len(path(-0.4, 20.4)) > 1  # the outer half of an edge cell is on the grid


def test_surface_is_of_a_piece_and_read_only(make_grid, make_site, feature, cells):
    grid = make_grid(yard(), cell=0.5)
    surface = runoff_surface(make_site(grid, feature("building", cells(grid, 1, 2, 4, 6))))
    assert np.isnan(surface.ground[1:4, 2:6]).all()
    assert np.isnan(surface.ground).sum() == 12
    known = ~np.isnan(surface.ground)
    assert surface.gathered[surface.down == LEAVES].sum() == pytest.approx(known.sum() * 0.25, rel=1e-12)
    for array in (surface.ground, surface.filled, surface.down, surface.area, surface.gathered):
        with pytest.raises(ValueError, match="read-only"):
            array[0, 0] = 0


@pytest.mark.parametrize("engine", ENGINES)
def test_ground_shut_in_by_walls_drains_to_beside_them(engine):
    z = np.full((9, 9), 3.0)
    z[1:8, 1:8] = np.nan
    z[2:7, 2:7] = 5.0
    z[4, 4] = 1.0  # its hollow stands level with the rest: all of it drains to the rim
    filled, down = flow(z, engine=engine)
    assert filled[4, 4] == 5.0
    assert down[4, 4] == 3 * 9 + 4
    assert down[3, 4] == 2 * 9 + 4
    assert (down[2, 2:7] == LEAVES).all()
    gathered = accumulation(down, np.ones(z.shape), engine=engine)
    assert np.nansum(gathered[1:8, 1:8][down[1:8, 1:8] == LEAVES]) == 25
