"""The room a line has between ceiling and floor, and the inverts inside it: values, reading them, proving them.

A band says, station by station, how high an invert may lie (ground less cover less pipe) and how low (ground less
greatest depth). A profile says where it does lie. Both are straight between their samples; two samples at one
station are a jump, and there the lower ceiling and the higher floor hold. Stations run upstream from the outlet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Against = Literal["outlet control", "depth"]
Binding = Literal["start", "along", "outlet"]

LEGAL = 1e-9  # a profile within this of its limits [m] is legal: rounding of floats, far below any survey
SNAP = 1e-6  # stations closer than this [m] are one


def _frozen(values: ArrayLike) -> Floats:
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


def _check_stations(station: Floats, others: Sequence[Floats], least: int) -> None:
    if station.ndim != 1 or any(other.shape != station.shape for other in others):
        raise ValueError("arrays of a band or profile are one-dimensional and of one length")
    if station.size < least or not all(np.isfinite(array).all() for array in (station, *others)):
        raise ValueError("a band or profile has at least two samples, all of them finite")
    if station[0] != 0.0 or np.any(np.diff(station) < 0) or station[-1] <= 0:
        raise ValueError("stations ascend from 0 at the outlet to a length above 0")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Band:
    """Legal inverts along a line.

    Parameters
    ----------
    station : (n,) array
        Length from the outlet, ascending from 0; twice the same station is a jump [m].
    ceiling : (n,) array
        Highest legal invert; the last carries a start limit when there is one [m].
    floor : (n,) array
        Lowest legal invert; the first carries the outlet's control elevation [m].

    Raises
    ------
    ValueError
        If lengths differ, a value is not finite, or stations do not ascend from 0. A ceiling under the floor is
        no error: no line fits, and `highest_profile` says by how much.
    """

    station: Floats
    ceiling: Floats
    floor: Floats

    def __post_init__(self) -> None:
        for name in ("station", "ceiling", "floor"):
            object.__setattr__(self, name, _frozen(getattr(self, name)))
        _check_stations(self.station, (self.ceiling, self.floor), 2)

    @property
    def length(self) -> float:
        """Length of the line [m]."""
        return float(self.station[-1])

    @property
    def content(self) -> tuple[bytes, bytes, bytes]:
        """The same for every band of the same samples."""
        return self.station.tobytes(), self.ceiling.tobytes(), self.floor.tobytes()

    @property
    def control(self) -> float:
        """Lowest invert at which the line may end [m]."""
        return float(self.floor[0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Profile:
    """Inverts along a line, straight between samples; twice the same station is a vertical drop.

    Parameters
    ----------
    station : (n,) array
        Length from the outlet, ascending from 0 [m].
    invert : (n,) array
        Invert [m].
    gap : float
        Digging that a profile of as few grades could at most save: 0 when proven least [m2].
    notes : tuple of str
        What a reader should know of how it was found.
    """

    station: Floats
    invert: Floats
    gap: float = 0.0
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name in ("station", "invert"):
            object.__setattr__(self, name, _frozen(getattr(self, name)))
        _check_stations(self.station, (self.invert,), 2)

    @property
    def runs(self) -> int:
        """Number of straight stretches between samples, drops not counted."""
        return int(np.count_nonzero(np.diff(self.station) > 0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortfall:
    """No legal profile: how much is missing, where, and what upstream holds the line down.

    The water comes from `binding_station`, whose ceiling sets the invert, and arrives at `station` under the floor.
    `missing` = `fall_needed` - `fall_available` between the two, all in metres.
    """

    missing: float
    station: float
    against: Against  # what lies too high at `station`
    binding_station: float
    binding: Binding  # the start, somewhere along the line, or the outlet end itself
    fall_available: float  # ceiling at the binding station less floor at `station`
    fall_needed: float


def invert_at(profile: Profile, stations: ArrayLike, *, side: Literal["lower", "upper"] = "lower") -> Floats:
    """Inverts at stations.

    Parameters
    ----------
    profile : Profile
        Inverts along the line.
    stations : array_like, shape (m,)
        Stations on the line [m].
    side : 'lower' or 'upper'
        Which end of a vertical drop is meant where there is one.

    Returns
    -------
    (m,) array
        Inverts [m].

    Raises
    ------
    ValueError
        If a station is off the line.
    """
    wanted = np.atleast_1d(np.asarray(stations, dtype=np.float64))
    if wanted.size and (wanted.min() < -SNAP or wanted.max() > profile.station[-1] + SNAP):
        raise ValueError(f"station off the line of length {profile.station[-1]:g} m")
    return one_sided(profile.station, profile.invert, wanted, upstream=side == "upper")


def one_sided(station: Floats, value: Floats, wanted: Floats, *, upstream: bool) -> Floats:
    """Piecewise linear reading with jumps: the value on the downstream or the upstream side of each station.

    Parameters
    ----------
    station, value : (n,) array
        Samples, stations ascending [m].
    wanted : (m,) array
        Stations to read; beyond the ends the end values [m].
    upstream : bool
        Which side of a jump.

    Returns
    -------
    (m,) array
        Values, exact at samples.
    """
    last = station.size - 1
    if upstream:
        low = np.clip(np.searchsorted(station, wanted, side="right") - 1, 0, last)
        high = np.minimum(low + 1, last)
    else:
        high = np.clip(np.searchsorted(station, wanted, side="left"), 0, last)
        low = np.maximum(high - 1, 0)
    width = station[high] - station[low]
    share = np.clip(np.divide(wanted - station[low], width, out=np.zeros_like(wanted), where=width > 0), 0.0, 1.0)
    if not upstream:
        share = np.where((width <= 0) | (wanted >= station[high]), 1.0, share)
    return np.asarray(value[low] * (1 - share) + value[high] * share)


def closed(band: Band) -> tuple[Floats, Floats, Floats]:
    """Station, ceiling, floor with a sample of its own at each jump, where both sides' limits hold.

    Parameters
    ----------
    band : Band
        The line's band.

    Returns
    -------
    tuple of (m,) arrays
        A jump becomes three samples: downstream side, both, upstream side; at the line's ends two.
    """
    station, ceiling, floor = band.station, band.ceiling, band.floor
    first = np.flatnonzero(np.concatenate(([True], np.diff(station) > 0)))
    if first.size == station.size:
        return station, ceiling, floor
    last = np.concatenate((first[1:], [station.size])) - 1
    low = np.minimum.reduceat(ceiling, first)
    high = np.maximum.reduceat(floor, first)
    jump = first != last
    lower, upper = jump.copy(), jump.copy()
    lower[0] = upper[-1] = False
    shape = (first.size, 3)
    keep = np.column_stack((lower, np.ones_like(jump), upper)).ravel()
    at = np.broadcast_to(station[first][:, None], shape).ravel()[keep]
    top = np.column_stack((ceiling[first], low, ceiling[last])).ravel()[keep]
    bottom = np.column_stack((floor[first], high, floor[last])).ravel()[keep]
    return at, top, bottom


def limited(band: Band, station: float, ceiling: float, floor: float) -> Band:
    """A band with further limits at one station, as where a line crosses another.

    Parameters
    ----------
    band : Band
        The line's band.
    station : float
        Where, on the line [m].
    ceiling, floor : float
        Highest and lowest invert there; infinite: no further limit [m].

    Returns
    -------
    Band
        With a sample at that station whose limits are the narrower of the band's and these.
    """
    at = np.array([station])
    sides = [
        (
            float(one_sided(band.station, band.ceiling, at, upstream=side)[0]),
            float(one_sided(band.station, band.floor, at, upstream=side)[0]),
        )
        for side in (False, True)
    ]
    top, bottom = min(sides[0][0], sides[1][0], ceiling), max(sides[0][1], sides[1][1], floor)
    before, after = band.station < station, band.station > station
    group = [*sides[:1], (top, bottom), *sides[1:]]
    if not before.any():
        group = group[1:]
    if not after.any():
        group = group[:-1]
    return Band(
        station=np.concatenate((band.station[before], [station] * len(group), band.station[after])),
        ceiling=np.concatenate((band.ceiling[before], [pair[0] for pair in group], band.ceiling[after])),
        floor=np.concatenate((band.floor[before], [pair[1] for pair in group], band.floor[after])),
    )


def collapsed(band: Band, stations: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """Station, ceiling, floor with one sample a station, further stations read in between.

    For a pipe without vertical drops this says the same as the band: at a jump both limits hold anyway.

    Parameters
    ----------
    band : Band
        The line's band.
    stations : array_like
        Stations to add, on the line [m].

    Returns
    -------
    tuple of (m,) arrays
        Stations strictly ascending.
    """
    station = band.station
    first = np.flatnonzero(np.concatenate(([True], np.diff(station) > 0)))
    at, top, bottom = station[first], np.minimum.reduceat(band.ceiling, first), np.maximum.reduceat(band.floor, first)
    extra = np.setdiff1d(np.asarray(stations, dtype=np.float64), at)
    extra = extra[(extra > 0) & (extra < station[-1])]
    if extra.size:
        place = np.searchsorted(at, extra)
        top = np.insert(top, place, one_sided(station, band.ceiling, extra, upstream=False))
        bottom = np.insert(bottom, place, one_sided(station, band.floor, extra, upstream=False))
        at = np.insert(at, place, extra)
    return at, top, bottom


def worst_breach(profile: Profile, band: Band, *, grade: float, grade_max: float | None = None) -> float:
    """By how much a profile breaks its band or its grades at the worst place, looked at everywhere.

    Parameters
    ----------
    profile : Profile
        Inverts from station 0 to the band's end.
    band : Band
        The line's band.
    grade : float
        Least grade [-].
    grade_max : float or None
        Greatest grade [-]; None: none, and a vertical drop is allowed.

    Returns
    -------
    float
        At or below 0 when legal; else the worst breach, grades counted as the fall missing over their run [m].

    Raises
    ------
    ValueError
        If profile and band differ in length.
    """
    if abs(profile.station[-1] - band.length) > SNAP:
        raise ValueError("profile and band differ in length")
    step, rise = np.diff(profile.station), np.diff(profile.invert)
    worst = float((grade * step - rise).max())
    if grade_max is not None:
        worst = max(worst, float((rise - grade_max * step).max()))
    station, ceiling, floor = closed(band)
    lower = one_sided(profile.station, profile.invert, station, upstream=False)
    upper = one_sided(profile.station, profile.invert, station, upstream=True)
    # At a jump (samples: downstream side, both, upstream side) the pipe lies at `lower`, drops through, goes on at
    # `upper`: the downstream side sees lower, the upstream side upper, and both hold somewhere on the drop; at the
    # outlet
    # both hold at the line's very end, at the start where the water comes in.
    before = np.concatenate(([False], np.diff(station) <= 0))
    after = np.concatenate((np.diff(station) <= 0, [False]))
    under_ceiling, over_floor = np.where(after, lower, upper), np.where(before, upper, lower)
    worst = max(worst, float((under_ceiling - ceiling).max()), float((floor - over_floor).max()))
    at = profile.station
    inside = ~np.isin(at, station)
    if inside.any():
        at, invert = at[inside], profile.invert[inside]
        worst = max(
            worst,
            float((invert - one_sided(band.station, band.ceiling, at, upstream=False)).max()),
            float((one_sided(band.station, band.floor, at, upstream=False) - invert).max()),
        )
    return worst


def digging(profile: Profile, station: ArrayLike, top: ArrayLike) -> float:
    """Area between a line and the inverts below it: what least digging makes smallest.

    Parameters
    ----------
    profile : Profile
        Inverts along the line.
    station, top : array_like, shape (n,)
        Upper edge along the same line: the band's ceiling, or ground less the trench bottom's depth under the
        invert for the whole trench; jumps allowed [m].

    Returns
    -------
    float
        Integral of top less invert over the station [m2]; exact, both are piecewise linear.
    """
    at, edge = np.asarray(station, dtype=np.float64), np.asarray(top, dtype=np.float64)
    return float(np.trapezoid(edge, at) - np.trapezoid(profile.invert, profile.station))


def thinned_band(profile: Profile) -> Profile:
    """The same profile without samples that lie on the straight line between their neighbours.

    Parameters
    ----------
    profile : Profile
        Inverts along the line.

    Returns
    -------
    Profile
        Equal everywhere to within a tenth of `LEGAL`.
    """
    step, rise = np.diff(profile.station), np.diff(profile.invert)
    alone = np.concatenate(([True], (step > 0) | (rise != 0)))  # of samples at one place the first
    station, invert = profile.station[alone].tolist(), profile.invert[alone].tolist()
    kept = [0]
    lower, upper = -np.inf, np.inf  # grades from the last kept sample that pass all samples since
    for index in range(1, len(station)):
        run, rise_here = station[index] - station[kept[-1]], invert[index] - invert[kept[-1]]
        if index - 1 > kept[-1] and (station[index] == station[index - 1] or not lower <= rise_here / run <= upper):
            kept.append(index - 1)
            run, rise_here = station[index] - station[kept[-1]], invert[index] - invert[kept[-1]]
            lower, upper = -np.inf, np.inf
        if run <= 0:  # a drop: both its ends stay
            kept.append(index)
            lower, upper = -np.inf, np.inf
            continue
        slack = LEGAL / 10 / run
        lower, upper = max(lower, rise_here / run - slack), min(upper, rise_here / run + slack)
    if kept[-1] != len(station) - 1:
        kept.append(len(station) - 1)
    return Profile(station=np.array(station)[kept], invert=np.array(invert)[kept], gap=profile.gap, notes=profile.notes)


def pinned(band: Band, invert: float) -> Band:
    """A band whose line ends at one invert and no other, such as a hole in a curb.

    Parameters
    ----------
    band : Band
        The line's band.
    invert : float
        Where the line must end [m].

    Returns
    -------
    Band
        With a jump at the outlet: a first sample whose ceiling and floor are `invert`. The line may still arrive
        higher and drop there when it has no greatest grade.
    """
    old = 1 if is_pinned(band) else 0
    return Band(
        station=np.concatenate(([0.0], band.station[old:])),
        ceiling=np.concatenate(([invert], band.ceiling[old:])),
        floor=np.concatenate(
            ([invert], np.minimum(band.floor[old:], np.where(band.station[old:] > 0, np.inf, invert)))
        ),
    )


def is_pinned(band: Band) -> bool:
    """Whether the line's end is held at one invert by a jump at the outlet.

    Parameters
    ----------
    band : Band
        The line's band.

    Returns
    -------
    bool
        True for what `pinned` gives.
    """
    return bool(band.station[1] == 0.0 and band.ceiling[0] == band.floor[0])
