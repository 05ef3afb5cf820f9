"""Bad site folders: one line each that says where, what and how to mend; never anything but a fault of the input."""

from __future__ import annotations

import json
import os
import re
import struct
import sys
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine

from siteplan.errors import InputError, InputErrors, SiteplanError
from siteplan.survey.folder import read_site


def fault(folder: Path) -> str:
    """The message of a folder that cannot be read; it is one line."""
    with pytest.raises(SiteplanError) as caught:
        read_site(folder)
    assert isinstance(caught.value, InputError | InputErrors)
    text = str(caught.value)
    assert "Traceback" not in text
    assert "/tmp" not in text
    return text


# ---- the folder and site.toml


def test_no_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert fault(Path("nowhere")) == "nowhere: no such folder. Name a folder that holds site.toml."
    Path("plain").write_text("x")
    assert fault(Path("plain")) == "plain: is no folder. Name a folder that holds site.toml."
    Path("bare").mkdir()
    assert fault(Path("bare")) == "bare: holds no site.toml. Name a site folder, or write the file."


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"name": None}, "site.toml, name: is missing. Give the lot a name."),
        ({"name": "7"}, "site.toml, name: is 7, expected text. Give the lot a name."),
        (
            {"crs": None},
            'site.toml, crs: is missing. Write an EPSG code such as "EPSG:6539", or "local" for plain site coordinates.',
        ),
        (
            {"crs": '"EPSG:999999"'},
            (
                'site.toml, crs: "EPSG:999999" names no CRS known here. Write an EPSG code such as "EPSG:6539"; '
                'in site.toml also "local".'
            ),
        ),
        (
            {"crs": '"EPSG:5703"'},
            (
                'site.toml, crs: "NAVD88 height" is no geographic or projected CRS. Name the CRS that the '
                "eastings and northings are in."
            ),
        ),
        (
            {"length_unit": None},
            (
                'site.toml, length_unit: is missing; a unit is declared, never guessed. Write "ft", "us-ft" or '
                '"m", the unit of lengths and attributes.'
            ),
        ),
        (
            {"elevation_unit": None},
            (
                'site.toml, elevation_unit: is missing; a unit is declared, never guessed. Write "ft", "us-ft" '
                'or "m", the unit of every elevation.'
            ),
        ),
        ({"length_unit": '"feet"'}, 'site.toml, length_unit: is "feet". Write "ft", "us-ft" (US survey foot) or "m".'),
        ({"elevation_unit": "3"}, 'site.toml, elevation_unit: is 3. Write "ft", "us-ft" (US survey foot) or "m".'),
        (
            {"ground.grid": None},
            (
                'site.toml, [ground]: names no ground: neither grid nor shots. Add grid = "ground.tif", a '
                'GeoTIFF of elevations, or shots = "shots.csv", a point list.'
            ),
        ),
        (
            {"ground.grid": None, "ground.levels": '"features.geojson"'},
            (
                "site.toml, [ground]: gives levels only: rod readings have heights and no places. Add shots = "
                '"shots.csv" with the northing and easting of the same points, their elevations blank.'
            ),
        ),
        (
            {"ground.points_order": '"NEZ"'},
            'site.toml, [ground] points_order: is "NEZ". Write "north-first" or "east-first".',
        ),
        (
            {"ground.points_unit": '"feet"'},
            'site.toml, [ground] points_unit: is "feet". Write "ft" or "us-ft" or "m". Did you mean "ft"?',
        ),
        (
            {"ground.not_ground": "5"},
            'site.toml, [ground] not_ground: is 5, expected a list of point numbers. Write not_ground = ["5", "12"].',
        ),
        (
            {"ground.strip": "-1"},
            "site.toml, [ground] strip: is -1. Give a width to each side in m, above 0 and at most 15.",
        ),
        (
            {"ground.shared_accuracy": "9"},
            "site.toml, [ground] shared_accuracy: is 9. Give one standard deviation in m, above 0 and at most 5.",
        ),
        (
            {"ground.benchmarks": "3"},
            (
                "site.toml, [ground] benchmarks: is 3, expected names with elevations. Write benchmarks = { BM-1 "
                "= 100.00 }."
            ),
        ),
        (
            {"plat.sides": "[60, -1, 60]"},
            (
                "site.toml, [plat] sides: is [60, -1, 60]. Write the lot's sides clockwise from the frontage: "
                "sides = [60, 150, 60, 150]."
            ),
        ),
        (
            {"plat.frontage_bearing": "400"},
            "site.toml, [plat] frontage_bearing: is 400. Give degrees clockwise from north, at least 0 and below 360.",
        ),
        (
            {"ground.grid": '"grund.tif"'},
            'site.toml, [ground] grid: no file "grund.tif" in the site folder. Did you mean "ground.tif"?',
        ),
        (
            {"ground.grid": '"zzz"'},
            'site.toml, [ground] grid: no file "zzz" in the site folder. Put it there, or correct the name.',
        ),
        (
            {"ground.grid": "[1]"},
            'site.toml, [ground] grid: is [1], expected a file name. Write it as text, such as "ground.tif".',
        ),
        (
            {"ground.grid": '"../ground.tif"'},
            (
                'site.toml, [ground] grid: "../ground.tif" does not stay inside the site folder. Name a file '
                'that lies in it, such as "ground.tif".'
            ),
        ),
        (
            {"ground.grid": '"/etc/passwd"'},
            (
                'site.toml, [ground] grid: "/etc/passwd" does not stay inside the site folder. Name a file that '
                'lies in it, such as "ground.tif".'
            ),
        ),
        (
            {"ground.grid": "'sub\\ground.tif'"},
            (
                'site.toml, [ground] grid: "sub\\ground.tif" does not stay inside the site folder. Name a file '
                'that lies in it, such as "ground.tif".'
            ),
        ),
        (
            {"ground.grid": "'C:\\ground.tif'"},
            (
                'site.toml, [ground] grid: "C:\\ground.tif" does not stay inside the site folder. Name a file '
                'that lies in it, such as "ground.tif".'
            ),
        ),
        (
            {"ground.grid": '"."'},
            'site.toml, [ground] grid: no file "." in the site folder. Put it there, or correct the name.',
        ),
        (
            {"ground.grid": '"a\\u0000b"'},
            (
                'site.toml, [ground] grid: "ab" does not stay inside the site folder. Name a file that lies in '
                'it, such as "ground.tif".'
            ),
        ),
        (
            {"ground.accuracy": "0"},
            (
                "site.toml, [ground] accuracy: is 0. Give one standard deviation of an elevation in m, above 0 "
                "and at most 5."
            ),
        ),
        (
            {"ground.accuracy": "nan"},
            (
                "site.toml, [ground] accuracy: is nan. Give one standard deviation of an elevation in m, above 0 "
                "and at most 5."
            ),
        ),
        (
            {"ground.accuracy": "6.0"},
            (
                "site.toml, [ground] accuracy: is 6.0. Give one standard deviation of an elevation in m, above 0 "
                "and at most 5."
            ),
        ),
        ({"ground.acuracy": "0.1"}, "site.toml, [ground] acuracy: is not known here. Did you mean accuracy?"),
        ({"lenght_unit": '"m"'}, "site.toml, lenght_unit: is not known here. Did you mean length_unit?"),
        ({"accuracy": "0.1"}, "site.toml, accuracy: is not known here. Did you mean [ground] accuracy?"),
        ({"feature.files": "[]"}, "site.toml, feature: is not known here. Did you mean [features]?"),
        (
            {"rainfall.intensity": None, "rainfall.intensty": "3"},
            "site.toml, [rainfall] intensty: is not known here. Did you mean intensity?",
        ),
        ({"features.files": None}, 'site.toml, [features] files: is missing. Write files = ["features.geojson"].'),
        (
            {"features.files": '"features.geojson"'},
            (
                'site.toml, [features] files: is "features.geojson", expected a list of file names. Write files '
                '= ["features.geojson"].'
            ),
        ),
        (
            {"features.files": "[]"},
            'site.toml, [features] files: is [], expected a list of file names. Write files = ["features.geojson"].',
        ),
        (
            {"features.files": '["features.geojson", "./features.geojson"]'},
            'site.toml, [features] files: names "./features.geojson" twice. Keep it once.',
        ),
        (
            {"features.files": '["ground.tif"]'},
            (
                'ground.tif: ".tif" is no kind of feature file read here. Use .geojson, .gpkg, .shp, .csv for '
                "points, or .deed for the calls of a deed."
            ),
        ),
        ({"rainfall.intensity": "0"}, "site.toml, [rainfall] intensity: is 0. Give a number above 0, in mm/h."),
        ({"rainfall.intensity": "-6.5"}, "site.toml, [rainfall] intensity: is -6.5. Give a number above 0, in mm/h."),
        ({"rainfall.intensity": '"6"'}, 'site.toml, [rainfall] intensity: is "6". Give a number above 0, in mm/h.'),
        (
            {"rainfall.intensity": "1979-05-27"},
            "site.toml, [rainfall] intensity: is 1979-05-27. Give a number above 0, in mm/h.",
        ),
        ({"rainfall.intensity": "true"}, "site.toml, [rainfall] intensity: is true. Give a number above 0, in mm/h."),
        (
            {"rainfall.table": "[[5, 100]]"},
            "site.toml, [rainfall]: gives both intensity and table. Keep one of the two.",
        ),
        (
            {"rainfall.intensity": None, "rainfall.table": "[[5, 100], [5, 90]]"},
            (
                "site.toml, [rainfall] table: pair 2 has 5 minutes after 5. Write pairs of [minutes, mm/h], "
                "durations rising: [[5, 7.2], [10, 5.9]]."
            ),
        ),
        (
            {"rainfall.intensity": None, "rainfall.table": "[[5]]"},
            (
                "site.toml, [rainfall] table: pair 1 is [5], expected [minutes, mm/h] above 0. Write pairs of "
                "[minutes, mm/h], durations rising: [[5, 7.2], [10, 5.9]]."
            ),
        ),
        (
            {"rainfall.intensity": None, "rainfall.table": "5"},
            (
                "site.toml, [rainfall] table: is 5, expected a list of pairs. Write pairs of [minutes, mm/h], "
                "durations rising: [[5, 7.2], [10, 5.9]]."
            ),
        ),
        (
            {"rules.min_grade": "2"},
            (
                "site.toml, [rules] min_grade: has no unit that fits min-grade. Write min_grade_percent, "
                "min_grade_in_per_ft, min_grade_ratio."
            ),
        ),
        ({"confirm_units": '"yes"'}, 'site.toml, confirm_units: is "yes". Write true or false.'),
        ({"note": "5"}, "site.toml, note: is 5, expected text. Write it in quotes."),
        ({"rules": "5"}, "site.toml, rules: is 5, expected a section. Write [rules] and its keys below it."),
    ],
)
def test_site_toml(site, changes, text):
    said = fault(site(changes=changes))
    if "rules.min_grade" in changes:  # the book of rules owns the rest of that line
        assert said.startswith(text.split(" Write")[0])
        return
    assert said == text


