"""A line in; one card a stake for the trench out: what to dig to, which pipe, what stands there, two tapes that find it, where to dig by hand.

The cards are values for the page's script; the schedule beside them says the same without any script.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from siteplan import units
from siteplan.books.fittings import fitting_words
from siteplan.books.practice import ROD_REACH
from siteplan.sheets.markup import whole
from siteplan.sheets.rod_levels import CLOSE_TICK, PRINTED_DIGITS, SHORTEST_ROD, printed_ticks, rod_levels
from siteplan.sheets.schedule import PrintedRow, printed_rows
from siteplan.sheets.stakes import hand_dig_text, pipe_words, reducer_words
from siteplan.sheets.ties import Corner, swing_ties
from siteplan.sheets.wording import names, one_line, way
from siteplan.values import Line, Plan, Row

_SAME = 0.002  # stations that are one [m]
_WORDS = {
    "line": "Line",
    "hi": "Today's height of instrument (HI), {unit}",
    "number": "Type a plain number, such as 102.37.",
    "far": "With this HI no stake is within a rod's length of the beam: trench bottoms lie between {between}. Is it another datum or unit?",
    "set": "HI {hi}. A new set-up needs a new HI.",
    "of": "stake {n} of {all}",
    "hand": "DIG BY HAND.",
    "cut": "Cut to trench bottom",
    "fill": "FILL under trench bottom",
    "rodBottom": "Rod on trench bottom",
    "rodTop": "Rod on top of pipe",
    "rod": "Rod",
    "beam": "ABOVE THE BEAM",
    "short": "ROD TOO SHORT",
    "pipe": "Pipe",
    "fitting": "Fitting",
    "grade": "Grade down",
    "here": "Here",
    "ties": "Tapes",
    "back": "Previous",
    "next": "Next stake",
}


def ties_text(row: Row, known: Sequence[Corner], unit: str) -> str:
    """The two tapes that find a stake again.

    Parameters
    ----------
    row : Row
        A row of the schedule.
    known : sequence of Corner
        Corners of the buildings.
    unit : str
        The site's length unit.

    Returns
    -------
    str
        '12.3 ft from House NE corner, 20.1 ft from House SE corner'; empty where no two corners are in reach.
    """
    return ", ".join(
        f"{units.length_text(tie.distance, unit, 2 if unit == 'm' else 1)} from {one_line(tie.corner.name)}"
        for tie in swing_ties(row.x, row.y, known)
    )


def hand_dug(plan: Plan, line: Line, station: float) -> tuple[str, ...]:
    """What is dug by hand round a station, because a utility lies there.

    Parameters
    ----------
    plan : Plan
        The plan, for its units.
    line : Line
        One of its lines.
    station : float
        [m]

    Returns
    -------
    tuple of str
        One sentence for each utility within whose distance the station lies.
    """
    told = []
    for crossing in line.crossings:
        if crossing.kind != "utility":
            continue
        reach = crossing.hand_dig or 0.0
        if crossing.station_from - reach - _SAME <= station <= crossing.station_to + reach + _SAME:
            told.append(hand_dig_text(crossing, line.length, plan.length_unit))
    return tuple(told)


def crew_cards(plan: Plan, corners: Sequence[Corner]) -> dict[str, Any]:
    """Every line's cards, and what turns a height of instrument into rods.

    Parameters
    ----------
    plan : Plan
        The plan.
    corners : sequence of Corner
        Corners of the buildings, for the tapes.

    Returns
    -------
    dict
        Fit for JSON: `lines` with a card a stake, outlet first; `rod` with the figures of the arithmetic.
    """
    called = names(plan)
    lines = [
        {
            "way": way(line, called),
            "cards": [
                _card(plan, line, row, shown, corners)
                for row, shown in zip(line.rows, printed_rows(plan, line), strict=True)
            ],
        }
        for line in plan.every_line
    ]
    return {"lines": lines, "rod": _rod(plan), "words": {"en": _WORDS}}


def _card(plan: Plan, line: Line, row: Row, shown: PrintedRow, corners: Sequence[Corner]) -> dict[str, Any]:
    unit = plan.length_unit
    top, bottom = rod_levels(line, row)
    made = [fitting_words(v.fittings) for v in line.vertices if abs(v.station - row.station) < _SAME and v.fittings]
    made += [words for station, words in reducer_words(plan, line) if abs(station - row.station) < _SAME]
    return {
        "at": round(row.station, 4),
        "station": shown.station,
        "cut": whole(_cut_text(shown, unit)),
        "fill": math.isfinite(row.cut) and row.cut < 0,
        "pipe": pipe_words(line.pipe_at(row.station), unit),
        "grade": f"{shown.grade} %" if shown.grade else "",
        "invert": shown.invert,
        "ground": shown.ground,
        "fitting": "; ".join(made),
        "point": shown.point,
        "hand": [{"en": words} for words in hand_dug(plan, line, row.station)],
        "ties": whole(ties_text(row, corners, unit)),
        "rods": None if not math.isfinite(bottom) else [[printed_ticks(at, unit), at] for at in (bottom, top)],
    }


def _cut_text(shown: PrintedRow, unit: str) -> str:
    """A cut as a crew reads it: feet and inches, tenths beside them; metres on a metric site."""
    if not shown.cut:
        return "not known"
    plain = f"{shown.cut} {units.UNIT_NAMES[unit]}"
    return f"{shown.cut_text} ({plain})" if shown.cut_text else plain


def _rod(plan: Plan) -> dict[str, Any]:
    """What the script needs to work out rods as the cut sheet does, and the sentence for a height that cannot be right."""
    unit, high = plan.length_unit, plan.elevation_unit
    bottoms = [rod_levels(line, row)[1] for line in plan.every_line for row in line.rows]
    known = [level for level in bottoms if math.isfinite(level)]
    between = " and ".join(units.length_text(level, high) for level in (min(known), max(known))) if known else ""
    return {
        "unit": units.UNIT_NAMES[unit],
        "typed": units.UNIT_NAMES[high],
        "typedMetres": units.LENGTH[high],
        "metres": units.LENGTH[unit],
        "digits": PRINTED_DIGITS[unit],
        "close": CLOSE_TICK,
        "twelfth": None if unit == "m" else units.INCH,
        "shortest": SHORTEST_ROD,
        "longest": ROD_REACH,
        "between": between,
    }
