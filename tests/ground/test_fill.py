"""Filling against a reference written on its own, engine against engine, and a general-purpose library."""

from __future__ import annotations

import heapq
import subprocess
import sys

import numpy as np
import pytest

from siteplan.ground import fill as fill_module
from siteplan.ground.fill import fill, outlet_cells

ENGINES = ("plain", "compiled")


def around(place, shape):
    row, col = place
    for dr in (-1, 0, 1):
        for dc in (-1, 0, 1):
            if (dr or dc) and 0 <= row + dr < shape[0] and 0 <= col + dc < shape[1]:
                yield row + dr, col + dc


def reference(z, hole, wall=None):
    """Filling by its definition: shortest ways from the outlets, a way being as long as its highest cell is high."""
    z = np.asarray(z, float)
    wall = np.zeros(z.shape, bool) if wall is None else wall
    rows, cols = z.shape
    known = ~np.isnan(z) & ~wall
    rim = {(r, c) for r in range(rows) for c in range(cols) if r in (0, rows - 1) or c in (0, cols - 1)}
    outside = {p for p in np.ndindex(z.shape) if not known[p] and not wall[p] and (hole == "outlet" or p in rim)}
    todo = list(outside)
    while todo:
        for q in around(todo.pop(), z.shape):
            if not known[q] and not wall[q] and q not in outside:
                outside.add(q)
                todo.append(q)
    level = np.full(z.shape, np.inf)

    def spread(seeds):
        heap = []
        for p in seeds:
            level[p] = z[p]
            heapq.heappush(heap, (z[p], p))
        while heap:
            high, p = heapq.heappop(heap)
            if high > level[p]:
                continue
            for q in around(p, z.shape):
                if known[q] and max(high, z[q]) < level[q]:
                    level[q] = max(high, z[q])
                    heapq.heappush(heap, (level[q], q))

    spread(p for p in np.ndindex(z.shape) if known[p] and (p in rim or any(q in outside for q in around(p, z.shape))))
    shut_in = [p for p in np.ndindex(z.shape) if known[p] and np.isinf(level[p])]
    spread([p for p in shut_in if any(not known[q] for q in around(p, z.shape))])
    return np.where(known, level, np.nan)


def grounds(count, seed):
    """Small grounds of every kind: noise, few whole levels (flats), slopes, with and without holes and walls."""
    rng = np.random.default_rng(seed)
    for number in range(count):
        rows, cols = rng.integers(1, 15, 2)
        kind = number % 4
        z = rng.random((rows, cols))
        if kind == 1:
            z = rng.integers(-2, 3, (rows, cols)).astype(float)
        elif kind == 2:
            z = np.add.outer(np.arange(rows) * 0.1, np.arange(cols) * 0.07) + 0.2 * z
        elif kind == 3:
            z = np.round(z * 3) / 8
        if number % 3:
            z[rng.random((rows, cols)) < rng.choice([0.03, 0.2, 0.5, 0.8])] = np.nan
        wall = rng.random((rows, cols)) < 0.15 if number % 5 == 0 else None
        yield z, wall


def same_bits(a, b):
    return a.shape == b.shape and a.dtype == b.dtype == np.float64 and np.array_equal(a, b, equal_nan=True)


@pytest.mark.parametrize("hole", ["wall", "outlet"])
def test_both_engines_equal_the_reference_bit_for_bit(hole):
    raised = 0
    for z, wall in grounds(400, seed=20):
        wanted = reference(z, hole, wall)
        for engine in ENGINES:
            assert same_bits(fill(z, hole=hole, wall=wall, engine=engine), wanted), (engine, z, wall)
        raised += int(np.nansum(wanted > z))
    assert raised > 500  # the grounds do have hollows


def test_engines_agree_on_a_larger_ground_with_flats_and_holes():
    rng = np.random.default_rng(4)
    row, col = np.mgrid[:230, :310]
    z = np.round(0.02 * col + np.sin(col / 17) * np.cos(row / 23) + rng.normal(0, 0.05, row.shape), 2)
    z[40:60, 90:140] = np.nan
    z[0:9, 200:215] = np.nan
    z[100:130, 100:160] = 1.5
    for hole in ("wall", "outlet"):
        assert same_bits(fill(z, hole=hole, engine="plain"), fill(z, hole=hole, engine="compiled"))


@pytest.mark.parametrize("seed", range(4))
def test_equals_greyscale_reconstruction_of_a_general_library(seed):
    # scikit-image, morphology.reconstruction by erosion from the grid's edge: the same definition, other people's code
    from skimage.morphology import reconstruction

    rng = np.random.default_rng(seed)
    z = rng.integers(0, 9, (60, 45)).astype(float) if seed % 2 else rng.random((60, 45))
    start = z.copy()
    start[1:-1, 1:-1] = z.max()
    wanted = reconstruction(start, z, method="erosion", footprint=np.ones((3, 3)))
    for engine in ENGINES:
        assert same_bits(fill(z, engine=engine), wanted)


def test_a_hole_is_a_wall_or_an_outlet():
    z = np.full((7, 7), 9.0)
    z[1:6, 1:6] = 5.0
    z[3, 3] = np.nan
    for engine in ENGINES:
        assert fill(z, hole="wall", engine=engine)[1, 1] == 9.0
        assert fill(z, hole="outlet", engine=engine)[1, 1] == 5.0
        assert np.isnan(fill(z, engine=engine)[3, 3])


