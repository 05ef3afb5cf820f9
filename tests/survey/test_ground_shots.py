"""Ground from shots, from shots and level notes, from LandXML, and from a grid corrected by shots, in site folders."""

from __future__ import annotations

import numpy as np
import pytest

from siteplan.errors import InputError
from siteplan.site import heights
from siteplan.survey.folder import read_site
from siteplan.survey.landxml import read_landxml
from siteplan.survey.pointlists import ListedPoint
from siteplan.survey.shot_codes import break_code, coded_lines, stands_off_ground
from siteplan.survey.surface_doubt import ground_covariance, ground_doubt

FT = 0.3048
EAST, NORTH = 2000.0, 5000.0  # where the builder's lot is put, so that the two orders look different
ONLY_SHOTS = {"ground.grid": None, "ground.shots": '"shots.csv"'}


def plane(x, y):
    """Height at a place told from the lot's corner."""
    return 30.0 - 0.02 * x + 0.01 * y


@pytest.fixture
def lot(site, sites):
    """The builder's lot in local metres, away from the origin."""

    def made(*, features=None, **more):
        drawn = sites.moved(sites.lot_features() if features is None else features, lambda x, y: (x + EAST, y + NORTH))
        bounds = (EAST - 15.0, NORTH - 12.0, EAST + 55.0, NORTH + 45.0)
        return site(features=drawn, bounds=bounds, heights=lambda x, y: plane(x - EAST, y - NORTH), **more)

    return made


def ground(read, x, y):
    """Heights at places told from the lot's corner."""
    return heights(read.grid, np.atleast_1d(x) + EAST, np.atleast_1d(y) + NORTH)


def shot_list(*, order="north-first", unit=1.0, height_unit=1.0, lift=0.0, wave=0.0):
    """Shots every 5 m over the builder's lot and 5 m round it."""
    rows = []
    for x in range(-5, 50, 5):
        for y in range(-10, 40, 5):
            z = (plane(x, y) + lift + wave * np.sin(x)) / height_unit
            north, east = (y + NORTH) / unit, (x + EAST) / unit
            a, b = (north, east) if order == "north-first" else (east, north)
            rows.append(f"{len(rows) + 1},{a:.4f},{b:.4f},{z:.4f},GR")
    return "\n".join(rows) + "\n"


def told(site, text):
    return any(text in one for one in site.assumptions)


def refused(folder):
    with pytest.raises(InputError) as caught:
        read_site(folder)
    return str(caught.value)


def shots_site(lot, text, **changes):
    folder = lot(changes={**ONLY_SHOTS, **{key.replace("__", "."): value for key, value in changes.items()}})
    (folder / "shots.csv").write_text(text)
    return folder


def test_ground_from_shots_alone(lot):
    read = read_site(shots_site(lot, shot_list()))
    x, y = np.array([3.3, 20.2, 39.9]), np.array([1.1, 28.0, 14.4])
    assert ground(read, x, y) == pytest.approx(plane(x, y), abs=1e-9)
    assert len(read.shots) == 110
    assert {shot.accuracy for shot in read.shots} == {0.03}
    assert [entry.file for entry in read.inputs] == ["site.toml", "shots.csv", "features.geojson"]
    assert told(read, "shots.csv: order north-first (point, northing, easting): as north-first")
    assert told(read, "ground: 180 triangles through 110 shots and 0 breakline edges, carried on nodes 0.100 m apart")
    assert np.isnan(ground(read, np.array([60.0]), np.array([10.0])))[0]


def test_the_other_order_is_found_by_where_the_lot_lies(lot):
    read = read_site(shots_site(lot, shot_list(order="east-first")))
    assert ground(read, np.array([20.0]), np.array([10.0])) == pytest.approx([plane(20, 10)])
    assert told(read, "order east-first")


