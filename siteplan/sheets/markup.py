"""Text in; HTML and SVG that cannot be broken out of, out. All static markup of the page is built here.

Names of elements and attributes are our own constants; every text and every attribute's value is escaped.
"""

from __future__ import annotations

import html
import re

_EMPTY = {"line", "rect", "path", "circle", "polyline", "polygon", "input", "br", "use"}


class Markup(str):
    """Markup that is finished; any other string is text and will be escaped."""

    __slots__ = ()


def tag(name: str, *inside: str, **attributes: str | float | None) -> Markup:
    """One element.

    Parameters
    ----------
    name : str
        Element name, one of ours.
    *inside : str
        Markup as it is, any other string escaped.
    **attributes : str, float or None
        `class_` is class, other underscores are hyphens; None leaves the attribute out; '' writes it bare;
        numbers are drawing coordinates [px].

    Returns
    -------
    Markup
        The element.

    Examples
    --------
    >>> tag("p", "a < b", tag("b", "c"), class_="x")
    '<p class="x">a &lt; b<b>c</b></p>'
    """
    written = "".join(_attribute(key, value) for key, value in attributes.items() if value is not None)
    if name in _EMPTY and not inside:
        return Markup(f"<{name}{written}/>" if name not in {"input", "br"} else f"<{name}{written}>")
    return Markup(f"<{name}{written}>{join(inside)}</{name}>")


def join(parts: tuple[str, ...] | list[str]) -> Markup:
    """Parts one after the other.

    Parameters
    ----------
    parts : sequence of str
        Markup as it is, any other string escaped.

    Returns
    -------
    Markup
        The parts.
    """
    return Markup("".join(part if isinstance(part, Markup) else text(part) for part in parts))


def text(words: str) -> Markup:
    """Words as they are to be read, control characters taken out.

    Parameters
    ----------
    words : str
        Anything.

    Returns
    -------
    Markup
        Escaped for element content and for quoted attributes.
    """
    plain = words  # most words need no look at every mark
    if not words.isprintable():
        plain = "".join(mark if mark.isprintable() or mark in "\n\t\u00a0" else " " for mark in words)
    return Markup(html.escape(plain, quote=True))


def whole(figures: str) -> str:
    """Figures that do not break across lines: 1'-7 5/8", 1.26 ft, 2.1 %.

    Parameters
    ----------
    figures : str
        Printed figures, ours.

    Returns
    -------
    str
        With spaces that do not break between a number and its fraction or unit.
    """
    joined = re.sub(r"(?<=\d) (?=\d+/\d|ft\b|in\b|mm\b|m\b|%|sq\b|cu\b|gpm\b|L/s)", "\u00a0", figures)
    return re.sub(r"(?<=\b[NE]) (?=-?\d)", "\u00a0", joined)


def cited(text: str) -> Markup:
    """A source whose section numbers do not break across lines: 24-131, 3-2.B.

    Parameters
    ----------
    text : str
        Not escaped.

    Returns
    -------
    Markup
        Its numbers with a hyphen in spans that do not wrap.
    """
    parts = re.split(r"(\S{0,40}\d-\d\S{0,40})", whole(text))
    held: list[str] = [
        tag("span", part, class_="figure" if place % 2 else None) for place, part in enumerate(parts) if part
    ]
    return join(held)


def _attribute(key: str, value: str | float) -> str:
    name = key.removesuffix("_").replace("_", "-")
    name = {"viewbox": "viewBox", "patternunits": "patternUnits"}.get(name, name)
    if value == "":
        return f" {name}"
    return f' {name}="{text(shown_number(value) if isinstance(value, int | float) else value)}"'


def shown_number(value: float) -> str:
    """A drawing coordinate, to a tenth of a pixel.

    Parameters
    ----------
    value : float
        Coordinate in the drawing [px].

    Returns
    -------
    str
        Without trailing zeros.
    """
    return f"{round(value, 1) + 0.0:g}"
