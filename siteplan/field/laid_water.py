"""A fitted line in; where water stands in it, which reaches fall, and which do not out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.field.laid_fit import CERTAIN, LaidFit

Floats = NDArray[np.float64]
Says = Literal["falls", "falls too little", "back-falls", "cannot tell"]

LEAST_WATER = 0.015 * units.FOOT  # less than 3/16 in is within a rod's last digit; common practice, no source
PAIR_DOUBT = 0.02 * units.FOOT  # difference of two shots in one set-up; common practice, no source
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
    """A straight piece of the fitted line, or two neighbouring shots. `doubt` is one standard deviation of the grade [-]."""

    station_from: float
    station_to: float
    grade: float
    doubt: float
    says: Says


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
    for first, last in zip(fit.bends, fit.bends[1:], strict=False):
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
    crest = np.maximum.accumulate(fit.fitted)
    low = low_profile(fit)
    wet = crest - low > 1e-9
    found = []
    place = 0
    while place < len(wet):
        if not wet[place]:
            place += 1
            continue
        first = place
        while place < len(wet) and wet[place]:
            place += 1
        inside = np.arange(first, place)
        lowest = int(inside[np.argmax(crest[inside] - low[inside])])
        depth = float(crest[lowest] - low[lowest])
        if depth >= LEAST_WATER:
            found.append(_belly(fit, low, first, place, lowest, depth))
    return tuple(found)


def _belly(fit: LaidFit, low: Floats, first: int, after: int, lowest: int, depth: float) -> Belly:
    """One belly: shots `first` to `after` - 1 are wet."""
    s = fit.station
    top = int(np.argmax(fit.fitted[: lowest + 1]))  # the crest that holds it
    level = fit.fitted[top]
    # between the crest and the first wet shot the pipe is straight; water stands from the crest itself
    start = float(s[top])
    end = float(s[-1])
    if after < len(s):
        rise = low[after] - low[after - 1]
        end = (
            float(s[after - 1] + (s[after] - s[after - 1]) * (level - low[after - 1]) / rise)
            if rise > 0
            else float(s[after])
        )
    raw = low[lowest] < fit.fitted[lowest] - 1e-12
    spread = fit.spread
    variance = spread[top, top] + (fit.doubt**2 if raw else spread[lowest, lowest] - 2 * spread[top, lowest])
    doubt = math.sqrt(max(float(variance), 0.0))
    steepest = float(np.min(np.diff(low[top : lowest + 1]) / np.diff(s[top : lowest + 1]))) if lowest > top else 0.0
    outer = [b for b in fit.bends if b <= lowest], [b for b in fit.bends if b > lowest]
    left = min((b for b in outer[0] if s[lowest] - s[b] <= _CLOSE), default=max(0, lowest - 1))
    if left == lowest:
        left = max(0, lowest - 1)
    right = max((b for b in outer[1] if s[b] - s[lowest] <= _CLOSE), default=min(len(s) - 1, lowest + 1))
    return Belly(
        station_from=start, station_to=end, depth=depth, lowest=float(s[lowest]), doubt=doubt, certain=depth > CERTAIN * doubt,
        back_fall=min(steepest, 0.0), relay_from=float(s[left]), relay_to=max(float(s[right]), end),
    )  # fmt: skip


def pieces(fit: LaidFit, min_grade: float) -> tuple[LaidReach, ...]:
    """The straight pieces of the laid line, at bends of the design and of the fit, and whether each falls.

    Parameters
    ----------
    fit : LaidFit
        The fitted line.
    min_grade : float
        Least grade [-].

    Returns
    -------
    tuple of LaidReach
        From the outlet upstream.
    """
    design = np.diff(fit.design) / np.diff(fit.station)
    breaks = [i + 1 for i in range(len(design) - 1) if abs(design[i + 1] - design[i]) > 2e-4]
    ends = sorted({0, len(fit.station) - 1, *fit.bends, *breaks})
    out = []
    for first, last in zip(ends, ends[1:], strict=False):
        length = float(fit.station[last] - fit.station[first])
        grade = float(fit.fitted[last] - fit.fitted[first]) / length
        c = fit.spread
        doubt = math.sqrt(max(float(c[first, first] + c[last, last] - 2 * c[first, last]), 0.0)) / length
        out.append(
            LaidReach(
                station_from=float(fit.station[first]), station_to=float(fit.station[last]), grade=grade, doubt=doubt,
                says=_says(grade, CERTAIN * doubt, min_grade),
            )
        )  # fmt: skip
    return tuple(out)


def _says(grade: float, doubt: float, min_grade: float) -> Says:
    if grade + doubt < 0:
        return "back-falls"
    if grade - doubt <= 0:
        return "cannot tell"
    return "falls too little" if grade + doubt < min_grade - 1e-6 else "falls"


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
    for a, b, low, high in zip(fit.station, fit.station[1:], fit.shot, fit.shot[1:], strict=False):
        grade, doubt = float((high - low) / (b - a)), PAIR_DOUBT / float(b - a)
        out.append(
            LaidReach(
                station_from=float(a),
                station_to=float(b),
                grade=grade,
                doubt=doubt,
                says=_says(grade, doubt, min_grade),
            )
        )
    return tuple(out)