def test_a_mirrored_reading_is_caught_although_all_lengths_agree(lot):
    said = refused(shots_site(lot, shot_list(), ground__points_order='"east-first"'))
    assert said.startswith(
        "shots.csv: read as east-first (point, easting, northing) the plan is mirrored, though every length "
        "and slope agrees: as north-first"
    )
    assert said.endswith('Say points_order = "north-first" under [ground], or correct the labels.')


def test_feet_in_a_metre_site_stop_with_the_question(lot):
    said = refused(shots_site(lot, shot_list(unit=FT, height_unit=FT)))
    assert said.startswith(
        "shots.csv: is it in feet? lengths declared as m; elevations declared as m; in ft 100% of the points "
        "lie on the other features, in m 0%"
    )
    assert "points_unit" in said
    read = read_site(shots_site(lot, shot_list(unit=FT, height_unit=FT), ground__points_unit='"ft"'))
    assert ground(read, np.array([20.0]), np.array([10.0])) == pytest.approx([plane(20, 10)], abs=1e-4)


def test_shots_in_a_projected_crs(site):
    folder = site(crs="EPSG:26918", changes=ONLY_SHOTS)
    from pyproj import Transformer

    whole = read_site(site(crs="EPSG:26918"))
    to_file = Transformer.from_crs(whole.crs, "EPSG:26918", always_xy=True)
    west, south, east, north = whole.lot.bounds
    rows = []
    for x in np.linspace(west - 5, east + 5, 9):
        for y in np.linspace(south - 5, north + 5, 8):
            a, b = to_file.transform(x, y)
            rows.append(f"{len(rows) + 1},{b:.4f},{a:.4f},{30 + 0.01 * (x - west):.4f},GR")
    (folder / "shots.csv").write_text("\n".join(rows))
    read = read_site(site(crs="EPSG:26918", changes=ONLY_SHOTS))
    middle = np.array([(west + east) / 2]), np.array([(south + north) / 2])
    assert heights(read.grid, *middle) == pytest.approx(30 + 0.01 * (middle[0] - west), abs=2e-4)


def test_what_stands_off_the_ground_is_left_out_and_told(lot):
    text = shot_list() + "501,5010.4,2020.6,33.0,BM NAIL FRONT STEP\n502,5011,2020,,EG\n"
    read = read_site(shots_site(lot, text))
    assert told(
        read,
        (
            "shots.csv: points 501 are left out of the ground: their descriptions name no ground (not_ground "
            "under [ground] decides otherwise)"
        ),
    )
    assert told(read, "shots.csv: 1 points without an elevation are left out of the ground")
    assert "point 501: at 33.000 m lies" in refused(shots_site(lot, text, ground__not_ground='["7"]'))
    read = read_site(shots_site(lot, text, ground__not_ground='["7"]', confirm='["shot 501"]'))
    assert ground(read, 20.6, 10.4)[0] == pytest.approx(33.0, abs=0.5)  # a person said that it counts
    assert refused(shots_site(lot, text, ground__not_ground='["9999"]')).startswith(
        "site.toml, [ground] not_ground: names 9999, which shots.csv does not hold"
    )


def test_two_heights_at_one_place(lot):
    said = refused(shots_site(lot, shot_list() + "501,5010,2020,33.0,GR\n"))
    assert said == (
        "shots.csv: points 55 and 501 stand at one place, 3.300 m apart in height. Take the wrong one out, "
        "or move the top and bottom of a face a little apart."
    )
    assert told(
        read_site(shots_site(lot, shot_list() + "501,5010,2020,29.71,GR\n")),
        "points 55, 501 stand at one place; their mean height is taken",
    )


