"""A laid line, station by station from its outlet."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from typing import Literal, get_args

from siteplan.values.forecasts import BellyForecast, BellyUnknown, LineDoubt, SoftGround
from siteplan.values.laid_pipe import Bedding, CurbPiece, Fitting, FittingKind, Pipe, PipeChoice, SleevePipe
from siteplan.values.water_ends import Pumped


@dataclass(frozen=True, slots=True, kw_only=True)
class Vertex:
    """A place where a line bends, changes grade, joins or ends; the line is straight between two of them."""

    x: float
    y: float
    station: float
    invert: float
    ground: float
    bend: float = 0.0  # turn in plan [degrees]
    fittings: tuple[Fitting, ...] = ()  # what stands there, in the order in which it is named

    def has(self, kind: FittingKind) -> bool:
        """Whether a fitting of a kind stands here."""
        return any(one.kind is kind for one in self.fittings)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the trench schedule. `grade` is that of the run downstream of it (towards the outlet)."""

    station: float
    x: float
    y: float
    ground: float
    invert: float
    cut: float  # ground minus trench bottom
    cover: float  # ground minus outside top of the pipe that lies there
    grade: float
    note: str = ""
    ground_doubt: float | None = None  # one standard deviation of the ground there [m]
    pipe_top: float | None = None  # outside top above the invert, of the pipe that lies there; None: of the line's own


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """A stretch of line under a driveway, walk, paving, or across a utility or wall."""

    kind: str
    name: str
    station_from: float
    station_to: float
    angle: float  # between line and the edge crossed, 90 is square [degrees]
    cover_from: float
    cover_to: float
    cover_min: float
    sleeve: str | None = None
    depth: float | None = None  # of a utility's top below the ground [m]; None: not known
    service: str = ""  # what a utility carries, by the words of books.services; '' not stated
    hand_dig: float | None = None  # distance each side within which a utility is dug by hand [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """A stretch of line through a wet low spot."""

    id: str
    station_from: float
    station_to: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """A stretch of line with one pipe and one bedding."""

    station_from: float
    station_to: float
    place: str  # lawn | pavement | outlet zone | wet ground | house backfill
    pipe: Pipe
    why: str
    bedding: Bedding
    cover_min: float  # over this reach's own pipe [m]
    coupling: str = ""  # at its upper end, where the kind changes
    sleeve: SleevePipe | None = None
    vehicle: str = ""  # what drives over it; '' none
    choices: tuple[PipeChoice, ...] = ()


ShortOf = Literal["fall", "flow", "depth", "price", "crossing", "grades", "drawn"]

SHORT_OF: tuple[ShortOf, ...] = get_args(ShortOf)


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """How far a line stays on the good side of one limit at its tightest place, and what that costs.

    Metres; of `min-grade` a ratio. `short_of` says why less is held than is asked for: no more fall to the outlet, the
    fall needed for its flow, no more depth, a price over the share that is paid for it, another line in the way, no
    runs of few grades that hold it, inverts that a person gave; None: all of it is held.
    """

    rule: str
    held: float
    asked: float  # what the doubt of survey or setting-out asks for the certainty wanted
    cost: float  # relative, as the line's: what it would save without
    station: float | None  # of the tightest place
    short_of: ShortOf | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A buried line from `start` (a source id) down to `end` (an outlet id, or the line it joins)."""

    id: str
    sources: tuple[str, ...]  # ids of every source it carries, its own first
    start: str
    end: str
    pipe: Pipe
    vertices: tuple[Vertex, ...]  # by station, outlet first
    rows: tuple[Row, ...]
    crossings: tuple[Crossing, ...]
    low_spots: tuple[Passage, ...]
    spare: float  # fall to spare over the whole way to the outlet, at its tightest place [m]
    binding: str  # which place and limit set the inverts, one sentence
    cost: float  # relative, see docs/costs
    reaches: tuple[Reach, ...] = ()  # by station, outlet first; empty: `pipe` all the way
    curb_piece: CurbPiece | None = None  # through the curb at its outlet; None: its own pipe, or no curb
    soft: tuple[SoftGround, ...] = ()  # weaker ground under it
    held: tuple[str, str] = ("fixed", "fixed")  # at the outlet, at the upper end: fixed | guided | free
    belly: BellyForecast | None = None
    belly_unknown: BellyUnknown | None = None  # why there is no forecast; None: there is one, or none was asked for
    ground_notes: tuple[str, ...] = ()  # weight, flotation, machines, frost, in plain statements
    doubt: LineDoubt | None = None
    own: bool = False  # drawn by a person
    pumped: Pumped | None = None  # figures of a line under pressure; None: by gravity
    margins: tuple[Margin, ...] = ()

    @property
    def length(self) -> float:
        """Length in plan [m]."""
        return self.vertices[-1].station

    def at(self, station: float) -> tuple[float, float, float]:
        """East, north and invert at a station, straight between vertices; beyond an end, that end's [m]."""
        above = bisect_right([vertex.station for vertex in self.vertices], station)
        a = self.vertices[max(above - 1, 0)]
        if above in {0, len(self.vertices)} or a.station == station:
            return a.x, a.y, a.invert
        b = self.vertices[above]
        run, past = b.station - a.station, station - a.station
        return (
            (b.x - a.x) / run * past + a.x,
            (b.y - a.y) / run * past + a.y,
            (b.invert - a.invert) / run * past + a.invert,
        )

    def pipe_at(self, station: float) -> Pipe:
        """The pipe that lies at a station [m]; where two meet, the one upstream."""
        if not self.reaches:
            return self.pipe
        return next((reach.pipe for reach in self.reaches if station < reach.station_to - 1e-6), self.reaches[-1].pipe)
