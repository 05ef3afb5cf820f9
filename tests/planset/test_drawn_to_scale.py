"""Lengths measured on the PDF as printed: in plan and profile they are those of plan.json at the scales written on the sheet."""

from __future__ import annotations

import itertools
import json
import math
import re

import pypdf
import pytest
from pypdf.generic import ContentStream

from siteplan.cli.main import main

POINT_MM = 25.4 / 72.0
PAPERS = {"letter": (279.4, 215.9), "tabloid": (431.8, 279.4), "a4": (297.0, 210.0), "a3": (420.0, 297.0)}
BLUE = (0.0, 0.447, 0.698)  # of new lines


def strokes(page):
    """Stroked paths of a page in millimetres: colour, width, points. reportlab draws paths in page coordinates."""
    color, width, path, held, found = (0.0, 0.0, 0.0), 1.0, [], [], []
    for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
        match operator:
            case b"RG":
                color = tuple(float(v) for v in operands)
            case b"w":
                width = float(operands[0])
            case b"q":
                held.append((color, width))
            case b"Q":
                color, width = held.pop()
            case b"m" | b"l":
                path.append((float(operands[0]) * POINT_MM, float(operands[1]) * POINT_MM))
            case b"S" | b"s":
                found.append((color, width * POINT_MM, path))
                path = []
            case b"n" | b"f" | b"f*" | b"B" | b"B*" | b"b" | b"b*":
                path = []
    return found


def of_blue(page, width):
    return [
        points
        for color, wide, points in strokes(page)
        if all(abs(a - b) < 0.01 for a, b in zip(color, BLUE, strict=True)) and abs(wide - width) < 0.01
    ]


def profiled(text):
    found = re.search(r"Profiles? ([^\n]*)", text)
    return re.findall(r"[LP]\d+", found[1]) if found and "notes" not in found[1] else []


def length(points):
    return sum(math.dist(a, b) for a, b in itertools.pairwise(points))


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
    reader = pypdf.PdfReader(out)
    lines = {one["id"]: one for one in plan["lines"]}
    seen = set()
    for page in reader.pages:
        size = sorted((float(page.mediabox.width) * POINT_MM, float(page.mediabox.height) * POINT_MM), reverse=True)
        assert size == pytest.approx(PAPERS[paper], abs=0.1)
        text = page.extract_text()
        ratios = [int(found) for found in re.findall(r"1:(\d+)", text)]
        if "Profile" not in text and ratios:
            assert ratios[0] in {120, 240, 360, 480, 100, 200, 250, 500}
            drawn = sorted(length(run) for run in of_blue(page, 0.8))
            drawn = [one for one in drawn if abs(one - 9.0) > 1e-3]  # samples of the key
            sure = [one for one in lines.values() if one["state"] == "sure" and one["kind"] == "gravity"]
            true = sorted(one["length"] * 1000.0 / ratios[0] for one in sure)
            assert drawn == pytest.approx(true, rel=0.005, abs=0.02)
            seen.add("plan")
        for name in profiled(text):
            across, up = ratios[:2]
            vertices = lines[name]["vertices"]
            wide = (vertices[-1]["station"] - vertices[0]["station"]) * 1000.0 / across
            high = (vertices[-1]["invert"] - vertices[0]["invert"]) * 1000.0 / up
            # the invert is drawn piece by piece between corners and changes of pipe: ends of it are looked for
            ends = [spot for run in of_blue(page, 0.35) for spot in run]
            assert any(
                abs(b[0] - a[0] - wide) < 0.005 * wide and abs(b[1] - a[1] - high) < 0.005 * high + 0.01
                for a in ends
                for b in ends
            ), (name, wide, high)
            seen.add(name)
    assert seen >= {"plan", *lines}


def test_scale_bar_and_elevations_are_true(planned, tmp_path):
    """The figures at the bar and at the grid stand as far apart as the scale says: who scales off a copy is not misled."""
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
