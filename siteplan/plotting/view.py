"""Places of the plan in; places on the page out, at one scale, cut where the drawing ends."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from siteplan import units
from siteplan.plotting.paper_sizes import Box
from siteplan.plotting.shapes import Filled, Mark, Pen, Spot, Stroke

_FINE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A window of the plan on a page: `room` on paper, `ratio` of the scale, the plan's place in its middle [m]."""

    room: Box
    ratio: int
    middle: Spot

    @property
    def by(self) -> float:
        """Millimetres of paper to a metre of the plan."""
        return 1.0 / (self.ratio * units.MILLIMETRE)

    def at(self, spot: Spot) -> Spot:
        """A place of the plan on the page [mm]."""
        return (
            (self.room.left + self.room.right) / 2 + (spot[0] - self.middle[0]) * self.by,
            (self.room.bottom + self.room.top) / 2 + (spot[1] - self.middle[1]) * self.by,
        )

    def shows(self, spot: Spot) -> bool:
        """Whether a place of the plan lies on the page, its edge among it."""
        x, y = self.at(spot)
        return (
            self.room.left - _FINE <= x <= self.room.right + _FINE
            and self.room.bottom - _FINE <= y <= self.room.top + _FINE
        )

    def runs(self, layer: str, spots: Sequence[Spot], pen: Pen, *, closed: bool = False) -> Iterator[Stroke]:
        """A run of places as strokes, what lies off the drawing cut away."""
        placed = [self.at(spot) for spot in spots]
        if closed and placed[0] != placed[-1]:
            placed.append(placed[0])
        if closed and all(in_box(self.room, spot) for spot in placed):
            yield Stroke(layer=layer, points=tuple(placed[:-1]), pen=pen, closed=True)
            return
        for run in cut_to(self.room, placed):
            yield Stroke(layer=layer, points=run, pen=pen)

    def areas(self, layer: str, rings: Sequence[Sequence[Spot]], fill: str) -> Iterator[Mark]:
        """An area without its edge, cut where the drawing ends."""
        for held in cut_area(self.room, [[self.at(spot) for spot in ring] for ring in rings]):
            yield Filled(layer=layer, rings=held, fill=fill)


def in_box(box: Box, spot: Spot) -> bool:
    """Whether a place lies in a box, its edge among it.

    Parameters
    ----------
    box : Box
        The box [mm].
    spot : tuple of float
        The place [mm].

    Returns
    -------
    bool
        True inside.
    """
    return box.left <= spot[0] <= box.right and box.bottom <= spot[1] <= box.top


def cut_to(box: Box, spots: Sequence[Spot]) -> list[tuple[Spot, ...]]:
    """The parts of a run that lie in a box.

    Parameters
    ----------
    box : Box
        The box [mm].
    spots : sequence of places
        At least one [mm].

    Returns
    -------
    list of runs
        In order; each of two places or more.
    """
    found: list[list[Spot]] = []
    for a, b in pairwise(spots):
        piece = _piece(box, a, b)
        if piece is None:
            continue
        if found and math.dist(found[-1][-1], piece[0]) < _FINE:
            found[-1].append(piece[1])
        else:
            found.append(list(piece))
    return [tuple(run) for run in found]


def _piece(box: Box, a: Spot, b: Spot) -> tuple[Spot, Spot] | None:
    """A straight piece cut to a box.

    By the parameters at which it comes in and goes out (Liang and Barsky, 1984; from memory).
    """
    dx, dy = b[0] - a[0], b[1] - a[1]
    first, last = 0.0, 1.0
    for way, room in ((-dx, a[0] - box.left), (dx, box.right - a[0]), (-dy, a[1] - box.bottom), (dy, box.top - a[1])):
        if way == 0:
            if room < 0:
                return None
        elif way < 0:
            first = max(first, room / way)
        else:
            last = min(last, room / way)
    if first >= last:
        return None
    return (a[0] + first * dx, a[1] + first * dy), (a[0] + last * dx, a[1] + last * dy)


def cut_area(box: Box, rings: Sequence[Sequence[Spot]]) -> list[tuple[tuple[Spot, ...], ...]]:
    """The parts of an area that lie in a box.

    Parameters
    ----------
    box : Box
        The box [mm].
    rings : sequence of rings
        Outer ring and holes [mm].

    Returns
    -------
    list of areas
        Each as its rings.
    """
    import shapely

    shape = shapely.intersection(_polygon(rings), shapely.box(box.left, box.bottom, box.right, box.top))
    return [
        tuple(tuple((float(x), float(y)) for x, y in ring.coords) for ring in (part.exterior, *part.interiors))
        for part in _parts(shape)
        if part.geom_type == "Polygon" and part.area > 1e-6
    ]


def hatched(
    layer: str, box: Box, rings: Sequence[Sequence[Spot]], angle: float, apart: float, pen: Pen
) -> list[Stroke]:
    """Parallel lines over an area: real lines, at one distance from each other over the whole page.

    Parameters
    ----------
    layer : str
        Its layer.
    box : Box
        Where the drawing ends [mm].
    rings : sequence of rings
        Outer ring and holes [mm].
    angle : float
        Of the lines [degrees].
    apart : float
        From one to the next [mm].
    pen : Pen
        Of the lines.

    Returns
    -------
    list of Stroke
        None where the area is too small for one.
    """
    import shapely

    area = shapely.intersection(_polygon(rings), shapely.box(box.left, box.bottom, box.right, box.top))
    if area.is_empty:
        return []
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    west, south, east, north = area.bounds
    across = [-x * s + y * c for x in (west, east) for y in (south, north)]
    along = [x * c + y * s for x in (west, east) for y in (south, north)]
    low, high = min(along) - 1, max(along) + 1
    lines = [
        shapely.LineString([(low * c - d * s, low * s + d * c), (high * c - d * s, high * s + d * c)])
        for d in (k * apart for k in range(math.ceil(min(across) / apart), math.floor(max(across) / apart) + 1))
    ]
    return [
        Stroke(layer=layer, points=tuple((float(x), float(y)) for x, y in part.coords), pen=pen)
        for line in lines
        for part in _parts(shapely.intersection(line, area))
        if part.geom_type == "LineString" and not part.is_empty
    ]


def _polygon(rings: Sequence[Sequence[Spot]]) -> Any:
    import shapely

    return shapely.make_valid(shapely.Polygon(rings[0], [ring for ring in rings[1:] if len(ring) > 2]))


def _parts(shape: Any) -> list[Any]:
    import shapely

    parts = shapely.get_parts(shape)
    return [inner for part in parts for inner in (_parts(part) if part.geom_type == "GeometryCollection" else [part])]
