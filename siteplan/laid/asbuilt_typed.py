"""Options of `siteplan asbuilt` as typed in; the design and the check out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from siteplan import units
from siteplan.books.practice import STICK
from siteplan.errors import InputError
from siteplan.laid.asbuilt import check_as_laid
from siteplan.laid.design import Design, outline_of, read_design, with_pipe
from siteplan.laid.ducked import crosser_of, ducked
from siteplan.laid.laid_shots import ON, read_laid_shots, read_shot_table
from siteplan.laid.verdict_values import AsBuilt
from siteplan.stored.folder_of import PLAN_FILE, read_plan
from siteplan.survey.files import said
from siteplan.survey.set_up import refuse_blind, set_up
from siteplan.survey.small_tables import ORDERS, order_of, order_told


def checked_from_typed(typed: Mapping[str, Any]) -> tuple[Design, AsBuilt]:
    """Read plan and shots, and check.

    Parameters
    ----------
    typed : mapping
        plan, shots, hi, benchmark, backsight, check_back, on, rod, order, pipe, size, bell_rise, doubt, stick, unit,
        line, crossing (a list); texts or None.

    Returns
    -------
    tuple
        What was to be built, and the check.

    Raises
    ------
    InputError, InputErrors
        For what cannot be read.
    """
    unit = typed.get("unit")
    if unit is not None and unit not in units.SITE_UNITS:
        raise InputError("--unit", f"is {said(unit)!r}", "Give ft, us-ft or m.")
    table = read_shot_table(Path(typed["shots"]))
    settings = table.settings
    unit = unit or settings.get("unit")
    if unit is not None and unit not in units.SITE_UNITS:
        raise InputError(f"{table.shown}, unit", f"is {said(unit)!r}", "Write ft, us-ft or m.")
    order = typed["order"].lower() if typed.get("order") else None
    if order is not None and order not in ORDERS:
        raise InputError("--order", f"is {said(order)!r}", f"Give {ORDERS[0]} or {ORDERS[1]}.")
    kind, size = typed.get("pipe") or settings.get("pipe"), typed.get("size") or settings.get("size")
    pipe = outline_of(kind, size)
    design = read_design(str(typed["plan"]), pipe=pipe, unit=unit, order=order)
    if (kind or size) and _is_folder(typed["plan"]):
        design = with_pipe(design, pipe)  # what was laid, not what was planned
    own_order = order_of(table, order)
    if order is not None and own_order is None and not design.ordered:
        raise InputError(
            "--order",
            f"no list needs it: {design.source} and {table.shown} name their columns, or give no coordinates",
            "Leave it out.",
        )
    on = typed.get("on") or settings.get("on") or settings.get("rod_on")
    if on is not None and on not in ON:
        raise InputError("--on", f"is {said(on)!r}", f"Give {', '.join(ON[:-1])} or {ON[-1]}.")
    rod = typed.get("rod") or settings.get("rod") or ("metres" if design.unit == "m" else "tenths")
    stand = set_up(typed, settings, design.elevation_unit, table.shown)
    local = _plan_is_local(typed["plan"])
    shots = read_laid_shots(
        table,
        stand.hi,
        unit=design.unit,
        elevation_unit=design.elevation_unit,
        grid_unit=unit or (design.unit if local else "m"),
        rod=rod,
        order=own_order,
    )
    rise = _length(typed.get("bell_rise"), "--bell-rise", design.unit)
    only = typed.get("line")
    if only is not None and only not in {line.id for line in design.lines}:
        known = ", ".join(line.id for line in design.lines)
        raise InputError("--line", f"the plan has no line {said(only)!r}", f"Give one of {known}.")
    lines = [line for line in design.lines if only in {None, line.id}]
    refuse_blind(
        stand,
        [line.reached(design.bedding) for line in lines],
        [float(level) for line in lines for level in line.invert],
        design.elevation_unit,
    )
    crossers = tuple(crosser_of(text, design.unit) for text in typed.get("crossing") or ())
    result = check_as_laid(
        design,
        shots,
        stand,
        on=on,
        bell_rise=rise,
        doubt=_length(typed.get("doubt"), "--doubt", design.unit),
        only=only,
        stick=_length(typed.get("stick") or settings.get("stick"), "--stick", design.unit) or STICK,
    )
    told = (*result.assumptions, *order_told(table, own_order, order))
    return design, replace(result, assumptions=told, crossed=ducked(result, design, crossers))


def _plan_is_local(text: str) -> bool:
    """Whether coordinates of shots are in the plan's own unit: a point list, or a plan on an assumed grid."""
    return not _is_folder(text) or read_plan(Path(text)).plan.crs == "local"


def _is_folder(text: str) -> bool:
    path = Path(text)
    return path.is_dir() or path.name == PLAN_FILE


def _length(text: str | None, option: str, unit: str) -> float | None:
    if text is None:
        return None
    try:
        value = units.read_length(text, unit)
    except ValueError as error:
        raise InputError(option, str(error).partition(";")[0], "Type a length such as 0.01.") from None
    if not value > 0:
        raise InputError(option, f"is {text}", "Give a length above 0.")
    return value
