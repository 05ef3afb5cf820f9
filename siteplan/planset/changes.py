"""What changed since an earlier plan in; clouds for the plan sheet and the table of changes out, numbered alike."""

from __future__ import annotations

from collections.abc import Sequence

from siteplan.planset.asked import PlanSetAsked
from siteplan.planset.texts.flow import Block, Prose, TextTable, flowed, section_head
from siteplan.plotting.clouds import Clouded
from siteplan.plotting.shapes import Page, Spot
from siteplan.review.compared import Change, Comparison, lines_by_ends
from siteplan.review.compared_text import change_row, two_sites_text
from siteplan.sheets.wording import one_line, titled
from siteplan.values.lines import Line
from siteplan.values.water_ends import Outlet, Source
from siteplan.values.whole_plan import Plan

_OF_LINES = {
    "line",
    "way",
    "length",
    "invert",
    "grade",
    "pipe",
    "deepest-cut",
    "least-cover",
    "spare",
    "chance",
    "flow",
}
_OF_ENDS = {"source", "outlet", "control", "served-by", "state", "flow"}
_ROUND = 1.5  # m of line to either side of a station that alone changed


def clouds_of(found: Comparison | None) -> tuple[Clouded, ...]:
    """Where a plan changed, one cloud for each row of the table that has a place.

    Parameters
    ----------
    found : Comparison or None
        The plan before and this one; None: not asked for.

    Returns
    -------
    tuple of Clouded
        Numbered as the rows; rows about one thing share the number of the first.
    """
    if found is None:
        return ()
    numbers = change_numbers(found)
    clouds: dict[int, Clouded] = {}
    for one, number in zip(found.changed, numbers, strict=True):
        runs, gone = _place(one, found)
        if number is None or not runs:
            continue
        held = clouds.get(number)
        if held is None:
            clouds[number] = Clouded(number=number, runs=runs, gone=gone)
        elif sum(map(len, runs)) > sum(map(len, held.runs)):
            clouds[number] = Clouded(number=number, runs=runs, gone=gone or held.gone)
    return tuple(clouds.values())


def change_numbers(found: Comparison) -> list[int | None]:
    """The number of each change on the plan sheet: one for all changes of one thing.

    Parameters
    ----------
    found : Comparison
        The plan before and this one.

    Returns
    -------
    list of int or None
        None: it has no place in the plan.
    """
    seen: dict[str, int] = {}
    numbers: list[int | None] = []
    for one in found.changed:
        placed = bool(_place(one, found)[0])
        numbers.append(seen.setdefault(one.subject, len(seen) + 1) if placed else None)
    return numbers


def _place(one: Change, found: Comparison) -> tuple[tuple[tuple[Spot, ...], ...], bool]:
    """Where a change lies, and whether what lay there is gone."""
    if one.what in _OF_LINES:
        line, gone = lines_by_ends(found.second).get(one.subject), False
        if line is None:
            line, gone = lines_by_ends(found.first).get(one.subject), True
        if line is not None:
            return (_stretch(line, one),), gone
    if one.what in _OF_ENDS:
        for plan in (found.second, found.first):
            spots = [(end.x, end.y) for end in _ends(plan) if one.subject in {end.name, end.id, end.kind}]
            if spots:
                return tuple((spot,) for spot in spots), False
    return (), False


def _ends(plan: Plan) -> tuple[Source | Outlet, ...]:
    """What the plan sheet draws: points that the tool found and nothing uses are not on it."""
    used = {line.end for line in plan.every_line}
    return (*plan.sources, *(one for one in plan.outlets if one.id in used or not one.found))


def _stretch(line: Line, one: Change) -> tuple[Spot, ...]:
    """All of a line, or the stretch about the station at which alone something changed."""
    if one.what != "invert" or one.station is None:
        return tuple((v.x, v.y) for v in line.vertices)
    first, last = max(0.0, one.station - _ROUND), min(line.length, one.station + _ROUND)
    return tuple(line.at(s)[:2] for s in (first, *(v.station for v in line.vertices if first < v.station < last), last))


def change_pages(asked: PlanSetAsked) -> Sequence[Page]:
    """The table of changes.

    Parameters
    ----------
    asked : PlanSetAsked
        With what it is set against.

    Returns
    -------
    sequence of Page
        None where it is set against nothing.
    """
    found = asked.against
    if found is None:
        return []
    unit = asked.plan.length_unit
    blocks: list[Block] = [] if found.site.same else [Prose(text=two_sites_text(found.site))]
    blocks += [Prose(text=f"Before: {titled(found.first)}. After: {titled(found.second)}, this plan.")]
    rows = [
        ("" if number is None else f"\u25b3 {number}", *change_row(one, unit))
        for one, number in zip(found.changed, change_numbers(found), strict=True)
    ]
    if rows:
        blocks.append(TextTable(head=("on the plan", "whose", "what", "where", "before", "after"), rows=tuple(rows)))
    else:
        blocks.append(Prose(text="Nothing that a crew or an inspector reads is changed."))
    for head, held in (
        ("Rules broken now that were kept before", found.breaks),
        ("Rules kept now that were broken before", found.mends),
    ):
        if held:
            blocks += [section_head(head), *(Prose(text=f"{one.rule}: {one_line(one.subject)}") for one in held)]
    return flowed(asked.paper, "Changes", blocks)
