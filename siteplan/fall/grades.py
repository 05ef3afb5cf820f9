"""A band and the stations where grade may change in; out: fewest constant grades, and of those the least digging.

The heights that k runs can reach at a break station are a union of intervals; growing k until the start is reached
gives the fewest. Least digging among all sequences of so many runs is then a search: the most that a sequence can
lie high, as a function of its end height, is concave and piecewise linear, and growing it by a run is exact, because
the best start of a run is the free optimum pressed between the lowest and the highest start that its polygon allows.
"""

from __future__ import annotations

import heapq
from bisect import bisect_right
from collections.abc import Hashable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from siteplan.fall.band import LEGAL, SNAP, Band, Floats, Profile, Shortfall, collapsed, thinned_band, worst_breach
from siteplan.fall.highest import check_grades, highest_profile
from siteplan.fall.straight_runs import (
    TOUCH,
    Interval,
    Polygon,
    Stretch,
    runs_from,
    runs_to_last,
    span,
    stretches,
    united,
    within,
)
from siteplan.remembered import remembered

ELSEWHERE = (60, 150)  # stations added in turn when no runs between the allowed ones fit
_EXACT = 1e-10  # digging closer than this [m2] is the same
_KEPT = 128  # answers remembered
SEARCHED = 4000  # sequences grown before the search stops with a gap
MORE_BREAKS = "No straight runs between the allowed stations fit: the grade also breaks where the ground asks for it."
NO_GRADES = "No straight runs fit without a vertical drop: the highest inverts are given as they are."

Reached = list[dict[int, list[Interval]]]


class _Height(NamedTuple):
    """How high a sequence lies: greatest integral of heights [m2] by height at its end [m], concave."""

    ends: list[float]
    most: list[float]

    def at(self, end: float) -> float:
        place = min(max(bisect_right(self.ends, end) - 1, 0), len(self.ends) - 2) if len(self.ends) > 1 else 0
        if len(self.ends) == 1 or self.ends[place + 1] == self.ends[place]:
            return self.most[place]
        share = (end - self.ends[place]) / (self.ends[place + 1] - self.ends[place])
        return self.most[place] + (self.most[place + 1] - self.most[place]) * share


class _Grown(NamedTuple):
    """A sequence of runs from the outlet to one break station; the way back to how it was grown."""

    place: int
    height: _Height
    polygon: Polygon  # of its last run
    free: float  # start of its last run that would be best with no limits
    before: _Grown | None


class _Problem(NamedTuple):
    """A line made plain: relative heights, break stations, what lies between, runs found so far."""

    breaks: list[float]
    limits: list[Stretch]
    steepest: float
    ends: Interval  # heights allowed at the outlet
    to_start: dict[int, Polygon]  # runs that reach the line's start, by where they leave
    found: dict[int, dict[int, Polygon]]  # runs by where they leave and arrive, filled in as asked for

    def runs(self, place: int, *, final: bool) -> dict[int, Polygon]:
        if final:
            return {len(self.breaks) - 1: self.to_start[place]} if place in self.to_start else {}
        if place not in self.found:
            self.found[place] = runs_from(place, self.breaks, self.limits, self.steepest)
        return self.found[place]


def break_stations(band: Band, breaks: ArrayLike) -> Floats:
    """Stations where grade may change: those asked for, on the line, one each, and both ends.

    Parameters
    ----------
    band : Band
        The line's band.
    breaks : array_like
        Stations, any order; off the line they are left out [m].

    Returns
    -------
    (k,) array
        Ascending; moved onto a sample of the band that is within a thousandth of a millimetre [m].
    """
    asked = np.unique(np.asarray(breaks, dtype=np.float64))
    asked = asked[(asked > SNAP) & (asked < band.length - SNAP)]
    after = np.clip(np.searchsorted(band.station, asked), 1, band.station.size - 1)
    lower, upper = band.station[after - 1], band.station[after]
    nearest = np.where(asked - lower < upper - asked, lower, upper)
    asked = np.unique(np.where(np.abs(nearest - asked) <= SNAP, nearest, asked))
    if asked.size:
        asked = asked[np.concatenate(([True], np.diff(asked) > SNAP))]
    return np.concatenate(([0.0], asked, [band.length]))


def _problem(band: Band, breaks: Floats, grade: float, grade_max: float | None) -> tuple[_Problem, float]:
    station, ceiling, floor = collapsed(band, breaks)
    base = band.control
    ceiling, floor = ceiling - base - grade * station, floor - base - grade * station
    shortest = float(np.diff(breaks).min())
    steepest = max(float(ceiling.max() - floor.min()), 0.0) / shortest if grade_max is None else grade_max - grade
    limits = stretches(station, ceiling, floor, breaks)
    ends = (float(floor[0]), float(ceiling[0]))
    places = breaks.tolist()
    return _Problem(places, limits, steepest, ends, runs_to_last(places, limits, steepest), {}), base


