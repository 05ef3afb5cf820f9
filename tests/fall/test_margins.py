"""The margin under the ceilings: taken where the fall bears it, given up where it does not."""

from __future__ import annotations

import numpy as np
import pytest

from siteplan.fall.band import Band
from siteplan.fall.highest import highest_profile
from siteplan.fall.margins import margin_for, off_the_ceiling
from siteplan.fall.tree import settle


def flat(length, ceiling, floor, control):
    return Band(station=[0.0, length], ceiling=[ceiling, ceiling], floor=[control, floor])


def test_ninety_five_percent_is_1_645_standard_deviations():
    # one-sided quantiles of the normal distribution, any table: 0.95 -> 1.645, 0.99 -> 2.326, 0.5 -> 0
    assert margin_for(1.0, 0.95) == pytest.approx(1.645, abs=5e-4)
    assert margin_for(0.01, 0.99) == pytest.approx(0.02326, abs=5e-6)
    assert margin_for(0.3, 0.5) == 0
    for wrong in (0.4, 1.0):
        with pytest.raises(ValueError, match="certainty"):
            margin_for(0.1, wrong)


def test_all_of_it_where_there_is_fall():
    # 20 m at 1 % need 0.20 m; the ceiling stands 0.60 m over the control: 0.40 m to spare
    roomy = off_the_ceiling({"a": flat(20, 10.6, 9.2, 10.0)}, {}, grade=0.01, margin=0.02)["a"]
    assert roomy.ceiling[-1] == pytest.approx(10.58)


def test_what_there_is_where_fall_is_short():
    # 20 m at 1 % need 0.20 m and there are 0.205 m: 3 mm can be given, 2 mm stay for the grades
    band = flat(20, 10.205, 9.2, 10.0)
    roomy = off_the_ceiling({"a": band}, {}, grade=0.01, margin=0.02)["a"]
    assert roomy.ceiling[-1] == pytest.approx(10.202)
    assert highest_profile(roomy, grade=0.01).invert[-1] == pytest.approx(10.202)


def test_nothing_where_there_is_none():
    band = flat(20, 10.2, 9.2, 10.0)
    roomy = off_the_ceiling({"a": band}, {}, grade=0.01, margin=0.02)["a"]
    np.testing.assert_array_equal(roomy.ceiling[-1:], band.ceiling[-1:])


def test_depth_keeps_its_half():
    # the floor lies 30 mm under the ceiling: not more than 15 mm of it are taken
    roomy = off_the_ceiling({"a": flat(5, 10.5, 10.47, 10.0)}, {}, grade=0.01, margin=0.05)["a"]
    assert roomy.ceiling[-1] == pytest.approx(10.485)


def test_a_branch_needs_what_its_trunk_needs():
    # the wye lies 10 m up a trunk that has to be at 10.10 there; 10 m of branch need 10.20 at the start
    bands = {"trunk": flat(20, 10.6, 9.2, 10.0), "branch": flat(10, 10.21, 9.2, 9.2)}
    roomy = off_the_ceiling(bands, {"branch": ("trunk", 10.0)}, grade=0.01, margin=0.05)
    assert roomy["branch"].ceiling[-1] == pytest.approx(10.202)
    settled = settle(roomy, {"branch": ("trunk", 10.0)}, grade=0.01)
    assert settled["branch"].invert[-1] == pytest.approx(10.202)


def test_a_trunk_that_is_steep_for_its_flow_keeps_the_fall_that_it_needs():
    # 20 m at 2 % need 0.40 m of the 0.41 m there are: 8 mm can be given, 2 mm stay; the branch falls at 1 % and gives
    # all
    bands = {"trunk": flat(20, 10.41, 9.2, 10.0), "branch": flat(10, 10.6, 9.2, 9.2)}
    joins = {"branch": ("trunk", 10.0)}
    grades = {"trunk": 0.02, "branch": 0.01}
    roomy = off_the_ceiling(bands, joins, grade=grades, margin=0.05)
    assert roomy["trunk"].ceiling[-1] == pytest.approx(10.402)
    assert roomy["branch"].ceiling[-1] == pytest.approx(10.55)
    settled = settle(roomy, joins, grade=grades)
    assert settled["trunk"].invert[-1] == pytest.approx(10.402)
    # by the least grade of the rules alone the trunk gave its margin away and did not fit any more
    all_flat = off_the_ceiling(bands, joins, grade=0.01, margin=0.05)
    assert hasattr(settle(all_flat, joins, grade=grades)["trunk"], "missing")


@pytest.mark.parametrize("seed", range(40))
def test_whatever_fitted_still_fits(seed):
    rng = np.random.default_rng(seed)
    station = np.concatenate(([0.0], np.sort(rng.uniform(0.5, 30, 12)), [31.0]))
    ground = 10.9 + 0.02 * station + rng.normal(0, 0.08, station.size)
    floor = ground - 1.3
    floor[0] = 10.0
    band = Band(station=station, ceiling=ground - 0.4, floor=floor)
    roomy = off_the_ceiling({"a": band}, {}, grade=0.01, margin=0.06)["a"]
    before, after = highest_profile(band, grade=0.01), highest_profile(roomy, grade=0.01)
    if hasattr(before, "invert"):
        assert hasattr(after, "invert")
        assert (
            np.interp(station, after.station, after.invert) <= np.interp(station, before.station, before.invert) + 1e-9
        ).all()
