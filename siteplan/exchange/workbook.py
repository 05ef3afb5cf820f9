"""A plan in; an .xlsx workbook out: cut sheet with live rods, schedule, quantities with price cells, checks, rules, sources.

Every text is written as text: nothing that a user named acts as a formula. Every head names its unit.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from siteplan import units
from siteplan.books.fittings import fitting_words
from siteplan.exchange.layers import PlanLayer, Value, plan_layers
from siteplan.sheets.coordinates import survey_places, survey_system
from siteplan.sheets.geopackage import UNDATED
from siteplan.sheets.quantities import prices_note, quantity_rows
from siteplan.sheets.schedule import laid_here
from siteplan.stored.folder_of import StoredPlan
from siteplan.values import Line, Plan

_HI = "$B$3"
_FIRST = 6  # row of the first stake, from 0
_MARK = {"ft": "ft", "us-ft": "US survey ft", "m": "m"}


def plan_workbook(stored: StoredPlan, date: str | None = None) -> bytes:
    """A plan as a workbook.

    Parameters
    ----------
    stored : StoredPlan
        With its record, for the rules in force.
    date : str, optional
        ISO, stands in the file's properties; the plan's own where absent.

    Returns
    -------
    bytes
        Office Open XML, the same for the same input.
    """
    from xlsxwriter import Workbook

    plan, content = stored.plan, io.BytesIO()
    book = Workbook(
        content,
        {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False},
    )
    day = datetime.fromisoformat(date or plan.stamp or UNDATED).replace(tzinfo=UTC)
    book.set_properties({"title": plan.site_name, "created": day.replace(tzinfo=None)})
    looks = {
        "head": book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1}),
        "title": book.add_format({"bold": True, "font_size": 14}),
        "given": book.add_format(
            {"bg_color": "#fff4cc", "border": 1, "num_format": "0.000" if plan.elevation_unit == "m" else "0.00"}
        ),
        "fine": book.add_format({"num_format": "0.000" if plan.length_unit == "m" else "0.00"}),
        "wrap": book.add_format({"text_wrap": True, "valign": "top"}),
    }
    _cut_sheet(book, plan, looks)
    layers = {layer.name: layer for layer in plan_layers(plan)}
    _quantities(book, plan, looks)
    for name, title in (("stations", "Schedule"), ("pipes", "Pipe runs"), ("checks", "Checks")):
        if name in layers:
            _table(book, title, layers[name], looks)
    _records(book, "Rules", _rules(stored.record), looks)
    for name, title in (("sources", "Sources"), ("outlets", "Outlets")):
        if name in layers:
            _table(book, title, layers[name], looks)
    told = [{"said": text} for text in (*plan.assumptions, *plan.cautions)]
    _records(book, "Assumed and cautions", told, looks)
    book.close()
    return content.getvalue()


def _cut_sheet(book: Any, plan: Plan, looks: Mapping[str, Any]) -> None:
    """Rods by today's height of instrument: one cell is typed, every rod follows."""
    page = book.add_worksheet("Cut sheet")
    level, short = _MARK[plan.elevation_unit], _MARK[plan.length_unit]
    system = survey_system(plan)
    page.write_string(0, 0, plan.site_name, looks["title"])
    page.write_string(
        1,
        0,
        "Type today's height of instrument in the yellow cell: every rod below follows. Shoot a benchmark first and again at the end.",
    )
    page.write_string(2, 0, f"HI, {level}")
    page.write_blank(2, 1, None, looks["given"])
    axes = [f"{axis}, {system.unit_name}, {system.name}" for axis in system.axes]
    heads = [
        "line", f"station, {short}", "station", *axes, f"ground, {level}", f"invert, {level}", f"trench bottom, {level}",
        f"top of pipe, {level}", f"cut to trench bottom, {short}", f"ROD on trench bottom, {level}", f"ROD on top of pipe, {level}", "pipe", "point",
    ]  # fmt: skip
    for column, head in enumerate(heads):
        page.write_string(_FIRST - 1, column, head, looks["head"])
    at = _FIRST
    per, lift = units.LENGTH[plan.length_unit], units.LENGTH[plan.elevation_unit]
    for line in plan.every_line:
        east, north = survey_places(plan, [row.x for row in line.rows], [row.y for row in line.rows])
        for row, x, y in zip(line.rows, east, north, strict=True):
            bottom = (row.ground - row.cut) / lift
            top = (row.invert + (line.pipe.rise if row.pipe_top is None else row.pipe_top)) / lift
            cells: list[Value] = [
                line.id, row.station / per, units.station_text(row.station, plan.length_unit), float(x), float(y), row.ground / lift,
                row.invert / lift, bottom, top, row.cut / per,
            ]  # fmt: skip
            for column, value in enumerate(cells):
                _cell(page, at, column, value, looks)
            for column, of in ((10, "H"), (11, "I")):
                page.write_formula(at, column, f'=IF({_HI}="","",ROUND({_HI}-{of}{at + 1},4))', looks["fine"], "")
            _cell(page, at, 12, laid_here(line, row.station, plan.length_unit)[0], looks)
            _cell(page, at, 13, _point(line, row.station) or row.note, looks)
            at += 1
    page.freeze_panes(_FIRST, 3)
    page.set_column(0, 0, 8)
    page.set_column(1, 11, 12)
    page.set_column(12, 13, 34)
    page.set_landscape()
    page.fit_to_pages(1, 0)
    page.repeat_rows(_FIRST - 1)


