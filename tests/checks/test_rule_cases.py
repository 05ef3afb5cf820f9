"""Every rule's cases, which stand as data in tests/rules/<id>.toml."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from siteplan.books.rules import RULES
from siteplan.checks.judge import PARAMETERS, TABLE, findings

CASES = Path(__file__).parents[1] / "rules"
SPOKEN = {"pass", "flag", "fail", "cannot tell", "limit not known", "none"}


def _cases():
    for file in sorted(CASES.glob("*.toml")):
        for case in tomllib.loads(file.read_text())["case"]:
            yield pytest.param(file.stem, case, id=f"{file.stem}: {case['name']}")


def test_every_rule_is_checked_or_named_a_parameter():
    declared = {rule.id for rule in RULES}
    assert declared == set(TABLE) | set(PARAMETERS)
    assert not set(TABLE) & set(PARAMETERS)
    assert all(PARAMETERS.values())


def test_every_checked_rule_has_cases_kept_and_broken():
    for rule in RULES:
        if rule.id in PARAMETERS:
            continue
        file = CASES / f"{rule.id}.toml"
        assert file.exists(), f"{rule.id} has no cases"
        expected = {case["expect"] for case in tomllib.loads(file.read_text())["case"]}
        assert "pass" in expected, rule.id
        assert rule.broken in expected, rule.id
        assert expected <= SPOKEN, rule.id
    assert {file.stem for file in CASES.glob("*.toml")} <= set(TABLE)


@pytest.mark.parametrize(("rule", "case"), list(_cases()))
def test_case(scenes, rule, case):
    assert set(case) <= {
        "name",
        "expect",
        "scene",
        "subject",
        "message",
        "where",
        "count",
        "value",
        "digits",
        "limit",
        "also_clean",
    }
    plan, site = scenes.build(**case.get("scene", {}))
    found = findings(plan, site)
    mine = scenes.of_rule(found, rule, case.get("subject", ""))
    spoken = [scenes.said(one) for one in mine]
    told = "\n".join(f"{one.status} {one.subject} {one.where}: {one.message}" for one in mine)
    if case["expect"] == "none":
        assert not mine, told
        return
    assert mine, "the rule says nothing"
    if case["expect"] == "pass":
        assert set(spoken) == {"pass"}, told
    else:
        assert case["expect"] in spoken, told
        assert "fail" not in spoken or case["expect"] == "fail", told
    judged = next(one for one, word in zip(mine, spoken, strict=True) if word == case["expect"])
    assert case.get("message", "") in judged.message, told
    assert case.get("where", "") in judged.where, told
    if "count" in case:
        assert spoken.count(case["expect"]) == case["count"], told
    if "value" in case:
        assert round(judged.value, case.get("digits", 3)) == pytest.approx(case["value"]), told
    if "limit" in case:
        assert judged.limit == pytest.approx(case["limit"]), told
    if rule != "numbers-agree" and case.get("also_clean", True):
        off = [one.message for one in scenes.of_rule(found, "numbers-agree") if one.status != "pass"]
        assert not off, off
