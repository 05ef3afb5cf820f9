"""The book of kinds in; the form of each thing that is drawn, every attribute with its unit, out."""

from __future__ import annotations

from typing import Any

from siteplan.books import pipes
from siteplan.books.hydraulics import runoff_book
from siteplan.books.kinds import (
    LINE_KINDS,
    OUTLET_KINDS,
    OUTLETS,
    POLYGON_KINDS,
    SHAPE_OF,
    SOURCE_KINDS,
    SOURCES,
    TITLES,
    Kind,
)
from siteplan.books.services import SERVICES

_YES = "yes"  # type of a field that is true or left out


def form_field(
    key: str, label: str, unit: str = "", what: str = "number", note: str = "", **more: Any
) -> dict[str, Any]:
    """A field of a form.

    Parameters
    ----------
    key, label, unit : str
        What it sets, what stands beside it, its unit.
    what : str
        number, text, choice, yes, texts, numbers or rows.
    note : str
        Under it.
    **more
        options, usual.

    Returns
    -------
    dict
        As the page takes it.
    """
    return {"key": key, "label": label, "unit": unit, "type": what, "note": note, **more}


def kind_form(kind: str, unit: str, height: str) -> dict[str, Any]:
    """What may be drawn as one kind.

    Parameters
    ----------
    kind : str
        Of the book.
    unit, height : str
        Of lengths and of elevations.

    Returns
    -------
    dict
        kind, title, shape, group, fields.
    """
    flow = "L/s" if unit == "m" else "gpm"
    area = "m²" if unit == "m" else "ft²"
    bore = (
        form_field("diameter_mm", "Inside diameter", "mm")
        if unit == "m"
        else form_field("diameter_in", "Inside diameter", "in")
    )
    known = {
        "roof_area": form_field("roof_area", "Roof area, in plan", area),
        "drained_area": form_field("drained_area", "Ground that drains to it", area),
        "flow": form_field("flow", "Its own flow", flow),
        "cover": form_field(
            "cover", "Cover of that ground", what="choice", options=[one.cover for one in runoff_book()]
        ),
        "pump_rate": form_field("pump_rate", "Pump rate", flow),
        "pump_flow": form_field("pump_flow", "Rated flow", flow, note="rated point, with the head beside it"),
        "pump_curve": form_field(
            "pump_curve",
            "Pump curve",
            what="text",
            note=f"pairs of {flow} and {'m' if unit == 'm' else 'ft'}, instead of the rated point",
        ),
        "pump_head": form_field("pump_head", "Rated head", "m" if unit == "m" else "ft"),
        "discharge": form_field("discharge", "Pumped to", what="text", note="name of a discharge point or an outlet"),
        "check_valve": form_field("check_valve", "Check valve", what=_YES),
        "off_level": form_field("off_level", "Pump stops at", height, note="an elevation"),
        "pit_diameter": form_field("pit_diameter", "Pit diameter", unit),
        "pit_depth": form_field("pit_depth", "Pit depth", unit),
        "pit_rise": form_field("pit_rise", "Float travel", unit),
        "refill_s": form_field("refill_s", "Refills in", "s", note="with the pump at rest"),
        "air_gap": form_field("air_gap", "Gap before the line", what="choice", options=["open", "none"]),
        "curb_height": form_field("curb_height", "Curb, gutter to top", unit),
        "holes": form_field("holes", "Holes through the curb", note="1 when left out"),
        "hole_spacing": form_field("hole_spacing", "Holes apart", unit, note="centre to centre"),
        "takes_flow": form_field("takes_lps" if unit == "m" else "takes_gpm", "Can still take", flow),
    }
    invert = (
        form_field("invert", "Highest invert it may start at", height)
        if kind in SOURCE_KINDS
        else form_field("invert", "Invert the line must reach", height, note="the ground tells it when left out")
    )
    fields: list[dict[str, Any]] = [form_field("name", "Name", what="text")]
    if kind in SOURCES:
        fields += [known[key] for key in SOURCES[kind].keys if key in known]
        fields += [invert, form_field("rim", "Rim", height, note="where water comes out when the line is full")]
        fields += [form_field("own_line", "Nothing else in its line", what=_YES)]
    elif kind in OUTLETS:
        fields += [invert, bore, *(known[key] for key in OUTLETS[kind].keys if key in known)]
        fields += [form_field("tail_water", "Water outside", height)]
        kinds = f"of {', '.join(SOURCES)}; commas between"
        fields += [form_field("takes", "Takes only", what="text", note=kinds)]
        fields += [form_field("refuses", "Does not take", what="text", note=kinds)]
    elif kind == Kind.UTILITY:
        services = [one.word for one in SERVICES]
        fields += [
            form_field("service", "Service", what="choice", options=services),
            form_field("depth", "Depth of its top", unit),
            bore,
        ]
    elif kind in {Kind.DRIVEWAY, Kind.PAVING}:
        fields += [form_field("vehicle", "Carries", what="choice", options=["car", "truck"])]
    elif kind == Kind.TREE:
        fields += [{**bore, "label": "Trunk"}]
    elif kind == Kind.DRAIN:
        fields += [
            form_field("from", "From", what="text", note="name of a source, or another drain"),
            form_field("to", "To", what="text", note="name of an outlet, or a drain that it joins"),
            form_field(
                "inverts",
                "Inverts at its corners",
                height,
                "text",
                note="one for each, from the upper end, commas between; or a grade",
            ),
            form_field("grade_percent", "Grade", "%"),
            form_field("mode", "Laid", what="choice", options=["fixed", "guide"]),
            form_field("pipe", "Pipe", what="choice", options=list(pipes.kinds())),
        ]
    fields.append(form_field("note", "Note", what="text"))
    group = (
        "source"
        if kind in SOURCE_KINDS
        else "outlet"
        if kind in OUTLET_KINDS
        else "area"
        if kind in POLYGON_KINDS
        else "line"
        if kind in LINE_KINDS
        else "point"
    )
    return {"kind": str(kind), "title": TITLES[kind], "shape": str(SHAPE_OF[kind]), "group": group, "fields": fields}
