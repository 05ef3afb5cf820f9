"""Stations, shot inverts and their design in.

The one line that explains them all out, bends only where the shots insist.

Pair by pair a shot of 0.01 ft makes a good pipe look broken every few sticks. Here the whole line is judged at once:
what was shot minus what was designed is fitted by straight pieces, every shot is at first a place where they may bend,
and bends that the doubt of the shots explains are taken out one by one. What stays is a defect, not a doubt.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from siteplan.books.practice import READING_SPREAD, SCATTER_OF_PIPE

Floats = NDArray[np.float64]

INSIST = 3.2  # a bend stays when taking it out worsens the fit by this many standard deviations, squared
CERTAIN = 1.645  # one-sided, 95 %


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LaidFit:
    """A line as the shots prove it.

    Attributes
    ----------
    station, shot, design : ndarray, shape (n,) [m]
        As given, stations rising from the outlet.
    fitted : ndarray, shape (n,) [m]
        Inverts of the straight pieces at the shots.
    spread : ndarray, shape (n, n) [m2]
        Covariance of `fitted`.
    bends : tuple of int
        Shots at which the pieces bend against the design.
    doubt : float
        One standard deviation of a shot [m], from the shots themselves within bounds, or as given.
    scatter, allowed : float
        Sum of squares about the design's own shape over doubt squared, and what doubt alone would give once in a
        hundred lines.
    """

    station: Floats
    shot: Floats
    design: Floats
    fitted: Floats
    spread: Floats
    bends: tuple[int, ...]
    doubt: float
    scatter: float
    allowed: float


def fit_laid(station: Floats, shot: Floats, design: Floats, doubt: float | None = None) -> LaidFit:
    """Fit a laid line.

    Parameters
    ----------
    station : ndarray, shape (n,) [m]
        Strictly rising, from the outlet upstream; n at least 2.
    shot : ndarray, shape (n,) [m]
        Inverts as shot.
    design : ndarray, shape (n,) [m]
        Inverts as designed there; its own grade breaks are not defects.
    doubt : float, optional
        One standard deviation of a shot [m]; estimated from the shots when absent.

    Returns
    -------
    LaidFit
        With its doubt.

    Raises
    ------
    ValueError
        If there are fewer than 2 shots, stations do not rise, or the doubt is not above 0.

    References
    ----------
    Linear splines with backward elimination by the Wald statistic: any text on regression splines (memory). The
    threshold is our own, set by simulation (docs/as-laid-check.md).
    """
    count = len(station)
    if count < 2 or not (np.diff(station) > 0).all():
        raise ValueError("a fit wants two shots or more, their stations rising")
    if doubt is not None and not doubt > 0:
        raise ValueError("doubt is above 0")
    off = shot - design
    sigma = _scatter_of(station, off) if doubt is None else doubt
    bends = list(range(1, count - 1))
    while bends:
        z = _insistence(station, off, bends, sigma)
        weakest = int(np.argmin(z))
        if z[weakest] >= INSIST:
            break
        del bends[weakest]
    basis = _basis(station, bends)
    inverse = np.linalg.inv(basis.T @ basis)
    project = basis @ inverse @ basis.T
    straight = off - _basis(station, []) @ np.linalg.lstsq(_basis(station, []), off, rcond=None)[0]
    return LaidFit(
        station=station,
        shot=shot,
        design=design,
        fitted=design + project @ off,
        spread=sigma**2 * project,
        bends=tuple(bends),
        doubt=sigma,
        scatter=float(straight @ straight) / sigma**2,
        allowed=chi_square_limit(count - 2),
    )


def _basis(station: Floats, bends: list[int]) -> Floats:
    span = station[-1] - station[0]
    s = (station - station[0]) / span
    return np.column_stack([np.ones_like(s), s, *(np.maximum(0.0, s - s[j]) for j in bends)])


def _insistence(station: Floats, off: Floats, bends: list[int], sigma: float) -> Floats:
    """By how many standard deviations each bend stands in the fit."""
    basis = _basis(station, bends)
    inverse = np.linalg.inv(basis.T @ basis)
    weights = inverse @ basis.T @ off
    return np.asarray(np.abs(weights[2:]) / (sigma * np.sqrt(np.diag(inverse)[2:])), np.float64)


def bend_errors(station: Floats, bends: list[int], doubt: float) -> Floats:
    """Standard error of each bend's weight in a fit with these bends.

    Parameters
    ----------
    station : ndarray, shape (n,) [m]
        Of the shots, rising.
    bends : list of int
        Shots at which the line may bend.
    doubt : float
        One standard deviation of a shot [m].

    Returns
    -------
    ndarray, shape (len(bends),) [m]
        Change of grade times the length of the line.
    """
    basis = _basis(station, bends)
    return np.asarray(doubt * np.sqrt(np.diag(np.linalg.inv(basis.T @ basis))[2:]), np.float64)


def bend_turns(station: Floats, lowest: int, bends: list[int]) -> Floats:
    """By how much each bend turns for a unit dip at one shot, its arms reaching to the shots beside.

    Parameters
    ----------
    station : ndarray, shape (n,) [m]
        Of the shots, rising.
    lowest : int
        The shot that lies low.
    bends : list of int
        It and those beside it, ends of the line left out.

    Returns
    -------
    ndarray, shape (len(bends),) [-]
        Change of grade times the length of the line, per length of dip.
    """
    span = float(station[-1] - station[0])
    before, after = float(station[lowest] - station[lowest - 1]), float(station[lowest + 1] - station[lowest])
    turn = {lowest - 1: 1 / before, lowest: 1 / before + 1 / after, lowest + 1: 1 / after}
    return np.array([turn[bend] * span for bend in bends], np.float64)


def _scatter_of(station: Floats, off: Floats) -> float:
    """One standard deviation of a shot from how far each lies off the straight between its neighbours.

    A belly's few not counted.
    """
    if len(off) < 5:
        return READING_SPREAD
    share = (station[1:-1] - station[:-2]) / (station[2:] - station[:-2])
    miss = off[1:-1] - (1 - share) * off[:-2] - share * off[2:]
    scaled = np.abs(miss) / np.sqrt(1 + share**2 + (1 - share) ** 2)
    return float(np.clip(np.median(scaled) * 1.4826, READING_SPREAD, SCATTER_OF_PIPE))


def chi_square_limit(freedom: int) -> float:
    """Value that a chi-square variate exceeds once in a hundred times.

    Parameters
    ----------
    freedom : int
        Degrees of freedom; 0 gives 0.

    Returns
    -------
    float
        The limit [-], within 1 % of tables from 1 degree on.

    References
    ----------
    Wilson and Hilferty, The distribution of chi-square, 1931 (memory).

    Examples
    --------
    >>> round(chi_square_limit(10), 1)  # tables: 23.21
    23.2
    """
    if freedom <= 0:
        return 0.0
    part = 2 / (9 * freedom)
    return float(freedom * (1 - part + 2.3263 * math.sqrt(part)) ** 3)