def test_shots_that_leave_their_order_open_ask(site):
    folder = site(changes={"ground.grid": None, "ground.shots": '"shots.csv"'})
    (folder / "shots.csv").write_text("1,0,0,30,EG\n2,0,40,29,EG\n3,30,40,29,EG\n4,30,0,30,EG\n5,35,35,30,EG\n")
    said = fault(folder)
    assert said.startswith(
        "shots.csv: does northing or easting come first? nothing tells (first column spans 0.00 to 35.00 m"
    )
    assert said.endswith('Say points_order = "north-first" or "east-first" under [ground].')


def test_shots_on_one_line_ask_for_more(site):
    folder = site(changes={"ground.grid": None, "ground.shots": '"shots.csv"', "ground.points_order": '"north-first"'})
    (folder / "shots.csv").write_text("1,5,0,30,GR\n2,5,20,29.6,GR\n3,5,40,29.2,GR\n")
    assert fault(folder) == (
        "shots.csv: has 3 shots on the ground, all on one line: no surface can be drawn. Shoot some ground "
        "on both sides; or say strip = 5 "
        "under [ground] to take the ground as level across the line for that far on each side."
    )


def test_a_file_of_shots_that_hides_entities_is_refused(site):
    folder = site(changes={"ground.grid": None, "ground.shots": '"shots.xml"'})
    (folder / "shots.xml").write_text(
        '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><LandXML version="1.2">&b;</LandXML>'
    )
    assert (
        fault(folder)
        == "shots.xml: declares a document type. Take the DOCTYPE out: LandXML needs none, and it can hide entities."
    )


