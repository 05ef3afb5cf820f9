"""One source, outlet or low spot in; what is known of it, as printed, out.

The panel and the map's cards read the same.
"""

from __future__ import annotations

from siteplan import units
from siteplan.sheets.wording import (
    KIND_TITLES,
    area_text,
    flow_or_unknown,
    level_text,
    names,
    one_line,
    served_text,
    volume_or_unknown,
)
from siteplan.values.forecasts import LowSpot
from siteplan.values.whole_plan import Plan


def low_spot_facts(spot: LowSpot, unit: str, elevation_unit: str) -> list[tuple[str, str]]:
    """What is known of a wet low spot, as printed.

    Parameters
    ----------
    spot : LowSpot
        The low spot.
    unit, elevation_unit : str
        The site's, of lengths and of elevations: 'ft', 'us-ft' or 'm'.

    Returns
    -------
    list of tuple of str
        Names and values.
    """
    facts = [("Kind", KIND_TITLES.get(spot.kind, spot.kind))]
    if spot.kind == "hollow":
        facts += [("Depth", units.drop_text(spot.depth, unit)), ("Volume", volume_or_unknown(spot.volume, unit))]
        if not spot.certain:
            facts.append(("Sure", "no: shallower than the survey can tell"))
    facts.append(("Area", area_text(spot.area, unit)))
    if spot.spill_elevation is not None:
        facts.append(("Spills at", units.length_text(spot.spill_elevation, elevation_unit)))
    if spot.catchment is not None:
        facts.append(("Drains from", area_text(spot.catchment, unit)))
    return facts


def source_facts(plan: Plan, place: int) -> list[tuple[str, str]]:
    """What is known of a source, as printed.

    Parameters
    ----------
    plan : Plan
        The plan.
    place : int
        The source's place in the plan.

    Returns
    -------
    list of tuple of str
        Names and values.
    """
    source, unit = plan.sources[place], plan.length_unit
    carried, _ = served_text(plan)
    on = [line.id for line in plan.every_line if source.id in line.sources]
    facts = [
        ("Kind", KIND_TITLES.get(source.kind, source.kind)),
        (
            "Ground",
            level_text((source.pit or (0.0, 0.0, source.ground))[2], plan.elevation_unit)
            + ("" if source.ground_known else " (nearest known)"),
        ),
        ("Design flow", flow_or_unknown(plan.inflows.of(source.id), unit)),
    ]
    if source.invert_limit is not None:
        facts.append(("Highest invert", units.length_text(source.invert_limit, plan.elevation_unit)))
    if source.roof_area is not None:
        facts.append(("Roof", area_text(source.roof_area, unit)))
    if source.pump_rate is not None:
        facts.append(("Pump", flow_or_unknown(source.pump_rate, unit)))
    facts.append(("Drained", f"by {' and '.join(on)}" if source.id in carried else "NO"))
    facts += _coming_out(plan, source.id)
    if source.note:
        facts.append(("Note", one_line(source.note)))
    return facts


def _coming_out(plan: Plan, source: str) -> list[tuple[str, str]]:
    """Whether water comes out at a source, when an outlet is blocked or in the storm test."""
    if plan.water is None:
        return []
    level = plan.elevation_unit
    facts = [
        (f"{one.line} blocked", f"water comes out here first, at {level_text(one.level, level)}")
        for one in plan.water.blocked
        if one.source == source and one.level is not None
    ]
    storm = plan.water.storm
    spilt = next((one for one in storm.sources if one.source == source), None) if storm is not None else None
    if spilt is not None and spilt.overflow + spilt.flooded > 0:
        facts.append(
            ("Storm test", f"{volume_or_unknown(spilt.overflow + spilt.flooded, plan.length_unit)} comes out here")
        )
    return facts


def outlet_facts(plan: Plan, place: int) -> list[tuple[str, str]]:
    """What is known of an outlet, as printed, with the fate of each candidate.

    Parameters
    ----------
    plan : Plan
        The plan.
    place : int
        The outlet's place in the plan.

    Returns
    -------
    list of tuple of str
        Names and values.
    """
    outlet, unit = plan.outlets[place], plan.length_unit
    called = names(plan)
    facts = [
        ("Kind", KIND_TITLES.get(outlet.kind, outlet.kind) + (", found by the tool" if outlet.found else "")),
        ("Lowest invert", units.length_text(outlet.control, plan.elevation_unit)),
        ("From", one_line(outlet.basis)),
        ("Ground", level_text(outlet.ground, plan.elevation_unit)),
    ]
    for candidate in [c for c in plan.candidates if c.outlet == outlet.id][:6]:
        who = " and ".join(called.get(source, source) for source in candidate.sources)
        fate = "taken" if candidate.chosen else one_line(candidate.reason or "not taken")
        if candidate.feasible and candidate.margin is not None:
            fate += f", {units.spare_text(candidate.margin, unit)}"
        facts.append((who, fate))
    if plan.water is not None:
        facts += [("Its water", one_line(path.statement)) for path in plan.water.paths if path.outlet == outlet.id]
    if outlet.note:
        facts.append(("Note", one_line(outlet.note)))
    return facts
