"""A level book and its readings in metres in; heights of instrument, elevations, closures and page sums out."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from siteplan.errors import InputError, raise_gathered
from siteplan.survey.levels_book import BookEntry, LevelBook, point_key

_TURNING_NAME = re.compile(r"(?:tp|cp|turn)\d*\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """One foresight or side shot reduced."""

    entry: BookEntry
    column: str
    setup: int
    elevation: float
    closes: float | None  # known elevation of the mark, when this shot returns to one
    turning: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """A shot that returns to a known mark, and the set-ups since the last one."""

    shot: Observation
    first: int
    setups: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelRun:
    """The arithmetic of a book in one reading of its rod, in metres."""

    observations: tuple[Observation, ...]
    closures: tuple[Closure, ...]
    setups: int
    sum_backsights: float
    sum_foresights: float
    rise: float  # end minus start by the elevations
    highs: tuple[tuple[int, float], ...]  # row, height of instrument

    def worst(self, per_setup: float) -> tuple[float, float, Closure] | None:
        """Misclosure and allowance of the closure that misses most against its allowance."""
        if not self.closures:
            return None
        return max(
            ((misses(closure.shot), per_setup * math.sqrt(closure.setups), closure) for closure in self.closures),
            key=lambda miss: abs(miss[0]) / miss[1],
        )


def misses(shot: Observation) -> float:
    """Found minus known at a shot that returns to a known mark.

    Parameters
    ----------
    shot : Observation
        One that closes on a known mark.

    Returns
    -------
    float
        [m]
    """
    assert shot.closes is not None
    return shot.elevation - shot.closes


def run_readings(book: LevelBook, rod: str, *, lone_one: int | None = None) -> dict[tuple[int, str], float]:
    """Every reading of the book in metres, as the named rod shows it.

    Parameters
    ----------
    book : LevelBook
        As typed.
    rod : str
        'tenths', 'inches' or 'metres'.
    lone_one : int, optional
        What 3.1 means on an inches rod, 1 or 10 inches.

    Returns
    -------
    dict
        (row, column) to reading [m].

    Raises
    ------
    InputError, InputErrors
        For text that is no reading of that rod, one line each.
    """
    faults: list[InputError] = []
    values: dict[tuple[int, str], float] = {}
    for entry in book.entries:
        for column, text in entry.typed():
            where = f"{book.file}, row {entry.row}, {column}"
            try:
                values[entry.row, column] = book.rod_reading(text, rod, lone_one=lone_one)
            except ValueError as error:
                what, _, mend = str(error).partition("; ")
                faults.append(InputError(where, what, mend))
    raise_gathered(faults)
    return values


def reduced_book(book: LevelBook, values: Mapping[tuple[int, str], float], known: Mapping[str, float]) -> LevelRun:
    """The arithmetic of a book: heights of instrument, elevations, closures, page sums.

    Parameters
    ----------
    book : LevelBook
        As typed.
    values : mapping
        (row, column) to reading [m], from `run_readings`; changed by those who ask what a slip would do.
    known : mapping
        Point key to known elevation [m]; the first point of the book among them.

    Returns
    -------
    Run
        In metres.

    Raises
    ------
    InputError, InputErrors
        For a backsight on a point of unknown elevation, or a side shot after the instrument was moved.
    """
    faults: list[InputError] = []
    found: dict[str, float] = {}
    turned: set[str] = set()
    shots: list[Observation] = []
    closures: list[Closure] = []
    highs: list[tuple[int, float]] = []
    instrument: float | None = None
    base = 0.0
    setup = first_setup = 0
    backsights = foresights = rise = 0.0
    carried: Observation | None = None  # the set-up's last foresight that something depends on
    for index, entry in enumerate(book.entries):
        key = point_key(entry.point)
        where = f"{book.file}, row {entry.row}"
        for column in (name for name in ("FS", "IFS") if (entry.row, name) in values):
            if instrument is None:
                faults.append(
                    InputError(
                        f"{where}, {column}", "has a reading before any backsight", "Begin with a BS on the benchmark."
                    )
                )
                continue
            closes = known.get(key)
            turning = column == "FS" and (closes is not None or book.is_turning(index))
            if not turning and _lost_backsight(book, index, column):
                faults.append(
                    InputError(
                        f"{where}, FS",
                        f"turns on {entry.point}, and no BS on it follows",
                        f"Give the BS on {entry.point}, or move the reading to IFS if the instrument stayed.",
                    )
                )
            shot = Observation(
                entry=entry,
                column=column,
                setup=setup,
                elevation=instrument - values[entry.row, column],
                closes=closes,
                turning=turning,
            )
            shots.append(shot)
            if turning:
                turned.add(key)
            if turning or closes is not None:
                carried = shot
            if closes is not None:
                closures.append(Closure(shot=shot, first=first_setup, setups=setup - first_setup + 1))
            found[key] = shot.elevation
        if (entry.row, "BS") in values:
            if carried is not None:
                foresights += values[carried.entry.row, carried.column]
                rise += carried.elevation - base
                carried = None
            try:
                base = _stands_on(entry, where, known, found, turned)
            except InputError as fault:
                faults.append(fault)
            setup += 1
            if key in known:
                first_setup = setup
            backsights += values[entry.row, "BS"]
            instrument = base + values[entry.row, "BS"]
            highs.append((entry.row, instrument))
    raise_gathered(faults)
    carried = carried or _open_end(shots)
    if carried is not None:
        foresights += values[carried.entry.row, carried.column]
        rise += carried.elevation - base
    elif setup and instrument is not None:
        # nothing was carried on from the last set-up: its backsight has no foresight to be checked against
        backsights -= instrument - base
    return LevelRun(
        observations=tuple(shots),
        closures=tuple(closures),
        setups=setup,
        sum_backsights=backsights,
        sum_foresights=foresights,
        rise=rise,
        highs=tuple(highs),
    )


def _open_end(shots: list[Observation]) -> Observation | None:
    """The last foresight of a book that ends on no known mark."""
    return shots[-1] if shots and shots[-1].column == "FS" else None


def _lost_backsight(book: LevelBook, index: int, column: str) -> bool:
    """Whether a foresight on a point called TP is followed by more readings and no backsight on it."""
    return (
        column == "FS"
        and index + 1 < len(book.entries)
        and _TURNING_NAME.match(point_key(book.entries[index].point)) is not None
    )


def _stands_on(
    entry: BookEntry, where: str, known: Mapping[str, float], found: Mapping[str, float], turned: set[str]
) -> float:
    """Elevation of the point that a set-up's backsight stands on [m]."""
    key = point_key(entry.point)
    if key in known:
        return known[key]
    if key not in found:
        raise InputError(
            f"{where}, BS",
            f"stands on {entry.point}, whose elevation is not known",
            f"Give an FS on {entry.point} in an earlier row, or correct its name.",
        )
    if key not in turned:
        raise InputError(
            f"{where}, BS",
            f"stands on {entry.point}, which was only a side shot (IFS)",
            "Move that reading to FS: a point that carries the elevation on is a foresight.",
        )
    return found[key]
