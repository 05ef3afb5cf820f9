"""Invented site folders for tests.

One small lot on a plane, drawn in any CRS, unit and file format, and broken at will.

The lot is laid out in true metres about a place on the earth; `project` takes them into a CRS, so the same lot
can be written in many frames and must come back the same.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from affine import Affine
from pyproj import CRS, Transformer
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import TransverseMercatorConversion

FEET = {"ft": 0.3048, "us-ft": 1200 / 3937, "m": 1.0}
LON, LAT = -73.4, 40.8

LOT = [(0, 0), (40, 0), (40, 30), (0, 30)]
HOUSE = [(10, 8), (22, 8), (22, 20), (10, 20)]
DRIVE = [(22, 9), (40, 9), (40, 12), (22, 12)]


def ground(x: Any, y: Any) -> Any:
    """Height of the plane [m]."""
    return 30.0 - 0.02 * np.asarray(x, float) + 0.01 * np.asarray(y, float)


def feature(kind: str, coordinates: Any, name: str | None = None, **more: Any) -> dict[str, Any]:
    """A GeoJSON feature in metres; the kind of geometry follows the depth of its coordinates."""
    first = coordinates[0]
    if isinstance(first, int | float):
        geometry = {"type": "Point", "coordinates": list(coordinates)}
    elif kind in {"curb", "utility", "fence", "wall"}:
        geometry = {"type": "LineString", "coordinates": [list(p) for p in coordinates]}
    else:
        geometry = {"type": "Polygon", "coordinates": [[list(p) for p in [*coordinates, coordinates[0]]]]}
    properties = {"kind": kind, **({"name": name} if name else {}), **more}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def lot_features(length_unit: str = "m") -> list[dict[str, Any]]:
    """The lot with a house, a driveway, two downspouts, a sump and two outlets; attributes in the unit."""
    area, pump = FEET[length_unit] ** 2, 2.0 if length_unit == "m" else 32.0
    return [
        feature("lot", LOT, "Lot"),
        feature("building", HOUSE, "House"),
        feature("driveway", DRIVE, "Driveway", vehicle="car"),
        feature("curb", [(41, -5), (41, 35)], "Curb"),
        feature("downspout", (22.3, 8.3), "DS-1", roof_area=72 / area),
        feature("downspout", (9.7, 19.7), "DS-2", roof_area=72 / area),
        feature("sump", (16, 20.5), "SUMP-1", pump_rate=pump),
        feature("curb_outlet", (40.8, 5), "CURB-1"),
        feature("daylight_outlet", (38, 2), "DAY-1"),
    ]


Projection = tuple[Callable[[Any, Any], Any], Callable[[Any, Any], Any]]


def projection(crs: str, unit: str = "m") -> Projection:
    """Metres about the lot to coordinates of a CRS ('local': that unit), and back."""
    if crs == "local":
        k = FEET[unit]
        return (lambda x, y: (np.asarray(x, float) / k, np.asarray(y, float) / k)), (
            lambda x, y: (np.asarray(x, float) * k, np.asarray(y, float) * k)
        )
    target = CRS.from_user_input(crs)
    true = ProjectedCRS(conversion=TransverseMercatorConversion(LAT, LON, 0, 0, 1.0), geodetic_crs=target.geodetic_crs)
    return Transformer.from_crs(true, target, always_xy=True).transform, Transformer.from_crs(
        target, true, always_xy=True
    ).transform


def moved(features: list[dict[str, Any]], project: Callable[[Any, Any], Any]) -> list[dict[str, Any]]:
    """The same features in other coordinates."""

    def walk(value: Any) -> Any:
        if value and isinstance(value[0], int | float):
            x, y = project(value[0], value[1])
            return [float(x), float(y)]
        return [walk(part) for part in value]

    return [{**f, "geometry": {**f["geometry"], "coordinates": walk(f["geometry"]["coordinates"])}} for f in features]


def write_grid(
    path: Path,
    *,
    crs: str | None,
    back: Callable[[Any, Any], Any],
    bounds: tuple[float, float, float, float],
    shape: tuple[int, int] = (120, 140),
    height_unit: str = "m",
    dtype: str = "float64",
    turn: float = 0.0,
    nodata: float | None = -9999.0,
    heights: Any = None,
    **tags: Any,
) -> None:
    """A GeoTIFF of the plane, its cells regular in the CRS given by `bounds` (west, south, east, north)."""
    rows, cols = shape
    west, south, east, north = bounds
    matrix = Affine((east - west) / cols, 0, west, 0, -(north - south) / rows, north)
    if turn:
        matrix = (
            Affine.translation(west, north)
            @ Affine.rotation(turn)
            @ Affine.scale((east - west) / cols, -(north - south) / rows)
        )
    i, j = np.meshgrid(np.arange(rows) + 0.5, np.arange(cols) + 0.5, indexing="ij")
    x, y = back(matrix.a * j + matrix.b * i + matrix.c, matrix.d * j + matrix.e * i + matrix.f)
    z = ground(x, y) / FEET[height_unit] if heights is None else heights(np.asarray(x), np.asarray(y))
    profile = {
        "driver": "GTiff",
        "height": rows,
        "width": cols,
        "count": 1,
        "dtype": dtype,
        "transform": matrix,
        "nodata": nodata,
        "crs": crs,
    }
    with rasterio.open(path, "w", **profile) as out:
        out.write(np.asarray(z).astype(dtype), 1)
        if "units" in tags:
            out.units = (tags["units"],)
        if "scale" in tags:
            out.scales, out.offsets = (tags["scale"],), (tags["offset"],)


def toml(changes: Mapping[str, str | None] | None = None, **declared: str) -> str:
    """Text of site.toml; `changes` maps 'key' or 'section.key' to TOML text, None takes it out."""
    keys: dict[str, str | None] = {
        "name": '"Test lot"',
        "crs": f'"{declared.get("crs", "local")}"',
        "length_unit": f'"{declared.get("length_unit", "m")}"',
        "elevation_unit": f'"{declared.get("elevation_unit", "m")}"',
        "ground.grid": '"ground.tif"',
        "ground.accuracy": "0.03",
        "features.files": '["features.geojson"]',
        "rainfall.intensity": "100.0" if declared.get("length_unit", "m") == "m" else "5.0",
        **(changes or {}),
    }
    lines = [f"{key} = {value}" for key, value in keys.items() if "." not in key and value is not None]
    for section in dict.fromkeys(key.split(".")[0] for key in keys if "." in key):
        inside = [
            (key.split(".", 1)[1], value)
            for key, value in keys.items()
            if key.startswith(f"{section}.") and value is not None
        ]
        lines += [f"\n[{section}]", *(f"{key} = {value}" for key, value in inside)]
    return "\n".join(lines) + "\n"


def collection(features: list[Any], crs: str | None = None) -> str:
    """A GeoJSON file's text."""
    member = {"crs": {"type": "name", "properties": {"name": crs}}} if crs else {}
    return json.dumps({"type": "FeatureCollection", **member, "features": features})


