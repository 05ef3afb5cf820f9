"""Sites and a folder in; every lot planned that is not planned yet, and the summaries written, out."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from siteplan.batch.digests import file_digests, folder_digest
from siteplan.batch.lots import LotFolder, lot_folders
from siteplan.batch.one import LotTask, lost_lot, planned_lot, unreadable
from siteplan.batch.record import CODES, LotRecord, LotState, record_bytes, stored_record
from siteplan.batch.summary import summaries
from siteplan.errors import InputError
from siteplan.pool.cluster import by_cluster, connected
from siteplan.pool.pace import Pace
from siteplan.pool.processes import Died, by_processes
from siteplan.pool.program import program_digest
from siteplan.sheets.writing import write_file

BATCH_FILE = "batch.json"
_FORMAT = "siteplan-batch"
_STRAY = {".ds_store", "thumbs.db", "desktop.ini"}


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchAsked:
    """How a batch is to be done. None of it but `layouts` and `stamp` changes what is written."""

    workers: int
    scheduler: str | None = None
    layouts: int
    stamp: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchDone:
    """What a run did. `counts` are lots by state, worst first; `planned` were planned now, the others before."""

    counts: dict[LotState, int]
    planned: int
    passed: tuple[str, ...]
    worst: tuple[LotRecord, ...]

    @property
    def code(self) -> int:
        """3 where a lot ended by a fault of ours; else 1 where one cannot be used or fails; else 0."""
        codes = {CODES[state] for state, count in self.counts.items() if count}
        return 3 if 3 in codes else min(1, max(codes, default=0))


def run_batch(sites: Path, out: Path, asked: BatchAsked) -> BatchDone:
    """Plan every lot.

    Parameters
    ----------
    sites : Path
        See `lot_folders`.
    out : Path
        Made where it is not there; an earlier one of ours goes on from where it stands.
    asked : BatchAsked
        How.

    Returns
    -------
    BatchDone
        All lots, those that needed no planning too.

    Raises
    ------
    InputError, InputErrors
        If there are no sites, or `out` cannot be written: nothing is written then.
    """
    found = lot_folders(sites, out)
    earlier = _earlier(out)
    client = None if asked.scheduler is None else connected(asked.scheduler)
    for folder in (out, out / "lots", out / "records"):
        folder.mkdir(exist_ok=True)
    names = [one.name for one in found.lots]
    write_file(out / BATCH_FILE, _head(names, asked))
    pace, program, planned = Pace(len(names), "lots"), program_digest(), 0
    bad = 0

    def kept(record: LotRecord, *, now: bool) -> None:
        nonlocal bad
        bad += record.code > 0
        pace.step(f", {bad} with a fail" if bad else "", worked=now)

    def due() -> Iterator[LotTask]:
        for lot in found.lots:
            task = _task(lot, out, program, asked)
            if isinstance(task, LotRecord):
                write_file(_record_path(out, lot.name), record_bytes(task))
                kept(task, now=False)
                continue
            held = stored_record(_record_path(out, lot.name))
            if held is not None and _stands(held, task):
                kept(held, now=False)
            else:
                yield task

    for task, given in _worked(due(), asked, client):
        record = lost_lot(task, given.times) if isinstance(given, Died) else given
        write_file(_record_path(out, task.name), record_bytes(record))
        planned += 1
        kept(record, now=True)
    pace.end(f", {planned} planned now" if planned < len(names) else "")
    gone = sorted(set(earlier) - set(names))
    return _summed(out, found.lots, found.passed, gone, planned, asked.stamp)


def _worked(
    tasks: Iterable[LotTask], asked: BatchAsked, client: object | None
) -> Iterator[tuple[LotTask, LotRecord | Died]]:
    if client is not None:
        return by_cluster(planned_lot, tasks, client)
    return by_processes(planned_lot, tasks, asked.workers)


def _summed(
    out: Path, lots: Sequence[LotFolder], passed: tuple[str, ...], gone: Sequence[str], planned: int, stamp: str | None
) -> BatchDone:
    ranked: list[tuple[tuple[float, ...], str]] = []
    counts: dict[LotState, int] = {}
    read: Callable[[str], LotRecord | None] = partial(lot_record, out)
    for lot in lots:
        held = read(lot.name)
        if held is not None:
            ranked.append((held.rank, lot.name))
            counts[held.state] = counts.get(held.state, 0) + 1
    ranked.sort()
    names = [name for _, name in ranked]
    for name, content in summaries(names, read, passed, gone, stamp):
        write_file(out / name, content)
    worst = [held for name in names[:5] if (held := read(name)) is not None and held.code > 0]
    return BatchDone(counts=counts, planned=planned, passed=passed, worst=tuple(worst))


def lot_record(out: Path, name: str) -> LotRecord | None:
    """What became of a lot.

    Parameters
    ----------
    out : Path
        A batch folder.
    name : str
        Of the lot.

    Returns
    -------
    LotRecord or None
        None where it is not done.
    """
    return stored_record(_record_path(out, name))


def _record_path(out: Path, name: str) -> Path:
    return out / "records" / f"{name}.json"


def _task(lot: LotFolder, out: Path, program: str, asked: BatchAsked) -> LotTask | LotRecord:
    """The task of a lot; its record where its folder cannot be read at all."""
    task = LotTask(
        name=lot.name,
        folder=str(lot.folder),
        out=str(out.resolve() / "lots" / lot.name),
        key="",
        program=program,
        layouts=asked.layouts,
        stamp=asked.stamp,
    )
    try:
        site = folder_digest(lot.folder, out.resolve())
    except OSError as fault:
        return unreadable(task, fault)
    key = hashlib.sha256(f"{program}\n{site}\n{asked.layouts}\n{asked.stamp}".encode()).hexdigest()
    return LotTask(
        name=task.name,
        folder=task.folder,
        out=task.out,
        key=key,
        program=program,
        layouts=task.layouts,
        stamp=task.stamp,
    )


def _stands(held: LotRecord, task: LotTask) -> bool:
    """Whether a lot need not be planned again: the same input and program, and its files as they were written."""
    if held.key != task.key or held.state == "fault":
        return False
    return held.state == "bad-input" or dict(held.files) == file_digests(Path(task.out))


def _head(names: Sequence[str], asked: BatchAsked) -> bytes:
    record = {"format": _FORMAT, "version": 1, "layouts": asked.layouts, "date": asked.stamp, "lots": list(names)}
    return json.dumps(record, ensure_ascii=True, indent=1).encode() + b"\n"


def batch_lots(out: Path) -> tuple[str, ...] | None:
    """Names of the lots of a batch folder.

    Parameters
    ----------
    out : Path
        Any folder.

    Returns
    -------
    tuple of str or None
        None where it is no batch folder of ours.
    """
    try:
        held = json.loads((out / BATCH_FILE).read_bytes())
        if held["format"] != _FORMAT:
            return None
        names = tuple(str(one) for one in held["lots"])
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return None
    return None if any(one in {"", ".", ".."} or set(one) & {"/", "\0"} for one in names) else names


def _earlier(out: Path) -> tuple[str, ...]:
    """Names of the lots of an earlier run in a folder, which may be written; nothing is written yet."""
    earlier = batch_lots(out)
    if out.exists() and not out.is_dir():
        raise InputError(str(out), "is a file, not a folder", "Name another --out, or move the file away.")
    if earlier is None and out.is_dir() and any(one.name.lower() not in _STRAY for one in out.iterdir()):
        raise InputError(
            str(out),
            f"holds files and is no batch folder (no {BATCH_FILE} of ours)",
            "Name an empty or new folder as --out.",
        )
    if not out.resolve().parent.is_dir():
        raise InputError(
            str(out),
            f"the folder it should stand in, {out.resolve().parent}, does not exist",
            "Create it, or name another --out.",
        )
    return earlier or ()
