"""Feet declared as metres, and metres as feet, are challenged with what shows it; honest sites are not."""

from __future__ import annotations

import numpy as np
import pytest

from siteplan.errors import InputError
from siteplan.survey.folder import read_site

FT = 0.3048


def scaled(sites, features, k):
    return sites.moved(features, lambda x, y: (x * k, y * k))


def town_lot(sites, *, roofs=(300, 300, 300, 300), house=True):
    """60 x 150 ft with a house of 30 x 40 ft, in feet."""
    shapes = [
        sites.feature("lot", [(0, 0), (60, 0), (60, 150), (0, 150)], "Lot"),
        sites.feature("driveway", [(2, 100), (12, 100), (12, 150), (2, 150)], "Drive"),
        sites.feature("walk", [(40, 120), (44, 120), (44, 150), (40, 150)], "Walk"),
        sites.feature("curb_outlet", (30, 151), "CURB"),
    ]
    corners = [(14, 79), (46, 79), (14, 121), (46, 121)]
    shapes += [
        sites.feature("downspout", at, f"DS-{n}", roof_area=roof)
        for n, (at, roof) in enumerate(zip(corners, roofs, strict=True), 1)
    ]
    return shapes + ([sites.feature("building", [(15, 80), (45, 80), (45, 120), (15, 120)], "House")] if house else [])


def challenged(folder) -> str:
    with pytest.raises(InputError) as caught:
        read_site(folder)
    return str(caught.value)


BOUNDS = {"bounds": (-20, -20, 80, 180)}


def test_feet_declared_as_metres_in_local_coordinates(site, sites):
    text = challenged(site(features=town_lot(sites), changes={"rainfall.intensity": "6.0"}, **BOUNDS))
    assert text == (
        'site.toml, length_unit = "m": does not fit a house lot (9,000 m2): the building is 30.0 m x 40.0 m '
        "(1,200 m2); the driveway is 10.0 m wide; the walk is 4.0 m wide; "
        "a downspout takes 300 m2 of roof on average; the rain is 6.0 mm/h. "
        "Set length_unit to ft if that is what was measured, or add confirm_units = true to site.toml if "
        "these are right."
    )


def test_the_same_lot_declared_in_feet_is_fine(site, sites):
    features = town_lot(sites)
    folder = site(
        length_unit="ft", elevation_unit="ft", features=scaled(sites, features, FT), bounds=(-20, -20, 80, 180)
    )
    assert read_site(folder).lot.area == pytest.approx(9000 * FT**2)


def test_feet_declared_as_metres_without_a_house_drawn(site, sites):
    text = challenged(site(features=town_lot(sites, house=False), changes={"rainfall.intensity": "6.0"}, **BOUNDS))
    assert (
        "the driveway is 10.0 m wide; the walk is 4.0 m wide; a downspout takes 300 m2 of roof on average; "
        "the rain is 6.0 mm/h"
    ) in text


def test_one_weak_sign_is_not_enough(site):
    own = {"rainfall.intensity": "6.0", "confirm": '["rainfall"]'}  # as in/h it would be usual: asked by itself
    assert read_site(site(changes=own)).rainfall == pytest.approx(0.006 / 3600)


def test_metres_declared_as_feet_in_local_coordinates(site, sites):
    features = scaled(sites, sites.lot_features("m"), FT)  # the metric numbers, to be read as feet
    text = challenged(
        site(
            length_unit="ft",
            elevation_unit="ft",
            features=features,
            changes={"rainfall.intensity": "100"},
            bounds=(-20, -20, 60, 60),
        )
    )
    assert text.startswith(
        'site.toml, length_unit = "ft": does not fit a house lot (1,200 sq ft): the building is 12.0 ft x '
        "12.0 ft (144 sq ft); the driveway is 3.0 ft wide; "
    )
    assert "a sump pumps 2.0 gpm; the rain is 100.0 in/h. Set length_unit to m if" in text


def test_roof_areas_against_the_buildings(site, sites):
    features = sites.lot_features()
    for f in features[4:6]:
        f["properties"]["roof_area"] = round(72 / FT**2)  # square feet
    text = challenged(site(crs="EPSG:26918", features=features))
    assert text.startswith(
        'site.toml, length_unit = "m": does not fit a house lot (1,200 m2): roof areas add up to 1,550 m2 '
        "over buildings of 144 m2, 10.8 times as much (10.8 sq ft make a m2); a downspout takes 775 m2 of "
        "roof on average. "
    )
    features = sites.lot_features()  # square metres in a site that declares feet
    text = challenged(site(crs="EPSG:26918", length_unit="ft", features=features, changes={"rainfall.intensity": "5"}))
    assert "roof areas add up to 144 sq ft over buildings of 1,549 sq ft, 0.093 of it (10.8 sq ft make a m2)" in text


def test_part_of_a_roof_on_one_downspout_is_no_sign(site, sites):
    features = sites.lot_features()
    features[4]["properties"]["roof_area"] = 12.0
    del features[5]
    assert read_site(site(features=features)).sources


