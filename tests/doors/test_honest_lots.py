"""A plan that nobody touched: the review finds no fail that the plan does not state itself."""

from __future__ import annotations

import json

import pytest

from siteplan.review.whole import review

LOTS = (
    4,
    13,
    34,
    47,
)  # others pass too; these differ in unit, frame, kind and size of pipe, one of them failed by its own rounding


@pytest.mark.parametrize("number", [pytest.param(n, marks=pytest.mark.slow) if n == 34 else n for n in LOTS])
def test_a_review_of_an_untouched_plan_states_its_own_fails_and_no_other(planned_honest, number):
    lot = planned_honest(number)
    record = json.loads((lot.folder / "plan.json").read_text(encoding="utf-8"))
    assert record["lines"], "a lot without a line tries nothing"
    own = {(one["rule"], one["subject"], one["message"]) for one in record["checks"] if one["status"] == "fail"}
    found = review(lot.folder, lot.at).findings
    assert {(one.rule, one.subject, one.message) for one in found if one.status == "fail"} == own
    assert any(one.rule == "made-again" and one.status == "pass" for one in found)
