"""Plan in; the trench schedule as CSV out, one row a station, in the units the crew measures in.

Feet sites get decimal feet to 0.01 with the cut in feet and inches to 1/8 beside it; metric sites metres to
0.001. Lines stand in the plan's order, stations run from the outlet upstream: the way pipe is laid.

Every figure is rounded from the unrounded one. Two columns are then taken from what is printed, so that a crew
that checks the sheet with a pencil finds it right: cover is ground minus top of pipe, cut is ground minus trench
bottom, as shown. They may differ from the exact figure by one in the last place.
"""

from __future__ import annotations

import csv
import io
import math
import re
from typing import NamedTuple

from siteplan import units
from siteplan.sheets.wording import KINDS, names, one_line, way
from siteplan.values import Line, Plan, Row, Vertex

_SAME_PLACE = 1e-6  # stations of a row and of the vertex it stands at
_MARK = {"ft": "ft", "us-ft": "us_ft", "m": "m"}  # unit at the end of a column's name
_JOINED = 0.01  # a line that joins ends at the other's vertex, to within drawing precision [m]
_FORMULA = re.compile(r"[=+\-@\t\r]")
_NUMBER = re.compile(r"-?\d+(\.\d+)?")


class PrintedRow(NamedTuple):
    """A row of the schedule as printed; empty where a figure is not known."""

    distance: str
    station: str
    point: str
    ground: str
    invert: str
    grade: str
    top: str
    cover: str
    bottom: str
    cut: str
    cut_text: str


def trench_schedule(plan: Plan) -> bytes:
    """The schedule of every line.

    Parameters
    ----------
    plan : Plan
        The plan; a plan without lines gives the header row alone.

    Returns
    -------
    bytes
        CSV (RFC 4180) in UTF-8. With a byte order mark only when a name or note goes beyond ASCII:
        spreadsheets need the mark to read such letters, and without such letters no reader needs it.
        Text that a spreadsheet would take for a formula is written with an apostrophe before it.
    """
    unit = plan.length_unit
    short = _MARK[unit]
    # an assumed grid is the user's own and stays in his unit; a projected one is in metres whatever the site measures in
    grid = unit if plan.crs == "local" else "m"
    header = [
        "line", f"station_{short}_up_from_outlet", "station", f"east_{_MARK[grid]}", f"north_{_MARK[grid]}", "point",
        f"ground_{short}", f"invert_{short}", "grade_down_percent",
        f"top_of_pipe_{short}", f"cover_{short}", f"trench_bottom_{short}", f"cut_to_trench_bottom_{short}",
        *(() if unit == "m" else ("cut_ft_in",)), "pipe", "way", "note",
    ]  # fmt: skip
    called = names(plan)
    places = 3 if grid == "m" else 2
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(header)
    for line in plan.lines:
        for row, shown in zip(line.rows, printed_rows(plan, line), strict=True):
            east, north = (f"{units.from_metres(place, grid):.{places}f}" for place in (row.x, row.y))
            cells = [
                line.id, shown.distance, shown.station, east, north, shown.point, shown.ground, shown.invert, shown.grade, shown.top,
                shown.cover, shown.bottom, shown.cut, *(() if unit == "m" else (shown.cut_text,)),
                f"{line.pipe.nominal} {line.pipe.kind}", way(line, called), row.note,
            ]  # fmt: skip
            writer.writerow([safe_cell(cell) for cell in cells])
    written = text.getvalue()
    return written.encode("ascii") if written.isascii() else b"\xef\xbb\xbf" + written.encode("utf-8", "replace")


def safe_cell(text: str) -> str:
    """A cell that no spreadsheet runs as a formula; numbers stay numbers.

    Parameters
    ----------
    text : str
        One cell.

    Returns
    -------
    str
        On one line; with an apostrophe before it when it begins like a formula and is no plain number.

    Examples
    --------
    >>> safe_cell("=1+1"), safe_cell("-0.25"), safe_cell("-x")
    ("'=1+1", '-0.25', "'-x")
    """
    if _NUMBER.fullmatch(text):
        return text
    # judged before and after control characters go: either may be what a program sees first
    plain = one_line(text)
    return f"'{plain}" if _FORMULA.match(text) or _FORMULA.match(plain) else plain


