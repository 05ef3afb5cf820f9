"""The text of a point list in.

Numbered rows in the list's own numbers out, or the row and field that cannot be read.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from siteplan import units
from siteplan.errors import InputError, NotGiven, raise_gathered
from siteplan.survey.typed_text import SEPARATORS, cells_of, numbered_lines, separator_of

MOST_ROWS = 20_000  # some ten seconds; a crew shoots hundreds
UNKNOWN_ELEVATION = -9999.0
_FIELDS = ("point", "northing", "easting", "elevation", "description")
_NAMES = {
    "point": {
        "point",
        "pt",
        "p",
        "no",
        "no.",
        "number",
        "point number",
        "point no",
        "pnt",
        "id",
        "name",
        "num",
        "#",
        "pointno",
        "point_id",
    },
    "northing": {"northing", "north", "n", "y", "y coord", "northings"},
    "easting": {"easting", "east", "e", "x", "x coord", "eastings"},
    "elevation": {"elevation", "elev", "el", "z", "height", "level", "ele", "rl"},
    "description": {
        "description",
        "desc",
        "d",
        "code",
        "remark",
        "remarks",
        "note",
        "notes",
        "descr",
        "feature",
        "comment",
    },
}
_DEGREES = {"lat", "latitude", "lon", "long", "longitude", "lng"}
_UNIT_WORDS = {
    "ft": "ft",
    "feet": "ft",
    "foot": "ft",
    "ift": "ft",
    "us-ft": "us-ft",
    "usft": "us-ft",
    "us ft": "us-ft",
    "survey ft": "us-ft",
    "us survey ft": "us-ft",
    "m": "m",
    "metres": "m",
    "meters": "m",
    "metre": "m",
    "meter": "m",
}
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")
_COMMA_NUMBER = re.compile(r"[+-]?[0-9]+,[0-9]+")
_GROUPED = re.compile(r"[+-]?[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]*)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class RawPoint:
    """One row in the list's own numbers.

    `elevation_metres` stands when the row itself names its unit, as feet and inches do.
    """

    row: int
    number: str
    first: float
    second: float
    elevation: float | None
    elevation_text: str
    elevation_metres: float | None
    description: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RawTable:
    """A point list as it stands. `first` is the northing when `order` is north-first; order None.

    The list does not say.
    """

    points: tuple[RawPoint, ...]
    order: str | None
    unit: str | None
    elevation_unit: str | None
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    columns: dict[str, int]  # 'first' and 'second' are the coordinates
    order: str | None
    unit: str | None
    elevation_unit: str | None
    header: bool


def read_table(path: Path, shown: str) -> RawTable:
    """Rows of a point list.

    Parameters
    ----------
    path : Path
        The list.
    shown : str
        Its name in messages.

    Returns
    -------
    RawTable
        In the list's own numbers.

    Raises
    ------
    InputError, InputErrors
        Row, field and mending of what cannot be read.
    """
    lines = numbered_lines(path, shown)
    lines = tuple((number, line) for number, line in lines if not line.lstrip().startswith("#") or _is_header(line))
    if len(lines) > MOST_ROWS:
        raise InputError(
            shown,
            f"holds {len(lines)} rows",
            f"Keep the shots of this lot and its surroundings, at most {MOST_ROWS}; thin a scan, or grid it.",
        )
    if not lines:
        raise NotGiven(shown, "holds comments alone", "Give one row for each point.")
    separator = _separator(lines, shown)
    layout = _layout(lines[0], separator, shown)
    body = lines[1:] if layout.header else lines
    if not body:
        raise NotGiven(shown, "has a header and no points", "Give one row for each point.")
    split = [(number, _split(line, separator, layout)) for number, line in body]
    comma = _decimal_comma(split, layout, separator, shown)
    faults: list[InputError] = []
    points: list[RawPoint] = []
    seen: dict[str, RawPoint] = {}
    notes: list[str] = [
        (
            f"read as {len(split)} rows separated by "
            f"{SEPARATORS[separator]}{', with decimal commas' if comma else ''}{', header in row ' + str(lines[0][0]) if layout.header else ', no header'}"
        )
    ]
    for number, cells in split:
        try:
            point = _row(number, cells, layout, shown, comma=comma)
        except InputError as fault:
            faults.append(fault)
            continue
        key = _same_number(point.number)
        twin = seen.get(key)
        if twin is None:
            seen[key] = point
            points.append(point)
        elif (twin.first, twin.second, twin.elevation_text) == (point.first, point.second, point.elevation_text):
            notes.append(f"row {number} repeats point {point.number} of row {twin.row}; read once")
        else:
            faults.append(
                InputError(
                    f"{shown}, row {number}, point",
                    f"number {point.number} stands in row {twin.row} too, with other figures",
                    "Number one of them anew, or take the wrong one out.",
                )
            )
    faults += _suspicious_descriptions(points, shown, separator) if not faults else []
    faults += _degrees(points, shown) if not faults else []
    raise_gathered(faults)
    unknown = [point.row for point in points if point.elevation is None]
    if len(unknown) == len(points):
        raise NotGiven(
            shown,
            "has no elevation in any row (blank, 0 and -9999 mean unknown)",
            "Give the elevations in the fourth column, or name the columns in a header.",
        )
    if unknown:
        rows = ", ".join(map(str, unknown[:12])) + (", ..." if len(unknown) > 12 else "")
        notes.append(
            f"{len(unknown)} point{'s have' if len(unknown) > 1 else ' has'} no elevation (blank, 0 or "
            f"-9999): row{'s' if len(unknown) > 1 else ''} {rows}"
        )
    return RawTable(
        points=tuple(points),
        order=layout.order,
        unit=layout.unit,
        elevation_unit=layout.elevation_unit,
        notes=tuple(notes),
    )


def _same_number(number: str) -> str:
    """What two spellings of one number have in common: 7, 07 and 7.0 are one point to whoever shot it."""
    whole = re.fullmatch(r"0*(\d+)(?:\.0*)?", number)
    return whole[1] if whole else number.casefold()


def coordinate_names(order: str | None) -> tuple[str, str]:
    """What the two coordinates are called in messages: by place until their order is known.

    Parameters
    ----------
    order : str or None
        'north-first', 'east-first' or None.

    Returns
    -------
    tuple of str
        Of the first and the second.
    """
    if order is None:
        return "second field", "third field"
    return ("northing", "easting") if order == "north-first" else ("easting", "northing")


def _is_header(line: str) -> bool:
    words = {word.casefold() for word in re.findall(r"[A-Za-z]+", line)}
    return bool(words & _NAMES["northing"] and words & _NAMES["easting"])


def _separator(lines: tuple[tuple[int, str], ...], shown: str) -> str:
    # 1 5000,00 2000,00 98,30: commas give four cells too, and are not the separator
    spaced = sum(re.match(r"\s*\S+\s+[+-]?\d+,\d+\s+[+-]?\d+,\d+(?:\s|$)", line) is not None for _, line in lines)
    if spaced * 2 > len(lines):
        return " "
    separator = separator_of(lines, 4)
    if separator is None:
        number, line = lines[0]
        raise InputError(
            f"{shown}, row {number}",
            f"has no four fields ({line.strip()[:40]!r})",
            "Write point, northing, easting, elevation, description, separated by commas, semicolons, tabs or blanks.",
        )
    return separator


def _layout(first: tuple[int, str], separator: str, shown: str) -> _Layout:
    """Columns by the header's names, or the trade's order when the first row is a point already."""
    number, line = first
    cells = cells_of(line.lstrip("# "), separator)
    where = f"{shown}, row {number}"
    columns: dict[str, int] = {}
    found_units: dict[str, str] = {}
    unknown: list[str] = []
    for index, cell in enumerate(cells):
        word, unit = _header_word(cell)
        if word in _DEGREES:
            raise InputError(
                f"{where}, {cell}",
                "is in degrees",
                "Give northing and easting of a plane grid, or save the points as GeoJSON.",
            )
        name = next((name for name, known in _NAMES.items() if word in known), None)
        if name is None:
            unknown.append(cell)
            continue
        if name in columns:
            raise InputError(where, f"names the {name} twice ({cells[columns[name]]}, {cell})", "Keep one of the two.")
        columns[name] = index
        if unit:
            found_units[name] = unit
    numbers = sum(
        _NUMBER.fullmatch(cell) is not None or _COMMA_NUMBER.fullmatch(cell) is not None for cell in cells[1:4]
    )
    if numbers >= 2 or (numbers == 1 and len(columns) < 2):
        return _Layout(
            columns={"point": 0, "first": 1, "second": 2, "elevation": 3, "description": 4},
            order=None,
            unit=None,
            elevation_unit=None,
            header=False,
        )
    missing = [name for name in _FIELDS[:4] if name not in columns]
    if missing:
        odd = f"; {unknown[0]!r} is not understood" if unknown else ""
        raise InputError(
            where,
            f"is no row of numbers, and as a header names no {missing[0]}{odd}",
            "Name the columns point, northing, easting, elevation, description, or leave the header out.",
        )
    flat = {found_units[name] for name in ("northing", "easting") if name in found_units}
    if len(flat) > 1:
        raise InputError(where, "names two units for northing and easting", "Give both in one unit.")
    north, east = columns.pop("northing"), columns.pop("easting")
    order = "north-first" if north < east else "east-first"
    columns["first"], columns["second"] = min(north, east), max(north, east)
    return _Layout(
        columns=columns,
        order=order,
        unit=next(iter(flat), None),
        elevation_unit=found_units.get("elevation"),
        header=True,
    )


def _header_word(cell: str) -> tuple[str, str | None]:
    """Name and unit of a header cell: 'Northing (ft)', 'Elev_m', 'N [us-ft]'."""
    text = " ".join(cell.strip("\ufeff'\"# ").casefold().split())
    found = re.fullmatch(r"(.+?)\s*(?:\(|\[|_|,|\s)\s*([a-z][a-z \-]*?)\s*[)\]]?", text)
    if found and found[2] in _UNIT_WORDS:
        return found[1].strip(), _UNIT_WORDS[found[2]]
    return text, None


def _split(line: str, separator: str, layout: _Layout) -> list[str]:
    """Cells of a row; what follows the fifth field of a headerless list is still its description."""
    last = max(layout.columns.values())
    rest_is_text = layout.columns.get("description") == last
    if separator == " ":
        return line.split(None, last) if rest_is_text else line.split()
    cells = cells_of(line, separator)
    if rest_is_text and len(cells) > last + 1:
        mark = f"{separator} " if separator in ",;" else " "
        cells = [*cells[:last], mark.join(cell for cell in cells[last:] if cell)]
    return cells


def _decimal_comma(split: list[tuple[int, list[str]]], layout: _Layout, separator: str, shown: str) -> bool:
    """Whether numbers are written 98,30. Both marks in one list, or thousands, are asked about."""
    wanted = [layout.columns[name] for name in ("first", "second", "elevation")]
    cells = [(number, row[index]) for number, row in split for index in wanted if index < len(row)]
    commas = [(number, cell) for number, cell in cells if _COMMA_NUMBER.fullmatch(cell)]
    grouped = next(((number, cell) for number, cell in cells if "," in cell and "." in cell), None)
    if grouped or (commas and separator == ","):
        number, cell = grouped or commas[0]
        raise InputError(
            f"{shown}, row {number}", f"writes a number as {cell!r}", "Write it without thousands marks: 5000.00."
        )
    if not commas:
        return False
    pointed = next(((number, cell) for number, cell in cells if "." in cell and _NUMBER.fullmatch(cell)), None)
    if pointed:
        raise InputError(
            f"{shown}, row {pointed[0]}",
            f"has {pointed[1]!r} where row {commas[0][0]} has {commas[0][1]!r}",
            "Use one decimal mark throughout, a point or a comma.",
        )
    if all(_GROUPED.fullmatch(cell) for _, cell in commas):
        raise InputError(
            f"{shown}, row {commas[0][0]}",
            f"has {commas[0][1]!r}: a decimal comma, or thousands",
            "Write the decimals with a point, and no thousands marks.",
        )
    return True


def _row(number: int, cells: list[str], layout: _Layout, shown: str, *, comma: bool) -> RawPoint:
    where = f"{shown}, row {number}"
    fewest = max(layout.columns[name] for name in ("point", "first", "second", "elevation")) + 1
    if len(cells) < fewest:
        raise InputError(
            where,
            (
                f"has {len(cells)} field{'s' if len(cells) != 1 else ''}, expected point, northing, easting, "
                "elevation, description"
            ),
            "Fill the row up; leave the elevation blank between separators when it is not known.",
        )
    width = max(layout.columns.values()) + 1
    if len(cells) > width and any(cells[width:]):
        raise InputError(
            where,
            f"has {len(cells)} fields under {width} columns",
            "Quote the field that holds the separator, or put the description last.",
        )
    point = cells[layout.columns["point"]]
    if not point:
        raise InputError(f"{where}, point", "has no number", "Number the point; any text will do.")
    names = coordinate_names(layout.order)
    values = []
    for column, name in zip(("first", "second"), names, strict=True):
        values.append(_coordinate(cells[layout.columns[column]], f"{where}, {name}", comma=comma))
    text = cells[layout.columns["elevation"]]
    elevation, metres = _elevation(text, f"{where}, elevation", comma=comma)
    index = layout.columns.get("description", len(cells))
    return RawPoint(
        row=number,
        number=point,
        first=values[0],
        second=values[1],
        elevation=elevation,
        elevation_text=text,
        elevation_metres=metres,
        description=cells[index] if index < len(cells) else "",
    )


def _coordinate(text: str, where: str, *, comma: bool) -> float:
    plain = text.replace(",", ".") if comma else text
    if not plain:
        raise InputError(where, "is blank", "Give the coordinate, or take the row out.")
    if not _NUMBER.fullmatch(plain):
        raise InputError(where, f"is {text!r}, no plain number", _number_mend(text))
    value = float(plain)
    if value == UNKNOWN_ELEVATION:
        raise InputError(where, "is -9999, the mark of an unknown value", "Give the coordinate, or take the row out.")
    return value


def _number_mend(text: str) -> str:
    if re.fullmatch(r"[+-]?[0-9.]+[eE][+-]?[0-9]+", text):
        return (
            "A spreadsheet shortened it and may have dropped digits: export the column as plain numbers, such as "
            "5000.00."
        )
    if re.search(r"['\"\u2032\u2033]|ft|in\b", text):
        return "Write coordinates in decimals, such as 5000.00; feet and inches are read for elevations alone."
    return "Write it in digits, such as 5000.00; a row is point, northing, easting, elevation, description."


def _elevation(text: str, where: str, *, comma: bool) -> tuple[float | None, float | None]:
    """Elevation in the list's numbers and, where the row names its own unit, in metres."""
    plain = text.replace(",", ".") if comma else text
    if not plain:
        return None, None
    if _NUMBER.fullmatch(plain):
        value = float(plain)
        return (None if value in {0.0, UNKNOWN_ELEVATION} else value), None
    if re.search(r"\d", plain) and re.search(r"['\"\u2032\u2033\u2019\u201d]|(?:ft|in|feet|m|mm|cm)\s*$", plain):
        try:
            metres = units.read_length(plain, "ft")
        except ValueError as error:
            raise InputError(where, str(error).partition(";")[0], "Write 98.30 or 98'-3 5/8\".") from None
        return units.from_metres(metres, "ft"), metres
    mend = "Write 98.30 or 98'-3 5/8\"; leave it blank when it is not known."
    if re.search(r"[A-Za-z]", plain):
        mend = (
            "A row is point, northing, easting, elevation, description; leave the elevation blank between "
            "separators when it is not known."
        )
    raise InputError(where, f"is {text!r}, no elevation", mend)


