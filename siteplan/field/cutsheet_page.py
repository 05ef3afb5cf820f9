"""A cut sheet in; a page to print and to read on a phone out."""

from __future__ import annotations

from siteplan import units
from siteplan.field.cutsheet import CutSheet, LineSheet
from siteplan.field.cutsheet_text import cover_text, heads, inches, level, run_text, stake_text
from siteplan.field.pages import listed, page, signatures, table
from siteplan.sheets.markup import Markup, tag, whole


def cut_page(sheet: CutSheet) -> bytes:
    """The sheet as HTML.

    Parameters
    ----------
    sheet : CutSheet
        The sheet.

    Returns
    -------
    bytes
        UTF-8; fits letter and A4 upright.
    """
    hi = f"HI {level(sheet.hi, sheet.elevation_unit)} {units.UNIT_NAMES[sheet.elevation_unit]}"
    return page(
        f"Cut sheet, {hi}: {sheet.site}", *(tag("p", line) for line in heads(sheet)),
        *(part for one in sheet.lines for part in _line(one, sheet)),
        signatures("Dug by", "Checked by"),
    )  # fmt: skip


def _line(one: LineSheet, sheet: CutSheet) -> list[Markup]:
    unit, high = sheet.unit, sheet.elevation_unit
    feet = unit != "m"
    head = ["Sta", "Ground", "Invert", "Trench btm", "Cover " + ("in" if feet else "mm"), "Cut to btm", *(["ft-in"] if feet else []), "ROD BTM", *(["ft-in"] if feet else []), "ROD TOP", *(["ft-in"] if feet else []), "As dug", "As laid"]  # fmt: skip
    rows = []
    for t in one.targets:
        note = "; ".join(part for part in (t.reach.upper(), t.note) if part)
        first = tag("span", units.station_text(t.station, unit), *([tag("br"), tag("small", note)] if note else []))
        row: list[str] = [
            first,
            level(t.ground, high),
            level(t.invert, high),
            level(t.bottom, high),
            cover_text(t.cover, unit),
            level(t.cut, high),
        ]
        row += [whole(inches(t.cut_exact, unit))] if feet else []
        row += [level(t.rod_bottom, high), *([whole(inches(t.rod_bottom_exact, unit))] if feet else [])]
        row += [level(t.rod_top, high), *([whole(inches(t.rod_top_exact, unit))] if feet else []), "", ""]
        rows.append(row)
    strong = [7, 9] if feet else [6, 7]
    return [
        tag("h2", f"{one.line} {one.way}: {one.pipe}, {units.length_text(one.length, unit, 1)}"),
        tag("p", run_text(one)),
        table(head, rows, words=[0], blank=[len(head) - 2, len(head) - 1], strong=strong),
        *([tag("p", "Stakes (sides looking up the plan's stations, from the outlet):")] if one.stakes else []),
        listed([f"{units.station_text(stake.station, unit)}: {stake_text(stake, high)}" for stake in one.stakes]),
    ]
