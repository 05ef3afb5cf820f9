"""Every kind is declared once and is known wherever kinds are told apart: drawing, style, pages, rules."""

from __future__ import annotations

from pathlib import Path

import pytest

from siteplan.books.kinds import OUTLETS, SHAPE_OF, SOURCES, TITLES, Kind
from siteplan.books.rules import RULES
from siteplan.sheets.drawing import LEGEND, SYMBOLS

ROOT = Path(__file__).parents[2]


def test_every_kind_has_one_shape_and_one_title():
    assert set(SHAPE_OF) == set(TITLES) == set(Kind)
    assert len(set(TITLES.values())) == len(TITLES)


@pytest.mark.parametrize("kind", [*SOURCES, *OUTLETS])
def test_a_source_or_an_outlet_can_be_drawn_and_read_of(kind):
    style = (ROOT / "siteplan/assets/page/page.css").read_text(encoding="utf-8")
    told = (ROOT / "docs/site-folder.md").read_text(encoding="utf-8")
    letters = [letter for name, (_, letter) in SYMBOLS.items() if name in SOURCES]
    assert kind in SYMBOLS
    assert kind in {key.style for key in LEGEND}
    assert f".symbol-{kind} path" in style
    assert kind in told
    assert len(set(letters)) == len(letters) == len(SOURCES)


def test_every_pair_of_a_source_and_an_outlet_has_a_rule_of_its_own():
    ids = {rule.id for rule in RULES}
    assert {"sump-to-curb", "inlet-to-daylight", "area-drain-to-curb", "area-drain-to-daylight"} <= ids
    assert sum(rule.dimension == "verdict" and "-to-" in rule.id for rule in RULES) == len(OUTLETS) * len(SOURCES)
