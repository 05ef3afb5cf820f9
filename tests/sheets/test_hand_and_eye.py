"""The page in the hand: no number is torn, lines and utilities are there for thumb and key, what a person did stays."""

from __future__ import annotations

import re

import pytest

from siteplan.sheets.map_page import map_page

pytestmark = pytest.mark.browser
DESK = {"viewport": {"width": 1280, "height": 800}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}

# numbers with their unit in what is shown, each with how many lines it stands on
TORN = r"""() => {
  document.querySelectorAll('details').forEach(d => { d.open = true; });
  const torn = [];
  const walk = document.createTreeWalker(document.querySelector('aside.panel'), NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const text = walk.currentNode;
    for (const found of text.data.matchAll(/-?\d+[.\d+'"\u00a0\/-]*\d["%]?(?:\u00a0?(?:ft|in|m|mm|%))?(?![\w])/g)) {
      const range = document.createRange();
      range.setStart(text, found.index);
      range.setEnd(text, found.index + found[0].length);
      const lines = new Set([...range.getClientRects()].filter(r => r.width > 0).map(r => Math.round(r.top)));
      if (lines.size > 1) torn.push(found[0]);
    }
  }
  return torn;
}"""


@pytest.fixture(scope="module")
def shown(chromium, yard, tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "map.html"
    path.write_bytes(map_page(*yard))

    def opened(size, media="screen"):
        page = chromium.new_context(offline=True, **size).new_page()
        page.goto(path.as_uri())
        page.wait_for_timeout(150)
        page.emulate_media(media=media)
        # every part in one: what stands behind a tab is looked at as well
        page.evaluate("document.querySelectorAll('.part').forEach(p => { p.hidden = false; })")
        return page

    return opened


@pytest.mark.parametrize(
    ("size", "media"),
    [
        pytest.param(DESK, "screen", id="desk"),
        pytest.param(PHONE, "screen", id="phone"),
        pytest.param(DESK, "print", id="paper"),
    ],
)
def test_no_number_stands_on_two_lines(shown, size, media):
    page = shown(size, media)
    assert page.evaluate(TORN) == []
    if media == "screen":
        assert page.evaluate("document.documentElement.scrollWidth") <= size["viewport"]["width"]
    narrowest = page.evaluate(
        "Math.min(...[...document.querySelectorAll('.stakes .said td')].map(td => td.getBoundingClientRect().width))"
    )
    assert narrowest > 200  # words have a line of their own: never one letter under another


def test_a_stake_is_a_card_on_a_phone(shown):
    page = shown(PHONE)
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    card = page.locator(".stakes tbody").nth(1)
    assert card.bounding_box()["width"] > 300
    figures = [cell.bounding_box() for cell in card.locator("td[data-head]").all()]
    rows = {round(box["y"]) for box in figures}
    assert 1 < len(rows) < len(figures) - 1, (
        "the figures of a stake stand in a few rows, neither in one nor one under the other"
    )
    station = card.locator('td[data-head="Station"]').bounding_box()
    assert all(box["y"] > station["y"] for box in figures[1:]), "the station stands over its figures"
    heads = page.evaluate(
        "[...document.querySelectorAll('.stakes tbody')[1].querySelectorAll('td[data-head]')].map(td => "
        "getComputedStyle(td, '::before').content)"
    )
    assert heads == [
        '"Station"',
        '"Ground ft"',
        '"Invert ft"',
        '"Grade down %"',
        '"Cover ft"',
        '"Cut ft"',
        '"Cut ft-in"',
    ]


@pytest.mark.parametrize("size", [pytest.param(DESK, id="desk"), pytest.param(PHONE, id="phone")])
def test_lines_and_utilities_are_wide_enough_for_a_thumb_and_take_the_keyboard(shown, size):
    page = shown(size)
    strokes = page.eval_on_selector_all(
        "path.touch",
        (
            "all => all.map(p => [p.getAttribute('aria-label'), p.getAttribute('stroke-width'), p.tabIndex, "
            "p.getAttribute('role')])"
        ),
    )
    assert [name.split()[0] for name, *_ in strokes] == ["Gas", "L1", "L2"]
    assert all((float(wide), tab, role) == (44.0, 0, "button") for _, wide, tab, role in strokes)
    page.locator('path.touch[aria-label^="Gas"]').focus()
    page.keyboard.press("Enter")
    card = page.locator(".leaflet-popup-content")
    assert "depth NOT KNOWN" in card.inner_text()
    page.keyboard.press("Escape")
    page.wait_for_timeout(350)
    assert card.count() == 0
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "Gas"


def test_a_map_that_was_moved_keeps_its_zoom_when_the_window_changes(shown):
    page = shown(DESK)
    bar = page.locator(".scale span")
    before = bar.inner_text()
    for _ in range(4):
        page.locator(".leaflet-control-zoom-in").click()
        page.wait_for_timeout(350)
    near = bar.inner_text()
    assert near != before
    page.set_viewport_size({"width": 1100, "height": 700})
    page.wait_for_timeout(300)
    assert bar.inner_text() == near
    page.locator("button.home").click()
    assert bar.inner_text() != near


@pytest.mark.parametrize(
    "size",
    [
        pytest.param(DESK, id="desk"),
        pytest.param(PHONE, id="phone"),
        pytest.param(
            {"viewport": {"width": 844, "height": 390}, "has_touch": True, "is_mobile": True}, id="phone on its side"
        ),
    ],
)
def test_fit_lies_under_nothing(shown, size):
    page = shown(size)
    home = page.locator("button.home").bounding_box()
    top = page.evaluate(
        "([x, y]) => document.elementFromPoint(x, y).className",
        [home["x"] + home["width"] / 2, home["y"] + home["height"] / 2],
    )
    assert top == "home leaflet-control" or "home" in top
    for other in (".scale", "div.cursor-ground", ".leaflet-control-zoom"):
        box = page.locator(
            f".leaflet-control{other}" if not other.startswith("div") else "div.cursor-ground.leaflet-control"
        ).bounding_box()
        apart = (
            home["x"] >= box["x"] + box["width"]
            or box["x"] >= home["x"] + home["width"]
            or home["y"] >= box["y"] + box["height"]
            or box["y"] >= home["y"] + home["height"]
        )
        assert apart, other


def test_every_profile_prints_its_own_exaggeration(shown):
    page = shown(PHONE)
    for chart in page.locator("svg.chart").all():
        d = chart.evaluate("c => Object.assign({}, c.dataset)")
        across = (float(d["right"]) - float(d["left"])) / float(d["length"])
        up = (float(d["bottom"]) - float(d["top"])) / (float(d["high"]) - float(d["low"]))
        told = re.fullmatch(r"heights drawn ([\d.]+) times lengths", chart.locator("text.times").text_content())
        assert float(told[1]) == pytest.approx(up / across, abs=0.051)


@pytest.mark.parametrize("size", [pytest.param(DESK, id="desk"), pytest.param(PHONE, id="phone")])
def test_the_accessibility_engine_finds_nothing_serious_or_moderate(shown, size):
    from axe_playwright_python import sync_playwright as axe

    page = shown(size)
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    found = axe.Axe().run(page).response["violations"]
    assert [
        (one["id"], one["impact"], [n["target"] for n in one["nodes"]][:3])
        for one in found
        if one["impact"] in {"moderate", "serious", "critical"}
    ] == []
