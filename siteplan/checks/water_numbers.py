"""What a plan states of its water in; what the recheck finds otherwise out.

Flows, capacities, depths, the storm's balance.
"""

from __future__ import annotations

from collections.abc import Iterator

from siteplan.books.kinds import pumped
from siteplan.checks.flows import FlowPiece, design_rain, pieces_of, source_flow
from siteplan.checks.pipe_flow import allowed, even_depth, printed_row, speed_at
from siteplan.checks.scene import Scene
from siteplan.values.flows_worked import RunFlow

_NEAR = 1e-3  # relative, of what follows by one formula
_FLOW_WRITTEN = 6e-8  # m3/s: flows stand in plan.json to a ten thousandth of a litre a second
ROW = 2e-5  # as written in plan.json
DEPTH = 0.0005  # m
_BALANCE = 1e-9  # of the inflow
_VOLUMES_WRITTEN = 2.5e-6  # m3: up to five volumes that plan.json writes to a millilitre

Stated = tuple[str, str, float | None, float | None, str]  # subject, what, stated, own, where


def water_mismatches(scene: Scene) -> Iterator[Stated]:
    """Stated figures of water that differ from the recheck's.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Yields
    ------
    tuple
        Subject, what it is, the stated and the own figure, and where.

    References
    ----------
    `siteplan.checks.pipe_flow`; the storm's water is that of its rain on the roofs and its pumps' pits.
    """
    water = scene.plan.water
    if water is None:
        return
    pieces = pieces_of(scene)
    told = {line.line for line in water.lines}
    for name in scene.walks:
        if name not in told:
            yield name, "water of the line", None, 1.0, ""
    for line in water.lines:
        if line.line not in pieces:
            yield line.line, "line whose water is stated", 1.0, None, ""
            continue
        for run in line.runs:
            middle = (run.station_from + run.station_to) / 2
            own = next((piece for piece in pieces[line.line] if piece.start <= middle <= piece.end), None)
            if own is not None:
                yield from _of_run(scene, line.line, run, own)
    yield from _of_storm(scene)


def _of_run(scene: Scene, name: str, run: RunFlow, own: FlowPiece) -> Iterator[Stated]:
    where = scene.words.stations(run.station_from, run.station_to)
    falls = own.grade > 0
    most = allowed(scene.site.sizing, own.pipe, own.grade) if falls else None
    row = printed_row(scene.site.sizing, own.pipe, own.grade) if falls else None
    depth = even_depth(own.flow, own.pipe.bore, own.grade, own.rough) if falls and own.flow is not None else None
    speed = speed_at(own.flow, own.pipe.bore, own.grade, own.rough) if falls and own.flow else None
    pairs = (
        ("flow of a run [m3/s]", run.flow, own.flow, None),
        ("full flow of a run [m3/s]", run.full, own.full if falls else None, None),
        ("capacity of a run [m3/s]", run.design, most, None),
        ("slope of the printed row [-]", run.printed, None if row is None else row.grade, ROW),
        ("depth of even flow [m]", run.depth, depth, DEPTH),
        ("velocity at the design flow [m/s]", run.velocity, speed, None),
    )
    for what, stated, mine, tolerance in pairs:
        if _apart(stated, mine, tolerance):
            yield name, what, stated, mine, where


def _apart(stated: float | None, own: float | None, tolerance: float | None) -> bool:
    if stated is None or own is None:
        return stated is not own
    return not abs(stated - own) <= (max(_NEAR * abs(own), _FLOW_WRITTEN) if tolerance is None else tolerance)


def _of_storm(scene: Scene) -> Iterator[Stated]:
    water = scene.plan.water
    storm = None if water is None else water.storm
    if storm is None:
        return
    left = storm.inflow - storm.outflow - storm.overflow - storm.flooded - storm.stored
    if not abs(left) <= _BALANCE * max(storm.inflow, 1e-9) + _VOLUMES_WRITTEN:
        yield "storm", "water that the storm test loses [m3]", left, 0.0, ""
    rain = design_rain(scene)
    fallen = sum((end - start) * rate for start, end, rate, _, _ in storm.steps)
    for told in storm.sources:
        source = next((source for source in scene.site.sources if source.id == told.source), None)
        flow = None if source is None else source_flow(scene, source)
        if source is None or flow is None or pumped(source.kind) or not rain:
            continue
        mine = flow / rain * fallen
        if _apart(told.inflow, mine, max(_NEAR * mine, _VOLUMES_WRITTEN)):
            yield told.source, "water of a source in the storm [m3]", told.inflow, mine, "at the source"
