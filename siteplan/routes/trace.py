"""A finished line in plan in; the ground and the limits along it out, at close spacing and at every edge it crosses."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from siteplan.books.kinds import PAVEMENT_KINDS
from siteplan.routes.ends import cover_at, paved_at, start_cover, zone_ceiling
from siteplan.routes.straight import Place, turn
from siteplan.routes.terms import Terms, for_length
from siteplan.routes.yard import Floats, Grounds
from siteplan.site import Feature, Site, heights
from siteplan.values.forecasts import LowSpot
from siteplan.values.lines import Passage
from siteplan.values.water_ends import Outlet, Source

_AT_END = 0.02  # m: nearer to its end a line is taken to end there
_SPACING = 0.05  # m
_EDGE = 1e-4  # m past an edge where the next zone's limit is read


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trace:
    """A line's ground and limits. All shape (n,) but the corners; stations from the outlet [m]."""

    corners: tuple[Place, ...]  # outlet first
    corner_stations: tuple[float, ...]
    station: Floats
    x: Floats
    y: Floats
    ground: Floats
    known: NDArray[np.bool_]
    ceiling: Floats
    floor: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Undercrossing:
    """A stretch under pavement, or a utility or wall crossed, before inverts are known."""

    kind: str
    name: str
    station_from: float
    station_to: float
    angle: float
    depth: float | None = None  # of a utility's top below the ground [m]
    service: str = ""


def stations_of(corners: Sequence[Place]) -> tuple[float, ...]:
    """Station of each corner: lengths in plan added up from the first.

    Parameters
    ----------
    corners : sequence of tuple
        Outlet first [m].

    Returns
    -------
    tuple of float
        [m]
    """
    total, stations = 0.0, [0.0]
    for a, b in itertools.pairwise(corners):
        total += math.dist(a, b)
        stations.append(total)
    return tuple(stations)


def places_at(corners: Sequence[Place], stations: Sequence[float] | Floats) -> Floats:
    """Coordinates at stations along a line.

    Parameters
    ----------
    corners : sequence of tuple
        Outlet first [m].
    stations : sequence of float
        [m]

    Returns
    -------
    ndarray, shape (n, 2) [m]
    """
    at = stations_of(corners)
    xy = np.asarray(corners, float)
    return np.column_stack([np.interp(np.asarray(stations, float), at, xy[:, k]) for k in (0, 1)])


def trace(
    site: Site,
    grounds: Grounds,
    corners: Sequence[Place],
    source: Source,
    outlet: Outlet | None,
    terms: Terms,
    *,
    spacing: float = _SPACING,
) -> Trace:
    """Ground and limits along a line.

    Parameters
    ----------
    site : Site
        For the ground.
    grounds : Grounds
        For the pavement under vehicles.
    corners : sequence of tuple
        Outlet first [m].
    source : Source
        At the last corner.
    outlet : Outlet or None
        At the first corner; None when the line joins another there.
    terms : Terms
        Cover, depth, zones.
    spacing : float
        Between samples [m].

    Returns
    -------
    Trace
        Unknown ground takes the nearest known height along the line, and is marked.

    Raises
    ------
    ValueError
        If no ground is known anywhere along the line.
    """
    at = stations_of(corners)
    length = at[-1]
    terms = for_length(terms, length)
    extra = [*at, *_edges(grounds, corners), *_creases(site, corners, at)]
    if outlet is not None:
        extra += [terms.stretch, terms.zone]
    if terms.start_zone > 0:
        extra.append(length - terms.start_zone)
    edges = np.array([s for s in extra if 0 <= s <= length])
    station = np.unique(np.concatenate([np.arange(0.0, length, spacing), edges, edges - _EDGE, edges + _EDGE]))
    station = station[(station >= 0) & (station <= length)]
    xy = places_at(corners, station)
    x, y = xy[:, 0], xy[:, 1]
    measured = heights(site.grid, x, y)
    known = np.isfinite(measured)
    if not known.any():
        raise ValueError("no ground is known along the line")
    ground = np.interp(station, station[known], measured[known])
    if not known[-1]:
        # the stretch at the source stands on the height that the survey took for it
        last = int(np.flatnonzero(known)[-1])
        ground[last + 1 :] = np.minimum(ground[last], source.ground)
        ground[-1] = source.ground
    cover = _on_both_sides(cover_at(grounds, x, y, terms))
    paved = _on_both_sides(paved_at(grounds, x, y))
    if terms.start_zone > 0:
        # a branch has its full cover again where it joins, as the trunk has there
        least = 0.0 if outlet is None else -1.0
        cover = np.where(
            station > max(least, length - terms.start_zone) + 1e-9, start_cover(cover, paved, terms), cover
        )
    usual = ground - terms.rise - cover
    ceiling = usual if outlet is None else zone_ceiling(ground, station, outlet, cover, paved, terms)
    floor = ground - terms.depth
    if outlet is not None:
        floor[0] = outlet.control
    if source.invert_limit is not None:
        ceiling[-1] = min(ceiling[-1], source.invert_limit)
    return Trace(
        corners=tuple(corners),
        corner_stations=at,
        station=station,
        x=x,
        y=y,
        ground=ground,
        known=known,
        ceiling=ceiling,
        floor=floor,
    )


def _on_both_sides(values: NDArray[Any]) -> NDArray[Any]:
    """The larger value, or the true one, where two zones meet at a sample."""
    wide = values.copy()
    wide[1:] = np.maximum(wide[1:], values[:-1])
    wide[:-1] = np.maximum(wide[:-1], values[1:])
    return wide


