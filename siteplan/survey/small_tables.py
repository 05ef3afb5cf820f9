"""Small tables that crews and surveyors hand over in; rows by the names of their columns out.

A header is normal and so is none; columns go by many names. Lines that begin with # may say `key = value` of the
set-up.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from siteplan import units
from siteplan.errors import InputError
from siteplan.survey.files import said
from siteplan.survey.levels_book import LevelBook
from siteplan.survey.typed_text import cells_of, numbered_lines, separator_of

_DESCRIBES = ("description", "desc", "descr", "d", "code", "feature")
_REMARKS = ("remark", "remarks", "note", "notes", "comment")
ORDERS = ("north-first", "east-first")
_COLUMNS: Mapping[str, tuple[str, ...]] = {
    "line": ("line", "run", "pipe run"),
    "station": ("station", "sta", "chainage"),
    "rod": ("rod", "reading", "fs", "ifs", "rod reading", "foresight"),
    "invert": ("invert", "inv", "invert elevation", "inv elev", "design invert"),
    "elevation": ("elevation", "elev", "el", "z", "height", "level"),
    "northing": ("northing", "north", "n", "y", "northings", "y coord"),
    "easting": ("easting", "east", "e", "x", "eastings", "x coord"),
    "point": (
        "point",
        "p",
        "pt",
        "pnt",
        "no",
        "no.",
        "num",
        "number",
        "id",
        "point number",
        "point no",
        "point id",
        "pointno",
    ),
    "name": ("name", *_DESCRIBES, *_REMARKS),
    "on": ("on", "stood on", "rod on", "where"),
    "side": ("side",),
    "distance": ("distance", "offset"),
    "hub": ("hub", "hub elevation", "hub elev"),
}
_STATION = re.compile(r"(?<![\d.])(\d+)\+(\d{2,3}(?:\.\d+)?)(?!\d)")
_SETTING = re.compile(r"#\s*([A-Za-z][\w -]*?)\s*[=:]\s*(.+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows of a table: number in the file and column name to text as typed; what its # lines say.

    Whether it names its columns.
    """

    shown: str
    rows: tuple[tuple[int, Mapping[str, str]], ...]
    settings: Mapping[str, str]
    headed: bool

    def where(self, row: int, column: str) -> str:
        """Place of a cell, as a message names it."""
        return f"{self.shown}, row {row}, {column}"


def read_rows(path: Path) -> Table:
    """Rows of a table.

    Parameters
    ----------
    path : Path
        CSV or blanks between; with a header, or without one as point, northing, easting, elevation, description
        (four columns or more), or as station and reading (two or three).

    Returns
    -------
    Table
        Cells as typed.

    Raises
    ------
    InputError
        If it cannot be read, is empty, or a column of its header is not known.
    """
    shown = said(path.name)
    lines = numbered_lines(path, shown)
    settings = {}
    for _, line in lines:
        if found := _SETTING.fullmatch(line.strip().rstrip(",;").strip()):
            settings[found[1].strip().lower().replace(" ", "_").replace("-", "_")] = found[2].strip()
    body = tuple((number, line) for number, line in lines if not line.lstrip().startswith("#"))
    if not body:
        raise InputError(shown, "holds comments alone", "Give one row for each shot.")
    mark = separator_of(body, 2)
    if mark is None:
        raise InputError(shown, "has one column", "Separate the cells by commas: sta,rod.")
    cells = [(number, cells_of(line, mark)) for number, line in body]
    header = _header(cells[0][1], shown)
    headed = header is not None
    if header is None:
        width = max(len(row) for _, row in cells)
        header = ["point", "northing", "easting", "elevation", "name"] if width >= 4 else ["station", "rod", "name"]
    else:
        cells = cells[1:]
    if not cells:
        raise InputError(shown, "has a header and no rows", "Give one row for each shot.")
    rows = []
    for number, row in cells:
        known = dict(zip(header, row, strict=False))
        if header.count("name") > 1:  # a code and its description
            known["name"] = " ".join(
                text for column, text in zip(header, row, strict=False) if column == "name" and text
            )
        elif "name" in header and len(row) > len(header) and header[-1] == "name":
            known["name"] = ", ".join(row[len(header) - 1 :])  # commas inside a description are normal
        rows.append((number, {column: text for column, text in known.items() if column and text}))
    return Table(shown=shown, rows=tuple(rows), settings=settings, headed=headed)


def _header(cells: list[str], shown: str) -> list[str] | None:
    """Column names, or None where the first row holds readings."""
    plain = [re.sub(r"\s*[\(\[].*", "", cell).strip().lower().replace("_", " ") for cell in cells]
    plain = [re.sub(r" (ft|us ft|m|metres|feet)$", "", cell) for cell in plain]
    known = {word: column for column, words in _COLUMNS.items() for word in words}
    if not any(word in known for word in plain) or any(re.fullmatch(r"[+-]?\d*\.?\d+", word) for word in plain):
        return None
    header = [known.get(word, "") for word in plain]
    described = [word for word in plain if word in _DESCRIBES]
    for i, word in enumerate(plain):
        if word == "name" and described and "point" not in header:
            header[i] = "point"  # as collectors write it: the point's name, and its code
        elif word in _REMARKS and (
            described or "name" in plain or word != next(one for one in plain if one in _REMARKS)
        ):
            header[i] = ""  # nobody's name: a remark beside one
    doubled = {column for column in header if column and header.count(column) > 1} - {"name"}
    if any(plain.count(word) > 1 for word in plain if known.get(word) == "name"):
        doubled.add("name")
    if doubled:
        raise InputError(shown, f"has two columns for {min(doubled)}", "Keep one of the two.")
    return header


