"""Figures and places that can be read and are wrong: asked about, refused, or said where people read; never silent."""

from __future__ import annotations

import json

import numpy as np
import pytest

from siteplan.errors import SiteplanError
from siteplan.survey.folder import read_site


def refused(folder) -> str:
    with pytest.raises(SiteplanError) as caught:
        read_site(folder)
    return str(caught.value)


def said(folder) -> list[str]:
    return [text for text in read_site(folder).assumptions if text.startswith("look again")]


def with_one(sites, kind, at, name, **more):
    return [*sites.lot_features(), sites.feature(kind, at, name, **more)]


def changed(sites, name, unit="m", **more):
    features = sites.lot_features(unit)
    for feature in features:
        if feature["properties"].get("name") == name:
            feature["properties"].update(more)
    return features


def test_an_honest_lot_raises_no_question(site):
    assert said(site()) == []


# ---- places

GAS = [(41, 15), (22, 15)]  # from the street to the house


def turned(line):
    return [(y, x) for x, y in line]


def test_a_utility_with_x_and_y_changed_over_is_asked_about(site, sites):
    text = refused(site(features=with_one(sites, "utility", [(8, 38), (8, 34)], "Gas")))
    assert text.startswith('features.geojson, feature 10 ("Gas"): is a utility that lies 4.00 m off the lot')
    assert "with x and y changed over it would lie on it" in text
    assert text.endswith('Or, if it is meant, add "Gas, place" to confirm in site.toml.')


def test_a_confirmed_place_is_an_assumption(site, sites):
    folder = site(
        features=with_one(sites, "utility", [(8, 38), (8, 34)], "Gas"), changes={"confirm": '["gas, place", "nothing"]'}
    )
    texts = read_site(folder).assumptions
    assert any(
        text.startswith("confirm in site.toml: Gas, place was confirmed although it is a utility") for text in texts
    )
    assert 'confirm in site.toml names "nothing", which nothing asks about' in texts


def test_a_utility_in_the_street_is_said_and_not_asked(site, sites):
    texts = said(site(features=with_one(sites, "utility", [(44, -5), (44, 35)], "Main")))
    assert texts == [
        (
            'look again: utility: wholly off the lot, so no line of this plan was held to it: "Main" (4.00 m). '
            "Check their places if any of them should be on the lot."
        )
    ]


@pytest.mark.parametrize("kind", ["utility", "wall", "curb", "fence"])
def test_a_line_far_off_is_asked_about(site, sites, kind):
    text = refused(site(features=with_one(sites, kind, [(400, 300), (440, 300)], "Far")))
    assert f"is a {kind} that lies" in text


@pytest.mark.parametrize("kind", ["tree", "sprinkler"])
def test_a_point_far_off_is_asked_about(site, sites, kind):
    assert f"is a {kind.replace('_', ' ')} that lies" in refused(site(features=with_one(sites, kind, (400, 20), "Far")))


def test_a_whole_layer_elsewhere_is_asked_about(site, sites):
    folder = site(changes={"features.files": '["features.geojson", "gas.geojson"]'})
    pipes = [sites.feature("utility", [(x, 45), (x, 52)], f"Gas {x}") for x in (2, 7)]
    (folder / "gas.geojson").write_text(sites.collection(pipes), encoding="utf-8")
    text = refused(folder)
    assert "gas.geojson: holds 2 features, none of them on the lot; the nearest lies 15.00 m off" in text


def test_a_layer_in_another_projection_is_asked_about(site, sites):
    """Everything of one file turned over in a real projection lies hundreds of kilometres away."""
    folder = site(crs="EPSG:26918", changes={"features.files": '["features.geojson", "gas.geojson"]'})
    there, _ = sites.projection("EPSG:26918")
    pipes = sites.moved([sites.feature("utility", GAS, "Gas")], there)
    for pipe in pipes:
        pipe["geometry"]["coordinates"] = [[y, x] for x, y in pipe["geometry"]["coordinates"]]
    (folder / "gas.geojson").write_text(sites.collection(pipes, "EPSG:26918"), encoding="utf-8")
    assert "with x and y changed over it would lie on it" in refused(folder)


