"""Geometry of a flow section: round pipe or trapezoid (swale, ditch) and a depth in; area, perimeter, width out."""

from __future__ import annotations

import math
from dataclasses import dataclass

from siteplan.water.trouble import above_zero, at_least_zero

# standard gravity [m/s2], exact by definition (third general conference on weights and measures, 1901)
GRAVITY = 9.80665
_TOP_SHARE = 1e6  # an open section is searched up to this many times its own size


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A round pipe by its true bore [m]. Above the crown the area stays full and the depth is a pressure head."""

    bore: float

    def __post_init__(self) -> None:
        above_zero("bore", self.bore, "give the inside diameter of the pipe in metres")


@dataclass(frozen=True, slots=True, kw_only=True)
class Trapezoid:
    """An open channel: bottom width [m] and side slope (run per rise) of each bank [-]; bottom 0 is a triangle."""

    bottom: float
    side: float

    def __post_init__(self) -> None:
        at_least_zero("bottom width", self.bottom, "give metres, 0 for a V-shaped swale")
        at_least_zero("side slope", self.side, "give horizontal run per unit of rise")
        if self.bottom == 0.0 and self.side == 0.0:
            raise ValueError("a channel with neither bottom width nor side slope has no area: give one of the two")


Section = Circle | Trapezoid


def wetted_angle(depth_ratio: float) -> float:
    """Angle at the pipe's centre that the water surface spans.

    Parameters
    ----------
    depth_ratio : float
        Depth over bore, 0 to 1 [-].

    Returns
    -------
    float
        Angle [rad], 0 when empty and 2 pi when full.

    References
    ----------
    Circle geometry: y/D = (1 - cos(angle/2))/2 = sin^2(angle/4), the second form keeps its digits at small depths.
    """
    return 4.0 * math.asin(math.sqrt(min(max(depth_ratio, 0.0), 1.0)))


def segment_factor(angle: float) -> float:
    """Angle less its sine, without loss of digits at small angles.

    Parameters
    ----------
    angle : float
        Angle at the centre [rad].

    Returns
    -------
    float
        Eight times the segment's area over the bore squared [-].

    References
    ----------
    Circle geometry; Taylor series below 0.1 rad (error under 1e-13 of the value).
    """
    if angle > 0.1:
        return angle - math.sin(angle)
    square = angle * angle
    return angle * square / 6 * (1 - square / 20 * (1 - square / 42 * (1 - square / 72)))


def flow_area(section: Section, depth: float) -> float:
    """Area of water in the section.

    Parameters
    ----------
    section : Circle or Trapezoid
        The section.
    depth : float
        Depth above the invert [m].

    Returns
    -------
    float
        Area [m2].

    Raises
    ------
    ValueError
        If the depth is below 0 or no number.

    References
    ----------
    Geometry.
    """
    at_least_zero("depth", depth, "give the water depth above the invert in metres")
    if isinstance(section, Trapezoid):
        return (section.bottom + section.side * depth) * depth
    return section.bore**2 / 8 * segment_factor(wetted_angle(depth / section.bore))


def wetted_perimeter(section: Section, depth: float) -> float:
    """Length of wall that the water touches.

    Parameters
    ----------
    section : Circle or Trapezoid
        The section.
    depth : float
        Depth above the invert [m].

    Returns
    -------
    float
        Perimeter [m].

    Raises
    ------
    ValueError
        If the depth is below 0 or no number.

    References
    ----------
    Geometry.
    """
    at_least_zero("depth", depth, "give the water depth above the invert in metres")
    if isinstance(section, Trapezoid):
        return section.bottom + 2 * depth * math.hypot(1.0, section.side)
    return section.bore * wetted_angle(depth / section.bore) / 2


def top_width(section: Section, depth: float) -> float:
    """Width of the free surface; 0 in a full pipe.

    Parameters
    ----------
    section : Circle or Trapezoid
        The section.
    depth : float
        Depth above the invert [m].

    Returns
    -------
    float
        Width [m].

    Raises
    ------
    ValueError
        If the depth is below 0 or no number.

    References
    ----------
    Geometry.
    """
    at_least_zero("depth", depth, "give the water depth above the invert in metres")
    if isinstance(section, Trapezoid):
        return section.bottom + 2 * section.side * depth
    return 2 * math.sqrt(max(depth * (section.bore - depth), 0.0))


def first_moment(section: Section, depth: float) -> float:
    """Area times the depth of its centroid below the surface: the pressure part of the specific force.

    Parameters
    ----------
    section : Circle or Trapezoid
        The section.
    depth : float
        Depth above the invert; in a pipe it may exceed the bore (pressure) [m].

    Returns
    -------
    float
        First moment [m3].

    Raises
    ------
    ValueError
        If the depth is below 0 or no number.

    References
    ----------
    Chow, Open-Channel Hydraulics (1959), art. 3-7 on the specific force (memory); integrated here.
    """
    at_least_zero("depth", depth, "give the water depth above the invert in metres")
    if isinstance(section, Trapezoid):
        return section.bottom * depth**2 / 2 + section.side * depth**3 / 3
    if depth >= section.bore:
        return math.pi * section.bore**2 / 4 * (depth - section.bore / 2)
    half = wetted_angle(depth / section.bore) / 2
    return section.bore**3 / 24 * (3 * math.sin(half) - math.sin(half) ** 3 - 3 * half * math.cos(half))


def conveyance(section: Section, depth: float, roughness: float) -> float:
    """Flow per square root of the friction slope.

    Parameters
    ----------
    section : Circle or Trapezoid
        The section.
    depth : float
        Depth above the invert [m].
    roughness : float
        Manning n, the same at every depth [s/m^(1/3)].

    Returns
    -------
    float
        Conveyance [m3/s]; 0 at no depth.

    Raises
    ------
    ValueError
        If the depth is below 0 or the roughness is not above 0.

    References
    ----------
    Manning's equation, any hydraulics text; n constant with depth, as codes and highway circulars take it (memory).
    """
    above_zero("roughness", roughness, "give Manning n, for example 0.011 for smooth plastic")
    area = flow_area(section, depth)
    if area <= 0.0:
        return 0.0
    return math.pow(area, 5 / 3) / math.pow(wetted_perimeter(section, depth), 2 / 3) / roughness


def friction_slope(section: Section, depth: float, flow: float, roughness: float) -> float:
    """Slope of the energy line at a flow and depth.

    Parameters
    ----------
    section : Circle or Trapezoid
        The section.
    depth : float
        Depth above the invert, above 0 [m].
    flow : float
        Flow [m3/s].
    roughness : float
        Manning n [s/m^(1/3)].

    Returns
    -------
    float
        Friction slope [-].

    Raises
    ------
    ValueError
        If the depth or the roughness is not above 0.

    References
    ----------
    Manning's equation solved for the slope.
    """
    above_zero("depth", depth, "water that flows has a depth")
    return (flow / conveyance(section, depth, roughness)) ** 2


def velocity_head(section: Section, depth: float, flow: float, *, alpha: float = 1.0) -> float:
    """Velocity head of the mean velocity.

    Parameters
    ----------
    section : Circle or Trapezoid
        The section.
    depth : float
        Depth above the invert, above 0 [m].
    flow : float
        Flow [m3/s].
    alpha : float
        Energy coefficient for uneven velocity [-].

    Returns
    -------
    float
        Head [m].

    Raises
    ------
    ValueError
        If the depth is not above 0.

    References
    ----------
    Bernoulli; alpha as in Chow, Open-Channel Hydraulics (1959), art. 2-7 (memory).
    """
    above_zero("depth", depth, "water that flows has a depth")
    return alpha * (flow / flow_area(section, depth)) ** 2 / (2 * GRAVITY)


def critical_depth(section: Section, flow: float, *, alpha: float = 1.0) -> float:
    """Depth at which the specific energy is least.

    Parameters
    ----------
    section : Circle or Trapezoid
        The section. A round pipe always has a critical depth under its crown.
    flow : float
        Flow, 0 or above [m3/s].
    alpha : float
        Energy coefficient [-].

    Returns
    -------
    float
        Critical depth [m]; 0 without flow.

    Raises
    ------
    ValueError
        If the flow is below 0 or no number.

    References
    ----------
    alpha Q^2 T = g A^3; Chow, Open-Channel Hydraulics (1959), art. 4-2 (memory). By bisection.
    """
    at_least_zero("flow", flow, "give the flow in m3/s")
    if flow == 0.0:
        return 0.0
    if isinstance(section, Circle):
        return _critical_in_circle(section.bore, flow, alpha)
    low, high = 0.0, _high_enough(section, flow, alpha)
    for _ in range(70):
        middle = (low + high) / 2
        area = flow_area(section, middle)
        if alpha * flow**2 * top_width(section, middle) > GRAVITY * area**3:
            low = middle
        else:
            high = middle
    return high


def _critical_in_circle(bore: float, flow: float, alpha: float) -> float:
    # on the wetted angle, without calls: the storm test asks this thousands of times
    target = alpha * flow**2 * 512 / (GRAVITY * math.pow(bore, 5))  # segment^3 / sin(angle/2)
    low, high = 0.0, 2 * math.pi
    for _ in range(54):
        middle = (low + high) / 2
        segment = segment_factor(middle)
        if segment * segment * segment < target * math.sin(middle / 2):
            low = middle
        else:
            high = middle
    return bore * math.sin(high / 4) ** 2


def _high_enough(section: Trapezoid, flow: float, alpha: float) -> float:
    depth = 0.1
    while depth < _TOP_SHARE and alpha * flow**2 * top_width(section, depth) > GRAVITY * flow_area(section, depth) ** 3:
        depth *= 2
    return depth
