"""A stored plan in; whether its own figures follow from one another out. Needs no site: pencil arithmetic alone."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np

from siteplan import units
from siteplan.review.reviewed import Reviewed, finding
from siteplan.stored.folder_of import StoredPlan
from siteplan.values.lines import Line

_LENGTH = 2e-4  # m: what writing to a micrometre, and drawing a corner, may leave
_GRADE = 2e-4  # ratio
_PIPE = 2e-3  # m: each kind of pipe is rounded to a millimetre
_VOLUME = 2e-3  # m3, and share of what is dug
_SHORT = 0.05  # m: over less than this a grade follows from nothing


def arithmetic(stored: StoredPlan) -> Iterator[Reviewed]:
    """Inverts, lengths, slopes, covers and cuts against one another.

    Parameters
    ----------
    stored : StoredPlan
        The plan as it stands.

    Yields
    ------
    Reviewed
        Each figure that does not follow; one pass a line that holds.
    """
    plan = stored.plan
    ids = [line.id for line in plan.every_line]
    lengths = {str(one.get("id")): one.get("length") for one in stored.record.get("lines", [])}
    for line in plan.every_line:
        wrong = [*_line(line, plan.length_unit)]
        length = lengths.get(line.id)
        if isinstance(length, int | float) and abs(length - line.length) > _LENGTH:
            wrong.append(
                ("the whole line", f"length {length:.3f} m, and its last vertex stands at {line.length:.3f} m")
            )
        if ids.count(line.id) > 1:
            wrong.append(("", "another line has the same id"))
        joined = next((other for other in plan.every_line if other.id == line.end), None)
        if joined is not None:
            wrong += _joins(line, joined, plan.length_unit)
        elif line.end not in {outlet.id for outlet in plan.outlets}:
            wrong.append(("its outlet", f"ends at {line.end}, which the plan does not have"))
        for where, message in wrong:
            yield finding("arithmetic", line.id, "fail", message, where)
        if not wrong:
            yield finding(
                "arithmetic",
                line.id,
                "pass",
                (
                    f"inverts, lengths and slopes of {len(line.rows)} stations follow from its "
                    f"{len(line.vertices)} vertices"
                ),
            )
    yield from _amounts(stored)


def _amounts(stored: StoredPlan) -> Iterator[Reviewed]:
    """Pipe and digging against coordinates, inverts and the schedule's depths.

    Each by another way than they were counted.
    """
    plan = stored.plan
    told = {(one.what, one.kind): one.amount for one in plan.quantities}
    if not plan.every_line or not told:
        return
    pipe = sum(amount for (what, _), amount in told.items() if what == "pipe")
    laid = sum(
        math.dist((a.x, a.y, a.invert), (b.x, b.y, b.invert))
        for line in plan.every_line
        for a, b in itertools.pairwise(line.vertices)
    )
    laid += sum(
        max(0.0, one.vertices[-1].invert - one.pumped.off_level) for one in plan.pressed if one.pumped is not None
    )
    for line in plan.every_line:
        if line.curb_piece is not None:
            laid += (line.curb_piece.number - 1) * line.curb_piece.station_to
    wrong = []
    if abs(pipe - laid) > _PIPE * sum(what == "pipe" for what, _ in told):
        wrong.append(f"{pipe:.3f} m of pipe are listed, the lines' coordinates and inverts give {laid:.3f} m")
    width = next((one.get("limit") for one in stored.record.get("rules", []) if one.get("id") == "trench-width"), None)
    dug, back, over = (told.get((what, ""), 0.0) for what in ("excavation", "backfill", "spoil"))
    if isinstance(width, int | float):
        least = width * sum(_side_of_trench(line) for line in plan.every_line)
        soft = any(reach.bedding.over_dug for line in plan.every_line for reach in line.reaches)
        if dug < least - _VOLUME * (1 + least) or (not soft and dug > least + _VOLUME * (1 + least)):
            wrong.append(f"{dug:.3f} m3 are dug, the schedule's depths give {least:.3f} m3")
    if abs(dug - back - over) > 2 * _VOLUME:
        wrong.append(f"{dug:.3f} m3 are dug, {back:.3f} m3 go back and {over:.3f} m3 are left over")
    for message in wrong:
        yield finding("arithmetic", "quantities", "fail", message)
    if not wrong:
        yield finding(
            "arithmetic", "quantities", "pass", "pipe and digging follow from coordinates, inverts and depths"
        )


def _side_of_trench(line: Line) -> float:
    """Area between ground and trench bottom along a line [m2], by the polygon's corners.

    Stretches of unknown ground are left out.
    """
    total = 0.0
    for known, rows in itertools.groupby(
        line.rows, key=lambda row: math.isfinite(row.cut) and math.isfinite(row.ground)
    ):
        part = list(rows) if known else []
        ring = [(row.station, row.ground) for row in part] + [
            (row.station, row.ground - row.cut) for row in reversed(part)
        ]
        total += abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:] + ring[:1], strict=True))) / 2
    return total


def _line(line: Line, unit: str) -> Iterator[tuple[str, str]]:
    def at(station: float) -> str:
        return f"station {units.station_text(max(station, 0.0), unit)}"

    run = 0.0
    if abs(line.vertices[0].station) > _LENGTH:
        yield at(line.vertices[0].station), "stations do not begin at 0"
    for a, b in itertools.pairwise(line.vertices):
        run += math.dist((a.x, a.y), (b.x, b.y))
        if abs(run - b.station) > _LENGTH * 2:
            yield at(b.station), f"station {b.station:.3f} m of a vertex, its coordinates give {run:.3f} m"
            run = b.station  # say it once, where it begins
        if line.pumped is None and b.invert < a.invert - _LENGTH:
            yield at(b.station), f"the invert falls {a.invert - b.invert:.3f} m going upstream"
    s = np.array([vertex.station for vertex in line.vertices])
    z = np.array([vertex.invert for vertex in line.vertices])
    if not (np.diff(s) >= 0).all():
        yield "the whole line", "stations of its vertices do not rise"
        return
    yield from _rows(line, s, z, at)


def _rows(line: Line, s, z, at) -> Iterator[tuple[str, str]]:  # type: ignore[no-untyped-def]  # noqa: ANN001
    if not line.rows:
        yield "the whole line", "no stations in its schedule"
        return
    under = {}
    before = -math.inf
    for row in line.rows:
        if row.station < before - _LENGTH:
            yield at(row.station), "stations of the schedule do not rise"
        before = row.station
        here = [float(z[i]) for i in range(len(s)) if abs(s[i] - row.station) <= _LENGTH] or [
            float(np.interp(row.station, s, z))
        ]
        if not min(here) - _LENGTH <= row.invert <= max(here) + _LENGTH:
            yield at(row.station), f"invert {row.invert:.3f} m in the schedule, the vertices give {here[0]:.3f} m"
        if math.isfinite(row.ground):
            cover = row.ground - row.invert - line.pipe_at(row.station).rise
            other = row.ground - row.invert - line.pipe.rise
            if not min(abs(row.cover - cover), abs(row.cover - other)) <= 0.02:
                yield at(row.station), f"cover {row.cover:.3f} m, ground minus top of pipe is {cover:.3f} m"
            under[row.station] = row.cut - (row.ground - row.invert)
        i = int(np.searchsorted(s, row.station - _LENGTH, side="left"))
        if 0 < i < len(s) and row.station > _LENGTH and s[i] - s[i - 1] > _SHORT:
            grade = float((z[i] - z[i - 1]) / (s[i] - s[i - 1]))
            if abs(row.grade - grade) > _GRADE:
                yield at(row.station), f"grade {row.grade * 100:.2f} %, the inverts give {grade * 100:.2f} %"
    usual = float(np.median(list(under.values()))) if under else math.nan
    for station, own in under.items():
        if not abs(own - usual) <= 0.02 or not own > 0:  # pipes of two walls meet in one line
            yield at(station), f"trench bottom {own:.3f} m below the invert, elsewhere {usual:.3f} m"


def _joins(line: Line, other: Line, unit: str) -> list[tuple[str, str]]:
    end = line.vertices[0]
    near = min(other.vertices, key=lambda vertex: math.dist((vertex.x, vertex.y), (end.x, end.y)))
    away = math.dist((near.x, near.y), (end.x, end.y))
    where = f"station {units.station_text(0.0, unit)}"
    if away > 0.01:
        return [(where, f"ends {away:.3f} m from the nearest vertex of {other.id}")]
    if end.invert < near.invert - _LENGTH:
        return [(where, f"joins {other.id} {near.invert - end.invert:.3f} m below its invert")]
    return []
