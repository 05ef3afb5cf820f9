"""Runs of a tree of pipes, their flows and the water at the outlet in; the water surface along every run, out.

Standard step on the energy equation. Slow flow is followed up from the outlet, rapid flow down from the top, and where
both are possible the one with the larger specific force stands: between them lies a hydraulic jump.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from siteplan.water.capacity import full_flow, normal_depth
from siteplan.water.section import (
    GRAVITY,
    Circle,
    critical_depth,
    first_moment,
    flow_area,
    friction_slope,
    velocity_head,
)
from siteplan.water.sizes import upstream_first
from siteplan.water.steps import rapid_depth, slow_depth, step_up
from siteplan.water.trouble import above_zero, at_least_zero, finite

_STEP = 0.25  # longest step along a run [m]
Regime = Literal["dry", "still", "slow", "rapid", "full"]
# one level outside every outlet, or by the id of the outlet's run
TailWater = float | None | Mapping[str, float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceRun:
    """Straight pipe of one grade and bore.

    Attributes
    ----------
    id : str
        Unique.
    into : str or None
        The run it falls into at that run's upper end; None: an outlet.
    length : float
        Along the pipe [m].
    invert_up, invert_down : float
        Elevations of its ends [m].
    bore : float
        True inside diameter [m].
    roughness : float
        Manning n [s/m^(1/3)].
    loss : float
        Minor losses of its lower end (bend, wye) in velocity heads of its own flow [-].
    """

    id: str
    into: str | None
    length: float
    invert_up: float
    invert_down: float
    bore: float
    roughness: float
    loss: float = 0.0

    def __post_init__(self) -> None:
        above_zero(f"length of run {self.id}", self.length, "give metres along the pipe")
        above_zero(f"bore of run {self.id}", self.bore, "give the inside diameter in metres")
        above_zero(
            f"roughness of run {self.id}", self.roughness, "give Manning n, for example 0.011 for smooth plastic"
        )
        at_least_zero(f"minor loss of run {self.id}", self.loss, "give velocity heads")
        finite(f"upper invert of run {self.id}", self.invert_up, "give its elevation")
        finite(f"lower invert of run {self.id}", self.invert_down, "give its elevation")

    @property
    def grade(self) -> float:
        """Fall over length [-]."""
        return (self.invert_up - self.invert_down) / self.length


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterPoint:
    """The water at one place of a run.

    Station from the outlet [m], elevations [m], depth [m] (above the bore: pressure), velocity [m/s].
    """

    station: float
    invert: float
    crown: float
    level: float
    energy: float
    depth: float
    velocity: float
    regime: Regime


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSurface:
    """Water surface of one run, outlet end first.

    Attributes
    ----------
    run : str
        Id of the run.
    flow : float
        Its flow [m3/s].
    points : tuple of WaterPoint
        From its lower end upstream.
    jump : float or None
        Station of a hydraulic jump [m].
    full_length : float
        Length that runs full [m].
    """

    run: str
    flow: float
    points: tuple[WaterPoint, ...]
    jump: float | None
    full_length: float


def hydraulic_grade_line(
    runs: Sequence[SurfaceRun], flows: Mapping[str, float], tail_water: TailWater, *, step: float = _STEP
) -> dict[str, RunSurface]:
    """The water surface along every run of a tree, steady flow.

    At an outlet the water starts at the highest of the water outside, the normal depth and the critical depth; at the
    crown when the flow does not pass part-full, at the critical depth when the run has no fall. A drowned outlet loses
    its whole velocity head (exit coefficient 1.0).

    Parameters
    ----------
    runs : sequence of Run
        The tree; an upper end is a lower run's upper end, where its feeders come in.
    flows : mapping of str to float
        Flow of each run, 0 or above [m3/s].
    tail_water : float, None or mapping
        Elevation of the water outside every outlet, or by outlet run [m]; None: free.
    step : float
        Longest step, above 0 [m].

    Returns
    -------
    dict of str to RunSurface
        By run id, in the order given.

    Raises
    ------
    ValueError
        If a flow is missing or below 0, or the runs make no tree.

    References
    ----------
    Standard step method and the specific force at a jump: Chow, Open-Channel Hydraulics (1959), ch. 3, 10 and 15
    (memory). Start at the outlet: FHWA HEC-22 hydraulic grade line procedure (memory). Coefficients as `bend_loss`,
    `wye_loss`.
    """
    above_zero("step", step, "give metres")
    order = upstream_first({run.id: run.into for run in runs}, len(runs))
    by_id = {run.id: run for run in runs}
    for run in runs:
        if run.id not in flows:
            raise ValueError(f"run {run.id} has no flow: give one for each run, 0 when dry")
        at_least_zero(f"flow of run {run.id}", flows[run.id], "give m3/s")
    slow: dict[str, list[float]] = {}
    for name in reversed(order):
        run = by_id[name]
        start = (
            _outlet_depth(run, flows[name], water_outside(tail_water, run.id))
            if run.into is None
            else _node_depth(run, by_id[run.into], slow[run.into][-1], flows)
        )
        slow[name] = _slow_depths(run, flows[name], start, step)
    fast: dict[str, list[float | None]] = {}
    for name in order:
        feeders = [other for other in runs if other.into == name]
        fast[name] = _rapid_depths(by_id[name], flows, feeders, fast, len(slow[name]) - 1)
    stations: dict[str, float] = {}
    for name in reversed(order):
        down = by_id[name].into
        stations[name] = 0.0 if down is None else stations[down] + by_id[down].length
    return {run.id: _put_together(run, flows[run.id], slow[run.id], fast[run.id], stations[run.id]) for run in runs}


def water_outside(tail_water: TailWater, outlet: str) -> float | None:
    """Water outside one outlet.

    Parameters
    ----------
    tail_water : float, None or mapping
        One elevation for all, or by outlet run [m].
    outlet : str
        Id of the outlet's run.

    Returns
    -------
    float or None
        Elevation [m]; None: free, as is an outlet that a mapping does not name.

    Raises
    ------
    ValueError
        If the elevation is no number.
    """
    level = tail_water.get(outlet) if isinstance(tail_water, Mapping) else tail_water
    return None if level is None else finite("tail-water", level, "give its elevation, or None for a free outlet")


def _even_depth(run: SurfaceRun, flow: float) -> float | None:
    return normal_depth(flow, run.bore, run.grade, run.roughness) if run.grade > 0 else None


def _outlet_depth(run: SurfaceRun, flow: float, tail_water: float | None) -> float:
    own = 0.0
    if flow > 0.0:
        own = critical_depth(Circle(bore=run.bore), flow)
        even = _even_depth(run, flow)
        if run.grade > 0:
            own = run.bore if even is None or flow > full_flow(run.bore, run.grade, run.roughness) else max(even, own)
    start = own if tail_water is None else max(own, tail_water - run.invert_down)
    if flow == 0.0 or run.loss == 0.0:
        return start
    section = Circle(bore=run.bore)
    energy = start + velocity_head(section, start, flow)
    return slow_depth(section, flow, energy, 0.0, 0.0, critical_depth(section, flow), run.loss)


def _node_depth(run: SurfaceRun, below: SurfaceRun, depth_below: float, flows: Mapping[str, float]) -> float:
    """Depth at a run's lower end from the energy at the upper end of the run below it."""
    flow, through = flows[run.id], flows[below.id]
    energy = below.invert_up + depth_below
    if through > 0.0 and depth_below > 0.0:
        energy += velocity_head(Circle(bore=below.bore), depth_below, through)
    if flow == 0.0:
        return max(below.invert_up + depth_below - run.invert_down, 0.0)
    section = Circle(bore=run.bore)
    critical = critical_depth(section, flow)
    return max(slow_depth(section, flow, energy - run.invert_down, 0.0, 0.0, critical, run.loss), critical)


