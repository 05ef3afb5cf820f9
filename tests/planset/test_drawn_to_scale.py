"""Lengths measured on the PDF as printed.

In plan and profile they are those of plan.json at the scales written on the sheet.
"""

from __future__ import annotations

import json
import re

import pypdf
import pytest
from sheet_scales import POINT_MM, scale_errors

from siteplan.cli.main import main


@pytest.fixture(scope="module", params=["alder-court", "marsh-lane"])
def planned(request, sample_plan):
    folder = sample_plan(request.param).folder
    return folder, json.loads((folder / "plan.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    "paper", ["letter", "a3", *(pytest.param(one, marks=pytest.mark.slow) for one in ("tabloid", "a4"))]
)
def test_scale_is_true_in_plan_and_profile(planned, paper, tmp_path):
    folder, plan = planned
    out = tmp_path / "set.pdf"
    assert main(["sheets", str(folder), "--out", str(out), "--paper", paper, "--parts", "plan,profiles"]) == 0
    errors = scale_errors(out, plan, paper)
    assert errors.keys() >= {f"profile {one['id']}" for one in plan["lines"]}
    assert any(name.startswith("plan ") for name in errors)
    assert max(errors.values()) < 0.005, errors


def test_scale_bar_and_elevations_are_true(planned, tmp_path):
    """The figures at the bar and at the grid stand as far apart as the scale says.

    Who scales off a copy is not misled.
    """
    folder, plan = planned
    out = tmp_path / "set.pdf"
    assert main(["sheets", str(folder), "--out", str(out), "--scale", "1:300", "--parts", "profiles"]) == 0
    page = pypdf.PdfReader(out).pages[0]
    found = []
    page.extract_text(
        visitor_text=lambda text, cm, tm, font, size: found.append((text.strip(), cm[4] * POINT_MM, cm[5] * POINT_MM))
    )
    across, up = (int(one) for one in re.findall(r"1:(\d+)", page.extract_text())[:2])
    assert across == 300
    unit = {"ft": 0.3048, "m": 1.0}[plan["site"]["length_unit"]]
    levels = [(float(text), x, y) for text, x, y in found if re.fullmatch(r"\d+(\.\d+)?", text)]
    column = [(value, y) for value, x, y in levels if abs(x - min(x for _, x, _ in levels)) < 12.0 and value > 2.0]
    (low, y0), (high, y1) = min(column), max(column)
    assert high > low
    assert (y1 - y0) == pytest.approx((high - low) * unit * 1000.0 / up, rel=0.005)


def test_a_lot_larger_than_the_paper_goes_on_over_match_lines(planned, tmp_path, capsys):
    folder, _ = planned
    out = tmp_path / "set.pdf"
    assert main(["sheets", str(folder), "--out", str(out), "--paper", "a4", "--scale", "1:100", "--parts", "plan"]) == 0
    texts = [page.extract_text() for page in pypdf.PdfReader(out).pages]
    drawn = [text for text in texts if "Plan, part" in text]
    assert len(drawn) > 1
    assert all("match line: goes on on Plan, part" in text for text in drawn)
    capsys.readouterr()
    assert main(["sheets", str(folder), "--out", str(tmp_path / "no.pdf"), "--scale", "1:20"]) == 2
    said = capsys.readouterr().err
    assert "plan sheets at" in said
    assert "--scale 1:" in said
    assert not (tmp_path / "no.pdf").exists()
