"""Roughness and material of pipe in the book against where they were taken from, in every row of a kind alike."""

from __future__ import annotations

import csv
from importlib.resources import files

import pytest

ROWS = list(csv.DictReader((files("siteplan.books") / "pipes.csv").read_text(encoding="utf-8").splitlines()))

# new: Austin Drainage Criteria Manual, table 5-2; range: Caltrans Highway Design Manual, table 851.2 (quoted); read.
# Aged is the top of the range. Plain wall
SMOOTH = {"n_new": 0.010, "n_aged": 0.013, "n_low": 0.010, "n_high": 0.013}
HELD = {
    "pvc_sch40": SMOOTH,
    "pvc_sdr35": SMOOTH,
    "pvc_thin": SMOOTH,
    "pvc_metric": SMOOTH,
    # new: ASAE EP260, tubing of 3 to 8 in; aged and range: Caltrans' 0.022, FHWA HDS-5 and HEC-22; memory
    "pe_corr_single": {"n_new": 0.015, "n_aged": 0.022, "n_low": 0.015, "n_high": 0.025},
    # Caltrans table 851.2 for dual-wall PE, read; the wider range FHWA HDS-5, memory
    "pe_corr_dual": {"n_new": 0.010, "n_aged": 0.013, "n_low": 0.009, "n_high": 0.015},
}


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['kind']} {row['nominal']}" for row in ROWS])
def test_a_row_has_the_roughness_of_its_kind(row):
    assert {name: float(row[name]) for name in SMOOTH} == HELD[row["kind"]]
    assert float(row["n_low"]) <= float(row["manning_n"]) <= float(row["n_high"])  # what a design takes lies between


# design stress of PVC 12454 and 12164 [psi]: ASTM D1785, hydrostatic design stress at 73 F; specific gravity by its
# cell class
# (read), of PE by ASTM F667 and AASHTO M252 (read); stress from memory
@pytest.mark.parametrize("row", ROWS, ids=[f"{row['kind']} {row['nominal']}" for row in ROWS])
def test_a_row_has_the_material_of_its_kind(row):
    plastic = row["kind"].split("_")[0]
    if row["specific_gravity"]:
        assert float(row["specific_gravity"]) == {"pvc": 1.40, "pe": 0.95}[plastic]
    if row["stress_limit_psi"]:
        assert (plastic, float(row["stress_limit_psi"])) == ("pvc", 2000)
