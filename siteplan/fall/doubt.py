"""Limits along a line and how unsure they are in.

The doubt of its fall, the chance that it holds, and the shots that would help most out.

The pipe is laid by laser against fixed elevations, so the doubt is in the ground: where the start's cover ends, where
the cover along the way ends, and how low the outlet really is. Fall to spare = min over the way of (ceiling - grade x
station) - control, with the errors of the ceilings and of the control in it. What all elevations share cancels between
two of them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

DRAWS = 20_000
LEAST_DRAWS = 6_000  # a chance is then known to 0.6 %, and is printed in steps of 5
WORK = 2_400_000  # draws times limits: fewer draws where there are many limits
SEED = 20_250_101  # fixed: the same plan has the same chances
_SURE = 5.0  # a limit this many standard deviations slacker than the tightest never decides [-]
MOST_LIMITS = 1_500
_FLOOR = 1e-12  # m2, keeps a covariance of places that coincide positive


class Chances(NamedTuple):
    """How sure a line is.

    `spare` is the fall to spare as surveyed [m], `doubt` one standard deviation of it [m], `holds` the chance that
    there is fall for the least grade everywhere, `falls` the chance that it can fall everywhere at all. `method`:
    'closed form' or 'simulation'.
    """

    spare: float
    doubt: float
    holds: float
    falls: float
    method: str


class Wanted(NamedTuple):
    """A shot that would help: number of the place, chance and doubt when it and those before it bear the survey out."""

    place: int
    holds: float
    doubt: float


def fall_doubt(start: float, outlet: float, *, together: float = 0.0, shared: float = 0.0) -> float:
    """One standard deviation of the fall between two elevations.

    Parameters
    ----------
    start, outlet : float
        One standard deviation of each elevation [m], 0 or above.
    together : float
        Covariance of the two [m2]: shots of one set-up share its error, and it cancels.
    shared : float
        One standard deviation of a step between the two, such as two set-ups or two datums [m].

    Returns
    -------
    float
        Doubt of the fall [m].

    Raises
    ------
    ValueError
        If a doubt is negative or no number.

    References
    ----------
    Variance of a difference; any text on errors (memory). sqrt(2) e for two independent shots of doubt e.

    Examples
    --------
    >>> round(fall_doubt(0.003, 0.003), 6)
    0.004243
    """
    if not all(math.isfinite(one) and one >= 0 for one in (start, outlet, shared)):
        raise ValueError("a doubt is 0 or above")
    return math.sqrt(max(0.0, start**2 + outlet**2 - 2 * together + shared**2))


def chance_above(margin: float, doubt: float) -> float:
    """Chance that a margin is really there, for a normal error.

    Parameters
    ----------
    margin : float
        As surveyed [m].
    doubt : float
        One standard deviation [m], 0 or above.

    Returns
    -------
    float
        From 0 to 1 [-].

    References
    ----------
    Normal distribution function by the error function (memory).
    """
    if doubt <= 0:
        return 1.0 if margin >= 0 else 0.0
    return 0.5 * math.erfc(-margin / doubt / math.sqrt(2))


def deciding(
    station: Floats, ceiling: Floats, control: float, *, grade: float, doubt: float, apart: float
) -> NDArray[np.intp]:
    """Limits along a line that may decide its fall.

    Parameters
    ----------
    station, ceiling : ndarray, shape (n,) [m]
        Limits, by station.
    control : float
        Lowest invert at the outlet [m].
    grade : float
        Least grade [-].
    doubt : float
        The greatest doubt of a limit [m].
    apart : float
        Of the limits within so much length the tightest stands for all [m]: a small part of a square of the survey,
        within which errors go together but for its twist.

    Returns
    -------
    ndarray of int
        Ascending places in the arrays, for the least grade and for none.
    """
    kept: set[int] = set()
    for slope in (grade, 0.0):
        margin = ceiling - slope * station - control
        near = np.flatnonzero(margin <= margin.min() + _SURE * math.sqrt(2) * doubt)
        order = near[np.lexsort((near, margin[near]))]
        _, first = np.unique(np.floor(station[order] / apart).astype(np.intp), return_index=True)
        kept.update(order[np.sort(first)[:MOST_LIMITS]].tolist())
    return np.array(sorted(kept), np.intp)


def chances(
    station: Floats,
    ceiling: Floats,
    control: float,
    covariance: Floats,
    *,
    grade: float,
    seed: int = SEED,
    draws: int | None = None,
) -> Chances:
    """How sure it is that a line holds its least grade, and that it falls at all.

    Parameters
    ----------
    station, ceiling : ndarray, shape (n,) [m]
        Limits that may decide; see `deciding`.
    control : float
        Lowest invert at the outlet [m].
    covariance : ndarray, shape (n + 1, n + 1) [m2]
        Of the errors: the control's first, then those of the ceilings.
    grade : float
        Least grade [-].
    seed : int
        Of the simulation.
    draws : int or None
        Of it; None: 20 000, fewer where there are many limits.

    Returns
    -------
    Chances
        In closed form when one limit decides, else by simulation: the least of several unsure limits has none.

    References
    ----------
    Linear propagation of covariance; normal errors; own simulation by the Cholesky factor (memory).
    """
    margin = ceiling - grade * station - control
    level = ceiling - control
    spare = float(margin.min())
    if len(station) == 1:
        doubt = fall_doubt(math.sqrt(covariance[1, 1]), math.sqrt(covariance[0, 0]), together=float(covariance[0, 1]))
        return Chances(spare, doubt, chance_above(spare, doubt), chance_above(float(level[0]), doubt), "closed form")
    if draws is None:
        draws = max(LEAST_DRAWS, min(DRAWS, WORK // len(station)))
    error = drawn(covariance, seed=seed, draws=draws)
    off = error[:, 1:] - error[:, :1]
    least = (margin + off).min(axis=1)
    return Chances(
        spare,
        float(least.std()),
        float((least >= 0).mean()),
        float(((level + off).min(axis=1) >= 0).mean()),
        "simulation",
    )


def drawn(covariance: Floats, *, seed: int, draws: int) -> Floats:
    """Errors with a covariance.

    Parameters
    ----------
    covariance : ndarray, shape (n, n) [m2]
        Symmetric, no negative eigenvalue beyond rounding.
    seed, draws : int
        Fixed seed, number of draws.

    Returns
    -------
    ndarray, shape (draws, n) [m]
        Every draw beside its mirror image, so that the mean is 0.
    """
    n = len(covariance)
    scale = float(np.trace(covariance)) / n
    factor = np.linalg.cholesky(covariance + (_FLOOR + 1e-9 * scale) * np.eye(n))
    half = np.random.default_rng(seed).standard_normal((draws // 2, n)) @ factor.T
    return np.concatenate([half, -half])


def shots_wanted(
    station: Floats,
    ceiling: Floats,
    control: float,
    covariance: Floats,
    *,
    grade: float,
    shot: float,
    places: Sequence[int],
    most: int = 3,
    seed: int = SEED,
    draws: int = 4_000,
) -> tuple[Wanted, ...]:
    """Which further shots would make the verdict surest.

    Nobody knows what a shot will read, and on average it leaves the chance where it was. So shots are ranked by what
    they do when they bear the survey out: the chance that the line holds then, or for a line that does not, the doubt
    left.

    Parameters
    ----------
    station, ceiling, control, covariance, grade
        As for `chances`.
    shot : float
        One standard deviation of a careful shot [m].
    places : sequence of int
        Where a shot can be taken: 0 is the outlet, k the k-th limit.
    most : int
        How many at most.
    seed, draws : int
        Of the simulation.

    Returns
    -------
    tuple of Wanted
        Each chosen after those before it; none that changes the chance by less than a thousandth and the doubt by
        less than a fiftieth.

    References
    ----------
    Errors conditioned on a measurement, draw by draw (Matheron's rule; memory).
    """
    margin = ceiling - grade * station - control
    error = drawn(covariance, seed=seed, draws=draws)
    # a limit that decides in no draw, and where no shot is taken, has no say
    deciding_once = np.unique((margin + error[:, 1:] - error[:, :1]).argmin(axis=1))
    kept = np.union1d(deciding_once, np.array([place - 1 for place in places if place > 0], np.intp)).astype(np.intp)
    held_places = np.concatenate([[0], kept + 1])
    spot = {int(place): k for k, place in enumerate(held_places)}
    margin, error, held = margin[kept], error[:, held_places], covariance[np.ix_(held_places, held_places)]
    noise = np.random.default_rng(seed + 1).standard_normal(draws // 2)
    noise = shot * np.concatenate([noise, -noise])
    able = bool(margin.min() >= 0)

    def judged(off: Floats) -> tuple[float, float]:
        least = (margin + off[:, 1:] - off[:, :1]).min(axis=1)
        return float((least >= 0).mean()), float(least.std())

    chance, doubt = judged(error)
    chosen: list[Wanted] = []
    for _ in range(most):
        trials = []
        for place in places:
            if any(place == one.place for one in chosen):
                continue
            at = spot[place]
            gain = held[:, at] / (held[at, at] + shot**2)
            left = error - (error[:, at] + noise)[:, None] * gain
            then, rest = judged(left)
            trials.append(((-then if able else 0.0), rest, place, left, held - np.outer(gain, held[at])))
        if not trials:
            break
        # chances within a thousandth are one chance; the doubt decides
        best = min(trials, key=lambda trial: (round(trial[0], 3), round(trial[1], 5), trial[2]))
        then, rest = judged(best[3])
        if abs(then - chance) < 1e-3 and rest > 0.98 * doubt:
            break
        chosen.append(Wanted(best[2], then, rest))
        error, held, chance, doubt = best[3], best[4], then, rest
    return tuple(chosen)
