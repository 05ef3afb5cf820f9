"""Every kind and size of pipe on offer, the book's and a site's own.

Laid and reviewed, and no fail is found that the plan does not state.
"""

from __future__ import annotations

import json

import numpy as np
import pytest
from sites_builder import FEET, build, feature

from siteplan.books import pipes
from siteplan.cli.main import main
from siteplan.review.whole import review

OWN = """
[pipes.known]
kind = "pvc_sdr26"
title = "sewer-grade PVC, SDR 26"
like = "pvc_sdr35 4 in"
pipe_stiffness_psi = 115
source = "data sheet of 2024"

[pipes.between]
kind = "our_metric"
title = "smooth drain pipe"
like = "pvc_metric DN 110"
nominal = "DN 125"
od_mm = 125
id_mm = 117.6
wall_mm = 3.7
n_new = 0.0095
n_aged = 0.0125
source = "data sheet of 2024"

[pipes.wider]
kind = "our_metric"
title = "smooth drain pipe"
like = "pvc_metric DN 160"
source = "data sheet of 2024"

[pipes.instead]
like = "pvc_thin 4 in"
wall_in = 0.074
id_in = 4.067
source = "measured on the delivery"
"""
BOOK = [(row["kind"], row["nominal"], False) for row in pipes.rows()]
OURS = [
    ("pvc_sdr26", "4 in", True),
    ("our_metric", "DN 125", True),
    ("our_metric", "DN 160", True),
    ("pvc_thin", "4 in", True),
]
AGES = ("design", "new", "aged")


def heights(x, _):
    """A yard that falls 3 %, with a bank of a metre before the outlet [m]."""
    x = np.asarray(x, float)
    return 30 - 0.03 * x - np.clip((x - 17) / 4, 0, 1)


def tiny_lot(folder, number, kind, size, own):
    """A lot of one downspout and one short line under a drive, beside a wet place and over a gas main."""
    unit = "m" if size.startswith("DN") else ("ft", "us-ft")[number % 2]
    changes = {
        "water.pipe": f'"{kind}"',
        "water.smallest": f'"{size}"',
        "water.largest": f'"{size}"',
        "water.roughness": f'"{AGES[number % 3]}"',
    }
    drawn = [
        feature("lot", [(0, 0), (27, 0), (27, 14), (0, 14)], "Lot"),
        feature("building", [(2, 4), (8, 4), (8, 10), (2, 10)], "House"),
        feature("driveway", [(10, 0), (12.5, 0), (12.5, 14), (10, 14)], "Drive", vehicle="car"),
        feature("utility", [(14.5, -1), (14.5, 15)], "Main 1", service="gas"),
        feature("wet_area", [(15.5, 3), (17, 3), (17, 8), (15.5, 8)], "Soggy"),
        feature("downspout", (8.3, 5), "DS-1", roof_area=20 / FEET[unit] ** 2),
        feature("daylight_outlet", (22, 5.5), "Low corner"),
    ]
    site = build(
        folder,
        length_unit=unit,
        elevation_unit=unit,
        changes=changes,
        features=drawn,
        shape=(20, 30),
        bounds=tuple(v / FEET[unit] for v in (-1.5, -3.0, 28.5, 17.0)),
        heights=lambda x, y: heights(x, y) / FEET[unit],
    )
    if own:
        with (site / "site.toml").open("a", encoding="utf-8") as file:
            file.write(OWN)
    return site


@pytest.mark.parametrize(
    ("number", "kind", "size", "own"),
    [
        pytest.param(
            n,
            *one,
            id=f"{one[0]} {one[1]}{' own' if one[2] else ''}",
            marks=[pytest.mark.slow] if n % 2 and not one[2] else [],
        )
        for n, one in enumerate([*BOOK, *OURS])
    ],
)
def test_a_review_finds_no_fail_that_the_plan_does_not_state(tmp_path, capsys, number, kind, size, own):
    site, out = tiny_lot(tmp_path / "site", number, kind, size, own), tmp_path / "plan"
    assert main(["plan", str(site), "--out", str(out)]) in {0, 1}, capsys.readouterr().err
    record = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    laid = {(one["pipe"]["kind"], one["pipe"]["nominal"]) for one in record["lines"]}
    assert laid == {(kind, size)}
    of_book = pipes.found(kind, size)
    for one in record["lines"]:
        assert one["pipe"]["manning_n"] > 0
        if of_book is not None and not own:
            assert one["pipe"]["id_m"] == pytest.approx(of_book.bore, abs=1e-6)
    stated = {(one["rule"], one["subject"], one["message"]) for one in record["checks"] if one["status"] == "fail"}
    found = review(out, site).findings
    assert {(one.rule, one.subject, one.message) for one in found if one.status == "fail"} == stated
    assert any(one.rule == "made-again" and one.status == "pass" for one in found)
