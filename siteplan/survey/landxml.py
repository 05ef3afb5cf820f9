"""A LandXML file in (the open standard for survey data); its points, surface and breaklines in metres out.

The standard's own order is northing, easting, elevation, and its units element names the unit, so nothing is guessed.
A file that declares a document type is refused outright: no entity is ever expanded and nothing outside is fetched.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from xml.parsers import expat  # a document type is refused before anything of it is read, so nothing expands

from siteplan import units
from siteplan.errors import InputError
from siteplan.survey.files import TEXT_LIMIT, said
from siteplan.survey.pointlists import ListedPoint

MOST_POINTS = 400_000
_UNITS = {"meter": "m", "metre": "m", "foot": "ft", "internationalfoot": "ft", "feet": "ft", "ussurveyfoot": "us-ft"}


@dataclass(frozen=True, slots=True, kw_only=True)
class LandXml:
    """What a LandXML file holds. `faces` and `breaklines` number the points from 0."""

    points: tuple[ListedPoint, ...]
    faces: tuple[tuple[int, int, int], ...]
    breaklines: tuple[tuple[int, int], ...]
    unit: str
    elevation_unit: str
    evidence: tuple[str, ...]


@dataclass(slots=True, kw_only=True)
class _Heard:
    """What the parser has met so far; the one changing value of this room, inside one call."""

    shown: str
    length: str | None = None
    elevation: str | None = None
    version: str = ""
    surface: str | None = None
    surfaces: int = 0
    path: list[str] = field(default_factory=list)
    text: list[str] = field(default_factory=list)
    label: dict[str, str] = field(default_factory=dict)
    visible: bool = True
    single: list[tuple[str, str, str]] = field(default_factory=list)  # number, description, coordinates
    vertices: dict[str, str] = field(default_factory=dict)
    faces: list[tuple[str, str, str]] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)


def read_landxml(path: Path, shown: str) -> LandXml:
    """Points and the first surface of a LandXML file.

    Parameters
    ----------
    path : Path
        The file.
    shown : str
        Its name in messages.

    Returns
    -------
    LandXml
        Points of the surface first, then single points (CgPoint) with a height.

    Raises
    ------
    InputError
        If it is no LandXML, declares a document type, names no unit, or holds no point with a height.

    References
    ----------
    LandXML 1.2 schema: Units, CgPoints, Surfaces/Surface/Definition (Pnts, Faces), SourceData/Breaklines; points
    are northing, easting, elevation (memory).
    """
    heard = _Heard(shown=shown)
    _parse(path, heard)
    if heard.length is None:
        raise InputError(
            shown,
            "names no unit of length (Units, Imperial or Metric, linearUnit)",
            "Export it again with its units element.",
        )
    unit = heard.length
    high = heard.elevation or unit
    points: list[ListedPoint] = []
    number_of: dict[str, int] = {}
    for name, text in heard.vertices.items():
        numbers = _numbers(text, shown, f"surface point {said(name)}")
        if len(numbers) < 3:
            raise InputError(shown, f"surface point {said(name)} has no elevation", "Export the surface again.")
        number_of[name] = len(points)
        points.append(_point(f"surface {name}", "", numbers, unit, high, len(points) + 1))
    faces = tuple(_face(face, number_of, shown) for face in heard.faces)
    breaklines = tuple(_breaklines(heard, points, unit, high))
    taken = {(point.northing, point.easting) for point in points}
    named: dict[str, str] = {}
    for name, description, text in heard.single:
        if named.setdefault(name, text) != text:
            raise InputError(
                shown,
                f'point "{said(name)}" stands there twice, with other figures',
                "Number one of them anew, or take the wrong one out.",
            )
        numbers = _numbers(text, shown, f"point {said(name)}")
        one = _point(name, description, numbers, unit, high, len(points) + 1)
        if (one.northing, one.easting) not in taken:
            points.append(one)
    if not any(point.elevation is not None for point in points):
        raise InputError(
            shown, "holds no point with an elevation", "Export the points with elevations, or the surface."
        )
    told = [
        (
            f"{shown}: LandXML {said(heard.version, 12) or 'of no stated version'}, northing before easting as "
            f"the standard has it, lengths in {units.UNIT_NAMES[unit]}, elevations in {units.UNIT_NAMES[high]} as "
            "its units element says"
        )
    ]
    if heard.surfaces:
        more = f"; {heard.surfaces - 1} more not used" if heard.surfaces > 1 else ""
        told.append(f'{shown}: surface "{said(heard.surface)}" of {len(faces)} triangles{more}')
    return LandXml(
        points=tuple(points), faces=faces, breaklines=breaklines, unit=unit, elevation_unit=high, evidence=tuple(told)
    )


def _parse(path: Path, heard: _Heard) -> None:
    shown = heard.shown
    try:
        if path.stat().st_size > TEXT_LIMIT:
            raise InputError(
                shown, f"is larger than {TEXT_LIMIT // 2**20} MB", "Export this lot and its surroundings only."
            )
        raw = path.read_bytes()
    except OSError as error:
        raise InputError(shown, "cannot be read", "Check the right to read it.") from error

    def doctype(*_: object) -> None:
        raise InputError(
            shown, "declares a document type", "Take the DOCTYPE out: LandXML needs none, and it can hide entities."
        )

    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = doctype
    parser.EntityDeclHandler = doctype
    parser.StartElementHandler = lambda name, given: _start(heard, name.rpartition(":")[2], given)
    parser.EndElementHandler = lambda name: _end(heard, name.rpartition(":")[2])
    parser.CharacterDataHandler = heard.text.append
    try:
        parser.Parse(raw, True)
    except InputError:
        raise
    except (expat.ExpatError, LookupError, ValueError) as error:  # the last two of an encoding that is not what it says
        raise InputError(
            shown, f"is no XML that can be read: {said(error, 100)}", "Export it again as LandXML."
        ) from error


def _start(heard: _Heard, name: str, given: Mapping[str, str]) -> None:
    if not heard.path and name != "LandXML":
        raise InputError(
            heard.shown, f'is no LandXML: it begins with "{said(name, 30)}"', "Export it again as LandXML."
        )
    heard.path.append(name)
    heard.text.clear()
    if name == "LandXML":
        heard.version = given.get("version", "")
    elif name in {"Metric", "Imperial"} and heard.path[-2:-1] == ["Units"]:
        heard.length = _unit(given.get("linearUnit"), heard.shown, "linearUnit")
        heard.elevation = (
            _unit(given.get("elevationUnit"), heard.shown, "elevationUnit") if "elevationUnit" in given else None
        )
    elif name == "Surface":
        heard.surfaces += 1
        if heard.surface is None:
            heard.surface = given.get("name", "")
    elif name in {"CgPoint", "P"}:
        heard.label = dict(given)
    elif name == "F":
        heard.visible = given.get("i", "0") != "1"


def _end(heard: _Heard, name: str) -> None:
    text = "".join(heard.text).strip()
    heard.text.clear()
    first = heard.surfaces <= 1
    if name == "CgPoint" and text:
        label = heard.label.get("name") or heard.label.get("oID") or str(len(heard.single) + 1)
        heard.single.append((said(label), said(heard.label.get("desc") or heard.label.get("code") or ""), text))
    elif name == "P" and first and "Pnts" in heard.path:
        key = heard.label.get("id", "")
        if not key or key in heard.vertices:
            raise InputError(
                heard.shown, f'surface point "{said(key)}" has no id of its own', "Export the surface again."
            )
        heard.vertices[key] = text
    elif name == "F" and first and heard.visible:
        parts = text.split()
        if len(parts) != 3:
            raise InputError(
                heard.shown, f'face "{said(text, 40)}" has not three points', "Export the surface as a TIN."
            )
        heard.faces.append((parts[0], parts[1], parts[2]))
    elif name == "PntList3D" and first and "Breakline" in heard.path:
        heard.lines.append(text)
    if len(heard.vertices) + len(heard.single) > MOST_POINTS:
        raise InputError(
            heard.shown, f"holds more than {MOST_POINTS} points", "Export this lot and its surroundings only."
        )
    heard.path.pop()


def _unit(word: str | None, shown: str, key: str) -> str:
    unit = _UNITS.get(str(word).strip().lower())
    if unit is None:
        raise InputError(
            shown,
            f'{key} is "{said(word, 30)}"',
            "Units read here are meter, foot and USSurveyFoot: export it in one of them.",
        )
    return unit


def _numbers(text: str, shown: str, what: str) -> list[float]:
    try:
        numbers = [float(part) for part in text.split()]
    except ValueError:
        numbers = []
    if len(numbers) not in {2, 3} or any(not abs(one) < 1e9 for one in numbers):
        raise InputError(
            shown,
            f'{what} is "{said(text, 60)}", expected northing, easting and elevation',
            "Export it again, or correct that point.",
        )
    return numbers


def _point(name: str, description: str, numbers: list[float], unit: str, high: str, row: int) -> ListedPoint:
    return ListedPoint(
        number=name,
        northing=units.to_metres(numbers[0], unit),
        easting=units.to_metres(numbers[1], unit),
        elevation=units.to_metres(numbers[2], high) if len(numbers) > 2 else None,
        description=description,
        row=row,
    )


def _face(names: tuple[str, str, str], number_of: Mapping[str, int], shown: str) -> tuple[int, int, int]:
    absent = [name for name in names if name not in number_of]
    if absent:
        raise InputError(
            shown, f"a face names point {said(absent[0])}, which the surface does not hold", "Export the surface again."
        )
    a, b, c = (number_of[name] for name in names)
    return a, b, c


def _breaklines(heard: _Heard, points: list[ListedPoint], unit: str, high: str) -> list[tuple[int, int]]:
    """Pairs along each breakline; a vertex that is no point of the surface becomes one."""
    if heard.faces:
        return []  # the triangles were drawn with them already
    at = {(point.northing, point.easting): number for number, point in enumerate(points)}
    pairs = []
    for text in heard.lines:
        parts = text.split()
        before: int | None = None
        if len(parts) % 3:
            raise InputError(
                heard.shown, "has a breakline whose numbers are no triples", "Export the breaklines again."
            )
        for k in range(0, len(parts), 3):
            one = _point(
                "", "", _numbers(" ".join(parts[k : k + 3]), heard.shown, "a breakline's point"), unit, high, 0
            )
            number = at.setdefault((one.northing, one.easting), len(points))
            if number == len(points):
                points.append(
                    _point(
                        f"breakline {number + 1}",
                        "BREAKLINE",
                        [
                            units.from_metres(one.northing, unit),
                            units.from_metres(one.easting, unit),
                            units.from_metres(one.elevation or 0.0, high),
                        ],
                        unit,
                        high,
                        number + 1,
                    )
                )
            if before is not None and before != number:
                pairs.append((before, number))
            before = number
    return pairs
