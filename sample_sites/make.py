"""Write the sample sites. Places, people and ground are invented.

python sample_sites/make.py            writes them beside this file
python sample_sites/make.py OTHER_DIR  writes them there (the tests compare)
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import numpy as np

Place = tuple[float, float]
Height = Callable[[np.ndarray, np.ndarray], np.ndarray]


def ramp(value: np.ndarray, points: Iterable[Place]) -> np.ndarray:
    """Heights along one direction, straight between the points."""
    at, height = zip(*points, strict=True)
    return np.interp(value, at, height)


def bowl(x: np.ndarray, y: np.ndarray, middle: Place, radius: Place, depth: float) -> np.ndarray:
    """A hollow that fades out at its radius."""
    away = np.hypot((x - middle[0]) / radius[0], (y - middle[1]) / radius[1])
    return -depth * np.where(away < 1, (1 + np.cos(np.pi * np.minimum(away, 1))) / 2, 0)


def grid(
    path: Path,
    height: Height,
    box: tuple[float, float, float, float],
    cell: float,
    crs: str | None,
    holes: Iterable[tuple[float, float, float, float]] = (),
    decimals: int = 2,
) -> None:
    """A float32 GeoTIFF with heights at cell centres; the ground under `holes` is not known."""
    import rasterio
    from rasterio.transform import from_origin

    west, south, east, north = box
    cols, rows = round((east - west) / cell), round((north - south) / cell)
    x, y = np.meshgrid(west + (np.arange(cols) + 0.5) * cell, north - (np.arange(rows) + 0.5) * cell)
    z = np.round(height(x, y), decimals)
    for left, low, right, high in holes:
        z[(x > left) & (x < right) & (y > low) & (y < high)] = -9999
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=cols,
        height=rows,
        count=1,
        dtype="float32",
        crs=crs,
        nodata=-9999,
        transform=from_origin(west, north, cell, cell),
        compress="deflate",
        predictor=3,
        zlevel=9,
    ) as out:
        out.write(z.astype("float32"), 1)


def box(left: float, low: float, right: float, high: float) -> dict[str, Any]:
    """A rectangle as a polygon."""
    return {"type": "Polygon", "coordinates": [[[left, low], [right, low], [right, high], [left, high], [left, low]]]}


def line(*places: Place) -> dict[str, Any]:
    """A line through places."""
    return {"type": "LineString", "coordinates": [list(place) for place in places]}


def point(x: float, y: float) -> dict[str, Any]:
    """One place."""
    return {"type": "Point", "coordinates": [x, y]}


def feature(kind: str, name: str | None, geometry: dict[str, Any], **more: Any) -> dict[str, Any]:
    """One feature; attributes that are None are left out."""
    properties = {"kind": kind, "name": name, **more}
    return {
        "type": "Feature",
        "properties": {k: v for k, v in properties.items() if v is not None},
        "geometry": geometry,
    }


def collection(path: Path, features: list[dict[str, Any]], crs: str | None = None) -> None:
    """A GeoJSON file, one feature a line."""
    head = f'"crs": {{"type": "name", "properties": {{"name": "{crs}"}}}},\n' if crs else ""
    rows = ",\n".join(json.dumps(f, separators=(", ", ": ")) for f in features)
    path.write_text(
        f'{{"type": "FeatureCollection",\n{head}"features": [\n{rows}\n]}}\n', encoding="utf-8", newline="\n"
    )


def moved(features: list[dict[str, Any]], by: Place) -> list[dict[str, Any]]:
    """The features with coordinates shifted."""

    def shift(node: Any) -> Any:
        if isinstance(node[0], (int, float)):
            return [round(node[0] + by[0], 3), round(node[1] + by[1], 3)]
        return [shift(part) for part in node]

    return [{**f, "geometry": {**f["geometry"], "coordinates": shift(f["geometry"]["coordinates"])}} for f in features]


def alder_court(folder: Path) -> None:
    """Four downspouts and a sump, a curb in front and a slope behind: the plan works, and there are ways to rank."""
    folder.mkdir(parents=True, exist_ok=True)
    corner = (1_210_000.0, 205_000.0)

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        x, y = x - corner[0], y - corner[1]
        z = ramp(
            y,
            [
                (-30, 99.35),
                (-10.5, 99.42),
                (-10, 99.92),
                (-6, 100.6),
                (0, 101.15),
                (6, 101.5),
                (30, 101.85),
                (52, 102.1),
                (88, 102.1),
                (104, 101.3),
                (118, 98.9),
                (132, 96.6),
                (160, 96.1),
            ],
        )
        z = z + 0.004 * (x - 45) + bowl(x, y, (14, 96), (9, 7), 0.55)
        return z + 0.03 * np.sin(x / 9.0) * np.cos(y / 13.0)

    collection(
        folder / "features.geojson",
        moved(
            [
                feature("lot", "Lot 7", box(0, 0, 90, 140)),
                feature("neighbour", "Lot 6", box(-40, 0, 0, 140)),
                feature("neighbour", "Lot 8", box(90, 0, 130, 140)),
                feature("building", "House", box(25, 55, 65, 85)),
                feature("driveway", "Drive", box(69, -10, 81, 62), vehicle="car"),
                feature("walk", "Front walk", box(42, 0, 46, 55)),
                feature("no_dig", "Septic bed", box(50, 98, 68, 116)),
                feature("curb", "Curb", line((-40, -10.25), (130, -10.25))),
                feature(
                    "utility", "Water service", line((36, -10), (36, 55)), service="water", depth=4.0, diameter_in=1.0
                ),
                feature("utility", "Gas", line((60, -10), (60, 55)), service="gas"),
                feature("tree", "Oak", point(14, 30), diameter_in=20),
                feature("sprinkler", "Sprinkler 1", point(20, 15)),
                feature("downspout", "DS-1", point(24, 54), roof_area=420),
                feature("downspout", "DS-2", point(66, 54), roof_area=420),
                feature("downspout", "DS-3", point(24, 86), roof_area=420),
                feature("downspout", "DS-4", point(66, 86), roof_area=420),
                feature("sump", "Sump", point(44, 86.5), pump_rate=30),
                feature("curb_outlet", "Curb hole", point(28, -10.5)),
                feature("daylight_outlet", "Rear slope", point(34, 128)),
                feature("benchmark", "Nail in front step", point(45, 54)),
            ],
            corner,
        ),
        "urn:ogc:def:crs:EPSG::6539",
    )
    grid(
        folder / "ground.tif",
        height,
        (corner[0] - 24, corner[1] - 24, corner[0] + 114, corner[1] + 164),
        2.0,
        "EPSG:6539",
        [(corner[0] + 26, corner[1] + 56, corner[0] + 64, corner[1] + 84)],
    )
    (folder / "site.toml").write_text(
        'name = "Alder Court, lot 7"\ncrs = "EPSG:6539"\nlength_unit = "ft"\nelevation_unit = "ft"\n\n'
        '[ground]\ngrid = "ground.tif"\naccuracy = 0.04\n\n[features]\nfiles = '
        '["features.geojson"]\n\n[rainfall]\nintensity = 5.5\n',
        encoding="utf-8",
        newline="\n",
    )


def long_meadow(folder: Path) -> None:
    """A far swale: the fall is there by eye, and short by an inch and a half by level."""
    folder.mkdir(parents=True, exist_ok=True)

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        z = ramp(
            y,
            [
                (-30, 101.4),
                (0, 100.9),
                (40, 100.3),
                (72, 100.0),
                (255, 98.45),
                (268, 98.3),
                (275, 97.4),
                (279, 96.37),
                (282, 96.37),
                (287, 97.4),
                (320, 97.9),
            ],
        )
        return z + 0.002 * (x - 30)

    collection(
        folder / "features.geojson",
        [
            feature("lot", "Lot 12", box(0, 0, 60, 300)),
            feature("building", "House", box(12, 36, 48, 70)),
            feature("easement", "Drainage easement", box(0, 268, 60, 300)),
            feature("fence", "Paddock fence", line((0, 150), (60, 150))),
            feature("tree", "Walnut", point(40, 190), diameter_in=24),
            feature("downspout", "Rear left", point(12, 71.5), roof_area=610),
            feature("downspout", "Rear right", point(48, 71.5), roof_area=610),
            feature(
                "daylight_outlet", "Swale", point(30, 280), invert=96.7, note="flow line 96.37, outlet 0.33 above it"
            ),
        ],
    )
    grid(folder / "ground.tif", height, (-20, -20, 80, 320), 2.0, None)
    (folder / "site.toml").write_text(
        'name = "Long Meadow, lot 12"\ncrs = "local"\nlength_unit = "ft"\nelevation_unit = "ft"\n\n'
        '[ground]\ngrid = "ground.tif"\naccuracy = 0.02\n\n[features]\nfiles = '
        '["features.geojson"]\n\n[rainfall]\nintensity = 4.0\n',
        encoding="utf-8",
        newline="\n",
    )


def marsh_lane(folder: Path) -> None:
    """A flat wet yard with the driveway between half of the house and the only way out."""
    folder.mkdir(parents=True, exist_ok=True)
    corner = (561_000.0, 5_934_000.0)

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        x, y = x - corner[0], y - corner[1]
        z = ramp(x, [(-12, 3.36), (-2.3, 3.36), (-2.0, 3.48), (0, 3.72), (2, 3.92), (12, 4.02), (24, 4.06), (44, 4.10)])
        return z + bowl(x, y, (30, 17), (7, 5), 0.24) + 0.01 * np.sin(x / 4.0) * np.cos(y / 5.0)

    collection(
        folder / "features.geojson",
        moved(
            [
                feature("lot", "Plot 3", box(0, 0, 40, 26)),
                feature("building", "House", box(12, 8, 24, 17)),
                feature(
                    "driveway",
                    "Drive",
                    {
                        "type": "Polygon",
                        "coordinates": [
                            [[-2, 18.5], [10, 18.5], [10, 17.2], [27, 17.2], [27, 22], [-2, 22], [-2, 18.5]]
                        ],
                    },
                    vehicle="truck",
                ),
                feature("wet_area", "Soft lawn", box(25, 12, 31, 16)),
                feature("sprinkler", "Sprinkler", point(34, 6)),
                feature("neighbour", "Plot 4", box(0, 26, 40, 46)),
                feature("neighbour", "Plot 2", box(0, -20, 40, 0)),
                feature("curb", "Kerb", line((-2.15, -20), (-2.15, 46))),
                feature("utility", "Power cable", line((-2, 4.5), (12, 9)), service="power", depth=0.6),
                feature("downspout", "South-west", point(11.5, 7.6), roof_area=27),
                feature("downspout", "South-east", point(24.4, 7.6), roof_area=27),
                feature("downspout", "North-west", point(11.5, 24.0), roof_area=27),
                feature("sump", "Pump pit", point(24.5, 12.6), pump_rate=1.6),
                feature("curb_outlet", "Kerb hole", point(-2.3, 10.0)),
            ],
            corner,
        ),
        "urn:ogc:def:crs:EPSG::25832",
    )
    grid(
        folder / "ground.tif",
        height,
        (corner[0] - 8, corner[1] - 8, corner[0] + 48, corner[1] + 34),
        0.5,
        "EPSG:25832",
        [(corner[0] + 12.5, corner[1] + 8.5, corner[0] + 23.5, corner[1] + 16.5)],
        decimals=3,
    )
    (folder / "site.toml").write_text(
        'name = "Marsh Lane 3"\ncrs = "EPSG:25832"\nlength_unit = "m"\nelevation_unit = "m"\n\n'
        '[ground]\ngrid = "ground.tif"\naccuracy = 0.01\n\n[features]\nfiles = '
        '["features.geojson"]\n\n[rainfall]\nintensity = 120.0\n\n'
        "[rules]\nmin_grade_percent = 1.0\n",
        encoding="utf-8",
        newline="\n",
    )


def quince_terrace(folder: Path) -> None:
    """A long house with nine downspouts: who joins whom, and what leaves by the street or by the swale behind."""
    folder.mkdir(parents=True, exist_ok=True)

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        z = ramp(
            y,
            [
                (-40, 98.4),
                (-11, 98.6),
                (-10.4, 99.1),
                (-5, 99.9),
                (0, 100.6),
                (30, 101.9),
                (60, 102.2),
                (100, 101.6),
                (140, 98.2),
                (165, 97.1),
            ],
        )
        return z + 0.006 * (x - 75) + bowl(x, y, (118, 24), (11, 8), 0.3) + 0.03 * np.sin(x / 10.0) * np.cos(y / 12.0)

    roofs = {
        "DS-1": (33, 39, 460),
        "DS-2": (33, 61, 380),
        "DS-3": (33, 81, 460),
        "DS-4": (62, 81.8, 540),
        "DS-5": (91, 81.8, 540),
        "DS-6": (117, 81, 460),
        "DS-7": (117, 61, 380),
        "DS-8": (117, 39, 460),
        "DS-9": (75, 38.2, 620),
    }
    collection(
        folder / "features.geojson",
        [
            feature("lot", "Lot 3", box(0, 0, 150, 155)),
            feature("neighbour", "Lot 2", box(-40, 0, 0, 155)),
            feature("neighbour", "Lot 4", box(150, 0, 190, 155)),
            feature("building", "House", box(34, 39, 116, 81)),
            feature("driveway", "Drive", box(124, -10, 138, 70), vehicle="car"),
            feature("walk", "Front walk", box(52, 0, 56, 39)),
            feature("no_dig", "Septic bed", box(60, 98, 84, 116)),
            feature("curb", "Curb", line((-40, -10.7), (190, -10.7))),
            feature("utility", "Gas", line((44, -10), (44, 39)), service="gas"),
            feature("tree", "Quince", point(20, 22), diameter_in=14),
            *(feature("downspout", name, point(x, y), roof_area=area) for name, (x, y, area) in roofs.items()),
            feature("curb_outlet", "Curb hole", point(70, -11)),
            feature("daylight_outlet", "Rear swale", point(104, 148)),
            feature("benchmark", "Nail in porch post", point(75, 40), elevation=102.85, datum="NAVD 88"),
        ],
    )
    grid(folder / "ground.tif", height, (-24, -30, 174, 170), 2.0, None, [(35.5, 40.5, 114.5, 79.5)])
    (folder / "site.toml").write_text(
        'name = "Quince Terrace, lot 3"\ncrs = "local"\nlength_unit = "ft"\nelevation_unit = "ft"\n\n'
        '[ground]\ngrid = "ground.tif"\naccuracy = 0.04\n\n[features]\nfiles = '
        '["features.geojson"]\n\n[rainfall]\nintensity = 5.0\n\n[search]\nsteps = 80\n',
        encoding="utf-8",
        newline="\n",
    )


def kiln_rise(folder: Path) -> None:
    """A house below its street whose rear swale takes roof water only.

    The pit is lifted to a box on the front crest.
    """
    folder.mkdir(parents=True, exist_ok=True)

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        z = ramp(
            y,
            [
                (-30, 99.95),
                (-10.5, 100.0),
                (-10, 100.5),
                (-5, 101.1),
                (0, 101.7),
                (12, 102.6),
                (20, 102.4),
                (36, 101.2),
                (80, 100.6),
                (100, 98.9),
                (118, 96.9),
                (130, 96.4),
                (150, 96.2),
            ],
        )
        return z - 0.003 * (x - 40) + 0.03 * np.sin(x / 8.0) * np.cos(y / 11.0)

    collection(
        folder / "features.geojson",
        [
            feature("lot", "Lot 5", box(0, 0, 80, 130)),
            feature("neighbour", "Lot 4", box(-40, 0, 0, 130)),
            feature("neighbour", "Lot 6", box(80, 0, 120, 130)),
            feature("building", "House", box(22, 44, 60, 74)),
            feature("driveway", "Drive", box(4, -10, 16, 60), vehicle="car"),
            feature("walk", "Front walk", box(38, 0, 42, 44)),
            feature("curb", "Curb", line((-40, -10.25), (120, -10.25))),
            feature("utility", "Water service", line((30, -10), (30, 44)), service="water", depth=4.0, diameter_in=1.0),
            feature("tree", "Maple", point(52, 30), diameter_in=16),
            feature("downspout", "DS-1", point(21, 74), roof_area=500),
            feature("downspout", "DS-2", point(61, 74), roof_area=500),
            feature(
                "sump",
                "PIT",
                point(60.8, 52),
                pump_curve=[[0, 24], [20, 21.5], [40, 16], [55, 9], [62, 4]],
                discharge="Box on the crest",
                off_level=92.6,
                pit_diameter=1.5,
                pit_depth=2.0,
                pit_rise=1.0,
                refill_s=240,
                check_valve=False,
            ),
            feature("discharge_point", "Box on the crest", point(64, 16), rim=102.5),
            feature("curb_outlet", "Curb hole", point(64, -10.5)),
            feature(
                "daylight_outlet", "Rear swale", point(44, 118), refuses="sump", note="its owner takes roof water only"
            ),
        ],
    )
    grid(folder / "ground.tif", height, (-40, -30, 120, 150), 2.0, None, holes=[(23, 45, 59, 73)])
    (folder / "site.toml").write_text(
        'name = "Kiln Rise, lot 5"\ncrs = "local"\nlength_unit = "ft"\nelevation_unit = "ft"\n\n'
        '[ground]\ngrid = "ground.tif"\naccuracy = 0.03\n\n[features]\nfiles = '
        '["features.geojson"]\n\n[rainfall]\nintensity = 5.0\n\n'
        "[trench]\nfrost_depth_in = 24\n",
        encoding="utf-8",
        newline="\n",
    )


SITES = {
    "alder-court": alder_court,
    "kiln-rise": kiln_rise,
    "long-meadow": long_meadow,
    "marsh-lane": marsh_lane,
    "quince-terrace": quince_terrace,
}


def main() -> None:
    """Write every sample site."""
    home = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent
    for name, write in SITES.items():
        write(home / name)
        print(home / name)


if __name__ == "__main__":
    main()
