"""A cut sheet in; a page to print and to read on a phone out."""

from __future__ import annotations

from siteplan import units
from siteplan.books.phrases import TAGS, phrase
from siteplan.sheets.markup import Markup, tag, whole
from siteplan.sheets.paper import listed, page, signatures, table
from siteplan.stakeout.cutsheet import CutSheet, LineSheet
from siteplan.stakeout.cutsheet_text import cover_text, heads, inches, level, note_text, run_text, stake_text


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
    unit, language = units.UNIT_NAMES[sheet.unit], sheet.language
    mark, day = (phrase(f"cut.{word}", language) for word in ("benchmark", "date"))
    hi = f"HI {level(sheet.hi, sheet.elevation_unit)} {unit}"
    running = (
        sheet.site,
        f"{sheet.benchmark or f'{mark}: ________'}; {hi}",
        f"{day}: {sheet.stamp or '________'}",
    )
    return page(
        f"{phrase('cut.title', language)}, {hi}: {sheet.site}",
        tag(
            "p",
            (
                f"{day.capitalize()}: {sheet.stamp or '____________'}. "
                f"{sheet.benchmark[:1].upper() + sheet.benchmark[1:] or f'{mark.capitalize()}: ____________'}."
            ),
        ),
        *(tag("p", _unbroken(line)) for line in heads(sheet)),
        *(part for one in sheet.lines for part in _line(one, sheet)),
        tag("h2", phrase("caution.head", language)),
        listed([whole(text) for text in sheet.cautions]),
        signatures(*(phrase("sign.line", language, who=phrase(who, language)) for who in ("sign.dug", "sign.checked"))),
        running=running,
        language=TAGS[language],
    )


def _line(one: LineSheet, sheet: CutSheet) -> list[Markup]:
    unit, high, language = sheet.unit, sheet.elevation_unit, sheet.language
    name, small = units.UNIT_NAMES[unit], "mm" if unit == "m" else "in"
    # what the rod must read stands first: a phone shows it without scrolling
    columns = ("sta", "rod_bottom", "rod_top", "cut", "cover", "ground", "invert", "bottom", "dug", "laid")
    unit_of = {"sta": "", "cover": f", {small}", "dug": "", "laid": ""}
    head = [f"{phrase(f'cut.head.{word}', language)}{unit_of.get(word, f', {name}')}" for word in columns]
    rows: list[list[str]] = []
    for t in one.targets:
        rows.append(
            [
                units.station_text(t.station, unit),
                _both(t.rod_bottom, high, inches(t.rod_bottom_exact, unit, language)),
                _both(t.rod_top, high, inches(t.rod_top_exact, unit, language)),
                _both(t.cut, high, inches(t.cut_exact, unit, language)),
                cover_text(t.cover, unit),
                level(t.ground, high),
                level(t.invert, high),
                level(t.bottom, high),
                "",
                "",
            ]
        )
        if note := "; ".join(note_text(t, language)):
            rows.append([whole(note)])
    return [
        tag("h2", f"{one.line} {one.stands}: {one.way}: {one.pipe}, {units.length_text(one.length, unit, 1)}"),
        tag("p", run_text(one, language)),
        table(head, rows, words=[0], blank=[8, 9], strong=[1, 2]),
        *([tag("p", phrase("cut.stakes", language))] if one.stakes else []),
        listed(
            [
                whole(f"{units.station_text(stake.station, unit)}: {stake_text(stake, high, language)}")
                for stake in one.stakes
            ]
        ),
    ]


def _unbroken(line: str) -> str:
    """A minus stays with what it takes off.

    A line may break after a hyphen, but not between a minus sign and a space that holds.
    """
    return whole(line).replace("- 0.", "\u2212\u00a00.")


def _both(value: float | None, high: str, beside: str) -> Markup:
    """Tenths, and feet and inches under them."""
    return tag("span", level(value, high), *([tag("br"), tag("small", whole(beside))] if beside else []))
