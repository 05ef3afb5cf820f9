"""A cut sheet in; a page to print and to read on a phone out."""

from __future__ import annotations

from siteplan import units
from siteplan.sheets.markup import Markup, tag, whole
from siteplan.sheets.paper import listed, page, signatures, table
from siteplan.stakeout.cutsheet import CutSheet, LineSheet
from siteplan.stakeout.cutsheet_text import cover_text, heads, inches, level, run_text, stake_text


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
    unit = units.UNIT_NAMES[sheet.unit]
    hi = f"HI {level(sheet.hi, sheet.elevation_unit)} {unit}"
    running = (
        sheet.site,
        f"{sheet.benchmark or 'benchmark: ________'}; {hi}",
        f"date: {sheet.stamp or '________'}",
    )
    return page(
        f"Cut sheet, {hi}: {sheet.site}",
        tag(
            "p",
            f"Date: {sheet.stamp or '____________'}. {sheet.benchmark[:1].upper() + sheet.benchmark[1:] or 'Benchmark: ____________'}.",
        ),
        *(tag("p", _unbroken(line)) for line in heads(sheet)),
        *(part for one in sheet.lines for part in _line(one, sheet)),
        signatures("Dug by", "Checked by"),
        running=running,
    )


def _line(one: LineSheet, sheet: CutSheet) -> list[Markup]:
    unit, high = sheet.unit, sheet.elevation_unit
    name, small = units.UNIT_NAMES[unit], "mm" if unit == "m" else "in"
    # what the rod must read stands first: a phone shows it without scrolling
    head = [
        "Sta",
        *(f"{word}, {name}" for word in ("ROD BTM", "ROD TOP", "Cut to btm")),
        f"Cover, {small}",
        *(f"{word}, {name}" for word in ("Ground", "Invert", "Trench btm")),
        "As dug",
        "As laid",
    ]
    rows: list[list[str]] = []
    for t in one.targets:
        rows.append(
            [
                units.station_text(t.station, unit),
                _both(t.rod_bottom, t.rod_bottom_exact, high, unit),
                _both(t.rod_top, t.rod_top_exact, high, unit),
                _both(t.cut, t.cut_exact, high, unit),
                cover_text(t.cover, unit),
                level(t.ground, high),
                level(t.invert, high),
                level(t.bottom, high),
                "",
                "",
            ]
        )
        if note := "; ".join(part for part in (t.reach.upper(), t.note) if part):
            rows.append([whole(note)])
    return [
        tag("h2", f"{one.line} {one.stands}: {one.way}: {one.pipe}, {units.length_text(one.length, unit, 1)}"),
        tag("p", run_text(one)),
        table(head, rows, words=[0], blank=[8, 9], strong=[1, 2]),
        *([tag("p", "Stakes (sides looking up the plan's stations, from the outlet):")] if one.stakes else []),
        listed(
            [whole(f"{units.station_text(stake.station, unit)}: {stake_text(stake, high)}") for stake in one.stakes]
        ),
    ]


def _unbroken(line: str) -> str:
    """A minus stays with what it takes off: a line may break after a hyphen, but not between a minus sign and a space that holds."""
    return whole(line).replace("- 0.", "\u2212\u00a00.")


def _both(value: float | None, exact: float | None, high: str, unit: str) -> Markup:
    """Tenths, and feet and inches under them."""
    beside = inches(exact, unit)
    return tag("span", level(value, high), *([tag("br"), tag("small", whole(beside))] if beside else []))
