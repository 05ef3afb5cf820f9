"""What was searched and tried, what it lacks and what would serve it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from siteplan.values.lines import Line
from siteplan.values.own_drawn import OwnLines
from siteplan.values.water_ends import Outlet

CureKind = Literal["outlet-zone", "min-cover", "outlet-invert", "pop-up", "fill", "max-depth", "lift"]

CURES: tuple[CureKind, ...] = get_args(CureKind)  # in the order practice tries them

CURE_FIGURES = ("spare", "length", "cut", "x", "y", "invert", "volume", "width", "station_from", "station_to")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cure:
    """One change with which a source that no line serves was laid out again and then had a line; 'lift' needs none."""

    kind: CureKind
    # the new zone, cover, invert or depth; how far a pop-up's rim lies under the source; highest fill; lift [m]
    amount: float
    held: float  # zone, cover, invert or depth as it is [m]
    spare: float | None  # fall to spare of the line then laid [m]
    length: float | None  # of that line, or of the pressure line [m]
    cut: float | None  # its deepest cut [m]
    x: float | None = None  # of a pop-up [m]
    y: float | None = None
    invert: float | None = None  # of the line under it [m]
    volume: float | None = None  # of fill [m3]
    width: float | None = None  # of fill to each side of the way [m]
    station_from: float | None = None  # of fill [m]
    station_to: float | None = None
    way: tuple[tuple[float, float, float], ...] = ()  # x, y, finished ground of fill [m]
    flow: float | None = None  # of a pump that serves; of the source's own where its curve is known [m3/s]
    head: float | None = None  # that it meets there [m]; None: no line under pressure was laid out
    own_pump: bool = False  # these are what the source's own pump brings
    fails: tuple[
        str, ...
    ] = ()  # ids of rules on its water that the changed plan breaks: it reaches the outlet and does not serve


@dataclass(frozen=True, slots=True, kw_only=True)
class AttemptPlace:
    """A place on the best line to an outlet that no legal line reaches."""

    station: float  # from the outlet [m]
    x: float
    y: float
    ground: float  # NaN: not known
    invert: float  # lowest that still falls to the outlet at the least grade
    short: float  # how far that lies over the highest legal invert there [m]; 0: legal there


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """One outlet that a source without a line was tried on, and what would serve it there.

    In the order practice tries.
    """

    source: str
    outlet: str
    short_by: float | None  # [m]; None where there is no way to measure it on
    station: float | None  # of the limit that decides, from the outlet [m]
    cures: tuple[Cure, ...]
    tried: bool  # False: no change was laid out, to keep the plan quick
    line: tuple[AttemptPlace, ...] = ()  # not legal; outlet first, straight between; empty where no way is open


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One way to serve sources from one outlet, taken or not, with the reason it lost."""

    sources: tuple[str, ...]
    outlet: str
    feasible: bool
    fall_available: float | None
    fall_needed: float | None
    margin: float | None
    length: float | None
    cost: float | None
    chosen: bool
    reason: str | None
    ends_fall: float | None = (
        None  # fall between the ends alone: the start's cover kept, no cover along the way counted [m]
    )
    doubt: float | None = None  # one standard deviation of it [m]
    chance: float | None = None  # that the margin is there


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchEffort:
    """When a search over more sources than can be joined in every way stops looking for better lines."""

    gap: float = 0.05  # over the bound [-]
    steps: int = 160  # bundles of sources grown: work that is counted, so that the same input has the same answer
    seconds: float | None = None  # by the clock, where a user asks for it
    closer: bool = (
        True  # whether ways that go far round are looked at again on a finer net; not for layouts set beside a plan
    )


SearchStop = Literal["every-way", "gap", "no-better", "steps", "time"]

SEARCH_STOPS: tuple[SearchStop, ...] = get_args(SearchStop)


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchResult:
    """How near to the least cost on the net a search came. `bound` is a cost that no lines on the net are under."""

    sources: int
    cost: float  # on the net: without bends, settings of the grade and margins
    bound: float
    steps: int  # bundles grown
    stopped: SearchStop
    gap_asked: float
    steps_asked: int
    seconds_asked: float | None
    delivered: float | None = None  # as the lines lie; None: not all of these sources have one

    @property
    def gap(self) -> float:
        """Cost over bound, less 1 [-]."""
        return self.cost / self.bound - 1 if self.bound > 0 else 0.0


SharingWhy = Literal["cheaper", "flow", "holes", "no-fall", "own-line", "outlet-takes"]

SHARING_WHYS: tuple[SharingWhy, ...] = get_args(SharingWhy)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sharing:
    """Why sources share a line to an outlet, or two groups of them do not. Costs are on the net, in relative prices."""

    sources: tuple[str, ...]
    others: tuple[str, ...]  # the group kept apart from them; empty: these share one line
    outlet: str  # where they end; where the others would have to end with them
    why: SharingWhy
    cost: float  # as laid
    instead: float | None  # the other way; None: not to be had, or dearer than was looked at
    flow: float | None  # of all of them together [m3/s]; None: not known
    size: str | None  # smallest nominal size on offer that carries it at the least grade; None: none does, or not known


@dataclass(frozen=True, slots=True, kw_only=True)
class MissedWay:
    """The way along which a refused candidate's figures were measured."""

    source: str
    outlet: str
    way: tuple[tuple[float, float], ...]  # from the source to the outlet [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidOut:
    """What laying out a yard gives."""

    lines: tuple[Line, ...]
    outlets: tuple[Outlet, ...]
    candidates: tuple[Candidate, ...]
    notes: tuple[str, ...]
    search: tuple[SearchResult, ...] = ()  # of every group of sources searched together
    sharing: tuple[Sharing, ...] = ()
    own: tuple[OwnLines, ...] = ()  # drawn by a person
    missed: tuple[MissedWay, ...] = ()  # of the candidates that are short of something along a way
