"""A sump, its pit, gap and outlet in; whether it carries off its water or takes it back, out."""

from __future__ import annotations

from siteplan.units import FOOT, INCH, drop_text, flow_text, length_text
from siteplan.water.pump import pit_volume, shortest_cycle
from siteplan.water.trouble import Trouble, above_zero, at_least_zero, finite, within

PIT_DIAMETER = 18 * INCH  # IRC 2021 P3303.1.2, IPC 2018 1113.1.2 (read): unless otherwise approved
PIT_DEPTH = 24 * INCH  # the same clause
OUTLET_DISTANCE = 15 * FOOT  # sump outlet to the foundation: practice, past the loose fill
BARE_DISTANCE = 10 * FOOT  # bare minimum of the same practice
WALL_FALL = 6 * INCH  # IRC R401.3: fall within the first 10 ft from a foundation
WALL_REACH = 10 * FOOT
LEAST_CYCLE = 60.0  # s between two starts; common practice, no source


def sump_troubles(
    subject: str, *, rate: float, line_capacity: float | None = None, air_gap_rim: float | None, outlet_level: float,
    wall_ground: float, outlet_ground: float, outlet_distance: float, pump_bore: float | None = None,
    pipe_bore: float | None = None, least_distance: float = OUTLET_DISTANCE, unit: str = "ft",
) -> tuple[Trouble, ...]:  # fmt: skip
    """The sump's own rules: line carries the pump, air gap open and above the outlet, outlet far enough and falling away.

    Parameters
    ----------
    subject : str
        Id of the source.
    rate : float
        Pump rate at its real head, above 0 [m3/s].
    line_capacity : float, optional
        What the gravity line carries full [m3/s].
    air_gap_rim : float or None
        Elevation of the open rim at the wall [m]; None: the pump pipe is joined without a gap.
    outlet_level : float
        Elevation at which the outlet makes the water stand: its invert, or a pop-up's rim [m].
    wall_ground, outlet_ground : float
        Ground at the wall by the pump and at the outlet [m].
    outlet_distance : float
        Outlet to the foundation, 0 or above [m].
    pump_bore, pipe_bore : float, optional
        Pump outlet and discharge pipe [m].
    least_distance : float
        Outlet distance wanted [m].
    unit : str
        The user's length unit, for messages.

    Returns
    -------
    tuple of Trouble
        Worst first; empty when all is well.

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    Air gap: practice, some local rules (memory). Distance: practice, 10 ft bare, 15 to 20 ft good. Discharge pipe not
    smaller than the pump outlet: Chicago 18-29-1111.3.4 (read). Fall from the wall: IRC R401.3 (read).
    """
    above_zero("pump rate", rate, "give the pump's rate at its real head")
    for name, value in (
        ("outlet level", outlet_level),
        ("ground at the wall", wall_ground),
        ("ground at the outlet", outlet_ground),
    ):
        finite(name, value, "give its elevation")
    at_least_zero("outlet distance", outlet_distance, "give metres to the foundation")
    return (
        *_pump_and_pipe(subject, rate, line_capacity, pump_bore, pipe_bore, unit),
        *_gap(subject, air_gap_rim, outlet_level, unit),
        *_way_back(subject, wall_ground, outlet_ground, outlet_distance, least_distance, unit),
    )


def _pump_and_pipe(
    subject: str, rate: float, capacity: float | None, pump_bore: float | None, pipe_bore: float | None, unit: str
) -> list[Trouble]:
    found = []
    if capacity is not None and rate > at_least_zero("capacity of the line", capacity, "give m3/s") * (1 + 1e-9):
        message = f"{subject}: the pump gives {flow_text(rate, unit)} and the line carries {flow_text(capacity, unit)}: it spills at the air gap each time it runs. Take a larger line, more grade, or a smaller pump."
        found.append(
            Trouble(
                rule="pump-fits",
                subject=subject,
                status="fail",
                value=rate,
                limit=capacity,
                unit="m3/s",
                message=message,
            )
        )
    if pump_bore is not None and pipe_bore is not None:
        above_zero("pump outlet", pump_bore, "give its inside diameter")
        above_zero("discharge pipe", pipe_bore, "give its inside diameter")
        if pipe_bore < pump_bore * (1 - 1e-9):
            message = f"{subject}: the discharge pipe ({length_text(pipe_bore, unit, 3)}) is smaller than the pump's outlet ({length_text(pump_bore, unit, 3)}). Take the pump's size or larger."
            found.append(
                Trouble(
                    rule="pump-pipe",
                    subject=subject,
                    status="fail",
                    value=pipe_bore,
                    limit=pump_bore,
                    unit="m",
                    message=message,
                )
            )
    return found


