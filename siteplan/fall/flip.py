"""A line that does not fit, or only just, in; out: the single changes that would make it fit, smallest first.

Every change is made on the band and the highest profile run again: 'makes it' is tested, not argued.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from siteplan import units
from siteplan.fall.band import LEGAL, Band, Profile, Shortfall, is_pinned, pinned
from siteplan.fall.highest import greatest_grade, highest_profile

Kind = Literal["cover-start", "cover", "grade", "outlet", "length", "pump"]

AWAY = 1.0e4  # a limit moved this far [m] binds no more
START_STRETCH = 10 * units.FOOT  # ground beside a wall that can be raised or planted: about the backfill's width
LEAST_COVER_SHARE = 0.5  # of the cover in force; less is not offered as a cure. Common practice, no source
LEAST_GRADE = 0.005  # only smooth pipe on a laser holds it. Common practice, no source
LEAST_LENGTH_SHARE = 0.5  # a line cut shorter than this is another line


@dataclass(frozen=True, slots=True, kw_only=True)
class Flip:
    """One change to a line, how big it is, and whether the line fits with it."""

    kind: Kind
    amount: float | None  # height or length changed [m], new least grade for 'grade' [-]; None: no amount does
    left: float | None  # cover, control elevation or length after the change [m], grade [-]
    makes_it: bool  # the line was run again with the change and fits
    sane: bool  # and the change stays within what practice bears
    share: float  # size: heights over the cover in force, grade and length over what they were
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    band: Band
    grade: float
    grade_max: float | None
    unit: str
    elevation_unit: str
    cover: float

    def fits(self, band: Band, grade: float | None = None) -> bool:
        result = highest_profile(band, grade=self.grade if grade is None else grade, grade_max=self.grade_max)
        return isinstance(result, Profile)

    def missing(self, band: Band) -> float:
        result = highest_profile(band, grade=self.grade, grade_max=self.grade_max)
        return result.missing if isinstance(result, Shortfall) else 0.0


def flips(
    band: Band,
    *,
    grade: float,
    cover: float,
    grade_max: float | None = None,
    unit: str = "ft",
    elevation_unit: str | None = None,
    wanted: float = 0.0,
    start_limit: float | None = None,
    lowest_outlet: float | None = None,
    least_cover: float | None = None,
    least_grade: float = LEAST_GRADE,
    start_stretch: float = START_STRETCH,
) -> tuple[Flip, ...]:
    """Single changes that would make a line fit, the smallest that works within sane bounds first.

    Size is compared by share: a height (cover, outlet) over the cover in force, a grade or a length over what it was.

    Parameters
    ----------
    band : Band
        The line's band.
    grade : float
        Least grade [-].
    cover : float
        Cover in force over most of the line, above 0 [m].
    grade_max : float or None
        Greatest grade [-].
    unit : str
        Unit of the sentences: 'ft', 'us-ft' or 'm'.
    elevation_unit : str or None
        Unit of elevations in them; None: the same.
    wanted : float
        Fall to spare that is asked for at the outlet [m].
    start_limit : float or None
        Invert at the start that no smaller cover can raise [m].
    lowest_outlet : float or None
        Invert under which this outlet cannot go, such as the gutter's flow line [m].
    least_cover : float or None
        Cover under which less cover is no cure; None: half of `cover` [m].
    least_grade : float
        Grade under which less grade is no cure [-].
    start_stretch : float
        Length at the source that counts as its start [m].

    Returns
    -------
    tuple of Flip
        Empty when the line fits already with the spare wanted. A pump closes the list when nothing else will do.

    Raises
    ------
    ValueError
        If the cover is not above 0, or a grade is negative, or the greatest is below the least.
    """
    if not cover > 0:
        raise ValueError(f"cover {cover!r} is not above 0")
    if wanted:
        band = pinned(band, band.control + wanted) if is_pinned(band) else _with_control(band, band.control + wanted)
    result = highest_profile(band, grade=grade, grade_max=grade_max)
    if isinstance(result, Profile):
        return ()
    asked = _Asked(
        band=band, grade=grade, grade_max=grade_max, unit=unit, elevation_unit=elevation_unit or unit, cover=cover
    )
    least = cover * LEAST_COVER_SHARE if least_cover is None else least_cover
    met: list[Flip] = []
    if result.binding_station >= band.length - start_stretch:
        met.append(_less_cover(asked, "cover-start", band.length - start_stretch, start_limit, least))
    met.append(_less_cover(asked, "cover", 0.0, start_limit, least))
    steepest = greatest_grade(band, grade_max=grade_max)
    met.extend(
        (_less_grade(asked, steepest, least_grade), _lower_outlet(asked, lowest_outlet), _shorter(asked, steepest))
    )
    met.sort(key=lambda flip: (not (flip.makes_it and flip.sane), not flip.makes_it, flip.share))
    if not any(flip.makes_it and flip.sane for flip in met):
        met.append(_pump(asked))
    return tuple(met)


def _with_control(band: Band, control: float) -> Band:
    floor = band.floor.copy()
    floor[band.station <= 0] = np.minimum(floor[band.station <= 0], control)
    floor[0] = control
    return Band(station=band.station, ceiling=band.ceiling, floor=floor)


def _raised(band: Band, amount: float, from_station: float, start_limit: float | None) -> Band:
    """Ceilings from a station upstream moved up; a pinned end and a start limit stay."""
    moved = band.station >= from_station
    moved[0] &= not is_pinned(band)
    ceiling = np.where(moved, band.ceiling + amount, band.ceiling)
    if start_limit is not None:
        ceiling[-1] = min(ceiling[-1], max(start_limit, band.ceiling[-1]))
    return Band(station=band.station, ceiling=ceiling, floor=band.floor)


def _less_cover(asked: _Asked, kind: Kind, from_station: float, start_limit: float | None, least: float) -> Flip:
    band, unit = asked.band, asked.unit
    # What is missing when every other ceiling is out of the way is exactly what these have to rise.
    away = np.where(band.station >= from_station, 0.0, AWAY)
    amount = asked.missing(replace(band, ceiling=band.ceiling + away))
    left = asked.cover - amount
    fits = amount > 0 and asked.fits(_raised(band, amount, from_station, start_limit))
    where = "at the start" if kind == "cover-start" else "along the whole line"
    stays = f"leaves {units.drop_text(left, unit)} of {units.drop_text(asked.cover, unit)}"
    if left < 0:
        stays = f"the pipe would stand {units.drop_text(-left, unit)} out of the ground"
    if kind == "cover-start":
        stays += f", over the first {units.length_text(band.length - from_station, unit, 1)} from the source"
    sentence = f"{units.drop_text(amount, unit)} less cover {where}: {stays}."
    if not fits:
        sentence = f"Less cover {where} alone does not make it."
    return Flip(
        kind=kind,
        amount=amount if fits else None,
        left=left if fits else None,
        makes_it=fits,
        sane=fits and left >= least - LEGAL,
        share=amount / asked.cover,
        sentence=sentence,
    )


def _less_grade(asked: _Asked, steepest: float | None, least: float) -> Flip:
    if steepest is None or not asked.fits(asked.band, min(steepest, asked.grade)):
        return Flip(
            kind="grade", amount=None, left=None, makes_it=False, sane=False, share=1.0,
            sentence="No grade makes it: not even a level line fits.",
        )  # fmt: skip
    sentence = f"A grade of {_grade_down(steepest)} instead of {units.grade_text(asked.grade)}"
    bears = steepest >= least
    return Flip(
        kind="grade",
        amount=steepest,
        left=steepest,
        makes_it=True,
        sane=bears,
        share=1 - steepest / asked.grade,
        sentence=f"{sentence}." if bears else f"{sentence}, which is too flat to lay.",
    )


def _grade_down(grade: float) -> str:
    """A greatest grade as printed: rounded down, so that the printed one still fits."""
    return units.grade_text(np.floor(grade * 1e4 + 1e-7) / 1e4)


def _lower_outlet(asked: _Asked, lowest: float | None) -> Flip:
    band, unit = asked.band, asked.unit
    amount = asked.missing(band)
    control = band.control - amount
    changed = pinned(band, control) if is_pinned(band) else _with_control(band, control)
    fits = amount > 0 and asked.fits(changed)
    bears = lowest is None or control >= lowest - LEGAL
    sentence = f"An outlet {units.drop_text(amount, unit)} lower, at {units.length_text(control, asked.elevation_unit)}"
    if not fits:
        sentence = "A lower outlet alone does not make it"
    elif not bears and lowest is not None:
        sentence += f"; this outlet cannot go under {units.length_text(lowest, asked.elevation_unit)}"
    return Flip(
        kind="outlet",
        amount=amount if fits else None,
        left=control if fits else None,
        makes_it=fits,
        sane=fits and bears,
        share=amount / asked.cover,
        sentence=f"{sentence}.",
    )


def _shorter(asked: _Asked, steepest: float | None) -> Flip:
    band, unit = asked.band, asked.unit
    # On the same ground drawn together the fall that fits over the whole length stays, so length goes as grade.
    share = 0.0 if steepest is None else min(steepest / asked.grade, 1.0)
    fits = share > 0 and asked.fits(replace(band, station=band.station * share))
    length = band.length * share
    sentence = (
        f"A line {units.length_text(band.length - length, unit, 1)} shorter, {units.length_text(length, unit, 1)} "
        "in all, between the same two ends."
        if fits
        else "No shorter line between the same two ends makes it."
    )
    return Flip(
        kind="length",
        amount=band.length - length if fits else None,
        left=length if fits else None,
        makes_it=fits,
        sane=fits and share >= LEAST_LENGTH_SHARE,
        share=1 - share,
        sentence=sentence,
    )


def _pump(asked: _Asked) -> Flip:
    band = asked.band
    # A pressure line need not fall: it fits where it can be covered and dug at all, and rises at its outlet.
    inside = band.station > 0
    fits = bool((band.ceiling[inside] >= band.floor[inside] - LEGAL).all())
    lift = max(0.0, band.control - float(band.ceiling[-1]))
    sentence = (
        f"A pump at the source: it has to lift {units.small_text(lift, asked.unit)}, and what the pipe's friction takes."
        if fits
        else "Not even a pumped line fits: somewhere it is either not covered or too deep."
    )
    return Flip(
        kind="pump",
        amount=lift if fits else None,
        left=None,
        makes_it=fits,
        sane=fits,
        share=float("inf"),
        sentence=sentence,
    )
