"""Straight runs from one break station, stretch by stretch, on plain arrays; compiled once, then read from a cache."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from siteplan.compiling import compiled

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@compiled
def cleared(corners: Floats, limits: Floats, ends: Ints, origin: float, touch: float) -> tuple[Floats, Ints]:
    """Clip a polygon of runs by the limits of one stretch after the other.

    Parameters
    ----------
    corners : (c, 2) array
        Every run at the origin: height [m], grade [-].
    limits : (n, 3) array
        Sign, station [m], bound [m] of each limit, in the order in which runs come to them.
    ends : (k,) array
        Where each stretch ends in `limits`.
    origin : float
        Station of the runs' one end [m].
    touch : float
        A corner this far beyond a limit still counts as on it [m].

    Returns
    -------
    corners : (m, 2) array
        The polygons after each stretch, one after the other.
    counts : (k,) array
        Corners of each; 0 from the stretch on that no run clears.

    References
    ----------
    Sutherland and Hodgman, Communications of the ACM 17, 1974, from memory.
    """
    most_corners = corners.shape[0] + limits.shape[0] + 1
    now = np.empty((most_corners, 2))
    kept = np.empty((most_corners, 2))
    beyond = np.empty(most_corners)
    size = corners.shape[0]
    now[:size] = corners
    found = np.empty((most_corners * ends.shape[0], 2))
    counts = np.zeros(ends.shape[0], np.int64)
    written = 0
    at = 0
    for stretch in range(ends.shape[0]):
        while at < ends[stretch] and size > 0:
            sign, bound = limits[at, 0], limits[at, 2]
            run = sign * (limits[at, 1] - origin)
            at += 1
            over = False
            for k in range(size):
                if sign * now[k, 0] + run * now[k, 1] > bound + touch:
                    over = True
                    break
            if not over:
                continue
            least, greatest = np.inf, -np.inf
            for k in range(size):
                beyond[k] = sign * now[k, 0] + run * now[k, 1] - bound
                least, greatest = min(least, beyond[k]), max(greatest, beyond[k])
            if greatest <= touch:
                continue
            if least > touch:
                size = 0
                break
            count = 0
            x0, y0, was = now[size - 1, 0], now[size - 1, 1], beyond[size - 1]
            for k in range(size):
                x1, y1, here = now[k, 0], now[k, 1], beyond[k]
                if (here > touch and was < 0) or (here < 0 and was > touch):
                    share = was / (was - here)
                    x, y = x0 + (x1 - x0) * share, y0 + (y1 - y0) * share
                    if count == 0 or x != kept[count - 1, 0] or y != kept[count - 1, 1]:
                        kept[count, 0], kept[count, 1] = x, y
                        count += 1
                if here <= touch and (count == 0 or x1 != kept[count - 1, 0] or y1 != kept[count - 1, 1]):
                    kept[count, 0], kept[count, 1] = x1, y1
                    count += 1
                x0, y0, was = x1, y1, here
            if count > 1 and kept[0, 0] == kept[count - 1, 0] and kept[0, 1] == kept[count - 1, 1]:
                count -= 1
            now, kept = kept, now
            size = count
        if size == 0:
            break
        counts[stretch] = size
        found[written : written + size] = now[:size]
        written += size
    return found[:written].copy(), counts
