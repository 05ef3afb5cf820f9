"""An outlet at a curb or swale in; what a hole passes, how many fit, and how deep the water outside runs, out."""

from __future__ import annotations

import math
from dataclasses import dataclass

from siteplan.water.trouble import above_zero, at_least_zero


@dataclass(frozen=True, slots=True, kw_only=True)
class CurbHoles:
    """How many holes a flow asks for and how many a curb takes.

    Attributes
    ----------
    needed, fitting : int
        Holes the flow asks for; holes that fit the length at the spacing.
    concrete : float
        Left over a hole [m].
    """

    needed: int
    fitting: int
    concrete: float


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


def curb_holes(
    flow: float,
    each: float,
    *,
    curb_height: float,
    opening_height: float,
    opening_width: float,
    curb_length: float,
    between: float,
    lift: float = 0.0,
) -> CurbHoles:
    """How many holes a flow needs, how many fit the curb, and the concrete left over them.

    Parameters
    ----------
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

    Returns
    -------
    CurbHoles
        Counts and concrete.

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    Geometry. A city's detail and permit decide.
    """
    at_least_zero("flow", flow, "give the flow in m3/s")
    above_zero("capacity of one hole", each, "give what one hole passes")
    above_zero("width of the hole", opening_width, "give the outside width of the pipe through the curb")
    at_least_zero("length of curb", curb_length, "give the length that may be drilled")
    at_least_zero("concrete between holes", between, "give the clear spacing")
    left = concrete_left(curb_height, opening_height, lift=lift)
    needed = max(1, math.ceil(flow / each - 1e-9))
    fitting = max(0, math.floor((curb_length + between) / (opening_width + between) + 1e-9))
    return CurbHoles(needed=needed, fitting=fitting, concrete=left)
