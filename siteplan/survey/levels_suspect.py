"""A level book that does not close in; the reading and the set-up that most likely spoiled it out.

Every reading that the closure hangs on is tried with the slips people make (a foot, a tenth, two digits changed over,
one digit misread, one reading in inches, BS and FS changed over). A slip that would close the loop is a candidate;
ground shots and points seen from two set-ups decide between candidates, since a true repair also joins the ground
again. Weights of the slips are judgement, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from siteplan import units
from siteplan.books.practice import ROD_REACH
from siteplan.errors import SiteplanError
from siteplan.survey.levels import Suspect, plain_text, signed_text
from siteplan.survey.levels_book import LevelBook, place_key
from siteplan.survey.levels_run import Closure, LevelRun, misses, reduced_book, run_readings

_LOOKALIKE = {"1": "7", "7": "1", "3": "8", "8": "3", "6": "9", "9": "6", "0": "6", "5": "6"}
LONE_ONES = (1, 10)  # what 3.1 may be on an inches rod [in]
_STRONG = 4  # readings whose digits all look like inches: chance 0.12 each, 0.0002 for four
_SAME = 0.35  # scores closer than this are not told apart


@dataclass(frozen=True, slots=True, kw_only=True)
class RodSuspicion:
    """What digits and closure say about the rod."""

    suspect: Suspect
    refuses: bool  # the book cannot be used until a person names the rod
    closes: bool  # read as suspected, the loop closes


@dataclass(frozen=True, slots=True, kw_only=True)
class _Slip:
    kind: str
    weight: float
    typed: str
    likely: str
    changes: Mapping[tuple[int, str], float]
    row: int
    column: str


def rod_suspicion(book: LevelBook, known: Mapping[str, float], allowed: float) -> RodSuspicion | None:
    """Whether a book read as tenths of feet may have been read off an inches rod or a metre rod.

    Parameters
    ----------
    book : LevelBook
        As typed; nobody named its rod.
    known : mapping
        Point key to known elevation [m].
    allowed : float
        Misclosure allowed for one set-up [m].

    Returns
    -------
    RodSuspicion or None
        None when the digits give no ground for it.
    """
    texts = [text for text in book.texts() if re.fullmatch(r"\d+(?:\.\d+)?", text)]
    tails = [text.partition(".")[2] for text in texts]
    if len(texts) < len(book.texts()) or not texts:
        return None
    if len(texts) >= 3 and all(len(tail) == 3 for tail in tails) and all(float(text) < 5.1 for text in texts):
        text = (
            f"all {len(texts)} readings are typed to 0.001 and none is above 5.1, as on a metre rod; say --rod "
            "metres, or --rod tenths if it was read in feet"
        )
        return RodSuspicion(suspect=_rod("metre rod", text, "metres"), refuses=True, closes=False)
    two = [tail for tail in tails if len(tail) == 2]
    if any(len(tail) > 2 or int(tail or 0) > 11 for tail in tails):
        return None
    tenths = reduced_book(book, run_readings(book, "tenths"), known).worst(allowed)
    inches, dropped = _inches_closure(book, known, allowed)
    tenths_closes = tenths is not None and abs(tenths[0]) <= tenths[1] + 1e-9
    inches_closes = inches is not None and tenths is not None and abs(inches) <= tenths[1] + 1e-9
    if len(two) < 2 and not (inches_closes and not tenths_closes):
        return None
    digits = f"none of the {len(texts)} readings has digits 12 to 99 after the point"
    if len(two) >= 2:
        digits += f" (by chance 1 in {min(1 / 0.12 ** len(two), 1e9):.0f})"
    if inches is None:
        closing = "; read as inches the closure cannot be worked, since .1 may be 1 in or 10 in"
    elif tenths is None:
        closing = "; the book does not close, so nothing speaks against it"
    else:
        zero = f" ({dropped} taken as {dropped.partition('.')[0]} ft 10 in, its zero dropped)" if dropped else ""
        closing = (
            f"; read as tenths it misses by {signed_text(tenths[0], 'tenths')}, as feet and inches by "
            f"{signed_text(inches, 'inches')}{zero}"
        )
    strong = len(two) >= _STRONG
    refuses = (inches_closes and not tenths_closes) or (strong and not (tenths_closes and not inches_closes))
    if tenths is not None and not tenths_closes and not inches_closes and inches is not None:
        refuses = False  # neither rod closes: it is refused anyway, for the misclosure
    text = (
        f"an inches rod typed as decimals: {digits}{closing}; say --rod inches if 3.10 is 3 ft 10 in, or --rod tenths"
    )
    return RodSuspicion(suspect=_rod("inches rod", text, "inches"), refuses=refuses, closes=inches_closes)


def tenths_suspicion(
    book: LevelBook, known: Mapping[str, float], allowed: float, missed: tuple[float, float]
) -> Suspect | None:
    """Whether a book said to be read off an inches rod closes only in tenths of feet.

    Parameters
    ----------
    book : LevelBook
        As typed.
    known : mapping
        Point key to known elevation [m].
    allowed : float
        Misclosure allowed for one set-up [m].
    missed : tuple of float
        Misclosure in inches and its allowance [m].

    Returns
    -------
    Suspect or None
        None when tenths do not close either.
    """
    try:
        tenths = reduced_book(book, run_readings(book, "tenths"), known).worst(allowed)
    except SiteplanError:
        return None
    if tenths is None or abs(tenths[0]) > tenths[1] + 1e-9:
        return None
    text = (
        f"a rod in tenths read as inches: as feet and inches it misses by {signed_text(missed[0], 'inches')}, as "
        f"tenths by {signed_text(tenths[0], 'tenths')}; say --rod tenths"
    )
    return replace(_rod("tenths rod", text, "tenths"), typed="inches")


def _rod(kind: str, text: str, likely: str) -> Suspect:
    return Suspect(
        kind=kind, setup=None, row=None, point="", column="", typed="tenths", likely=likely, also=(), text=text
    )


def _inches_closure(book: LevelBook, known: Mapping[str, float], allowed: float) -> tuple[float | None, str]:
    """Worst misclosure with every reading in feet and inches, None when it cannot be worked.

    Also a reading whose zero a sheet dropped, if that closes best.
    """
    best: float | None = None
    dropped = ""
    for lone_one in (None, *LONE_ONES):
        try:
            values = run_readings(book, "inches", lone_one=lone_one)
        except SiteplanError:
            continue
        worst = reduced_book(book, values, known).worst(allowed)
        found = worst[0] if worst else 0.0
        if best is None or abs(found) < abs(best) - 1e-9:
            best = found
            dropped = next(iter(book.lone_ones()), "") if lone_one == 10 else ""
    return best, dropped


def one_or_ten(book: LevelBook, known: Mapping[str, float], allowed: float) -> int | None:
    """What .1 is on an inches rod, by closure: 1 in, or 10 in whose zero a spreadsheet dropped.

    Parameters
    ----------
    book : LevelBook
        As typed, read off an inches rod.
    known : mapping
        Point key to known elevation [m].
    allowed : float
        Misclosure allowed for one set-up [m].

    Returns
    -------
    int or None
        1 or 10 when only that closes; None when closure does not tell, or nothing is to be told.
    """
    if not book.lone_ones():
        return None
    closing = []
    for inches in LONE_ONES:
        try:
            worst = reduced_book(book, run_readings(book, "inches", lone_one=inches), known).worst(allowed)
        except SiteplanError:
            return None
        if worst is not None and abs(worst[0]) <= worst[1] + 1e-9:
            closing.append(inches)
    return closing[0] if len(closing) == 1 else None


def culprit(book: LevelBook, rod: str, known: Mapping[str, float], allowed: float) -> Suspect | None:
    """The reading that most likely spoiled a loop that does not close.

    Parameters
    ----------
    book : LevelBook
        As typed.
    rod : str
        'tenths', 'inches' or 'metres'.
    known : mapping
        Point key to known elevation [m].
    allowed : float
        Misclosure allowed for one set-up [m].

    Returns
    -------
    Suspect or None
        With the other set-ups that the book cannot tell from it; None when the book never closes.
    """
    values = run_readings(book, rod)
    run = reduced_book(book, values, known)
    worst = run.worst(allowed)
    if worst is None:
        return None
    miss, _, closure = worst
    broken = _break(run)
    chain = _chain(book, run, closure)
    scored: list[tuple[float, int, _Slip]] = []
    for row, column, setup, text in chain:
        for slip in _slips(book, rod, row, column, text, values, miss):
            changed = {**values, **slip.changes}
            try:
                tried = reduced_book(book, changed, known)
            except SiteplanError:
                continue
            after = tried.worst(allowed)
            if after is None or abs(after[0]) > after[1] + 1e-9:
                continue
            mended = max(-2.0, min(2.0, 2 * (broken - _break(tried)) / abs(miss)))
            scored.append((slip.weight + mended - 0.3 * abs(after[0]) / after[1], setup, slip))
    if not scored:
        return None
    scored.sort(key=lambda one: (-one[0], one[1], one[2].row, one[2].column))
    score, setup, slip = scored[0]
    also = tuple(sorted({other for value, other, _ in scored if score - value <= _SAME and other != setup}))
    point = next(entry.point for entry in book.entries if entry.row == slip.row)
    text = (
        f"set-up {setup}: {slip.column} on {point} (row {slip.row}) reads {slip.typed}; {slip.kind}, with "
        f"{slip.likely} the loop closes"
    )
    if slip.kind == _UNNAMED:
        text = (
            f"no single common slip explains {signed_text(miss, rod)}; set-up {setup} is where it shows most: "
            f"{slip.column} on {point} (row {slip.row}) reads {slip.typed}, and {slip.likely} would close the loop"
        )
    if also:
        text += (
            f"; set-up{'s' if len(also) > 1 else ''} {', '.join(map(str, also))} would explain it as well: take "
            f"{'them' if len(also) > 1 else 'both'} again"
        )
    return Suspect(
        kind=slip.kind,
        setup=setup,
        row=slip.row,
        point=point,
        column=slip.column,
        typed=slip.typed,
        likely=slip.likely,
        also=also,
        text=text,
    )


_UNNAMED = "a slip of no common kind"


def _chain(book: LevelBook, run: LevelRun, closure: Closure) -> list[tuple[int, str, int, str]]:
    """Readings that the closure hangs on: row, column, set-up, text."""
    chain: list[tuple[int, str, int, str]] = []
    setup = 0
    shots = {(shot.entry.row, shot.column): shot for shot in run.observations}
    for entry in book.entries:
        for column, text in (("FS", entry.foresight), ("IFS", entry.intermediate)):
            shot = shots.get((entry.row, column))
            if text is None or shot is None or not closure.first <= shot.setup <= closure.shot.setup:
                continue
            if shot is closure.shot or (shot.turning and shot.closes is None):
                chain.append((entry.row, column, shot.setup, text))
        if entry.backsight is not None:
            setup += 1
            if closure.first <= setup <= closure.shot.setup:
                chain.append((entry.row, "BS", setup, entry.backsight))
        if entry.row == closure.shot.entry.row:
            break
    return chain


def _slips(
    book: LevelBook, rod: str, row: int, column: str, text: str, values: Mapping[tuple[int, str], float], miss: float
) -> Iterator[_Slip]:
    """Slips that this reading may have suffered, each with what would have stood there."""
    unit = "m" if rod == "metres" else "ft"
    one = units.LENGTH[unit]
    value = values[row, column]
    pointed = book.pointed(text)

    def slip(
        kind: str,
        weight: float,
        likely: float,
        said: str | None = None,
        more: Mapping[tuple[int, str], float] | None = None,
    ) -> _Slip:
        return _Slip(
            kind=kind,
            weight=weight,
            typed=text,
            likely=said or plain_text(likely, rod),
            changes={(row, column): likely, **(more or {})},
            row=row,
            column=column,
        )

    if rod != "inches" and re.fullmatch(r"\d+\.\d+", pointed):
        for kind, weight, said in _digit_slips(pointed):
            yield slip(kind, weight, float(said) * one, said)
        whole, _, tail = pointed.partition(".")
        if unit == "ft" and len(tail) == 2 and int(tail) <= 11:
            yield slip("read off an inches rod", 1.8, (int(whole) + int(tail) / 12) * one, f"{whole}'-{int(tail)}\"")
    steps = (
        (1.0, "a whole foot" if unit == "ft" else "a whole metre", 2.0),
        (0.1, "a tenth" if unit == "ft" else "a decimetre", 1.9),
        (0.5, "half a foot" if unit == "ft" else "half a metre", 1.2),
    )
    if rod == "inches":
        steps = ((1.0, "a whole foot", 2.0), (1 / 12, "an inch", 1.9), (0.5, "half a foot", 1.2))
    longest = ROD_REACH
    for size, name, weight in steps:
        for sign in (1, -1):
            likely = value + sign * size * one
            if 0 <= likely <= longest:
                yield slip(f"{name} misread", weight, likely)
    if column == "BS" and (row, "FS") in values:
        fore = values[row, "FS"]
        yield slip("BS and FS changed over", 1.7, fore, more={(row, "FS"): value})
    straight = value + (miss if column != "BS" else -miss)
    if 0 <= straight <= longest:
        yield slip(_UNNAMED, 0.0, straight)


def _digit_slips(pointed: str) -> Iterator[tuple[str, float, str]]:
    """Kind, weight and text of a reading whose digits changed places or were misread."""
    for at in range(len(pointed) - 1):
        pair = pointed[at : at + 2]
        if pair.isdigit() and pair[0] != pair[1]:
            yield "two digits changed over", 2.3, pointed[:at] + pair[::-1] + pointed[at + 2 :]
    whole, _, tail = pointed.partition(".")
    if len(tail) == 2 and whole[-1] != tail[0]:
        yield "two digits changed over across the point", 2.0, f"{whole[:-1]}{tail[0]}.{whole[-1]}{tail[1]}"
    for at, digit in enumerate(pointed):
        if digit in _LOOKALIKE:
            yield "one digit misread", 1.6, pointed[:at] + _LOOKALIKE[digit] + pointed[at + 1 :]


def _break(run: LevelRun) -> float:
    """How badly the ground is torn between set-ups [m].

    Places seen twice, and steps that the ground's own slope beside them does not explain.
    """
    torn = 0.0
    places: dict[tuple[str, str], tuple[int, float]] = {}
    stations: list[tuple[float, int, float]] = []
    for shot in run.observations:
        if shot.closes is not None:
            torn += abs(misses(shot)) if shot is not run.closures[-1].shot else 0.0
            continue
        place = place_key(shot.entry)
        if place is not None:
            if place in places and places[place][0] != shot.setup:
                torn += 3 * abs(shot.elevation - places[place][1])
            places.setdefault(place, (shot.setup, shot.elevation))
        found = re.fullmatch(r"(\d+)\+(\d+(?:\.\d+)?)", shot.entry.station.replace(" ", ""))
        if found:
            stations.append((int(found[1]) * 100 + float(found[2]), shot.setup, shot.elevation))
    stations.sort()
    for at in range(len(stations) - 1):
        (low_station, left, low), (high_station, right, high) = stations[at], stations[at + 1]
        if left == right:
            continue
        slopes = [
            _slope(stations[i], stations[i + 1])
            for i in (at - 1, at + 1)
            if 0 <= i < len(stations) - 1 and stations[i][1] == stations[i + 1][1]
        ]
        expected = sum(slopes) / len(slopes) * (high_station - low_station) if slopes else 0.0
        torn += abs(high - low - expected)
    return torn


def _slope(low: tuple[float, int, float], high: tuple[float, int, float]) -> float:
    """Slope of the ground between two stations of one set-up; level when they stand on one."""
    return (high[2] - low[2]) / (high[0] - low[0]) if high[0] > low[0] else 0.0
