"""Shots coded as walls, fences, services, tanks, trees and pavement edges, in site folders.

Nothing that was shot is lost.
"""

from __future__ import annotations

import json

import numpy as np
import pytest
from shapely.geometry import LineString

from siteplan.cli.main import main
from siteplan.errors import SiteplanError
from siteplan.survey.folder import read_site
from siteplan.survey.shot_codes import stands_off_ground

EAST, NORTH = 2000.0, 5000.0
ONLY_SHOTS = {"ground.grid": None, "ground.shots": '"shots.csv"'}


def plane(x, y):
    return 30.0 - 0.02 * x + 0.01 * y


@pytest.fixture
def shot_lot(site, sites):
    """The builder's lot with its ground shot every 5 m.

    Also coded shots (x, y, code) from the lot's corner in that order.
    """

    def made(*coded, features=(), between=(), **changes):
        drawn = sites.moved([*sites.lot_features(), *features], lambda x, y: (x + EAST, y + NORTH))
        folder = site(
            features=drawn,
            bounds=(EAST - 15.0, NORTH - 12.0, EAST + 55.0, NORTH + 45.0),
            heights=lambda x, y: plane(x - EAST, y - NORTH),
            changes={**ONLY_SHOTS, **changes},
        )
        rows = [(x, y, "GR") for x in range(-5, 50, 5) for y in range(-10, 40, 5)]
        text = [f"{k},{y + NORTH},{x + EAST},{plane(x, y):.3f},{code}" for k, (x, y, code) in enumerate(rows, 1)]
        text += [f"{k},{y + NORTH},{x + EAST},{plane(x, y):.3f},{code}" for k, (x, y, code) in enumerate(coded, 501)]
        (folder / "shots.csv").write_text("\n".join(text) + "\n")
        return folder

    return made


def made_of(folder, *kinds):
    read = read_site(folder)
    return [feature for feature in read.of_kind(*kinds) if feature.file == "shots.csv"]


def refused(folder):
    with pytest.raises(SiteplanError) as caught:
        read_site(folder)
    return str(caught.value)


def told(folder, text):
    return any(text in one for one in read_site(folder).assumptions)


WALL = [(30.2, -1.3), (30.2, 12.4), (30.2, 31.3)]  # from side line to side line, between the house and the street


def test_no_line_is_laid_through_a_wall_that_was_shot(shot_lot, tmp_path):
    coded = [(x, y, "WALL") for x, y in WALL]
    out = tmp_path / "out"
    main(["plan", str(shot_lot(*coded)), "--out", str(out)])
    plan = json.loads((out / "plan.json").read_text())
    wall = LineString(np.array(WALL) + np.array([EAST, NORTH]))
    east_of = [source for source in plan["sources"] if source["x"] < EAST + 30]
    assert len(east_of) == 3
    for line in plan["lines"]:
        path = LineString([(v["x"], v["y"]) for v in line["vertices"]])
        assert not path.intersects(wall)
    assert any(
        'shots.csv: points 501, 502, 503, coded "WALL", are taken as a retaining wall, 32.60 m long' in text
        for text in plan["assumptions"]
    )
    assert any("retaining wall shot at 501, 502, 503" in str(c["reason"]) for c in plan["candidates"])
    assert "retaining wall shot at 501, 502, 503" in (out / "map.html").read_text()


