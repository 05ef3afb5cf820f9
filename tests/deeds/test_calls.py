"""Calls of a deed as people write them; geometry by hand is what they are judged by."""

from __future__ import annotations

import itertools
import math
import time

import pytest

from siteplan.deeds.angles import quadrant_text
from siteplan.deeds.calls import read_deed
from siteplan.deeds.traverse import laid_out, ring_of
from siteplan.errors import InputError, InputErrors, NotGiven

FOOT = 0.3048


def one(text, unit="ft"):
    return read_deed(f"unit = {unit}\n{text}\nN 1\nE 1\n", "x.deed").calls[0]


@pytest.mark.parametrize(
    ("text", "degrees", "feet"),
    [
        ("N 45°30'15\" E 120.50 ft", 45.504166667, 120.5),
        ("N45-30-15E 120.50", 45.504166667, 120.5),
        ("n 45 30 15 e 120.50", 45.504166667, 120.5),
        ("North 45 degrees 30 minutes 15 seconds East, a distance of 120.50 feet, to an iron pin", 45.504166667, 120.5),
        ("N 45º30′15″ E, 120.50’", 45.504166667, 120.5),
        ("S 44.25 W 10 ft 6 in", 224.25, 10.5),
        ("Thence S 10°E 1,120.5 feet along the road", 170.0, 1120.5),
        ("Due West 100'", 270.0, 100.0),
        ("N 5°30 W 7.", 354.5, 7.0),
        ("AZ 135°30' 12.0", 135.5, 12.0),
        ("azimuth of 271.5 100 ft", 271.5, 100.0),
        ("East 2 chains 50 links", 90.0, 2.5 * 66 * (1200 / 3937) / FOOT),
        ("East 4 rods", 90.0, 66 * (1200 / 3937) / FOOT),
        ("South 30.48 m", 180.0, 100.0),
        ("South 1200 U.S. survey feet", 180.0, 1200 * (1200 / 3937) / FOOT),
    ],
)
def test_a_call_is_read_as_it_is_written(text, degrees, feet):
    call = one(text)
    assert math.degrees(call.azimuth) == pytest.approx(degrees, abs=1e-7)
    assert call.length / FOOT == pytest.approx(feet, rel=1e-9)
    assert call.turn == 0


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("N 95 E 20", "is no direction"),
        ("N 45°61' E 20", "is no direction"),
        ("AZ 361 20", "is no direction"),
        ("N 45 E", "no length"),
        ("N 45 E 20 30", "cannot be made out"),
        ("N 45 E 0.00", "nothing"),
        ("somewhere 20", "is no call"),
        ("curve right, arc 20", "without a radius"),
        ("curve, radius 20, arc 20", "neither right nor left"),
        ("curve right, radius 20", "without arc, chord or central angle"),
        ("curve right, radius 20, chord N 4 E 41", "longer than twice its radius"),
        ("curve right, radius 50.00, arc 78.54, delta 80°00'00\", chord N 45°00'00\" E", "off what its radius"),
        ("curve right, radius 50.00, delta 90°00'00\", chord N 45°00'00\" E 71.71", "off what its radius"),
        ("curve right, radius 50.00, arc 20, chord N 4 E, spiral 30", "SPIRAL"),
        ("curve right, radius 50.00, arc 20.00", "nothing comes before"),
    ],
)
def test_what_cannot_be_made_out_is_told_with_its_line(text, says):
    with pytest.raises(InputError, match=says) as told:
        one(text)
    assert "x.deed, line 2" in str(told.value)


def test_every_fault_comes_at_once_and_a_missing_unit_is_a_question():
    with pytest.raises(InputErrors) as told:
        read_deed("foo\nN 4\nbar 3\n", "x.deed")
    assert [str(fault).partition(":")[0] for fault in told.value.faults] == [
        "x.deed, line 1",
        "x.deed, line 2",
        "x.deed, line 3",
    ]
    assert [isinstance(fault, NotGiven) for fault in told.value.faults] == [False, True, False]


def test_a_paragraph_is_parted_by_thence_over_the_ends_of_its_lines():
    text = (
        "unit = ft\nBeginning is said elsewhere; thence North\n100.00 feet; thence East 50.00\nfeet; thence "
        "South 100.00 feet; thence West 50.00 feet"
    )
    deed = read_deed(text.replace("Beginning is said elsewhere; ", ""), "x")
    assert [round(call.length / FOOT, 6) for call in deed.calls] == [100, 50, 100, 50]
    assert [call.line for call in deed.calls] == [2, 3, 4, 4]


def test_no_call_is_swallowed_by_a_text_that_is_passed_over():
    deed = read_deed("unit = ft\nthence North 100 to a pin\nEast 50 along the road\nSouth 100\nWest 50", "x")
    assert len(deed.calls) == 4
    with pytest.raises(InputError, match="cannot be made out"):
        read_deed("unit = ft\nNorth 100 to a pin and East 50\nSouth 100\nWest 50", "x")


@pytest.mark.parametrize(
    "text",
    ["\n" * 50_000 + "thence", "thence " * 20_000, "curve " + "radius " * 20_000, "N 4 E 3 to " + "N 4 " * 20_000],
)
def test_a_text_meant_to_hold_it_up_is_answered_at_once(text):
    began = time.perf_counter()
    with pytest.raises((InputError, InputErrors)):
        read_deed("unit = ft\n" + text, "x")
    assert time.perf_counter() - began < 5  # some tenths of a second; a slip of the patterns takes minutes