def _reached(problem: _Problem) -> Reached | None:
    """Heights reached with 0, 1, 2 ... runs at each break station, until the start is reached."""
    last = len(problem.breaks) - 1
    low, high = problem.ends
    if low > high + LEGAL:
        return None
    layers: Reached = [{0: [(min(low, high), max(low, high))]}]
    for _ in range(last):
        for final in (True, False):
            met: dict[int, list[Interval]] = {}
            for place, intervals in layers[-1].items():
                for end, polygon in problem.runs(place, final=final).items():
                    for interval in intervals:
                        part = within(polygon, interval)
                        if part:
                            heights = [w for _, w in part]
                            met.setdefault(end, []).append((min(heights), max(heights)))
            if met:
                layers.append({end: united(met[end]) for end in sorted(met)})
            if final and met:
                return layers
            if not final and not met:
                return None
    return None


def _useful(problem: _Problem, layers: Reached) -> tuple[Reached, list[dict[int, float]]]:
    """Of the heights reached those from which the start is reached in time, and a bound on how high the rest lies."""
    last = len(problem.breaks) - 1
    useful: Reached = [{} for _ in layers]
    bound: list[dict[int, float]] = [{} for _ in layers]
    useful[-1], bound[-1] = {last: layers[-1][last]}, {last: 0.0}
    for count in range(len(layers) - 2, -1, -1):
        for start, intervals in layers[count].items():
            starts: list[Interval] = []
            most = float("-inf")
            for end, polygon in problem.runs(start, final=count == len(layers) - 2).items():
                for wanted in useful[count + 1].get(end, ()):
                    for interval in intervals:
                        part = within(polygon, interval, wanted)
                        if part:
                            heights = [x for x, _ in part]
                            starts.append((min(heights), max(heights)))
                            half = (problem.breaks[end] - problem.breaks[start]) / 2
                            most = max(most, half * max(x + w for x, w in part) + bound[count + 1][end])
            if starts:
                useful[count][start], bound[count][start] = united(starts), most
    return useful, bound


def _grown(node: _Grown, end: int, length: float, polygon: Polygon) -> _Grown:
    """A sequence with one more run, whose starts and ends lie in `polygon`."""
    knots, half = node.height.ends, length / 2
    worth = [most + half * x for x, most in zip(knots, node.height.most, strict=True)]
    free = knots[max(range(len(knots)), key=worth.__getitem__)]
    ends = {w for _, w in polygon}
    x0, w0 = polygon[-1]
    for x1, w1 in polygon:
        for knot in knots:
            if (x0 - knot) * (x1 - knot) < 0:
                ends.add(w0 + (w1 - w0) * (knot - x0) / (x1 - x0))
        x0, w0 = x1, w1
    places: list[float] = []
    most_at: list[float] = []
    for w in sorted(ends):
        low, high = span(polygon, w)
        x = min(max(free, low), high)
        if not places or w - places[-1] > TOUCH:  # one place but for rounding must not make a cliff
            places.append(w)
            most_at.append(node.height.at(x) + half * (x + w))
    return _Grown(end, _Height(places, most_at), polygon, free, node)


def _least_digging(problem: _Problem, layers: Reached) -> tuple[_Grown, float]:
    """The sequence of fewest runs that lies highest, and how much higher another could at most lie [m2]."""
    useful, bound = _useful(problem, layers)
    total = len(layers) - 1
    low, high = useful[0][0][0][0], useful[0][0][-1][1]
    root = _Grown(0, _Height([low, high] if high > low else [low], [0.0, 0.0] if high > low else [0.0]), [], low, None)
    turn = 0
    heap: list[tuple[float, int, int, _Grown, tuple[int, Polygon] | None]] = [(-bound[0][0], 0, 0, root, None)]
    grown = 0
    best: tuple[float, _Grown] | None = None
    while heap:
        key, _, count, node, step = heapq.heappop(heap)
        if best is not None and (-key <= best[0] + _EXACT or grown >= SEARCHED):
            return best[1], max(0.0, -key - best[0])
        if step is not None:
            end, polygon = step
            grown += 1
            node = _grown(node, end, problem.breaks[end] - problem.breaks[node.place], polygon)
            most = max(node.height.most)
            if count == total and (best is None or most > best[0]):
                best = (most, node)
            if count < total:
                turn += 1
                heapq.heappush(heap, (-min(-key, most + bound[count][end]), turn, count, node, None))
            continue
        top = max(node.height.most)
        domain = (node.height.ends[0], node.height.ends[-1])
        for end, polygon in problem.runs(node.place, final=count == total - 1).items():
            for wanted in useful[count + 1].get(end, ()):
                part = within(polygon, domain, wanted)
                if part:
                    half = (problem.breaks[end] - problem.breaks[node.place]) / 2
                    hope = top + half * max(x + w for x, w in part) + bound[count + 1][end]
                    turn += 1
                    heapq.heappush(heap, (-min(-key, hope), turn, count + 1, node, (end, part)))
    if best is None:
        raise ArithmeticError("heights were reached but no sequence of runs reaches them")
    return best[1], 0.0


