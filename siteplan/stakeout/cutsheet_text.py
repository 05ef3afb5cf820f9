"""A cut sheet in; its screen, its field card for a phone, and JSON out."""

from __future__ import annotations

import json
from typing import Any

from siteplan import units
from siteplan.stakeout.cutsheet import CutSheet, CutStake, CutTarget, LineSheet, printed

CARD_WIDTH = 40  # characters that a phone shows upright
SCREEN_WIDTH = 80  # columns of a terminal


def level(value: float | None, unit: str) -> str:
    """A printed elevation, cut or rod without its unit.

    Parameters
    ----------
    value : float or None
        Length [m].
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        Two digits in feet, three in metres; a dash where not known.
    """
    if value is None:
        return "-"
    return f"{units.from_metres(printed(value, unit), unit) + 0.0:.{3 if unit == 'm' else 2}f}"


def cover_text(value: float | None, unit: str) -> str:
    """Cover in inches or millimetres.

    Parameters
    ----------
    value : float or None
        Cover [m].
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        14.4 in, or 366 mm.
    """
    if value is None:
        return "-"
    if unit == "m":
        return f"{round(units.from_metres(value, 'mm'), 6):.0f}"
    return f"{round(units.from_metres(value, 'in') + 1e-6, 1) + 0.0:.1f}"


def inches(value: float | None, unit: str) -> str:
    """Feet and inches beside a length; nothing for metric sites.

    Parameters
    ----------
    value : float or None
        Length [m].
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        1'-9 7/8"; a fill says so.
    """
    if value is None or unit == "m":
        return ""
    return units.feet_inches(value) if value >= 0 else f"fill {units.feet_inches(-value)}"


def stake_text(stake: CutStake, unit: str) -> str:
    """What is written on an offset stake.

    Parameters
    ----------
    stake : Stake
        The stake.
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        3' o/s left  C 1.59 (1'-7") to INV.
    """
    reach = f"{units.from_metres(stake.distance, unit):g}{'' if unit != 'm' else ' m'}{chr(39) if unit != 'm' else ''} o/s {stake.side}"
    if stake.cut is None:
        return f"{reach}  hub ______  {stake.to} is at {level(stake.target, unit)} {units.UNIT_NAMES[unit]}"
    letter, cut = ("C", stake.cut) if stake.cut >= 0 else ("F", -stake.cut)
    beside = f" ({inches(cut, unit)})" if unit != "m" else " m"
    return f"{reach}  {letter} {level(cut, unit)}{beside} to {stake.to}"


def run_text(sheet: LineSheet) -> str:
    """Which way stations run.

    Parameters
    ----------
    sheet : LineSheet
        One line.

    Returns
    -------
    str
        One sentence.
    """
    return (
        "Stations run from the START (0) down to the outlet."
        if sheet.from_start
        else "Stations run from the OUTLET (0) upstream: lay from the low end, bells upstream."
    )


def heads(sheet: CutSheet) -> list[str]:
    """What every form of the sheet says at its head.

    Parameters
    ----------
    sheet : CutSheet
        The sheet.

    Returns
    -------
    list of str
        Plain sentences.
    """
    unit = units.UNIT_NAMES[sheet.elevation_unit]
    return [
        f"All figures in {unit}, cover in {'mm' if sheet.unit == 'm' else 'in'}.",
        f"HI {level(sheet.hi, sheet.elevation_unit)} {unit} today{f': {sheet.hi_text}' if sheet.hi_text else ''}. A new set-up needs a new sheet.",
        "CUT is from the ground to the TRENCH BOTTOM; ROD BTM is the reading there, ROD TOP the reading on the outside top of the pipe.",
        f"{sheet.below[0].upper()}{sheet.below[1:]}.",
        "A higher reading is LOWER ground: reads less than the target, dig more; reads more, too deep.",
    ]


def cutsheet_as_text(sheet: CutSheet) -> str:
    """The sheet as a screen.

    Parameters
    ----------
    sheet : CutSheet
        The sheet.

    Returns
    -------
    str
        Lines without a trailing newline.
    """
    unit, high = sheet.unit, sheet.elevation_unit
    name = units.UNIT_NAMES[unit]
    out = [f"Cut sheet: {sheet.site}", *(part for line in heads(sheet) for part in _wrapped(line, 2))]
    small = "mm" if unit == "m" else "in"
    for one in sheet.lines:
        title = (
            f"{one.line} {one.stands}: {one.way}: {one.pipe}, {units.length_text(one.length, unit, 1)}. {run_text(one)}"
        )
        out += ["", *_wrapped(title, 0)]
        if one.targets:
            out.append(f"{name}, cover {small}:")
        head = f"{'sta':>10} {'ground':>9} {'invert':>9} {'btm':>9} {'cover':>7} {'cut':>7}"
        out.append(head if unit == "m" else f"{head}  ft-in")
        for target in one.targets:
            cells = [
                f"{units.station_text(target.station, unit):>10}",
                f"{level(target.ground, high):>9}",
                f"{level(target.invert, high):>9}",
                f"{level(target.bottom, high):>9}",
                f"{cover_text(target.cover, unit):>7}",
                f"{level(target.cut, high):>7}",
            ]
            out.append(f"{' '.join(cells)}  {inches(target.cut_exact, unit)}".rstrip())
            bottom, top = (
                f"{word} {level(value, high)} {inches(exact, unit)}".rstrip()
                for word, value, exact in (
                    ("ROD BTM", target.rod_bottom, target.rod_bottom_exact),
                    ("ROD TOP", target.rod_top, target.rod_top_exact),
                )
            )
            out.append(f"{'':>11}{bottom:<27}  {top}".rstrip())
            out += [part for note in (target.reach.upper(), target.note) if note for part in _wrapped(note, 11)]
        for stake in one.stakes:
            out += _wrapped(f"stake at {units.station_text(stake.station, unit)}: {stake_text(stake, high)}", 2)
    return "\n".join("".join(c if c.isprintable() else " " for c in line) for line in out)


