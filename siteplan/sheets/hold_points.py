"""A plan in; where work must stop until somebody has looked, in English or Spanish, out."""

from __future__ import annotations

from siteplan import units
from siteplan.books.kinds import DRIVEN_KINDS
from siteplan.books.phrases import Language, phrase
from siteplan.books.rules import TRENCH_DEPTHS
from siteplan.sheets.wording import one_line
from siteplan.values.lines import Line
from siteplan.values.whole_plan import Plan


def hold_points(plan: Plan, language: Language = "english") -> list[str]:
    """Where work must stop, the plan's own crossings and wet spots among them.

    Parameters
    ----------
    plan : Plan
        The plan.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    list of str
        Plain sentences.
    """
    unit = plan.length_unit
    return [*usual_holds(unit, language), *(text for line in plan.lines for text in line_holds(line, unit, language))]


def usual_holds(unit: str, language: Language = "english") -> list[str]:
    """Where work must stop on every lot.

    Parameters
    ----------
    unit : str
        The site's length unit.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    list of str
        Plain sentences; common practice, no source.
    """
    ladder, protection, _ = TRENCH_DEPTHS["m" if unit == "m" else "ft"]
    return [
        phrase("hold.before", language),
        phrase("hold.open", language, ladder=ladder, protection=protection),
        *(phrase(one, language) for one in ("hold.laid", "hold.outlet", "hold.after")),
    ]


def line_holds(line: Line, unit: str, language: Language = "english") -> list[str]:
    """Where work on one line must stop: at its crossings and in wet ground.

    Parameters
    ----------
    line : Line
        One line of a plan.
    unit : str
        The site's length unit.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    list of str
        Plain sentences.
    """
    out = []
    for one in line.crossings:
        first, last = (units.station_text(max(s, 0.0), unit) for s in (one.station_from, one.station_to))
        what = one_line(one.name) or one.kind
        if one.kind == "utility":
            out.append(phrase("hold.utility", language, line=line.id, station=first, what=what))
        elif one.kind in DRIVEN_KINDS:
            out.append(phrase("hold.driven", language, line=line.id, first=first, last=last, what=what))
    out += [
        phrase(
            "hold.wet", language, line=line.id, station=units.station_text(max(s.station_from, 0.0), unit), spot=s.id
        )
        for s in line.low_spots
    ]
    return out
