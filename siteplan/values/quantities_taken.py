"""What a plan takes to build."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, get_args

QuantityOf = Literal[
    "pipe",
    "sticks",
    "sleeve",
    "bend",
    "turned_pair",
    "wye",
    "grade_break",
    "cleanout",
    "tie_in",
    "coupling",
    "check_valve",
    "reducer",
    "curb_opening",
    "excavation",
    "bedding",
    "stone",
    "backfill",
    "spoil",
    "pavement",
    "concrete",
    "lawn",
]

QUANTITIES: tuple[QuantityOf, ...] = get_args(QuantityOf)  # in the order of the work

QuantityUnit = Literal["m", "m2", "m3", "piece"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenSort:
    """Which of its sort is taken.

    A kind of pipe and its size, a fitting's size and angle, what a coupling leads to, a pavement.
    """

    pipe: str = ""  # kind of the book, such as 'pvc_sdr35'
    nominal: str = ""
    angle: float | None = None  # of a bend [degrees]
    onto: tuple[str, str] | None = None  # kind and size of the pipe above a coupling
    word: str = ""  # a pavement's kind, or what stands at a curb

    @property
    def kind(self) -> str:
        """As a table of prices calls it: 'pvc_sdr35 4 in', '4 in 45 degrees', 'driveway'; '' of one sort."""
        turned = "" if self.angle is None else f"{self.angle:g} degrees"
        own = " ".join(part for part in (self.pipe, self.nominal, turned, self.word) if part)
        return own if self.onto is None else f"{own} to {' '.join(self.onto)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """How much of something a plan takes, all its lines together. Volumes are of undisturbed ground."""

    what: QuantityOf
    kind: str  # in words; `sort` has its parts
    amount: float
    unit: QuantityUnit
    price: float | None = None  # of one unit, in the money of the price file; None: nobody gave one
    basis: str = ""  # where the price is from: 'placeholder', or the file and its date
    sort: TakenSort = field(default=TakenSort())
