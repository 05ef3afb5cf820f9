"""Shots whose descriptions name corners of the lot and the house in.

The outlines that they close to, for a person to confirm, out.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from siteplan.survey.pointlist_signs import corner_named
from siteplan.survey.pointlists import ListedPoint

_ROUND = ((-1, -1), (1, -1), (1, 1), (-1, 1))  # SW, SE, NE, NW: to the left
_KINDS = (("LOT", "lot", "Lot"), ("HOUSE", "building", "House"))
_OVER = 0.02  # part of a house that may stand over the lot line


class CornerOutline(NamedTuple):
    """An outline by labelled corners.

    Kind and name of the feature, numbers of its shots, its corners as the list has them.
    """

    kind: str
    name: str
    shots: tuple[str, ...]
    corners: tuple[tuple[float, float], ...]  # east, north [the list's unit]


def corner_outlines(points: Sequence[ListedPoint], unit: float) -> tuple[CornerOutline, ...]:
    """What labelled corners draw: a lot, and a house on it.

    Parameters
    ----------
    points : sequence of ListedPoint
        The list, its order known.
    unit : float
        Metres in one unit of its coordinates.

    Returns
    -------
    tuple of CornerOutline
        Only where each of SW, SE, NE and NW is named once and no other corner is, and the four close to an outline that
        does not cross itself and runs the way their names say. A house only beside a lot that it stands on.
    """
    from shapely import Polygon

    found: list[CornerOutline] = []
    lot: Polygon | None = None
    for group, kind, name in _KINDS:
        named = [(label[1], one) for one in points if (label := corner_named(one.description)) and label[0] == group]
        if sorted(compass for compass, _ in named) != sorted(_ROUND):
            continue
        by = dict(named)
        ring = tuple((by[k].easting / unit, by[k].northing / unit) for k in _ROUND)
        outline = Polygon(ring)
        if not outline.is_valid or not outline.exterior.is_ccw or outline.area <= 0:
            continue
        if kind == "building" and (lot is None or outline.difference(lot).area > _OVER * outline.area):
            continue
        lot = outline if kind == "lot" else lot
        found.append(CornerOutline(kind, name, tuple(by[k].number for k in _ROUND), ring))
    return tuple(found)
