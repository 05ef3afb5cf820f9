from __future__ import annotations

import math

import pytest

from siteplan.units import FOOT, GALLON_PER_MINUTE, RAIN
from siteplan.water.inflow import (
    area_inflow,
    flow_sum,
    pump_inflow,
    roof_area,
    roof_time,
    runoff,
    sheet_flow_time,
    side_by_side,
)
from siteplan.water.rain import MINUTE, Rainfall, at_return_period, formula_rainfall, read_rain

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
    assert flow_sum([answer, pump_inflow("S", 0.001)]) is None
    assert flow_sum([pump_inflow("S", 0.001), pump_inflow("T", 0.002)]) == pytest.approx(0.003)


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


def test_return_period_between_columns():
    other = Rainfall(
        durations=TABLE.durations,
        intensities=tuple(1.5 * i for i in TABLE.intensities),
        source="city table, 2024",
        years=100,
    )
    middle = at_return_period([TABLE, other], 10**1.5)
    assert middle.intensities[0] == pytest.approx(9 * INPH * math.sqrt(1.5))
    assert at_return_period([TABLE, other], 100) is other
    with pytest.raises(ValueError, match="nothing is extrapolated"):
        at_return_period([TABLE, other], 200)
    with pytest.raises(ValueError, match="rising return periods"):
        at_return_period([other, TABLE], 50)


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
    assert roof_area(100.0, wall=20.0) == 110.0
    assert roof_area(100.0) == 100.0


def test_roof_answers_within_the_floor_and_a_lawn_does_not():
    assert roof_time(TABLE, 8.0, 0.5, gutter=12.0) == 5 * MINUTE
    lawn = roof_time(TABLE, 30.0, 0.02, roughness=0.24)
    rate = read_rain(TABLE, lawn).intensity
    assert rate is not None
    assert lawn == pytest.approx(sheet_flow_time(30.0, 0.02, 0.24, rate), rel=1e-9)
    assert lawn > 9 * MINUTE
    # the printed form with minutes and mm/h has 6.92 where exact units give 6.988
    minutes = 6.92 * (0.24 * 30) ** 0.6 / ((rate / RAIN["mm/h"]) ** 0.4 * 0.02**0.3)
    assert lawn / MINUTE == pytest.approx(minutes, rel=0.011)


def test_a_local_formula_becomes_a_table():
    rain = formula_rainfall([300.0, 3600.0], 0.01, 600.0, 0.8, source="manual")
    assert rain.intensities[1] == pytest.approx(0.01 / 4200**0.8)
    with pytest.raises(ValueError, match="formula exponent"):
        formula_rainfall([300.0], 0.01, 600.0, 1.2, source="manual")
