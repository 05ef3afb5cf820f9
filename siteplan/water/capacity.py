"""Bore, grade and roughness in; what a round pipe carries, how deep and how fast its water runs, out.

Of two depths that carry the same flow the lower is meant everywhere. "80 % full" is said in one of two ways that
differ: a depth of 0.80 bore carries 97.7 % of the full flow; 80 % of the full flow runs 0.68 bore deep.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Literal

from siteplan.water.section import GRAVITY, segment_factor, wetted_angle
from siteplan.water.trouble import above_zero, at_least_zero, within_time

FillOf = Literal["depth", "flow"]
FILL = 0.80
FILL_OF: FillOf = "depth"


@dataclass(frozen=True, slots=True, kw_only=True)
class PartFull:
    """Part-full pipe flow over full-pipe flow at the same grade and roughness, each a ratio [-]."""

    depth: float
    area: float
    radius: float
    velocity: float
    flow: float


def full_flow(bore: float, grade: float, roughness: float) -> float:
    """Flow of a round pipe just full without pressure.

    Parameters
    ----------
    bore : float
        True inside diameter, above 0 [m].
    grade : float
        Fall over length, above 0 [-].
    roughness : float
        Manning n, above 0 [s/m^(1/3)].

    Returns
    -------
    float
        Flow [m3/s].

    Raises
    ------
    ValueError
        If any of the three is not above 0.

    References
    ----------
    Manning's equation with R = D/4: Q = A (D/4)^(2/3) S^(1/2) / n, any hydraulics text.

    Examples
    --------
    >>> from siteplan.units import GALLON_PER_MINUTE, INCH
    >>> round(full_flow(3.975 * INCH, 0.01, 0.011) / GALLON_PER_MINUTE)
    99
    """
    above_zero("bore", bore, "give the inside diameter of the pipe in metres")
    above_zero("grade", grade, "a pipe without fall carries nothing by gravity; give fall over length")
    above_zero("roughness", roughness, "give Manning n, for example 0.011 for smooth plastic")
    return math.pi * bore**2 / 4 * math.pow(bore / 4, 2 / 3) * math.sqrt(grade) / roughness


def full_velocity(bore: float, grade: float, roughness: float) -> float:
    """Velocity of a round pipe flowing just full.

    Parameters
    ----------
    bore : float
        True inside diameter, above 0 [m].
    grade : float
        Fall over length, above 0 [-].
    roughness : float
        Manning n, above 0 [s/m^(1/3)].

    Returns
    -------
    float
        Velocity [m/s].

    Raises
    ------
    ValueError
        If any of the three is not above 0.

    References
    ----------
    Manning's equation with R = D/4.
    """
    return full_flow(bore, grade, roughness) / (math.pi * bore**2 / 4)


def full_friction_slope(flow: float, bore: float, roughness: float) -> float:
    """Slope of the head line of a pipe running full, under pressure or not: S (Q/Qfull)^2 without needing S.

    Parameters
    ----------
    flow : float
        Flow, 0 or above [m3/s].
    bore : float
        True inside diameter, above 0 [m].
    roughness : float
        Manning n, above 0 [s/m^(1/3)].

    Returns
    -------
    float
        Friction slope [-].

    Raises
    ------
    ValueError
        If the flow is below 0, or bore or roughness is not above 0.

    References
    ----------
    Manning's equation for a full pipe.
    """
    at_least_zero("flow", flow, "give the flow in m3/s")
    return (flow / full_flow(bore, 1.0, roughness)) ** 2


def part_full(depth_ratio: float) -> PartFull:
    """Area, hydraulic radius, velocity and flow of a part-full pipe over those of the full pipe.

    Parameters
    ----------
    depth_ratio : float
        Depth over bore, 0 to 1 [-].

    Returns
    -------
    PartFull
        Ratios [-].

    Raises
    ------
    ValueError
        If the ratio lies outside 0 to 1.

    References
    ----------
    Circle geometry with Manning's equation, n constant; tabulated in Chow, Open-Channel Hydraulics (1959),
    appendix A (memory). With n that varies with depth (Camp 1946) the flow at half depth would be 0.40, not 0.50
    (memory).
    """
    if 1.0 < depth_ratio < 1.0 + 1e-12:
        depth_ratio = 1.0  # a division's last digit
    within_time("depth over bore", depth_ratio, 0.0, 1.0, "give water depth divided by inside diameter")
    angle = wetted_angle(depth_ratio)
    if angle == 0.0:
        return PartFull(depth=0.0, area=0.0, radius=0.0, velocity=0.0, flow=0.0)
    segment = segment_factor(angle)
    area = segment / (2 * math.pi)
    radius = segment / angle
    velocity = radius ** (2 / 3)
    return PartFull(depth=depth_ratio, area=area, radius=radius, velocity=velocity, flow=area * velocity)


@cache
def greatest_flow() -> tuple[float, float]:
    """Depth ratio at which a round pipe carries most, and how much more than full.

    Returns
    -------
    tuple of float
        Depth over bore, 0.938, and flow over full flow, 1.076 [-].

    References
    ----------
    Derivative of Manning's equation for a circle: 3a - 5a cos a + 2 sin a = 0 at the wetted angle a; by bisection.
    """
    angle = _root(lambda a: 3 * a - 5 * a * math.cos(a) + 2 * math.sin(a), 4.0, 6.0)
    ratio = math.sin(angle / 4) ** 2
    return ratio, part_full(ratio).flow


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    positive_low = function(low) > 0
    for _ in range(80):
        middle = (low + high) / 2
        if (function(middle) > 0) == positive_low:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def depth_ratios(flow_ratio: float) -> tuple[float | None, float | None]:
    """The two depths at which a round pipe carries a flow; most flows have one.

    Parameters
    ----------
    flow_ratio : float
        Flow over the full flow, 0 or above [-].

    Returns
    -------
    tuple
        Lower depth over bore [-], None above 1.0757 (it does not pass part-full), and the upper one [-],
        None where there is none (below the full flow or above 1.0757).

    Raises
    ------
    ValueError
        If the ratio is below 0 or no number.

    References
    ----------
    Circle geometry with Manning's equation, n constant. By bisection on the wetted angle.

    Examples
    --------
    >>> [round(ratio, 4) for ratio in depth_ratios(1.0)]
    [0.8196, 1.0]
    """
    at_least_zero("flow over full flow", flow_ratio, "give design flow divided by full-pipe flow")
    crest, most = greatest_flow()
    if flow_ratio > most:
        return None, None
    target = flow_ratio * (2 * math.pi)  # segment^(5/3) / angle^(2/3)
    low, high = 0.0, wetted_angle(crest)
    for _ in range(56):
        middle = (low + high) / 2
        if segment_factor(middle) ** (5 / 3) < target * middle ** (2 / 3):
            low = middle
        else:
            high = middle
    lower = math.sin(high / 4) ** 2 if flow_ratio > 0 else 0.0
    if flow_ratio < 1.0:
        return lower, None
    low, high = wetted_angle(crest), 2 * math.pi
    for _ in range(56):
        middle = (low + high) / 2
        if segment_factor(middle) ** (5 / 3) > target * middle ** (2 / 3):
            low = middle
        else:
            high = middle
    return lower, math.sin(low / 4) ** 2


def normal_depth(flow: float, bore: float, grade: float, roughness: float) -> float | None:
    """Depth of even flow in a round pipe, the lower of two.

    Parameters
    ----------
    flow : float
        Flow, 0 or above [m3/s].
    bore : float
        True inside diameter, above 0 [m].
    grade : float
        Fall over length, above 0 [-].
    roughness : float
        Manning n, above 0 [s/m^(1/3)].

    Returns
    -------
    float or None
        Depth [m]; None when the flow is more than 1.0757 of the full flow, it then runs under pressure.

    Raises
    ------
    ValueError
        If the flow is below 0, or any other is not above 0.

    References
    ----------
    Manning's equation, n constant with depth.
    """
    at_least_zero("flow", flow, "give the flow in m3/s")
    lower, _ = depth_ratios(flow / full_flow(bore, grade, roughness))
    return None if lower is None else lower * bore


def design_share(fill: float, fill_of: FillOf) -> float:
    """Share of the full flow that a design fill allows.

    Parameters
    ----------
    fill : float
        The fill, above 0 and at most 1 [-].
    fill_of : str
        'depth': depth over bore (0.80 gives 0.977); 'flow': flow over full flow (0.80 gives 0.80).

    Returns
    -------
    float
        Design flow over full flow, never above 1 [-].

    Raises
    ------
    ValueError
        If the fill is out of range or `fill_of` is neither.

    References
    ----------
    Circle geometry with Manning's equation. Storm mains are sized flowing full in a plumbing data book (HY052);
    a fill below 1 is practice. Above 0.82 of the depth a pipe would carry more than full, which no design counts on.
    """
    above_zero("design fill", fill, "give a share above 0 and at most 1, such as 0.80")
    within_time("design fill", fill, 0.0, 1.0, "give a share above 0 and at most 1, such as 0.80")
    if fill_of == "flow":
        return fill
    if fill_of == "depth":
        return min(part_full(fill).flow, 1.0)
    raise ValueError(f"design fill is of {fill_of!r}: say 'depth' (y/D) or 'flow' (Q/Qfull), the two differ")


def pressure_velocity_head(flow: float, bore: float) -> float:
    """Velocity head of a full pipe.

    Parameters
    ----------
    flow : float
        Flow, 0 or above [m3/s].
    bore : float
        True inside diameter, above 0 [m].

    Returns
    -------
    float
        Head [m].

    Raises
    ------
    ValueError
        If the flow is below 0 or the bore is not above 0.

    References
    ----------
    Bernoulli: V^2 / 2g.
    """
    at_least_zero("flow", flow, "give the flow in m3/s")
    above_zero("bore", bore, "give the inside diameter of the pipe in metres")
    return (flow / (math.pi * bore**2 / 4)) ** 2 / (2 * GRAVITY)
