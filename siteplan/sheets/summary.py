"""Plan and Site in; the verdict for a terminal out: at most 80 columns, wrapped, and no finding cut short."""

from __future__ import annotations

import math
from collections.abc import Sequence

from siteplan import units
from siteplan.sheets.choice_words import COLUMNS, choose_text, few_text, front_text, laid_for
from siteplan.sheets.cure_words import attempt_of, cure_text, cures_text, miss_text, nearest_misses
from siteplan.sheets.doubt_words import brief_text, spare_fact, wanted_line
from siteplan.sheets.margin_words import margin_texts
from siteplan.sheets.missing_words import missing_text
from siteplan.sheets.own_words import own_facts, own_left
from siteplan.sheets.pumped_words import pumped_lines
from siteplan.sheets.search_words import sharing_text
from siteplan.sheets.stakes import pipe_words
from siteplan.sheets.states import line_state, verdict
from siteplan.sheets.terminal import fitted
from siteplan.sheets.water_panel import water_line
from siteplan.sheets.wording import (
    counted,
    counts,
    cover_said,
    grades_text,
    has_outlet_zone,
    least_cover,
    losing,
    names,
    served_text,
    subject,
    titled,
    way,
    worst_first,
)
from siteplan.site import Site
from siteplan.values.lines import Line
from siteplan.values.told import Finding
from siteplan.values.tried import Candidate
from siteplan.values.whole_plan import Plan

_CURES_SHOWN = 3  # changes that would serve it; the map has them all
_TRIED_SHOWN = 2  # ways tried for a source that nothing drains


def summary(plan: Plan, site: Site) -> str:
    """The verdict: head, lines, what is not drained, then every fail and flag, worst first.

    Parameters
    ----------
    plan : Plan
        The plan.
    site : Site
        The site it was made from.

    Returns
    -------
    str
        Plain text without control characters, of at most 80 columns; no newline at the end.
    """
    called = names(plan)
    unit = plan.length_unit
    found = counts(plan.findings)
    _, unserved = served_text(plan)
    screen = fitted(
        f"{titled(plan)}: {verdict(plan)}; "
        f"{counted(found['fail'], 'fail')}, {counted(found['flag'], 'flag')}, {found['pass']} passed"
    )
    screen += fitted(f"Survey doubt {units.drop_text(plan.accuracy, unit)} on any elevation (one standard deviation)")
    for part in plan.missing:
        screen += fitted(missing_text(part))
    for line in plan.every_line:
        screen += _line(plan, site, line, called)
    for told in sharing_text(plan):
        screen += fitted(f"{told}.")
    screen += fitted(wanted_line(plan)) if wanted_line(plan) else []
    screen += _unused(plan, called)
    for text in own_left(plan):
        screen += fitted(f"NOT LAID AS DRAWN  {text}")
    for source in unserved:
        screen += _unserved(plan, source, called)
    screen += _choices(plan)
    poor = [
        finding
        for finding in worst_first(plan, site.rules)
        if finding.status != "pass" and not (finding.rule == "served" and finding.subject.partition(":")[0] in unserved)
    ]
    for finding in poor:
        screen += _finding(finding, called)
    return "\n".join(screen)


def _line(plan: Plan, site: Site, line: Line, called: dict[str, str]) -> list[str]:
    unit = plan.length_unit
    if line.pumped is not None:
        head = (
            f"{line.id}  {line_state(plan, line).text}: {way(line, called)}: "
            f"{units.length_text(line.length, unit, 1)} of {pipe_words(line.pipe, unit)}"
        )
        return [*fitted(head), *(text for told in pumped_lines(plan, line) for text in fitted(told, 4))]
    low, high = (units.length_text(end.invert, plan.elevation_unit) for end in (line.vertices[0], line.vertices[-1]))
    cover = least_cover(plan, site.rules, line)
    told = [f"{units.length_text(line.length, unit, 1)} at {grades_text(line)}"]
    told.append(f"invert {high} down to {low}")
    _, spare = spare_fact(line, unit)
    spare = f"{spare[0].upper()}{spare[1:]}"
    if cover is not None:
        past = " past the outlet zone" if has_outlet_zone(plan, line) else ""
        spare += f"; least cover{past} {cover_said(cover[0], unit)} at {units.station_text(cover[1], unit)}"
    return [
        *fitted(f"{line.id}  {line_state(plan, line).text}: {way(line, called)}: {', '.join(told)}"),
        *fitted(spare, 4),
        *fitted(f"Tightest: {line.binding}", 4),
        *(
            part
            for number, text in enumerate(margin_texts(line, unit))
            for part in fitted(f"Margins {text}" if number == 0 else f"{text[0].upper()}{text[1:]}", 4)
        ),
        *([] if line.doubt is None else fitted(brief_text(line.doubt), 4)),
        *fitted(water_line(plan, line.id), 4),
        *(text for said in own_facts(plan, line) for text in fitted(said, 4)),
    ]


