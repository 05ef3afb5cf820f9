"""A line and its readings in; its profile as inline SVG out.

The chart shows the ground, the pipe between invert and top, the crossings and the wet low spots.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.books.rules import RuleBook
from siteplan.sheets.markup import Markup, shown_number, tag
from siteplan.sheets.readings import Readings
from siteplan.sheets.stakes import pipe_words, pipes_along
from siteplan.sheets.wording import KIND_TITLES, one_line
from siteplan.values import Line, LowSpot

_LETTER = 6.9  # width of a digit in the chart's type [px]
_SAME = 0.004  # stations closer than this are one [m]
_TICKS = (0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 500.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    """From station and elevation to pixels."""

    left: float
    right: float
    top: float
    bottom: float
    length: float
    low: float
    high: float

    def x(self, station: float) -> float:
        return self.left + (self.right - self.left) * station / max(self.length, 1e-9)

    def y(self, elevation: float) -> float:
        return self.bottom - (self.bottom - self.top) * (elevation - self.low) / max(self.high - self.low, 1e-9)

    @property
    def exaggeration(self) -> float:
        """How many times heights are drawn larger than lengths [-]."""
        across = (self.right - self.left) / max(self.length, 1e-9)
        return (self.bottom - self.top) / max(self.high - self.low, 1e-9) / across


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

    Returns
    -------
    Markup
        One svg element, with data attributes for the page's script.
    """
    scale = _scale(line, found, elevation_unit, width, height)
    wide = width >= 500
    crossed, over = _crossings(line, scale, wide=wide)
    wet, wetted = _wet(line, low_spots, scale)
    marks: list[str] = [
        *crossed,
        *wet,
        *_axes(scale, unit, elevation_unit, wide=wide),
        *_ground(found, scale),
        *_cover_limit(line, found, rules, scale, outlet_end=outlet_end),
        *_pipe(line, scale),
        *_over_names([*over, *wetted], scale),
        *_corners(line, scale, elevation_unit, wide=wide),
        *_materials(line, scale, unit, wide=wide),
        tag("text", f"heights drawn {scale.exaggeration:.1f} times lengths", class_="axis times", x=6, y=height - 5),
        tag("line", class_="cursor", x1=scale.left, x2=scale.left, y1=scale.top, y2=scale.bottom),
        tag("circle", class_="cursor-ground", cx=scale.left, cy=scale.bottom, r=4.5),
        tag("circle", class_="cursor-invert", cx=scale.left, cy=scale.bottom, r=4.5),
    ]
    return tag(
        "svg", *marks, class_=f"chart {'chart-wide' if wide else 'chart-narrow'}", viewbox=f"0 0 {width} {height}", role="img",
        aria_label=f"Profile of {line.id}: ground, pipe and crossings by station", data_line=str(place),
        data_left=scale.left, data_right=scale.right, data_top=scale.top, data_bottom=scale.bottom,
        data_low=f"{scale.low:.5f}", data_high=f"{scale.high:.5f}", data_length=f"{scale.length:.5f}",
    )  # fmt: skip


def _scale(line: Line, found: Readings, unit: str, width: int, height: int) -> _Scale:
    own = units.LENGTH[unit]
    low = float(found.invert.min()) - 0.12
    tops = np.concatenate([found.ground[np.isfinite(found.ground)], found.invert + line.pipe.rise])
    high = float(tops.max()) + 0.10
    tick = _tick((high - low) / own, height / 34) * own
    low, high = math.floor(low / tick) * tick, math.ceil(high / tick) * tick
    return _Scale(left=54, right=width - 14, top=36, bottom=height - 48, length=line.length, low=low, high=high)


def _tick(span: float, most: float) -> float:
    return next((tick for tick in _TICKS if span / tick <= most), _TICKS[-1])


def _axes(scale: _Scale, unit: str, elevation_unit: str, *, wide: bool) -> list[str]:
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
        marks.append(tag("line", class_="grid", x1=x, x2=x, y1=scale.top, y2=scale.bottom))
        label = f"{count * spacing:g}"
        marks.append(tag("text", label, class_="tick", x=x, y=scale.bottom + 15, text_anchor="middle"))
    name = units.UNIT_NAMES[unit]
    said = f"station, {name} up from the outlet" if wide else f"station, {name} from outlet"
    marks.append(
        tag("text", said, class_="axis", x=(scale.left + scale.right) / 2, y=scale.bottom + 29, text_anchor="middle")
    )
    marks.append(tag("text", f"elevation, {units.UNIT_NAMES[elevation_unit]}", class_="axis", x=6, y=13))
    marks.append(tag("text", "\u2190 water runs this way", class_="axis flow", x=scale.right, y=13, text_anchor="end"))
    return marks


def _ground(found: Readings, scale: _Scale) -> list[str]:
    marks: list[str] = []
    known = np.isfinite(found.ground)
    runs = np.split(np.arange(len(known)), np.flatnonzero(np.diff(known.astype(int))) + 1)
    for run in runs:
        if not known[run[0]] or len(run) < 2:
            continue
        points = [f"{shown_number(scale.x(found.station[i]))},{shown_number(scale.y(found.ground[i]))}" for i in run]
        foot = f"{shown_number(scale.x(found.station[run[-1]]))},{shown_number(scale.bottom)} {shown_number(scale.x(found.station[run[0]]))},{shown_number(scale.bottom)}"
        marks.append(tag("polygon", class_="soil", points=f"{' '.join(points)} {foot}"))
        marks.append(tag("polyline", class_="ground", points=" ".join(points)))
        marks.append(tag("path", class_="earth", d=_hatch(found, run, scale)))
    return marks


