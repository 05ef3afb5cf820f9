"""The sheets of a plan folder, in one table: file name and maker.

A plan is written by it, and a review compares by it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

from siteplan.optional import optional

if TYPE_CHECKING:
    from siteplan.site import Site
    from siteplan.values.whole_plan import Plan


class Sheet(NamedTuple):
    """One file of a plan folder: its name, and what makes its bytes from the plan as stored and the site."""

    name: str
    make: Callable[[Plan, Site], bytes]


def _record(plan: Plan, site: Site) -> bytes:
    from siteplan.sheets.plan_json import plan_json

    return plan_json(plan, site)


def whole_map(plan: Plan, site: Site) -> bytes:
    """The map page with the sheets that it prints.

    Parameters
    ----------
    plan : Plan
        As stored.
    site : Site
        As surveyed.

    Returns
    -------
    bytes
        HTML in UTF-8.
    """
    from siteplan.plotting.printed import printed_sheets
    from siteplan.sheets.map_page import map_page
    from siteplan.sheets.markup import tag
    from siteplan.sheets.missing_words import missing_text
    from siteplan.values.told import MissingPart

    gone = tag("p", missing_text(MissingPart(part="printed", subject="", fault="see --debug")))
    return map_page(plan, site, optional("printed", lambda: printed_sheets(plan, site), gone))


def _map(plan: Plan, site: Site) -> bytes:
    """The map; where it cannot be drawn by a fault of ours, its words alone."""
    from siteplan.sheets.map_page import words_page

    return optional("map", lambda: whole_map(plan, site), b"") or words_page(plan, site)


def _schedule(plan: Plan, _: Site) -> bytes:
    from siteplan.sheets.schedule import trench_schedule

    return trench_schedule(plan)


def _quantities(plan: Plan, _: Site) -> bytes:
    from siteplan.sheets.quantities import quantities_csv

    return quantities_csv(plan)


def _layouts(plan: Plan, _: Site) -> bytes:
    from siteplan.sheets.layouts_csv import layouts_csv

    return layouts_csv(plan)


SHEETS: tuple[Sheet, ...] = (
    Sheet("plan.json", _record),
    Sheet("map.html", _map),
    Sheet("trench_schedule.csv", _schedule),
    Sheet("quantities.csv", _quantities),
    Sheet("layouts.csv", _layouts),
)
NAMES = tuple(sheet.name for sheet in SHEETS)


def made_sheets(plan: Plan, site: Site) -> dict[str, bytes]:
    """Every sheet of a plan.

    Parameters
    ----------
    plan : Plan
        As stored.
    site : Site
        As surveyed.

    Returns
    -------
    dict of str to bytes
        File name to content, in the order of the table.
    """
    return {sheet.name: sheet.make(plan, site) for sheet in SHEETS}