_SHOWN = ("cost", "length", "cut", "paved", "spare", "chance", "flags", "fails")  # columns of a terminal
_HEADS = {"paved": "pavement", "cut": "deepest", "spare": "to spare", "chance": "chance"}


def _columns(cells: Sequence[str], wide: Sequence[int]) -> str:
    return "".join(f"{cell:>{room}}" for cell, room in zip(cells, wide, strict=True))


def _choices(plan: Plan) -> list[str]:
    """The layouts side by side, and which of them the plan is."""
    if not plan.layouts:
        return []
    told = fitted(f"LAYOUTS  {choose_text(plan)}")
    shown = [column for column in COLUMNS if column.key in _SHOWN]
    if len(plan.layouts) > 1:
        told += fitted(f"Lengths in {units.UNIT_NAMES[plan.length_unit]}.", 4)
        heads = [_HEADS.get(one.key, one.head) for one in shown]
        rows = [[one.text(layout, plan) for one in shown] for layout in plan.layouts]
        wide = [max(map(len, column)) + 2 for column in zip(heads, *rows, strict=True)]
        numbers = [f"  {layout.number:>2}{'*' if layout.chosen else ' '}" for layout in plan.layouts]
        told.append("     " + _columns(heads, wide))
        for layout, number, row in zip(plan.layouts, numbers, rows, strict=True):
            told += [f"{number}{_columns(row, wide)}".replace("\u00a0", " "), *fitted(laid_for(plan, layout), 6)]
    return [*told, *(line for text in (few_text(plan), front_text(plan)) if text for line in fitted(text, 4))]


def _unused(plan: Plan, called: dict[str, str]) -> list[str]:
    """Named outlets that nothing can reach, while lines go elsewhere: silence would read as a choice."""
    told: list[str] = []
    if not plan.lines:
        return told  # each source below tells of each outlet
    served = {source for line in plan.every_line for source in line.sources}
    for outlet in plan.outlets:
        tries = [candidate for candidate in plan.candidates if candidate.outlet == outlet.id]
        if not outlet.found and tries and not any(candidate.feasible for candidate in tries):
            missed = next((one for one in plan.attempts if one.outlet == outlet.id and one.source in served), None)
            nearest = next((one for one in tries if missed and one.sources == (missed.source,)), _nearest(tries))
            told += fitted(f"NOT USED  {called[outlet.id]}: {nearest.reason or 'out of reach'}")
            if missed is not None:
                told += [
                    text
                    for cure in missed.cures
                    for text in fitted(
                        f"To make it work from {called[missed.source]}: {cure_text(cure, plan, missed)}", 4
                    )
                ]
    return told


def _nearest(tries: list[Candidate]) -> Candidate:
    """The try that is short by least; one without a measure comes last."""
    return max(tries, key=lambda one: -math.inf if one.margin is None else one.margin)


def _unserved(plan: Plan, source: str, called: dict[str, str]) -> list[str]:
    tried = losing(plan, source)
    told = fitted(f"NOT DRAINED  {called[source]}")
    if not tried:
        why = next(
            (f.message for f in plan.findings if f.rule == "served" and f.subject.split(":")[0] == source),
            "no outlet to try",
        )
        return [*told, *fitted(why, 4)]
    for candidate in tried[:_TRIED_SHOWN]:
        told += _lost(candidate, plan.length_unit, called)
        miss = attempt_of(plan, source, candidate.outlet)
        if miss is not None and miss in nearest_misses(plan):
            told += fitted(f"Best line: {miss_text(plan, miss)}", 6)
        cures = () if miss is None else miss.cures
        for number, text in enumerate(cures_text(plan, miss)[:_CURES_SHOWN]):
            lead = "" if not cures else "Would reach it: " if cures[number].fails else "Would serve it: "
            told += fitted(f"{lead}{text}", 6)
    return told


def _lost(candidate: Candidate, unit: str, called: dict[str, str]) -> list[str]:
    reason = candidate.reason or "lost"
    if candidate.feasible and candidate.margin is not None:  # what is short says so in its reason
        reason += f" ({units.spare_text(candidate.margin, unit)})"
    return fitted(f"{called.get(candidate.outlet, candidate.outlet)}: {reason}", 4)


def _finding(finding: Finding, called: dict[str, str]) -> list[str]:
    # the message says figure and limit, once each and in its own measure
    place = f", {finding.where}" if finding.where else ""
    return fitted(f"{finding.status.upper()}  {finding.rule}, {subject(finding, called)}{place}: {finding.message}")
