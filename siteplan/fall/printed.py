"""A legal profile and the step of a rod or a table in; out: inverts in whole steps that are still legal.

Rounding each invert to the nearest step can cost a run its fall or its cover. Here the steps are chosen together, so
that every run keeps its grade and the band, and among such choices the line lies highest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from siteplan.fall.band import LEGAL, SNAP, Band, Floats, Profile, collapsed, one_sided
from siteplan.fall.highest import check_grades

FINER = 10.0  # what a step is divided by when no whole steps fit
TRIES = 4
WIDEST = 12  # steps looked at to each side of an invert
FINER_NOTE = "No inverts in whole steps keep the fall and the cover; the step is {times:g} times finer."
EXACT_NOTE = "No rounded inverts keep the fall and the cover; they are printed as computed."
HELD_NOTE = "An invert that is held at one elevation, which is no whole step, is printed as it is."


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rounded:
    """A profile in whole steps, the step it took [m; 0: not rounded], and what to tell the reader."""

    profile: Profile
    step: float
    notes: tuple[str, ...]


def rounded(profile: Profile, *, band: Band, grade: float, grade_max: float | None = None, step: float) -> Rounded:
    """Inverts at a profile's samples in whole steps, so that what is printed falls and is covered as what was proven.

    Parameters
    ----------
    profile : Profile
        Legal inverts; straight runs between samples.
    band : Band
        The line's band.
    grade : float
        Least grade [-].
    grade_max : float or None
        Greatest grade [-].
    step : float
        What inverts are printed to, such as 0.01 ft or 0.001 m, above 0 [m].

    Returns
    -------
    Rounded
        Whole multiples of the step; of a finer step, or not rounded at all, when nothing else is legal.

    Raises
    ------
    ValueError
        If the step is not above 0, or a grade is negative, or the greatest is below the least.

    Examples
    --------
    >>> band = Band(station=[0, 30], ceiling=[9.6149, 9.9149], floor=[9.604, 9.0])
    >>> line = Profile(station=[0, 30], invert=[9.6149, 9.9149])
    >>> rounded(line, band=band, grade=0.01, step=0.01).profile.invert.round(4).tolist()
    [9.61, 9.91]
    """
    check_grades(grade, grade_max)
    if not (np.isfinite(step) and step > 0):
        raise ValueError(f"step {step!r} is not above 0")
    for power in range(TRIES):
        times = FINER**power
        chosen = _whole_steps(profile, band, grade, grade_max, step / times)
        if chosen is not None:
            invert, held = chosen
            notes = ((FINER_NOTE.format(times=times),) if power else ()) + ((HELD_NOTE,) if held else ())
            fresh = Profile(station=profile.station, invert=invert, gap=profile.gap, notes=profile.notes)
            return Rounded(profile=fresh, step=step / times, notes=notes)
    return Rounded(profile=profile, step=0.0, notes=(EXACT_NOTE,))


def _whole_steps(
    profile: Profile, band: Band, grade: float, grade_max: float | None, step: float
) -> tuple[Floats, bool] | None:
    """Highest legal inverts (k,) in whole steps and whether one had to stay as computed; None when there are none."""
    station = profile.station
    at, ceiling, floor = collapsed(band, station)
    top_up = one_sided(band.station, band.ceiling, station, upstream=True)
    bottom_down = one_sided(band.station, band.floor, station, upstream=False)
    drop = np.diff(station) <= 0
    foot, head = np.append(drop, False), np.insert(drop, 0, False)  # lower and upper end of a vertical drop
    here = np.searchsorted(at, station)
    top = np.where(head, top_up, ceiling[here])
    bottom = np.where(foot, bottom_down, floor[here])
    reach = min(station.size + 1, WIDEST)
    choices: list[Floats] = []
    held = False
    for index, invert in enumerate(profile.invert.tolist()):
        whole = (round(invert / step) + np.arange(reach, -reach - 1, -1)) * step
        legal = whole[(whole <= top[index] + LEGAL) & (whole >= bottom[index] - LEGAL)]
        if not legal.size and top[index] - bottom[index] <= SNAP:
            legal, held = np.array([invert]), True
        if not legal.size:
            return None
        choices.append(legal)
    worth, came = [np.zeros(choices[0].size)], []
    for index in range(1, len(choices)):
        low, high = choices[index - 1][:, None], choices[index][None, :]
        run = float(station[index] - station[index - 1])
        fits = high - low >= grade * run - LEGAL
        if grade_max is not None:
            fits &= high - low <= grade_max * run + LEGAL
        inside = slice(here[index - 1] + 1, here[index])
        if run > 0 and at[inside].size:
            share = (at[inside] - station[index - 1]) / run
            lines = low[..., None] * (1 - share) + high[..., None] * share
            fits &= (lines <= ceiling[inside] + LEGAL).all(axis=-1) & (lines >= floor[inside] - LEGAL).all(axis=-1)
        total = np.where(fits, worth[-1][:, None] + run / 2 * (low + high), -np.inf)
        best = np.argmax(total, axis=0)
        came.append(best)
        worth.append(total[best, np.arange(choices[index].size)])
    last = int(np.argmax(worth[-1]))
    if worth[-1][last] == -np.inf:
        return None
    picked = [last]
    for best in reversed(came):
        picked.append(int(best[picked[-1]]))
    return np.array([values[pick] for values, pick in zip(choices, reversed(picked), strict=True)]), held
