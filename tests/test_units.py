"""Units: exact factors, typed lengths, printed lengths that read back."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from siteplan import units


def test_the_two_feet_are_two_parts_per_million_apart():
    # Federal Register notice 2020-21902: 1 US survey foot = 1200/3937 m, 1 international foot = 0.3048 m (read)
    assert units.to_metres(1, "us-ft") / units.to_metres(1, "ft") - 1 == pytest.approx(2.0e-6, rel=1e-3)
    assert units.to_metres(2_000_000, "us-ft") - units.to_metres(2_000_000, "ft") == pytest.approx(4 * 0.3048, rel=0.01)


def test_gallon_a_minute_is_231_cubic_inches_a_minute():
    assert pytest.approx(231 * 0.0254**3, rel=1e-15) == units.GALLON_PER_MINUTE * 60


@pytest.mark.parametrize(
    ("typed", "unit", "metres"),
    [
        ("5.34", "ft", 5.34 * 0.3048),
        ("5'-4 1/8\"", "ft", (5 + 4.125 / 12) * 0.3048),
        ("5' 4 1/8\"", "ft", (5 + 4.125 / 12) * 0.3048),
        ("5′-4⅛″".replace("⅛", " 1/8"), "ft", (5 + 4.125 / 12) * 0.3048),
        ("64 1/8 in", "m", 64.125 * 0.0254),
        ("1.63m", "ft", 1.63),
        ("163 cm", "ft", 1.63),
        ("1630 mm", "ft", 1.63),
        ("-0'-3\"", "ft", -0.25 * 0.3048),
        ("3.10", "us-ft", 3.10 * 1200 / 3937),
    ],
)
def test_typed_lengths(typed, unit, metres):
    assert units.read_length(typed, unit) == pytest.approx(metres, rel=1e-12)


@pytest.mark.parametrize(
    "typed", ["", "abc", "5'-13\"", "5'-4 1/0\"", "nan", "inf", "5''4'", "1,63", "5.5'-4\"", "4 1/8"]
)
def test_what_is_no_length_is_refused_with_what_can_be_typed(typed):
    with pytest.raises(ValueError, match=r".+"):
        units.read_length(typed, "ft")


@settings(max_examples=200, derandomize=True)
@given(st.floats(-200, 200))
def test_feet_and_inches_read_back_within_half_a_fraction(metres):
    text = units.feet_inches(metres)
    assert units.read_length(text, "ft") == pytest.approx(metres, abs=0.0254 / 16 + 1e-9)
    assert units.feet_inches(units.read_length(text, "ft")) == text


@settings(max_examples=200, derandomize=True)
@given(st.floats(-200, 200), st.sampled_from(["ft", "us-ft", "m"]))
def test_decimal_lengths_read_back_within_half_the_last_digit(metres, unit):
    text = units.length_text(metres, unit)
    assert not text.startswith("-0.00 ")
    number = float(text.split()[0])
    assert units.to_metres(number, unit) == pytest.approx(metres, abs=0.0051 * units.LENGTH[unit])


@pytest.mark.parametrize(
    ("feet", "text"),
    [  # practice: tenths to inches, 0.01 ft is about 1/8 in (common practice, no source); worked cut sheet's own column
        (0.72, "0'-8 5/8\""),
        (1.02, "1'-0 1/4\""),
        (1.37, "1'-4 1/2\""),
        (1.67, "1'-8\""),
        (1.80, "1'-9 5/8\""),
        (1.82, "1'-9 7/8\""),
    ],
)
def test_tenths_to_inches(feet, text):
    assert units.feet_inches(feet * 0.3048) == text


def test_rounding_up_carries_into_inches_and_feet():
    assert units.feet_inches(0.3048 - 1e-6) == "1'-0\""
    assert units.inches_text(0.0254 - 1e-7) == "1 in"
    assert units.feet_inches(-1e-6) == "0'-0\""


def test_stations():
    assert units.station_text(125.5 * 0.3048, "ft") == "1+25.5"
    assert units.station_text(99.96 * 0.3048, "ft") == "1+00.0"
    assert units.station_text(1025.6, "m") == "1+025.60"


def test_unknown_unit_is_refused():
    with pytest.raises(ValueError, match="unknown length unit"):
        units.to_metres(1, "furlong")
    with pytest.raises(ValueError, match="unknown length unit"):
        units.from_metres(1, "furlong")


def test_grades_print_as_percent():
    # 1/8 in per ft is 1.0417 %, not 1 % (arithmetic)
    assert units.grade_text(1 / 8 * units.GRADE["in_per_ft"]) == "1.04 %"
    assert math.isclose(units.GRADE["in_per_ft"], 1 / 12)
