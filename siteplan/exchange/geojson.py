"""A plan's layers in; one GeoJSON file by its standard out: longitude and latitude, whatever the survey stands in."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from siteplan.errors import InputError
from siteplan.exchange.layers import PlanLayer, Value, plan_layers
from siteplan.sheets.coordinates import survey_system
from siteplan.units import LENGTH
from siteplan.values.whole_plan import Plan

_DIGITS = 9  # a tenth of a millimetre
_WGS84 = "EPSG:4326"


def plan_geojson(plan: Plan) -> bytes:
    """Everything of a plan that has a place.

    Parameters
    ----------
    plan : Plan
        As stored.

    Returns
    -------
    bytes
        UTF-8, one feature a line. Each names its `layer`; heights are metres, above whatever the survey's are.

    Raises
    ------
    InputError
        For a site in a grid of its own: nobody knows where on earth it lies.

    References
    ----------
    RFC 7946, The GeoJSON Format (2016): section 4 coordinates, section 3.1.6 the turn of rings.
    """
    from siteplan.survey.frame import crs_of, mover

    system = survey_system(plan)
    if system.crs == "local":
        raise InputError(
            "plan.json, survey_crs",
            "is the site's own grid, and GeoJSON by its standard is longitude and latitude",
            "Name the survey's system (crs in site.toml) and plan again, or export gpkg, svg, landxml or points.",
        )
    move = mover(crs_of(system.crs, "plan.json, survey_crs"), crs_of(_WGS84, "GeoJSON"))
    lines = [
        json.dumps(one, ensure_ascii=False, allow_nan=False)
        for layer in plan_layers(plan)
        if layer.shape
        for one in _features(layer, move, LENGTH[plan.elevation_unit])
    ]
    return ('{"type": "FeatureCollection", "features": [\n' + ",\n".join(lines) + "\n]}\n").encode()


def _features(layer: PlanLayer, move: Any, level: float) -> list[dict[str, Any]]:
    found = []
    for rings, values in layer.rows:
        runs = []
        for ring in rings:
            east, north = move([x for x, _, _ in ring], [y for _, y, _ in ring])
            runs.append(
                [
                    [round(float(x), _DIGITS), round(float(y), _DIGITS), round(z * level, 4)]
                    for x, y, (_, _, z) in zip(east, north, ring, strict=True)
                ]
            )
        found.append(
            {
                "type": "Feature",
                "properties": {"layer": layer.name, **_listed(values)},
                "geometry": _geometry(layer.shape, runs),
            }
        )
    return found


def _listed(values: Mapping[str, Value]) -> dict[str, Any]:
    """Values as JSON: inverts as a list, as a line of one's own gives them."""
    return {key: json.loads(str(value)) if key == "inverts" else value for key, value in values.items()}


def _geometry(shape: str, runs: list[list[list[float]]]) -> dict[str, Any]:
    if shape == "POINT":
        return {"type": "Point", "coordinates": runs[0][0]}
    if shape == "LINESTRING":
        return {"type": "LineString", "coordinates": runs[0]}
    turned = [ring if (_area(ring) > 0) == (k == 0) else ring[::-1] for k, ring in enumerate(runs)]
    return {"type": "Polygon", "coordinates": [[place[:2] for place in ring] for ring in turned]}


def _area(ring: list[list[float]]) -> float:
    """Twice the area, above 0 for a ring that turns counter-clockwise."""
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, [*ring[1:], ring[0]], strict=True))
