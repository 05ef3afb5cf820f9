"""Two batch folders in; lots newly failing, newly passing, and margins moved, out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from siteplan.batch.record import LotRecord
from siteplan.batch.run import BATCH_FILE, batch_lots, lot_record
from siteplan.errors import InputError

LotFigure = Literal["lot", "state", "margin", "chance", "not-drained", "fails", "flags", "trench"]
_MOVED = {"m": 5e-4, "share": 5e-3, "": 0.0}  # differences that no sheet would print


@dataclass(frozen=True, slots=True, kw_only=True)
class LotChange:
    """One figure of a lot that is not as it was: SI; None where there was or is none."""

    what: LotFigure
    lot: str
    before: float | str | None
    after: float | str | None
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LotBreak:
    """A rule that a lot breaks in one run and kept in the other, by names."""

    rule: str
    lot: str
    subject: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchComparison:
    """What two batches differ by. `failing` pass in the first and not in the second, `passing` the other way round.

    `unknown` are lots that one of them has not planned yet.
    """

    lots: int
    changed: tuple[LotChange, ...]
    breaks: tuple[LotBreak, ...]
    mends: tuple[LotBreak, ...]
    failing: tuple[LotRecord, ...]
    passing: tuple[LotRecord, ...]
    added: tuple[str, ...]
    gone: tuple[str, ...]
    unknown: tuple[str, ...]


def batches_compared(first: Path, second: Path) -> BatchComparison:
    """Set one batch beside another, lot by lot.

    Parameters
    ----------
    first, second : Path
        Batch folders; the second is asked about.

    Returns
    -------
    BatchComparison
        Lots in the order of their names.

    Raises
    ------
    InputError
        If one is no batch folder: which.
    """
    names = [_names(folder, place) for folder, place in ((first, "first"), (second, "second"))]
    changed: list[LotChange] = []
    breaks: list[LotBreak] = []
    mends: list[LotBreak] = []
    failing: list[LotRecord] = []
    passing: list[LotRecord] = []
    unknown: list[str] = []
    for name in sorted({*names[0], *names[1]}):
        if (name in names[0]) != (name in names[1]):
            there = ("there", None) if name in names[0] else (None, "there")
            changed.append(LotChange(what="lot", lot=name, before=there[0], after=there[1]))
            continue
        before, after = lot_record(first, name), lot_record(second, name)
        if before is None or after is None:
            unknown.append(name)
            continue
        changed += _figures(before, after)
        breaks += [
            LotBreak(rule=rule, lot=name, subject=who) for rule, who in after.broken if (rule, who) not in before.broken
        ]
        mends += [
            LotBreak(rule=rule, lot=name, subject=who) for rule, who in before.broken if (rule, who) not in after.broken
        ]
        failing += [after] if after.code and not before.code else []
        passing += [after] if before.code and not after.code else []
    return BatchComparison(
        lots=len({*names[0], *names[1]}),
        changed=tuple(changed),
        breaks=tuple(breaks),
        mends=tuple(mends),
        failing=tuple(failing),
        passing=tuple(passing),
        added=tuple(sorted(names[1] - names[0])),
        gone=tuple(sorted(names[0] - names[1])),
        unknown=tuple(unknown),
    )


def _names(folder: Path, place: str) -> set[str]:
    names = batch_lots(folder)
    if names is None:
        raise InputError(
            f"the {place} folder, {folder.name or folder}",
            f"is no batch folder (no {BATCH_FILE} of ours), and the other is one",
            "Compare two plan folders, or two batch folders.",
        )
    return set(names)


_FIGURES: tuple[tuple[LotFigure, Callable[[LotRecord], float | str | None], str], ...] = (
    ("state", lambda one: one.state, ""),
    ("margin", lambda one: one.margin, "m"),
    ("chance", lambda one: one.chance, "share"),
    ("not-drained", lambda one: one.undrained, ""),
    ("fails", lambda one: one.fails, ""),
    ("flags", lambda one: one.flags, ""),
    ("trench", lambda one: one.trench, "m"),
)


def _figures(before: LotRecord, after: LotRecord) -> Iterator[LotChange]:
    for what, of, unit in _FIGURES:
        was, now = of(before), of(after)
        if isinstance(was, int | float) and isinstance(now, int | float):
            if abs(now - was) <= _MOVED[unit]:
                continue
        elif was == now:
            continue
        yield LotChange(what=what, lot=after.name, before=was, after=now, unit=unit)
