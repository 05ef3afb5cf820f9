"""Pipes, sources and what each brings in; the level at every source, and what the pipes do not take, out.

One simplified picture of the water, quick enough to be asked thousands of times; `surface` draws the exact one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from siteplan.water.capacity import full_flow, full_friction_slope, normal_depth, pressure_velocity_head
from siteplan.water.section import Circle, critical_depth
from siteplan.water.sizes import upstream_first
from siteplan.water.surface import SurfaceRun, TailWater, water_outside
from siteplan.water.trouble import above_zero, at_least_zero, finite

_SWEEPS = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class PitPump:
    """A pit with a pump.

    Attributes
    ----------
    rate : float
        At its real head [m3/s].
    volume : float
        Water between the off and on levels [m3].
    reserve : float
        Pit above the on level before it floods [m3].
    inflow : float
        Ground water into the pit, steady [m3/s].
    start : float
        Water above the off level at the beginning [m3].
    """

    rate: float
    volume: float
    reserve: float
    inflow: float
    start: float = 0.0

    def __post_init__(self) -> None:
        above_zero("pump rate", self.rate, "give the pump's rate at its real head")
        above_zero("pit volume", self.volume, "give the water between the off and on levels")
        at_least_zero("pit reserve", self.reserve, "give the pit's volume above the on level")
        at_least_zero("inflow to the pit", self.inflow, "give m3/s")
        at_least_zero("water in the pit", self.start, "give m3 above the off level")
        if self.start > self.volume + self.reserve:
            raise ValueError(
                f"the pit begins with {self.start:g} m3 and holds {self.volume + self.reserve:g}: give less, "
                "or a larger pit"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class OverflowEntry:
    """A source where it meets the pipes.

    Attributes
    ----------
    source : str
        Id, unique.
    run : str
        The run whose upper end it feeds.
    rim : float
        Elevation at which water comes out there: downspout joint, grate, air gap [m].
    yield_area : float
        Runoff coefficient times plan area [m2].
    pump : PitPump or None
        A sump.
    """

    source: str
    run: str
    rim: float
    yield_area: float = 0.0
    pump: PitPump | None = None

    def __post_init__(self) -> None:
        finite(f"rim of {self.source}", self.rim, "give its elevation")
        at_least_zero(
            f"area of {self.source}", self.yield_area, "give the horizontal area times its runoff coefficient"
        )


def quick_levels(runs: Sequence[SurfaceRun], flows: Mapping[str, float], tail_water: TailWater) -> dict[str, float]:
    """Water level at the upper end of every run, without stepping along it: normal depth, or a full pipe's head line.

    A run that carries more than its full flow, or that is drowned from below, builds head at the full-pipe friction
    slope. Flow may be negative (backwards) where water comes up out of a low rim.

    Parameters
    ----------
    runs : sequence of Run
        The tree, any order.
    flows : mapping of str to float
        Flow of each run [m3/s].
    tail_water : float, None or mapping
        Elevation of the water outside every outlet, or by outlet run [m]; None: free.

    Returns
    -------
    dict of str to float
        Elevation by run id [m].

    Raises
    ------
    ValueError
        If the runs make no tree.

    References
    ----------
    Surcharge S (Q/Qfull)^2, start at the higher of normal or critical depth and the water outside; minor losses in
    velocity heads of the full pipe: FHWA HEC-22 hydraulic grade line procedure, simplified (memory).
    """
    order = upstream_first({run.id: run.into for run in runs}, len(runs))
    return _levels({run.id: run for run in runs}, order, flows, tail_water)


def _levels(
    by_id: Mapping[str, SurfaceRun], order: Sequence[str], flows: Mapping[str, float], tail_water: TailWater
) -> dict[str, float]:
    levels: dict[str, float] = {}
    for name in reversed(order):
        run = by_id[name]
        if run.into is None:
            outside = water_outside(tail_water, name)
            below = run.invert_down if outside is None else outside
        else:
            trunk = by_id[run.into]
            swifter = pressure_velocity_head(abs(flows[trunk.id]), trunk.bore)
            own = pressure_velocity_head(abs(flows[name]), run.bore)
            below = levels[trunk.id] + max(swifter - own, 0.0)  # a side line stands at the trunk's energy
        levels[name] = _upper_level(run, flows[name], below)
    return levels


def _upper_level(run: SurfaceRun, flow: float, below: float) -> float:
    if flow == 0.0:
        return max(below, run.invert_up)
    size = abs(flow)
    head = run.length * full_friction_slope(size, run.bore, run.roughness) + run.loss * pressure_velocity_head(
        size, run.bore
    )
    if flow < 0:
        return max(below - head, run.invert_up)
    if run.grade <= 0 or flow > full_flow(run.bore, run.grade, run.roughness):
        return max(max(below, run.invert_down + run.bore) + head, run.invert_up + (run.bore if run.grade <= 0 else 0.0))
    drowned = below + head
    if drowned >= run.invert_up + run.bore:
        return drowned  # no part-full depth stands higher
    even = normal_depth(flow, run.bore, run.grade, run.roughness)
    own = max(even if even is not None else run.bore, critical_depth(Circle(bore=run.bore), flow))
    return max(drowned, run.invert_up + own)


def shares_taken(
    runs: Sequence[SurfaceRun], entries: Sequence[OverflowEntry], demand: Mapping[str, float], tail_water: TailWater
) -> dict[str, float]:
    """What the pipes take of each source's water in steady flow; the rest comes out at its rim.

    Each source is taken whole while the water stays below its rim; else just so much that the water stands at the rim.
    A negative share is others' water coming out there.

    Parameters
    ----------
    runs : sequence of Run
        The tree.
    entries : sequence of Entry
        The sources.
    demand : mapping of str to float
        What each source brings, 0 or above [m3/s].
    tail_water : float, None or mapping
        Elevation of the water outside every outlet, or by outlet run [m]; None: free.

    Returns
    -------
    dict of str to float
        Flow taken by source [m3/s].

    Raises
    ------
    ValueError
        If the water outside stands at or above a rim, or the flows find no balance.

    References
    ----------
    Own method: a source's level rises with every flow, so the shares are found one at a time, over and over.
    """
    order = upstream_first({run.id: run.into for run in runs}, len(runs))
    by_id = {run.id: run for run in runs}
    for entry in entries:
        if entry.run not in by_id:
            raise ValueError(
                f"source {entry.source} feeds run {entry.run}, which is no run here: name the run it feeds"
            )
        if entry.rim < by_id[entry.run].invert_up:
            raise ValueError(
                f"rim of {entry.source} at {entry.rim:g} m lies below the invert it feeds: raise the rim or "
                "lower the line"
            )
        outside = water_outside(tail_water, _outlet_of(entry.run, by_id))
        if outside is not None and outside >= entry.rim:
            raise ValueError(
                f"the water outside at {outside:g} m stands at or above the rim of {entry.source} at "
                f"{entry.rim:g} m: the outlet floods the source; raise the rim or move the outlet"
            )
    taken = {
        entry.source: at_least_zero(f"flow of {entry.source}", demand[entry.source], "give m3/s") for entry in entries
    }
    scale = max(sum(taken.values()), 1e-9)

    def level_of(entry: OverflowEntry) -> float:
        return _levels(by_id, order, run_flows(by_id, order, entries, taken), tail_water)[entry.run]

    for _ in range(_SWEEPS):
        moved = 0.0
        for entry in entries:
            name, before = entry.source, taken[entry.source]
            taken[name] = demand[name]
            if level_of(entry) > entry.rim:
                taken[name] = _share_at_rim(entry, demand[name], scale, taken, level_of)
            moved = max(moved, abs(taken[name] - before))
        if moved <= 1e-9 * scale:
            return taken
    raise ValueError("the flows find no balance at the rims: check that rims stand above the pipes that feed them")


def _outlet_of(name: str, by_id: Mapping[str, SurfaceRun]) -> str:
    down = by_id[name].into
    return name if down is None else _outlet_of(down, by_id)


def _share_at_rim(
    entry: OverflowEntry, most: float, scale: float, taken: dict[str, float], level_of: Callable[[OverflowEntry], float]
) -> float:
    """Largest share that keeps the level at the rim; `taken` is left with the last one tried."""

    def over(share: float) -> float:
        taken[entry.source] = share
        return level_of(entry) - entry.rim

    low, high = most - scale, most
    width = scale
    while over(low) > 0:
        high = low
        width *= 2
        low -= width
    for _ in range(60):
        middle = (low + high) / 2
        if over(middle) > 0:
            high = middle
        else:
            low = middle
        if high - low <= 1e-12 * scale:
            break
    return low


def run_flows(
    by_id: Mapping[str, SurfaceRun], order: Sequence[str], entries: Sequence[OverflowEntry], taken: Mapping[str, float]
) -> dict[str, float]:
    """Flow of every run: what its own sources give and what falls into it.

    Parameters
    ----------
    by_id : mapping of str to Run
        The tree.
    order : sequence of str
        Run ids, each after its feeders.
    entries : sequence of Entry
        The sources.
    taken : mapping of str to float
        Flow taken by source [m3/s].

    Returns
    -------
    dict of str to float
        By run id [m3/s].
    """
    flows = dict.fromkeys(order, 0.0)
    for entry in entries:
        flows[entry.run] += taken[entry.source]
    for name in order:
        down = by_id[name].into
        if down is not None:
            flows[down] += flows[name]
    return flows
