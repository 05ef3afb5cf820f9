"""Worked traverses as printed: latitudes and departures, closure, compass rule, coordinates, area.

J. Mahun, Open Access Surveying Library, Traverse Computations (jerrymahun.com, open access; read): the bearing traverse
that chapters D, G and I carry on; sums of latitudes and departures and adjusted coordinates in chapter I, section 'Loop
Traverse', area in chapter G, section 3, example 1. Purdue University, School of Civil Engineering, ASM 215 Surveying,
'Traverse Calculations' (course page, read): a traverse balanced by the compass rule.
"""

from __future__ import annotations

import math

import pytest

from siteplan.deeds.calls import read_deed
from siteplan.deeds.traverse import laid_out

FOOT = 0.3048
MAHUN = "unit = ft\nS 68°05'35\"W 472.68\nN 19°46'00\"W 216.13\nN 45°55'20\"E 276.52\nS 54°59'15\"E 382.24"
PURDUE = "unit = ft\nN 26°10'E 285.10\nS 75°25'E 610.45\nS 15°30'W 720.48\nN 1°42'W 203.00\nN 53°06'W 647.02"


def test_closure_of_a_loop_traverse():
    missed = laid_out(read_deed(MAHUN, "x").calls).misclosure
    assert missed.perimeter / FOOT == pytest.approx(1347.57, abs=0.005)
    # printed: 0.083 and 0.075, sums of columns rounded to 0.001: half of the last digit of five figures
    assert missed.north / FOOT == pytest.approx(0.083, abs=0.0025)
    assert missed.east / FOOT == pytest.approx(0.075, abs=0.0025)


def test_latitudes_and_departures_of_a_loop_traverse():
    printed = [(-176.357, -438.548), (203.395, -73.093), (192.357, 198.651), (-219.312, 313.065)]
    for call, (latitude, departure) in zip(read_deed(MAHUN, "x").calls, printed, strict=True):
        assert call.length * math.cos(call.azimuth) / FOOT == pytest.approx(latitude, abs=0.0005001)
        assert call.length * math.sin(call.azimuth) / FOOT == pytest.approx(departure, abs=0.0005001)


def test_coordinates_by_the_compass_rule_and_area_to_the_last_digit():
    found = laid_out(read_deed(MAHUN, "x").calls, spread=True)
    printed = [(500.000, 2000.000), (323.614, 1561.426), (526.996, 1488.321), (719.336, 1686.956)]
    for (east, north), (n, e) in zip(found.corners, printed, strict=True):
        assert round(500 + north / FOOT, 3) == n
        assert round(2000 + east / FOOT, 3) == e
    # printed sums of cross products 3,590,045.6 and 3,384,174.1, of coordinates rounded to 0.001 ft
    assert found.area / FOOT**2 == pytest.approx((3_590_045.6 - 3_384_174.1) / 2, abs=0.05)


def test_a_traverse_balanced_by_the_compass_rule():
    calls = read_deed(PURDUE, "x").calls
    plain, found = laid_out(calls), laid_out(calls, spread=True)
    assert plain.misclosure.perimeter / FOOT == pytest.approx(2466.05, abs=0.005)
    assert plain.misclosure.north / FOOT == pytest.approx(-0.71, abs=0.025)
    assert plain.misclosure.east / FOOT == pytest.approx(0.53, abs=0.025)
    # printed 1 in 2771 from 0.89 ft, which is 0.883 rounded
    assert plain.misclosure.ratio == pytest.approx(2466.05 / 0.883, rel=0.001)
    printed = [
        (10000.00, 10000.00),
        (10255.96, 10125.66),
        (10102.44, 10716.31),
        (9408.37, 10523.62),
        (9611.34, 10517.55),
    ]
    for (east, north), (y, x) in zip(found.corners, printed, strict=True):
        # each printed coordinate adds up figures rounded to 0.01 ft
        assert 10000 + north / FOOT == pytest.approx(y, abs=0.025)
        assert 10000 + east / FOOT == pytest.approx(x, abs=0.025)
