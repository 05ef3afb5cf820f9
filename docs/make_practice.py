"""Writes docs/practice.md from the book of practice; a test fails when the page is stale.

Python docs/make_practice.py.
"""  # noqa: INP001 - a script, no package

from __future__ import annotations

from pathlib import Path

from siteplan.books import practice
from siteplan.books.practice import Practice

PAGE = Path(__file__).with_name("practice.md")
_HEAD = """\
# Figures of practice

What the trade does, where no law and no setting of a site says otherwise. Each figure decides something, so it stands here
with its source; most have none in print, and say so. This page is made from `siteplan/books/practice.py`; run
`python docs/make_practice.py` after a change there. A test fails when the page is stale.

Limits that a site can change are rules: [rules.md](rules.md). How routes are ranked: [costs.md](costs.md). Tolerances of the
checks, and steps and bounds of a search, are no practice of the trade and stay in the code beside what they serve.

| figure | is | decides | source |
|---|---|---|---|
"""
_SHOWN = {"ft": "ft", "in": "in", "m": "m", "deg": "degrees", "min": "minutes", "ratio": ""}


def practice_page() -> str:
    """The page of figures, as Markdown."""
    held = {name: figure for name, figure in vars(practice).items() if isinstance(figure, Practice)}
    rows = [f"| `{name}` | {_figure(one)} | {one.decides} | {one.source} |" for name, one in held.items()]
    return _HEAD + "\n".join(rows) + "\n"


def _figure(one: Practice) -> str:
    metres = f" ({float(one):.3g} m)" if one.unit in {"ft", "in"} else ""
    return f"{one.typed:g} {_SHOWN[one.unit]}".strip() + metres


if __name__ == "__main__":
    PAGE.write_text(practice_page(), encoding="utf-8", newline="\n")
