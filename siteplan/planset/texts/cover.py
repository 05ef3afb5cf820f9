"""The pages behind a cover in; the cover out.

The verdict, each line with how it stands, blanks to fill, the index of sheets.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from siteplan import units
from siteplan.books.rules import MAX_DEPTH, MIN_COVER
from siteplan.planset.asked import PartLeftOut, PlanSetAsked
from siteplan.planset.texts.flow import BlankLine, Block, Prose, TextTable, flowed, listed_words, section_head
from siteplan.plotting.shapes import Page
from siteplan.sheets.benchmark_words import benchmark_lines
from siteplan.sheets.stakes import pipes_words
from siteplan.sheets.states import line_state, verdict
from siteplan.sheets.wording import (
    counted,
    counts,
    cover_said,
    grades_text,
    names,
    one_line,
    served_text,
    subject,
    titled,
    way,
)
from siteplan.values.lines import Line
from siteplan.values.whole_plan import Plan

_BLANKS = (
    ("Permit no.", "Locate ticket no."),
    ("Owner", "Contractor"),
    ("Address, lot and block", "Approved by, date"),
    ("Consent of the road's owner or an easement's holder", "Benchmark used, its elevation and datum"),
    ("Designed by: name, signature, date", "Owner: signature, date"),
    ("Contractor: signature, date", "Inspector: signature, date"),
)
_MOST_FAILS = 12


def cover_pages(asked: PlanSetAsked, made: Sequence[Page], left: Sequence[PartLeftOut]) -> list[Page]:
    """The cover.

    Parameters
    ----------
    asked : PlanSetAsked
        The plan and its paper.
    made : sequence of Page
        What stands behind the cover, for the index.
    left : sequence of PartLeftOut
        What could not be drawn.

    Returns
    -------
    list of Page
        Usually one.
    """
    count = 1
    while True:  # the index numbers the sheets behind the cover, whose own number hangs on the index
        pages = flowed(asked.paper, "Cover", _blocks(asked, made, left, count))
        if len(pages) == count:
            return pages
        count = len(pages)


def _blocks(asked: PlanSetAsked, made: Sequence[Page], left: Sequence[PartLeftOut], before: int) -> list[Block]:
    plan, stored = asked.plan, asked.stored
    tally = counts(plan.findings)
    told = f"{counted(tally['fail'], 'fail')}, {counted(tally['flag'], 'flag')}, {tally['pass']} passed"
    digest = (
        f"Plan {asked.identity}: the first digits of the SHA-256 of plan.json, {asked.digest}."
        if asked.digest
        else f"Plan {asked.identity}."
    )
    limit = stored.limit(MIN_COVER.id, 0.0)
    known = (
        ""
        if limit is None
        else f" Least cover is past the outlet zone; its limit is {cover_said(limit, plan.length_unit)}."
    )
    blocks: list[Block] = [
        Prose(text=titled(plan) or "Site", size=5.0, bold=True),
        Prose(text="Buried gravity lines for roof and sump water: plan set", size=3.2, above=1.5),
        Prose(text=f"{verdict(plan)}. Checks: {told}.", size=3.2, bold=True, above=2.5),
        *([Prose(text=plan.cautions[0])] if plan.cautions else []),
        Prose(text=f"{digest} All figures of this set are those of that file.{known}"),
        *[Prose(text=f"{one}.") for one in benchmark_lines(plan)],
    ]
    if left:
        blocks += [section_head("Left out of this set"), *listed_words([f"{one.title}: {one.why}" for one in left])]
    blocks += [section_head("Lines")]
    if plan.every_line:
        head = (
            "Line",
            "Way",
            "How it stands",
            "Pipe, from the outlet up",
            "Length",
            "Grade",
            "Fall to spare",
            "Least cover",
            "Deepest invert below ground",
        )
        blocks.append(
            TextTable(head=head, rows=tuple(_line(plan, line) for line in plan.every_line), right=(4,), strong=(0, 2))
        )
    else:
        blocks.append(Prose(text="No line can be laid."))
    called = names(plan)
    if unserved := served_text(plan)[1]:
        blocks.append(Prose(text=f"NOT DRAINED: {', '.join(called[one] for one in unserved)}", bold=True))
    fails = [one for one in plan.findings if one.status == "fail"]
    if fails:
        blocks.append(section_head("What fails"))
        shown = [f"{one.rule}, {subject(one, called)}: {one_line(one.message)}" for one in fails[:_MOST_FAILS]]
        if len(fails) > _MOST_FAILS:
            shown.append(f"{len(fails) - _MOST_FAILS} more: see the check sheets")
        blocks += listed_words(shown)
    blocks += [section_head("To be filled in"), *(BlankLine(names=pair, high=6.6) for pair in _BLANKS)]
    blocks += [
        section_head("Sheets"),
        Prose(text="; ".join(_index(made, before)) + "."),
    ]
    return blocks


def _line(plan: Plan, line: Line) -> tuple[str, ...]:
    unit = plan.length_unit
    doubt = None if line.doubt is None else line.doubt.fall
    return (
        line.id,
        way(line, names(plan)),
        line_state(plan, line).text,
        pipes_words(line, unit),
        units.length_text(line.length, unit, 1),
        grades_text(line),
        "under pressure" if line.pumped is not None else units.spare_text(line.spare, unit, doubt),
        _found(plan, line, MIN_COVER.id),
        _found(plan, line, MAX_DEPTH.id),
    )


def _found(plan: Plan, line: Line, rule: str) -> str:
    """The figure that the check of a rule found on a line, as its finding has it."""
    found = next((one for one in plan.findings if one.rule == rule and one.subject.partition(":")[0] == line.id), None)
    if found is None or found.value is None:
        return "\u2013"
    return (
        cover_said(found.value, plan.length_unit)
        if rule == MIN_COVER.id
        else units.drop_text(found.value, plan.length_unit)
    )


def _index(made: Sequence[Page], before: int) -> list[str]:
    """Number, title and scale of each sheet or run of sheets: in running text, so that the cover stays one sheet."""
    rows = ["1 Cover" if before == 1 else f"1 to {before} Cover"]
    number = before + 1
    for (title, scale), group in itertools.groupby(made, key=lambda one: (one.title, one.scale)):
        last = number + len([*group]) - 1
        place = f"{number}" if last == number else f"{number} to {last}"
        rows.append(f"{place} {title}" + (f", {scale}" if scale else ""))
        number = last + 1
    return rows
