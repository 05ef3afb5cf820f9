"""Folders that are too much, or that a driver would wait on for ever: one message, at once.

Also files that say what they are not.
"""

from __future__ import annotations

import json
import os
import time

import pytest

from siteplan.errors import InputError, InputErrors
from siteplan.survey.folder import read_site

SOON = 20.0  # seconds on a busy machine; each of these took more than forty, or for ever


def fault(folder) -> str:
    began = time.monotonic()
    with pytest.raises((InputError, InputErrors)) as caught:
        read_site(folder)
    assert time.monotonic() - began < SOON
    return str(caught.value)


@pytest.mark.parametrize("section", ["", "rules", "pipes", "costs", "trench", "rainfall", "costs.pipe"])
def test_very_many_keys(site, section):
    folder = site()
    keys = "".join(f"key_{number} = {number}\n" for number in range(50_000))
    text = (folder / "site.toml").read_text(encoding="utf-8").replace("[rainfall]\nintensity = 100.0\n", "")
    (folder / "site.toml").write_text(f"{text}\n[{section}]\n{keys}" if section else keys + text, encoding="utf-8")
    assert "entries. Keep to 2000 in one place." in fault(folder)


def test_very_many_attributes(site, sites):
    features = sites.lot_features()
    features[1]["properties"].update({f"roof_areb{number}": number for number in range(50_000)})
    assert "has 50002 attributes" in fault(site(features=features))


def test_very_many_pipes(site):
    folder = site()
    with (folder / "site.toml").open("a", encoding="utf-8") as stream:
        stream.writelines(f'\n[pipes.p{number}]\nkind = "pvc_sdr35"\n' for number in range(1500))
    assert "[pipes]: holds 1500 pipes" in fault(folder)


@pytest.mark.parametrize("name", ["min-covr{}", "x{}", "min-cover"])
def test_very_many_rules_in_a_profile(site, name):
    folder = site()
    rules = "".join(
        (
            f'[[rule]]\nid = "{name.format(number)}"\nvalue = 14\nunit = "in"\nsource = "s"\ndate = '
            '"2020"\nstatus = "local"\n'
        )
        for number in range(20_000)
    )
    (folder / "here.toml").write_text('[jurisdiction]\nname = "Here"\n' + rules, encoding="utf-8")
    text = (folder / "site.toml").read_text(encoding="utf-8")
    (folder / "site.toml").write_text('rule_profile = "here.toml"\n' + text, encoding="utf-8")
    assert "here.toml: holds 20000 rules" in fault(folder)


def shot(site, rows):
    folder = site(changes={"ground.grid": None, "ground.shots": '"shots.csv"', "ground.points_order": '"east-first"'})
    (folder / "shots.csv").write_text("".join(f"{n},{x},{y},{z},{code}\n" for n, (x, y, z, code) in enumerate(rows, 1)))
    began = time.monotonic()
    read = read_site(folder)
    assert time.monotonic() - began < SOON
    return read


def lattice():
    return [(x, y, f"{30 - 0.02 * x:.3f}", "GR") for x in range(-10, 60, 2) for y in range(-10, 45, 2)]


def test_many_thousand_shots_of_one_place(site):
    """Each with each made two hundred million pairs."""
    rows = [*lattice(), *[(20.5, 21.5, "29.590", "GR")] * 12_000]
    read = shot(site, rows)
    assert len(read.shots) == len(lattice()) + 1
    assert sum("stand at one place" in text for text in read.assumptions) == 1


def test_many_places_shot_twice_are_told_in_a_few_sentences(site):
    rows = lattice()
    told = [
        text
        for text in shot(site, [*rows, *rows]).assumptions
        if "stand at one place" in text or "several points stand" in text
    ]
    assert len(told) == 13
    assert f"at {len(rows) - 12} more places" in told[-1]


def test_a_curb_shot_by_the_thousand(site, sites):
    """Top and flow line, each with each, at each outlet: thirty seconds for three thousand."""
    features = sites.lot_features()
    hole = next(one for one in features if one["properties"]["kind"] == "curb_outlet")
    (x, y), rows = hole["geometry"]["coordinates"], lattice()
    rows = [row for row in rows if abs(row[0] - x) > 1]
    for k in range(5_000):
        rows += [
            (x, f"{y - 9 + k * 0.0036:.4f}", "29.200", "FL"),
            (f"{x + 0.3:.3f}", f"{y - 9 + k * 0.0036:.4f}", "29.350", "TC"),
        ]
    read = shot(site, rows)
    (face,) = {one.attributes.get("curb_height") for one in read.features if one.kind == "curb_outlet"}
    assert face == pytest.approx(0.15, abs=1e-6)


