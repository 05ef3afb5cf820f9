"""Curves of a deed against worked examples: radius, central angle, arc and chord; tangent curves in a row.

The segment between arc and chord.

Montana Department of Transportation, Road Design Manual, Appendix K, Example Calculations (open handbook; read):
example 2-1, middle ordinate of a sight line inside a curve; example 3-1, the circular part between two spirals; example
3-6, a compound curve of three centers. J. Mahun, Open Access Surveying Library, COGO, chapter H, section 2b
(jerrymahun.com, open access; read): a traverse with curves, its area along the chords. Segment: r2 (delta - sin delta)
/ 2, the same chapter, equation H-2; here by the printed figures as sector less triangle.
"""

from __future__ import annotations

import math

import pytest
from shapely import LineString, Point

from siteplan.deeds.calls import read_deed
from siteplan.deeds.traverse import laid_out, ring_of

FOOT = 0.3048


def _along(text):
    """Corners of calls, in feet, with where the last one ends."""
    found = laid_out(read_deed(text, "x").calls)
    end = (found.misclosure.east / FOOT, found.misclosure.north / FOOT)
    return found, [*((east / FOOT, north / FOOT) for east, north in found.corners), end]


def test_arc_of_a_radius_and_a_central_angle():
    """Example 3-1: R 3,000 ft; 15 degrees less twice 2.00535 are left to it; from 240+28.69 to 246+04.09."""
    delta = 15 - 2 * 2.00535
    degrees, rest = int(delta), (delta - int(delta)) * 60
    angle = f"{degrees}°{int(rest):02d}'{(rest - int(rest)) * 60:05.2f}\""
    call = read_deed(f"unit = ft\nNorth 1\ncurve right, radius 3000.00, delta {angle}", "x").calls[1]
    assert call.along / FOOT == pytest.approx((246_04.09 - 240_28.69), abs=0.005)
    # and the other way: the arc tells the angle
    other = read_deed("unit = ft\nNorth 1\ncurve right, radius 3000.00, arc 575.40", "x").calls[1]
    assert math.degrees(other.delta) == pytest.approx(delta, abs=1e-4)
    assert other.length == pytest.approx(call.length, abs=0.005 * FOOT)


def test_middle_ordinate_of_an_arc():
    """Example 2-1: an arc of 570 ft on a radius of 1,400 ft stands 28.91 ft off its chord."""
    found = laid_out(
        read_deed("unit = ft\ncurve right, radius 1400.00, arc 570.00, chord East\nWest 566.07", "x").calls
    )
    heights = [north / FOOT for _, north in ring_of(found)]
    assert max(heights) == pytest.approx(
        28.91, abs=0.005 + 0.007
    )  # the last digit, and the 2 mm between ring and curve
    assert min(heights) == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(("hand", "sign"), [("right", 1), ("left", -1)])
def test_segment_between_an_arc_and_its_chord(hand, sign):
    """Example 2-1 again, as a side of a lot.

    Sector less triangle of the printed 1,400, 570 and 28.91 is what it adds, or takes.
    """
    half = math.sqrt(1400**2 - (1400 - 28.91) ** 2)
    segment = 1400 * 570 / 2 - half * (1400 - 28.91)
    slack = 4 * (1400 - 28.91) ** 2 / (2 * 2 * half) * 0.005  # half of the last digit of 28.91, along that arithmetic
    text = f"unit = ft\nNorth 300.00\ncurve {hand}, radius 1400.00, arc 570.00, chord East\nSouth 300.00\nWest 566.14"
    found = laid_out(read_deed(text, "x").calls)
    straight = laid_out(read_deed("unit = ft\nNorth 300.00\nEast 566.14\nSouth 300.00\nWest 566.14", "x").calls)
    assert (found.area - straight.area) / FOOT**2 == pytest.approx(sign * segment, abs=slack + 10)


def test_three_tangent_curves_in_a_row():
    """Example 3-6: 600, 250 and 600 ft over 40 degrees.

    Tangents of 151.76 ft meet 21.37 ft outside the middle of the curve.
    """
    outer, inner = "9°41'47\"", "20°36'26\""
    text = (
        "unit = ft\nNorth 151.76\n"
        f"curve right, radius 600.00, delta {outer}\ncurve right, radius 250.00, delta {inner}\ncurve right, "
        f"radius 600.00, delta {outer}"
    )
    found, (_, begin, first, second, end) = _along(text)
    corner = (
        0.0,
        2 * 151.76,
    )  # where the way on from the first call meets the tangent at the end, by the printed length
    assert math.dist(corner, begin) == pytest.approx(151.76)
    assert math.dist(corner, end) == pytest.approx(151.76, abs=0.02)
    # the tangent at the end leaves the corner at 40 degrees
    assert math.degrees(math.atan2(end[0] - corner[0], end[1] - corner[1])) == pytest.approx(40, abs=0.01)
    ring = LineString([(east / FOOT, north / FOOT) for east, north in ring_of(found)][2:])
    assert ring.distance(Point(corner)) == pytest.approx(21.37, abs=0.02)
    assert math.dist(first, second) == pytest.approx(2 * 250 * math.sin(math.radians(20.6074 / 2)), abs=0.01)


# north, east of points 1 to 6, as printed
_MAHUN = [
    (500.00, 1200.00),
    (614.70, 1249.70),
    (674.76, 1347.43),
    (662.46, 1552.76),
    (467.41, 1516.87),
    (417.36, 1317.39),
]


def _call(a, b):
    azimuth = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])) % 360
    return f"AZ {azimuth:.7f} {math.dist(a, b):.6f}"


def test_area_of_a_traverse_along_its_chords_and_along_its_first_curve():
    """Chapter H: sums of cross products 4,622,300 and 4,491,046.

    Curve 2-3 leaves line 1-2 and meets line 3-4 without a bend.
    """
    calls = [_call(a, b) for a, b in zip(_MAHUN, [*_MAHUN[1:], _MAHUN[0]], strict=True)]
    chords = laid_out(read_deed("unit = ft\n" + "\n".join(calls), "x").calls)
    assert chords.area / FOOT**2 == pytest.approx((4_622_300 - 4_491_046) / 2, abs=3)  # sums of rounded products
    (x, y), (u, v) = _MAHUN[1], _MAHUN[2]
    chord = math.degrees(math.atan2(v - y, u - x))
    before, after = (
        math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])) for a, b in ((_MAHUN[0], _MAHUN[1]), (_MAHUN[2], _MAHUN[3]))
    )
    # tangent at both ends: the chord lies half-way between the lines' ways, and the curve turns by all of it
    assert chord - before == pytest.approx(after - chord, abs=0.01)
    turned = math.radians(after - before)
    radius = math.dist(_MAHUN[1], _MAHUN[2]) / (2 * math.sin(turned / 2))
    tangent = calls.copy()
    tangent[1] = (
        # without a bearing: tangent to the call before
        f"curve right, radius {radius:.6f} ft, arc {radius * turned:.6f} ft"
    )
    found = laid_out(read_deed("unit = ft\n" + "\n".join(tangent), "x").calls)
    assert found.misclosure.length / FOOT < 0.02
    middle = radius * radius * math.sin(turned / 2) * math.cos(turned / 2)
    assert (found.area - chords.area) / FOOT**2 == pytest.approx(radius * radius * turned / 2 - middle, abs=1)
