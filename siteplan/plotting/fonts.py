"""Type: the two faces that the sheets carry, how wide a text is in them, and texts made fit to be set.

A mark that the faces lack is written as its code point, so that a name stays whole; what cannot be printed becomes a
space.
"""

from __future__ import annotations

import math
from functools import cache, lru_cache
from importlib import resources
from typing import Any

from siteplan.plotting.shapes import Lettering, Spot
from siteplan.sheets.wording import one_line

REGULAR, BOLD = "SiteplanSans", "SiteplanSansBold"
_FILES = {REGULAR: "DejaVuSans.ttf", BOLD: "DejaVuSans-Bold.ttf"}
_RISE, _DROP = 0.76, 0.24  # of the type's size: over and under the base line; of the faces, capitals and descenders


@cache
def faces() -> dict[str, Any]:
    """The faces, made known to the PDF writer once.

    Returns
    -------
    dict
        By name: REGULAR and BOLD.
    """
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    found = {}
    for name, file in _FILES.items():
        with resources.as_file(resources.files("siteplan").joinpath("assets", "fonts", file)) as path:
            found[name] = TTFont(name, str(path))
        pdfmetrics.registerFont(found[name])
    return found


@lru_cache(maxsize=4096)
def settable(text: str) -> str:
    """A text as it can be set on one line.

    Parameters
    ----------
    text : str
        Anything a user wrote.

    Returns
    -------
    str
        Printable, each mark that the face lacks as <U+6F22>.
    """
    glyphs = faces()[REGULAR].face.charToGlyph
    return "".join(mark if ord(mark) in glyphs else f"<U+{ord(mark):04X}>" for mark in one_line(text))


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """How wide a text is.

    Parameters
    ----------
    text : str
        As it is set.
    size : float
        Of the type [mm].
    bold : bool
        In the bold face.

    Returns
    -------
    float
        Width [mm].
    """
    return _wide(text, bold) * size / 1000.0


@lru_cache(maxsize=4096)
def _wide(text: str, bold: bool) -> float:
    face = faces()[BOLD if bold else REGULAR].face
    return float(sum(face.getCharWidth(ord(mark)) for mark in settable(text)))


def text_corners(one: Lettering) -> tuple[Spot, Spot, Spot, Spot]:
    """The text_corners of the box round a text, turned as it is.

    Parameters
    ----------
    one : Lettering
        The text.

    Returns
    -------
    tuple of four places
        Counter-clockwise from the start of its base [mm].
    """
    wide = text_width(one.text, one.size, bold=one.bold)
    start = {"start": 0.0, "middle": -wide / 2, "end": -wide}[one.anchor]
    c, s = math.cos(math.radians(one.angle)), math.sin(math.radians(one.angle))
    low, high = -_DROP * one.size, _RISE * one.size

    def at(x: float, y: float) -> Spot:
        return one.x + x * c - y * s, one.y + x * s + y * c

    return at(start, low), at(start + wide, low), at(start + wide, high), at(start, high)


def wrapped(text: str, size: float, wide: float, *, bold: bool = False) -> list[str]:
    """A text broken into lines no wider than there is room.

    Parameters
    ----------
    text : str
        Anything; spaces are where it breaks, a word wider than the room is broken within.
    size : float
        Of the type [mm].
    wide : float
        Room [mm].
    bold : bool
        In the bold face.

    Returns
    -------
    list of str
        At least one line.
    """
    lines: list[str] = []
    for given in settable(text).split(" "):
        word = given
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(joined, size, bold=bold) <= wide:
            lines[-1] = joined
            continue
        while len(word) > 1 and text_width(word, size, bold=bold) > wide:
            cut = max(k for k in range(1, len(word)) if k == 1 or text_width(word[:k], size, bold=bold) <= wide)
            lines.append(word[:cut])
            word = word[cut:]
        lines.append(word)
    return lines or [""]
