"""A band and the stations where grade may change in; out: which straight runs fit, as polygons of their two ends.

A run between stations a and b is a point (invert at a, grade), and the ceiling and floor in between are half planes:
of a stretch only the lower hull of its ceiling and the upper hull of its floor count. Clipping one polygon stretch by
stretch gives every run that starts at a. Plain lists: polygons have a handful of corners, where arrays only cost.

Heights here are relative: invert less a base and less the least grade times the station, grades less the least grade.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np

from siteplan.fall.band import Floats

Corner = tuple[float, float]
Polygon = list[Corner]  # corners in order round it; one or two when it has no area
Interval = tuple[float, float]
Stretch = list[tuple[float, float, float]]  # what a run clears from one break station to the next:
# sign, station, bound; sign * (height of the run at the station) <= bound

TOUCH = 1e-10  # a corner this far [m] beyond a half plane still counts as on it


def _hull(points: Sequence[Corner], sign: float) -> list[Corner]:
    """The points that a straight line under (sign 1) or over (sign -1) them all can touch."""
    chain: list[Corner] = []
    for t, z in points:
        height = sign * z
        while len(chain) > 1:
            (t0, z0), (t1, z1) = chain[-2], chain[-1]
            if (z1 - z0) * (t - t0) < (height - z0) * (t1 - t0):
                break
            chain.pop()
        chain.append((t, height))
    return chain


def stretches(station: Floats, ceiling: Floats, floor: Floats, breaks: Floats) -> list[Stretch]:
    """The limits between each two neighbouring break stations, fewest that say the same.

    Parameters
    ----------
    station, ceiling, floor : (n,) array
        One sample a station, relative heights; every break station is among them [m].
    breaks : (k,) array
        Break stations, ascending, both ends of the line included [m].

    Returns
    -------
    list of Stretch
        k - 1 of them, upstream order.
    """
    first = station.searchsorted(breaks).tolist()
    at, top, bottom = station.tolist(), ceiling.tolist(), floor.tolist()
    found: list[Stretch] = []
    for low, high in pairwise(first):
        part = slice(low, high + 1)
        under = [(1.0, t, z) for t, z in _hull(list(zip(at[part], top[part], strict=True)), 1.0)]
        over = [(-1.0, t, z) for t, z in _hull(list(zip(at[part], bottom[part], strict=True)), -1.0)]
        found.append(under + over)
    return found


def clipped(polygon: Polygon, a: float, b: float, most: float) -> Polygon:
    """Part of a polygon where a x + b y <= most.

    Parameters
    ----------
    polygon : list of (x, y)
        Convex; may be a segment or a point.
    a, b : float
        The half plane's direction [-].
    most : float
        Its limit [m].

    Returns
    -------
    list of (x, y)
        Empty when nothing is left.

    References
    ----------
    Sutherland and Hodgman, Communications of the ACM 17, 1974, from memory.
    """
    beyond = [a * x + b * y - most for x, y in polygon]
    if max(beyond) <= TOUCH:
        return polygon
    if min(beyond) > TOUCH:
        return []
    kept: Polygon = []
    before, was = polygon[-1], beyond[-1]
    for corner, now in zip(polygon, beyond, strict=True):
        if (now > TOUCH and was < 0) or (now < 0 and was > TOUCH):
            share = was / (was - now)
            cut = (before[0] + (corner[0] - before[0]) * share, before[1] + (corner[1] - before[1]) * share)
            if not kept or cut != kept[-1]:
                kept.append(cut)
        if now <= TOUCH and (not kept or corner != kept[-1]):
            kept.append(corner)
        before, was = corner, now
    if len(kept) > 1 and kept[0] == kept[-1]:
        kept.pop()
    return kept


def _opening(limits: Stretch, origin: float, steepest: float) -> Polygon:
    """Every height at one end of a stretch with every grade."""
    top = min(bound for sign, t, bound in limits if t == origin and sign > 0)
    bottom = max(-bound for sign, t, bound in limits if t == origin and sign < 0)
    if bottom > top:
        if bottom > top + TOUCH:
            return []
        bottom = top
    return [(bottom, 0.0), (top, 0.0), (top, steepest), (bottom, steepest)]


def _cleared(opening: Polygon, limits: Sequence[Stretch], origin: float) -> list[Polygon]:
    """Lines (height at origin, grade) that clear the first stretch, the first two ... until none does."""
    from siteplan.fall.compiled_runs import cleared

    if not opening:
        return []
    ends = np.cumsum([len(one) for one in limits])
    every = np.array([limit for one in limits for limit in one])
    corners, counts = cleared(np.array(opening), every, ends, origin, TOUCH)
    listed = list(map(tuple, corners.tolist()))
    found, at = [], 0
    for count in counts.tolist():
        if not count:
            break
        found.append(listed[at : at + count])
        at += count
    return found


def runs_from(start: int, breaks: Sequence[float], limits: Sequence[Stretch], steepest: float) -> dict[int, Polygon]:
    """Every straight run upstream from one break station.

    Parameters
    ----------
    start : int
        Index of the break station it leaves from.
    breaks : sequence of float
        Break stations [m].
    limits : sequence of Stretch
        What lies between them.
    steepest : float
        Greatest grade above the least [-].

    Returns
    -------
    dict of int to polygon
        By the index of the break station it arrives at: corners (height at the start, height at the end) [m].
    """
    origin = breaks[start]
    polygons = _cleared(_opening(limits[start], origin, steepest), limits[start:], origin)
    found: dict[int, Polygon] = {}
    for end, polygon in enumerate(polygons, start + 1):
        length = breaks[end] - origin
        found[end] = [(x, x + y * length) for x, y in polygon]
    return found


def runs_to_last(breaks: Sequence[float], limits: Sequence[Stretch], steepest: float) -> dict[int, Polygon]:
    """Every straight run that ends at the last break station.

    Parameters
    ----------
    breaks : sequence of float
        Break stations [m].
    limits : sequence of Stretch
        What lies between them.
    steepest : float
        Greatest grade above the least [-].

    Returns
    -------
    dict of int to polygon
        By the index of the break station it leaves from: corners (height at the start, height at the end) [m].
    """
    origin = breaks[-1]
    polygons = _cleared(_opening(limits[-1], origin, steepest), limits[::-1], origin)
    found: dict[int, Polygon] = {}
    for back, polygon in enumerate(polygons, 2):
        length = origin - breaks[-back]
        found[len(breaks) - back] = [(x - y * length, x) for x, y in polygon]
    return found


def within(polygon: Polygon, starts: Interval, ends: Interval | None = None) -> Polygon:
    """Part of a polygon of runs whose starts, and ends when asked, lie in intervals.

    Parameters
    ----------
    polygon : list of (height at start, height at end)
        Runs [m].
    starts, ends : (low, high)
        Heights allowed [m].

    Returns
    -------
    list of (height at start, height at end)
        Empty when nothing is left.
    """
    low, high = starts
    lowest, highest = low - TOUCH, high + TOUCH
    if any(x > highest for x, _ in polygon):
        polygon = clipped(polygon, 1.0, 0.0, high)
    if any(x < lowest for x, _ in polygon):
        polygon = clipped(polygon, -1.0, 0.0, -low)
    if ends is not None:
        low, high = ends
        lowest, highest = low - TOUCH, high + TOUCH
        if any(w > highest for _, w in polygon):
            polygon = clipped(polygon, 0.0, 1.0, high)
        if any(w < lowest for _, w in polygon):
            polygon = clipped(polygon, 0.0, -1.0, -low)
    return polygon


def united(intervals: Iterable[Interval]) -> list[Interval]:
    """Intervals with those that touch made one.

    Parameters
    ----------
    intervals : iterable of (low, high)
        In any order [m].

    Returns
    -------
    list of (low, high)
        Ascending, apart from each other.
    """
    joined: list[Interval] = []
    for low, high in sorted(intervals):
        if joined and low <= joined[-1][1] + TOUCH:
            joined[-1] = (joined[-1][0], max(high, joined[-1][1]))
        else:
            joined.append((low, high))
    return joined


def span(polygon: Polygon, end: float) -> Interval:
    """Lowest and highest start of the runs that end at one height.

    Parameters
    ----------
    polygon : list of (height at start, height at end)
        Runs, not empty [m].
    end : float
        Height at the end, inside the polygon's range [m].

    Returns
    -------
    (float, float)
        Heights at the start [m].
    """
    low, high = float("inf"), float("-inf")
    x0, w0 = polygon[-1]
    for x1, w1 in polygon:
        if (w0 - end) * (w1 - end) < 0:
            x = x0 + (x1 - x0) * (end - w0) / (w1 - w0)
            low, high = min(low, x), max(high, x)
        if abs(w1 - end) <= TOUCH:  # a side that is level but for rounding counts whole
            low, high = min(low, x1), max(high, x1)
        x0, w0 = x1, w1
    if low > high:  # beyond the range by rounding: the nearest corner
        x0 = min(polygon, key=lambda corner: abs(corner[1] - end))[0]
        return x0, x0
    return low, high
