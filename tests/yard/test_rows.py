"""Vertices, stakes, cleanouts and rows of a laid line."""

from __future__ import annotations

import importlib.util
import itertools
from pathlib import Path

import numpy as np
import pytest

from siteplan import units
from siteplan.values.laid_pipe import FittingKind
from siteplan.values.lines import Row, Vertex
from siteplan.yard.rows import cleanouts_of, on_paper, stake_stations, stakes_apart

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).parents[1] / "routes" / "drawn_yards.py")
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)


# outside top above the invert of 4 in sewer pipe, to 0.001 ft: the project's reference page on the trade, section 5
# (read)
TOP, HALF = 0.341 * units.FOOT, 0.0005 * units.FOOT
INCH = units.INCH


def test_stakes_by_unit():
    np.testing.assert_allclose(stake_stations(10.0, "m"), [0, 3, 6, 9])
    np.testing.assert_allclose(stake_stations(10.0, "ft"), np.arange(4) * 10 * units.FOOT)
    np.testing.assert_allclose(stake_stations(9.1, "m"), [0, 3, 6])  # a stake at the very end gives way


def planned(**more):
    site = yards.drawn(
        ("downspout", (22.3, 8.3)),
        ("curb_outlet", (40.8, 5.0)),
        ("driveway", yards.box(28, 0, 3, 30), {"name": "Drive"}),
        ("utility", [(34, 0), (34, 30)], {"name": "Gas"}),
        asked={"min_cover_pavement_m": 0.3, **more},
    )
    plan = yards.laid_out(site)
    assert len(plan.lines) == 1
    return site, plan.lines[0]


def test_rows_hold_every_place_with_a_reason():
    _, line = planned()
    stations = [row.station for row in line.rows]
    assert stations == sorted(stations)
    assert stations[0] == 0
    assert stations[-1] == pytest.approx(line.length)
    notes = {round(row.station, 3): row.note for row in line.rows}
    drive = next(c for c in line.crossings if c.kind == "driveway")
    assert "edge of driveway Drive, low side" in notes[round(drive.station_from, 3)]
    assert "edge of driveway Drive, high side" in notes[round(drive.station_to, 3)]
    gas = next(c for c in line.crossings if c.kind == "utility")
    assert "crosses utility Gas" in notes[round(gas.station_from, 3)]
    for vertex in line.vertices:
        assert any(abs(vertex.station - s) < 1e-3 for s in stations)
    for stake in stake_stations(line.length, "m"):
        assert any(abs(stake - s) < 0.15 + 1e-9 for s in stations)


def test_rows_agree_with_the_vertices():
    _, line = planned()
    at, inverts = [v.station for v in line.vertices], [v.invert for v in line.vertices]
    for row in line.rows:
        assert row.invert == pytest.approx(np.interp(row.station, at, inverts), abs=1e-9)
        lawn = yards.falling(
            row.x, row.y
        )  # as the yard is drawn; the grid rounds the edge of its bank at x = 36 by a cell
        near = abs(row.x - 36) < 0.5
        assert row.ground == pytest.approx(lawn, abs=0.032 if near else 1e-6)
        assert row.cover == pytest.approx(lawn - row.invert - TOP, abs=0.032 if near else HALF)
        # trench bottom: the wall (0.12 in) and 3 in of bedding under the invert
        assert row.cut == pytest.approx(lawn - row.invert + (0.12 + 3) * INCH, abs=0.032 if near else HALF)
    for low, high in itertools.pairwise(line.rows):
        if low.station >= 0 and not any(low.station < s < high.station for s in at):
            assert high.grade == pytest.approx((high.invert - low.invert) / (high.station - low.station), abs=1e-6)


def test_crossings_tell_cover_at_both_edges_and_the_least_between():
    _, line = planned()
    drive = next(c for c in line.crossings if c.kind == "driveway")
    at, inverts = [v.station for v in line.vertices], [v.invert for v in line.vertices]
    xs, ys = [v.x for v in line.vertices], [v.y for v in line.vertices]

    def cover(s):
        return yards.falling(np.interp(s, at, xs), np.interp(s, at, ys)) - np.interp(s, at, inverts) - TOP

    fine = np.linspace(drive.station_from, drive.station_to, 2001)
    assert drive.cover_from == pytest.approx(cover(fine[:1])[0], abs=HALF)
    assert drive.cover_to == pytest.approx(cover(fine[-1:])[0], abs=HALF)
    assert drive.cover_min == pytest.approx(cover(fine).min(), abs=1e-3)
    assert drive.cover_min >= 0.3 - 1e-3


@pytest.mark.parametrize("spacing", [2.0, 5.0, 7.3])
def test_cleanouts_are_no_farther_apart_than_asked(spacing):
    _, line = planned(cleanout_spacing_m=spacing)
    places = [v.station for v in line.vertices if v.has(FittingKind.CLEANOUT)]
    assert places[-1] == pytest.approx(line.length)
    gaps = np.diff([0.0, *places])
    assert gaps.max() <= spacing + 1e-6