def test_a_neighbour_off_the_lot_is_normal(site, sites):
    assert said(site(features=with_one(sites, "neighbour", [(0, 31), (9, 31), (9, 40), (0, 40)], "N"))) == []


def test_a_curb_on_the_wrong_side(site, sites):
    features = sites.lot_features()
    features[3] = sites.feature("curb", [(-2, -5), (-2, 35)], "Curb")
    assert any("is a curb outlet 42.80 m from the nearest curb" in text for text in said(site(features=features)))


def test_a_curb_across_the_lot(site, sites):
    features = sites.lot_features()
    features[3] = sites.feature("curb", [(30, -5), (30, 35)], "Curb")
    assert any("is a curb that runs 24.00 m inside the lot" in text for text in said(site(features=features)))


def test_downspouts_drawn_twice(site, sites):
    text = refused(site(features=with_one(sites, "downspout", (22.3, 8.3), "DS-1b", roof_area=72)))
    assert 'stands where "DS-1" stands, so its water would count twice' in text


def test_a_building_drawn_twice_is_said(site, sites):
    assert any(
        'is drawn exactly as "House"' in text
        for text in said(site(features=with_one(sites, "building", sites.HOUSE, "H2")))
    )


def test_a_downspout_far_from_the_house(site, sites):
    assert any(
        "is a downspout 10.20 m from the nearest building" in text
        for text in said(site(features=with_one(sites, "downspout", (32.2, 15), "DS-9", roof_area=10)))
    )


def test_an_outlet_inside_the_house(site, sites):
    assert any(
        "is a daylight outlet 4.00 m inside a building" in text
        for text in said(site(features=with_one(sites, "daylight_outlet", (14, 14), "D-9")))
    )


def test_no_building_on_the_lot(site, sites):
    features = sites.lot_features()
    features[1] = sites.feature("building", [(60, 8), (72, 8), (72, 20), (60, 20)], "House")
    assert any("no building that is drawn stands on the lot" in text for text in said(site(features=features)))


def test_a_shape_of_no_size(site, sites):
    assert "only 0.0283 m across" in refused(site(features=with_one(sites, "utility", [(5, 5), (5.02, 5.02)], "Gas")))


def test_a_barred_area_over_the_whole_lot(site, sites):
    folder = site(features=with_one(sites, "wet_area", [(1, 1), (39, 1), (39, 29), (1, 29)], "Marsh"))
    assert any("covers 89 % of the lot" in text for text in said(folder))


# ---- figures


@pytest.mark.parametrize(
    ("name", "more", "text"),
    [
        ("DS-1", {"roof_area": 0}, "roof_area: is 0. Give a number above 0"),
        ("SUMP-1", {"pump_rate": 0}, "pump_rate: is 0. Give a number above 0"),
        ("DS-1", {"roof_area": 0.5}, "is 0.5 m2, which is little for a downspout"),
        ("SUMP-1", {"pump_rate": 40}, "is 40.00 L/s, which is much for a sump; as gpm it would be usual"),
        ("SUMP-1", {"pump_rate": 0.02}, "is 0.02 L/s, which is little"),
        ("SUMP-1", {"rim": 1022}, "rim: is 1022.000 m, 992.115 m above the ground there"),
        ("SUMP-1", {"pit_depth": 900}, "which is much for a sump; as mm it would be usual"),
        ("SUMP-1", {"pit_rise": 0.9, "pit_depth": 0.6}, "rises more than its pit is deep"),
        ("SUMP-1", {"refill_s": 200000}, "is 200000 s, which is much"),
        ("DS-1", {"diameter_in": 100}, "is 2540 mm, which is much for a downspout; as mm it would be usual"),
        ("DS-1", {"diameter_mm": 4}, "is 4 mm, which is little for a downspout; as in it would be usual"),
        ("DS-1", {"invert": 33}, "above the ground there"),
        ("DS-1", {"invert": 22.5}, "below the ground there"),
        ("DAY-1", {"invert": 31}, "above the ground there"),
        ("CURB-1", {"invert": 27.6}, "1.634 m below the ground there"),
        ("DAY-1", {"invert": 27.0}, "2.260 m below the ground there"),
        ("DS-1", {"invert": 26.4}, "3.237 m below the ground there"),
        ("DS-1", {"invert": 26.93}, "with two digits changed over it would be 29.630 m"),
        ("CURB-1", {"curb_height": 6}, "is 6.000 m, which is much for a curb outlet"),
        ("CURB-1", {"curb_height": 150}, "as mm it would be usual"),
        ("DAY-1", {"tail_water": 40}, "above the ground there"),
    ],
)
def test_a_figure_that_no_lot_shows(site, sites, name, more, text):
    assert text in refused(site(features=changed(sites, name, **more)))


