"""Site folders of the six stories: the points as the stories print them, and the features that the stories describe.

Coordinates of features are in the stories' own feet. Names, people and places are invented.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

Place = tuple[float, float]  # northing, easting, as the stories write them

S1 = """\
1,5000,2000,98.30,LOT SW
2,5000,2060,98.35,LOT SE
3,5150,2060,95.40,LOT NE
4,5150,2000,95.30,LOT NW
5,5066,2030,100.00,BM NAIL FRONT STEP
6,5068,2012,99.10,HOUSE SW / DS1 GROUND
7,5068,2048,99.15,HOUSE SE
8,5110,2048,98.95,HOUSE NE
9,5110,2012,98.90,HOUSE NW
10,5050,2012,98.95,GR
11,5030,2012,98.70,GR
12,5010,2012,98.40,GR
13,4990,2012,98.35,TC
14,4989.5,2012,97.85,GUTTER FL
15,5068,2006,99.05,GR
16,5092,2006,98.95,GR
17,5114,2006,98.55,GR
18,5126,2009,97.10,GR
19,5138,2012,95.90,GR TOE OF BANK
"""
S2 = """\
1,5000,2000,98.60,LOT SW
2,5000,2070,98.90,LOT SE
3,5130,2070,101.60,LOT NE
4,5130,2000,101.70,LOT NW
5,5100,2035,102.00,BM THRESHOLD
6,5060,2062,101.05,HOUSE SE
7,5100,2062,101.30,HOUSE NE
8,5080,2062,101.20,DSE GROUND AT WALL
9,5080,2067,100.62,SKETCHED POPUP RIM
10,5080,2070,100.30,GR AT LINE
11,5080,2082,99.10,NEIGHBOUR GR
12,5080,2066,101.05,GR
13,5060,2066,100.85,GR
14,5040,2066,100.60,GR
15,5020,2066,100.20,GR
16,5012,2054,99.10,GR TOP OF SWALE BANK
17,5008,2052,98.40,SWALE FL
18,5060,2012,101.00,HOUSE SW
19,5100,2012,101.35,HOUSE NW
"""
S3 = """\
1,5078,2030,99.60,WALL AT SUMP EXIT
2,5084,2030,99.72,POPUP RIM EXIST
3,5088,2030,99.65,GR
4,5098,2030,99.45,GR
5,5108,2030,99.25,GR
6,5120,2030,99.00,GR
7,5128,2030,98.60,GR
8,5138,2030,97.30,GR TOE OF BANK
9,5152,2030,96.60,REAR LINE
10,5078,2032,99.85,AIR GAP RIM
"""
S5 = """\
sta,ground
0+00,96.50
0+10,97.60
0+20,98.05
0+30,98.30
0+38,98.40 EDGE OF DRIVE LOW SIDE
0+44,98.55 DRIVE CENTRE
0+50,98.70 EDGE OF DRIVE HIGH SIDE
0+60,98.85
0+80,99.35
1+00,99.90
1+10,100.10 DS GROUND
"""
S6 = """\
1,1524.000,609.600,30.023,LOT SW
2,1524.000,627.888,30.038,LOT SE
3,1569.720,627.888,29.230,LOT NE
4,1569.720,609.600,29.215,LOT NW
5,1535.582,618.744,30.480,BM STEP NAIL EL 100.00
6,1536.192,613.258,30.236,DS1
7,1542.288,613.258,30.145,GR
8,1549.908,613.258,30.038,GR
9,1557.528,613.258,29.901,GR
10,1563.624,613.258,29.322,GR TOE BANK
"""


def stationed(table: str, *, north: float, east: float) -> str:
    """A table of stations and ground as points of a line that runs north from its outlet."""
    points = []
    for number, row in enumerate(table.splitlines()[1:], 1):
        station, rest = row.split(",")
        hundreds, feet = station.split("+")
        height, _, words = rest.partition(" ")
        points.append(f"{number},{north + 100 * float(hundreds) + float(feet):g},{east:g},{height},{words or 'GR'}")
    return "\n".join(points) + "\n"


def box(south: float, west: float, north: float, east: float) -> list[Place]:
    """Corners of a rectangle."""
    return [(south, west), (south, east), (north, east), (north, west)]


def one(kind: str, places: Sequence[Place] | Place, name: str | None = None, **more: Any) -> dict[str, Any]:
    """A GeoJSON feature from places in northing and easting."""
    if isinstance(places[0], int | float):
        geometry: dict[str, Any] = {"type": "Point", "coordinates": [places[1], places[0]]}
    elif kind in {"curb", "utility", "fence", "wall"}:
        geometry = {"type": "LineString", "coordinates": [[east, north] for north, east in places]}
    else:
        geometry = {"type": "Polygon", "coordinates": [[[east, north] for north, east in (*places, places[0])]]}
    return {
        "type": "Feature",
        "properties": {"kind": kind, **({"name": name} if name else {}), **more},
        "geometry": geometry,
    }


def write(
    folder: Path,
    points: str,
    features: list[dict[str, Any]],
    *,
    ground: Mapping[str, str] | None = None,
    tables: str = "",
) -> Path:
    """A site folder in feet on an assumed grid."""
    folder.mkdir(parents=True, exist_ok=True)
    keys = {"shots": '"shots.csv"', "accuracy": "0.01", **(ground or {})}
    (folder / "shots.csv").write_text(points, encoding="utf-8")
    (folder / "features.geojson").write_text(
        json.dumps({"type": "FeatureCollection", "features": features}), encoding="utf-8"
    )
    (folder / "site.toml").write_text(
        'name = "Story"\ncrs = "local"\nlength_unit = "ft"\nelevation_unit = "ft"\n\n[ground]\n'
        + "".join(f"{key} = {value}\n" for key, value in keys.items())
        + '\n[features]\nfiles = ["features.geojson"]\n'
        + tables,
        encoding="utf-8",
    )
    return folder


def s1(folder: Path, **more: Any) -> Path:
    """The high curb, with the daylight place behind the house that a master offers."""
    features = [
        one("lot", box(5000, 2000, 5150, 2060), "Lot"),
        one("building", box(5068, 2012, 5110, 2048), "House"),
        one("curb", [(4990, 1990), (4990, 2070)], "Curb"),
        one("downspout", (5068, 2012), "DS1", roof_area=780),
        one("curb_outlet", (4989.5, 2012), "CURB"),
        *more.pop("features", []),
    ]
    tables = "\n[rainfall]\nintensity = 5.5\n" + more.pop("tables", "")
    return write(folder, S1, features, tables=tables, **more)


def s2(folder: Path, *, tables: str = "") -> Path:
    """The lower neighbour: the sketched pop-up and the swale in the easement."""
    features = [
        one("lot", box(5000, 2000, 5130, 2070), "Lot"),
        one("building", box(5060, 2012, 5100, 2062), "House"),
        one("easement", box(5000, 2000, 5015, 2070), "Drainage easement"),
        one("neighbour", box(5000, 2070, 5130, 2090), "East neighbour"),
        one("downspout", (5080, 2062), "DSE", roof_area=950),
        one("daylight_outlet", (5080, 2067), "POPUP"),
        one("daylight_outlet", (5012, 2054), "SWALE", invert=98.73),
    ]
    return write(folder, S2, features, tables="\n[rainfall]\nintensity = 6.2\n" + tables)


def s3(folder: Path, *, tables: str = "") -> Path:
    """The sump that pumps itself: its old pop-up, a new one at 42 ft, and daylight at the toe of the bank."""
    features = [
        one("lot", box(5000, 1992, 5152, 2067), "Lot"),
        one("building", box(5040, 2010, 5078, 2050), "House"),
        one("sump", (5078, 2030), "SUMP", pump_rate=42),
        one("daylight_outlet", (5138, 2030), "BANK", invert=97.35),
        one("daylight_outlet", (5120, 2030), "POPUP 42", invert=99.00),
        one("daylight_outlet", (5084, 2030), "POPUP OLD", invert=99.72),
    ]
    return write(folder, S3, features, ground={"strip": "6.0"}, tables=tables)


def s5(folder: Path) -> Path:
    """Under the driveway: a straight line from the downspout to the roadside swale."""
    features = [
        one("lot", box(5012, 1990, 5152, 2070), "Lot"),
        one("driveway", [(5043, 1990), (5043, 2070), (5055, 2070), (5055, 1990)], "Drive", vehicle="car"),
        one("downspout", (5115, 2030), "DS", roof_area=1000),
        one("daylight_outlet", (5005, 2030), "SWALE", invert=96.20),
    ]
    return write(
        folder,
        stationed(S5, north=5005, east=2030),
        features,
        ground={"strip": "2.0"},
        tables="\n[rainfall]\nintensity = 6.0\n",
    )


def s6(folder: Path, *, ground: Mapping[str, str] | None = None, plat: bool = True) -> Path:
    """The metre file, in a folder that declares feet as the plat has them."""
    features = [
        one("lot", box(5000, 2000, 5150, 2060), "Lot"),
        one("downspout", (5040, 2012), "DS1", roof_area=1750),
        one("daylight_outlet", (5130, 2012), "REAR", invert=96.25),
    ]
    tables = "\n[rainfall]\nintensity = 6.0\n" + ("\n[plat]\nsides = [60, 150, 60, 150]\n" if plat else "")
    return write(folder, S6, features, ground=ground, tables=tables)
