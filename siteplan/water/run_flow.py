"""One run and its design flow in; capacity flowing full, depth and velocity out."""

from __future__ import annotations

import math
from dataclasses import dataclass

from siteplan.water.capacity import full_flow, full_velocity, normal_depth, part_full
from siteplan.water.trouble import above_zero, at_least_zero, finite


@dataclass(frozen=True, slots=True, kw_only=True)
class RunWater:
    """How one run carries its flow.

    Attributes
    ----------
    full : float or None
        Capacity flowing full [m3/s]; None without fall.
    depth, velocity : float or None
        Normal depth [m] and its velocity [m/s]; None when the flow is not known or does not pass part-full.
    velocity_full : float or None
        Velocity flowing full [m/s].
    """

    full: float | None
    depth: float | None
    velocity: float | None
    velocity_full: float | None


def run_water(flow: float | None, bore: float, grade: float, roughness: float) -> RunWater:
    """How one run carries its design flow. A run without fall is a result, not an error: it carries nothing.

    Parameters
    ----------
    flow : float or None
        Design flow, 0 or above [m3/s]; None: not known.
    bore : float
        True inside diameter, above 0 [m].
    grade : float
        Fall over length towards the outlet [-].
    roughness : float
        Manning n, above 0 [s/m^(1/3)].

    Returns
    -------
    RunWater
        Capacity, depth, velocity.

    Raises
    ------
    ValueError
        If bore or roughness is not above 0, the flow is below 0, or the grade is no number.

    References
    ----------
    Manning's equation.
    """
    above_zero("bore", bore, "give the inside diameter of the pipe in metres")
    above_zero("roughness", roughness, "give Manning n, for example 0.011 for smooth plastic")
    finite("grade", grade, "give fall over length")
    if flow is not None:
        at_least_zero("flow", flow, "give the flow in m3/s, or None when it is not known")
    if grade <= 0:
        return RunWater(full=None, depth=None, velocity=None, velocity_full=None)
    swift = full_velocity(bore, grade, roughness)
    depth = velocity = None
    if flow is not None:
        depth = normal_depth(flow, bore, grade, roughness)
        velocity = flow / (math.pi * bore**2 / 4) if depth is None else part_full(depth / bore).velocity * swift
    return RunWater(full=full_flow(bore, grade, roughness), depth=depth, velocity=velocity, velocity_full=swift)
