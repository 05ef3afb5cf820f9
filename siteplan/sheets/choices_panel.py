"""The layouts of a plan in; their table for the page and their lines for the map out. Nothing is weighed here."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from siteplan import units
from siteplan.sheets.choice_words import COLUMNS, choose_text, ends_text, few_text, layout_title, wins_text
from siteplan.sheets.doubt_words import chance_text
from siteplan.sheets.drawing import layout_layer
from siteplan.sheets.markup import Markup, tag, whole
from siteplan.sheets.wording import names, one_line
from siteplan.values import Layout, Plan


def others(plan: Plan) -> tuple[Layout, ...]:
    """The layouts that the plan is not.

    Parameters
    ----------
    plan : Plan
        With its layouts.

    Returns
    -------
    tuple of Layout
        By number.
    """
    return tuple(one for one in plan.layouts if not one.chosen)


def group_name(layout: Layout) -> str:
    """What the map's list of layers calls a layout: our own words and a number alone.

    Parameters
    ----------
    layout : Layout
        One of the plan's.

    Returns
    -------
    str
        'Layout 2'.
    """
    return f"Layout {layout.number}"


def layout_paths(
    plan: Plan, west: float, south: float
) -> Iterator[tuple[str, dict[str, Any], str, tuple[tuple[str, str], ...]]]:
    """The lines of other layouts, in metres from the page's own origin.

    Parameters
    ----------
    plan : Plan
        With its layouts.
    west, south : float
        The origin, in the plan's frame [m].

    Yields
    ------
    tuple
        Layer, geometry, title and facts; each line twice, drawn and for the click.
    """
    called, unit = names(plan), plan.length_unit
    for layout in others(plan):
        ends = {end.id: one_line(end.name) for end in layout.ends}
        for line in layout.lines:
            path = {
                "type": "LineString",
                "coordinates": [[round(v.x - west, 3), round(v.y - south, 3)] for v in line.vertices],
            }
            to = f"to {ends[line.end]}" if line.end in ends else f"joins {line.end}"
            low, high = (
                units.length_text(end.invert, plan.elevation_unit) for end in (line.vertices[0], line.vertices[-1])
            )
            facts = (
                ("Laid", layout_title(plan, layout.aim)),
                ("Length", units.length_text(line.length, unit, 1)),
                ("Inverts", f"{high} down to {low}"),
                ("Fall to spare", units.length_text(line.spare, unit)),
                ("Chance of it", "not known" if line.chance is None else chance_text(line.chance)),
                ("Deepest cut", "not known" if line.deepest_cut is None else units.length_text(line.deepest_cut, unit)),
            )
            layer = layout_layer(layout.number)
            yield layer, path, "", ()
            yield (
                f"{layer}_touch",
                path,
                f"Layout {layout.number}: {line.id} {called.get(line.start, line.start)} {to}",
                facts,
            )


def choices_panel(plan: Plan) -> Markup:
    """The layouts side by side.

    Parameters
    ----------
    plan : Plan
        With its layouts.

    Returns
    -------
    Markup
        One section.
    """
    few = few_text(plan)
    on_map = "Each other one can be laid over this plan: Layers, at the map. " if others(plan) else ""
    heads = ["Layout", *(column.head[0].upper() + column.head[1:] for column in COLUMNS)]
    rows = []
    for one in plan.layouts:
        mark = " (this plan)" if one.chosen else ""
        first = tag(
            "td",
            tag("b", f"{one.number}"),
            f"{mark} {layout_title(plan, one.aim)}",
            tag("small", f" {ends_text(one, plan)}. Best by: {wins_text(plan, one)}."),
        )
        cells = [
            tag("td", whole(column.text(one, plan)), class_="number", data_head=head)
            for column, head in zip(COLUMNS, heads[1:], strict=True)
        ]
        rows.append(tag("tr", first, *cells))
    table = tag(
        "table",
        tag("thead", tag("tr", *[tag("th", head, scope="col") for head in heads])),
        tag("tbody", *rows),
        class_="cards",
    )
    return tag(
        "section",
        tag("h2", "Layouts to choose from"),
        tag("p", f"{choose_text(plan)} {on_map}Costs are relative, no money."),
        tag("div", table, class_="scroll", tabindex="0", role="group", aria_label="Table"),
        *([tag("p", few, class_="note")] if few else []),
        class_="choices",
    )
