"""No label over another, none cut off, none over a symbol of a fitting; measured with the font's own widths, read by another library."""

from __future__ import annotations

import itertools
import math
from pathlib import Path
from types import SimpleNamespace

import pytest
import shapely
from fontTools.ttLib import TTFont

from siteplan.planset.typed_set import set_from_typed
from siteplan.planset.whole import set_pages
from siteplan.plotting.shapes import Filled, Lettering, Stroke

FONTS = Path(__file__).parents[2] / "siteplan" / "assets" / "fonts"
CAPITAL, TAIL = 0.73, 0.20  # of the type's size


@pytest.fixture(scope="session")
def widths():
    found = {}
    for bold, name in ((False, "DejaVuSans.ttf"), (True, "DejaVuSans-Bold.ttf")):
        font = TTFont(FONTS / name)
        table, glyphs, unit = font["hmtx"], font.getBestCmap(), font["head"].unitsPerEm
        found[bold] = {mark: table[glyph][0] / unit for mark, glyph in glyphs.items()}
    return found


def box(one, widths):
    wide = sum(widths[one.bold][ord(mark)] for mark in one.text) * one.size
    start = {"start": 0.0, "middle": -wide / 2, "end": -wide}[one.anchor]
    c, s = math.cos(math.radians(one.angle)), math.sin(math.radians(one.angle))
    low, high = -TAIL * one.size, CAPITAL * one.size
    return shapely.Polygon(
        [
            (one.x + x * c - y * s, one.y + x * s + y * c)
            for x, y in ((start, low), (start + wide, low), (start + wide, high), (start, high))
        ]
    )


def measured(folder, widths, **more):
    typed = {"plan": folder, "paper": None, "scale": None, "site": None, "against": None, "revision": "", "date": None}
    pages, left = set_pages(set_from_typed({**typed, "debug": True, **more}), ("plan", "profiles"))
    assert left == ()
    for page in pages:
        frame = page.paper.frame
        edge = shapely.box(frame.left, frame.bottom, frame.right, frame.top)
        type_ = [(one, box(one, widths)) for one in page.shapes if isinstance(one, Lettering)]
        for one, cover in type_:
            assert edge.covers(cover), (page.title, "cut off", one.text)
        tree = shapely.STRtree([cover.buffer(-0.02) for _, cover in type_])
        for a, b in zip(*tree.query(tree.geometries, predicate="intersects"), strict=True):
            if a < b:
                one, other = type_[a][0], type_[b][0]
                assert one.layer == other.layer == "ends", (page.title, one.text, other.text)
        symbols = [
            shapely.Polygon(one.rings[0]).buffer(-0.05)
            for one in page.shapes
            if isinstance(one, Filled) and one.layer in {"fittings", "ends"}
        ]
        told = [
            (one, cover)
            for one, cover in type_
            if one.layer in {"places", "runs", "names", "hand_dig", "lot_dimensions"}
        ]
        for (one, cover), symbol in itertools.product(told, symbols):
            assert not symbol.intersects(cover), (page.title, one.text)
        for one in page.shapes:
            spots = one.points if isinstance(one, Stroke) else one.rings[0] if isinstance(one, Filled) else ()
            for spot in spots:
                assert edge.buffer(0.01).covers(shapely.Point(spot)), (page.title, one.layer, spot)
    return pages


@pytest.mark.parametrize(("name", "paper"), [("alder-court", "letter"), ("marsh-lane", "a4")])
def test_on_samples(sample_plan, widths, name, paper):
    folder = sample_plan(name).folder
    site = Path(__file__).parents[2] / "sample_sites" / name
    from siteplan.plotting.paper_sizes import PAPERS

    assert paper in {one.name for one in PAPERS}
    measured(folder, widths, paper=paper, site=site)


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["letter", "tabloid", "a4", "a3"])
@pytest.mark.parametrize("name", ["alder-court", "marsh-lane", "kiln-rise", "long-meadow", "quince-terrace"])
def test_on_every_sample_and_paper(sample_plan, widths, name, paper):
    measured(sample_plan(name).folder, widths, paper=paper)


def test_two_labels_that_want_one_place_stand_apart():
    from siteplan.plotting.paper_sizes import Box
    from siteplan.plotting.placing import Label, place_labels

    room = Box(left=0, bottom=0, right=60, top=40)
    labels = [Label(layer="places", lines=("0+10.0 inv 99.00", "wye"), spot=(30.0, 20.0)) for _ in range(4)]
    put = place_labels(labels, room, keep_off=[], pipes=[((0, 20), (60, 20))], thin=[])
    covers = [SimpleNamespace(x=one.x, y=one.y) for one in put.shapes if isinstance(one, Lettering)]
    assert len(covers) + 2 * len(put.left) == 8
    assert len({(round(one.x, 2), round(one.y, 2)) for one in covers}) == len(covers)
