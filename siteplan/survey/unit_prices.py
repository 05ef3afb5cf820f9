"""A site's table of unit prices in; prices for one unit of SI out."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from siteplan import units
from siteplan.books.unit_prices import UnitPrice, placeholder_prices
from siteplan.errors import InputError, alike_or
from siteplan.survey.files import number_in, path_inside, said
from siteplan.survey.typed_text import cells_of, numbered_lines, separator_of

KEY = "unit_prices"
_COLUMNS = ("what", "kind", "unit", "price", "dated")
_MOST = 1e7
_MOST_ROWS = 500
# units that a price may be for, by the unit of SI that the thing is counted in: how many of SI one of them is
_UNITS: Mapping[str, Mapping[str, float]] = {
    "m": {"m": 1.0, "ft": units.FOOT},
    "m2": {"m2": 1.0, "sq ft": units.FOOT**2, "sq yd": 9 * units.FOOT**2},
    "m3": {"m3": 1.0, "cu ft": units.FOOT**3, "cu yd": 27 * units.FOOT**3},
    "piece": {"piece": 1.0, "each": 1.0},
}


def read_unit_prices(
    folder: Path, data: Mapping[str, Any], faults: list[InputError]
) -> tuple[tuple[UnitPrice, ...], Path | None]:
    """The prices that a site gives.

    Parameters
    ----------
    folder : Path
        The site folder.
    data : mapping
        site.toml; [costs] unit_prices names the table.
    faults : list of InputError
        Faults are added here.

    Returns
    -------
    tuple
        Prices in the order of the table, each with its file and date as basis; and the file. Empty and None where none
        is named.
    """
    costs = data.get("costs")
    if not isinstance(costs, Mapping) or KEY not in costs:
        return (), None
    try:
        path = path_inside(folder, costs[KEY], f"site.toml, [costs] {KEY}")
        return _prices(path, faults), path
    except InputError as fault:
        faults.append(fault)
        return (), None


def _prices(path: Path, faults: list[InputError]) -> tuple[UnitPrice, ...]:
    shown = said(path.name)
    lines = tuple((number, line) for number, line in numbered_lines(path, shown) if not line.lstrip().startswith("#"))
    mark = separator_of(lines, 4) if lines else None
    if mark is None:
        raise InputError(
            shown, "is no table of prices", f"Give a header {','.join(_COLUMNS)} and a row for each price."
        )
    head = [cell.strip().lower() for cell in cells_of(lines[0][1], mark)]
    if not set(head) <= set(_COLUMNS) or not {"what", "unit", "price"} <= set(head) or len(set(head)) < len(head):
        raise InputError(
            f"{shown}, row {lines[0][0]}",
            f"is no header of prices: {said(lines[0][1], 60)}",
            f"Write {','.join(_COLUMNS)}.",
        )
    if len(lines) > _MOST_ROWS:
        raise InputError(shown, f"holds {len(lines)} rows", f"Keep the prices of this site, at most {_MOST_ROWS}.")
    found: list[UnitPrice] = []
    for number, line in lines[1:]:
        row = dict(zip(head, cells_of(line, mark), strict=False))
        one = _price(row, shown, number, faults)
        if one is not None and any((one.what, one.kind) == (other.what, other.kind) for other in found):
            faults.append(
                InputError(f"{shown}, row {number}", f"prices {one.what} {one.kind} a second time", "Keep one.")
            )
        elif one is not None:
            found.append(one)
    return tuple(found)


def _price(row: Mapping[str, str], shown: str, number: int, faults: list[InputError]) -> UnitPrice | None:
    counted = {one.what: one.unit for one in placeholder_prices()}
    what, unit = row.get("what", ""), row.get("unit", "").lower()
    where = f"{shown}, row {number}"
    if what not in counted:
        faults.append(InputError(f"{where}, what", f'is "{said(what, 40)}"', alike_or(what, counted)))
        return None
    offered = _UNITS[counted[what]]
    if unit not in offered:
        faults.append(InputError(f"{where}, unit", f'is "{said(unit, 40)}"', f"Write {' or '.join(offered)}."))
        return None
    price = number_in(row.get("price", ""))
    if price is None or not 0 <= price <= _MOST:
        faults.append(
            InputError(
                f"{where}, price", f'is "{said(row.get("price", ""), 40)}"', f"Give a number from 0 to {_MOST:.0f}."
            )
        )
        return None
    dated = said(row.get("dated", ""), 20)
    return UnitPrice(
        what, said(row.get("kind", ""), 60), counted[what], price / offered[unit], f"{shown}, {dated or 'not dated'}"
    )
