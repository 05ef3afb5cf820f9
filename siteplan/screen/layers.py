"""Layers of a county in; parcels by stretches of the file, and what lies near some of them, out.

No layer is held whole.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from siteplan.books.kinds import Kind
from siteplan.errors import InputError
from siteplan.survey.files import said
from siteplan.survey.frame import crs_of, horizontal, mover, quiet

if TYPE_CHECKING:
    from pyproj import CRS
    from shapely.geometry.base import BaseGeometry

_AREA = 2  # dimensions
_LOOK = 200  # features looked at together
_NO_LOTS = frozenset(str(kind) for kind in Kind if kind is not Kind.LOT)
_FORMATS = {".gpkg", ".geojson", ".json", ".shp", ".fgb"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LayerHead:
    """A layer: how many features it has, its system, its columns."""

    path: str
    option: str
    count: int
    crs: CRS
    fields: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parcel:
    """One parcel in its file's own coordinates; None: its geometry cannot be used."""

    number: int
    name: str
    shape: BaseGeometry | None


@lru_cache(maxsize=16)
def layer_head(path: str, option: str) -> LayerHead:
    """What a layer's head says.

    Parameters
    ----------
    path : str
        GeoPackage, Shapefile, GeoJSON or FlatGeobuf with one layer.
    option : str
        Named in errors.

    Returns
    -------
    LayerHead
        At least one feature.

    Raises
    ------
    InputError
        If it is no such file, holds several layers or nothing, or names no coordinate system.
    """
    import pyogrio

    place = Path(path)
    mend = "Name a GeoPackage, Shapefile, GeoJSON or FlatGeobuf file with one layer."
    if not place.is_file() or place.suffix.lower() not in _FORMATS:
        raise InputError(option, f'"{said(place.name)}" is no such file', mend)
    try:
        with quiet(), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            layers = pyogrio.list_layers(path)
            info = pyogrio.read_info(path, force_feature_count=True)
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError, ValueError, OSError) as fault:
        raise InputError(option, f'"{said(place.name)}" cannot be read as a layer', mend) from fault
    if len(layers) != 1:
        raise InputError(option, f'"{said(place.name)}" holds {len(layers)} layers', "Export the one that is meant.")
    if info["features"] < 1:
        raise InputError(option, f'"{said(place.name)}" holds no feature', "Export the layer again.")
    if not info["crs"]:
        raise InputError(option, f'"{said(place.name)}" names no coordinate system', "Save it with one.")
    crs = horizontal(crs_of(str(info["crs"]), option), option)
    return LayerHead(
        path=path, option=option, count=int(info["features"]), crs=crs, fields=tuple(map(str, info["fields"]))
    )


def parcels_from(head: LayerHead, first: int, count: int, name_field: str | None) -> list[Parcel]:
    """A stretch of the parcels.

    Parameters
    ----------
    head : LayerHead
        Of the parcels.
    first, count : int
        Features left out before it, and read.
    name_field : str or None
        Column of names; None: 'name' where there is one, else the number.

    Returns
    -------
    list of Parcel
        Of a parcel in several parts the largest. Features that are no lots are not among them: points and lines, and
        what a `kind` of this product's calls something else (a site's own features).

    Raises
    ------
    InputError
        If there is no such column, or the file cannot be read.
    """
    if name_field is not None and name_field not in head.fields:
        raise InputError(
            "--name",
            f'no column "{said(name_field)}" in the parcels',
            f"Their columns: {said(', '.join(head.fields), 300)}.",
        )
    field = name_field or ("name" if "name" in head.fields else None)
    wanted = [one for one in dict.fromkeys((field, "kind")) if one is not None and one in head.fields]
    shapes, columns = _read(head, wanted, skip_features=first, max_features=count)
    names, kinds = (columns.get(one or "", [None] * len(shapes)) for one in (field, "kind"))
    return [
        Parcel(number=first + k + 1, name=_called(names[k], first + k + 1), shape=largest_part(shape))
        for k, shape in enumerate(shapes)
        if _may_be_lot(shape, kinds[k])
    ]


def _may_be_lot(shape: Any, kind: object) -> bool:
    """Whether a feature is a lot, or one whose outline was lost."""
    return (shape is None or shape.is_empty or _dimensions(shape) == _AREA) and kind not in _NO_LOTS


