"""A place on the ground in; where its water runs on the surveyed surface, and what it meets first, out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from siteplan import units
from siteplan.books.kinds import pumped
from siteplan.books.practice import BACK_AT_SUMP, GUTTER_OF_CURB, LEAVES_WALL_WITHIN, PATH_FOLLOWED, WETS_A_FOOTING
from siteplan.ground.runoff import Surface, path_down
from siteplan.site import Site
from siteplan.values.flows_worked import Met
from siteplan.values.forecasts import LowSpot

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_KINDS = ("neighbour", "walk", "driveway", "paving", "easement")


class OverlandWay(NamedTuple):
    """A path over the ground [m] and what it meets, in order."""

    path: tuple[tuple[float, float], ...]
    meets: tuple[Met, ...]


def way_of(
    site: Site, surface: Surface, spots: Sequence[LowSpot], x: float, y: float, *, from_wall: bool = False
) -> OverlandWay:
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
        return OverlandWay(path, ())
    return OverlandWay(path, _met(site, spots, path, from_wall=from_wall))


def _beginning(path: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    kept, length = list(path[:1]), 0.0
    for one, other in pairwise(path):
        length += math.dist(one, other)
        kept.append(other)
        if length >= PATH_FOLLOWED:
            break
    return tuple(kept)


class _Trail:
    """A path with its stations, and where it first comes to things."""

    def __init__(self, path: tuple[tuple[float, float], ...]) -> None:
        from shapely import points
        from shapely.geometry import LineString

        places = np.array(path)
        self.at = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(places, axis=0).T))))
        self.line = LineString(places)
        self.points = points(places)

    def distances(self, shape: BaseGeometry) -> np.ndarray:
        from shapely import distance

        return np.asarray(distance(self.points, shape))

    def near(self, shape: BaseGeometry, reach: float) -> float | None:
        """Where the path, and not its next corner, first comes within reach."""
        return self.inside(shape.buffer(reach, quad_segs=64))

    def inside(self, shape: BaseGeometry) -> float | None:
        from shapely import get_coordinates
        from shapely.geometry import Point

        cut = self.line.intersection(shape)
        return None if cut.is_empty else min(float(self.line.project(Point(place))) for place in get_coordinates(cut))


def _met(
    site: Site, spots: Sequence[LowSpot], path: tuple[tuple[float, float], ...], *, from_wall: bool
) -> tuple[Met, ...]:
    from shapely.geometry import Point, Polygon

    trail, cell = _Trail(path), site.grid.cell
    found: list[tuple[str, str, float | None]] = []
    for feature in site.of_kind("building"):
        near = trail.distances(feature.geometry) <= max(WETS_A_FOOTING, cell)
        met_at = (
            _at_wall(trail.at, near)
            if from_wall and near[0]
            else trail.near(feature.geometry, max(WETS_A_FOOTING, cell))
        )
        found.append(("foundation", feature.name, met_at))
    inside = bool(site.lot.covers(Point(path[0])))
    found.append(("lot line" if inside else "own lot", "", trail.inside(site.lot.boundary)))
    found += [(one.kind, one.name, trail.inside(one.geometry)) for one in site.of_kind(*_KINDS)]
    found += [("curb", one.name, trail.near(one.geometry, max(GUTTER_OF_CURB, cell))) for one in site.of_kind("curb")]
    for source in site.sources:
        reached = trail.near(Point(source.x, source.y), max(BACK_AT_SUMP, cell)) if pumped(source.kind) else None
        found.append(("own sump", source.name, None if from_wall and reached == 0.0 else reached))
    for spot in spots:
        if spot.certain and spot.rings:
            found.append(("low spot", spot.id, trail.inside(Polygon(spot.rings[0], spot.rings[1:]))))
    met = []
    for kind, name, distance in found:
        if distance is not None:
            point = trail.line.interpolate(distance)
            met.append(Met(kind=kind, name=name, distance=distance, x=float(point.x), y=float(point.y)))
    return tuple(sorted(met, key=lambda one: (round(one.distance, 6), one.kind, one.name)))


def _at_wall(at: np.ndarray, near: np.ndarray) -> float | None:
    """Distance at which water that began at a wall stays there or comes back to it."""
    leaves = int(np.argmin(near)) if not near.all() else len(near) - 1
    if at[leaves] > LEAVES_WALL_WITHIN:
        return 0.0
    back = np.flatnonzero(near[leaves:])
    return float(at[leaves + back[0]]) if len(back) and not near.all() else None


def way_text(way: OverlandWay, unit: str) -> str:
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
    "foundation": "the foundation",
    "lot line": "the lot line",
    "own lot": "the lot itself",
    "neighbour": "the neighbour's land",
    "walk": "a walk",
    "driveway": "a driveway",
    "paving": "paving",
    "curb": "the curb",
    "easement": "an easement",
    "own sump": "the sump it came from",
    "low spot": "wet low spot",
}


def _told(one: Met, unit: str) -> str:
    plain = not one.name or one.name.lower() in _WORDS[one.kind]
    name = "" if plain else f" {one.name}"
    return (
        f"{_WORDS[one.kind]}{name} at once"
        if one.distance < 0.05
        else f"{_WORDS[one.kind]}{name} after {units.length_text(one.distance, unit, 1)}"
    )
