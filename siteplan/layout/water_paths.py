"""A place on the ground in; where its water runs on the surveyed surface, and what it meets first, out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from siteplan import units
from siteplan.ground.runoff import Surface, path_down
from siteplan.survey.site import Site
from siteplan.values import LowSpot, Met

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

FARTHEST = 60.0  # m of a path that are told; past it the water is another matter
AT_WALL = 0.5  # m; water this near a wall wets its footing
AT_CURB = 0.75  # m; a curb drawn at its back has its gutter within this
AT_SUMP = 1.5  # m
LEAVING = 1.5  # m; water that comes out at the wall may take this much to leave it
KINDS = ("neighbour", "walk", "driveway", "paving", "easement")


class Way(NamedTuple):
    """A path over the ground [m] and what it meets, in order."""

    path: tuple[tuple[float, float], ...]
    meets: tuple[Met, ...]


def way_of(
    site: Site, surface: Surface, spots: Sequence[LowSpot], x: float, y: float, *, from_wall: bool = False
) -> Way:
    """Where water runs from a place, through filled hollows, and what it meets.

    Parameters
    ----------
    site : Site
        As surveyed.
    surface : Surface
        From `ground.runoff.water_surface`.
    spots : sequence of LowSpot
        Wet ground.
    x, y : float
        The place [m].
    from_wall : bool
        True for water that comes out at a wall: only what stays there, or comes back, counts as met.

    Returns
    -------
    Way
        At most 60 m of path; empty when the ground there is not known.

    References
    ----------
    Steepest descent on filled ground: `siteplan.ground.runoff`.
    """
    path = _beginning(path_down(site, x, y, surface=surface))
    if len(path) < 2:
        return Way(path, ())
    return Way(path, _met(site, spots, path, from_wall=from_wall))


def _beginning(path: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    kept, length = list(path[:1]), 0.0
    for one, other in pairwise(path):
        length += math.dist(one, other)
        kept.append(other)
        if length >= FARTHEST:
            break
    return tuple(kept)


def _met(
    site: Site, spots: Sequence[LowSpot], path: tuple[tuple[float, float], ...], *, from_wall: bool
) -> tuple[Met, ...]:
    import shapely
    from shapely.geometry import LineString, Point, Polygon

    places = np.array(path)
    at = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(places, axis=0).T))))
    line = LineString(places)
    cell = site.grid.cell
    met: list[Met] = []

    def meet(kind: str, name: str, distance: float) -> None:
        point = line.interpolate(distance)
        met.append(Met(kind=kind, name=name, distance=float(distance), x=float(point.x), y=float(point.y)))

    def first_near(shape: BaseGeometry, reach: float) -> float | None:
        near = np.flatnonzero(shapely.distance(shapely.points(places), shape) <= reach)
        return float(at[near[0]]) if len(near) else None

    def first_inside(shape: BaseGeometry) -> float | None:
        cut = line.intersection(shape)
        if cut.is_empty:
            return None
        return min(float(line.project(Point(xy))) for xy in shapely.get_coordinates(cut))

    for feature in site.of_kind("building"):
        distance = _at_wall(
            at, shapely.distance(shapely.points(places), feature.geometry) <= max(AT_WALL, cell), from_wall=from_wall
        )
        if distance is not None:
            meet("foundation", feature.name, distance)
    lot = site.lot
    inside = bool(lot.covers(Point(path[0])))
    border = first_inside(lot.boundary)
    if border is not None:
        meet("lot line" if inside else "own lot", "", border)
    for feature in site.of_kind(*KINDS):
        distance = first_inside(feature.geometry)
        if distance is not None:
            meet(feature.kind, feature.name, distance)
    for feature in site.of_kind("curb"):
        distance = first_near(feature.geometry, max(AT_CURB, cell))
        if distance is not None:
            meet("curb", feature.name, distance)
    for source in site.sources:
        if source.kind == "sump":
            distance = first_near(Point(source.x, source.y), max(AT_SUMP, cell))
            if distance is not None and not (from_wall and distance == 0.0):
                meet("own sump", source.name, distance)
    for spot in spots:
        if spot.certain and spot.rings:
            distance = first_inside(Polygon(spot.rings[0], spot.rings[1:]))
            if distance is not None:
                meet("low spot", spot.id, distance)
    return tuple(sorted(met, key=lambda one: (round(one.distance, 6), one.kind, one.name)))


def _at_wall(at: np.ndarray, near: np.ndarray, *, from_wall: bool) -> float | None:
    """Distance at which the wall is met: at once, or where water that began there stays or comes back."""
    if not near.any():
        return None
    if not from_wall or not near[0]:
        return float(at[np.argmax(near)])
    leaves = int(np.argmin(near)) if not near.all() else len(near) - 1
    if at[leaves] > LEAVING:
        return 0.0
    back = np.flatnonzero(near[leaves:])
    return float(at[leaves + back[0]]) if len(back) and not near.all() else None


def way_text(way: Way, unit: str) -> str:
    """What the water meets, in one sentence's end.

    Parameters
    ----------
    way : Way
        From `way_of`.
    unit : str
        The user's length unit.

    Returns
    -------
    str
        Up to four things in the order met.
    """
    if len(way.path) < 2:
        return "the ground there is not known, so where it goes is not known"
    told = [_told(one, unit) for one in way.meets[:4]]
    length = math.fsum(math.dist(one, other) for one, other in pairwise(way.path))
    far = units.length_text(length, unit, 0)
    if not told:
        return f"it runs {far} over open ground and meets nothing that the survey shows"
    return f"it meets first {told[0]}" + (f", then {', '.join(told[1:])}" if told[1:] else "")


_WORDS = {
    "foundation": "the foundation", "lot line": "the lot line", "own lot": "the lot itself", "neighbour": "the neighbour's land",
    "walk": "a walk", "driveway": "a driveway", "paving": "paving", "curb": "the curb", "easement": "an easement",
    "own sump": "the sump it came from", "low spot": "wet low spot",
}  # fmt: skip


def _told(one: Met, unit: str) -> str:
    name = f" {one.name}" if one.name else ""
    return (
        f"{_WORDS[one.kind]}{name} at once"
        if one.distance < 0.05
        else f"{_WORDS[one.kind]}{name} after {units.length_text(one.distance, unit, 1)}"
    )
