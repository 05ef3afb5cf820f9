"""The water of a plan in; its records of plan.json out.

Flows in litres a second, lengths in metres, volumes in cubic metres.
"""

from __future__ import annotations

import math
from typing import Any

from siteplan.units import LITRE, MILLIMETRE
from siteplan.values.flows_worked import BlockedOutlet, LineWater, Met, OutletPath, RunFlow, StormTest, Water, WeakLink

_FINE = 6


def water_json(water: Water | None) -> dict[str, Any] | None:
    """All that plan.json says of water.

    Parameters
    ----------
    water : Water or None
        None for a plan without it.

    Returns
    -------
    dict or None
        basis, rain, inflows, lines, outlets (where the water goes), blocked, storm, notes. What is not known is null.
    """
    if water is None:
        return None
    return {
        "code": water.code,
        "kb_mm": None if water.kb is None else _figure(water.kb / MILLIMETRE),
        "basis": water.basis,
        "rain": water.rain,
        "inflows": [
            {"source": source, "minutes": _figure(minutes), "flow_lps": _lps(flow), "statement": text}
            for source, minutes, flow, text in water.inflows
        ],
        "lines": [_line(line) for line in water.lines],
        "outlets": [_path(path) for path in water.paths],
        "blocked": [_blocked(one) for one in water.blocked],
        "storm": None if water.storm is None else _storm(water.storm),
        "notes": list(water.notes),
    }


def _figure(value: float | None, digits: int = 4) -> float | None:
    return None if value is None or not math.isfinite(value) else round(float(value), digits) + 0.0


def _lps(flow: float | None) -> float | None:
    return None if flow is None else _figure(flow / LITRE)


def _line(line: LineWater) -> dict[str, Any]:
    return {
        "line": line.line,
        "flow_lps": _lps(line.flow),
        "runs": [_run(run) for run in line.runs],
        "links": [_link(link) for link in line.links],
        "weakest": None if line.weakest is None else _link(line.weakest),
        "water_levels": [[_figure(station), _figure(level)] for station, level in line.levels],
        "full_length": _figure(line.full_length),
        "jump": _figure(line.jump),
        "rim": _figure(line.rim),
        "rim_spare": _figure(line.rim_spare),
        "standing_length": _figure(line.standing),
    }


def _run(run: RunFlow) -> dict[str, Any]:
    return {
        "station_from": _figure(run.station_from),
        "station_to": _figure(run.station_to),
        "grade_percent": _figure(run.grade * 100),
        "bore_m": _figure(run.bore, _FINE),
        "manning_n": _figure(run.roughness),
        "flow_lps": _lps(run.flow),
        "full_lps": _lps(run.full),
        "capacity_lps": _lps(run.design),
        "capacity_from": run.capacity_from,
        "printed_grade_percent": None if run.printed is None else _figure(run.printed * 100),
        "share": _figure(run.share),
        "depth": _figure(run.depth),
        "velocity_m_per_s": _figure(run.velocity),
        "velocity_full_m_per_s": _figure(run.velocity_full),
        "smallest_size": run.smallest,
    }


def _link(link: WeakLink) -> dict[str, Any]:
    return {
        "kind": link.kind,
        "name": link.name,
        "flow_lps": _lps(link.flow),
        "capacity_lps": _lps(link.capacity),
        "tail_water": _figure(link.tail_water),
        "statement": link.statement,
    }


def _met(met: Met) -> dict[str, Any]:
    return {
        "kind": met.kind,
        "name": met.name,
        "distance": _figure(met.distance),
        "x": _figure(met.x),
        "y": _figure(met.y),
    }


def _places(path: tuple[tuple[float, float], ...]) -> list[list[float | None]]:
    return [[_figure(x, 3), _figure(y, 3)] for x, y in path]


def _path(path: OutletPath) -> dict[str, Any]:
    return {
        "outlet": path.outlet,
        "flow_lps": _lps(path.flow),
        "meets": [_met(met) for met in path.meets],
        "path": _places(path.path),
        "statement": path.statement,
    }


def _blocked(one: BlockedOutlet) -> dict[str, Any]:
    return {
        "line": one.line,
        "outlet": one.outlet,
        "level": _figure(one.level),
        "source": one.source,
        "next_rim": _figure(one.next_rim),
        "standing_length": _figure(one.standing),
        "volume": _figure(one.volume, _FINE),
        "filled_in_s": _figure(one.filled_in),
        "meets": [_met(met) for met in one.meets],
        "path": _places(one.path),
        "statement": one.statement,
    }


def _storm(storm: StormTest) -> dict[str, Any]:
    return {
        "source": storm.source,
        "duration_s": _figure(storm.duration),
        "depth": _figure(storm.depth, _FINE),
        "inflow": _figure(storm.inflow, _FINE),
        "outflow": _figure(storm.outflow, _FINE),
        "overflow": _figure(storm.overflow, _FINE),
        "flooded": _figure(storm.flooded, _FINE),
        "stored": _figure(storm.stored, _FINE),
        "sources": [
            {
                "source": one.source,
                "inflow": _figure(one.inflow, _FINE),
                "overflow": _figure(one.overflow, _FINE),
                "flooded": _figure(one.flooded, _FINE),
                "peak_inflow_lps": _lps(one.peak_inflow),
                "peak_overflow_lps": _lps(one.peak_overflow),
                "peak_level": _figure(one.peak_level),
                "rim": _figure(one.rim),
                "overflow_from_s": _figure(one.overflow_from),
                "overflow_time_s": _figure(one.overflow_time),
                "pump_starts": one.starts,
            }
            for one in storm.sources
        ],
        "peaks": [{"line": line, "flow_lps": _lps(flow), "at_s": _figure(at)} for line, flow, at in storm.peaks],
        # start and end [s], rain [m/s], outflow and overflow [L/s]
        "steps": [
            [_figure(start), _figure(end), _figure(rain, 9), _lps(out), _lps(over)]
            for start, end, rain, out, over in storm.steps
        ],
    }
