from __future__ import annotations

import math

import pytest

from siteplan.units import FOOT, GALLON_PER_MINUTE, RAIN
from siteplan.water.inflow import (
    area_inflow,
    runoff,
    side_by_side,
)
from siteplan.water.rain import MINUTE, Rainfall, read_rain

INPH = RAIN["in/h"]
TABLE = Rainfall(
    durations=tuple(t * MINUTE for t in (5, 15, 60)),
    intensities=(9 * INPH, 6 * INPH, 3 * INPH),
    source="city table, 2024",
    years=10,
)


def test_log_log_between_rows_and_exact_on_them():
    assert read_rain(TABLE, 15 * MINUTE).intensity == 6 * INPH
    between = read_rain(TABLE, 30 * MINUTE)
    by_hand = 6 * (30 / 15) ** (math.log(3 / 6) / math.log(60 / 15))
    assert between.intensity == pytest.approx(by_hand * INPH)
    assert "log-log" in between.statement
    assert "city table, 2024" in between.statement
    assert "once in 10 years" in between.statement


def test_nothing_is_extrapolated():
    short = read_rain(TABLE, 2 * MINUTE)
    assert short.intensity is None
    assert "begins at 5 min" in short.statement
    long = read_rain(TABLE, 90 * MINUTE)
    assert long.intensity is None
    assert "ends at 60 min" in long.statement


def test_a_missing_intensity_is_said_and_not_guessed():
    answer = area_inflow("D1", 100.0, None, 300.0)
    assert answer.flow is None
    assert "no rainfall intensity is given" in answer.statement
    assert side_by_side("D1", 100.0, None)[0].flow is None
    area = area_inflow("D1", None, TABLE, 300.0)
    assert area.flow is None
    assert "roof area is not given" in area.statement


def test_five_and_sixty_minutes_side_by_side():
    five, sixty = side_by_side("D1", 950 * FOOT**2, TABLE)
    assert five.flow is not None
    assert sixty.flow is not None
    assert five.flow / sixty.flow == pytest.approx(3.0)
    assert "5 min" in five.statement
    assert "60 min" in sixty.statement
    single = Rainfall(durations=None, intensities=(6.2 * INPH,), source="owner")
    only = side_by_side("DSE", 950 * FOOT**2, single)
    assert len(only) == 1
    assert only[0].flow == pytest.approx(61.2 * GALLON_PER_MINUTE, rel=1e-3)
    assert only[0].statement == "DSE: 61.2 gpm = 1 x roof area x 6.20 in/h whatever the duration; owner"


@pytest.mark.parametrize(
    ("durations", "intensities", "words"),
    [
        ((300.0, 300.0), (2e-5, 1e-5), "do not rise"),
        ((300.0, 900.0), (1e-5, 2e-5), "intensity rises"),
        ((300.0, 900.0), (9e-5, 1e-5), "depth falls"),
        ((300.0,), (9e-5, 1e-5), "give one for each"),
        (None, (9e-5, 1e-5), "without durations"),
        ((300.0,), (math.nan,), "must be above 0"),
        ((-5.0,), (1e-5,), "must be above 0"),
    ],
)
def test_a_table_that_cannot_be_rain_is_refused(durations, intensities, words):
    with pytest.raises(ValueError, match=words):
        Rainfall(durations=durations, intensities=intensities, source="x")


def test_runoff_adds_and_scales():
    assert runoff(200.0, 1e-5, 0.5) == pytest.approx(1e-3)
    assert runoff(200.0, 1e-5) == pytest.approx(2e-3)
