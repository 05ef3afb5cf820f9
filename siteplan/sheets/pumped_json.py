"""The figures of a line under pressure in; their record in plan.json out."""

from __future__ import annotations

from typing import Any

from siteplan.units import LITRE
from siteplan.values.water_ends import Pumped

_DIGITS = 6
_VOLUME_DIGITS = 9


def pumped_record(told: Pumped | None) -> dict[str, Any] | None:
    """What plan.json says of a pumped line beside its inverts.

    Parameters
    ----------
    told : Pumped or None
        None for a line by gravity.

    Returns
    -------
    dict or None
        Heads and lengths [m], flows [L/s], velocity [m/s], volumes [m3], times [s]; docs/pumped.md.
    """
    if told is None:
        return None
    return {
        "static_head": round(told.static, _DIGITS),
        "friction_head": round(told.friction, _DIGITS),
        "fittings_head": round(told.fittings, _DIGITS),
        "head": round(told.head, _DIGITS),
        "flow_lps": round(told.flow / LITRE, _DIGITS),
        "velocity": round(told.velocity, _DIGITS),
        "hazen_williams_c": told.smoothness,
        "losses": round(told.losses, _DIGITS),
        "pipe_length": round(told.length, _DIGITS),
        "off_level": round(told.off_level, _DIGITS),
        "curve": [[round(flow / LITRE, _DIGITS), round(head, _DIGITS)] for flow, head in told.curve],
        "check_valve": told.check_valve,
        "runs_back": round(told.fallen, _VOLUME_DIGITS),
        "stands_full": round(told.standing, _DIGITS),
        "gap": None if told.gap is None else round(told.gap, _DIGITS),
        "shortest_cycle_s": None if told.cycle is None else round(told.cycle, _DIGITS),
        "cycle_s": None if told.cycle_usual is None else round(told.cycle_usual, _DIGITS),
        "starts_per_hour": None if not told.cycle else round(3600 / told.cycle, _DIGITS),
        "pump_that_serves": {
            "flow_lps": round(told.wanted_flow / LITRE, _DIGITS),
            "head": round(told.wanted_head, _DIGITS),
        },
        "lift_chosen": told.chosen,
        "lift_to": told.lift_to,
        "box_found": told.box,
    }
