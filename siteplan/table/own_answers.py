"""Lines of one's own in, perhaps with a bend moved; where each would fail and why, and its profile, out.

The lines are laid by the planner as it lays them in a plan; what is told is where the inverts leave the band that
covers, depth and least grade allow, and where a line runs where none may.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from siteplan import units
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import Pipe
from siteplan.values.water_ends import Outlet

if TYPE_CHECKING:
    from siteplan.site import Site
    from siteplan.yard.trees import Tree, YardScene

_TOLD = 5e-4  # m: less over a limit is rounding
_STEEP = 1e-6  # of a grade: rounding

Place = tuple[float, float]


def own_told(
    site: Site,
    outlets: tuple[Outlet, ...],
    spots: tuple[LowSpot, ...],
    pipe: Pipe,
    onto: Callable[[Sequence[Place]], list[list[float]]],
) -> list[dict[str, Any]]:
    """What is said of each line of one's own.

    Parameters
    ----------
    site : Site
        With its drawn lines.
    outlets : tuple of Outlet
        In play.
    spots : tuple of LowSpot
        Wet ground.
    pipe : Pipe
        Laid where a drawing names none.
    onto : callable
        From places of the plan's frame to the paper.

    Returns
    -------
    list of dict
        name, xy, breaks (each with xy and why), profile; a guide that cannot be followed has breaks alone.
    """
    from siteplan.yard.own_lines import DrawnAmong, drawings_of, drawn_tree, scenes_of

    given = DrawnAmong(site, outlets, spots, pipe, site.laying.prices)
    told: list[dict[str, Any]] = []
    for drawing in drawings_of(site, outlets):
        scenes = scenes_of(given, drawing)
        tree, _ = drawn_tree(scenes, drawing)
        if tree is None:
            feature = drawing.features[0]
            places = [(float(x), float(y)) for x, y in feature.geometry.coords]
            why = "cannot be followed: no lawful line with fall runs along it"
            told.append(
                {
                    "name": feature.name,
                    "xy": onto(places),
                    "breaks": [{"xy": onto(places), "why": why}],
                    "profile": None,
                }
            )
            continue
        told += [
            {"name": feature.name or str(feature.attributes.get("from", "")), **_line(scenes[k], tree, k, onto)}
            for k, feature in enumerate(drawing.features)
        ]
    return told


def _line(scene: YardScene, tree: Tree, k: int, onto: Callable[[Sequence[Place]], list[list[float]]]) -> dict[str, Any]:
    from siteplan.fall.band import invert_at

    along, terms = tree.laid[k].trace, scene.terms
    inverts = invert_at(tree.profiles[k], along.station)
    places = np.column_stack([along.x, along.y])
    over, under = inverts - along.ceiling, along.floor - inverts
    step = np.diff(along.station)
    grade = np.divide(np.diff(inverts), step, out=np.full(len(step), np.inf), where=step > 0)
    flat = np.append(grade < terms.grade - _STEEP, False)
    flat[1:] |= flat[:-1]
    unit = scene.site.length_unit
    breaks = [
        *_stretches(
            over > _TOLD,
            places,
            lambda at: (
                f"too high by {units.small_text(float(over[at].max()), unit)}: too little cover, or over the outlet"
            ),
            onto,
        ),
        *_stretches(
            under > _TOLD, places, lambda at: f"too deep by {units.small_text(float(under[at].max()), unit)}", onto
        ),
        *_stretches(flat, places, lambda _: f"flatter than {units.grade_text(terms.grade)}", onto),
        *_stretches(~along.known, places, lambda _: "the ground is not known there", onto),
        *_barred(scene, along.corners, onto),
    ]
    length, high = units.LENGTH[unit], units.LENGTH[scene.site.elevation_unit]
    return {
        "xy": onto(along.corners[::-1]),
        "breaks": breaks,
        "profile": {
            "station": np.round(along.station / length, 3).tolist(),
            "ground": [None if not np.isfinite(z) else round(float(z) / high, 4) for z in along.ground],
            "invert": np.round(inverts / high, 4).tolist(),
            "ceiling": [None if not np.isfinite(z) else round(float(z) / high, 4) for z in along.ceiling],
        },
    }


def _stretches(
    bad: np.ndarray,
    places: np.ndarray,
    why: Callable[[slice], str],
    onto: Callable[[Sequence[Place]], list[list[float]]],
) -> list[dict[str, Any]]:
    """Stretches of a line on which something is broken."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], bad.astype(int), [0]])))
    found = []
    for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        lo, hi = (
            max(0, start - 1) if end - start == 1 else start,
            min(len(places), end + 1) if end - start == 1 else end,
        )
        xy = onto([(float(x), float(y)) for x, y in places[lo:hi]])
        found.append({"xy": xy, "why": why(slice(start, end))})
    return found


def _barred(
    scene: YardScene, corners: Sequence[Place], onto: Callable[[Sequence[Place]], list[list[float]]]
) -> list[dict[str, Any]]:
    """Runs that go where no line may: a building, no-dig ground, a neighbour's land, a wall, off the lot."""
    from siteplan.routes.straight import lawful_chain

    upward = list(corners)[::-1]
    grounds = scene.yard.grounds
    found = []
    for a, b in itertools.pairwise(upward):
        run = (a, b) if a == upward[0] else (a, ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), b)
        if not lawful_chain(grounds, run):
            found.append({"xy": onto([a, b]), "why": "runs where no line may, or leaves the lot"})
    return found
