"""Files of one small invented lot on an assumed grid: what a surveyor left on a desk."""

from __future__ import annotations

import json
import struct
import zlib

import numpy as np
import rasterio
from affine import Affine


def png(wide, high):
    """A PNG with nothing but its head and grey lines, as the standard has it."""

    def part(kind, held):
        return struct.pack(">I", len(held)) + kind + held + struct.pack(">I", zlib.crc32(kind + held))

    rows = b"".join(b"\x00" + b"\x80" * wide for _ in range(high))
    head = struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + part(b"IHDR", head) + part(b"IDAT", zlib.compress(rows)) + part(b"IEND", b"")


SHOTS = [
    (f"{k}", 1000 + n, 2000 + e, 50 + 0.08 * e + 0.02 * n)
    for k, (n, e) in enumerate(((n, e) for n in range(-20, 121, 20) for e in range(-20, 101, 20)), 1)
]


def feature(kind, shape, places, **attributes):
    return {
        "type": "Feature",
        "properties": {"kind": kind, **attributes},
        "geometry": {"type": shape, "coordinates": places},
    }


def ring(west, south, east, north):
    return [[[west, south], [east, south], [east, north], [west, north], [west, south]]]


FEATURES = [
    feature("lot", "Polygon", ring(2000, 1000, 2080, 1100), name="Lot 3"),
    feature("building", "Polygon", ring(2020, 1030, 2060, 1060), name="House"),
    feature("downspout", "Point", [2060, 1030], name="DS-1", roof_area=600),
    feature("downspout", "Point", [2062, 1062], name="DS-2"),
    feature("daylight_outlet", "Point", [2003, 1005], name="Low corner"),
]


def written(folder):
    """The folder, with points, grid, surface, features, plat and deed in it."""
    rows = "".join(f"{number},{n},{e},{z:.2f},GS\n" for number, n, e, z in SHOTS)
    (folder / "crew list.csv").write_text(rows, encoding="utf-8")
    (folder / "headed.csv").write_text(
        "point,northing (ft),easting (ft),elevation (ft),description\n" + rows, encoding="utf-8"
    )
    north, east = np.mgrid[130:-30:-2.0, -30:110:2.0]
    z = (50 + 0.08 * (east + 1) + 0.02 * (north - 1)).astype("float32")
    with rasterio.open(
        folder / "dem.tif",
        "w",
        driver="GTiff",
        height=z.shape[0],
        width=z.shape[1],
        count=1,
        dtype="float32",
        transform=Affine(2, 0, 1970, 0, -2, 1130),
    ) as out:
        out.write(z, 1)
        out.units = ("ft",)
    points = "".join(f'<CgPoint name="{number}">{n} {e} {z:.2f}</CgPoint>' for number, n, e, z in SHOTS)
    (folder / "ground.xml").write_text(
        '<?xml version="1.0"?><LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2">'
        f'<Units><Imperial linearUnit="foot" elevationUnit="feet"/></Units><CgPoints>{points}</CgPoints></LandXML>',
        encoding="utf-8",
    )
    (folder / "lot.geojson").write_text(
        json.dumps({"type": "FeatureCollection", "features": FEATURES}), encoding="utf-8"
    )
    (folder / "plat.png").write_bytes(png(600, 400))
    (folder / "deed.txt").write_text(
        "unit = ft\nstart = N 1000 E 2000\nNorth 100.00\nEast 80.00\nSouth 100.00\nWest 80.00\n", encoding="utf-8"
    )
    return folder
