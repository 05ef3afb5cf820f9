"""A band in; fewest constant grades out, each one that a crew sets: a whole number of steps.

Of those the least digging.

As in `grades`, but a run has one of few grades. Heights that a run of one grade can leave from are an interval, which
the run moves up unchanged, so the heights that k runs can reach are again intervals; growing k until the start is
reached gives the fewest; k grows from the start down, for a hole in a curb is one height and not an interval. Least
digging is a search from the outlet up, with what the best of the runs that are left could reach as its bound.

Heights are relative here as in `straight_runs`: invert less the outlet's control and less the least grade times the
station.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Hashable, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from siteplan.fall.band import LEGAL, Band, Floats, Profile, Shortfall, collapsed, one_sided, worst_breach
from siteplan.fall.grades import break_stations
from siteplan.fall.highest import check_grades, highest_profile
from siteplan.fall.straight_runs import TOUCH, Polygon, Stretch, runs_from, stretches, united
from siteplan.remembered import remembered

FEW, GROWN = 30, 1500  # sequences kept after each run, at first, and where that leaves room for a higher one
_EXACT = 1e-9  # digging closer than this [m2] is the same
_WHOLE = 1e-9  # of a step
_KEPT = 128  # answers remembered

Interval = tuple[float, float]


class _Runs(NamedTuple):
    """Runs from one break station to another, one a grade: what each rises, and the heights that it may leave from."""

    rise: Floats
    low: Floats
    high: Floats


class _Line(NamedTuple):
    """A line made plain.

    Break stations, what lies between them, and runs by where they leave and arrive, filled in as asked for.
    """

    breaks: list[float]
    limits: list[Stretch]
    steepest: float  # above the least grade
    grade: float
    step: float
    arrive: float
    above: list[float]  # area under the highest profile from a break station on [m2]
    found: dict[int, dict[int, _Runs]]

    polygons: dict[int, dict[int, Polygon]]

    def runs(self, start: int, ends: Collection[int]) -> dict[int, _Runs]:
        """Runs from one break station to any of some others."""
        if start == len(self.breaks) - 1:
            return {}
        if start not in self.polygons:
            self.polygons[start] = runs_from(start, self.breaks, self.limits, self.steepest)
        found = self.found.setdefault(start, {})
        for end in ends:
            if end in self.polygons[start] and end not in found:
                found[end] = _kept(self._of_steps(start, end, self.polygons[start][end]))
        return {end: found[end] for end in ends if end in found}

    def _of_steps(self, start: int, end: int, polygon: Polygon) -> _Runs:
        runs = _runs(polygon, self.breaks[end] - self.breaks[start], self.grade, self.steepest, self.step)
        return runs._replace(low=np.maximum(runs.low, self.arrive - runs.rise)) if start == 0 else runs


class _Rest(NamedTuple):
    """Heights at a break station from which the start is reached, and a bound on the area of the way there [m2]."""

    heights: list[Interval]
    most: float


class _Layer(NamedTuple):
    """Sequences of so many runs: where each ends, between which heights, its last rise, and the one it was grown from.

    The area under a sequence that ends at height h is `base` + station x h: all its runs move up and down together.
    """

    place: np.ndarray
    low: np.ndarray
    high: np.ndarray
    base: np.ndarray
    rise: np.ndarray
    before: np.ndarray


class _Found(NamedTuple):
    """The highest sequence found, outlet first, its area, and how large that of one left out could be [m2]."""

    places: list[int]
    heights: list[float]
    area: float
    left_out: float


def _asked(
    band: Band, *, grade: float, grade_max: float | None = None, step: float, breaks: ArrayLike, arrive: float = 0.0
) -> Hashable:
    return *band.content, grade, grade_max, step, np.asarray(breaks, dtype=np.float64).tobytes(), arrive, FEW, GROWN


@remembered(_asked, most=_KEPT)
def few_stepped(
    band: Band,
    *,
    grade: float,
    grade_max: float | None = None,
    step: float,
    breaks: ArrayLike,
    arrive: float = 0.0,
) -> Profile | None:
    """Inverts in the fewest runs of constant grade, each grade a whole number of steps, inside the band everywhere.

    Parameters
    ----------
    band : Band
        The line's band.
    grade : float
        Least grade [-].
    grade_max : float or None
        Greatest grade [-].
    step : float
        What grades are whole numbers of, above 0 [-].
    breaks : array_like, shape (k,)
        Stations where grade may change [m].
    arrive : float
        How far the outlet's control could rise with the run that ends there still at the least grade, at the least [m].

    Returns
    -------
    Profile or None
        One sample a grade break and one at each end; `gap` is above 0 when the search for least digging stopped early.
        None where no such runs fit.

    Raises
    ------
    ValueError
        If a grade is negative, the greatest is below the least, or the step is not above 0.

    References
    ----------
    Own method, checked against every subset of breaks with every choice of grades in the tests.

    Examples
    --------
    >>> band = Band(station=[0, 10, 30], ceiling=[10.0, 10.2, 10.42], floor=[9.6, 9.0, 9.0])
    >>> few_stepped(band, grade=0.01, step=0.0005, breaks=[10, 20]).invert.round(3).tolist()
    [10.0, 10.42]
    """
    check_grades(grade, grade_max)
    if not step > 0:
        raise ValueError("a step of grades is above 0")
    highest = highest_profile(band, grade=grade, grade_max=grade_max)
    if isinstance(highest, Shortfall):
        return None
    line, ends = _line(band, break_stations(band, breaks), grade, grade_max, step, arrive, highest)
    rest = _rest(line, ends)
    if rest is None:
        return None
    places, heights, gap = _least_digging(line, rest, ends)
    station = np.array(line.breaks)[places]
    profile = Profile(station=station, invert=np.array(heights) + band.control + grade * station, gap=gap)
    return profile if worst_breach(profile, band, grade=grade, grade_max=grade_max) <= LEGAL else None


def _line(
    band: Band, breaks: Floats, grade: float, grade_max: float | None, step: float, arrive: float, highest: Profile
) -> tuple[_Line, Interval]:
    station, ceiling, floor = collapsed(band, breaks)
    ceiling, floor = ceiling - band.control - grade * station, floor - band.control - grade * station
    shortest = float(np.diff(breaks).min())
    steepest = max(float(ceiling.max() - floor.min()), 0.0) / shortest if grade_max is None else grade_max - grade
    at = np.union1d(highest.station, breaks)
    height = one_sided(highest.station, highest.invert, at, upstream=True) - band.control - grade * at
    area = np.concatenate(([0.0], np.cumsum((height[1:] + height[:-1]) / 2 * np.diff(at))))
    above = [float(area[-1] - area[int(np.searchsorted(at, place))]) for place in breaks]
    limits = stretches(station, ceiling, floor, breaks)
    line = _Line(breaks.tolist(), limits, steepest, grade, step, arrive, above, {}, {})
    return line, (float(floor[0]), float(ceiling[0]))


def _runs(polygon: Polygon, length: float, grade: float, steepest: float, step: float) -> _Runs:
    """The runs of a polygon (heights at its two ends) whose grades are whole numbers of steps."""
    x, w = (np.array(each) for each in zip(*polygon, strict=True))
    rises = w - x
    low, high = float(rises.min()), float(rises.max())
    first = math.ceil((max(0.0, low / length) + grade) / step - _WHOLE)
    last = math.floor((min(steepest, high / length) + grade) / step + _WHOLE)
    rise = np.maximum(0.0, np.arange(first, last + 1) * step - grade) * length
    at = np.clip(rise, low, high)[:, None]
    from_rise, to_rise = rises[None, :], np.roll(rises, -1)[None, :]
    from_x, to_x = x[None, :], np.roll(x, -1)[None, :]
    span = to_rise - from_rise
    met = (np.minimum(from_rise, to_rise) <= at) & (at <= np.maximum(from_rise, to_rise))
    share = np.divide(at - from_rise, span, out=np.zeros(np.broadcast_shapes(at.shape, span.shape)), where=span != 0)
    crossing = from_x + (to_x - from_x) * share
    on = np.abs(from_rise - at) <= TOUCH  # a side that is level but for rounding counts whole
    least = np.minimum(np.where(met, crossing, np.inf), np.where(on, from_x, np.inf)).min(axis=1)
    most = np.maximum(np.where(met, crossing, -np.inf), np.where(on, from_x, -np.inf)).max(axis=1)
    return _Runs(rise, least, most)


def _kept(runs: _Runs) -> _Runs:
    fits = runs.low <= runs.high + TOUCH
    low = np.minimum(runs.low, runs.high)
    return _Runs(runs.rise[fits], low[fits], runs.high[fits])


def _rest(line: _Line, ends: Interval) -> list[dict[int, _Rest]] | None:
    """Heights from which the start is reached in 1, 2, 3 ...

    Runs at each break station, until the outlet's own are among them.
    """
    last = len(line.breaks) - 1
    if ends[0] > ends[1] + LEGAL:
        return None
    layers: list[dict[int, _Rest]] = [{last: _Rest([(-math.inf, math.inf)], 0.0)}]
    for _ in range(last):
        # the outlet first, alone: most lines take one grade
        for starts in ((0,), range(1, last)):
            met = {start: each for start in starts if (each := _from(line, start, layers[-1])) is not None}
            if 0 in met and any(low <= ends[1] + TOUCH and ends[0] <= high + TOUCH for low, high in met[0].heights):
                return [*layers, met]
        if not met:
            return None
        layers.append(met)
    return None


def _from(line: _Line, start: int, above: Mapping[int, _Rest]) -> _Rest | None:
    """Heights at a break station from which one run leads to heights above that reach the start."""
    found: list[Interval] = []
    most = -math.inf
    for end, runs in line.runs(start, above).items():
        half = (line.breaks[end] - line.breaks[start]) / 2
        for wanted in above[end].heights:
            low, high = np.maximum(runs.low, wanted[0] - runs.rise), np.minimum(runs.high, wanted[1] - runs.rise)
            fits = low <= high + TOUCH
            if fits.any():
                found += zip(np.minimum(low, high)[fits].tolist(), high[fits].tolist(), strict=True)
                most = max(most, half * float((2 * high + runs.rise)[fits].max()) + above[end].most)
    return _Rest(united(found), min(most, line.above[start])) if found else None


def _least_digging(line: _Line, rest: list[dict[int, _Rest]], ends: Interval) -> tuple[list[int], list[float], float]:
    """Places and heights of the sequence of fewest runs that lies highest.

    Also how much higher another could at most lie [m2].
    """
    few = _grown(line, rest, ends, FEW, -math.inf)
    if few.left_out <= few.area + _EXACT:
        return few.places, few.heights, 0.0
    most = _grown(line, rest, ends, GROWN, few.area)
    best = most if most.area > few.area else few
    return best.places, best.heights, max(0.0, min(few.left_out, most.left_out) - best.area)


def _grown(line: _Line, rest: list[dict[int, _Rest]], ends: Interval, most: int, beat: float) -> _Found:
    """Sequences grown run by run from the outlet, so many kept after each; none that cannot lie higher than `beat`."""
    low, high = (np.array([end]) for end in (min(ends), ends[1]))
    layers = [_Layer(np.array([0]), low, high, np.zeros(1), np.zeros(1), np.array([-1]))]
    left_out = -math.inf
    for left in range(len(rest) - 2, -1, -1):
        layer, left_by_cap = _next(line, layers[-1], rest[left], most, beat)
        left_out = max(left_out, left_by_cap)
        if layer is None:
            return _Found([], [], -math.inf, max(left_out, beat))
        layers.append(layer)
    area = layers[-1].base + line.breaks[-1] * layers[-1].high
    index = int(np.argmax(area))
    places, heights = [len(line.breaks) - 1], [float(layers[-1].high[index])]
    for k in range(len(layers) - 1, 0, -1):
        heights.append(heights[-1] - float(layers[k].rise[index]))
        index = int(layers[k].before[index])
        places.append(int(layers[k - 1].place[index]))
    return _Found(places[::-1], heights[::-1], float(area.max()), left_out)


def _next(line: _Line, layer: _Layer, rest: Mapping[int, _Rest], most: int, beat: float) -> tuple[_Layer | None, float]:
    """Every sequence with one run more, the highest `most` of them; and how high the best of the others could lie."""
    parts: list[tuple[np.ndarray, ...]] = []
    for place in np.unique(layer.place).tolist():
        here = np.flatnonzero(layer.place == place)
        at = line.breaks[place]
        for end, runs in line.runs(place, rest).items():
            half, to = (line.breaks[end] - at) / 2, line.breaks[end]
            for wanted in rest[end].heights:
                low = np.maximum(np.maximum(layer.low[here][:, None], runs.low), wanted[0] - runs.rise)
                high = np.minimum(np.minimum(layer.high[here][:, None], runs.high), wanted[1] - runs.rise)
                node, run = np.nonzero(low <= high + TOUCH)
                if not node.size:
                    continue
                rise, top = runs.rise[run], high[node, run] + runs.rise[run]
                base = layer.base[here[node]] - rise * (at + half)
                hope = base + to * top + rest[end].most
                parts.append(
                    (
                        np.full(node.size, end),
                        np.minimum(low[node, run], high[node, run]) + rise,
                        top,
                        base,
                        rise,
                        here[node],
                        hope,
                    )
                )
    if not parts:
        return None, -math.inf
    place, low, high, base, rise, before, hope = (np.concatenate(each) for each in zip(*parts, strict=True))
    order = np.argsort(-hope, kind="stable")
    order = order[hope[order] > beat + _EXACT]
    if not order.size:
        return None, -math.inf
    kept, out = order[:most], order[most:]
    left_out = float(hope[out[0]]) if out.size else -math.inf
    return _Layer(*(each[kept] for each in (place, low, high, base, rise, before))), left_out