@pytest.mark.parametrize(
    ("codes", "kind"),
    [
        (("WALL", "WALL", "WALL"), "wall"),
        (("Wall", "wall N end", "wall"), "wall"),
        (("WALL1", "WALL2", "WALL3"), "wall"),  # they count shots
        (("WALL 1", "WALL 1", "WALL-1"), "wall"),
        (("TW", "TW", "TW"), "wall"),
        (("TOP OF WALL", "TOP OF WALL", "TOP WALL"), "wall"),
        (("BW 2", "BW 2", "BW 2"), "wall"),
        (("STONE WALL", "EX STONE WALL", "RET WALL"), "wall"),
        (("FENCE", "FENCE POST", "CHAIN LINK FENCE"), "fence"),
        (("GAS", "GAS", "PAINT GAS"), "utility"),
        (("UG ELEC", "ELEC LINE", "POWER"), "utility"),
    ],
)
def test_a_run_of_one_code_is_one_line(shot_lot, codes, kind):
    coded = [(x, y, code) for (x, y), code in zip(WALL, codes, strict=True)]
    (one,) = made_of(shot_lot(*coded), "wall", "fence", "utility")
    assert one.kind == kind
    assert one.geometry.length == pytest.approx(32.6)


@pytest.mark.parametrize(
    ("code", "service"),
    [
        ("GAS", "gas"),
        ("POWER", "power"),
        ("WATER MAIN", "water"),
        ("TELEPHONE", "telecom"),
        ("SEWER", "sewer"),
        ("IRRIGATION LINE", "irrigation"),
        ("STORM DRAIN", "drain"),
    ],
)
def test_marks_of_a_service_are_a_utility_of_that_service(shot_lot, code, service):
    (one,) = made_of(shot_lot(*((x, y, code) for x, y in WALL)), "utility")
    assert one.attributes["service"] == service


def test_top_and_toe_of_one_wall_are_one_wall(shot_lot):
    coded = [shot for x, y in WALL for shot in ((x, y, "TW"), (x + 0.4, y, "BW"))]
    (one,) = made_of(shot_lot(*coded), "wall")
    assert one.geometry.bounds[0] == pytest.approx(EAST + 30.2)


def test_two_walls_are_not_joined_across_the_lot(shot_lot):
    west, east = [(4.2, 24.1), (8.1, 24.1)], [(30.2, 24.1), (34.1, 24.1)]
    coded = [*((*at, "WALL") for at in west), (20.2, 2.1, "GR"), *((*at, "WALL") for at in east)]
    folder = shot_lot(*coded)
    assert sorted(one.geometry.length for one in made_of(folder, "wall")) == pytest.approx([3.9, 3.9])
    assert told(folder, "points 502 and 504 are both shots of a retaining wall, 22.10 m apart with other shots between")
    numbered = [*((*at, "WALL 1") for at in west), *((*at, "WALL 2") for at in east)]
    assert len(made_of(shot_lot(*numbered), "wall")) == 2
    ended = [(*west[0], "WALL"), (*west[1], "WALL END"), (*east[0], "WALL"), (*east[1], "WALL")]
    assert len(made_of(shot_lot(*ended), "wall")) == 2


def test_ground_shots_between_wall_shots_do_not_break_it(shot_lot):
    coded = [
        (30.2, 4.1, "WALL"),
        (28.1, 6.2, "GR"),
        (32.3, 6.2, "GR"),
        (30.2, 9.3, "WALL"),
        (28.1, 11.2, "GR"),
        (30.2, 15.1, "WALL"),
    ]
    (one,) = made_of(shot_lot(*coded), "wall")
    assert one.geometry.length == pytest.approx(11.0)


def test_what_is_drawn_already_is_not_made_twice(shot_lot, sites):
    drawn = sites.feature("wall", [(30.0, -2), (30.0, 32)], "Terrace wall")
    folder = shot_lot(*((x, y, "WALL") for x, y in WALL), features=[drawn])
    assert not made_of(folder, "wall")
    assert told(folder, 'points 501, 502, 503, coded "WALL", lie along "Terrace wall", which is drawn')


def test_shots_on_the_wall_of_the_house_are_no_retaining_wall(shot_lot):
    folder = shot_lot((10.1, 12.2, "WALL"), (10.0, 18.3, "WALL"))
    assert not made_of(folder, "wall")
    assert told(folder, "lie at a building and are taken as its wall")


