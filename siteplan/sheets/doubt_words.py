"""A line's doubt in; the words and the records that sheets print of it out."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from siteplan import units
from siteplan.books.phrases import Language, phrase
from siteplan.sheets.coordinates import place_text, survey_system
from siteplan.sheets.wording import one_line
from siteplan.values.forecasts import LineDoubt, WantedShot
from siteplan.values.lines import Line
from siteplan.values.whole_plan import Plan

SURE_CHANCE = 0.95  # what is surer is only said to be so [-]
_SHOWN = 3
_SURE = 0.99  # a line as sure as this wants no more shots [-]


def chance_text(chance: float, language: Language = "english") -> str:
    """A chance as a person says it, in steps of 5 %: what is assumed of a survey's errors bears nothing finer.

    Parameters
    ----------
    chance : float
        From 0 to 1 [-].
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    str
        Never 0 or 100 %.

    Examples
    --------
    >>> chance_text(0.9999), chance_text(0.832), chance_text(0.0)
    ('over 95 %', '85 %', 'under 5 %')
    """
    if chance >= SURE_CHANCE:
        return phrase("chance.over", language, share="95 %")
    return (
        phrase("chance.under", language, share="5 %")
        if chance < 1 - SURE_CHANCE - 1e-9
        else f"{round(chance * 20) * 5} %"
    )


def spare_fact(line: Line, unit: str) -> tuple[str, str]:
    """Fall to spare of a line with its doubt, as a name and a value.

    Parameters
    ----------
    line : Line
        The line.
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    tuple of str
        The sentence that the terminal and the check of the outlet print.
    """
    return "Spare", units.spare_text(line.spare, unit, None if line.doubt is None else line.doubt.fall)


def sure_text(doubt: LineDoubt) -> str:
    """How sure a line's fall is, in one sentence.

    Parameters
    ----------
    doubt : LineDoubt
        Of the line.

    Returns
    -------
    str
        Without a full stop.
    """
    return (
        f"chance that it holds its least grade everywhere {chance_text(doubt.chance_min_grade)}, that it falls "
        f"everywhere {chance_text(doubt.chance_falls)}"
    )


def brief_text(doubt: LineDoubt) -> str:
    """How sure a line's fall is, for one line of a terminal.

    Parameters
    ----------
    doubt : LineDoubt
        Of the line.

    Returns
    -------
    str
        Under 96 characters.
    """
    return (
        f"Chance to hold its least grade: {chance_text(doubt.chance_min_grade)}; to fall everywhere: "
        f"{chance_text(doubt.chance_falls)}"
    )


def wanted_texts(line: Line) -> tuple[str, ...]:
    """The shots that would make a line surer, with what they do.

    Parameters
    ----------
    line : Line
        With its doubt.

    Returns
    -------
    tuple of str
        One each, the best first.
    """
    if line.doubt is None:
        return ()
    return tuple(
        f"{one_line(shot.place)}: {chance_text(shot.chance_min_grade)} if it bears the survey out"
        for shot in line.doubt.shots_wanted
    )


def shots_wanted_words(plan: Plan) -> Iterator[tuple[Line, WantedShot]]:
    """Shots wanted of all lines that are not sure yet, the least sure line first, one a place.

    Parameters
    ----------
    plan : Plan
        The plan.

    Yields
    ------
    tuple of Line and WantedShot
        In the order they should be taken.
    """
    seen: set[tuple[int, int]] = set()
    lines = [line for line in plan.lines if line.doubt is not None and line.doubt.chance_min_grade < _SURE]
    for line in sorted(lines, key=lambda line: (line.doubt.chance_min_grade if line.doubt else 1.0, line.id)):
        for shot in line.doubt.shots_wanted if line.doubt else ():
            place = (round(shot.x), round(shot.y))
            if place not in seen:
                seen.add(place)
                yield line, shot


def wanted_line(plan: Plan) -> str:
    """The shots that would help the least sure line, in one sentence.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    str
        Empty when every line is as sure as shots can make it.
    """
    told = []
    for line, shot in list(shots_wanted_words(plan))[:_SHOWN]:
        told.append(f"{line.id} {one_line(shot.place)} ({place_text(plan, shot.x, shot.y)})")
    system = survey_system(plan)
    return "" if not told else f"Shots wanted ({system.name}, {system.unit_name}): {'; '.join(told)}"


def doubt_record(doubt: LineDoubt | None) -> dict[str, Any] | None:
    """A line's doubt for plan.json.

    Parameters
    ----------
    doubt : LineDoubt or None
        Of the line.

    Returns
    -------
    dict or None
        Metres, percent for grades, chances from 0 to 1.
    """
    if doubt is None:
        return None
    return {
        "fall": round(doubt.fall, 6),
        "ends": round(doubt.ends, 6),
        "grade_percent": round(doubt.grade * 100, 6),
        "chance_min_grade": round(doubt.chance_min_grade, 4),
        "chance_falls": round(doubt.chance_falls, 4),
        "method": doubt.method,
        "shots_wanted": [
            {
                "x": round(shot.x, 3),
                "y": round(shot.y, 3),
                "place": one_line(shot.place),
                "chance_min_grade": round(shot.chance_min_grade, 4),
                "fall": round(shot.fall, 6),
            }
            for shot in doubt.shots_wanted
        ],
    }
