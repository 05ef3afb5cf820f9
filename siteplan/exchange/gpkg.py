"""A plan's layers in; the bytes of one GeoPackage in the survey's own system out."""

from __future__ import annotations

from siteplan import units
from siteplan.exchange.layers import PlanLayer, plan_layers
from siteplan.exchange.looks import looks_layer
from siteplan.sheets.coordinates import survey_system
from siteplan.sheets.geopackage import UNDATED, Layer, geopackage
from siteplan.values.whole_plan import Plan


def plan_geopackage(plan: Plan, date: str | None = None) -> bytes:
    """Every layer of a plan in one file.

    Parameters
    ----------
    plan : Plan
        As stored.
    date : str, optional
        ISO; the plan's own where absent.

    Returns
    -------
    bytes
        The file, the same for the same input. Places in the survey's system and unit, heights of lines at the invert.

    References
    ----------
    OGC GeoPackage Encoding Standard, as GDAL writes it.
    """
    layers = [_layer(layer) for layer in (*plan_layers(plan), looks_layer())]
    return geopackage(layers, _system(plan), date or plan.stamp or UNDATED)


def _layer(layer: PlanLayer) -> Layer:
    return Layer(
        name=layer.name,
        description=layer.title,
        kind=layer.shape,
        columns=layer.columns,
        rows=[
            (rings if layer.shape == "POLYGON" else rings[0] if rings else (), values) for rings, values in layer.rows
        ],
    )


def _system(plan: Plan) -> str:
    """What pyproj reads; a grid of the site's own as an engineering system in its own unit (OGC 18-010, clause 11)."""
    system = survey_system(plan)
    if system.crs != "local":
        return system.crs
    called = {"ft": "foot", "us-ft": "US survey foot", "m": "metre"}[system.unit]
    return (
        'ENGCRS["site coordinates",EDATUM["site"],CS[Cartesian,2],AXIS["x",east],AXIS["y",north],'
        f'LENGTHUNIT["{called}",{units.LENGTH[system.unit]!r}]]'
    )
