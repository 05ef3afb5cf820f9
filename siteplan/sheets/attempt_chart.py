"""An attempt that is not legal in; its profile as SVG and its line for the map, dashed and named as what it is, out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from siteplan import units
from siteplan.sheets.cure_words import miss_text, nearest_misses, worst_of
from siteplan.sheets.markup import Markup, tag
from siteplan.sheets.wording import names
from siteplan.values.tried import Attempt
from siteplan.values.whole_plan import Plan

_WIDTH, _HEIGHT = 560, 200
_LEFT, _RIGHT, _TOP, _BOTTOM = 60, 546, 34, 168
NOT_LEGAL = "Best attempts, not legal"


def attempt_paths(
    plan: Plan, west: float, south: float
) -> Iterator[tuple[str, dict[str, Any], str, tuple[tuple[str, str], ...]]]:
    """The nearest misses as the map draws them.

    Parameters
    ----------
    plan : Plan
        With its attempts.
    west, south : float
        The page's origin in the plan's frame [m].

    Yields
    ------
    tuple
        Layer, geometry, title and facts; each twice, drawn and for the click.
    """
    called = names(plan)
    for one in nearest_misses(plan):
        path = {
            "type": "LineString",
            "coordinates": [[round(at.x - west, 3), round(at.y - south, 3)] for at in one.line],
        }
        facts = (
            ("What", miss_text(plan, one)),
            ("Length", units.length_text(one.line[-1].station, plan.length_unit, 1)),
        )
        yield "attempt", path, "", ()
        yield "attempt_touch", path, f"NOT LEGAL: {called[one.source]} to {called.get(one.outlet, one.outlet)}", facts


def attempt_labels(plan: Plan, west: float, south: float) -> list[dict[str, Any]]:
    """Name of each line that is not legal: where it is short by most, or where there is room along it.

    Parameters
    ----------
    plan : Plan
        With its attempts.
    west, south : float
        The page's origin in the plan's frame [m].

    Returns
    -------
    list of dict
        Places and text.
    """
    told = []
    for one in nearest_misses(plan):
        worst = worst_of(one)
        if worst is not None:
            by = f": {units.small_text(worst.short, plan.length_unit)} too high" if worst.short > 0 else ""
            spots = [worst, *(one.line[int(share * (len(one.line) - 1))] for share in (0.5, 0.3, 0.7))]
            told.append(
                {"spots": [[round(at.x - west, 2), round(at.y - south, 2)] for at in spots], "text": f"not legal{by}"}
            )
    return told


def attempt_chart(plan: Plan, attempt: Attempt) -> Markup:
    """The profile of a line that is not legal, outlet at the left.

    Parameters
    ----------
    plan : Plan
        For units.
    attempt : Attempt
        With its line.

    Returns
    -------
    Markup
        One figure: ground, the lowest inverts that fall to the outlet (dashed), the highest legal ones where they are
        lower, and the worst place.
    """
    line, worst = attempt.line, worst_of(attempt)
    if worst is None:
        return Markup("")
    levels = (
        [at.invert for at in line]
        + [at.invert - at.short for at in line]
        + [at.ground for at in line if math.isfinite(at.ground)]
    )
    low, high, long = min(levels) - 0.05, max(levels) + 0.05, max(line[-1].station, 0.1)

    def x(station: float) -> float:
        return round(_LEFT + (_RIGHT - _LEFT) * station / long, 1)

    def y(level: float) -> float:
        return round(_BOTTOM - (_BOTTOM - _TOP) * (level - low) / (high - low), 1)

    def path(points: Sequence[tuple[float, float]]) -> str:
        return "M" + "L".join(f"{x(station)} {y(level)}" for station, level in points)

    legal = [(at.station, at.invert - at.short) for at in line]
    ground = [(at.station, at.ground) for at in line if math.isfinite(at.ground)]
    unit, up = plan.length_unit, plan.elevation_unit
    said = f"{units.small_text(worst.short, unit)} too high at {units.station_text(worst.station, unit)}"
    left = x(worst.station) > (_LEFT + _RIGHT) / 2
    marks = [
        *([tag("path", d=path(ground), class_="ground")] if len(ground) > 1 else []),
        tag("path", d=path(legal), class_="least"),
        tag("path", d=path([(at.station, at.invert) for at in line]), class_="invert not-legal"),
        *(
            []
            if worst.short <= 0
            else [
                tag("circle", cx=x(worst.station), cy=y(worst.invert), r=5, class_="worst"),
                tag(
                    "text",
                    said,
                    x=x(worst.station) + (-8 if left else 8),
                    y=_TOP - 12,
                    text_anchor="end" if left else "start",
                    class_="said",
                ),
            ]
        ),
        tag("text", units.length_text(high, up), x=4, y=_TOP + 4, class_="axis"),
        tag("text", units.length_text(low, up), x=4, y=_BOTTOM, class_="axis"),
        tag("text", f"outlet {units.station_text(0.0, unit)}", x=_LEFT, y=_HEIGHT - 8, class_="axis"),
        tag("text", units.station_text(long, unit), x=_RIGHT, y=_HEIGHT - 8, text_anchor="end", class_="axis"),
    ]
    chart = tag(
        "svg",
        *marks,
        class_="chart",
        viewbox=f"0 0 {_WIDTH} {_HEIGHT}",
        role="img",
        aria_label="Profile of a line that is not legal",
    )
    note = "Dashed: the line that was tried. Dotted: the highest inverts that are legal. Brown: the ground."
    return tag("figure", chart, tag("p", note, class_="note"), class_="miss")
