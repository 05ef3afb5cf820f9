"""A page in; the same as SVG out: real lines in millimetres, type that can be selected, nothing that acts.

W3C Scalable Vector Graphics 1.1 (second edition). Presentation attributes alone: a page's policy may bar styles.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from siteplan.plotting.fonts import text_corners
from siteplan.plotting.shapes import Filled, Lettering, Mark, Page, Pen, Spot
from siteplan.sheets.markup import Markup, tag
from siteplan.sheets.wording import one_line

_FINE = 0.02  # mm
_LONG_RUN = 40  # places; marks and circles have fewer and keep all


def page_svg(page: Page) -> Markup:
    """A page.

    Parameters
    ----------
    page : Page
        Numbered and framed.

    Returns
    -------
    Markup
        One svg element of the paper's size; every text escaped.
    """
    high = page.paper.high
    parts = [part for _, held in groupby(page.shapes, key=_alike) for part in _drawn(list(held), high)]
    return tag(
        "svg",
        tag("title", page.title),
        *parts,
        width=f"{page.paper.wide:g}mm",
        height=f"{high:g}mm",
        viewbox=f"0 0 {page.paper.wide:g} {high:g}",
        font_family="DejaVu Sans, Verdana, sans-serif",
        role="img",
        aria_label=page.title,
    )


def _alike(shape: Mark) -> tuple[object, ...]:
    """Shapes in a row that are drawn alike are drawn as one."""
    if isinstance(shape, Lettering):
        return ("text", shape.size, shape.bold, shape.color, shape.anchor)
    return ("area", shape.fill, shape.pen) if isinstance(shape, Filled) else ("stroke", shape.pen)


def _drawn(held: Sequence[Mark], high: float) -> Iterator[Markup]:
    first = held[0]
    if isinstance(first, Lettering):
        texts = [one for one in held if isinstance(one, Lettering)]
        for _, run in groupby(texts, key=lambda one: one.ground):
            yield from _set_in(list(run), high)
    elif isinstance(first, Filled):
        pen = _ink(first.pen) if first.pen is not None else {}
        areas = [one for one in held if isinstance(one, Filled)]
        plain = [one.rings[0] for one in areas if len(one.rings) == 1]
        if plain:
            yield tag(
                "path", d="".join(_way(ring, high, closed=True) for ring in plain), fill=_short(first.fill), **pen
            )
        for one in areas:
            if len(one.rings) > 1:
                ways = "".join(_way(ring, high, closed=True) for ring in one.rings)
                yield tag("path", d=ways, fill=_short(one.fill), fill_rule="evenodd", **pen)
    else:
        strokes = [one for one in held if not isinstance(one, Lettering | Filled)]
        ways = "".join(_way(one.points, high, closed=one.closed) for one in strokes)
        yield tag("path", d=ways, fill="none", **_ink(first.pen))


def _set_in(texts: Sequence[Lettering], high: float) -> Iterator[Markup]:
    first = texts[0]
    if first.ground:
        ways = "".join(_way(text_corners(one), high, closed=True) for one in texts)
        yield tag("path", d=ways, fill=_short(first.ground))
    inside = []
    for one in texts:
        place: dict[str, str] = {"x": _n(one.x), "y": _n(high - one.y)}
        if one.angle:
            place = {"transform": f"translate({_n(one.x)} {_n(high - one.y)})rotate({_n(-one.angle)})"}
        inside.append(tag("text", one_line(one.text), **place))
    yield tag(
        "g",
        *inside,
        font_size=f"{first.size:g}",
        fill=None if first.color == "#000000" else first.color,
        font_weight="bold" if first.bold else None,
        text_anchor=None if first.anchor == "start" else first.anchor,
    )


def _ink(pen: Pen) -> dict[str, str]:
    found = {"stroke": _short(pen.color), "stroke_width": f"{pen.width:g}".removeprefix("0")}
    if pen.dash:
        found["stroke_dasharray"] = " ".join(f"{part:g}" for part in pen.dash)
    return found


def _short(color: str) -> str:
    """'#000' for '#000000'."""
    pairs = color[1:3], color[3:5], color[5:7]
    return f"#{''.join(pair[0] for pair in pairs)}" if all(pair[0] == pair[1] for pair in pairs) else color


def _seen(spots: Sequence[Spot]) -> Sequence[Spot]:
    """A long run without the places that lie within a fifth of the thinnest pen of it."""
    from shapely.geometry import LineString

    return list(LineString(spots).simplify(_FINE).coords) if len(spots) > _LONG_RUN else spots


def _way(spots: Iterable[Spot], high: float, *, closed: bool) -> str:
    """A run by its steps, which are shorter to write than places.

    Each is from where the last one ended, so that none drifts.
    """
    told: list[str] = []
    before = (0, 0)
    for x, y in _seen(list(spots)):
        here = (round(x * 100), round((high - y) * 100))
        dx, dy = here[0] - before[0], here[1] - before[1]
        if not told:
            told.append(f"M{_n(here[0] / 100)} {_n(here[1] / 100)}")
        elif dx and dy:
            told.append(f"l{_n(dx / 100)}{'' if dy < 0 else ' '}{_n(dy / 100)}")
        elif dx or dy:
            told.append(f"h{_n(dx / 100)}" if dx else f"v{_n(dy / 100)}")
        before = here
    return (
        f"{''.join(told)}{'z' if closed else ''}".replace("l0.", "l.")
        .replace("h0.", "h.")
        .replace("v0.", "v.")
        .replace("-0.", "-.")
        .replace(" 0.", " .")
    )


def _n(value: float) -> str:
    """A hundredth of a millimetre, as short as it can be written."""
    return f"{value:.2f}".rstrip("0").rstrip(".") if round(value, 2) else "0"
