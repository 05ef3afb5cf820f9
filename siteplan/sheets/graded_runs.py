"""A line in; its stretches of one grade, and of one grade and one pipe, out.

Map, plan sheet and profile tell the same.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from siteplan.sheets.stakes import pipes_along
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line

_SAME_GRADE = 5e-6  # [-]: half the last digit printed; grades nearer are one
_SAME = 1e-6  # m


@dataclass(frozen=True, slots=True, kw_only=True)
class GradedRun:
    """A stretch of line, bends and wyes in it, downstream end first [m]."""

    line: Line
    station_from: float
    station_to: float
    low: float  # inverts
    high: float
    pipe: Pipe

    @property
    def length(self) -> float:
        """Along the line in plan [m]."""
        return self.station_to - self.station_from

    @property
    def grade(self) -> float:
        """Rise over length in plan [-]."""
        return (self.high - self.low) / self.length


def graded_runs(line: Line) -> tuple[GradedRun, ...]:
    """A line cut where its grade or its pipe changes; one under pressure where its pipe does.

    Parameters
    ----------
    line : Line
        As stored.

    Returns
    -------
    tuple of GradedRun
        By station, outlet first.
    """
    cuts = [end for _, end, _ in pipes_along(line)[:-1]]
    return _cut(line, cuts if line.pumped is not None else [*cuts, *_grade_breaks(line)])


def one_grade_runs(line: Line) -> tuple[GradedRun, ...]:
    """A line cut where its grade changes, whatever pipe lies there.

    Parameters
    ----------
    line : Line
        As stored.

    Returns
    -------
    tuple of GradedRun
        By station, outlet first; the pipe is that of its middle.
    """
    return _cut(line, _grade_breaks(line))


def _grade_breaks(line: Line) -> list[float]:
    pieces = [(a, b) for a, b in pairwise(line.vertices) if b.station - a.station > _SAME]
    breaks = []
    for (a, b), (c, d) in pairwise(pieces):
        below = (b.invert - a.invert) / (b.station - a.station)
        above = (d.invert - c.invert) / (d.station - c.station)
        # inverts are stored to a millionth of a metre, which on a short piece shows in the grade
        rounding = 2e-6 / min(b.station - a.station, d.station - c.station)
        if abs(above - below) > _SAME_GRADE + rounding or abs(c.invert - b.invert) > _SAME:
            breaks.append(b.station)
    return breaks


def _cut(line: Line, cuts: Iterable[float]) -> tuple[GradedRun, ...]:
    marks: list[float] = []
    for cut in sorted([0.0, *cuts, line.length]):
        if not marks or cut - marks[-1] > _SAME:
            marks.append(cut)
    return tuple(
        GradedRun(
            line=line,
            station_from=a,
            station_to=b,
            low=line.at(a)[2],
            high=line.at(b)[2],
            pipe=line.pipe_at((a + b) / 2),
        )
        for a, b in pairwise(marks)
    )