def _point(line: Line, station: float) -> str:
    vertex = min(line.vertices, key=lambda one: abs(one.station - station))
    return fitting_words(vertex.fittings) if abs(vertex.station - station) < 1e-3 else ""


def _quantities(book: Any, plan: Plan, looks: Mapping[str, Any]) -> None:
    page = book.add_worksheet("Quantities")
    page.write_string(0, 0, prices_note(plan))
    for column, head in enumerate(
        ("what", "kind", "amount", "unit", "price of one unit, your money", "cost, your money")
    ):
        page.write_string(2, column, head, looks["head"])
    total = 0.0
    for at, (row, one) in enumerate(zip(quantity_rows(plan), plan.quantities, strict=True), start=3):
        amount, unit = units.amount_in(one.amount, one.unit, plan.length_unit)
        cells: tuple[Value, ...] = (row.what, row.kind, amount, unit)
        for column, value in enumerate(cells):
            _cell(page, at, column, value, looks)
        if one.price is None:
            page.write_blank(at, 4, None, looks["given"])
            cost: float | str = ""
        else:
            price = one.price / units.amount_in(1.0, one.unit, plan.length_unit)[0]
            page.write_number(at, 4, price, looks["given"])
            cost = amount * price
            total += cost
        page.write_formula(at, 5, f'=IF(E{at + 1}="","",C{at + 1}*E{at + 1})', looks["fine"], cost)
    last = 3 + len(plan.quantities)
    if plan.quantities:
        page.write_string(last, 0, "all", looks["head"])
        page.write_formula(last, 5, f"=SUM(F4:F{last})", looks["fine"], total)
    page.set_column(0, 1, 30)
    page.set_column(2, 5, 16)


def _table(book: Any, title: str, layer: PlanLayer, looks: Mapping[str, Any]) -> None:
    _records(book, title, [values for _, values in layer.rows], looks, [key for key in layer.columns if key != "kind"])


def _records(
    book: Any,
    title: str,
    rows: Iterable[Mapping[str, Value]],
    looks: Mapping[str, Any],
    keys: Sequence[str] | None = None,
) -> None:
    held = list(rows)
    page = book.add_worksheet(title)
    heads = list(keys or dict.fromkeys(key for row in held for key in row))
    for column, head in enumerate(heads):
        page.write_string(0, column, head.replace("_", " "), looks["head"])
    for at, row in enumerate(held, start=1):
        for column, key in enumerate(heads):
            _cell(page, at, column, row.get(key), looks)
    page.freeze_panes(1, 0)
    page.set_column(0, max(len(heads) - 1, 0), 16)
    page.set_column(len(heads) - 1, len(heads) - 1, 90 if title in {"Checks", "Assumed and cautions"} else 24)


def _cell(page: Any, at: int, column: int, value: Value, looks: Mapping[str, Any]) -> None:
    if value is None or value == "" or (isinstance(value, float) and not math.isfinite(value)):
        return
    if isinstance(value, bool):
        page.write_boolean(at, column, value)
    elif isinstance(value, int | float):
        page.write_number(at, column, value, looks["fine"] if isinstance(value, float) else None)
    else:
        page.write_string(at, column, value, looks["wrap"])


def _rules(record: Mapping[str, Any]) -> list[Mapping[str, Value]]:
    listed = record.get("rules")
    keys = ("id", "title", "limit", "unit", "broken", "authority", "source", "dated", "applies", "caution")
    return [
        {key: one[key] for key in keys if isinstance(one.get(key), str | int | float | bool)}
        for one in (listed if isinstance(listed, list) else [])
        if isinstance(one, Mapping)
    ]
