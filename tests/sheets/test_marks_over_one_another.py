"""Where a shot is wanted at an outlet, the outlet takes the click."""

from pathlib import Path

import pytest

SITE = Path(__file__).parents[2] / "sample_sites" / "marsh-lane"
UNDER = """
([x, y]) => { const marker = document.elementFromPoint(x, y).closest('.leaflet-marker-icon'); return marker && (marker.getAttribute('aria-label') || marker.title); }
"""


@pytest.mark.browser
def test_an_outlet_lies_over_the_shot_that_is_wanted_there(chromium, plan_once):
    made = plan_once(SITE)
    page = chromium.new_page(viewport={"width": 1280, "height": 800})
    page.goto((made.folder / "map.html").as_uri())
    page.wait_for_timeout(500)
    names = page.eval_on_selector_all(
        ".leaflet-marker-icon",
        (
            "all => all.map(m => { const b = m.getBoundingClientRect(); return [m.getAttribute('aria-label') || "
            "m.title, b.x + b.width / 2, b.y + b.height / 2]; })"
        ),
    )
    wanted = [(x, y) for name, x, y in names if name and "wanted" in name.lower()]
    (place,) = [(x, y) for name, x, y in names if name and name.startswith("Kerb hole")]
    assert any(abs(x - place[0]) < 8 and abs(y - place[1]) < 8 for x, y in wanted), "a shot is wanted at the outlet"
    assert page.evaluate(UNDER, list(place)).startswith("Kerb hole")
    page.close()
