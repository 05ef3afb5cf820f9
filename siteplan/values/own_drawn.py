"""Lines that a person drew: how they were taken, and the least change that mends them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

OwnMode = Literal["fixed", "guide"]

OwnInverts = Literal["given", "grade", "settled", "straight", "planner", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnDrawn:
    """One line as a person drew it. `inverts` tells where its inverts come from.

    'given': one for each corner; 'grade': one grade up from its end; 'settled': the highest that keep every limit, none
    were given; 'straight': none keep every limit, so it is drawn from its lowest end to its highest start; 'planner': a
    guide, followed; 'none': a guide that no line can follow.
    """

    line: str | None  # id of the line laid; None: none
    name: str
    source: str
    outlet: str  # where its water leaves
    mode: OwnMode
    inverts: OwnInverts
    meets: str | None = None  # id of the source whose line, laid by the planner, it joins
    off: float | None = None  # how far that line passes from its end, where it is not laid for that [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannersOwn:
    """What the planner would lay for the same sources alone. `outlets` are ids; None.

    A daylight point that it found.
    """

    cost: float
    length: float  # [m]
    spare: float  # least fall to spare [m]
    outlets: tuple[str | None, ...]
    lines: int


ChangeKind = Literal["inverts", "way", "size", "planner"]

CHANGES: tuple[ChangeKind, ...] = get_args(ChangeKind)


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnChange:
    """What is changed of a drawn line: its inverts, its way, its size; or the planner's lines lie in its place."""

    kind: ChangeKind
    line: str
    amount: float | None  # farthest that an invert or the way moves [m]; None: no such figure


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnMended:
    """A line as it would then lie."""

    line: str
    pipe: str  # kind
    nominal: str
    vertices: tuple[tuple[float, float, float], ...]  # x, y, invert [m], outlet first


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnMend:
    """Changes of drawn lines, laid together and judged as those lines would then lie."""

    changes: tuple[OwnChange, ...]
    lines: tuple[OwnMended, ...]
    cost: float  # relative, of all of them
    left: tuple[str, ...]  # ids of the rules that still fail, or fail for it; empty: it mends


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLines:
    """Drawn lines that end at one outlet together: trunk first."""

    drawn: tuple[OwnDrawn, ...]
    cost: float | None  # of all of them; None: not laid
    length: float | None  # [m]
    planner: PlannersOwn | None = None  # None: the planner finds no line for these sources alone
    fails: tuple[str, ...] = ()  # ids of the rules that they break
    mends: tuple[OwnMend, ...] = ()  # least change first
