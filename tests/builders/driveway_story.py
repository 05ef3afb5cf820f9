"""The story of the driveway that slopes across the line: ground by station, straight run to a roadside swale."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import rasterio
from affine import Affine

STATIONS = (0, 10, 20, 30, 38, 44, 50, 60, 80, 100, 110)
GROUND = (96.50, 97.60, 98.05, 98.30, 98.40, 98.55, 98.70, 98.85, 99.35, 99.90, 100.10)


def site_folder(folder: Path) -> Path:
    """Local feet; the run is at E 2030 from N 5115 (downspout) to N 5005 (swale)."""
    folder.mkdir()
    rows, cols, cell, south, west = 360, 180, 0.5, 4989.75, 1985  # cell centres on the stations where the ground breaks
    north = south + rows * cell
    along = north - (np.arange(rows) + 0.5) * cell
    across = west + (np.arange(cols) + 0.5) * cell
    z = np.interp(along - 5005, STATIONS, GROUND)[:, None] + 0.005 * (
        across[None, :] - 2030
    )  # water on dead level ground has no way
    options = {"driver": "GTiff", "height": rows, "width": cols, "count": 1, "dtype": "float64", "nodata": -9999.0}
    with rasterio.open(folder / "ground.tif", "w", transform=Affine(cell, 0, west, 0, -cell, north), **options) as file:
        file.write(z, 1)

    def polygon(kind, w, s, e, n, **more):
        ring = [[w, s], [e, s], [e, n], [w, n], [w, s]]
        return {
            "type": "Feature",
            "properties": {"kind": kind, **more},
            "geometry": {"type": "Polygon", "coordinates": [ring]},
        }

    def point(kind, x, y, **more):
        return {
            "type": "Feature",
            "properties": {"kind": kind, **more},
            "geometry": {"type": "Point", "coordinates": [x, y]},
        }

    features = [
        polygon("lot", 1990, 5000, 2070, 5140, name="Lot"),
        polygon("building", 2025, 5117, 2060, 5135, name="House"),
        polygon("driveway", 1990, 5043, 2070, 5055, name="Driveway", vehicle="car"),
        point("downspout", 2030, 5115, name="DS", roof_area=800, invert=98.40),
        point("daylight_outlet", 2030, 5005, name="Swale", invert=96.20),
    ]
    (folder / "features.geojson").write_text(
        json.dumps({"type": "FeatureCollection", "features": features}), encoding="utf-8"
    )
    (folder / "site.toml").write_text(
        'name = "Driveway story"\ncrs = "local"\nlength_unit = "ft"\nelevation_unit = "ft"\n[ground]\ngrid = '
        '"ground.tif"\naccuracy = 0.005\n'
        '[features]\nfiles = ["features.geojson"]\n[rainfall]\nintensity = 6.0\n[rules]\noutlet_lot_line_ft = 0\n',
        encoding="utf-8",
    )
    return folder
