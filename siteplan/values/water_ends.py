"""Where water comes in and where it may leave."""

from __future__ import annotations

from dataclasses import dataclass


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
    """What sources bring at the design rain, by id [m3/s].

    A source that does not stand here brings what is not known.
    """

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
