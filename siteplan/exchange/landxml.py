"""A plan in; its lines as a pipe network, alignments and profiles in LandXML 1.2 out, the open standard for land data.

Every place where a line bends, breaks its grade, changes pipe, is joined or ends is a structure; every run between two
is a pipe. Coordinates are northing, easting, in the survey's own unit.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from xml.etree import ElementTree as ET

from siteplan import units
from siteplan.books.fittings import fitting_words
from siteplan.errors import InputError
from siteplan.exchange.layers import PipeRun, pipe_runs
from siteplan.sheets.benchmark_words import datums
from siteplan.sheets.coordinates import DEGREE, SurveySystem, survey_places, survey_system
from siteplan.sheets.geopackage import UNDATED
from siteplan.values.lines import Line
from siteplan.values.whole_plan import Plan

_SPACE = "http://www.landxml.org/schema/LandXML-1.2"
_SAME = 0.005  # m: a line that joins another within so much has its place there
_IMPERIAL = {"ft": "foot", "us-ft": "USSurveyFoot"}


def plan_landxml(plan: Plan, date: str | None = None) -> bytes:
    """Pipe network, alignments and profiles.

    Parameters
    ----------
    plan : Plan
        As stored.
    date : str, optional
        ISO; the plan's own where absent. The standard asks for one.

    Returns
    -------
    bytes
        UTF-8.

    Raises
    ------
    InputError
        For a survey in degrees or in an unusual unit, which the standard has no lengths in.

    References
    ----------
    LandXML 1.2 (LandXML-1.2.xsd, posted 7/29/2008), elements Units, CoordinateSystem, PipeNetworks, Alignments,
    Profile.
    """
    system = survey_system(plan)
    if system.unit == DEGREE or system.unit not in units.SITE_UNITS:
        raise InputError(
            "plan.json, survey_unit",
            f'is "{system.unit_name}", in which the standard has no lengths',
            "Survey in feet or metres, or export gpkg or geojson.",
        )
    root = ET.Element(
        "LandXML",
        {
            "xmlns": _SPACE,
            "version": "1.2",
            "date": date or plan.stamp or UNDATED,
            "time": "00:00:00",
            "language": "English",
            "readOnly": "false",
        },
    )
    _units(root, plan, system)
    if system.crs != "local":
        authority, _, code = system.crs.partition(":")
        known = datums(plan)
        more = {
            "epsgCode": code if authority.upper() == "EPSG" else "",
            "verticalDatum": known[0] if len(known) == 1 else "",
        }
        _add(root, "CoordinateSystem", name=system.name, **{key: value for key, value in more.items() if value})
    _add(root, "Project", name=plan.site_name)
    _add(root, "Application", name="siteplan")
    _alignments(root, plan)
    _networks(root, plan)
    ET.indent(root, " ")
    written: bytes = ET.tostring(root, encoding="utf-8")
    return b'<?xml version="1.0" encoding="UTF-8"?>\n' + written + b"\n"


def _add(parent: ET.Element, tag: str, text: str = "", /, **attributes: str) -> ET.Element:
    made = ET.SubElement(parent, tag, {key: _clean(value) for key, value in attributes.items()})
    if text:
        made.text = text
    return made


def _clean(text: str) -> str:
    """Without the marks that no XML file may hold."""
    return "".join(
        mark
        for mark in text
        if mark in "\t\n\r" or (" " <= mark <= "\ud7ff") or "\ue000" <= mark <= "\ufffd" or mark > "\uffff"
    )


def _units(root: ET.Element, plan: Plan, system: SurveySystem) -> None:
    held, level = _add(root, "Units"), "meter" if plan.elevation_unit == "m" else "feet"
    if system.unit == "m":
        _add(
            held,
            "Metric",
            areaUnit="squareMeter",
            linearUnit="meter",
            volumeUnit="cubicMeter",
            temperatureUnit="celsius",
            pressureUnit="milliBars",
            diameterUnit="millimeter",
            angularUnit="decimal degrees",
            directionUnit="decimal degrees",
            elevationUnit=level,
        )
        return
    _add(
        held,
        "Imperial",
        areaUnit="squareFoot",
        linearUnit=_IMPERIAL[system.unit],
        volumeUnit="cubicYard",
        temperatureUnit="fahrenheit",
        pressureUnit="inchHG",
        diameterUnit="inch",
        angularUnit="decimal degrees",
        directionUnit="decimal degrees",
        elevationUnit=level,
    )


def _figure(value: float, digits: int = 4) -> str:
    return f"{value:.{digits}f}"


class _Outward:
    """Figures of one plan in the survey's units."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        system = survey_system(plan)
        self.unit, self.level = units.LENGTH[system.unit], units.LENGTH[plan.elevation_unit]
        self.small = units.MILLIMETRE if system.unit == "m" else units.INCH

    def place(self, x: float, y: float) -> str:
        """Northing and easting."""
        (east,), (north,) = survey_places(self.plan, [x], [y])
        return f"{_figure(north)} {_figure(east)}"

    def length(self, value: float) -> str:
        """In the survey's unit of lengths."""
        return _figure(value / self.unit)

    def height(self, value: float) -> str:
        """In the survey's unit of heights."""
        return _figure(value / self.level)


