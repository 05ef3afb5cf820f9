"""Code tables of capacity and runoff coefficients, each number with its source."""

from __future__ import annotations

import csv
from fractions import Fraction
from functools import cache
from importlib import resources
from typing import NamedTuple

from siteplan.units import GALLON_PER_MINUTE, GRADE

COLEBROOK = "prandtl-colebrook"  # how a site names it
USUAL_KB = 1.0  # mm: drains of lots and buildings, EN 12056-2 annex B (memory)
LEAST_KB, MOST_KB = 0.01, 5.0  # mm; sewers are given 0.25 to 1.5 (DWA-A 110, 2006, read)


class TableRow(NamedTuple):
    """One printed capacity.

    Nominal size [in], grade [-], flow [m3/s], where printed, how well known, whether out of line.
    """

    size_in: float
    grade: float
    flow: float
    source: str
    basis: str
    suspect: bool
    note: str

    @property
    def nominal(self) -> str:
        """The size as a pipe of the book is called."""
        return f"{self.size_in:g} in"

    @property
    def standing(self) -> str:
        """How the figure is known, in words."""
        return "from memory" if self.basis == "memory" else self.basis


class CodeTable(NamedTuple):
    """Printed capacities of one edition of one code."""

    code: str
    edition: str
    rows: tuple[TableRow, ...]


class Runoff(NamedTuple):
    """Share of rain that runs off a cover: range in print and the one taken [-]."""

    cover: str
    low: float
    high: float
    default: float
    source: str
    basis: str
    note: str


def _rows(name: str) -> list[dict[str, str]]:
    text = resources.files("siteplan.books").joinpath(name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


@cache
def code_tables() -> tuple[CodeTable, ...]:
    """Every printed capacity table of the book.

    Returns
    -------
    tuple of CodeTable
        In file order; grades [-] and flows [m3/s].
    """
    tables: dict[str, CodeTable] = {}
    for row in _rows("capacity.csv"):
        entry = TableRow(
            size_in=float(row["size_in"]),
            grade=float(Fraction(row["slope_in_per_ft"])) * GRADE["in_per_ft"],
            flow=float(row["flow_gpm"]) * GALLON_PER_MINUTE,
            source=row["source"],
            basis=row["basis"],
            suspect=row["suspect"] == "yes",
            note=row["note"],
        )
        known = tables.get(row["code"], CodeTable(row["code"], row["edition"], ()))
        tables[row["code"]] = known._replace(rows=(*known.rows, entry))
    return tuple(tables.values())


@cache
def runoff_book() -> tuple[Runoff, ...]:
    """Runoff coefficients by cover.

    Returns
    -------
    tuple of Runoff
        In file order [-].
    """
    return tuple(
        Runoff(
            row["cover"],
            float(row["c_low"]),
            float(row["c_high"]),
            float(row["c_default"]),
            row["source"],
            row["basis"],
            row["note"],
        )
        for row in _rows("runoff.csv")
    )


def runoff_of(cover: str) -> Runoff:
    """Runoff coefficient of one cover.

    Parameters
    ----------
    cover : str
        Cover, such as 'roof' or 'lawn_heavy'.

    Returns
    -------
    Runoff
        The entry [-].

    Raises
    ------
    KeyError
        If the book has no such cover.
    """
    for entry in runoff_book():
        if entry.cover == cover:
            return entry
    raise KeyError(
        f"no runoff coefficient for cover {cover}; known: {', '.join(entry.cover for entry in runoff_book())}"
    )