def test_sharp_turns_get_a_cleanout():
    """A lot of two arms 1.6 m wide, square to each other.

    The line turns by more than a 45 degree bend in the corner.
    """
    lot = [(0, 0), (20, 0), (20, 15), (18.4, 15), (18.4, 1.6), (0, 1.6)]
    site = yards.drawn(
        ("downspout", (0.4, 0.8)),
        ("daylight_outlet", (19.2, 14.5), {"invert": 28.6}),
        lot=lot,
        house=None,
        cell=0.25,
        ground=lambda x, y: 30.5 - 0.03 * np.asarray(x, float) - 0.06 * np.asarray(y, float),
    )
    (line,) = yards.laid_out(site).lines
    (sharp,) = [v for v in line.vertices if v.bend > 48]
    assert sharp.bend > 80
    assert sharp.has(FittingKind.CLEANOUT)


def test_written_inverts_fall_whatever_rounding_takes():
    rng = np.random.default_rng(2)
    for _ in range(50):
        stations = np.concatenate(([0.0], np.cumsum(rng.uniform(0.002, 0.5, 12))))
        line = [
            Vertex(x=float(s), y=0.0, station=float(s), invert=20.0 + 0.01 * float(s), ground=21.0) for s in stations
        ]
        paper = on_paper(line, 0.01, -np.inf)
        assert [vertex.invert for vertex in paper] == [round(vertex.invert, 6) for vertex in paper]
        for low, high in itertools.pairwise(paper):
            assert high.invert - low.invert >= 0.01 * (round(high.station, 6) - round(low.station, 6))
        assert max(abs(a.invert - b.invert) for a, b in zip(line, paper, strict=True)) < 2e-5
    assert on_paper(line, 0.01, 20.5)[0].invert == 20.5
    # inverts that somebody gave, and the one of the line joined, are written to a micrometre too
    (given,) = on_paper([Vertex(x=0.0, y=0.0, station=0.0, invert=20.00000047, ground=21.0)], None, -np.inf)
    assert given.invert == 20.0
    assert on_paper(line, 0.01, 20.50000047)[0].invert == 20.5


def test_a_stake_a_hands_breadth_from_the_end_gives_way_and_one_farther_stays():
    """0.15 m (half a foot): common practice, no source. Stakes at 3 and 6 m, every 3 m on a metric site."""
    np.testing.assert_allclose(stake_stations(6.14, "m"), [0, 3])
    np.testing.assert_allclose(stake_stations(6.16, "m"), [0, 3, 6])


def marked(*stations):
    return [
        Row(station=s, x=s, y=0.0, ground=21.0, invert=20.0, cut=1.0, cover=0.9, grade=0.01, note=f"at {s}")
        for s in stations
    ]


@pytest.mark.parametrize(
    ("stations", "kept"),
    [
        ((0.0, 5.0, 5.09, 9.0), [0.0, 5.0, 9.0]),  # 9 cm apart: nobody drives two stakes there
        ((0.0, 5.0, 5.11, 9.0), [0.0, 5.0, 5.11, 9.0]),  # 11 cm: two
        ((0.0, 0.09, 9.0), [0.0, 9.0]),
        ((0.0, 8.92, 9.0), [0.0, 9.0]),  # the last row stays
    ],
)
def test_stakes_nearer_than_a_hands_breadth_are_one(stations, kept):
    """0.1 m: common practice, no source."""
    vertices = [Vertex(x=s, y=0.0, station=s, invert=20.0, ground=21.0) for s in (0.0, 9.0)]
    rows = stakes_apart(marked(*stations), vertices, "m")
    assert [row.station for row in rows] == kept
    told = " ".join(row.note for row in rows)
    assert all(f"at {s}" in told for s in stations), "no note is lost"


class _Way:
    """What cleanouts are placed by: corners and where they stand."""

    def __init__(self, corners):
        steps = [float(np.hypot(bx - ax, by - ay)) for (ax, ay), (bx, by) in itertools.pairwise(corners)]
        self.corners = tuple(corners)
        self.corner_stations = (0.0, *(float(s) for s in np.cumsum(steps)))
        self.trace = self


@pytest.mark.parametrize(("turn", "cleanouts"), [(44.0, 1), (47.0, 1), (48.0, 2), (60.0, 2), (90.0, 2)])
def test_a_turn_beyond_a_45_and_what_its_joints_take_gets_a_cleanout(turn, cleanouts):
    """Chicago 708.3: a cleanout at each turn above 45 degrees; 2.5 degrees that joints take up.

    Common practice, no source.
    """
    a = np.radians(turn)
    way = _Way([(0.0, 0.0), (5.0, 0.0), (5.0 + 5.0 * np.cos(a), 5.0 * np.sin(a))])
    assert cleanouts_of(way, None, "m") == pytest.approx([5.0, 10.0] if cleanouts == 2 else [10.0])


def test_cleanouts_stand_no_closer_than_anybody_builds_them():
    """Asked for every 0.1 m, 3 m of line gets one every 0.5 m: common practice, no source."""
    places = cleanouts_of(_Way([(0.0, 0.0), (3.0, 0.0)]), 0.1, "m")
    assert places == pytest.approx([0.5, 1.0, 1.5, 2.0, 2.5, 3.0])