@pytest.mark.parametrize(
    ("code", "key"),
    [
        ("WALL", "retaining wall"),
        ("TW 4", "retaining wall"),
        ("GAS", "gas line"),
        ("POWER", "power line"),
        ("SEWER", "sewer"),
        ("WELL", "well"),
        ("SEPTIC TANK", "septic system"),
    ],
)
def test_a_lone_shot_of_what_a_trench_must_not_meet_is_asked_about(shot_lot, code, key):
    at = (30.2, 24.1, code)
    text = refused(shot_lot(at))
    assert text.startswith(f'shots.csv: point 501, coded "{code}": the {key} there is not drawn')
    assert text.endswith(f'Or, if it is meant, add "{key}, shots" to confirm in site.toml.')
    confirmed = shot_lot(at, confirm=f'["{key}, shots"]')
    assert told(confirmed, f"confirm in site.toml: {key}, shots was confirmed although it point 501")


def test_a_drawn_tank_or_well_answers_the_question(shot_lot, sites):
    drawn = sites.feature("no_dig", [(28, 22), (33, 22), (33, 26), (28, 26)], "Well and 2 m round it")
    assert not told(shot_lot((30.2, 24.1, "WELL"), features=[drawn]), "look again")


def test_meters_and_valves_say_that_a_service_comes(shot_lot, sites):
    folder = shot_lot((22.6, 14.1, "GAS METER"), (38.1, 14.1, "WATER VALVE"))
    assert told(folder, 'look again: shots.csv: point 501, coded "GAS METER"')
    assert told(folder, 'look again: shots.csv: point 502, coded "WATER VALVE"')
    gas = sites.feature("utility", [(41, 15), (22, 15)], "Gas", service="gas")
    folder = shot_lot((22.6, 14.1, "GAS METER"), features=[gas])
    assert not told(folder, "look again")


def test_trees_become_trees_with_the_trunk_that_the_code_gives(shot_lot):
    small, large = made_of(shot_lot((30.2, 24.1, "TREE 12"), (34.1, 21.2, "OAK TREE 18 IN")), "tree")
    assert "diameter" not in small.attributes
    assert large.attributes["diameter"] == pytest.approx(18 * 0.0254)


def test_an_edge_of_pavement_without_pavement_is_said(shot_lot):
    folder = shot_lot((30.2, 24.1, "EP"), (38.1, 24.2, "EP"))
    assert told(
        folder,
        (
            'points 501, 502, coded "EP": no driveway, walk or paving is drawn there, so the ground there has '
            "the covers of lawn"
        ),
    )
    assert not told(shot_lot((30.2, 12.1, "EP"), (38.1, 12.1, "EP")), "look again")  # along the drawn driveway


def test_remarks_decide_nothing_and_are_said(shot_lot):
    folder = shot_lot((30.2, 24.1, "GR BY STONE WALL"), (22.4, 14.3, "GROUND AT WALL"), (33.1, 22.2, "GR"))
    assert not made_of(folder, "wall")
    assert told(
        folder,
        (
            "look again: shots.csv: descriptions speak of a retaining wall that is neither coded nor drawn: 501 "
            '"GR BY STONE WALL". Draw it'
        ),
    )


def test_ground_codes_make_nothing(shot_lot):
    coded = [
        (30.2, 24.1, "GR"),
        (31.3, 22.2, "TOE OF BANK"),
        (33.1, 23.2, "WATER SURFACE"),
        (34.4, 21.7, "HOUSE NE"),
        (36.1, 20.6, "WALK"),
        (37.2, 22.3, "TP 2"),
        (38.3, 23.1, "DS1 GROUND"),
    ]
    folder = shot_lot(*coded)
    assert not made_of(folder, "wall", "fence", "utility", "tree")
    assert not told(folder, "look again")


def test_a_numbered_top_of_wall_does_not_lie_on_the_ground():
    assert stands_off_ground("TW1")
    assert stands_off_ground("TOP OF STONE WALL 2")
    assert not stands_off_ground("BW1")
