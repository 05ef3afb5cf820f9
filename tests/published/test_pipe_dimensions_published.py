"""Every figure of the book of pipes typed anew from its standard or its table.

Dimensions, weight, stiffness, lengths, joints.

ASTM D1785, table 1 (outside diameters, schedule 40 walls); ASTM D3034, table 1, SDR 35; ASTM D2729, table 1, and pipe
stiffness of its table 5 (read); EN 1401-1, SN 8; AASHTO M252 and ASTM F667 (nominal inside diameters); AASHTO LRFD
Bridge Design Specifications, table 12.12.3.3-1 (modulus of PE at once and after 50 years). All from memory but where
'read' stands; sizes of corrugated pipe, its weight, bells and lengths are typical of the trade (common practice, no
source).
"""

from __future__ import annotations

import csv
from importlib.resources import files

import pytest

ROWS = list(csv.DictReader((files("siteplan.books") / "pipes.csv").read_text(encoding="utf-8").splitlines()))
IN_STOCK = [row for row in ROWS if row["weight_lb_per_ft"]]

# outside, wall [in]; of EN 1401 [mm]
PLAIN = {
    "pvc_sch40": {
        "1.5 in": (1.900, 0.145),
        "2 in": (2.375, 0.154),
        "3 in": (3.500, 0.216),
        "4 in": (4.500, 0.237),
        "6 in": (6.625, 0.280),
        "8 in": (8.625, 0.322),
        "10 in": (10.750, 0.365),
        "12 in": (12.750, 0.406),
    },
    "pvc_sdr35": {
        "4 in": (4.215, 0.120),
        "6 in": (6.275, 0.180),
        "8 in": (8.400, 0.240),
        "10 in": (10.500, 0.300),
        "12 in": (12.500, 0.360),
    },
    "pvc_thin": {"3 in": (3.250, 0.070), "4 in": (4.215, 0.075), "6 in": (6.275, 0.100)},
    "pvc_metric": {
        "DN 110": (110.0, 3.2),
        "DN 160": (160.0, 4.7),
        "DN 200": (200.0, 5.9),
        "DN 250": (250.0, 7.3),
        "DN 315": (315.0, 9.2),
    },
}
# outside, inside, wall [in]: single wall the sheet, dual wall the whole profile
CORRUGATED = {
    "pe_corr_single": {
        "3 in": (3.6, 3.0, 0.03),
        "4 in": (4.6, 4.0, 0.035),
        "6 in": (7.0, 6.0, 0.045),
        "8 in": (9.4, 8.0, 0.06),
        "10 in": (11.5, 10.0, 0.07),
        "12 in": (14.2, 12.0, 0.08),
    },
    "pe_corr_dual": {
        "4 in": (4.78, 4.1, 0.34),
        "6 in": (6.92, 6.05, 0.435),
        "8 in": (9.2, 8.05, 0.575),
        "10 in": (11.5, 10.1, 0.7),
        "12 in": (14.5, 12.15, 1.175),
    },
}
# weight [lb/ft], stiffness [psi], bending now and after 50 years [lb in2]
STRONG = {
    ("pvc_sch40", "1.5 in"): (0.509, 1010, 124_000, 43_390),
    ("pvc_sch40", "2 in"): (0.682, 596, 266_300, 93_200),
    ("pvc_sch40", "3 in"): (1.409, 509, 1_207_000, 422_400),
    ("pvc_sch40", "4 in"): (2.006, 307, 2_893_000, 1_013_000),
    ("pvc_sch40", "6 in"): (3.535, 154, 11_260_000, 3_940_000),
    ("pvc_sch40", "8 in"): (5.305, 104, 29_000_000, 10_150_000),
    ("pvc_sdr35", "4 in"): (1.03, 46, 1_295_000, 453_400),
    ("pvc_sdr35", "6 in"): (2.22, 46, 6_408_000, 2_243_000),
    ("pvc_sdr35", "8 in"): (3.96, 46, 20_500_000, 7_175_000),
    ("pvc_thin", "3 in"): (0.45, 19, 353_800, 123_800),
    ("pvc_thin", "4 in"): (0.627, 11, 836_200, 292_700),
    ("pvc_thin", "6 in"): (1.25, 8, 3_700_000, 1_295_000),
    ("pe_corr_single", "3 in"): (0.25, 35, 310, 62),
    ("pe_corr_single", "4 in"): (0.4, 35, 1000, 200),
    ("pe_corr_single", "6 in"): (0.85, 35, 2500, 500),
    ("pe_corr_single", "8 in"): (1.5, 35, 6900, 1380),
    ("pe_corr_dual", "4 in"): (0.45, 50, 61_000, 12_200),
    ("pe_corr_dual", "6 in"): (0.87, 50, 200_000, 40_000),
    ("pe_corr_dual", "8 in"): (1.5, 50, 550_000, 110_000),
}
# modulus now and long [psi], ring limit [%], how far bending is known, laying length [ft], turn at a joint [degrees]
KIND = {
    "pvc_sch40": (400_000, 140_000, 7.5, 1.1, 10, None),
    "pvc_sdr35": (400_000, 140_000, 7.5, 1.1, 10, 2),
    "pvc_thin": (400_000, 140_000, 7.5, 1.1, 10, 2),
    "pe_corr_single": (110_000, 22_000, 5, 3, 100, None),
    "pe_corr_dual": (110_000, 22_000, 5, 2, 20, 1.5),
}


