"""The designer's walk as the page tells it: from the crew's file to a drawn lot, counted.

What the table saves is what the walk goes on with.
"""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "docs"
pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_the_table_saves_the_lot_of_the_walk(tmp_path, chromium, serve):
    import sys

    from siteplan.cli.main import main

    sys.path.insert(0, str(Path(__file__).parent))
    from hands import Hands

    assert main(["new", str(tmp_path / "lot-9"), "--points", str(DOCS / "walk-crew.csv"), "--unit", "ft"]) == 0
    with serve(tmp_path / "lot-9") as asking:
        context = chromium.new_context(viewport={"width": 1280, "height": 800})
        page = context.new_page()
        page.goto(asking.server.address)
        one = Hands(page)
        one.until(lambda held: held["version"] > 0)

        def fill(**fields):
            for name, value in fields.items():
                field = page.locator(f"#f-{name}")
                field.fill(value)
                field.press("Enter")
                one.actions += 1
                one.saved()

        one.click(page.get_by_role("button", name="Begin"))
        one.saved()
        one.click(page.locator("#confirm"))
        one.saved()
        for key, *entries in (("c", "1980, 4990", "130 E", ""), ("d", "2069, 4990", "12 x 70")):
            one.key(key)
            for entry in entries:
                one.type(entry)
        one.key("p")
        one.click(page.get_by_role("button", name="At 4 corners of House"))
        for kind, place, fields in (
            ("sump", "2045, 5086", {"pump_rate": "20"}),
            ("curb_outlet", "2050, 4990", {"invert": "98.21", "diameter_in": "4"}),
        ):
            one.click(page.locator(f"[data-kind={kind}]"))
            one.type(place)
            one.click(page.locator("#tab-properties"))
            fill(**fields)
        one.click(page.locator("#tab-site"))
        for title, fields in (
            ("Ground", {"ground-accuracy": "0.03"}),
            ("Rain", {"rainfall-intensity": "5", "rainfall-source": "invented, for this walk"}),
        ):
            one.click(page.locator(f"details[data-of={title}] > summary"))
            fill(**fields)
        one.saved()
        context.close()
    told = f"{one.actions} moves of a hand"
    assert told in (DOCS / "walk-designer.md").read_text(encoding="utf-8"), told
    ours, theirs = tmp_path / "lot-9", DOCS / "walk-lot"
    assert json.loads((ours / "features.geojson").read_text()) == json.loads((theirs / "features.geojson").read_text())
    assert tomllib.loads((ours / "site.toml").read_text()) == tomllib.loads((theirs / "site.toml").read_text())
    assert (ours / "shots.csv").read_bytes() == (theirs / "shots.csv").read_bytes()
