"""As-laid shots and the set-up they were taken from in; heights in metres, each with what the rod stood on, out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from siteplan.errors import InputError, raise_gathered
from siteplan.laid.design import kind_of
from siteplan.survey.files import said
from siteplan.survey.shot_codes import speaks_of_something_else
from siteplan.survey.small_tables import Table, cell_number, in_order, noted_station, read_rows, rod_of, typed_station

ON = ("top", "invert", "bottom", "bell")
_RODS = ("tenths", "inches", "metres")
_ON_WORDS = {
    "top": "top",
    "crown": "top",
    "top of pipe": "top",
    "pipe top": "top",
    "invert": "invert",
    "inv": "invert",
    "flow line": "invert",
    "bottom": "bottom",
    "trench": "bottom",
    "trench bottom": "bottom",
    "subgrade": "bottom",
    "bell": "bell",
    "top of bell": "bell",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidShot:
    """One shot: the height of the place where the rod stood [m]. `on` is empty where the row does not say it."""

    row: int
    name: str
    kind: str
    line: str
    station: float | None
    x: float | None
    y: float | None
    height: float
    on: str


def read_laid_shots(
    table: Table,
    hi: float | None,
    *,
    unit: str,
    elevation_unit: str,
    grid_unit: str,
    rod: str,
    order: str | None = None,
) -> tuple[LaidShot, ...]:
    """Shots of a table.

    Parameters
    ----------
    table : Table
        From `read_rows`.
    hi : float or None
        Height of instrument [m], for rods.
    unit, elevation_unit, grid_unit : str
        Of stations, of elevations, of coordinates: 'ft', 'us-ft' or 'm'.
    rod : str
        'tenths', 'inches' or 'metres'.
    order : str or None
        'north-first' or 'east-first' of a list without a header, from `order_of`.

    Returns
    -------
    tuple of Shot
        In the file's order.

    Raises
    ------
    InputError, InputErrors
        Row and column of what cannot be read; rods without a height of instrument.
    """
    if rod not in _RODS:
        raise InputError("--rod", f"is {said(rod)!r}", f"Give {', '.join(_RODS[:-1])} or {_RODS[-1]}.")
    faults: list[InputError] = []
    shots: list[LaidShot] = []
    for row, cells in table.rows:
        try:
            shots.append(_shot(table, row, in_order(cells, order), hi, (unit, elevation_unit, grid_unit), rod))
        except InputError as fault:
            faults.append(fault)
            if fault.where == "--hi":
                break
    raise_gathered(faults)
    return tuple(shots)


def _shot(
    table: Table,
    row: int,
    cells: Mapping[str, str],
    hi: float | None,
    unit_of: tuple[str, str, str],
    rod: str,
) -> LaidShot:
    unit, elevation_unit, grid_unit = unit_of
    name = said(cells.get("name") or cells.get("point", ""))
    if "rod" in cells:
        if hi is None:
            raise InputError(
                "--hi", "is missing, and the shots are rod readings", "Give --hi, or --benchmark and --backsight."
            )
        height = hi - rod_of(table, row, cells["rod"], rod)
    else:
        level = cells.get("elevation") or cells.get("invert")
        if level is None:
            raise InputError(table.where(row, "rod"), "is empty", "Give the reading, or take the row out.")
        height = cell_number(table, row, "elevation", level, elevation_unit)
    x, y = (
        cell_number(table, row, key, cells[key], grid_unit) if key in cells else None for key in ("easting", "northing")
    )
    station = None
    if "station" in cells:
        station = typed_station(cells["station"], unit)
        if station is None and kind_of(cells["station"]) != "fixed":
            raise InputError(
                table.where(row, "station"),
                f"is {cells['station'][:30]!r}",
                "Write 0+40 or 40, or the name of a fixed object.",
            )
        name = name or (said(cells["station"]) if station is None else "")
    elif x is None:
        station = noted_station(name, unit)
    if station is None and (x is None or y is None) and kind_of(name) != "fixed":
        raise InputError(
            table.where(row, "station"), "gives neither a station nor coordinates", "Say where on the line it was shot."
        )
    return LaidShot(
        row=row,
        name=name,
        kind=kind_of(name),
        line=said(cells.get("line", "")),
        station=station,
        x=x,
        y=y,
        height=height,
        on=_on(table, row, cells.get("on", ""), name) or ("invert" if "invert" in cells and "rod" not in cells else ""),
    )


def _on(table: Table, row: int, text: str, name: str) -> str:
    plain = text.lower().strip()
    if plain:
        if plain not in _ON_WORDS:
            raise InputError(table.where(row, "on"), f"is {said(text)!r}", f"Write {', '.join(ON)}, or leave it empty.")
        return _ON_WORDS[plain]
    if speaks_of_something_else(name):
        return ""
    words = f" {name.lower()} "
    for word, meant in (
        ("bell", "bell"),
        ("top of pipe", "top"),
        (" top ", "top"),
        (" inv", "invert"),
        ("trench", "bottom"),
    ):
        if word in words:
            return meant
    return ""


def read_shot_table(path: Path) -> Table:
    """The file of shots, its # lines read as settings.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    Table
        Rows as typed.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    if not path.is_file():
        raise InputError(said(path.name), "no such file of shots", "Give a CSV with a row for each shot: sta,rod.")
    return read_rows(path)