def _alignments(root: ET.Element, plan: Plan) -> None:
    if not plan.every_line:
        return
    out, held = _Outward(plan), _add(root, "Alignments")
    for line in plan.every_line:
        one = _add(
            held,
            "Alignment",
            name=line.id,
            length=out.length(line.length),
            staStart="0.0000",
            desc="stations run up from the outlet",
        )
        geometry = _add(one, "CoordGeom")
        for low, high in zip(line.vertices, line.vertices[1:], strict=False):
            run = _add(geometry, "Line", length=out.length(high.station - low.station))
            _add(run, "Start", out.place(low.x, low.y))
            _add(run, "End", out.place(high.x, high.y))
        profile = _add(one, "Profile", name=line.id)
        surveyed = [
            list(rows) for known, rows in itertools.groupby(line.rows, lambda row: math.isfinite(row.ground)) if known
        ]
        parts = [rows for rows in surveyed if len(rows) > 1]  # a list of points holds two at least
        if parts:
            ground = _add(profile, "ProfSurf", name="ground")
            for rows in parts:
                text = " ".join(f"{out.length(row.station)} {out.height(row.ground)}" for row in rows)
                _add(ground, "PntList2D", text)
        invert = _add(profile, "ProfAlign", name="invert")
        for vertex in line.vertices:
            _add(invert, "PVI", f"{out.length(vertex.station)} {out.height(vertex.invert)}")


def _networks(root: ET.Element, plan: Plan) -> None:
    """One network for each group of lines that ends at one outlet."""
    if not plan.every_line:
        return
    out, held = _Outward(plan), _add(root, "PipeNetworks")
    ids = {line.id for line in plan.every_line}
    for trunk in (line for line in plan.every_line if line.end not in ids):
        group = _joined(plan, trunk)
        kind = "storm"
        network = _add(held, "PipeNetwork", name=f"to {trunk.end} by {trunk.id}", pipeNetType=kind)
        structs, pipes = _add(network, "Structs"), _add(network, "Pipes")
        _fill(structs, pipes, group, out)


def _joined(plan: Plan, trunk: Line) -> list[Line]:
    found = [trunk]
    for line in found:
        found += [one for one in plan.every_line if one.end == line.id and one not in found]
    return found


def _fill(structs: ET.Element, pipes: ET.Element, group: Sequence[Line], out: _Outward) -> None:
    runs = {line.id: pipe_runs(line) for line in group}
    own = {line.id: [0.0, *(run.station_to for run in runs[line.id])] for line in group}
    met: dict[str, str] = {}
    for line in group:
        if line.end in runs:
            met[line.id] = _name(line.end, _node(next(one for one in group if one.id == line.end), own[line.end], line))
    for line in group:
        for k, station in enumerate(own[line.id]):
            if k == 0 and line.id in met:
                continue  # its lowest place is a structure of the line that it joins
            x, y, _ = line.at(station)
            vertex = min(line.vertices, key=lambda one: abs(one.station - station))
            fitted = fitting_words(vertex.fittings) if abs(vertex.station - station) < _SAME else ""
            struct = _add(
                structs,
                "Struct",
                name=_name(line.id, k),
                desc=fitted or ("outlet" if k == 0 else "start" if k == len(own[line.id]) - 1 else "change of pipe"),
            )
            _add(struct, "Center", out.place(x, y))
            top = k == len(own[line.id]) - 1
            _add(struct, "OutletStruct" if k == 0 else "InletStruct" if top else "Connection")
            for invert, way, pipe in _inverts(line, k, runs, group, met):
                _add(struct, "Invert", elev=out.height(invert), flowDir=way, refPipe=pipe)
    for line in group:
        for k, run in enumerate(runs[line.id]):
            _pipe(pipes, line, k, run, met, out)


def _name(line: str, k: int) -> str:
    return f"{line}-{k}"


def _node(trunk: Line, stations: Sequence[float], branch: Line) -> int:
    """Which place of a trunk a branch comes to."""
    low = branch.vertices[0]

    def away(k: int) -> float:
        x, y, _ = trunk.at(stations[k])
        return (x - low.x) ** 2 + (y - low.y) ** 2

    return min(range(len(stations)), key=lambda k: (round(away(k), 6), k))


def _inverts(
    line: Line, k: int, runs: dict[str, tuple[PipeRun, ...]], group: Sequence[Line], met: dict[str, str]
) -> list[tuple[float, str, str]]:
    """Inverts at a place: water comes in by the runs above it and by branches, and goes out by the run below."""
    found = []
    mine = runs[line.id]
    if k < len(mine):
        found.append((mine[k].low[2], "in", f"{line.id}.{k + 1}"))
    if k > 0:
        found.append((mine[k - 1].high[2], "out", f"{line.id}.{k}"))
    found += [
        (runs[branch.id][0].low[2], "in", f"{branch.id}.1")
        for branch in group
        if met.get(branch.id) == _name(line.id, k)
    ]
    return found


def _pipe(pipes: ET.Element, line: Line, k: int, run: PipeRun, met: dict[str, str], out: _Outward) -> None:
    upper, lower = _name(line.id, k + 1), met[line.id] if k == 0 and line.id in met else _name(line.id, k)
    pipe = _add(
        pipes,
        "Pipe",
        name=f"{line.id}.{k + 1}",
        refStart=upper,
        refEnd=lower,
        length=out.length(run.station_to - run.station_from),
        slope=_figure(100 * run.grade),
        desc=f"{run.pipe.nominal} {run.pipe.title}",
    )
    _add(
        pipe,
        "CircPipe",
        diameter=_figure(run.pipe.bore / out.small, 3),
        thickness=_figure(run.pipe.wall / out.small, 3),
        material=run.pipe.kind,
        mannings=_figure(run.pipe.roughness),
    )
