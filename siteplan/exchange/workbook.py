"""A plan in; an .xlsx workbook out.

Cut sheet with live rods, schedule, quantities with price cells, checks, rules, sources.

Every text is written as text: nothing that a user named acts as a formula. Every head names its unit.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from siteplan import units
from siteplan.books.practice import ROD_REACH
from siteplan.exchange.layers import PlanLayer, Value, plan_layers
from siteplan.sheets.coordinates import survey_places, survey_system
from siteplan.sheets.geopackage import UNDATED
from siteplan.sheets.quantities import prices_note, quantity_rows
from siteplan.sheets.schedule import laid_here, printed_rows, schedule_table
from siteplan.sheets.stakes import stakes
from siteplan.sheets.wording import one_line, titled
from siteplan.stored.folder_of import StoredPlan
from siteplan.values.whole_plan import Plan

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
    _schedule(book, plan, looks)
    if "pipes" in layers:
        _table(book, "Pipe runs", layers["pipes"], looks)
    _records(book, "Checks", _checks(plan), looks, _CHECK_HEADS)
    _records(book, "Rules", _rules(stored.record, plan.length_unit), looks, _RULE_HEADS)
    for name, title in (("sources", "Sources"), ("outlets", "Outlets")):
        if name in layers:
            _table(book, title, layers[name], looks)
    told = [{"said": text} for text in (*plan.assumptions, *plan.cautions)]
    _records(book, "Assumed and cautions", told, looks)
    book.close()
    return content.getvalue()


def _cut_sheet(book: Any, plan: Plan, looks: Mapping[str, Any]) -> None:
    """Rods by today's height of instrument: one cell is typed, every rod follows.

    Elevations stand as they are printed, no digit behind those shown: a pencil finds every rod, and so does the printed
    cut sheet.
    """
    page = book.add_worksheet("Cut sheet")
    level, short = _MARK[plan.elevation_unit], _MARK[plan.length_unit]
    digits = 3 if plan.elevation_unit == "m" else 2
    system = survey_system(plan)
    page.write_string(0, 0, titled(plan), looks["title"])
    page.write_string(
        1,
        0,
        (
            "Type today's height of instrument in the yellow cell: every rod below follows. Shoot a benchmark "
            "first and again at the end."
        ),
    )
    page.write_string(2, 0, f"HI, {level}")
    page.write_blank(2, 1, None, looks["given"])
    axes = [f"{axis}, {system.unit_name}, {system.name}" for axis in system.axes]
    heads = [
        "line",
        f"station, {short}",
        "station",
        *axes,
        f"ground, {level}",
        f"invert, {level}",
        f"trench bottom, {level}",
        f"top of pipe, {level}",
        f"cut to trench bottom, {short}",
        f"ROD on trench bottom, {level}",
        f"ROD on top of pipe, {level}",
        *(() if plan.length_unit == "m" else ("cut, ft and in",)),
        "within reach of a rod",
        "pipe",
        "what is here",
    ]
    for column, head in enumerate(heads):
        page.write_string(_FIRST - 1, column, head, looks["head"])
    at, rod = _FIRST, round(units.from_metres(ROD_REACH, plan.elevation_unit), 2)
    for line in plan.every_line:
        for stake, shown in zip(stakes(plan, line), printed_rows(plan, line), strict=True):
            row = stake.row
            east, north = (float(place[0]) for place in survey_places(plan, [row.x], [row.y]))
            cells: list[Value] = [
                line.id,
                _number(shown.distance),
                shown.station,
                round(east, system.digits),
                round(north, system.digits),
                _number(shown.ground),
                _number(shown.invert),
                _number(shown.bottom),
                _number(shown.top),
                _number(shown.cut),
            ]
            for column, value in enumerate(cells):
                _cell(page, at, column, value, looks)
            for column, of in ((10, "H"), (11, "I")):
                formula = f'=IF({_HI}="","",ROUND(ROUND({_HI},{digits})-{of}{at + 1},{digits}))'
                if shown.bottom or of == "I":
                    page.write_formula(at, column, formula, looks["fine"], "")
            reach = (
                f'=IF({_HI}="","",IF(MIN(K{at + 1},L{at + 1})<0,"above the beam",IF(K{at + 1}>{rod:g},"rod too '
                'short","")))'
            )
            column = 12
            if plan.length_unit != "m":
                _cell(page, at, column, shown.cut_text, looks)
                column += 1
            page.write_formula(at, column, reach, None, "")
            _cell(page, at, column + 1, laid_here(line, row.station, plan.length_unit)[0], looks)
            _cell(page, at, column + 2, stake.text, looks)
            at += 1
    page.freeze_panes(_FIRST, 3)
    page.set_column(0, 0, 8)
    page.set_column(1, 13, 12)
    page.set_column(len(heads) - 2, len(heads) - 2, 24)
    page.set_column(len(heads) - 1, len(heads) - 1, 60)
    page.set_landscape()
    page.fit_to_pages(1, 0)
    page.repeat_rows(_FIRST - 1)


def _number(printed: str) -> float | None:
    """A printed figure as a number; None where it is not known."""
    return float(printed) if printed else None


def _schedule(book: Any, plan: Plan, looks: Mapping[str, Any]) -> None:
    """The trench schedule as its file has it, its figures as numbers."""
    page = book.add_worksheet("Schedule")
    table = schedule_table(plan)
    for column, name in enumerate(table.head):
        page.write_string(0, column, name.replace("_", " "), looks["head"])
    for at, row in enumerate(table.rows, start=1):
        for column, cell in enumerate(row):
            _cell(page, at, column, _number(cell) if column in table.figures else one_line(cell), looks)
    page.freeze_panes(1, 3)
    page.set_column(0, len(table.head) - 1, 16)


def _quantities(book: Any, plan: Plan, looks: Mapping[str, Any]) -> None:
    page = book.add_worksheet("Quantities")
    page.write_string(0, 0, prices_note(plan))
    for column, head in enumerate(
        ("what", "kind", "amount", "unit", "price of one unit, your money", "cost, your money")
    ):
        page.write_string(2, column, head, looks["head"])
    total = 0.0
    # amounts and prices as quantities.csv prints them, so that the one adds up as the other does
    for at, row in enumerate(quantity_rows(plan), start=3):
        cells: tuple[Value, ...] = (row.what, row.kind, _number(row.amount), row.unit)
        for column, value in enumerate(cells):
            _cell(page, at, column, value, looks)
        if row.price:
            page.write_number(at, 4, float(row.price), looks["given"])
        else:
            page.write_blank(at, 4, None, looks["given"])
        cost: float | str = round(float(row.amount) * float(row.price), 2) if row.price else ""
        total += cost if isinstance(cost, float) else 0.0
        page.write_formula(at, 5, f'=IF(E{at + 1}="","",ROUND(C{at + 1}*E{at + 1},2))', looks["fine"], cost)
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


_CHECK_HEADS = (
    "rule",
    "subject",
    "status",
    "value, in its unit",
    "limit, in its unit",
    "doubt, in its unit",
    "unit",
    "where",
    "message",
)
_RULE_HEADS = (
    "id",
    "title",
    "sense",
    "limit, in its unit",
    "unit",
    "broken",
    "authority",
    "source",
    "dated",
    "applies",
    "caution",
)


def _checks(plan: Plan) -> list[Mapping[str, Value]]:
    found: list[Mapping[str, Value]] = []
    for one in plan.findings:
        value, limit, doubt = (
            _shown(figure, one.unit, plan.length_unit) for figure in (one.value, one.limit, one.doubt)
        )
        figures = dict(zip(_CHECK_HEADS[3:6], (value, limit, doubt), strict=True))
        told = {
            "rule": one.rule,
            "subject": one.subject,
            "status": one.status,
            "where": one.where,
            "message": one.message,
        }
        found.append({**told, **figures, "unit": _UNITS[plan.length_unit].get(one.unit, one.unit)})
    return found


# how lengths, speeds and flows of checks and rules are named beside their figures
_UNITS: Mapping[str, Mapping[str, str]] = {
    "ft": {"m": "ft", "m/s": "ft/s", "lps": "gpm"},
    "us-ft": {"m": "US survey ft", "m/s": "US survey ft/s", "lps": "gpm"},
    "m": {"lps": "L/s"},
}


def _shown(value: float | None, unit: str, length_unit: str) -> float | None:
    """A figure of plan.json in the site's own unit."""
    if value is None or not math.isfinite(value):
        return None
    if unit in {"m", "m/s"}:
        return round(units.from_metres(value, length_unit), 4)
    if unit == "lps" and length_unit != "m":
        return round(value * units.LITRE / units.GALLON_PER_MINUTE, 4)
    return value


def _rules(record: Mapping[str, Any], length_unit: str) -> list[Mapping[str, Value]]:
    listed = record.get("rules")
    found: list[Mapping[str, Value]] = []
    for one in listed if isinstance(listed, list) else []:
        if not isinstance(one, Mapping):
            continue
        told: dict[str, Value] = {key: one[key] for key in _RULE_HEADS if isinstance(one.get(key), str)}
        limit, unit = one.get("limit"), told.get("unit", "")
        if isinstance(limit, int | float) and not isinstance(limit, bool) and isinstance(unit, str):
            told["limit, in its unit"] = _shown(float(limit), unit, length_unit)
        told["unit"] = _UNITS[length_unit].get(str(unit), unit)
        found.append(told)
    return found
