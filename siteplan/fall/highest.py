"""A band and a least grade in; out: the highest legal profile, the fall to spare or missing, the grades that fit.

Least grade, greatest grade, ceiling and floor are difference constraints on the inverts, so the legal profiles form a
lattice. Its highest member digs least, and two passes find it: one downstream that carries the ceiling down at the
least grade, one upstream that carries the result up at the greatest. Worked on the piecewise linear band itself:
where the carried height meets a ceiling between two samples the profile gets a sample of its own.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from siteplan.fall.band import LEGAL, Band, Binding, Floats, Profile, Shortfall, closed, is_pinned
from siteplan.remembered import remembered

NOISE = 1e-12  # heights this close [m] are one
_KEPT = 256  # answers remembered: of the trees that are weighed at one time


class _Swept(NamedTuple):
    """The highest profile before anyone asks whether it clears the floor."""

    station: Floats
    invert: Floats  # after both passes
    fallen: Floats  # after the first pass
    floor: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Spare:
    """How much fall a line has to spare, and where that is decided. Lengths in metres.

    `amount` = `fall_available` - `fall_needed`, between `binding_station` (whose ceiling sets the invert) and `station`
    (the outlet, or where the line is deepest below its floor when it does not fit at all).
    """

    amount: float  # below 0: this much is missing
    station: float
    binding_station: float
    binding: Binding
    fall_available: float
    fall_needed: float


def check_grades(grade: float, grade_max: float | None) -> None:
    """Refuse grades that no line can be asked to keep.

    Parameters
    ----------
    grade : float
        Least grade [-].
    grade_max : float or None
        Greatest grade [-].

    Raises
    ------
    ValueError
        If the least grade is negative or no number, or the greatest is below it.
    """
    if not (np.isfinite(grade) and grade >= 0):
        raise ValueError(f"least grade {grade!r} is not a number at or above 0")
    if grade_max is not None and not (np.isfinite(grade_max) and grade_max >= grade):
        raise ValueError(f"greatest grade {grade_max!r} is below the least grade {grade!r}")


def _with_breaks(columns: tuple[Floats, ...], share: Floats) -> tuple[Floats, ...]:
    """Columns with a sample read in at `share` of each interval where 0 < share < 1."""
    inside = np.flatnonzero((share > 0) & (share < 1))
    if not inside.size:
        return columns
    part = share[inside]
    return tuple(np.insert(c, inside + 1, c[inside] * (1 - part) + c[inside + 1] * part) for c in columns)


def _meeting(at: Floats, leaving: Floats, arriving: Floats, level: Floats) -> Floats:
    """Share of each interval after which a line from `leaving` to `arriving` crosses `level`; 0 where it does not."""
    crosses = ((leaving - level) * (arriving - level) < 0) & (np.diff(at) > 0)
    return np.divide(level - leaving, arriving - leaving, out=np.zeros_like(level), where=crosses)


def _sweep(at: Floats, ceiling: Floats, floor: Floats, grade: float, grade_max: float | None) -> _Swept:
    """Both passes over samples (n,) with jumps as samples of their own; lengths [m]."""
    above = ceiling - grade * at  # what falls at the least grade is level here
    carried = np.minimum.accumulate(above[::-1])[::-1]
    at, above, floor = _with_breaks((at, above, floor), _meeting(at, above[:-1], above[1:], carried[1:]))
    fallen = np.minimum.accumulate(above[::-1])[::-1] + grade * at
    if grade_max is None:
        return _Swept(at, fallen, fallen, floor)
    steep = fallen - grade_max * at  # and what rises at the greatest grade is level here
    carried = np.minimum.accumulate(steep)
    at, fallen, floor = _with_breaks((at, fallen, floor), _meeting(at, steep[:-1], steep[1:], carried[:-1]))
    return _Swept(at, np.minimum.accumulate(fallen - grade_max * at) + grade_max * at, fallen, floor)


def _binding(band: Band, swept: _Swept, index: int, grade: float, grade_max: float | None) -> tuple[float, float]:
    """Stations (lowest place on the way, ceiling that binds) behind the invert at a swept sample."""
    low = index
    if grade_max is not None:
        steep = swept.fallen[: index + 1] - grade_max * swept.station[: index + 1]
        low = index - int(np.argmin(steep[::-1] - NOISE * (np.arange(index + 1) == 0)))
    at, ceiling, _ = closed(band)
    above = ceiling - grade * at
    open_to = np.flatnonzero(above <= swept.fallen[low] - grade * swept.station[low] + NOISE)
    open_to = open_to[at[open_to] >= swept.station[low]]
    # A place between two samples stands on the rising ceiling there; the sample downstream of it tells where.
    place = float(at[open_to[0]]) if open_to.size else float(swept.station[low])
    return float(swept.station[low]), place


def _named(band: Band, place: float) -> Binding:
    return "outlet" if place <= 0 else "start" if place >= band.length else "along"


def _asked(band: Band, *, grade: float, grade_max: float | None = None) -> Hashable:
    return *band.content, grade, grade_max


@remembered(_asked, most=_KEPT)
def highest_profile(band: Band, *, grade: float, grade_max: float | None = None) -> Profile | Shortfall:
    """The highest legal inverts along a line, which dig least, or what is missing.

    Parameters
    ----------
    band : Band
        The line's band.
    grade : float
        Least grade [-].
    grade_max : float or None
        Greatest grade [-]; None lets the line drop vertically where its ceiling jumps.

    Returns
    -------
    Profile or Shortfall
        Every sample of the band and every place where the inverts bend; or by how much no line fits.

    Raises
    ------
    ValueError
        If a grade is negative, or the greatest is below the least.

    References
    ----------
    Shortest paths over difference constraints, carried out as two min-plus passes; own derivation, checked against a
    linear programme in the tests.

    Examples
    --------
    >>> band = Band(station=[0, 30], ceiling=[10.0, 10.1], floor=[9.6, 9.0])
    >>> highest_profile(band, grade=0.01).invert.round(3).tolist()
    [9.8, 10.1]
    """
    check_grades(grade, grade_max)
    swept = _sweep(*closed(band), grade, grade_max)
    under = swept.floor - swept.invert
    worst = int(np.argmax(under))
    if under[worst] > LEGAL:
        return _shortfall(band, swept, worst, grade, grade_max)
    keep = np.concatenate(([True], (np.diff(swept.station) > 0) | (np.diff(swept.invert) > 0)))
    return Profile(station=swept.station[keep], invert=swept.invert[keep])


def _shortfall(band: Band, swept: _Swept, worst: int, grade: float, grade_max: float | None) -> Shortfall:
    missing = float(swept.floor[worst] - swept.invert[worst])
    station = float(swept.station[worst])
    low, place = _binding(band, swept, worst, grade, grade_max)
    # Along the way the fall asked for is the least grade's from the ceiling down, less what the steepest climbs back.
    needed = grade * (place - low) - (0.0 if grade_max is None else grade_max * (station - low))
    return Shortfall(
        missing=missing,
        station=station,
        against="outlet control" if station <= 0 else "depth",
        binding_station=place,
        binding=_named(band, place),
        fall_available=needed - missing,
        fall_needed=needed,
    )


def spare(band: Band, *, grade: float, grade_max: float | None = None) -> Spare:
    """Fall to spare: the most by which the outlet's control could rise with the line still legal.

    For a line that does not fit it is what is missing, as a negative amount. An end that is pinned to one invert is
    judged by what arrives just above it.

    Parameters
    ----------
    band : Band
        The line's band.
    grade : float
        Least grade [-].
    grade_max : float or None
        Greatest grade [-].

    Returns
    -------
    Spare
        Amount, and the places that decide it [m].

    Raises
    ------
    ValueError
        If a grade is negative, or the greatest is below the least.

    References
    ----------
    Fall available less fall needed: common practice, no source.
    """
    check_grades(grade, grade_max)
    swept = _sweep(*closed(band), grade, grade_max)
    room = swept.invert - swept.floor
    near = int(np.argmin(room))
    if room[near] < -LEGAL:
        lack = _shortfall(band, swept, near, grade, grade_max)
        return Spare(
            amount=-lack.missing,
            station=lack.station,
            binding_station=lack.binding_station,
            binding=lack.binding,
            fall_available=lack.fall_available,
            fall_needed=lack.fall_needed,
        )
    free = unpinned(band) if is_pinned(band) else band
    arriving = _sweep(*closed(free), grade, grade_max) if free is not band else swept
    _, place = _binding(free, arriving, 0, grade, grade_max)
    amount = float(arriving.invert[0]) - band.control
    return Spare(
        amount=amount,
        station=0.0,
        binding_station=place,
        binding=_named(band, place),
        fall_available=amount + grade * place,
        fall_needed=grade * place,
    )


def unpinned(band: Band) -> Band:
    """A pinned band without its pin: the line may end anywhere at or above the control.

    Parameters
    ----------
    band : Band
        What `pinned` gave.

    Returns
    -------
    Band
        The ceiling just upstream of the outlet holds at the outlet too.
    """
    floor = band.floor[1:].copy()
    floor[0] = max(floor[0], band.floor[0])
    return Band(station=band.station[1:], ceiling=band.ceiling[1:], floor=floor)
