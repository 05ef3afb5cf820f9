"""A line's three states, said the same on every sheet: sure, cannot tell, fails; with the chance beside it."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace

import pytest

from siteplan.sheets.map_page import map_page
from siteplan.sheets.plan_json import plan_json
from siteplan.sheets.schedule import trench_schedule
from siteplan.sheets.summary import summary


def with_chances(yard, falls, least, *, clean=True):
    """The yard with its branch's chances; its failing cover taken out, so that the chances decide."""
    plan, site = yard
    branch = replace(plan.lines[1], doubt=replace(plan.lines[1].doubt, chance_falls=falls, chance_min_grade=least))
    findings = tuple(f for f in plan.findings if not (clean and f.subject.startswith("L2")))
    return replace(plan, lines=(plan.lines[0], branch), findings=findings), site


def said_everywhere(plan, site):
    """What each sheet says of L2: plan.json, schedule, terminal, the map's label, style, card and article."""
    page = map_page(plan, site).decode()
    data = json.loads(re.search(r'id="plan-data">(.*?)</script>', page, re.DOTALL)[1])
    shown = next(line for line in data["lines"] if line["id"] == "L2")
    rows = csv.DictReader(io.StringIO(trench_schedule(plan).decode("utf-8-sig")))
    article = re.search(r'<article class="line">(?:(?!</h4>).)*<b>L2</b>.*?</h4>', page, re.DOTALL)[0]
    return {
        "json": next(line for line in json.loads(plan_json(plan, site))["lines"] if line["id"] == "L2")["state"],
        "schedule": {row["state"] for row in rows if row["line"] == "L2"},
        "terminal": next(line for line in summary(plan, site).splitlines() if line.startswith("L2")),
        "label": f"{shown['label']['en']} {shown['chance']['en']}",
        "layer": shown["layer"],
        "cards": [data["popups"]["line_touch"][1]["facts"][0][1]],
        "article": " ".join(re.sub(r"<[^>]+>", " ", article).split()),
        "head": re.search(r'<p class="verdict"[^>]*>(.*?)</p>', page)[1].replace("\u00a0", " "),
    }


def test_a_line_that_falls_with_a_third_of_a_chance_is_never_shown_as_drained(yard):
    told = said_everywhere(*with_chances(yard, 0.33, 0.05))
    assert told["json"] == "cannot-tell"
    assert told["schedule"] == {"cannot tell (falls: 35 %)"}
    assert told["terminal"].startswith("L2 cannot tell (falls: 35 %)")
    assert told["label"].startswith("L2 cannot tell")
    assert "falls: 35 %" in told["label"]
    assert told["layer"] == "line_unsure"
    assert told["cards"] == ["cannot tell (falls: 35 %)"]
    assert told["article"].endswith("cannot tell (falls: 35 %)")
    assert "1 cannot tell (falls: 35 %)" in told["head"]
    assert "drained" not in told["head"].replace("NOT DRAINED", "")


@pytest.mark.parametrize(
    ("falls", "least", "clean", "state", "chance"),
    [
        (0.999, 0.97, True, "sure", "falls: over 95 %"),
        (0.999, 0.62, True, "cannot-tell", "least grade: 60 %"),
        (0.94, 0.90, True, "cannot-tell", "falls: 95 %"),
        (0.02, 0.01, True, "fails", "falls: under 5 %"),
        (0.999, 0.97, False, "fails", "falls: over 95 %"),
    ],
)
def test_state_follows_findings_and_chances(yard, falls, least, clean, state, chance):
    plan, site = with_chances(yard, falls, least, clean=clean)
    told = said_everywhere(plan, site)
    assert told["json"] == state
    assert chance in told["terminal"]
    assert told["layer"] == {"sure": "line", "cannot-tell": "line_unsure", "fails": "line_fail"}[state]


def test_a_check_of_the_fall_inside_the_surveys_doubt_makes_a_line_one_that_cannot_be_told(yard):
    plan, site = with_chances(yard, 0.999, 0.97)
    doubtful = replace(yard[0].findings[3], rule="outlet-control", value=0.006, limit=0.0, unit="m", doubt=0.014)
    assert said_everywhere(replace(plan, findings=(*plan.findings, doubtful)), site)["json"] == "cannot-tell"
    clear = replace(doubtful, value=0.05)
    assert said_everywhere(replace(plan, findings=(*plan.findings, clear)), site)["json"] == "sure"
    elsewhere = replace(doubtful, rule="min-cover")  # cover stands on its least nearly everywhere by design
    assert said_everywhere(replace(plan, findings=(*plan.findings, elsewhere)), site)["json"] == "sure"


def test_chances_that_nobody_knows_are_not_taken_for_certainty(yard):
    plan, site = with_chances(yard, 1.0, 1.0)
    blind = replace(plan, lines=(plan.lines[0], replace(plan.lines[1], doubt=None)))
    told = said_everywhere(blind, site)
    assert told["json"] == "cannot-tell"
    assert "chance not known" in told["terminal"]


def test_line_styles_differ_in_more_than_colour():
    from siteplan.sheets.drawing import STYLES

    dashes = [STYLES[layer].dash for layer in ("line", "line_unsure", "line_fail")]
    assert len(set(dashes)) == 3
    assert dashes[0] == ""
