"""A plan that nobody touched: the review finds no fail that the plan does not state itself."""

from __future__ import annotations

import json

import pytest

from siteplan.cli.main import main
from siteplan.review.whole import review

LOTS = (
    4,
    13,
    34,
    47,
)  # others pass too; these differ in unit, frame, kind and size of pipe, one of them failed by its own rounding


@pytest.mark.parametrize("number", LOTS)
def test_a_review_of_an_untouched_plan_states_its_own_fails_and_no_other(honest, tmp_path, number):
    honest.honest_lot(tmp_path / "site", number)
    assert main(["plan", str(tmp_path / "site"), "--out", str(tmp_path / "plan")]) in {0, 1}
    record = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    assert record["lines"], "a lot without a line tries nothing"
    own = {(one["rule"], one["subject"], one["message"]) for one in record["checks"] if one["status"] == "fail"}
    found = review(tmp_path / "plan", tmp_path / "site").findings
    assert {(one.rule, one.subject, one.message) for one in found if one.status == "fail"} == own
    assert any(one.rule == "made-again" and one.status == "pass" for one in found)
