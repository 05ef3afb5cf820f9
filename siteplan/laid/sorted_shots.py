"""Shots near one line in; which of them stand on its pipe, which on something else, and which must be asked about, out.

Words are hints. A shot that bears a curb's name and lies in the pipe's place and height is on the pipe; one that bears
no name and stands a yard over it is not. Where name, place and height quarrel, nothing is decided: it is asked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from siteplan import units
from siteplan.books.practice import BESIDE_PIPE, CAP_SURE
from siteplan.laid.design import DesignLine
from siteplan.laid.laid_shots import LaidShot
from siteplan.laid.verdict_values import Asked, Doubtful
from siteplan.survey.shot_codes import speaks_of_new_pipe, speaks_of_something_else

OFF_HEIGHT = 0.15 * units.FOOT  # what bears another thing's name and lies so far off the pipe is asked about
CAP = 0.25 * units.FOOT  # a shot called cleanout may stand on its cap; so high it is no pipe within tolerance
Stands = Doubtful | Literal["pipe", "other", "cap"]
_AT_END = 1.0  # m
AT_ONE_PLACE = 0.5 * units.FOOT  # two shots nearer than this are of one place
CONTRADICT = 0.05 * units.FOOT  # two shots of one place farther apart than this are not both right


@dataclass(frozen=True, slots=True, kw_only=True)
class OnPipe:
    """A shot on the pipe: station, invert by it [m]."""

    station: float
    invert: float
    shot: LaidShot


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sorted:
    """`places`: shots on the pipe, one group for each place, rising from the outlet."""

    places: tuple[tuple[OnPipe, ...], ...]
    asked: tuple[Asked, ...]
    other: tuple[LaidShot, ...]
    caps: tuple[tuple[float, LaidShot], ...]


def sort_shots(
    line: DesignLine, own: Sequence[tuple[float, LaidShot, float | None]], aside: Mapping[int, float], shift: float
) -> Sorted:
    """Tell pipe from what is not.

    Parameters
    ----------
    line : DesignLine
        As designed.
    own : sequence of (float, Shot, float or None)
        Station [m], shot, and the height of what the rod stood on above the invert [m], None where it is not known.
    aside : mapping of int to float
        How far off the line each shot lies, by its row [m].
    shift : float
        Of the datum [m].

    Returns
    -------
    Sorted
        Each shot once.
    """
    known = [(s, shot, shot.height - lift - shift) for s, shot, lift in own if lift is not None]
    offs = {shot.row: invert - _design(line, s) for s, shot, invert in known}
    asked = [_asked(line, s, shot, 0.0, "bell not known") for s, shot, lift in own if lift is None]
    stands = _stands(line, known, offs, aside)
    for s, shot, _ in known:
        why_not = stands[shot.row]
        if why_not != "pipe" and why_not != "other" and why_not != "cap":  # noqa: PLR1714 - so that the type narrows
            asked.append(_asked(line, s, shot, offs[shot.row], why_not))
    places = _at_one_place(
        [OnPipe(station=s, invert=invert, shot=shot) for s, shot, invert in known if stands[shot.row] == "pipe"]
    )
    quarrel = [place for place in places if np.ptp([offs[one.shot.row] for one in place]) > CONTRADICT]
    agreed = [place for place in places if place not in quarrel]
    spikes = [agreed[i] for i in range(1, len(agreed) - 1) if _spike(line, agreed[i - 1 : i + 2], offs)]
    whys: tuple[tuple[list[tuple[OnPipe, ...]], Doubtful], ...] = (
        (quarrel, "two shots disagree"),
        (spikes, "far off its neighbours"),
    )
    asked += [
        _asked(line, one.station, one.shot, offs[one.shot.row], why)
        for group, why in whys
        for place in group
        for one in place
    ]
    return Sorted(
        places=tuple(place for place in agreed if place not in spikes),
        asked=tuple(sorted(asked, key=lambda one: (one.station, one.row))),
        other=tuple(shot for _, shot, _ in known if stands[shot.row] == "other"),
        caps=tuple((s, shot) for s, shot, _ in known if stands[shot.row] == "cap"),
    )


def _asked(line: DesignLine, station: float, shot: LaidShot, off: float, why: Doubtful) -> Asked:
    return Asked(line=line.id, station=station, row=shot.row, name=shot.name, off=off, why=why)


def _stands(
    line: DesignLine,
    known: Sequence[tuple[float, LaidShot, float]],
    offs: Mapping[int, float],
    aside: Mapping[int, float],
) -> dict[int, Stands]:
    """What each shot stands on, by its row: 'pipe', 'other', 'cap', or a doubt that is to be asked about."""
    sure = [shot for _, shot, _ in known if speaks_of_new_pipe(shot.name)]
    plain = sure or [shot for _, shot, _ in known if not speaks_of_something_else(shot.name)]
    usual_off = float(np.median([offs[shot.row] for shot in plain])) if plain else 0.0
    usual_aside = float(np.median([aside.get(shot.row, 0.0) for shot in plain])) if plain else 0.0
    out: dict[int, Stands] = {}
    for s, shot, _ in known:
        off = offs[shot.row] - usual_off
        inside = line.station[0] + _AT_END < s < line.station[-1] - _AT_END
        # gutters, slabs and walls stand at a line's ends
        beside = aside.get(shot.row, 0.0) - usual_aside > BESIDE_PIPE or (shot.kind == "fixed" and not inside)
        named, else_ = speaks_of_new_pipe(shot.name), speaks_of_something_else(shot.name)
        if (else_ and (beside or off > line.bore)) or (beside and abs(off) > line.bore and sure and not named):
            out[shot.row] = "other"
        elif else_ and abs(off) > OFF_HEIGHT:
            out[shot.row] = "pipe or not"
        elif shot.kind == "cleanout" and off > CAP:
            out[shot.row] = "cap" if off > CAP_SURE else "pipe or cap"
        else:
            out[shot.row] = "pipe"
    return out


def _design(line: DesignLine, station: float) -> float:
    return float(line.at(np.array([station]))[0])


def _at_one_place(kept: list[OnPipe]) -> list[tuple[OnPipe, ...]]:
    groups: list[list[OnPipe]] = []
    for one in sorted(kept, key=lambda one: (one.station, one.shot.row)):
        if groups and one.station - groups[-1][0].station <= AT_ONE_PLACE:
            groups[-1].append(one)
        else:
            groups.append([one])
    return [tuple(group) for group in groups]


def _spike(line: DesignLine, three: Sequence[Sequence[OnPipe]], offs: Mapping[int, float]) -> bool:
    """Whether the middle one of three places lies farther off the two beside than water can stand in this pipe."""
    (a, before), (s, off), (b, after) = (
        (group[0].station, float(np.mean([offs[one.shot.row] for one in group]))) for group in three
    )
    miss = off - (before + (after - before) * (s - a) / (b - a))
    fall = max(0.0, _design(line, s) - _design(line, a))
    return abs(after - before) <= line.bore / 2 and (miss > line.bore or miss < -line.bore - fall)
