"""A line in; one card a stake for the trench out.

What to dig to, which pipe, what stands there, two tapes that find it, where to dig by hand.

The cards are values for the page's script; the schedule beside them says the same without any script.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from siteplan import units
from siteplan.books.fittings import fitting_words
from siteplan.books.phrases import LANGUAGES, TAGS, Language, phrase
from siteplan.books.practice import ROD_REACH
from siteplan.books.services import service
from siteplan.sheets.markup import whole
from siteplan.sheets.rod_levels import PRINTED_DIGITS, printed_ticks, rod_levels
from siteplan.sheets.schedule import PrintedRow, printed_rows
from siteplan.sheets.stakes import hand_dig_text, pipe_words, reducer_words, stakes
from siteplan.sheets.ties import Corner, swing_ties
from siteplan.sheets.wording import depth_text, names, one_line, way
from siteplan.site import Feature
from siteplan.survey.set_up import SHORTEST_ROD
from siteplan.values.lines import Line, Row
from siteplan.values.whole_plan import Plan

_SAME = 0.002  # stations that are one [m]
_NEAR, _NAMED = 30.0, 2  # m and how many: farther than a phone shows round a stake; ours, no source
# what the script writes on a card, with the figures that it puts in for itself
_WORDS = {
    "line": "card.line",
    "number": "card.number",
    "cut": "card.cut",
    "fill": "card.fill",
    "rodBottom": "card.rod_bottom",
    "rodTop": "card.rod_top",
    "rod": "card.rod",
    "beam": "cut.above_beam",
    "short": "cut.rod_short",
    "pipe": "card.pipe",
    "fitting": "card.fitting",
    "grade": "card.grade",
    "here": "card.here",
    "ties": "card.ties",
    "near": "card.near",
    "back": "card.back",
    "next": "card.next",
}


def two_tapes(row: Row, known: Sequence[Corner], unit: str, language: Language = "english") -> str:
    """The two tapes that find a stake again.

    Parameters
    ----------
    row : Row
        A row of the schedule.
    known : sequence of Corner
        Corners of the buildings.
    unit : str
        The site's length unit.
    language : str
        'english' or 'spanish'.

    Returns
    -------
    str
        '12.3 ft from House NE corner, 20.1 ft from House SE corner'; empty where no two corners are in reach.
    """
    return ", ".join(
        phrase(
            "card.tie",
            language,
            far=units.length_text(tie.distance, unit, 2 if unit == "m" else 1),
            corner=one_line(tie.corner.said(language)),
        )
        for tie in swing_ties(row.x, row.y, known)
    )


def hand_dug(plan: Plan, line: Line, station: float, language: Language = "english") -> tuple[str, ...]:
    """What is dug by hand round a station, because a utility lies there.

    Parameters
    ----------
    plan : Plan
        The plan, for its units.
    line : Line
        One of its lines.
    station : float
        [m]
    language : str
        'english' or 'spanish'.

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
            told.append(hand_dig_text(crossing, line.length, plan.length_unit, language))
    return tuple(told)


def buried_near(
    x: float, y: float, buried: Sequence[Feature], unit: str, language: Language = "english"
) -> tuple[str, ...]:
    """The buried services nearest to a stake: a small window on the map may show none of them.

    Parameters
    ----------
    x, y : float
        The stake [m].
    buried : sequence of Feature
        Utilities with their ways.
    unit : str
        The site's length unit.
    language : str
        'english' or 'spanish'.

    Returns
    -------
    tuple of str
        'Gas line, depth NOT KNOWN, 8.2 ft away', the nearest first, at most `_NAMED` of those within `_NEAR`.
    """
    from shapely.geometry import Point

    at = Point(x, y)
    ways = sorted((one.geometry.distance(at), place) for place, one in enumerate(buried) if not one.geometry.is_empty)
    told = []
    for far, place in [one for one in ways if one[0] <= _NEAR][:_NAMED]:
        one = buried[place]
        kept = service(one.attributes.get("service", ""))
        name = one_line(one.name) or phrase(f"service.{kept.word or 'unstated'}", language)
        deep = depth_text(one.attributes.get("depth"), unit, language)
        away = units.length_text(far, unit, 1)
        told.append(phrase("card.buried_at", language, name=name, depth=deep, far=away))
    return tuple(told)


