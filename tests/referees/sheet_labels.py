"""A plan folder in.

Its drawn sheets out, once no label lies over another, none is cut off, none lies over a fitting's symbol.

Type is measured with the font's own widths, read by another library.
"""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import shapely
from fontTools.ttLib import TTFont

from siteplan.planset.typed_set import set_from_typed
from siteplan.planset.whole import set_pages
from siteplan.plotting.shapes import Filled, Lettering, Stroke

FONTS = Path(__file__).parents[2] / "siteplan" / "assets" / "fonts"
CAPITAL, TAIL = 0.73, 0.20  # of the type's size


def font_widths():
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