@pytest.mark.parametrize(
    ("raw", "text"),
    [
        (b"", "site.toml: is empty. Save it again with its content."),
        (b"\n  \n", "site.toml: is empty. Save it again with its content."),
        (b'name = "x\n', "site.toml: is no TOML: Illegal character '\\n' (at line 1, column 10). Correct that line."),
        (
            b'name = "x"\nname = "y"\n',
            "site.toml: is no TOML: Cannot overwrite a value (at line 2, column 11). Correct that line.",
        ),
        (b"\xff\xfe\x00", "site.toml: is no UTF-8 text (byte 0). Save it as UTF-8."),
        (b"a = " + b"[" * 100_000, "site.toml: is nested too deep to be read. Write plain keys and values."),
    ],
)
def test_site_toml_that_is_none(site, raw, text):
    folder = site()
    (folder / "site.toml").write_bytes(raw)
    assert fault(folder) == text


def test_faults_of_site_toml_come_together(site):
    text = fault(
        site(
            changes={
                "name": None,
                "length_unit": None,
                "rainfall.intensity": "-1",
                "rules.min_cover_in": "-1",
                "rules.max_dept_ft": "4",
            }
        )
    )
    assert [line.split(":")[0] for line in text.splitlines()] == [
        "site.toml, length_unit",
        "site.toml, name",
        "site.toml, [rainfall] intensity",
        "site.toml, [rules] min_cover_in",
        "site.toml, [rules] max_dept_ft",
    ]


def test_a_byte_order_mark_is_no_fault(site):
    folder = site()
    for name in ("site.toml", "features.geojson"):
        (folder / name).write_bytes(b"\xef\xbb\xbf" + (folder / name).read_bytes())
    assert read_site(folder).name == "Test lot"


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_a_link_out_of_the_folder(site, tmp_path):
    folder = site()
    (folder / "ground.tif").rename(tmp_path / "elsewhere.tif")
    (folder / "ground.tif").symlink_to(tmp_path / "elsewhere.tif")
    assert fault(folder) == (
        'site.toml, [ground] grid: "ground.tif" is a link that leads out of the site folder. Copy the file '
        "into the folder."
    )


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes of that kind there")
def test_a_pipe_is_no_file(site):
    folder = site()
    (folder / "ground.tif").unlink()
    os.mkfifo(folder / "ground.tif")
    assert (
        fault(folder)
        == 'site.toml, [ground] grid: no file "ground.tif" in the site folder. Put it there, or correct the name.'
    )


# ---- features

PLACE = 'features.geojson, feature 5 ("DS-1")'


def changed(sites, number, *, geometry=None, **properties):
    features = sites.lot_features()
    features[number - 1]["properties"].update(properties)
    if geometry is not None:
        features[number - 1]["geometry"] = geometry
    return features


@pytest.mark.parametrize(
    ("number", "properties", "text"),
    [
        (
            5,
            {"kind": None},
            (
                f"{PLACE}: has no kind. Give one of lot, building, driveway, walk, paving, no_dig, easement, "
                "neighbour, wet_area, curb, utility, fence, wall, drain, downspout, sump, inlet, area_drain, "
                "curb_outlet, daylight_outlet, tie_in, discharge_point, sprinkler, tree, benchmark."
            ),
        ),
        (5, {"kind": "downspot"}, f'{PLACE}: is of kind "downspot", which is not known. Did you mean downspout?'),
        (
            5,
            {"kind": "Curb Outlet"},
            f'{PLACE}: is of kind "Curb Outlet", which is not known. Did you mean curb_outlet?',
        ),
        (
            5,
            {"kind": 3},
            (
                f'{PLACE}: is of kind "3", which is not known. Give one of lot, building, driveway, walk, paving, '
                "no_dig, easement, neighbour, wet_area, curb, utility, fence, wall, drain, downspout, sump, "
                "inlet, area_drain, curb_outlet, daylight_outlet, tie_in, discharge_point, sprinkler, tree, "
                "benchmark."
            ),
        ),
        (5, {"kind": "lot"}, f"{PLACE}: is a lot drawn as a point. Draw it as a polygon."),
        (5, {"roof_area": "big"}, f'{PLACE}, roof_area: is "big". Give a plain number, or leave it out.'),
        (5, {"roof_area": True}, f'{PLACE}, roof_area: is "True". Give a plain number, or leave it out.'),
        (5, {"roof_area": -3}, f"{PLACE}, roof_area: is -3. Give a number above 0, or leave it out."),
        (5, {"invert": "1_0"}, f'{PLACE}, invert: is "1_0". Give a plain number, or leave it out.'),
        (5, {"diameter_in": 0}, f"{PLACE}, diameter_in: is 0. Give a number above 0, or leave it out."),
        (5, {"diameter_in": 4, "diameter_mm": 4}, f"{PLACE}: has two diameters, 4 in and 4 mm. Keep one."),
        (3, {"vehicle": "tank"}, 'features.geojson, feature 3 ("Driveway"), vehicle: is "tank". Write car or truck.'),
        (
            5,
            {"name": "sump-1"},
            (
                'features.geojson, feature 7 ("SUMP-1"): has the same name as features.geojson, feature 5 '
                '("sump-1"). Give each source and outlet a name of its own.'
            ),
        ),
    ],
)
def test_features(site, sites, number, properties, text):
    assert fault(site(features=changed(sites, number, **properties))) == text