def _creases(site: Site, corners: Sequence[Place], at: Sequence[float]) -> list[float]:
    """Stations at which the line crosses from one square of the grid into the next: there the ground may crease."""
    row, col = site.grid.to_index(*np.asarray(corners, float).T)
    found: list[float] = []
    for index in (row, col):
        for k, (a, b) in enumerate(itertools.pairwise(index.tolist())):
            if not (math.isfinite(a) and math.isfinite(b)) or a == b:
                continue
            whole = np.arange(math.ceil(min(a, b)), math.floor(max(a, b)) + 1)
            found += (at[k] + (at[k + 1] - at[k]) * (whole - a) / (b - a)).tolist()
    return found


def _edges(grounds: Grounds, corners: Sequence[Place]) -> list[float]:
    """Stations at which another cover is asked for: at pavement that carries vehicles, where heavy pipe may lie."""
    import shapely
    from shapely.geometry import LineString

    areas = [area.boundary for area in (grounds.vehicles, grounds.heavier) if not area.is_empty]
    if not areas:
        return []
    line = LineString(corners)
    cut = shapely.intersection(line, shapely.union_all(areas))
    return [float(line.project(shapely.Point(place))) for place in shapely.get_coordinates(cut)]


def undercrossings(site: Site, corners: Sequence[Place]) -> tuple[Undercrossing, ...]:
    """Pavement, utilities, fences and walls that a line crosses.

    Parameters
    ----------
    site : Site
        For the features.
    corners : sequence of tuple
        Outlet first [m].

    Returns
    -------
    tuple of Undercrossing
        By station.
    """
    from shapely.geometry import LineString

    line = LineString(corners)
    found: list[Undercrossing] = []
    for feature in site.of_kind(*PAVEMENT_KINDS):
        found += _under_area(line, feature)
    for feature in site.of_kind("utility", "fence", "wall"):
        found += _across(line, feature)
    return tuple(
        sorted(found, key=lambda crossing: (crossing.station_from, crossing.station_to, crossing.kind, crossing.name))
    )


def _under_area(line: object, feature: Feature) -> list[Undercrossing]:
    import shapely

    found = []
    for piece in shapely.get_parts(shapely.intersection(line, feature.geometry)):
        if piece.geom_type != "LineString" or piece.length < 1e-3:
            continue
        ends = sorted(float(line.project(shapely.Point(place))) for place in (piece.coords[0], piece.coords[-1]))  # type: ignore[attr-defined]
        into = min(0.02, (ends[1] - ends[0]) / 2)
        edge = feature.geometry.boundary
        # a line that begins or ends inside crosses no edge there
        angles = [
            _edge_angle(line, station, edge, inward=inward)
            for station, inward in ((ends[0], into), (ends[1], -into))
            if _AT_END < station < line.length - _AT_END  # type: ignore[attr-defined]
        ]
        found.append(
            Undercrossing(
                kind=feature.kind,
                name=feature.name,
                station_from=ends[0],
                station_to=ends[1],
                angle=min(angles, default=90.0),
            )
        )
    return found


def _across(line: object, feature: Feature) -> list[Undercrossing]:
    import shapely

    found: list[Undercrossing] = []
    for place in shapely.get_coordinates(shapely.intersection(line, feature.geometry)):
        station = float(line.project(shapely.Point(place)))  # type: ignore[attr-defined]
        if any(abs(station - other.station_from) < 0.01 for other in found):
            continue
        angle = _edge_angle(line, station, feature.geometry)
        found.append(
            Undercrossing(
                kind=feature.kind,
                name=feature.name,
                station_from=station,
                station_to=station,
                angle=angle,
                depth=feature.attributes.get("depth"),
                service=feature.attributes.get("service", ""),
            )
        )
    return found


def _edge_angle(line: object, station: float, edge: object, *, inward: float = 0.0) -> float:
    """Angle between the line and the nearest straight piece of an edge, 0 along it to 90 square to it [degrees].

    `inward` is the way from the edge into what is crossed: where the line bends at the edge, its run inside counts.
    """
    import shapely

    here = line.interpolate(station)  # type: ignore[attr-defined]
    length = line.length  # type: ignore[attr-defined]
    low, high = sorted((station, station + inward)) if inward else (station - 0.02, station + 0.02)
    a, b = line.interpolate(max(0.0, low)), line.interpolate(min(length, high))  # type: ignore[attr-defined]
    pieces = []
    for part in shapely.get_parts(edge):
        places = shapely.get_coordinates(part)
        pieces += list(zip(places[:-1].tolist(), places[1:].tolist(), strict=True))
    runs = shapely.linestrings(np.array(pieces))
    start, end = pieces[int(np.argmin(shapely.distance(runs, here)))]
    angle = turn((-(b.x - a.x), -(b.y - a.y)), (0.0, 0.0), (end[0] - start[0], end[1] - start[1]))
    return min(angle, 180.0 - angle)


def passages(low_spots: Sequence[LowSpot], corners: Sequence[Place]) -> tuple[Passage, ...]:
    """Wet low spots that a line runs through.

    Parameters
    ----------
    low_spots : sequence of LowSpot
        With their rings.
    corners : sequence of tuple
        Outlet first [m].

    Returns
    -------
    tuple of Passage
        By station.
    """
    import shapely
    from shapely.geometry import LineString, Polygon

    line = LineString(corners)
    found: list[Passage] = []
    for spot in low_spots:
        if not spot.rings:
            continue
        for piece in shapely.get_parts(line.intersection(Polygon(spot.rings[0], spot.rings[1:]))):
            if piece.geom_type == "LineString" and piece.length > 1e-3:
                ends = sorted(
                    float(line.project(shapely.Point(place))) for place in (piece.coords[0], piece.coords[-1])
                )
                found.append(Passage(id=spot.id, station_from=ends[0], station_to=ends[1]))
    return tuple(sorted(found, key=lambda passage: (passage.station_from, passage.id)))
