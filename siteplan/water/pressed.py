"""A full pipe under pressure, a pump's curve and a pit in.

Head lost, the flow that results, what falls back and how often the pump starts, out.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

from siteplan.water.section import GRAVITY
from siteplan.water.trouble import above_zero

Curve = Sequence[tuple[float, float]]

_HALVINGS = 60
_KEPT_DIGITS = 12  # of a flow found by halving: the same on every machine


def velocity(flow: float, bore: float) -> float:
    """Mean velocity in a full pipe.

    Parameters
    ----------
    flow : float
        0 or above [m3/s].
    bore : float
        True inside diameter, above 0 [m].

    Returns
    -------
    float
        [m/s]

    Raises
    ------
    ValueError
        If the bore is not above 0.

    References
    ----------
    Continuity.
    """
    above_zero("bore", bore, "give the inside diameter of the pipe in metres")
    return flow / (math.pi * bore**2 / 4)


def friction_head(flow: float, bore: float, length: float, smoothness: float) -> float:
    """Head lost to friction along a full pipe.

    Parameters
    ----------
    flow : float
        0 or above [m3/s].
    bore : float
        True inside diameter, above 0 [m].
    length : float
        Along the pipe, 0 or above [m].
    smoothness : float
        Hazen and Williams' C, above 0: 150 new plastic, 140 plastic some years old [-].

    Returns
    -------
    float
        Head [m of water].

    Raises
    ------
    ValueError
        If bore or smoothness is not above 0.

    References
    ----------
    Williams and Hazen, Hydraulic Tables (1905), in SI: h = 10.67 L Q^1.852 / (C^1.852 d^4.8704). Valid for water near
    15 degrees C in turbulent flow below about 3 m/s. Held against Illinois Administrative Code, title 77, part 906,
    appendix A, exhibit I (read).

    Examples
    --------
    >>> round(friction_head(40 * 3.785411784e-3 / 60, 2.067 * 0.0254, 100.0, 150), 2)
    2.63
    """
    above_zero("bore", bore, "give the inside diameter of the pipe in metres")
    above_zero("C", smoothness, "give Hazen and Williams' C, 140 or so for plastic")
    return 10.67 * length * math.pow(flow / smoothness, 1.852) / math.pow(bore, 4.8704)


def fitting_head(flow: float, bore: float, losses: float) -> float:
    """Head lost in fittings.

    Parameters
    ----------
    flow : float
        [m3/s]
    bore : float
        Above 0 [m].
    losses : float
        Their sum in velocity heads [-].

    Returns
    -------
    float
        Head [m of water].

    References
    ----------
    h = K v^2 / 2 g; any text on hydraulics (memory).
    """
    return losses * velocity(flow, bore) ** 2 / (2 * GRAVITY)


def curve_of_point(flow: float, head: float, shut_off: float, run_out: float) -> tuple[tuple[float, float], ...]:
    """A falling curve through one rated point, drawn as a parabola in straight pieces.

    Parameters
    ----------
    flow, head : float
        The rated point, above 0 [m3/s, m].
    shut_off : float
        Head at no flow over the rated head, above 1 [-].
    run_out : float
        Flow at no head over the rated flow, above 1 [-].

    Returns
    -------
    tuple of (float, float)
        Flows and heads, the rated point among them.

    References
    ----------
    h = h0 (1 - (q / q0)^e) through no flow, the rated point and no head; common practice, no source.
    """
    above_zero("flow", flow, "give the rated flow")
    above_zero("head", head, "give the rated head")
    power = math.log(1 - 1 / shut_off) / math.log(1 / run_out)
    shares = sorted({k / 20 * run_out for k in range(21)} | {1.0})
    return tuple((share * flow, shut_off * head * (1 - math.pow(share / run_out, power))) for share in shares)


def pump_head(curve: Curve, flow: float) -> float:
    """Head that a pump gives at a flow.

    Parameters
    ----------
    curve : sequence of (float, float)
        Flows and heads, flows rising, heads falling [m3/s, m].
    flow : float
        [m3/s]

    Returns
    -------
    float
        Straight between the points. Below the first point the first head, which is to the safe side; past the last,
        -inf: nobody tells what the pump does there.
    """
    if flow <= curve[0][0]:
        return curve[0][1]
    for (q0, h0), (q1, h1) in itertools.pairwise(curve):
        if flow <= q1:
            return h0 + (h1 - h0) * (flow - q0) / (q1 - q0)
    return -math.inf


def resulting_flow(curve: Curve, asked: Callable[[float], float]) -> float:
    """Flow at which the pump gives just the head that its line asks for.

    Parameters
    ----------
    curve : sequence of (float, float)
        Of the pump [m3/s, m].
    asked : callable
        Head that the line asks for at a flow, rising with it [m].

    Returns
    -------
    float
        Flow [m3/s]; 0 where the pump does not lift to the line's highest place. The last flow of the curve where the
        pump has head to spare there: past it its curve is not known.

    References
    ----------
    Meeting point of the pump's curve and the system's; any text on pumps (memory).
    """
    if pump_head(curve, 0.0) <= asked(0.0):
        return 0.0
    low, high = 0.0, curve[-1][0]
    if curve[-1][1] >= asked(high):
        return high
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if pump_head(curve, middle) > asked(middle) else (low, middle)
    return round(low, _KEPT_DIGITS)


def emptied(profile: Sequence[tuple[float, float]]) -> tuple[float, float, float]:
    """Which lengths of an open line empty when its pump stops and nothing holds the water.

    Parameters
    ----------
    profile : sequence of (float, float)
        Distances and inverts from the pump on, straight between them [m].

    Returns
    -------
    tuple of float
        Length that runs back to the pit, that runs out at the far end, and that stands full in sags [m].

    References
    ----------
    Water leaves a place only where nothing higher lies on the way.
    """
    top = max(range(len(profile)), key=lambda k: profile[k][1])
    back = _rising(profile[: top + 1])
    out = _rising([(-at, z) for at, z in reversed(profile[top:])])
    return back, out, max(profile[-1][0] - profile[0][0] - back - out, 0.0)


def _rising(profile: Sequence[tuple[float, float]]) -> float:
    """Length on the way up that lies higher than all before it."""
    highest, total = profile[0][1], 0.0
    for (s0, z0), (s1, z1) in itertools.pairwise(profile):
        if z1 > highest:
            total += (s1 - s0) * (z1 - max(highest, z0)) / (z1 - z0)
            highest = z1
    return total


def shortest_cycle(storage: float, fallen: float, flow: float) -> float:
    """Shortest time from one start of a pump to the next, over all inflows.

    Parameters
    ----------
    storage : float
        Water of the pit between off and on, above 0 [m3].
    fallen : float
        What runs back into the pit at each stop, 0 or above [m3].
    flow : float
        The pump's, above 0 [m3/s].

    Returns
    -------
    float
        Time [s]; 0 where what falls back starts the pump again by itself.

    Raises
    ------
    ValueError
        If storage or flow is not above 0.

    References
    ----------
    The pit fills in (V - D) / i and is emptied in V / (q - i); least over i: (sqrt(V - D) + sqrt(V))^2 / q, which is
    the known 4 V / q where nothing falls back (memory).
    """
    above_zero("storage", storage, "give the pit's diameter and the float's travel")
    above_zero("flow", flow, "a pump that gives nothing has no cycle")
    if fallen >= storage:
        return 0.0
    return (math.sqrt(storage - fallen) + math.sqrt(storage)) ** 2 / flow


def cycle_at(inflow: float, storage: float, fallen: float, flow: float) -> float:
    """Time from one start of a pump to the next at an inflow.

    Parameters
    ----------
    inflow : float
        Above 0, below the pump's flow [m3/s].
    storage, fallen, flow : float
        As for `shortest_cycle`.

    Returns
    -------
    float
        Time [s]; infinite where the inflow is not above 0, or not below the pump's flow: then it never stops.
    """
    if not 0 < inflow < flow:
        return math.inf
    return max(storage - fallen, 0.0) / inflow + storage / (flow - inflow)