def _dimensions(shape: Any) -> int:
    import shapely

    return int(shapely.get_dimensions(shape))


def check_shapes(head: LayerHead, least: int) -> None:
    """Refuse a layer in which nothing has the shape that is wanted.

    Parameters
    ----------
    head : LayerHead
        Of buildings or streets.
    least : int
        1: lines, or outlines; 2: polygons.

    Raises
    ------
    InputError
        If it holds none. It is read as far as the first that will do.
    """
    for first in range(0, head.count, _LOOK):
        shapes, _ = _read(head, [], skip_features=first, max_features=_LOOK)
        if any(shape is not None and not shape.is_empty and _dimensions(shape) >= least for shape in shapes):
            return
    word = "polygon" if least == _AREA else "line"
    raise InputError(head.option, f"holds no {word}", f"Name a layer of {word}s.")


def _called(value: object, number: int) -> str:
    name = said(value) if value is not None and value == value else ""  # noqa: PLR0124 - a missing number is not itself
    return name or str(number)


def near_by(head: LayerHead, bounds: tuple[float, float, float, float], crs: CRS, least: int) -> list[BaseGeometry]:
    """What of a layer lies within bounds.

    Parameters
    ----------
    head : LayerHead
        Of buildings or streets.
    bounds : tuple of float
        West, south, east, north in `crs`.
    crs : CRS
        Of the bounds, and of what comes back.
    least : int
        1: lines and outlines; 2: polygons alone.

    Returns
    -------
    list of geometry
        Valid ones, in `crs`, in the order of the file.
    """
    import shapely

    west, south, east, north = bounds
    t = np.linspace(0, 1, 9)
    x = np.concatenate([west + (east - west) * t, 0 * t + east, east - (east - west) * t, 0 * t + west])
    y = np.concatenate([0 * t + south, south + (north - south) * t, 0 * t + north, north - (north - south) * t])
    there, back = mover(crs, head.crs), mover(head.crs, crs)
    ox, oy = there(x, y)
    if not (np.isfinite(ox).all() and np.isfinite(oy).all()):
        return []
    box = (float(ox.min()), float(oy.min()), float(ox.max()), float(oy.max()))
    shapes, _ = _read(head, [], bbox=box)
    moved = [
        shapely.transform(shape, lambda xy: np.column_stack(back(xy[:, 0], xy[:, 1])))
        for shape in shapes
        if shape is not None and not shape.is_empty and _dimensions(shape) >= least
    ]
    return [
        shape if shape.is_valid else shapely.make_valid(shape)
        for shape in moved
        if np.isfinite(shapely.get_coordinates(shape)).all()
    ]


def largest_part(shape: Any) -> BaseGeometry | None:
    """The one polygon that stands for an area.

    Parameters
    ----------
    shape : geometry or None
        As read.

    Returns
    -------
    Polygon or None
        Valid and with an area; None where there is none.
    """
    import shapely

    if shape is None or shape.is_empty:
        return None
    shape = shapely.force_2d(shape)
    if not shape.is_valid:
        shape = shapely.make_valid(shape)
    parts: Sequence[BaseGeometry] = [
        one for one in shapely.get_parts(shape, return_index=False) if one.geom_type == "Polygon" and one.area > 0
    ]
    if not parts and shape.geom_type == "GeometryCollection":
        parts = [
            one
            for part in shape.geoms
            for one in shapely.get_parts(part)
            if one.geom_type == "Polygon" and one.area > 0
        ]
    return max(parts, key=lambda one: one.area, default=None)


def _read(head: LayerHead, columns: list[str], **which: Any) -> tuple[list[Any], dict[str, list[object]]]:
    import pyogrio.raw
    import shapely

    try:
        with quiet(), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            meta, _, geometry, fields = pyogrio.raw.read(head.path, columns=columns, **which)
        shapes = list(shapely.from_wkb(geometry, on_invalid="ignore"))
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError, ValueError, OSError) as fault:
        raise InputError(head.option, f'"{said(Path(head.path).name)}" cannot be read', "Export it again.") from fault
    return shapes, {str(name): list(held) for name, held in zip(meta["fields"], fields, strict=True)}
