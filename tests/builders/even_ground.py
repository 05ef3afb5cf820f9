"""A lot of even ground, 60 m by 24 m in metres, that rises 2 % to the east.

What a line over it keeps can be worked out in the head.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

RISE, FOOT_OF_IT = 0.02, 100.0  # ground is 100 m + 0.02 x
WEST, EAST = 6.0, 48.0  # where outlets and sources stand: 42 m apart


def ground(x: float) -> float:
    """Height of the ground [m]."""
    return FOOT_OF_IT + RISE * x


def point(kind: str, name: str, x: float, y: float, **told: object) -> dict[str, Any]:
    """A point feature."""
    return {
        "type": "Feature",
        "properties": {"kind": kind, "name": name, **told},
        "geometry": {"type": "Point", "coordinates": [x, y]},
    }


def drain(corners: Sequence[Sequence[float]], **told: object) -> dict[str, Any]:
    """A line of one's own; `start` and `end` stand for its `from` and `to`."""
    told = {{"start": "from", "end": "to"}.get(key, key): value for key, value in told.items()}
    return {
        "type": "Feature",
        "properties": {"kind": "drain", **told},
        "geometry": {"type": "LineString", "coordinates": [list(c) for c in corners]},
    }


def area(kind: str, name: str, west: float, south: float, east: float, north: float, **told: object) -> dict[str, Any]:
    """A box of a kind."""
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    return {
        "type": "Feature",
        "properties": {"kind": kind, "name": name, **told},
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }


def site_folder(folder: Path, features: Sequence[dict[str, Any]], *, tables: str = "") -> Path:
    """The lot with these features on it; rain of 100 mm/h."""
    import rasterio
    from rasterio.transform import Affine

    folder.mkdir(parents=True)
    z = np.tile(ground(np.arange(-2.0, 63.0)), (29, 1))  # cells of 1 m whose centres lie at whole metres
    with rasterio.open(
        folder / "ground.tif",
        "w",
        driver="GTiff",
        height=29,
        width=65,
        count=1,
        dtype="float64",
        transform=Affine(1.0, 0.0, -2.5, 0.0, -1.0, 26.5),
    ) as file:
        file.write(z, 1)
    lot = area("lot", "Lot", 0.0, 0.0, 60.0, 24.0)
    (folder / "features.geojson").write_text(
        json.dumps({"type": "FeatureCollection", "features": [lot, *features]}), encoding="utf-8"
    )
    (folder / "site.toml").write_text(
        'name = "Even ground"\ncrs = "local"\nlength_unit = "m"\nelevation_unit = "m"\n\n[ground]\ngrid = '
        '"ground.tif"\n'
        'accuracy = 0.005\n\n[features]\nfiles = ["features.geojson"]\n\n[rainfall]\nintensity = 100\n' + tables,
        encoding="utf-8",
    )
    return folder
