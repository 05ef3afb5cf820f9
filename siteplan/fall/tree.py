"""Bands of lines that join one another in; out: inverts along all of them at once.

Legal inverts on a merging tree form a lattice as on one line: at a wye the trunk lies no higher than the lowest of
what arrives. Ceilings are carried from the branches down, inverts settled from the outlets up.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from siteplan.fall.band import SNAP, Band, Profile, Shortfall, invert_at, one_sided
from siteplan.fall.grades import few_grades
from siteplan.fall.highest import check_grades, highest_profile
from siteplan.fall.stepped import few_stepped

Joins = Mapping[str, tuple[str, float]]  # line id -> id of the line it joins, station of the wye on that line


def pinched(band: Band, station: float, ceiling: float) -> Band:
    """A band whose ceiling at one station is lowered, as a branch that arrives there lowers a trunk's.

    Parameters
    ----------
    band : Band
        The trunk's band.
    station : float
        Where, on the line [m].
    ceiling : float
        Highest invert there [m].

    Returns
    -------
    Band
        With samples at that station; unchanged where the ceiling was lower already.

    Raises
    ------
    ValueError
        If the station is off the line.
    """
    if not -SNAP <= station <= band.length + SNAP:
        raise ValueError(f"wye at {station:g} m is off a line of {band.length:g} m")
    near = int(np.argmin(np.abs(band.station - station)))
    place = float(band.station[near]) if abs(band.station[near] - station) <= SNAP else float(station)
    wanted = np.array([place])
    tops = [float(one_sided(band.station, band.ceiling, wanted, upstream=side)[0]) for side in (False, True)]
    bottoms = [float(one_sided(band.station, band.floor, wanted, upstream=side)[0]) for side in (False, True)]
    if ceiling >= min(tops):
        return band
    before, after = band.station < place, band.station > place
    low, high = place > 0, place < band.length  # at an end there is no other side
    group = [(tops[0], bottoms[0])] * low + [(ceiling, max(bottoms))] + [(tops[1], bottoms[1])] * high
    if place <= 0:  # the outlet's own sample carries the control and, when pinned, the pin
        group[0] = (min(ceiling, float(band.ceiling[0])), float(band.floor[0]))
    return Band(
        station=np.concatenate((band.station[before], [place] * len(group), band.station[after])),
        ceiling=np.concatenate((band.ceiling[before], [top for top, _ in group], band.ceiling[after])),
        floor=np.concatenate((band.floor[before], [bottom for _, bottom in group], band.floor[after])),
    )


def _branches_first(bands: Mapping[str, Band], joins: Joins) -> list[str]:
    for line, (trunk, _) in joins.items():
        if line not in bands or trunk not in bands:
            raise ValueError(f"{line} joins {trunk}, and one of them has no band")
    depth: dict[str, int] = {}
    for line in bands:
        seen, at = [line], line
        while at in joins:
            at = joins[at][0]
            if at in seen:
                raise ValueError(f"lines join in a circle: {', '.join([*seen, at])}")
            seen.append(at)
        depth[line] = len(seen)
    return sorted(bands, key=lambda line: -depth[line])  # a stable sort: same order in, same order out


def settle(
    bands: Mapping[str, Band],
    joins: Joins,
    *,
    grade: float | Mapping[str, float],
    grade_max: float | None = None,
    breaks: Mapping[str, ArrayLike] | None = None,
    elsewhere: bool = True,
    step: float | None = None,
    arrive: float = 0.0,
) -> dict[str, Profile | Shortfall]:
    """Inverts along lines that join: highest everywhere, or in few grades.

    Parameters
    ----------
    bands : mapping of line id to Band
        A branch's station 0 is its wye; its floor there is its own greatest depth.
    joins : mapping of line id to (trunk id, station on the trunk)
        Which lines end on another; the others end at an outlet [m].
    grade : float or mapping of line id to float
        Least grade, of all lines or of each [-].
    grade_max : float or None
        Greatest grade [-].
    breaks : mapping of line id to array_like, or None
        Stations where a line's grade may change; wyes are added. None: the highest inverts of all [m].
    elsewhere : bool
        False does not look for grade breaks at other stations when none between these fit.
    step : float or None
        Grades are whole numbers of it on every line where such grades fit; None: any grade [-].
    arrive : float
        How far an outlet could lie higher with the run that ends there still at the least grade, where grades are in
        steps [m].

    Returns
    -------
    dict of line id to Profile or Shortfall
        In the order of `bands`. A branch ends at or above its trunk's invert. A branch that does not fit by itself
        lowers nobody. When a trunk does not fit with what arrives, its branches do not either: they carry its
        Shortfall.

    Raises
    ------
    ValueError
        If a line joins one without a band, off its length or in a circle, or a grade is out of order.

    References
    ----------
    Shortest paths over difference constraints on a tree; own derivation, checked by linear programme in the tests.
    """
    grades = grade if isinstance(grade, Mapping) else dict.fromkeys(bands, grade)
    for least in grades.values():
        check_grades(least, grade_max)
    order = _branches_first(bands, joins)
    pressed = dict(bands)
    arrived: dict[str, Profile | Shortfall] = {}
    for line in order:
        arrived[line] = result = highest_profile(pressed[line], grade=grades[line], grade_max=grade_max)
        if line in joins and isinstance(result, Profile):
            trunk, station = joins[line]
            pressed[trunk] = pinched(pressed[trunk], station, float(result.invert[0]))
    settled: dict[str, Profile | Shortfall] = {}
    for line in reversed(order):
        result = arrived[line]
        if isinstance(result, Shortfall):
            settled[line] = result
            continue
        band = pressed[line]
        if line in joins:
            trunk, station = joins[line]
            below = settled[trunk]
            if isinstance(below, Shortfall):
                settled[line] = below
                continue
            floor = band.floor.copy()
            floor[0] = max(float(floor[0]), float(invert_at(below, [station])[0]))
            band = replace(band, floor=floor)
        if breaks is None:
            settled[line] = highest_profile(band, grade=grades[line], grade_max=grade_max)
            continue
        wyes = [station for trunk, station in joins.values() if trunk == line]
        asked = np.concatenate((np.asarray(breaks.get(line, ()), dtype=np.float64), wyes))
        in_steps = None
        if step is not None:
            room = 0.0 if line in joins else arrive
            in_steps = few_stepped(band, grade=grades[line], grade_max=grade_max, step=step, breaks=asked, arrive=room)
        settled[line] = in_steps or few_grades(
            band, grade=grades[line], grade_max=grade_max, breaks=asked, elsewhere=elsewhere
        )
    return {line: settled[line] for line in bands}
