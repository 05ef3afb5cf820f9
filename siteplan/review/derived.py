"""A stored plan and its site in; the same lines with all that follows from them worked out again out.

Water, doubts and forecasts follow from the lines and the ground. A review does not read them back, it works them out.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from siteplan import units
from siteplan.review.reviewed import made_or_why
from siteplan.sheets.plan_json import LENGTH_DIGITS
from siteplan.site import Site
from siteplan.values.forecasts import LowSpot
from siteplan.values.water_ends import Inflows
from siteplan.values.whole_plan import Plan

if TYPE_CHECKING:
    from siteplan.ground.runoff import Surface


def own_low_spots(site: Site) -> tuple[LowSpot, ...]:
    """Wet low spots of the ground.

    Parameters
    ----------
    site : Site
        As surveyed.

    Returns
    -------
    tuple of LowSpot
        As the planner finds them.
    """
    from siteplan.ground.hollows import low_spots
    from siteplan.ground.runoff import runoff_surface

    return low_spots(site, surface=runoff_surface(site))


def own_inflows(site: Site, surface: Surface | None = None) -> Inflows:
    """What a site's sources bring.

    Parameters
    ----------
    site : Site
        As surveyed.
    surface : Surface, optional
        How water runs on it, when it is at hand.

    Returns
    -------
    Inflows
        As the planner finds them.
    """
    from siteplan.ground.runoff import runoff_surface
    from siteplan.waterworks.inflows import inflows_told, inlet_flows

    return inlet_flows(site, surface or runoff_surface(site), inflows_told(site))[0]


def as_stated(inflows: Inflows) -> Inflows:
    """Inflows to the digits that plan.json gives them in: a plan judges itself by those.

    Parameters
    ----------
    inflows : Inflows
        Worked out.

    Returns
    -------
    Inflows
        To a millionth of a litre a second.
    """
    return Inflows(
        flows=tuple((name, round(flow / units.LITRE, LENGTH_DIGITS) * units.LITRE) for name, flow in inflows.flows)
    )


def worked_out(plan: Plan, site: Site) -> tuple[Plan, str]:
    """A plan with all that follows from its lines worked out again.

    Parameters
    ----------
    plan : Plan
        Sources, outlets, lines and candidates as they stand.
    site : Site
        As surveyed.

    Returns
    -------
    tuple of Plan and str
        The plan, and why nothing could be worked out; then it is the plan as it stood.
    """
    from siteplan.ground.runoff import runoff_surface
    from siteplan.sheets.plan_json import plan_json
    from siteplan.stored.plan_of import plan_as_stored
    from siteplan.waterworks.sizing import on_offer
    from siteplan.waterworks.works import water_of
    from siteplan.yard.doubts import with_doubt, with_ends_fall

    def again() -> Plan:
        lines = with_doubt(plan.lines, site, plan.outlets, plan.low_spots)
        candidates = with_ends_fall(plan.candidates, site, plan.outlets, on_offer(site.sizing)[0], lines)
        surface = runoff_surface(site)
        water = water_of(site, own_inflows(site, surface), surface, plan.low_spots, lines, plan.outlets)
        found = replace(plan, lines=lines, candidates=candidates, water=water)
        # compared, judged and printed as its own plan.json would state it: as the planner does
        return plan_as_stored(plan_json(found, site))

    found, why = made_or_why(again)
    return (plan, why) if found is None else (found, "")
