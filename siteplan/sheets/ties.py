"""A place and the corners of buildings in; the two tape distances that find it again out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from siteplan.books.phrases import Language, phrase
from siteplan.books.practice import TAPE_REACH, TIES_CROSS
from siteplan.survey.files import said

if TYPE_CHECKING:
    from siteplan.site import Site

_STRAIGHT = 10.0  # degrees: a vertex that turns less is no corner anyone can find
_WINDS = ("E", "NE", "N", "NW", "W", "SW", "S", "SE")


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """A corner of a building that a person can find."""

    name: str
    x: float
    y: float
    building: str = ""  # what its building is called; '' not named
    wind: str = ""  # where on the building it lies: E, NE, ...
    again: str = ""  # which of several that lie there: ' (2)'

    def said(self, language: Language) -> str:
        """Its name in a language: 'House NE corner', 'la esquina NE de House'."""
        if not self.wind:
            return self.name
        building = self.building or phrase("card.building", language)
        wind = phrase(f"wind.{self.wind}", language)
        return phrase("card.corner", language, building=building, wind=wind, again=self.again)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tie:
    """Tape from a corner [m]."""

    corner: Corner
    distance: float


def corners(site: Site) -> tuple[Corner, ...]:
    """Corners of the site's buildings, named by where they lie on the building.

    Parameters
    ----------
    site : Site
        As surveyed.

    Returns
    -------
    tuple of Corner
        In the order drawn.
    """
    out: list[Corner] = []
    for building in site.of_kind("building"):
        shape = building.geometry
        for part in getattr(shape, "geoms", [shape]):
            ring = [(float(x), float(y)) for x, y, *_ in part.exterior.coords[:-1]]
            middle = (float(part.centroid.x), float(part.centroid.y))
            found = [place for i, place in enumerate(ring) if _turns(ring[i - 1], place, ring[(i + 1) % len(ring)])]
            called = said(building.name)
            winds = [_WINDS[round(math.degrees(math.atan2(y - middle[1], x - middle[0])) / 45) % 8] for x, y in found]
            for i, ((x, y), wind) in enumerate(zip(found, winds, strict=True)):
                again = f" ({winds[: i + 1].count(wind)})" if winds.count(wind) > 1 else ""
                name = f"{called or 'building'} {wind} corner{again}"
                out.append(Corner(name=name, x=x, y=y, building=called, wind=wind, again=again))
    return tuple(out)


def _turns(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    first, second = math.atan2(b[1] - a[1], b[0] - a[0]), math.atan2(c[1] - b[1], c[0] - b[0])
    turn = abs((math.degrees(second - first) + 180) % 360 - 180)
    return turn > _STRAIGHT


def swing_ties(x: float, y: float, known: Sequence[Corner]) -> tuple[Tie, ...]:
    """Two tapes that cross well at a place.

    Parameters
    ----------
    x, y : float
        The place [m].
    known : sequence of Corner
        Corners.

    Returns
    -------
    tuple of Tie
        Two, the nearer first; of those that cross at 30 degrees or more the shortest; the nearest two where none
        does; empty with fewer than two corners in reach.
    """
    near = sorted(
        (Tie(corner=one, distance=math.hypot(one.x - x, one.y - y)) for one in known),
        key=lambda tie: (tie.distance, tie.corner.name),
    )
    near = [tie for tie in near if 0.05 < tie.distance <= TAPE_REACH]
    pairs = [(a, b) for i, a in enumerate(near) for b in near[i + 1 :]]
    good = [(a, b) for a, b in pairs if _crossing(x, y, a.corner, b.corner) >= TIES_CROSS]
    best = min(good or pairs, key=lambda pair: round(pair[0].distance + pair[1].distance, 6), default=())
    return tuple(best)


def _crossing(x: float, y: float, a: Corner, b: Corner) -> float:
    """Angle at which the two tapes cross [degrees], 0 to 90."""
    first, second = math.atan2(a.y - y, a.x - x), math.atan2(b.y - y, b.x - x)
    turn = abs((math.degrees(second - first) + 180) % 360 - 180)
    return min(turn, 180 - turn)