def test_breaklines_by_description_are_kept(lot):
    bank = "".join(
        f"{600 + k},{y + NORTH},{x + EAST},{z},{code}{number}\n"
        for k, (y, x, z, code, number) in enumerate(
            (y, x, plane(x, y) - down, code, number)
            for y in (-8.0, 8.1, 24.2, 33.3)
            for x, down, code, number in ((32.2, 0, "TOB", 1), (33.1, 1.0, "FL", 1), (34.0, 0, "TOB", 2))
        )
    )
    read = read_site(shots_site(lot, shot_list() + bank))
    y = np.linspace(-7, 33, 200)
    x = np.full_like(y, 33.1)
    assert ground(read, x, y).max() < 30.0 - 0.02 * 33.1 + 0.01 * 33.3 - 0.8  # no dam across the ditch
    assert told(read, "shots.csv: 9 breakline edges by description, 0 along drawn curbs and walls")


def test_shots_along_a_drawn_wall_are_joined(lot, sites):
    features = [*sites.lot_features(), sites.feature("wall", [(5.0, 2.0), (5.0, 28.0)], "Wall")]
    folder = lot(features=features, changes=ONLY_SHOTS)
    extra = "".join(
        f"{700 + k},{y + NORTH},{5 + EAST},{plane(5, y) + 0.6:.3f},\n" for k, y in enumerate((2.3, 11.2, 19.9, 27.7))
    )
    (folder / "shots.csv").write_text(shot_list() + extra)
    read = read_site(folder)
    assert told(
        read, "shots.csv: 0 breakline edges by description, 8 along drawn curbs and walls"
    )  # the lattice's shots on it too


def test_crossing_breaklines_are_refused_by_name(lot):
    said = refused(
        shots_site(
            lot,
            shot_list()
            + "601,5002,2002,30,FL1\n602,5009,2009,30,FL1\n603,5002.1,2009.3,30,EP1\n604,5009.2,2002.1,30,EP1\n",
        )
    )
    assert said == (
        "shots.csv: has breaklines that cross: 601 to 602 and 603 to 604. Number the lines (FL1, FL2), or "
        "correct the descriptions."
    )


def point(number, north, east, words):
    return ListedPoint(number=str(number), northing=north, easting=east, elevation=1.0, description=words, row=number)


def test_codes():
    points = [
        point(1, 0, 0, "TC"),
        point(2, 0.1, 0, "FL"),
        point(3, 0, 9, "TC"),
        point(4, 0.1, 9, "FL"),
        point(5, 3, 9, "GR"),
        point(6, 0, 12, "TC"),
        point(7, 5, 0, "EP 1"),
        point(8, 5, 5, "GR"),
        point(9, 5, 9, "EP 1"),
        point(10, 0, 90, "TC"),
    ]
    assert coded_lines(points) == ((0, 2), (1, 3), (6, 8))
    assert break_code("EDGE OF DRIVE LOW SIDE") != break_code("EDGE OF DRIVE HIGH SIDE")
    assert break_code("GR AT LINE") is None
    assert [
        stands_off_ground(words)
        for words in ("BM THRESHOLD", "AIR GAP RIM", "HOUSE SW / DS1 GROUND", "DS GROUND", "POPUP RIM EXIST", "")
    ] == [True, True, False, False, False, False]


# ---- level notes for heights


NOTES = "point,BS,IFS,FS,station,remark\nBM-1,1.20,,,,EL 31.000\n7,,1.55,,,\n8,,1.70,,,\nBM-1,,,1.20,,\n"


def test_levels_give_and_rule_heights(lot):
    blank = shot_list().replace("7,5020.0000,1995.0000,30.3000,GR", "7,5020.0000,1995.0000,,GR")
    folder = shots_site(lot, blank, ground__levels='"levels.csv"', ground__rod='"metres"')
    (folder / "levels.csv").write_text(NOTES)
    read = read_site(folder)
    seven, eight = (next(shot for shot in read.shots if shot.number == number) for number in "78")
    assert seven.z == pytest.approx(30.65)
    assert eight.z == pytest.approx(30.50)
    assert told(
        read,
        (
            "levels.csv: 2 of 3 levelled points stand in the point list and give its heights, from 1 set-ups, "
            "misclosure 0.0000 m"
        ),
    )
    assert told(read, "levels.csv: levels differ from the point list at 8 (0.150 m); the levels rule")
    assert "levels.csv" in [entry.file for entry in read.inputs]


