"""A walked line with its reaches in; the reaches whose bedding is not what wheels and wet ground ask there, out."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from siteplan.books import rules
from siteplan.books.practice import PAST_PAVEMENT
from siteplan.checks.crossings import area_of
from siteplan.checks.pipe_loads import crossed_by_wheels
from siteplan.checks.scene import Scene
from siteplan.checks.walk import Flags, Floats, Stretch, Walk, stretches_inside
from siteplan.values.laid_pipe import Bedding

_STEP = 0.05  # m along a reach
_MOST = 0.9  # of a reach's length: the planner gives a sliver to its neighbour
UNDER_WHEELS = frozenset({Bedding.TAMPED_SIDES, Bedding.STONE_SIDES, Bedding.STONE_BED_AND_SIDES})
_WET_SLAB = 0.4  # m of wet ground under pavement; the planner lets a sliver be


def wrong_beds(scene: Scene, walk: Walk) -> Iterator[tuple[Stretch, float]]:
    """Stretches that are bedded otherwise than what lies over and under them asks.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    walk : Walk
        The walked line.

    Yields
    ------
    tuple of (float, float) and float
        The reach [m], and how much of it asks for another bedding [m].
    """
    wheels = [(one.start, one.end) for one in crossed_by_wheels(scene, walk)]
    paved = [(start - PAST_PAVEMENT, end + PAST_PAVEMENT) for start, end in wheels]
    zone = (
        [(0.0, rules.needed(scene.site.rules, rules.OUTLET_ZONE))]
        if walk.line.end in scene.outlets and walk.zone > 0
        else []
    )
    wet = [
        stretch
        for spot in scene.plan.low_spots
        if spot.certain and (area := area_of(spot)) is not None
        for stretch in stretches_inside(walk.corners, walk.at, area)
    ]
    for reach in walk.line.reaches:
        start, end = max(0.0, reach.station_from), min(walk.length, reach.station_to)
        if not end - start > _STEP:
            continue
        at = np.linspace(start, end, max(3, int((end - start) / _STEP)))
        under = _inside(at, wheels)
        soft = _inside(at, wet) & ~_inside(at, paved) & ~_inside(at, zone)
        asked = under if under.any() and reach.bedding not in UNDER_WHEELS else np.zeros(at.shape, dtype=bool)
        if not reach.bedding.over_dug and soft.mean() > _MOST:
            asked = asked | soft
        slab = _inside(at, wet) & _inside(at, paved)
        if under.any() and reach.bedding is not Bedding.STONE_BED_AND_SIDES and slab.mean() * (end - start) > _WET_SLAB:
            asked = asked | slab
        if asked.any():
            yield (start, end), float(asked.mean()) * (end - start)


def _inside(at: Floats, stretches: list[Stretch]) -> Flags:
    out = np.zeros(at.shape, dtype=bool)
    for start, end in stretches:
        out |= (at > start) & (at < end)
    return out
