"""Layers of a county and a folder in; every parcel screened, and the files written, out."""

from __future__ import annotations

import contextlib
import hashlib
import json
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from siteplan import units
from siteplan.pool.cluster import by_cluster, connected
from siteplan.pool.pace import Pace
from siteplan.pool.processes import Died, by_processes
from siteplan.pool.program import program_digest
from siteplan.screen.answers import ANSWERS_FILE, AnswersAt, answers_by_stretch
from siteplan.screen.asked import LotScreen, PlaceToShoot, ScreenAsked, ScreenState
from siteplan.screen.coarse import screen_rules
from siteplan.screen.layers import check_shapes, layer_head
from siteplan.screen.stretch import LEAST_SHAPE, StretchDone, StretchTask, county_frame, forget_files, screened_stretch
from siteplan.screen.summary import SCREEN_FILE, SCREEN_FORMAT, SCREEN_NAMES, screen_files, screen_rank
from siteplan.screen.tiles import TileSet, tile_set
from siteplan.sheets.writing import check_folder, write_file, write_folder
from siteplan.survey.frame import axis_unit

_STRETCH = 100  # parcels given to a process at once


@dataclass(frozen=True, slots=True, kw_only=True)
class ScreenDone:
    """What a screen found. `judged` lots were worked out now, the others before.

    `faults` a fault of ours left without an answer.
    """

    counts: dict[ScreenState, int]
    judged: int
    faults: int
    notes: tuple[str, ...]

    @property
    def code(self) -> int:
        """3 after a fault of ours; 1 where a lot is short; else 0."""
        return 3 if self.faults else 1 if self.counts.get("short") else 0


def run_screen(
    asked: ScreenAsked, out: Path, *, workers: int, scheduler: str | None = None, stamp: str | None = None
) -> ScreenDone:
    """Screen every parcel.

    Parameters
    ----------
    asked : ScreenAsked
        Files and how to read them.
    out : Path
        Written whole at the end, in place of an earlier one.
    workers : int
        Processes here; 0: this one alone.
    scheduler : str or None
        Address of a Dask scheduler in their place.
    stamp : str or None
        Date printed.

    Returns
    -------
    ScreenDone
        Counts, and what was assumed.

    Raises
    ------
    InputError, InputErrors
        If a file cannot be used; nothing is written then.
    """
    forget_files()
    check_folder(out, names=SCREEN_NAMES, ours=_is_screen, kind="screen", mark=SCREEN_FILE)
    screen_rules(asked.min_grade)
    head, tiles = layer_head(asked.parcels, "--parcels"), tile_set(Path(asked.elevation), asked.elevation_unit)
    for path, option in ((asked.buildings, "--buildings"), (asked.streets, "--streets")):
        if path is not None:
            check_shapes(layer_head(path, option), LEAST_SHAPE[option])
    county_frame(asked.parcels)
    unit = axis_unit(head.crs) or "m"
    notes = (*_notes(asked, unit), *tiles.notes)
    unfinished, program, inputs = _unfinished(out), program_digest(), _stamp(asked, tiles)
    earlier = answers_by_stretch(out / ANSWERS_FILE, _STRETCH)
    with contextlib.suppress(FileExistsError):
        unfinished.mkdir()

    def stretches() -> Iterator[StretchTask]:
        for first in range(0, head.count, _STRETCH):
            here = (AnswersAt(path=str(_part(unfinished, first))), earlier.get(first))
            known = tuple(one for one in here if one is not None)
            yield StretchTask(asked=asked, first=first, count=_STRETCH, program=program, inputs=inputs, earlier=known)

    pace, counts, faults, left_out, judged = Pace(head.count, "lots"), dict[ScreenState, int](), 0, 0, 0
    ranks: list[tuple[tuple[float, ...], int, int]] = []
    with tempfile.TemporaryDirectory(prefix="siteplan-screen-") as folder, _taken_away(unfinished):
        for task, given in _worked(stretches(), workers, scheduler):
            count = min(_STRETCH, head.count - task.first)
            done = _lost(task, count) if isinstance(given, Died) else given
            write_file(_part(unfinished, task.first), done.answers)
            left_out += count - len(done.lots)
            judged += done.now
            with (Path(folder) / f"{task.first}.jsonl").open("wb") as file:
                for place, one in enumerate(done.lots):
                    ranks.append((screen_rank(one), task.first, file.tell()))
                    file.write(json.dumps(asdict(one)).encode() + b"\n")
                    counts[one.state] = counts.get(one.state, 0) + 1
                    faults += one.why == "fault"
                    pace.step(f", {counts['short']} short" if counts.get("short") else "", worked=place < done.now)
        ranks.sort()
        if left_out:
            are = "feature of the parcels is no lot" if left_out == 1 else "features of the parcels are no lots"
            notes = (*notes, f"{left_out} {are} and left out: points, lines, or of another kind.")

        def every() -> Iterator[LotScreen]:
            for _, first, at in ranks:
                yield _stored(Path(folder) / f"{first}.jsonl", at)

        code = head.crs.to_authority(min_confidence=100)
        files = screen_files(every, asked, ":".join(code) if code else head.crs.to_wkt(), unit, notes, stamp, left_out)
        parts = (_part(unfinished, first) for first in range(0, head.count, _STRETCH))
        files[ANSWERS_FILE] = b"".join(part.read_bytes() for part in parts)
        pace.end(f", {judged} worked out now" if judged < len(ranks) else "")
        write_folder(out, files, names=SCREEN_NAMES, ours=_is_screen, kind="screen", mark=SCREEN_FILE)
        for part in unfinished.glob("*.jsonl"):
            part.unlink()
    return ScreenDone(counts=counts, judged=judged, faults=faults, notes=notes)


