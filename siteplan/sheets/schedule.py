"""Plan in; the trench schedule as CSV out, one row a station, in the units the crew measures in.

Feet sites get decimal feet to 0.01 with the cut in feet and inches to 1/8 beside it; metric sites metres to
0.001. Elevations stand in the site's elevation unit, all other lengths in its length unit. Lines stand in the plan's
order, stations run from the outlet upstream: the way pipe is laid.

Every figure is rounded from the unrounded one. Two columns are then taken from what is printed, so that a crew
that checks the sheet with a pencil finds it right: cover is ground minus top of pipe, cut is ground minus trench
bottom, as shown. They may differ from the exact figure by one in the last place. (Where a site gives elevations in
another unit than lengths, they are rounded from the exact figure.)
"""

from __future__ import annotations

import csv
import io
import math
import re
from typing import NamedTuple

from siteplan import units
from siteplan.books.phrases import Language
from siteplan.books.rules import RAIN_DURATION
from siteplan.sheets.bedding_words import bedding_words
from siteplan.sheets.coordinates import survey_places, survey_system
from siteplan.sheets.margin_words import margin_texts
from siteplan.sheets.rod_levels import PRINTED_DIGITS, printed_drop, printed_ticks
from siteplan.sheets.stakes import Stake, pipe_words, stakes
from siteplan.sheets.states import line_state
from siteplan.sheets.wording import held_to, names, one_line, way
from siteplan.values.lines import Line
from siteplan.values.whole_plan import Plan

_MARK = {"ft": "ft", "us-ft": "us_ft", "m": "m"}  # unit at the end of a column's name
_FORMULA = re.compile(r"[=+\-@\t\r]")
_SAME = 0.002  # m: stations that are one
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


class ScheduleTable(NamedTuple):
    """The schedule's cells as printed; `figures` are the columns that hold numbers."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    figures: frozenset[int]


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
    table = schedule_table(plan)
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(table.head)
    for row in table.rows:
        writer.writerow([safe_cell(cell) for cell in row])
    written = text.getvalue()
    return written.encode("ascii") if written.isascii() else b"\xef\xbb\xbf" + written.encode("utf-8", "replace")


def schedule_table(plan: Plan) -> ScheduleTable:
    """The schedule of every line as cells.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    ScheduleTable
        Texts as printed; no row for a plan without lines.
    """
    unit = plan.length_unit
    short, level = _MARK[unit], _MARK[plan.elevation_unit]
    system = survey_system(plan)
    flow = "flow_lps" if unit == "m" else "flow_gpm"
    figures = [
        f"station_{short}_up_from_outlet",
        *system.heads,
        f"ground_{level}",
        f"invert_{level}",
        "grade_down_percent",
        f"top_of_pipe_{level}",
        f"cover_{short}",
        f"trench_bottom_{level}",
        f"cut_to_trench_bottom_{short}",
        flow,
        "share_percent",
    ]
    head = [
        "line",
        f"station_{short}_up_from_outlet",
        "station",
        *system.heads,
        "point",
        f"ground_{level}",
        f"invert_{level}",
        "grade_down_percent",
        f"top_of_pipe_{level}",
        f"cover_{short}",
        f"trench_bottom_{level}",
        f"cut_to_trench_bottom_{short}",
        *(() if unit == "m" else ("cut_ft_in",)),
        "pipe",
        "bedding",
        "sleeve",
        "coupling",
        "way",
        "state",
        flow,
        "share_percent",
        "capacity_by",
        "rain_minutes",
        "margins",
    ]
    called = names(plan)
    rows = []
    for line in plan.every_line:
        for stake, shown in zip(stakes(plan, line), printed_rows(plan, line), strict=True):
            row = stake.row
            east, north = (f"{place[0]:.{system.digits}f}" for place in survey_places(plan, [row.x], [row.y]))
            rows.append(
                (
                    line.id,
                    shown.distance,
                    shown.station,
                    east,
                    north,
                    shown.point,
                    shown.ground,
                    shown.invert,
                    shown.grade,
                    shown.top,
                    shown.cover,
                    shown.bottom,
                    shown.cut,
                    *(() if unit == "m" else (shown.cut_text,)),
                    *laid_here(line, row.station, unit),
                    way(line, called),
                    line_state(plan, line).text,
                    *carried_here(plan, line, row.station),
                    rain_of(plan, line),
                    ". ".join(margin_texts(line, unit)),
                )
            )
    return ScheduleTable(head=tuple(head), rows=tuple(rows), figures=frozenset(head.index(one) for one in figures))


def laid_here(line: Line, station: float, unit: str, language: Language = "english") -> tuple[str, str, str, str]:
    """What lies at a station: pipe, bedding, sleeve, coupling.

    Parameters
    ----------
    line : Line
        The line.
    station : float
        A row's station [m]; a row where two reaches meet belongs to the one upstream of it, the end to the last.
    unit : str
        The site's length unit.
    language : str
        Of the pipes' names: 'english' or 'spanish'.

    Returns
    -------
    tuple of str
        Empty where there is none; the coupling stands at the row where the kind changes.
    """
    own = pipe_words(line.pipe, unit, language)
    if not line.reaches:
        return own, "", "", ""
    here = next((reach for reach in line.reaches if station < reach.station_to - _SAME), line.reaches[-1])
    at = [row.station for row in line.rows]
    # the row where the kind changes, or the stake that stands for it
    joint = next((reach.coupling for reach in line.reaches[:-1] if station == _nearest(at, reach.station_to)), "")
    round_it = here.sleeve
    sleeve = ""
    if round_it is not None and round_it.station_from - _SAME <= station <= round_it.station_to + _SAME:
        first, last = (units.station_text(at, unit) for at in (round_it.station_from, round_it.station_to))
        sleeve = f"{pipe_words(round_it.pipe, unit)}, {first} to {last}"
    return pipe_words(here.pipe, unit, language), bedding_words(here, unit), sleeve, joint


def _nearest(stations: list[float], place: float) -> float:
    return min(stations, key=lambda one: abs(one - place))


def carried_here(plan: Plan, line: Line, station: float) -> tuple[str, str, str]:
    """Design flow, its share of the capacity at a station, and what gave the capacity.

    Parameters
    ----------
    plan : Plan
        The plan, for its water.
    line : Line
        One of its lines.
    station : float
        A row's station [m]; where two runs meet the one downstream counts, as with the grade.

    Returns
    -------
    tuple of str
        Gallons a minute, or litres a second in metric sites, percent, and the formula or printed row; empty where not
        known.
    """
    if line.pumped is not None:
        flow = units.flow_text(line.pumped.flow, plan.length_unit).split()[0]
        return flow, "", "pump and line"
    water = next((one for one in plan.water.lines if one.line == line.id), None) if plan.water is not None else None
    runs = () if water is None else water.runs
    here = next((run for run in runs if station <= run.station_to + _SAME), runs[-1] if runs else None)
    if plan.water is None or here is None or here.flow is None:
        return "", "", ""
    flow = f"{here.flow / units.LITRE:.2f}" if plan.length_unit == "m" else f"{here.flow / units.GALLON_PER_MINUTE:.1f}"
    return flow, *(("", "") if here.share is None else (f"{100 * here.share:.0f}", held_to(plan.water, here)))


def rain_of(plan: Plan, line: Line) -> str:
    """Length of the rain that a line's flow is worked for, and the one wanted where the site's table lacks it.

    Parameters
    ----------
    plan : Plan
        The plan, for what the check of the rain found.
    line : Line
        One of its lines.

    Returns
    -------
    str
        Minutes; empty where the site gives no table of durations or the line carries no rain.
    """
    found = next((one for one in plan.findings if one.rule == RAIN_DURATION.id and one.subject == line.id), None)
    if found is None or found.value is None:
        return ""
    wanted = "" if found.limit is None else f" (wanted {found.limit / 60:g})"
    return f"{found.value / 60:g}{wanted}"


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
        The plan, for its units.
    line : Line
        One of its lines.

    Returns
    -------
    list of PrintedRow
        Outlet first.
    """
    return [_printed(line, stake, plan.length_unit, plan.elevation_unit) for stake in stakes(plan, line)]


