"""A pump, its pit and its discharge pipe in; its rate at the real head and its rhythm, out."""

from __future__ import annotations

import math

from siteplan.water.trouble import above_zero


def pit_volume(diameter: float, rise: float) -> float:
    """Water between the pump's off and on levels of a round pit.

    Parameters
    ----------
    diameter : float
        Inside diameter, above 0 [m].
    rise : float
        On level above off level, above 0 [m].

    Returns
    -------
    float
        Volume [m3].

    Raises
    ------
    ValueError
        If a value is not above 0.

    References
    ----------
    Geometry.
    """
    above_zero("pit diameter", diameter, "give metres inside")
    above_zero("rise between off and on", rise, "give the float's travel in metres")
    return math.pi * diameter**2 / 4 * rise


def inflow_from_refill(volume: float, refill: float) -> float:
    """Inflow that fills the pit from the off to the on level in an observed time.

    Parameters
    ----------
    volume : float
        Water between the off and on levels, above 0 [m3].
    refill : float
        Observed with the pump at rest, above 0 [s].

    Returns
    -------
    float
        Inflow [m3/s].

    Raises
    ------
    ValueError
        If a value is not above 0.

    References
    ----------
    Volume balance.
    """
    above_zero("pit volume", volume, "give the water between the off and on levels")
    above_zero("refill time", refill, "give seconds with the pump at rest")
    return volume / refill
