"""Bands in; the same bands with their ceilings lowered by a margin, as far as the fall to the outlet bears it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from statistics import NormalDist

import numpy as np

from siteplan.books.practice import READING_SPREAD
from siteplan.fall.band import Band, Floats, one_sided

_ROOM = 0.002  # m left over the lowest legal inverts, so that few grades still fit


def margin_for(doubt: float, certainty: float) -> float:
    """How far a value must stay from its limit to be on the right side of it with a stated certainty.

    Parameters
    ----------
    doubt : float
        One standard deviation of the value, 0 or above [m].
    certainty : float
        From 0.5 (no margin) to below 1 [-].

    Returns
    -------
    float
        [m]

    Raises
    ------
    ValueError
        If certainty is not from 0.5 to below 1.

    References
    ----------
    One-sided quantile of the normal distribution; 95 % is 1.645 standard deviations (NIST/SEMATECH e-Handbook of
    Statistical Methods, section 1.3.6.7.1, memory).

    Examples
    --------
    >>> round(margin_for(0.010, 0.95), 4)
    0.0164
    """
    if not 0.5 <= certainty < 1:
        raise ValueError("certainty is from 0.5 to below 1")
    return doubt * NormalDist().inv_cdf(certainty)


def grade_margin(length: float, certainty: float) -> float:
    """How much steeper than its least grade a line is set, so that it keeps it with a stated certainty.

    Parameters
    ----------
    length : float
        Of the line, above 0 [m].
    certainty : float
        From 0.5 (no margin) to below 1 [-].

    Returns
    -------
    float
        [-]

    References
    ----------
    A rise between two ends is set as well as one shot is read (`READING_SPREAD`), over the line's length: common
    practice, no source.

    Examples
    --------
    >>> round(grade_margin(20.0, 0.95), 5)
    0.00025
    """
    return margin_for(READING_SPREAD, certainty) / length


def off_the_ceiling(
    bands: Mapping[str, Band],
    joins: Mapping[str, tuple[str, float]],
    *,
    grade: float | Mapping[str, float],
    margin: float,
) -> dict[str, Band]:
    """Bands whose lines keep a margin to their covers wherever there is fall to spare for it.

    A ceiling comes down by the margin, by less where the least grade down to the outlet needs the height, and
    never past half of what lies between ceiling and floor: depth is a limit too.

    Parameters
    ----------
    bands : mapping of line id to Band
        A trunk stands before the branches that join it.
    joins : mapping of line id to (trunk id, station on the trunk)
        Which lines end on another [m].
    grade : float or mapping of line id to float
        Least grade, of all lines or of each [-].
    margin : float
        Wanted under every ceiling, 0 or above [m].

    Returns
    -------
    dict of line id to Band
        In the order given. Lines that fit their old bands fit the new ones one by one; where branches lower their
        trunks it is for `settle` to find out.
    """
    grades = grade if isinstance(grade, Mapping) else dict.fromkeys(bands, grade)
    lowest: dict[str, Floats] = {}
    lowered: dict[str, Band] = {}
    for key, band in bands.items():
        floor = band.floor.copy()
        if key in joins:
            trunk, station = joins[key]
            at = one_sided(bands[trunk].station, lowest[trunk], np.array([station]), upstream=False)
            floor[0] = max(floor[0], float(at[0]))
        least = grades[key] * band.station
        lowest[key] = np.maximum.accumulate(floor - least) + least
        down = np.minimum(margin, np.maximum(0.0, 0.5 * (band.ceiling - floor)))
        ceiling = np.minimum(band.ceiling, np.maximum(band.ceiling - down, lowest[key] + _ROOM))
        lowered[key] = replace(band, ceiling=ceiling)
    return lowered
