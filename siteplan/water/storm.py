"""A design storm, sources and pipes in; what leaves by the outlets and what comes out on the way, quasi-steadily, out.

Between two events (the rain changes, a pump starts or stops, a pit is full) nothing changes, so every volume is exact.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from siteplan.values.flows_worked import SourceStorm
from siteplan.water.capacity import full_flow
from siteplan.water.hyetograph import Hyetograph
from siteplan.water.overflow import OverflowEntry, PitPump, quick_levels, run_flows, shares_taken
from siteplan.water.sizes import upstream_first
from siteplan.water.surface import SurfaceRun, TailWater

_EVENTS = 200_000
_LEAK = 1e-9  # m3/s: below this an overflow is the rounding of the balance at a rim


@dataclass(frozen=True, slots=True, kw_only=True)
class RunStorm:
    """One run through the storm.

    Its greatest flow [m3/s], when [s], and over its full capacity [-] (None without fall).
    """

    run: str
    peak_flow: float
    peak_at: float
    share: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """A span in which nothing changes.

    Start and end [s], rain [m/s], flow out of the outlets and out of the rims [m3/s].
    """

    start: float
    end: float
    rain: float
    outflow: float
    overflow: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StormResult:
    """A whole storm: volumes [m3]; inflow = outflow + overflow + flooded + change in the pits, to rounding."""

    sources: tuple[SourceStorm, ...]
    runs: tuple[RunStorm, ...]
    intervals: tuple[Interval, ...]
    inflow: float
    outflow: float
    overflow: float
    flooded: float
    stored: float


@dataclass(slots=True)
class _Pit:
    pump: PitPump
    held: float
    running: bool
    starts: int
    flooded: float

    @property
    def net(self) -> float:
        return self.pump.inflow - (self.pump.rate if self.running else 0.0)

    @property
    def brim(self) -> float:
        return self.pump.volume + self.pump.reserve

    def until_change(self) -> float:
        """Time until the pump starts or stops or the pit is full, at the present rates."""
        if not self.running:
            return (self.pump.volume - self.held) / self.net if self.net > 0 else math.inf
        if self.net < 0:
            return self.held / -self.net
        return (self.brim - self.held) / self.net if self.net > 0 and self.held < self.brim else math.inf

    def pass_time(self, span: float, *, reached: bool) -> None:
        """Let `span` go by; `reached` says that it ends with this pit's own change."""
        if self.running and self.net > 0 and self.held >= self.brim:
            self.flooded += self.net * span
            return
        if not reached:
            self.held = min(max(self.held + self.net * span, 0.0), self.brim)
        elif not self.running:
            self.held, self.running = self.pump.volume, True
            self.starts += 1
        elif self.net < 0:
            self.held, self.running = 0.0, False
        else:
            self.held = self.brim


@dataclass(slots=True)
class _Tally:
    overflow: float = 0.0
    peak_inflow: float = 0.0
    peak_overflow: float = 0.0
    peak_level: float = -math.inf
    overflow_from: float | None = None
    overflow_time: float = 0.0


