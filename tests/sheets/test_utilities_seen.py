"""Buried services on the page in a real browser: letter, name and depth of each can be read, whatever lies round it."""

from __future__ import annotations

import io
from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest
from shapely.geometry import LineString

from siteplan.sheets.map_page import map_page
from siteplan.site import Feature

pytestmark = pytest.mark.browser
DESK = {"viewport": {"width": 1280, "height": 800}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}
SIZES = [pytest.param(DESK, id="desk"), pytest.param(PHONE, id="phone")]

# what is written on the map, by what it is: boxes in the window's pixels
WRITTEN = """() => {
  const frame = document.querySelector('.folium-map').getBoundingClientRect();
  const found = [];
  document.querySelectorAll('.utility-letter, .label, .symbol, .leaflet-control').forEach(part => {
    if (getComputedStyle(part).visibility === 'hidden') return;
    const b = part.getBoundingClientRect();
    if (!b.width || part.classList.contains('leaflet-control-layers-list')) return;
    found.push({
      kind: part.classList.contains('utility-letter') ? 'letter' : part.classList.contains('of-utility') ? 'utility' : 'other',
      words: part.innerText || part.getAttribute('class'), box: [b.left, b.top, b.right, b.bottom],
      whole: part.scrollWidth <= part.clientWidth + 1 && part.scrollHeight <= part.clientHeight + 1,
      inside: b.left >= frame.left && b.right <= frame.right && b.top >= frame.top && b.bottom <= frame.bottom,
    });
  });
  return found;
}"""


def _utility(number, name, service, points, **more):
    return Feature(
        kind="utility",
        name=name,
        geometry=LineString(points),
        attributes=MappingProxyType({"service": service, **more}),
        file="features.geojson",
        number=number,
    )


@pytest.fixture(scope="module")
def streets(yard):
    """The invented lot with its gas alone between driveways.

    Also with five services a step apart beside a sprinkler's label.
    """
    plan, site = yard
    rest = [feature for feature in site.features if feature.kind != "utility"]
    west, south, *_ = next(f for f in rest if f.kind == "lot").geometry.bounds

    def at(*points):
        return [(west + x, south + y) for x, y in points]

    pair = [
        _utility(91, "Gas", "gas", at((18, -3), (18, 18))),
        _utility(92, "Water service", "water", at((14, -3), (14, 18)), depth=1.2),
    ]
    crowd = [
        *pair,
        _utility(93, "Power to the house", "power", at((16, -3), (16, 18)), depth=0.6),
        _utility(94, "Telephone and television, abandoned in place", "telecom", at((20, -3), (20, 12), (24, 18))),
        _utility(95, "Old sewer", "sewer", at((-4, 8), (30, 8)), depth=2.1),
    ]
    return {
        name: (plan, replace(site, features=(*rest, *held)), held) for name, held in (("pair", pair), ("crowd", crowd))
    }


@pytest.fixture(scope="module")
def shown(chromium, streets, tmp_path_factory):
    folder = tmp_path_factory.mktemp("streets")

    def opened(which, size):
        path = folder / f"{which}.html"
        if not path.exists():
            path.write_bytes(map_page(*streets[which][:2]))
        page = chromium.new_context(offline=True, **size).new_page()
        page.goto(path.as_uri())
        page.wait_for_timeout(200)
        return page

    return opened


def _over(a, b):
    return min(a[2], b[2]) - max(a[0], b[0]) > 0.5 and min(a[3], b[3]) - max(a[1], b[1]) > 0.5


def _nothing_lies_over_a_service(written):
    held = [one for one in written if one["kind"] in {"letter", "utility"}]
    return [
        (one["words"], other["words"])
        for place, one in enumerate(written)
        for other in written[place + 1 :]
        if (one in held or other in held) and _over(one["box"], other["box"])
    ]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("which", ["pair", "crowd"])
def test_letter_name_and_depth_of_every_service_can_be_read(shown, streets, which, size):
    written = shown(which, size).evaluate(WRITTEN)
    assert _nothing_lies_over_a_service(written) == []
    told = [one for one in written if one["kind"] == "utility"]
    wanted = {(f.name, "NOT KNOWN" if "depth" not in f.attributes else "deep") for f in streets[which][2]}
    assert {
        (name, depth) for name, depth in wanted if any(name in one["words"] and depth in one["words"] for one in told)
    } == wanted
    assert all(one["inside"] and one["whole"] for one in told)
    letters = [one["words"] for one in written if one["kind"] == "letter" and one["inside"]]
    assert set(letters) == {
        {"gas": "G", "water": "W", "power": "E", "telecom": "C", "sewer": "S"}[f.attributes["service"]]
        for f in streets[which][2]
    }


@pytest.mark.parametrize("size", SIZES)
def test_letters_follow_the_part_of_a_service_that_is_in_the_window(shown, size):
    page = shown("pair", size)
    for _ in range(3):
        page.locator(".leaflet-control-zoom-in").click()
        page.wait_for_timeout(350)
    # to the street's end of the services, where their middles are out of the window
    page.evaluate(
        "() => { const map = Object.values(window).find(one => one && one.panBy && one.getBounds); "
        "map.panBy([0, map.getSize().y], {animate: false}); }"
    )
    page.wait_for_timeout(250)
    written = page.evaluate(WRITTEN)
    inside = {one["words"] for one in written if one["kind"] == "letter" and one["inside"]}
    seen = page.evaluate(
        "() => { const frame = document.querySelector('.folium-map').getBoundingClientRect();"
        " return [...document.querySelectorAll('path.touch')].filter(p => { const b = p.getBoundingClientRect();"
        " return b.bottom > frame.top + 60 && b.top < frame.bottom - 60 && b.right > frame.left + 60 && "
        "b.left < frame.right - 60; })"
        ".map(p => p.getAttribute('aria-label')); }"
    )
    assert inside >= {name[0] for name in seen if name in {"Gas", "Water service"}}
    assert inside
    assert _nothing_lies_over_a_service([one for one in written if one["inside"]]) == []


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
@pytest.mark.parametrize("size", SIZES)
def test_every_service_stands_out_from_the_ground_beside_it(shown, size):
    """At least 3:1 in the picture itself (WCAG 2.2, 1.4.11, contrast of what is not text)."""
    import rasterio

    page = shown("crowd", size)
    # the ground on both sides of the middle of each service, and the darkest pixel between: its case
    for path in page.locator("path[stroke='#1a1a1a']").all():
        middle = path.evaluate(
            "p => { const a = p.getPointAtLength(p.getTotalLength() * .41), m = p.getScreenCTM();"
            " return [a.x * m.a + a.y * m.c + m.e, a.x * m.b + a.y * m.d + m.f]; }"
        )
        clip = {"x": middle[0] - 7, "y": middle[1] - 7, "width": 14, "height": 14}
        with rasterio.open(io.BytesIO(page.screenshot(clip=clip))) as picture:
            shades = picture.read([1, 2, 3]).astype(float) / 255
        linear = np.where(shades <= 0.04045, shades / 12.92, ((shades + 0.055) / 1.055) ** 2.4)
        light = np.tensordot((0.2126, 0.7152, 0.0722), linear, 1)
        ground = float(np.median(np.concatenate([light[0], light[-1], light[:, 0], light[:, -1]])))
        assert (ground + 0.05) / (float(light.min()) + 0.05) >= 3.0
