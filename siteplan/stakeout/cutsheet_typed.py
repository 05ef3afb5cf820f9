"""Options of `siteplan cutsheet` as typed in; the sheet out."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from siteplan import units
from siteplan.errors import InputError
from siteplan.stakeout.cutsheet import CutSheet, To, cut_sheet
from siteplan.stored.folder_of import read_plan
from siteplan.survey.files import said
from siteplan.survey.set_up import refuse_blind, set_up
from siteplan.survey.small_tables import cell_number, read_rows, typed_station
from siteplan.values.whole_plan import Plan

_SIDES = {"l": "left", "left": "left", "r": "right", "right": "right"}
Typed = tuple[str, float, str, float, float | None]


def sheet_from_typed(typed: Mapping[str, Any]) -> CutSheet:
    """Read the plan and the options.

    Parameters
    ----------
    typed : mapping
        plan, hi, benchmark, backsight, stake (a list), stakes, offset, to, stations_from, line, language; texts or
        None.

    Returns
    -------
    CutSheet
        For this height of instrument.

    Raises
    ------
    InputError, InputErrors
        For what cannot be read, and a height of instrument under the trench.
    """
    plan = read_plan(Path(typed["plan"])).plan
    stand = set_up(typed, {}, plan.elevation_unit)
    if stand.hi is None:
        raise InputError("--hi", "is missing", "Give --hi H, or --benchmark ELEV and --backsight R.")
    to = (typed.get("to") or "INV").upper()
    if to not in {"INV", "TRENCH"}:
        raise InputError("--to", f"is {said(typed['to'])!r}", "Give INV or TRENCH.")
    origin = typed.get("stations_from") or "outlet"
    if origin not in {"outlet", "start"}:
        raise InputError("--stations-from", f"is {said(origin)!r}", "Give outlet or start.")
    stakes = [_stake(text, plan, stand.hi) for text in typed.get("stake") or ()]
    if typed.get("stakes"):
        stakes += _stake_file(Path(typed["stakes"]), plan, stand.hi)
    offset = None
    if typed.get("offset"):
        side, distance = _offset(str(typed["offset"]), plan)
        offset = (side, distance)
    kept: To = "INV" if to == "INV" else "TRENCH"
    sheet = cut_sheet(
        plan,
        stand.hi,
        hi_text=stand.benchmark,
        stakes=stakes,
        offset=offset,
        to=kept,
        from_start=origin == "start",
        only=typed.get("line"),
        stamp=typed.get("date"),
        language=typed.get("language") or "english",
    )
    refuse_blind(
        stand,
        [(target.bottom, target.top) for line in sheet.lines for target in line.targets],
        [target.invert for line in sheet.lines for target in line.targets],
        plan.elevation_unit,
    )
    return sheet


def _offset(text: str, plan: Plan) -> tuple[str, float]:
    side, _, reach = text.partition(",")
    if side.strip().lower() not in _SIDES:
        raise InputError("--offset", f"is {said(text)!r}", "Write SIDE,DISTANCE such as left,3.")
    return _SIDES[side.strip().lower()], _aside(_length(reach, "--offset", plan.length_unit), "--offset")


def _length(text: str, option: str, unit: str) -> float:
    try:
        length = units.read_length(text, unit)
    except ValueError as error:
        raise InputError(option, str(error).partition(";")[0], "Type a length such as 3.") from None
    return length


def _aside(length: float, where: str) -> float:
    """How far beside the line: the side says which way, so the figure has no sign."""
    if length < 0:
        raise InputError(
            where, "is below 0", "Give the distance without a sign; left or right is looking up the stations."
        )
    return length


def _stake(text: str, plan: Plan, hi: float) -> Typed:
    """LINE:STATION,SIDE,DISTANCE,HUB; the hub as an elevation, or as 'rod 3.75'."""
    mend = (
        "Write [LINE:]STATION,SIDE,DISTANCE,HUB such as L1:0+30,left,3,98.62; 'rod 3.75' for HUB reads it off the rod."
    )
    parts = [part.strip() for part in text.split(",")]
    line, _, place = parts[0].rpartition(":")
    station = typed_station(place, plan.length_unit)
    if len(parts) not in {3, 4} or station is None or parts[1].lower() not in _SIDES:
        raise InputError("--stake", f"is {said(text)!r}", mend)
    distance = _aside(_length(parts[2], "--stake", plan.length_unit), f"--stake {said(text, 40)}, distance")
    hub = None
    if len(parts) == 4:
        rod = parts[3].lower().startswith("rod")
        value = _length(parts[3][3:].strip() if rod else parts[3], "--stake", plan.elevation_unit)
        hub = hi - value if rod else value
    return said(line), station, _SIDES[parts[1].lower()], distance, hub


def _stake_file(path: Path, plan: Plan, hi: float) -> list[Typed]:
    """Columns line, station, side, distance, and hub (elevation) or rod."""
    if not path.is_file():
        raise InputError("--stakes", f"no file {said(path.name)!r}", "Give a CSV with station, side, distance, hub.")
    table = read_rows(path)
    out: list[Typed] = []
    for row, cells in table.rows:
        station = typed_station(cells.get("station", ""), plan.length_unit)
        side = _SIDES.get(cells.get("side", "").lower())
        if station is None or side is None or "distance" not in cells:
            raise InputError(
                f"{table.shown}, row {row}",
                "lacks a station, a side or a distance",
                "Give station, side (left or right), distance, hub.",
            )
        hub = cell_number(table, row, "hub", cells["hub"], plan.elevation_unit) if "hub" in cells else None
        if hub is None and "rod" in cells:
            hub = hi - cell_number(table, row, "rod", cells["rod"], plan.elevation_unit)
        out.append(
            (
                said(cells.get("line", "")),
                station,
                side,
                _aside(
                    cell_number(table, row, "distance", cells["distance"], plan.length_unit),
                    table.where(row, "distance"),
                ),
                hub,
            )
        )
    return out