def run_storm(
    runs: Sequence[SurfaceRun],
    entries: Sequence[OverflowEntry],
    storm: Hyetograph,
    tail_water: TailWater = None,
) -> StormResult:
    """A storm through the whole tree of pipes, quasi-steadily, with pumps that cycle and pits that store.

    A roof answers at once and the pipes hold nothing: both make peaks a little higher than they come.

    Parameters
    ----------
    runs : sequence of Run
        The tree or trees.
    entries : sequence of Entry
        The sources, each at the upper end of a run.
    storm : Hyetograph
        The rain.
    tail_water : float, None or mapping
        Elevation of the water outside every outlet, or by outlet run [m]; None: free.

    Returns
    -------
    StormResult
        Peaks, volumes, and intervals for a chart.

    Raises
    ------
    ValueError
        If the runs make no tree, a source is named twice or feeds no run, the water outside stands at a rim, or a pump
        would start too many times to follow.

    References
    ----------
    Rational method at every instant; volume balance of pits; levels as `quick_levels`. Common practice for small sites.
    """
    if len({entry.source for entry in entries}) != len(entries):
        raise ValueError("a source appears twice: give each source one entry")
    by_id = {run.id: run for run in runs}
    order = upstream_first({run.id: run.into for run in runs}, len(runs))
    known: dict[tuple[float, ...], tuple[dict[str, float], dict[str, float], dict[str, float]]] = {}

    def water(demand: Mapping[str, float]) -> tuple[dict[str, float], dict[str, float], dict[str, float]]:
        key = tuple(demand[entry.source] for entry in entries)
        if key not in known:
            taken = shares_taken(runs, entries, demand, tail_water)
            flows = run_flows(by_id, order, entries, taken)
            known[key] = (taken, flows, quick_levels(runs, flows, tail_water))
        return known[key]

    pits: dict[str, _Pit] = {}
    for entry in entries:
        if entry.pump is not None:
            on = entry.pump.start >= entry.pump.volume
            pits[entry.source] = _Pit(pump=entry.pump, held=entry.pump.start, running=on, starts=int(on), flooded=0.0)
    tallies = {entry.source: _Tally() for entry in entries}
    peaks = {run.id: (0.0, 0.0) for run in runs}
    intervals: list[Interval] = []
    now = 0.0
    for end, rain in zip(storm.ends, storm.intensities, strict=True):
        while now < end:
            if len(intervals) >= _EVENTS:
                raise ValueError(
                    f"pumps start more than {_EVENTS} times in the storm: the pit volume is too small to be "
                    "real, check it"
                )
            demand = {
                entry.source: entry.yield_area * rain
                + (entry.pump.rate if entry.pump and pits[entry.source].running else 0.0)
                for entry in entries
            }
            changes = {name: pit.until_change() for name, pit in pits.items()}
            soonest = min(changes.values(), default=math.inf)
            inside = now + soonest < end
            span = soonest if inside else end - now
            if span > 0:
                taken, flows, levels = water(demand)
                for name, flow in flows.items():
                    if flow > peaks[name][0]:
                        peaks[name] = (flow, now)
                spilt = _count(entries, tallies, demand, taken, levels, now, span)
                out = math.fsum(flows[run.id] for run in runs if run.into is None)
                intervals.append(
                    Interval(start=now, end=now + span if inside else end, rain=rain, outflow=out, overflow=spilt)
                )
            for name, pit in pits.items():
                pit.pass_time(span, reached=inside and changes[name] <= soonest * (1 + 1e-12))
            now = now + span if inside else end
    return _result(runs, entries, storm, tallies, pits, peaks, tuple(intervals))


def _count(
    entries: Sequence[OverflowEntry],
    tallies: Mapping[str, _Tally],
    demand: Mapping[str, float],
    taken: Mapping[str, float],
    levels: Mapping[str, float],
    now: float,
    span: float,
) -> float:
    spilt = 0.0
    for entry in entries:
        tally, over = tallies[entry.source], demand[entry.source] - taken[entry.source]
        tally.overflow += over * span
        tally.peak_inflow = max(tally.peak_inflow, demand[entry.source])
        tally.peak_overflow = max(tally.peak_overflow, over)
        tally.peak_level = max(tally.peak_level, levels[entry.run])
        if over > _LEAK:
            tally.overflow_time += span
            if tally.overflow_from is None:
                tally.overflow_from = now
        spilt += over
    return spilt


def _result(
    runs: Sequence[SurfaceRun],
    entries: Sequence[OverflowEntry],
    storm: Hyetograph,
    tallies: Mapping[str, _Tally],
    pits: Mapping[str, _Pit],
    peaks: Mapping[str, tuple[float, float]],
    intervals: tuple[Interval, ...],
) -> StormResult:
    length = storm.ends[-1]
    sources = []
    for entry in entries:
        tally, pit = tallies[entry.source], pits.get(entry.source)
        # from the storm's whole depth, not from the intervals: the balance then has two independent sides
        inflow = entry.yield_area * storm.depth + (entry.pump.inflow * length if entry.pump else 0.0)
        flooded = pit.flooded if pit else 0.0
        sources.append(
            SourceStorm(
                source=entry.source,
                inflow=inflow,
                overflow=tally.overflow,
                flooded=flooded,
                peak_inflow=tally.peak_inflow,
                peak_overflow=tally.peak_overflow,
                peak_level=tally.peak_level,
                rim=entry.rim,
                overflow_from=tally.overflow_from,
                overflow_time=tally.overflow_time,
                starts=pit.starts if pit else 0,
            )
        )
    through = []
    for run in runs:
        flow, at = peaks[run.id]
        share = flow / full_flow(run.bore, run.grade, run.roughness) if run.grade > 0 else None
        through.append(RunStorm(run=run.id, peak_flow=flow, peak_at=at, share=share))
    return StormResult(
        sources=tuple(sources),
        runs=tuple(through),
        intervals=intervals,
        inflow=math.fsum(source.inflow for source in sources),
        outflow=math.fsum(part.outflow * (part.end - part.start) for part in intervals),
        overflow=math.fsum(source.overflow for source in sources),
        flooded=math.fsum(source.flooded for source in sources),
        stored=math.fsum(pit.held - pit.pump.start for pit in pits.values()),
    )
