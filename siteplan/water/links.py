"""The fittings at the ends of a line in; each one's capacity or the water level it holds, and which is weakest, out.

Failure is seldom in the pipe: a reducer, a hole through the curb, a lid that must lift, water standing in the gutter.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from siteplan.units import GALLON_PER_MINUTE, INCH, LITRE, MILLIMETRE, flow_text, length_text
from siteplan.water.capacity import full_flow
from siteplan.water.section import GRAVITY
from siteplan.water.trouble import Trouble, above_zero, at_least_zero, finite, within

ReducerKind = Literal["concentric", "eccentric"]
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


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkTable:
    """Every link of a line, tightest first, the weakest of those with a capacity, the highest standing water, and troubles."""

    links: tuple[Link, ...]
    weakest: Link | None
    highest_water: Link | None
    troubles: tuple[Trouble, ...]


def reducer_lift(bore_in: float, bore_out: float, kind: ReducerKind) -> float:
    """How far a reducer lifts the invert: nothing when its bottom is flat, half the difference of bore when concentric.

    Parameters
    ----------
    bore_in : float
        Bore upstream, above 0 [m].
    bore_out : float
        Bore downstream, above 0 and not above `bore_in` [m].
    kind : str
        'concentric' or 'eccentric' (flat bottom).

    Returns
    -------
    float
        Lift [m].

    Raises
    ------
    ValueError
        If the bores are out of order or the kind is neither.

    References
    ----------
    Geometry.
    """
    above_zero("bore upstream", bore_in, "give the inside diameter in metres")
    above_zero("bore downstream", bore_out, "give the inside diameter in metres")
    if bore_out > bore_in:
        raise ValueError(f"the reducer widens from {bore_in:g} to {bore_out:g} m: give the larger bore first")
    if kind == "eccentric":
        return 0.0
    if kind == "concentric":
        return (bore_in - bore_out) / 2
    raise ValueError(f"reducer kind is {kind!r}: say 'concentric' or 'eccentric' (flat bottom)")


def reducer(
    name: str,
    bore_in: float,
    bore_out: float,
    kind: ReducerKind,
    grade: float,
    roughness: float,
    invert: float,
    *,
    unit: str = "ft",
) -> tuple[Link, float]:
    """A reducer: the smaller pipe behind it throttles, and a concentric one ponds water before it.

    Parameters
    ----------
    name : str
        Line id and place.
    bore_in, bore_out : float
        Bores upstream and downstream, above 0 [m].
    kind : str
        'concentric' or 'eccentric'.
    grade : float
        Grade of the line there, above 0 [-].
    roughness : float
        Manning n of the smaller pipe [s/m^(1/3)].
    invert : float
        Elevation of the larger pipe's invert at the reducer [m].
    unit : str
        The user's length unit, for the statement.

    Returns
    -------
    tuple of Link and float
        The link, and the length of line that never drains behind it [m].

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    Manning's equation for the smaller bore; level water behind the lifted invert.
    """
    finite("invert", invert, "give its elevation")
    lift = reducer_lift(bore_in, bore_out, kind)
    capacity = full_flow(bore_out, grade, roughness)
    ponded = lift / grade
    text = f"{kind} reducer passes {flow_text(capacity, unit)} full"
    if lift > 0:
        text += f", lifts the invert {length_text(lift, unit)} and leaves {length_text(ponded, unit, 1)} of line standing; a flat-bottom one does not"
    return Link(
        kind="reducer", name=name, capacity=capacity, tail_water=invert + lift if lift > 0 else None, statement=text
    ), ponded


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
    within("ring of water", ring, 0.0, 1.0, "give the share of the area, 7/24 or 1/3")
    return 27.8 * math.pow(ring, 5 / 3) * math.pow(bore / INCH, 8 / 3) * GALLON_PER_MINUTE


def link_table(
    subject: str, flow: float | None, links: Sequence[Link], *, rims: Sequence[tuple[str, float]] = (), unit: str = "ft"
) -> LinkTable:
    """The links of one line, tightest first, with the weakest named and what that means for its flow.

    Parameters
    ----------
    subject : str
        Id of the line.
    flow : float or None
        Flow that passes the links [m3/s]; None: not known.
    links : sequence of Link
        In any order.
    rims : sequence of (str, float)
        Name and elevation of each place where the line's water could come out [m].
    unit : str
        The user's length unit, for messages.

    Returns
    -------
    LinkTable
        Sorted by capacity, those without one last.

    Raises
    ------
    ValueError
        If the flow is below 0.
    """
    if flow is not None:
        at_least_zero("flow", flow, "give the flow in m3/s")
    ordered = sorted(links, key=lambda link: (link.capacity is None, link.capacity or 0.0, link.kind, link.name))
    weakest = ordered[0] if ordered and ordered[0].capacity is not None else None
    standing = [link for link in links if link.tail_water is not None]
    highest = max(standing, key=lambda link: (link.tail_water or 0.0, link.name), default=None)
    troubles = []
    if (
        weakest is not None
        and weakest.capacity is not None
        and flow is not None
        and flow > weakest.capacity * (1 + 1e-9)
    ):
        message = f"{subject}: {flow_text(flow, unit)} comes and the weakest link, {weakest.kind} {weakest.name}, passes {flow_text(weakest.capacity, unit)}. Enlarge it before anything else on this line."
        troubles.append(
            Trouble(
                rule="weakest-link",
                subject=subject,
                status="fail",
                value=flow,
                limit=weakest.capacity,
                unit="m3/s",
                message=message,
            )
        )
    if highest is not None and highest.tail_water is not None:
        for rim_name, rim in rims:
            finite("rim", rim, "give its elevation")
            if highest.tail_water >= rim:
                message = f"{subject}: {highest.kind} {highest.name} holds water at {length_text(highest.tail_water, unit)}, not below the rim of {rim_name} at {length_text(rim, unit)}: it comes out there. Lower the outlet or raise the rim."
                troubles.append(
                    Trouble(
                        rule="tail-water",
                        subject=subject,
                        status="fail",
                        value=highest.tail_water,
                        limit=rim,
                        unit="m",
                        message=message,
                    )
                )
    return LinkTable(links=tuple(ordered), weakest=weakest, highest_water=highest, troubles=tuple(troubles))
