"""A pump, its pit and its discharge pipe in; its rate at the real head and its rhythm, out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from siteplan.water.section import GRAVITY
from siteplan.water.trouble import above_zero, at_least_zero


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """A pump's rhythm at a steady inflow [s]; `off` or `on` None: it never starts, or never stops."""

    on: float | None
    off: float | None

    @property
    def whole(self) -> float | None:
        """From one start to the next [s]."""
        return None if self.on is None or self.off is None else self.on + self.off


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


def pump_cycle(volume: float, inflow: float, rate: float) -> Cycle:
    """How long a pump runs and rests at a steady inflow.

    Parameters
    ----------
    volume : float
        Water between the off and on levels, above 0 [m3].
    inflow : float
        Into the pit, 0 or above [m3/s].
    rate : float
        Pump rate at its real head, above 0 [m3/s].

    Returns
    -------
    Cycle
        Times [s].

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    Volume balance: off = V / inflow, on = V / (rate - inflow); the shortest whole cycle, at half the rate, is 4 V / rate.
    """
    above_zero("pit volume", volume, "give the water between the off and on levels")
    at_least_zero("inflow to the pit", inflow, "give m3/s")
    above_zero("pump rate", rate, "give the pump's rate at its real head")
    return Cycle(on=volume / (rate - inflow) if inflow < rate else None, off=volume / inflow if inflow > 0 else None)


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


def shortest_cycle(volume: float, rate: float) -> float:
    """Shortest time from one start to the next that any inflow can make.

    Parameters
    ----------
    volume : float
        Water between the off and on levels, above 0 [m3].
    rate : float
        Pump rate, above 0 [m3/s].

    Returns
    -------
    float
        Time [s].

    Raises
    ------
    ValueError
        If a value is not above 0.

    References
    ----------
    4 V / rate, reached when the inflow is half the rate; any text on pumping stations (memory).
    """
    above_zero("pit volume", volume, "give the water between the off and on levels")
    above_zero("pump rate", rate, "give the pump's rate at its real head")
    return 4 * volume / rate


def pumped_friction(flow: float, bore: float, smoothness: float = 150.0) -> float:
    """Head lost per length in a pumped pipe running full.

    Parameters
    ----------
    flow : float
        Flow, 0 or above [m3/s].
    bore : float
        True inside diameter, above 0 [m].
    smoothness : float
        Hazen-Williams C, 150 for plastic, above 0 [-].

    Returns
    -------
    float
        Head per length [-].

    Raises
    ------
    ValueError
        If a value is out of range.

    References
    ----------
    Hazen-Williams as first printed, V = 1.318 C R^0.63 S^0.54 in ft, that is 0.8492 in SI (memory). Its rounded forms
    (10.44 or 0.2083 in gpm and in) spread by 1.1 %. Valid for water at 5 to 25 C above 0.3 m/s, not for thin flows.
    """
    at_least_zero("flow", flow, "give the flow in m3/s")
    above_zero("bore", bore, "give the inside diameter of the discharge pipe")
    above_zero("Hazen-Williams C", smoothness, "give 150 for plastic")
    velocity = flow / (math.pi * bore**2 / 4)
    return math.pow(velocity / (0.8492 * smoothness * math.pow(bore / 4, 0.63)), 1 / 0.54)


def working_rate(
    curve: Sequence[tuple[float, float]],
    lift: float,
    length: float,
    bore: float,
    *,
    fittings: float = 0.0,
    smoothness: float = 150.0,
) -> float | None:
    """A pump's rate where its curve meets the head it must give.

    Parameters
    ----------
    curve : sequence of (float, float)
        Flow [m3/s] and head [m] of the pump, flow rising and head falling, at least two.
    lift : float
        From the off level to the discharge end or air gap, 0 or above [m].
    length : float
        Of the discharge pipe, 0 or above [m].
    bore : float
        Of the discharge pipe, above 0 [m].
    fittings : float
        Losses of elbows and check valve in velocity heads [-].
    smoothness : float
        Hazen-Williams C [-].

    Returns
    -------
    float or None
        Rate [m3/s]; the curve's end when the pump could give more; None when it cannot lift the water at all.

    Raises
    ------
    ValueError
        If the curve does not fall or a value is out of range.

    References
    ----------
    Straight lines between the curve's points; friction by `pumped_friction`. By bisection.
    """
    if len(curve) < 2:
        raise ValueError("the pump curve has fewer than two points: give flow and head at two flows or more")
    for (q0, h0), (q1, h1) in pairwise(curve):
        at_least_zero("flow on the pump curve", q0, "give m3/s")
        if not (math.isfinite(h0) and math.isfinite(h1) and q1 > q0 and h1 < h0):
            raise ValueError(
                f"the pump curve does not fall from {q0:g} to {q1:g} m3/s: give rising flows with falling heads"
            )
    at_least_zero("lift", lift, "give metres from the off level to the discharge end")
    at_least_zero("length of the discharge pipe", length, "give metres")
    above_zero("bore", bore, "give the inside diameter of the discharge pipe")
    at_least_zero("fittings", fittings, "give velocity heads")

    def spare(flow: float) -> float:
        velocity = flow / (math.pi * bore**2 / 4)
        return (
            _on_curve(curve, flow)
            - lift
            - length * pumped_friction(flow, bore, smoothness)
            - fittings * velocity**2 / (2 * GRAVITY)
        )

    low, high = curve[0][0], curve[-1][0]
    if spare(low) <= 0:
        return None
    if spare(high) >= 0:
        return high
    for _ in range(70):
        middle = (low + high) / 2
        if spare(middle) > 0:
            low = middle
        else:
            high = middle
    return low


def _on_curve(curve: Sequence[tuple[float, float]], flow: float) -> float:
    for (q0, h0), (q1, h1) in pairwise(curve):
        if flow <= q1:
            return h0 + (h1 - h0) * (flow - q0) / (q1 - q0)
    return curve[-1][1]
