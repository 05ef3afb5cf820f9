"""What a plan's own figures may differ by before the review says that they do not follow.

Just inside passes, just outside fails.
"""

from __future__ import annotations

import importlib.util
import itertools
import math
import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from siteplan.books.rules import rule_book
from siteplan.review.against_site import _verdict_differs, rule_findings
from siteplan.review.numbers_of import arithmetic
from siteplan.review.reviewed import made_or_why
from siteplan.review.same_files import _rows_differ, text_findings
from siteplan.sheets.caution_words import cautions
from siteplan.sheets.plan_json import rule_record
from siteplan.stored.folder_of import StoredPlan
from siteplan.values.quantities_taken import Quantity

_spec = importlib.util.spec_from_file_location("checks_scenes", Path(__file__).parents[1] / "checks" / "scenes.py")
scenes = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(scenes)

LINE = {
    "id": "L1",
    "start": "S1",
    "end": "O1",
    "path": [[10.0, 20.0], [25.0, 20.0], [40.0, 20.0]],
    "grade": 0.02,
    "reaches": [],
    "rows": [5.0, 10.0, 20.0],
}


def told(at, by):
    plan, _ = scenes.build(lines=[LINE])
    if at:
        plan = scenes.changed(plan, at, by=by)
    return [
        one for one in arithmetic(StoredPlan(plan=plan, record={"lines": []}, folder=Path())) if one.status == "fail"
    ]


def test_the_plan_itself_follows():
    assert told("", 0.0) == []


@pytest.mark.parametrize(
    ("at", "inside", "outside", "words"),
    [
        # two hundredths of a metre, 0.07 ft: rods are read to 0.01 ft and grounds to 0.1 ft. Common practice, no source
        ("lines.0.rows.2.cover", 0.018, 0.022, "cover"),
        ("lines.0.rows.2.cover", -0.018, -0.022, "cover"),
        ("lines.0.rows.2.cut", 0.018, 0.022, "trench bottom"),
        ("lines.0.rows.2.cut", -0.018, -0.022, "trench bottom"),
        # a fifth of a millimetre: plan.json writes a micrometre. Ours
        ("lines.0.rows.2.invert", 0.0001, 0.0003, "invert"),
        # two hundredths of a percent: the last printed digit of a grade is one. Ours
        ("lines.0.rows.2.grade", 0.00015, 0.00025, "grade"),
        ("lines.0.rows.2.grade", -0.00015, -0.00025, "grade"),
    ],
)
def test_a_figure_in_the_schedule(at, inside, outside, words):
    assert told(at, inside) == []
    found = told(at, outside)
    assert found
    assert any(words in one.message for one in found)


def joined(away, under):
    """A branch that ends so far from the trunk's vertex at 25 m, and so far under its invert."""
    branch = {
        "id": "L2",
        "start": "S2",
        "end": "L1",
        "path": [[25.0 + away, 20.0], [25.0 + away, 25.0]],
        "grade": 0.02,
        "lift": -under,
        "reaches": [],
    }
    sources = [
        {"id": "S1", "kind": "downspout", "name": "DS-1", "at": [40.0, 20.0], "roof_area": 50.0},
        {"id": "S2", "kind": "downspout", "name": "DS-2", "at": [25.0, 25.0], "roof_area": 50.0},
    ]
    plan, _ = scenes.build(lines=[LINE, branch], sources=sources)
    found = arithmetic(StoredPlan(plan=plan, record={"lines": []}, folder=Path()))
    return [one.message for one in found if one.subject == "L2" and one.status == "fail"]


def test_a_branch_meets_its_trunk_to_a_centimetre_and_not_below_its_invert():
    """A wye's ends are drawn to a centimetre: common practice, no source. Water does not run up.

    Its invert is not under the trunk's.
    """
    assert joined(0.008, 0.0) == []
    assert "from the nearest vertex of L1" in " ".join(joined(0.012, 0.0))
    assert joined(0.0, 0.0001) == []
    assert "below its invert" in " ".join(joined(0.0, 0.0003))


WIDTH = 0.3048


