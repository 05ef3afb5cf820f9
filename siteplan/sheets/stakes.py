"""A line in; its stakes as a crew meets them, with what is to be done at each in words, out.

Schedule, map and cut sheet print the same stakes: a utility is a hand-dig stake, a grade break that no joint can turn
names its fitting, and a change of size names its reducer.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from siteplan import units
from siteplan.books.phrases import Language, phrase
from siteplan.books.pipes import strength
from siteplan.books.services import service
from siteplan.sheets.station_notes import station_notes
from siteplan.sheets.wording import depth_text, one_line
from siteplan.trench.pipe_words import short, sized, small
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Crossing, Line, Row, Vertex
from siteplan.values.whole_plan import Plan

_SAME = 0.002  # stations that are one [m]
_FLEX = 1.0  # turn that a run of glued pipe takes by itself [degrees]; common practice, no source
_SPRUNG = 8.0  # degrees that small solid pipe is sprung to over a stick; ours
_BENDS = (11.25, 22.5, 45.0)  # bends in the trade [degrees]
_MOST_JOINTS = 4  # a turn is spread over no more joints than these; ours


@dataclass(frozen=True, slots=True, kw_only=True)
class Stake:
    """One stake: the plan's row that gives its figures, and what is to be done or known there."""

    row: Row
    words: tuple[str, ...]

    @property
    def text(self) -> str:
        """The words in one line."""
        return "; ".join(self.words)


def pipe_words(pipe: Pipe, unit: str, language: Language = "english") -> str:
    """A pipe as a crew orders it: '4 in SDR 35 PVC', '4 in (107 mm outside) SDR 35 PVC' on a metric site.

    Parameters
    ----------
    pipe : Pipe
        Any pipe.
    unit : str
        The site's length unit.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    str
        Size and material.
    """
    return one_line(f"{sized(pipe, unit, language)} {short(pipe, language)}")


def pipes_words(line: Line, unit: str, language: Language = "english") -> str:
    """Every pipe that lies in a line: '4 in schedule 40 PVC to 0+15.0, then 4 in SDR 35 PVC'.

    Parameters
    ----------
    line : Line
        The line, with its reaches where it has any.
    unit : str
        The site's length unit.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    str
        From the outlet upstream; one pipe where one lies all the way.
    """
    parts = pipes_along(line)
    told = [
        phrase("pipe.to", language, pipe=pipe_words(pipe, unit, language), station=units.station_text(end, unit))
        for _, end, pipe in parts[:-1]
    ]
    return phrase("pipe.then", language).join([*told, pipe_words(parts[-1][2], unit, language)])


def pipes_along(line: Line) -> list[tuple[float, float, Pipe]]:
    """The pipes of a line from the outlet up, reaches of one pipe put together.

    Parameters
    ----------
    line : Line
        The line.

    Returns
    -------
    list of (float, float, Pipe)
        Stations from and to [m].
    """
    if not line.reaches:
        return [(0.0, line.length, line.pipe)]
    found: list[tuple[float, float, Pipe]] = []
    for reach in line.reaches:
        if found and (found[-1][2].kind, found[-1][2].nominal) == (reach.pipe.kind, reach.pipe.nominal):
            found[-1] = (found[-1][0], reach.station_to, reach.pipe)
        else:
            found.append((reach.station_from, reach.station_to, reach.pipe))
    return found


def stakes(plan: Plan, line: Line, language: Language = "english") -> list[Stake]:
    """The stakes of a line, outlet first.

    Parameters
    ----------
    plan : Plan
        The plan.
    line : Line
        One of its lines.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    list of Stake
        One for each row of the plan.
    """
    more: dict[float, tuple[list[str], list[str]]] = {}

    def say(station: float, words: str, *, after: bool = False) -> None:
        row = min(line.rows, key=lambda one: (abs(one.station - station), one.station))
        more.setdefault(row.station, ([], []))[after].append(words)

    if not line.rows:
        return []
    for crossing in line.crossings:
        if crossing.kind == "utility":
            say(crossing.station_from, hand_dig_text(crossing, line.length, plan.length_unit, language))
    for below, vertex, above in zip(line.vertices, line.vertices[1:], line.vertices[2:], strict=False):
        if words := _break_words(line, below, vertex, above, language):
            say(vertex.station, words, after=True)
    for station, words in reducer_words(plan, line, language):
        say(station, words)
    notes = [row.note for row in line.rows] if language == "english" else station_notes(plan, line, language)
    return [_stake(row, note, more) for row, note in zip(line.rows, notes, strict=True)]


def _stake(row: Row, note: str, more: dict[float, tuple[list[str], list[str]]]) -> Stake:
    before, after = more.get(row.station, ([], []))
    return Stake(row=row, words=tuple(one_line(text) for text in (*before, note, *after) if text))


