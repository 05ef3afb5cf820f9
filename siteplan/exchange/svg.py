"""A plan's layers in; one SVG drawing at true scale out, a group for each layer, named by the trade's words.

One unit of the drawing is one of the survey's, so that a drawing office takes places off it as they are: north is up,
and the drawing's corner is told. Width and height are those of the paper at the scale asked for.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence

from siteplan import units
from siteplan.errors import InputError
from siteplan.exchange.layers import Place, PlanLayer, Value, plan_layers
from siteplan.exchange.looks import Look, look_of
from siteplan.sheets.coordinates import DEGREE, survey_system
from siteplan.sheets.markup import Markup, tag
from siteplan.values.whole_plan import Plan

SCALES = {"m": (100, 200, 250, 500), "ft": (120, 240, 360, 480, 600)}  # 1:n; 1 in = 10, 20, 30, 40, 50 ft
_DIGITS = 4
_ROUND = 5.0  # m: a margin round the lot
_LETTER_MM = 2.2  # height of a letter on paper
_MARK_MM = 1.2  # radius of a mark on paper


def plan_svg(plan: Plan, scale: int | None = None) -> bytes:
    """The plan as a drawing.

    Parameters
    ----------
    plan : Plan
        As stored.
    scale : int, optional
        1 to so many; 1:240 (1 in = 20 ft) or 1:200 where absent.

    Returns
    -------
    bytes
        UTF-8, no script, no outside file.

    Raises
    ------
    InputError
        For a survey in degrees, which has no true scale.

    References
    ----------
    W3C Scalable Vector Graphics 1.1 (second edition): units, viewBox, g and title.
    """
    system = survey_system(plan)
    if system.unit == DEGREE or system.unit not in units.SITE_UNITS:
        raise InputError(
            "plan.json, survey_unit",
            f'is "{system.unit_name}", which has no true scale on paper',
            "Survey in feet or metres, or export gpkg or geojson.",
        )
    unit = units.LENGTH[system.unit]
    by = scale or SCALES["m" if system.unit == "m" else "ft"][1]
    layers = [layer for layer in plan_layers(plan) if layer.shape and layer.name != "drains"]
    west, south, east, north = _window(layers, _ROUND / unit)
    paper = by * units.MILLIMETRE / unit  # of the drawing's units in a millimetre of paper
    sheet = _Sheet(west=west, north=north, paper=paper)
    told = {
        "unit": system.unit,
        "system": system.name,
        "scale": f"1:{by}",
        "left": round(west, _DIGITS),
        "top": round(north, _DIGITS),
        "east": "left + x",
        "north": "top - y",
    }
    wide, high = east - west, north - south
    body = [
        tag("title", f"{plan.site_name}, lines in plan, 1:{by}"),
        tag("metadata", json.dumps(told, ensure_ascii=False)),
        *(sheet.layer(layer) for layer in layers),
        sheet.names(layers),
    ]
    root = tag(
        "svg",
        *body,
        xmlns="http://www.w3.org/2000/svg",
        version="1.1",
        width=f"{wide / paper:.3f}mm",
        height=f"{high / paper:.3f}mm",
        viewBox=f"0 0 {wide:.{_DIGITS}f} {high:.{_DIGITS}f}",
        font_family="sans-serif",
    )
    return b'<?xml version="1.0" encoding="UTF-8"?>\n' + str(root).encode() + b"\n"


def _window(layers: Sequence[PlanLayer], round_it: float) -> tuple[float, float, float, float]:
    """West, south, east, north of the lot and the lines, in whole units."""
    places = [
        place
        for layer in layers
        for rings, values in layer.rows
        if layer.name in {"pipes", "stations", "sources", "outlets"} or values.get("what") == "lot"
        for ring in rings
        for place in ring
    ]
    xs, ys = [x for x, _, _ in places], [y for _, y, _ in places]
    return (
        math.floor(min(xs) - round_it),
        math.floor(min(ys) - round_it),
        math.ceil(max(xs) + round_it),
        math.ceil(max(ys) + round_it),
    )


class _Sheet:
    """Where paper lies over the survey."""

    def __init__(self, *, west: float, north: float, paper: float) -> None:
        self.west, self.north, self.paper = west, north, paper

    def at(self, place: Place) -> str:
        """A place of the survey in the drawing."""
        return f"{place[0] - self.west:.{_DIGITS}f},{self.north - place[1]:.{_DIGITS}f}"

    def layer(self, layer: PlanLayer) -> Markup:
        """Everything of a layer."""
        drawn = [shape for rings, values in layer.rows for shape in self._drawn(layer, rings, values)]
        return tag("g", tag("title", layer.title), *drawn, id=layer.name)

    def _drawn(
        self, layer: PlanLayer, rings: Sequence[Sequence[Place]], values: Mapping[str, Value]
    ) -> Iterator[Markup]:
        look = look_of(layer.name, str(values.get("what") or ""))
        if look is None:
            return
        said = tag("title", _said(values))
        inked = self._ink(look)
        if layer.shape == "POINT":
            x, y = self.at(rings[0][0]).split(",")
            yield tag(
                "circle", said, cx=x, cy=y, r=f"{_MARK_MM * self.paper:.{_DIGITS}f}", **{**inked, "fill": "#ffffff"}
            )
        elif layer.shape == "LINESTRING":
            yield tag(
                "polyline", said, points=" ".join(self.at(place) for place in rings[0]), **{**inked, "fill": "none"}
            )
        else:
            way = " ".join("M" + " L".join(self.at(place) for place in ring[:-1]) + " Z" for ring in rings)
            yield tag("path", said, d=way, fill_rule="evenodd", **inked)

    def _ink(self, look: Look) -> dict[str, str]:
        wide = f"{look.width_mm * self.paper:.{_DIGITS}f}"
        found = {"stroke": look.color, "stroke_width": wide, "fill": look.fill or "none"}
        if look.dash_mm:
            found["stroke_dasharray"] = " ".join(
                f"{float(part) * self.paper:.{_DIGITS}f}" for part in look.dash_mm.split()
            )
        return found

    def names(self, layers: Sequence[PlanLayer]) -> Markup:
        """What lines, sources and outlets are called, beside them."""
        high, texts, told = _LETTER_MM * self.paper, [], set()
        for layer in layers:
            for rings, values in layer.rows:
                name = (
                    values.get("line")
                    if layer.name == "pipes"
                    else values.get("name")
                    if layer.name in {"sources", "outlets"}
                    else None
                )
                if not name or (layer.name, name) in told:
                    continue
                told.add((layer.name, name))
                run = rings[0]
                middle = tuple((a + b) / 2 for a, b in zip(run[0], run[-1], strict=True))
                x, y = (float(part) for part in self.at((middle[0], middle[1], 0.0)).split(","))
                texts.append(
                    tag(
                        "text",
                        str(name),
                        x=f"{x + high / 2:.{_DIGITS}f}",
                        y=f"{y - high / 2:.{_DIGITS}f}",
                        font_size=f"{high:.{_DIGITS}f}",
                    )
                )
        return tag("g", tag("title", "Names"), *texts, id="names")


def _said(values: Mapping[str, Value]) -> str:
    return "; ".join(f"{key} {value}" for key, value in values.items() if value not in {None, ""} and key != "kind")
