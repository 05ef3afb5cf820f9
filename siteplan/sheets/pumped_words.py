"""A line under pressure in; what every sheet says of it out.

What comes through, against what, and what happens when the pump stops.
"""

from __future__ import annotations

import math

from siteplan import units
from siteplan.values.lines import Line
from siteplan.values.water_ends import Pumped
from siteplan.values.whole_plan import Plan

_FEWEST = 2  # points of a pump's curve; one is its rated point


def pumped_facts(line: Line, unit: str, elevation_unit: str) -> list[tuple[str, str]]:
    """What is printed of a line under pressure.

    Parameters
    ----------
    line : Line
        Of a plan.
    unit, elevation_unit : str
        The site's, of lengths and of elevations.

    Returns
    -------
    list of tuple of str
        Names and values; none for a line by gravity.
    """
    told = line.pumped
    if told is None:
        return []
    facts = [
        ("Under pressure", through_text(told, unit)),
        ("Head", head_text(told, unit)),
        ("Pump", _pump_text(told, unit)),
        (
            "Pump stops at",
            units.length_text(told.off_level, elevation_unit),
        ),
        ("When it stops", _stops_text(told, unit)),
    ]
    if told.chosen:
        facts.append(
            (
                "Lifted",
                "no line by gravity serves it, so that its own pump lifts it"
                + (
                    f" to a box at a place found here, {told.lift_to}; draw a discharge_point where it is to be"
                    if told.box
                    else ""
                )
                + "; write discharge at it to have it lifted elsewhere",
            )
        )
    if told.cycle is not None:
        facts.append(("Starts", _starts_text(told)))
    if told.gap is not None:
        facts.append(("Open gap at its end", units.drop_text(told.gap, unit)))
    return facts


def through_text(told: Pumped, unit: str) -> str:
    """What comes through a line under pressure, and how fast.

    Parameters
    ----------
    told : Pumped
        Its figures.
    unit : str
        The site's length unit.

    Returns
    -------
    str
        One phrase.
    """
    if told.flow <= 0:
        return "NOTHING comes through: the pump does not lift so high"
    asked = "" if told.curve else " is asked for, no pump is stated:"
    return f"{units.flow_text(told.flow, unit)}{asked} at {units.length_text(told.velocity, unit)}/s"


def head_text(told: Pumped, unit: str) -> str:
    """The head that a line under pressure asks for, and its parts.

    Parameters
    ----------
    told : Pumped
        Its figures.
    unit : str
        The site's length unit.

    Returns
    -------
    str
        One phrase.
    """
    parts = (units.length_text(one, unit, 1) for one in (told.head, told.static, told.friction, told.fittings))
    whole, height, friction, fittings = parts
    return f"{whole}: {height} of height, {friction} of friction, {fittings} in fittings"


def serves_text(flow: float, head: float, unit: str) -> str:
    """A pump that would serve.

    Parameters
    ----------
    flow, head : float
        [m3/s, m]
    unit : str
        The site's length unit.

    Returns
    -------
    str
        One phrase.
    """
    return f"a pump that gives {units.flow_text(flow, unit)} at {units.length_text(head, unit, 1)} of head"


def _pump_text(told: Pumped, unit: str) -> str:
    serves = f"{serves_text(told.wanted_flow, told.wanted_head, unit)} would serve"
    if not told.curve:
        return f"none is stated; {serves}"
    if len(told.curve) < _FEWEST:
        flow, head = told.curve[0]
        return f"rated {units.flow_text(flow, unit)} at {units.length_text(head, unit, 1)}; {serves}"
    top, last = told.curve[0][1], told.curve[-1]
    return (
        f"its curve from {units.length_text(top, unit, 1)} at no flow to {units.length_text(last[1], unit, 1)} at "
        f"{units.flow_text(last[0], unit)}; {serves}"
    )


def _stops_text(told: Pumped, unit: str) -> str:
    held = (
        "a check valve holds the line"
        if told.check_valve
        else f"{units.volume_text(told.fallen, unit)} runs back into the pit"
    )
    stands = f"{units.length_text(told.standing, unit, 1)} of it stands full" if told.standing > 0 else "it empties"
    return f"{held}; {stands}"


def _starts_text(told: Pumped) -> str:
    if not told.cycle:
        return "without rest: what runs back starts the pump again"
    text = f"at worst every {told.cycle:.0f} s, {3600 / told.cycle:.0f} an hour"
    if told.cycle_usual is not None and math.isfinite(told.cycle_usual):
        text += f"; as the pit refills now every {told.cycle_usual:.0f} s"
    return text


def pumped_lines(plan: Plan, line: Line) -> list[str]:
    """What a terminal prints below the head of a line under pressure.

    Parameters
    ----------
    plan : Plan
        The plan, for its units.
    line : Line
        One of its lines.

    Returns
    -------
    list of str
        One sentence each.
    """
    return [
        f"{name}: {value}" if name != "Under pressure" else value
        for name, value in pumped_facts(line, plan.length_unit, plan.elevation_unit)
        if name not in {"Pump stops at", "Open gap at its end"}
    ]
