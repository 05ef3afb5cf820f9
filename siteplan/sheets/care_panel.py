"""A plan in; its part 'Care' out: what must not be done, what lies buried, where a crew digs by hand."""

from __future__ import annotations

from siteplan.books.phrases import LANGUAGES, phrase
from siteplan.books.services import service
from siteplan.sheets.caution_words import cautions_in
from siteplan.sheets.markup import Markup, tag, whole
from siteplan.sheets.panel_parts import both, part, to_line
from siteplan.sheets.stakes import hand_dig_text
from siteplan.sheets.wording import depth_text, one_line
from siteplan.site import Feature, Site
from siteplan.values.lines import Crossing, Line
from siteplan.values.whole_plan import Plan


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
        inside.append(_chapter("card.hands", tag("ul", *rows, class_="plain by-hand")))
    known = [_utility(one, place, site.length_unit) for place, one in enumerate(utilities)]
    listed = tag("ul", *known, class_="services") if known else _said("p", "card.none", class_="none")
    inside.append(_chapter("card.buried", listed, _said("p", "card.marks", class_="note")))
    if plan.cautions:
        told = zip(plan.cautions, cautions_in(plan, "spanish"), strict=True)
        rows = [both("li", one_line(english), one_line(spanish)) for english, spanish in told]
        inside.append(_chapter("caution.head", tag("ul", *rows, class_="plain cautions")))
    return part("care", phrase("card.care"), *inside, spanish=phrase("card.care", "spanish"))


def _said(name: str, ident: str, class_: str | None = None) -> Markup:
    return both(name, phrase(ident), phrase(ident, "spanish"), class_)


def _chapter(ident: str, *inside: str) -> Markup:
    return tag("section", _said("h3", ident, "chapter"), *inside)


def _by_hand(plan: Plan, line: Line, crossing: Crossing) -> Markup:
    english, spanish = (
        whole(hand_dig_text(crossing, line.length, plan.length_unit, language)) for language in LANGUAGES
    )
    lead = to_line(plan, line.id, crossing.station_from, tag("b", f"{line.id} "))
    return tag("li", lead, " ", both("span", english, spanish))


def _utility(feature: Feature, place: int, unit: str) -> Markup:
    kept = service(feature.attributes.get("service", ""))
    title = one_line(feature.name) or f"Utility, {kept.title}"
    depth = feature.attributes.get("depth")
    word = kept.word or "unstated"
    told = [
        whole(f"{phrase(f'service.{word}', language)}; {depth_text(depth, unit, language)}") for language in LANGUAGES
    ]
    return tag(
        "li",
        tag("span", kept.letter, class_="utility-letter", aria_hidden="true"),
        tag("span", title, class_="go", data_utility=str(place)),
        both("span", told[0], told[1], "where"),
    )
