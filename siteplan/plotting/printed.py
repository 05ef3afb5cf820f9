"""A plan and its site in; what the map page prints out.

The plan sheet and the profiles as drawn for the plan set, then verdict and cautions.
"""

from __future__ import annotations

from collections.abc import Sequence

from siteplan.errors import InputError
from siteplan.plotting.frame import framed, heading_of, plan_id
from siteplan.plotting.ground_lines import ground_lines
from siteplan.plotting.paper_sizes import Paper, usual_paper
from siteplan.plotting.plan_sheet import plan_cut, plan_pages
from siteplan.plotting.profile_sheet import line_steepness, profile_pages, profiled_line
from siteplan.plotting.svg_of import page_svg
from siteplan.sheets.markup import Markup, tag
from siteplan.sheets.plan_json import plan_json
from siteplan.sheets.states import line_state
from siteplan.sheets.wording import names, titled, way
from siteplan.site import Site
from siteplan.values.whole_plan import Plan


def printed_sheets(plan: Plan, site: Site) -> Markup:
    """The sheets that stand on the page for its printing.

    Parameters
    ----------
    plan : Plan
        As stored.
    site : Site
        As surveyed.

    Returns
    -------
    Markup
        One element, each sheet a part of it.
    """
    paper = usual_paper(plan.length_unit)
    limits = {name: site.rules[name].limit for name in ("min-cover", "outlet-zone", "start-zone")}
    try:
        ratio = plan_cut(plan, paper, None).ratio
    except InputError:
        return Markup("")  # a lot for larger paper: the screen is printed, and `siteplan sheets` draws it
    ground = ground_lines(plan, site)
    lines = []
    missed = []
    for line in plan.every_line:
        of = profiled_line(plan, line, ground, limits)
        try:
            lines.append((of, line_steepness(of, paper, ratio)))
        except InputError as fault:
            missed.append(f"{fault.where} is not drawn: it {fault.what}.")
    steep = max((steep for _, steep in lines), default=ratio)
    pages = [*plan_pages(plan, paper, None, ground), *profile_pages([of for of, _ in lines], paper, ratio, steep)]
    head = heading_of(plan, plan_id(plan_json(plan, site)))
    sheets = [
        tag("div", page_svg(framed(page, head, number, len(pages))), class_=f"sheet {_sheet_class(page.paper)}")
        for number, page in enumerate(pages, start=1)
    ]
    return tag("div", *sheets, tag("div", *_words(plan, missed), class_="sheet-words"), class_="printed")


def _words(plan: Plan, missed: Sequence[str]) -> list[Markup]:
    """How each line stands, and the cautions: what the drawing must not go without."""
    called = names(plan)
    stands = [f"{line.id}, {way(line, called)}: {line_state(plan, line).text}" for line in plan.every_line]
    return [
        tag("h2", titled(plan)),
        tag("ul", *(tag("li", text) for text in (*stands, *missed))),
        tag("h2", "Cautions"),
        tag("ul", *(tag("li", text) for text in plan.cautions)),
    ]


def _sheet_class(paper: Paper) -> str:
    return f"sheet-{paper.name}{'-upright' if paper.upright else ''}"
