"""Lines with their pipes side by side in; one SVG chart of standing water along the station out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from siteplan import units
from siteplan.sheets.markup import Markup, tag
from siteplan.sheets.wording import one_line
from siteplan.trench.pipe_words import short
from siteplan.trench.sides import Side, Sides, depth_along

_WIDE, _LEFT, _STRIP, _HEAD, _GAP = 760, 190, 46, 46, 8
_INK, _POOL, _WORST = "#111111", "#0072b2", "#9ecae1"


def belly_chart(found: Sequence[Sides], unit: str, *, named: str = "", date: str = "") -> str:
    """Standing water after 50 years along each line, one strip for each kind of pipe.

    Parameters
    ----------
    found : sequence of Sides
        Lines in the plan's order; those without weak ground are left out.
    unit : str
        The site's length unit.
    named, date : str
        The site's name and the date, printed at the head; '' neither.

    Returns
    -------
    str
        An SVG document that needs nothing else; the same for the same input. Light: at worst, dark: likely; the
        dashed line is the limit, the hatch the weak ground, so that it reads in black and white.
    """
    shown = [one for one in found if one.line.soft and one.sides]
    parts: list[str] = []
    top = 0.0
    if said := ", ".join(part for part in (one_line(named), one_line(date)) if part):
        parts.append(tag("text", said, x=12, y=18, font_weight=600))
        top = 24.0
    for one in shown:
        parts.append(_block(one, unit, top))
        top += _HEAD + len(one.sides) * (_STRIP + _GAP) + 34
    if not shown:
        parts.append(tag("text", "No weak ground is known under any line.", x=12, y=top + 24))
        top += 40.0
    hatch = tag(
        "pattern",
        tag("rect", width=8, height=8, fill="#f3f3f1"),
        tag("path", d="M-1 9L9-1", stroke="#8a8a8a", stroke_width=1),
        id="weak",
        width=8,
        height=8,
        patternunits="userSpaceOnUse",
    )
    body = tag(
        "svg",
        tag("title", "Standing water by kind of pipe"),
        tag("defs", hatch),
        tag("rect", width=_WIDE, height=round(top), fill="#ffffff"),
        *parts,
        xmlns="http://www.w3.org/2000/svg",
        viewbox=f"0 0 {_WIDE} {round(top)}",
        width=_WIDE,
        height=round(top),
        font_family="system-ui, sans-serif",
        font_size=13,
        fill=_INK,
    )
    # attribute names are written in lower case for HTML; SVG on its own minds the case
    text = str(body).replace("viewbox=", "viewBox=").replace("patternunits=", "patternUnits=")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'


def _block(one: Sides, unit: str, top: float) -> Markup:
    length = one.line.length
    deepest = max([*(side.forecast.depth.high for side in one.sides), *(side.limit for side in one.sides)]) * 1.1
    inches = f"{deepest / units.MILLIMETRE:.0f} mm" if unit == "m" else f"{deepest / units.INCH:.2f} in"
    parts: list[str] = [
        tag(
            "text",
            f"{one.line.id}: standing water after 50 years, strips {inches} high",
            x=12,
            y=round(top + 20),
            font_weight=600,
        ),
        tag(
            "text",
            "dark: likely, light: at worst, dashed: limit, hatched: weak ground",
            x=12,
            y=round(top + 38),
            font_size=12,
        ),
    ]
    for number, side in enumerate(one.sides):
        parts.append(_strip(one, side, unit, top + _HEAD + number * (_STRIP + _GAP), deepest))
    foot = round(top + _HEAD + len(one.sides) * (_STRIP + _GAP) + 12)
    for share in (0.0, 0.5, 1.0):
        anchor = "start" if share == 0 else "end" if share == 1 else "middle"
        place = _LEFT + share * (_WIDE - _LEFT - 14)
        parts.append(
            tag(
                "text",
                units.station_text(share * length, unit),
                x=round(place, 1),
                y=foot,
                text_anchor=anchor,
                font_size=12,
            )
        )
    return tag("g", *parts)


def _strip(one: Sides, side: Side, unit: str, top: float, deepest: float) -> Markup:
    width = _WIDE - _LEFT - 14
    length = one.line.length

    def x(station: float) -> float:
        return round(_LEFT + width * station / length, 1)

    def y(depth: float) -> float:
        return round(top + _STRIP * (1 - depth / deepest), 1)

    parts: list[str] = [
        tag("text", short(side.stock.pipe), x=12, y=round(top + 20), font_weight=600 if side.own else 400),
        tag("text", _depths(side, unit), x=12, y=round(top + 37), font_size=12),
        *[
            tag(
                "rect",
                x=x(g.station_from),
                y=top,
                width=round(max(1.0, x(g.station_to) - x(g.station_from)), 1),
                height=_STRIP,
                fill="url(#weak)",
            )
            for g in one.line.soft
        ],
    ]
    for guess, colour in (("high", _WORST), ("likely", _POOL)):
        station, depth = depth_along(side, guess)
        # a few hundred places draw the same picture as thousands
        keep = np.unique(np.linspace(0, len(station) - 1, min(len(station), 400)).astype(int))
        if depth.max() > 0:
            points = " ".join(f"{x(float(station[k]))},{y(float(depth[k]))}" for k in keep)
            parts.append(
                tag(
                    "polygon",
                    points=f"{x(0)},{y(0)} {points} {x(length)},{y(0)}",
                    fill=colour,
                    stroke=_INK,
                    stroke_width=0.6,
                )
            )
    limit = y(side.limit)
    parts.append(
        tag("line", x1=x(0), x2=x(length), y1=limit, y2=limit, stroke=_INK, stroke_width=1, stroke_dasharray="5 4")
    )
    parts.append(tag("line", x1=x(0), x2=x(length), y1=y(0), y2=y(0), stroke=_INK, stroke_width=1.4))
    return tag("g", *parts)


def _depths(side: Side, unit: str) -> str:
    likely, worst = side.forecast.depth[1:]
    if unit == "m":
        return f"{likely / units.MILLIMETRE:.0f} mm likely, {worst / units.MILLIMETRE:.0f} at worst"
    return f"{likely / units.INCH:.2f} in likely, {worst / units.INCH:.2f} at worst"
