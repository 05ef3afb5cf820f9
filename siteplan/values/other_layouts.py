"""Other layouts beside the plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

LayoutAim = Literal["cost", "outlet", "pavement", "apart", "fall", "depth"]

LAYOUT_AIMS: tuple[LayoutAim, ...] = get_args(LayoutAim)

# drawn like another layout; a source has no line in it; a line that a person drew is not followed; a fault of ours
LeftOut = Literal["same", "unserved", "drawn", "fault"]

LEFT_OUT: tuple[LeftOut, ...] = get_args(LeftOut)


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What a layout was laid for."""

    what: LayoutAim
    outlet: str = ""  # id of the outlet left out of play, for 'outlet'
    grade: float | None = None  # least grade laid at, for 'fall' [-]


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutEnd:
    """Where lines of a layout end: an outlet, by its id there. Found points are numbered in each layout for itself."""

    id: str
    name: str
    x: float
    y: float
    found: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutPlace:
    """A place where a line of a layout bends, changes grade, joins or ends."""

    x: float
    y: float
    station: float
    invert: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutLine:
    """A line of a layout: its way and inverts, and the figures by which it is weighed."""

    id: str
    sources: tuple[str, ...]
    start: str
    end: str
    nominal: str  # size of its pipe
    vertices: tuple[LayoutPlace, ...]  # by station, outlet first
    spare: float
    chance: float | None  # to hold its least grade everywhere
    deepest_cut: float | None

    @property
    def length(self) -> float:
        """Length in plan [m]."""
        return self.vertices[-1].station


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """One way to lay the whole yard, laid out and judged like the plan itself.

    Least spare and chance are of its worst line.
    """

    number: int  # 1 the cheapest
    chosen: bool
    aim: Aim
    cost: float  # trench, bends, wyes and changes of grade, relative; docs/costs.md
    length: float
    deepest_cut: float | None
    over_ladder: float  # length of trench deeper than the trench standard's depth for a way out [m]
    over_protection: float  # and for protection against caving in [m]
    pavement: float  # length under driveways, paving and walks [m]
    spare: float
    chance: float | None
    bellies: int  # lines in which water may stand
    flags: int
    fails: int
    sure: tuple[str, ...]  # ids of the sources that it drains for sure
    ends: tuple[LayoutEnd, ...]
    lines: tuple[LayoutLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutLeft:
    """A layout that was tried and is none to choose."""

    aim: Aim
    why: LeftOut
    like: int | None = None  # number of the layout that it is drawn like
    source: str = ""  # id of a source without a line in it
