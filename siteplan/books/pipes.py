"""Generic pipes by public standard: pipes.csv in, Pipe out. The issue of loads and bellies widens the columns."""

from __future__ import annotations

import csv
from functools import cache
from importlib import resources

from siteplan.units import INCH
from siteplan.values import Pipe

DEFAULT = ("pvc_sdr35", "4 in")


@cache
def catalogue() -> tuple[Pipe, ...]:
    """Every pipe of the book, as it stands in pipes.csv.

    Returns
    -------
    tuple of Pipe
        In file order; lengths [m].
    """
    text = resources.files("siteplan.books").joinpath("pipes.csv").read_text(encoding="utf-8")
    return tuple(
        Pipe(
            kind=row["kind"],
            title=row["title"],
            nominal=f"{row['nominal_in']} in",
            od=float(row["od_in"]) * INCH,
            bore=float(row["id_in"]) * INCH,
            wall=float(row["wall_in"]) * INCH,
            roughness=float(row["manning_n"]),
            source=f"{row['standard']}; {row['source']} ({row['basis']})",
        )
        for row in csv.DictReader(text.splitlines())
    )


def pipe(kind: str = DEFAULT[0], nominal: str = DEFAULT[1]) -> Pipe:
    """One pipe of the book.

    Parameters
    ----------
    kind : str
        Kind, such as 'pvc_sdr35'.
    nominal : str
        Nominal size, such as '4 in'.

    Returns
    -------
    Pipe
        The entry.

    Raises
    ------
    KeyError
        If the book has no such pipe.
    """
    for entry in catalogue():
        if entry.kind == kind and entry.nominal == nominal:
            return entry
    raise KeyError(f"no pipe {kind} {nominal}")