def test_what_a_rod_was_read_to_is_doubt_of_the_ground(lot):
    """A rod read to 0.1 m is off by 0.1 / sqrt(12) (uniform); two readings make a height."""
    folder = shots_site(lot, shot_list(), ground__levels='"levels.csv"', ground__rod='"metres"')
    (folder / "levels.csv").write_text(NOTES.replace("1.20", "1.2").replace("1.55", "1.6").replace("1.70", "1.7"))
    read = read_site(folder)
    levelled, shot = (next(one.accuracy for one in read.shots if one.number == number) for number in "79")
    assert levelled == pytest.approx((shot**2 + 2 * 0.1**2 / 12) ** 0.5, rel=0.02)
    assert levelled > 1.5 * shot


def test_a_bad_loop_stops_the_reading(lot):
    folder = shots_site(lot, shot_list(), ground__levels='"levels.csv"', ground__rod='"metres"')
    (folder / "levels.csv").write_text(NOTES.replace("BM-1,,,1.20", "BM-1,,,1.35"))
    assert refused(folder).startswith("levels.csv: is refused: misclosure -0.1500 m, allowed 0.0061 m for 1 set-up")


# ---- LandXML


XML = """<?xml version="1.0"?>
<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2">
<Units><Imperial linearUnit="{unit}" elevationUnit="feet" areaUnit="squareFoot"/></Units>
<CgPoints><CgPoint name="91" desc="GR">{extra}</CgPoint></CgPoints>
<Surfaces><Surface name="EG"><Definition surfType="TIN"><Pnts>{points}</Pnts><Faces>{faces}</Faces></Definition></Surface></Surfaces>
</LandXML>"""


def landxml(*, unit="foot", swap=False, hidden=False):
    """The builder's plane as two triangles over the lot and beyond, and a third that is not to be shown."""
    corners = [(-10.0, -10.0), (-10.0, 50.0), (45.0, 50.0), (45.0, -10.0), (90.0, 90.0)]  # north, east
    points = "".join(
        (
            f'<P id="{k}">{(east + EAST if swap else north + NORTH) / FT:.6f} '
            f"{(north + NORTH if swap else east + EAST) / FT:.6f} {plane(east, north) / FT:.6f}</P>"
        )
        for k, (north, east) in enumerate(corners, 1)
    )
    faces = "<F>1 2 3</F><F>1 3 4</F>" + ('<F i="1">3 4 5</F>' if hidden else "")
    return XML.format(
        unit=unit,
        points=points,
        faces=faces,
        extra=f"{(10 + NORTH) / FT:.6f} {(20 + EAST) / FT:.6f} {plane(20, 10) / FT:.6f}",
    )


def xml_site(lot, text, **changes):
    folder = lot(
        changes={
            "ground.grid": None,
            "ground.shots": '"ground.xml"',
            **{key.replace("__", "."): value for key, value in changes.items()},
        }
    )
    (folder / "ground.xml").write_text(text)
    return folder


def test_a_landxml_surface_is_taken_as_it_stands(lot):
    read = read_site(xml_site(lot, landxml(hidden=True)))
    x, y = np.array([3.0, 35.0]), np.array([20.0, 4.0])
    assert ground(read, x, y) == pytest.approx(plane(x, y), abs=1e-6)
    assert np.isnan(ground(read, np.array([70.0]), np.array([70.0])))[0]  # only the face that is not shown
    assert told(
        read,
        (
            "ground.xml: LandXML 1.2, northing before easting as the standard has it, lengths in ft, elevations "
            "in ft as its units element says"
        ),
    )
    assert told(read, 'ground.xml: surface "EG" of 2 triangles')


