"""Runs and places of a line in; what is written at them out: plan sheet and profile print the same."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from siteplan import units
from siteplan.books.fittings import fitting_words
from siteplan.sheets.coordinates import survey_system
from siteplan.sheets.graded_runs import GradedRun
from siteplan.sheets.stakes import pipe_words
from siteplan.sheets.wording import names
from siteplan.values.laid_pipe import Fitting, FittingKind
from siteplan.values.lines import Line, Vertex
from siteplan.values.whole_plan import Plan


def run_texts(run: GradedRun, unit: str) -> tuple[str, str]:
    """What is written at a run: size and material; length and slope.

    Parameters
    ----------
    run : GradedRun
        The run.
    unit : str
        The site's length unit.

    Returns
    -------
    tuple of str
        Two lines: '4 in SDR 35 PVC' and '84.0 ft at 1.04 %'.
    """
    slope = "under pressure" if run.line.pumped is not None else f"at {units.grade_text(run.grade)}"
    return pipe_words(run.pipe, unit), f"{units.length_text(run.length, unit, 1)} {slope}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldPlace:
    """A place of the network where something stands: a fitting, an end, lines that join.

    Attributes
    ----------
    x, y : float
        In the plan's frame [m].
    head : str
        The name of a source or an outlet; '' none.
    rows : tuple of (line id, station, invert)
        Of each line there [m].
    words : str
        Its fittings.
    """

    x: float
    y: float
    head: str
    rows: tuple[tuple[str, float, float], ...]
    words: str


def told_places(plan: Plan) -> tuple[ToldPlace, ...]:
    """Places with their stations and inverts, each once.

    Parameters
    ----------
    plan : Plan
        As stored.

    Returns
    -------
    tuple of ToldPlace
        In the order of the lines, outlets first.
    """
    called = names(plan)
    lifted = {one.id: f"discharge of {called[one.id]}" for one in plan.sources if one.pit is not None}
    lines = {line.id for line in plan.every_line}
    groups: list[list[tuple[Line, Vertex, bool]]] = []
    for line in plan.every_line:
        for vertex in line.vertices:
            end = vertex is line.vertices[0] or vertex is line.vertices[-1]
            if not (end or vertex.fittings or vertex.bend):
                continue
            near = next((held for held in groups if _near(held[0][1], vertex)), None)
            if near is None:
                groups.append([(line, vertex, end)])
            else:
                near.append((line, vertex, end))
    found = []
    for held in groups:
        heads = [
            (called if line.pumped else {**called, **lifted}).get(
                line.start if vertex is line.vertices[-1] else line.end, ""
            )
            for line, vertex, end in held
            if end and not (vertex is line.vertices[0] and line.end in lines)
        ]
        words = _made_of([vertex.fittings for _, vertex, _ in held])
        found.append(
            ToldPlace(
                x=held[0][1].x,
                y=held[0][1].y,
                head=", ".join(dict.fromkeys(head for head in heads if head)),
                rows=tuple((line.id, vertex.station, vertex.invert) for line, vertex, _ in held),
                words=words,
            )
        )
    return tuple(found)


def _made_of(held: Sequence[tuple[Fitting, ...]]) -> str:
    """Fittings of all lines at a place: a wye is one piece, though the trunk and the branch both have it."""
    plain = any(one.kind is FittingKind.WYE for fittings in held for one in fittings)
    turned = any(one.kind is FittingKind.WYE and one.angle is not None for fittings in held for one in fittings)
    told = []
    for fittings in held:
        kept = [one for one in fittings if one.kind is not FittingKind.WYE or one.angle is not None]
        if plain and not turned:
            kept, plain = [*kept, Fitting(kind=FittingKind.WYE)], False
        told.append(fitting_words(kept))
    return " + ".join(dict.fromkeys(words for words in told if words))


def _near(a: Vertex, b: Vertex) -> bool:
    return abs(a.x - b.x) < 0.02 and abs(a.y - b.y) < 0.02


def invert_figure(value: float, unit: str) -> str:
    """An elevation on a drawing, whose unit the title block says.

    Parameters
    ----------
    value : float
        Elevation [m].
    unit : str
        The site's of elevations.

    Returns
    -------
    str
        '99.93', in metres '30.459'.
    """
    return units.length_text(value, unit).removesuffix(f" {units.UNIT_NAMES[unit]}")


def place_texts(place: ToldPlace, plan: Plan) -> tuple[str, ...]:
    """What is written at a place.

    Parameters
    ----------
    place : ToldPlace
        The place.
    plan : Plan
        For its units.

    Returns
    -------
    tuple of str
        Lines: the name, station and invert of each line there, the fittings.
    """
    rows = [
        f"{line} {units.station_text(station, plan.length_unit)} inv {invert_figure(invert, plan.elevation_unit)}"
        for line, station, invert in place.rows
    ]
    return tuple(text for text in (place.head, *rows, place.words) if text)


def unit_marks(plan: Plan) -> Iterable[str]:
    """Notes on units and on the survey's system, for every drawn sheet.

    Parameters
    ----------
    plan : Plan
        As stored.

    Returns
    -------
    iterable of str
        Sentences.
    """
    system = survey_system(plan)
    level = units.UNIT_NAMES[plan.elevation_unit]
    yield f"Elevations in {level}. Stations run up from each line's outlet."
    yield f"Survey: {system.name}, {system.unit_name}."