@pytest.mark.parametrize(
    ("number", "geometry", "text"),
    [
        (
            1,
            {"type": "Polygon", "coordinates": [[[0, 0], [40, 30], [40, 0], [0, 30], [0, 0]]]},
            (
                'features.geojson, feature 1 ("Lot"): is a lot that crosses or touches itself at 20.000000, '
                "15.000000 (coordinates of the file). Move the corner there."
            ),
        ),
        (
            1,
            None,
            'features.geojson, feature 1 ("Lot"): is a lot without geometry. Draw it as a polygon, or take it out.',
        ),
        (
            1,
            {"type": "Polygon", "coordinates": []},
            'features.geojson, feature 1 ("Lot"): is a lot without geometry. Draw it as a polygon, or take it out.',
        ),
        (
            1,
            {"type": "LineString", "coordinates": [[0, 0], [40, 0], [40, 30], [0, 0]]},
            'features.geojson, feature 1 ("Lot"): is a lot drawn as a line. Draw it as a polygon.',
        ),
        (
            1,
            {
                "type": "MultiPolygon",
                "coordinates": [[[[0, 0], [9, 0], [9, 9], [0, 0]]], [[[20, 0], [29, 0], [29, 9], [20, 0]]]],
            },
            'features.geojson, feature 1 ("Lot"): is one lot in 2 parts. Draw the one lot of this plan.',
        ),
        (
            1,
            {"type": "Polygon", "coordinates": [[[0, 0], [40, 0], [0, 0]]]},
            'features.geojson, feature 1 ("Lot"): is a lot with too few different corners. Draw it again.',
        ),
        (
            1,
            {"type": "Polygon", "coordinates": [[[0, 0], [40, 0], [20, 0], [0, 0]]]},
            (
                'features.geojson, feature 1 ("Lot"): is a lot that crosses or touches itself at 20.000000, '
                "0.000000 (coordinates of the file). Move the corner there."
            ),
        ),
        (
            4,
            {"type": "LineString", "coordinates": [[1, 1], [1, 1]]},
            'features.geojson, feature 4 ("Curb"): is a curb with too few different corners. Draw it again.',
        ),
        (
            5,
            {"type": "Point", "coordinates": [1]},
            f"{PLACE}: has a coordinate [1]. A coordinate is a pair of finite numbers.",
        ),
        (
            5,
            {"type": "Point", "coordinates": [1, float("nan")]},
            f"{PLACE}: has a coordinate [1, nan]. A coordinate is a pair of finite numbers.",
        ),
        (
            5,
            {"type": "Point", "coordinates": [1, "2"]},
            f'{PLACE}: has a coordinate [1, "2"]. A coordinate is a pair of finite numbers.',
        ),
        (
            5,
            {"type": "Point", "coordinates": [1e300, 2]},
            f"{PLACE}: has a coordinate [1e+300, 2]. No place has a coordinate beyond 1,000,000,000,000.",
        ),
        (
            5,
            {"type": "Point", "coordinates": [1, -(10**15)]},
            f"{PLACE}: has a coordinate [1, -1000000000000000]. No place has a coordinate beyond 1,000,000,000,000.",
        ),
        (
            5,
            {"type": "Point", "coordinates": [1, float("inf")]},
            f"{PLACE}: has a coordinate [1, inf]. A coordinate is a pair of finite numbers.",
        ),
        (
            5,
            {"type": "Point", "coordinates": {"x": 1}},
            f"{PLACE}: has a table where coordinates should be. Draw it again.",
        ),
        (
            5,
            {"type": "MultiPoint", "coordinates": [[1, 1], [2, 2]]},
            f"{PLACE}: is one downspout in 2 parts. Draw each as a feature of its own.",
        ),
        (
            5,
            {"type": "GeometryCollection", "geometries": []},
            f'{PLACE}: has geometry "GeometryCollection". Use Point, LineString or Polygon.',
        ),
        (
            5,
            {"type": "Circle", "coordinates": [1, 1]},
            f'{PLACE}: has geometry "Circle". Use Point, LineString or Polygon.',
        ),
        (5, [1, 2], f"{PLACE}: has a geometry that is no GeoJSON. Draw it again."),
    ],
)
def test_geometry(site, sites, number, geometry, text):
    folder = site()
    features = changed(sites, number)
    features[number - 1]["geometry"] = geometry
    (folder / "features.geojson").write_text(sites.collection(features))
    assert fault(folder) == text


def test_self_crossing_is_placed_in_the_coordinates_of_the_file(site, sites):
    features = sites.lot_features()
    ring = features[0]["geometry"]["coordinates"][0]
    ring[1], ring[2] = ring[2], ring[1]
    text = fault(site(crs="EPSG:4326", features=features))
    assert re.search(
        (
            r'feature 1 \("Lot"\): is a lot that crosses or touches itself at -73\.399\d{3}, 40\.800\d{3} '
            r"\(coordinates of the file\)"
        ),
        text,
    )


def test_a_word_in_what_somebody_wrote_is_no_lot(site, sites):
    """What is missing is told by the kinds of what could not be read, not by words of its messages."""
    features = sites.lot_features()
    broken = sites.feature("driveway", [(1, 1), (5, 1), (5, 4)], "Drive", width="a lot, a sump")
    broken["properties"]["roof_area"] = "a lot and a downspout"
    told = fault(site(features=[broken]))
    assert "roof_area" in told
    assert "hold no lot" in told
    assert "hold no source of water" in told
    features[0]["properties"]["roof_area"] = "much"  # the lot itself is broken: it is there
    assert "hold no lot" not in fault(site(features=features))


def test_no_lot_no_source_two_lots(site, sites):
    features = sites.lot_features()
    assert (
        fault(site(features=features[1:]))
        == "site.toml, [features] files: hold no lot. Draw the lot as one polygon of kind lot."
    )
    assert fault(site(features=features[:4])) == (
        "site.toml, [features] files: hold no source of water (downspout, sump, inlet, area_drain). Mark at "
        "least one point."
    )
    again = sites.feature("lot", [(50, 0), (60, 0), (60, 9)], "Other")
    assert fault(site(features=[*features, again])) == (
        'features.geojson, feature 10 ("Other"): is a second lot; the first is features.geojson, feature 1 '
        '("Lot"). Keep the one lot of this plan; the others may be of kind neighbour.'
    )


