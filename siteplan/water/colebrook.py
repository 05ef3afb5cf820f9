"""Bore, grade and kb in; what a round pipe carries by Prandtl and Colebrook, full or part-full, out.

kb is the roughness in use of a whole line: wall, joints, laying, bends [m]. European tables of drains are made so.
"""

from __future__ import annotations

import math

from siteplan.water.section import GRAVITY, segment_factor, wetted_angle
from siteplan.water.trouble import above_zero, within_time

# of water at 10 degrees C [m2/s], as European tables of drains take it (EN 12056-2 annex B, memory)
_VISCOSITY = 1.31e-6


def flow_part_full(bore: float, grade: float, kb: float, depth_ratio: float = 1.0) -> float:
    """Even flow of a round pipe at a depth.

    Parameters
    ----------
    bore : float
        True inside diameter, above 0 [m].
    grade : float
        Fall over length, above 0 [-].
    kb : float
        Roughness in use, above 0 [m].
    depth_ratio : float
        Depth over bore, 0 to 1; 1 is just full [-].

    Returns
    -------
    float
        Flow [m3/s].

    Raises
    ------
    ValueError
        If bore, grade or kb is not above 0, or the ratio lies outside 0 to 1.

    References
    ----------
    Colebrook, Turbulent flow in pipes, J. Inst. Civ. Eng. 11 (1939), solved for the velocity, with four times the
    hydraulic radius in the place of the bore: v = -2 lg(2.51 nu / (d r) + kb / (3.71 d)) r with r = sqrt(2 g d S).

    Examples
    --------
    >>> round(1000 * flow_part_full(0.146, 0.01, 0.001, 0.7), 1)
    12.8
    """
    above_zero("bore", bore, "give the inside diameter of the pipe in metres")
    above_zero("grade", grade, "a pipe without fall carries nothing by gravity; give fall over length")
    above_zero("kb", kb, "give the roughness in use in metres, for example 0.001")
    within_time("depth over bore", depth_ratio, 0.0, 1.0, "give water depth divided by inside diameter")
    angle = wetted_angle(depth_ratio)
    if angle == 0.0:
        return 0.0
    segment = segment_factor(angle)
    wide = bore * segment / angle  # four times the hydraulic radius
    root = math.sqrt(2 * GRAVITY * wide * grade)
    inner = 2.51 * _VISCOSITY / (wide * root) + kb / (3.71 * wide)
    return max(-2 * math.log10(inner), 0.0) * root * bore**2 / 8 * segment if inner < 1 else 0.0


def equal_roughness(bore: float, grade: float, kb: float) -> float:
    """Manning n with which a pipe carries the same flowing full at a grade.

    Parameters
    ----------
    bore : float
        True inside diameter, above 0 [m].
    grade : float
        Fall over length, above 0 [-].
    kb : float
        Roughness in use, above 0 [m].

    Returns
    -------
    float
        Manning n [s/m^(1/3)].

    Raises
    ------
    ValueError
        If bore, grade or kb is not above 0, or kb is so large that the pipe carries nothing.

    References
    ----------
    `flow_part_full` at the full bore set equal to Manning's equation with R = D/4.
    """
    flow = above_zero("full flow", flow_part_full(bore, grade, kb), "give a smaller kb")
    return math.pi * bore**2 / 4 * math.pow(bore / 4, 2 / 3) * math.sqrt(grade) / flow
