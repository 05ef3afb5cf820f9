"""Grounds in; the pieces of open ground out: between two of them there is no way, on no net however fine."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

from siteplan.routes.ends import TRIES
from siteplan.routes.straight import Place
from siteplan.routes.yard import Grounds

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


@lru_cache(maxsize=4)
def open_parts(grounds: Grounds) -> tuple[BaseGeometry, ...]:
    """The pieces of ground where lines may run.

    Parameters
    ----------
    grounds : Grounds
        Where a line may run.

    Returns
    -------
    tuple of Polygon
        Largest extent of each; no line passes from one to another.
    """
    import shapely

    return tuple(one for one in shapely.get_parts(shapely.difference(grounds.allowed, grounds.barred)) if one.area > 0)


def closed_off(grounds: Grounds, start: Place, end: Place) -> bool:
    """Whether it is proven that no way is open between two places.

    Parameters
    ----------
    grounds : Grounds
        Where a line may run.
    start, end : tuple of float
        A source, which may stand in the clearance of a wall, and an outlet [m].

    Returns
    -------
    bool
        True when no piece of open ground that a first run can come to is one that the outlet lies on or touches. False
        proves nothing: unknown ground is not looked at here.
    """
    import shapely

    def near(place: Place, radius: float) -> set[int]:
        here = shapely.Point(place)
        return {k for k, part in enumerate(open_parts(grounds)) if shapely.dwithin(part, here, radius)}

    return near(start, max(TRIES)).isdisjoint(near(end, math.ulp(1.0) + 1e-6))