def named(rows):
    return pytest.mark.parametrize("row", rows, ids=[f"{row['kind']} {row['nominal']}" for row in rows])


def figure(row, name):
    return float(row[name]) if row[name] else None


@named(ROWS)
def test_a_row_has_the_dimensions_of_its_standard(row):
    unit = "mm" if row["kind"] == "pvc_metric" else "in"
    outside, inside, wall = (figure(row, f"{name}_{unit}") for name in ("od", "id", "wall"))
    if row["kind"] in PLAIN:
        assert (outside, wall) == PLAIN[row["kind"]][row["nominal"]]
        assert inside == pytest.approx(outside - 2 * wall, abs=0.0025 if unit == "in" else 0.05)
    else:
        assert (outside, inside, wall) == CORRUGATED[row["kind"]][row["nominal"]]


def test_no_row_of_these_tables_is_missing():
    held = {(row["kind"], row["nominal"]) for row in ROWS}
    assert held == {(kind, size) for table in (PLAIN, CORRUGATED) for kind, sizes in table.items() for size in sizes}
    assert {(row["kind"], row["nominal"]) for row in IN_STOCK} == set(STRONG)


@named(ROWS)
def test_a_row_has_the_friction_that_is_designed_with(row):
    """Smooth plastic 0.011 and corrugated 0.017 by handbooks (0.018 from 8 in on), memory.

    Dual wall 0.012, a state highway manual, read.
    """
    large = row["kind"] == "pe_corr_single" and row["nominal"] in {"8 in", "10 in", "12 in"}
    usual = {"pe_corr_single": 0.018 if large else 0.017, "pe_corr_dual": 0.012}.get(row["kind"], 0.011)
    assert figure(row, "manning_n") == usual


@named(IN_STOCK)
def test_a_row_has_the_strength_of_its_kind(row):
    own = tuple(
        figure(row, name) for name in ("weight_lb_per_ft", "pipe_stiffness_psi", "EI_short_lb_in2", "EI_long_lb_in2")
    )
    assert own == STRONG[row["kind"], row["nominal"]]
    of_kind = ("E_short_psi", "E_long_psi", "ring_limit_pct", "EI_factor", "lay_length_ft", "joint_turn_deg")
    assert tuple(figure(row, name) for name in of_kind) == KIND[row["kind"]]


@named(IN_STOCK)
def test_a_bell_is_a_little_wider_than_its_pipe_and_a_pipe_displaces_what_it_fills(row):
    outside, inside = figure(row, "od_in"), figure(row, "id_in")
    assert 1.06 < figure(row, "bell_od_in") / outside < 1.22
    filled = {"pe_corr_single": (outside + inside) / 2, "pe_corr_dual": 0.95 * outside}.get(row["kind"], outside)
    assert figure(row, "displaced_dia_in") == pytest.approx(
        filled, abs=0.021 if row["kind"] == "pe_corr_dual" else 1e-9
    )
