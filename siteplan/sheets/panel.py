"""Plan and Site in; the page's written part as static HTML out, part by part. It reads without any script.

Status is said by a word and a shape, never by colour alone.
"""

from __future__ import annotations

from siteplan.books.phrases import LANGUAGES, phrase
from siteplan.sheets.care_panel import care_part
from siteplan.sheets.findings_panel import findings_part
from siteplan.sheets.lines_panel import lines_part
from siteplan.sheets.markup import Markup, tag, whole
from siteplan.sheets.notes_panel import notes_part
from siteplan.sheets.panel_parts import both, status_mark
from siteplan.sheets.sources_panel import sources_part
from siteplan.sheets.stakes_panel import stakes_part
from siteplan.sheets.states import verdict
from siteplan.sheets.ties import corners
from siteplan.sheets.wording import counts, one_line, titled
from siteplan.site import Site
from siteplan.values.whole_plan import Plan


def heading(plan: Plan) -> Markup:
    """The head of the page: the site's name and the verdict in one line.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    Markup
        One header element.
    """
    found = counts(plan.findings)
    tally = [
        tag("li", status_mark(status), tag("a", english, href="#part-findings", data_es=spanish), class_=status)
        for status, ident in (
            ("fail", "tally.fail" if found["fail"] == 1 else "tally.fails"),
            ("flag", "tally.flag" if found["flag"] == 1 else "tally.flags"),
            ("pass", "tally.passed"),
        )
        for english, spanish in [[phrase(ident, language, count=f"{found[status]}") for language in LANGUAGES]]
    ]
    return tag(
        "header",
        tag("h1", titled(plan) or "Site"),
        *([tag("p", one_line(plan.stamp))] if plan.stamp else []),
        both("p", whole(verdict(plan)), whole(verdict(plan, "spanish")), "verdict"),
        both("p", "", phrase("page.rest", "spanish"), "rest"),
        tag("ul", *tally, class_="tally"),
        tag("div", class_="switches", id="switches"),
        class_="top",
    )


def panel(plan: Plan, site: Site, interval: str) -> Markup:
    """The written part below or beside the map.

    Parameters
    ----------
    plan : Plan
        The plan.
    site : Site
        The site it was made from.
    interval : str
        Contour interval as printed, for the key.

    Returns
    -------
    Markup
        One aside element.
    """
    return tag(
        "aside",
        lines_part(plan, site),
        stakes_part(plan, corners(site)),
        findings_part(plan, site),
        care_part(plan, site),
        sources_part(plan),
        notes_part(plan, site, interval),
        class_="panel",
        aria_label="The plan in words",
    )
