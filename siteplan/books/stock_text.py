"""The book of pipes as a person or a program reads it."""

from __future__ import annotations

import json
from collections.abc import Sequence

from siteplan.books.stock import PipeStock
from siteplan.errors import InputError
from siteplan.units import FOOT, INCH, POUND_PER_FOOT, PSI

_HEAD = (
    "kind",
    "size",
    "OD in",
    "ID in",
    "wall in",
    "lb/ft",
    "E psi short/long",
    "stiffness psi",
    "n",
    "lay ft",
    "joint",
)


def chosen(book: Sequence[PipeStock], kind: str | None) -> tuple[PipeStock, ...]:
    """Pipes of one kind, or all.

    Parameters
    ----------
    book : sequence of PipeStock
        Pipes as `stock.stocks` gives them.
    kind : str or None
        Kind asked for.

    Returns
    -------
    tuple of PipeStock
        In the book's order.

    Raises
    ------
    InputError
        If the book has none of that kind.
    """
    found = tuple(entry for entry in book if kind in {None, entry.pipe.kind})
    if not found:
        known = ", ".join(dict.fromkeys(entry.pipe.kind for entry in book))
        raise InputError("--kind", f"is {kind!r}, which the book of pipes does not have", f"Choose from {known}.")
    return found


def pipes_as_text(book: Sequence[PipeStock], kind: str | None = None, *, sources: bool = False) -> str:
    """The book as a table.

    Parameters
    ----------
    book : sequence of PipeStock
        Pipes as `stock.stocks` gives them.
    kind : str, optional
        Only this kind.
    sources : bool
        True: under each kind, where its values come from.

    Returns
    -------
    str
        US units, as the trade buys pipe; one line a pipe.

    Raises
    ------
    InputError
        If the book has none of that kind.
    """
    found = chosen(book, kind)
    table = [_HEAD, *(_row(entry) for entry in found)]
    widths = [max(len(row[column]) for row in table) for column in range(len(_HEAD))]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in table]
    titles = dict.fromkeys((entry.pipe.kind, entry.pipe.title, entry.standard) for entry in found)
    lines += ["", *(f"{name}: {title} ({standard})" for name, title, standard in titles)]
    if sources:
        for entry in found:
            lines += ["", f"{entry.name}", *(f"  {what}: {text}" for what, text in entry.sources)]
    lines += ["", "Minimum or typical values by public standard; the pipe's own print and local code rule."]
    return "\n".join(lines)


def pipes_as_json(book: Sequence[PipeStock], kind: str | None = None) -> str:
    """The book for programs.

    Parameters
    ----------
    book : sequence of PipeStock
        Pipes as `stock.stocks` gives them.
    kind : str, optional
        Only this kind.

    Returns
    -------
    str
        JSON, SI: metres, newtons, pascals.

    Raises
    ------
    InputError
        If the book has none of that kind.
    """
    entries = [
        {
            "kind": entry.pipe.kind,
            "nominal": entry.pipe.nominal,
            "title": entry.pipe.title,
            "standard": entry.standard,
            "material": entry.material,
            "od_m": round(entry.pipe.od, 6),
            "id_m": round(entry.pipe.bore, 6),
            "wall_m": round(entry.pipe.wall, 6),
            "bell_od_m": round(entry.bell, 6),
            "roughness_n": entry.pipe.roughness,
            "weight_n_per_m": round(entry.weight, 4),
            "specific_gravity": entry.specific_gravity,
            "modulus_short_pa": round(entry.modulus_short),
            "modulus_long_pa": round(entry.modulus_long),
            "stiffness_pa": round(entry.stiffness),
            "bending_short_nm2": round(entry.bending_short, 4),
            "bending_long_nm2": round(entry.bending_long, 4),
            "bending_factor": entry.bending_factor,
            "ring_limit": entry.ring_limit,
            "stress_limit_pa": None if entry.stress_limit is None else round(entry.stress_limit),
            "joints": list(entry.joints),
            "joint_turn_deg": entry.joint_turn,
            "lay_length_m": round(entry.lay_length, 4),
            "sources": dict(entry.sources),
        }
        for entry in chosen(book, kind)
    ]
    return json.dumps({"pipes": entries}, indent=2, allow_nan=False)


def _row(entry: PipeStock) -> tuple[str, ...]:
    pipe = entry.pipe
    return (
        pipe.kind,
        pipe.nominal,
        f"{pipe.od / INCH:.3f}",
        f"{pipe.bore / INCH:.3f}",
        f"{pipe.wall / INCH:.3f}",
        f"{entry.weight / POUND_PER_FOOT:.2f}",
        f"{entry.modulus_short / PSI:.0f}/{entry.modulus_long / PSI:.0f}",
        f"{entry.stiffness / PSI:.0f}",
        f"{pipe.roughness:g}",
        f"{entry.lay_length / FOOT:.0f}",
        " or ".join(entry.joints),
    )
