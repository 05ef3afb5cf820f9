"""The map of many lots on its page: nearer and farther, and a lot a way to its row, with scripts and without."""

from __future__ import annotations

import pytest

VIEW = "document.querySelector('.map svg').getAttribute('viewBox').split(' ').map(Number)"


@pytest.fixture
def opened(chromium, screened, request):
    """The page of the county, in a window of so many px; console errors end the test."""
    wide, scripts = getattr(request, "param", (1200, True))
    page = chromium.new_page(viewport={"width": wide, "height": 800}, java_script_enabled=scripts)
    faults = []
    page.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    page.goto((screened.out / "index.html").as_uri())
    yield page
    page.close()
    assert faults == []


def test_buttons_keys_and_wheel_bring_the_map_nearer(opened):
    whole = opened.evaluate(VIEW)
    opened.get_by_role("button", name="Nearer").click()
    near = opened.evaluate(VIEW)
    assert near[2] == pytest.approx(whole[2] / 1.5)
    assert near[3] / near[2] == pytest.approx(whole[3] / whole[2])
    opened.locator(".map svg").focus()
    opened.keyboard.press("+")
    opened.keyboard.press("ArrowRight")
    right = opened.evaluate(VIEW)
    assert right[2] < near[2]
    assert right[0] > near[0]
    box = opened.locator(".map svg").bounding_box()
    opened.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    opened.mouse.wheel(0, -100)
    opened.wait_for_function(f"{VIEW}[2] < {right[2] - 1e-6}")
    opened.get_by_role("button", name="Whole map").click()
    assert opened.evaluate(VIEW) == whole


def test_a_drag_moves_the_map_and_a_press_leads_to_the_row(opened):
    lot = opened.locator(".map svg a").nth(5)
    where = lot.get_attribute("href")
    opened.get_by_role("button", name="Nearer").click()
    before = opened.evaluate(VIEW)
    box = opened.locator(".map svg").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    opened.mouse.move(x, y)
    opened.mouse.down()
    opened.mouse.move(x + 60, y, steps=4)
    opened.mouse.up()
    assert opened.evaluate(VIEW)[0] < before[0]
    assert "#" not in opened.url  # a drag is no press
    opened.get_by_role("button", name="Whole map").click()
    lot.hover()
    assert opened.locator(".bar output").text_content() == lot.locator("title").text_content()
    lot.click()
    assert opened.url.endswith(where)


@pytest.mark.parametrize("opened", [(390, True), (390, False), (1200, False)], indirect=True)
def test_in_hand_and_without_scripts_the_whole_map_is_there(opened):
    assert opened.locator(".map svg polygon").count() == 12
    assert opened.locator(".list tbody tr").count() == 12
    box = opened.locator(".map svg").bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= opened.viewport_size["width"]