def build(
    folder: Path,
    *,
    crs: str = "local",
    length_unit: str = "m",
    elevation_unit: str = "m",
    changes: Mapping[str, str | None] | None = None,
    features: list[dict[str, Any]] | None = None,
    grid_crs: str | None = "",
    member: str | None = "",
    feature_crs: str | None = None,
    **grid: Any,
) -> Path:
    """A whole site folder. '' for `grid_crs` and `member`: the site's crs; `feature_crs`.

    What the features are drawn in.
    """
    folder.mkdir(parents=True, exist_ok=True)
    there, back = projection(crs, length_unit)
    drawn_there = there if feature_crs is None else projection(feature_crs)[0]
    own = None if crs == "local" else crs
    (folder / "site.toml").write_text(
        toml(changes, crs=crs, length_unit=length_unit, elevation_unit=elevation_unit), encoding="utf-8"
    )
    drawn = moved(lot_features(length_unit) if features is None else features, drawn_there)
    text = collection(drawn, (feature_crs or own) if member == "" else member)
    (folder / "features.geojson").write_text(text, encoding="utf-8")
    x, y = there(np.array([-15.0, 55, 55, -15]), np.array([-12.0, -12, 45, 45]))
    bounds = grid.pop("bounds", (float(np.min(x)), float(np.min(y)), float(np.max(x)), float(np.max(y))))
    write_grid(
        folder / "ground.tif",
        crs=own if grid_crs == "" else grid_crs,
        back=grid.pop("back", back),
        bounds=bounds,
        height_unit=elevation_unit,
        **grid,
    )
    return folder
