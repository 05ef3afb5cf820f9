"""Layers of points and lines in; the bytes of one GeoPackage out, the same for the same input."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

UNDATED = "1980-01-01"  # where a format must hold a date and nobody gave one; a workbook knows none earlier
_TITLES = {
    "POINT": "Point Z",
    "LINESTRING": "LineString Z",
    "POLYGON": "Polygon Z",
    "AREA": "Polygon",
    "": None,
}  # as the library names geometries; all but areas have a height
# a frame of the site's own, in metres, that no authority numbers (OGC 18-010, clause 11)
_LOCAL = (
    'ENGCRS["site coordinates",EDATUM["site"],CS[Cartesian,2],AXIS["x",east],AXIS["y",north],LENGTHUNIT["metre",1]]'
)
_EMPTY: Mapping[type, object] = {
    float: 0.0,
    int: 0,
    bool: False,
    str: "",
}  # under the mask of a value that is not there
_HELD: Mapping[type, str] = {float: "float64", int: "int64", bool: "bool", str: "object"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One layer. `kind` is POINT, LINESTRING, POLYGON or AREA (their places are rings), or '' for a table.

    Rows are (places, values).

    A row without places has no geometry. `crs` is the layer's own where it is another than the file's.
    """

    name: str
    description: str
    kind: str
    columns: Mapping[str, type]
    rows: Sequence[tuple[Sequence[Any], Mapping[str, Any]]]
    crs: str = ""


def geopackage(layers: Iterable[Layer], crs: str, stamp: str) -> bytes:
    """A GeoPackage.

    Parameters
    ----------
    layers : iterable of Layer
        Names and columns are ours; values are data. One that bears the name of an earlier one adds its rows to that.
    crs : str
        'local', or what pyproj reads.
    stamp : str
        Date for gpkg_contents, ISO: '2026-05-01'. The library would take the clock's.

    Returns
    -------
    bytes
        The file.

    References
    ----------
    OGC GeoPackage Encoding Standard, as GDAL writes it.
    """
    import pyogrio

    before = pyogrio.get_gdal_config_option("OGR_CURRENT_DATE")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": f"{stamp}T00:00:00.000Z"})
    try:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "layers.gpkg"
            for number, layer in enumerate(layers):
                _write(path, layer, _frame(layer.crs or crs), append=number > 0)
            return path.read_bytes()
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": before})


def _frame(crs: str) -> str:
    from pyproj import CRS

    return _LOCAL if crs == "local" else CRS.from_user_input(crs).to_wkt()


def _shape(kind: str, places: Sequence[Any]) -> object:
    import shapely

    if not places:
        return None
    if kind in {"POLYGON", "AREA"}:
        return shapely.Polygon(places[0], places[1:])
    return shapely.Point(places[0]) if kind == "POINT" else shapely.LineString(places)


def _write(path: Path, layer: Layer, frame: str, *, append: bool) -> None:
    import numpy as np
    import shapely
    from pyogrio.raw import write

    shapes = None
    if layer.kind:
        shapes = shapely.to_wkb(
            np.array([_shape(layer.kind, places) for places, _ in layer.rows], dtype=object),
            output_dimension=2 if layer.kind == "AREA" else 3,
        )
    columns, masks = [], []
    for name, kind in layer.columns.items():
        values = [row.get(name) for _, row in layer.rows]
        masks.append(np.array([value is None for value in values], dtype=bool))
        columns.append(
            np.array([_EMPTY[kind] if value is None else kind(value) for value in values], dtype=_HELD[kind])
        )
    write(
        str(path),
        shapes,
        columns,
        list(layer.columns),
        field_mask=masks,
        layer=layer.name,
        driver="GPKG",
        geometry_type=_TITLES[layer.kind],
        crs=frame if layer.kind else None,
        append=append,
        layer_options={"DESCRIPTION": layer.description},
    )
