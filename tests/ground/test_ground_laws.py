"""Laws that hold on any ground."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

from siteplan.ground.fill import fill, outlet_cells
from siteplan.ground.runoff import LEAVES, NO_WAY_KNOWN, accumulation, flow_to

# eighths, so that adding a whole number is exact; a fifth of the ground unknown
ground = arrays(
    np.float64,
    array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=10),
    elements=st.one_of(*[st.integers(-20, 20).map(lambda k: k / 8)] * 4, st.just(np.nan)),
    fill=st.nothing(),
)
holes = st.sampled_from(["wall", "outlet"])
engines = st.sampled_from(["plain", "compiled"])
few = settings(max_examples=80, derandomize=True, deadline=None, database=None)


def same(a, b):
    return np.array_equal(a, b, equal_nan=True)


@few
@given(ground, holes, engines)
def test_filling_twice_is_filling_once(z, hole, engine):
    once = fill(z, hole=hole, engine=engine)
    assert same(fill(once, hole=hole, engine=engine), once)


@few
@given(ground, holes, engines)
def test_never_below_ground_nor_above_its_highest(z, hole, engine):
    filled = fill(z, hole=hole, engine=engine)
    known = ~np.isnan(z)
    assert same(np.isnan(filled), ~known)
    assert (filled[known] >= z[known]).all()
    assert (filled[known] <= z[known].max(initial=-np.inf)).all()
    outlets = outlet_cells(z, hole=hole)
    assert same(filled[outlets], z[outlets])


@few
@given(ground, holes, engines, st.integers(-50, 5000))
def test_lifting_the_ground_lifts_the_water(z, hole, engine, lift):
    assert same(fill(z + lift, hole=hole, engine=engine), fill(z, hole=hole, engine=engine) + lift)


@few
@given(ground, holes, engines, st.integers(0, 7))
def test_turning_and_mirroring_the_ground_turns_the_water(z, hole, engine, turn):
    def turned(a):
        a = np.rot90(a, turn % 4)
        return a[::-1] if turn > 3 else a

    assert same(fill(turned(z), hole=hole, engine=engine), turned(fill(z, hole=hole, engine=engine)))


@few
@given(ground, holes)
def test_engines_agree_bit_for_bit(z, hole):
    assert same(fill(z, hole=hole, engine="plain"), fill(z, hole=hole, engine="compiled"))


@few
@given(ground, engines)
def test_an_outlet_more_never_raises_the_water(z, engine):
    # ground that a wall shuts in is filled as with the hole for an outlet, so the law holds there too
    wall, outlet = (fill(z, hole=hole, engine=engine) for hole in ("wall", "outlet"))
    known = ~np.isnan(z)
    assert (outlet[known] <= wall[known]).all()


@few
@given(ground, holes, engines, st.integers(1, 9))
def test_water_is_conserved_and_every_path_leaves(z, hole, engine, seed):
    filled = fill(z, hole=hole, engine=engine)
    down = flow_to(filled, outlets=outlet_cells(z, hole=hole), engine=engine)
    rain = np.random.default_rng(seed).random(z.shape)
    gathered = accumulation(down, rain, engine=engine)
    assert gathered[down == LEAVES].sum() == pytest.approx(rain[down != NO_WAY_KNOWN].sum(), rel=1e-9)
    onto = down.ravel().copy()
    for _ in range(z.size):  # every cell walks at once
        walking = onto >= 0
        onto[walking] = down.ravel()[onto[walking]]
    assert set(onto[down.ravel() != NO_WAY_KNOWN]) <= {LEAVES}
