"""Generic pipes by public standard: pipes.csv in, Pipe out. `stock` reads the same file for loads and bellies.

Quick commands ask `outlines` for the few figures they need: it builds no Pipe and imports nothing heavy.
"""

from __future__ import annotations

import os
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

from siteplan.units import INCH

if TYPE_CHECKING:
    from collections.abc import Mapping

    from siteplan.values import Pipe

DEFAULT = ("pvc_sdr35", "4 in")
_HEAVY = "pvc_sch40"


class Outline(NamedTuple):
    """A pipe as a trench sees it: lengths in metres."""

    kind: str
    title: str
    nominal: str
    od: float
    bore: float

    @property
    def rise(self) -> float:
        """Height of the outside top above the invert [m]."""
        return (self.od + self.bore) / 2


@cache
def rows() -> tuple[Mapping[str, str], ...]:
    """Rows of pipes.csv as text.

    Returns
    -------
    tuple of mapping
        Column to text, in file order.
    """
    import csv

    # pathlib and importlib.resources are dear at start-up
    with open(os.path.join(os.path.dirname(__file__), "pipes.csv"), encoding="utf-8", newline="") as file:  # noqa: PTH118, PTH120, PTH123
        return tuple(csv.DictReader(file))


@cache
def catalogue() -> tuple[Pipe, ...]:
    """Every pipe of the book, as it stands in pipes.csv.

    Returns
    -------
    tuple of Pipe
        In file order; lengths [m].
    """
    return tuple(pipe_of(row) for row in rows())


def outlines() -> tuple[Outline, ...]:
    """Every pipe of the book by its outside and its bore alone.

    Returns
    -------
    tuple of Outline
        In file order; lengths [m].
    """
    return tuple(
        Outline(row["kind"], row["title"], nominal_text(row), float(row["od_in"]) * INCH, float(row["id_in"]) * INCH)
        for row in rows()
    )


def heavy(own: Pipe) -> Pipe | None:
    """The heavy pipe that takes a pipe's place under vehicles and at outlets.

    Parameters
    ----------
    own : Pipe
        The line's pipe.

    Returns
    -------
    Pipe or None
        Schedule 40 of the same nominal size, the pipe itself when it is that; None when the book has none.
    """
    try:
        return pipe(_HEAVY, own.nominal)
    except KeyError:
        return None


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


def nominal_text(row: Mapping[str, str]) -> str:
    """Nominal size of a row as it is printed: 4 in, 1.5 in.

    Parameters
    ----------
    row : mapping
        A row of pipes.csv.

    Returns
    -------
    str
        Size and unit; `nominal`, where a site's own row names a size that no inches name.
    """
    return row.get("nominal") or f"{float(row['nominal_in']):g} in"


def pipe_of(row: Mapping[str, str]) -> Pipe:
    """A row of pipes.csv as a Pipe.

    Parameters
    ----------
    row : mapping
        Column to text.

    Returns
    -------
    Pipe
        Lengths [m].
    """
    from siteplan.values import Pipe

    return Pipe(
        kind=row["kind"],
        title=row["title"],
        nominal=nominal_text(row),
        od=float(row["od_in"]) * INCH,
        bore=float(row["id_in"]) * INCH,
        wall=float(row["wall_in"]) * INCH,
        roughness=float(row["manning_n"]),
        source=f"{row['standard']}; {row['source']} ({row['basis']})",
    )
