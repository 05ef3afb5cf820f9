"""docs/rules.md is made from the declarations and is not stale."""

from __future__ import annotations

import re
from pathlib import Path

from make_rules import rules_page

from siteplan.books.rules import RULES, SHEET, settings_keys
from siteplan.checks.judge import PARAMETERS

PAGE = Path(__file__).parents[2] / "docs" / "rules.md"


def test_page_is_not_stale():
    assert PAGE.read_text(encoding="utf-8") == rules_page(), "run: python docs/make_rules.py"


def test_page_tells_each_rule_once_with_its_keys_and_source():
    page = rules_page()
    assert re.findall(r"^### (\S+)$", page, re.MULTILINE) == [rule.id for rule in RULES]
    entries = dict(zip((rule.id for rule in RULES), page.split("\n### ")[1:], strict=True))
    for rule in RULES:
        assert ("none given" if rule.source == SHEET else rule.source) in entries[rule.id]
        assert rule.caution in entries[rule.id]
        assert all(f"`{key}`" in entries[rule.id] for key in settings_keys(rule))
    assert "- Limit: at least 12 in\n" in entries["min-cover"]
    assert "- When broken: fail\n" in entries["min-cover"]
    assert PARAMETERS["bedding"] in entries["bedding"]


def test_a_changed_declaration_makes_the_page_stale(monkeypatch):
    changed = tuple(rule._replace(limit=13.0) if rule.id == "min-cover" else rule for rule in RULES)
    monkeypatch.setattr("siteplan.books.rules.RULES", changed)
    assert PAGE.read_text(encoding="utf-8") != rules_page()
