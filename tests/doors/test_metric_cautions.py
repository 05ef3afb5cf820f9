"""What can hurt a crew is said in the site's own unit: cautions of the plan and hold points of the review."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from siteplan.cli.main import main

SAMPLES = Path(__file__).parents[2] / "sample_sites"
FEET = re.compile(r"\d\s*(ft|in)\b")
METRES = re.compile(r"\d\s*m\b")


@pytest.mark.parametrize(("name", "own", "other"), [("marsh-lane", METRES, FEET), ("long-meadow", FEET, METRES)])
def test_trench_depths_are_in_the_sites_unit(name, own, other, sample_plan, capsys):
    out = sample_plan(name).folder
    (trench,) = [
        text
        for text in json.loads((out / "plan.json").read_text(encoding="utf-8"))["cautions"]
        if text.startswith("Trench:")
    ]
    capsys.readouterr()
    main(["review", str(out), str(SAMPLES / name), "--json"])
    review = json.loads(capsys.readouterr().out)
    (hold,) = [text for text in review["hold_points"] if text.startswith("HOLD 2")]
    for text in (trench, hold):
        assert own.search(text)
        assert not other.search(text)
    # 29 CFR 1926.651(c)(2) and 1926.652(a)(1): 4 ft is 1.219 m and 5 ft is 1.524 m; never more than that
    depths = [float(number) for number in re.findall(r"(\d[\d.]*) m\b", trench)][:2]
    if depths:
        assert depths[0] <= 1.219
        assert depths[1] <= 1.524
    assert not [one for one in review["findings"] if one["rule"] == "sheet-text" and one["status"] == "fail"]