@pytest.mark.parametrize(
    ("kind", "at", "more", "text"),
    [
        ("utility", GAS, {"depth": 18}, "is 18.000 m, which is much for a utility"),
        ("tie_in", (39, 3), {"invert": 25.8}, "with two digits changed over it would be 28.500 m"),
        ("utility", GAS, {"diameter_in": 100}, "as mm it would be usual"),
        ("sprinkler", (5, 5), {"radius": 90}, "is 90.000 m, which is much for a sprinkler"),
    ],
)
def test_a_figure_of_what_lies_on_the_lot(site, sites, kind, at, more, text):
    assert text in refused(site(features=with_one(sites, kind, at, "X", **more)))


@pytest.mark.parametrize(
    ("name", "more", "text"),
    [
        ("DS-1", {"roof_area": 450}, "roof_area: is 450.0 m2, which is much for a downspout"),
        ("DS-1", {"pump_rate": 2}, "pump_rate: is not read on a downspout"),
        ("SUMP-1", {"roof_area": 50}, "roof_area: is not read on a sump"),
        ("House", {"invert": 29.0}, "invert: is not read on a building"),
        ("DS-1", {"invert": 29.9}, "above the ground there"),
        ("CURB-1", {"invert": 28.0}, "1.234 m below the ground there"),
        ("DS-1", {"invert": 27.4}, "2.237 m below the ground there"),
        ("CURB-1", {"diameter_in": 14}, "is 355.6 mm, which is much for a curb outlet"),
        ("DS-1", {"roof_area": 260}, "roof areas: add up to 231 % of the buildings on the lot"),
        ("DS-1", {"roof_area": 20}, ""),
    ],
)
def test_a_figure_that_is_odd_is_said(site, sites, name, more, text):
    texts = said(site(features=changed(sites, name, **more)))
    assert any(text in one for one in texts) if text else texts == []


def test_a_curb_hole_typed_eighteen_feet_under_the_gutter_is_asked_about(site, sites):
    """79.24 ft for 97.24: read as given, it barred every line and a pump was offered."""
    folder = site(length_unit="ft", elevation_unit="ft", features=changed(sites, "CURB-1", "ft", invert=79.24))
    told = refused(folder)
    assert "CURB-1" in told
    assert "invert: is 79.24 ft, 16.67 ft below the ground there (95.91 ft)" in told


@pytest.mark.parametrize(
    ("rain", "asks"), [("1.4", True), ("14.0", False), ("700.0", True), ("320.0", False), ("0.000001", True)]
)
def test_rain_that_never_falls(site, rain, asks):
    folder = site(changes={"rainfall.intensity": rain})
    if asks:
        assert "to size for, which is" in refused(folder)
    else:
        assert any("to size for, which is" in text for text in said(folder))


def test_the_least_rain_is_asked_about_in_inches_too(site):
    folder = site(length_unit="ft", elevation_unit="ft", changes={"rainfall.intensity": "0.055"})
    assert "gives 0.055 in/h to size for, which is little for a short, hard rain" in refused(folder)


