"""A stored plan in; its trench schedule, its cut table and what it takes, as pages, out."""

from __future__ import annotations

from siteplan import units
from siteplan.books.phrases import Language, phrase
from siteplan.books.unit_prices import PLACEHOLDER
from siteplan.planset.asked import PlanSetAsked
from siteplan.planset.texts.flow import Block, Prose, TextTable, flowed, section_head
from siteplan.plotting.shapes import Page
from siteplan.sheets.quantities import prices_note, quantity_rows
from siteplan.sheets.schedule import laid_here, printed_rows
from siteplan.sheets.stakes import pipes_words, stakes
from siteplan.sheets.states import line_state
from siteplan.sheets.wording import names, way
from siteplan.values.lines import Line
from siteplan.values.whole_plan import Plan


def schedule_pages(asked: PlanSetAsked) -> list[Page]:
    """The trench schedule of every line.

    Parameters
    ----------
    asked : PlanSetAsked
        The plan, its paper and the language of the crew.

    Returns
    -------
    list of Page
        None without lines.
    """
    plan, language = asked.plan, asked.language
    if not plan.every_line:
        return []
    blocks: list[Block] = [Prose(text=phrase("schedule.what", language))]
    for line in plan.every_line:
        blocks += [section_head(_title(plan, line, language)), _schedule(plan, line, language)]
    return flowed(asked.paper, phrase("schedule.title", language), blocks)


def _title(plan: Plan, line: Line, language: Language) -> str:
    unit = plan.length_unit
    called = names(plan)
    length = units.length_text(line.length, unit, 1)
    return (
        f"{line.id} {line_state(plan, line).text_in(language)}: {way(line, called, language)}, "
        f"{pipes_words(line, unit, language)}, {length}"
    )


def _schedule(plan: Plan, line: Line, language: Language) -> TextTable:
    unit = plan.length_unit
    short, level = units.UNIT_NAMES[unit], units.UNIT_NAMES[plan.elevation_unit]
    columns = (
        ("station", ""),
        ("point", ""),
        ("ground", level),
        ("invert", level),
        ("grade", "%"),
        ("top", level),
        ("cover", short),
        ("bottom", level),
        ("cut", short),
        *(() if unit == "m" else (("feet_inches", ""),)),
        ("pipe", ""),
    )
    head = tuple(", ".join(part for part in (phrase(f"schedule.{word}", language), of) if part) for word, of in columns)
    rows = []
    for row, stake in zip(printed_rows(plan, line), stakes(plan, line, language), strict=True):
        pipe = laid_here(line, stake.row.station, unit, language)[0]
        rows.append(
            (
                row.station,
                stake.text,
                row.ground,
                row.invert,
                row.grade,
                row.top,
                row.cover,
                row.bottom,
                row.cut,
                *(() if unit == "m" else (row.cut_text,)),
                pipe,
            )
        )
    figures = tuple(range(2, 9 if unit == "m" else 10))
    return TextTable(head=head, rows=tuple(rows), right=figures, strong=(0, 8))


def cut_pages(asked: PlanSetAsked) -> list[Page]:
    """The cut table: what is dug at each station, with columns for the rod of the day.

    Parameters
    ----------
    asked : PlanSetAsked
        The plan, its paper and the language of the crew.

    Returns
    -------
    list of Page
        None without lines.
    """
    plan, language = asked.plan, asked.language
    if not plan.every_line:
        return []
    blocks: list[Block] = [
        Prose(text=phrase("cuts.hi", language), size=3.0, bold=True),
        Prose(text=phrase("cuts.what", language)),
        Prose(text=phrase("cut.higher", language)),
        Prose(text=phrase("cut.from_outlet", language)),
    ]
    for line in plan.every_line:
        blocks += [section_head(_title(plan, line, language)), _cuts(plan, line, language)]
    return flowed(asked.paper, phrase("cuts.title", language), blocks)


def _cuts(plan: Plan, line: Line, language: Language) -> TextTable:
    unit = plan.length_unit
    short, level = units.UNIT_NAMES[unit], units.UNIT_NAMES[plan.elevation_unit]
    columns = (
        ("schedule.station", ""),
        ("schedule.bottom", level),
        ("schedule.top", level),
        ("schedule.cut", short),
        *(() if unit == "m" else (("schedule.feet_inches", ""),)),
        ("schedule.point", ""),
        ("cut.head.rod_bottom", ""),
        ("cut.head.rod_top", ""),
        ("cut.head.dug", ""),
        ("cut.head.laid", ""),
    )
    head = tuple(", ".join(part for part in (phrase(word, language), of) if part) for word, of in columns)
    rows = tuple(
        (
            row.station,
            row.bottom,
            row.top,
            row.cut,
            *(() if unit == "m" else (row.cut_text,)),
            stake.text,
            "",
            "",
            "",
            "",
        )
        for row, stake in zip(printed_rows(plan, line), stakes(plan, line, language), strict=True)
    )
    most = 4 if unit == "m" else 5
    return TextTable(
        head=head,
        rows=rows,
        right=tuple(range(1, most)),
        blank=tuple(range(most + 1, most + 5)),
        strong=(0, 3),
        least=6.0,
    )


def quantity_pages(asked: PlanSetAsked) -> list[Page]:
    """What the plan takes, with columns for prices.

    Parameters
    ----------
    asked : PlanSetAsked
        The plan and its paper.

    Returns
    -------
    list of Page
        None where the plan has no quantities.
    """
    plan = asked.plan
    if not plan.quantities:
        return []
    given = any(one.price is not None and one.basis != PLACEHOLDER for one in plan.quantities)
    head = ("What", "Kind", "Amount", "Unit", "Price of one unit", "Cost")
    rows = tuple(
        (
            row.what,
            row.kind,
            row.amount,
            row.unit,
            *((row.price, row.cost) if given and one.basis != PLACEHOLDER else ("", "")),
        )
        for row, one in zip(quantity_rows(plan), plan.quantities, strict=True)
    )
    told = "Volumes as in undisturbed ground; nothing is added for waste, for sloped sides or for what swells when dug."
    note = prices_note(plan) if given else "Prices are blank: write in your own."
    blocks: list[Block] = [
        section_head("What it takes, all lines together"),
        Prose(text=f"{told} {note}"),
        TextTable(
            head=head,
            rows=rows,
            right=(2,) if not given else (2, 4, 5),
            blank=() if given else (4, 5),
            blank_wide=32.0,
            least=5.0,
        ),
    ]
    return flowed(asked.paper, "Quantities", blocks)
