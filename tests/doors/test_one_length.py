"""How far water runs before it meets a thing: worked out twice, told as one figure."""

from __future__ import annotations

import re

import pytest

from siteplan.units import length_text

CALLED = {
    "a foundation": "foundation",
    "the sump it came from": "own sump",
    "a neighbour's land": "neighbour",
    "a walk": "walk",
    "the lot line": "lot line",
    "the curb": "curb",
    "an easement": "easement",
}
FINDING = re.compile(rf"({'|'.join(CALLED)}) after ([\d.]+ \w+)")


@pytest.mark.parametrize("name", ["alder-court", "marsh-lane"])
def test_a_finding_and_the_panel_tell_one_length(sample_plan, name):
    plan = sample_plan(name).plan
    shown = {one.line: one for one in plan.water.blocked}
    compared = 0
    for finding in (one for one in plan.findings if one.rule == "overflow-path" and one.subject.endswith(":blocked")):
        blocked = shown[finding.subject.partition(":")[0]]
        for words, far in FINDING.findall(finding.message):
            at = [met.distance for met in blocked.meets if met.kind == CALLED[words]]
            assert far in [length_text(distance, plan.length_unit, 1) for distance in at]
            assert far in blocked.statement
            compared += 1
    assert compared >= 2
