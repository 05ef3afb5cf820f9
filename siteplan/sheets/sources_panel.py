"""A plan in; its part 'Sources' out.

Where water comes from and may go, how far that lies from house and lot line, what was tried.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from siteplan import units
from siteplan.books.phrases import phrase
from siteplan.sheets.facts import outlet_facts, source_facts
from siteplan.sheets.markup import Markup, tag, whole
from siteplan.sheets.nearby import apart_text
from siteplan.sheets.panel_parts import chapter, facts_list, part, to_mark
from siteplan.sheets.wording import counted, names, one_line
from siteplan.values.tried import Candidate
from siteplan.values.water_ends import Outlet
from siteplan.values.whole_plan import Plan


def sources_part(plan: Plan) -> Markup:
    """Sources, outlets, places found, and everything that was tried.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    Markup
        One part.
    """
    called = names(plan)
    taken = {line.end for line in plan.every_line}
    given = [one for one in plan.outlets if not one.found or one.id in taken]
    found = [one for one in plan.outlets if one.found and one.id not in taken]
    inside = [
        chapter("Where water comes from", *[_source(plan, k, called) for k in range(len(plan.sources))]),
        chapter("Where it may go", *[_outlet(plan, one, called) for one in given]),
    ]
    if found:
        told = (
            "The surveyed ground comes down to these places by itself. None of them is used; each says what a "
            "line to it would need."
        )
        inside.append(
            chapter("Places found to daylight", tag("p", told), *[_outlet(plan, one, called) for one in found])
        )
    inside.append(_tried(plan, called))
    return part("sources", phrase("page.sources"), *inside, spanish=phrase("page.sources", "spanish"))


def _source(plan: Plan, place: int, called: Mapping[str, str]) -> Markup:
    source = plan.sources[place]
    return tag("article", tag("h4", to_mark(source.id, called[source.id])), facts_list(*source_facts(plan, place)))


def _outlet(plan: Plan, outlet: Outlet, called: Mapping[str, str]) -> Markup:
    facts = [*outlet_facts(plan, plan.outlets.index(outlet))]
    facts[1:1] = [
        (f"From the {word}", apart_text(plan, outlet.x, outlet.y, kind))
        for word, kind in (("house", "building"), ("lot line", "lot"))
    ]
    return tag("article", tag("h4", to_mark(outlet.id, called[outlet.id])), facts_list(*facts))


def candidate_item(
    candidate: Candidate, unit: str, called: Mapping[str, str], *, to_only: bool = False, cures: Sequence[str] = ()
) -> Markup:
    """One way that was tried, taken or not.

    Parameters
    ----------
    candidate : Candidate
        The way.
    unit : str
        The site's length unit.
    called : mapping of str to str
        Names by id.
    to_only : bool
        Whether the source is known from what stands around it.
    cures : sequence of str
        What would make it possible.

    Returns
    -------
    Markup
        One list item.
    """
    outlet = called.get(candidate.outlet, candidate.outlet)
    who = " and ".join(called.get(source, source) for source in candidate.sources)
    verdict = "taken" if candidate.chosen else "possible, not taken" if candidate.feasible else "not possible"
    inside: list[str] = [tag("b", f"to {outlet}" if to_only else f"{who} to {outlet}"), f": {verdict}"]
    if candidate.reason:
        inside.append(f" \u2013 {one_line(candidate.reason)}")
    figures = []
    if candidate.fall_available is not None:
        figures.append(f"fall available {units.length_text(candidate.fall_available, unit)}")
    if candidate.fall_needed is not None:
        figures.append(f"needed {units.length_text(candidate.fall_needed, unit)}")
    if candidate.feasible and candidate.margin is not None:  # what is short says so in its reason
        figures.append(units.spare_text(candidate.margin, unit))
    if candidate.length is not None:
        figures.append(f"length {units.length_text(candidate.length, unit, 1)}")
    if figures:
        inside.append(tag("span", whole(", ".join(figures)), class_="figures"))
    inside += [tag("span", whole(one_line(cure)), class_="flip") for cure in cures]
    return tag("li", *inside, class_="taken" if candidate.chosen else "lost")


def _tried(plan: Plan, called: Mapping[str, str]) -> Markup:
    if not plan.candidates:
        return chapter("What was tried", tag("p", "No outlet was found to try."))
    order = sorted(
        plan.candidates,
        key=lambda c: (not c.chosen, not c.feasible, -(round(c.margin, 4) if c.margin is not None else -math.inf)),
    )
    taken = [candidate_item(c, plan.length_unit, called) for c in order if c.chosen]
    lost = [candidate_item(c, plan.length_unit, called) for c in order if not c.chosen]
    shown, rest = lost[:8], lost[8:]
    more = (
        [
            tag(
                "details",
                tag("summary", f"{counted(len(rest), 'more')}".removesuffix("s")),
                tag("ul", *rest, class_="plain"),
            )
        ]
        if rest
        else []
    )
    return chapter("What was tried", tag("ul", *taken, *shown, class_="plain"), *more)
