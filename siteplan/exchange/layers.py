"""A stored plan in; its things as layers out.

Places in the survey's own system, figures in the site's units with the unit in each name.

Every format that carries shapes is made from these layers, so that they all say the same.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from siteplan import units
from siteplan.books.fittings import fitting_words
from siteplan.books.kinds import Kind, PlannedKind
from siteplan.sheets.coordinates import survey_places
from siteplan.sheets.states import line_state
from siteplan.values.drawn_shapes import PlanFeature
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line, Row
from siteplan.values.whole_plan import Plan

Place = tuple[float, float, float]  # east, north [the survey's unit], height [the survey's unit of heights]
Shape = Literal["POINT", "LINESTRING", "POLYGON", ""]
Value = float | int | str | bool | None
_MARK = {"ft": "ft", "us-ft": "us_ft", "m": "m"}
_SEEN = 1e-9  # m: stations nearer than this are one


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLayer:
    """Things of one sort.

    Attributes
    ----------
    name : str
        A plain word of the trade: `pipes`, `fittings`.
    title : str
        What it holds, for people.
    shape : str
        POINT, LINESTRING, POLYGON, or '' for a table without places.
    columns : mapping of str to type
        Names of values, those of quantities with their unit.
    rows : tuple of (rings, values)
        Rings are runs of places; a point is a run of one.
    """

    name: str
    title: str
    shape: Shape
    columns: Mapping[str, type]
    rows: tuple[tuple[tuple[tuple[Place, ...], ...], Mapping[str, Value]], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outward:
    """How figures of a plan leave it: the marks of its units, and how places and heights are moved."""

    plan: Plan

    @property
    def short(self) -> str:
        """Mark of lengths in a column's name."""
        return _MARK[self.plan.length_unit]

    @property
    def level(self) -> str:
        """Mark of heights in a column's name."""
        return _MARK[self.plan.elevation_unit]

    def length(self, value: float | None) -> float | None:
        """A length in the site's unit, to a tenth of what a rod reads."""
        return None if value is None else round(value / units.LENGTH[self.plan.length_unit], 4)

    def height(self, value: float | None) -> float | None:
        """A height in the site's unit of heights; None where it is not known."""
        if value is None or not math.isfinite(value):
            return None
        return round(value / units.LENGTH[self.plan.elevation_unit], 4)

    def small(self, value: float) -> float:
        """A size of pipe: inches or millimetres."""
        return round(value / (units.MILLIMETRE if self.plan.length_unit == "m" else units.INCH), 3)

    def run(self, places: Sequence[tuple[float, float, float]]) -> tuple[Place, ...]:
        """Places in the plan's frame, each with its height [m], moved; a height that is not known is 0."""
        east, north = survey_places(self.plan, [x for x, _, _ in places], [y for _, y, _ in places])
        return tuple(
            (float(x), float(y), self.height(z) or 0.0) for x, y, (_, _, z) in zip(east, north, places, strict=True)
        )


def plan_layers(plan: Plan) -> tuple[PlanLayer, ...]:
    """Everything of a plan that has a place, and its checks and quantities.

    Parameters
    ----------
    plan : Plan
        As stored.

    Returns
    -------
    tuple of PlanLayer
        In the order in which they are drawn, the ground's things first. A layer without rows is left out.
    """
    out = Outward(plan=plan)
    made = (
        *_site(out),
        _low_ground(out),
        _drains(out),
        _pipes(out),
        _crossings(out),
        _stations(out),
        _fittings(out),
        _sources(out),
        _outlets(out),
        _checks(plan),
        _quantities(plan),
    )
    return tuple(layer for layer in made if layer.rows)


def _site(out: Outward) -> Iterator[PlanLayer]:
    columns = {"kind": str, "what": str, "name": str, "attributes_si": str}
    shapes: tuple[tuple[Shape, str, str, str], ...] = (
        ("POLYGON", "Polygon", "site_areas", "Lot, buildings, paving and other areas as surveyed"),
        ("LINESTRING", "LineString", "site_lines", "Curbs, utilities, fences, walls as surveyed"),
        ("POINT", "Point", "site_points", "Trees, benchmarks and other points as surveyed"),
    )
    ends = {source.kind for source in out.plan.sources} | {outlet.kind for outlet in out.plan.outlets}
    for shape, word, name, title in shapes:
        rows = tuple(
            (tuple(out.run([(x, y, 0.0) for x, y in ring]) for ring in one.rings), _surveyed(one))
            for one in out.plan.features
            if one.shape == word and one.kind not in ends and one.kind != Kind.DRAIN
        )
        yield PlanLayer(name=name, title=title, shape=shape, columns=columns, rows=rows)