def _followed(node: _Grown) -> tuple[list[int], list[float]]:
    """Break stations and heights of a sequence, outlet first, ending where it lies highest."""
    places, heights = [node.place], []
    heights.append(node.height.ends[max(range(len(node.height.ends)), key=node.height.most.__getitem__)])
    while node.before is not None:
        low, high = span(node.polygon, heights[-1])
        heights.append(min(max(node.free, low), high))
        node = node.before
        places.append(node.place)
    return places[::-1], heights[::-1]


def _asked(
    band: Band, *, grade: float, grade_max: float | None = None, breaks: ArrayLike, elsewhere: bool = True
) -> Hashable:
    return *band.content, grade, grade_max, np.asarray(breaks, dtype=np.float64).tobytes(), elsewhere, SEARCHED


@remembered(_asked, most=_KEPT)
def few_grades(
    band: Band, *, grade: float, grade_max: float | None = None, breaks: ArrayLike, elsewhere: bool = True
) -> Profile | Shortfall:
    """Inverts in the fewest constant-grade runs that stay inside the band everywhere, and of those least digging.

    Parameters
    ----------
    band : Band
        The line's band.
    grade : float
        Least grade [-].
    grade_max : float or None
        Greatest grade [-].
    breaks : array_like, shape (k,)
        Stations where grade may change: bends, joints, stations of the schedule [m].
    elsewhere : bool
        False does not look for breaks at other stations when none between these fit.

    Returns
    -------
    Profile or Shortfall
        One sample a grade break and one at each end, without vertical drops; `gap` is above 0 when the search for
        least digging stopped early. When no runs between the allowed stations fit, grade breaks stand also where
        the highest profile bends; when only vertical drops help, it is the highest profile itself; a note says
        which. Or what is missing when nothing fits.

    Raises
    ------
    ValueError
        If a grade is negative, or the greatest is below the least.

    References
    ----------
    Own method, checked against all subsets of breaks by linear programme in the tests.

    Examples
    --------
    >>> band = Band(station=[0, 10, 30], ceiling=[10.0, 10.2, 10.4], floor=[9.6, 9.0, 9.0])
    >>> few_grades(band, grade=0.01, breaks=[10, 20]).invert.round(3).tolist()
    [10.0, 10.4]
    """
    check_grades(grade, grade_max)
    highest = highest_profile(band, grade=grade, grade_max=grade_max)
    if isinstance(highest, Shortfall):
        return highest
    given = np.asarray(breaks, dtype=np.float64)
    profile = _fewest_legal(band, given, grade, grade_max)
    if profile is not None:
        return profile
    plain = thinned_band(highest)
    for most in ELSEWHERE if elsewhere else ():
        profile = _fewest_legal(band, np.append(given, _telling(plain, most)), grade, grade_max)
        if profile is not None:
            return Profile(station=profile.station, invert=profile.invert, gap=profile.gap, notes=(MORE_BREAKS,))
    return Profile(station=plain.station, invert=plain.invert, notes=(NO_GRADES,))


def _fewest_legal(band: Band, breaks: Floats, grade: float, grade_max: float | None) -> Profile | None:
    profile = _fewest(band, break_stations(band, breaks), grade, grade_max)
    legal = profile is not None and worst_breach(profile, band, grade=grade, grade_max=grade_max) <= LEGAL
    return profile if legal else None


def _telling(profile: Profile, most: int) -> Floats:
    """The few stations that tell most of a profile, each where it lies farthest off the chord of those before.

    The search for few grades grows with the cube of their number.
    """
    station, invert = profile.station, profile.invert
    chosen = [0, station.size - 1]
    while len(chosen) < min(most, station.size):
        off = np.abs(invert - np.interp(station, station[chosen], invert[chosen]))
        off[chosen] = -1.0
        chosen = sorted([*chosen, int(np.argmax(off))])
    return station[chosen]


def _fewest(band: Band, allowed: Floats, grade: float, grade_max: float | None) -> Profile | None:
    problem, base = _problem(band, allowed, grade, grade_max)
    layers = _reached(problem)
    if layers is None:
        return None
    node, gap = _least_digging(problem, layers)
    places, heights = _followed(node)
    station = allowed[places]
    return Profile(station=station, invert=np.array(heights) + base + grade * station, gap=gap)
