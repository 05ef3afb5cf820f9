"""The trench schedule a crew digs by: printed figures that fall, agree with each other, and are no formulas."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest

from siteplan.sheets.schedule import printed_rows, safe_cell, trench_schedule
from siteplan.units import FOOT, INCH, station_text
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line, Row, Vertex


def table(written):
    return list(csv.DictReader(io.StringIO(written.decode("utf-8-sig"))))


# a worked cut sheet from the practice notes, section 5 (own invention of the notes; arithmetic, common practice): 4 in
# sewer-grade pipe, top 0.341 ft over the invert, wall 0.010 ft, bedding 0.25 ft, 1.25 % from 96.66 ft at the curb.
# station, ground, invert, top, trench bottom, cut to bottom [ft], cut in feet and inches
WORKED = (
    (0, 97.12, 96.66, 97.00, 96.40, 0.72, "0'-8 5/8\""),
    (10, 97.55, 96.79, 97.13, 96.53, 1.02, "1'-0 1/4\""),
    (20, 98.02, 96.91, 97.25, 96.65, 1.37, "1'-4 1/2\""),
    (30, 98.45, 97.04, 97.38, 96.78, 1.67, "1'-8 1/8\""),
    (40, 98.70, 97.16, 97.50, 96.90, 1.80, "1'-9 5/8\""),
    (50, 98.85, 97.29, 97.63, 97.03, 1.82, "1'-9 7/8\""),
    (60, 98.95, 97.41, 97.75, 97.15, 1.80, "1'-9 5/8\""),
    (70, 99.08, 97.54, 97.88, 97.28, 1.80, "1'-9 5/8\""),
    (84, 99.26, 97.71, 98.05, 97.45, 1.81, "1'-9 3/4\""),
)


@pytest.fixture(scope="module")
def worked(yard):
    plan, _ = yard
    pipe = Pipe(
        kind="pvc_sdr35",
        title="sewer-grade",
        nominal="4 in",
        od=4.215 * INCH,
        bore=3.975 * INCH,
        wall=0.120 * INCH,
        roughness=0.011,
        source="",
    )
    invert = [96.66 + 0.0125 * station for station, *_ in WORKED]
    rows = tuple(
        Row(
            station=s * FOOT,
            x=s * FOOT,
            y=0.0,
            ground=g * FOOT,
            invert=z * FOOT,
            cut=(g - z) * FOOT + pipe.below + 0.25 * FOOT,
            cover=(g - z) * FOOT - pipe.rise,
            grade=0.0125,
        )
        for (s, g, *_), z in zip(WORKED, invert, strict=True)
    )
    ends = tuple(Vertex(x=r.x, y=0.0, station=r.station, invert=r.invert, ground=r.ground) for r in (rows[0], rows[-1]))
    line = Line(
        id="L1",
        sources=("S1",),
        start="S1",
        end="O1",
        pipe=pipe,
        vertices=ends,
        rows=rows,
        crossings=(),
        low_spots=(),
        spare=0.42 * FOOT,
        binding="",
        cost=1.0,
    )
    return replace(plan, lines=(line,), crs="local")


def test_published_practice_notes_section_5_cut_sheet(worked):
    shown = table(trench_schedule(worked))
    assert len(shown) == len(WORKED)
    for row, (station, ground, invert, top, bottom, cut, cut_text) in zip(shown, WORKED, strict=True):
        assert float(row["station_ft_up_from_outlet"]) == station
        assert float(row["ground_ft"]) == pytest.approx(ground, abs=1e-9)
        # the notes allow 0.01 where an unrounded value ends in 5
        for key, expected in (
            ("invert_ft", invert),
            ("top_of_pipe_ft", top),
            ("trench_bottom_ft", bottom),
            ("cut_to_trench_bottom_ft", cut),
        ):
            assert float(row[key]) == pytest.approx(expected, abs=0.0101), (station, key)
        assert row["cut_ft_in"] == cut_text
        assert row["east_ft_site_grid"] == f"{station:.2f}"


@pytest.mark.parametrize("name", ["yard", "metric_yard"])
def test_printed_figures_agree_with_each_other_and_never_rise_downstream(request, name):
    plan, _ = request.getfixturevalue(name)
    for line in plan.lines:
        shown = printed_rows(plan, line)
        for row in shown:
            scale = 1000 if plan.length_unit == "m" else 100
            ground, top, cover, bottom, cut = (
                round(float(text) * scale) for text in (row.ground, row.top, row.cover, row.bottom, row.cut)
            )
            assert ground - top == cover
            assert ground - bottom == cut
        inverts = [float(row.invert) for row in shown]
        assert inverts == sorted(inverts)
        assert inverts[0] < inverts[-1]
        by_station = {station_text(row.station, plan.length_unit): row for row in line.rows}
        for row in shown:
            exact = by_station[row.station]
            assert float(row.grade or 0) == pytest.approx(exact.grade * 100 if exact.station else 0, abs=0.006)


def test_units_stand_in_the_header(yard, metric_yard):
    feet, metres = table(trench_schedule(yard[0])), table(trench_schedule(metric_yard[0]))
    assert {"station_ft_up_from_outlet", "invert_ft", "cut_ft_in", "east_m_EPSG_32616", "north_m_EPSG_32616"} <= set(
        feet[0]
    )
    assert {"station_m_up_from_outlet", "invert_m", "east_m_site_grid"} <= set(metres[0])
    assert "cut_ft_in" not in metres[0]
    survey = table(trench_schedule(replace(metric_yard[0], length_unit="us-ft", elevation_unit="us-ft")))
    assert {"invert_us_ft", "east_us_ft_site_grid"} <= set(survey[0])


def test_elevations_in_metres_beside_lengths_in_feet(yard):
    """A site may measure with a tape in feet on ground given in metres: each figure keeps its own unit."""
    plan = replace(yard[0], elevation_unit="m")
    line = plan.lines[0]
    for row, exact in zip([row for row in table(trench_schedule(plan)) if row["line"] == "L1"], line.rows, strict=True):
        assert float(row["invert_m"]) == pytest.approx(exact.invert, abs=0.00051)
        assert float(row["ground_m"]) == pytest.approx(exact.ground, abs=0.00051)
        assert float(row["trench_bottom_m"]) == pytest.approx(exact.ground - exact.cut, abs=0.00051)
        assert float(row["cover_ft"]) == pytest.approx(exact.cover / FOOT, abs=0.0051)
        assert float(row["cut_to_trench_bottom_ft"]) == pytest.approx(exact.cut / FOOT, abs=0.0051)


def test_what_stands_at_a_station_is_said(yard):
    rows = table(trench_schedule(yard[0]))
    points = {(row["line"], row["station"]): row["point"] for row in rows}
    assert points["L1", "0+55.8"] == "bend 8.8 degrees: wye"
    assert points["L2", "0+19.7"] == "edge of walk {% x %}"
    assert points["L1", "0+10.0"] == ""
    assert {row["way"] for row in rows if row["line"] == "L1"} == {"Front right to Curb"}


def test_no_cell_is_a_formula(yard, invented):
    rows = table(trench_schedule(yard[0]))
    assert any(row["way"] == "'" + invented.FORMULA + " joins L1" for row in rows)
    for row in rows:
        for key, cell in row.items():
            assert not cell.startswith(("=", "+", "@", "\t", "\r", "-")) or float(cell) <= 0, (key, cell)


@pytest.mark.parametrize(
    ("given", "written"),
    [
        ("=1+1", "'=1+1"),
        ("+1", "'+1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("-2+3", "'-2+3"),
        ("\t=1", "'=1"),
        ("\r=1", "'=1"),
        (" =1", "'=1"),
        ("\x00=1", "'=1"),
        ("-0.25", "-0.25"),
        ("12.00", "12.00"),
        ("0+84.0", "0+84.0"),
        ("plain, text", "plain, text"),
        ("", ""),
    ],
)
def test_cells_that_begin_like_a_formula_are_text(given, written):
    assert safe_cell(given) == written


def test_byte_order_mark_only_where_letters_need_it(yard):
    plan, _ = yard
    assert not trench_schedule(plan).startswith(b"\xef\xbb\xbf")
    named = replace(plan, sources=(replace(plan.sources[0], name="R\u00f6hre"), *plan.sources[1:]))
    written = trench_schedule(named)
    assert written.startswith(b"\xef\xbb\xbf")
    assert "R\u00f6hre to Curb" in written.decode("utf-8-sig")


def test_no_lines_leave_the_header(hopeless):
    assert trench_schedule(hopeless[0]).count(b"\r\n") == 1


def test_a_trench_bottom_above_ground_is_a_fill(worked):
    line = worked.lines[0]
    high = replace(line.rows[0], cut=-0.1 * FOOT)
    row = table(trench_schedule(replace(worked, lines=(replace(line, rows=(high,)),))))[0]
    assert row["cut_ft_in"] == "fill 0'-1 1/4\""
    assert row["cut_to_trench_bottom_ft"] == "-0.10"


def test_the_top_printed_is_of_the_pipe_that_lies_there(yard):
    """Heavy 4 in pipe lies in place of the line's own: its top is (4.500 + 4.026) / 2 in over the invert."""
    plan, _ = yard
    line, heavy = plan.lines[0], (4.5 + 4.026) / 2 * INCH
    assert heavy - line.pipe.rise > 0.004
    rows = tuple(replace(row, pipe_top=heavy) for row in line.rows)
    for row, told in zip(rows, printed_rows(plan, replace(line, rows=rows)), strict=True):
        assert float(told.top) == pytest.approx((row.invert + heavy) / FOOT, abs=0.0051)
