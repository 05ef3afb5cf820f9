"""The words of doubt: never a certainty, and the shots wanted where a person reads them."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest

from siteplan.sheets.doubt_words import (
    brief_text,
    chance_text,
    doubt_record,
    shots_wanted_words,
    spare_fact,
    sure_text,
    wanted_line,
    wanted_texts,
)
from siteplan.sheets.plan_json import plan_json
from siteplan.sheets.summary import summary
from siteplan.values.forecasts import LineDoubt, WantedShot


def doubt(chance=0.42):
    shots = (
        WantedShot(x=6.096, y=15.24, place="ground at station 0+15.0", chance_min_grade=0.83, fall=0.006),
        WantedShot(
            x=9.144, y=15.24, place="outlet <b>Curb</b>: what its invert hangs on", chance_min_grade=0.9, fall=0.004
        ),
    )
    return LineDoubt(
        fall=0.03,
        ends=0.02,
        grade=0.0011,
        chance_min_grade=chance,
        chance_falls=0.97,
        method="simulation",
        shots_wanted=shots,
    )


@pytest.mark.parametrize(
    ("chance", "text"),
    [
        (1.0, "over 95 %"),
        (0.95, "over 95 %"),
        (0.949, "95 %"),
        (0.87, "85 %"),
        (0.5, "50 %"),
        (0.05, "5 %"),
        (0.004, "under 5 %"),
        (0.0, "under 5 %"),
    ],
)
def test_chances_are_never_certain(chance, text):
    assert chance_text(chance) == text


def test_sentences():
    assert (
        sure_text(doubt()) == "chance that it holds its least grade everywhere 40 %, that it falls everywhere over 95 %"
    )
    assert brief_text(doubt()) == "Chance to hold its least grade: 40 %; to fall everywhere: over 95 %"


def test_a_spare_is_said_with_its_doubt_and_never_as_nought(yard):
    line = yard[0].lines[0]
    said = [
        spare_fact(replace(line, spare=spare, doubt=known), "m")[1]
        for spare in (0.128, 0.0002, 0.0, -0.0002, -0.03, math.nan)
        for known in (None, doubt())
    ]
    assert said == [
        "0.128 m of fall to spare",
        "0.128 m of fall to spare, doubt +-0.030 m",
        "no fall to spare",
        "no fall to spare, doubt +-0.030 m",
        "no fall to spare",
        "no fall to spare, doubt +-0.030 m",
        "short of fall by less than 0.001 m",
        "short of fall by less than 0.001 m, doubt +-0.030 m",
        "short of fall by 0.030 m",
        "short of fall by 0.030 m, doubt +-0.030 m",
        "fall to spare not known",
        "fall to spare not known",
    ]


def doubtful(plan, chances):
    lines = tuple(replace(line, doubt=doubt(chance)) for line, chance in zip(plan.lines, chances, strict=False))
    return replace(plan, lines=(*lines, *plan.lines[len(lines) :]))


def test_wanted_where_it_is_read(yard):
    plan, site = yard
    told = doubtful(plan, [0.42])
    assert wanted_texts(told.lines[0])[0] == "ground at station 0+15.0: 85 % if it bears the survey out"
    assert next(shot.place for _, shot in shots_wanted_words(told)) == "ground at station 0+15.0"
    screen = summary(told, site)
    assert "Chance to hold its least grade: 40 %; to fall everywhere: over 95 %" in screen
    assert "Shots wanted (EPSG:32616, m): " in screen
    assert wanted_line(told).startswith(
        f"Shots wanted (EPSG:32616, m): {told.lines[0].id} ground at station 0+15.0 (N "
    )
    record = json.loads(plan_json(told, site))
    assert record["lines"][0]["doubt"]["chance_min_grade"] == 0.42
    assert record["lines"][0]["doubt"]["grade_percent"] == pytest.approx(0.11)
    assert record["shots_wanted"][0] == {
        "line": told.lines[0].id,
        "x": 6.096,
        "y": 15.24,
        "place": "ground at station 0+15.0",
    }


def test_a_sure_line_wants_nothing(yard):
    plan, site = yard
    told = doubtful(plan, [0.995] * len(plan.lines))
    assert wanted_line(told) == ""
    assert "Shots wanted" not in summary(told, site)


def test_no_doubt_no_record():
    assert doubt_record(None) is None
