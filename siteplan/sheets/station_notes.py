"""A line in; what stands at each of its stations, said again from the plan's values in another language, out.

A plan carries the note of each row as the planner wrote it. Here the same note is made from vertices, fittings,
crossings, low spots and reaches. A row whose note says more than these tell keeps the words that it has.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from siteplan import units
from siteplan.books.fittings import fitting_words
from siteplan.books.kinds import Kind
from siteplan.books.phrases import Language, phrase
from siteplan.trench.pipe_words import short, sized
from siteplan.values.laid_pipe import FittingKind
from siteplan.values.lines import Line, Vertex
from siteplan.values.whole_plan import Plan

_ONE = 1.5e-3  # m: stations of one place
_STAKE = 0.1  # m: what lies as near as this to a stake is told at it
_DROP = 0.02  # m: a branch that comes in higher than this over its trunk is told
_OUTLET_ZONE = "outlet zone"  # place of a reach, as plan.json has it
_CROSSED = frozenset(
    {
        Kind.LOT,
        Kind.BUILDING,
        Kind.DRIVEWAY,
        Kind.WALK,
        Kind.PAVING,
        Kind.UTILITY,
        Kind.WALL,
        Kind.FENCE,
        Kind.CURB,
        Kind.EASEMENT,
        Kind.DRAIN,
    }
)


def station_notes(plan: Plan, line: Line, language: Language) -> list[str]:
    """The notes of a line's rows in a language.

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
    list of str
        One for each row. Where the English made here is not the note that the plan carries, that note as it stands.
    """
    here, plain = (_notes(plan, line, one) for one in (language, "english"))
    return [
        said if english == row.note else row.note for said, english, row in zip(here, plain, line.rows, strict=True)
    ]


def _notes(plan: Plan, line: Line, language: Language) -> list[str]:
    """Each told at the row nearest to it; what is not told at its own station has that before it."""
    told: dict[int, tuple[list[str], list[str]]] = {k: ([], []) for k in range(len(line.rows))}
    marks: list[tuple[float, list[str]]] = []
    for station, words in _marks(plan, line, language):
        one = next((held for at, held in marks if abs(at - station) < _ONE), None)
        if one is None:
            one = []
            marks.append((station, one))
        one.append(words)
    for station, said in sorted(marks):
        k = min(range(len(line.rows)), key=lambda i: abs(line.rows[i].station - station))
        off = abs(line.rows[k].station - station)
        words = "; ".join(text for text in said if text)
        if off < _ONE:
            told[k][0].append(words)
        elif off < _STAKE and words:
            told[k][1].append(f"{units.station_text(station, plan.length_unit)}: {words}")
    for below, above in itertools.pairwise(line.reaches):
        if below.coupling:
            k = min(range(len(line.rows)), key=lambda i: abs(line.rows[i].station - below.station_to))
            sizes = below.pipe.nominal != above.pipe.nominal
            lower, upper = (
                f"{sized(one, plan.length_unit, language)} {short(one, language)}" if sizes else short(one, language)
                for one in (below.pipe, above.pipe)
            )
            told[k][1].append(phrase("note.pipe", language, lower=lower, upper=upper))
    if (piece := line.curb_piece) is not None and piece.fitting == "box" and line.rows:
        *most, last = [one.id for one in plan.lines if one.end == line.end] if line.end else [line.id]
        whose = phrase("note.box_for", language, lines=", ".join(most), last=last) if most else ""
        pipe = f"{sized(piece.pipe, plan.length_unit, language)} {short(piece.pipe, language)}"
        told[0][1].append(phrase("note.box", language, whose=whose, count=f"{piece.number}", pipe=pipe))
    return ["; ".join(text for text in (*told[k][0], *told[k][1]) if text) for k in range(len(line.rows))]


def _marks(plan: Plan, line: Line, language: Language) -> Iterator[tuple[float, str]]:
    """What the places of a line are, by station, in the order in which they are told at one."""
    last = line.vertices[-1]
    coming = _coming_in(plan, line, language)
    for vertex in line.vertices:
        words = []
        if vertex.station == 0:
            words.append(_end(plan, line, vertex, language))
        if vertex is last:
            name = next((source.name for source in plan.sources if source.id == line.start), line.start)
            pit = any(one.start == line.start for one in plan.pressed) or line.pumped is not None
            words.append(
                phrase("note.start_pumped" if pit and line.pumped is None else "note.start", language, name=name)
            )
        words += [text for at, text in coming if at == vertex.station and at > 0]
        if vertex.fittings:
            made = fitting_words(vertex.fittings, language)
            bent = vertex.bend and not vertex.has(FittingKind.WYE)
            words.append(phrase("fitting.turn", language, angle=f"{vertex.bend:.1f}", made=made) if bent else made)
        yield vertex.station, "; ".join(words)
    for crossing in line.crossings:
        kind = phrase(f"crossed.{crossing.kind}", language) if crossing.kind in _CROSSED else crossing.kind
        what = f"{kind} {crossing.name}".strip()
        if crossing.station_to - crossing.station_from < 1e-6:
            yield crossing.station_from, phrase("note.crosses", language, what=what)
        else:
            yield crossing.station_from, phrase("note.edge_low", language, what=what)
            yield crossing.station_to, phrase("note.edge_high", language, what=what)
    for passage in line.low_spots:
        yield passage.station_from, phrase("note.into_wet", language, spot=passage.id)
        yield passage.station_to, phrase("note.out_of_wet", language, spot=passage.id)
    zone = max((reach.station_to for reach in line.reaches if reach.place == _OUTLET_ZONE), default=0.0)
    if 0.0 < zone < line.length:
        yield zone, phrase("note.zone", language)


def _end(plan: Plan, line: Line, first: Vertex, language: Language) -> str:
    trunk = next((one for one in plan.lines if one.id == line.end), None)
    if line.pumped is not None and line.pumped.gap is not None:
        here = [one for one in plan.features if one.kind == Kind.DISCHARGE_POINT and one.rings and one.rings[0]]
        point = min(here, key=lambda one: math.dist(one.rings[0][0], (first.x, first.y)), default=None)
        name = line.end if point is None else point.name
        return phrase("note.gap", language, name=name, gap=units.small_text(line.pumped.gap, plan.length_unit))
    if trunk is None:
        name = next((outlet.name for outlet in plan.outlets if outlet.id == line.end), line.end)
        return phrase("note.outlet", language, name=name)
    joins = phrase("note.joins", language, line=trunk.id)
    at = min(trunk.vertices, key=lambda one: math.dist((one.x, one.y), (first.x, first.y)))
    if first.invert - at.invert <= _DROP:
        return joins
    height = units.length_text(first.invert - at.invert, plan.length_unit)
    return phrase("note.above", language, joins=joins, height=height)


def _coming_in(plan: Plan, line: Line, language: Language) -> list[tuple[float, str]]:
    """Lines that join this one, then sources that come in from above, each at the vertex that takes it."""
    named = {source.id: source for source in plan.sources}
    branches = [other for other in plan.lines if other.end == line.id]
    found = []
    for branch in branches:
        end = branch.vertices[0]
        name = named[branch.start].name if branch.start in named else branch.start
        found.append((_nearest(line, end.x, end.y), phrase("note.branch", language, line=branch.id, name=name)))
    carried = {source for branch in branches for source in branch.sources} | {line.start}
    for ident in line.sources:
        if ident in named and ident not in carried:
            source = named[ident]
            found.append((_nearest(line, source.x, source.y), phrase("note.drop", language, name=source.name)))
    return found


def _nearest(line: Line, x: float, y: float) -> float:
    return min(line.vertices, key=lambda one: math.dist((one.x, one.y), (x, y))).station