def test_a_broken_lot_is_told_once(site, sites):
    features = changed(sites, 1)
    features[0]["geometry"]["coordinates"] = [[[0, 0], [40, 30], [40, 0], [0, 30], [0, 0]]]
    assert len(fault(site(features=features)).splitlines()) == 1


def test_more_than_ten_faults_are_counted(site, sites):
    features = sites.lot_features() + [sites.feature("downspowt", (1, 1)) for _ in range(14)]
    lines = fault(site(features=features)).splitlines()
    assert len(lines) == 11
    assert (
        lines[0] == 'features.geojson, feature 10: is of kind "downspowt", which is not known. Did you mean downspout?'
    )
    assert lines[-1] == "and 4 more"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "features.geojson: is empty. Save it again with its content."),
        (
            "{",
            (
                "features.geojson: is no JSON: Expecting property name enclosed in double quotes: line 1 column "
                "2 (char 1). Save it again as GeoJSON."
            ),
        ),
        ("[1]", "features.geojson: is no GeoJSON: it holds no object. Save it again as a FeatureCollection."),
        (
            '{"type": "Topology"}',
            (
                'features.geojson: is no GeoJSON that can be used: it is of type "Topology". Save it again as a '
                "FeatureCollection."
            ),
        ),
        (
            '{"type": "FeatureCollection"}',
            (
                "features.geojson: is no GeoJSON that can be used: it has no list of features. Save it again as "
                "a FeatureCollection."
            ),
        ),
        (
            '{"type": "FeatureCollection", "features": []}',
            "features.geojson: holds no features. Draw them, or take the file off [features] files.",
        ),
        (
            '{"type": "FeatureCollection", "features": [5]}',
            'features.geojson, feature 1: is no GeoJSON feature. Give it "type": "Feature", properties and a geometry.',
        ),
        ("[" * 100_000, "features.geojson: is nested too deep to be read. Save it again as plain GeoJSON."),
        (
            (
                '{"type": "FeatureCollection", "crs": {"type": "link", "properties": {"href": '
                '"http://example.org"}}, "features": []}'
            ),
            (
                'features.geojson: has a crs member that names no CRS. Write "crs": {"type": "name", '
                '"properties": {"name": "urn:ogc:def:crs:EPSG::3794"}}, or take it out.'
            ),
        ),
        (
            '{"type": "FeatureCollection", "crs": {"type": "name", "properties": {"name": "EPSG:0"}}, "features": []}',
            (
                'features.geojson, crs: "EPSG:0" names no CRS known here. Write an EPSG code such as '
                '"EPSG:6539"; in site.toml also "local".'
            ),
        ),
    ],
)
def test_feature_files_that_are_none(site, text, said):
    folder = site()
    (folder / "features.geojson").write_text(text)
    assert fault(folder) == said


def test_a_crs_where_the_site_has_none(site):
    folder = site(member="urn:ogc:def:crs:EPSG::26918")
    assert fault(folder) == (
        'features.geojson: is in "NAD83 / UTM zone 18N" but site.toml says crs = "local". Give site.toml the '
        "CRS of the data, or save features.geojson in plain site coordinates without a CRS."
    )
    folder = site(grid_crs="EPSG:26918")
    assert fault(folder) == (
        'ground.tif: is in "NAD83 / UTM zone 18N" but site.toml says crs = "local". Give site.toml the CRS '
        "of the data, or save ground.tif in plain site coordinates without a CRS."
    )


@pytest.mark.parametrize(
    ("rows", "text"),
    [
        (
            "kind,name\nsump,A\n",
            (
                "points.csv, line 1: does not name one pair of coordinate columns (kind, name). Name them "
                "easting and northing, or lon and lat."
            ),
        ),
        (
            "name,x,y\nA,1,2\n",
            "points.csv, line 1: has no column kind (name, x, y). Name the columns: kind, name, easting, northing.",
        ),
        (
            "kind,name,x,y\nsump,A,1,two\n",
            'points.csv, line 2 ("A"): has y "two". Give a plain number, such as 1234.56.',
        ),
        ("kind,name,x,y\n\nsump,A,1,\n", 'points.csv, line 3 ("A"): has y "". Give a plain number, such as 1234.56.'),
        (
            "kind,name,x,y\nsump,A,1,2,3\n",
            'points.csv, line 2 ("A"): has 5 cells under 4 column names. Quote a cell that holds the separator.',
        ),
        (
            'kind,name,x,y\nsump,"A,1,2\n',
            "points.csv: is no CSV: unexpected end of data. Save it again as comma-separated text.",
        ),
        ("kind,name,x,y\nlot,A,1,2\n", 'points.csv, line 2 ("A"): is a lot drawn as a point. Draw it as a polygon.'),
        ("kind,name,x,y\n", "points.csv: holds no features. Draw them, or take the file off [features] files."),
        (
            "kind,name,lon,lat\nsump,A,1,2\n",
            (
                'points.csv: is in "WGS 84" but site.toml says crs = "local". Give site.toml the CRS of the '
                "data, or save points.csv in plain site coordinates without a CRS."
            ),
        ),
    ],
)
def test_points_in_csv(site, rows, text):
    folder = site(changes={"features.files": '["features.geojson", "points.csv"]'})
    (folder / "points.csv").write_text(rows)
    assert fault(folder) == text


