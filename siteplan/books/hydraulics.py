"""Code tables of capacity, roughness new and aged, runoff coefficients and further pipe sizes, each number with its source.

Issue of the loads may take over sizes.csv: it is kept apart because the book of pipes has columns that a flow does not need.
"""

from __future__ import annotations

import csv
from fractions import Fraction
from functools import cache
from importlib import resources
from typing import NamedTuple

from siteplan.books.pipes import catalogue
from siteplan.units import GALLON_PER_MINUTE, GRADE, LENGTH
from siteplan.values import Pipe

COLEBROOK = "prandtl-colebrook"  # how a site names it
USUAL_KB = 1.0  # mm: drains of lots and buildings, EN 12056-2 annex B (memory)
LEAST_KB, MOST_KB = 0.01, 5.0  # mm; sewers are given 0.25 to 1.5 (DWA-A 110, 2006, read)


class TableRow(NamedTuple):
    """One printed capacity: nominal size [in], grade [-], flow [m3/s], where printed, how well known, whether out of line."""

    size_in: float
    grade: float
    flow: float
    source: str
    basis: str
    suspect: bool
    note: str

    @property
    def standing(self) -> str:
        """How the figure is known, in words."""
        return "from memory" if self.basis == "memory" else self.basis


class CodeTable(NamedTuple):
    """Printed capacities of one edition of one code."""

    code: str
    edition: str
    rows: tuple[TableRow, ...]


class Roughness(NamedTuple):
    """Manning n of a kind of pipe, new and after years in the ground, and the range in print [s/m^(1/3)]."""

    kind: str
    wall: str  # smooth | corrugated
    new: float
    aged: float
    low: float
    high: float
    source: str
    basis: str
    note: str


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
def roughness_book() -> tuple[Roughness, ...]:
    """Manning n by kind of pipe.

    Returns
    -------
    tuple of Roughness
        In file order [s/m^(1/3)].
    """
    return tuple(
        Roughness(
            row["kind"],
            row["wall"],
            float(row["n_new"]),
            float(row["n_aged"]),
            float(row["n_low"]),
            float(row["n_high"]),
            row["source"],
            row["basis"],
            row["note"],
        )
        for row in _rows("roughness.csv")
    )


def roughness_of(kind: str) -> Roughness:
    """Manning n of one kind of pipe.

    Parameters
    ----------
    kind : str
        Kind, such as 'pvc_sdr35'.

    Returns
    -------
    Roughness
        The entry [s/m^(1/3)].

    Raises
    ------
    KeyError
        If the book has no such kind.
    """
    for entry in roughness_book():
        if entry.kind == kind:
            return entry
    raise KeyError(f"no roughness for pipe kind {kind}; known: {', '.join(entry.kind for entry in roughness_book())}")


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


@cache
def sizes(kind: str) -> tuple[Pipe, ...]:
    """Every size of one kind of pipe, smallest bore first: the book of pipes and the further sizes.

    Parameters
    ----------
    kind : str
        Kind, such as 'pvc_sdr35' or 'pvc_metric'.

    Returns
    -------
    tuple of Pipe
        Lengths [m]; a size that both books hold comes from the book of pipes.

    Raises
    ------
    KeyError
        If neither book has such a kind.
    """
    found = {entry.nominal: entry for entry in catalogue() if entry.kind == kind}
    for row in _rows("sizes.csv"):
        if row["kind"] != kind or row["nominal"] in found:
            continue
        unit = LENGTH[row["unit"]]
        found[row["nominal"]] = Pipe(
            kind=kind,
            title=row["title"],
            nominal=row["nominal"],
            od=float(row["od"]) * unit,
            bore=float(row["bore"]) * unit,
            wall=float(row["wall"]) * unit,
            roughness=float(row["manning_n"]),
            source=f"{row['standard']}; {row['source']} ({row['basis']})",
        )
    if not found:
        raise KeyError(f"no pipe of kind {kind}")
    return tuple(sorted(found.values(), key=lambda entry: entry.bore))