def _surveyed(one: PlanFeature) -> Mapping[str, Value]:
    told = json.dumps(dict(one.told), ensure_ascii=False, sort_keys=True)
    return {"kind": PlannedKind.SITE.value, "what": one.kind, "name": one.name, "attributes_si": told}


def _low_ground(out: Outward) -> PlanLayer:
    deep, level = f"depth_{out.short}", f"spills_at_{out.level}"
    rows = tuple(
        (
            tuple(out.run([(x, y, spot.spill_elevation or 0.0) for x, y in (*ring, ring[0])]) for ring in spot.rings),
            {
                "kind": PlannedKind.LOW_GROUND.value,
                "id": spot.id,
                "what": spot.kind,
                deep: out.length(spot.depth),
                level: out.height(spot.spill_elevation),
                "deeper_than_the_survey_doubts": spot.certain,
            },
        )
        for spot in out.plan.low_spots
        if spot.rings
    )
    columns = {"kind": str, "id": str, "what": str, deep: float, level: float, "deeper_than_the_survey_doubts": bool}
    return PlanLayer(name="low_ground", title="Wet or hollow ground", shape="POLYGON", columns=columns, rows=rows)


def _drains(out: Outward) -> PlanLayer:
    """Lines as they can be read back: upstream to downstream, an invert at each corner."""
    plan = out.plan
    named = {source.id: source.name or source.id for source in plan.sources}
    named.update({outlet.id: outlet.name or outlet.id for outlet in plan.outlets})
    columns = {"kind": str, "name": str, "from": str, "to": str, "pipe": str, "mode": str, "inverts": str}
    rows = []
    for line in plan.lines:
        down = list(reversed(line.vertices))
        values: dict[str, Value] = {
            "kind": Kind.DRAIN.value,
            "name": line.id,
            "from": named.get(line.start, line.start),
            "to": named.get(line.end, line.end),
            "pipe": line.pipe.kind,
            "mode": "fixed",
            "inverts": json.dumps([out.height(vertex.invert) for vertex in down]),
        }
        rows.append(((out.run([(v.x, v.y, v.invert) for v in down]),), values))
    return PlanLayer(
        name="drains",
        title="Each line from its source down, to be read back as one's own",
        shape="LINESTRING",
        columns=columns,
        rows=tuple(rows),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeRun:
    """A stretch of line with one grade, one direction and one pipe; downstream end first [m]."""

    line: Line
    number: int
    pipe: Pipe
    station_from: float
    station_to: float
    low: Place
    high: Place

    @property
    def grade(self) -> float:
        """Rise over length in plan [-]."""
        return (self.high[2] - self.low[2]) / (self.station_to - self.station_from)


def pipe_runs(line: Line) -> tuple[PipeRun, ...]:
    """A line cut where it bends, changes grade or changes pipe.

    Parameters
    ----------
    line : Line
        As stored.

    Returns
    -------
    tuple of PipeRun
        By station, outlet first.
    """
    marks = {vertex.station for vertex in line.vertices}
    for reach in line.reaches:
        for mark in (reach.station_from, reach.station_to):
            if 0 < mark < line.length and all(abs(mark - one) > _SEEN for one in marks):
                marks.add(mark)
    cuts = sorted(marks)
    return tuple(
        PipeRun(
            line=line,
            number=k,
            pipe=line.pipe_at((a + b) / 2),
            station_from=a,
            station_to=b,
            low=line.at(a),
            high=line.at(b),
        )
        for k, (a, b) in enumerate(pairwise(cuts), start=1)
    )


def _pipes(out: Outward) -> PlanLayer:
    short, level, inside = out.short, out.level, "inside_mm" if out.plan.length_unit == "m" else "inside_in"
    columns = {
        "kind": str,
        "line": str,
        "run": int,
        "flow": str,
        "state": str,
        f"station_from_{short}": float,
        f"station_to_{short}": float,
        f"length_{short}": float,
        "grade_percent": float,
        f"invert_down_{level}": float,
        f"invert_up_{level}": float,
        "pipe": str,
        "pipe_kind": str,
        "nominal": str,
        inside: float,
    }
    rows = []
    for line in out.plan.every_line:
        pressed = line.pumped is not None
        for run in pipe_runs(line):
            values: dict[str, Value] = {
                "kind": PlannedKind.PIPE.value,
                "line": line.id,
                "run": run.number,
                "flow": "pressure" if pressed else "gravity",
                "state": "" if pressed else line_state(out.plan, line).text,
                f"station_from_{short}": out.length(run.station_from),
                f"station_to_{short}": out.length(run.station_to),
                f"length_{short}": out.length(run.station_to - run.station_from),
                "grade_percent": round(100 * run.grade, 4),
                f"invert_down_{level}": out.height(run.low[2]),
                f"invert_up_{level}": out.height(run.high[2]),
                "pipe": run.pipe.title,
                "pipe_kind": run.pipe.kind,
                "nominal": run.pipe.nominal,
                inside: out.small(run.pipe.bore),
            }
            rows.append(((out.run([run.low, run.high]),), values))
    return PlanLayer(
        name="pipes",
        title="Pipe by runs of one grade and kind, at the invert, downstream end first",
        shape="LINESTRING",
        columns=columns,
        rows=tuple(rows),
    )


def _crossings(out: Outward) -> PlanLayer:
    short = out.short
    columns = {
        "kind": str,
        "line": str,
        "what": str,
        "name": str,
        f"station_from_{short}": float,
        f"station_to_{short}": float,
        "angle_degrees": float,
        f"cover_least_{short}": float,
        f"top_below_ground_{short}": float,
        f"hand_dig_{short}": float,
        "service": str,
        "sleeve": str,
    }
    rows = []
    for line in out.plan.every_line:
        for one in line.crossings:
            low, high = line.at(one.station_from), line.at(max(one.station_to, one.station_from + 0.01))
            values: dict[str, Value] = {
                "kind": PlannedKind.CROSSING.value,
                "line": line.id,
                "what": one.kind,
                "name": one.name,
                f"station_from_{short}": out.length(one.station_from),
                f"station_to_{short}": out.length(one.station_to),
                "angle_degrees": round(one.angle, 1),
                f"cover_least_{short}": out.length(one.cover_min),
                f"top_below_ground_{short}": out.length(one.depth),
                f"hand_dig_{short}": out.length(one.hand_dig),
                "service": one.service,
                "sleeve": one.sleeve or "",
            }
            rows.append(((out.run([low, high]),), values))
    return PlanLayer(
        name="crossings",
        title="Stretches under paving and across utilities",
        shape="LINESTRING",
        columns=columns,
        rows=tuple(rows),
    )


def _stations(out: Outward) -> PlanLayer:
    short, level = out.short, out.level
    columns = {
        "kind": str,
        "line": str,
        "station": str,
        f"station_{short}": float,
        f"ground_{level}": float,
        f"invert_{level}": float,
        f"cut_{short}": float,
        f"cover_{short}": float,
        "grade_percent": float,
        "note": str,
    }
    rows = []
    for line in out.plan.every_line:
        for row in line.rows:
            values: dict[str, Value] = {
                "kind": PlannedKind.STATION.value,
                "line": line.id,
                "station": units.station_text(row.station, out.plan.length_unit),
                f"station_{short}": out.length(row.station),
                f"ground_{level}": out.height(row.ground),
                f"invert_{level}": out.height(row.invert),
                f"cut_{short}": _known(out.length(row.cut)),
                f"cover_{short}": _known(out.length(row.cover)),
                "grade_percent": round(100 * row.grade, 4),
                "note": row.note,
            }
            rows.append(((out.run([_at(row)]),), values))
    return PlanLayer(
        name="stations",
        title="Rows of the trench schedule, at the invert",
        shape="POINT",
        columns=columns,
        rows=tuple(rows),
    )


def _at(row: Row) -> Place:
    return row.x, row.y, row.invert


def _known(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else value


def _fittings(out: Outward) -> PlanLayer:
    short, level = out.short, out.level
    columns = {
        "kind": str,
        "line": str,
        "what": str,
        "words": str,
        "angle_degrees": float,
        f"station_{short}": float,
        f"invert_{level}": float,
        f"ground_{level}": float,
    }
    rows = []
    for line in out.plan.every_line:
        for vertex in line.vertices:
            for fitting in vertex.fittings:
                values: dict[str, Value] = {
                    "kind": PlannedKind.FITTING.value,
                    "line": line.id,
                    "what": fitting.kind.value,
                    "words": fitting_words((fitting,)),
                    "angle_degrees": fitting.angle,
                    f"station_{short}": out.length(vertex.station),
                    f"invert_{level}": out.height(vertex.invert),
                    f"ground_{level}": out.height(vertex.ground),
                }
                rows.append(((out.run([(vertex.x, vertex.y, vertex.invert)]),), values))
    return PlanLayer(
        name="fittings",
        title="Bends, wyes, cleanouts and breaks of grade, at the invert",
        shape="POINT",
        columns=columns,
        rows=tuple(rows),
    )


def _sources(out: Outward) -> PlanLayer:
    level, flow = out.level, "flow_lps" if out.plan.length_unit == "m" else "flow_gpm"
    scale = units.FLOW[flow.removeprefix("flow_")]
    rows = []
    for one in out.plan.sources:
        brings = out.plan.inflows.of(one.id)
        values: dict[str, Value] = {
            "kind": PlannedKind.SITE.value,
            "id": one.id,
            "what": one.kind,
            "name": one.name,
            f"ground_{level}": out.height(one.ground),
            flow: None if brings is None else round(brings / scale, 4),
        }
        rows.append(((out.run([(one.x, one.y, one.ground)]),), values))
    columns = {"kind": str, "id": str, "what": str, "name": str, f"ground_{level}": float, flow: float}
    return PlanLayer(name="sources", title="Where water enters", shape="POINT", columns=columns, rows=tuple(rows))


def _outlets(out: Outward) -> PlanLayer:
    level = out.level
    used = {line.end for line in out.plan.every_line}
    rows = []
    for one in out.plan.outlets:
        # a place that the tool found is no part of the survey: without it a line read back would have no end
        own = one.kind if one.found and one.id in used else PlannedKind.SITE.value
        values: dict[str, Value] = {
            "kind": own,
            "id": one.id,
            "what": one.kind,
            "name": one.name,
            f"ground_{level}": out.height(one.ground),
            f"lowest_invert_{level}": out.height(one.control),
            "found": one.found,
            "used": one.id in used,
        }
        rows.append(((out.run([(one.x, one.y, one.control)]),), values))
    columns = {
        "kind": str,
        "id": str,
        "what": str,
        "name": str,
        f"ground_{level}": float,
        f"lowest_invert_{level}": float,
        "found": bool,
        "used": bool,
    }
    return PlanLayer(name="outlets", title="Where water may leave", shape="POINT", columns=columns, rows=tuple(rows))


def _checks(plan: Plan) -> PlanLayer:
    columns = {
        "rule": str,
        "subject": str,
        "status": str,
        "value_si": float,
        "limit_si": float,
        "unit": str,
        "where": str,
        "message": str,
    }
    rows = tuple(
        (
            (),
            {
                "rule": one.rule,
                "subject": one.subject,
                "status": one.status,
                "value_si": one.value,
                "limit_si": one.limit,
                "unit": one.unit,
                "where": one.where,
                "message": one.message,
            },
        )
        for one in plan.findings
    )
    return PlanLayer(name="checks", title="What every rule says of the plan", shape="", columns=columns, rows=rows)


def _quantities(plan: Plan) -> PlanLayer:
    columns = {"what": str, "of": str, "amount": float, "unit": str}
    rows: list[tuple[tuple[()], Mapping[str, Value]]] = []
    for one in plan.quantities:
        amount, unit = units.amount_in(one.amount, one.unit, plan.length_unit)
        rows.append(((), {"what": one.what, "of": one.kind, "amount": round(amount, 3), "unit": unit}))
    return PlanLayer(
        name="quantities", title="What all lines take together", shape="", columns=columns, rows=tuple(rows)
    )
