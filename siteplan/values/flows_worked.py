"""Water in laid lines: full flow, weakest links, storms and ways over ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Held = Literal["manning", "prandtl-colebrook", "table"]


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

    `overflow` is water that came out at its rim, others' water included. `flooded` is water that the pit could not
    hold.
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
