"""An outlet at a curb or swale in; what a hole passes, how many fit, and how deep the water outside runs, out."""

from __future__ import annotations

import math

from siteplan.water.trouble import above_zero, at_least_zero


def holes_for(told: int | None, lines: int) -> int:
    """How many holes at an outlet a line's water may go through.

    Parameters
    ----------
    told : int or None
        Holes that the survey gives; None: it gives none, and one is taken.
    lines : int
        How many lines end there.

    Returns
    -------
    int
        1 where each of several lines has a hole of its own; else all of them, shared by all lines. Common practice, no
        source.
    """
    holes = 1 if told is None else int(told)
    return 1 if holes == lines else holes


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


def curb_holes(flow: float, each: float, *, wide: float, curb_length: float, between: float) -> tuple[int, int]:
    """How many holes a flow needs, and how many fit the curb.

    Parameters
    ----------
    flow : float
        Flow that must leave, 0 or above [m3/s].
    each : float
        What one hole passes, above 0 [m3/s].
    wide : float
        The hole as cut, outside of the pipe, above 0 [m].
    curb_length : float
        Length of curb that may be drilled, 0 or above [m].
    between : float
        Least concrete between two holes, 0 or above [m].

    Returns
    -------
    tuple of int and int
        Holes the flow asks for, at least 1; holes that fit the length at the spacing.

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
    above_zero("width of the hole", wide, "give the outside width of the pipe through the curb")
    at_least_zero("length of curb", curb_length, "give the length that may be drilled")
    at_least_zero("concrete between holes", between, "give the clear spacing")
    needed = max(1, math.ceil(flow / each - 1e-9))
    fitting = max(0, math.floor((curb_length + between) / (wide + between) + 1e-9))
    return needed, fitting
