"""What the checks found, and what a plan lacks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

Status = Literal["pass", "flag", "fail"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OnLine:
    """A stretch of a line, or one place on it: what a finding is about, for what draws it."""

    line: str  # id
    station_from: float
    station_to: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What a check found. `value` and `limit` in SI (percent for grades) as plan.json carries them."""

    rule: str
    subject: str  # begins with the id of the line or source
    value: float | None
    limit: float | None
    unit: str  # m | percent | deg | ""
    doubt: float | None
    status: Status
    where: str
    message: str
    place: OnLine | None = None  # the same as a value; None: at no stretch of a line


PartName = Literal[
    "inflows",
    "surface-water",
    "low-spots",
    "inlet-flows",
    "sizes",
    "found-outlets",
    "finer-net",
    "candidates",
    "sharing",
    "parting",
    "improving",
    "margins",
    "pipes",
    "stakes",
    "doubt",
    "chances",
    "attempts",
    "mends",
    "own-joined",
    "water",
    "blocked-outlets",
    "outlet-paths",
    "storm",
    "notes",
    "check",
    "profiles",
    "map",
    "printed",
    "quantities",
    "pumped",
    "layouts",
]

PARTS: tuple[PartName, ...] = get_args(PartName)


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingPart:
    """A part that a plan goes without, by a fault of the program and not of its input."""

    part: PartName
    subject: str  # id of the line, source or rule it is about; '' the whole plan
    fault: str  # kind of the fault


@dataclass(frozen=True, slots=True, kw_only=True)
class BarredSize:
    """A line that is too small for its flow, and what keeps the size that it asks for from being laid.

    With it a source has no line.
    """

    line: str
    asked: str  # nominal size
    laid: str
    source: str  # left without a line where the yard is laid in the size asked for
    outlet: (
        str | None
    )  # named, where it comes nearest to falling then; None: nowhere, or at a point that only that layout found
    short_by: float | None  # m of fall there; None: something else bars it
    reason: str | None  # what bars it there, and where
