"""One step along a pipe or channel in; the depth at its other end by the energy equation, out.

And the losses of fittings.
"""

from __future__ import annotations

import math

from siteplan.water.section import Circle, Section, Trapezoid, critical_depth, friction_slope, velocity_head
from siteplan.water.trouble import above_zero, at_least_zero


def bend_loss(turn: float, *, sharp: bool = False) -> float:
    """Loss coefficient of a bend without a manhole.

    Parameters
    ----------
    turn : float
        Turn, 0 or above [degrees].
    sharp : bool
        A short fitting: 0.3 at 45 and 0.9 at 90 degrees instead of a sweep.

    Returns
    -------
    float
        Velocity heads [-].

    Raises
    ------
    ValueError
        If the turn is below 0.

    References
    ----------
    FHWA HEC-22, 0.0033 x degrees (memory); sharp fittings by a handbook (memory), a power through its two values.
    """
    at_least_zero("turn", turn, "give degrees")
    return 0.3 * (turn / 45) ** (math.log(3) / math.log(2)) if sharp else 0.0033 * turn


def wye_loss(angle: float = 45.0) -> float:
    """Loss coefficient of the branch of a wye, in velocity heads of the branch.

    Parameters
    ----------
    angle : float
        Angle of the branch, 0 to 90 [degrees].

    Returns
    -------
    float
        Velocity heads [-].

    Raises
    ------
    ValueError
        If the angle is below 0.

    References
    ----------
    Common practice, no source: 0.5 for a 45 degree wye, 1.0 for a tee, in proportion between.
    """
    at_least_zero("angle of the wye", angle, "give degrees")
    return min(angle / 90, 1.0)


def step_up(
    section: Section,
    flow: float,
    roughness: float,
    length: float,
    rise: float,
    depth: float,
    *,
    critical: float | None = None,
    alpha: float = 1.0,
) -> float:
    """Depth one step upstream in slow flow, from the energy equation.

    Parameters
    ----------
    section : Circle or Trapezoid
        The section, the same at both ends.
    flow : float
        Flow, above 0 [m3/s].
    roughness : float
        Manning n [s/m^(1/3)].
    length : float
        Step along the bed, above 0 [m].
    rise : float
        Rise of the bed upstream over the step [m].
    depth : float
        Depth at the lower end, at least critical [m].
    critical : float, optional
        Critical depth when already known [m].
    alpha : float
        Energy coefficient [-].

    Returns
    -------
    float
        Depth at the upper end; the critical depth when no slow flow is possible there [m].

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    Standard step method, mean of the two friction slopes; Chow, Open-Channel Hydraulics (1959), art. 10-3 (memory).
    """
    above_zero("flow", flow, "give the flow in m3/s")
    above_zero("length of the step", length, "give metres")
    low = critical_depth(section, flow, alpha=alpha) if critical is None else critical
    energy = (
        depth
        + velocity_head(section, depth, flow, alpha=alpha)
        + length / 2 * friction_slope(section, depth, flow, roughness)
        - rise
    )
    return slow_depth(section, flow, energy, length / 2, roughness, low, 0.0, alpha)


def slow_depth(
    section: Section,
    flow: float,
    energy: float,
    half: float,
    roughness: float,
    low: float,
    loss: float,
    alpha: float = 1.0,
) -> float:
    """Depth of slow flow whose energy, less what is lost on the way down, is a given one.

    Parameters
    ----------
    section : Circle or Trapezoid
        The section.
    flow : float
        Flow, above 0 [m3/s].
    energy : float
        Energy known downstream, above this place's invert [m].
    half : float
        Half the length between the two places, 0 at a node [m].
    roughness : float
        Manning n; not used when `half` is 0 [s/m^(1/3)].
    low : float
        Critical depth [m].
    loss : float
        Minor loss between the two places, in velocity heads of this one [-].
    alpha : float
        Energy coefficient [-].

    Returns
    -------
    float
        Depth, above the bore when under pressure; `low` when no slow flow has so little energy [m].

    References
    ----------
    Energy equation; by bisection, and directly under pressure, where the rest is pressure head.
    """

    def excess(depth: float) -> float:
        # the minor loss lies between here and where `energy` was taken, so it adds to what this place must have
        head = depth + (1 - loss) * velocity_head(section, depth, flow, alpha=alpha)
        return head - (half * friction_slope(section, depth, flow, roughness) if half else 0.0) - energy

    if excess(low) >= 0:
        return low
    if isinstance(section, Circle) and excess(section.bore) <= 0:
        return section.bore - excess(section.bore)  # under pressure the rest is pressure head
    high = section.bore if isinstance(section, Circle) else max(2 * low, 0.1)
    while isinstance(section, Trapezoid) and excess(high) < 0:
        high *= 2
    for _ in range(60):
        middle = (low + high) / 2
        if excess(middle) < 0:
            low = middle
        else:
            high = middle
    return high


def rapid_depth(
    section: Circle, flow: float, energy: float, half: float, roughness: float, critical: float
) -> float | None:
    """Depth of rapid flow whose energy, with the friction yet to lose, is a given one.

    Parameters
    ----------
    section : Circle
        The pipe.
    flow : float
        Flow, above 0 [m3/s].
    energy : float
        Energy known upstream, above this place's invert [m].
    half : float
        Half the length between the two places, 0 at a node [m].
    roughness : float
        Manning n; not used when `half` is 0 [s/m^(1/3)].
    critical : float
        Critical depth [m].

    Returns
    -------
    float or None
        Depth [m]; None when the energy is below that of the critical depth.

    References
    ----------
    Energy equation; by bisection.
    """

    def excess(depth: float) -> float:
        friction = half * friction_slope(section, depth, flow, roughness) if half else 0.0
        return depth + velocity_head(section, depth, flow) + friction - energy

    if excess(critical) > 1e-12:
        return None
    low, high = critical * 1e-3, critical
    for _ in range(60):
        middle = (low + high) / 2
        if excess(middle) > 0:
            low = middle
        else:
            high = middle
    return high
