"""docs/plan-json.md names every key that a plan writes, and no other."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

pytestmark = pytest.mark.usefixtures("usual_layouts")

REPO = Path(__file__).parents[2]


def keys(value, found):
    if isinstance(value, dict):
        for key, held in value.items():
            found.add(key)
            keys(held, found)
    elif isinstance(value, list):
        for held in value:
            keys(held, found)
    return found


def test_the_page_and_the_file_agree(sample_plan, plan_once, even_ground, tmp_path):
    written = set()
    drawn = even_ground.site_folder(
        tmp_path / "drawn",
        [
            even_ground.point("downspout", "DS", 48.0, 12.0, roof_area=40.0),
            even_ground.point("tie_in", "Old", 6.0, 12.0, invert=99.2, diameter_mm=150, takes_lps=5),
            even_ground.drain([(48.0, 12.0), (6.0, 12.0)], start="DS", end="Old", grade_percent=0.5),
        ],
    )  # a line of one's own that breaks a rule, so that what mends it is told
    keys(json.loads((plan_once(drawn).folder / "plan.json").read_text(encoding="utf-8")), written)
    for name in ("alder-court", "kiln-rise", "marsh-lane", "long-meadow"):
        keys(json.loads((sample_plan(name).folder / "plan.json").read_text(encoding="utf-8")), written)
    page = (REPO / "docs" / "plan-json.md").read_text(encoding="utf-8")
    told = set(re.findall(r"`(?:[a-z_]+(?:\[\])?\.)*([a-z_0-9]+)`", page))
    assert sorted(written - told) == []
    words = {
        "asked",
        "laid",
        "siteplan",
        "null",
        "sure",
        "fails",
        "pass",
        "flag",
        "fail",
        "_s",
        "gravity",
        "pressure",
        "same",
        "unserved",
        "drawn",
        "fault",
        # what a margin was short of, why sources share a line, when a search stopped
        "fall",
        "flow",
        "depth",
        "price",
        "crossing",
        "grades",
        "cheaper",
        "holes",
        "time",
    }
    assert sorted(told - written - words) == []
