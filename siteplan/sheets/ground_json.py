"""A line in; what plan.json says of its pipe by reach, the ground under it and what it will do there, out."""

from __future__ import annotations

import math
from typing import Any

from siteplan.values.forecasts import BellyForecast, SoftGround
from siteplan.values.laid_pipe import CurbPiece, Pipe
from siteplan.values.lines import Line, Reach

_LENGTH, _FINE, _PIPE = 6, 6, 9  # a reviewer reads them back: stations must still fall on their rows


def ground_json(line: Line) -> dict[str, Any]:
    """The records of a line that tell of pipe and ground.

    Parameters
    ----------
    line : Line
        The line.

    Returns
    -------
    dict
        reaches, curb_piece, held, soft_ground, belly (null: no forecast), belly_unknown (why there is none),
        ground_notes; lengths [m], stiffness [Pa].
    """
    return {
        "reaches": [_reach(reach) for reach in line.reaches],
        "curb_piece": None if line.curb_piece is None else _curb_piece(line.curb_piece),
        "held": list(line.held),
        "soft_ground": [_soft(one) for one in line.soft],
        "belly": None if line.belly is None else _belly(line.belly),
        "belly_unknown": line.belly_unknown,
        "ground_notes": list(line.ground_notes),
    }


def _figure(value: float, digits: int = _LENGTH) -> float | None:
    return round(float(value), digits) + 0.0 if math.isfinite(value) else None


def _pipe(pipe: Pipe) -> dict[str, Any]:
    return {
        "kind": pipe.kind,
        "nominal": pipe.nominal,
        "od_m": _figure(pipe.od, _PIPE),
        "id_m": _figure(pipe.bore, _PIPE),
        "wall_m": _figure(pipe.wall, _PIPE),
        "manning_n": _figure(pipe.roughness, _PIPE),
        "title": pipe.title,
        "source": pipe.source,
    }


def _curb_piece(piece: CurbPiece) -> dict[str, Any]:
    return {
        "pipe": _pipe(piece.pipe),
        "number": piece.number,
        "station_to": _figure(piece.station_to),
        "fitting": piece.fitting,
    }


def _reach(reach: Reach) -> dict[str, Any]:
    round_it = reach.sleeve
    return {
        "station_from": _figure(reach.station_from),
        "station_to": _figure(reach.station_to),
        "place": reach.place,
        "pipe": _pipe(reach.pipe),
        "why": reach.why,
        "bedding": reach.bedding.value,
        "side_fill": reach.bedding.side_fill,
        "cover_min": _figure(reach.cover_min, _FINE),
        "coupling": reach.coupling or None,
        "vehicle": reach.vehicle or None,
        "sleeve": None
        if round_it is None
        else {
            "pipe": _pipe(round_it.pipe),
            "station_from": _figure(round_it.station_from),
            "station_to": _figure(round_it.station_to),
            "length": _figure(round_it.length),
            "top_above_pipe": _figure(round_it.above, _FINE),
            "play": _figure(round_it.play, _FINE),
        },
        "choices": [
            {
                "kind": choice.kind,
                "nominal": choice.nominal,
                "title": choice.title,
                "passes": choice.passes,
                "cost": _figure(choice.cost, _FINE),
                "why": choice.why,
            }
            for choice in reach.choices
        ],
    }


def _soft(one: SoftGround) -> dict[str, Any]:
    return {
        "station_from": _figure(one.station_from),
        "station_to": _figure(one.station_to),
        "what": one.what,
        "certain": one.certain,
        "modulus_pa": [_figure(value, 1) for value in one.modulus],
        "settlement": [_figure(value, _FINE) for value in one.drop],
        "loose": _figure(one.loose),
    }


def _belly(belly: BellyForecast) -> dict[str, Any]:
    return {
        "depth": [_figure(value, _FINE) for value in belly.depth],
        "length": [_figure(value) for value in belly.length],
        "pools": [
            {
                "station_from": _figure(pool.station_from),
                "station_to": _figure(pool.station_to),
                "depth": _figure(pool.depth, _FINE),
            }
            for pool in belly.pools
        ],
        "stress_share": None if belly.stress is None else _figure(belly.stress, _FINE),
        "joint_turn_deg": _figure(belly.turn, _FINE),
        "joint_turn_limit_deg": belly.turn_limit,
        "risk": belly.risk,
        "decides": belly.decides,
        "mends": list(belly.mends),
        "statements": list(belly.statements),
    }
