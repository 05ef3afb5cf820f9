"""What stands beside the pipe in a profile.

Doubt of the ground, water at the design flow, utilities at their depth, size and slope run by run.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from siteplan import units
from siteplan.books.fittings import fitting_words
from siteplan.books.rules import UTILITY_CROSSED
from siteplan.books.services import service
from siteplan.sheets.chart_scale import LETTER, ChartScale, run_points, word
from siteplan.sheets.graded_runs import graded_runs, one_grade_runs
from siteplan.sheets.markup import Markup, tag, whole
from siteplan.sheets.panel_parts import boxed, to_line
from siteplan.sheets.readings import Readings
from siteplan.sheets.stakes import pipe_words, pipes_along
from siteplan.sheets.wording import level_text
from siteplan.trench.pipe_words import small
from siteplan.values.lines import Crossing, Line
from siteplan.values.whole_plan import Plan

STRIP = 36.0  # height of the strip under the axis that tells size and slope [px]
WITHIN = 1.96  # doubts to each side of the ground that hold 95 % of what may be (normal distribution)
_SAME = 0.004  # stations closer than this are one [m]


class Beside(NamedTuple):
    """What the chart shows beside ground and pipe; `gaps` are clearances by a crossing's station [m]."""

    levels: tuple[tuple[float, float], ...] = ()
    gaps: Mapping[float, float | None] = {}
    accuracy: float = 0.0


NOTHING_BESIDE = Beside()


def beside_of(plan: Plan, line: Line) -> Beside:
    """What a plan knows beside a line.

    Parameters
    ----------
    plan : Plan
        The plan, with its water and its findings.
    line : Line
        One of its lines.

    Returns
    -------
    Beside
        Clearances as the checks found them.
    """
    water = () if plan.water is None else plan.water.lines
    levels = next((one.levels for one in water if one.line == line.id), ())
    return Beside(
        levels,
        {one.station_from: _gap(plan, line, one) for one in line.crossings if one.kind == "utility"},
        plan.accuracy,
    )


def _gap(plan: Plan, line: Line, crossing: Crossing) -> float | None:
    """Clearance that the checks found where the line crosses a utility; None: not known."""
    about = f"{line.id}:crossing {crossing.name or 'utility'}"
    at = (crossing.station_from + crossing.station_to) / 2
    for one in plan.findings:
        if one.rule != UTILITY_CROSSED.id or one.subject != about or one.place is None:
            continue
        if one.place.station_from - _SAME <= at <= one.place.station_to + _SAME:
            return one.value
    return None


def ground_band(line: Line, found: Readings, scale: ChartScale, accuracy: float) -> list[str]:
    """Where the ground lies with a chance of 95 %.

    Parameters
    ----------
    line : Line
        The line, whose rows know the doubt of their ground.
    found : Readings
        Ground along it.
    scale : ChartScale
        Of the chart.
    accuracy : float
        One standard deviation where a row knows none [m].

    Returns
    -------
    list of str
        One area for each stretch of known ground; none without doubt.
    """
    at = [row.station for row in line.rows]
    doubts = [accuracy if row.ground_doubt is None else row.ground_doubt for row in line.rows]
    if not at or max(doubts) <= 0:
        return []
    wide = WITHIN * np.interp(found.station, at, doubts)
    known = np.isfinite(found.ground)
    marks: list[str] = []
    for run in np.split(np.arange(len(known)), np.flatnonzero(np.diff(known.astype(int))) + 1):
        if not known[run[0]] or len(run) < 2:
            continue
        edge = [(found.station[i], found.ground[i] + wide[i]) for i in run]
        edge += [(found.station[i], found.ground[i] - wide[i]) for i in reversed(run)]
        marks.append(tag("polygon", class_="chance-band", points=run_points(edge, scale)))
    return marks


def water_surface(levels: tuple[tuple[float, float], ...], scale: ChartScale) -> list[str]:
    """The water's surface at the design flow.

    Parameters
    ----------
    levels : tuple of (float, float)
        Stations and elevations, outlet first [m].
    scale : ChartScale
        Of the chart.

    Returns
    -------
    list of str
        One line; none where the flow is not known.
    """
    return [tag("polyline", class_="water-surface", points=run_points(levels, scale))] if len(levels) > 1 else []


