"""Every row of the printed capacity tables against what physics and the older tables' roof areas make of it."""

from __future__ import annotations

import math

import pytest

from siteplan.books.hydraulics import code_tables

GPM = 231 * 0.0254**3 / 60
ROWS = [(table.code, row) for table in code_tables() for row in table.rows]

# roof area [ft2] at 1 in/h and 1/8 in per ft: International Plumbing Code to 2012 and Uniform Plumbing Code alike;
# memory
ROOFS = {"3 in": 3288, "4 in": 7520, "5 in": 13360, "6 in": 21400, "8 in": 46000, "10 in": 82800, "12 in": 133_200}


@pytest.mark.parametrize(("code", "row"), ROWS, ids=[f"{code}-{row.nominal}-{row.grade:.4f}" for code, row in ROWS])
def test_flow_goes_with_the_root_of_the_slope(code, row):
    """A full pipe carries as the square root of its slope (Chezy, Manning): any hydraulics text.

    Printed to some percent.
    """
    size = [other for own, other in ROWS if own == code and other.nominal == row.nominal]
    usual = sorted(other.flow / math.sqrt(other.grade) for other in size)[len(size) // 2]
    assert len(size) >= 3
    assert row.flow / math.sqrt(row.grade) == pytest.approx(usual, rel=0.045)


@pytest.mark.parametrize("size", ROOFS)
@pytest.mark.parametrize("code", ["ipc-2012", "upc"])
def test_flow_at_an_eighth_of_an_inch_is_that_of_the_printed_roof(code, size):
    """1 in/h on 1 ft2 is 1 ft3 in 12 hours: 1/96.25 gpm."""
    row = next(row for own, row in ROWS if (own, row.nominal) == (code, size) and row.grade == pytest.approx(1 / 96))
    assert row.flow == pytest.approx(ROOFS[size] / 96.25 * GPM, rel=0.006)


def test_sizes_and_slopes_are_those_that_are_printed():
    held = {(code, row.nominal, round(row.grade * 12, 4)) for code, row in ROWS}
    eight = {"3 in", "4 in", "5 in", "6 in", "8 in", "10 in", "12 in"}
    older = {(code, size, slope) for code in ("ipc-2012", "upc") for size in eight for slope in (0.125, 0.25, 0.5)}
    newer = {("ipc-2018", size, slope) for size in eight | {"2 in", "15 in"} for slope in (0.0625, 0.125, 0.25, 0.5)}
    assert held == older | newer
