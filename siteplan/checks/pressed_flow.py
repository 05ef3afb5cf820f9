"""A line under pressure and its pump in; heads, the flow that results, what runs back and what stands full, out.

Arithmetic of the checks' own.

Friction is worked in gallons, inches and feet, as the tables in print are; the planner works it in SI.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from siteplan import units
from siteplan.books.practice import JOINTS_GIVE
from siteplan.books.pumping import LOSSES, RUN_OUT, SHUT_OFF, SMOOTHNESS
from siteplan.checks.walk import Floats, Walk, turn_at
from siteplan.values.water_ends import Pump

GRAVITY = 9.80665  # m/s2
_STEPS = 4000  # of a curve that is walked for where it meets the line's


class PressedFigures(NamedTuple):
    """Heads [m], flow [m3/s], lengths [m], what runs back [m3] and the shortest cycle [s], found anew. Flow 0.

    Nothing comes out.
    """

    static: float
    length: float
    losses: float
    flow: float
    standing: float
    fallen: float
    cycle: float | None
    stands: tuple[tuple[float, float], ...]  # stations between which it stands full


def friction_again(flow: float, bore: float, length: float, smoothness: float) -> float:
    """Head lost to friction along a full pipe.

    Parameters
    ----------
    flow : float
        [m3/s]
    bore, length : float
        [m]
    smoothness : float
        Hazen and Williams' C [-].

    Returns
    -------
    float
        Head [m of water].

    References
    ----------
    Hazen and Williams in the form that US tables are made from: f = 0.2083 (100 / C)^1.852 q^1.852 / d^4.8655, feet in
    100 feet, q in gallons a minute, d in inches (memory); held against Illinois Administrative Code, title 77, part
    906, appendix A, exhibit I (read).
    """
    gallons, inches = flow / units.GALLON_PER_MINUTE, bore / units.INCH
    return (
        0.2083 * math.pow(100 / smoothness, 1.852) * math.pow(gallons, 1.852) / math.pow(inches, 4.8655) * length / 100
    )


def head_asked(figures: PressedFigures, bore: float, flow: float) -> tuple[float, float]:
    """Heads lost to friction and in fittings at a flow [m].

    Parameters
    ----------
    figures : PressedFigures
        Length and losses of the line.
    bore : float
        [m]
    flow : float
        [m3/s]

    Returns
    -------
    tuple of float
        Friction, fittings [m].
    """
    speed = 4 * flow / (math.pi * bore * bore)
    return friction_again(flow, bore, figures.length, float(SMOOTHNESS)), figures.losses * speed * speed / 2 / GRAVITY


def head_given(pump: Pump, flow: Floats) -> Floats:
    """Head of a pump at flows.

    Parameters
    ----------
    pump : Pump
        With a curve or a rated point.
    flow : ndarray [m3/s]
        At or below the curve's last.

    Returns
    -------
    ndarray [m]
        Through a rated point the parabola from 4/3 of its head; else straight between the points given.
    """
    if len(pump.curve) == 1:
        rated, head = pump.curve[0]
        top = float(SHUT_OFF) * head
        return np.asarray(top - (top - head) * (flow / rated) ** 2)
    flows, heads = np.array(pump.curve).T
    found: Floats = np.interp(flow, flows, heads)
    return found


def figures_again(walk: Walk, pump: Pump) -> PressedFigures:
    """What a line's vertices and its pump make of each other.

    Parameters
    ----------
    walk : Walk
        The walked line.
    pump : Pump
        As surveyed.

    Returns
    -------
    PressedFigures
        Flow 0 for a pump that is not stated, or does not lift so high.
    """
    bore = walk.line.pipe.bore
    rise = np.hypot(np.diff(walk.at), np.diff(walk.inverts))
    riser = max(float(walk.inverts[-1]) - pump.off_level, 0.0)
    static = float(walk.inverts.max()) + bore - pump.off_level
    turns = [turn_at(*walk.corners[k : k + 3]) for k in range(len(walk.corners) - 2)]
    losses = float(LOSSES["entry"] + LOSSES["riser"] + LOSSES["exit"]) + float(LOSSES["check_valve"]) * pump.check_valve
    losses += sum(float(LOSSES["turn_45"]) * turn / 45 for turn in turns if turn > JOINTS_GIVE)
    back, stands = _kept(walk, check_valve=pump.check_valve)
    fallen = 0.0 if pump.check_valve else (back + riser) * math.pi / 4 * bore**2
    bare = PressedFigures(
        static=static,
        length=float(rise.sum()) + riser,
        losses=losses,
        flow=0.0,
        standing=sum(end - start for start, end in stands),
        fallen=fallen,
        cycle=None,
        stands=stands,
    )
    flow = _meeting(bare, bore, pump) if pump.curve else 0.0
    cycle = None
    if pump.storage and flow > 0:
        # both roots of the two fillings, as the shortest of all inflows makes them
        kept = pump.storage - fallen
        cycle = 0.0 if kept <= 0 else (kept + pump.storage + 2 * math.sqrt(kept * pump.storage)) / flow
    return bare._replace(flow=flow, cycle=cycle)


def _meeting(bare: PressedFigures, bore: float, pump: Pump) -> float:
    """Flow at which the pump's head is first no more than the line's.

    Walked along the curve and drawn straight over the last step.
    """
    last = pump.curve[-1][0] * (float(RUN_OUT) if len(pump.curve) == 1 else 1.0)
    flow = np.linspace(0.0, last, _STEPS + 1)
    lost = np.array([sum(head_asked(bare, bore, float(q))) for q in flow])
    over = head_given(pump, flow) - bare.static - lost
    if over[0] <= 0:
        return 0.0
    short = np.flatnonzero(over <= 0)
    if not short.size:
        return last
    k = int(short[0])
    return float(flow[k - 1] + (flow[k] - flow[k - 1]) * over[k - 1] / (over[k - 1] - over[k]))


def _kept(walk: Walk, *, check_valve: bool) -> tuple[float, tuple[tuple[float, float], ...]]:
    """Length that empties towards the pit without a valve, and stations between which water stands.

    By samples of the walk.
    """
    top = int(np.argmax(walk.z))
    towards_pit, towards_end = walk.z[top:][::-1], walk.z[: top + 1]
    # a sample empties where nothing between it and the open end is higher, and the pipe there is not level
    empties = np.zeros(len(walk.s) - 1, bool)
    for part, offset in ((towards_end, 0), (towards_pit, top)):
        crest = np.maximum.accumulate(part)
        up = (part[1:] > part[:-1] + 1e-9) & (part[1:] >= crest[1:] - 1e-9)
        span = up if offset == 0 and part is towards_end else up[::-1]
        empties[offset : offset + len(span)] |= span
    length = np.diff(walk.s)
    back = float(length[top:][empties[top:]].sum())
    if check_valve:
        empties[top:] = False
    stands: list[list[float]] = []
    for k in np.flatnonzero(~empties).tolist():
        start, end = float(walk.s[k]), float(walk.s[k + 1])
        if stands and start - stands[-1][1] < 1e-9:
            stands[-1][1] = end
        else:
            stands.append([start, end])
    return back, tuple((start, end) for start, end in stands)


def sampled(walk: Walk, stands: Sequence[tuple[float, float]]) -> Floats:
    """Covers where water stands.

    Parameters
    ----------
    walk : Walk
        The walked line.
    stands : sequence of (float, float)
        Stations [m].

    Returns
    -------
    ndarray [m]
        Over the pipe's top, of every sample in a stretch; NaN where the ground is not known.
    """
    inside = np.zeros(len(walk.s), bool)
    for start, end in stands:
        inside |= (walk.s >= start - 1e-9) & (walk.s <= end + 1e-9)
    found: Floats = np.where(inside, walk.cover, np.inf)
    return found
