"""A feature file in (GeoJSON, CSV of points, GeoPackage, Shapefile, a lot by deed calls).

Records with their place in the file and its CRS out.

What a record means is `features`' business; here a file is only taken apart, strictly.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from siteplan import units
from siteplan.errors import InputError, NotGiven, raise_gathered
from siteplan.survey.deed_file import DEED_ENDING, read_deed_lot
from siteplan.survey.files import MOST_FIGURE, number_in, number_of, said, shown_name, text_of
from siteplan.survey.frame import crs_of, horizontal
from siteplan.survey.layers import read_layers
from siteplan.survey.records import LON_LAT, MOST_FEATURES, SHAPES, FeatureRecord, VectorFile, place_of

if TYPE_CHECKING:
    from pyproj import CRS
    from shapely.geometry.base import BaseGeometry

_AXES = {
    "x": ("x", "easting", "east", "e"),
    "y": ("y", "northing", "north", "n"),
    "lon": ("lon", "longitude", "long", "lng"),
    "lat": ("lat", "latitude"),
}


def read_vectors(path: Path, shown: str, *, local: bool, metres: float | None = None) -> VectorFile:
    """Every record of one feature file.

    Parameters
    ----------
    path : Path
        An existing file; its ending says what it is.
    shown : str
        Its name in errors.
    local : bool
        Whether the site has plain coordinates: then no file may bring a CRS of its own.
    metres : float or None
        In one unit of the site's coordinates, which a deed's calls are laid out in [m]; None: they are degrees.

    Returns
    -------
    VectorFile
        Records in the file's order.

    Raises
    ------
    InputError, InputErrors
        If it cannot be read, holds nothing, or its CRS cannot be used.
    """
    ending = path.suffix.lower()
    if ending in {".geojson", ".json"}:
        read = _geojson(path, shown, local=local)
    elif ending in {".csv", ".txt"}:
        read = _csv_points(path, shown)
    elif ending in {".gpkg", ".shp"}:
        read = read_layers(path, shown)
    elif ending == DEED_ENDING:
        read = read_deed_lot(path, shown, metres)
    else:
        raise InputError(
            shown,
            f'"{said(ending)}" is no kind of feature file read here',
            f"Use .geojson, .gpkg, .shp, .csv for points, or {DEED_ENDING} for the calls of a deed.",
        )
    if not read.records:
        raise NotGiven(shown, "holds no features", "Draw them, or take the file off [features] files.")
    if local and read.crs is not None:
        raise InputError(
            shown,
            f'is in "{said(read.crs.name)}" but site.toml says crs = "local"',
            f"Give site.toml the CRS of the data, or save {shown} in plain site coordinates without a CRS.",
        )
    return read


# ---- GeoJSON


def _geojson(path: Path, shown: str, *, local: bool) -> VectorFile:
    text = text_of(path, shown)
    try:
        data = json.loads(text)
    except RecursionError as error:
        raise InputError(shown, "is nested too deep to be read", "Save it again as plain GeoJSON.") from error
    except ValueError as error:
        raise InputError(shown, f"is no JSON: {said(error, 120)}", "Save it again as GeoJSON.") from error
    if not isinstance(data, dict):
        raise InputError(shown, "is no GeoJSON: it holds no object", "Save it again as a FeatureCollection.")
    kind = data.get("type")
    items = data.get("features") if kind == "FeatureCollection" else [data] if kind == "Feature" else None
    if not isinstance(items, list):
        what = "has no list of features" if kind == "FeatureCollection" else f'is of type "{said(kind)}"'
        raise InputError(shown, f"is no GeoJSON that can be used: it {what}", "Save it again as a FeatureCollection.")
    if len(items) > MOST_FEATURES:
        raise InputError(
            shown,
            f"holds {len(items)} features",
            f"Keep those of this lot and its surroundings, at most {MOST_FEATURES}.",
        )
    faults: list[InputError] = []
    records: list[FeatureRecord] = []
    for number, item in enumerate(items, 1):
        properties = item.get("properties") if isinstance(item, dict) else None
        properties = properties if isinstance(properties, dict) else {}
        place = place_of(shown, number, properties.get("name"))
        if not isinstance(item, dict) or item.get("type") != "Feature":
            faults.append(
                InputError(place, "is no GeoJSON feature", 'Give it "type": "Feature", properties and a geometry.')
            )
            continue
        try:
            geometry = _shape(item.get("geometry"), place)
        except InputError as fault:
            faults.append(fault)
            continue
        records.append(FeatureRecord(number=number, place=place, properties=properties, geometry=geometry))
    raise_gathered(faults)
    crs = _member_crs(data.get("crs"), shown)
    notes: tuple[str, ...] = ()
    if crs is None and not local:
        if _could_be_lon_lat(records):
            crs = crs_of(LON_LAT, shown)
        elif records:
            notes = (
                (
                    f"{shown} names no CRS and its values cannot be longitudes and latitudes: they are taken to "
                    "be in the site's crs"
                ),
            )
    return VectorFile(file=shown, paths=(path,), records=tuple(records), crs=crs, assumptions=notes)


def _member_crs(member: object, shown: str) -> CRS | None:
    if member is None:
        return None
    properties = member.get("properties") if isinstance(member, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    if not isinstance(name, str) or not isinstance(member, dict) or member.get("type") != "name":
        raise InputError(
            shown,
            "has a crs member that names no CRS",
            'Write "crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::3794"}}, or take it out.',
        )
    return horizontal(crs_of(name, f"{shown}, crs"), f"{shown}, crs")


def _could_be_lon_lat(records: list[FeatureRecord]) -> bool:
    bounds = [r.geometry.bounds for r in records if r.geometry is not None and not r.geometry.is_empty]
    return bool(bounds) and all(
        abs(w) <= 180 and abs(e) <= 180 and abs(s) <= 90 and abs(n) <= 90 for w, s, e, n in bounds
    )


def _shape(member: object, place: str) -> BaseGeometry | None:
    """Geometry from a GeoJSON geometry object, every coordinate looked at first; None when it is null."""
    import shapely
    from shapely.geometry import shape

    if member is None:
        return None
    kind = member.get("type") if isinstance(member, dict) else None
    if not isinstance(member, dict) or not isinstance(kind, str):
        raise InputError(place, "has a geometry that is no GeoJSON", "Draw it again.")
    if kind not in SHAPES:
        raise InputError(place, f'has geometry "{said(kind)}"', "Use Point, LineString or Polygon.")
    coordinates = member.get("coordinates")
    if not coordinates and isinstance(coordinates, list):
        return None
    flat = _flat(coordinates, SHAPES[kind], place)
    try:
        geometry = shape({"type": kind, "coordinates": flat})
    except (ValueError, TypeError, IndexError, shapely.errors.ShapelyError) as error:
        raise InputError(
            place, f"has {units.with_article(kind)} that cannot be built: {said(error, 100)}", "Draw it again."
        ) from error
    assert isinstance(geometry, shapely.geometry.base.BaseGeometry)
    return geometry


def _flat(value: object, depth: int, place: str) -> Any:
    """Coordinates as lists of (x, y), heights dropped."""
    if not isinstance(value, list):
        raise InputError(place, f"has {shown_name(value)} where coordinates should be", "Draw it again.")
    if depth:
        return [_flat(part, depth - 1, place) for part in value]
    numbers = [number_of(part) for part in value]
    if len(numbers) < 2 or numbers[0] is None or numbers[1] is None:
        far = any(isinstance(part, int | float) and MOST_FIGURE < abs(part) < math.inf for part in value[:2])
        mend = (
            f"No place has a coordinate beyond {MOST_FIGURE:,.0f}."
            if far
            else "A coordinate is a pair of finite numbers."
        )
        raise InputError(place, f"has a coordinate {shown_name(value)}", mend)
    return (numbers[0], numbers[1])


# ---- CSV of points


def _csv_points(path: Path, shown: str) -> VectorFile:
    text = text_of(path, shown)
    first = text.lstrip("\r\n").split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    try:
        rows = list(_numbered(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)))
    except csv.Error as error:
        raise InputError(shown, f"is no CSV: {said(error, 100)}", "Save it again as comma-separated text.") from error
    if len(rows) > MOST_FEATURES:
        raise InputError(
            shown, f"holds {len(rows)} lines", f"Keep those of this lot and its surroundings, at most {MOST_FEATURES}."
        )
    head = [said(cell).lower().replace(" ", "_") for cell in rows[0][1]]
    pair, axes = _axes(head, shown)
    if "kind" not in head:
        raise InputError(
            f"{shown}, line {rows[0][0]}",
            f"has no column kind ({', '.join(head)})",
            "Name the columns: kind, name, easting, northing.",
        )
    faults: list[InputError] = []
    records: list[FeatureRecord] = []
    for number, (line, cells) in enumerate(rows[1:], 1):
        row = dict(zip(head, cells, strict=False))
        place = place_of(shown, line, row.get("name"), word="line")
        if len(cells) > len(head) and any(cell.strip() for cell in cells[len(head) :]):
            faults.append(
                InputError(
                    place,
                    f"has {len(cells)} cells under {len(head)} column names",
                    "Quote a cell that holds the separator.",
                )
            )
            continue
        try:
            geometry = _point(row, axes, place)
        except InputError as fault:
            faults.append(fault)
            continue
        properties = {key: value.strip() for key, value in row.items() if key not in axes and key and value.strip()}
        records.append(FeatureRecord(number=number, place=place, properties=properties, geometry=geometry))
    raise_gathered(faults)
    crs = crs_of(LON_LAT, shown) if pair == "lon" else None
    return VectorFile(file=shown, paths=(path,), records=tuple(records), crs=crs)


def _numbered(reader: Any) -> Iterator[tuple[int, list[str]]]:
    """Rows that hold something, with the line each ends on."""
    for row in reader:
        if any(cell.strip() for cell in row):
            yield reader.line_num, row


def _axes(head: list[str], shown: str) -> tuple[str, tuple[str, str]]:
    for a, b in (("x", "y"), ("lon", "lat")):
        found = [[name for name in head if name in _AXES[axis]] for axis in (a, b)]
        if len(found[0]) == 1 and len(found[1]) == 1:
            return a, (found[0][0], found[1][0])
    raise InputError(
        f"{shown}, line 1",
        f"does not name one pair of coordinate columns ({', '.join(head)[:100]})",
        "Name them easting and northing, or lon and lat.",
    )


def _point(row: Mapping[str, str], axes: tuple[str, str], place: str) -> BaseGeometry:
    from shapely.geometry import Point

    values = []
    for axis in axes:
        text = row.get(axis, "").strip()
        value = number_in(text)
        if value is None:
            raise InputError(place, f'has {axis} "{said(text)}"', "Give a plain number, such as 1234.56.")
        values.append(value)
    point: BaseGeometry = Point(*values)
    return point
