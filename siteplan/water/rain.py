"""A rainfall as its publisher prints it in; its intensity for a duration, and how it was read, out.

Nothing is assumed in silence: what the table does not hold is None and a sentence that says so.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from siteplan.units import rain_text
from siteplan.water.trouble import above_zero

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
                    f"rainfall intensity rises from {t0 / MINUTE:g} to {t1 / MINUTE:g} min: a longer rain is "
                    "never harder; check the row"
                )
            if i1 * t1 < i0 * t0 * (1 - 1e-6):
                raise ValueError(
                    f"rainfall depth falls from {t0 / MINUTE:g} to {t1 / MINUTE:g} min: a longer rain is "
                    "never less; check the row"
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
    Log-log interpolation between published durations, as is usual with duration-frequency tables (common practice, no
    source).
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
            statement=(
                f"the rainfall table begins at {first / MINUTE:g} min and does not tell {asked}; give a shorter "
                f"row; {rain.source}"
            ),
        )
    if duration > last * (1 + 1e-9):
        return RainReading(
            duration=duration,
            intensity=None,
            statement=(
                f"the rainfall table ends at {last / MINUTE:g} min and does not reach {asked}; give a longer row; "
                f"{rain.source}"
            ),
        )
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
