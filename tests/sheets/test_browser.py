"""The page in a real browser with no network: quiet, whole, readable on a desk and on a phone, deaf to names.

Controls that must fail stand beside the claims: a picture from outside is noticed, a script that somebody added is
refused, and without the page's policy the same script would have run.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from siteplan.sheets.map_page import map_page

pytestmark = pytest.mark.browser
DESK = {"viewport": {"width": 1280, "height": 800}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}
SIZES = [pytest.param(DESK, id="1280x800"), pytest.param(PHONE, id="390x844")]


@dataclass
class Seen:
    """What a page asked for and said."""

    page: object
    requests: list = field(default_factory=list)
    said: list = field(default_factory=list)


@pytest.fixture
def show(chromium, tmp_path):
    contexts = []

    def shown(content, size=DESK, **more):
        path = tmp_path / f"page{len(contexts)}.html"
        path.write_bytes(content)
        context = chromium.new_context(offline=True, **size, **more)
        contexts.append(context)
        seen = Seen(page=context.new_page())
        seen.page.on("request", lambda request: seen.requests.append(request.url))
        seen.page.on("console", lambda message: seen.said.append(f"{message.type}: {message.text}"))
        seen.page.on("pageerror", lambda error: seen.said.append(f"error: {error}"))
        seen.page.add_init_script("window.alert = function () { window.ran = true; }")
        seen.page.goto(path.as_uri())
        seen.page.wait_for_timeout(150)
        seen.requests = [url for url in seen.requests if url != path.as_uri() and not url.startswith("data:")]
        return seen

    yield shown
    for context in contexts:
        context.close()


@pytest.fixture(scope="module")
def page(yard):
    return map_page(*yard)


@pytest.fixture(scope="module")
def far(hopeless):
    return map_page(*hopeless)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("which", ["page", "far"])
def test_page_is_quiet_whole_and_readable(show, request, size, which):
    seen = show(request.getfixturevalue(which), size)
    page = seen.page
    assert seen.requests == []
    assert seen.said == []
    assert page.evaluate("window.ran") is None
    width = size["viewport"]["width"]
    assert page.evaluate("document.documentElement.scrollWidth") == width
    assert page.evaluate("window.innerWidth") == width
    chart = page.locator(".folium-map").bounding_box()
    assert chart["width"] > 0.5 * width
    assert chart["height"] > 0.4 * size["viewport"]["height"]
    assert page.locator(".leaflet-image-layer").evaluate("image => image.complete && image.naturalWidth > 50")
    assert page.locator("h1").inner_text().startswith("Alder & {{ 7*7 }} lot </script><img src=x onerror=alert(1)>")
    for tab, words in (("Notes", "Key to the map"), ("Sources", "What was tried")):
        page.get_by_role("tab", name=tab).click()
        place = page.get_by_role("heading", name=words)
        place.scroll_into_view_if_needed()
        assert place.is_visible()
    smallest = page.evaluate(
        "Math.min(...[...document.querySelectorAll('body *')].filter(e => [...e.childNodes].some(n => "
        "n.nodeType === 3 && n.data.trim())"
        " && e.getClientRects().length && !e.closest('svg')).map(e => parseFloat(getComputedStyle(e).fontSize)))"
    )
    assert smallest >= 12
    if "SITEPLAN_SHOTS" in os.environ:  # a folder: pictures for the eye
        page.evaluate("window.scrollTo(0, 0)")
        page.screenshot(path=Path(os.environ["SITEPLAN_SHOTS"]) / f"map-{which}-{width}.png")


@pytest.mark.parametrize("size", SIZES)
def test_lines_labels_arrows_and_scale_are_drawn(show, page, size):
    seen = show(page, size)
    assert seen.page.locator("svg.arrow-box").count() >= 3
    labels = seen.page.locator(".label:not(.hidden)")
    shown = labels.all_inner_texts()
    assert any(text.startswith("L1") for text in shown)
    assert any(text.startswith("L2 FAILS") for text in shown)
    assert any("not drained" in text for text in shown)
    boxes = [box for box in (label.bounding_box() for label in labels.all()) if box]
    over = [
        (a, b)
        for i, a in enumerate(boxes)
        for b in boxes[i + 1 :]
        if a["x"] < b["x"] + b["width"] - 1
        and b["x"] < a["x"] + a["width"] - 1
        and a["y"] < b["y"] + b["height"] - 1
        and b["y"] < a["y"] + a["height"] - 1
    ]
    assert over == []
    number, unit = seen.page.locator(".scale span").inner_text().split()
    assert unit == "ft"
    drawn = seen.page.locator(".bar").bounding_box()["width"]
    # the lot is 28 m wide: its outline tells how many pixels a foot has
    lot = seen.page.evaluate(
        "[...document.querySelectorAll('path')].find(p => p.getAttribute('stroke-dasharray') === '18 5 4 "
        "5').getBBox().width"
    )
    assert drawn == pytest.approx(float(number) * 0.3048 * lot / 28.0, rel=0.02)
    assert "grid N" in seen.page.locator(".north").inner_text()


def test_arrows_point_downhill(show, page):
    seen = show(page)
    # L1 runs straight south to the curb, L2 comes down from the north: every arrow points down the page, more or less
    turns = seen.page.eval_on_selector_all(
        "svg.arrow-box path", "all => all.map(p => parseFloat(p.getAttribute('transform').slice(7)))"
    )
    assert len(turns) >= 5
    assert sum(80 < turn < 135 for turn in turns) >= 4
    assert all(20 < turn < 135 for turn in turns)


def test_a_click_shows_names_as_words(show, page, invented):
    seen = show(page)
    seen.page.locator(f'[title="{invented.SUM}"]').click()
    popup = seen.page.locator(".leaflet-popup-content")
    assert popup.locator("h3").inner_text() == invented.SUM
    assert invented.SCRIPT in popup.inner_text()
    assert popup.locator("img").count() == 0
    assert seen.page.evaluate("window.ran") is None
    assert seen.said == []


def test_the_slider_drives_chart_dot_and_read_out(show, page):
    seen = show(page)
    cells = seen.page.locator("figure.chosen dl.reading dd")
    assert cells.nth(0).inner_text() == "0+00.0"
    assert cells.nth(2).inner_text() == "97.18 ft"
    slider = seen.page.locator("figure.chosen input.stations")
    before = seen.page.locator("path.dot").get_attribute("d")
    slider.focus()
    seen.page.keyboard.press("End")
    assert cells.nth(0).inner_text() == "0+70.7"
    assert cells.nth(2).inner_text() == "98.04 ft"
    assert seen.page.locator("path.dot").get_attribute("d") != before
    cursor = float(seen.page.locator("figure.chosen svg.chart-wide .cursor").get_attribute("x1"))
    assert cursor == pytest.approx(546, abs=0.5)
    seen.page.locator("button.tab", has_text="L2").click()
    assert cells.nth(0).inner_text() == "0+00.0"
    box = seen.page.locator("figure.chosen svg.chart-wide").bounding_box()
    seen.page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    # the middle of the drawing lies 246/492 px along the axis, give or take a reading
    told = cells.nth(0).inner_text()
    station = float(told.split("+")[0]) * 100 + float(told.split("+")[1])
    assert station == pytest.approx(66.4 * (box["width"] / 2 / box["width"] * 560 - 54) / 492, abs=1.1)
    assert seen.said == []


def test_ground_under_the_cursor_is_told_in_the_sites_unit(show, page, yard):
    import numpy as np

    from siteplan.site import heights

    seen = show(page)
    box = seen.page.locator(".folium-map").bounding_box()
    seen.page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.5)
    told = seen.page.locator("div.cursor-ground").inner_text()
    high, east, north = re.fullmatch(r"ground ([\d.]+) ft\s+E ([\d.]+)\s+N ([\d.]+) m, EPSG:32616", told).groups()
    _, site = yard
    expected = heights(site.grid, np.array([float(east)]), np.array([float(north)]))[0] / 0.3048
    assert float(high) == pytest.approx(expected, abs=0.08)


def swipe_up(page, x, y):
    """One finger, 270 px up, as a hand does it."""
    session = page.context.new_cdp_session(page)
    session.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    for step in range(1, 16):
        session.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x, "y": y - 18 * step}]})
        page.wait_for_timeout(16)
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    page.wait_for_timeout(200)


def test_a_phone_scrolls_past_the_map_with_one_finger(show, page):
    seen = show(page, PHONE)
    swipe_up(seen.page, 200, 370)
    assert seen.page.evaluate("window.scrollY") > 100
    assert seen.page.locator(".folium-map").bounding_box()["y"] <= 1  # the map stays in sight
    trapped = show(page, PHONE)  # the control: a map that takes the finger for itself
    trapped.page.evaluate("document.querySelector('.folium-map').style.touchAction = 'none'")
    swipe_up(trapped.page, 200, 370)
    assert trapped.page.evaluate("window.scrollY") == 0


def test_a_phone_has_targets_for_a_thumb(show, page):
    seen = show(page, PHONE)
    seen.page.locator("button.fold").click()
    for target in (
        "button.tab",
        "button.home",
        ".leaflet-control-zoom-in",
        ".leaflet-control-layers-toggle",
        "input.stations",
        "button.fold",
        "button.switch",
        "button.part-tab",
    ):
        assert seen.page.locator(target).first.bounding_box()["height"] >= 44, target
    seen.page.get_by_role("tab", name="Stakes").click()
    for target, least in (
        ("button.step.back", 56),
        ("button.step.next", 56),
        ("#crew-hi", 44),
        (".schedule summary", 44),
    ):
        assert seen.page.locator(target).first.bounding_box()["height"] >= least, target


def test_layers_go_and_come_back_under_the_lines(show, page):
    seen = show(page)
    toggle = seen.page.locator(".leaflet-control-layers-toggle").bounding_box()
    seen.page.mouse.move(toggle["x"] + 20, toggle["y"] + 15)
    box = seen.page.locator(".leaflet-control-layers-overlays label", has_text="Buildings and paving").locator("input")
    count = "document.querySelectorAll('.leaflet-overlay-pane path').length"
    before = seen.page.evaluate(count)
    box.click()
    assert seen.page.evaluate(count) < before
    box.click()
    assert seen.page.evaluate(count) == before
    order = seen.page.eval_on_selector_all(
        ".leaflet-overlay-pane path", "all => all.map(p => p.getAttribute('stroke'))"
    )
    assert order.index("#2b2b2b") < order.index("#0072b2", len(order) - 6)
    assert seen.said == []


@pytest.mark.parametrize("size", SIZES)
def test_the_whole_lot_is_shown_in_the_middle_at_first(show, page, size):
    seen = show(page, size)
    window = seen.page.locator(".folium-map").bounding_box()
    lot = seen.page.locator('path[stroke-dasharray="18 5 4 5"]').bounding_box()
    assert lot["x"] >= window["x"]
    assert lot["y"] >= window["y"]
    assert lot["x"] + lot["width"] <= window["x"] + window["width"]
    assert lot["x"] + lot["width"] / 2 == pytest.approx(window["x"] + window["width"] / 2, abs=4)
    # the curb lies 3 m south of the lot and belongs to what is shown
    curb = 3 / 28 * lot["width"]
    assert lot["y"] + (lot["height"] + curb) / 2 == pytest.approx(window["y"] + window["height"] / 2, abs=6)
    assert lot["height"] > 0.6 * window["height"]


@pytest.mark.parametrize("size", SIZES)
def test_without_scripts_everything_written_is_there(show, page, size):
    seen = show(page, size, java_script_enabled=False)
    assert not seen.page.locator("main.map").is_visible()
    last = seen.page.get_by_text("Survey files")
    last.scroll_into_view_if_needed()
    assert last.bounding_box()["y"] < size["viewport"]["height"]
    if size is PHONE:
        assert seen.page.locator("svg.chart-narrow").nth(1).is_visible()
        return
    assert seen.page.locator("svg.chart-wide").first.is_visible()
    assert seen.page.locator("svg.chart-wide").nth(1).is_visible()
    assert seen.page.get_by_text("Not drained", exact=True).is_visible()
    assert not seen.page.locator("input.stations").first.is_visible()


def test_it_prints_with_every_profile(show, page):
    seen = show(page)
    seen.page.emulate_media(media="print")
    assert seen.page.locator("figure.profile").nth(1).is_visible()
    assert not seen.page.locator(".home").is_visible()
    assert seen.page.pdf().startswith(b"%PDF")


def test_control_a_picture_from_outside_is_noticed(show, page):
    policy = re.compile(rb'<meta http-equiv="Content-Security-Policy"[^>]*>')
    loose = policy.sub(b"", page).replace(b"<main", b'<img src="http://203.0.113.7/pixel.png"><main', 1)
    seen = show(loose)
    assert seen.requests == ["http://203.0.113.7/pixel.png"]
    assert seen.said
    tight = page.replace(b"<main", b'<img src="http://203.0.113.7/pixel.png"><main', 1)
    assert any("Content Security Policy" in said for said in show(tight).said)


def test_control_an_added_script_is_refused_by_the_page_itself(show, page):
    added = page.replace(b"<main", b"<script>window.ran = true</script><main", 1)
    seen = show(added)
    assert seen.page.evaluate("window.ran") is None
    assert any("Content Security Policy" in said for said in seen.said)
    loose = re.sub(rb'<meta http-equiv="Content-Security-Policy"[^>]*>', b"", added)
    assert show(loose).page.evaluate("window.ran") is True


def test_control_a_changed_script_of_ours_does_not_run(show, page):
    changed = page.replace(b'"use strict";\nvar data', b'"use strict"; window.ran = true;\nvar data', 1)
    assert changed != page
    assert show(changed).page.evaluate("window.ran") is None


def test_the_printed_map_is_whole(show, page):
    seen = show(page)
    seen.page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    seen.page.emulate_media(media="print")
    window = seen.page.locator(".folium-map").bounding_box()
    lot = seen.page.locator('path[stroke-dasharray="18 5 4 5"]').bounding_box()
    assert lot["x"] >= window["x"]
    assert lot["y"] >= window["y"]
    assert lot["x"] + lot["width"] <= window["x"] + window["width"]
    # the curb lies 3 m south of the lot, 28 m wide
    assert lot["y"] + lot["height"] + 3 / 28 * lot["width"] <= window["y"] + window["height"]


def test_an_open_layer_list_moves_no_control_and_lies_over_them(show, page):
    seen = show(page, PHONE)
    before = seen.page.locator(".north").bounding_box()
    seen.page.locator(".leaflet-control-layers-toggle").tap()
    assert seen.page.locator(".north").bounding_box()["y"] <= before["y"]
    box = seen.page.locator(".leaflet-control-layers-expanded").bounding_box()
    over = "([x, y]) => Boolean(document.elementFromPoint(x, y).closest('.leaflet-control-layers'))"
    assert seen.page.evaluate(over, [box["x"] + 4, box["y"] + box["height"] - 20])