def _stamp(asked: ScreenAsked, tiles: TileSet) -> str:
    """Changes when a file is written anew: what a process holds open of it from an earlier run is let go then."""
    paths = [Path(one) for one in (asked.parcels, asked.buildings, asked.streets) if one is not None]
    told = [(str(path), path.stat()) for path in (*paths, *(Path(tile.path) for tile in tiles.tiles))]
    text = "\n".join(f"{name} {held.st_mtime_ns} {held.st_size} {held.st_ino}" for name, held in told)
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()


def _unfinished(out: Path) -> Path:
    """Where the answers of a run stand until it is done: beside the folder that is written whole at the end."""
    return out.resolve().with_name(f".{out.resolve().name}.siteplan-answers")


def _part(unfinished: Path, first: int) -> Path:
    return unfinished / f"{first}.jsonl"


@contextlib.contextmanager
def _taken_away(folder: Path) -> Iterator[None]:
    """The folder is gone at the end, unless something stands in it: answers of a run that was stopped."""
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            folder.rmdir()


def _worked(
    tasks: Iterable[StretchTask], workers: int, scheduler: str | None
) -> Iterator[tuple[StretchTask, StretchDone | Died]]:
    if scheduler is not None:
        return by_cluster(screened_stretch, tasks, connected(scheduler))
    return by_processes(screened_stretch, tasks, workers)


def _lost(task: StretchTask, count: int) -> StretchDone:
    """Lots under which the processes died."""
    numbers = range(task.first + 1, task.first + count + 1)
    lots = tuple(LotScreen(number=one, name=str(one), state="cannot-tell", why="fault") for one in numbers)
    return StretchDone(lots=lots, answers=b"", now=0)


def _stored(path: Path, at: int) -> LotScreen:
    with path.open("rb") as part:
        part.seek(at)
        held = json.loads(part.readline())
    for key in ("ring", "own_ring"):
        held[key] = tuple((x, y) for x, y in held[key])
    held["shots"] = tuple(PlaceToShoot(**one) for one in held["shots"])
    return LotScreen(**held)


def _is_screen(folder: Path) -> bool:
    try:
        return bool(json.loads((folder / SCREEN_FILE).read_bytes())["format"] == SCREEN_FORMAT)
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return False


def _notes(asked: ScreenAsked, unit: str) -> tuple[str, ...]:
    """What was assumed, and what a screen is worth."""
    doubt = units.drop_text(asked.accuracy, unit)
    house = "on lots without a building, or with a shed alone, a house is assumed in the middle of the lot"
    return (
        (
            f"A screen, not a plan: it says which lots deserve a visit. Every elevation may be off by {doubt} "
            "(one standard deviation, --accuracy); a lot is said to drain, or to be short, where that is 95 % "
            "sure, and 'cannot tell' in between."
        ),
        f"Sources are the corners of the largest building on a lot; {house}."
        if asked.buildings
        else "No buildings were given: a house is assumed in the middle of each lot.",
        (
            f"Outlets at the street stand at its edge, {units.length_text(asked.half_street, unit, 1)} from the "
            "street lines (--half-street)."
        )
        if asked.streets
        else "No streets were given: gravity to the street was not looked at.",
        (
            "Not known here: walks, driveways, utilities, trees, easements, what pipe already lies there, who "
            "agrees. The default rules hold (siteplan rules); local code decides."
        ),
        "Before digging anywhere, request public locates and wait for them.",
    )
