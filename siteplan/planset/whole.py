"""The parts of a plan set in one table, in the order of its sheets; put together, numbered, framed.

The cover is made last, as it lists the others and names what could not be drawn, and bound first.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import NamedTuple

from siteplan.books.rules import MIN_COVER, OUTLET_ZONE, START_ZONE
from siteplan.errors import InputError
from siteplan.planset.asked import PartLeftOut, PlanSetAsked
from siteplan.planset.changes import change_pages, clouds_of
from siteplan.planset.texts.check_sheets import check_sheet_pages
from siteplan.planset.texts.cover import cover_pages
from siteplan.planset.texts.details import detail_pages
from siteplan.planset.texts.notes import assumption_pages, note_pages, rule_pages
from siteplan.planset.texts.schedules import cut_pages, quantity_pages, schedule_pages
from siteplan.plotting.frame import framed, heading_of
from siteplan.plotting.pdf import pages_pdf
from siteplan.plotting.shapes import Page
from siteplan.sheets.wording import titled
from siteplan.survey.files import said


class SetPart(NamedTuple):
    """A part of the set: its word for --parts, its title, what makes its pages.

    No page where the plan has nothing for it.

    A part may give back, among its pages, what of it could not be drawn: the rest stands.
    """

    word: str
    title: str
    make: Callable[[PlanSetAsked], Sequence[Page | PartLeftOut]]


def _plan(asked: PlanSetAsked) -> Sequence[Page]:
    from siteplan.plotting.plan_sheet import plan_pages

    return plan_pages(asked.plan, asked.paper, asked.scale, asked.ground, clouds_of(asked.against))


def _profiles(asked: PlanSetAsked) -> Sequence[Page | PartLeftOut]:
    """Every line at one scale of heights.

    One whose heights fit at none, or that is not drawn by a fault of ours, is left out alone.
    """
    from siteplan.plotting.paper_sizes import scales
    from siteplan.plotting.plan_sheet import plan_cut
    from siteplan.plotting.profile_marks import ProfiledLine
    from siteplan.plotting.profile_sheet import line_steepness, profile_pages, profiled_line

    usual = {"min-cover": MIN_COVER, "outlet-zone": OUTLET_ZONE, "start-zone": START_ZONE}
    limits = {name: asked.stored.limit(name, rule.limit or 0.0) for name, rule in usual.items()}
    try:
        ratio = plan_cut(asked.plan, asked.paper, asked.scale).ratio
    except InputError:
        if asked.scale is not None:
            raise
        ratio = scales(asked.plan.length_unit)[-1]  # a profile is broken along its line, and needs no plan sheet
    fit: list[tuple[ProfiledLine, int]] = []
    left: list[PartLeftOut] = []
    for line in asked.plan.every_line:
        try:
            of = profiled_line(asked.plan, line, asked.ground, limits)
            fit.append((of, line_steepness(of, asked.paper, ratio)))
        except InputError as fault:
            left.append(PartLeftOut(title=f"Profile {line.id}", why=fault.what))
        except Exception as fault:
            if asked.debug:
                raise
            left.append(_fault_of_ours(f"Profile {line.id}", fault))
    steep = max((steep for _, steep in fit), default=ratio)
    try:
        return [*profile_pages([of for of, _ in fit], asked.paper, ratio, steep), *left]
    except Exception:
        if asked.debug:
            raise
    pages: list[Page] = []
    for of, _ in fit:  # which of them is it?
        try:
            pages.extend(profile_pages([of], asked.paper, ratio, steep))
        except Exception as fault:
            if asked.debug:
                raise
            left.append(_fault_of_ours(f"Profile {of.line.id}", fault))
    return [*pages, *left]


COVER = "cover"
SET_PARTS: tuple[SetPart, ...] = (
    SetPart("plan", "Plan", _plan),
    SetPart("profiles", "Profiles", _profiles),
    SetPart("changes", "Changes", change_pages),
    SetPart("schedule", "Trench schedule", schedule_pages),
    SetPart("cuts", "Cut table", cut_pages),
    SetPart("quantities", "Quantities", quantity_pages),
    SetPart("details", "Details", detail_pages),
    SetPart("notes", "Notes and cautions", note_pages),
    SetPart("rules", "Rules and sources", rule_pages),
    SetPart("assumptions", "Assumptions", assumption_pages),
    SetPart("check-sheets", "Check sheets", check_sheet_pages),
)


def _fault_of_ours(title: str, fault: Exception) -> PartLeftOut:
    return PartLeftOut(
        title=title,
        why=f"not drawn by a fault of ours ({type(fault).__name__}); run again with --debug and send the report",
    )


def plan_set(asked: PlanSetAsked, parts: Sequence[str] = ()) -> tuple[bytes, tuple[PartLeftOut, ...]]:
    """The set as a PDF.

    Parameters
    ----------
    asked : PlanSetAsked
        Plan, paper, scale, date.
    parts : sequence of str
        Words of the parts wanted; empty: all.

    Returns
    -------
    bytes
        The same for the same input.
    tuple of PartLeftOut
        What is not in it.

    Raises
    ------
    InputError
        As `set_pages`.
    """
    pages, left = set_pages(asked, parts)
    return pages_pdf(pages, f"{titled(asked.plan)}, plan set"), left


def set_pages(asked: PlanSetAsked, parts: Sequence[str] = ()) -> tuple[tuple[Page, ...], tuple[PartLeftOut, ...]]:
    """The sheets, numbered and framed.

    Parameters
    ----------
    asked : PlanSetAsked
        Plan, paper, scale, date.
    parts : sequence of str
        Words of the parts wanted; empty: all.

    Returns
    -------
    tuple of Page
        In the order of the set.
    tuple of PartLeftOut
        What is not in it.

    Raises
    ------
    InputError
        For a part that there is not, a lot that fits on no reasonable number of sheets at a scale that was asked for,
        or at any where nothing else is wanted.
    """
    words = (COVER, *(one.word for one in SET_PARTS))
    for word in parts:
        if word not in words:
            raise InputError("--parts", f"has no part {said(word, 40)!r}", f"Name some of {', '.join(words)}.")
    made: list[Page] = []
    left: list[PartLeftOut] = []
    faults: list[Exception] = []

    def gather(title: str, make: Callable[[], Sequence[Page | PartLeftOut]]) -> list[Page]:
        """Pages of one part; a fault of ours in it, or a lot that its sheets do not hold, is noted and ends nothing."""
        try:
            found = make()
        except InputError as fault:
            if asked.scale is not None:  # what was typed cannot be done
                raise
            faults.append(fault)
            found = [PartLeftOut(title=title, why=f"{fault.what}. {fault.mend}")]
        except Exception as fault:
            if asked.debug:
                raise
            faults.append(fault)
            found = [_fault_of_ours(title, fault)]
        left.extend(one for one in found if isinstance(one, PartLeftOut))
        return [one for one in found if isinstance(one, Page)]

    for part in SET_PARTS:
        if not parts or part.word in parts:
            made += gather(part.title, partial(part.make, asked))
    pages = made
    if not parts or COVER in parts:
        pages = [*gather("Cover", lambda: cover_pages(asked, made, left)), *made]
    if not pages and faults:
        raise faults[0]
    if not pages:
        raise InputError("--parts", "leaves no sheet", f"Name some of {', '.join(words)}.")
    head = heading_of(asked.plan, asked.identity, revision=asked.revision, date=asked.date)
    numbered = tuple(framed(page, head, number, len(pages)) for number, page in enumerate(pages, start=1))
    return numbered, tuple(left)
