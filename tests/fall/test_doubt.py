"""Propagated doubt against closed forms, against brute simulation written apart, and against shots that would help."""

from __future__ import annotations

import math

import numpy as np
import pytest

from siteplan.fall.doubt import chance_above, chances, deciding, drawn, fall_doubt, shots_wanted

CAREFUL = 0.003


@pytest.mark.parametrize("e", [0.003, 0.03, 0.1, 0.0])
def test_two_independent_shots(e):
    assert fall_doubt(e, e) == pytest.approx(math.sqrt(2) * e)


def test_what_is_shared_cancels_and_a_step_does_not():
    setup = 0.02  # an error of the one set-up, in both shots
    own = 0.003
    total = math.hypot(own, setup)
    assert fall_doubt(total, total, together=setup**2) == pytest.approx(math.sqrt(2) * own)
    assert fall_doubt(own, own, shared=setup) == pytest.approx(math.sqrt(2 * own**2 + setup**2))


@pytest.mark.parametrize("bad", [(-1, 0), (0, math.nan)])
def test_what_is_no_doubt_is_refused(bad):
    with pytest.raises(ValueError, match=r"doubt is 0"):
        fall_doubt(*bad)


def case(number):
    """A line with random limits, and errors with own parts, a set-up's part and neighbours that go together."""
    rng = np.random.default_rng(number)
    n = int(rng.integers(1, 9))
    station = np.sort(rng.uniform(5, 40, n))
    grade, control = rng.uniform(0.005, 0.02), 10.0
    ceiling = control + grade * station + rng.uniform(0.0, 0.08, n)
    own, setup, together = rng.uniform(0.005, 0.04, n + 1), rng.uniform(0, 0.05), rng.uniform(1.0, 8.0)
    at = np.append(0.0, station)
    near = 0.02**2 * np.exp(-np.abs(at[:, None] - at[None, :]) / together)
    return station, ceiling, control, np.diag(own**2) + setup**2 + near, grade, own, setup, together


@pytest.mark.parametrize("number", range(20))
def test_propagated_doubt_agrees_with_simulation(number):
    """Each part of the error drawn by itself, in a loop of its own; chances and doubt within 2 %."""
    station, ceiling, control, covariance, grade, own, setup, together = case(number)
    found = chances(station, ceiling, control, covariance, grade=grade)
    rng = np.random.default_rng(1000 + number)
    at, size = np.append(0.0, station), 60_000
    error = rng.standard_normal((size, len(at))) * own + setup * rng.standard_normal((size, 1))
    walk = np.empty((size, len(at)))
    walk[:, 0] = rng.standard_normal(size)
    for k in range(1, len(at)):  # neighbours as a walk that forgets
        keep = math.exp(-(at[k] - at[k - 1]) / together)
        walk[:, k] = keep * walk[:, k - 1] + math.sqrt(1 - keep**2) * rng.standard_normal(size)
    error += 0.02 * walk
    spare = np.min(ceiling - grade * station - control + error[:, 1:] - error[:, :1], axis=1)
    level = np.min(ceiling - control + error[:, 1:] - error[:, :1], axis=1)
    assert found.doubt == pytest.approx(spare.std(), rel=0.02)
    assert found.holds == pytest.approx((spare >= 0).mean(), abs=0.02)
    assert found.falls == pytest.approx((level >= 0).mean(), abs=0.02)
    assert found.method == ("closed form" if len(station) == 1 else "simulation")
    assert found.spare == pytest.approx((ceiling - grade * station - control).min())


def test_one_limit_is_closed_form():
    found = chances(np.array([25.6]), np.array([10.4]), 10.0, np.diag([0.03**2, 0.04**2]), grade=0.01)
    assert found.doubt == pytest.approx(0.05)
    assert found.holds == pytest.approx(0.9980, abs=5e-5)  # 10.4 - 0.256 - 10 = 0.144 is 2.88 of 0.05: normal table
    assert chance_above(0.05, 0.05) == pytest.approx(0.8413447, abs=1e-7)  # normal table
    assert (chance_above(0.0, 0.0), chance_above(-1e-9, 0.0)) == (1.0, 0.0)


def test_two_equal_limits_hold_less_often_than_one():
    """Least of two independent margins of one standard deviation each: the product of the two chances."""
    found = chances(
        np.array([10.0, 30.0]), np.array([10.1 + 0.02, 10.3 + 0.02]), 10.0, np.diag([0, 0.02**2, 0.02**2]), grade=0.01
    )
    assert found.holds == pytest.approx(0.8413447**2, abs=0.01)


def test_the_same_every_time():
    station, ceiling, control, covariance, grade, *_ = case(3)
    assert chances(station, ceiling, control, covariance, grade=grade) == chances(
        station, ceiling, control, covariance, grade=grade
    )
    error = drawn(covariance, seed=4, draws=2000)
    assert np.abs(error.mean(axis=0)).max() < 1e-15


def test_limits_that_never_decide_are_left_out():
    station = np.linspace(0, 40, 801)
    ceiling = 10.5 + 0.02 * station
    ceiling[400] = 10.21
    kept = deciding(station, ceiling, 10.0, grade=0.01, doubt=0.01, apart=0.1)
    assert 400 in kept
    assert len(kept) < 20
    wide = deciding(station, ceiling, 10.0, grade=0.01, doubt=1.0, apart=0.1)
    assert len(wide) > 390  # of 400 tenths of a metre: none stands for its neighbours beyond that


def test_the_shot_wanted_is_where_the_doubt_is():
    station, ceiling = np.array([10.0, 20.0, 30.0]), np.array([10.11, 10.5, 10.6])
    covariance = np.diag([0.001**2, 0.02**2, 0.05**2, 0.05**2])
    wanted = shots_wanted(station, ceiling, 10.0, covariance, grade=0.01, shot=CAREFUL, places=[0, 1, 2, 3])
    assert wanted[0].place == 1
    before = chances(station, ceiling, 10.0, covariance, grade=0.01)
    assert wanted[0].holds > before.holds + 0.2
    assert wanted[0].doubt < before.doubt / 3


def test_shots_are_judged_as_measurements_are():
    """After a shot at the one place in doubt, the doubt left is that of two measurements together."""
    covariance = np.diag([0.0, 0.03**2])
    wanted = shots_wanted(
        np.array([10.0]), np.array([10.12]), 10.0, covariance, grade=0.01, shot=0.01, places=[1], draws=40_000
    )
    left = math.sqrt(1 / (1 / 0.03**2 + 1 / 0.01**2))
    assert wanted[0].doubt == pytest.approx(left, rel=0.02)
    # 0.12 - 0.10 = 0.02 over 0.009487 is 2.108: the normal table has 0.9825
    assert wanted[0].holds == pytest.approx(0.9825, abs=0.01)


def test_a_line_that_does_not_hold_wants_shots_that_settle_it():
    covariance = np.diag([0.04**2, 0.01**2, 0.01**2])
    wanted = shots_wanted(
        np.array([10.0, 20.0]), np.array([10.08, 10.19]), 10.0, covariance, grade=0.01, shot=CAREFUL, places=[0, 1, 2]
    )
    assert wanted[0].place == 0
    assert wanted[0].holds < 0.2


def test_no_shot_is_wanted_where_none_helps():
    assert (
        shots_wanted(
            np.array([10.0]), np.array([11.0]), 10.0, np.diag([1e-10, 1e-10]), grade=0.01, shot=0.01, places=[0, 1]
        )
        == ()
    )
