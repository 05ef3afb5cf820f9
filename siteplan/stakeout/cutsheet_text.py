"""A cut sheet in; its screen, its field card for a phone, and JSON out."""

from __future__ import annotations

import json
from typing import Any

from siteplan import units
from siteplan.books.phrases import Language, phrase
from siteplan.sheets.rod_levels import printed
from siteplan.stakeout.cutsheet import CutSheet, CutStake, CutTarget, LineSheet

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


def inches(value: float | None, unit: str, language: Language = "english") -> str:
    """Feet and inches beside a length; nothing for metric sites.

    Parameters
    ----------
    value : float or None
        Length [m].
    unit : str
        'ft', 'us-ft' or 'm'.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    str
        1'-9 7/8"; a fill says so.
    """
    if value is None or unit == "m":
        return ""
    return units.feet_inches(value) if value >= 0 else phrase("cut.fill", language, cut=units.feet_inches(-value))


def stake_text(stake: CutStake, unit: str, language: Language = "english") -> str:
    """What is written on an offset stake.

    Parameters
    ----------
    stake : Stake
        The stake.
    unit : str
        'ft', 'us-ft' or 'm'.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    str
        3' o/s left  C 1.59 (1'-7") to INV.
    """
    away = f"{units.from_metres(stake.distance, unit):g}{'' if unit != 'm' else ' m'}{chr(39) if unit != 'm' else ''}"
    reach = phrase("cut.offset", language, reach=away, side=phrase(f"side.{stake.side}", language))
    to = phrase(f"cut.to.{stake.to}", language)
    if stake.cut is None:
        target, name = level(stake.target, unit), units.UNIT_NAMES[unit]
        return f"{reach}  {phrase('cut.hub', language, to=to, level=target, unit=name)}"
    cut = abs(stake.cut)
    beside = f" ({inches(cut, unit)})" if unit != "m" else " m"
    words = "cut.to_cut" if stake.cut >= 0 else "cut.to_fill"
    return f"{reach}  {phrase(words, language, cut=f'{level(cut, unit)}{beside}', to=to)}"


def note_text(target: CutTarget, language: Language) -> list[str]:
    """What is said under a station: that the rod does not reach, and what stands there.

    Parameters
    ----------
    target : CutTarget
        One station.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    list of str
        What there is.
    """
    reach = {"": "", "above the beam": "cut.above_beam", "rod too short": "cut.rod_short"}[target.reach]
    return [text for text in (phrase(reach, language).upper() if reach else "", target.note) if text]


