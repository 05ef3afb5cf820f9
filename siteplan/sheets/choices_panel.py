"""The layouts of a plan in; their table for the page and their lines for the map out. Nothing is weighed here."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from siteplan import units
from siteplan.sheets.choice_words import COLUMNS, choose_text, few_text, front, front_text, laid_for, layout_title
from siteplan.sheets.doubt_words import chance_text
from siteplan.sheets.drawing import layout_layer
from siteplan.sheets.markup import Markup, tag, whole
from siteplan.sheets.wording import names, one_line
from siteplan.values.other_layouts import Layout
from siteplan.values.whole_plan import Plan

_LEFT, _RIGHT, _TOP, _BOTTOM = 70, 520, 36, 168  # of the chart [px]


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
                (
                    "Deepest cut at a stake",
                    "not known" if line.deepest_cut is None else units.length_text(line.deepest_cut, unit),
                ),
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
    unit = units.UNIT_NAMES[plan.length_unit]
    named = (f"{column.head}, {unit}" if column.is_length else column.head for column in COLUMNS)
    heads = ["Layout", *(head[0].upper() + head[1:] for head in named)]
    bodies = []
    for one in plan.layouts:
        mark = " (this plan)" if one.chosen else ""
        cells = [
            tag("td", whole(text), class_="number", data_head=head)
            for text, head in zip(
                (f"{one.number}{mark}", *(column.text(one, plan) for column in COLUMNS)), heads, strict=True
            )
        ]
        said = tag("tr", tag("td", f"{laid_for(plan, one)}.", colspan=float(len(heads))), class_="said")
        bodies.append(tag("tbody", tag("tr", *cells), said))
    table = tag(
        "table", tag("thead", tag("tr", *[tag("th", head, scope="col") for head in heads])), *bodies, class_="stakes"
    )
    return tag(
        "section",
        tag("h3", "Layouts to choose from", class_="chapter"),
        tag("p", f"{choose_text(plan)} {on_map}Costs are relative, no money."),
        tag("div", table, class_="scroll", tabindex="0", role="group", aria_label="Table"),
        *([tag("p", few, class_="note")] if few else []),
        *([tag("p", front_text(plan)), _front_chart(plan)] if front_text(plan) else []),
        class_="choices",
    )


def _front_chart(plan: Plan) -> Markup:
    """Cost to the right, fall to spare upward.

    Each layout by its number, those that no other beats joined by a line.
    """
    costs, spares = [one.cost for one in plan.layouts], [one.spare for one in plan.layouts]
    least, most = min(costs), max(*costs, min(costs) + 1e-3)
    low, high = min(spares), max(*spares, min(spares) + 1e-3)

    def at(one: Layout) -> tuple[float, float]:
        return (
            round(_LEFT + (_RIGHT - _LEFT) * (one.cost - least) / (most - least), 1),
            round(_BOTTOM - (_BOTTOM - _TOP) * (one.spare - low) / (high - low), 1),
        )

    best = front(plan.layouts)
    path = "M" + "L".join("{} {}".format(*at(one)) for one in best)
    dots = [
        part
        for one in plan.layouts
        for part in (
            tag("circle", cx=at(one)[0], cy=at(one)[1], r=6.0 if one in best else 4.0, class_="worst"),
            tag("text", f"{one.number}", x=at(one)[0] + 10, y=at(one)[1] - 7, class_="said"),
        )
    ]
    unit = plan.length_unit
    words = [
        tag("text", f"fall to spare, up to {units.length_text(high, unit)}", x=4, y=16, class_="axis"),
        tag("text", units.length_text(low, unit), x=4, y=_BOTTOM, class_="axis"),
        tag("text", f"cost {least:.1f}", x=_LEFT, y=_BOTTOM + 26, class_="axis"),
        tag("text", f"{most:.1f}", x=_RIGHT, y=_BOTTOM + 26, text_anchor="end", class_="axis"),
    ]
    said = "Layouts by cost and fall to spare"
    return tag(
        "svg",
        tag("path", d=path, class_="invert"),
        *dots,
        *words,
        class_="chart",
        viewbox="0 0 560 210",
        role="img",
        aria_label=said,
    )
