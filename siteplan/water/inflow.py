"""Areas, covers and a rainfall in; the flow each source gives, with its basis in one sentence, out."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from siteplan.units import flow_text
from siteplan.water.rain import MINUTE, Rainfall, read_rain
from siteplan.water.trouble import above_zero, at_least_zero, within

SHORT, LONG = 5 * MINUTE, 60 * MINUTE  # answered side by side: how a roof answers, and what plumbing codes print
ROOF_FLOOR = 5 * MINUTE  # shortest time of concentration used; shorter rain rates are seldom published


@dataclass(frozen=True, slots=True, kw_only=True)
class Inflow:
    """What one source gives: flow [m3/s] or None, and the sentence that says how, or what is missing."""

    source: str
    flow: float | None
    duration: float | None
    statement: str


def runoff(area: float, intensity: float, coefficient: float = 1.0) -> float:
    """Flow from an area by the rational method.

    Parameters
    ----------
    area : float
        Horizontal (plan) area, 0 or above [m2].
    intensity : float
        Rainfall, 0 or above [m/s].
    coefficient : float
        Share that runs off, 0 to 1; 1 for roofs in plumbing codes [-].

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
    Q = C i A, the rational method.
    """
    at_least_zero("area", area, "give the horizontal area that drains there")
    at_least_zero("rainfall intensity", intensity, "give the rate for the design storm")
    within("runoff coefficient", coefficient, 0.0, 1.0, "give the share that runs off, 1 for a roof")
    return coefficient * intensity * area


def roof_area(plan: float, *, wall: float = 0.0, wall_share: float = 0.5, pitch_rise: float = 0.0) -> float:
    """Area that a roof offers the rain.

    Parameters
    ----------
    plan : float
        Horizontal area of the roof, 0 or above [m2].
    wall : float
        Area of the one wall that sheds onto it [m2].
    wall_share : float
        Share of the wall that counts: 0.50 in IPC s.1106.4, 0.25 in Chicago 18-29-1106.4 [-].
    pitch_rise : float
        Rise over run of the roof, only where a code counts wind-driven rain; 0 counts the plan area alone [-].

    Returns
    -------
    float
        Area [m2].

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    IPC s.1106.4 (read second-hand); Chicago Municipal Code 18-29-1106.4 (read); England, Approved Document H, H3 Table 1:
    plan area times 1 + rise/2 (memory).
    """
    at_least_zero("roof area", plan, "give the horizontal area of the roof")
    at_least_zero("wall area", wall, "give the area of the wall that sheds onto the roof")
    within("share of the wall", wall_share, 0.0, 1.0, "give 0.50, or what the local code says")
    at_least_zero("roof pitch", pitch_rise, "give rise over run")
    return plan * (1 + pitch_rise / 2) + wall * wall_share


def sheet_flow_time(length: float, grade: float, roughness: float, intensity: float) -> float:
    """Time until a plane under even rain gives its full flow.

    Parameters
    ----------
    length : float
        Length of the plane in the direction of flow, above 0 [m].
    grade : float
        Its fall over length, above 0 [-].
    roughness : float
        Manning n of sheet flow: 0.011 for a smooth roof or paving, 0.15 to 0.24 for grass [s/m^(1/3)].
    intensity : float
        Rainfall, above 0 [m/s].

    Returns
    -------
    float
        Time [s].

    Raises
    ------
    ValueError
        If a value is not above 0.

    References
    ----------
    Kinematic wave on a plane: t = (n L / S^(1/2))^0.6 / i^0.4 in SI; FHWA HEC-22 prints it with 6.92 for minutes and mm/h (memory).
    Sheet roughness: NRCS TR-55 table 3-1 (memory).
    """
    above_zero("length of the plane", length, "give the flow length in metres")
    above_zero("grade", grade, "give the fall over length of the plane")
    above_zero("roughness", roughness, "give Manning n of sheet flow, 0.011 for a roof")
    above_zero("rainfall intensity", intensity, "give the rate for the design storm")
    return math.pow(roughness * length / math.sqrt(grade), 0.6) / math.pow(intensity, 0.4)


def roof_time(
    rain: Rainfall, length: float, grade: float, *, gutter: float = 0.0, gutter_velocity: float = 0.5,
    roughness: float = 0.011, floor: float = ROOF_FLOOR,
) -> float:  # fmt: skip
    """Time of concentration of a roof: sheet flow to the gutter, then along the gutter, never below the floor.

    The sheet flow depends on the intensity and the intensity on the time; the two are brought together by repetition.

    Parameters
    ----------
    rain : Rainfall
        The rainfall.
    length : float
        From ridge to eave, above 0 [m].
    grade : float
        Rise over run of the roof, above 0 [-].
    gutter : float
        Length of gutter to the downspout, 0 or above [m].
    gutter_velocity : float
        Velocity in the gutter, above 0 [m/s].
    roughness : float
        Manning n of sheet flow [s/m^(1/3)].
    floor : float
        Shortest time used, above 0 [s].

    Returns
    -------
    float
        Time [s].

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    `sheet_flow_time`; gutter at a round 0.5 m/s and the 5 minute floor: common practice, no source.
    """
    above_zero("floor of the time of concentration", floor, "give seconds, 300 is usual")
    at_least_zero("gutter length", gutter, "give metres of gutter to the downspout")
    above_zero("gutter velocity", gutter_velocity, "give m/s")
    time = floor
    for _ in range(60):
        rate = read_rain(rain, time).intensity
        if rate is None:  # longer than the table: its last row is the gentlest rate known
            rate = rain.intensities[-1]
        newer = max(floor, sheet_flow_time(length, grade, roughness, rate) + gutter / gutter_velocity)
        if math.isclose(newer, time, rel_tol=1e-12):
            break
        time = newer
    return time


def area_inflow(
    source: str,
    area: float | None,
    rain: Rainfall | None,
    duration: float,
    *,
    coefficient: float = 1.0,
    what: str = "roof",
    unit: str = "ft",
) -> Inflow:
    """Flow that rain gives a downspout or an area inlet.

    Parameters
    ----------
    source : str
        Id of the source.
    area : float or None
        Plan area that drains there [m2]; None: not known.
    rain : Rainfall or None
        The rainfall; None: not given.
    duration : float
        Length of the rain that governs, above 0 [s].
    coefficient : float
        Share that runs off, 0 to 1 [-].
    what : str
        What the area is, for the statement: roof, lawn, paving.
    unit : str
        The user's length unit, for the statement.

    Returns
    -------
    Inflow
        Flow [m3/s], None with a sentence when area or intensity is missing.

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    Q = C i A, the rational method.
    """
    reading = read_rain(rain, duration, unit=unit)
    if area is None:
        return Inflow(
            source=source,
            flow=None,
            duration=reading.duration,
            statement=f"{source}: the {what} area is not given, its flow is not known",
        )
    if reading.intensity is None:
        at_least_zero("area", area, "give the horizontal area that drains there")
        return Inflow(source=source, flow=None, duration=reading.duration, statement=f"{source}: {reading.statement}")
    flow = runoff(area, reading.intensity, coefficient)
    return Inflow(
        source=source, flow=flow, duration=reading.duration,
        statement=f"{source}: {flow_text(flow, unit)} = {coefficient:g} x {what} area x {reading.statement}",
    )  # fmt: skip


def side_by_side(
    source: str,
    area: float | None,
    rain: Rainfall | None,
    *,
    coefficient: float = 1.0,
    what: str = "roof",
    unit: str = "ft",
) -> tuple[Inflow, ...]:
    """The 5-minute and the 60-minute answer: the duration moves the result about threefold.

    Parameters
    ----------
    source : str
        Id of the source.
    area : float or None
        Plan area that drains there [m2].
    rain : Rainfall or None
        The rainfall.
    coefficient : float
        Share that runs off, 0 to 1 [-].
    what : str
        What the area is, for the statement.
    unit : str
        The user's length unit, for the statement.

    Returns
    -------
    tuple of Inflow
        Two for a table; one for a single intensity or none.

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    Model plumbing codes print the 100-year 60-minute rate; a roof answers in about 5 minutes (common practice).
    """
    lengths = (SHORT,) if rain is None or rain.durations is None else (SHORT, LONG)
    return tuple(
        area_inflow(source, area, rain, length, coefficient=coefficient, what=what, unit=unit) for length in lengths
    )


def pump_inflow(source: str, rate: float | None, *, unit: str = "ft") -> Inflow:
    """Flow that a sump's pump gives: its rate at its real head, whole, whether or not it rains.

    Parameters
    ----------
    source : str
        Id of the source.
    rate : float or None
        Pump rate, above 0 [m3/s]; None: not known.
    unit : str
        The user's length unit, for the statement.

    Returns
    -------
    Inflow
        Flow [m3/s], None with a sentence when the rate is missing.

    Raises
    ------
    ValueError
        If the rate is not above 0.

    References
    ----------
    No code gives a pump rate (IRC 2021 P3303.1.1, read): it is an input.
    """
    if rate is None:
        return Inflow(
            source=source,
            flow=None,
            duration=None,
            statement=f"{source}: the pump rate is not given and no code supplies one; give pump_rate at its real head",
        )
    above_zero("pump rate", rate, "give the pump's rate at its real head")
    return Inflow(
        source=source,
        flow=rate,
        duration=None,
        statement=f"{source}: {flow_text(rate, unit)}, the pump's rate as given",
    )


def flow_sum(inflows: Iterable[Inflow]) -> float | None:
    """Flows of a run added downstream; not known as soon as one of them is not.

    Parameters
    ----------
    inflows : iterable of Inflow
        Every source that the run carries.

    Returns
    -------
    float or None
        Flow [m3/s].

    References
    ----------
    Flows add downstream; peaks are taken to come together, as roofs of one lot do (common practice).
    """
    flows = [inflow.flow for inflow in inflows]
    known = [flow for flow in flows if flow is not None]
    return math.fsum(known) if len(known) == len(flows) else None
