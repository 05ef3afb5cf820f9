"""Printed inverts are whole steps, fall, and stay inside the band; when they cannot, it is said."""

import itertools

import numpy as np
import pytest

from siteplan import units
from siteplan.fall.band import Band, Profile, Shortfall, pinned, with_vertices
from siteplan.fall.grades import few_grades
from siteplan.fall.highest import highest_profile
from siteplan.fall.printed import EXACT_NOTE, HELD_NOTE, rounded

STEP = units.to_metres(0.01, "ft")


@pytest.mark.parametrize("step", [STEP, 0.001, 0.005])
def test_rounded_lines_are_legal_and_whole(step, random_band, plainly_legal):
    rng = np.random.default_rng(8)
    seen = finer = 0
    for case in range(120):
        band = random_band(rng, 9, room=0.4)
        grade_max = None if case % 2 else 0.08
        profile = few_grades(band, grade=0.01, grade_max=grade_max, breaks=band.station)
        if isinstance(profile, Shortfall):
            continue
        if case % 3 == 0:
            profile = with_vertices(profile, rng.uniform(0, band.length, 3))
        result = rounded(profile, band=band, grade=0.01, grade_max=grade_max, step=step)
        assert plainly_legal(result.profile, band, 0.01, grade_max) < 1e-8
        whole = result.profile.invert / result.step
        assert np.abs(whole - np.round(whole)).max() < 1e-6
        assert result.profile.station.tolist() == profile.station.tolist()
        if result.step == step:
            assert np.abs(result.profile.invert - profile.invert).max() <= step * (profile.station.size + 2)
            assert result.notes == ()
            seen += 1
        else:
            assert "times finer" in result.notes[0]
            finer += 1
    assert seen > 25


def test_rounding_is_the_highest_of_all_choices():
    rng = np.random.default_rng(9)
    for _ in range(40):
        band = Band(
            station=[0, 10, 20], ceiling=5 + np.cumsum(rng.uniform(0.1, 0.2, 3)), floor=[5, 5 + rng.uniform(0, 0.2), 5]
        )
        profile = highest_profile(band, grade=0.01)
        if isinstance(profile, Shortfall):
            continue
        profile = Profile(station=[0, 10, 20], invert=np.interp([0, 10, 20], profile.station, profile.invert))
        best = None
        for picks in itertools.product(range(-3, 3), repeat=3):
            z = (np.round(profile.invert / 0.01) + picks) * 0.01
            legal = (
                (z <= band.ceiling + 1e-9).all() and (z >= band.floor - 1e-9).all() and (np.diff(z) >= 0.1 - 1e-9).all()
            )
            if legal:
                area = 10 * (z[0] / 2 + z[1] + z[2] / 2)
                best = area if best is None else max(best, area)
        result = rounded(profile, band=band, grade=0.01, step=0.01)
        if best is None:
            assert result.step < 0.01
        else:
            assert np.trapezoid(result.profile.invert, [0, 10, 20]) == pytest.approx(best)


def test_nearest_rounding_would_have_lost_the_fall():
    band = Band(station=[0, 30], ceiling=[9.6149, 9.9149], floor=[9.0, 9.0])
    profile = highest_profile(band, grade=0.01)
    nearest = np.round(profile.invert / 0.02) * 0.02
    assert nearest[-1] - nearest[0] < 0.3 or (nearest > band.ceiling).any()
    result = rounded(profile, band=band, grade=0.01, step=0.02)
    assert result.profile.invert.tolist() == pytest.approx([9.6, 9.9])


def test_a_finer_step_where_none_fits():
    band = Band(station=[0, 10, 20], ceiling=[9.504, 9.604, 9.704], floor=[9.501, 9.601, 9.701])
    profile = few_grades(band, grade=0.01, breaks=[])
    result = rounded(profile, band=band, grade=0.01, step=0.01)
    assert result.step == pytest.approx(0.001)
    assert result.notes == ("No inverts in whole steps keep the fall and the cover; the step is 10 times finer.",)
    assert result.profile.invert.tolist() == pytest.approx([9.504, 9.704])


def test_a_held_invert_is_printed_as_it_is():
    band = pinned(Band(station=[0, 30], ceiling=[9.9, 9.9], floor=[9.0, 9.0]), 9.123456)
    result = rounded(few_grades(band, grade=0.01, breaks=[]), band=band, grade=0.01, step=0.01)
    assert result.profile.invert.tolist() == pytest.approx([9.123456, 9.9])
    assert (result.step, result.notes) == (0.01, (HELD_NOTE,))


def test_no_rounding_at_all_is_said():
    width = 1e-7
    band = Band(
        station=[0, 15, 30], ceiling=[9.00031417, 9.5, 9.30031417], floor=[9.00031417 - width, 9.0, 9.30031417 - width]
    )
    profile = few_grades(band, grade=0.01, breaks=[])
    result = rounded(profile, band=band, grade=0.01, grade_max=0.01, step=1.0)
    assert result.notes[-1] in {EXACT_NOTE, HELD_NOTE}
    assert result.profile.invert.tolist() == pytest.approx(profile.invert.tolist(), abs=1e-6)


def test_a_drop_keeps_both_its_ends():
    band = Band(station=[0, 10, 10, 20], ceiling=[5.05, 5.153, 6.107, 6.209], floor=[5.0, 5.0, 5.0, 5.0])
    profile = highest_profile(band, grade=0.01)
    result = rounded(profile, band=band, grade=0.01, step=0.01)
    assert result.profile.invert.tolist() == pytest.approx([5.05, 5.15, 6.1, 6.2])


def test_a_drops_foot_may_lie_under_the_floor_upstream_of_it(plainly_legal):
    band = Band(station=[0, 10, 10, 20], ceiling=[5.05, 5.15, 6.05, 6.35], floor=[5.0, 5.0, 5.14, 5.2])
    result = rounded(Profile(station=[0, 10, 10, 20], invert=[5.0, 5.12, 6.05, 6.3]), band=band, grade=0.01, step=0.1)
    assert (result.step, result.notes) == (0.1, ())
    assert result.profile.invert.tolist() == pytest.approx([5.0, 5.1, 6.0, 6.3])
    assert plainly_legal(result.profile, band, 0.01, None) < 1e-8


@pytest.mark.parametrize("step", [0.0, -0.01, float("nan")])
def test_steps_that_are_none_are_refused(step):
    band = Band(station=[0, 30], ceiling=[9.9, 9.9], floor=[9.0, 9.0])
    with pytest.raises(ValueError, match="step"):
        rounded(Profile(station=[0, 30], invert=[9.1, 9.8]), band=band, grade=0.01, step=step)