def order_of(table: Table, asked: str | None) -> str | None:
    """Which coordinate a list gives first, where it does not name its columns.

    Parameters
    ----------
    table : Table
        A list.
    asked : str or None
        'north-first' or 'east-first', by an option; None where nobody said it.

    Returns
    -------
    str or None
        By its own line `# order = ...`, else as asked, else 'north-first'; None for a list that needs none, for it
        names its columns or holds no coordinates.

    Raises
    ------
    InputError
        If the list says an order that is none, or another than the option.
    """
    if table.headed or not any("northing" in cells and "easting" in cells for _, cells in table.rows):
        return None
    own = table.settings.get("order", "").lower() or None
    if own is not None and own not in ORDERS:
        raise InputError(f"{table.shown}, order", f"is {said(own)!r}", f"Write {ORDERS[0]} or {ORDERS[1]}.")
    if own is not None and asked is not None and own != asked:
        raise InputError(f"{table.shown}, order", f"is {own}, and --order says {asked}", "Say one of the two.")
    return own or asked or ORDERS[0]


def in_order(cells: Mapping[str, str], order: str | None) -> Mapping[str, str]:
    """A row with its coordinates in their places.

    Parameters
    ----------
    cells : mapping
        A row of a table.
    order : str or None
        From `order_of`.

    Returns
    -------
    mapping
        The same, northing and easting exchanged where the list gives the easting first.
    """
    if order != ORDERS[1] or "northing" not in cells or "easting" not in cells:
        return cells
    return {**cells, "northing": cells["easting"], "easting": cells["northing"]}


def order_told(table: Table, order: str | None, asked: str | None) -> tuple[str, ...]:
    """What was taken for the order of a list's coordinates, where it does not name its columns.

    Parameters
    ----------
    table : Table
        A list.
    order, asked : str or None
        From `order_of`, and by an option.

    Returns
    -------
    tuple of str
        One sentence, or none.
    """
    if order is None:
        return ()
    why = "by its own line" if "order" in table.settings else "by --order" if asked else "--order changes it"
    first, second = ("easting", "northing") if order == ORDERS[1] else ("northing", "easting")
    return (f"{table.shown} has no header: {first} is read before {second} ({why}).",)


def cell_number(table: Table, row: int, column: str, text: str, unit: str) -> float:
    """An elevation, coordinate or length of a table in metres.

    Parameters
    ----------
    table : Table
        For the message.
    row : int
        Row in the file.
    column : str
        Its column.
    text : str
        As typed.
    unit : str
        'ft', 'us-ft' or 'm' of a bare number.

    Returns
    -------
    float
        [m]

    Raises
    ------
    InputError
        If it is no length.
    """
    try:
        value = units.read_length(text, unit)
    except ValueError:
        value = None
    if value is None or abs(value) > 1e9:
        raise InputError(
            table.where(row, column), f"is {said(repr(text), 40)}, no number", "Type it as read, such as 95.50."
        )
    return value


def rod_of(table: Table, row: int, text: str, rod: str) -> float:
    """A rod reading in metres.

    Parameters
    ----------
    table : Table
        For the message.
    row : int
        Row in the file.
    text : str
        As typed.
    rod : str
        'tenths', 'inches' or 'metres'.

    Returns
    -------
    float
        [m]

    Raises
    ------
    InputError
        If no such rod shows it.
    """
    try:
        return LevelBook(file=table.shown, entries=(), decimal_comma=False, notes=()).rod_reading(text, rod)
    except ValueError as error:
        what, _, mend = str(error).partition("; ")
        raise InputError(table.where(row, "rod"), what, mend or "Type it as read.") from None


def typed_station(text: str, unit: str) -> float | None:
    """A station in metres from what was typed: 0+40, 1+25.5, or a bare length.

    Parameters
    ----------
    text : str
        As typed; a station may stand inside words.
    unit : str
        'ft' or 'us-ft' count hundreds, 'm' thousands.

    Returns
    -------
    float or None
        [m]; None when there is none.

    Examples
    --------
    >>> typed_station("0+40", "m"), typed_station("1+025.5", "m"), typed_station("wye", "m")
    (40.0, 1025.5, None)
    """
    if re.fullmatch(r"\d+(\.\d+)?", text.strip()):
        return units.to_metres(float(text), unit)
    return noted_station(text, unit)


def noted_station(text: str, unit: str) -> float | None:
    """A station in metres that is written as one, 0+40, perhaps inside a name; a bare number is none here.

    Parameters
    ----------
    text : str
        As typed.
    unit : str
        'ft' or 'us-ft' count hundreds, 'm' thousands.

    Returns
    -------
    float or None
        [m]; None when there is none.

    Examples
    --------
    >>> noted_station("INV 0+40", "m"), noted_station("40", "m"), noted_station("tee + 3", "m")
    (40.0, None, None)
    """
    found = _STATION.search(text)
    if found is None:
        return None
    return units.to_metres(int(found[1]) * (1000 if unit == "m" else 100) + float(found[2]), unit)
