"""The whole judgement: order, sameness, words, arrows, and lines that cannot be walked."""

from __future__ import annotations

import ast
import math
from dataclasses import replace
from pathlib import Path

import pytest

import siteplan.checks
from siteplan.books.rules import RULES
from siteplan.checks.judge import findings

ROOM = Path(siteplan.checks.__file__).parent
ALLOWED = {"units", "errors", "values", "books", "optional", "site", "survey", "checks"}


def test_a_good_plan_has_no_failure_and_says_its_margins(scenes):
    heavy_end = [{"to": 4.6, "kind": "pvc_sch40"}, {"to": 99.0, "kind": "pvc_sdr35"}]
    plan, site = scenes.build(lines=[{**scenes.BASE["lines"][0], "reaches": heavy_end}])
    found = findings(plan, site)
    assert [one.rule for one in found if one.status == "fail"] == []
    assert [one.rule for one in found if one.status == "flag"] == ["cleanout-spacing"]
    for one in found:
        assert one.message
        assert one.subject.split(":")[0] in {"L1", "S1"}
        assert one.value is None or math.isfinite(one.value)
        assert (one.unit == "") == (one.value is None) or one.rule == "numbers-agree"


def test_findings_stand_in_the_order_of_the_rules(scenes):
    plan, site = scenes.build()
    place = {rule.id: number for number, rule in enumerate(RULES)}
    order = [place[one.rule] for one in findings(plan, site)]
    assert order == sorted(order)


def test_same_input_same_findings_and_nothing_is_read_from_old_ones(scenes):
    plan, site = scenes.build()
    first = findings(plan, site)
    assert findings(plan, site) == first
    assert findings(replace(plan, findings=first, reach_note=("x",)), site) == first


def test_words_are_in_the_users_unit(scenes):
    feet = findings(*scenes.build(unit="ft"))
    said = {one.rule: f"{one.where}: {one.message}" for one in feet}
    assert "20.5 in; at least 12.0 in asked, 8.5 in to spare" in said["min-cover"]
    assert "0.86 ft (0'-10 1/4\")" in said["outlet-control"]
    assert said["continuous-fall"].startswith(
        "station 0+00.0 to 0+98.4: falls all the way: 1.97 ft (1'-11 5/8\") in 98.4 ft"
    )
    assert not any(" mm" in text or " m;" in text for text in said.values())


@pytest.mark.parametrize(
    ("at", "to"),
    [
        ("lines.0.vertices.0.x", math.nan),
        ("lines.0.vertices.1.invert", math.inf),
        ("lines.0.vertices", ()),
        ("lines.0.end", "nowhere"),
        ("lines.0.end", "L1"),
        ("lines.0.start", "nobody"),
        ("outlets", ()),
        ("sources", ()),
        ("lines.0.rows", ()),
    ],
)
def test_a_nonsense_plan_fails_without_a_traceback(scenes, at, to):
    plan, site = scenes.build()
    found = findings(scenes.changed(plan, at, to=to), site)
    assert "fail" in {one.status for one in found}


def test_empty_plan_serves_nobody(scenes):
    plan, site = scenes.build(lines=[])
    assert [(one.rule, one.subject, one.status) for one in findings(plan, site)] == [("served", "S1", "fail")]


def test_a_drop_at_one_place_is_no_back_fall(scenes):
    path = [[10.0, 20.0], [25.0, 20.0], [25.0, 20.0], [40.0, 20.0]]
    plan, site = scenes.build(
        lines=[{"id": "L1", "start": "S1", "end": "O1", "path": path, "inverts": [9.91524, 10.06524, 10.2, 10.4]}]
    )
    found = findings(plan, site)
    assert [one.status for one in scenes.of_rule(found, "continuous-fall")] == ["pass"]
    assert [one.status for one in scenes.of_rule(found, "min-grade")] == ["pass"]
    up = scenes.changed(plan, "lines.0.vertices.2.invert", to=10.05)
    (back,) = [one for one in scenes.of_rule(findings(up, site), "continuous-fall") if one.status == "fail"]
    assert "steps up" in back.message


def test_names_are_carried_as_data(scenes):
    name = '<b onload="x">=1+1'
    plan, site = scenes.build(more=[{"kind": "tree", "name": name, "at": [20.0, 20.5]}])
    (found,) = scenes.of_rule(findings(plan, site), "clear-of-trees")
    assert name in found.message


def _imported(file: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text())):
        if isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
        elif isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
    return names


def test_the_room_shares_no_arithmetic_with_the_planner():
    for file in sorted(ROOM.glob("*.py")):
        for name in _imported(file):
            if name.startswith("siteplan."):
                assert name.split(".")[1] in ALLOWED, f"{file.name} imports {name}"
            assert name != "siteplan.site.heights", f"{file.name} reads the ground by the survey's own arithmetic"
            assert name != "siteplan.site.ground_near", f"{file.name} reads the ground by the survey's own arithmetic"