def amounts(**off):
    """What is told of a line of 30 m that rises 0.6 m, each amount off by so much."""
    plan, _ = scenes.build(lines=[LINE])
    rows = plan.lines[0].rows
    # a trench a foot wide, as deep between two stakes as the mean of their cuts
    dug = WIDTH * sum((a.cut + b.cut) / 2 * (b.station - a.station) for a, b in itertools.pairwise(rows))
    true = {
        "pipe": (math.hypot(30.0, 0.6), "m"),
        "excavation": (dug, "m3"),
        "backfill": (0.8 * dug, "m3"),
        "spoil": (0.2 * dug, "m3"),
    }
    told = tuple(
        Quantity(what=what, kind="4 in" if what == "pipe" else "", amount=amount + off.get(what, 0.0), unit=unit)
        for what, (amount, unit) in true.items()
    )
    record = {"lines": [], "rules": [{"id": "trench-width", "limit": WIDTH}]}
    found = arithmetic(StoredPlan(plan=replace(plan, quantities=told), record=record, folder=Path()))
    return dug, [one.message for one in found if one.subject == "quantities" and one.status == "fail"]


def test_amounts_that_follow_are_passed():
    dug, found = amounts()
    assert dug > 5
    assert found == []


@pytest.mark.parametrize(
    ("off", "words"),
    [
        # each kind of pipe is rounded to a millimetre up and down: two of them
        ({"pipe": 0.0018}, ""),
        ({"pipe": 0.0022}, "of pipe are listed"),
        ({"pipe": -0.0022}, "of pipe are listed"),
        # a thousandth of a cubic metre each way for three volumes, and two parts in a thousand of what is dug
        ({"backfill": 0.0038}, ""),
        ({"backfill": 0.0042}, "go back"),
        ({"spoil": -0.0042}, "are left over"),
    ],
)
def test_pipe_and_earth_that_are_paid_for_follow_from_the_lines(off, words):
    _, found = amounts(**off)
    assert any(words in one for one in found) if words else found == []


@pytest.mark.parametrize(("share", "wrong"), [(0.0018, False), (0.0025, True), (-0.0018, False), (-0.0025, True)])
def test_what_is_dug_is_the_trench_to_two_parts_in_a_thousand(share, wrong):
    dug, _ = amounts()
    by = share * (1 + dug)
    _, found = amounts(excavation=by, backfill=0.8 * by, spoil=0.2 * by)
    assert any("the schedule's depths give" in one for one in found) == wrong


LONG = "a" * 300


def test_a_strangers_fault_is_told_by_two_hundred_letters_at_most():
    def breaks():
        raise ValueError(LONG)

    value, why = made_or_why(breaks)
    assert value is None
    assert why == f"ValueError: {LONG}"[:200]


def test_texts_of_an_edited_plan_are_quoted_by_their_beginning():
    """Whoever edits a plan may write a book into it: what differs is told by 60 letters, a rule's words by 80."""
    rules = rule_book({})
    plan, site = scenes.build()
    rows = [rule_record(entry) | {"id": name} for name, entry in rules.items()]
    rows[0] = {**rows[0], "title": LONG}
    rows[1] = {**rows[1], "limit": LONG, "unit": LONG}
    found = rule_findings(StoredPlan(plan=plan, record={"rules": rows}, folder=Path()), replace(site, rules=rules))
    told = {(one.subject, one.message.partition(" ")[0]): one.message for one in found if one.status == "fail"}
    names = list(rules)
    runs = {key: [len(run) for run in re.findall("a{15,}", message)] for key, message in told.items()}
    assert runs == {(names[0], "title"): [80], (names[1], "limit"): [60, 20], (names[1], "unit"): [80]}
    (row,) = _rows_differ([["line", "cut"], ["L1", LONG]], [["line", "cut"], ["L1", LONG.replace("a", "b")]])
    assert [len(run) for run in re.findall("a{5,}|b{5,}", row[2])] == [60, 60]
    stated = SimpleNamespace(status="fail", message=LONG)
    assert re.findall("a{15,}", _verdict_differs(stated, None)) == ["a" * 100]


def test_words_taken_out_of_a_sheet_are_told_by_their_beginning():
    plan, _ = scenes.build()
    edited = replace(plan, cautions=("b" * 300,), assumptions=("c" * 300,) * 2)
    found = text_findings(StoredPlan(plan=edited, record={}, folder=Path()), None)
    told = [one.message for one in itertools.takewhile(lambda one: one.rule == "sheet-text", found)]
    gone = [message.partition("edited: ")[2] for message in told if message.startswith("a caution was taken out")]
    ours = cautions(plan.length_unit, pumped=False)
    assert gone == [caution[:90] for caution in ours]
    assert max(map(len, ours)) > 90
    assert "a caution that is not ours: " + "b" * 90 in told
    assert "an assumption stands twice: " + "c" * 120 in told
