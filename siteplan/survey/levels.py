"""A level book in, as typed.

Elevations proved by their closure out, or the reason for refusing them and the likely culprit.

Readings stay text until the rod is known: 3.10 on an inches rod is 3 ft 10 in. An inches rod that was typed as decimals
is suspected, named, and never silently reinterpreted. `levels_book` reads the file, `levels_suspect` looks for the
culprit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from siteplan import units
from siteplan.books.practice import MISCLOSED, READING_SPREAD
from siteplan.errors import InputError, raise_gathered
from siteplan.survey.levels_book import LevelBook, elevation_in_text, place_key, point_key
from siteplan.survey.levels_run import LevelRun, Observation, misses, reduced_book, run_readings

if TYPE_CHECKING:
    from collections.abc import Mapping

# elevation of a benchmark that nobody gave, in the rod's unit: an assumed datum; common practice, no source
ASSUMED = 100.00
_SLIP = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """An elevation of one point, in metres."""

    point: str
    station: str
    remark: str
    elevation: float
    raw: float  # before adjustment
    setup: int
    row: int
    turning: bool
    doubt: float  # one standard deviation against the first mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """A point shot more than once. `low` and `high` are its least and greatest elevation [m]."""

    point: str
    setups: tuple[int, ...]
    low: float
    high: float
    agrees: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """What most likely spoiled a loop."""

    kind: str  # inches rod | metre rod | misread | transposed | swapped | ...
    setup: int | None
    row: int | None
    point: str
    column: str
    typed: str
    likely: str
    also: tuple[int, ...]  # other set-ups that the book cannot tell from this one
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Reduction:
    """A level book worked out. `points` is empty when the loop is refused."""

    accepted: bool
    reason: str
    points: tuple[Level, ...]
    misclosure: float | None  # found minus known at the worst closure [m]; None: the book never closes
    allowed: float
    setups: int
    sum_backsights: float
    sum_foresights: float
    page_check: bool
    adjusted: bool
    rod: str
    repeats: tuple[Repeat, ...]
    suspect: Suspect | None
    datum_assumed: bool
    notes: tuple[str, ...]
    resolution: float  # step that the rod was read to [m]
    doubt: float  # one standard deviation of the difference of two points of one set-up [m]


def reduce_book(
    book: LevelBook,
    *,
    rod: str | None = None,
    benchmarks: Mapping[str, float] | None = None,
    allowed: float = MISCLOSED,
    adjust: bool = False,
    open_ended: bool = False,
) -> Reduction:
    """Reduce a level book by height of instrument and judge its closure.

    Parameters
    ----------
    book : LevelBook
        As read by `read_level_book`.
    rod : str, optional
        'tenths', 'inches' or 'metres'. When absent the readings are taken as tenths of feet, and the
        digits and the closure are asked whether that can be so.
    benchmarks : mapping, optional
        Name to elevation [m] of known marks, over what the book says.
    allowed : float
        Misclosure allowed for one set-up [m]; a loop is allowed this times the square root of its set-ups.
    adjust : bool
        Spread an allowed misclosure over the set-ups.
    open_ended : bool
        Accept a book that never returns to a known mark.

    Returns
    -------
    Reduction
        Accepted with its points, or refused with the reason and the suspect.

    Raises
    ------
    InputError, InputErrors
        For a reading that no such rod shows, a backsight on a point of unknown elevation, a side shot
        without a set-up, or typed arithmetic that the readings contradict.

    References
    ----------
    HI = elevation + backsight; elevation = HI - foresight; page check: sum BS - sum FS = end - start.
    Any surveying text (memory). Allowance 0.02 ft x sqrt(set-ups): common practice, no source. Adjustment in
    proportion to the set-ups passed: any surveying text (memory). A reading to the nearest r is off by r / sqrt(12),
    one standard deviation of a uniform error; two of them make a set-up, and set-ups add up in squares.
    """
    from siteplan.survey.levels_suspect import culprit, one_or_ten, rod_suspicion, tenths_suspicion

    given = rod or "tenths"
    start, assumed = _known_marks(book, given, benchmarks or {})
    lone_one = one_or_ten(book, start, allowed) if given == "inches" else None
    run = reduced_book(book, run_readings(book, given, lone_one=lone_one), start)
    _compare_typed(book, run, given)
    doubted = rod_suspicion(book, start, allowed) if rod is None else None
    worst = run.worst(allowed)
    page = abs((run.sum_backsights - run.sum_foresights) - run.rise) < 1e-6
    loop_allowed = worst[1] if worst else allowed * math.sqrt(max(run.setups, 1))
    repeats = _repeats(run, loop_allowed)
    notes = list(book.notes)
    if assumed:
        notes.append(
            f"no elevation given for {book.entries[0].point}: assumed datum, "
            f"{units.length_text(_assumed(given), unit_of(given))}; differences are true, heights are not"
        )
    notes += _otherwise(book, start, given, loop_allowed)
    suspect: Suspect | None = None
    if doubted is not None and doubted.refuses:
        reason, suspect = doubted.suspect.text, doubted.suspect
    elif worst is None and not open_ended:
        reason = (
            "the book never returns to a known mark, so nothing proves its elevations; end with a shot on the "
            "benchmark, give a second --benchmark, or accept that with --open"
        )
    elif worst is not None and abs(worst[0]) > worst[1] + _SLIP:
        reason = (
            f"misclosure {signed_text(worst[0], given)}, allowed {plain_text(worst[1], given)} for "
            f"{worst[2].setups} set-up{'s' if worst[2].setups > 1 else ''}"
        )
        told = doubted.suspect if doubted is not None and doubted.closes else None
        if given == "inches":
            told = tenths_suspicion(book, start, allowed, worst[:2])
        suspect = told or culprit(book, given, start, allowed)
    else:
        reason = ""
    if doubted is not None and not doubted.refuses and suspect is None:
        notes.append(doubted.suspect.text)
    if lone_one is not None:
        meant = "1 in" if lone_one == 1 else "10 in whose zero a spreadsheet dropped"
        notes.append(f"{book.lone_ones()[0]} read as {meant}: only so the book closes")
    resolution = book.resolution(given)
    doubt = math.hypot(READING_SPREAD, resolution / math.sqrt(6))
    accepted = not reason
    if accepted and worst is None:
        notes.append("unproven: the book never returns to a known mark")
    notes += [
        (
            f"{repeat.point} was shot in set-ups {', '.join(map(str, repeat.setups))} and differs by "
            f"{plain_text(repeat.high - repeat.low, given)}: withheld, shoot it again"
        )
        for repeat in repeats
        if not repeat.agrees
    ]
    points = _points(book, run, start, repeats, adjust=adjust, doubt=doubt) if accepted else ()
    return Reduction(
        accepted=accepted,
        reason=reason,
        points=points,
        misclosure=worst[0] if worst else None,
        allowed=loop_allowed,
        setups=run.setups,
        sum_backsights=run.sum_backsights,
        sum_foresights=run.sum_foresights,
        page_check=page,
        adjusted=accepted and adjust and worst is not None,
        rod=given,
        repeats=repeats,
        suspect=suspect,
        datum_assumed=assumed,
        notes=tuple(notes),
        resolution=resolution,
        doubt=doubt,
    )


def unit_of(rod: str) -> str:
    """Unit that elevations of a rod's book are typed and printed in.

    Parameters
    ----------
    rod : str
        'tenths', 'inches' or 'metres'.

    Returns
    -------
    str
        'ft' or 'm'.
    """
    return "m" if rod == "metres" else "ft"


def plain_text(value: float, rod: str) -> str:
    """A small height in the book's unit, to a thousandth.

    Parameters
    ----------
    value : float
        Height [m].
    rod : str
        'tenths', 'inches' or 'metres'.

    Returns
    -------
    str
        Such as '0.028 ft' or '0.0085 m'.
    """
    return units.length_text(value, unit_of(rod), 3)


def signed_text(value: float, rod: str) -> str:
    """As `plain_text`, with its sign.

    Parameters
    ----------
    value : float
        Height [m].
    rod : str
        'tenths', 'inches' or 'metres'.

    Returns
    -------
    str
        Such as '-0.010 ft'.
    """
    text = plain_text(value, rod)
    return text if text.startswith("-") else f"+{text}"


def _known_marks(book: LevelBook, rod: str, benchmarks: Mapping[str, float]) -> tuple[dict[str, float], bool]:
    """Known elevations by point, and whether the first is only assumed."""
    known = {point_key(name): value for name, value in benchmarks.items()}
    names = {point_key(entry.point) for entry in book.entries}
    for name in benchmarks:
        if point_key(name) not in names:
            raise InputError(
                "--benchmark",
                f"{name} is not in {book.file}",
                f"Name one of its points, such as {book.entries[0].point}.",
            )
    first = book.entries[0]
    key = point_key(first.point)
    if key in known:
        return known, False
    typed = (
        first.elevation
        or elevation_in_text(first.remark, first.backsight, anything=True)
        or elevation_in_text(first.station)
    )
    if typed:
        return {
            key: _stated(
                book.pointed(typed),
                rod,
                f"{book.file}, row {first.row}, {'elevation' if first.elevation else 'remark'}",
            ),
            **known,
        }, False
    if (
        known
    ):  # the book starts on an unnamed point but another is known: only a book that starts on a known mark is read
        raise InputError(
            f"{book.file}, row {first.row}, point",
            f"the book starts on {first.point}, whose elevation is not known",
            f"Give --benchmark {first.point}=ELEVATION.",
        )
    return {key: _assumed(rod)}, True


def _assumed(rod: str) -> float:
    return ASSUMED * units.LENGTH[unit_of(rod)]


def _otherwise(book: LevelBook, known: Mapping[str, float], rod: str, allowed: float) -> list[str]:
    """What remarks say of a known mark's elevation that is farther from the one taken than the book may miss by."""
    said = []
    for entry in book.entries:
        taken, stated = known.get(point_key(entry.point)), elevation_in_text(entry.remark)
        if taken is None or stated is None:
            continue
        try:
            value = units.read_length(book.pointed(stated).rstrip('."'), unit_of(rod))
        except ValueError:
            continue  # a remark is free text
        if abs(value - taken) > allowed:
            unit = unit_of(rod)
            said.append(
                f"{entry.point} is taken at {units.length_text(taken, unit)}; row {entry.row} says EL "
                f"{units.length_text(value, unit)}"
            )
    return said


