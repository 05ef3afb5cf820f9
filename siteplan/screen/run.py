"""Layers of a county and a folder in; every parcel screened, and the files written, out."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from siteplan import units
from siteplan.pool.cluster import by_cluster, connected
from siteplan.pool.pace import Pace
from siteplan.pool.processes import Died, by_processes
from siteplan.screen.asked import LotScreen, PlaceToShoot, ScreenAsked, ScreenState
from siteplan.screen.coarse import screen_rules
from siteplan.screen.layers import check_shapes, layer_head
from siteplan.screen.stretch import LEAST_SHAPE, StretchTask, county_frame, screened_stretch
from siteplan.screen.summary import SCREEN_FILE, SCREEN_FORMAT, SCREEN_NAMES, screen_files, screen_rank
from siteplan.screen.tiles import tile_set
from siteplan.sheets.writing import check_folder, write_folder
from siteplan.survey.frame import axis_unit

_STRETCH = 100  # parcels given to a process at once


@dataclass(frozen=True, slots=True, kw_only=True)
class ScreenDone:
    """What a screen found. `faults` are lots that a fault of ours left without an answer."""

    counts: dict[ScreenState, int]
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
    check_folder(out, names=SCREEN_NAMES, ours=_is_screen, kind="screen", mark=SCREEN_FILE)
    screen_rules(asked.min_grade)
    head, tiles = layer_head(asked.parcels, "--parcels"), tile_set(Path(asked.elevation), asked.elevation_unit)
    for path, option in ((asked.buildings, "--buildings"), (asked.streets, "--streets")):
        if path is not None:
            check_shapes(layer_head(path, option), LEAST_SHAPE[option])
    county_frame(asked.parcels)
    unit = axis_unit(head.crs) or "m"
    notes = (*_notes(asked, unit), *tiles.notes)
    tasks = (StretchTask(asked=asked, first=first, count=_STRETCH) for first in range(0, head.count, _STRETCH))
    pace, counts, faults, left_out = Pace(head.count, "lots"), dict[ScreenState, int](), 0, 0
    ranks: list[tuple[tuple[float, ...], int, int]] = []
    with tempfile.TemporaryDirectory(prefix="siteplan-screen-") as folder:
        for task, given in _worked(tasks, workers, scheduler):
            lots = (
                [_lost(task, k, head.count) for k in range(min(_STRETCH, head.count - task.first))]
                if isinstance(given, Died)
                else given
            )
            left_out += min(_STRETCH, head.count - task.first) - len(lots)
            with (Path(folder) / f"{task.first}.jsonl").open("wb") as part:
                for one in lots:
                    ranks.append((screen_rank(one), task.first, part.tell()))
                    part.write(json.dumps(asdict(one)).encode() + b"\n")
                    counts[one.state] = counts.get(one.state, 0) + 1
                    faults += one.why == "fault"
                    pace.step(f", {counts['short']} short" if counts.get("short") else "")
        ranks.sort()
        if left_out:
            are = "feature of the parcels is no lot" if left_out == 1 else "features of the parcels are no lots"
            notes = (*notes, f"{left_out} {are} and left out: points, lines, or of another kind.")

        def every() -> Iterator[LotScreen]:
            for _, first, at in ranks:
                yield _stored(Path(folder) / f"{first}.jsonl", at)

        code = head.crs.to_authority(min_confidence=100)
        files = screen_files(every, asked, ":".join(code) if code else head.crs.to_wkt(), unit, notes, stamp, left_out)
    pace.end()
    write_folder(out, files, names=SCREEN_NAMES, ours=_is_screen, kind="screen", mark=SCREEN_FILE)
    return ScreenDone(counts=counts, faults=faults, notes=notes)


def _worked(
    tasks: Iterable[StretchTask], workers: int, scheduler: str | None
) -> Iterator[tuple[StretchTask, list[LotScreen] | Died]]:
    if scheduler is not None:
        return by_cluster(screened_stretch, tasks, connected(scheduler))
    return by_processes(screened_stretch, tasks, workers)


def _lost(task: StretchTask, place: int, count: int) -> LotScreen:
    number = min(task.first + place + 1, count)
    return LotScreen(number=number, name=str(number), state="cannot-tell", why="fault")


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
        f"A screen, not a plan: it says which lots deserve a visit. Every elevation may be off by {doubt} (one standard deviation, --accuracy); a lot is said to drain, or to be short, where that is 95 % sure, and 'cannot tell' in between.",
        f"Sources are the corners of the largest building on a lot; {house}."
        if asked.buildings
        else "No buildings were given: a house is assumed in the middle of each lot.",
        f"Outlets at the street stand at its edge, {units.length_text(asked.half_street, unit, 1)} from the street lines (--half-street)."
        if asked.streets
        else "No streets were given: gravity to the street was not looked at.",
        "Not known here: walks, driveways, utilities, trees, easements, what pipe already lies there, who agrees. The default rules hold (siteplan rules); local code decides.",
        "Before digging anywhere, request public locates and wait for them.",
    )
