"""The pipe that lies there, and what joins and shields it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipe:
    """A generic pipe by public standard."""

    kind: str  # pvc_sdr35, pvc_sch40, ...
    title: str
    nominal: str  # "4 in"
    od: float
    bore: float
    wall: float
    roughness: float  # Manning n
    source: str

    @property
    def rise(self) -> float:
        """Height of the outside top above the invert [m]."""
        return (self.od + self.bore) / 2

    @property
    def below(self) -> float:
        """Depth of the outside bottom below the invert [m]."""
        return (self.od - self.bore) / 2


class FittingKind(StrEnum):
    """What a fitting is, whatever it is called on a sheet."""

    BEND = "bend"
    TURNED_PAIR = "turned_pair"  # two 22.5s turned against one another
    WYE = "wye"
    GRADE_BREAK = "grade_break"
    CLEANOUT = "cleanout"
    TIE_IN = "tie_in"  # cut into a pipe that lies there already


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """One fitting; `angle` is what it turns.

    Of a wye what a branch turns there where that is not its own 45 [degrees].
    """

    kind: FittingKind
    angle: float | None = None


class Bedding(StrEnum):
    """What is put under and beside the pipe of a reach.

    The sheets put it in words, the wheel check reads its side fill.
    """

    FIRM = "firm"  # dug clean to grade
    TAMPED_SIDES = "tamped_sides"  # side fill and cover tamped in layers
    STONE_SIDES = "stone_sides"  # stone compacted beside the pipe
    TAMPED_UNDER = "tamped_under"  # what is loose under the pipe tamped
    STONE_BED = "stone_bed"  # over-dug, refilled with tamped stone
    STONE_BED_AND_SIDES = "stone_bed_and_sides"  # the same under pavement, with stone compacted beside the pipe

    @property
    def over_dug(self) -> bool:
        """Whether the trench goes deeper than the bed, refilled with stone."""
        return self in {Bedding.STONE_BED, Bedding.STONE_BED_AND_SIDES}

    @property
    def side_fill(self) -> str:
        """What stands beside the pipe: a row of the book of soils, group embedment."""
        return "stone" if self in {Bedding.STONE_SIDES, Bedding.STONE_BED_AND_SIDES} else "hand_tamped"


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeChoice:
    """One kind of pipe weighed for a reach. `cost` is relative to the line's own pipe."""

    kind: str
    nominal: str
    title: str
    passes: bool
    cost: float
    why: str  # what it fails by, or what it is good for


@dataclass(frozen=True, slots=True, kw_only=True)
class SleevePipe:
    """A larger pipe round the line where wheels cross."""

    pipe: Pipe
    station_from: float
    station_to: float
    above: float  # its top over the carrier's top [m]
    play: float  # its bore less the carrier's bell or coupling [m]

    @property
    def length(self) -> float:
        """Length to cut [m]."""
        return self.station_to - self.station_from


CurbFitting = Literal["flat-bottom reducer", "box"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CurbPiece:
    """What goes through a curb where it is not the line's own pipe once.

    Smaller pipe behind a reducer, or several from a box.
    """

    pipe: Pipe
    number: int  # of pipes, side by side
    station_to: float  # of the fitting; the pipe lies from the curb to it, several from a box at the curb itself
    fitting: CurbFitting