def crew_cards(plan: Plan, corners: Sequence[Corner], buried: Sequence[Feature] = ()) -> dict[str, Any]:
    """Every line's cards, and what turns a height of instrument into rods.

    Parameters
    ----------
    plan : Plan
        The plan.
    corners : sequence of Corner
        Corners of the buildings, for the tapes.
    buried : sequence of Feature
        The survey's utilities.

    Returns
    -------
    dict
        Fit for JSON: `lines` with a card a stake, outlet first; `rod` with the figures of the arithmetic.
    """
    called = names(plan)
    lines = []
    for line in plan.every_line:
        points = [[stake.text for stake in stakes(plan, line, language)] for language in LANGUAGES]
        rows = zip(line.rows, printed_rows(plan, line), *points, strict=True)
        cards = [_card(plan, line, row, shown, said, corners, buried) for row, shown, *said in rows]
        ways = {TAGS[language]: way(line, called, language) for language in LANGUAGES}
        lines.append({"way": ways, "cards": cards})
    return {
        "lines": lines,
        "rod": _rod(plan),
        "words": {TAGS[language]: _words(plan, language) for language in LANGUAGES},
    }


def _words(plan: Plan, language: Language) -> dict[str, str]:
    """What the script says; in double braces what it puts in."""
    unit = units.UNIT_NAMES[plan.elevation_unit]
    known = [level for line in plan.every_line for row in line.rows if math.isfinite(level := rod_levels(line, row)[1])]
    low, high = (units.length_text(pick(known), plan.elevation_unit) if known else "" for pick in (min, max))
    return {
        **{name: phrase(ident, language) for name, ident in _WORDS.items()},
        "hi": phrase("card.hi", language, unit=unit),
        "far": phrase("card.far", language, low=low, high=high),
        "set": phrase("card.set", language, hi="{hi}", unit=unit),
        "of": phrase("card.of", language, n="{n}", all="{all}"),
    }


def _card(
    plan: Plan,
    line: Line,
    row: Row,
    shown: PrintedRow,
    points: Sequence[str],
    corners: Sequence[Corner],
    buried: Sequence[Feature],
) -> dict[str, Any]:
    unit = plan.length_unit
    top, bottom = rod_levels(line, row)
    card: dict[str, Any] = {
        "at": round(row.station, 4),
        "station": shown.station,
        "fill": math.isfinite(row.cut) and row.cut < 0,
        "grade": f"{shown.grade} %" if shown.grade else "",
        "rods": None if not math.isfinite(bottom) else [[printed_ticks(at, unit), at] for at in (bottom, top)],
    }
    for language, point in zip(LANGUAGES, points, strict=True):
        made = [
            fitting_words(v.fittings, language)
            for v in line.vertices
            if abs(v.station - row.station) < _SAME and v.fittings
        ]
        made += [words for at, words in reducer_words(plan, line, language) if abs(at - row.station) < _SAME]
        card[TAGS[language]] = {
            "cut": whole(_cut_text(row, shown, unit, language)),
            "pipe": pipe_words(line.pipe_at(row.station), unit, language),
            "fitting": "; ".join(made),
            "point": point,
            "hand": [whole(words) for words in hand_dug(plan, line, row.station, language)],
            "ties": whole(two_tapes(row, corners, unit, language)),
            "near": whole("; ".join(buried_near(row.x, row.y, buried, unit, language))),
        }
    return card


def _cut_text(row: Row, shown: PrintedRow, unit: str, language: Language) -> str:
    """A cut as a crew reads it: feet and inches, tenths beside them; metres on a metric site.

    A fill is named by its row.
    """
    if not shown.cut:
        return phrase("card.unknown", language)
    plain = f"{shown.cut.removeprefix('-')} {units.UNIT_NAMES[unit]}"
    return plain if unit == "m" else f"{units.feet_inches(abs(row.cut))} ({plain})"


def _rod(plan: Plan) -> dict[str, Any]:
    """What the script needs to work out rods as the cut sheet does, in the same ticks."""
    unit, high = plan.length_unit, plan.elevation_unit
    foot = units.LENGTH["us-ft" if high == "us-ft" else "ft"]  # where heights are in survey feet, so are those typed
    return {
        "unit": units.UNIT_NAMES[unit],
        "typedMetres": units.LENGTH[high],
        "typedDigits": PRINTED_DIGITS[high],
        "lengths": {**units.LENGTH, "cm": 0.01, "ft": foot, "feet": foot},
        "most": units.MOST_LENGTH,
        "metres": units.LENGTH[unit],
        "digits": PRINTED_DIGITS[unit],
        "close": units.CLOSE_TICK,
        "twelfth": None if unit == "m" else units.INCH,
        "shortest": SHORTEST_ROD,
        "longest": ROD_REACH,
    }