def test_rain_in_the_other_unit_is_asked_about(site):
    """5.5 in/h is a hard rain, 5.5 mm/h a drizzle: pipes would be sized for a twenty-fifth of the water."""
    told = refused(site(changes={"rainfall.intensity": "5.5"}))
    assert "gives 5.5 mm/h to size for, which is little for a short, hard rain; as in/h it would be usual" in told
    assert "gives 3,000 mm/h" in refused(site(changes={"rainfall.intensity": "3000"}))


def test_an_accuracy_better_than_any_survey(site):
    assert any("better than any survey" in text for text in said(site(changes={"ground.accuracy": "0.0001"})))


# ---- shots


def shot_rows(odd: float = 0.0) -> str:
    rows = ["point,northing,easting,elevation,description"]
    number = 0
    for north in range(-4, 37, 5):
        for east in range(-4, 47, 5):
            number += 1
            z = 30 - 0.02 * east + 0.01 * north + (odd if (north, east) == (11, 26) else 0.0)
            rows.append(f"{number},{north},{east},{z:.3f},GR")
    return "\n".join(rows) + "\n"


SHOTS = {"ground.grid": None, "ground.shots": '"shots.csv"'}


@pytest.mark.parametrize("odd", [3.05, -3.05])
def test_a_shot_ten_feet_off_its_neighbours_is_asked_about(site, odd):
    folder = site(changes=SHOTS)
    (folder / "shots.csv").write_text(shot_rows(odd), encoding="utf-8")
    text = refused(folder)
    assert text.startswith("shots.csv, point 40: at")
    assert f"lies {abs(odd):.2f}" in text


def test_a_shot_a_yard_off_is_said_and_a_wall_is_not(site):
    folder = site(changes=SHOTS)
    (folder / "shots.csv").write_text(shot_rows(0.9), encoding="utf-8")
    # 0.9 m over 5 m is a mound, not a slip: the ground may do that
    assert said(folder) == []
    rows = shot_rows() + "".join(f"90{k},{12.0 + k / 2:.2f},26.{k % 2}0,{31.2 + k / 100:.2f},TW\n" for k in range(8))
    (folder / "shots.csv").write_text(rows, encoding="utf-8")
    assert said(folder) == []


def test_a_cell_far_off_all_around_is_said(site):
    def heights(x, y):
        z = 30.0 - 0.02 * x + 0.01 * y
        z[60, 70] += 4.0
        return z

    assert any("has 1 cell on the lot more than" in text for text in said(site(heights=heights)))


def test_one_number_twice_with_two_heights(site):
    folder = site(changes=SHOTS)
    (folder / "shots.csv").write_text(shot_rows() + "7,1.5,2.5,31.0,GR\n", encoding="utf-8")
    assert "number 7 stands in row 8 too, with other figures" in refused(folder)
    (folder / "shots.csv").write_text(shot_rows() + "07,1.5,2.5,31.0,GR\n", encoding="utf-8")
    assert "number 07 stands in row 8 too" in refused(folder)


@pytest.mark.parametrize("take_out", ["features.files", "features"])
def test_a_section_that_is_missing(site, take_out):
    folder = site(changes={"features.files": None} if take_out == "features.files" else {})
    text = (folder / "site.toml").read_text(encoding="utf-8")
    (folder / "site.toml").write_text(
        text if take_out == "features.files" else text.split("[features]")[0], encoding="utf-8"
    )
    text = refused(folder)
    assert "site.toml, [features]" in text
    if take_out == "features":
        assert 'is missing. Add [features] with files = ["features.geojson"].' in text


def test_a_collection_without_its_list(site):
    folder = site()
    (folder / "features.geojson").write_text(json.dumps({"type": "FeatureCollection"}), encoding="utf-8")
    assert "has no list of features" in refused(folder)


def test_heights_follow_the_plane(site):
    """The questions change no figure."""
    read = read_site(site())
    assert np.isfinite(read.grid.z).all()
    assert read.sources[0].ground == pytest.approx(30.0 - 0.02 * 22.3 + 0.01 * 8.3, abs=0.002)
