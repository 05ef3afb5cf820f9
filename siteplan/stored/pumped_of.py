"""The record of a line under pressure in plan.json in; its figures out: the mirror of `sheets.pumped_json`."""

from __future__ import annotations

import math

from siteplan.stored.record_of import ANY, PlanRecord
from siteplan.units import LITRE
from siteplan.values.water_ends import Pumped

_MOST_POINTS = 100


def pumped_of_record(one: PlanRecord) -> Pumped:
    """What a plan.json says of a pumped line.

    Parameters
    ----------
    one : PlanRecord
        Under the line's key `pumped`.

    Returns
    -------
    Pumped
        SI.

    Raises
    ------
    InputError
        If a figure is missing or none.
    """
    curve = one.rows("curve", 2)
    if len(curve) > _MOST_POINTS or not all(math.isfinite(number) for pair in curve for number in pair):
        raise one.fault("curve", "is no list of pairs of flow and head")
    serves = one.inside("pump_that_serves")
    return Pumped(
        static=one.number("static_head"),
        friction=one.number("friction_head"),
        fittings=one.number("fittings_head"),
        flow=one.number("flow_lps", ANY) * LITRE,
        velocity=one.number("velocity"),
        smoothness=one.number("hazen_williams_c"),
        losses=one.number("losses"),
        length=one.number("pipe_length"),
        off_level=one.number("off_level"),
        curve=tuple((flow * LITRE, head) for flow, head in curve),
        check_valve=one.yes("check_valve", other=True),
        fallen=one.number("runs_back", ANY),
        standing=one.number("stands_full"),
        gap=one.maybe("gap"),
        cycle=one.maybe("shortest_cycle_s", ANY),
        cycle_usual=one.maybe("cycle_s", ANY),
        wanted_flow=serves.number("flow_lps", ANY) * LITRE,
        wanted_head=serves.number("head", ANY),
        chosen=one.yes("lift_chosen", other=False),
        lift_to=one.text_maybe("lift_to"),
        box=one.yes("box_found", other=False),
    )
