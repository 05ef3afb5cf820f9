"""A lot's page stays under a megabyte, part by part, and what is packed for that is read back as it was."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from siteplan.sheets.packed import packed_heights
from siteplan.sheets.relief import PictureFrame, Relief

MEGABYTE = 1_000_000
PAGE = Path(__file__).parents[2] / "siteplan" / "assets" / "page"
# bytes that each part of a page may take: together less than the whole may
BUDGET = {
    "the map's library": 165_000,
    "scripts and styles of the page": 125_000,
    "what the scripts show": 180_000,
    "sheets to print": 155_000,
    "profiles": 95_000,
    "words": 275_000,
}


def parts_of(page):
    def taken(pattern):
        nonlocal page
        found = re.findall(pattern, page, re.DOTALL)
        page = re.sub(pattern, "", page, flags=re.DOTALL)
        return sum(len(one.encode()) for one in found)

    found = {"what the scripts show": taken(r'<script type="application/json".*?</script>')}
    library = taken(r"<script>/\* @preserve.*?</script>") + taken(r"<style>/\* required styles \*/.*?</style>")
    found["the map's library"] = library
    found["scripts and styles of the page"] = taken(r"<script>.*?</script>") + taken(r"<style>.*?</style>")
    found["sheets to print"] = taken(r'<svg width="[\d.]+mm".*?</svg>')
    found["profiles"] = taken(r'<svg class="chart .*?</svg>')
    found["words"] = len(page.encode())
    return found


@pytest.mark.parametrize(
    "name",
    [
        "alder-court",
        "marsh-lane",
        *(pytest.param(one, marks=pytest.mark.slow) for one in ("kiln-rise", "quince-terrace")),
    ],
)
def test_each_part_of_a_lots_page_keeps_to_its_budget(sample_plan, name):
    file = sample_plan(name).folder / "map.html"
    assert sum(BUDGET.values()) < MEGABYTE
    assert file.stat().st_size < MEGABYTE
    found = parts_of(file.read_text(encoding="utf-8"))
    assert min(found.values()) > 1000  # each part was found
    assert {part: size for part, size in found.items() if size > BUDGET[part]} == {}


def relief(z):
    rows, cols = z.shape
    return Relief(frame=PictureFrame(west=0, south=0, east=cols, north=rows), cell=1.0, z=z, smooth=z)


def rough(seed, holes):
    rng = np.random.default_rng(seed)
    z = rng.normal(0, 0.4, (17, 23)).cumsum(axis=1) + rng.normal(0, 40, (17, 1))  # steps beyond what one letter tells
    z[rng.random(z.shape) < holes] = np.nan
    return z


@pytest.mark.browser
def test_packed_heights_are_read_back_to_the_centimetre(chromium):
    page = chromium.new_page()
    page.add_script_tag(content=(PAGE / "heights.js").read_text(encoding="utf-8"))
    grids = [rough(1, 0.0), rough(2, 0.3), rough(3, 0.99), np.full((3, 4), np.nan), np.full((2, 2), 31.25)]
    for z in grids:
        told = packed_heights(relief(z))
        got = page.evaluate("told => Array.from(heightsOf(told), z => isNaN(z) ? null : z)", told)
        back = np.array([np.nan if one is None else one for one in got]).reshape(z.shape)
        assert (np.isnan(back) == np.isnan(z)).all()
        np.testing.assert_allclose(back, z, atol=told["step"] / 2 + 1e-4)
    page.close()


def test_even_ground_takes_a_letter_a_node():
    x, y = np.meshgrid(np.arange(200), np.arange(150))
    told = packed_heights(relief(100 - 0.013 * x + 0.02 * y + 0.4 * np.sin(x / 30)))
    assert len(told["data"]) <= 200 * 150 + 3
    assert not set(told["data"]) & set('"<>&\\')
