"""An outlet at a curb or swale in; what a hole passes, how many fit, and how deep the water outside runs, out."""

from __future__ import annotations

import math
from dataclasses import dataclass

from siteplan.units import INCH, flow_text, length_text
from siteplan.water.section import Trapezoid, channel_normal_depth
from siteplan.water.trouble import Trouble, above_zero, at_least_zero

CONCRETE_LEFT = 1.5 * INCH  # least concrete over a curb hole, common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class CurbHoles:
    """How many holes a flow asks for and how many a curb takes.

    Attributes
    ----------
    each : float
        What one hole passes full [m3/s].
    needed, fitting : int
        Holes the flow asks for; holes that fit the length at the spacing.
    concrete : float
        Left over a hole [m].
    troubles : tuple of Trouble
        Too little concrete, too few holes.
    """

    each: float
    needed: int
    fitting: int
    concrete: float
    troubles: tuple[Trouble, ...]


def concrete_left(curb_height: float, opening: float, *, lift: float = 0.0) -> float:
    """Concrete over a hole through a curb.

    Parameters
    ----------
    curb_height : float
        Curb face above the gutter flow line, above 0 [m].
    opening : float
        Height of the hole: the pipe's outside diameter when cored [m].
    lift : float
        Bottom of the hole above the flow line, 0 or above [m].

    Returns
    -------
    float
        Concrete left; below 0 the hole breaks out at the top [m].

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    Geometry.
    """
    above_zero("curb height", curb_height, "give the face above the gutter flow line")
    above_zero("height of the hole", opening, "give the outside diameter of the pipe through the curb")
    at_least_zero("lift of the hole", lift, "give its bottom above the flow line")
    return curb_height - lift - opening


def rectangle_full_flow(width: float, height: float, grade: float, roughness: float) -> float:
    """Flow of a full rectangular opening or flattened outlet pipe.

    Parameters
    ----------
    width, height : float
        Inside, above 0 [m].
    grade : float
        Fall over length, above 0 [-].
    roughness : float
        Manning n [s/m^(1/3)].

    Returns
    -------
    float
        Flow [m3/s].

    Raises
    ------
    ValueError
        If a value is not above 0.

    References
    ----------
    Manning's equation with R = area over perimeter.
    """
    above_zero("width of the opening", width, "give metres inside")
    above_zero("height of the opening", height, "give metres inside")
    above_zero("grade", grade, "an opening without fall carries nothing by gravity")
    above_zero("roughness", roughness, "give Manning n, for example 0.011 for smooth plastic")
    area = width * height
    return area * math.pow(area / (2 * (width + height)), 2 / 3) * math.sqrt(grade) / roughness


def curb_holes(
    subject: str, flow: float, each: float, *, curb_height: float, opening_height: float, opening_width: float,
    curb_length: float, between: float, lift: float = 0.0, least_concrete: float = CONCRETE_LEFT, unit: str = "ft",
) -> CurbHoles:  # fmt: skip
    """How many holes a flow needs, how many fit the curb, and the concrete left over them.

    Parameters
    ----------
    subject : str
        Id of the line or outlet.
    flow : float
        Flow that must leave, 0 or above [m3/s].
    each : float
        What one hole passes, above 0 [m3/s].
    curb_height : float
        Curb face above the gutter flow line, above 0 [m].
    opening_height, opening_width : float
        The hole as cut, outside of the pipe, above 0 [m].
    curb_length : float
        Length of curb that may be drilled, 0 or above [m].
    between : float
        Least concrete between two holes, 0 or above [m].
    lift : float
        Bottom of the hole above the flow line [m].
    least_concrete : float
        Least concrete over a hole [m].
    unit : str
        The user's length unit, for messages.

    Returns
    -------
    CurbHoles
        Counts, concrete and troubles.

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    Geometry; 1.5 in of concrete over the hole is common practice, no source. A city's detail and permit decide.
    """
    at_least_zero("flow", flow, "give the flow in m3/s")
    above_zero("capacity of one hole", each, "give what one hole passes")
    above_zero("width of the hole", opening_width, "give the outside width of the pipe through the curb")
    at_least_zero("length of curb", curb_length, "give the length that may be drilled")
    at_least_zero("concrete between holes", between, "give the clear spacing")
    left = concrete_left(curb_height, opening_height, lift=lift)
    needed = max(1, math.ceil(flow / each - 1e-9))
    fitting = max(0, math.floor((curb_length + between) / (opening_width + between) + 1e-9))
    troubles = []
    if left < least_concrete - 1e-9:
        message = f"{subject}: {length_text(left, unit)} of concrete over the curb hole, {length_text(least_concrete, unit)} wanted. Take a smaller or a flattened outlet pipe, or more holes."
        troubles.append(
            Trouble(
                rule="curb-concrete",
                subject=subject,
                status="fail",
                value=left,
                limit=least_concrete,
                unit="m",
                message=message,
            )
        )
    if needed > fitting:
        message = f"{subject}: {flow_text(flow, unit)} asks for {needed} curb holes of {flow_text(each, unit)} and {fitting} fit {length_text(curb_length, unit, 1)} of curb. Take larger openings, or send part of the water elsewhere."
        troubles.append(
            Trouble(
                rule="curb-holes",
                subject=subject,
                status="fail",
                value=float(needed),
                limit=float(fitting),
                unit="",
                message=message,
            )
        )
    return CurbHoles(each=each, needed=needed, fitting=fitting, concrete=left, troubles=tuple(troubles))


def gutter_depth(flow: float, cross_slope: float, grade: float, roughness: float) -> float:
    """Depth of flow against the curb in a gutter of even cross slope: what a curb outlet must push against.

    Parameters
    ----------
    flow : float
        Gutter flow, 0 or above [m3/s].
    cross_slope : float
        Slope of the gutter towards the curb, above 0 [-].
    grade : float
        Slope along the street, above 0 [-].
    roughness : float
        Manning n of the gutter, 0.016 for pavement in use [s/m^(1/3)].

    Returns
    -------
    float
        Depth at the curb [m].

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    FHWA HEC-22 (3rd ed.), gutter flow: Q = (0.376/n) Sx^1.67 S^0.5 T^2.67 in SI (memory), with the exact
    exponents 5/3 and 8/3; depth = spread times cross slope.
    """
    at_least_zero("gutter flow", flow, "give the flow in the gutter")
    above_zero("cross slope", cross_slope, "give the gutter's slope towards the curb")
    above_zero("grade", grade, "give the street's slope")
    above_zero("roughness", roughness, "give Manning n, 0.016 for pavement")
    spread = math.pow(flow * roughness / (0.376 * math.pow(cross_slope, 5 / 3) * math.sqrt(grade)), 3 / 8)
    return spread * cross_slope


def swale_depth(flow: float, bottom: float, side: float, grade: float, roughness: float) -> float:
    """Depth of flow in a swale: what a daylight outlet into it must push against.

    Parameters
    ----------
    flow : float
        Swale flow, 0 or above [m3/s].
    bottom : float
        Bottom width, 0 for a V [m].
    side : float
        Horizontal run per rise of the banks [-].
    grade : float
        Slope along the swale, above 0 [-].
    roughness : float
        Manning n, 0.030 to 0.050 in grass [s/m^(1/3)].

    Returns
    -------
    float
        Depth [m].

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    Manning's equation, normal depth of a trapezoid.
    """
    return channel_normal_depth(Trapezoid(bottom=bottom, side=side), flow, grade, roughness)
