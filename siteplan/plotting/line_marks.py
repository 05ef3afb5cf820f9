"""A plan's lines in; what is drawn of them in plan out.

Pipe, station ticks, arrows, fittings, sleeves, and the labels of all of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from siteplan import units
from siteplan.plotting.fonts import wrapped
from siteplan.plotting.gathered import Gathered
from siteplan.plotting.graded import place_texts, run_texts, told_places
from siteplan.plotting.looks_of import HAND_DIG, LAID, LAID_FAILS, LAID_UNSURE, PRESSED, SLEEVE
from siteplan.plotting.placing import Label, label_wide
from siteplan.plotting.shapes import Pen, Spot, Stroke
from siteplan.plotting.site_marks import NAME_MM
from siteplan.plotting.symbols import around, arrow, cross_stroke, end_symbol, fitting_symbol
from siteplan.plotting.view import View
from siteplan.sheets.graded_runs import GradedRun, graded_runs
from siteplan.sheets.stakes import hand_dig_text, pipe_words, pipes_along
from siteplan.sheets.states import line_state
from siteplan.sheets.wording import KIND_TITLES
from siteplan.values.lines import Line
from siteplan.values.water_ends import Outlet, Source
from siteplan.values.whole_plan import Plan

_TICKS_FT, _TICKS_M = (10.0, 25.0, 50.0, 100.0), (5.0, 10.0, 20.0, 50.0)
_TICK_MM = 9.0  # station ticks no nearer than this on paper
_ARROW_MM = 26.0  # from one flow arrow to the next
_ORDER = {"bend": 1, "turned_pair": 1, "wye": 2, "cleanout": 3}  # of symbols at one place, the last on top
_SLEEVE_OFF = 1.1  # of a sleeve's lines from the pipe [mm]


def line_pen(plan: Plan, line: Line) -> tuple[Pen, str, str]:
    """How a line is drawn, with its word in the key and the key's words.

    Parameters
    ----------
    plan : Plan
        The plan.
    line : Line
        One of its lines.

    Returns
    -------
    tuple
        Pen, look, words.
    """
    state = line_state(plan, line).state
    if state == "fails":
        return LAID_FAILS, "laid_fails", "Line that FAILS a check"
    if line.pumped is not None:
        return PRESSED, "pressed", "Line under pressure, arrows the way the water goes"
    if state == "cannot-tell":
        return LAID_UNSURE, "laid_unsure", "Line of which the survey cannot tell"
    return LAID, "laid", "New line; arrows the way the water runs"


def tick_spacing(view: View, unit: str) -> float:
    """How far apart stations are ticked.

    Parameters
    ----------
    view : View
        For its scale.
    unit : str
        The site's length unit.

    Returns
    -------
    float
        [m]
    """
    own = units.LENGTH[unit]
    choices = _TICKS_M if unit == "m" else _TICKS_FT
    return own * next((one for one in choices if one * own * view.by >= _TICK_MM), choices[-1])


def line_marks(plan: Plan, view: View, out: Gathered) -> None:
    """Every line, its fittings and ends.

    Parameters
    ----------
    plan : Plan
        As stored.
    view : View
        Where and how large.
    out : Gathered
        Is added to.
    """
    for line in plan.every_line:
        pen, look, words = line_pen(plan, line)
        strokes = [*view.runs("lines", [(v.x, v.y) for v in line.vertices], pen)]
        if not strokes:
            continue
        out.over.extend(strokes)
        out.pipes.extend(stroke.points for stroke in strokes)
        out.key[look] = words
        _sleeves(line, plan, view, out)
        _hand_dig(line, plan, view, out)
        _ticks(line, plan, view, out)
        _arrows(line, pen, view, out)
        for run in graded_runs(line):
            _run_label(run, plan, view, out)
    _fittings(plan, view, out)
    _ends(plan, view, out)
    _pits(plan, view, out)
    for place in told_places(plan):
        if view.shows((place.x, place.y)):
            head, *rest = place_texts(place, plan)
            lines = (
                *wrapped(head, 2.3, NAME_MM, bold=bool(place.head)),
                *(part for text in rest for part in wrapped(text, 2.3, NAME_MM)),
            )
            out.labels.append(
                (
                    20,
                    Label(
                        layer="places",
                        lines=lines,
                        spot=view.at((place.x, place.y)),
                        strong=bool(place.head),
                        foot=1.9 if place.head else 0.7,
                    ),
                )
            )


def _run_label(run: GradedRun, plan: Plan, view: View, out: Gathered) -> None:
    """Size, material, length and slope: along the longest straight piece, or beside it with a leader."""
    pieces = sorted(_pieces(run, view), key=lambda pair: -math.dist(*pair))
    if not pieces:
        return
    a, b = pieces[0]
    pipe, slope = run_texts(run, plan.length_unit)
    called = f"{run.line.id} {pipe}"
    whole = Label(
        layer="runs",
        lines=(f"{called}, {slope}",),
        spot=((a[0] + b[0]) / 2, (a[1] + b[1]) / 2),
        along=tuple(pieces[:2]),
        along_only=True,
    )
    if label_wide(whole) <= math.dist(a, b):
        lines: tuple[str, ...] = whole.lines
    else:
        lines = (called, slope)
    out.labels.append((10, Label(layer="runs", lines=lines, spot=whole.spot, along=whole.along, color="#003f66")))


def _pieces(run: GradedRun, view: View) -> Iterator[tuple[Spot, Spot]]:
    """Straight pieces of a run as the drawing shows them."""
    marks = [
        run.station_from,
        *(v.station for v in run.line.vertices if run.station_from < v.station < run.station_to),
        run.station_to,
    ]
    for first, last in pairwise(marks):
        ends = [run.line.at(station)[:2] for station in (first, last)]
        for stroke in view.runs("runs", ends, LAID):
            yield stroke.points[0], stroke.points[-1]


def _direction(line: Line, station: float) -> Spot:
    """Unit vector up the stations."""
    for a, b in pairwise(line.vertices):
        if station <= b.station and b.station > a.station:
            long = math.hypot(b.x - a.x, b.y - a.y) or 1.0
            return (b.x - a.x) / long, (b.y - a.y) / long
    return 1.0, 0.0


def _ticks(line: Line, plan: Plan, view: View, out: Gathered) -> None:
    step = tick_spacing(view, plan.length_unit)
    for count in range(1, math.ceil(line.length / step)):
        station = count * step
        place = line.at(station)[:2]
        if not view.shows(place):
            continue
        ux, uy = _direction(line, station)
        spot = view.at(place)
        out.over.append(cross_stroke(spot, (-uy, ux), 1.1, "stations"))
        out.key["station"] = f"Station, each {units.length_text(step, plan.length_unit, 0)}"
        said = units.station_text(station, plan.length_unit).removesuffix(".0").removesuffix(".00")
        out.labels.append((90, Label(layer="stations", lines=(said,), spot=spot, size=1.9, needed=False, leader=False)))


def _arrows(line: Line, pen: Pen, view: View, out: Gathered) -> None:
    for a, b in pairwise(line.vertices):
        first, last = view.at((a.x, a.y)), view.at((b.x, b.y))
        long = math.dist(first, last)
        if long < 7.0:
            continue
        count = max(1, round(long / _ARROW_MM))
        ux, uy = (last[0] - first[0]) / long, (last[1] - first[1]) / long
        for k in range(count):
            t = (k + 0.5) / count
            spot = (first[0] + t * (last[0] - first[0]), first[1] + t * (last[1] - first[1]))
            if view.room.left < spot[0] < view.room.right and view.room.bottom < spot[1] < view.room.top:
                out.over.append(arrow(spot, (-ux, -uy), pen.color))
                out.keep_off.append(around(spot, 1.3))


def _sleeves(line: Line, plan: Plan, view: View, out: Gathered) -> None:
    for reach in line.reaches:
        sleeve = reach.sleeve
        if sleeve is None:
            continue
        marks = [
            sleeve.station_from,
            *(v.station for v in line.vertices if sleeve.station_from < v.station < sleeve.station_to),
            sleeve.station_to,
        ]
        for first, last in pairwise(marks):
            a, b = view.at(line.at(first)[:2]), view.at(line.at(last)[:2])
            long = math.dist(a, b) or 1.0
            nx, ny = -(b[1] - a[1]) / long * _SLEEVE_OFF, (b[0] - a[0]) / long * _SLEEVE_OFF
            if not (view.shows(line.at(first)[:2]) and view.shows(line.at(last)[:2])):
                continue
            for sign in (1, -1):
                side = ((a[0] + sign * nx, a[1] + sign * ny), (b[0] + sign * nx, b[1] + sign * ny))
                out.over.append(Stroke(layer="sleeves", points=side, pen=SLEEVE))
                out.pipes.append(side)
        middle = line.at((sleeve.station_from + sleeve.station_to) / 2)[:2]
        if not view.shows(middle):
            continue
        out.key["sleeve"] = "Sleeve round the line"
        words = (
            f"sleeve {pipe_words(sleeve.pipe, plan.length_unit)}",
            (
                f"{line.id} {units.station_text(sleeve.station_from, plan.length_unit)} to "
                f"{units.station_text(sleeve.station_to, plan.length_unit)}"
            ),
        )
        out.labels.append((15, Label(layer="sleeves", lines=words, spot=view.at(middle))))


def _hand_dig(line: Line, plan: Plan, view: View, out: Gathered) -> None:
    """Utilities crossed: where to dig by hand, in red and in words. Pavement crossed: its stations."""
    for one in line.crossings:
        middle = (one.station_from + one.station_to) / 2
        place = line.at(middle)[:2]
        if not view.shows(place):
            continue
        if one.kind == "utility":
            reach = one.hand_dig or 0.0
            first, last = max(0.0, one.station_from - reach), min(line.length, one.station_to + reach)
            out.over.extend(
                view.runs(
                    "hand_dig",
                    [
                        line.at(first)[:2],
                        *((v.x, v.y) for v in line.vertices if first < v.station < last),
                        line.at(last)[:2],
                    ],
                    HAND_DIG,
                )
            )
            out.key["hand_dig"] = "HAND DIG: a utility is crossed"
            lines = tuple(wrapped(hand_dig_text(one, line.length, plan.length_unit), 2.3, NAME_MM))
            out.labels.append(
                (8, Label(layer="hand_dig", lines=lines, spot=view.at(place), color="#a30000", strong=True))
            )
        else:
            title = KIND_TITLES.get(one.kind, one.kind).lower()
            words = (
                f"{line.id} under {title} {units.station_text(one.station_from, plan.length_unit)} to "
                f"{units.station_text(one.station_to, plan.length_unit)}"
            )
            out.labels.append(
                (50, Label(layer="crossings", lines=tuple(wrapped(words, 2.3, NAME_MM)), spot=view.at(place)))
            )


def _fittings(plan: Plan, view: View, out: Gathered) -> None:
    drawn: set[tuple[str, int, int]] = set()
    named = {
        "cleanout": "Cleanout",
        "wye": "Wye",
        "bend": "Bend",
        "turned_pair": "Bend",
        "grade_break": "Grade break",
        "tie_in": "Wye cut into an old pipe",
    }
    for line in plan.every_line:
        for vertex in line.vertices:
            if not view.shows((vertex.x, vertex.y)):
                continue
            spot = view.at((vertex.x, vertex.y))
            for fitting in sorted(vertex.fittings, key=lambda one: _ORDER.get(one.kind.value, 0)):
                mark = (fitting.kind.value, round(spot[0] * 10), round(spot[1] * 10))
                if mark in drawn:
                    continue
                drawn.add(mark)
                out.over.extend(fitting_symbol(fitting.kind.value, spot))
                out.keep_off.append(around(spot, 1.3))
                out.key[f"fitting_{'bend' if fitting.kind.value == 'turned_pair' else fitting.kind.value}"] = named[
                    fitting.kind.value
                ]
        for below, above in pairwise(pipes_along(line)):
            place = line.at(below[1])[:2]
            if below[2].nominal == above[2].nominal or not view.shows(place):
                continue
            spot = view.at(place)
            out.over.extend(fitting_symbol("reducer", spot))
            out.keep_off.append(around(spot, 1.3))
            out.key["fitting_reducer"] = "Reducer"
            words = (
                f"{line.id} {units.station_text(below[1], plan.length_unit)} reducer",
                f"{below[2].nominal} x {above[2].nominal}",
            )
            out.labels.append((18, Label(layer="fittings", lines=words, spot=spot)))


def _ends(plan: Plan, view: View, out: Gathered) -> None:
    """Sources and outlets; those without a line are named too."""
    told = {(round(place.x, 2), round(place.y, 2)) for place in told_places(plan)}
    ends: tuple[Source | Outlet, ...] = (*plan.sources, *plan.outlets)
    for one in ends:
        used = any(one.id in {line.start, line.end} for line in plan.every_line)
        if not view.shows((one.x, one.y)) or (isinstance(one, Outlet) and one.found and not used):
            continue
        spot = view.at((one.x, one.y))
        kind = "discharge_point" if isinstance(one, Source) and one.pit is not None else one.kind
        out.over.extend(end_symbol(kind, spot, "ends"))
        out.keep_off.append(around(spot, 1.9))
        out.key[f"end_{kind}"] = KIND_TITLES.get(kind, kind)
        if (round(one.x, 2), round(one.y, 2)) in told:
            continue
        served = any(one.id in line.sources for line in plan.every_line)
        source = isinstance(one, Source)
        rest = ("no line",) if source and not served else ("not used",) if not source else ()
        title = KIND_TITLES.get(one.kind, one.kind)
        lines = (*wrapped(one.name or f"{title} {one.id}", 2.3, NAME_MM), *rest)
        out.labels.append(
            (
                30,
                Label(
                    layer="places",
                    lines=lines,
                    spot=spot,
                    strong=True,
                    color="#a30000" if rest == ("no line",) else "#000000",
                ),
            )
        )


def _pits(plan: Plan, view: View, out: Gathered) -> None:
    """Pits of sumps that are lifted, where they stand off their line's start."""
    for one in plan.sources:
        if one.pit is None or not view.shows(one.pit[:2]):
            continue
        spot = view.at(one.pit[:2])
        if math.dist(spot, view.at((one.x, one.y))) < 1.0:
            continue
        out.over.extend(end_symbol(one.kind, spot, "ends"))
        out.key[f"end_{one.kind}"] = KIND_TITLES.get(one.kind, one.kind)
        out.keep_off.append(around(spot, 1.9))
