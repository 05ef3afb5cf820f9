"""The text of a point list of our own plain form in; heights, and the text with heights added, changed or taken out."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from siteplan.survey.files import number_in

HEIGHTS_FILE = "shots.csv"
HEIGHTS_HEAD = ("point", "northing", "easting", "elevation", "description")


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedHeight:
    """One height beside a place, in the site's own coordinates and unit of elevation; None.

    The list leaves it blank.
    """

    number: str
    x: float
    y: float
    z: float | None
    note: str = ""


def heights_in(text: str) -> tuple[TypedHeight, ...] | None:
    """Heights of a list whose head names the usual five columns.

    Parameters
    ----------
    text : str
        All of the file.

    Returns
    -------
    tuple or None
        None for a list of any other form: it is read by the planner, and not written to from here.
    """
    rows = _rows(text)
    if not rows or tuple(cell.strip().lower() for cell in rows[0]) != HEIGHTS_HEAD:
        return None
    found = []
    for row in rows[1:]:
        if not any(cell.strip() for cell in row):
            continue
        read = _height(row)
        if read is None:
            return None
        found.append(read)
    return tuple(found)


def _rows(text: str) -> list[list[str]]:
    try:
        return list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except csv.Error:
        return []


def _height(row: Sequence[str]) -> TypedHeight | None:
    if len(row) < 4 or len(row) > len(HEIGHTS_HEAD):
        return None
    north, east, high = (number_in(cell.strip()) for cell in row[1:4])
    if north is None or east is None or (high is None and row[3].strip()):
        return None
    return TypedHeight(number=row[0].strip(), x=east, y=north, z=high, note=row[4].strip() if len(row) > 4 else "")


def heights_text(before: str, heights: Sequence[TypedHeight]) -> str:
    """The list with these heights; a row that says the same keeps its own text.

    Parameters
    ----------
    before : str
        The file as it is; empty where there is none.
    heights : sequence of TypedHeight
        All of them, in order.

    Returns
    -------
    str
        A row a line.
    """
    end = "\r\n" if "\r\n" in before else "\n"
    lines = [line for line in before.splitlines() if line.strip()]
    head = lines[0] if lines else ",".join(HEIGHTS_HEAD)
    kept: dict[TypedHeight, str] = {}
    for line in lines[1:]:
        rows = _rows(line)
        read = _height(rows[0]) if len(rows) == 1 else None
        if read is not None:
            kept.setdefault(read, line)
    return end.join([head, *(kept.get(one) or _line(one) for one in heights), ""])


def _line(one: TypedHeight) -> str:
    out = io.StringIO()
    high = "" if one.z is None else f"{one.z!r}"
    csv.writer(out, lineterminator="").writerow(
        [_plain_cell(one.number), f"{one.y!r}", f"{one.x!r}", high, _plain_cell(one.note)]
    )
    return out.getvalue()


def _plain_cell(text: str) -> str:
    """A text that no spreadsheet runs as a formula."""
    return f"'{text}" if text[:1] in {"=", "+", "-", "@"} and number_in(text) is None else text