def test_landxml_survey_feet(tmp_path):
    path = tmp_path / "a.xml"
    path.write_text(landxml(unit="USSurveyFoot"))
    read = read_landxml(path, "a.xml")
    assert (read.unit, read.elevation_unit) == ("us-ft", "ft")
    assert read.points[1].easting == pytest.approx((50.0 + EAST) * (1200 / 3937) / FT)
    assert read.points[-1].number == "91"


def test_a_mirrored_landxml_is_caught(lot):
    said = refused(xml_site(lot, landxml(swap=True)))
    assert said.startswith("ground.xml: is mirrored: as read its points lie away from the other features")
    read = read_site(xml_site(lot, landxml(swap=True), ground__points_order='"east-first"'))
    assert ground(read, np.array([3.0]), np.array([20.0])) == pytest.approx([plane(3, 20)], abs=1e-6)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("<!DOCTYPE a [<!ENTITY x SYSTEM 'file:///etc/passwd'>]><LandXML/>", "declares a document type"),
        ("<!DOCTYPE LandXML><LandXML/>", "declares a document type"),
        ("<html/>", 'is no LandXML: it begins with "html"'),
        ("<LandXML><Units>", "is no XML that can be read"),
        ("<LandXML version='1.2'/>", "names no unit of length"),
        (landxml(unit="furlong"), 'linearUnit is "furlong"'),
        (landxml().replace("<F>1 2 3</F>", "<F>1 2 9</F>"), "a face names point 9, which the surface does not hold"),
        (landxml().replace("<F>1 2 3</F>", "<F>1 2</F>"), 'face "1 2" has not three points'),
        (landxml().replace('<P id="2">', '<P id="1">'), 'surface point "1" has no id of its own'),
        (landxml().replace('<P id="2">', '<P id="2">x '), 'surface point 2 is "x '),
        (
            "<LandXML><Units><Metric linearUnit='meter'/></Units><CgPoints><CgPoint>1 2</CgPoint></CgPoints></LandXML>",
            "holds no point with an elevation",
        ),
        ("", "is no XML that can be read"),
    ],
)
def test_landxml_refused(tmp_path, text, what):
    path = tmp_path / "a.xml"
    path.write_text(text)
    with pytest.raises(InputError) as caught:
        read_landxml(path, "a.xml")
    assert str(caught.value).startswith(f"a.xml: {what}")


def test_landxml_breaklines_become_edges(tmp_path):
    path = tmp_path / "a.xml"
    lines = (
        "<SourceData><Breaklines><Breakline><PntList3D>0 0 1 5 5 2 9 9 "
        "3</PntList3D></Breakline></Breaklines></SourceData>"
    )
    text = (
        landxml()
        .replace("<F>1 2 3</F><F>1 3 4</F>", "")
        .replace("<Definition", lines + "<Definition")
        .replace("foot", "meter")
        .replace("feet", "meter")
        .replace("Imperial", "Metric")
    )
    path.write_text(text)
    read = read_landxml(path, "a.xml")
    pairs = [(read.points[a].northing, read.points[b].northing) for a, b in read.breaklines]
    assert pairs == [(0.0, 5.0), (5.0, 9.0)]


# ---- a grid and shots


def mixed(lot, text, **changes):
    folder = lot(
        changes={
            "ground.shots": '"shots.csv"',
            "ground.shots_accuracy": "0.005",
            **{key.replace("__", "."): value for key, value in changes.items()},
        }
    )
    (folder / "shots.csv").write_text(text)
    return folder