def test_no_data_connected_with_the_edge_over_a_corner_is_outside():
    z = np.full((6, 6), 9.0)
    z[1:5, 1:5] = 4.0
    z[0, 3] = z[1, 2] = np.nan  # joined over a corner
    for engine in ENGINES:
        assert fill(z, hole="wall", engine=engine)[3, 3] == 4.0


def test_a_wall_on_the_edge_is_no_outlet():
    z = np.full((6, 6), 9.0)
    z[1:5, 1:5] = 4.0
    wall = np.zeros((6, 6), bool)
    wall[0:2, 2:4] = True
    for engine in ENGINES:
        for hole in ("wall", "outlet"):
            filled = fill(np.where(wall, np.nan, z), hole=hole, wall=wall, engine=engine)
            assert filled[3, 3] == 9.0
            assert np.isnan(filled[wall]).all()


def test_ground_shut_in_by_walls_leaves_beside_them():
    z = np.full((9, 9), 3.0)
    z[2:7, 2:7] = np.nan
    z[3:6, 3:6] = [[5, 5, 5], [5, 1, 5], [5, 5, 6]]
    for engine in ENGINES:
        filled = fill(z, hole="wall", engine=engine)
        assert filled[3:6, 3:6].tolist() == [[5, 5, 5], [5, 5, 5], [5, 5, 6]]


@pytest.mark.parametrize("engine", ENGINES)
def test_odd_shapes(engine):
    assert fill(np.zeros((0, 0)), engine=engine).shape == (0, 0)
    assert fill(np.zeros((0, 4)), engine=engine).shape == (0, 4)
    assert fill([[7.0]], engine=engine).tolist() == [[7.0]]
    assert np.isnan(fill(np.full((3, 4), np.nan), engine=engine)).all()
    assert fill([[1, 0, 1]], engine=engine).tolist() == [[1, 0, 1]]


@pytest.mark.parametrize("engine", ENGINES)
def test_the_argument_is_not_changed_nor_returned(engine):
    z = np.array([[5.0, 5, 5], [5, 1, 5], [5, -0.0, 5]])
    before = z.copy()
    z.flags.writeable = False
    filled = fill(z, engine=engine)
    assert np.array_equal(z, before)
    assert not np.shares_memory(filled, z)
    filled[0, 0] = 1.0  # the answer is the caller's to change
    assert not np.signbit(filled[2, 1])  # one zero only, so that bits agree


def test_integer_single_precision_and_turned_arrays():
    rng = np.random.default_rng(8)
    z = rng.integers(0, 6, (20, 31))
    for engine in ENGINES:
        wanted = reference(z, "wall")
        for kind in (np.int16, np.uint8, np.float32):
            assert same_bits(fill(z.astype(kind), engine=engine), wanted)
        assert same_bits(fill(np.asfortranarray(z), engine=engine), wanted)
        assert same_bits(fill(z[::-1, ::-1], engine=engine)[::-1, ::-1].copy(), wanted)


def test_what_it_refuses():
    with pytest.raises(ValueError, match="1 dimensions; it needs rows and columns"):
        fill([1.0, 2.0])
    with pytest.raises(ValueError, match="infinite elevation; unknown ground is NaN"):
        fill([[1.0, np.inf]])
    with pytest.raises(ValueError, match=r"wall has shape \(1, 1\), the ground \(2, 2\)"):
        fill(np.zeros((2, 2)), wall=np.zeros((1, 1), bool))
    with pytest.raises(ValueError, match="hole is 'sea'; 'wall' or 'outlet'"):
        fill(np.zeros((2, 2)), hole="sea")
    with pytest.raises(ValueError, match="engine is 'steam'"):
        fill(np.zeros((2, 2)), engine="steam")


def test_big_grids_go_to_the_compiled_engine(monkeypatch):
    from siteplan.ground import compiled_fill

    called = []

    def spy(*_):
        called.append(True)
        return np.zeros((2, 3))

    monkeypatch.setattr(compiled_fill, "fill_compiled", spy)
    monkeypatch.setattr(fill_module, "PLAIN_CELLS", 6)
    fill(np.zeros((2, 3)))
    assert not called
    fill(np.zeros((2, 4)))
    assert called


def test_outlets_are_where_the_filled_level_is_the_grounds_whatever_stands_round_it():
    z = np.full((6, 7), 2.0)
    z[2, 3] = np.nan
    edge = np.ones((6, 7), bool)
    edge[1:-1, 1:-1] = False
    assert np.array_equal(outlet_cells(z), edge)
    beside = edge.copy()
    beside[1:4, 2:5] = True
    beside[2, 3] = False
    assert np.array_equal(outlet_cells(z, hole="outlet"), beside)
    z[1, 2] = z[0, 1] = np.nan  # now the hole hangs together with the edge, corner to corner
    open_hole = outlet_cells(z)
    assert open_hole[3, 4]
    assert not open_hole[0, 1]


def test_a_lot_needs_neither_numba_nor_scipy():
    code = (
        "import sys, numpy as np\n"
        "from siteplan.ground import hollows, runoff\n"
        "from siteplan.ground.fill import fill, outlet_cells\n"
        "z = np.random.default_rng(1).random((200, 200))\n"
        "filled = fill(z)\n"
        "down = runoff.flow_to(filled, outlets=outlet_cells(z))\n"
        "runoff.accumulation(down, z)\n"
        "hollows.label_groups(filled > z)\n"
        "print(sorted({'numba', 'scipy', 'shapely', 'pyproj'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
