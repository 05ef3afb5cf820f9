"""What may come of the ground: soft stretches, water standing in a belly, doubt, shots that would settle it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from siteplan.values.drawn_shapes import Ring


@dataclass(frozen=True, slots=True, kw_only=True)
class SoftGround:
    """A stretch of weaker ground under a line; low, likely, high."""

    station_from: float
    station_to: float
    what: str
    modulus: tuple[float, float, float]  # stiffness per length of pipe [Pa]
    drop: tuple[float, float, float]  # settlement against the ground beside it [m]
    loose: float = 0.0  # thickness of loose fill under the pipe [m]
    certain: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """Where water may stand in a line."""

    station_from: float
    station_to: float
    depth: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BellyForecast:
    """What a line will do on its ground, in its main pipe; triples are low, likely, high after 50 years."""

    depth: tuple[float, float, float]  # of standing water [m]
    length: tuple[float, float, float]  # of all pools [m]
    pools: tuple[Pool, ...]  # of the worst guess
    stress: float | None  # bending over its limit [-]; None: no limit is known for this pipe
    turn: float  # greatest at a joint [degrees]
    turn_limit: float | None
    risk: bool  # likely or worst guess above the limit, or a limit of stress or joint passed
    decides: str  # which unknown moves the depth most
    mends: tuple[str, ...]  # what would help, most helpful first
    statements: tuple[str, ...]


BellyUnknown = Literal[
    "unsolved", "no-pipe-in-book"
]  # why no forecast stands: not solved in balance; pipe not in the book


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedShot:
    """A further shot that would make a line's fall surer.

    The figures hold when it and those before it bear the survey out.
    """

    x: float
    y: float
    place: str
    chance_min_grade: float
    fall: float  # doubt of the fall to spare then [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineDoubt:
    """How sure a line's fall is, on its whole way to the outlet; docs/doubt.md.

    Doubts are one standard deviation [m].
    """

    fall: float  # doubt of the fall to spare
    ends: float  # doubt of the fall between the outlet and the start's ground alone
    grade: float  # and of the grade between them [-]
    chance_min_grade: float  # that the ground leaves room for the least grade everywhere
    chance_falls: float  # that it leaves room for a line that falls at all everywhere
    method: str  # closed form | simulation
    shots_wanted: tuple[WantedShot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LowSpot:
    """Wet ground: a hollow that fills before it spills, a marked wet area, or a sprinkler's zone."""

    id: str
    kind: str  # hollow | wet_area | sprinkler
    depth: float
    area: float
    volume: float
    spill_elevation: float | None
    spill: tuple[float, float] | None  # where it spills
    catchment: float | None  # contributing area, itself included
    certain: bool  # deeper than the survey's doubt, or marked by a person
    rings: tuple[Ring, ...]  # outer ring, then holes
