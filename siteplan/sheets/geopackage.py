"""Layers of points and lines in; the bytes of one GeoPackage out, the same for the same input.

Written with the standard library's own database: a general writer stamps the clock into the file.
"""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

APPLICATION = 0x47504B47  # 'GPKG'
VERSION = 10300
_KINDS = {"POINT": 1001, "LINESTRING": 1002}  # WKB of geometries with a height (ISO)
_SQL = {float: "DOUBLE", int: "INTEGER", str: "TEXT", bool: "BOOLEAN"}
_OWN_SRS = 100000  # for a frame that no authority numbers
_UNDEFINED = -1

_TABLES = """
CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,
  description TEXT DEFAULT '', last_change DATETIME NOT NULL, min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE,
  srs_id INTEGER, CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL, CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One layer. `kind` is POINT, LINESTRING, or '' for a table without places; rows are (places, values)."""

    name: str
    description: str
    kind: str
    columns: Mapping[str, type]
    rows: Sequence[tuple[Sequence[tuple[float, float, float]], Mapping[str, Any]]]


def geopackage(layers: Sequence[Layer], crs: str, stamp: str) -> bytes:
    """A GeoPackage.

    Parameters
    ----------
    layers : sequence of Layer
        Names and columns are ours; values are data.
    crs : str
        'local', or what pyproj reads.
    stamp : str
        Date for gpkg_contents, ISO: '2026-05-01'.

    Returns
    -------
    bytes
        The file.

    References
    ----------
    OGC GeoPackage Encoding Standard 1.3, clauses 1.1.2 to 2.1.5 (memory).
    """
    base = sqlite3.connect(":memory:")
    try:
        base.execute(f"PRAGMA application_id = {APPLICATION}")
        base.execute(f"PRAGMA user_version = {VERSION}")
        base.executescript(_TABLES)
        srs = _frames(base, crs)
        for layer in layers:
            _write(base, layer, srs, f"{stamp}T00:00:00.000Z")
        base.commit()
        return base.serialize()
    finally:
        base.close()


def _frames(base: sqlite3.Connection, crs: str) -> int:
    """The frames that the standard asks for, and the plan's own; returns the id of the plan's."""
    wgs = (
        'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],PRIMEM["Greenwich",0],'
        'UNIT["degree",0.0174532925199433],AUTHORITY["EPSG","4326"]]'
    )
    rows = [
        (
            "Undefined Cartesian SRS",
            _UNDEFINED,
            "NONE",
            -1,
            "undefined",
            "undefined Cartesian coordinate reference system",
        ),
        ("Undefined geographic SRS", 0, "NONE", 0, "undefined", "undefined geographic coordinate reference system"),
        ("WGS 84 geodetic", 4326, "EPSG", 4326, wgs, "longitude/latitude"),
    ]
    own = _UNDEFINED
    if crs != "local":
        from pyproj import CRS

        known = CRS.from_user_input(crs)
        authority = known.to_authority()
        own = int(authority[1]) if authority and authority[0] == "EPSG" else _OWN_SRS
        if own not in {row[1] for row in rows}:
            rows.append(
                (
                    known.name,
                    own,
                    authority[0] if authority and own != _OWN_SRS else "NONE",
                    own,
                    known.to_wkt("WKT1_GDAL"),
                    "",
                )
            )
    base.executemany("INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, ?)", rows)
    return own


def _write(base: sqlite3.Connection, layer: Layer, srs: int, stamp: str) -> None:
    columns = "".join(f', "{name}" {_SQL[kind]}' for name, kind in layer.columns.items())
    shape = f", geom {layer.kind}" if layer.kind else ""
    base.execute(f'CREATE TABLE "{layer.name}" (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL{shape}{columns})')
    places = [place for row, _ in layer.rows for place in row]
    box = (
        (
            min(x for x, _, _ in places),
            min(y for _, y, _ in places),
            max(x for x, _, _ in places),
            max(y for _, y, _ in places),
        )
        if places
        else (None, None, None, None)
    )
    base.execute(
        "INSERT INTO gpkg_contents VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            layer.name,
            "features" if layer.kind else "attributes",
            layer.name,
            layer.description,
            stamp,
            *box,
            srs if layer.kind else None,
        ),
    )
    if layer.kind:
        base.execute("INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, ?, 1, 0)", (layer.name, layer.kind, srs))
    marks = ", ".join("?" * (len(layer.columns) + bool(layer.kind)))
    names = ", ".join([*(["geom"] if layer.kind else []), *(f'"{name}"' for name in layer.columns)])
    for row, values in layer.rows:
        held = [values.get(name) for name in layer.columns]
        base.execute(
            f'INSERT INTO "{layer.name}" ({names}) VALUES ({marks})',  # noqa: S608 -- names of ours
            [*([_geometry(layer.kind, row, srs)] if layer.kind else []), *held],
        )


def _geometry(kind: str, places: Sequence[tuple[float, float, float]], srs: int) -> bytes:
    """GeoPackage header without an envelope, then ISO WKB with heights."""
    body = struct.pack("<BI", 1, _KINDS[kind])
    if kind == "LINESTRING":
        body += struct.pack("<I", len(places))
    body += b"".join(struct.pack("<ddd", *place) for place in places)
    return b"GP" + struct.pack("<BBi", 0, 1, srs) + body
