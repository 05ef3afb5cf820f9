"""The findings of a plan in; its part 'Findings' out, worst first. Each leads to its place on map and profile."""

from __future__ import annotations

from collections.abc import Mapping

from siteplan.books.phrases import phrase
from siteplan.sheets.markup import Markup, tag
from siteplan.sheets.panel_parts import line_number, part, status_mark, to_line, to_mark
from siteplan.sheets.wording import names, one_line, subject, worst_first
from siteplan.site import Site
from siteplan.values.told import Finding
from siteplan.values.whole_plan import Plan


def findings_part(plan: Plan, site: Site) -> Markup:
    """Every check.

    Parameters
    ----------
    plan : Plan
        The plan.
    site : Site
        The site it was made from, for the titles of its rules.

    Returns
    -------
    Markup
        One part.
    """
    called = names(plan)
    findings = worst_first(plan, site.rules)
    poor = [_finding(plan, one, site, called) for one in findings if one.status != "pass"]
    good: dict[str, list[Finding]] = {}
    for one in findings:
        if one.status == "pass":
            good.setdefault(one.rule, []).append(one)
    inside = [tag("ul", *poor, class_="checks")] if poor else [tag("p", "Nothing fails and nothing is flagged.")]
    if good:
        rules = [_passed(plan, rule, held, site, called) for rule, held in good.items()]
        told = f"{sum(map(len, good.values()))} passed, by {len(good)} rules"
        inside.append(tag("details", tag("summary", told), tag("ul", *rules, class_="checks")))
    return part(
        "findings",
        phrase("page.findings"),
        tag("p", "Checks, worst first. Each leads to its place on the map.", class_="note"),
        *inside,
        spanish=phrase("page.findings", "spanish"),
    )


def _leads(plan: Plan, finding: Finding, words: str) -> Markup:
    """The subject's words, leading to where the finding is."""
    if finding.place is not None:
        return to_line(plan, finding.place.line, finding.place.station_from, words)
    about = finding.subject.partition(":")[0]
    if line_number(plan, about) is not None:
        return to_line(plan, about, None, words)
    known = {*(one.id for one in plan.sources), *(one.id for one in plan.outlets)}
    return to_mark(about, words) if about in known else tag("span", words)


def _finding(plan: Plan, finding: Finding, site: Site, called: Mapping[str, str]) -> Markup:
    return tag("li", *_head(finding.status, finding.rule, site), *_told(plan, finding, called), class_=finding.status)


def _passed(plan: Plan, rule: str, held: list[Finding], site: Site, called: Mapping[str, str]) -> Markup:
    """A rule that passed, once, and under it each place where it was looked at."""
    places = [tag("li", *_told(plan, one, called)) for one in held]
    return tag("li", *_head("pass", rule, site), tag("ul", *places, class_="places"), class_="pass")


def _head(status: str, rule: str, site: Site) -> tuple[str, ...]:
    entry = site.rules.get(rule)
    return (
        status_mark(status),
        tag("b", status.upper(), class_="word"),
        " ",
        tag("code", rule),
        " ",
        tag("span", entry.rule.title if entry else rule, class_="title"),
    )


def _told(plan: Plan, finding: Finding, called: Mapping[str, str]) -> tuple[Markup, Markup]:
    place = f", {one_line(finding.where)}" if finding.where else ""
    return (
        tag("span", _leads(plan, finding, f"{subject(finding, called)}{place}"), class_="where"),
        tag("span", one_line(finding.message), class_="message"),
    )