def _printed(line: Line, stake: Stake, unit: str, elevation_unit: str) -> PrintedRow:
    row = stake.row
    rise = line.pipe_at(row.station).rise if row.pipe_top is None else row.pipe_top
    ground, top, bottom = row.ground, row.invert + rise, row.ground - row.cut
    cover, cut = (printed_drop(ground, under, unit, elevation_unit) for under in (top, bottom))
    return PrintedRow(
        distance=_shown(_ticks(row.station, unit), unit),
        station=units.station_text(row.station, unit),
        point=stake.text,
        ground=_shown(_ticks(ground, elevation_unit), elevation_unit),
        invert=_shown(_ticks(row.invert, elevation_unit), elevation_unit),
        grade=f"{row.grade * 100:.2f}" if row.station > 0 else "",
        top=_shown(_ticks(top, elevation_unit), elevation_unit),
        cover=_shown(_ticks(cover, unit), unit),
        bottom=_shown(_ticks(bottom, elevation_unit), elevation_unit),
        cut=_shown(_ticks(cut, unit), unit),
        cut_text="" if unit == "m" else _cut_text(row.cut),
    )


def _ticks(length: float, unit: str) -> int | None:
    """Whole hundredths of a foot, or millimetres; None where the length is not known."""
    if not math.isfinite(length):
        return None
    return printed_ticks(length, unit)


def _shown(ticks: int | None, unit: str) -> str:
    return "" if ticks is None else f"{ticks / 10 ** PRINTED_DIGITS[unit]:.{PRINTED_DIGITS[unit]}f}"


def _cut_text(cut: float) -> str:
    """Cut in feet and inches; a trench bottom above ground is a fill and says so."""
    if not math.isfinite(cut):
        return ""
    return units.feet_inches(cut) if cut >= 0 else f"fill {units.feet_inches(-cut)}"