def _gap(subject: str, rim: float | None, level: float, unit: str) -> list[Trouble]:
    if rim is None:
        message = f"{subject}: the pump pipe joins the line without an open gap: when the line is blocked or frozen the water goes back to the pit. Leave an open rim outside the wall."
        return [
            Trouble(rule="air-gap", subject=subject, status="flag", value=None, limit=None, unit="m", message=message)
        ]
    finite("air gap rim", rim, "give its elevation, or None without a gap")
    if level >= rim:
        message = f"{subject}: the outlet holds water at {length_text(level, unit)}, not below the air gap's rim at {length_text(rim, unit)}: it spills at the wall. Lower the outlet or raise the rim."
        return [
            Trouble(
                rule="tail-water", subject=subject, status="fail", value=level, limit=rim, unit="m", message=message
            )
        ]
    return []


def _way_back(subject: str, wall: float, outlet: float, distance: float, least: float, unit: str) -> list[Trouble]:
    found = []
    if distance < least * (1 - 1e-9):
        message = f"{subject}: the outlet is {length_text(distance, unit, 1)} from the foundation, {length_text(least, unit, 1)} wanted: the loose fill takes the water back. Carry it farther."
        found.append(
            Trouble(
                rule="sump-outlet-foundation",
                subject=subject,
                status="fail",
                value=distance,
                limit=least,
                unit="m",
                message=message,
            )
        )
    if outlet >= wall:
        message = f"{subject}: the ground at the outlet is {drop_text(outlet - wall, unit)} above the ground at the wall: pumped water walks back to the footing. Move the outlet downhill, and regrade so that the ground falls away."
        found.append(
            Trouble(
                rule="sump-way-back",
                subject=subject,
                status="fail",
                value=outlet - wall,
                limit=0.0,
                unit="m",
                message=message,
            )
        )
    elif distance > 0 and wall - outlet < min(distance, WALL_REACH) / WALL_REACH * WALL_FALL * (1 - 1e-9):
        asked = min(distance, WALL_REACH) / WALL_REACH * WALL_FALL
        message = f"{subject}: the ground falls {drop_text(wall - outlet, unit)} from the wall to the outlet, {drop_text(asked, unit)} wanted. Regrade so that it falls 6 in in the first 10 ft."
        found.append(
            Trouble(
                rule="wall-fall",
                subject=subject,
                status="flag",
                value=wall - outlet,
                limit=asked,
                unit="m",
                message=message,
            )
        )
    return found


def pit_troubles(
    subject: str,
    diameter: float,
    depth: float,
    *,
    rise: float | None = None,
    rate: float | None = None,
    unit: str = "ft",
) -> tuple[Trouble, ...]:
    """Whether a pit is as large as the codes ask and its pump does not start too often.

    Parameters
    ----------
    subject : str
        Id of the source.
    diameter, depth : float
        Of the pit, above 0 [m].
    rise : float, optional
        On level above off level, above 0 and at most the depth [m].
    rate : float, optional
        Pump rate, above 0 [m3/s].
    unit : str
        The user's length unit, for messages.

    Returns
    -------
    tuple of Trouble
        Empty when all is well.

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    IRC 2021 P3303.1.2 and IPC 2018 1113.1.2 (read). One start a minute at most: common practice, no source.
    """
    above_zero("pit diameter", diameter, "give metres inside")
    above_zero("pit depth", depth, "give metres inside")
    found = []
    if diameter < PIT_DIAMETER * (1 - 1e-9) or depth < PIT_DEPTH * (1 - 1e-9):
        message = f"{subject}: the pit is {length_text(diameter, unit)} across and {length_text(depth, unit)} deep; codes ask {length_text(PIT_DIAMETER, unit)} by {length_text(PIT_DEPTH, unit)} unless otherwise approved. Take a larger pit, or show the approval."
        found.append(
            Trouble(
                rule="pit-size",
                subject=subject,
                status="flag",
                value=diameter,
                limit=PIT_DIAMETER,
                unit="m",
                message=message,
            )
        )
    if rise is not None and rate is not None:
        within("rise between off and on", rise, 0.0, depth, "give the float's travel, inside the pit")
        cycle = shortest_cycle(pit_volume(diameter, rise), rate)
        if cycle < LEAST_CYCLE * (1 - 1e-9):
            message = f"{subject}: at half its rate flowing in the pump starts every {cycle:.0f} s, {LEAST_CYCLE:.0f} s wanted. Let the float travel farther, widen the pit, or take a smaller pump."
            found.append(
                Trouble(
                    rule="pump-cycle",
                    subject=subject,
                    status="flag",
                    value=cycle,
                    limit=LEAST_CYCLE,
                    unit="s",
                    message=message,
                )
            )
    return tuple(found)
