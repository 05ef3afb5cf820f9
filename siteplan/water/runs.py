"""One run and its design flow in; both capacities, depth, velocity, and what is wrong, out."""

from __future__ import annotations

import math
from dataclasses import dataclass

from siteplan.units import FOOT, flow_text, grade_text, length_text
from siteplan.water.capacity import (
    FILL,
    FILL_OF,
    FillOf,
    design_share,
    full_flow,
    full_velocity,
    grade_for_velocity,
    normal_depth,
    part_full,
)
from siteplan.water.section import Circle, critical_depth
from siteplan.water.trouble import Trouble, above_zero, at_least_zero, finite

SELF_CLEANING = 2.0 * FOOT  # m/s flowing full; a plumbing data book and sewer ordinances (read)
TOP_VELOCITY = 15.0 * FOOT  # m/s; a city storm drain ordinance, Irving TX 35-29.4 (read)
_ROUND = 1e-9  # a share above 1 by less than this is rounding


@dataclass(frozen=True, slots=True, kw_only=True)
class RunWater:
    """How one run carries its flow.

    Attributes
    ----------
    subject : str
        Id of the run.
    flow : float or None
        Design flow [m3/s]; None: not known, then nothing below that needs it is known either.
    bore, grade, roughness : float
        As given [m], [-], [s/m^(1/3)].
    full, design : float or None
        Capacity flowing full and at the design fill [m3/s]; None without fall.
    fill, fill_of : float, str
        The design fill and whether it is of the depth or of the flow.
    depth, velocity : float or None
        Normal depth [m] and its velocity [m/s]; None when the flow does not pass part-full.
    velocity_full : float or None
        Velocity flowing full [m/s].
    critical : float or None
        Critical depth [m].
    rapid : bool or None
        Whether even flow is faster than critical.
    troubles : tuple of Trouble
        What is wrong, worst first.
    """

    subject: str
    flow: float | None
    bore: float
    grade: float
    roughness: float
    full: float | None
    design: float | None
    fill: float
    fill_of: FillOf
    depth: float | None
    velocity: float | None
    velocity_full: float | None
    critical: float | None
    rapid: bool | None
    troubles: tuple[Trouble, ...]


def run_water(
    subject: str,
    flow: float | None,
    bore: float,
    grade: float,
    roughness: float,
    *,
    fill: float = FILL,
    fill_of: FillOf = FILL_OF,
    self_cleaning: float | None = SELF_CLEANING,
    top_velocity: float | None = TOP_VELOCITY,
    unit: str = "ft",
) -> RunWater:
    """How one run carries its design flow, and what is wrong with that.

    A run without fall or with more flow than it carries is a result with its trouble, not an error.

    Parameters
    ----------
    subject : str
        Id of the run.
    flow : float or None
        Design flow, 0 or above [m3/s]; None: not known.
    bore : float
        True inside diameter, above 0 [m].
    grade : float
        Fall over length towards the outlet [-].
    roughness : float
        Manning n, above 0 [s/m^(1/3)].
    fill : float
        Design fill [-].
    fill_of : str
        'depth' or 'flow', see `design_share`.
    self_cleaning, top_velocity : float or None
        Least velocity flowing full and greatest velocity at the design flow [m/s]; None: not asked.
    unit : str
        The user's length unit, for messages: ft, us-ft or m.

    Returns
    -------
    RunWater
        Both limits, shares, depth, velocity and troubles.

    Raises
    ------
    ValueError
        If bore or roughness is not above 0, the flow is below 0, or the grade is no number.

    References
    ----------
    Manning's equation; critical depth from least specific energy. Velocity limits: see SELF_CLEANING, TOP_VELOCITY.
    """
    above_zero("bore", bore, "give the inside diameter of the pipe in metres")
    above_zero("roughness", roughness, "give Manning n, for example 0.011 for smooth plastic")
    finite("grade", grade, "give fall over length")
    if flow is not None:
        at_least_zero("flow", flow, "give the flow in m3/s, or None when it is not known")
    share = design_share(fill, fill_of)
    critical = None if flow is None else critical_depth(Circle(bore=bore), flow)
    if grade <= 0:
        message = f"{subject}: the run has no fall ({grade_text(grade)}) and carries nothing by gravity. Lower its outlet end or raise its start."
        trouble = Trouble(
            rule="continuous-fall", subject=subject, status="fail", value=grade, limit=0.0, unit="-", message=message
        )
        return RunWater(
            subject=subject, flow=flow, bore=bore, grade=grade, roughness=roughness, full=None, design=None, fill=fill,
            fill_of=fill_of, depth=None, velocity=None, velocity_full=None,
            critical=critical, rapid=None, troubles=(trouble,),
        )  # fmt: skip
    full = full_flow(bore, grade, roughness)
    design = full * share
    swift = full_velocity(bore, grade, roughness)
    depth = velocity = rapid = None
    if flow is not None:
        depth = normal_depth(flow, bore, grade, roughness)
        velocity = flow / (math.pi * bore**2 / 4) if depth is None else part_full(depth / bore).velocity * swift
        rapid = None if depth is None or critical is None else depth < critical
    troubles = (
        *_too_much(subject, flow, full, design, unit),
        *_too_slow(subject, swift, bore, roughness, self_cleaning, unit),
        *_too_fast(subject, velocity, top_velocity, unit),
    )
    return RunWater(
        subject=subject, flow=flow, bore=bore, grade=grade, roughness=roughness, full=full, design=design, fill=fill,
        fill_of=fill_of, depth=depth, velocity=velocity, velocity_full=swift,
        critical=critical, rapid=rapid, troubles=troubles,
    )  # fmt: skip


def _too_much(subject: str, flow: float | None, full: float, design: float, unit: str) -> tuple[Trouble, ...]:
    if flow is None or flow <= design * (1 + _ROUND):
        return ()
    over = flow > full * (1 + _ROUND)
    bound = full if over else design
    what = "full pipe carries" if over else "design fill carries"
    mend = (
        "Take a larger pipe, more grade, or less water."
        if over
        else "It still runs below full; a larger pipe or more grade brings it under the design fill."
    )
    message = f"{subject}: {flow_text(flow, unit)} comes and the {what} {flow_text(bound, unit)}. {mend}"
    return (
        Trouble(
            rule="run-capacity",
            subject=subject,
            status="fail" if over else "flag",
            value=flow,
            limit=bound,
            unit="m3/s",
            message=message,
        ),
    )


def _too_slow(
    subject: str, swift: float, bore: float, roughness: float, least: float | None, unit: str
) -> tuple[Trouble, ...]:
    if least is None or swift >= least * (1 - _ROUND):
        return ()
    need = grade_for_velocity(least, bore, roughness)
    message = (
        f"{subject}: flowing full it runs {length_text(swift, unit)}/s, below the self-cleaning {length_text(least, unit)}/s. "
        f"It would take {grade_text(need)} at this bore and roughness."
    )
    return (
        Trouble(
            rule="self-cleaning", subject=subject, status="flag", value=swift, limit=least, unit="m/s", message=message
        ),
    )


def _too_fast(subject: str, velocity: float | None, most: float | None, unit: str) -> tuple[Trouble, ...]:
    if most is None or velocity is None or velocity <= most * (1 + _ROUND):
        return ()
    message = f"{subject}: the water runs {length_text(velocity, unit)}/s, above {length_text(most, unit)}/s. Lay it flatter with a drop, or anchor it and armour the outlet."
    return (
        Trouble(
            rule="top-velocity", subject=subject, status="flag", value=velocity, limit=most, unit="m/s", message=message
        ),
    )
