"""The fittings at the ends of a line in; each one's capacity or the water level it holds, and which is weakest, out.

Failure is seldom in the pipe: a reducer, a hole through the curb, a lid that must lift, water standing in the gutter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from siteplan.units import GALLON_PER_MINUTE, INCH, LITRE, MILLIMETRE, length_text
from siteplan.water.section import GRAVITY
from siteplan.water.trouble import above_zero, at_least_zero, finite, within_time

WEIR = 1.84  # sharp-edged weir, SI [m^(1/2)/s]; any hydraulics text (memory)
ORIFICE = 0.6  # sharp-edged orifice [-]; any hydraulics text (memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One place that water must pass.

    Attributes
    ----------
    kind : str
        run, reducer, curb hole, pop-up, submerged outlet, downspout adaptor, leader.
    name : str
        How a person would call it, with the line's id first.
    capacity : float or None
        What it passes without pressure [m3/s]; None when it has no capacity of its own.
    tail_water : float or None
        Elevation at which it makes the water stand [m]; None when it holds none.
    statement : str
        The figures and where they come from.
    """

    kind: str
    name: str
    capacity: float | None
    tail_water: float | None
    statement: str


def popup_level(rim: float, bore: float, flow: float, *, lid_lift: float) -> float:
    """Level at which a pop-up or bubbler makes the line stand while it passes a flow.

    Parameters
    ----------
    rim : float
        Elevation of the rim [m].
    bore : float
        Bore of the riser, above 0 [m].
    flow : float
        Flow, 0 or above [m3/s].
    lid_lift : float
        How far the lid opens, above 0 [m].

    Returns
    -------
    float
        Elevation [m]; the rim itself without flow, and the line stands there until the next rain unless it can weep.

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    Weir round the rim (1.84 L h^1.5) until the head reaches the lid's lift, then an orifice through the ring
    under the lid (0.6 A (2 g h)^0.5); the higher of the two. Any hydraulics text (memory).
    """
    finite("rim", rim, "give its elevation")
    above_zero("bore", bore, "give the inside diameter of the riser")
    at_least_zero("flow", flow, "give the flow in m3/s")
    above_zero("lift of the lid", lid_lift, "give how far the lid opens")
    round_rim = math.pi * bore
    over = math.pow(flow / (WEIR * round_rim), 2 / 3)
    through = (flow / (ORIFICE * round_rim * lid_lift)) ** 2 / (2 * GRAVITY)
    return rim + max(over, through)


def submerged_outlet(name: str, invert: float, bore: float, water: float, *, unit: str = "ft") -> Link:
    """An outlet against the water that stands or flows before it.

    Parameters
    ----------
    name : str
        Line id and place.
    invert : float
        Outlet invert elevation [m].
    bore : float
        Bore of the outlet, above 0 [m].
    water : float
        Elevation of the water outside [m].

    unit : str
        The user's length unit, for the statement.

    Returns
    -------
    Link
        Its tail-water level when the water stands above the invert; no capacity of its own.

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    Geometry.
    """
    finite("outlet invert", invert, "give its elevation")
    finite("water level", water, "give its elevation")
    above_zero("bore", bore, "give the inside diameter of the outlet")
    over = water - invert
    if over <= 0:
        return Link(
            kind="outlet",
            name=name,
            capacity=None,
            tail_water=None,
            statement=f"free, {length_text(-over, unit)} above the water outside",
        )
    state = "drowned" if over >= bore * (1 - 1e-9) else "partly drowned"
    return Link(
        kind="submerged outlet",
        name=name,
        capacity=None,
        tail_water=water,
        statement=f"{state}: water stands {length_text(over, unit)} over the outlet invert",
    )


def outlet_funnel_flow(diameter: float, head: float) -> float:
    """Flow from a gutter or box into a round outlet or downspout adaptor: a weir, then an orifice.

    Parameters
    ----------
    diameter : float
        Effective diameter of the opening, above 0 [m].
    head : float
        Water over the opening, 0 or above [m].

    Returns
    -------
    float
        Flow [m3/s].

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    EN 12056-3 Table 7 (memory): D h^1.5 / 7500 up to h = D/2, then D^2 h^0.5 / 15000, in L/s and mm; the two meet.
    """
    above_zero("diameter of the opening", diameter, "give metres")
    at_least_zero("head over the opening", head, "give metres")
    wide, high = diameter / MILLIMETRE, head / MILLIMETRE
    flow = wide * high**1.5 / 7500 if head <= diameter / 2 else wide**2 * math.sqrt(high) / 15000
    return flow * LITRE


def leader_flow(bore: float, ring: float) -> float:
    """Flow of a vertical leader with water running down its wall.

    Parameters
    ----------
    bore : float
        Inside diameter, above 0 [m].
    ring : float
        Share of the area that the ring of water takes: 7/24 in older US codes, 1/3 in IPC 2018 [-].

    Returns
    -------
    float
        Flow [m3/s].

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    27.8 r^(5/3) D^(8/3) in gpm and in: annular flow in plumbing stacks, as US codes took it over (memory).
    """
    above_zero("bore", bore, "give the inside diameter of the leader")
    above_zero("ring of water", ring, "give the share of the area, 7/24 or 1/3")
    within_time("ring of water", ring, 0.0, 1.0, "give the share of the area, 7/24 or 1/3")
    return 27.8 * math.pow(ring, 5 / 3) * math.pow(bore / INCH, 8 / 3) * GALLON_PER_MINUTE
