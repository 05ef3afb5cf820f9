"""A set of cells that hang together in; out: its outline in plan, one outer ring and its holes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from siteplan.site import Grid
from siteplan.values.drawn_shapes import Ring

# where cells touch at a corner alone the outline cuts that corner this far, so that it stays whole [cells]
PINCH = 0.02

_AHEAD = ((0, 1), (1, 0), (0, -1), (-1, 0))  # east, south, west, north on the page; +1 turns right, -1 left


def outline(grid: Grid, row: NDArray[np.intp], col: NDArray[np.intp]) -> tuple[Ring, ...]:
    """Rings round cells that are joined over sides or corners: the outer one, then the holes.

    Parameters
    ----------
    grid : Grid
        The elevation grid.
    row, col : ndarray of int, shape (n,)
        The cells, at least one, all joined over their eight neighbours.

    Returns
    -------
    tuple of rings
        Closed (first place repeated) plan coordinates [m]; the outer ring counter-clockwise, holes clockwise;
        a valid polygon even where cells touch at a corner alone, since the corner there is cut by `PINCH` cells, which
        adds `PINCH` squared of a cell's area at each.
    """
    r0, c0 = int(row.min()), int(col.min())
    held = np.zeros((int(row.max()) - r0 + 3, int(col.max()) - c0 + 3), bool)
    held[row - r0 + 1, col - c0 + 1] = True
    rings: list[Ring] = []
    for corners in _trace(_edges(held)):
        place = np.array(corners, float)
        x, y = grid.to_plan(place[:, 0] + (r0 - 1.5), place[:, 1] + (c0 - 1.5))
        turned = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) > 0
        points = list(zip(x.tolist(), y.tolist(), strict=True))
        if turned != (not rings):
            points = [points[0], *points[:0:-1]]
        rings.append((*points, points[0]))
    return tuple(rings)


def _edges(held: NDArray[np.bool_]) -> dict[tuple[int, int], list[int]]:
    """Sides between a held cell and one that is not, by the corner they start from, the held cell on their right."""
    edges: dict[tuple[int, int], list[int]] = {}
    for r, c in np.argwhere(held).tolist():
        if not held[r - 1, c]:
            edges.setdefault((r, c), []).append(0)
        if not held[r, c + 1]:
            edges.setdefault((r, c + 1), []).append(1)
        if not held[r + 1, c]:
            edges.setdefault((r + 1, c + 1), []).append(2)
        if not held[r, c - 1]:
            edges.setdefault((r + 1, c), []).append(3)
    return edges


def _trace(edges: dict[tuple[int, int], list[int]]) -> list[list[tuple[float, float]]]:
    """Rings of corners (row, col), the outer one first since the first cell's upper side lies on it."""
    rings = []
    walked: set[tuple[tuple[int, int], int]] = set()
    for start, headings in edges.items():
        for first in headings:
            if (start, first) in walked:
                continue
            corners: list[tuple[float, float]] = []
            place, heading = start, first
            while (place, heading) not in walked:
                walked.add((place, heading))
                place = (place[0] + _AHEAD[heading][0], place[1] + _AHEAD[heading][1])
                ways = edges[place]
                # two ways on: cells touch at this corner alone, and turning left goes over to the other one
                onward = ways[0] if len(ways) == 1 else (heading - 1) % 4
                corners += _corner(place, heading, onward, pinched=len(ways) > 1)
                heading = onward
            rings.append(corners)
    return rings


def _corner(place: tuple[int, int], heading: int, onward: int, *, pinched: bool) -> list[tuple[float, float]]:
    """What a ring gets at a corner: nothing going straight, the corner, or a cut one that leaves a neck."""
    if heading == onward:
        return []
    r, c = place
    if not pinched:
        return [(float(r), float(c))]
    (dr, dc), (er, ec) = _AHEAD[heading], _AHEAD[onward]
    return [(r - PINCH * dr, c - PINCH * dc), (r + PINCH * er, c + PINCH * ec)]
