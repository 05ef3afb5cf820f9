"""A lot in the user's unit whose street lies over its house: a pit behind the house, and what stands about it."""

from __future__ import annotations

import json

import numpy as np
import rasterio

CURB = {"kind": "curb_outlet", "name": "Curb", "at": (64, -5)}
BOX = {"kind": "discharge_point", "name": "Box", "at": (64, 12)}


def site_folder(folder, *, sump, more=(CURB,), unit="ft", fall=0.03, tables="", ground=None):
    """A lot of 80 by 130 ft, falling evenly from its street; in metres all lengths are 0.3 of these figures.

    `sump` is what the pit says of itself, `more` further features (box, line or at), `ground` its height by the
    distance from the street.
    """
    folder.mkdir(parents=True)
    k = 1.0 if unit == "ft" else 0.3
    entries = [
        {"kind": "lot", "name": "Lot", "box": (0, 0, 80, 130)},
        {"kind": "building", "name": "House", "box": (22, 44, 60, 74)},
        {"kind": "sump", "name": "PIT", "at": (60.8, 52), **sump},
        *more,
    ]
    features = [
        {
            "type": "Feature",
            "properties": {key: value for key, value in one.items() if key not in {"box", "line", "at"}},
            "geometry": _shape(one, k),
        }
        for one in entries
    ]
    text = json.dumps({"type": "FeatureCollection", "features": features})
    (folder / "features.geojson").write_text(text, encoding="utf-8")
    cols, rows = 80, 90
    north = 150 - 2 * (np.arange(rows) + 0.5)
    heights = 101 - fall * north if ground is None else np.array([ground(y) for y in north])
    z = np.tile((heights * k)[:, None], (1, cols))
    with rasterio.open(
        folder / "ground.tif",
        "w",
        driver="GTiff",
        width=cols,
        height=rows,
        count=1,
        dtype="float32",
        nodata=-9999,
        transform=rasterio.Affine(2 * k, 0, -40 * k, 0, -2 * k, 150 * k),
    ) as out:
        out.write(z.astype("float32"), 1)
    rain = 5.0 if unit == "ft" else 120.0
    (folder / "site.toml").write_text(
        f'name = "Lot below its street"\ncrs = "local"\nlength_unit = "{unit}"\nelevation_unit = '
        f'"{unit}"\n\n[ground]\ngrid = "ground.tif"\n'
        f'accuracy = {0.03 * k:g}\n\n[features]\nfiles = ["features.geojson"]\n\n[rainfall]\nintensity = '
        f"{rain:g}\n{tables}",
        encoding="utf-8",
    )
    return folder


def _shape(one, k):
    if "box" in one:
        left, low, right, high = (v * k for v in one["box"])
        return {
            "type": "Polygon",
            "coordinates": [[[left, low], [right, low], [right, high], [left, high], [left, low]]],
        }
    if "line" in one:
        return {"type": "LineString", "coordinates": [[x * k, y * k] for x, y in one["line"]]}
    return {"type": "Point", "coordinates": [v * k for v in one["at"]]}