def _slow_depths(run: SurfaceRun, flow: float, start: float, step: float) -> list[float]:
    count = max(2, math.ceil(run.length / step - 1e-9))
    dx = run.length / count
    rise = (run.invert_up - run.invert_down) / count
    if flow == 0.0:
        return [max(start - rise * place, 0.0) for place in range(count + 1)]
    section = Circle(bore=run.bore)
    critical = critical_depth(section, flow)
    depths = [max(start, critical)]
    for _ in range(count):
        depths.append(step_up(section, flow, run.roughness, dx, rise, depths[-1], critical=critical))
    return depths


def _rapid_depths(
    run: SurfaceRun,
    flows: Mapping[str, float],
    feeders: Sequence[SurfaceRun],
    fast: Mapping[str, list[float | None]],
    count: int,
) -> list[float | None]:
    """Depths of rapid flow, lower end first; None where none is possible."""
    flow = flows[run.id]
    nothing: list[float | None] = [None] * (count + 1)
    if flow == 0.0:
        return nothing
    section = Circle(bore=run.bore)
    critical = critical_depth(section, flow)
    even = _even_depth(run, flow)
    steep = even is not None and even < critical
    depth = critical if steep else None
    if len(feeders) == 1 and math.isclose(flows[feeders[0].id], flow, rel_tol=1e-9):
        above, arriving = feeders[0], fast[feeders[0].id][0]
        if arriving is not None:
            head = velocity_head(Circle(bore=above.bore), arriving, flow)
            energy = above.invert_down + arriving + (1 - above.loss) * head - run.invert_up
            entered = rapid_depth(section, flow, energy, 0.0, run.roughness, critical)
            depth = depth if entered is None else entered
    dx, fall = run.length / count, (run.invert_up - run.invert_down) / count
    found: list[float | None] = [depth]
    for _ in range(count):
        if depth is not None:
            energy = (
                depth
                + velocity_head(section, depth, flow)
                - dx / 2 * friction_slope(section, depth, flow, run.roughness)
                + fall
            )
            depth = rapid_depth(section, flow, energy, dx / 2, run.roughness, critical)
        found.append(depth)
    return found[::-1]


