"""A plan in; its part 'Notes' out.

How things are drawn, what it takes, wet ground, what was taken as given, rules, survey files.
"""

from __future__ import annotations

from siteplan import units
from siteplan.books.phrases import phrase
from siteplan.sheets.coordinates import crs_name
from siteplan.sheets.drawing import LEGEND, swatch, utility_layer
from siteplan.sheets.facts import low_spot_facts
from siteplan.sheets.markup import Markup, cited, join, tag, whole
from siteplan.sheets.panel_parts import bullets, chapter, part
from siteplan.sheets.quantities import prices_note, quantity_rows
from siteplan.sheets.rule_rows import HEADS, rule_row
from siteplan.sheets.water_panel import storm_panel
from siteplan.sheets.wording import counted, one_line
from siteplan.site import Site
from siteplan.values.forecasts import LowSpot
from siteplan.values.whole_plan import Plan

NO_BREAK = "\u00a0"


def notes_part(plan: Plan, site: Site, interval: str) -> Markup:
    """All that stands behind the plan.

    Parameters
    ----------
    plan : Plan
        The plan.
    site : Site
        The site it was made from.
    interval : str
        Contour interval as printed.

    Returns
    -------
    Markup
        One part.
    """
    inside = [chapter("Key to the map", _key(interval, site))]
    if plan.quantities:
        inside.append(_quantities(plan))
    if storm := storm_panel(plan):
        inside.append(storm)
    if plan.low_spots:
        inside.append(_wet(plan))
    doubt = (
        f"Survey doubt: {units.drop_text(plan.accuracy, plan.length_unit)}, one standard deviation of any elevation."
    )
    inside.append(chapter("Taken as given", tag("p", doubt), bullets(plan.assumptions)))
    if plan.reach_note:
        inside.append(chapter("Where a line could go", bullets(plan.reach_note)))
    return part(
        "notes",
        phrase("page.notes"),
        *inside,
        _rules(site, plan.length_unit),
        _inputs(plan),
        spanish=phrase("page.notes", "spanish"),
    )


def _quantities(plan: Plan) -> Markup:
    rows = [
        tag(
            "tr",
            tag("td", row.what, *([" ", tag("small", row.kind)] if row.kind else [])),
            tag(
                "td",
                whole(
                    row.amount if row.unit == "pieces" else f"{row.amount}{NO_BREAK}{row.unit.replace(' ', NO_BREAK)}"
                ),
            ),
        )
        for row in quantity_rows(plan)
    ]
    head = tag("thead", tag("tr", tag("th", "What"), tag("th", "How much")))
    return chapter(
        "What it takes",
        tag("table", head, tag("tbody", *rows), class_="takes"),
        tag(
            "p",
            (
                "Volumes as in undisturbed ground; nothing is added for waste or sloped sides. Prices stand in "
                f"quantities.csv. {prices_note(plan)}"
            ),
        ),
    )


def _wet(plan: Plan) -> Markup:
    """Low spots that are sure, then those that the survey's doubt may have made."""
    sure, unsure = (
        [_low_spot(spot, plan.length_unit, plan.elevation_unit) for spot in plan.low_spots if spot.certain is certain]
        for certain in (True, False)
    )
    inside: list[str] = (
        [tag("ul", *sure, class_="plain")] if sure else [tag("p", "None deeper than the survey can tell.")]
    )
    if unsure:
        said = f"{counted(len(unsure), 'hollow')} shallower than the survey can tell"
        inside.append(tag("details", tag("summary", said), tag("ul", *unsure, class_="plain")))
    return chapter("Wet low spots", *inside)


def _low_spot(spot: LowSpot, unit: str, elevation_unit: str) -> Markup:
    facts = "; ".join(f"{name.lower()} {value}" for name, value in low_spot_facts(spot, unit, elevation_unit))
    return tag("li", tag("b", spot.id), f" {facts}")


def _key(interval: str, site: Site) -> Markup:
    here = {utility_layer(one.attributes.get("service", "")) for one in site.of_kind("utility")}
    rows = [
        tag("li", swatch(entry), tag("span", entry.said.replace("{interval}", interval)))
        for entry in LEGEND
        if not entry.letter or entry.style in here
    ]
    return join(
        (
            tag("ul", *rows, class_="key"),
            tag(
                "p",
                (
                    "North is the plan's grid north. Shading and contours are drawn from smoothed ground; the "
                    "figures are not."
                ),
                class_="note",
            ),
        )
    )


def _rules(site: Site, unit: str) -> Markup:
    rows = []
    for entry in site.rules.values():
        row = rule_row(entry, unit)
        cells = [whole(row.limit), row.broken, row.standing, cited(row.source)]
        rows.append(
            tag(
                "tr",
                tag("td", tag("code", row.id), tag("br"), whole(row.title)),
                *[tag("td", cell, data_head=head) for head, cell in zip(HEADS[1:], cells, strict=True)],
                data_rule=row.id,
            )
        )
    head = tag("tr", *[tag("th", head, scope="col") for head in HEADS])
    return tag(
        "details",
        tag("summary", "Rules in force"),
        tag(
            "div",
            tag("table", tag("thead", head), tag("tbody", *rows), class_="cards"),
            class_="scroll",
            tabindex="0",
            role="group",
            aria_label="Table",
        ),
    )


def _inputs(plan: Plan) -> Markup:
    rows = [
        tag("li", tag("b", one_line(entry.file)), " ", tag("code", f"sha256 {entry.sha256[:16]}\u2026"))
        for entry in plan.inputs
    ]
    frame = "an assumed grid" if plan.crs == "local" else crs_name(plan.crs)
    said = f"Coordinates are in {frame}. Full digests are in plan.json."
    return tag(
        "details", tag("summary", "Survey files"), tag("ul", *rows, class_="plain"), tag("p", said, class_="note")
    )