def hand_dig_text(crossing: Crossing, length: float, unit: str, language: Language = "english") -> str:
    """What a crew does at a utility: 'HAND DIG 0+36.1 to 0+40.1: Water service (drinking water), 4.00 ft deep'.

    Parameters
    ----------
    crossing : Crossing
        Of kind utility.
    length : float
        Of the line [m].
    unit : str
        The site's length unit.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    str
        Without a full stop.
    """
    name = one_line(crossing.name) or phrase("stake.utility", language)
    kept = phrase(f"service.{service(crossing.service).word or 'unstated'}", language)
    what = f"{name} ({kept}), {depth_text(crossing.depth, unit, language)}"
    reach = crossing.hand_dig
    if reach is None:
        station = units.station_text(crossing.station_from, unit)
        return phrase("stake.hand_dig_unknown", language, station=station, what=what)
    first, last = max(0.0, crossing.station_from - reach), min(length, crossing.station_to + reach)
    low, high = (units.station_text(station, unit) for station in (first, last))
    return phrase("stake.hand_dig", language, first=low, last=high, reach=small(reach, unit), what=what)


def _break_words(line: Line, below: Vertex, vertex: Vertex, above: Vertex, language: Language) -> str:
    """The fitting of a grade break, where one joint cannot turn it."""
    down, up = vertex.station - below.station, above.station - vertex.station
    if down < _SAME or up < _SAME:
        return ""
    turn = abs(
        math.degrees(math.atan2(above.invert - vertex.invert, up) - math.atan2(vertex.invert - below.invert, down))
    )
    joint = _joint_turn(line.pipe_at(vertex.station))
    if turn <= max(joint or 0.0, _FLEX):
        return ""
    head = phrase("stake.turns", language, turn=f"{turn:.1f}")
    if line.pumped is not None and turn < _SPRUNG:
        return phrase("stake.spring", language, head=head)
    if joint and turn <= joint * _MOST_JOINTS:
        count = f"{math.ceil(turn / joint)}"
        return phrase("stake.spread", language, head=head, joint=f"{joint:g}", count=count)
    bend = min(_BENDS, key=lambda one: abs(one - turn))
    if abs(bend - turn) <= max(joint or 0.0, _FLEX):
        return phrase("stake.on_edge", language, head=head, bend=f"{bend:g}")
    larger = next(one for one in (*_BENDS, 90.0) if one >= turn)
    return phrase("stake.flexible", language, head=head, bend=f"{larger:g}")


def _joint_turn(pipe: Pipe) -> float | None:
    """What one joint of a pipe turns [degrees]; None: none, or not known."""
    known = strength(pipe.kind, pipe.nominal)
    return None if known is None else known.joint_turn


def reducer_words(plan: Plan, line: Line, language: Language = "english") -> list[tuple[float, str]]:
    """Where the size changes: inside the line, where it joins another, and where others join it.

    Parameters
    ----------
    plan : Plan
        The plan.
    line : Line
        One of its lines.
    language : str
        'english' or 'spanish'.

    Returns
    -------
    list of (float, str)
        Station [m] and what is to be put there.
    """

    def size(pipe: Pipe) -> str:
        return sized(pipe, plan.length_unit, language)

    told = [
        (below[1], phrase("stake.reducer", language, below=size(below[2]), above=size(above[2])))
        for below, above in itertools.pairwise(pipes_along(line))
        if below[2].nominal != above[2].nominal
    ]
    if line.pumped is not None:
        return told  # it pours into the line below through an open gap
    lines = {other.id: other for other in plan.lines}
    if (trunk := lines.get(line.end)) is not None:
        told += _wye(plan, trunk, line, 0.0, language)
    for other in plan.lines:
        if other.end == line.id and other.vertices:
            end = other.vertices[0]
            at = min(line.vertices, key=lambda v: math.hypot(v.x - end.x, v.y - end.y))
            told += _wye(plan, line, other, at.station, language)
    return told


def _wye(plan: Plan, trunk: Line, branch: Line, station: float, language: Language) -> list[tuple[float, str]]:
    end = branch.vertices[0]
    at = min(trunk.vertices, key=lambda v: math.hypot(v.x - end.x, v.y - end.y)).station
    big, little = trunk.pipe_at(at), branch.pipe_at(0.0)
    if big.nominal == little.nominal:
        return []
    size, other = (sized(pipe, plan.length_unit, language) for pipe in (big, little))
    words = phrase("stake.reducing_wye", language, big=size, small=other, branch=branch.id, trunk=trunk.id)
    return [(station, words)]