def printed_rows(plan: Plan, line: Line) -> list[PrintedRow]:
    """The rows of one line as the schedule prints them.

    Parameters
    ----------
    plan : Plan
        The plan, for units and for the lines that join.
    line : Line
        One of its lines.

    Returns
    -------
    list of PrintedRow
        Outlet first.
    """
    called = names(plan)
    joining = [other for other in plan.lines if other.end == line.id]
    return [_printed(line, row, plan.length_unit, _point(line, row, joining, called)) for row in line.rows]


def _printed(line: Line, row: Row, unit: str, point: str) -> PrintedRow:
    digits = 3 if unit == "m" else 2

    def ticks(length: float) -> int | None:
        """Whole hundredths of a foot, or millimetres."""
        return None if not math.isfinite(length) else math.floor(units.from_metres(length, unit) * 10**digits + 0.5)

    def shown(number: int | None) -> str:
        return "" if number is None else f"{number / 10**digits:.{digits}f}"

    ground, top, bottom = ticks(row.ground), ticks(row.invert + line.pipe.rise), ticks(row.ground - row.cut)
    return PrintedRow(
        distance=shown(ticks(row.station)),
        station=units.station_text(row.station, unit),
        point=point,
        ground=shown(ground),
        invert=shown(ticks(row.invert)),
        grade=f"{row.grade * 100:.2f}" if row.station > 0 else "",
        top=shown(top),
        cover=shown(None if ground is None or top is None else ground - top),
        bottom=shown(bottom),
        cut=shown(None if ground is None or bottom is None else ground - bottom),
        cut_text="" if unit == "m" else _cut_text(row.cut),
    )


def _cut_text(cut: float) -> str:
    """Cut in feet and inches; a trench bottom above ground is a fill and says so."""
    if not math.isfinite(cut):
        return ""
    return units.feet_inches(cut) if cut >= 0 else f"fill {units.feet_inches(-cut)}"


def _point(line: Line, row: Row, joining: list[Line], called: dict[str, str]) -> str:
    """What stands at a row: outlet, source, bend with its fitting, wye, crossing's edge."""
    said: list[str] = []
    vertex = _vertex_at(line, row.station)
    if vertex is not None:
        said += _at_vertex(line, vertex, joining, called)
    for crossing in line.crossings:
        if min(abs(crossing.station_from - row.station), abs(crossing.station_to - row.station)) <= _SAME_PLACE:
            said.append(f"{one_line(crossing.name) or KINDS.get(crossing.kind, crossing.kind)} edge")
    for passage in line.low_spots:
        if passage.station_from - _SAME_PLACE <= row.station <= passage.station_to + _SAME_PLACE:
            said.append(f"wet low spot {passage.id}")
    return "; ".join(dict.fromkeys(said))


def _at_vertex(line: Line, vertex: Vertex, joining: list[Line], called: dict[str, str]) -> list[str]:
    said: list[str] = []
    if vertex is line.vertices[0]:
        end = called.get(line.end, line.end)
        said.append(f"wye on {end}" if called.get(line.end) == line.end else f"outlet: {end}")
    if vertex is line.vertices[-1]:
        said.append(f"start: {called.get(line.start, line.start)}")
    here = [
        other
        for other in joining
        if math.dist((vertex.x, vertex.y), (other.vertices[0].x, other.vertices[0].y)) <= _JOINED
    ]
    said += [f"wye, {other.id} comes in" for other in here]
    if vertex.fitting and vertex.fitting not in said:
        said.append(vertex.fitting)
    if abs(vertex.bend) >= 0.5:  # half a degree is laid without a fitting
        said.append(f"turns {abs(vertex.bend):.1f} deg")
    return said


def _vertex_at(line: Line, station: float) -> Vertex | None:
    return next((vertex for vertex in line.vertices if abs(vertex.station - station) <= _SAME_PLACE), None)
