"""A plan folder, somebody else's point list, or an invert and a grade in.

What was to be built out, ready to be compared with shots.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.books import rules
from siteplan.books.fittings import turns_made
from siteplan.books.kinds import at_curb
from siteplan.books.pipes import DEFAULT, Outline, outline_in_book, outlines
from siteplan.errors import InputError
from siteplan.stored.folder_of import PLAN_FILE, StoredPlan, read_plan
from siteplan.survey.files import said
from siteplan.survey.small_tables import (
    Table,
    cell_number,
    in_order,
    noted_station,
    order_of,
    order_told,
    read_rows,
    typed_station,
)
from siteplan.values.laid_pipe import FittingKind
from siteplan.values.lines import Line
from siteplan.values.water_ends import Outlet, Source

Floats = NDArray[np.float64]

_KINDS = (  # what a description speaks of, first match wins
    (
        "fixed",
        (
            r"\b(bm|tbm|bench ?mark|gutter|fl|flow ?line|tc|top of curb|back of "
            r"curb|slab|sill|threshold|step|corner|cor|walk|ff|floor)\b"
        ),
    ),
    ("cleanout", r"\b(co|c/o|c\.o\.|cleanout|clean-out|clean out)(?![a-z])"),
    ("outlet", r"\b(outlet|outfall|daylight|out|headwall|curb hole|discharge|popup|pop-up)\b"),
    ("fitting", r"\b(wye|bend|45s?|22s?|22\.5|elbow|tee|reducer|coupling|basin|junction|grade break)\b"),
    ("start", r"\b(ds|downspout|start|sump|inlet)(?![a-z])"),
)
NEEDS_TWO = 2
# a station as printed may lie so far from the change of pipe it names; a coupling is longer
AT_CHANGE = 0.1 * units.FOOT
MOST_LAID = 0.50  # steepest grade that the quick answer takes, too
UNNAMED = "line"  # the one line of a plan that names none


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A named thing of the plan. `elevation` is the invert, or for a fixed object its own height [m]."""

    name: str
    kind: str  # fixed | cleanout | outlet | fitting | start | pipe
    line: str
    station: float | None
    x: float | None
    y: float | None
    elevation: float | None
    controls: str = ""  # id of the outlet that is judged against this object


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidPipe:
    """A reach with a pipe of its own: stations, outside top and bell above the invert, outside bottom below it [m]."""

    station_from: float
    station_to: float
    rise: float
    below: float
    bell: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DesignLine:
    """A line as designed, outlet first. `xy` is None where only stations are known."""

    id: str
    station: Floats
    invert: Floats
    xy: Floats | None
    rise: float
    below: float
    bore: float
    pipe: str
    ends_at_outlet: bool = True
    least_cover: tuple[tuple[float, float], ...] = ()  # station, cover to spare over the rule as planned
    crossings: tuple[tuple[str, float, float], ...] = ()  # utilities: name, stations
    bell: float | None = None  # top of a bell above the invert; None where the book does not know it
    other_pipes: tuple[LaidPipe, ...] = ()  # by reach
    has_ends: bool = True  # a design given as a grade alone goes on and on

    def reached(self, bedding: float) -> tuple[float, float]:
        """The highest trench bottom along the line and the lowest top of its pipe [m].

        For a rod that is to reach some place of it.
        """
        return float(self.invert.max()) - self.below - bedding, float(self.invert.min()) + self.rise

    def wall_at(self, station: float) -> tuple[float, float, float | None]:
        """Outside top above the invert, outside bottom below it, and top of a bell above it.

        Of the pipe that lies at a station [m].

        Where two pipes meet it is the one upstream, as on the cut sheet.
        """
        top = float(self.station[-1])
        for one in self.other_pipes:
            last = one.station_to >= top - AT_CHANGE
            if one.station_from - AT_CHANGE <= station and (last or station < one.station_to - AT_CHANGE):
                return one.rise, one.below, one.bell
        return self.rise, self.below, self.bell

    def at(self, station: Floats) -> Floats:
        """Design inverts [m]; past the ends the last grade goes on."""
        s, z = self.station, self.invert
        inside = np.interp(station, s, z)
        low, high = (z[1] - z[0]) / (s[1] - s[0]), (z[-1] - z[-2]) / (s[-1] - s[-2])
        return np.asarray(
            inside + np.minimum(0, station - s[0]) * low + np.maximum(0, station - s[-1]) * high, np.float64
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """What was to be built."""

    source: str
    unit: str
    elevation_unit: str
    lines: tuple[DesignLine, ...]
    items: tuple[Item, ...]
    min_grade: float
    bedding: float
    assumptions: tuple[str, ...] = field(default=())
    ordered: bool = False  # whether it was read from a list that does not name its coordinates
    laid_pipe: str = ""  # pipe that was laid where it is told to be another than the plan's


def outline_of(kind: str | None, size: str | None) -> Outline:
    """A pipe of the book by kind and nominal size.

    Parameters
    ----------
    kind : str or None
        Kind; None is the project's usual pipe.
    size : str or None
        Nominal size, such as '4 in' or '4'; None is 4 in.

    Returns
    -------
    Outline
        Lengths [m].

    Raises
    ------
    InputError
        If the book has none such.
    """
    kind = kind or DEFAULT[0]
    wanted = (size or DEFAULT[1]).strip()
    one = outline_in_book(kind, wanted)
    if one is not None:
        return one
    known = ", ".join(sorted({one.kind for one in outlines()}))
    raise InputError(
        "--pipe",
        f"the book has no {said(wanted)} {said(kind)}",
        f"Give a kind of {known}; siteplan pipes lists the sizes.",
    )


def with_pipe(design: Design, pipe: Outline) -> Design:
    """The design with the pipe that was laid, where somebody says that it is another than the plan's.

    Parameters
    ----------
    design : Design
        Of a plan that names its pipes.
    pipe : Outline
        What lies there.

    Returns
    -------
    Design
        Walls and bells of that pipe all along; its name where the plan has another.
    """
    laid = f"{pipe.nominal} {pipe.kind}"
    lines = tuple(
        replace(
            line,
            rise=pipe.rise,
            below=(pipe.od - pipe.bore) / 2,
            bore=pipe.bore,
            bell=bell_of(pipe.kind, pipe.nominal),
            other_pipes=(),
        )
        for line in design.lines
    )
    other = any(line.pipe != laid for line in design.lines)
    return replace(design, lines=lines, laid_pipe=laid if other else "")


def bell_of(kind: str, nominal: str) -> float | None:
    """Top of a bell above the invert [m], by the book of pipes; None where it does not say.

    Parameters
    ----------
    kind, nominal : str
        Of the pipe, such as 'pvc_sdr35' and '6 in'.

    Returns
    -------
    float or None
        Half the sum of the bell's outside diameter and the bore.
    """
    one = outline_in_book(kind, nominal)
    return None if one is None or one.bell is None else (one.bell + one.bore) / 2


def read_design(text: str, *, pipe: Outline, unit: str | None, order: str | None = None) -> Design:
    """What was to be built.

    Parameters
    ----------
    text : str
        Path of a plan folder; path of a point list; or INVERT@GRADE, such as 95.50@1.00.
    pipe : Outline
        Pipe of a plan that names none.
    unit : str or None
        'ft', 'us-ft' or 'm' of a point list or an invert; a plan folder has its own.
    order : str or None
        'north-first' or 'east-first' of a point list without a header, by an option.

    Returns
    -------
    Design
        SI.

    Raises
    ------
    InputError
        If there is no such plan or it cannot be read.
    """
    path = Path(text)
    if path.is_dir() or path.name == PLAN_FILE:
        return _of_plan(read_plan(path))
    if path.is_file():
        return _of_list(path, pipe, unit or "ft", order)
    if "@" in text:
        return _of_grade(text, pipe, unit or "ft")
    raise InputError(
        said(text), "no such plan", "Name a plan folder, a point list, or INVERT@GRADE such as 95.50@1.00."
    )


def kind_of(text: str) -> str:
    """What a description speaks of.

    Parameters
    ----------
    text : str
        A description.

    Returns
    -------
    str
        fixed, cleanout, outlet, fitting, start or pipe.

    Examples
    --------
    >>> kind_of("GUTTER FL"), kind_of("CO-2"), kind_of("INV 0+30")
    ('fixed', 'cleanout', 'pipe')
    """
    plain = text.lower().replace("_", " ")
    return next((kind for kind, pattern in _KINDS if re.search(pattern, plain)), "pipe")


def _of_plan(stored: StoredPlan) -> Design:
    plan = stored.plan
    if not plan.lines:
        raise InputError(
            PLAN_FILE,
            "holds no line by gravity: there is nothing that pipe could be held against",
            (
                "Name the folder of a plan with a line; a line that stands in no plan is checked against "
                "INVERT@GRADE or a point list."
            ),
        )
    limits = {rule.get("id"): rule for rule in stored.record.get("rules", []) if isinstance(rule, dict)}

    def limit(rule: rules.Rule) -> float | None:
        value = limits.get(rule.id, {}).get("limit")
        return float(value) if isinstance(value, int | float) else None

    least = limit(rules.MIN_GRADE)
    cover = limit(rules.MIN_COVER)
    places: tuple[Source | Outlet, ...] = (*plan.sources, *plan.outlets)
    named = {place.id: said(place.name) or place.id for place in places}
    outlets = {outlet.id for outlet in plan.outlets}
    items: list[Item] = []
    lines = []
    for line in plan.lines:
        lines.append(_line_of(line, cover, ends=line.end in outlets))
        items += _items_of(line, named, outlets)
    allowance = limit(rules.CURB_ALLOWANCE)
    for outlet in plan.outlets:
        # without an invert of its own a curb outlet hangs on its gutter, the allowance above the flow line
        if at_curb(outlet.kind) and outlet.invert is None and allowance is not None:
            items.append(
                Item(
                    name=f"{named[outlet.id]} gutter flow line",
                    kind="fixed",
                    line="",
                    station=None,
                    x=outlet.x,
                    y=outlet.y,
                    elevation=outlet.control - allowance,
                    controls=outlet.id,
                )
            )
    return Design(
        source="the plan folder",
        unit=plan.length_unit,
        elevation_unit=plan.elevation_unit,
        lines=tuple(lines),
        items=tuple(items),
        min_grade=(least or rules.MIN_GRADE.limit or 1.0) * units.GRADE["percent"],
        bedding=limit(rules.BEDDING) or 0.0,
    )


def _line_of(line: Line, cover: float | None, *, ends: bool) -> DesignLine:
    kept = [line.vertices[0]]
    kept += [vertex for vertex in line.vertices[1:] if vertex.station > kept[-1].station]
    spare = tuple((row.station, row.cover - cover) for row in line.rows if cover is not None and row.cover >= cover)
    return DesignLine(
        id=line.id,
        station=np.array([v.station for v in kept]),
        invert=np.array([v.invert for v in kept]),
        xy=np.array([(v.x, v.y) for v in kept]),
        rise=line.pipe.rise,
        below=line.pipe.below,
        bore=line.pipe.bore,
        pipe=f"{line.pipe.nominal} {line.pipe.kind}",
        ends_at_outlet=ends,
        least_cover=spare,
        crossings=tuple((said(c.name), c.station_from, c.station_to) for c in line.crossings if c.kind == "utility"),
        bell=bell_of(line.pipe.kind, line.pipe.nominal),
        other_pipes=tuple(
            LaidPipe(
                station_from=r.station_from,
                station_to=r.station_to,
                rise=r.pipe.rise,
                below=r.pipe.below,
                bell=bell_of(r.pipe.kind, r.pipe.nominal),
            )
            for r in line.reaches
        ),
    )


def _items_of(line: Line, named: Mapping[str, str], outlets: set[str]) -> list[Item]:
    items = []
    for place, vertex in enumerate(line.vertices):
        first, last = place == 0, place == len(line.vertices) - 1
        kind, name = "pipe", ""
        if first:
            kind, name = (
                ("outlet", named.get(line.end, line.end))
                if line.end in outlets
                else ("fitting", f"wye of {line.id} on {line.end}")
            )
        elif last:
            kind, name = "start", named.get(line.start, line.start)
        elif not vertex.has(FittingKind.CLEANOUT) and (made := turns_made(vertex.fittings)):
            kind, name = "fitting", made
        at = {"line": line.id, "station": vertex.station, "x": vertex.x, "y": vertex.y, "elevation": vertex.invert}
        if name:
            items.append(Item(name=name, kind=kind, **at))  # type: ignore[arg-type]
        if vertex.has(FittingKind.CLEANOUT):
            items.append(Item(name="cleanout", kind="cleanout", **at))  # type: ignore[arg-type]
    return items


def _of_grade(text: str, pipe: Outline, unit: str) -> Design:
    level, _, grade = text.partition("@")
    try:
        invert, fall = units.read_length(level, unit), units.read_grade(grade)
    except ValueError as error:
        raise InputError("PLAN", str(error).partition(";")[0], "Write INVERT@GRADE, such as 95.50@1.00.") from None
    if not 0 < fall <= MOST_LAID:
        raise InputError(
            "PLAN",
            f"its grade is {units.grade_text(fall)}",
            "Give a grade above 0 and up to 50 percent: the fall towards station 0.",
        )
    far = 100.0  # m; the grade goes on past it
    line = DesignLine(
        id=UNNAMED,
        station=np.array([0.0, far]),
        invert=np.array([invert, invert + fall * far]),
        xy=None,
        rise=pipe.rise,
        below=(pipe.od - pipe.bore) / 2,
        bore=pipe.bore,
        pipe=f"{pipe.nominal} {pipe.kind}",
        bell=bell_of(pipe.kind, pipe.nominal),
        has_ends=False,
    )
    told = f"Plan: invert {units.length_text(invert, unit)} at station 0, rising {units.grade_text(fall)} upstream."
    return Design(
        source="an invert and a grade",
        unit=unit,
        elevation_unit=unit,
        lines=(line,),
        items=(),
        bedding=_default_bedding(),
        min_grade=_least(),
        assumptions=(told, _pipe_told(pipe, unit)),
    )


def _default_bedding() -> float:
    return (rules.BEDDING.limit or 0.0) * units.FOOT


def _least() -> float:
    """The common least grade [-]. Where a design is flatter, what was laid is judged against the design."""
    return (rules.MIN_GRADE.limit or 1.0) * units.GRADE["percent"]


def _pipe_told(pipe: Outline, unit: str) -> str:
    return (
        f"Pipe: {units.size_text(pipe.nominal, pipe.od, unit)} {pipe.title}, outside top "
        f"{units.length_text(pipe.rise, unit, 3)} above the invert (--pipe, --size change it)."
    )


def _of_list(path: Path, pipe: Outline, unit: str, asked: str | None) -> Design:
    table = read_rows(path)
    order = order_of(table, asked)
    items = [_listed(table, row, in_order(cells, order), unit) for row, cells in table.rows]
    ids = list(dict.fromkeys(item.line for item in items if item.kind != "fixed"))
    lines = [line for name in ids if (line := _listed_line(name, items, pipe)) is not None]
    if not lines:
        raise InputError(
            table.shown,
            "holds no line: fewer than two inverts",
            "Give the design's inverts with stations or coordinates.",
        )
    by_id = {line.id: line for line in lines}
    for name in ids:
        if name not in by_id and name != UNNAMED:
            raise InputError(
                f"{table.shown}, line {name}",
                "has fewer than two inverts: nothing that is laid there could be judged",
                "Give its inverts with stations or coordinates, or take its rows out.",
            )
        if name in by_id and by_id[name].invert[-1] < by_id[name].invert[0]:
            raise InputError(
                f"{table.shown}, line {name}" if name != UNNAMED else table.shown,
                "its inverts fall as its stations rise",
                "Count stations from the outlet up, in design and shots.",
            )
    loose = [item for item in items if item.line not in by_id and item.kind != "fixed"]
    items = [_stationed(item, by_id.get(item.line)) for item in items]
    fixed = ", ".join(item.name for item in items if item.kind == "fixed") or "BM, gutter, slab, corner ...: none here"
    told = (
        f"Plan: {table.shown}, {len(items)} points; its elevations are inverts, but for fixed objects ({fixed}).",
        *order_told(table, order, asked),
        *(f"Plan: {item.name or 'a point'} names no line and is taken for no part of one." for item in loose),
    )
    return Design(
        source=table.shown,
        unit=unit,
        elevation_unit=unit,
        lines=tuple(lines),
        items=tuple(items),
        bedding=_default_bedding(),
        min_grade=_least(),
        assumptions=(*told, _pipe_told(pipe, unit)),
        ordered=order is not None,
    )


def _stationed(item: Item, line: DesignLine | None) -> Item:
    """An item of a list by coordinates, with its station: shots by station are to find it."""
    if (
        item.station is not None
        or item.kind == "fixed"
        or line is None
        or line.xy is None
        or item.x is None
        or item.y is None
    ):
        return item
    away = np.hypot(line.xy[:, 0] - item.x, line.xy[:, 1] - item.y)
    at = int(np.argmin(away))
    return replace(item, station=float(line.station[at])) if away[at] <= 0.02 else item  # m; its own place


def _listed(table: Table, row: int, cells: Mapping[str, str], unit: str) -> Item:
    name = said(cells.get("name") or cells.get("point", ""))
    level = cells.get("invert") or cells.get("elevation") or cells.get("rod")
    elevation = None if level is None else cell_number(table, row, "invert", level, unit)
    x, y = (cell_number(table, row, key, cells[key], unit) if key in cells else None for key in ("easting", "northing"))
    station = typed_station(cells["station"], unit) if "station" in cells else noted_station(name, unit)
    if station is None and "station" in cells and (x is None or y is None):
        raise InputError(table.where(row, "station"), f"is {said(cells['station'])!r}", "Write 0+40 or 40.")
    return Item(
        name=name,
        kind=kind_of(name),
        line=said(cells.get("line", "")) or UNNAMED,
        station=station,
        x=x,
        y=y,
        elevation=elevation,
    )


def _listed_line(name: str, items: list[Item], pipe: Outline) -> DesignLine | None:
    own = [item for item in items if item.line == name and item.kind != "fixed" and item.elevation is not None]
    if any(item.station is None for item in own):
        own = [item for item in own if item.x is not None and item.y is not None]
        if len(own) >= NEEDS_TWO and (own[0].elevation or 0) > (own[-1].elevation or 0):
            own = own[::-1]  # listed from the start down
        run = 0.0
        placed: list[tuple[float, Item]] = []
        for before, item in zip([None, *own], own, strict=False):
            if before is not None:
                run += float(np.hypot((item.x or 0) - (before.x or 0), (item.y or 0) - (before.y or 0)))
            placed.append((run, item))
    else:
        placed = sorted(((item.station or 0.0, item) for item in own), key=lambda pair: pair[0])
    apart: list[tuple[float, Item]] = []
    for station, item in placed:
        if not apart or station - apart[-1][0] > 0.01:  # m; two names of one place are one place
            apart.append((station, item))
    if len(apart) < NEEDS_TWO:
        return None
    known = all(item.x is not None and item.y is not None for _, item in apart)
    return DesignLine(
        id=name,
        station=np.array([s for s, _ in apart]),
        invert=np.array([item.elevation for _, item in apart], float),
        xy=np.array([(item.x, item.y) for _, item in apart], float) if known else None,
        rise=pipe.rise,
        below=(pipe.od - pipe.bore) / 2,
        bore=pipe.bore,
        pipe=f"{pipe.nominal} {pipe.kind}",
        bell=bell_of(pipe.kind, pipe.nominal),
    )
