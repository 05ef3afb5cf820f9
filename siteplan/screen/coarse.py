"""A parcel with what lies on and by it in; a coarse site out.

Corners of the house as sources, places at the street's edge as outlets.

It is a `Site` like any other, so that the planner's own rooms judge it: nothing of their arithmetic is done here again.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from siteplan.books.rules import RuleBook, rule_book
from siteplan.site import Feature, Floats, Grid, Site, heights
from siteplan.values.water_ends import Source

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_OFF_WALL = 0.3  # m from the wall, where a leader's elbow stands
_LEAST_HOUSE = 20.0  # m2; what is smaller is a shed
_MOST_CORNERS = 8
_ASSUMED = 0.35  # of the lot's tightest rectangle each way, where no house is drawn
_BESIDE_STREET = (
    14.0  # m beyond the gutter that a lot line may lie off it: parkway and walk. Common practice, no source
)
_FRONT_STEP = 3.0  # m between places looked at along a lot line
_OUTLETS = 4
_OUTLETS_APART = 5.0  # m
_INSIDE = 0.05  # m of a way to the street that may lie on the lot itself


@lru_cache(maxsize=8)
def screen_rules(min_grade: float | None) -> RuleBook:
    """The default rules, or with another least grade.

    Parameters
    ----------
    min_grade : float or None
        In percent; None: the default.

    Returns
    -------
    RuleBook
        As a site without rules of its own has them.
    """
    return rule_book({} if min_grade is None else {"min_grade_percent": min_grade}, "--min-grade", "m")


def house_of(lot: BaseGeometry, buildings: Sequence[BaseGeometry]) -> BaseGeometry | None:
    """The building on a lot whose roof drains.

    Parameters
    ----------
    lot : Polygon
        The parcel [m].
    buildings : sequence of Polygon
        What lies near it.

    Returns
    -------
    Polygon or None
        The largest on it; None where there is none larger than a shed.
    """
    on_it = [(one.intersection(lot).area, -place) for place, one in enumerate(buildings) if one.intersects(lot)]
    area, place = max(on_it, default=(0.0, 0))
    return buildings[-place] if area >= _LEAST_HOUSE else None


def corners_of(lot: BaseGeometry, house: BaseGeometry | None) -> list[tuple[float, float]]:
    """Where leaders come down: a little off the corners of the house, on the lot.

    Parameters
    ----------
    lot : Polygon
        The parcel [m].
    house : Polygon or None
        None: a house is assumed in the middle of the lot, as it lies.

    Returns
    -------
    list of tuple of float
        At most eight, in the order of the outline.
    """
    import shapely
    from shapely import affinity

    if house is None:
        body = shapely.minimum_rotated_rectangle(lot)
        body = affinity.scale(
            body, _ASSUMED, _ASSUMED, origin=lot.centroid if lot.contains(lot.centroid) else lot.representative_point()
        )
    else:
        body = house.simplify(0.5).buffer(_OFF_WALL, join_style="mitre", mitre_limit=2.0)
        if body.geom_type != "Polygon":
            body = max(body.geoms, key=lambda one: one.area)
    places = shapely.get_coordinates(body.exterior)[:-1]
    if len(places) > _MOST_CORNERS:
        rest = shapely.get_coordinates(shapely.minimum_rotated_rectangle(body))[:4]
        near = [int(np.hypot(*(places - corner).T).argmin()) for corner in rest]
        places = places[sorted(set(near))]
    inside = shapely.contains_xy(lot, places[:, 0], places[:, 1])
    return [(float(x), float(y)) for x, y in places[inside]]


def street_places(lot: BaseGeometry, streets: Sequence[BaseGeometry], half_street: float) -> Floats:
    """Places at the street's edge that face a lot.

    Parameters
    ----------
    lot : Polygon
        The parcel [m].
    streets : sequence of LineString
        Middles of streets near it, or their edges.
    half_street : float
        From such a line to the gutter [m].

    Returns
    -------
    ndarray, shape (n, 2) [m]
        One for every few metres of front.
    """
    import shapely

    lines = shapely.union_all(list(streets)) if streets else None
    if lines is None or lines.is_empty:
        return np.empty((0, 2))
    edge = lot.exterior
    count = max(4, math.ceil(edge.length / _FRONT_STEP))
    on = shapely.line_interpolate_point(edge, np.arange(count) / count, normalized=True)
    near = on[shapely.distance(on, lines) <= half_street + _BESIDE_STREET]
    if not near.size:
        return np.empty((0, 2))
    ways = shapely.shortest_line(near, lines)
    inside = shapely.length(shapely.intersection(ways, lot))
    length = shapely.length(ways)
    ways, length = ways[inside <= _INSIDE], length[inside <= _INSIDE]
    found = shapely.line_interpolate_point(ways, np.maximum(0.0, length - half_street))
    at: Floats = np.round(shapely.get_coordinates(found).reshape(-1, 2), 6)
    return at


def lowest_apart(places: Floats, grid: Grid) -> Floats:
    """The lowest of some places that stand apart.

    Parameters
    ----------
    places : ndarray, shape (n, 2) [m]
        Along a front.
    grid : Grid
        The ground.

    Returns
    -------
    ndarray, shape (m, 2) [m]
        At most four on known ground, the lowest first.
    """
    z = heights(grid, places[:, 0], places[:, 1])
    kept: list[int] = []
    for place in np.lexsort((np.arange(len(z)), np.round(z, 4))):
        clear = all(np.hypot(*(places[place] - places[other])) >= _OUTLETS_APART for other in kept)
        if np.isfinite(z[place]) and clear:
            kept.append(int(place))
        if len(kept) == _OUTLETS:
            break
    lowest: Floats = places[kept]
    return lowest


def coarse_site(
    lot: BaseGeometry,
    buildings: Sequence[BaseGeometry],
    corners: Sequence[tuple[float, float]],
    outlets: Floats,
    grid: Grid,
    *,
    crs: str,
    accuracy: float,
    rules: RuleBook,
) -> Site:
    """The site that the planner's rooms judge.

    Parameters
    ----------
    lot : Polygon
        The parcel [m].
    buildings : sequence of Polygon
        On it; no line runs through one.
    corners : sequence of tuple of float
        Sources, on known ground.
    outlets : ndarray, shape (n, 2) [m]
        At the street.
    grid : Grid
        The ground.
    crs : str
        Of all these.
    accuracy : float
        One standard deviation of an elevation [m].
    rules : RuleBook
        In force.

    Returns
    -------
    Site
        Without rain, utilities, walks or anything else that no public layer tells.
    """
    import shapely

    features: list[Feature] = []

    def add(kind: str, geometry: BaseGeometry, told: Mapping[str, Any] | None = None) -> None:
        number = len(features) + 1
        features.append(
            Feature(
                kind=kind,
                name=f"{kind} {number}",
                geometry=geometry,
                attributes=told or {},
                file="screen",
                number=number,
            )
        )

    add("lot", lot)
    for one in buildings:
        for part in shapely.get_parts(one):
            if part.geom_type == "Polygon" and part.intersects(lot):
                add("building", part)
    for x, y in outlets:
        add("curb_outlet", shapely.Point(x, y))
    z = heights(grid, *np.array(corners, float).T)
    sources = []
    for number, ((x, y), ground) in enumerate(zip(corners, z, strict=True), start=1):
        add("downspout", shapely.Point(x, y))
        sources.append(
            Source(id=f"S{number}", kind="downspout", name=features[-1].name, x=x, y=y, ground=float(ground))
        )
    return Site(
        name="screen",
        crs=crs,
        length_unit="m",
        elevation_unit="m",
        accuracy=accuracy,
        grid=grid,
        features=tuple(features),
        sources=tuple(sources),
        rules=rules,
        rainfall=None,
        inputs=(),
    )
