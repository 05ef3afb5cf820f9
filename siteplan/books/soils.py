"""What ground is worth: soils.csv in.

Ranges of stiffness, weight, settlement and soil reaction out, each with its source.
"""

from __future__ import annotations

import csv
import math
from functools import cache
from importlib import resources
from typing import NamedTuple

from siteplan import units
from siteplan.errors import InputError, raise_gathered

_TON_PER_CUBIC_FOOT = 2000 * units.POUND_PER_CUBIC_FOOT  # short ton
_UNIT = {
    "psi": units.PSI,
    "lbf/ft3": units.POUND_PER_CUBIC_FOOT,
    "in": units.INCH,
    "percent": 0.01,
    "kN/m3": 1000.0,
    "ton/ft3": _TON_PER_CUBIC_FOOT,
    "-": 1.0,
}
_BASES = ("read", "derived", "memory")


class Range(NamedTuple):
    """What is known of a number: low, likely, high."""

    low: float
    likely: float
    high: float


class SoilEntry(NamedTuple):
    """One row of the book of soils, SI. None where the row states nothing."""

    group: str
    id: str
    title: str
    low: float | None
    likely: float | None
    high: float | None
    unit: str  # as the source states it
    source: str
    basis: str
    note: str


@cache
def entries() -> tuple[SoilEntry, ...]:
    """Every row of soils.csv.

    Returns
    -------
    tuple of Entry
        In file order; stiffness of a line [Pa], unit weight and subgrade modulus [N/m3], settlement [m] or [-],
        soil reaction E' [Pa], constants [-].

    Raises
    ------
    InputError, InputErrors
        For a row of unknown unit or basis, without source, twice the same id, or with low above likely above high.
    """
    text = resources.files("siteplan.books").joinpath("soils.csv").read_text(encoding="utf-8")
    return read_entries(text, "soils.csv")


def read_entries(text: str, where: str) -> tuple[SoilEntry, ...]:
    """Rows of a table of soils; see `entries`.

    Parameters
    ----------
    text : str
        CSV with the columns of soils.csv.
    where : str
        File named in error messages.

    Returns
    -------
    tuple of Entry
        SI values.

    Raises
    ------
    InputError, InputErrors
        As for `entries`.
    """
    faults: list[InputError] = []
    found: dict[tuple[str, str], SoilEntry] = {}
    for number, row in enumerate(csv.DictReader(text.splitlines()), 2):
        place = f"{where}, row {number} ({row['group']} {row['id']})"
        if row["unit"] not in _UNIT:
            faults.append(InputError(place, f"unit is {row['unit']!r}", f"Choose from {', '.join(_UNIT)}."))
            continue
        if row["basis"] not in _BASES or not row["source"].strip():
            faults.append(InputError(place, "has no source with a basis", f"Give both; basis is {', '.join(_BASES)}."))
        values: list[float | None] = []
        for column in ("low", "likely", "high"):
            try:
                values.append(float(row[column]) * _UNIT[row["unit"]] if row[column] else None)
            except ValueError:
                values.append(math.nan)
        known = [value for value in values if value is not None]
        if not all(math.isfinite(value) and value >= 0 for value in known) or known != sorted(known):
            faults.append(InputError(place, "low, likely, high do not rise from 0", "Give numbers in that order."))
        key = row["group"], row["id"]
        if key in found:
            faults.append(InputError(place, "stands here a second time", "Keep one of the two."))
        low, likely, high = values
        found[key] = SoilEntry(
            *key, row["title"], low, likely, high, row["unit"], row["source"], row["basis"], row["note"]
        )
    raise_gathered(faults)
    return tuple(found.values())


def entry(group: str, name: str) -> SoilEntry:
    """One row of the book.

    Parameters
    ----------
    group : str
        Such as 'line_modulus'.
    name : str
        Such as 'wet_loose'.

    Returns
    -------
    Entry
        The row, SI.

    Raises
    ------
    KeyError
        If there is no such row; the rows of the group are named.
    """
    for row in entries():
        if (row.group, row.id) == (group, name):
            return row
    known = ", ".join(row.id for row in entries() if row.group == group)
    raise KeyError(f"no {group} {name!r}; known: {known}")


def value_range(group: str, name: str) -> Range:
    """Low, likely and high of a row; the likely stands for a bound that the row does not state.

    Parameters
    ----------
    group : str
        Such as 'line_modulus', 'unit_weight', 'bed_settlement'.
    name : str
        Such as 'wet_loose'.

    Returns
    -------
    Range
        SI values, see `entries`.

    Raises
    ------
    KeyError
        If there is no such row.
    ValueError
        If the row states no likely value: it cannot be computed with.
    """
    row = entry(group, name)
    if row.likely is None:
        raise ValueError(f"{row.title}: {row.note}")
    return Range(
        row.likely if row.low is None else row.low,
        row.likely,
        row.likely if row.high is None else row.high,
    )


def settlement(bed: str, thickness: float = 0.0) -> Range:
    """Settlement of a trench bottom by how it was made, which the pipe hardly changes.

    Parameters
    ----------
    bed : str
        Row of the group 'bed_settlement': clean, over_stone, over_tamped, over_dumped, house_backfill, muck.
    thickness : float
        Thickness of the loose layer under the pipe [m]; a clean bottom has none.

    Returns
    -------
    Range
        Low, likely, high [m].

    Raises
    ------
    KeyError
        If there is no such row.
    ValueError
        If the bed cannot be computed (muck), or the thickness is below 0.

    References
    ----------
    Geotechnical practice, from memory: strain times thickness, each strain known to a factor 2 or 3.
    """
    if thickness < 0:
        raise ValueError("the thickness of a layer is below 0")
    found = value_range("bed_settlement", bed)
    if entry("bed_settlement", bed).unit == "in":
        return found
    return Range(*(strain * thickness for strain in found))
