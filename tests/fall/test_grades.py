"""Fewest grades and their least digging are what all subsets of breaks give by linear programme, always."""

import numpy as np
import pytest

from siteplan.fall import grades
from siteplan.fall.band import LEGAL, Band, Shortfall, digging, invert_at, pinned, worst_breach
from siteplan.fall.grades import MORE_BREAKS, NO_GRADES, break_stations, few_grades
from siteplan.fall.highest import highest_profile


def area(profile):
    return float(np.trapezoid(profile.invert, profile.station))


def test_fewest_grades_and_least_digging_equal_all_subsets(lp_grades, random_band, plainly_legal):
    rng = np.random.default_rng(11)
    runs = {}
    for case in range(130):
        band = random_band(rng, int(rng.integers(4, 13)), room=0.35)
        grade = float(rng.choice([0.0, 0.005, 0.01]))
        grade_max = None if case % 2 else grade + float(rng.choice([0.02, 0.05, 0.15]))
        breaks = np.sort(rng.uniform(0, band.length, int(rng.integers(1, 7))))
        if case % 3 == 0:  # breaks that fall on samples, jumps among them
            breaks = rng.choice(band.station, breaks.size)
        profile = few_grades(band, grade=grade, grade_max=grade_max, breaks=breaks)
        count, most = lp_grades(band, grade, grade_max, breaks.tolist())
        if isinstance(profile, Shortfall) or profile.notes:
            assert count is None
            runs["none"] = runs.get("none", 0) + 1
            continue
        assert profile.runs == count
        assert area(profile) == pytest.approx(most, abs=1e-6)
        assert profile.gap == 0
        assert plainly_legal(profile, band, grade, grade_max) < 1e-8
        assert np.isin(profile.station[1:-1], breaks).all()
        runs[count] = runs.get(count, 0) + 1
    assert all(runs.get(count, 0) >= 5 for count in (1, "none")), runs
    assert runs.get(2, 0) + runs.get(3, 0) >= 5, runs


def test_fewest_grades_in_random_tubes_equal_all_subsets(lp_grades, plainly_legal):
    rng = np.random.default_rng(12)
    runs = {}
    for case in range(60):
        knots = np.concatenate(([0.0], np.cumsum(rng.uniform(2, 6, 6))))
        middle = 5 + np.concatenate(([0.0], np.cumsum(np.diff(knots) * rng.choice([0.012, 0.03, 0.06, 0.09], 6))))
        at = np.union1d(np.linspace(0, knots[-1], 21), knots)
        half = rng.uniform(0.005, 0.08) * rng.uniform(0.5, 1.5, at.size)
        centre = np.interp(at, knots, middle)
        band = Band(station=at, ceiling=centre + half, floor=centre - half)
        breaks = knots[1:-1] + (0 if case % 2 else rng.uniform(-0.3, 0.3, 5))
        grade_max = None if case % 3 else 0.1
        profile = few_grades(band, grade=0.01, grade_max=grade_max, breaks=breaks)
        count, most = lp_grades(band, 0.01, grade_max, breaks.tolist())
        if count is None:
            assert isinstance(profile, Shortfall) or profile.notes
            continue
        assert profile.runs == count
        assert area(profile) == pytest.approx(most, abs=1e-6)
        assert plainly_legal(profile, band, 0.01, grade_max) < 1e-8
        runs[count] = runs.get(count, 0) + 1
    assert all(runs.get(count, 0) >= 5 for count in (2, 3, 4)), runs


# Tubes that a line has to be threaded through: station, middle [m]; half the tube's width [m]; breaks [m].
HARD = {
    "knee up": ([0, 12, 30], [5.0, 5.12, 6.2], 0.01, [3, 6, 9, 12, 15, 18, 21, 24, 27]),
    "knee down": ([0, 12, 30], [5.0, 6.0, 6.18], 0.01, [3, 6, 9, 12, 15, 18, 21, 24, 27]),
    "stair": ([0, 8, 10, 18, 20, 28], [5.0, 5.08, 5.5, 5.58, 6.0, 6.08], 0.03, [4, 8, 10, 14, 18, 20, 24]),
    "stair, breaks beside the knees": (
        [0, 8, 10, 18, 20, 28],
        [5.0, 5.2, 5.5, 5.7, 6.0, 6.2],
        0.08,
        [7, 11, 17, 21],
    ),
    "wide then narrow": ([0, 20, 26, 40], [5.0, 5.9, 6.5, 6.64], 0.06, [5, 10, 15, 19, 24, 27, 33]),
    "bow up": ([0, 5, 10, 15, 20, 25, 30], [5.0, 5.8, 6.4, 6.85, 7.15, 7.3, 7.4], 0.05, [5, 10, 15, 20, 25]),
    "bow down": ([0, 5, 10, 15, 20, 25, 30], [5.0, 5.1, 5.25, 5.55, 6.0, 6.6, 7.4], 0.05, [5, 10, 15, 20, 25]),
    "wave": (
        [0, 6, 12, 18, 24, 30, 36],
        [5.0, 5.5, 5.6, 6.1, 6.2, 6.7, 6.8],
        0.04,
        [3, 6, 12, 15, 18, 24, 27, 30],
    ),
    "wave, few breaks": ([0, 6, 12, 18, 24, 30, 36], [5.0, 5.5, 5.6, 6.1, 6.2, 6.7, 6.8], 0.12, [8, 14, 20, 26, 32]),
    "needle": ([0, 10, 10.5, 11, 22], [5.0, 5.1, 5.35, 5.6, 5.71], 0.005, [5, 9, 10, 11, 12, 16]),
    "low start": ([0, 4, 24], [5.0, 5.6, 5.81], 0.008, [2, 4, 6, 10, 14, 18]),
    "late knee": ([0, 22, 24, 30], [5.0, 5.22, 5.8, 5.86], 0.012, [4, 8, 12, 16, 20, 22, 24, 26]),
}


