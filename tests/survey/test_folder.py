"""The same lot, drawn in many systems, units and formats, comes back the same; what was assumed is said."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import sys
import tomllib
import warnings
from pathlib import Path

import geopandas
import numpy as np
import pytest
from pyproj import CRS

from siteplan.errors import InputError
from siteplan.site import Site, heights
from siteplan.survey.folder import read_site
from siteplan.values.asked_for import InputFile

SHARED = Path(__file__).parents[3] / "shared" / "data"
PLACES = [(22.3, 8.3), (9.7, 19.7), (16.0, 20.5)]

SYSTEMS = [
    {"crs": "local"},
    {"crs": "local", "length_unit": "ft", "elevation_unit": "ft"},
    {"crs": "local", "length_unit": "us-ft", "elevation_unit": "us-ft"},
    {"crs": "EPSG:6539", "length_unit": "ft", "elevation_unit": "ft"},
    {"crs": "EPSG:2263", "length_unit": "us-ft", "elevation_unit": "us-ft"},
    {"crs": "EPSG:4326", "elevation_unit": "ft"},
    {"crs": "EPSG:4269", "length_unit": "ft", "elevation_unit": "m"},
    {"crs": "EPSG:3857"},
    {"crs": "EPSG:26918"},
    {"crs": "EPSG:32618", "length_unit": "ft"},
]


def distances(site: Site) -> np.ndarray:
    xy = np.array(
        [(s.x, s.y) for s in site.sources]
        + [(f.geometry.x, f.geometry.y) for f in site.of_kind("curb_outlet", "daylight_outlet")]
    )
    return np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))


TRUE = np.array([*PLACES, (40.8, 5.0), (38.0, 2.0)])
TRUE_DISTANCES = np.hypot(*(TRUE[:, None] - TRUE[None]).transpose(2, 0, 1))


@pytest.mark.parametrize("system", SYSTEMS, ids=lambda s: "-".join(s.values()))
def test_the_same_lot_in_any_system_keeps_lengths_and_heights(site, sites, system):
    read = read_site(site(**system))
    own_scale = 0.002 if read.crs.startswith("EPSG") else 0.0  # a projected system in metres keeps its own scale
    assert np.abs(distances(read) - TRUE_DISTANCES).max() < 0.001 + own_scale * 40
    assert [s.ground for s in read.sources] == pytest.approx([float(sites.ground(*p)) for p in PLACES], abs=0.001)
    assert read.lot.area == pytest.approx(1200, abs=0.01 + own_scale * 2400)
    assert all(s.ground_known for s in read.sources)
    east = np.array([s.x for s in read.sources])
    assert east[0] > east[2] > east[1], "east stays east"


def test_feet_kinds_come_out_exactly(site):
    """2 parts in a million apart: 4 ft at a grid coordinate of 2,000,000 ft, so they are told apart by the CRS."""
    feet = read_site(site(crs="EPSG:2263", length_unit="us-ft", elevation_unit="us-ft"))
    x, y = (feet.sources[0].x, feet.sources[0].y)
    again = read_site(site(crs="EPSG:2263", length_unit="ft", elevation_unit="us-ft"))
    assert (again.sources[0].x, again.sources[0].y) == pytest.approx((x, y), abs=1e-9), (
        "length_unit does not move coordinates"
    )
    assert again.sources[0].roof_area == pytest.approx(72.0, rel=1e-9)
    assert any(
        "are in US survey ft, as that CRS says; length_unit ft in site.toml holds for attributes only" in a
        for a in again.assumptions
    )
    assert not any("attributes only" in a for a in feet.assumptions)


@pytest.mark.parametrize(
    ("system", "said"),
    [
        ({"crs": "local"}, "plan frame: local, site coordinates in metres, no place on the earth"),
        (
            {"crs": "local", "length_unit": "ft"},
            "plan frame: local, site coordinates in ft, times 0.3048 to metres, no place on the earth",
        ),
        (
            {"crs": "EPSG:26918"},
            (
                "plan frame: the site's own crs, NAD83 / UTM zone 18N; it is in metres and its lengths are true "
                "to 0.018 % at the lot"
            ),
        ),
        (
            {"crs": "EPSG:4326"},
            (
                "plan frame: a transverse Mercator of scale 1 about the lot, in metres, on the datum of WGS 84, "
                "because the site's crs is in degrees"
            ),
        ),
        ({"crs": "EPSG:2263", "length_unit": "us-ft"}, "because the site's crs is in US survey ft"),
        ({"crs": "EPSG:3857"}, "because lengths in the site's crs are 32.4 % off at the lot"),
    ],
)
def test_the_frame_is_said_first(site, system, said):
    assert said in read_site(site(**system)).assumptions[0]


def test_crs_text_reads_back(site):
    assert read_site(site()).crs == "local"
    assert read_site(site(crs="EPSG:26918")).crs == "EPSG:26918"
    wkt = CRS.from_user_input(read_site(site(crs="EPSG:6539", length_unit="ft")).crs)
    assert wkt.is_projected
    assert wkt.axis_info[0].unit_name == "metre"
    assert wkt.geodetic_crs.name == "NAD83(2011)"


def test_a_small_edit_of_the_lot_keeps_the_frame(site, sites):
    before = read_site(site(crs="EPSG:4326"))
    features = sites.lot_features()
    features[0]["geometry"]["coordinates"][0][1][0] = 39.0
    after = read_site(site(crs="EPSG:4326", features=features))
    assert before.crs == after.crs
    assert before.sources == after.sources


def test_geojson_without_crs_and_lon_lat_values_is_wgs84(site, sites):
    folder = site(crs="EPSG:32618", feature_crs="EPSG:4326", member=None)
    read = read_site(folder)
    assert [s.ground for s in read.sources] == pytest.approx([float(sites.ground(*p)) for p in PLACES], abs=0.001)


def test_geojson_with_a_crs_member_has_that_crs(site, sites):
    read = read_site(
        site(crs="EPSG:2263", length_unit="us-ft", feature_crs="EPSG:26918", member="urn:ogc:def:crs:EPSG::26918")
    )
    assert [s.ground for s in read.sources] == pytest.approx([float(sites.ground(*p)) for p in PLACES], abs=0.001)
    assert not any("datum" in a for a in read.assumptions[1:]), "both stand on NAD83"


def test_geojson_without_crs_and_other_values_is_in_the_sites_crs(site):
    read = read_site(site(crs="EPSG:26918", member=None))
    note = (
        "features.geojson names no CRS and its values cannot be longitudes and latitudes: they are taken to be "
        "in the site's crs"
    )
    assert note in read.assumptions


def test_a_file_on_another_datum_is_told_with_the_way_between(site):
    read = read_site(site(crs="EPSG:2263", length_unit="us-ft", feature_crs="EPSG:4326", member=None))
    notes = [
        a
        for a in read.assumptions
        if a.startswith(
            "features.geojson stands on datum World Geodetic System 1984 and was brought to North American Datum 1983"
        )
    ]
    assert len(notes) == 1
    assert notes[0].endswith(" m; against the grid its features may be off by that much")
    assert "unknown" not in notes[0]


def test_grid_without_crs_is_in_the_sites_crs(site):
    read = read_site(site(crs="EPSG:26918", grid_crs=None))
    assert "ground.tif names no CRS: it is taken to be in the site's crs, NAD83 / UTM zone 18N" in read.assumptions
    assert read.grid.cell == pytest.approx(0.49, abs=0.01)


def test_grid_in_another_crs_than_the_site(site, sites):
    there, back = sites.projection("EPSG:26918")
    x, y = there(np.array([-15.0, 60.0]), np.array([-15.0, 50.0]))
    read = read_site(
        site(crs="EPSG:2263", length_unit="us-ft", grid_crs="EPSG:26918", back=back, bounds=(x[0], y[0], x[1], y[1]))
    )
    assert [s.ground for s in read.sources] == pytest.approx([float(sites.ground(*p)) for p in PLACES], abs=0.002)


def test_index_and_plan_are_inverse(site):
    for system in (
        {"crs": "local", "length_unit": "ft"},
        {"crs": "EPSG:4326"},
        {"crs": "EPSG:2263", "length_unit": "us-ft"},
    ):
        grid = read_site(site(**system)).grid
        row, col = np.array([0.0, 17.25, 100.5]), np.array([0.0, 90.75, 3.5])
        back = grid.to_index(*grid.to_plan(row, col))
        assert np.abs(np.array(back) - np.array([row, col])).max() < 1e-6


def test_gpkg_shapefile_and_csv_read_the_same(site):
    folder = site(crs="EPSG:26918", features=None)
    whole = read_site(folder)
    frame = geopandas.read_file(folder / "features.geojson")
    points = frame[frame.geometry.geom_type == "Point"]
    frame[frame.geometry.geom_type != "Point"].to_file(folder / "areas.gpkg", layer="areas", driver="GPKG")
    points.to_file(folder / "points.shp")
    (folder / "site.toml").write_text(
        (folder / "site.toml").read_text().replace('["features.geojson"]', '["areas.gpkg", "points.shp"]')
    )
    read = read_site(folder)
    assert [(s.id, s.name, s.roof_area, s.pump_rate) for s in read.sources] == [
        (s.id, s.name, s.roof_area, s.pump_rate) for s in whole.sources
    ]
    assert np.allclose([(s.x, s.y) for s in read.sources], [(s.x, s.y) for s in whole.sources], rtol=0, atol=1e-6)
    assert [i.file for i in read.inputs] == [
        "site.toml",
        "ground.tif",
        "areas.gpkg",
        "points.shp",
        "points.shx",
        "points.dbf",
        "points.prj",
        "points.cpg",
    ]
    rows = ["kind,name,easting,northing,roof_area,pump_rate"]
    rows += [
        f"{p.kind},{p['name']},{p.geometry.x!r},{p.geometry.y!r},{'' if np.isnan(p.roof_area) else p.roof_area},{'' if np.isnan(p.pump_rate) else p.pump_rate}"
        for _, p in points.iterrows()
    ]
    (folder / "points.csv").write_text("\ufeff" + "\r\n".join(rows) + "\r\n", encoding="utf-8")
    (folder / "site.toml").write_text((folder / "site.toml").read_text().replace("points.shp", "points.csv"))
    again = read_site(folder)
    assert again.sources == whole.sources


def test_layers_of_a_geopackage_are_all_read(site):
    folder = site(crs="EPSG:26918")
    frame = geopandas.read_file(folder / "features.geojson")
    for kind in ("Polygon", "LineString", "Point"):
        frame[frame.geometry.geom_type == kind].to_file(folder / "all.gpkg", layer=kind.lower(), driver="GPKG")
    (folder / "site.toml").write_text((folder / "site.toml").read_text().replace("features.geojson", "all.gpkg"))
    assert len(read_site(folder).features) == 9


def test_attributes_arrive_in_si(site, sites):
    features = [
        *sites.lot_features("ft"),
        sites.feature("tree", (5, 5), "Oak", diameter_in=12),
        sites.feature(
            "utility", [(0, 15), (9, 15)], "Gas", depth=2.5, diameter_mm="50", note="not located\x07\u202e  yet"
        ),
        sites.feature("inlet", (30, 20), "IN", invert=96.5, roof_area=None),
    ]
    read = read_site(
        site(length_unit="ft", elevation_unit="us-ft", features=features, changes={"ground.accuracy": None})
    )
    by_name = {f.name: f for f in read.features}
    assert dict(by_name["Oak"].attributes) == pytest.approx({"diameter": 0.3048})
    assert by_name["Gas"].attributes["depth"] == pytest.approx(0.762)
    assert by_name["Gas"].attributes["diameter"] == pytest.approx(0.05)
    assert by_name["Gas"].attributes["note"] == "not located yet"
    assert read.sources[-1].invert_limit == pytest.approx(96.5 * 1200 / 3937)
    assert dict(by_name["Driveway"].attributes) == {"vehicle": "car"}
    assert read.accuracy == pytest.approx(0.03048)
    assert (
        "accuracy of the ground is not given: one standard deviation of 0.10 ft (0.030 m) is assumed"
        in read.assumptions
    )
    with pytest.raises(TypeError):
        by_name["Oak"].attributes["kind"] = "x"


def test_parts_are_split_and_numbered_and_the_nameless_named(site, sites):
    features = sites.lot_features()
    walk = sites.feature("walk", [(0, 0), (1, 0), (1, 9), (0, 9)], "Walk")
    second = [[[x + 5, y] for x, y in walk["geometry"]["coordinates"][0]]]
    walk["geometry"] = {"type": "MultiPolygon", "coordinates": [walk["geometry"]["coordinates"], second]}
    del features[4]["properties"]["name"]
    features[7]["properties"]["name"] = "  "
    features.append(walk)
    features.append(sites.feature("downspout", (30, 20), "downspout 1"))
    read = read_site(site(features=features))
    assert [f.name for f in read.of_kind("walk")] == ["Walk 1", "Walk 2"]
    assert read.sources[0].name == "downspout 2", "the made name keeps clear of a given one"
    assert 'features.geojson, feature 5 has no name; it is called "downspout 2" here' in read.assumptions
    assert read.of_kind("curb_outlet")[0].name == "curb outlet 1"


def test_a_misspelt_attribute_is_told(site, sites):
    features = sites.lot_features()
    features[4]["properties"]["roof_aera"] = 3
    features[5]["properties"]["roof_aera"] = 3
    notes = [a for a in read_site(site(features=features)).assumptions if "roof_aera" in a]
    assert notes == ['features.geojson: attribute "roof_aera" is not read; roof_area would be']


def test_ground_unknown_under_the_building_takes_the_nearest_known(site, sites):
    def hole(x, y):
        inside = (x > 9) & (x < 23) & (y > 7) & (y < 21)
        return np.where(inside, -9999.0, sites.ground(x, y))

    read = read_site(site(heights=hole))
    assert [s.ground_known for s in read.sources] == [False, False, False]
    assert [s.ground for s in read.sources] == pytest.approx([float(sites.ground(*p)) for p in PLACES], abs=0.03)
    assert (
        '"DS-1" (downspout) stands where the ground is not known; the nearest known height, 29.617 m, 0.70 m '
        "away, is taken"
    ) in read.assumptions


def test_digests_are_of_the_bytes_and_nothing_is_written(site):
    folder = site()
    before = sorted(folder.iterdir())
    read = read_site(folder)
    assert sorted(folder.iterdir()) == before
    want = [
        InputFile(file=n, sha256=hashlib.sha256((folder / n).read_bytes()).hexdigest())
        for n in ("site.toml", "ground.tif", "features.geojson")
    ]
    assert list(read.inputs) == want


def test_same_folder_elsewhere_reads_the_same(sites, tmp_path):
    a = read_site(sites.build(tmp_path / "a", crs="EPSG:2263", length_unit="ft"))
    b = read_site(sites.build(tmp_path / "deep" / "er" / "b", crs="EPSG:2263", length_unit="ft"))
    assert (a.sources, a.inputs, a.assumptions, a.crs, a.name) == (b.sources, b.inputs, b.assumptions, b.crs, b.name)


def test_relative_folder(site, monkeypatch):
    folder = site()
    monkeypatch.chdir(folder.parent)
    assert read_site(Path("site")).sources == read_site(folder).sources


def test_later_keys_are_accepted_and_told(site):
    folder = site(
        changes={
            "rainfall.intensity": None,
            "rainfall.table": "[[5, 120], [10, 90.5]]",
            "note": '"wet in  spring"',
        }
    )
    read = read_site(folder)
    assert read.rainfall == pytest.approx(0.120 / 3600)  # the 5 minute row, how soon a roof answers
    assert read.rain.table == ((300.0, pytest.approx(0.120 / 3600)), (600.0, pytest.approx(0.0905 / 3600)))
    assert read.note == "wet in spring"


def test_a_sliver_of_the_lot_beyond_the_grid_is_told(site):
    read = read_site(site(bounds=(0.2, -10, 50, 45)))
    assert "0.50 % of the lot lies beyond ground.tif; its ground is not known there" in read.assumptions


def test_rules_of_the_site_are_in_force(site):
    read = read_site(site(changes={"rules.min_grade_percent": "2.0"}))
    assert read.rules["min-grade"].limit == pytest.approx(0.02)


def test_names_are_data(site, sites):
    features = sites.lot_features()
    features[4]["properties"]["name"] = "=HYPERLINK(1)\u0000\ud800<script>" + "x" * 500
    folder = site(features=features)
    name = read_site(folder).sources[0].name
    assert name.startswith("=HYPERLINK(1)<script>xxx")
    assert len(name) == 80
    name.encode("utf-8")


@pytest.mark.parametrize("name", ["mill-road", "brick-row"])
def test_real_ground_is_read_unchallenged(name):
    folder = SHARED / name
    if not folder.is_dir():
        pytest.skip("shared data is absent")
    read = read_site(folder)
    # ground at the sources as that folder's README tells it, two digits after the point
    told = {"mill-road": [260.22, 260.48, 260.24, 260.25, 260.20], "brick-row": [12.03, 12.09, 12.41, 12.61, 12.61]}[
        name
    ]
    area = {"mill-road": 1636.8, "brick-row": 1025.0}[name]
    assert [round(s.ground, 2) for s in read.sources] == told
    assert read.lot.area == pytest.approx(area, abs=0.05)
    assert len(read.assumptions) == 1
    assert [s.id for s in read.sources] == ["S1", "S2", "S3", "S4", "S5"]
    crs = json.loads((folder / "lot.geojson").read_text())["crs"]["properties"]["name"]
    assert read.crs == f"EPSG:{crs.rsplit(':', 1)[1]}"


def test_heights_on_the_plan(site):
    grid = read_site(site(crs="EPSG:4326")).grid
    x, y = grid.to_plan(np.array([30.5]), np.array([40.25]))
    assert np.isfinite(heights(grid, x, y)).all()
    assert np.isnan(heights(grid, x + 500, y)).all()


def test_an_unreadable_place_is_one_fault_each(site, sites):
    features = sites.lot_features()
    features[4]["geometry"]["coordinates"] = [60, 8]
    features[5]["geometry"]["coordinates"] = [9.7, 40.0]
    with pytest.raises(Exception, match="outside the lot") as caught:
        read_site(site(features=features))
    assert str(caught.value).splitlines() == [
        (
            'features.geojson, feature 5 ("DS-1"): lies 20.00 m outside the lot. Move it, or correct the lot or '
            "crs in site.toml."
        ),
        (
            'features.geojson, feature 6 ("DS-2"): lies 10.00 m outside the lot. Move it, or correct the lot or '
            "crs in site.toml."
        ),
    ]
    assert not isinstance(caught.value, InputError)


INDEPENDENT = SHARED.parent / "check" / "verify_plan.py"


@pytest.mark.skipif(not INDEPENDENT.is_file(), reason="the independent verifier is absent")
@pytest.mark.parametrize(
    "system",
    [
        *SYSTEMS,
        {"crs": "EPSG:2263", "length_unit": "us-ft", "feature_crs": "EPSG:4326", "member": None},
        {
            "crs": "EPSG:6539",
            "length_unit": "ft",
            "feature_crs": "EPSG:4326",
            "member": "urn:ogc:def:crs:OGC:1.3:CRS84",
        },
        {"crs": "EPSG:26918", "grid_crs": None, "member": None},
    ],
    ids=lambda s: "-".join(map(str, s.values())),
)
def test_an_independent_reader_finds_the_same_ground_and_features(site, system, monkeypatch):
    """Another program's reading of the same folder in our frame; also between datums, where PROJ knows many ways."""
    monkeypatch.setattr(sys, "dont_write_bytecode", True)  # nothing is left beside it
    spec = importlib.util.spec_from_file_location("verify_plan", INDEPENDENT)
    assert spec is not None
    assert spec.loader is not None
    other = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(other)
    folder = site(**system)
    read = read_site(folder)
    told = tomllib.loads((folder / "site.toml").read_text())
    west, south, east, north = read.lot.bounds
    x, y = np.random.default_rng(0).uniform((west, south), (east, north), (200, 2)).T
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        ground = other.Ground(folder / "ground.tif", told, read.crs)(x, y)
        features = [geometry for _, geometry in other.read_features(folder, told, read.crs)]
    assert np.abs(ground - heights(read.grid, x, y)).max() < 1e-6
    assert max(a.geometry.hausdorff_distance(b) for a, b in zip(read.features, features, strict=True)) < 1e-6
