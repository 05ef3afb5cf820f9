"""A plan in; its part 'Lines' out.

What is not drained and what would change that, each line's figures, other layouts.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from siteplan import units
from siteplan.books.phrases import phrase
from siteplan.sheets.attempt_chart import attempt_chart
from siteplan.sheets.choices_panel import choices_panel
from siteplan.sheets.cure_words import attempt_of, cures_text, miss_text, nearest_misses
from siteplan.sheets.doubt_words import spare_fact, sure_text, wanted_texts
from siteplan.sheets.ground_panel import ground_panel
from siteplan.sheets.margin_words import margin_texts
from siteplan.sheets.markup import Markup, tag, whole
from siteplan.sheets.nearby import nearest_text
from siteplan.sheets.own_words import own_facts
from siteplan.sheets.panel_parts import both, bullets, chapter, facts_list, part, status_mark, to_line, to_mark
from siteplan.sheets.pumped_words import pumped_facts
from siteplan.sheets.search_words import sharing_text
from siteplan.sheets.sources_panel import candidate_item
from siteplan.sheets.stakes import pipes_words
from siteplan.sheets.states import line_state
from siteplan.sheets.water_panel import water_panel
from siteplan.sheets.wording import (
    KIND_TITLES,
    cover_said,
    grades_text,
    has_outlet_zone,
    least_cover,
    losing,
    names,
    one_line,
    served_text,
    way,
)
from siteplan.site import Site
from siteplan.values.lines import Line
from siteplan.values.tried import Attempt
from siteplan.values.whole_plan import Plan


def lines_part(plan: Plan, site: Site) -> Markup:
    """What drains, by which line, and what does not.

    Parameters
    ----------
    plan : Plan
        The plan.
    site : Site
        The site it was made from.

    Returns
    -------
    Markup
        One part.
    """
    called = names(plan)
    _, unserved = served_text(plan)
    inside: list[Markup] = []
    if unserved:
        inside.append(chapter("Not drained", *[_unserved(plan, source, called) for source in unserved]))
    inside.append(
        chapter("Lines", *[_line(plan, site, line, called) for line in plan.every_line])
        if plan.every_line
        else chapter("Lines", tag("p", "No line can be laid."))
    )
    if shared := sharing_text(plan):
        inside.append(chapter("Joined or apart", bullets([f"{told}." for told in shared])))
    if plan.layouts:
        inside.append(choices_panel(plan))
    return part("lines", phrase("page.lines"), *inside, spanish=phrase("page.lines", "spanish"))


def _line(plan: Plan, site: Site, line: Line, called: dict[str, str]) -> Markup:
    unit = plan.length_unit
    cover = least_cover(plan, site.rules, line)
    cuts = [(row.cut, row.station) for row in line.rows if math.isfinite(row.cut)]
    deepest = max(cuts) if cuts else None
    stands = line_state(plan, line)
    state = {"fails": "fail", "cannot-tell": "flag", "sure": "pass"}[stands.state]
    title = tag(
        "h4",
        status_mark(state),
        " ",
        to_line(plan, line.id, None, tag("b", line.id), " ", way(line, called)),
        both("span", f" {stands.text}", f" {stands.text_in('spanish')}", f"word {state}"),
    )
    crossed = [
        f"{one_line(c.name) or KIND_TITLES.get(c.kind, c.kind)} at {units.station_text(c.station_from, unit)} "
        f"to {units.station_text(c.station_to, unit)}, "
        f"{c.angle:.0f}\u00b0, cover at the edges {cover_said(c.cover_from, unit)} and {cover_said(c.cover_to, unit)}, "
        f"least {cover_said(c.cover_min, unit)}" + (f"; sleeve: {one_line(c.sleeve)}" if c.sleeve else "")
        for c in line.crossings
    ]
    wet = [
        f"{p.id} at {units.station_text(p.station_from, unit)} to {units.station_text(p.station_to, unit)}"
        for p in line.low_spots
    ]
    facts = facts_list(
        ("Drawn by a person", ". ".join(own_facts(plan, line))),
        ("Length", units.length_text(line.length, unit, 1)),
        ("Grade", grades_text(line)),
        ("Invert at the start", units.length_text(line.vertices[-1].invert, plan.elevation_unit)),
        ("Invert at the end", units.length_text(line.vertices[0].invert, plan.elevation_unit)),
        *([] if line.pumped is not None else [spare_fact(line, unit)]),
        *pumped_facts(line, unit, plan.elevation_unit),
        (
            "Least cover past the outlet zone" if has_outlet_zone(plan, line) else "Least cover",
            f"{cover_said(cover[0], unit)} at {units.station_text(cover[1], unit)}" if cover else "not known",
        ),
        (
            "Deepest cut at a stake",
            f"{units.drop_text(deepest[0], unit)} at {units.station_text(deepest[1], unit)}"
            if deepest
            else "not known",
        ),
        ("Pipe, from the outlet up", pipes_words(line, unit)),
        ("From the house", nearest_text(plan, line, "building")),
        ("From the lot line", nearest_text(plan, line, "lot")),
        ("Carries", ", ".join(called.get(source, source) for source in line.sources)),
        ("Tightest place", one_line(line.binding)),
        ("Margins", ". ".join(margin_texts(line, unit))),
        ("How sure", "" if line.doubt is None else sure_text(line.doubt)),
        ("Shots wanted", "; ".join(wanted_texts(line))),
        ("Crosses", "; ".join(crossed)),
        ("Wet ground", "; ".join(wet)),
    )
    return tag(
        "article",
        title,
        facts,
        ground_panel(line, unit),
        water_panel(plan, line.id),
        class_="line",
    )


def _unserved(plan: Plan, source: str, called: Mapping[str, str]) -> Markup:
    reasons = [f for f in plan.findings if f.rule == "served" and f.subject.partition(":")[0] == source]
    tried = [
        candidate_item(
            candidate,
            plan.length_unit,
            called,
            to_only=True,
            cures=cures_text(plan, attempt_of(plan, source, candidate.outlet)),
        )
        for candidate in losing(plan, source)
    ]
    return tag(
        "article",
        tag("h4", status_mark("fail"), " ", to_mark(source, called[source])),
        *[tag("p", one_line(f.message)) for f in reasons],
        *[part for one in nearest_misses(plan) if one.source == source for part in _miss(plan, one, called)],
        tag("ul", *tried, class_="plain"),
        class_="unserved",
    )


def _miss(plan: Plan, one: Attempt, called: Mapping[str, str]) -> tuple[Markup, Markup]:
    """The best line that was tried, in words and as a profile."""
    said = f"Best line to {called.get(one.outlet, one.outlet)}: {miss_text(plan, one)}."
    return tag("p", whole(said)), attempt_chart(plan, one)
