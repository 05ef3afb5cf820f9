"""The parts of a plan set in one table, in the order of its sheets; put together, numbered, framed.

The cover is made last, as it lists the others and names what could not be drawn, and bound first.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from siteplan.errors import InputError
from siteplan.planset.asked import PartLeftOut, PlanSetAsked
from siteplan.plotting.frame import framed, heading_of
from siteplan.plotting.pdf import pages_pdf
from siteplan.plotting.shapes import Page
from siteplan.sheets.wording import titled


class SetPart(NamedTuple):
    """A part of the set: its word for --parts, its title, what makes its pages; no page where the plan has nothing for it."""

    word: str
    title: str
    make: Callable[[PlanSetAsked], Sequence[Page]]


def _plan(asked: PlanSetAsked) -> Sequence[Page]:
    from siteplan.plotting.plan_sheet import plan_pages

    return plan_pages(asked.plan, asked.paper, asked.scale, asked.ground)


SET_PARTS: tuple[SetPart, ...] = (SetPart("plan", "Plan", _plan),)


def plan_set(
    asked: PlanSetAsked, parts: Sequence[str] = (), *, debug: bool = False
) -> tuple[bytes, tuple[PartLeftOut, ...]]:
    """The set as a PDF.

    Parameters
    ----------
    asked : PlanSetAsked
        Plan, paper, scale, date.
    parts : sequence of str
        Words of the parts wanted; empty: all.
    debug : bool
        True: a fault of ours is raised and no part left out.

    Returns
    -------
    bytes
        The same for the same input.
    tuple of PartLeftOut
        What is not in it.

    Raises
    ------
    InputError
        Where nothing of what was asked for can be drawn.
    """
    made: list[Page] = []
    left: list[PartLeftOut] = []
    for part in SET_PARTS:
        if parts and part.word not in parts:
            continue
        try:
            made.extend(part.make(asked))
        except InputError:
            raise
        except Exception as fault:
            if debug:
                raise
            left.append(PartLeftOut(title=part.title, why=f"a fault of ours ({type(fault).__name__})"))
    pages = [*_cover(asked, made, left), *made] if not parts or "cover" in parts else made
    if not pages:
        raise InputError("--parts", "leaves no sheet", f"Name some of {', '.join(one.word for one in SET_PARTS)}.")
    head = heading_of(asked.plan, asked.identity, revision=asked.revision, date=asked.date)
    numbered = [framed(page, head, number, len(pages)) for number, page in enumerate(pages, start=1)]
    return pages_pdf(numbered, f"{titled(asked.plan)}, plan set"), tuple(left)


def _cover(asked: PlanSetAsked, made: Sequence[Page], left: Sequence[PartLeftOut]) -> Sequence[Page]:  # noqa: ARG001
    """Cover pages. `made` are those behind them, for the index."""
    return ()
