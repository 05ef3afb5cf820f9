"""Candidates and the lines laid in.

Each way that was taken with the figures of its line, as every sheet prints them, out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from siteplan.values.lines import Line
from siteplan.values.tried import Candidate
from siteplan.values.water_ends import Source

_APART = "the lines laid serve these sources in another way"
_OTHER = "works, and the layout taken serves this source elsewhere"


def as_taken(
    candidates: Sequence[Candidate], lines: Sequence[Line], sources: Sequence[Source], grade: float
) -> tuple[Candidate, ...]:
    """Candidates, with fall and length of the line laid where one was taken.

    A way that was weighed on the net and then laid is one way with one figure: that of the line.

    Parameters
    ----------
    candidates : sequence of Candidate
        As weighed.
    lines : sequence of Line
        As laid.
    sources : sequence of Source
        Of the site.
    grade : float
        Least grade [-].

    Returns
    -------
    tuple of Candidate
        A group that the lines laid do not serve in one trench is not taken.
    """
    by_id = {line.id: line for line in lines}
    places = {source.id: source for source in sources}

    def settled(one: Candidate) -> Candidate:
        if not one.chosen:
            return one
        if len(one.sources) > 1:
            return _group(one, lines)
        carrying = [line for line in lines if one.sources[0] in line.sources]
        if not carrying:
            return one
        line = min(carrying, key=lambda line: len(line.sources))  # its own, or the one it drops into
        length = _way(places[one.sources[0]], line, by_id)
        needed = grade * length
        return replace(one, margin=line.spare, length=length, fall_needed=needed, fall_available=needed + line.spare)

    return tuple(settled(one) for one in candidates)


def _group(one: Candidate, lines: Sequence[Line]) -> Candidate:
    """The least spare of the lines that bring a group to its outlet."""
    asked = set(one.sources)
    if not any(line.end == one.outlet and set(line.sources) == asked for line in lines):
        return replace(one, chosen=False, reason=_APART)
    return replace(one, margin=min(line.spare for line in lines if set(line.sources) <= asked))


def _way(source: Source, line: Line, by_id: Mapping[str, Line]) -> float:
    """Length from where a source's water enters a line to the outlet [m]."""
    x, y, total = source.x, source.y, 0.0
    while True:
        total += min(line.vertices, key=lambda vertex: math.dist((vertex.x, vertex.y), (x, y))).station
        if line.end not in by_id:
            return total
        x, y, line = line.vertices[0].x, line.vertices[0].y, by_id[line.end]


def elsewhere(candidate: Candidate, end: str | None) -> Candidate:
    """A way as it stands where another layout was taken than the one it was weighed for.

    Parameters
    ----------
    candidate : Candidate
        As weighed, of one source.
    end : str or None
        Id of the outlet that the layout taken brings its source to; None for a source without a line.

    Returns
    -------
    Candidate
        Taken or not; one that would work and is not taken says so.
    """
    if candidate.outlet == end:
        return replace(candidate, chosen=True, feasible=True, reason=None)
    return replace(candidate, chosen=False, reason=_OTHER if candidate.feasible else candidate.reason)
