"""Answers of lots in and out of a file, each by a digest of all that it hangs on.

What stands there need not be worked out again.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from siteplan.screen.asked import SCREEN_STATES, ScreenAsked
from siteplan.screen.judged import Judged
from siteplan.survey.grids import Raster

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

ANSWERS_FILE = "answers.jsonl"


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswersAt:
    """Lines of a file from one byte to another; None: to its end."""

    path: str
    first: int = 0
    end: int | None = None


def answer_key(
    program: str, asked: ScreenAsked, frame: str, shapes: Sequence[BaseGeometry], places: Iterable[Any], raster: Raster
) -> str:
    """Digest of all that a lot's answer hangs on: not of its number or name, nor of what lies elsewhere in a file.

    Parameters
    ----------
    program : str
        Digest of the program.
    asked : ScreenAsked
        Accuracy, half a street and least grade count.
    frame : str
        The frame that the lot is judged in.
    shapes : sequence of geometry
        The lot and the buildings on it, in that frame.
    places : iterable of array_like
        Corners and outlets [m].
    raster : Raster
        The window of the elevation.

    Returns
    -------
    str
        SHA-256, hexadecimal.
    """
    import shapely

    found = hashlib.sha256(f"{program}\n{asked.accuracy!r} {asked.half_street!r} {asked.min_grade!r}\n{frame}".encode())
    parts = [*(shapely.to_wkb(one) for one in shapes), *(np.asarray(one, float).tobytes() for one in places)]
    where = f"{raster.transform} {raster.z.shape} {raster.crs.to_wkt() if raster.crs is not None else ''}"
    for part in (*parts, where.encode(), np.ascontiguousarray(raster.z).tobytes()):
        found.update(f"\n{len(part)} ".encode())
        found.update(part)
    return found.hexdigest()


def answer_line(number: int, key: str, judged: Judged) -> bytes:
    """A line of an answer file.

    Parameters
    ----------
    number : int
        Of the parcel in its file.
    key : str
        From `answer_key`.
    judged : Judged
        The answer.

    Returns
    -------
    bytes
        JSON and a newline, with a digest of the line's own.
    """
    told = {"number": number, "key": key, "answer": asdict(judged)}
    return _written({**told, "sum": _sum(told)})


def answers_in(places: Iterable[AnswersAt]) -> dict[str, Judged]:
    """Answers that files hold, by key.

    Parameters
    ----------
    places : iterable of AnswersAt
        Where to read.

    Returns
    -------
    dict of str to Judged
        A line that is torn or was changed is as if it were not there.
    """
    found: dict[str, Judged] = {}
    for place in places:
        for held in _lines(place):
            answer = _answer(held)
            if answer is not None:
                found[str(held["key"])] = answer
    return found


def answers_by_stretch(path: Path, step: int) -> dict[int, AnswersAt]:
    """Where in a file the answers of each stretch of parcels stand.

    Parameters
    ----------
    path : Path
        Lines in the order of the parcels.
    step : int
        Parcels of a stretch.

    Returns
    -------
    dict of int to AnswersAt
        By the parcels before the stretch; empty where there is no such file.
    """
    found: dict[int, AnswersAt] = {}
    at = 0
    try:
        with path.open("rb") as file:
            for line in file:
                held = _read(line)
                if held is not None and isinstance(held.get("number"), int):
                    first = (held["number"] - 1) // step * step
                    begins = found[first].first if first in found else at
                    found[first] = AnswersAt(path=str(path), first=begins, end=at + len(line))
                at += len(line)
    except OSError:
        return {}
    return found


def _lines(place: AnswersAt) -> Iterator[dict[str, Any]]:
    try:
        with Path(place.path).open("rb") as file:
            file.seek(place.first)
            content = file.read() if place.end is None else file.read(place.end - place.first)
    except OSError:
        return
    for line in content.splitlines():
        held = _read(line)
        if held is not None:
            yield held


def _read(line: bytes) -> dict[str, Any] | None:
    try:
        held = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return held if isinstance(held, dict) else None


def _answer(held: dict[str, Any]) -> Judged | None:
    try:
        if held.pop("sum") != _sum(held) or held["answer"]["state"] not in SCREEN_STATES:
            return None
        told = held["answer"]
        (x, y), end = told["deciding"]
        deciding = ((float(x), float(y)), None if end is None else (float(end[0]), float(end[1])))
        return Judged(**{**told, "deciding": deciding})
    except (KeyError, TypeError, ValueError, IndexError):
        return None


def _sum(told: Mapping[str, Any]) -> str:
    return hashlib.sha256(_written(told)).hexdigest()[:16]


def _written(told: Mapping[str, Any]) -> bytes:
    return json.dumps(told, ensure_ascii=True, allow_nan=False, separators=(",", ":")).encode() + b"\n"