@pytest.mark.parametrize(
    ("name", "raw", "text"),
    [
        (
            "a.gpkg",
            b"not a package",
            "a.gpkg: is no GeoPackage, whatever its name says. Save it again as a GeoPackage or as GeoJSON.",
        ),
        (
            "a.gpkg",
            b"SQLite format 3\x00" + b"\x00" * 200,
            "a.gpkg: cannot be read as a GeoPackage. Save it again as a GeoPackage or as GeoJSON.",
        ),
        (
            "a.gpkg",
            b"<OGRVRTDataSource/>",
            "a.gpkg: is no GeoPackage, whatever its name says. Save it again as a GeoPackage or as GeoJSON.",
        ),
        (
            "a.shp",
            b"shape",
            "a.shp: is no Shapefile, whatever its name says. Save it again as a Shapefile or as GeoJSON.",
        ),
        (
            "a.shp",
            b"\x00\x00\x27\x0a" + b"\x00" * 96,
            "a.shp: lies there without its .shx and .dbf. A Shapefile is several files; copy them all.",
        ),
        (
            "a.kml",
            b"<kml/>",
            (
                'a.kml: ".kml" is no kind of feature file read here. Use .geojson, .gpkg, .shp, .csv for points, '
                "or .deed for the calls of a deed."
            ),
        ),
    ],
)
def test_other_feature_files(site, capfd, name, raw, text):
    folder = site(changes={"features.files": f'["features.geojson", "{name}"]'})
    (folder / name).write_bytes(raw)
    assert fault(folder) == text
    assert capfd.readouterr() == ("", "")


# ---- the grid


def test_a_text_file_named_tif(site, capfd, caplog):
    folder = site()
    (folder / "ground.tif").write_text("these are not the elevations")
    assert fault(folder) == (
        "ground.tif: is no GeoTIFF that can be read, whatever its name says. Export the elevations again as a GeoTIFF."
    )
    assert capfd.readouterr() == ("", "")
    assert not caplog.records


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"II*\x00",
        b"II*\x00\x08\x00\x00\x00\xff\xff",
        b"<VRTDataset rasterXSize='2' rasterYSize='2'/>",
        b"P5\n2 2\n255\nabcd",
    ],
)
def test_other_files_named_tif(site, raw, capfd):
    folder = site()
    (folder / "ground.tif").write_bytes(raw)
    assert fault(folder) == (
        "ground.tif: is no GeoTIFF that can be read, whatever its name says. Export the elevations again as a GeoTIFF."
    )
    assert capfd.readouterr() == ("", "")


