"""The limit of a fit's scatter against printed tables of chi-square."""

from __future__ import annotations

import pytest

from siteplan.laid.fit import chi_square_limit

# Abramowitz and Stegun, Handbook of Mathematical Functions (1964), table 26.8, exceeded once in a hundred times; memory
ONE_IN_A_HUNDRED = {1: 6.635, 2: 9.210, 5: 15.086, 10: 23.209, 20: 37.566, 30: 50.892}


@pytest.mark.parametrize("freedom", ONE_IN_A_HUNDRED)
def test_exceeded_once_in_a_hundred_times(freedom):
    assert chi_square_limit(freedom) == pytest.approx(ONE_IN_A_HUNDRED[freedom], rel=0.01)


def test_two_shots_on_a_straight_line_cannot_scatter():
    assert chi_square_limit(0) == 0.0