def _wrapped(text: str, indent: int) -> list[str]:
    """Words on lines of at most `SCREEN_WIDTH`; what is printed in figures keeps its blanks."""
    import textwrap

    gap = " " * indent
    return textwrap.wrap(
        text,
        SCREEN_WIDTH,
        initial_indent=gap,
        subsequent_indent=gap + "  ",
        break_on_hyphens=False,
        drop_whitespace=True,
    )


def as_card(sheet: CutSheet) -> str:
    """The field card: no line is wider than a phone held upright.

    Parameters
    ----------
    sheet : CutSheet
        The sheet.

    Returns
    -------
    str
        Lines of at most `CARD_WIDTH` characters, without a trailing newline.
    """
    import textwrap

    unit, high = sheet.unit, sheet.elevation_unit
    out: list[str] = [f"CUT CARD {sheet.site}"[:CARD_WIDTH]]
    for line in heads(sheet):
        out += textwrap.wrap(line, CARD_WIDTH)
    for one in sheet.lines:
        out += ["-" * CARD_WIDTH, *textwrap.wrap(f"{one.line} {one.stands}: {one.way}, {one.pipe}", CARD_WIDTH)]
        out += textwrap.wrap(run_text(one), CARD_WIDTH)
        for target in one.targets:
            out.append(
                f"{units.station_text(target.station, unit):<9} cut {level(target.cut, high)} {inches(target.cut_exact, unit)}".rstrip()[
                    :CARD_WIDTH
                ]
            )
            out.append(
                f"  ROD BTM {level(target.rod_bottom, high):>6} {inches(target.rod_bottom_exact, unit)}".rstrip()
            )
            out.append(f"  ROD TOP {level(target.rod_top, high):>6} {inches(target.rod_top_exact, unit)}".rstrip())
            for note in (target.reach.upper(), target.note):
                out += textwrap.wrap(note, CARD_WIDTH, initial_indent="  ", subsequent_indent="  ") if note else []
        for stake in one.stakes:
            out += textwrap.wrap(
                f"STAKE {units.station_text(stake.station, unit)} {stake_text(stake, high)}", CARD_WIDTH
            )
    return "\n".join("".join(c if c.isprintable() else " " for c in line) for line in out)


def cutsheet_as_json(sheet: CutSheet) -> str:
    """The sheet for programs, in metres; printed texts beside the figures.

    Parameters
    ----------
    sheet : CutSheet
        The sheet.

    Returns
    -------
    str
        One JSON object, keys in a fixed order.
    """

    def figure(value: float | None) -> float | None:
        return None if value is None else round(value, 6) + 0.0

    def target_of(target: CutTarget) -> dict[str, Any]:
        unit, high = sheet.unit, sheet.elevation_unit
        return {
            "station": figure(target.station), "x": figure(target.x), "y": figure(target.y), "ground": figure(target.ground),
            "invert": figure(target.invert), "top": figure(target.top), "trench_bottom": figure(target.bottom), "cover": figure(target.cover),
            "cut": figure(target.cut), "rod_bottom": figure(target.rod_bottom), "rod_top": figure(target.rod_top), "note": target.note,
            "reach": target.reach,
            "printed": {
                "station": units.station_text(target.station, unit), "ground": level(target.ground, high), "invert": level(target.invert, high),
                "top": level(target.top, high), "cover": cover_text(target.cover, unit), "trench_bottom": level(target.bottom, high),
                "cut": level(target.cut, high), "cut_ft_in": inches(target.cut_exact, unit), "rod_bottom": level(target.rod_bottom, high),
                "rod_bottom_ft_in": inches(target.rod_bottom_exact, unit), "rod_top": level(target.rod_top, high),
                "rod_top_ft_in": inches(target.rod_top_exact, unit),
            },
        }  # fmt: skip

    def stake_of(stake: CutStake) -> dict[str, Any]:
        return {
            "station": figure(stake.station),
            "side": stake.side,
            "distance": figure(stake.distance),
            "x": figure(stake.x),
            "y": figure(stake.y),
            "hub": figure(stake.hub),
            "cut": figure(stake.cut),
            "to": stake.to,
            "target": figure(stake.target),
            "text": stake_text(stake, sheet.elevation_unit),
        }

    record = {
        "site": sheet.site,
        "hi": figure(sheet.hi),
        "unit": "m",
        "printed_unit": sheet.elevation_unit,
        "stations_from": "start" if any(one.from_start for one in sheet.lines) else "outlet",
        "cut_to": "trench bottom",
        "lines": [
            {
                "line": one.line,
                "way": one.way,
                "state": one.state,
                "pipe": one.pipe,
                "targets": [target_of(t) for t in one.targets],
                "stakes": [stake_of(s) for s in one.stakes],
            }
            for one in sheet.lines
        ],
    }
    return json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False)