def run_text(sheet: LineSheet, language: Language = "english") -> str:
    """Which way stations run.

    Parameters
    ----------
    sheet : LineSheet
        One line.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    str
        One sentence.
    """
    return phrase("cut.from_start" if sheet.from_start else "cut.from_outlet", language)


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
    unit, language = units.UNIT_NAMES[sheet.elevation_unit], sheet.language
    how = f": {sheet.hi_text}" if sheet.hi_text else ""
    return [
        phrase("cut.units", language, unit=unit, small="mm" if sheet.unit == "m" else "in"),
        phrase("cut.hi", language, level=level(sheet.hi, sheet.elevation_unit), unit=unit, how=how),
        phrase("cut.what", language),
        f"{sheet.below[0].upper()}{sheet.below[1:]}.",
        phrase("cut.higher", language),
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
    unit, high, language = sheet.unit, sheet.elevation_unit, sheet.language
    name = units.UNIT_NAMES[unit]
    out = [
        f"{phrase('cut.title', language)}: {sheet.site}",
        *(part for line in heads(sheet) for part in _wrapped(line, 2)),
    ]
    small = "mm" if unit == "m" else "in"
    for one in sheet.lines:
        title = (
            f"{one.line} {one.stands}: {one.way}: {one.pipe}, {units.length_text(one.length, unit, 1)}. "
            f"{run_text(one, language)}"
        )
        out += ["", *_wrapped(title, 0)]
        if one.targets:
            out.append(phrase("cut.table", language, unit=name, small=small))
        sta, *longer = (phrase(f"cut.{word}", language) for word in ("sta", "ground", "invert", "btm"))
        cover, cut = (phrase(f"cut.{word}", language) for word in ("cover", "cut"))
        head = f"{sta:>10} {' '.join(f'{word:>9}' for word in longer)} {cover:>7} {cut:>7}"
        out.append(head if unit == "m" else f"{head}  {phrase('cut.feet_inches', language)}")
        for target in one.targets:
            cells = [
                f"{units.station_text(target.station, unit):>10}",
                f"{level(target.ground, high):>9}",
                f"{level(target.invert, high):>9}",
                f"{level(target.bottom, high):>9}",
                f"{cover_text(target.cover, unit):>7}",
                f"{level(target.cut, high):>7}",
            ]
            out.append(f"{' '.join(cells)}  {inches(target.cut_exact, unit, language)}".rstrip())
            bottom, top = (
                f"{phrase(word, language)} {level(value, high)} {inches(exact, unit, language)}".rstrip()
                for word, value, exact in (
                    ("cut.rod_bottom", target.rod_bottom, target.rod_bottom_exact),
                    ("cut.rod_top", target.rod_top, target.rod_top_exact),
                )
            )
            out.append(f"{'':>11}{bottom:<27}  {top}".rstrip())
            out += [part for note in note_text(target, language) for part in _wrapped(note, 11)]
        for stake in one.stakes:
            station, text = units.station_text(stake.station, unit), stake_text(stake, high, language)
            out += _wrapped(phrase("cut.stake_at", language, station=station, text=text), 2)
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

    unit, high, language = sheet.unit, sheet.elevation_unit, sheet.language
    cut_word = phrase("cut.cut", language)
    out: list[str] = [f"{phrase('cut.card', language)} {sheet.site}"[:CARD_WIDTH]]
    for line in heads(sheet):
        out += textwrap.wrap(line, CARD_WIDTH)
    for one in sheet.lines:
        out += ["-" * CARD_WIDTH, *textwrap.wrap(f"{one.line} {one.stands}: {one.way}, {one.pipe}", CARD_WIDTH)]
        out += textwrap.wrap(run_text(one, language), CARD_WIDTH)
        for target in one.targets:
            out.append(
                (
                    f"{units.station_text(target.station, unit):<9} {cut_word} {level(target.cut, high)} "
                    f"{inches(target.cut_exact, unit, language)}"
                ).rstrip()[:CARD_WIDTH]
            )
            for word, value, exact in (
                ("cut.rod_bottom", target.rod_bottom, target.rod_bottom_exact),
                ("cut.rod_top", target.rod_top, target.rod_top_exact),
            ):
                reading = f"{level(value, high):>6} {inches(exact, unit, language)}"
                out.append(f"  {phrase(word, language)} {reading}".rstrip())
            for note in note_text(target, language):
                out += textwrap.wrap(note, CARD_WIDTH, initial_indent="  ", subsequent_indent="  ")
        for stake in one.stakes:
            out += textwrap.wrap(
                (
                    f"{phrase('cut.stake', language)} {units.station_text(stake.station, unit)} "
                    f"{stake_text(stake, high, language)}"
                ),
                CARD_WIDTH,
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
            "station": figure(target.station),
            "x": figure(target.x),
            "y": figure(target.y),
            "ground": figure(target.ground),
            "invert": figure(target.invert),
            "top": figure(target.top),
            "trench_bottom": figure(target.bottom),
            "cover": figure(target.cover),
            "cut": figure(target.cut),
            "rod_bottom": figure(target.rod_bottom),
            "rod_top": figure(target.rod_top),
            "note": target.note,
            "reach": target.reach,
            "printed": {
                "station": units.station_text(target.station, unit),
                "ground": level(target.ground, high),
                "invert": level(target.invert, high),
                "top": level(target.top, high),
                "cover": cover_text(target.cover, unit),
                "trench_bottom": level(target.bottom, high),
                "cut": level(target.cut, high),
                "cut_ft_in": inches(target.cut_exact, unit, sheet.language),
                "rod_bottom": level(target.rod_bottom, high),
                "rod_bottom_ft_in": inches(target.rod_bottom_exact, unit),
                "rod_top": level(target.rod_top, high),
                "rod_top_ft_in": inches(target.rod_top_exact, unit),
            },
        }

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
            "text": stake_text(stake, sheet.elevation_unit, sheet.language),
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
