"""A plan in; what stands along its lines and between its places, as values for the map's script.

Fittings, depth, doubt, what reaches what.
"""

from __future__ import annotations

import math
from typing import Any

from siteplan import units
from siteplan.books.fittings import fitting_words
from siteplan.sheets.drawing import SYMBOLS
from siteplan.sheets.relief import PictureFrame
from siteplan.sheets.stakes import reducer_words
from siteplan.sheets.wording import level_text, names, one_line
from siteplan.values.laid_pipe import FittingKind
from siteplan.values.lines import Line
from siteplan.values.whole_plan import Plan

# what is drawn where several stand in one place, the first of these
_DRAWN: tuple[tuple[FittingKind, str], ...] = (
    (FittingKind.CLEANOUT, "cleanout"),
    (FittingKind.WYE, "wye"),
    (FittingKind.TIE_IN, "wye"),
    (FittingKind.BEND, "bend"),
    (FittingKind.TURNED_PAIR, "bend"),
    (FittingKind.GRADE_BREAK, "grade_break"),
)
_RANK = ("cleanout", "wye", "reducer", "bend", "grade_break")
_SAME = 0.05  # m: what lies so near is one place on the map


def fitting_marks(plan: Plan, frame: PictureFrame) -> list[dict[str, Any]]:
    """Cleanouts, wyes, bends, grade breaks and reducers, the most needed first.

    Parameters
    ----------
    plan : Plan
        The plan.
    frame : PictureFrame
        The page's window, for its origin.

    Returns
    -------
    list of dict
        One for each place: its line and station, symbol, title and facts.
    """
    found: list[dict[str, Any]] = []
    for number, line in enumerate(plan.every_line):
        for vertex in line.vertices:
            kinds = [name for kind, name in _DRAWN if vertex.has(kind)]
            if kinds:
                told = one_line(fitting_words(vertex.fittings))
                found.append(_mark(plan, frame, number, line, vertex.station, kinds[0], told))
        for station, words in reducer_words(plan, line):
            found.append(_mark(plan, frame, number, line, station, "reducer", one_line(words)))
    kept: list[dict[str, Any]] = []
    for one in sorted(found, key=lambda mark: (_RANK.index(mark["kind"]), mark["line"], mark["at"])):
        twin = next((k for k in kept if math.hypot(k["x"] - one["x"], k["y"] - one["y"]) < _SAME), None)
        if twin is None:
            kept.append(one)
        elif one["title"] not in twin["title"]:
            twin["title"] += f"; {one['title']}"
    return kept


def _mark(
    plan: Plan, frame: PictureFrame, number: int, line: Line, station: float, kind: str, told: str
) -> dict[str, Any]:
    x, y, invert = line.at(station)
    near = min(line.rows, key=lambda row: abs(row.station - station), default=None)
    facts = [
        ("Station", f"{line.id} {units.station_text(station, plan.length_unit)}"),
        ("Invert", units.length_text(invert, plan.elevation_unit)),
    ]
    if near is not None and abs(near.station - station) < _SAME:
        facts.append(("Ground", level_text(near.ground, plan.elevation_unit)))
    return {
        "line": number,
        "at": round(station, 4),
        "x": round(x - frame.west, 3),
        "y": round(y - frame.south, 3),
        "kind": kind,
        "outline": SYMBOLS[kind][0],
        "title": told,
        "facts": facts,
    }


def depth_and_doubt(plan: Plan, frame: PictureFrame) -> dict[str, list[dict[str, Any]]]:
    """At every stake how deep the trench is, and how sure the ground.

    Parameters
    ----------
    plan : Plan
        The plan.
    frame : PictureFrame
        The page's window, for its origin.

    Returns
    -------
    dict of str to list of dict
        'depth' and 'doubt': place, size as a share of the largest, and figure as printed. What is not known is left
        out.
    """
    unit = plan.length_unit
    rows = [(line, row) for line in plan.every_line for row in line.rows]
    cuts = [(line, row, row.cut) for line, row in rows if math.isfinite(row.cut) and row.cut > 0]
    doubts = [
        (line, row, plan.accuracy if row.ground_doubt is None else row.ground_doubt)
        for line, row in rows
        if math.isfinite(row.ground)
    ]
    most, widest = max((cut for *_, cut in cuts), default=1.0), max((doubt for *_, doubt in doubts), default=0.0)

    def dots(held: list[Any], largest: float, sign: str) -> list[dict[str, Any]]:
        return [
            {
                "x": round(row.x - frame.west, 2),
                "y": round(row.y - frame.south, 2),
                "share": round(value / largest, 3),
                "text": f"{sign}{units.length_text(value, unit)}",
            }
            for _, row, value in held
        ]

    return {"depth": dots(cuts, most, ""), "doubt": dots(doubts, widest, "\u00b1") if widest > 0 else []}


def reach_ways(plan: Plan, frame: PictureFrame) -> list[dict[str, Any]]:
    """Which outlets each source reaches by itself, as straight ties: no way is meant, only yes or no and by how much.

    Parameters
    ----------
    plan : Plan
        The plan, with everything that was tried.
    frame : PictureFrame
        The page's window, for its origin.

    Returns
    -------
    list of dict
        Ends, whether a line is possible, and what is to spare or short.
    """
    ends = {one.id: (one.x, one.y) for one in plan.outlets}
    starts = {one.id: (one.x, one.y) for one in plan.sources}
    called = names(plan)
    found = []
    for one in plan.candidates:
        if len(one.sources) != 1 or one.outlet not in ends or one.sources[0] not in starts:
            continue
        told = "way not known" if one.margin is None else units.length_text(abs(one.margin), plan.length_unit)
        if one.margin is not None:
            told += " to spare" if one.feasible else " short" if one.margin < 0 else ", barred"
        a, b = starts[one.sources[0]], ends[one.outlet]
        found.append(
            {
                "ends": [[round(x - frame.west, 2), round(y - frame.south, 2)] for x, y in (a, b)],
                "ok": one.feasible,
                "text": told,
                "title": f"{called.get(one.sources[0], one.sources[0])} to {called.get(one.outlet, one.outlet)}",
            }
        )
    return found
