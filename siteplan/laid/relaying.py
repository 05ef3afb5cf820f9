"""Condemned stretches in; how far each has to be taken up so that lawful pipe can be laid between ends that stay, out.

A stretch that is condemned says where the pipe is wrong, not where it is right again. Relaid pipe is held by both of
its ends: each order goes on until what lies at its ends lets the design be laid between them, or at the least the least
grade.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from siteplan.books.practice import OFF_GRADE, PAIR_DOUBT, REOPENS, STICK
from siteplan.laid.fit import LaidFit
from siteplan.laid.verdict_values import LaidLine, Place, Relay

_SAME = 1e-6


@dataclass(frozen=True, slots=True)
class _End:
    """One end of a stretch.

    Its shot's number, station, height, how far off the design [m], and whether it is set anew.
    """

    at: int
    station: float
    height: float
    off: float
    anew: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wanted:
    """What every order of a line must hold to.

    The least grade, where the lower end has to be, and cover again where it was lost.
    """

    min_grade: float
    raised: float | None
    cover: bool


def proven_orders(
    line: LaidLine, raw: Sequence[Place], *, min_grade: float, raised: float | None, cover: bool
) -> tuple[Relay, ...]:
    """Each condemned stretch carried on to where pipe can be laid again.

    The shortest way is taken on which the fall between both ends as they lie is that of the design, less what two shots
    cannot tell; else the shortest between ends near their design on which it is no less than the least grade; else an
    end of the line is set anew; else the least grade is all that is asked.

    Parameters
    ----------
    line : LaidLine
        As laid, with its fit.
    raw : sequence of Place
        Stretches of this line that were condemned.
    min_grade : float
        Least grade [-]; where the design is flatter the design is the measure.
    raised : float or None
        Height over its design [m] at which the outlet has to be laid, where it lies too low; None where it may stay.
    cover : bool
        Whether the line lies too high somewhere: cover must be kept again once an order is carried out.

    Returns
    -------
    tuple of Relay
        From the outlet upstream; none over another. `low` and `high` are None where no such way was found.
    """
    wanted = _Wanted(min_grade=min_grade, raised=raised, cover=cover)
    orders = [_order(line, one.station_from or 0.0, one.station_to or 0.0, (one.why,), wanted) for one in raw]
    while True:
        orders.sort(key=lambda one: (one.station_from, one.station_to))
        for one, other in itertools.pairwise(orders):
            if other.station_from < max(one.station_to, one.station_from + _SAME) - _SAME or other == one:
                whys = tuple(dict.fromkeys((*one.whys, *other.whys)))
                both = _order(line, one.station_from, max(one.station_to, other.station_to), whys, wanted)
                orders = [each for each in orders if each is not one and each is not other] + [both]
                break
        else:
            return tuple(orders)


def _order(line: LaidLine, first: float, last: float, whys: tuple[str, ...], wanted: _Wanted) -> Relay:
    """The shortest order that takes in a stretch and can be carried out."""
    fit = line.fit
    assert fit is not None
    point = last - first < _SAME
    low = max(0, int(np.sum(fit.station <= first + (-_SAME if point else _SAME))) - 1)
    high = min(len(fit.station) - 1, int(np.sum(fit.station < last + (_SAME if point else -_SAME))))
    lower, upper = list(_lower(line, low, wanted.raised)), list(_upper(line, max(high, low + 1)))
    pairs = [
        (a, b)
        for a, b in itertools.product(lower, upper)
        if b.station - a.station > _SAME and not (wanted.cover and _lost(line, fit, a, b))
    ]
    pairs.sort(key=lambda pair: pair[1].station - pair[0].station)
    staying, anew = ([pair for pair in pairs if (pair[0].anew or pair[1].anew) is either] for either in (False, True))
    lawful = [pair for pair in staying if _lawful(line, *pair, wanted.min_grade)]
    for good in (
        [pair for pair in staying if _as_designed(*pair)],
        [pair for pair in lawful if max(abs(end.off) for end in pair) <= REOPENS],
        [pair for pair in anew if _as_designed(*pair)],
        lawful,
        [pair for pair in anew if _lawful(line, *pair, wanted.min_grade)],
    ):
        if good:
            a, b = good[0]
            # a shot farther at each end, where the printed figures then show the least grade without a doubt
            beside = (one for one in good if one[0].at >= a.at - 1 and one[1].at <= b.at + 1)
            a, b = next((one for one in beside if _lawful(line, *one, wanted.min_grade)), (a, b))
            return Relay(
                line=line.design.id,
                station_from=a.station,
                station_to=b.station,
                whys=whys,
                low=a.height,
                high=b.height,
                designed=_designed(line, a, b),
                anew=tuple(one.station for one in (a, b) if one.anew),
            )
    return Relay(
        line=line.design.id, station_from=first, station_to=last, whys=whys, low=None, high=None, designed=None, anew=()
    )


def _lower(line: LaidLine, at: int, raised: float | None) -> Iterator[_End]:
    """Lower ends, the nearest first: shots that stay, and the outlet set to its design."""
    fit, design = line.fit, line.design
    assert fit is not None
    if raised is None:
        yield from (_stays(fit, i) for i in range(at, -1, -1))
    start = float(design.station[0])
    if design.ends_at_outlet and fit.station[0] - start <= 1.5 * STICK:
        off = raised or 0.0
        yield _End(0, min(start, float(fit.station[0])), float(design.invert[0]) + off, off, anew=True)


def _upper(line: LaidLine, at: int) -> Iterator[_End]:
    """Upper ends, the nearest first: shots that stay, and the line's own end set to its design, where it is known."""
    fit, design = line.fit, line.design
    assert fit is not None
    last = len(fit.station) - 1
    yield from (_stays(fit, j) for j in range(at, last + 1))
    end = float(design.station[-1])
    if design.has_ends and end - fit.station[-1] <= 1.5 * STICK:
        yield _End(last, max(end, float(fit.station[-1])), float(design.invert[-1]), 0.0, anew=True)


