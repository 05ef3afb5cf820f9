"""The book of pipes: pipes.csv and a site's own [pipes] in.

By kind and size an outline, a Pipe, its strengths, its roughness, out.

One row a size. Strengths are empty where they are not known: such a pipe is sized and laid, and wheels, bedding and
bellies are not judged there. Sizes are texts with their unit, '4 in' or 'DN 110', and are never read as numbers.
Quick commands ask `outlines` for the few figures they need: it builds no Pipe and imports nothing heavy.
"""

from __future__ import annotations

import os
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

from siteplan.books.practice import SMALLEST_BORE
from siteplan.units import INCH, MILLIMETRE

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any

    from siteplan.books.stock import PipeStock
    from siteplan.values.laid_pipe import Pipe

    OwnPipes = Mapping[str, Mapping[str, Any]]

DEFAULT = ("pvc_sdr35", "4 in")
HEAVY = "pvc_sch40"
LENGTH_UNITS = (("_in", INCH), ("_mm", MILLIMETRE))  # a length of a row stands in one of the two columns
STRENGTH = "pipe_stiffness_psi"  # a row with it has every strength; `stock` sees to that


class Outline(NamedTuple):
    """A pipe as a trench sees it: lengths in metres."""

    kind: str
    title: str
    nominal: str
    od: float
    bore: float
    bell: float | None  # outside diameter of bell or coupling; None: not known

    @property
    def rise(self) -> float:
        """Height of the outside top above the invert [m]."""
        return (self.od + self.bore) / 2


class Roughness(NamedTuple):
    """Manning n of a kind of pipe, new and after years in the ground, and the range in print [s/m^(1/3)]."""

    kind: str
    new: float
    aged: float
    low: float
    high: float
    source: str  # 'basis: source'


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


def rows_with(own: OwnPipes | None = None) -> tuple[Mapping[str, str], ...]:
    """Rows of the book with a site's own pipes laid on top.

    Parameters
    ----------
    own : mapping of str to mapping, optional
        The site's [pipes] tables.

    Returns
    -------
    tuple of mapping
        Column to text: in file order, then the site's in the order given; one of the same kind and size replaces the
        book's.

    Raises
    ------
    InputError, InputErrors
        As `stock.read_own`.
    """
    if not own:
        return rows()
    from siteplan.books.stock import read_own

    return read_own(own)


def length_in_book(row: Mapping[str, str], what: str) -> float:
    """A length of a row.

    Parameters
    ----------
    row : mapping
        Column to text.
    what : str
        od, id, wall, bell_od or displaced_dia.

    Returns
    -------
    float
        From its column in inches or in millimetres [m].

    Raises
    ------
    KeyError
        If neither is filled.
    """
    for suffix, unit in LENGTH_UNITS:
        if row.get(what + suffix):
            return float(row[what + suffix]) * unit
    raise KeyError(f"no {what} of {row['kind']} {row['nominal']}")


def has_strength(row: Mapping[str, str]) -> bool:
    """Whether the book knows what loads and bending ask of a row's pipe.

    Parameters
    ----------
    row : mapping
        Column to text.

    Returns
    -------
    bool
        All strengths or none.
    """
    return bool(row.get(STRENGTH))


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
    """Every pipe of the book by its outside, its bore and its bell alone.

    Returns
    -------
    tuple of Outline
        In file order; lengths [m].
    """
    return tuple(
        Outline(
            kind=row["kind"], title=row["title"], nominal=row["nominal"], od=length_in_book(row, "od"), bore=length_in_book(row, "id"),
            bell=length_in_book(row, "bell_od") if has_strength(row) else None,
        )
        for row in rows()
    )  # fmt: skip


def outline_in_book(kind: str, size: str) -> Outline | None:
    """A pipe of the book as somebody types it.

    Parameters
    ----------
    kind : str
        Kind, such as 'pvc_sdr35'.
    size : str
        Nominal size, such as '4 in', '4' or 'DN 110'; without a unit it is inches.

    Returns
    -------
    Outline or None
        Lengths [m]; None where the book has none such.
    """
    typed = size.strip()
    names = {typed, f"{typed.removesuffix('in').strip()} in"}
    return next((one for one in outlines() if one.kind == kind and one.nominal in names), None)


def sizes(kind: str, own: OwnPipes | None = None) -> tuple[Pipe, ...]:
    """Every size of one kind of pipe.

    Parameters
    ----------
    kind : str
        Kind, such as 'pvc_sdr35' or 'pvc_metric'.
    own : mapping of str to mapping, optional
        The site's [pipes] tables.

    Returns
    -------
    tuple of Pipe
        Smallest bore first; lengths [m].

    Raises
    ------
    KeyError
        If neither the book nor the site has such a kind.
    """
    found = [pipe_of(row) for row in rows_with(own) if row["kind"] == kind]
    if not found:
        raise KeyError(f"no pipe of kind {kind}")
    return tuple(sorted(found, key=lambda entry: entry.bore))