def test_a_cut_off_grid(site, capfd):
    folder = site()
    raw = (folder / "ground.tif").read_bytes()
    (folder / "ground.tif").write_bytes(raw[: len(raw) // 3])
    assert "ground.tif: is no GeoTIFF that can be read" in fault(folder)
    assert capfd.readouterr() == ("", "")


def test_a_huge_header_is_refused_before_anything_is_read(site, monkeypatch):
    folder = site()
    with rasterio.open(
        folder / "ground.tif",
        "w",
        driver="GTiff",
        width=40_000,
        height=40_000,
        count=1,
        dtype="float32",
        tiled=True,
        sparse_ok=True,
        transform=Affine(1, 0, 0, 0, -1, 40_000),
    ):
        pass
    assert (folder / "ground.tif").stat().st_size < 1_000_000
    monkeypatch.setattr(rasterio.io.DatasetReader, "read", lambda *_a, **_k: pytest.fail("read"), raising=False)
    assert (
        fault(folder)
        == "ground.tif: has 40000 x 40000 cells; at most 25 million can be used. Crop it to around the lot."
    )


@pytest.mark.parametrize(
    ("profile", "text"),
    [
        ({"count": 3}, "ground.tif: has 3 bands, expected one band of elevations. Export the elevation band alone."),
        ({"dtype": "complex64"}, "ground.tif: holds complex64 values. Export elevations as integers or floats."),
        ({"width": 1}, "ground.tif: has 1 x 8 cells. A grid needs at least 2 x 2."),
        (
            {"transform": None},
            (
                "ground.tif: is a picture without a place: it has no geotransform. Export it as a GeoTIFF with "
                "its position."
            ),
        ),
        (
            {"fill": -9999},
            (
                "ground.tif: knows no height at all: every cell is no-data. Export the elevations again, and "
                "check the no-data value."
            ),
        ),
        (
            {"fill": np.nan},
            (
                "ground.tif: knows no height at all: every cell is no-data. Export the elevations again, and "
                "check the no-data value."
            ),
        ),
        (
            {"fill": 1e30},
            (
                "ground.tif: knows no height at all: every cell is no-data. Export the elevations again, and "
                "check the no-data value."
            ),
        ),
    ],
)
@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
def test_grids_that_are_none(site, profile, text):
    folder = site()
    fill = profile.pop("fill", 30.0)
    base = {
        "driver": "GTiff",
        "width": 8,
        "height": 8,
        "count": 1,
        "dtype": "float32",
        "nodata": -9999,
        "transform": Affine(5, 0, 0, 0, -5, 40),
    }
    base = {key: value for key, value in {**base, **profile}.items() if value is not None}
    with rasterio.open(folder / "ground.tif", "w", **base) as out:
        out.write(np.full((base["count"], base["height"], base["width"]), fill, dtype=base["dtype"]))
    assert fault(folder) == text


def test_a_unit_of_height_that_the_file_denies(site):
    text = fault(site(elevation_unit="m", units="US survey foot"))
    assert text == (
        'ground.tif: its band is in "US survey foot", but site.toml says elevation_unit = "m". Set '
        'elevation_unit = "us-ft", or add confirm_units = true if the file is wrong.'
    )
    text = fault(
        site(
            crs="EPSG:2263",
            length_unit="us-ft",
            elevation_unit="m",
            grid_crs="EPSG:2263+6360",
            changes={"rainfall.intensity": "5"},
        )
    )
    assert text == (
        'ground.tif: its vertical CRS "NAVD88 height (ftUS)" is in US survey ft, but site.toml says '
        'elevation_unit = "m". Set elevation_unit = "us-ft", or add confirm_units = true if the file is '
        "wrong."
    )
    text = fault(site(crs="EPSG:26918", elevation_unit="ft", grid_crs="EPSG:26918+5703"))
    assert text.startswith(
        'ground.tif: its vertical CRS "NAVD88 height" is in m, but site.toml says elevation_unit = "ft".'
    )


# ---- places


def test_lot_outside_the_grid(site):
    text = fault(site(bounds=(200, 0, 260, 50)))
    assert text == (
        "ground.tif: the lot lies 160.00 m west of the grid. Check crs in site.toml and in both files, or "
        "use the grid of this place."
    )
    text = fault(site(length_unit="ft", elevation_unit="ft", bounds=(0, -500, 160, -100)))
    assert text == (
        "ground.tif: the lot lies 100.0 ft north of the grid. Check crs in site.toml and in both files, or "
        "use the grid of this place."
    )


def test_lot_outside_the_grid_says_what_would_help(site, sites):
    features = sites.moved(sites.lot_features(), lambda x, y: (y, x + 1000))
    text = fault(site(features=features, bounds=(990, -10, 1050, 45)))
    assert "; with its coordinates in the other order it would lie on it. Check crs" in text
    there, _ = sites.projection("EPSG:26918")
    feet = sites.moved(sites.lot_features(), lambda x, y: tuple(v / 0.3048 for v in there(x, y)))
    folder = site(crs="EPSG:26918", member=None)
    (folder / "features.geojson").write_text(sites.collection(feet))
    assert "; with its metres as feet it would lie on it" in fault(folder)
    text = fault(
        site(
            crs="EPSG:26918",
            features=None,
            feature_crs="EPSG:4326",
            member=None,
            bounds=(0, 0, 100, 100),
            heights=lambda x, _: 0 * x,
        )
    )
    assert "; features.geojson was read as longitude and latitude" in text


def test_lot_partly_outside_the_grid(site):
    assert fault(site(bounds=(10, -10, 60, 45))) == (
        "ground.tif: 25 % of the lot lies beyond the grid, up to 10.00 m. Use a grid that covers the lot and "
        "some ground around it."
    )


def test_a_grid_too_coarse_for_the_lot(site):
    assert fault(site(shape=(4, 4), bounds=(-40, -30, 80, 60))) == (
        "ground.tif: knows the ground of 4 cells on the lot (cells of 25.98 m). Use a finer grid, or one "
        "that knows the ground there."
    )


def test_a_source_off_the_lot_in_the_users_unit(site, sites):
    features = changed(sites, 5, geometry={"type": "Point", "coordinates": [20, 30 + 13.8 * 0.3048]})
    text = fault(site(length_unit="ft", elevation_unit="ft", features=features))
    assert text == (
        f"{PLACE}: lies 13.8 ft outside the lot; with x and y changed over it would lie on the lot's known "
        "ground. Move it, or correct the lot or crs in site.toml."
    )
    off = changed(sites, 5, geometry={"type": "Point", "coordinates": [20, 30.32]})
    assert (
        fault(site(features=off))
        == f"{PLACE}: lies 0.32 m outside the lot. Move it, or correct the lot or crs in site.toml."
    )
    near = changed(sites, 5, geometry={"type": "Point", "coordinates": [20, 30.29]})
    assert read_site(site(features=near)).sources[0].y == pytest.approx(30.29)


def test_no_ground_within_two_metres(site, sites):
    def hole(x, y):
        return np.where((x > 9) & (x < 23) & (y > 7) & (y < 21), -9999.0, sites.ground(x, y))

    text = fault(site(heights=hole, features=changed(sites, 5, geometry={"type": "Point", "coordinates": [16, 14]})))
    assert text == (
        f"{PLACE}: stands where the ground is not known, and the nearest known ground is 6.78 m away (at most "
        "2.00 m). Move it onto known ground, or use a grid that knows the ground there."
    )
    outlet = changed(sites, 8, geometry={"type": "Point", "coordinates": [60, 5]})
    text = fault(site(features=outlet))
    assert text == (
        'features.geojson, feature 8 ("CURB-1"): stands where the ground is not known, and the nearest known '
        "ground is 5.00 m away (at most 2.00 m). Move it onto known ground, or use a grid that knows the "
        "ground there."
    )
    far = changed(sites, 8, geometry={"type": "Point", "coordinates": [900, 5]})
    assert "and no ground is known around it (at most 2.00 m)" in fault(site(features=far))


def test_a_coordinate_without_a_place(site, sites):
    folder = site(crs="EPSG:3857")
    features = json.loads((folder / "features.geojson").read_text())["features"]
    features[4]["geometry"]["coordinates"] = [1e300, 1e300]
    (folder / "features.geojson").write_text(sites.collection(features, "EPSG:3857"))
    assert fault(folder).startswith(f"{PLACE}: ")
    folder = site(crs="EPSG:4326")
    turned = json.loads((folder / "features.geojson").read_text())["features"]
    turned[4]["geometry"]["coordinates"] = [-73.4, 95.0]
    (folder / "features.geojson").write_text(sites.collection(turned, "EPSG:4326"))
    assert fault(folder) == (
        f"{PLACE}: has a coordinate that has no place in the plan's frame. Check the coordinate, and crs in site.toml."
    )
    folder = site(crs="EPSG:3857")
    features[0]["geometry"]["coordinates"] = [[[1e300, 0], [1.1e300, 0], [1.1e300, 1e299], [1e300, 0]]]
    (folder / "features.geojson").write_text(sites.collection(features, "EPSG:3857"))
    assert 'feature 1 ("Lot")' in fault(folder) or "site.toml, crs" in fault(folder)


# ---- garbage

GARBAGE_TOML = [
    "x",
    "=",
    "[",
    "[]",
    "[[a]]",
    "a.b.c = 1",
    "\x00",
    "name = ",
    "'''",
    '"""',
    "crs = {}",
    "crs = []",
    "crs = 1979-05-27",
    "length_unit = ['m']",
    "ground = 3",
    "ground = []",
    "features = 'x'",
    "rainfall = 'wet'",
    "rules = []",
    "[ground]\ngrid = 1e999",
    "[ground]\naccuracy = inf",
    "[features]\nfiles = [[[]]]",
    "[features]\nfiles = [{}]",
    "[rainfall]\ntable = [[nan, nan]]",
    "[rainfall]\ntable = {}",
    "[rules]\nmin_grade_percent = []",
    "[rules]\nmin_grade_percent = 1" + "0" * 400,
    "[rules]\n'' = 1",
    "'' = 1",
    "a = 1" + "0" * 5000,
    "name = '\u202e'",
    "[a]\n[b]\n[c]",
    "crs = '+proj=pipeline'",
    "crs = '+init=epsg:4326'",
    "crs = 'GEOGCS[]'",
    "crs = '{}'",
    "\ufeff\ufeff",
    "crs = '" + "9" * 9000 + "'",
]

GARBAGE_JSON = [
    "null",
    "true",
    "1",
    '""',
    "{}",
    "[]",
    "NaN",
    "{]",
    '{"type": null}',
    '{"type": []}',
    '{"type": "FeatureCollection", "features": {}}',
    '{"type": "FeatureCollection", "features": [null, [], "a", {}]}',
    '{"type": "FeatureCollection", "features": [{"type": "Feature"}]}',
    '{"type": "Feature", "properties": [], "geometry": 5}',
    '{"type": "Feature", "properties": {"kind": {}}, "geometry": {"type": "Point"}}',
    '{"type": "Feature", "properties": {"kind": "lot"}, "geometry": {"type": "Polygon", "coordinates": [[]]}}',
    '{"type": "Feature", "properties": {"kind": "lot"}, "geometry": {"type": "Polygon", "coordinates": [[[0,0]]]}}',
    (
        '{"type": "Feature", "properties": {"kind": "lot"}, "geometry": {"type": "Polygon", "coordinates": '
        "[[[0,0],[0,0],[0,0],[0,0]]]}}"
    ),
    (
        '{"type": "Feature", "properties": {"kind": "lot"}, "geometry": {"type": "Polygon", "coordinates": '
        "[[[1e308,1e308],[-1e308,0],[0,1e308],[1e308,1e308]]]}}"
    ),
    '{"type": "Feature", "properties": {"kind": "lot"}, "geometry": {"type": "Polygon", "coordinates": "abc"}}',
    (
        '{"type": "Feature", "properties": {"kind": "lot"}, "geometry": {"type": "MultiPolygon", "coordinates": '
        "[[[[0,0],[1,1]]]]}}"
    ),
    '{"type": "Feature", "properties": {"kind": "curb"}, "geometry": {"type": "LineString", "coordinates": [[0,0]]}}',
    (
        '{"type": "Feature", "properties": {"kind": "curb"}, "geometry": {"type": "MultiLineString", '
        '"coordinates": [[[0,0]],[]]}}'
    ),
    (
        '{"type": "Feature", "properties": {"kind": "sump", "name": {"a": 1}, "pump_rate": [1]}, "geometry": '
        '{"type": "Point", "coordinates": [true, false]}}'
    ),
    '{"type": "Feature", "properties": {"kind": "sump", "pump_rate": 1'
    + "0" * 400
    + '}, "geometry": {"type": "Point", "coordinates": [1, 2]}}',
    '{"type": "Feature", "properties": {"kind": "sump"}, "geometry": {"type": "Point", "coordinates": [1'
    + "0" * 400
    + ", 2]}}",
    '{"type": "Feature", "properties": {"kind": "sump"}, "geometry": {"type": "Point", "coordinates": [1'
    + "0" * 5000
    + ", 2]}}",
    '{"type": "FeatureCollection", "crs": 5, "features": []}',
    '{"type": "FeatureCollection", "crs": {"type": "name", "properties": {"name": "\\ud800"}}, "features": []}',
    '{"type": "FeatureCollection", "crs": {"type": "name", "properties": {"name": ""}}, "features": []}',
    "\x00\x01\x02",
    '{"type": "Feature"',
    '{"type": "Feature", "properties": {"kind": "' + "lot" * 10_000 + '"}, "geometry": null}',
    "<html></html>",
    "kind,name\n",
    '{"a":' * 50_000,
]


@pytest.mark.parametrize("text", GARBAGE_TOML, ids=range(len(GARBAGE_TOML)))
def test_garbage_in_site_toml(site, text):
    folder = site()
    (folder / "site.toml").write_text(text, encoding="utf-8")
    lines = fault(folder).splitlines()
    assert 1 <= len(lines) <= 11
    (folder / "site.toml").write_text(text + "\n" + site().joinpath("site.toml").read_text(), encoding="utf-8")
    assert fault(folder)


@pytest.mark.parametrize("text", GARBAGE_JSON, ids=range(len(GARBAGE_JSON)))
def test_garbage_in_features(site, text):
    folder = site()
    (folder / "features.geojson").write_text(text, encoding="utf-8")
    lines = fault(folder).splitlines()
    assert 1 <= len(lines) <= 11
    assert all(len(line) < 700 for line in lines)


@pytest.mark.parametrize("seed", range(40))
def test_bytes_changed_at_random_never_break_the_reader(site, seed, capfd):
    """Flip bytes of each file in turn: it reads, or it says why, and nothing else."""
    rng = np.random.default_rng(seed)
    folder = site(crs="EPSG:26918")
    name = ("site.toml", "features.geojson", "ground.tif", "ground.tif")[seed % 4]
    raw = bytearray((folder / name).read_bytes())
    span = len(raw) if name != "ground.tif" else 600  # the header and tags are what a reader may trip over
    for at in rng.integers(0, span, size=int(rng.integers(1, 12))):
        raw[at] = int(rng.integers(0, 256))
    (folder / name).write_bytes(raw)
    try:
        assert read_site(folder).sources
    except (InputError, InputErrors) as error:
        said = str(error)
        if not said:
            pytest.fail("an error without text")
    assert capfd.readouterr().err == ""


def test_a_shapefile_header_alone(site, capfd):
    folder = site(changes={"features.files": '["features.geojson", "a.shp"]'})
    head = struct.pack(">7i", 9994, 0, 0, 0, 0, 0, 50) + struct.pack("<2i8d", 1000, 1, *[0.0] * 8)
    for ending in (".shp", ".shx"):
        (folder / f"a{ending}").write_bytes(head)
    (folder / "a.dbf").write_bytes(b"\x03" + b"\x00" * 40)
    text = fault(folder)
    assert text.startswith("a.shp: ")
    assert capfd.readouterr() == ("", "")
