"""Prices of one unit of what a plan takes: placeholders of our own, and the table that a site lays over them."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from functools import cache
from importlib import resources
from typing import NamedTuple

PLACEHOLDER = "placeholder"


class UnitPrice(NamedTuple):
    """One price. `kind` '' holds for every kind; the price is for one `unit` of SI: m, m2, m3 or piece."""

    what: str
    kind: str
    unit: str
    price: float
    basis: str


@cache
def placeholder_prices() -> tuple[UnitPrice, ...]:
    """Figures of ours that stand where nobody gave a price: no source, no money, nobody bids from them.

    Returns
    -------
    tuple of UnitPrice
        One for each sort of thing.
    """
    text = (resources.files("siteplan.books") / "unit_prices.csv").read_text("utf-8")
    rows = csv.DictReader(text.splitlines())
    return tuple(UnitPrice(row["what"], row["kind"], row["unit"], float(row["price"]), row["basis"]) for row in rows)


def price_for(what: str, kind: str, prices: Sequence[UnitPrice]) -> UnitPrice | None:
    """The price of a thing: of its own kind before that of every kind, a site's before a placeholder.

    Parameters
    ----------
    what, kind : str
        Of the thing.
    prices : sequence of UnitPrice
        The site's own.

    Returns
    -------
    UnitPrice or None
        None where neither the site nor the book has one.
    """
    for listed in (prices, placeholder_prices()):
        for wanted in (kind, ""):
            found = next((one for one in listed if (one.what, one.kind) == (what, wanted)), None)
            if found is not None:
                return found
    return None