def utilities_crossed(
    line: Line, found: Readings, scale: ChartScale, unit: str, gaps: Mapping[float, float | None], *, wide: bool
) -> list[str]:
    """Utilities where they lie, with what is clear between them and the pipe.

    Parameters
    ----------
    line : Line
        The line.
    found : Readings
        Ground along it.
    scale : ChartScale
        Of the chart.
    unit : str
        The site's length unit.
    gaps : mapping of float to float or None
        Clearances by a crossing's station [m].
    wide : bool
        Whether there is room for more than a few letters.

    Returns
    -------
    list of str
        A disc whose top is the utility's top; one whose depth nobody knows stands as a rule from top to bottom.
    """
    marks: list[str] = []
    for crossing in line.crossings:
        if crossing.kind != "utility":
            continue
        at = (crossing.station_from + crossing.station_to) / 2
        x, letter = scale.x(at), service(crossing.service).letter
        ground = float(np.interp(at, found.station, found.ground))
        gap = gaps.get(crossing.station_from)
        if crossing.depth is None or not math.isfinite(ground):
            marks.append(
                tag("line", class_="depth-unknown", x1=x, x2=x, y1=scale.top, y2=scale.bottom, data_x=f"{x:.1f}")
            )
            y, told = scale.bottom - 22, "depth NOT KNOWN" if wide else "depth ?"
        else:
            y = min(scale.y(ground - crossing.depth) + 7, scale.bottom - 8)
            told = "clearance not known" if gap is None else f"{small(gap, unit)} clear" if gap >= 0 else "THEY MEET"
        left = x > (scale.left + scale.right) / 2
        marks += [
            tag("circle", class_="service-at", cx=round(x, 1), cy=round(y, 1), r=7, data_x=f"{x:.1f}"),
            word(letter, x, y + 4, "service-letter"),
            word(told, x + (-11 if left else 11), y + 4, "said clear", anchor="end" if left else "start"),
        ]
    return marks


def strip(line: Line, scale: ChartScale, unit: str) -> list[str]:
    """Under the axis: size and material of each pipe, slope and length of each run, as far as there is room.

    Parameters
    ----------
    line : Line
        The line.
    scale : ChartScale
        Of the chart.
    unit : str
        The site's length unit.

    Returns
    -------
    list of str
        Two rows of cells.
    """
    top = scale.bottom + 19
    marks: list[str] = [
        tag("line", class_="strip-edge", x1=scale.left, x2=scale.right, y1=y, y2=y) for y in (top, top + 15.5, top + 31)
    ]
    pipes = [(first, last, (pipe_words(pipe, unit), pipe.nominal)) for first, last, pipe in pipes_along(line)]
    runs = [
        (
            run.station_from,
            run.station_to,
            (f"{units.grade_text(run.grade)}, {units.length_text(run.length, unit, 1)}", units.grade_text(run.grade)),
        )
        for run in one_grade_runs(line)
    ]
    for row, (cells, y) in enumerate(((pipes, top), (runs, top + 15.5))):
        for first, last, said in cells:
            left, right = scale.x(first), scale.x(last)
            marks += [
                tag("line", class_="strip-edge", x1=at, x2=at, y1=y, y2=y + 15.5, data_x=f"{at:.1f}")
                for at in (left, right)
            ]
            fits = next((one for one in said if LETTER * len(one) + 4 <= right - left), None)
            kind = "said material" if row == 0 else "said grade"
            for one in said:  # the longer one shows where a zoom gives it room
                marks.append(
                    word(
                        one,
                        (left + right) / 2,
                        y + 12,
                        kind,
                        row=f"strip-{row}-{first:.2f}",
                        room=right - left,
                        crowded=one is not fits,
                    )
                )
    return marks


def runs_and_inverts(plan: Plan, line: Line) -> Markup:
    """The same in tables: every run, and every invert where something stands or the grade turns.

    Parameters
    ----------
    plan : Plan
        The plan.
    line : Line
        One of its lines.

    Returns
    -------
    Markup
        One element that opens.
    """
    unit, high = plan.length_unit, plan.elevation_unit
    runs = []
    for run in graded_runs(line):
        figures = [
            units.station_text(run.station_to, unit),
            units.length_text(run.length, unit, 1),
            "under pressure" if line.pumped is not None else units.grade_text(run.grade),
        ]
        runs.append(
            tag(
                "tr",
                tag(
                    "td",
                    to_line(plan, line.id, run.station_from, units.station_text(run.station_from, unit)),
                    class_="number",
                ),
                *[tag("td", figure, class_="number") for figure in figures],
                tag("td", pipe_words(run.pipe, unit)),
            )
        )
    inverts = [
        tag(
            "tr",
            tag("td", to_line(plan, line.id, at.station, units.station_text(at.station, unit)), class_="number"),
            tag("td", units.length_text(at.invert, high), class_="number"),
            tag("td", level_text(at.ground, high), class_="number"),
            tag("td", whole(fitting_words(at.fittings)) or "\u2013"),
        )
        for at in line.vertices
    ]
    return tag(
        "details",
        tag("summary", "Runs and inverts"),
        boxed(_table(f"Runs of {line.id}, from the outlet up", ("From", "To", "Length", "Slope", "Pipe"), runs)),
        boxed(_table(f"Inverts of {line.id}", ("Station", "Invert", "Ground", "What stands there"), inverts)),
    )


def _table(title: str, heads: tuple[str, ...], rows: list[Markup]) -> Markup:
    head = tag("thead", tag("tr", *[tag("th", one, scope="col") for one in heads]))
    return tag("table", tag("caption", title), head, tag("tbody", *rows))