def _hatch(found: Readings, run: NDArray[np.intp], scale: _Scale) -> str:
    """Short strokes down from the ground line, every 9 px: earth lies under it."""
    at = np.arange(scale.x(float(found.station[run[0]])) + 4, scale.x(float(found.station[run[-1]])) - 2, 9.0)
    x = [scale.x(float(found.station[i])) for i in run]
    y = np.interp(at, x, [scale.y(float(found.ground[i])) for i in run])
    return "".join(f"M{shown_number(a)} {shown_number(b)}l-5 7" for a, b in zip(at.tolist(), y.tolist(), strict=True))


def _materials(line: Line, scale: _Scale, unit: str, *, wide: bool) -> list[str]:
    """Size and material on each stretch of pipe, as far as there is room."""
    marks: list[str] = []
    for first, last, pipe in pipes_along(line):
        words = pipe_words(pipe, unit) if wide else pipe.nominal
        if scale.x(last) - scale.x(first) < 6.0 * len(words) + 6:
            continue
        middle = (first + last) / 2
        at = [vertex.station for vertex in line.vertices]
        invert = float(np.interp(middle, at, [vertex.invert for vertex in line.vertices]))
        top = scale.y(invert + pipe.rise) - 4
        marks.append(tag("text", words, class_="said material", x=scale.x(middle), y=top, text_anchor="middle"))
    return marks


def _cover_limit(line: Line, found: Readings, rules: RuleBook, scale: _Scale, *, outlet_end: bool) -> list[str]:
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
    points = " ".join(
        f"{shown_number(scale.x(s))},{shown_number(scale.y(g - limit))}"
        for s, g in zip(found.station[inside], found.ground[inside], strict=True)
    )
    last = int(np.flatnonzero(inside)[-1])
    end = scale.y(float(found.ground[last]) - limit)
    return [
        tag("polyline", class_="least", points=points),
        tag(
            "text",
            "least cover",
            class_="least-name",
            x=scale.x(float(found.station[last])),
            y=end - 3,
            text_anchor="end",
        ),
    ]


def _pipe(line: Line, scale: _Scale) -> list[str]:
    low = [f"{shown_number(scale.x(v.station))},{shown_number(scale.y(v.invert))}" for v in line.vertices]
    high = [
        f"{shown_number(scale.x(v.station))},{shown_number(scale.y(v.invert + line.pipe.rise))}"
        for v in reversed(line.vertices)
    ]
    return [
        tag("polygon", class_="pipe", points=" ".join([*low, *high])),
        tag("polyline", class_="invert", points=" ".join(low)),
    ]


def _corners(line: Line, scale: _Scale, unit: str, *, wide: bool) -> list[str]:
    """Inverts at both ends and at bends as far as there is room; each grade once under the line."""
    taken: list[tuple[float, float]] = []
    digits = 3 if unit == "m" else 2
    ends = (line.vertices[0], line.vertices[-1])
    marks: list[str] = [
        tag(
            "line",
            class_="corner",
            x1=scale.x(vertex.station),
            x2=scale.x(vertex.station),
            y1=scale.y(vertex.invert) - 7,
            y2=scale.y(vertex.invert) + 7,
        )
        for vertex in line.vertices
    ]

    def say(words: str, x: float, y: float, anchor: str, kind: str) -> bool:
        width = _LETTER * len(words) + 8
        left = {"start": x, "end": x - width, "middle": x - width / 2}[anchor]
        if left < scale.left - 2 or any(left < right and begin < left + width for begin, right in taken):
            return False
        taken.append((left, left + width))
        marks.append(tag("text", words, class_=kind, x=x, y=y + 18, text_anchor=anchor))
        return True

    for vertex in ends:
        words = f"inv {units.from_metres(vertex.invert, unit):.{digits}f}"
        say(words, scale.x(vertex.station), scale.y(vertex.invert), "start" if vertex is ends[0] else "end", "said")
    said = ""
    for low, high in itertools.pairwise(line.vertices):
        row = next((row for row in line.rows if row.station > low.station + _SAME), None)
        x = (scale.x(low.station) + scale.x(high.station)) / 2
        words = units.grade_text(row.grade) if row is not None else ""
        if words and words != said and say(words, x, scale.y((low.invert + high.invert) / 2), "middle", "said grade"):
            said = words
    for vertex in line.vertices[1:-1] if wide else ():
        words = f"inv {units.from_metres(vertex.invert, unit):.{digits}f}"
        say(words, scale.x(vertex.station), scale.y(vertex.invert), "middle", "said")
    return marks


def _crossings(line: Line, scale: _Scale, *, wide: bool) -> tuple[list[str], list[tuple[float, str]]]:
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


def _wet(line: Line, low_spots: Mapping[str, LowSpot], scale: _Scale) -> tuple[list[str], list[tuple[float, str]]]:
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


def _band(kind: str, left: float, right: float, scale: _Scale) -> Markup:
    height = scale.bottom - scale.top
    return tag("rect", class_=kind, x=left, y=scale.top, width=max(right - left, 2), height=height)


def _over_names(said: list[tuple[float, str]], scale: _Scale) -> list[str]:
    """Names of bands over the chart; where two would lie over one another the later one stands a row lower."""
    taken: list[tuple[float, float, int]] = []
    marks: list[str] = []
    for middle, name in said:
        half = _LETTER * len(name) / 2
        at = min(max(middle, scale.left + half), scale.right - half)
        row = 0
        while any(row == other and at - half < right and left < at + half for left, right, other in taken):
            row += 1
        taken.append((at - half, at + half, row))
        marks.append(
            tag("text", name, class_="over-name", x=round(at, 1), y=scale.top - 4 + 15 * row, text_anchor="middle")
        )
    return marks
