"""A plan's lines and outlets in; how far they lie from the house and the lot line, in words, out."""

from __future__ import annotations

from siteplan import units
from siteplan.sheets.wording import one_line
from siteplan.values.lines import Line
from siteplan.values.whole_plan import Plan

_TOUCHES = 0.005  # m: no tape tells less


def nearest_text(plan: Plan, line: Line, kind: str) -> str:
    """How near a line comes to a building, or to the edge of the lot.

    Parameters
    ----------
    plan : Plan
        The plan, with its site's features.
    line : Line
        One of its lines.
    kind : str
        Kind of feature: 'building' or 'lot'.

    Returns
    -------
    str
        '6.2 ft at 0+45.0'; empty where the site has none.
    """
    from shapely.geometry import LineString
    from shapely.ops import nearest_points

    edges = _edges(plan, kind)
    if not edges:
        return ""
    way = LineString([(vertex.x, vertex.y) for vertex in line.vertices])
    name, edge = min(edges, key=lambda one: round(way.distance(one[1]), 6))
    there = way.project(nearest_points(way, edge)[0])
    far = units.length_text(way.distance(edge), plan.length_unit, 1)
    named = f" ({name})" if len(edges) > 1 and name else ""
    if way.distance(edge) < _TOUCHES:
        far = "touches it" if kind == "building" else "crosses it"
    return f"{far} at {units.station_text(float(there), plan.length_unit)}{named}"


def apart_text(plan: Plan, x: float, y: float, kind: str) -> str:
    """How far a place lies from the nearest building, or from the edge of the lot.

    Parameters
    ----------
    plan : Plan
        The plan, with its site's features.
    x, y : float
        The place, in the plan's frame [m].
    kind : str
        Kind of feature: 'building' or 'lot'.

    Returns
    -------
    str
        '12.3 ft', of a place beyond the lot 'outside' beside it; empty where the site has none.
    """
    from shapely.geometry import Point, Polygon

    edges = _edges(plan, kind)
    if not edges:
        return ""
    here = Point(x, y)
    far = units.length_text(min(here.distance(edge) for _, edge in edges), plan.length_unit, 1)
    lots = [
        Polygon(one.rings[0], one.rings[1:]) for one in plan.features if one.kind == "lot" and one.shape == "Polygon"
    ]
    beyond = kind == "lot" and not any(lot.covers(here) for lot in lots)
    return f"{far}, outside the lot" if beyond else far


def _edges(plan: Plan, kind: str) -> list[tuple[str, object]]:
    """Outlines of the features of a kind, with their names."""
    from shapely.geometry import Polygon

    return [
        (one_line(one.name), Polygon(one.rings[0], one.rings[1:]).boundary)
        for one in plan.features
        if one.kind == kind and one.shape == "Polygon"
    ]