def smallest(kind: str, nominal: str | None = None, own: OwnPipes | None = None) -> Pipe:
    """The smallest pipe that a line is laid in.

    Parameters
    ----------
    kind : str
        Of pipe.
    nominal : str or None
        The size that the site names for it; None: the least of the kind that lines are laid in.
    own : mapping, optional
        The site's own pipes.

    Returns
    -------
    Pipe
        The least of the kind where none is large enough.
    """
    every = sizes(kind, own)
    fit = [one for one in every if (one.nominal == nominal if nominal else one.bore >= SMALLEST_BORE)]
    return (fit or list(every))[0]


def kinds(own: OwnPipes | None = None) -> tuple[str, ...]:
    """Every kind of pipe.

    Parameters
    ----------
    own : mapping of str to mapping, optional
        The site's [pipes] tables.

    Returns
    -------
    tuple of str
        In the order of the book, then the site's own.
    """
    return tuple(dict.fromkeys(row["kind"] for row in rows_with(own)))


def found(kind: str, nominal: str, own: OwnPipes | None = None) -> Pipe | None:
    """A pipe by kind and size.

    Parameters
    ----------
    kind, nominal : str
        Such as 'pvc_sdr35' and '4 in'.
    own : mapping of str to mapping, optional
        The site's [pipes] tables.

    Returns
    -------
    Pipe or None
        None where there is none such.
    """
    row = _row(kind, nominal, own) if own else None
    if row is not None:
        return pipe_of(row)
    try:
        return pipe(kind, nominal)
    except KeyError:
        return None


def strength(kind: str, nominal: str, own: OwnPipes | None = None) -> PipeStock | None:
    """What loads, bending and joints ask of a pipe.

    Parameters
    ----------
    kind, nominal : str
        Such as 'pvc_sdr35' and '4 in'.
    own : mapping of str to mapping, optional
        The site's [pipes] tables.

    Returns
    -------
    PipeStock or None
        None where there is no such pipe, or its strengths are not known.
    """
    from siteplan.books.stock import stock, stocks

    try:
        return stock(kind, nominal, stocks(own))
    except KeyError:
        return None


def roughness_of(kind: str, own: OwnPipes | None = None) -> Roughness:
    """Manning n of one kind of pipe, new and aged.

    Parameters
    ----------
    kind : str
        Kind, such as 'pvc_sdr35'.
    own : mapping of str to mapping, optional
        The site's [pipes] tables.

    Returns
    -------
    Roughness
        That of the kind's first row that has it, the book's before the site's [s/m^(1/3)].

    Raises
    ------
    KeyError
        If nothing is known of such a kind.
    """
    entry = _roughness(rows()).get(kind) or (_roughness(rows_with(own)).get(kind) if own else None)
    if entry is None:
        raise KeyError(f"no roughness for pipe kind {kind}; known: {', '.join(_roughness(rows()))}")
    return entry


def heavy(own: Pipe) -> Pipe | None:
    """The heavy pipe that takes a pipe's place under vehicles and at outlets.

    Parameters
    ----------
    own : Pipe
        The line's pipe.

    Returns
    -------
    Pipe or None
        Schedule 40 of the same nominal size, the pipe itself when it is that; None when the book knows no strength of
        one.
    """
    row = _row(HEAVY, own.nominal)
    return None if row is None or not has_strength(row) else pipe_of(row)


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
    from siteplan.values.laid_pipe import Pipe

    return Pipe(
        kind=row["kind"],
        title=row["title"],
        nominal=row["nominal"],
        od=length_in_book(row, "od"),
        bore=length_in_book(row, "id"),
        wall=length_in_book(row, "wall"),
        roughness=float(row["manning_n"]),
        source=f"{row['standard']}; {row['source']} ({row['basis']})",
    )


def _row(kind: str, nominal: str, own: OwnPipes | None = None) -> Mapping[str, str] | None:
    return next((row for row in rows_with(own) if row["kind"] == kind and row["nominal"] == nominal), None)


def _roughness(book: tuple[Mapping[str, str], ...]) -> dict[str, Roughness]:
    """The first row of each kind that knows its pipe new and aged."""
    out: dict[str, Roughness] = {}
    for row in book:
        if row["kind"] not in out and row.get("n_new") and row.get("n_aged"):
            new, aged = float(row["n_new"]), float(row["n_aged"])
            low, high = float(row.get("n_low") or new), float(row.get("n_high") or aged)
            out[row["kind"]] = Roughness(row["kind"], new, aged, low, high, row.get("n_source", ""))
    return out