def _stays(fit: LaidFit, i: int) -> _End:
    return _End(i, float(fit.station[i]), float(fit.shot[i]), float(fit.fitted[i] - fit.design[i]))


def _designed(line: LaidLine, a: _End, b: _End) -> float:
    low, high = line.design.at(np.array([a.station, b.station]))
    return float(high - low) / (b.station - a.station)


def _as_designed(a: _End, b: _End) -> bool:
    """Whether the fall of the design lies between two ends, less what two shots cannot tell."""
    return b.off - a.off >= -PAIR_DOUBT


def _lawful(line: LaidLine, a: _End, b: _End, min_grade: float) -> bool:
    """Whether the least grade, or the design's where it is flatter, lies between two ends.

    Both as shot and as fitted.
    """
    length, designed = b.station - a.station, _designed(line, a, b)
    least = min(min_grade, designed) - _SAME
    return (b.height - a.height) / length >= least and designed + (b.off - a.off) / length >= least


def _lost(line: LaidLine, fit: LaidFit, a: _End, b: _End) -> bool:
    """Whether cover would still be lost somewhere once the pipe lies straight between two ends."""
    off = fit.fitted - fit.design
    inside = (fit.station > a.station - _SAME) & (fit.station < b.station + _SAME)
    inside &= ~((np.arange(len(off)) == a.at) & (not a.anew)) & ~((np.arange(len(off)) == b.at) & (not b.anew))
    off = np.where(inside, np.interp(fit.station, [a.station, b.station], [a.off, b.off]), off)
    return any(
        float(np.interp(station, fit.station, off)) - spare > OFF_GRADE
        for station, spare in line.design.least_cover
        if fit.station[0] <= station <= fit.station[-1]
    )
