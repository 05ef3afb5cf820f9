"""A walked line in; the weak ground that the recheck finds under it, and the least that water will stand in it, out.

A second way to the forecast: second differences on even nodes instead of cubic elements, stretches found from the
survey instead of those stated. It answers one
question: whether a stated worst pool is too small to be true.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from siteplan import units
from siteplan.books import rules, soils
from siteplan.books.kinds import OUTLETS, SOURCES
from siteplan.books.stock import PipeStock
from siteplan.checks.crossings import area_of
from siteplan.checks.scene import Scene, stock_of
from siteplan.checks.walk import Flags, Floats, Walk, stretches_inside
from siteplan.values.laid_pipe import Pipe

NODE = 0.05  # m between nodes: a fifth of the characteristic length of the limpest pipe on firm ground
_SHORT = 0.05  # m; weaker ground shorter than this is not looked at
_WATER = 62.4 * units.POUND_PER_CUBIC_FOOT
NO_GROUND = 0.002  # m: firm ground shorter than this at an end holds nothing
_PARTS = 25  # of the ground that a node stands for: 2 mm each
_ROUNDS = 60


class Weak(NamedTuple):
    """Weaker ground under a line at its worst guess."""

    start: float
    end: float
    modulus: float  # stiffness per length of pipe [Pa]
    drop: float  # settlement against the ground beside it [m]


def weak_ground(scene: Scene, walk: Walk) -> tuple[Weak, ...]:
    """Weaker ground under a line, from low spots and buildings alone: nothing that the line states of it is read.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    walk : Walk
        The walked line.

    Returns
    -------
    tuple of Weak
        By station, at the worst guess.

    References
    ----------
    Book of soils, groups line_modulus and bed_settlement.
    """
    laying = scene.site.laying
    wet, fill = (soils.value_range("line_modulus", name) for name in ("wet_loose", "loose_fill"))
    clean, churned = (soils.value_range("bed_settlement", name) for name in ("clean", "over_dumped"))
    found = []
    for spot in scene.plan.low_spots:
        area = area_of(spot)
        if area is None:
            continue
        drop = max(clean.high, churned.high * laying.wet_layer) if spot.certain else clean.high
        stiff = wet.low if spot.certain else wet.likely
        found += [Weak(start, end, stiff, drop) for start, end in stretches_inside(walk.corners, walk.at, area)]
    band, house = scene.limit(rules.FOUNDATION_BACKFILL), scene.areas.get("building")
    if band and house is not None and not house.is_empty:
        sinks = soils.value_range("bed_settlement", "house_backfill").high * laying.backfill_depth
        drop = sinks if laying.backfill == "fresh" else clean.high
        near = stretches_inside(walk.corners, walk.at, house.buffer(band))
        found += [Weak(start, end, fill.low, drop) for start, end in near]
    return tuple(sorted(one for one in found if one.end - one.start > _SHORT))


def least_worst_pool(scene: Scene, walk: Walk) -> float:
    """Water that stands in a line at the worst guess of the ground after 50 years, in the pipe of it that ponds least.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    walk : Walk
        The walked line.

    Returns
    -------
    float
        Depth [m]; 0 where there is no weak ground, or no book holds the line's pipes.
    """
    weak = weak_ground(scene, walk)
    held = [stock for pipe in _pipes_on(walk, weak) if (stock := stock_of(scene, pipe)) is not None]
    if not weak or not held or not np.isfinite(walk.cover).any():
        return 0.0
    return min(_pool(scene, walk, stock, weak) for stock in held)


def _pipes_on(walk: Walk, weak: tuple[Weak, ...]) -> list[Pipe]:
    """Pipes that lie on a good part of the weak ground; the line's own where no reach does."""
    lengths: dict[tuple[str, str], tuple[float, Pipe]] = {}
    for reach in walk.line.reaches:
        on = sum(max(0.0, min(reach.station_to, one.end) - max(reach.station_from, one.start)) for one in weak)
        key = reach.pipe.kind, reach.pipe.nominal
        lengths[key] = lengths.get(key, (0.0, reach.pipe))[0] + on, reach.pipe
    longest = max((on for on, _ in lengths.values()), default=0.0)
    return [pipe for on, pipe in lengths.values() if on >= longest / 4 and on > 0] or [walk.line.pipe]


def _pool(scene: Scene, walk: Walk, stock: PipeStock, weak: tuple[Weak, ...]) -> float:
    count = max(8, math.ceil(walk.length / NODE))
    at = np.linspace(0.0, walk.length, count + 1)
    step = walk.length / count
    stiff, drop = _springs(at, step, weak, walk.length)
    known = np.isfinite(walk.ground)
    cover = np.interp(at, walk.s[known], (walk.ground - walk.z)[known] - walk.rise)
    wet = soils.value_range("unit_weight", "wet").likely
    load = wet * stock.pipe.od * np.maximum(cover, 0.0) + stock.weight + _WATER * math.pi / 4 * stock.pipe.bore**2
    laid = np.interp(at, walk.at, walk.inverts)
    deepest = 0.0
    for hinge in _joints(stock, at, weak):
        sag = _sag(stock.bending_long / stock.bending_factor, step, stiff, drop, load, hinge, _ends(scene, walk))
        if sag is not None:
            deepest = max(deepest, float((np.maximum.accumulate(laid - sag) - (laid - sag)).max()))
    return deepest