def _stated(text: str, rod: str, where: str) -> float:
    """Elevation of the first mark as its row states it [m]."""
    try:
        return units.read_length(text.rstrip('."'), unit_of(rod))
    except ValueError:
        raise InputError(where, f"states the elevation {text!r}", "Write it as a number, such as EL 100.00.") from None


def _compare_typed(book: LevelBook, run: LevelRun, rod: str) -> None:
    """Elevations and heights of instrument that stand in the book must be what its readings give."""
    faults: list[InputError] = []
    worked = {shot.entry.row: ("elevation", shot.entry.elevation, shot.elevation) for shot in run.observations}
    pairs = [(row, *rest) for row, rest in worked.items()]
    highs = dict(run.highs)
    pairs += [(entry.row, "HI", entry.high, highs[entry.row]) for entry in book.entries if entry.row in highs]
    unit = unit_of(rod)
    for row, column, typed, value in sorted(pairs, key=lambda pair: pair[0]):
        if not typed:
            continue
        where = f"{book.file}, row {row}, {column}"
        try:
            number = units.read_length(book.pointed(typed), unit)
        except ValueError:
            faults.append(
                InputError(where, f"is {typed!r}, no elevation", "Type a number, or leave it blank: it is worked out.")
            )
            continue
        slack = 0.006 * units.LENGTH[unit] if rod != "inches" else units.INCH / 8
        if abs(number - value) > slack:
            faults.append(
                InputError(
                    where,
                    f"is {typed}, and the readings give {units.length_text(value, unit)}",
                    "Correct whichever is wrong: the reading or the arithmetic.",
                )
            )
    raise_gathered(faults)