def _suspicious_descriptions(points: list[RawPoint], shown: str, separator: str) -> list[InputError]:
    """Descriptions that begin with a number.

    A decimal comma has torn the fields apart, or a column too many stands there.
    """
    if separator not in {",", " "}:
        return []
    bare = re.compile(r"[+-]?\d+(?:\.\d+)?(?:\s*,|\s|$)" if separator == "," else r"[+-]?\d+(?:\.\d+)?(?:\s|$)")
    twice = re.compile(r"[+-]?\d+(?:\.\d+)?\s*[,\s]\s*[+-]?\d+(?:\.\d+)?(?:\s*,|\s|$)")
    torn = re.compile(r"\d{1,3}\s*(?:,|$)")
    decimals = sum("." in point.elevation_text for point in points)
    numbered = [point for point in points if bare.match(point.description)]
    most = len(points) > 1 and len(numbered) * 10 >= len(points) * 6
    return [
        InputError(
            f"{shown}, row {point.row}, description",
            (
                f"begins with the number {point.description.split(',')[0].split()[0]!r} after elevation "
                f"{point.elevation_text or 'blank'!r}: a decimal comma, or a column too many"
            ),
            "Write decimals with a point, one elevation to a row; or name the columns in a header.",
        )
        for point in numbered
        if most
        or twice.match(point.description)
        or (separator == "," and torn.match(point.description) and "." not in point.elevation_text and decimals)
    ]


def _degrees(points: list[RawPoint], shown: str) -> list[InputError]:
    small = all(abs(point.first) <= 180 and abs(point.second) <= 180 for point in points)
    near = (
        max(
            (abs(point.first - points[0].first) + abs(point.second - points[0].second) for point in points), default=0.0
        )
        < 0.2
    )
    if len(points) > 1 and small and near:
        return [
            InputError(
                f"{shown}, row {points[0].row}, second field",
                f"is {points[0].first}: all points lie within 0.2 of each other, as degrees do",
                "Give northing and easting of a plane grid, or save the points as GeoJSON.",
            )
        ]
    return []
