"""Plan in; what it takes, as rows in the site's units for a spreadsheet and the map, out."""

from __future__ import annotations

import csv
import io
from typing import NamedTuple

from siteplan import units
from siteplan.books.unit_prices import PLACEHOLDER
from siteplan.sheets.schedule import safe_cell
from siteplan.sheets.stakes import pipe_words
from siteplan.sheets.wording import one_line
from siteplan.values.laid_pipe import Pipe
from siteplan.values.quantities_taken import Quantity
from siteplan.values.whole_plan import Plan

_CALLED = {
    "pipe": "Pipe",
    "sticks": "Sticks of that pipe, no waste counted",
    "sleeve": "Sleeve",
    "bend": "Bend",
    "turned_pair": "Pair of 22.5 degree bends",
    "wye": "Wye",
    "grade_break": "Fitting at a change of grade",
    "cleanout": "Cleanout",
    "tie_in": "Wye cut into an old pipe",
    "coupling": "Coupling between kinds of pipe",
    "check_valve": "Check valve",
    "reducer": "Reducer or box at the curb",
    "curb_opening": "Opening in the curb",
    "excavation": "Digging",
    "bedding": "Bedding under the pipe",
    "stone": "Stone",
    "backfill": "Backfill with what was dug",
    "spoil": "Soil left over",
    "pavement": "Pavement to cut and restore",
    "concrete": "Concrete, where that pavement is concrete",
    "lawn": "Lawn over the trench",
}
_HEAD = ("what", "kind", "amount", "unit", "unit_price", "cost", "price_basis")


class QuantityRow(NamedTuple):
    """One quantity as printed."""

    what: str
    kind: str
    amount: str
    unit: str
    price: str
    cost: str
    basis: str


def quantity_rows(plan: Plan) -> tuple[QuantityRow, ...]:
    """What a plan takes, as printed.

    Parameters
    ----------
    plan : Plan
        As stored.

    Returns
    -------
    tuple of QuantityRow
        In the order of the work. Volumes are those of undisturbed ground; a price is for one of the unit printed.
    """
    return tuple(_row(one, plan.length_unit, _pipes(plan)) for one in plan.quantities)


def quantities_csv(plan: Plan) -> bytes:
    """What a plan takes, for a spreadsheet.

    Parameters
    ----------
    plan : Plan
        As stored; one without lines gives the header row alone.

    Returns
    -------
    bytes
        CSV (RFC 4180) in UTF-8; text that a spreadsheet would take for a formula has an apostrophe before it.
    """
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(_HEAD)
    for row in quantity_rows(plan):
        writer.writerow([safe_cell(cell) for cell in row])
    written = text.getvalue()
    return written.encode("ascii") if written.isascii() else b"\xef\xbb\xbf" + written.encode("utf-8", "replace")


def prices_note(plan: Plan) -> str:
    """What the prices are worth, in one sentence; empty where nothing is priced.

    Parameters
    ----------
    plan : Plan
        As stored.

    Returns
    -------
    str
        Says how many are placeholders.
    """
    priced = [one for one in plan.quantities if one.price is not None]
    invented = sum(one.basis == PLACEHOLDER for one in priced)
    if not priced:
        return ""
    if invented == len(priced):
        return (
            "The prices are placeholders of our own, no money and no source: nobody bids from them. [costs] "
            "unit_prices in site.toml names a table of yours."
        )
    if invented:
        return f"{invented} of {len(priced)} prices are placeholders of our own, no money and no source."
    return "Prices by the site's own table."


def _pipes(plan: Plan) -> list[Pipe]:
    found = []
    for line in plan.every_line:
        found.append(line.pipe)
        for reach in line.reaches:
            found += [reach.pipe, *([reach.sleeve.pipe] if reach.sleeve is not None else [])]
        found += [line.curb_piece.pipe] if line.curb_piece is not None else []
    return found


def _sort_words(one: Quantity, unit: str, laid: list[Pipe]) -> str:
    """Which of its sort, in words: a pipe by size and kind, a fitting by size and angle.

    As stored where a plan tells no parts.
    """
    sort = one.sort

    def pipe(kind: str, nominal: str) -> str:
        of_it = (pipe for pipe in laid if (pipe.kind, pipe.nominal) == (kind, nominal))
        return next((pipe_words(pipe, unit) for pipe in of_it), f"{kind} {nominal}")

    if sort.pipe:
        return " to ".join(pipe(*part) for part in ((sort.pipe, sort.nominal), sort.onto) if part is not None)
    if sort.nominal:
        # a fitting is told by its size alone: the outside of the first pipe of that size says which
        outside = next((pipe.od for pipe in laid if pipe.nominal == sort.nominal), None)
        size = sort.nominal if outside is None else units.size_text(sort.nominal, outside, unit)
        return size if sort.angle is None else f"{size} {sort.angle:g} degrees"
    return sort.word or one.kind


def _row(one: Quantity, unit: str, laid: list[Pipe]) -> QuantityRow:
    amount, called = units.amount_in(one.amount, one.unit, unit)
    per = units.amount_in(1.0, one.unit, unit)[0]
    digits = 0 if one.unit == "piece" else 1 if one.unit in {"m", "m2"} else 2
    shown = f"{amount:.{digits}f}"
    price = "" if one.price is None else f"{one.price / per:.2f}"
    return QuantityRow(
        _CALLED[one.what],
        one_line(_sort_words(one, unit, laid)).replace("_", " "),
        shown,
        called,
        price,
        "" if one.price is None else f"{float(shown) * float(price):.2f}",
        one_line(one.basis),
    )
