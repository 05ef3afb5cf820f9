"""A fitted line in; where water stands in it, which reaches fall, and which do not out."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.books.practice import LEAST_WATER, PAIR_DOUBT
from siteplan.laid.fit import CERTAIN, INSIST, LaidFit, bend_errors, bend_turns

Floats = NDArray[np.float64]
Says = Literal["falls", "falls too little", "back-falls", "cannot tell"]

# standard deviations: a grade that was designed at the least grade must not be condemned one time in twenty
_SURE = 3.0
# standard errors over the threshold of a bend at which three bends together stand nineteen times in twenty; by
# simulation
_SHOWN = 3.3
_CLOSE = 40 * units.FOOT  # bends nearer than this belong to one defect


@dataclass(frozen=True, slots=True, kw_only=True)
class Belly:
    """Standing water. `relay_from`, `relay_to`: where the pipe leaves and regains its grade [m]."""

    station_from: float
    station_to: float
    depth: float
    lowest: float  # station of the lowest shot
    doubt: float  # one standard deviation of the depth
    certain: bool
    back_fall: float  # worst grade on the downstream side, negative [-]
    relay_from: float
    relay_to: float

    @property
    def length(self) -> float:
        """Length of the standing water [m]."""
        return self.station_to - self.station_from


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidReach:
    """A straight piece of the fitted line, or two neighbouring shots.

    `doubt` is one standard deviation of the grade [-].
    """

    station_from: float
    station_to: float
    grade: float
    doubt: float
    says: Says
    least: float  # grade that it is judged against: the least grade, or the design's own where that is flatter [-]
    designed: float  # [-]


def low_profile(fit: LaidFit) -> Floats:
    """Inverts of the laid line: the fit, and the shots themselves where it bends and they lie lower.

    Parameters
    ----------
    fit : LaidFit
        The fitted line.

    Returns
    -------
    ndarray, shape (n,) [m]
        At the shots.
    """
    low = fit.fitted.copy()
    raw = _in_defect(fit)
    low[raw] = np.minimum(fit.shot, fit.fitted)[raw]
    return low


def _in_defect(fit: LaidFit) -> NDArray[np.bool_]:
    """Shots between bends that belong together, and next to any bend."""
    count = len(fit.station)
    raw = np.zeros(count, bool)
    for first, last in itertools.pairwise(fit.bends):
        if fit.station[last] - fit.station[first] <= _CLOSE:
            raw[first : last + 1] = True
    for bend in fit.bends:
        raw[max(0, bend - 1) : min(count, bend + 2)] = True
    return raw


def bellies(fit: LaidFit) -> tuple[Belly, ...]:
    """Where water stands: below the highest invert that lies downstream.

    Parameters
    ----------
    fit : LaidFit
        The fitted line.

    Returns
    -------
    tuple of Belly
        From the outlet upstream. `certain` when the depth is beyond its doubt with 95 %.
    """
    low = low_profile(fit)
    crest = np.maximum.accumulate(np.concatenate(([-np.inf], fit.fitted[:-1])))  # of what lies downstream of each shot
    depth = crest - low
    found: list[Belly] = []
    open_ = np.ones(len(low), bool)
    while True:
        here = np.where(open_, depth, -np.inf)
        lowest = int(np.argmax(here))
        if not here[lowest] >= LEAST_WATER:
            break
        belly, wet = _belly(fit, low, lowest, float(crest[lowest]))
        open_[wet] = False
        found.append(belly)
    return tuple(sorted(found, key=lambda one: one.station_from))


def _belly(fit: LaidFit, low: Floats, lowest: int, level: float) -> tuple[Belly, slice]:
    """The belly about its lowest shot, filled to `level`, and the shots that it covers."""
    s = fit.station
    top = int(np.argmax(fit.fitted[:lowest]))  # the crest that holds it
    last = lowest
    while last + 1 < len(s) and low[last + 1] < level:
        last += 1
    end = float(s[last])
    if last + 1 < len(s):
        end += float((s[last + 1] - s[last]) * (level - low[last]) / (low[last + 1] - low[last]))
    spread = fit.spread
    depth = level - float(low[lowest])
    raw = low[lowest] < fit.fitted[lowest] - 1e-12
    variance = spread[top, top] + (fit.doubt**2 if raw else spread[lowest, lowest] - 2 * spread[top, lowest])
    steepest = float(np.min(np.diff(low[top : lowest + 1]) / np.diff(s[top : lowest + 1])))
    left = min((b for b in fit.bends if b < lowest and s[lowest] - s[b] <= _CLOSE), default=lowest - 1)
    right = max(
        (b for b in fit.bends if b > lowest and s[b] - s[lowest] <= _CLOSE), default=min(len(s) - 1, lowest + 1)
    )
    doubt = math.sqrt(max(float(variance), 0.0))
    belly = Belly(
        station_from=float(s[top]),
        station_to=end,
        depth=depth,
        lowest=float(s[lowest]),
        doubt=doubt,
        certain=depth > CERTAIN * doubt,
        back_fall=min(steepest, 0.0),
        relay_from=float(s[min(left, top)]),
        relay_to=max(float(s[right]), end),
    )
    return belly, slice(top, last + 1)


def pieces(fit: LaidFit, min_grade: float) -> tuple[LaidReach, ...]:
    """The straight pieces of the laid line, at bends of the design and of the fit, and whether each falls.

    Parameters
    ----------
    fit : LaidFit
        The fitted line.
    min_grade : float
        Least grade [-]; where the design is flatter the design is the measure.

    Returns
    -------
    tuple of LaidReach
        From the outlet upstream.
    """
    design = np.diff(fit.design) / np.diff(fit.station)
    breaks = [i + 1 for i in range(len(design) - 1) if abs(design[i + 1] - design[i]) > 2e-4]
    ends = sorted({0, len(fit.station) - 1, *fit.bends, *breaks})
    out = []
    for first, last in itertools.pairwise(ends):
        length = float(fit.station[last] - fit.station[first])
        grade = float(fit.fitted[last] - fit.fitted[first]) / length
        planned = float(fit.design[last] - fit.design[first]) / length
        c = fit.spread
        doubt = math.sqrt(max(float(c[first, first] + c[last, last] - 2 * c[first, last]), 0.0)) / length
        out.append(
            LaidReach(
                station_from=float(fit.station[first]),
                station_to=float(fit.station[last]),
                grade=grade,
                doubt=doubt,
                says=_says(grade, CERTAIN * doubt, min(min_grade, planned), _SURE * doubt),
                least=min(min_grade, planned),
                designed=planned,
            )
        )
    return tuple(out)


def _says(grade: float, doubt: float, min_grade: float, sure: float) -> Says:
    if grade + doubt < 0:
        return "back-falls"
    if grade + sure < min_grade - 1e-6:
        return "falls too little"  # whether it falls at all or not
    return "cannot tell" if grade - doubt <= 0 else "falls"


def pairs(fit: LaidFit, min_grade: float) -> tuple[LaidReach, ...]:
    """Neighbouring shots as they stand, with the doubt of one difference: for the table, never for the verdict.

    Parameters
    ----------
    fit : LaidFit
        The fitted line.
    min_grade : float
        Least grade [-].

    Returns
    -------
    tuple of LaidReach
        From the outlet upstream; `doubt` is that of a difference of two shots in one set-up over their distance.
    """
    out = []
    for (a, b), (low, high), (under, over) in zip(
        itertools.pairwise(fit.station), itertools.pairwise(fit.shot), itertools.pairwise(fit.design), strict=True
    ):
        grade, doubt = float((high - low) / (b - a)), PAIR_DOUBT / float(b - a)
        planned = float((over - under) / (b - a))
        least = min(min_grade, planned)
        out.append(
            LaidReach(
                station_from=float(a),
                station_to=float(b),
                grade=grade,
                doubt=doubt,
                says=_says(grade, doubt, least, doubt),
                least=least,
                designed=planned,
            )
        )
    return tuple(out)


def smallest_shown(fit: LaidFit) -> float:
    """Least depth of standing water that the shots would show wherever it lies deepest at a shot.

    Nineteen times in twenty.

    A broken back is let down at one shot after another, its arms reaching to the shots beside; it shows when each of
    its bends stands out of the doubt. What lies between two shots is seen by none of them.

    Parameters
    ----------
    fit : LaidFit
        The fitted line, three shots or more.

    Returns
    -------
    float
        The worst place's [m], never less than the last digit of a rod.

    References
    ----------
    Standard error of a spline's bends, as in `fit_laid`; the margin over it is our own, by simulation
    (docs/as-laid-check.md).
    """
    s = fit.station
    worst = LEAST_WATER + 2 * CERTAIN * fit.doubt  # a depth is the difference of a crest and a low, each by its shots
    for i in range(1, len(s) - 1):
        bends = [j for j in (i - 1, i, i + 1) if 0 < j < len(s) - 1]
        error = bend_errors(s, bends, fit.doubt)
        turns = bend_turns(s, i, bends)
        dip = float(np.min((INSIST + _SHOWN) * error / turns))
        worst = max(worst, dip - float(fit.design[i] - fit.design[i - 1]))
    return worst
