"""The tables [pipes], [costs], [trench] and [search] of site.toml in; Laying out, every fault of them gathered."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

from siteplan import units
from siteplan.books.prices import COUPLING, DEFAULT_PRICES, PIPE_PRICES, Prices
from siteplan.books.stock import stocks
from siteplan.errors import InputError, alike_or, read_or_gather
from siteplan.site import Laying
from siteplan.survey.files import said, shown_name
from siteplan.survey.unit_prices import KEY
from siteplan.values.tried import SearchEffort

_FILE = "site.toml"
SECTIONS = ("pipes", "costs", "trench", "search")
MOST_PIPES = 100  # each is weighed along every line
TRENCH_LENGTHS = {
    "frost_depth": "frost",
    "house_backfill_depth": "backfill_depth",
    "wet_layer": "wet_layer",
}  # key in [trench] without its unit, field
TRENCH_WORDS = {
    "house_backfill": ("backfill", ("settled", "fresh")),
    "vehicle": ("vehicle", ("car", "truck")),
    "wet_soil": ("wet_soil", ("mineral", "organic")),
}
LENGTH_UNITS = {"ft": "ft", "in": "in", "m": "m", "mm": "mm"}
MOST_LENGTH = 10.0  # m
SURENESS = (0.5, 0.999)  # least and most share of `certainty`
MOST_PRICE = 1e6
SEARCH_LIMITS = {
    "gap_percent": (0.0, 1000.0),
    "steps": (1.0, 1e6),
    "seconds": (0.1, 86_400.0),
}  # key in [search], least and most


def laying_of(data: Mapping[str, Any], faults: list[InputError]) -> Laying:
    """What site.toml says of pipe, costs and trench.

    Parameters
    ----------
    data : mapping
        The whole of site.toml.
    faults : list of InputError
        Faults are added here.

    Returns
    -------
    Laying
        The defaults where nothing is said; lengths [m].
    """
    tables: dict[str, Mapping[str, Any]] = {}
    for name in SECTIONS:
        value = data.get(name, {})
        if isinstance(value, Mapping):
            tables[name] = value
        else:
            faults.append(InputError(f"{_FILE}, {name}", "is no section", f"Write [{name}] and its keys below it."))
            tables[name] = {}
    if len(tables["pipes"]) > MOST_PIPES:
        faults.append(
            InputError(
                f"{_FILE}, [pipes]",
                f"holds {len(tables['pipes'])} pipes",
                f"Keep those that may be laid here, at most {MOST_PIPES}.",
            )
        )
        tables["pipes"] = {}
    own = _pipes(tables["pipes"], faults)
    kinds = {stock.pipe.kind for stock in stocks(own)}
    prices, pipe_prices, coupling = _costs(tables["costs"], kinds, faults)
    return Laying(
        own_pipes=own,
        prices=prices,
        pipe_prices=pipe_prices,
        coupling=coupling,
        effort=_search(tables["search"], faults),
        **_trench(tables["trench"], faults),
    )


def _pipes(tables: Mapping[str, Any], faults: list[InputError]) -> Mapping[str, Mapping[str, Any]]:
    return {} if read_or_gather(partial(stocks, tables, _FILE), faults) is None else tables


def _costs(
    table: Mapping[str, Any], kinds: set[str], faults: list[InputError]
) -> tuple[Prices, dict[str, float], float]:
    changed: dict[str, float] = {}
    by_kind = dict(PIPE_PRICES)
    coupling = COUPLING
    known = (*Prices._fields, "coupling", "pipe", KEY)
    for key, value in table.items():
        place = f"{_FILE}, [costs] {said(key)}"
        if key == "pipe" and isinstance(value, Mapping):
            for kind, price in value.items():
                at = f"{_FILE}, [costs.pipe] {said(kind)}"
                if kind not in kinds:
                    faults.append(InputError(at, "is no kind of pipe here", alike_or(kind, sorted(kinds))))
                elif (found := _number(price, at, MOST_PRICE, faults)) is not None:
                    by_kind[kind] = found
        elif key == KEY:
            continue  # a table of its own, read by `unit_prices`
        elif key not in known:
            faults.append(InputError(place, "is no cost known here", alike_or(key, known)))
        elif key == "pipe":
            faults.append(InputError(place, "is no table", "Write [costs.pipe] and a price for each kind below it."))
        elif (found := _number(value, place, MOST_PRICE, faults)) is not None:
            if key == "coupling":
                coupling = found
            else:
                changed[key] = found
    return DEFAULT_PRICES._replace(**changed), by_kind, coupling


def _trench(table: Mapping[str, Any], faults: list[InputError]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    known = [*TRENCH_WORDS, "certainty", *(f"{stem}_{suffix}" for stem in TRENCH_LENGTHS for suffix in LENGTH_UNITS)]
    for key, value in table.items():
        place = f"{_FILE}, [trench] {said(key)}"
        stem, _, suffix = key.rpartition("_")
        if key in TRENCH_WORDS:
            name, words = TRENCH_WORDS[key]
            if value not in words:
                faults.append(InputError(place, f"is {shown_name(value)}", f"Write {' or '.join(words)}."))
            else:
                found[name] = value
        elif key == "certainty":
            if isinstance(value, bool) or not isinstance(value, int | float) or not SURENESS[0] <= value <= SURENESS[1]:
                faults.append(
                    InputError(place, f"is {shown_name(value)}", "Give a share from 0.5 (no margin) to 0.999.")
                )
            else:
                found[key] = float(value)
        elif stem in TRENCH_LENGTHS and suffix in LENGTH_UNITS:
            name = TRENCH_LENGTHS[stem]
            if name in found:
                faults.append(InputError(place, "is given twice", "Keep one of the two."))
            elif (number := _number(value, place, MOST_LENGTH / units.LENGTH[suffix], faults)) is not None:
                found[name] = units.to_metres(number, suffix)
        else:
            faults.append(InputError(place, "is not known here", alike_or(key, known)))
    return found


def _search(table: Mapping[str, Any], faults: list[InputError]) -> SearchEffort:
    """When a search over many sources stops."""
    told: dict[str, float] = {}
    for key, value in table.items():
        place = f"{_FILE}, [search] {said(key)}"
        if key not in SEARCH_LIMITS:
            faults.append(InputError(place, "is not known here", alike_or(key, SEARCH_LIMITS)))
            continue
        least, most = SEARCH_LIMITS[key]
        if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
            faults.append(InputError(place, f"is {shown_name(value)}", f"Give a number from {least:g} to {most:g}."))
        elif key == "steps" and not isinstance(value, int):
            faults.append(InputError(place, f"is {shown_name(value)}", "Give a whole number of bundles of sources."))
        else:
            told[key] = value
    usual = SearchEffort()
    return SearchEffort(
        gap=told["gap_percent"] / 100 if "gap_percent" in told else usual.gap,
        steps=int(told.get("steps", usual.steps)),
        seconds=float(told["seconds"]) if "seconds" in told else None,
    )


def _number(value: object, place: str, most: float, faults: list[InputError]) -> float | None:
    # the comparison is false for NaN and for infinities alike
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= most:
        faults.append(InputError(place, f"is {shown_name(value)}", f"Give a number from 0 to {most:.4g}."))
        return None
    return float(value)