def _repeats(run: LevelRun, limit: float) -> tuple[Repeat, ...]:
    """Points shot more than once from set-ups that had to be levelled anew, or twice from one."""
    places: dict[tuple[str, str], list[Observation]] = {}
    for shot in run.observations:
        place = place_key(shot.entry)
        if place is not None and shot.closes is None:
            places.setdefault(place, []).append(shot)
    repeats = []
    for group in places.values():
        if len(group) < 2:
            continue
        heights = [shot.elevation for shot in group]
        low, high = min(heights), max(heights)
        repeats.append(
            Repeat(
                point=group[0].entry.point,
                setups=tuple(shot.setup for shot in group),
                low=low,
                high=high,
                agrees=high - low <= limit + _SLIP,
            )
        )
    return tuple(repeats)


def _points(
    book: LevelBook,
    run: LevelRun,
    known: Mapping[str, float],
    repeats: tuple[Repeat, ...],
    *,
    adjust: bool,
    doubt: float,
) -> tuple[Level, ...]:
    """One elevation a point, in the book's order; a point whose shots disagree is left out."""
    corrections: dict[int, float] = {}
    if adjust:
        for closure in run.closures:
            for setup in range(closure.first, closure.shot.setup + 1):
                corrections.setdefault(setup, -misses(closure.shot) * (setup - closure.first + 1) / closure.setups)
    since = _setups_before(run)
    withheld = {point_key(repeat.point) for repeat in repeats if not repeat.agrees}
    shots: dict[tuple[str, str] | int, list[Observation]] = {}
    order: dict[tuple[str, str] | int, Level] = {}
    for entry in book.entries:
        key = point_key(entry.point)
        if key in known and (key, "") not in order:
            order[key, ""] = Level(
                point=entry.point,
                station=entry.station,
                remark=entry.remark,
                elevation=known[key],
                raw=known[key],
                setup=0,
                row=entry.row,
                turning=True,
                doubt=0.0,
            )
    for shot in run.observations:
        if shot.closes is not None or point_key(shot.entry.point) in withheld:
            continue
        shots.setdefault(place_key(shot.entry) or shot.entry.row, []).append(shot)
    for place, group in shots.items():
        chief = next((shot for shot in group if shot.turning), None)
        raw = chief.elevation if chief else math.fsum(shot.elevation for shot in group) / len(group)
        first = chief or group[0]
        elevation = raw + corrections.get(first.setup, 0.0)
        entry = first.entry
        order[place] = Level(
            point=entry.point,
            station=entry.station,
            remark=entry.remark,
            elevation=elevation,
            raw=raw,
            setup=first.setup,
            row=entry.row,
            turning=first.turning,
            doubt=doubt * math.sqrt(first.setup - since.get(first.setup, 0)),
        )
    return tuple(sorted(order.values(), key=lambda level: level.row))


def _setups_before(run: LevelRun) -> dict[int, int]:
    """Set-up to the number of set-ups before the one that left the last known mark."""
    since: dict[int, int] = {}
    for closure in run.closures:
        for setup in range(closure.first, closure.shot.setup + 1):
            since.setdefault(setup, closure.first - 1)
    left = max((closure.shot.setup for closure in run.closures), default=0)
    since.update(dict.fromkeys(range(left + 1, run.setups + 1), left))
    return since
