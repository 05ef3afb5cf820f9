"""A plan in; its part 'Care' out: what must not be done, what lies buried, where a crew digs by hand."""

from __future__ import annotations

from siteplan.books.phrases import phrase
from siteplan.books.services import service
from siteplan.sheets.markup import Markup, tag, whole
from siteplan.sheets.panel_parts import bullets, chapter, part, to_line
from siteplan.sheets.stakes import hand_dig_text
from siteplan.sheets.wording import depth_text, one_line
from siteplan.site import Feature, Site
from siteplan.values import Crossing, Line, Plan


def care_part(plan: Plan, site: Site) -> Markup:
    """Buried services with the places where lines cross them, then the cautions.

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
    utilities = site.of_kind("utility")
    inside: list[Markup] = []
    dug = [(line, crossing) for line in plan.every_line for crossing in line.crossings if crossing.kind == "utility"]
    if dug:
        rows = [_by_hand(plan, line, crossing) for line, crossing in dug]
        inside.append(chapter("Dig by hand here", tag("ul", *rows, class_="plain by-hand")))
    known = [_utility(one, place, site.length_unit) for place, one in enumerate(utilities)]
    told = "Only what the survey shows. Private lines are not marked, and marks show no depth."
    listed = (
        tag("ul", *known, class_="services")
        if known
        else tag("p", tag("b", "The survey shows none: that does not mean there is none."))
    )
    inside.append(chapter("Buried services", listed, tag("p", told, class_="note")))
    if plan.cautions:
        inside.append(
            chapter(phrase("caution.head"), tag("div", bullets(plan.cautions), class_="cautions", id="cautions"))
        )
    return part("care", "Care", *inside)


def _by_hand(plan: Plan, line: Line, crossing: Crossing) -> Markup:
    words = hand_dig_text(crossing, line.length, plan.length_unit)
    return tag("li", to_line(plan, line.id, crossing.station_from, tag("b", f"{line.id} ")), whole(words))


def _utility(feature: Feature, place: int, unit: str) -> Markup:
    kept = service(feature.attributes.get("service", ""))
    title = one_line(feature.name) or f"Utility, {kept.title}"
    return tag(
        "li",
        tag("span", kept.letter, class_="utility-letter", aria_hidden="true"),
        tag("span", title, class_="go", data_utility=str(place)),
        tag("span", whole(f"{kept.title}; {depth_text(feature.attributes.get('depth'), unit)}"), class_="where"),
    )