def _put_together(
    run: SurfaceRun, flow: float, slow: list[float], fast: list[float | None], station: float
) -> RunSurface:
    section = Circle(bore=run.bore)
    critical = critical_depth(section, flow)
    count = len(slow) - 1
    points: list[WaterPoint] = []
    rapid_before = None
    jump = None
    full = 0.0
    for place, (high, low) in enumerate(zip(slow, fast, strict=True)):
        rapid = low is not None and (
            high <= critical * (1 + 1e-9) or _force(section, low, flow) >= _force(section, high, flow)
        )
        depth = low if rapid and low is not None else high
        invert = run.invert_down + (run.invert_up - run.invert_down) * place / count
        here = station + run.length * place / count
        velocity = flow / flow_area(section, min(depth, run.bore)) if flow > 0 and depth > 0 else 0.0
        regime: Regime = (
            "rapid"
            if rapid
            else "full"
            if depth >= run.bore
            else "slow"
            if flow > 0
            else "still"
            if depth > 0
            else "dry"
        )
        if rapid and rapid_before is False and jump is None:
            jump = here
        rapid_before = rapid
        if place and depth >= run.bore and points[-1].depth >= run.bore:
            full += run.length / count
        points.append(
            WaterPoint(
                station=here,
                invert=invert,
                crown=invert + run.bore,
                level=invert + depth,
                energy=invert + depth + velocity**2 / (2 * GRAVITY),
                depth=depth,
                velocity=velocity,
                regime=regime,
            )
        )
    return RunSurface(run=run.id, flow=flow, points=tuple(points), jump=jump, full_length=full)


def _force(section: Circle, depth: float, flow: float) -> float:
    return flow**2 / (GRAVITY * flow_area(section, min(depth, section.bore))) + first_moment(section, depth)
