"""Options of `siteplan levels` as typed in; its screen or JSON out."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from siteplan import units
from siteplan.books.practice import MISCLOSED, PAIR_DOUBT
from siteplan.errors import InputError
from siteplan.survey.levels import Reduction, plain_text, reduce_book, signed_text, unit_of
from siteplan.survey.levels_book import RODS, LevelBook, read_level_book


def reduction_from_typed(typed: Mapping[str, Any]) -> tuple[LevelBook, Reduction]:
    """Read the options of the command, the book, and reduce it.

    Parameters
    ----------
    typed : mapping
        Options of the command: notes, rod, benchmark, allowed, adjust, open.

    Returns
    -------
    tuple
        The book as typed, and its reduction.

    Raises
    ------
    InputError, InputErrors
        For an option or a row that cannot be used.
    """
    rod = typed["rod"]
    if rod is not None and rod not in RODS:
        raise InputError("--rod", f"is {rod!r}", f"Give {', '.join(RODS[:-1])} or {RODS[-1]}.")
    unit = unit_of(rod or "tenths")
    allowed: float = MISCLOSED
    if typed["allowed"] is not None:
        allowed = _length("--allowed", typed["allowed"], unit)
        if allowed <= 0:
            raise InputError(
                "--allowed", f"is {typed['allowed']}", "Give the misclosure allowed for one set-up, above 0."
            )
    benchmarks = {}
    for text in typed["benchmark"]:
        name, mark, elevation = text.rpartition("=")
        if not mark or not name.strip():
            raise InputError("--benchmark", f"is {text!r}", "Write NAME=ELEVATION, such as BM-1=100.00.")
        benchmarks[name.strip()] = _length("--benchmark", elevation, unit)
    book = read_level_book(Path(typed["notes"]))
    return book, reduce_book(
        book, rod=rod, benchmarks=benchmarks, allowed=allowed, adjust=typed["adjust"], open_ended=typed["open"]
    )


def _length(option: str, text: str, unit: str) -> float:
    try:
        return units.read_length(text, unit)
    except ValueError as error:
        raise InputError(option, str(error).partition(";")[0], "Type a number, such as 100.00.") from None


def all_well(result: Reduction) -> bool:
    """Whether the book is accepted and no point of it is withheld.

    Parameters
    ----------
    result : Reduction
        Of the book.

    Returns
    -------
    bool
        For the exit code.
    """
    return result.accepted and all(repeat.agrees for repeat in result.repeats)


def levels_as_text(book: LevelBook, result: Reduction) -> str:
    """The reduction as a screen.

    Parameters
    ----------
    book : LevelBook
        As typed.
    result : Reduction
        Of the book.

    Returns
    -------
    str
        Lines without a trailing newline.
    """
    rod = result.rod
    unit = unit_of(rod)
    setups = f"{result.setups} set-up{'s' if result.setups != 1 else ''}"
    lines = []
    if result.accepted:
        proof = (
            "unproven"
            if result.misclosure is None
            else (
                f"misclosure {signed_text(result.misclosure, rod)}, allowed {plain_text(result.allowed, rod)} for "
                f"{setups}"
            )
        )
        lines.append(f"ACCEPTED: {book.file}: {proof}; {'adjusted' if result.adjusted else 'no adjustment'}")
    else:
        lines.append(f"REFUSED: {book.file}: {result.reason}")
        if result.suspect is not None and result.suspect.text != result.reason:
            lines.append(f"  suspect     {result.suspect.text}")
        lines.append("  no elevations are given: nothing should be dug or laid out from this book")
    page = "holds" if result.page_check else "FAILS"
    sums = (
        f"sum BS {units.length_text(result.sum_backsights, unit)} - sum FS "
        f"{units.length_text(result.sum_foresights, unit)} = "
        f"{units.length_text(result.sum_backsights - result.sum_foresights, unit)}"
    )
    lines.append(f"  page check  {page}: {sums} (proves the arithmetic alone)")
    width = max((len(level.point) for level in result.points), default=0)
    for level in result.points:
        station = f"  {level.station}" if level.station and level.station != level.point else ""
        lines.append(
            f"  {level.point:<{width}}  "
            f"{units.length_text(level.elevation, unit)}{station}{'  ' + level.remark if level.remark else ''}"
        )
    lines += [
        (
            f"  second run  {repeat.point}: set-ups {', '.join(map(str, repeat.setups))} agree within "
            f"{plain_text(repeat.high - repeat.low, rod)}"
        )
        for repeat in result.repeats
        if repeat.agrees
    ]
    if result.accepted:
        step = units.inches_text(result.resolution) if rod == "inches" else plain_text(result.resolution, rod)
        carried = max((level.doubt for level in result.points), default=0.0)
        worst = f", against the benchmark up to {plain_text(carried, rod)}" if carried > result.doubt else ""
        wide = max(result.doubt, PAIR_DOUBT)
        use = (
            f"; siteplan fall between two of them: --doubt {units.from_metres(wide, unit):.3f}{unit}"
            if result.doubt > PAIR_DOUBT
            else ""
        )
        lines.append(
            f"  doubt       rod read to {step}: {plain_text(result.doubt, rod)} between two points of one "
            f"set-up{worst} (one standard deviation){use}"
        )
    lines += [f"  note        {note}" for note in result.notes]
    return "\n".join("".join(c if c.isprintable() else " " for c in line) for line in lines)


def levels_as_json(book: LevelBook, result: Reduction) -> str:
    """The reduction for programs, in metres.

    Parameters
    ----------
    book : LevelBook
        As typed.
    result : Reduction
        Of the book.

    Returns
    -------
    str
        One JSON object, keys in a fixed order.
    """

    def figure(value: float | None) -> float | None:
        return None if value is None else round(value, 6) + 0.0

    suspect = result.suspect
    return json.dumps(
        {
            "accepted": result.accepted,
            "points": [
                {
                    "point": level.point,
                    "elevation": figure(level.elevation),
                    "raw": figure(level.raw),
                    "station": level.station,
                    "setup": level.setup,
                    "turning": level.turning,
                    "doubt": figure(level.doubt),
                }
                for level in result.points
            ],
            "misclosure": figure(result.misclosure),
            "allowed": figure(result.allowed),
            "suspect": None
            if suspect is None
            else {
                "kind": suspect.kind,
                "setup": suspect.setup,
                "row": suspect.row,
                "point": suspect.point,
                "column": suspect.column,
                "typed": suspect.typed,
                "likely": suspect.likely,
                "also": list(suspect.also),
                "text": suspect.text,
            },
            "reason": result.reason,
            "setups": result.setups,
            "page_check": result.page_check,
            "adjusted": result.adjusted,
            "rod": result.rod,
            "datum_assumed": result.datum_assumed,
            "repeats": [
                {
                    "point": repeat.point,
                    "setups": list(repeat.setups),
                    "difference": figure(repeat.high - repeat.low),
                    "agrees": repeat.agrees,
                }
                for repeat in result.repeats
            ],
            "resolution": figure(result.resolution),
            "doubt": figure(result.doubt),
            "notes": list(result.notes),
            "unit": "m",
            "file": book.file,
        },
        indent=1,
    )
