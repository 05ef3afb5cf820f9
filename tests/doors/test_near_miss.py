"""The best line to an outlet that no legal line reaches.

What plan.json says of it, against arithmetic of one's own, and where people see it.
"""

from __future__ import annotations

import itertools
import json
import math
import re
import shutil
from pathlib import Path

import pytest

from siteplan.cli.main import main

SITE = Path(__file__).parents[2] / "sample_sites" / "long-meadow"
LEAST_GRADE = 0.01  # of the site: the usual 1.00 %, common practice
COVER, RISE = (
    0.3048,
    0.341 * 0.3048,
)  # m: 1.00 ft over the top, which lies 0.341 ft over the invert (the common rules sheet)


@pytest.fixture
def made(plan_once):
    return plan_once(SITE)


@pytest.fixture
def record(made):
    return json.loads((made.folder / "plan.json").read_text("utf-8"))


def test_each_source_without_a_line_has_its_best_line_drawn(record):
    assert record["lines"] == []
    tried = {one["source"]: one for one in record["attempts"]}
    assert set(tried) == {one["id"] for one in record["sources"]}
    for one in tried.values():
        assert one["line"]["legal"] is False
        places = one["line"]["stations"]
        source = next(each for each in record["sources"] if each["id"] == one["source"])
        outlet = next(each for each in record["outlets"] if each["id"] == one["outlet"])
        assert math.dist((places[0]["x"], places[0]["y"]), (outlet["x"], outlet["y"])) < 1e-3
        assert math.dist((places[-1]["x"], places[-1]["y"]), (source["x"], source["y"])) < 1e-3


def test_it_falls_to_the_outlet_and_is_short_by_what_is_said(record):
    """Length by coordinates, fall by inverts; at the source the highest legal invert by hand.

    Ground less cover less pipe.
    """
    for one in record["attempts"]:
        places = one["line"]["stations"]
        outlet = next(each for each in record["outlets"] if each["id"] == one["outlet"])
        run = sum(math.dist((a["x"], a["y"]), (b["x"], b["y"])) for a, b in itertools.pairwise(places))
        assert run == pytest.approx(one["line"]["length"], abs=1e-3)
        assert places[0]["invert"] >= outlet["control"] - 1e-6
        for a, b in itertools.pairwise(places):
            assert b["invert"] - a["invert"] >= LEAST_GRADE * (b["station"] - a["station"]) - 1e-5
        top = places[-1]["ground"] - COVER - RISE
        assert places[-1]["short"] == pytest.approx(places[-1]["invert"] - top, abs=2e-3)
        assert max(place["short"] for place in places) == pytest.approx(one["short_by"], abs=2e-6)


@pytest.mark.parametrize("name", ["long-meadow", "marsh-lane"])
def test_a_shortage_has_one_figure_wherever_it_is_told(name, sample_plan):
    """A headline said 0.039 m, along one way, and the sentence under it 0.045 m, along another."""
    said = " ".join(sample_plan(name).said.split())
    shortages = re.findall(r"(?:short of fall|too deep) by (\S+ \S+?)(?: \([^)]*\))?[: ]", said)
    drawn = re.findall(r"it lies (\S+ \S+?)(?: \([^)]*\))? higher than the cover or the start allows", said)
    assert drawn
    assert len(drawn) == said.count("Best line: NOT LEGAL")
    assert set(drawn) <= set(shortages)


def test_people_see_it_and_that_it_is_not_legal(made):
    assert "Best line: NOT LEGAL, drawn dashed" in " ".join(made.said.split())
    page = (made.folder / "map.html").read_text("utf-8")
    assert "Best attempts, not legal" in page
    assert 'aria-label="Profile of a line that is not legal"' in page
    assert "NOT LEGAL" not in (made.folder / "trench_schedule.csv").read_text("utf-8")


def test_a_cure_is_proven_by_laying_it_out(record):
    for one in record["attempts"]:
        laid = [cure for cure in one["cures"] if cure["kind"] != "lift"]
        assert laid
        assert all(cure["proven"] and cure["spare"] is not None and cure["spare"] >= 0 for cure in laid)


def test_an_edited_attempt_is_found(made, tmp_path, capsys):
    edited = shutil.copytree(made.folder, tmp_path / "plan")
    record = json.loads((edited / "plan.json").read_text("utf-8"))
    record["attempts"][0]["line"]["stations"][-1]["short"] = 0.0
    (edited / "plan.json").write_text(json.dumps(record), "utf-8")
    assert main(["review", str(edited), str(SITE)]) == 1
    assert "made again" in " ".join(capsys.readouterr().out.split())
