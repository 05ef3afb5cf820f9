"""Fewest grades in the steps that a crew sets are what every subset of breaks with every choice of grades gives."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from siteplan.fall.band import Band, Profile, pinned
from siteplan.fall.highest import highest_profile
from siteplan.fall.stepped import few_stepped
from siteplan.fall.tree import settle
from siteplan.units import GRADE

SIXTEENTH = GRADE["in_per_ft"] / 16
STEPS = (0.0005, SIXTEENTH)  # 0.05 %, 1/16 in per ft


def by_hand(band, grade, grade_max, step, breaks, arrive=0.0, most=3):
    """Fewest runs and the greatest area under the profile, over every subset of breaks and every choice of grades."""
    rows: dict[float, list[tuple[float, float]]] = {}
    for s, c, f in zip(band.station.tolist(), band.ceiling.tolist(), band.floor.tolist(), strict=True):
        rows.setdefault(s, []).append((c, f))
    inner = sorted({b for b in breaks if 0 < b < band.length})
    s = np.array(sorted(rows))
    c = np.array([min(top for top, _ in rows[at]) for at in s])
    f = np.array([max(low for _, low in rows[at]) for at in s])
    at = np.union1d(s, inner)  # a change of grade between two samples counts too
    s, c, f = at, np.interp(at, s, c), np.interp(at, s, f)
    offered = [k * step for k in range(math.ceil(grade / step - 1e-9), math.floor(grade_max / step + 1e-9) + 1)]
    for count in range(min(len(inner), most - 1) + 1):
        best = None
        for chosen in itertools.combinations(inner, count):
            knots = np.array([0.0, *chosen, band.length])
            lengths = np.diff(knots)
            for grades in itertools.product(offered, repeat=count + 1):
                shape = np.concatenate(([0.0], np.cumsum(np.array(grades) * lengths)))
                along = np.interp(s, knots, shape)
                low = max(float((f - along).max()), band.control + arrive - (grades[0] - grade) * lengths[0])
                if arrive <= 0:
                    low = float((f - along).max())
                high = float((c - along).min())
                if low <= high + 1e-10:
                    area = float(np.trapezoid(shape, knots)) + high * band.length
                    best = area if best is None else max(best, area)
        if best is not None:
            return count + 1, best
    return None, None


def bands(seed, count):
    """Tubes about a crooked line, some held at one invert at the outlet: one grade rarely threads them."""
    rng = np.random.default_rng(seed)
    for case in range(count):
        knots = np.concatenate(([0.0], np.cumsum(rng.uniform(2, 7, int(rng.integers(2, 5))))))
        middle = 5 + np.concatenate(
            ([0.0], np.cumsum(np.diff(knots) * rng.choice([0.011, 0.02, 0.035], knots.size - 1)))
        )
        at = np.union1d(np.linspace(0, knots[-1], 13), knots)
        half = rng.uniform(0.008, 0.06) * rng.uniform(0.6, 1.4, at.size)
        centre = np.interp(at, knots, middle)
        band = Band(station=at, ceiling=centre + half, floor=centre - half)
        if case % 3 == 0:
            band = pinned(band, 5.0)
        step = STEPS[case % 2] if case % 4 else 0.002
        grade_max = 0.01 + (0.03 if step > 0.001 else 0.006)
        breaks = knots[1:-1] if case % 2 else rng.uniform(1, knots[-1] - 1, 3)
        arrive = 0.01 if case % 5 == 0 else 0.0
        yield band, grade_max, step, breaks, arrive


def test_fewest_grades_in_steps_equal_brute_force_on_200_instances(plainly_legal):
    runs: dict[object, int] = {}
    for band, grade_max, step, breaks, arrive in bands(3, 200):
        count, most = by_hand(band, 0.01, grade_max, step, breaks.tolist(), arrive)
        found = few_stepped(band, grade=0.01, grade_max=grade_max, step=step, breaks=breaks, arrive=arrive)
        if count is None:
            assert found is None or found.runs > 3
            runs["none"] = runs.get("none", 0) + 1
            continue
        assert found is not None
        assert found.runs == count
        assert float(np.trapezoid(found.invert, found.station)) + found.gap >= most - 1e-7
        assert float(np.trapezoid(found.invert, found.station)) <= most + 1e-7
        assert found.gap == 0
        grades = np.diff(found.invert) / np.diff(found.station)
        np.testing.assert_allclose(grades / step, np.round(grades / step), atol=1e-6)
        assert plainly_legal(found, band, 0.01, grade_max) < 1e-8
        up = float(found.invert[1] - 0.01 * found.station[1])
        assert arrive == 0 or up >= band.control + arrive - 1e-8
        runs[count] = runs.get(count, 0) + 1
    assert all(runs.get(kind, 0) >= 8 for kind in (1, 2, 3, "none")), runs


def test_a_wide_band_takes_one_grade_of_an_eighth_of_an_inch_a_foot():
    band = pinned(Band(station=[0, 30], ceiling=[10, 10.35], floor=[9, 9]), 9.9)
    found = few_stepped(band, grade=0.01, step=SIXTEENTH, breaks=[10, 20])
    assert isinstance(found, Profile)
    assert found.runs == 1
    # the ceiling lets 1.5 % pass: two sixteenths of an inch a foot are 1.04 %, three would be 1.56 %
    assert float(found.invert[1]) == pytest.approx(9.9 + 30 * 2 / 16 / 12)


def test_no_step_fits_where_there_is_nothing_to_spare():
    band = pinned(Band(station=[0, 30], ceiling=[10, 10.301], floor=[9, 9]), 10.0)
    assert not hasattr(highest_profile(band, grade=0.01), "missing")
    assert few_stepped(band, grade=0.01, step=SIXTEENTH, breaks=[10, 20]) is None


def test_a_tree_takes_any_grade_only_where_steps_do_not_fit():
    tight = pinned(Band(station=[0, 30], ceiling=[10, 10.301], floor=[9, 9]), 10.0)
    branch = Band(station=[0, 20], ceiling=[10.6, 10.9], floor=[9, 9])
    settled = settle(
        {"trunk": tight, "branch": branch},
        {"branch": ("trunk", 15.0)},
        grade=0.01,
        breaks={"trunk": [], "branch": []},
        step=SIXTEENTH,
    )
    grades = {k: float(np.diff(p.invert)[0] / np.diff(p.station)[0]) for k, p in settled.items()}
    assert grades["trunk"] % SIXTEENTH > 1e-4
    assert grades["branch"] / SIXTEENTH == pytest.approx(round(grades["branch"] / SIXTEENTH))
