"""A plan folder's plan.json in; the Plan it states, and the record as it stands, out. Nothing in it is believed here, only read."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from siteplan import units
from siteplan.errors import InputError
from siteplan.field.read_ground import read_ground
from siteplan.values import (
    Candidate,
    Crossing,
    Finding,
    InputFile,
    Line,
    LineDoubt,
    LowSpot,
    Outlet,
    Passage,
    Pipe,
    Plan,
    Row,
    Source,
    Status,
    Vertex,
    WantedShot,
)  # fmt: skip

FILE = "plan.json"
_MOST = 64 * 2**20  # bytes; a lot's plan takes a thousandth of it
_MEND = "Take plan.json from the one who made the plan, or make it again with siteplan plan."


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredPlan:
    """A plan as it stands in its folder.

    Attributes
    ----------
    plan : Plan
        What plan.json states; unknown grounds are NaN.
    record : mapping
        plan.json as parsed.
    folder : Path
        Where it was read.
    """

    plan: Plan
    record: Mapping[str, Any]
    folder: Path


class _Reader:
    """One record of plan.json, which knows where it stands."""

    __slots__ = ("_data", "_where")

    def __init__(self, data: object, where: str) -> None:
        if not isinstance(data, Mapping):
            raise InputError(f"{FILE}, {where}", "is no record", _MEND)
        self._data = data
        self._where = where

    @property
    def where(self) -> str:
        return self._where

    def fault(self, key: str, what: str) -> InputError:
        return InputError(f"{FILE}, {self._where}, {key}" if self._where else f"{FILE}, {key}", what, _MEND)

    def text(self, key: str) -> str:
        value = self._data.get(key)
        if not isinstance(value, str):
            raise self.fault(key, "is missing" if value is None else "is no text")
        return value

    def text_or(self, key: str, other: str = "") -> str:
        return self.text(key) if self._data.get(key) is not None else other

    def number(self, key: str) -> float:
        value = self._data.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e12:
            raise self.fault(key, "is missing" if value is None else "is no number that a plan can hold")
        return float(value)

    def maybe(self, key: str) -> float | None:
        return None if self._data.get(key) is None else self.number(key)

    def known(self, key: str) -> float:
        value = self.maybe(key)
        return math.nan if value is None else value

    def yes(self, key: str, *, other: bool) -> bool:
        value = self._data.get(key, other)
        if not isinstance(value, bool):
            raise self.fault(key, "is neither true nor false")
        return value

    def records(self, key: str) -> list[_Reader]:
        value = self._data.get(key)
        if not isinstance(value, list):
            raise self.fault(key, "is missing" if value is None else "is no list")
        return [_Reader(item, f"{self._where} {key} {number}".strip()) for number, item in enumerate(value, 1)]

    def texts(self, key: str) -> tuple[str, ...]:
        value = self._data.get(key)
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise self.fault(key, "is no list of texts")
        return tuple(value)

    def inside(self, key: str) -> _Reader:
        return _Reader(self._data.get(key), f"{self._where} {key}".strip())

    def get(self, key: str) -> Any:
        return self._data.get(key)


def read_plan(folder: Path) -> StoredPlan:
    """The plan that a folder states.

    Parameters
    ----------
    folder : Path
        A plan folder, or the plan.json itself.

    Returns
    -------
    StoredPlan
        SI, as plan.json carries it.

    Raises
    ------
    InputError
        If there is no such file, it is no plan of ours, or a part cannot be read: which part.
    """
    path = folder / FILE if folder.is_dir() else folder
    if not path.is_file():
        raise InputError(folder.name or str(folder), f"holds no {FILE}", "Name a folder that siteplan plan wrote.")
    if path.stat().st_size > _MOST:
        raise InputError(FILE, f"is larger than {_MOST // 2**20} MB", _MEND)
    try:
        record = json.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        raise InputError(FILE, "is no JSON that can be read", _MEND) from error
    if not isinstance(record, dict) or record.get("format") != "siteplan-plan":
        raise InputError(FILE, 'is no plan of ours (its format is not "siteplan-plan")', _MEND)
    if record.get("version") != 1:
        raise InputError(
            FILE, f"has version {record.get('version')!r}; this program reads 1", "Use the program that wrote it."
        )
    return StoredPlan(plan=_plan(_Reader(record, "")), record=record, folder=path.parent)


def _plan(top: _Reader) -> Plan:
    site = top.inside("site")
    length_unit = site.text_or("length_unit", "m")
    elevation_unit = site.text_or("elevation_unit", "m")
    for key, unit in (("length_unit", length_unit), ("elevation_unit", elevation_unit)):
        if unit not in units.SITE_UNITS:
            raise site.fault(key, "is no unit known here")
    return Plan(
        site_name=site.text("name"),
        crs=site.text("crs"),
        length_unit=length_unit,
        elevation_unit=elevation_unit,
        accuracy=site.known("accuracy"),
        stamp=site.text("stamp") if site.get("stamp") is not None else None,
        inputs=tuple(InputFile(file=one.text("file"), sha256=one.text("sha256")) for one in site.records("inputs")),
        sources=tuple(_source(one) for one in top.records("sources")),
        outlets=tuple(_outlet(one) for one in top.records("outlets")),
        lines=tuple(_line(one) for one in top.records("lines")),
        low_spots=tuple(_low_spot(one) for one in top.records("low_spots")),
        candidates=tuple(_candidate(one) for one in top.records("candidates")),
        findings=tuple(_finding(one) for one in top.records("checks")),
        assumptions=top.texts("assumptions"),
        cautions=top.texts("cautions"),
        reach_note=top.texts("reach_note") if top.get("reach_note") is not None else (),
        survey_crs=site.text_or("survey_crs"),
        survey_unit=site.text_or("survey_unit"),
    )


def _flow(one: _Reader, key: str) -> float | None:
    value = one.maybe(key)
    return None if value is None else value * units.LITRE


def _source(one: _Reader) -> Source:
    return Source(
        id=one.text("id"), kind=one.text("kind"), name=one.text("name"), x=one.number("x"), y=one.number("y"),
        ground=one.known("ground"), ground_known=one.yes("ground_known", other=True), invert_limit=one.maybe("invert_limit"),
        roof_area=one.maybe("roof_area"), pump_rate=_flow(one, "pump_rate_lps"), flow=_flow(one, "flow_lps"), note=one.text_or("note"),
    )  # fmt: skip


def _outlet(one: _Reader) -> Outlet:
    return Outlet(
        id=one.text("id"), kind=one.text("kind"), name=one.text("name"), x=one.number("x"), y=one.number("y"),
        ground=one.known("ground"), control=one.number("control"), basis=one.text_or("basis"), invert=one.maybe("invert"),
        found=one.yes("found", other=False), note=one.text_or("note"),
    )  # fmt: skip


def _pipe(one: _Reader) -> Pipe:
    from siteplan.books.pipes import catalogue

    kind, nominal = one.text("kind"), one.text("nominal")
    own = next((pipe for pipe in catalogue() if (pipe.kind, pipe.nominal) == (kind, nominal)), None)
    od, bore = one.number("od_m"), one.number("id_m")
    return Pipe(
        kind=kind, title=one.text_or("title", kind), nominal=nominal, od=od, bore=bore, wall=one.maybe("wall_m") or (od - bore) / 2,
        roughness=own.roughness if own else math.nan, source=one.text_or("source"),
    )  # fmt: skip


def _line(one: _Reader) -> Line:
    vertices = tuple(_vertex(item) for item in one.records("vertices"))
    if len(vertices) < 2:
        raise one.fault("vertices", "are fewer than two")
    return Line(
        id=one.text("id"), sources=one.texts("sources"), start=one.text("from"), end=one.text("to"), pipe=_pipe(one.inside("pipe")),
        vertices=vertices, rows=tuple(_row(item) for item in one.records("stations")),
        crossings=tuple(_crossing(item) for item in one.records("crossings")),
        low_spots=tuple(
            Passage(id=item.text("id"), station_from=item.number("station_from"), station_to=item.number("station_to"))
            for item in one.records("low_spots")
        ),
        spare=one.known("spare"), binding=one.text_or("binding"), cost=one.known("cost"), doubt=_doubt(one), **read_ground(one),
    )  # fmt: skip


def _doubt(one: _Reader) -> LineDoubt | None:
    if one.get("doubt") is None:
        return None
    told = one.inside("doubt")
    return LineDoubt(
        spare=told.known("spare"), fall=told.known("fall"), ends=told.known("ends"), grade=told.known("grade_percent") / 100,
        chance_min_grade=told.number("chance_min_grade"), chance_falls=told.number("chance_falls"), method=told.text_or("method"),
        shots_wanted=tuple(
            WantedShot(x=shot.number("x"), y=shot.number("y"), place=shot.text_or("place"), chance_min_grade=shot.number("chance_min_grade"), fall=shot.known("fall"))
            for shot in (told.records("shots_wanted") if told.get("shots_wanted") is not None else ())
        ),
    )  # fmt: skip


def _vertex(one: _Reader) -> Vertex:
    return Vertex(
        x=one.number("x"), y=one.number("y"), station=one.number("station"), invert=one.number("invert"),
        ground=one.known("ground"), bend=one.maybe("bend_deg") or 0.0, fitting=one.text_or("fitting"),
    )  # fmt: skip


def _row(one: _Reader) -> Row:
    return Row(
        station=one.number("station"), x=one.number("x"), y=one.number("y"), ground=one.known("ground"), invert=one.number("invert"),
        cut=one.known("cut"), cover=one.known("cover"), grade=one.known("grade_percent") / 100, note=one.text_or("note"),
    )  # fmt: skip


def _crossing(one: _Reader) -> Crossing:
    return Crossing(
        kind=one.text("kind"), name=one.text("name"), station_from=one.number("station_from"), station_to=one.number("station_to"),
        angle=one.known("angle_deg"), cover_from=one.known("cover_from"), cover_to=one.known("cover_to"), cover_min=one.known("cover_min"),
        sleeve=one.text("sleeve") if one.get("sleeve") is not None else None,
    )  # fmt: skip


def _rings(one: _Reader) -> tuple[tuple[tuple[float, float], ...], ...]:
    try:
        return tuple(tuple((float(x), float(y)) for x, y in ring) for ring in one.get("polygon"))
    except (TypeError, ValueError) as error:
        raise one.fault("polygon", "is no list of rings") from error


def _low_spot(one: _Reader) -> LowSpot:
    spill = one.get("spill")
    try:
        where = None if spill is None else (float(spill[0]), float(spill[1]))
    except (TypeError, ValueError, LookupError) as error:
        raise one.fault("spill", "is no place") from error
    return LowSpot(
        id=one.text("id"), kind=one.text_or("kind", "hollow"), depth=one.known("depth"), area=one.known("area"), volume=one.known("volume"),
        spill_elevation=one.maybe("spill_elevation"), spill=where, catchment=one.maybe("catchment"), certain=one.yes("certain", other=True),
        rings=_rings(one),
    )  # fmt: skip


def _candidate(one: _Reader) -> Candidate:
    return Candidate(
        sources=(one.text("source"),) if one.get("source") is not None else one.texts("group"), outlet=one.text("outlet"),
        feasible=one.yes("feasible", other=False), fall_available=one.maybe("fall_available"), fall_needed=one.maybe("fall_needed"),
        margin=one.maybe("margin"), length=one.maybe("length"), cost=one.maybe("cost"), chosen=one.yes("chosen", other=False),
        reason=one.text("reason") if one.get("reason") is not None else None,
        flip=one.text("flip") if one.get("flip") is not None else None,
    )  # fmt: skip


def _finding(one: _Reader) -> Finding:
    stored = one.text("status")
    if stored not in {"pass", "flag", "fail"}:
        raise one.fault("status", f"is {stored!r}, not pass, flag or fail")
    status: Status = "fail" if stored == "fail" else "flag" if stored == "flag" else "pass"
    return Finding(
        rule=one.text("rule"), subject=one.text("subject"), value=one.maybe("value"), limit=one.maybe("limit"), unit=one.text_or("unit"),
        doubt=one.maybe("doubt"), status=status, where=one.text_or("where"), message=one.text_or("message"),
    )  # fmt: skip
