"""Answers are kept by what was asked, so many and no more, and never for a question that is not worth keeping."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from siteplan.fall.band import Band
from siteplan.fall.highest import highest_profile
from siteplan.remembered import remembered


@given(st.lists(st.integers(-3, 3), max_size=40), st.integers(1, 5))
def test_an_answer_is_the_functions_own_and_no_more_are_kept_than_asked(questions: list[int], most: int) -> None:
    worked: list[int] = []

    @remembered(lambda number: None if number < 0 else number, most)
    def squared(number: int) -> int:
        worked.append(number)
        return number * number

    assert [squared(number) for number in questions] == [number * number for number in questions]
    kept: list[int] = []
    for number in questions:
        if number in kept:
            continue
        assert worked.pop(0) == number
        if number >= 0:
            kept = [*kept, number][-most:]
    assert worked == []


def test_bands_of_the_same_samples_have_one_answer_and_others_their_own() -> None:
    station, ceiling, floor = np.array([0.0, 30.0]), np.array([10.0, 10.1]), np.array([9.6, 9.0])
    one = highest_profile(Band(station=station, ceiling=ceiling, floor=floor), grade=0.01)
    same = highest_profile(Band(station=station.copy(), ceiling=ceiling, floor=floor), grade=0.01)
    assert same is one
    for changed in (
        highest_profile(Band(station=station, ceiling=ceiling - 0.05, floor=floor), grade=0.01),
        highest_profile(Band(station=station, ceiling=ceiling, floor=floor), grade=0.005),
        highest_profile(Band(station=station * 2, ceiling=ceiling, floor=floor), grade=0.01),
    ):
        assert changed != one
