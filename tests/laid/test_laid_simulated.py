"""Invented laid lines: nearly every belly of half an inch is found, nearly no good line is called bad."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from make_as_laid_figures import HALF_INCH, cases, standing, tally

from siteplan.books.practice import READING_SPREAD, SCATTER_OF_PIPE
from siteplan.laid.fit import fit_laid
from siteplan.laid.water_in import bellies

PAGE = Path(__file__).parents[2] / "docs" / "as-laid-check.md"


@pytest.fixture(scope="module")
def three_hundred():
    return tally(cases(300))


def test_bellies_are_found_and_good_lines_left_alone(three_hundred):
    assert three_hundred.bellied == three_hundred.good == 150
    assert three_hundred.found >= 0.98 * three_hundred.bellied
    assert three_hundred.false_alarms <= 0.03 * three_hundred.good


def test_the_page_states_these_figures(three_hundred):
    text = PAGE.read_text(encoding="utf-8")
    assert f"{three_hundred.found} of {three_hundred.bellied} bellies found" in text
    assert f"{three_hundred.false_alarms} of {three_hundred.good} good lines called bad" in text


def test_the_rates_hold_for_another_seed():
    other = tally(cases(600, seed=7))
    assert other.found >= 0.98 * other.bellied
    assert other.false_alarms <= 0.03 * other.good


def test_the_generator_makes_what_it_says():
    made = cases(40)
    assert [bool(case.water) for case in made] == [False, True] * 20
    for case in made:
        assert READING_SPREAD <= case.doubt <= SCATTER_OF_PIPE
        assert standing(case.true).max() == pytest.approx(case.water, abs=1e-6)
        assert not case.water or case.water >= HALF_INCH


def test_pair_by_pair_would_condemn_good_lines():
    """Why the whole line is judged at once: neighbouring shots alone call many a good flat line backward."""
    flat = [
        case
        for case in cases(300)
        if not case.water and case.design[1] - case.design[0] < 0.009 * (case.station[1] - case.station[0])
    ]
    assert len(flat) > 20
    backward = sum(bool((np.diff(case.shot) < 0).any()) for case in flat)
    assert backward > 0.3 * len(flat)
    assert sum(bool(bellies(fit_laid(case.station, case.shot, case.design))) for case in flat) <= 0.1 * len(flat)


def test_exact_shots_give_the_exact_belly():
    station = np.arange(0, 31, 3.0)
    design = 20 + 0.01 * station
    laid = design.copy()
    laid[5] -= 0.06  # 30 mm of fall to the crest, 30 mm of water
    (belly,) = bellies(fit_laid(station, laid, design))
    assert belly.depth == pytest.approx(0.03, abs=1e-9)
    assert (belly.station_from, belly.lowest) == (12.0, 15.0)
    assert belly.station_to == pytest.approx(15 + 3 * 0.03 / 0.09, abs=1e-9)
    assert belly.certain


def test_an_offset_and_a_tilt_are_no_belly():
    station = np.arange(0, 31, 3.0)
    design = 20 + 0.01 * station
    fit = fit_laid(station, design + 0.1 + 0.002 * station, design)
    assert fit.bends == ()
    assert bellies(fit) == ()


@pytest.mark.parametrize(("station", "doubt"), [([0.0], None), ([0.0, 0.0, 1.0], None), ([0.0, 1.0, 2.0], 0.0)])
def test_what_cannot_be_fitted(station, doubt):
    with pytest.raises(ValueError, match=r"shots|doubt"):
        fit_laid(np.array(station), np.array(station), np.array(station), doubt)
