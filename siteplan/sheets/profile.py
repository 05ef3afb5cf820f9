"""A line and its readings in; its profile as inline SVG out.

The chart shows the ground, the pipe between invert and top, the crossings and the wet low spots.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.books.rules import RuleBook
from siteplan.sheets.chart_scale import LETTER, ChartScale, run_points, word
from siteplan.sheets.markup import Markup, shown_number, tag
from siteplan.sheets.profile_beside import (
    NOTHING_BESIDE,
    STRIP,
    Beside,
    ground_band,
    strip,
    utilities_crossed,
    water_surface,
)
from siteplan.sheets.readings import Readings
from siteplan.sheets.wording import KIND_TITLES, one_line
from siteplan.values.forecasts import LowSpot
from siteplan.values.lines import Line

_TICKS = (0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 500.0)


def profile_chart(
    line: Line,
    found: Readings,
    low_spots: Mapping[str, LowSpot],
    rules: RuleBook,
    unit: str,
    elevation_unit: str,
    *,
    width: int,
    height: int,
    place: int,
    outlet_end: bool,
    beside: Beside = NOTHING_BESIDE,
) -> Markup:
    """The profile as SVG, outlet at the left, water running left.

    Parameters
    ----------
    line : Line
        The line.
    found : Readings
        From `readings`.
    low_spots : mapping of str to LowSpot
        By id, for the names of the stretches crossed.
    rules : RuleBook
        For the least cover drawn as a dashed line.
    unit, elevation_unit : str
        The site's, of stations and of elevations: 'ft', 'us-ft' or 'm'.
    width, height : int
        Of the drawing [px].
    place : int
        The line's place in the plan, from 0.
    outlet_end : bool
        Whether it comes to the surface at its end; a line that joins another or an old pipe has no outlet zone.
    beside : Beside
        Water surface, clearances at utilities, doubt of the ground.

    Returns
    -------
    Markup
        One svg element, with data attributes for the page's script.
    """
    scale = _scale(line, found, elevation_unit, width, height)
    wide = width >= 500
    crossed, over = _crossings(line, scale, wide=wide)
    wet, wetted = _wet(line, low_spots, scale)
    clip = f"along-{place}-{width}"
    shapes = [
        *crossed,
        *wet,
        *ground_band(line, found, scale, beside.accuracy),
        *_ground(found, scale),
        *_cover_limit(line, found, rules, scale, outlet_end=outlet_end),
        *_pipe(line, scale),
        *water_surface(beside.levels, scale),
    ]
    points = [part for part in shapes if part.startswith("<text")]
    window = tag("rect", x=scale.left, y=scale.top, width=scale.right - scale.left, height=scale.bottom - scale.top + 1)
    marks: list[str] = [
        *_axes(scale, unit, elevation_unit, wide=wide),
        tag("clipPath", window, id=clip),
        tag("g", tag("g", *[part for part in shapes if part not in points], class_="along"), clip_path=f"url(#{clip})"),
        *points,
        *_over_names([*over, *wetted], scale),
        *_corners(line, scale, elevation_unit),
        *utilities_crossed(line, found, scale, unit, beside.gaps, wide=wide),
        *strip(line, scale, unit),
        tag(
            "text",
            f"heights drawn {scale.exaggeration:.1f} times lengths",
            class_="axis times",
            x=6,
            y=height - 5,
            data_times=f"{scale.exaggeration:.6f}",
        ),
        tag("line", class_="cursor", x1=scale.left, x2=scale.left, y1=scale.top, y2=scale.bottom + STRIP),
        tag("circle", class_="cursor-ground", cx=scale.left, cy=scale.bottom, r=4.5),
        tag("circle", class_="cursor-invert", cx=scale.left, cy=scale.bottom, r=4.5),
    ]
    return tag(
        "svg",
        *marks,
        class_=f"chart {'chart-wide' if wide else 'chart-narrow'}",
        viewbox=f"0 0 {width} {height}",
        role="img",
        aria_label=f"Profile of {line.id}: ground, pipe and crossings by station",
        data_line=str(place),
        data_left=scale.left,
        data_right=scale.right,
        data_top=scale.top,
        data_bottom=scale.bottom,
        data_low=f"{scale.low:.5f}",
        data_high=f"{scale.high:.5f}",
        data_length=f"{scale.length:.5f}",
    )


def _scale(line: Line, found: Readings, unit: str, width: int, height: int) -> ChartScale:
    own = units.LENGTH[unit]
    low = float(found.invert.min()) - 0.12
    tops = np.concatenate([found.ground[np.isfinite(found.ground)], found.invert + line.pipe.rise])
    high = float(tops.max()) + 0.10
    tick = _tick((high - low) / own, height / 34) * own
    low, high = math.floor(low / tick) * tick, math.ceil(high / tick) * tick
    return ChartScale(
        left=54, right=width - 14, top=36, bottom=height - 48 - STRIP, length=line.length, low=low, high=high
    )


def _tick(span: float, most: float) -> float:
    return next((tick for tick in _TICKS if span / tick <= most), _TICKS[-1])


def _axes(scale: ChartScale, unit: str, elevation_unit: str, *, wide: bool) -> list[str]:
    marks: list[str] = []
    own = units.LENGTH[elevation_unit]
    tick = _tick((scale.high - scale.low) / own, (scale.bottom - scale.top) / 30)
    first, last = math.ceil(scale.low / own / tick - 1e-6), math.floor(scale.high / own / tick + 1e-6)
    digits = 2 if tick == 0.25 else 1 if tick < 1 else 0
    for count in range(first, last + 1):
        y = scale.y(count * tick * own)
        marks.append(tag("line", class_="grid", x1=scale.left, x2=scale.right, y1=y, y2=y))
        marks.append(
            tag("text", f"{count * tick:.{digits}f}", class_="tick", x=scale.left - 6, y=y + 4, text_anchor="end")
        )
    own = units.LENGTH[unit]
    spacing = _tick(scale.length / own, 10 if wide else 4)
    for count in range(int(scale.length / own / spacing) + 1):
        x = scale.x(count * spacing * own)
        marks.append(tag("line", class_="grid", x1=x, x2=x, y1=scale.top, y2=scale.bottom, data_x=f"{x:.1f}"))
        marks.append(word(f"{count * spacing:g}", x, scale.bottom + 15, "tick"))
    name = units.UNIT_NAMES[unit]
    said = f"station, {name} up from the outlet" if wide else f"station, {name} from outlet"
    marks.append(
        tag(
            "text",
            said,
            class_="axis",
            x=(scale.left + scale.right) / 2,
            y=scale.bottom + 29 + STRIP,
            text_anchor="middle",
        )
    )
    marks.append(tag("text", f"elevation, {units.UNIT_NAMES[elevation_unit]}", class_="axis", x=6, y=13))
    marks.append(tag("text", "\u2190 water runs this way", class_="axis flow", x=scale.right, y=13, text_anchor="end"))
    return marks


def _ground(found: Readings, scale: ChartScale) -> list[str]:
    marks: list[str] = []
    known = np.isfinite(found.ground)
    runs = np.split(np.arange(len(known)), np.flatnonzero(np.diff(known.astype(int))) + 1)
    for run in runs:
        if not known[run[0]] or len(run) < 2:
            continue
        points = run_points([(float(found.station[i]), float(found.ground[i])) for i in run], scale)
        foot = (
            f"{shown_number(scale.x(found.station[run[-1]]))},{shown_number(scale.bottom)} "
            f"{shown_number(scale.x(found.station[run[0]]))},{shown_number(scale.bottom)}"
        )
        marks.append(tag("polygon", class_="soil", points=f"{points} {foot}"))
        marks.append(tag("polyline", class_="ground", points=points))
        marks.append(tag("path", class_="earth", d=_hatch(found, run, scale)))
    return marks


def _hatch(found: Readings, run: NDArray[np.intp], scale: ChartScale) -> str:
    """Short strokes down from the ground line, every 9 px: earth lies under it."""
    at = np.arange(scale.x(float(found.station[run[0]])) + 4, scale.x(float(found.station[run[-1]])) - 2, 9.0)
    x = [scale.x(float(found.station[i])) for i in run]
    y = np.interp(at, x, [scale.y(float(found.ground[i])) for i in run])
    return "".join(f"M{shown_number(a)} {shown_number(b)}l-5 7" for a, b in zip(at.tolist(), y.tolist(), strict=True))


def _cover_limit(line: Line, found: Readings, rules: RuleBook, scale: ChartScale, *, outlet_end: bool) -> list[str]:
    """The line that the top of pipe must stay under, where the plain least cover applies."""
    limit = rules["min-cover"].limit
    if limit is None:
        return []
    zone, head = rules["outlet-zone"].limit or 0.0, rules["start-zone"].limit or 0.0
    inside = (
        np.isfinite(found.ground)
        & (found.station >= (zone if outlet_end else 0.0))
        & (found.station <= line.length - head)
    )
    if inside.sum() < 2:
        return []
    edge = [(float(s), float(g) - limit) for s, g in zip(found.station[inside], found.ground[inside], strict=True)]
    points = run_points(edge, scale)
    last = int(np.flatnonzero(inside)[-1])
    end = scale.y(float(found.ground[last]) - limit)
    return [
        tag("polyline", class_="least", points=points),
        word("least cover", scale.x(float(found.station[last])), end - 3, "least-name", anchor="end"),
    ]


def _pipe(line: Line, scale: ChartScale) -> list[str]:
    low = [f"{shown_number(scale.x(v.station))},{shown_number(scale.y(v.invert))}" for v in line.vertices]
    high = [
        f"{shown_number(scale.x(v.station))},{shown_number(scale.y(v.invert + line.pipe.rise))}"
        for v in reversed(line.vertices)
    ]
    return [
        tag("polygon", class_="pipe", points=" ".join([*low, *high])),
        tag("polyline", class_="invert", points=" ".join(low)),
    ]


def _corners(line: Line, scale: ChartScale, unit: str) -> list[str]:
    """Inverts at both ends and at every vertex, as far as there is room."""
    taken: list[tuple[float, float]] = []
    digits = 3 if unit == "m" else 2
    ends = (line.vertices[0], line.vertices[-1])
    marks: list[str] = [
        tag(
            "line",
            class_="corner",
            data_x=f"{scale.x(vertex.station):.1f}",
            x1=scale.x(vertex.station),
            x2=scale.x(vertex.station),
            y1=scale.y(vertex.invert) - 7,
            y2=scale.y(vertex.invert) + 7,
        )
        for vertex in line.vertices
    ]

    def say(words: str, x: float, y: float, anchor: str) -> None:
        width = LETTER * len(words) + 8
        left = {"start": x, "end": x - width, "middle": x - width / 2}[anchor]
        crowded = left < scale.left - 2 or any(left < right and begin < left + width for begin, right in taken)
        if not crowded:
            taken.append((left, left + width))
        marks.append(word(words, x, y + 18, "said", anchor=anchor, row="inverts", crowded=crowded))

    for vertex in ends:
        words = f"inv {units.rounded(units.from_metres(vertex.invert, unit), digits):.{digits}f}"
        say(words, scale.x(vertex.station), scale.y(vertex.invert), "start" if vertex is ends[0] else "end")
    for vertex in line.vertices[1:-1]:
        words = f"inv {units.rounded(units.from_metres(vertex.invert, unit), digits):.{digits}f}"
        say(words, scale.x(vertex.station), scale.y(vertex.invert), "middle")
    return marks


def _crossings(line: Line, scale: ChartScale, *, wide: bool) -> tuple[list[str], list[tuple[float, str]]]:
    """Bands of what is crossed, and their names with the middles [px]."""
    marks: list[str] = []
    said: list[tuple[float, str]] = []
    for crossing in line.crossings:
        left, right = scale.x(crossing.station_from), scale.x(crossing.station_to)
        marks.append(_band(f"over over-{crossing.kind}", left, right, scale))
        name = one_line(crossing.name) or KIND_TITLES.get(crossing.kind, crossing.kind)
        most = 22 if wide else 12
        said.append(((left + right) / 2, name if len(name) <= most else name[: most - 1] + "\u2026"))
    return marks, said


def _wet(line: Line, low_spots: Mapping[str, LowSpot], scale: ChartScale) -> tuple[list[str], list[tuple[float, str]]]:
    """Bands of wet ground, and their names with the middles [px]."""
    marks: list[str] = []
    said: list[tuple[float, str]] = []
    for passage in line.low_spots:
        left, right = scale.x(passage.station_from), scale.x(passage.station_to)
        marks.append(_band("wet", left, right, scale))
        spot = low_spots.get(passage.id)
        called = (
            f"wet {passage.id}"
            if spot is None or spot.kind == "hollow"
            else KIND_TITLES.get(spot.kind, spot.kind).lower()
        )
        said.append(((left + right) / 2, called))
    return marks, said


def _band(kind: str, left: float, right: float, scale: ChartScale) -> Markup:
    height = scale.bottom - scale.top
    return tag("rect", class_=kind, x=left, y=scale.top, width=max(right - left, 2), height=height)


def _over_names(said: list[tuple[float, str]], scale: ChartScale) -> list[str]:
    """Names of bands over the chart; where two would lie over one another the later one stands a row lower."""
    taken: list[tuple[float, float, int]] = []
    marks: list[str] = []
    for middle, name in said:
        half = LETTER * len(name) / 2
        at = min(max(middle, scale.left + half), scale.right - half)
        row = 0
        while any(row == other and at - half < right and left < at + half for left, right, other in taken):
            row += 1
        taken.append((at - half, at + half, row))
        marks.append(word(name, at, scale.top - 4 + 15 * row, "over-name"))
    return marks
