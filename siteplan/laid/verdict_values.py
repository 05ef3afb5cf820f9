"""What the as-laid check finds, as values: lines, places, reasons, verdicts; and the limits that it judges by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from siteplan.laid.design import DesignLine, Item
from siteplan.laid.fit import LaidFit
from siteplan.laid.laid_shots import LaidShot
from siteplan.laid.water_in import Belly, LaidReach
from siteplan.survey.set_up import SetUp

Verdict = Literal["accept", "fix-paper", "re-dig", "cannot-tell"]
About = Literal["grade", "paper"]
Doubtful = Literal["pipe or not", "pipe or cap", "far off its neighbours", "bell not known", "two shots disagree"]

SAME_PLACE_WITHIN = 0.02  # m


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A shot that the check leaves out and asks about: where, how far off the design [m], and why."""

    line: str
    station: float
    row: int
    name: str
    off: float
    why: Doubtful


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LaidLine:
    """One line as laid.

    Attributes
    ----------
    fit : LaidFit or None
        None with fewer than three shots, two on a line of two sticks or less.
    xy : tuple of (float, float) or None
        Where each shot of the fit was taken [m]; None for shots by station.
    gaps : tuple of (float, float)
        Stretches between shots that are too long to speak for what lies between [m].
    smallest : float or None
        Least depth of standing water that the shots would show at a shot [m].
    aside : tuple of (float, float) or None
        Station and distance [m] of the shot that lies farthest beside the planned line.
    other : tuple of Shot
        Near the line, and not on its pipe.
    """

    design: DesignLine
    shots: tuple[LaidShot, ...]
    fit: LaidFit | None
    xy: tuple[tuple[float, float] | None, ...]
    bellies: tuple[Belly, ...]
    pieces: tuple[LaidReach, ...]
    pairs: tuple[LaidReach, ...]
    gaps: tuple[tuple[float, float], ...]
    cover_lost: tuple[float, float] | None  # station, by how much the rule is now broken [m]
    smallest: float | None
    aside: tuple[float, float] | None
    asked: tuple[Asked, ...]
    other: tuple[LaidShot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A stretch or a point of a line; `line` is empty for a place that is named."""

    line: str
    station_from: float | None
    station_to: float | None
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Relay:
    """A stretch to take up and lay again, from a lower to an upper end.

    Attributes
    ----------
    whys : tuple of str
        What is wrong there.
    low, high : float or None
        Heights of both ends [m]: as shot where the end stays, as designed where it is set anew; None where no two ends
        were found between which pipe can be laid.
    designed : float or None
        Mean grade of the design between them [-].
    anew : tuple of float
        Stations of ends that do not stay.
    """

    line: str
    station_from: float
    station_to: float
    whys: tuple[str, ...]
    low: float | None
    high: float | None
    designed: float | None
    anew: tuple[float, ...]

    @property
    def grade(self) -> float | None:
        """Mean grade that can be laid between the ends [-]."""
        if self.low is None or self.high is None:
            return None
        return (self.high - self.low) / (self.station_to - self.station_from)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """What asks for a verdict: `about` the grade of the pipe, or the paper that speaks of it."""

    asks_for: Verdict
    about: About
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OutletLevel:
    """An outlet against a fixed object beside it: invert less the object's height, planned and as laid [m]."""

    line: str
    against: str
    planned: float
    laid: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AsBuilt:
    """The check of what was laid.

    Attributes
    ----------
    grade, paper : str
        The verdict for each apart: whether the pipe falls as it should; whether the paper says what lies there.
    datum_shift : float or None
        As-laid minus plan on fixed objects [m]; 0 when they agree; None when none was shot.
    reasons : tuple of Reason
        Weightiest first.
    found : tuple of (Item, Shot)
        Fittings, cleanouts and ends, and the shot of each.
    relay : tuple of Relay
        What to take up and lay again, each proven to be possible.
    reshoot : tuple of Place
        What to shoot again.
    reopened : tuple of str
        Lines that stay so far off their design that it is reopened, whatever is relaid.
    notes : tuple of str
        What the check saw and no verdict hangs on.
    """

    verdict: Verdict
    grade: Verdict
    paper: Verdict
    reasons: tuple[Reason, ...]
    datum_shift: float | None
    fixed: tuple[tuple[Item, LaidShot, float], ...]
    turned: str
    lines: tuple[LaidLine, ...]
    missing: tuple[Item, ...]
    unjudged: tuple[Item, ...]
    moved: tuple[tuple[Item, float], ...]
    found: tuple[tuple[Item, LaidShot], ...]
    stray: tuple[LaidShot, ...]
    outlets: tuple[OutletLevel, ...]
    relay: tuple[Relay, ...]
    reshoot: tuple[Place, ...]
    set_up: SetUp
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]
    crossed: tuple[str, ...] = ()
    reopened: tuple[str, ...] = ()
    laid_pipe: str = ""  # what was laid, where it is told to be another pipe than the plan's
