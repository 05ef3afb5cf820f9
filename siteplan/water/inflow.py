"""Areas, covers and a rainfall in; the flow each source gives, with its basis in one sentence, out."""

from __future__ import annotations

from dataclasses import dataclass

from siteplan.units import flow_text
from siteplan.water.rain import MINUTE, Rainfall, read_rain
from siteplan.water.trouble import above_zero, at_least_zero, within_time

SHORT, LONG = 5 * MINUTE, 60 * MINUTE  # answered side by side: how a roof answers, and what plumbing codes print


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
    within_time("runoff coefficient", coefficient, 0.0, 1.0, "give the share that runs off, 1 for a roof")
    return coefficient * intensity * area


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
        source=source,
        flow=flow,
        duration=reading.duration,
        statement=f"{source}: {flow_text(flow, unit)} = {coefficient:g} x {what} area x {reading.statement}",
    )


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
