"""A rainfall as its publisher prints it in; its intensity for a duration, and how it was read, out.

Nothing is assumed in silence: what the table does not hold is None and a sentence that says so.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from siteplan.units import rain_text
from siteplan.water.trouble import above_zero, at_least_zero, within

MINUTE = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rainfall:
    """How hard it rains.

    Attributes
    ----------
    durations : tuple of float or None
        Rising durations [s]; None: one intensity whose duration nobody stated.
    intensities : tuple of float
        Mean intensity over each duration, never rising [m/s].
    source : str
        Where the numbers come from, printed with every answer.
    years : float or None
        Return period [years], None when not stated.
    """

    durations: tuple[float, ...] | None
    intensities: tuple[float, ...]
    source: str
    years: float | None = None

    def __post_init__(self) -> None:
        for intensity in self.intensities:
            above_zero("rainfall intensity", intensity, "give the rate for the design storm")
        if self.years is not None:
            above_zero("return period", self.years, "give years")
        if self.durations is None:
            if len(self.intensities) != 1:
                raise ValueError(
                    f"{len(self.intensities)} intensities without durations: give one, or a duration for each"
                )
            return
        if len(self.durations) != len(self.intensities) or not self.durations:
            raise ValueError(
                f"{len(self.durations)} durations for {len(self.intensities)} intensities: give one for each"
            )
        for duration in self.durations:
            above_zero("rainfall duration", duration, "give the length of the rain")
        for (t0, i0), (t1, i1) in pairwise(zip(self.durations, self.intensities, strict=True)):
            if t1 <= t0:
                raise ValueError(
                    f"rainfall durations do not rise at {t1 / MINUTE:g} min: sort the table, each duration once"
                )
            if i1 > i0 * (1 + 1e-9):
                raise ValueError(
                    f"rainfall intensity rises from {t0 / MINUTE:g} to {t1 / MINUTE:g} min: a longer rain is never harder; check the row"
                )
            if i1 * t1 < i0 * t0 * (1 - 1e-6):
                raise ValueError(
                    f"rainfall depth falls from {t0 / MINUTE:g} to {t1 / MINUTE:g} min: a longer rain is never less; check the row"
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class RainReading:
    """One intensity read from a rainfall [m/s] for a duration [s], and how it was read."""

    duration: float | None
    intensity: float | None
    statement: str


def read_rain(rain: Rainfall | None, duration: float, *, unit: str = "ft") -> RainReading:
    """Intensity for a duration: log-log between two rows of the table, never beyond its ends.

    Parameters
    ----------
    rain : Rainfall or None
        The rainfall; None: not given.
    duration : float
        Length of the rain, above 0 [s].
    unit : str
        The user's length unit, for the statement.

    Returns
    -------
    RainReading
        Intensity [m/s], None when not given, or shorter or longer than the table.

    Raises
    ------
    ValueError
        If the duration is not above 0.

    References
    ----------
    Log-log interpolation between published durations, as is usual with duration-frequency tables (common practice, no source).
    """
    above_zero("rainfall duration", duration, "give the length of the rain")
    asked = f"{duration / MINUTE:g} min"
    if rain is None:
        return RainReading(
            duration=duration,
            intensity=None,
            statement="no rainfall intensity is given: flows from rain are not known; give [rainfall] in site.toml",
        )
    often = "" if rain.years is None else f", once in {rain.years:g} years"
    if rain.durations is None:
        rate = rain.intensities[0]
        return RainReading(
            duration=None,
            intensity=rate,
            statement=f"{rain_text(rate, unit)} whatever the duration{often}; {rain.source}",
        )
    first, last = rain.durations[0], rain.durations[-1]
    if duration < first * (1 - 1e-9):
        return RainReading(
            duration=duration,
            intensity=None,
            statement=f"the rainfall table begins at {first / MINUTE:g} min and does not tell {asked}; give a shorter row; {rain.source}",
        )
    if duration > last * (1 + 1e-9):
        return RainReading(
            duration=duration, intensity=None,
            statement=f"the rainfall table ends at {last / MINUTE:g} min and does not reach {asked}; give a longer row; {rain.source}",
        )  # fmt: skip
    rate = _log_log(rain.durations, rain.intensities, duration)
    how = "as printed" if any(math.isclose(duration, row) for row in rain.durations) else "between two rows, log-log"
    return RainReading(
        duration=duration,
        intensity=rate,
        statement=f"{rain_text(rate, unit)} over {asked}, {how}{often}; {rain.source}",
    )


def _log_log(xs: Sequence[float], ys: Sequence[float], x: float) -> float:
    place = min(max(bisect_right(xs, x), 1), len(xs) - 1)
    if len(xs) == 1 or x == xs[place - 1]:
        return ys[place - 1] if len(xs) > 1 else ys[0]
    share = (math.log(x) - math.log(xs[place - 1])) / (math.log(xs[place]) - math.log(xs[place - 1]))
    return math.exp(
        math.log(ys[place - 1]) + min(max(share, 0.0), 1.0) * (math.log(ys[place]) - math.log(ys[place - 1]))
    )


def at_return_period(rains: Sequence[Rainfall], years: float) -> Rainfall:
    """One rainfall of a duration-frequency table: a printed column, or between two columns log-log in years.

    Parameters
    ----------
    rains : sequence of Rainfall
        Columns with the same durations and rising `years`, at least one.
    years : float
        Return period wanted [years].

    Returns
    -------
    Rainfall
        The column, its source saying how it was made.

    Raises
    ------
    ValueError
        If a column lacks years, the durations differ, or the years lie outside the table.

    References
    ----------
    Log-log interpolation in the return period (common practice, no source).
    """
    above_zero("return period", years, "give years")
    known = [rain.years for rain in rains if rain.years is not None]
    if not known or len(known) != len(rains) or sorted(set(known)) != known:
        raise ValueError("rainfall columns need rising return periods: give the years of each column once, in order")
    if any(rain.durations is None or rain.durations != rains[0].durations for rain in rains):
        raise ValueError("rainfall columns have different durations: give every column the same rows")
    within("return period", years, known[0], known[-1], "take one inside the table, nothing is extrapolated")
    for rain in rains:
        if rain.years == years:
            return rain
    rates = tuple(
        _log_log(known, [rain.intensities[row] for rain in rains], years) for row in range(len(rains[0].intensities))
    )
    return replace(rains[0], intensities=rates, years=years, source=f"{rains[0].source}, between columns log-log")


def formula_rainfall(
    durations: Sequence[float], scale: float, offset: float, exponent: float, *, source: str, years: float | None = None
) -> Rainfall:
    """A table made from a published local formula, intensity = scale / (duration + offset)^exponent.

    Parameters
    ----------
    durations : sequence of float
        Rising durations inside the formula's stated range [s].
    scale : float
        Numerator [m/s s^exponent].
    offset : float
        Added to the duration, 0 or above [s].
    exponent : float
        Above 0, at most 1 [-].
    source : str
        Title and edition of the formula.
    years : float, optional
        Return period [years].

    Returns
    -------
    Rainfall
        The table.

    Raises
    ------
    ValueError
        If a constant is out of range.

    References
    ----------
    Three-constant intensity-duration formulas of local manuals; the constants are the caller's, with their source.
    """
    above_zero("formula scale", scale, "give the numerator of the local formula")
    at_least_zero("formula offset", offset, "give the constant added to the duration")
    within("formula exponent", exponent, 1e-9, 1.0, "give the exponent of the local formula")
    rates = tuple(scale / (duration + offset) ** exponent for duration in durations)
    return Rainfall(durations=tuple(durations), intensities=rates, source=source, years=years)
