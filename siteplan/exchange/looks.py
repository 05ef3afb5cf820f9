"""How each layer may be drawn elsewhere, as data: a colour, a width on paper, a dash.

Colours tell apart what colour-blind readers mix up.
"""

from __future__ import annotations

from typing import NamedTuple

from siteplan.exchange.layers import PlanLayer
from siteplan.sheets.drawing import BLACK, BLUE, DARK, GREY, PURPLE, RED, SKY


class Look(NamedTuple):
    """Of what stands in a layer; `what` '' for all that has no row of its own.

    Widths and dashes in millimetres on paper.
    """

    layer: str
    what: str
    color: str
    width_mm: float
    dash_mm: str = ""
    fill: str = ""


LOOKS: tuple[Look, ...] = (
    Look("site_areas", "", GREY, 0.25),
    Look("site_areas", "neighbour", GREY, 0.18, "1 2"),
    Look("site_areas", "lot", BLACK, 0.5, "8 2 2 2"),
    Look("site_areas", "building", DARK, 0.5, "", "#d9d9d9"),
    Look("site_areas", "driveway", GREY, 0.25, "", "#efece6"),
    Look("site_areas", "paving", GREY, 0.25, "", "#efece6"),
    Look("site_areas", "walk", GREY, 0.25, "", "#efece6"),
    Look("site_areas", "easement", PURPLE, 0.25, "4 2"),
    Look("site_areas", "no_dig", RED, 0.35, "2 2"),
    Look("site_areas", "wet_area", BLUE, 0.25, "1 1"),
    Look("site_lines", "", GREY, 0.25),
    Look("site_lines", "curb", GREY, 0.5),
    Look("site_lines", "utility", RED, 0.35, "6 1.5 1 1.5"),
    Look("site_lines", "wall", DARK, 0.5),
    Look("site_lines", "fence", GREY, 0.25, "3 1.5"),
    Look("site_points", "", GREY, 0.25),
    Look("low_ground", "", SKY, 0.25, "1 1"),
    Look("drains", "", BLUE, 0.18, "1 1"),
    Look("pipes", "", BLUE, 0.7),
    Look("crossings", "", BLACK, 1.0),
    Look("stations", "", BLACK, 0.18),
    Look("fittings", "", BLACK, 0.35),
    Look("sources", "", BLUE, 0.35),
    Look("outlets", "", BLUE, 0.35),
)


def look_of(layer: str, what: str) -> Look | None:
    """How one thing is drawn.

    Parameters
    ----------
    layer, what : str
        Its layer, and what it is there.

    Returns
    -------
    Look or None
        None for a table without places.
    """
    rows = {row.what: row for row in LOOKS if row.layer == layer}
    return rows.get(what) or rows.get("")


def looks_layer() -> PlanLayer:
    """The table as a layer without places.

    Returns
    -------
    PlanLayer
        One row for each look.
    """
    columns: dict[str, type] = {"layer": str, "what": str, "color": str, "width_mm": float, "dash_mm": str, "fill": str}
    return PlanLayer(
        name="looks",
        title="How each layer may be drawn",
        shape="",
        columns=columns,
        rows=tuple(((), row._asdict()) for row in LOOKS),
    )
