"""Frozen values that more than one room handles. SI throughout; coordinates are east, north in the plan's frame.

Every length is in metres, grade is a ratio, flow in cubic metres a second, angles in degrees.
Stations run from a line's outlet (0) upstream.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal, get_args

Status = Literal["pass", "flag", "fail"]
Held = Literal["manning", "prandtl-colebrook", "table"]
Ring = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class InputFile:
    """A file that was read: its name inside the site folder and the digest of its bytes."""

    file: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """What a plan was asked beside its site's own words. All empty: the site as surveyed.

    `settings` are pairs of a key of site.toml and the text laid over it; a key without a section's name is a rule's.
    """

    without: tuple[str, ...] = ()  # outlets left out of play
    only: tuple[str, ...] = ()  # outlets in play, and no found ones
    settings: tuple[tuple[str, str], ...] = ()

    def __bool__(self) -> bool:
        return bool(self.without or self.only or self.settings)

    def plays(self, outlet: str) -> bool:
        """Whether an outlet of this name is in play."""
        return outlet not in self.without and (not self.only or outlet in self.only)


NOTHING_ASKED = WhatIf()


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where water enters: a downspout, a sump, an area inlet."""

    id: str
    kind: str
    name: str
    x: float
    y: float
    ground: float
    ground_known: bool = True  # False: stands on unknown ground, took the nearest known height
    invert_limit: float | None = None  # highest invert at which a line may start, when the site gives one
    roof_area: float | None = None
    pump_rate: float | None = None
    note: str = ""
    pit: tuple[float, float, float] | None = (
        None  # of a sump that is lifted to where its line starts: east, north, ground of its pit
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pump:
    """A sump's pump and where it lifts to, as the survey gives them. The pit stands at `x`, `y`."""

    source: str  # id
    name: str  # of the sump
    x: float
    y: float
    ground: float
    discharge: str  # name of the discharge point, or of the outlet that its line leads to all the way
    to_outlet: bool
    curve: tuple[
        tuple[float, float], ...
    ]  # flow and head, flows rising; one: its rated point; empty: no pump is stated
    off_level: float  # elevation at which the pump stops
    off_level_given: bool
    check_valve: bool
    invert: float | None = None  # highest invert at which its line may leave the wall
    bore: float | None = None  # inside diameter asked for its line; None: chosen here
    storage: float | None = None  # water of the pit between off and on [m3]
    inflow: float | None = None  # that fills it [m3/s]
    wanted: float | None = None  # rate asked for [m3/s]
    chosen: bool = False  # the survey names no discharge: the planner chose it
    box: bool = False  # and placed the box itself


@dataclass(frozen=True, slots=True, kw_only=True)
class Lift:
    """Where the planner lifts a sump to that gravity serves nowhere: to an outlet or a discharge point by name, or to a box that it places."""

    to: str
    box: tuple[float, float] | None = (
        None  # where it places the box, in the plan's frame [m]; None: the survey has the place
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pumped:
    """The figures of a line under pressure. Heads are metres of water."""

    static: float  # from where the pump stops to the highest place of the line
    friction: float
    fittings: float
    flow: float  # that results; 0: the pump does not lift so high; of a line without a stated pump, the flow asked for
    velocity: float
    smoothness: float  # Hazen and Williams' C
    losses: float  # of all fittings, in velocity heads
    length: float  # of pipe, the riser in the pit among it
    off_level: float
    curve: tuple[tuple[float, float], ...]  # as the survey gives it; one: a rated point; empty: no pump is stated
    check_valve: bool
    fallen: float  # water that runs back into the pit at each stop [m3]
    standing: float  # length that stands full between runs
    gap: float | None  # from the end of the line down to what it pours into; None: into the open
    cycle: float | None  # shortest time from start to start [s]; None: the pit is not known
    cycle_usual: float | None  # at the inflow that the pit's refilling tells [s]
    wanted_flow: float  # a pump that would serve gives so much
    wanted_head: float  # at so much head
    chosen: bool = False  # where it is lifted to is the planner's choice: gravity serves the sump nowhere
    lift_to: str | None = None  # the name of what it chose
    box: bool = False  # which is a box that it placed

    @property
    def head(self) -> float:
        """What the line asks for at its flow [m]."""
        return self.static + self.friction + self.fittings


@dataclass(frozen=True, slots=True, kw_only=True)
class Inflows:
    """What sources bring at the design rain, by id [m3/s]. A source that does not stand here brings what is not known."""

    flows: tuple[tuple[str, float], ...] = ()

    def of(self, source: str) -> float | None:
        """What the source of an id brings; None: not known."""
        return next((flow for name, flow in self.flows if name == source), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlet:
    """Where water may leave. `control` is the lowest invert a line may end at there."""

    id: str
    kind: str  # of books.kinds.OUTLETS
    name: str
    x: float
    y: float
    ground: float
    control: float
    basis: str  # how control was found, one sentence for the plan
    invert: float | None = None  # as the site gives it
    found: bool = False  # True: a daylight point the tool found by itself
    note: str = ""
    size: float | None = None  # inside of the old pipe that a tie-in comes into [m]; None: not known, or no tie-in
    takes: float | None = None  # what that pipe can still take [m3/s]; None: not known, or no tie-in


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
    """One fitting; `angle` is what it turns, of a wye what a branch turns there where that is not its own 45 [degrees]."""

    kind: FittingKind
    angle: float | None = None


class Bedding(StrEnum):
    """What is put under and beside the pipe of a reach; the sheets put it in words, the wheel check reads its side fill."""

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


CurbFitting = Literal["flat-bottom reducer", "box"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CurbPiece:
    """What goes through a curb where it is not the line's own pipe once: smaller pipe behind a reducer, or several from a box."""

    pipe: Pipe
    number: int  # of pipes, side by side
    station_to: float  # of the fitting; the pipe lies from the curb to it, several from a box at the curb itself
    fitting: CurbFitting


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
    """A further shot that would make a line's fall surer. The figures hold when it and those before it bear the survey out."""

    x: float
    y: float
    place: str
    chance_min_grade: float
    fall: float  # doubt of the fall to spare then [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineDoubt:
    """How sure a line's fall is, on its whole way to the outlet; docs/doubt.md. Doubts are one standard deviation [m]."""

    fall: float  # doubt of the fall to spare
    ends: float  # doubt of the fall between the outlet and the start's ground alone
    grade: float  # and of the grade between them [-]
    chance_min_grade: float  # that the ground leaves room for the least grade everywhere
    chance_falls: float  # that it leaves room for a line that falls at all everywhere
    method: str  # closed form | simulation
    shots_wanted: tuple[WantedShot, ...]


ShortOf = Literal["fall", "flow", "depth", "price", "crossing", "grades", "drawn"]
SHORT_OF: tuple[ShortOf, ...] = get_args(ShortOf)


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """How far a line stays on the good side of one limit at its tightest place, and what that costs.

    Metres; of `min-grade` a ratio. `short_of` says why less is held than is asked for: no more fall to the outlet, the fall
    needed for its flow, no more depth, a price over the share that is paid for it, another line in the way, no runs of few grades that hold it, inverts that a
    person gave; None: all of it is held.
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


QuantityOf = Literal[
    "pipe", "sticks", "sleeve", "bend", "turned_pair", "wye", "grade_break", "cleanout", "tie_in", "coupling", "check_valve", "reducer", "curb_opening",
    "excavation", "bedding", "stone", "backfill", "spoil", "pavement", "concrete", "lawn",
]  # fmt: skip
QUANTITIES: tuple[QuantityOf, ...] = get_args(QuantityOf)  # in the order of the work
QuantityUnit = Literal["m", "m2", "m3", "piece"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenSort:
    """Which of its sort is taken: a kind of pipe and its size, a fitting's size and angle, what a coupling leads to, a pavement."""

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


CureKind = Literal["outlet-zone", "min-cover", "outlet-invert", "pop-up", "fill", "max-depth", "lift"]
CURES: tuple[CureKind, ...] = get_args(CureKind)  # in the order practice tries them
CURE_FIGURES = ("spare", "length", "cut", "x", "y", "invert", "volume", "width", "station_from", "station_to")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cure:
    """One change with which a source that no line serves was laid out again and then had a line; 'lift' needs none."""

    kind: CureKind
    amount: float  # the new zone, cover, invert or depth; how far a pop-up's rim lies under the source; highest fill; lift [m]
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
    """One outlet that a source without a line was tried on, and what would serve it there, in the order practice tries."""

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


OwnMode = Literal["fixed", "guide"]
OwnInverts = Literal["given", "grade", "settled", "straight", "planner", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnDrawn:
    """One line as a person drew it. `inverts` tells where its inverts come from.

    'given': one for each corner; 'grade': one grade up from its end; 'settled': the highest that keep every limit, none were given;
    'straight': none keep every limit, so it is drawn from its lowest end to its highest start; 'planner': a guide, followed;
    'none': a guide that no line can follow.
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
    """What the planner would lay for the same sources alone. `outlets` are ids; None: a daylight point that it found."""

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


@dataclass(frozen=True, slots=True, kw_only=True)
class RunFlow:
    """A stretch of line with one grade, one pipe and one flow, and how it carries it. None: not known."""

    station_from: float
    station_to: float
    grade: float
    bore: float
    roughness: float  # Manning n taken
    flow: float | None
    full: float | None  # flowing full by Manning; None without fall
    design: float | None  # what the basis in force allows
    share: float | None  # flow over `design`
    depth: float | None  # of even flow; None too when it does not pass part-full
    velocity: float | None
    velocity_full: float | None
    smallest: str | None  # smallest size on offer that takes the flow and never shrinks downstream
    printed: float | None = None  # slope of the printed row that `design` is read from; None: a formula
    capacity_from: Held = "manning"  # what gave `design`


@dataclass(frozen=True, slots=True, kw_only=True)
class WeakLink:
    """One place that a line's water must pass: what it passes, or the level at which it makes the water stand."""

    kind: str
    name: str
    flow: float | None  # that must pass it
    capacity: float | None
    tail_water: float | None
    statement: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LineWater:
    """The water of one line. `levels` are (station, elevation) of its surface at the design flow, outlet first."""

    line: str
    flow: float | None  # at its lower end
    runs: tuple[RunFlow, ...]  # outlet first
    links: tuple[WeakLink, ...]  # tightest first
    weakest: WeakLink | None
    levels: tuple[tuple[float, float], ...]
    full_length: float  # that runs full at the design flow
    jump: float | None  # station of a hydraulic jump
    rim: float  # elevation at which water comes out at its start
    rim_spare: float | None  # rim less the water level there at the design flow
    standing: float  # length that stands in water between rains


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockedOutlet:
    """Where a line's water stands when its outlet is blocked or frozen, and where it comes out first."""

    line: str
    outlet: str
    level: float | None  # None: no rim is known
    source: str | None  # id of the source where it comes out first
    next_rim: float | None
    standing: float
    volume: float
    filled_in: float | None  # seconds at the design flow
    statement: str
    path: tuple[tuple[float, float], ...] = ()  # where it runs from there
    meets: tuple[Met, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Met:
    """Something that surface water meets on its way: after how many metres, and where."""

    kind: (
        str  # foundation | own lot line | neighbour | walk | driveway | paving | curb | easement | own sump | low spot
    )
    name: str
    distance: float
    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OutletPath:
    """Where the water goes after it leaves an outlet, down the surveyed ground through filled hollows."""

    outlet: str
    flow: float | None
    path: tuple[tuple[float, float], ...]
    meets: tuple[Met, ...]  # in the order met
    statement: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceStorm:
    """One source through the storm test: volumes [m3], peaks [m3/s] and [m], times of overflow [s].

    `overflow` is water that came out at its rim, others' water included. `flooded` is water that the pit could not hold.
    """

    source: str
    inflow: float
    overflow: float
    flooded: float
    peak_inflow: float
    peak_overflow: float
    peak_level: float
    rim: float
    overflow_from: float | None
    overflow_time: float
    starts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StormTest:
    """A storm through the whole network. `steps` are (start, end, rain, outflow, overflow) in which nothing changes."""

    source: str  # which storm, in one sentence
    duration: float
    depth: float  # of rain
    sources: tuple[SourceStorm, ...]
    peaks: tuple[tuple[str, float, float], ...]  # line, its greatest flow at its lower end, when
    steps: tuple[tuple[float, float, float, float, float], ...]
    inflow: float
    outflow: float
    overflow: float
    flooded: float
    stored: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """All that a plan says of water. `inflows` are (source, minutes or None, flow or None, sentence)."""

    basis: str  # what capacities are held to
    rain: str  # the rain and its source
    inflows: tuple[tuple[str, float | None, float | None, str], ...]
    lines: tuple[LineWater, ...]
    blocked: tuple[BlockedOutlet, ...]
    paths: tuple[OutletPath, ...]
    storm: StormTest | None
    notes: tuple[str, ...]  # what was assumed, and what could not be told
    code: str = "manning"  # the basis asked for, as the site names it
    kb: float | None = None  # roughness in use [m] for prandtl-colebrook


LayoutAim = Literal["cost", "outlet", "pavement", "apart", "fall", "depth"]
LAYOUT_AIMS: tuple[LayoutAim, ...] = get_args(LayoutAim)
# drawn like another layout; a source has no line in it; a line that a person drew is not followed; a fault of ours
LeftOut = Literal["same", "unserved", "drawn", "fault"]
LEFT_OUT: tuple[LeftOut, ...] = get_args(LeftOut)
USUAL_LAYOUTS = 3
MOST_LAYOUTS = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoicesAsked:
    """Which layout a plan was asked to take, and how many to look for."""

    choose: int | None = None  # number in the table; None: the cheapest of those with the fewest fails
    count: int = USUAL_LAYOUTS
    front: bool = False  # every step of grade that serves all is laid, and cost drawn against fall to spare


USUAL_CHOICES = ChoicesAsked()


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
    """One way to lay the whole yard, laid out and judged like the plan itself. Least spare and chance are of its worst line."""

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


PartName = Literal[
    "inflows", "surface-water", "low-spots", "inlet-flows", "sizes", "found-outlets", "finer-net", "candidates", "sharing", "parting", "improving", "margins", "pipes", "stakes",
    "doubt", "chances", "attempts", "mends", "own-joined", "water", "blocked-outlets", "outlet-paths", "storm", "notes", "check", "profiles", "map", "printed", "quantities", "pumped", "layouts",
]  # fmt: skip
PARTS: tuple[PartName, ...] = get_args(PartName)


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingPart:
    """A part that a plan goes without, by a fault of the program and not of its input."""

    part: PartName
    subject: str  # id of the line, source or rule it is about; '' the whole plan
    fault: str  # kind of the fault


@dataclass(frozen=True, slots=True, kw_only=True)
class BarredSize:
    """A line that is too small for its flow, and what keeps the size that it asks for from being laid: with it a source has no line."""

    line: str
    asked: str  # nominal size
    laid: str
    source: str  # left without a line where the yard is laid in the size asked for
    outlet: (
        str | None
    )  # named, where it comes nearest to falling then; None: nowhere, or at a point that only that layout found
    short_by: float | None  # m of fall there; None: something else bars it
    reason: str | None  # what bars it there, and where


Shape = Literal["Point", "LineString", "Polygon"]
SHAPES: tuple[Shape, ...] = get_args(Shape)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFeature:
    """A feature of the site as a plan carries it, so that a sheet can be drawn from the plan alone."""

    kind: str
    name: str
    shape: Shape
    rings: tuple[Ring, ...]  # of a polygon the outer one and its holes; else one run of places [m]
    told: tuple[tuple[str, float | str | bool], ...] = ()  # its attributes by name, in SI


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Everything a sheet prints and a person may rely on."""

    site_name: str
    crs: str  # 'local', or an authority code or WKT that pyproj reads; metres
    length_unit: str  # the user's: ft | us-ft | m
    elevation_unit: str
    accuracy: float  # one standard deviation of a ground elevation
    stamp: str | None  # date given by argument
    inputs: tuple[InputFile, ...]
    sources: tuple[Source, ...]
    outlets: tuple[Outlet, ...]
    lines: tuple[Line, ...]
    low_spots: tuple[LowSpot, ...]
    candidates: tuple[Candidate, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
    reach_note: tuple[str, ...] = field(default=())  # plain statements of where a line could go
    water: Water | None = None
    survey_crs: str = ""  # the survey's own system: 'local', an authority code or WKT; '' the plan's
    survey_unit: str = ""  # of its coordinates: ft | us-ft | m | degree, or another by its name; '' the plan's
    attempts: tuple[Attempt, ...] = ()  # of sources that no line serves
    missing: tuple[MissingPart, ...] = ()  # what is not known by a fault of the program
    barred_sizes: tuple[BarredSize, ...] = ()
    what_if: WhatIf = field(default=NOTHING_ASKED)
    quantities: tuple[Quantity, ...] = ()
    inflows: Inflows = field(default=Inflows())
    search: tuple[SearchResult, ...] = ()
    sharing: tuple[Sharing, ...] = ()
    own: tuple[OwnLines, ...] = ()  # drawn by a person
    pressed: tuple[Line, ...] = ()  # lines under pressure, which no rule of falling water judges
    features: tuple[PlanFeature, ...] = ()  # of the site, as drawn on every sheet
    choices_asked: ChoicesAsked = field(default=USUAL_CHOICES)
    layouts: tuple[Layout, ...] = ()  # by number; empty where nothing is laid
    layouts_left: tuple[LayoutLeft, ...] = ()

    @property
    def pumped_rates(self) -> dict[str, float]:
        """What comes through lines under pressure, by id of the sump [m3/s]; none for a pump that does not lift so high."""
        return {one.start: one.pumped.flow for one in self.pressed if one.pumped is not None and one.pumped.flow > 0}

    @property
    def lifts_chosen(self) -> dict[str, Lift]:
        """Sumps that the planner itself chose to lift, by name, and where to."""
        sources = {one.id: one for one in self.sources}
        return {
            sources[one.start].name: Lift(
                to=told.lift_to, box=(sources[one.start].x, sources[one.start].y) if told.box else None
            )
            for one in self.pressed
            if (told := one.pumped) is not None and told.chosen and told.lift_to and one.start in sources
        }

    @property
    def every_line(self) -> tuple[Line, ...]:
        """Lines by gravity, then those under pressure."""
        return (*self.lines, *self.pressed)
