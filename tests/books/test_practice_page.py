"""docs/practice.md is made from the book of practice, is not stale.

Also says for each figure what it decides and whence it is.
"""

from __future__ import annotations

from pathlib import Path

from make_practice import practice_page

from siteplan.books import practice
from siteplan.books.practice import Practice

REPO = Path(__file__).parents[2]


def test_the_page_is_not_stale():
    page = (REPO / "docs" / "practice.md").read_text(encoding="utf-8")
    assert page == practice_page(), "run: python docs/make_practice.py"


def test_every_figure_says_what_it_decides_and_whence_it_is():
    figures = [one for one in vars(practice).values() if isinstance(one, Practice)]
    assert len(figures) > 50
    for one in figures:
        assert len(one.decides) > 10, one
        assert any(word in one.source for word in (practice.TRADE, "memory", "read)", "book of")), (one, one.source)
        assert "|" not in one.decides + one.source


def test_a_reader_of_the_start_page_finds_it():
    assert "docs/practice.md" in (REPO / "README.md").read_text(encoding="utf-8")
