"""A stored plan in.

Its cautions and hold points, its rules with their sources, and what it takes as given, as pages, out.
"""

from __future__ import annotations

import math

from siteplan import units
from siteplan.books.phrases import phrase
from siteplan.checks.judge import PARAMETERS
from siteplan.planset.asked import PlanSetAsked
from siteplan.planset.texts.flow import Block, Prose, TextTable, flowed, listed_words, section_head
from siteplan.planset.texts.stated_rules import stated_rules
from siteplan.plotting.shapes import Page
from siteplan.sheets.caution_words import cautions_in
from siteplan.sheets.doubt_words import chance_text, wanted_texts
from siteplan.sheets.hold_points import hold_points
from siteplan.sheets.wording import one_line
from siteplan.values.lines import Line
from siteplan.values.whole_plan import Plan


def note_pages(asked: PlanSetAsked) -> list[Page]:
    """Cautions, hold points and notes.

    Parameters
    ----------
    asked : PlanSetAsked
        The plan, its paper and the language of the crew.

    Returns
    -------
    list of Page
        At least one.
    """
    plan, language = asked.plan, asked.language
    blocks: list[Block] = [
        section_head(phrase("caution.head", language)),
        *listed_words(cautions_in(plan, language), 2.7),
        section_head(phrase("hold.head", language)),
        *listed_words(hold_points(plan, language), 2.7),
    ]
    if plan.reach_note:
        blocks += [section_head("Where a line could go"), *listed_words(plan.reach_note)]
    return flowed(asked.paper, phrase("notes.title", language), blocks, columns=2)


def rule_pages(asked: PlanSetAsked) -> list[Page]:
    """The rules that the plan was held to, as it states them, with their sources.

    Parameters
    ----------
    asked : PlanSetAsked
        The plan and its paper.

    Returns
    -------
    list of Page
        None where the plan lists no rule.
    """
    stated = stated_rules(asked.stored)
    if not stated:
        return []
    spoken = {one.rule for one in asked.plan.findings} | set(PARAMETERS)
    rows = tuple(
        (
            one.id,
            one.title,
            one.limit,
            one.broken,
            one.standing,
            " ".join(part for part in (f"{one.source}.", one.caution) if part),
        )
        for one in stated
        if one.id in spoken
    )
    silent = ", ".join(one.id for one in stated if one.id not in spoken)
    head = ("Rule", "What it asks", "Limit", "Broken", "Standing", "Source and caution")
    told = (
        "The rules in force for this plan. Local code decides; a rule whose source is common practice has no "
        "published one."
    )
    blocks: list[Block] = [Prose(text=told), TextTable(head=head, rows=rows, strong=(0,))]
    if silent:
        blocks.append(
            Prose(
                text=(
                    "In force too, with nothing on this lot to speak of; plan.json has their limits and sources: "
                    f"{silent}."
                ),
            )
        )
    return flowed(asked.paper, "Rules and sources", blocks)


def assumption_pages(asked: PlanSetAsked) -> list[Page]:
    """What the plan takes as given, what weighs most first.

    How sure each line's fall is, then which shots would make it surer.

    Parameters
    ----------
    asked : PlanSetAsked
        The plan and its paper.

    Returns
    -------
    list of Page
        At least one.
    """
    plan = asked.plan
    accuracy = (
        f"Survey doubt: {units.drop_text(plan.accuracy, plan.length_unit)}, one standard deviation of any "
        "elevation. It enters every fall, cover and cut of this set."
    )
    blocks: list[Block] = [section_head("What the verdict hangs on, what weighs most first"), Prose(text=accuracy)]
    doubted = sorted((line for line in plan.lines if line.doubt is not None), key=_weight)
    if doubted:
        head = (
            "Line",
            "Fall to spare, and its doubt",
            "Holds its least grade",
            "Falls everywhere",
            "Shots that would make it surer, the best first",
        )
        blocks.append(TextTable(head=head, rows=tuple(_doubt_row(plan, line) for line in doubted), strong=(0,)))
    given = [
        (one.name or one.id, one.kind, one_line(one.basis))
        for one in plan.outlets
        if any(line.end == one.id for line in plan.every_line)
    ]
    if given:
        blocks.append(section_head("Outlets: where their height is from"))
        blocks.append(
            TextTable(
                head=("Outlet", "Kind", "Height taken from"),
                rows=tuple((name, kind.replace("_", " "), basis) for name, kind, basis in given),
                strong=(0,),
            )
        )
    blocks += [section_head("Taken as given"), *listed_words(plan.assumptions)]
    if plan.inputs:
        rows = tuple((one.file, one.sha256) for one in plan.inputs)
        blocks += [
            section_head("Files that the plan was made from"),
            TextTable(head=("File", "SHA-256"), rows=rows),
        ]
    return flowed(asked.paper, "Assumptions", blocks)


def _weight(line: Line) -> tuple[float, float, str]:
    """The line that its doubt may tip first; lines that stand as sure in the order of fall to spare over doubt."""
    doubt = line.doubt
    if doubt is None:
        return (math.inf, math.inf, line.id)
    return (round(doubt.chance_min_grade, 3), line.spare / doubt.fall if doubt.fall > 0 else math.inf, line.id)


def _doubt_row(plan: Plan, line: Line) -> tuple[str, ...]:
    doubt = line.doubt
    if doubt is None:
        return (line.id, "", "", "", "")
    wanted = "; ".join(wanted_texts(line))
    spare = units.spare_text(line.spare, plan.length_unit, doubt.fall)
    return (line.id, spare, chance_text(doubt.chance_min_grade), chance_text(doubt.chance_falls), wanted)
