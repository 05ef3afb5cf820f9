"""An invented county: streets, blocks of lots with houses, ground that falls this way and that.

Layers and tiles on disk.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from rasterio.transform import Affine

CRS = "EPSG:26915"  # metres
WEST, SOUTH = 500_000.0, 4_600_000.0
WIDE, DEEP, STREET = 24.0, 38.0, 18.0  # of a lot, and of a street between its lot lines [m]
PER_BLOCK = 12  # lots along a block


def ground(x: Any, y: Any) -> Any:
    """Rolling ground [m]; blocks that rise to their middle by more or less, or sink.

    Parkways that rise to the lots, curbs.
    """
    x, y = np.asarray(x, float) - WEST, np.asarray(y, float) - SOUTH
    rolling = 3.0 * np.sin(x / 170.0) + 2.5 * np.cos(y / 140.0)
    pitch = 2 * DEEP + STREET
    crown = np.sin(np.pi * np.clip((y % pitch) / (2 * DEEP), 0.0, 1.0))
    lift = 1.4 + 3.4 * np.sin(x / 61.0 + y / 200.0)
    off = np.abs((y % pitch) - (2 * DEEP + STREET / 2))  # from the middle of the street
    street = 0.45 * np.clip((off - 4.2) / 4.8, 0.0, 1.0) - 0.2 * np.clip((4.2 - off) / 0.4, 0.0, 1.0)
    return 250.0 + 0.004 * x + rolling + lift * crown + street


def lots(count: int) -> list[tuple[float, float, bool]]:
    """South-west corners, and whether the lot faces the street to its north (else to its south)."""
    found = []
    row = 0
    across = max(PER_BLOCK, int(np.sqrt(count * 2.0)) // PER_BLOCK * PER_BLOCK)
    while len(found) < count:
        for column in range(across):
            x = WEST + 20 + column * WIDE + column // PER_BLOCK * STREET
            base = SOUTH + row * (2 * DEEP + STREET)
            found += [(x, base, False), (x, base + DEEP, True)]
        row += 1
    return found[:count]


def house(number: int, x: float, y: float, north: bool) -> tuple[float, float, float, float]:
    """West, south, width and depth of the house on a lot, 9 m behind its front."""
    wide, deep = 10.0 + 0.37 * number % 3, 9.0 + 0.53 * number % 3
    return x + (WIDE - wide) / 2, y + DEEP - 9 - deep if north else y + 9, wide, deep


def site_folder(folder: Path, number: int, place: tuple[float, float, bool], *, accuracy: float = 0.01) -> Path:
    """The same lot surveyed on foot: true ground every half metre, leaders at the corners, three places at the curb."""
    x, y, north = place
    west, south, wide, deep = house(number, x, y, north)
    off = 0.3
    corners = [
        (west - off, south - off),
        (west + wide + off, south - off),
        (west + wide + off, south + deep + off),
        (west - off, south + deep + off),
    ]
    gutter = y + DEEP + STREET / 2 - 4.0 if north else y - STREET / 2 + 4.0
    features = [
        _kind("lot", _area([(x, y), (x + WIDE, y), (x + WIDE, y + DEEP), (x, y + DEEP)])),
        _kind(
            "building", _area([(west, south), (west + wide, south), (west + wide, south + deep), (west, south + deep)])
        ),
        _kind("curb", _line([(x - 4, gutter), (x + WIDE + 4, gutter)])),
        *(
            _kind("downspout", _point(px, py), name=f"DS-{k}", roof_area=wide * deep / 4)
            for k, (px, py) in enumerate(corners, start=1)
        ),
        *(
            _kind("curb_outlet", _point(x + share * WIDE, gutter), name=f"CURB-{k}")
            for k, share in enumerate((0.15, 0.5, 0.85), start=1)
        ),
    ]
    folder.mkdir(parents=True)
    member = {"type": "name", "properties": {"name": CRS}}
    (folder / "features.geojson").write_text(
        json.dumps({"type": "FeatureCollection", "crs": member, "features": features}), encoding="utf-8"
    )
    (folder / "site.toml").write_text(
        f'name = "Lot {number}"\ncrs = "{CRS}"\nlength_unit = "m"\nelevation_unit = "m"\n\n[ground]\ngrid = '
        f'"ground.tif"\naccuracy = {accuracy}\n\n'
        '[features]\nfiles = ["features.geojson"]\n\n[rainfall]\nintensity = 100\n',
        encoding="utf-8",
    )
    tile_of(
        folder / "ground.tif",
        x - 14,
        max(y + DEEP, gutter) + 8,
        int((WIDE + 28) * 2),
        int((DEEP + STREET / 2 + 12) * 2),
        0.5,
    )
    return folder


def county(
    folder: Path,
    count: int,
    *,
    tile: int = 400,
    cell: float = 1.0,
    scattered: bool = False,
    noise: float = 0.0,
    least: int = 0,
) -> dict[str, Path]:
    """Write parcels, buildings, streets, tiles and a virtual raster over them, of so many cells each way at the least.

    Their paths by option.
    """
    folder.mkdir(parents=True, exist_ok=True)
    places = lots(count)
    rng = np.random.default_rng(20)
    parcels, buildings = [], []
    for number, (x, y, north) in enumerate(places, start=1):
        parcels.append(_area([(x, y), (x + WIDE, y), (x + WIDE, y + DEEP), (x, y + DEEP)], parcel=f"P-{number:05d}"))
        west, south, wide, deep = house(number, x, y, north)
        buildings.append(
            _area([(west, south), (west + wide, south), (west + wide, south + deep), (west, south + deep)])
        )
    if scattered:
        order = rng.permutation(len(parcels))
        parcels = [parcels[k] for k in order]
    rows = sorted({y for _, y, north in places if not north})
    east = max(x for x, _, _ in places) + WIDE
    middles = [y - STREET / 2 for y in rows] + [rows[-1] + 2 * DEEP + STREET / 2]
    streets = [_line([(WEST, y), (east + 20, y)]) for y in middles]
    paths = {name: folder / f"{name}.gpkg" for name in ("parcels", "buildings", "streets")}
    for name, features in (("parcels", parcels), ("buildings", buildings), ("streets", streets)):
        _write(paths[name], features)
    west, south = WEST - 20, SOUTH - 40
    reach = (max(east + 40, west + least * cell), max(rows[-1] + 2 * DEEP + 60, south + least * cell))
    tiles(folder / "tiles", (west, south, *reach), tile, cell, noise)
    paths["elevation"] = folder / "ground.vrt"
    virtual(folder / "ground.vrt", folder / "tiles")
    return paths


def tiles(folder: Path, bounds: tuple[float, float, float, float], tile: int, cell: float, noise: float) -> None:
    """GeoTIFFs of so many cells each way, every cell off by so much."""
    folder.mkdir()
    cols, rows = (int(np.ceil((bounds[k + 2] - bounds[k]) / cell)) for k in (0, 1))
    north = bounds[1] + rows * cell
    for r in range(0, rows, tile):
        for c in range(0, cols, tile):
            high, wide = min(tile, rows - r), min(tile, cols - c)
            path = folder / f"t{r:05d}-{c:05d}.tif"
            tile_of(path, bounds[0] + c * cell, north - r * cell, wide, high, cell, noise)


def tile_of(path: Path, west: float, north: float, wide: int, high: int, cell: float, noise: float = 0.0) -> None:
    """One GeoTIFF of the ground."""
    x, y = west + (np.arange(wide) + 0.5) * cell, north - (np.arange(high) + 0.5) * cell
    z = ground(x[None, :], y[:, None])
    if noise:
        z = z + np.random.default_rng([int(west), int(north)]).normal(0.0, noise, z.shape)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=high,
        width=wide,
        count=1,
        dtype="float32",
        crs=CRS,
        transform=Affine(cell, 0, west, 0, -cell, north),
        nodata=-9999.0,
    ) as out:
        out.write(z.astype("float32"), 1)
        out.units = ("m",)


def virtual(path: Path, folder: Path) -> None:
    """A virtual raster that names the tiles."""
    sources = "".join(
        (
            "<SimpleSource><SourceFilename "
            f'relativeToVRT="1">{one.relative_to(path.parent).as_posix()}</SourceFilename><SourceBand>1</SourceBand></SimpleSource>'
        )
        for one in sorted(folder.glob("*.tif"))
    )
    path.write_text(
        f'<VRTDataset><VRTRasterBand dataType="Float32" band="1">{sources}</VRTRasterBand></VRTDataset>',
        encoding="utf-8",
    )


def _area(corners: list[tuple[float, float]], **told: object) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": told,
        "geometry": {"type": "Polygon", "coordinates": [[*corners, corners[0]]]},
    }


def _line(places: list[tuple[float, float]]) -> dict[str, Any]:
    return {"type": "Feature", "properties": {}, "geometry": {"type": "LineString", "coordinates": places}}


def _point(x: float, y: float) -> dict[str, Any]:
    return {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": [x, y]}}


def _kind(kind: str, feature: dict[str, Any], **told: object) -> dict[str, Any]:
    return {**feature, "properties": {"kind": kind, **told}}


def _write(path: Path, features: list[dict[str, Any]]) -> None:
    import geopandas

    json.dumps(features[0])
    geopandas.GeoDataFrame.from_features(features, crs=CRS).to_file(path, driver="GPKG")