def _springs(at: Floats, step: float, weak: tuple[Weak, ...], length: float) -> tuple[Floats, Floats]:
    """Stiffness per length, and the settlement it hangs from, of the ground that each node stands for.

    The ground of a node is looked at in parts, because a stub of a branch may hang on its last inch of firm ground.
    """
    edges = np.arange(_PARTS) + 0.5
    part = at[:, None] + (edges / _PARTS - 0.5) * step
    firm = soils.value_range("line_modulus", "firm").low
    stiff, drop = np.full(part.shape, firm), np.zeros(part.shape)
    for one in weak:
        low = -math.inf if one.start < NO_GROUND else one.start
        high = math.inf if one.end > length - NO_GROUND else one.end
        inside = (part > low) & (part < high)
        stiff[inside] = np.minimum(stiff[inside], one.modulus)
        drop[inside] = np.maximum(drop[inside], one.drop)
    there = (part >= 0) & (part <= length)
    whole = (stiff * there).sum(axis=1)
    return whole / there.sum(axis=1), (stiff * drop * there).sum(axis=1) / whole


def _joints(stock: PipeStock, at: Floats, weak: tuple[Weak, ...]) -> list[Flags]:
    """Nodes at which joints may turn, one set for each place that the first may fall.

    A length up, at the worst dip's edges and middle.
    """
    if not stock.hinged:
        return [np.zeros(len(at), dtype=bool)]
    lay, worst = stock.lay_length, max(weak, key=lambda one: one.drop)
    sets = []
    for first in (0.0, worst.start % lay, worst.end % lay, (worst.start + worst.end) / 2 % lay):
        places = np.arange(first or lay, at[-1] - 0.01 * lay, lay)
        hinge = np.zeros(len(at), dtype=bool)
        hinge[np.rint(places[places > 0.01 * lay] / at[-1] * (len(at) - 1)).astype(int)] = True
        sets.append(hinge)
    return sets


def _ends(scene: Scene, walk: Walk) -> tuple[tuple[bool, bool], tuple[bool, bool]]:
    """Of the outlet's end and of the upper one: whether it may not turn, whether it may not sink."""
    outlet = scene.outlets.get(walk.line.end)
    source = next((one for one in scene.site.sources if one.id == walk.line.start), None)
    held = outlet is not None and OUTLETS[outlet.kind].end == "fixed"
    return (outlet is None or held, held), (True, source is not None and SOURCES[source.kind].end == "fixed")


def _sag(
    bending: float,
    step: float,
    stiff: Floats,
    drop: Floats,
    load: Floats,
    hinge: Flags,
    ends: tuple[tuple[bool, bool], tuple[bool, bool]],
) -> Floats | None:
    """Sag at even nodes of a beam on springs that push and never pull; None where they do not settle.

    The bending energy is that of second differences, EI/2 (w[i-1] - 2 w[i] + w[i+1])^2 / h^3 at each node, which makes
    the five-point rule 1 -4 6 -4 1; an end that may not turn has its neighbour mirrored.
    """
    from scipy.linalg import solveh_banded

    count = len(stiff)
    band = np.zeros((3, count))  # upper form: diagonal last
    whole = bending / step**3
    each = np.where(hinge, 0.0, whole)[1:-1]  # a joint that turns stores nothing
    band[2, 1:-1] += 4 * each
    band[2, :-2] += each
    band[2, 2:] += each
    band[1, 1:-1] -= 2 * each
    band[1, 2:] -= 2 * each
    band[0, 2:] += each
    size = np.full(count, step)
    size[[0, -1]] = step / 2
    for node, beside, (no_turn, no_sink) in ((0, 1, ends[0]), (count - 1, count - 2, ends[1])):
        if no_turn:  # half a node's length of the curvature 2 (w[1] - w[0]) / h^2
            band[2, [node, beside]] += 2 * whole
            band[1, max(node, beside)] -= 2 * whole
        if no_sink:
            band[2, node] += 1e6 * whole
    touch = np.ones(count, dtype=bool)
    for _ in range(_ROUNDS):
        springs = np.where(touch, stiff * size, 0.0)
        matrix = band.copy()
        matrix[2] += springs + 1e-9 * whole
        sag = np.asarray(solveh_banded(matrix, load * size + springs * drop), np.float64)
        now = sag > drop
        if (now == touch).all():
            return sag
        touch = now
    return None
