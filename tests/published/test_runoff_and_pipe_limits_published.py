"""Runoff coefficients, least grades by size and least covers by class of pipe.

Typed anew from where they were taken.
"""

from __future__ import annotations

import pytest

from siteplan.books.hydraulics import runoff_of
from siteplan.books.pipe_limits import limit_of
from siteplan.books.pipes import found
from siteplan.books.unit_prices import placeholder_prices

FOOT, INCH = 0.3048, 0.0254


@pytest.mark.parametrize(
    ("cover", "low", "high", "designed"),
    [
        # FHWA HEC-22, third edition, table 3-1 (memory); codes of plumbing take all of a roof's rain (Austin Drainage
        # Criteria Manual, 2.4.1, read)
        ("roof", 0.75, 0.95, 1.0),
        # University of Illinois, course TSM352, rational-method C table (read); the upper end is designed with
        ("asphalt", 0.70, 0.95, 0.95),
        ("concrete", 0.80, 0.95, 0.95),
        ("lawn_heavy", 0.18, 0.22, 0.22),
        ("lawn_sandy_flat", 0.05, 0.10, 0.10),
    ],
)
def test_what_part_of_the_rain_runs_off(cover, low, high, designed):
    held = runoff_of(cover)
    assert (held.low, held.high, held.default) == (low, high, designed)


@pytest.mark.parametrize(
    ("kind", "nominal", "inches_in_a_foot"),
    [
        # Chicago Municipal Code, table 18-29-704.1 (read): 2 1/2 in or less, 3 to 6 in, 8 in or larger
        ("pvc_sch40", "1.5 in", 1 / 4),
        ("pvc_sch40", "2 in", 1 / 4),
        ("pvc_sch40", "3 in", 1 / 8),
        ("pvc_sdr35", "4 in", 1 / 8),
        ("pe_corr_dual", "6 in", 1 / 8),
        ("pvc_metric", "DN 160", 1 / 8),
        ("pvc_sdr35", "8 in", 1 / 16),
        ("pvc_metric", "DN 200", 1 / 16),
        ("pe_corr_single", "12 in", 1 / 16),
    ],
)
def test_the_least_grade_of_a_size(kind, nominal, inches_in_a_foot):
    assert limit_of("pipe-grade", found(kind, nominal)).limit == pytest.approx(inches_in_a_foot / 12)


# AASHTO LRFD Bridge Design Specifications, table 12.6.6.3-1, thermoplastic pipe under unpaved ground (memory)
@pytest.mark.parametrize("kind", ["pe_corr_single", "pe_corr_dual", "pvc_sdr35", "pvc_sch40", "pvc_thin", "pvc_metric"])
def test_the_least_cover_of_a_class_of_pipe(kind):
    sizes = ("DN 110", "DN 315") if kind == "pvc_metric" else ("4 in", "6 in")
    assert [limit_of("pipe-cover", found(kind, size)).limit for size in sizes] == pytest.approx([12 * INCH] * 2)


def test_placeholders_of_prices_move_only_where_somebody_moves_them():
    """They are nobody's prices and printed as placeholders; who sets none of his own compares layouts by them.

    Ours, no source.
    """
    assert {(one.what, one.kind): one.price for one in placeholder_prices()} == {
        (what, ""): price
        for what, price in (
            *(("pipe", 10), ("sleeve", 20), ("bend", 8), ("turned_pair", 16), ("wye", 12), ("grade_break", 8)),
            *(("cleanout", 40), ("check_valve", 30), ("tie_in", 80), ("coupling", 10), ("reducer", 15)),
            *(("curb_opening", 150), ("excavation", 50), ("bedding", 60), ("stone", 60), ("backfill", 20)),
            *(("spoil", 30), ("pavement", 100), ("concrete", 250), ("lawn", 5)),
        )
    }
