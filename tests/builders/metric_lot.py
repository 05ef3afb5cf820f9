"""A small lot in metres: house, drive, walk, gas pipe and wet lawn between the roofs and the street's curb."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

PROFILE = ((0.0, 99.62), (1.5, 99.70), (6.0, 99.95), (12.0, 100.30), (20.0, 100.85), (32.0, 101.20), (40.0, 101.30))
PIPE = '\n[water]\npipe = "pvc_metric"\n'


def site_folder(folder: Path, *, tables: str = PIPE, bare: bool = False) -> Path:
    """Local metres; the street is south of N 500, the gutter at 498.5. Bare: house, one roof and the ditch alone."""
    folder.mkdir()
    rows = []
    for east in (300.0, 304.0, 310.0, 316.0, 320.0):
        rows += [(498.0, east, 99.46, "GR"), (498.5, east, 99.44, "GUTTER FL"), (498.65, east, 99.60, "TC")]
        rows += [(500.0 + north, east, up + 0.002 * (east - 300.0), "GR") for north, up in PROFILE]
    text = "".join(f"{k},{n},{e},{z:.3f},{d}\n" for k, (n, e, z, d) in enumerate(rows, 1))
    (folder / "shots.csv").write_text(text, encoding="utf-8")

    def one(kind: str, shape: str, places: object, **more: object) -> dict[str, object]:
        return {
            "type": "Feature",
            "properties": {"kind": kind, **more},
            "geometry": {"type": shape, "coordinates": places},
        }

    def box(west: float, south: float, east: float, north: float) -> list[list[list[float]]]:
        return [[[west, south], [east, south], [east, north], [west, north], [west, south]]]

    features: list[Any] = [
        one("lot", "Polygon", box(300, 500, 320, 540), name="Lot"),
        one("building", "Polygon", box(304, 520, 316, 532), name="House"),
        one("driveway", "Polygon", box(300, 510, 320, 513), name="Drive", vehicle="car"),
        one("walk", "Polygon", box(300, 501.5, 320, 502.7), name="Walk"),
        one("wet_area", "Polygon", box(301, 515, 319, 517), name="Soft lawn"),
        one("curb", "LineString", [[298, 498.65], [322, 498.65]], name="Curb"),
        one("utility", "LineString", [[300, 505], [320, 505]], name="Gas main", service="gas", depth=0.9),
        one("tree", "Point", [308, 507], name="Lime", diameter=0.4),
        one("downspout", "Point", [304, 520], name="DS-W", roof_area=120.0),
        one("downspout", "Point", [316, 520], name="DS-E", roof_area=120.0),
        one("sump", "Point", [310, 519.5], name="Sump", pump_rate=1.5, rim=101.0),
        one("curb_outlet", "Point", [304, 498.5], name="Curb hole"),
        one("daylight_outlet", "Point", [318, 500.5], name="Ditch", invert=98.9),
        one("benchmark", "Point", [301, 501], name="BM", elevation=99.700),
    ]
    if bare:
        features = [one for one in features if one["properties"]["name"] in {"Lot", "House", "DS-W", "Ditch"}]
    (folder / "features.geojson").write_text(
        json.dumps({"type": "FeatureCollection", "features": features}), encoding="utf-8"
    )
    (folder / "site.toml").write_text(
        'name = "Metric lot"\ncrs = "local"\nlength_unit = "m"\nelevation_unit = "m"\n\n[ground]\nshots = "shots.csv"\n'
        'accuracy = 0.005\n\n[features]\nfiles = ["features.geojson"]\n\n[rainfall]\nintensity = 140\n' + tables,
        encoding="utf-8",
    )
    return folder