def test_very_many_shots(site):
    folder = site(changes={"ground.grid": None, "ground.shots": '"shots.csv"'})
    with (folder / "shots.csv").open("w", encoding="utf-8") as stream:
        stream.writelines(f"{number},{number % 97}.5,{number % 89}.25,30.1,GR\n" for number in range(200_000))
    assert "shots.csv: holds 200000 rows. Keep the shots of this lot" in fault(folder)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
@pytest.mark.parametrize(
    "name", ["ground.tif.aux.xml", "ground.tif.ovr", "ground.tif.msk", "ground.tfw", "features.geojson.x"]
)
def test_a_pipe_beside_a_file(site, name):
    folder = site()
    os.mkfifo(folder / name)
    assert f'has "{name}" beside it, which is no plain file' in fault(folder)


@pytest.mark.parametrize(
    "crs", ["EPSG:22300", "IAU_2015:30100", "IAU_2015:30110", "+proj=longlat +a=1737400 +b=1737400", "EPSG:4978"]
)
def test_a_system_that_is_there_and_cannot_be_used(site, crs):
    folder = site()
    text = (folder / "site.toml").read_text(encoding="utf-8")
    (folder / "site.toml").write_text(text.replace('"local"', json.dumps(crs)), encoding="utf-8")
    assert "crs" in fault(folder)


@pytest.mark.parametrize(
    "encoding", ["cp932", "bogus", "utf-7", "idna", "rot13", "hex", "utf-16", "utf-32", "punycode"]
)
def test_xml_that_lies_about_its_encoding(site, encoding):
    folder = site(changes={"ground.grid": None, "ground.shots": '"s.xml"'})
    (folder / "s.xml").write_text(
        f'<?xml version="1.0" encoding="{encoding}"?><LandXML version="1.2"/>', encoding="ascii"
    )
    assert "s.xml: " in fault(folder)


def test_a_landxml_point_twice(site):
    folder = site(changes={"ground.grid": None, "ground.shots": '"s.xml"'})
    (folder / "s.xml").write_text(
        '<LandXML version="1.2"><Units><Metric linearUnit="meter"/></Units><CgPoints><CgPoint name="7">1 2 3</CgPoint>'
        '<CgPoint name="7">1 2 4</CgPoint></CgPoints></LandXML>',
        encoding="utf-8",
    )
    assert 'point "7" stands there twice, with other figures' in fault(folder)


@pytest.mark.filterwarnings("ignore")
def test_a_geopackage_with_a_table_of_notes(site, sites):
    import geopandas
    import pandas as pd
    import pyogrio
    import shapely

    folder = site(changes={"features.files": '["f.gpkg"]'})
    features = sites.lot_features()
    shapes = [shapely.geometry.shape(feature["geometry"]) for feature in features]
    geopandas.GeoDataFrame([feature["properties"] for feature in features], geometry=shapes).to_file(
        folder / "f.gpkg", driver="GPKG"
    )
    pyogrio.write_dataframe(pd.DataFrame({"a": [1, 2]}), folder / "f.gpkg", layer="notes", append=False)
    assert len(read_site(folder).sources) == 3


@pytest.mark.parametrize("key", ["roof_area", "invert", "diameter_in", "refill_s", "depth"])
@pytest.mark.parametrize("value", ["1e300", "-1e300", '"1e300"', "9" * 49, f'"{"9" * 400}"', "[[]]", "true"])
def test_a_wild_attribute(site, sites, key, value):
    features = sites.lot_features()
    features[4]["properties"][key] = "@"
    folder = site(features=features)
    text = (folder / "features.geojson").read_text(encoding="utf-8")
    (folder / "features.geojson").write_text(text.replace('"@"', value), encoding="utf-8")
    assert key in fault(folder)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("min_cover_m", "1e8"),
        ("min_cover_in", "1e8"),
        ("min_grade_percent", "1e8"),
        ("max_depth_ft", "1e6"),
        ("bend_deg", "361"),
        ("min_cover_m", "9" * 400),
    ],
)
def test_a_limit_that_no_plan_holds_is_told_where_it_stands(site, key, value):
    folder = site(changes={f"rules.{key}": value})
    text = fault(folder)
    assert text.startswith(f"site.toml, [rules] {key}: is ")
    assert len(text) < 200
    assert "Give" in text or "give" in text
