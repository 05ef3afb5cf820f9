"""Printing the map page: the sheets to scale and nothing of the screen, a handful of pages.

Nothing that a user named acts in them.
"""

from __future__ import annotations

import itertools
import json
import math
import re
from xml.etree import ElementTree as ET

import pypdf
import pytest

from siteplan.offered import NAMES
from siteplan.sheets.folio import PLAN_FILES

SVG = "{http://www.w3.org/2000/svg}"
PEN = {"#0072b2", "#8a5a00"}  # of new lines, sure or not


@pytest.fixture(scope="module", params=["alder-court", "marsh-lane"])
def planned(request, sample_plan):
    folder = sample_plan(request.param).folder
    page = (folder / "map.html").read_text(encoding="utf-8")
    return json.loads((folder / "plan.json").read_text(encoding="utf-8")), page


def sheets(page):
    part = page[page.index('<div class="printed">') : page.index('<script type="application/json"')]
    return [ET.fromstring(one) for one in re.findall(r"<svg.*?</svg>", part, re.DOTALL)]


def spots(way):
    """Places of an SVG path of straight pieces, relative or not."""
    found, x, y = [], 0.0, 0.0
    for step, rest in re.findall(r"([MlhvLz])([^MlhvLz]*)", way):
        numbers = [float(one) for one in re.findall(r"-?(?:\d+\.?\d*|\.\d+)", rest)]
        match step:
            case "M" | "L":
                x, y = numbers
            case "l":
                x, y = x + numbers[0], y + numbers[1]
            case "h":
                x += numbers[0]
            case "v":
                y += numbers[0]
        if step == "M":
            found.append([])
        if step != "z":
            found[-1].append((x, y))
    return found


def test_the_page_carries_the_plan_to_scale(planned):
    plan, page = planned
    drawn = sheets(page)
    first = drawn[0]
    wide, high = (float(first.get(side).removesuffix("mm")) for side in ("width", "height"))
    assert [float(one) for one in first.get("viewBox", first.get("viewbox", "")).split()] == pytest.approx(
        [0, 0, wide, high]
    )
    ratio = int(re.search(r"1:(\d+)", "".join(first.itertext()))[1])
    runs = [
        run
        for path in first.iter("path")
        if path.get("stroke") in PEN and path.get("stroke-width") == ".8"
        for run in spots(path.get("d"))
    ]
    lengths = sorted(sum(math.dist(a, b) for a, b in itertools.pairwise(run)) for run in runs)
    lengths = [one for one in lengths if abs(one - 9.0) > 0.02]  # samples of the key
    true = sorted(line["length"] * 1000.0 / ratio for line in plan["lines"] if line["kind"] == "gravity")
    assert lengths == pytest.approx(true, rel=0.005, abs=0.05)


def test_the_drawing_names_what_the_plan_names(planned):
    plan, page = planned
    said = " ".join(" ".join(one.itertext()) for one in sheets(page))
    for source in plan["sources"]:
        assert source["name"] in said
    for line in plan["lines"]:
        assert f"Profile {line['id']}" in said or re.search(rf"Profiles [^<]*{line['id']}\b", said)
    for word in ("<script", "<foreignObject", "href", " on", "<style"):
        assert word not in page[page.index('<div class="printed">') : page.index("</svg>")].replace(" on ", " ")


def test_the_files_of_a_plan_folder_are_one_list():
    assert NAMES == PLAN_FILES


@pytest.mark.browser
def test_it_prints_the_sheets_and_nothing_of_the_screen(chromium, sample_plan, tmp_path):
    folder = sample_plan("marsh-lane").folder
    page, said = chromium.new_page(), []
    page.on("console", lambda message: said.append(message.text))
    page.goto((folder / "map.html").as_uri())
    assert not page.locator(".printed").is_visible()
    content = page.pdf(prefer_css_page_size=True)
    page.close()
    (tmp_path / "print.pdf").write_bytes(content)
    pages = pypdf.PdfReader(tmp_path / "print.pdf").pages
    assert said == []
    assert len(pages) == 4  # plan, two profiles, cautions
    assert float(pages[0].mediabox.width) * 25.4 / 72 == pytest.approx(297.0, abs=0.2)
    assert "Cautions" in pages[-1].extract_text()
    assert not any("Survey files" in one.extract_text() for one in pages)