def tube(station, middle, half):
    at = np.linspace(0, station[-1], 4 * station[-1] + 1)
    centre = np.interp(at, station, middle)
    width = half * (1 + 0.5 * np.sin(at))  # no two places alike
    return Band(station=at, ceiling=centre + width, floor=centre - width)


def greedy_runs(band, grade, breaks):
    """Go as far as one run reaches from where you are, take the highest end, go on: the crew's first thought."""
    at, knots = 0.0, [*sorted(breaks), band.length]
    height, count = float(band.ceiling[0]), 0
    while at < band.length:
        best = None
        for knot in knots:
            inside = (band.station >= at) & (band.station <= knot)
            if knot <= at:
                continue
            run = band.station[inside] - at
            moved = run > 0
            low = max(grade, ((band.floor[inside] - height)[moved] / run[moved]).max())
            high = ((band.ceiling[inside] - height)[moved] / run[moved]).min()
            if low <= high:
                best = (knot, height + high * (knot - at))
        if best is None:
            return None
        at, height = best
        count += 1
    return count


@pytest.mark.parametrize("name", HARD)
def test_hard_tubes(name, lp_grades, plainly_legal):
    station, middle, half, breaks = HARD[name]
    band = tube(station, middle, half)
    profile = few_grades(band, grade=0.01, breaks=breaks)
    count, most = lp_grades(band, 0.01, None, breaks)
    if count is None:  # no straight runs between these breaks: then it breaks where it must, and says so
        assert profile.notes == (MORE_BREAKS,)
    else:
        assert (profile.runs, profile.notes, profile.gap) == (count, (), 0.0)
        assert area(profile) == pytest.approx(most, abs=1e-6)
    assert plainly_legal(profile, band, 0.01, None) < 1e-8


def test_the_hard_tubes_are_hard_for_greed():
    worse = 0
    for station, middle, half, breaks in HARD.values():
        band = tube(station, middle, half)
        profile = few_grades(band, grade=0.01, breaks=breaks)
        count = greedy_runs(band, 0.01, breaks)
        worse += not profile.notes and (count is None or count > profile.runs)
    assert worse >= 9


def test_fewer_grades_never_dig_less_than_the_highest(random_band):
    rng = np.random.default_rng(5)
    for _ in range(60):
        band = random_band(rng, 10)
        few = few_grades(band, grade=0.01, breaks=band.station)
        if isinstance(few, Shortfall):
            continue
        highest = highest_profile(band, grade=0.01)
        assert digging(few, band.station, band.ceiling) >= digging(highest, band.station, band.ceiling) - 1e-9


def test_a_line_with_nothing_to_spare_is_found():
    band = pinned(Band(station=[0, 10, 30], ceiling=[9, 9, 5.3], floor=[5.0, 4, 4]), 5.0)
    profile = few_grades(band, grade=0.01, breaks=[10, 20])
    assert profile.runs == 1
    assert invert_at(profile, [0, 30]).tolist() == pytest.approx([5.0, 5.3], abs=2e-9)
    assert worst_breach(profile, band, grade=0.01) <= LEGAL


def test_breaks_in_the_wrong_places_are_mended_and_said():
    band = tube([0, 8, 10, 18, 20, 28], [5.0, 5.08, 5.5, 5.58, 6.0, 6.08], 0.01)
    profile = few_grades(band, grade=0.01, breaks=[14])
    assert profile.notes == (MORE_BREAKS,)
    assert worst_breach(profile, band, grade=0.01) <= LEGAL


def test_vertical_drop_is_kept_when_nothing_sloped_fits():
    # Upstream of the jump the floor starts at once far above what holds at it, within a hair.
    band = Band(
        station=[0, 10, 10, 10 + 1e-4, 20], ceiling=[5.05, 5.15, 6.1, 6.1, 6.2], floor=[5.0, 5.1, 5.1, 6.0, 6.05]
    )
    profile = few_grades(band, grade=0.01, breaks=[10])
    assert profile.notes == (NO_GRADES,)
    assert np.any(np.diff(profile.station) == 0)
    assert worst_breach(profile, band, grade=0.01) <= LEGAL


def test_break_stations_are_cleaned():
    band = Band(station=[0, 10, 30], ceiling=[9, 9, 9], floor=[5, 4, 4])
    asked = break_stations(band, [30, 10 + 4e-7, -3, 20, 20 + 5e-7, 1e-9, 50])
    assert asked.tolist() == [0.0, 10.0, 20.0, 30.0]


def test_a_search_cut_short_owns_up_to_its_gap(monkeypatch):
    band = tube([0, 20, 26, 40], [5.0, 5.9, 6.5, 6.64], 0.09)
    breaks = np.arange(1, 40)
    best = few_grades(band, grade=0.01, breaks=breaks)
    monkeypatch.setattr(grades, "SEARCHED", 1)
    hasty = few_grades(band, grade=0.01, breaks=breaks)
    assert best.gap == 0
    assert hasty.runs == best.runs == 3
    assert area(hasty) < area(best) - 0.1
    assert area(best) <= area(hasty) + hasty.gap + 1e-9