def square_with_round_corner(hand="right", way=1):
    """A square of 100 ft with a corner rounded by 25 ft, walked clockwise, or its mirror image."""
    east, west = ("East", "West") if way > 0 else ("West", "East")
    chord = "E" if way > 0 else "W"
    return read_deed(
        f"unit = ft\nNorth 75.00\ncurve {hand}, radius 25.00, arc 39.27, central angle 90°00'00\", chord N "
        f"45°00'00\" {chord} 35.36\n"
        f"{east} 75.00\nSouth 100.00\n{west} 100.00\n",
        "x",
    )


@pytest.mark.parametrize("deed", [square_with_round_corner(), square_with_round_corner("left", -1)])
def test_area_takes_off_what_lies_outside_a_rounded_corner(deed):
    found = laid_out(deed.calls)
    assert found.misclosure.length < 1e-9
    assert found.misclosure.ratio is None
    assert found.area / FOOT**2 == pytest.approx(100**2 - 25**2 * (1 - math.pi / 4), abs=1e-6)


@pytest.mark.parametrize(("hand", "sign"), [("left", -1), ("right", 1)])
def test_a_bay_in_a_side_is_taken_off_and_a_bulge_added(hand, sign):
    """Half a circle of 10 ft in the east side of a square of 100 ft, walked clockwise.

    To the left it cuts into the lot.
    """
    text = (
        f"unit = ft\nNorth 100\nEast 100\nSouth 40\ncurve {hand}, radius 10, delta 180°00'00\", chord "
        "South\nSouth 40\nWest 100"
    )
    found = laid_out(read_deed(text, "x").calls)
    assert found.area / FOOT**2 == pytest.approx(100**2 + sign * 50 * math.pi, abs=1e-6)


def test_the_ring_of_a_curve_stays_within_two_millimetres_of_it():
    found = laid_out(square_with_round_corner().calls)
    ring = ring_of(found)
    centre = (25 * FOOT, 75 * FOOT)
    bent = ring[1 : len(ring) - 3]
    assert len(bent) > 20
    assert all(math.dist(place, centre) == pytest.approx(25 * FOOT, abs=1e-9) for place in bent)
    middles = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in itertools.pairwise(bent)]
    assert all(0 <= 25 * FOOT - math.dist(place, centre) <= 0.0021 for place in middles)


def test_a_curve_without_its_chords_bearing_goes_on_as_the_call_before():
    calls = read_deed(
        "unit = ft\nNorth 75\ncurve right, radius 25, delta 90°00'00\"\nEast 75\nSouth 100\nWest 100", "x"
    ).calls
    assert calls[1].tangent
    assert math.degrees(calls[1].azimuth) == pytest.approx(45)
    assert laid_out(calls).misclosure.length < 1e-9


def test_nothing_is_spread_unless_it_is_asked_for():
    calls = read_deed("unit = m\nN 0°00' E 100.00\nEast 100.00\nSouth 100.40\nWest 100.00", "x").calls
    plain, spread = laid_out(calls), laid_out(calls, spread=True)
    assert plain.corners[3] == pytest.approx((100.0, -0.4))
    assert plain.misclosure.north == pytest.approx(-0.4)
    assert spread.misclosure == plain.misclosure
    assert not plain.misclosure.by_rounding
    # each corner moves by its part of the way: 0.4 x 300.4 / 400.4 m to the north after three calls
    assert spread.corners[3][1] == pytest.approx(-0.4 + 0.4 * 300.4 / 400.4)
    # a rounding in the last digit is none that anybody need decide on
    near = laid_out(read_deed("unit = m\nN 0°00' E 100.00\nEast 100.00\nSouth 100.01\nWest 100.00", "x").calls)
    assert near.misclosure.by_rounding


@pytest.mark.parametrize(
    ("degrees", "seconds", "text"),
    [
        (45 + 30 / 60 + 15.26 / 3600, 1, "N 45\u00b030'15.3\" E"),
        (45 + 30 / 60 + 15.26 / 3600, 0, "N 45\u00b030'15\" E"),
        (134 + 29 / 60 + 54.96 / 3600, 2, "S 45\u00b030'05.04\" E"),
        (200.5, 0, "S 20\u00b030'00\" W"),
        (359 + 59 / 60 + 59.7 / 3600, 0, "N 00\u00b000'00\" E"),  # carried over the minute, the degree and the circle
        (300, 1, "N 60\u00b000'00.0\" W"),
    ],
)
def test_a_direction_is_written_in_degrees_of_sixty_minutes_of_sixty_seconds(degrees, seconds, text):
    assert quadrant_text(math.radians(degrees), seconds) == text


@pytest.mark.parametrize(("arc", "taken"), [("78.532", True), ("78.530", False), ("78.548", True), ("78.550", False)])
def test_a_curves_figures_agree_to_their_last_digits_and_no_farther(arc, taken):
    """A quarter of a circle of 50.00 ft is 78.5398 ft.

    Half a last digit of the radius makes 0.005 x pi/2 of it, half a second of the angle 50 x 2.4e-6, and the arc's own
    is 0.0005: 0.0085 ft together."""
    text = f"curve right, radius 50.00, arc {arc}, delta 90\u00b000'00\", chord N 45\u00b000'00\" E"
    if taken:
        assert one(text).along / FOOT == pytest.approx(78.54, abs=0.01)
    else:
        with pytest.raises(InputError, match="more than their last digits allow"):
            one(text)


@pytest.mark.parametrize(("south", "closes"), [("99.99992000", True), ("99.99988000", False)])
def test_what_closes_to_a_tenth_of_a_millimetre_has_no_ratio_and_needs_no_decision(south, closes):
    text = f"unit = m\nNorth 100.00000000\nEast 50.00000000\nSouth {south}\nWest 50.00000000"
    missed = laid_out(read_deed(text, "x").calls).misclosure
    assert (missed.ratio is None) == closes
    assert missed.by_rounding == closes
    if not closes:
        assert missed.ratio == pytest.approx(300 / 1.2e-4, rel=1e-3)