def test_a_roof_larger_than_the_lot(site, sites):
    features = [f for f in sites.lot_features() if f["properties"]["kind"] != "building"]
    features[3]["properties"]["roof_area"] = 1300
    features[4]["properties"]["roof_area"] = None
    assert "roof areas add up to 1,300 m2, more than the lot" in challenged(site(features=features))


def test_a_tiny_lot(site, sites):
    features = scaled(sites, sites.lot_features(), 0.1)
    text = challenged(site(features=features, bounds=(-4, -4, 8, 8)))
    assert text.startswith('site.toml, length_unit = "m": does not fit a house lot (12 m2): the whole lot covers 12 m2')


@pytest.mark.parametrize(
    ("slope", "text"),
    [
        (0.7, "the lot would slope at 70 %, rising 27.7 m over 50.0 m"),
        (1.5, "the lot would rise 59.2 m over 50.0 m"),
    ],
)
def test_relief_that_no_lot_has(site, slope, text):
    said = challenged(site(heights=lambda x, y: 100 + slope * x + 0 * y))
    assert said == (
        f'site.toml, elevation_unit = "m": does not fit this lot: {text}. Set elevation_unit to "ft" or '
        "correct the data, or add confirm_units = true to site.toml if these are right."
    )


def test_a_steep_lot_in_feet_that_is_a_lot_in_metres(site):
    """A 25 % slope in feet, declared as metres, stands at 82 %."""
    said = challenged(site(heights=lambda x, y: (30 + 0.25 * x + 0 * y) / FT))
    assert "the lot would slope at 82 %" in said
    assert read_site(site(elevation_unit="ft", heights=lambda x, y: (30 + 0.25 * x + 0 * y) / FT)).sources


@pytest.mark.parametrize(
    ("invert", "text"),
    [
        (29.0 / FT, 'the invert of "CURB-1" is 95.1 m where the ground is at 29.2 m'),
        (29.2 * FT, 'the invert of "CURB-1" is 8.9 m where the ground is at 29.2 m'),
        (50.0, 'the invert of "CURB-1" is 50.0 m where the ground is at 29.2 m'),
    ],
)
def test_inverts_against_the_ground(site, sites, invert, text):
    features = sites.lot_features()
    features[7]["properties"]["invert"] = invert
    assert text in challenged(site(features=features))


def test_a_factor_of_feet_is_seen_near_sea_level_too(site, sites):
    features = sites.lot_features()
    features[7]["properties"]["invert"] = 4.0 / FT
    assert "where the ground is at 4.0 m" in challenged(site(features=features, heights=lambda x, _: 4.0 + 0 * x))
    features[7]["properties"]["invert"] = 3.0
    assert read_site(site(features=features, heights=lambda x, _: 4.0 + 0 * x)).sources


def test_both_units_are_challenged_together(site, sites):
    features = town_lot(sites)
    features[3]["properties"]["invert"] = 900.0
    with pytest.raises(Exception, match="elevation_unit") as caught:
        read_site(site(features=features, **BOUNDS))
    assert [line.split(" = ")[0] for line in str(caught.value).splitlines()] == [
        "site.toml, length_unit",
        "site.toml, elevation_unit",
    ]


def test_confirmed_units_pass_and_are_told(site, sites):
    read = read_site(site(features=town_lot(sites), changes={"confirm_units": "true"}, **BOUNDS))
    told = [a for a in read.assumptions if a.startswith("confirm_units")]
    assert told == [
        (
            'confirm_units in site.toml: length_unit = "m" was confirmed although it does not fit a house lot '
            "(9,000 m2): the building is 30.0 m x 40.0 m (1,200 m2); the driveway is 10.0 m wide; the walk is "
            "4.0 m wide; a downspout takes 300 m2 of roof on average"
        )
    ]
    calm = read_site(site(changes={"confirm_units": "true"}))
    assert (
        "confirm_units in site.toml: the units were confirmed by hand; nothing spoke against them" in calm.assumptions
    )
    over = read_site(site(units="US survey foot", changes={"confirm_units": "true"}))
    assert 'ground.tif: its band is in "US survey foot", but elevation_unit m of site.toml was used' in over.assumptions


def test_feet_coordinates_under_a_metric_crs(site, sites):
    """Numbers in feet, labelled with a CRS in metres, grid and features alike."""
    there, _ = sites.projection("EPSG:26918")
    x0, y0 = there(0, 0)
    folder = site(
        crs="EPSG:26918",
        length_unit="ft",
        grid_crs=None,
        member=None,
        bounds=(x0 - 20, y0 - 20, x0 + 80, y0 + 180),
        heights=lambda x, _: 30 + 0 * np.asarray(x),
    )
    features = sites.moved(town_lot(sites), lambda x, y: (x + x0, y + y0))
    (folder / "features.geojson").write_text(sites.collection(features))
    text = challenged(folder)
    assert text.startswith("site.toml, crs: does not fit a house lot (")
    assert "Set crs to that of the data if that is what was measured" in text