def test_a_grid_is_bent_onto_the_shots(lot):
    rows = "".join(
        f"{k},{y + NORTH},{x + EAST},{plane(x, y) + up:.4f},GR\n"
        for k, (x, y, up) in enumerate([(5.0, 5.0, 0.05), (30.3, 20.2, -0.08), (35.1, 22.0, 0.0), (12.0, 26.0, 0.3)], 1)
    )
    read = read_site(mixed(lot, rows, ground__points_order='"north-first"'))
    x, y = (np.array([getattr(shot, axis) - off for shot in read.shots]) for axis, off in (("x", EAST), ("y", NORTH)))
    assert ground(read, x, y) == pytest.approx([shot.z for shot in read.shots], abs=1e-8)
    lifted = ground(read, [12.0, 12.0, 12.0], [26.5, 29.0, 35.8]) - plane(12.0, np.array([26.5, 29.0, 35.8]))
    assert 0.3 > lifted[0] > lifted[1] > lifted[2] >= 0  # fades out, no spike on one shot
    assert lifted[1] > 0.1
    far = np.array([5.0]), np.array([40.0])
    assert ground(read, *far) == pytest.approx(plane(*far), abs=1e-6)
    assert told(
        read,
        (
            "ground.tif is corrected to agree with 4 shots of shots.csv: differences 0.157 m (root mean square), "
            "accuracy 0.030 m"
        ),
    )
    assert told(
        read, "ground.tif and shots.csv disagree beyond 3 standard deviations at 4 GR (0.300 m); the shots rule"
    )


def test_a_common_difference_is_a_shift(lot):
    read = read_site(mixed(lot, shot_list(lift=0.4)))
    assert told(read, "ground.tif is shifted by 0.400 m (median difference), then corrected to agree with 110 shots")
    assert ground(read, np.array([52.0]), np.array([44.0])) == pytest.approx([plane(52, 44) + 0.4], abs=1e-3)


def test_another_datum_is_asked_about(lot):
    said = refused(mixed(lot, shot_list(lift=-12.0)))
    assert said.startswith("shots.csv: lies 12.000 m below ground.tif (median of 110 shots): another datum or unit")
    read = read_site(mixed(lot, shot_list(lift=-12.0), ground__datum='"shots"'))
    assert ground(read, np.array([20.0]), np.array([10.0])) == pytest.approx([plane(20, 10) - 12], abs=1e-3)


def test_a_coarse_grid_is_made_finer_where_shots_must_be_met(lot):
    folder = lot(shape=(28, 35), changes={"ground.shots": '"shots.csv"', "ground.points_order": '"north-first"'})
    (folder / "shots.csv").write_text("1,5010.4,2010.3,29.80,GR\n2,5011.1,2010.9,29.75,GR\n3,5025,2030,29.70,GR\n")
    read = read_site(folder)
    assert read.grid.cell <= 0.25
    assert ground(read, np.array([10.3, 10.9, 30.0]), np.array([10.4, 11.1, 25.0])) == pytest.approx(
        [29.80, 29.75, 29.70], abs=1e-8
    )


# ---- the surface of doubt


def test_doubt_grows_with_distance_and_slope(lot):
    read = read_site(shots_site(lot, shot_list()))
    at_shot, between = ground_doubt(read, EAST + np.array([20.0, 22.5]), NORTH + np.array([10.0, 12.5]))
    assert at_shot == pytest.approx(0.03)
    assert between > 0.03 / 2**0.5
    steep = read_site(shots_site(lot, shot_list(wave=1.0)))
    assert ground_doubt(steep, np.array([EAST + 22.5]), np.array([NORTH + 12.5]))[0] > between


def test_covariance_is_one_and_shots_pin_a_grid_down(lot):
    read = read_site(mixed(lot, shot_list()))
    x, y = EAST + np.linspace(1, 39, 60), NORTH + np.linspace(2, 28, 60)
    covariance = ground_covariance(read, x, y)
    assert np.linalg.eigvalsh(covariance).min() > -1e-12
    assert ground_doubt(read, np.array([EAST + 20.0]), np.array([NORTH + 10.0]))[0] < 0.0051
    bare = read_site(lot())
    assert ground_doubt(bare, x, y) == pytest.approx(np.full(60, 0.03))
    assert (ground_doubt(read, x, y) <= 0.03 + 1e-12).all()
