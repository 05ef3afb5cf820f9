"""Questions beside a site's own words.

What `plan` is asked, what the plan says it was asked, and what two plans differ by.
"""

import json
import math
import shutil
from pathlib import Path

import pytest
from shapely.affinity import translate
from shapely.geometry import LineString, Point, Polygon

from siteplan.cli.main import main

SITE = Path(__file__).parents[2] / "sample_sites" / "marsh-lane"
ASKED = ("--set", "min_cover_in=9")
FOOT = 0.3048  # m, by definition of the international foot


@pytest.fixture
def thinner(plan_once):
    return plan_once(SITE, *ASKED)


def test_a_rule_asked_for_holds_and_is_said(thinner):
    record = json.loads((thinner.folder / "plan.json").read_text("utf-8"))
    assert record["what_if"] == {"without": [], "only": [], "settings": [{"key": "min_cover_in", "value": "9"}]}
    rule = next(one for one in record["rules"] if one["id"] == "min-cover")
    assert rule["limit"] == pytest.approx(9 / 12 * FOOT, abs=1e-9)
    assert "what if" in rule["source"]
    assert thinner.said.startswith("Marsh Lane 3 (what if: min_cover_in = 9)")
    assert record["assumptions"][0] == "What if: min_cover_in = 9. Not the site as surveyed."
    assert "what if: min_cover_in = 9" in (thinner.folder / "map.html").read_text("utf-8")


def test_a_plan_that_was_asked_nothing_says_so(plan_once):
    record = json.loads((plan_once(SITE).folder / "plan.json").read_text("utf-8"))
    assert record["what_if"] == {"without": [], "only": [], "settings": []}
    assert not any("What if" in one for one in record["assumptions"])


def test_the_review_asks_the_same_and_says_what_was_asked(thinner, capsys):
    own_fails = sum(one.status == "fail" for one in thinner.plan.findings)
    code = main(["review", str(thinner.folder), str(SITE), "--json"])
    found = json.loads(capsys.readouterr().out)
    fails = [one for one in found["findings"] if one["status"] == "fail"]
    assert (code, len(fails)) == (0, own_fails) == (0, 0)
    told = next(one for one in found["findings"] if one["rule"] == "rules-own" and one["subject"] == "min-cover")
    assert "what if, not the site's own" in told["message"]
    (asked,) = [one for one in found["findings"] if one["rule"] == "what-if"]
    assert (asked["status"], "min_cover_in = 9" in asked["message"]) == ("flag", True)


def test_the_review_flags_an_outlet_left_out_of_play(plan_once, capsys):
    main(["review", str(plan_once(SITE, "--without", "Kerb hole").folder), str(SITE), "--json"])
    (asked,) = [one for one in json.loads(capsys.readouterr().out)["findings"] if one["rule"] == "what-if"]
    assert "without Kerb hole" in asked["message"]


def test_the_review_of_a_plan_as_surveyed_names_no_question(plan_once, capsys):
    main(["review", str(plan_once(SITE).folder), str(SITE), "--json"])
    assert not [one for one in json.loads(capsys.readouterr().out)["findings"] if one["rule"] == "what-if"]


def test_a_question_taken_out_of_the_record_is_found(thinner, tmp_path, capsys):
    edited = shutil.copytree(thinner.folder, tmp_path / "plan")
    record = json.loads((edited / "plan.json").read_text("utf-8"))
    record["what_if"]["settings"] = []
    (edited / "plan.json").write_text(json.dumps(record), "utf-8")
    assert main(["review", str(edited), str(SITE)]) == 1
    assert "rules-edited, min-cover" in capsys.readouterr().out


def test_without_its_only_outlet_nothing_ends_there(plan_once):
    asked = plan_once(SITE, "--without", "Kerb hole")
    record = json.loads((asked.folder / "plan.json").read_text("utf-8"))
    assert "Kerb hole" not in {one["name"] for one in record["outlets"]}
    assert record["what_if"]["without"] == ["Kerb hole"]
    assert "Kerb hole" not in (asked.folder / "trench_schedule.csv").read_text("utf-8")


def test_only_one_outlet_leaves_no_found_ones(plan_once):
    record = json.loads((plan_once(SITE, "--only", "Kerb hole").folder / "plan.json").read_text("utf-8"))
    assert [one["name"] for one in record["outlets"]] == ["Kerb hole"]


@pytest.mark.parametrize(
    ("option", "told"),
    [
        (("--without", "Kerb"), "--without: no outlet is named 'Kerb'. Did you mean Kerb hole?"),
        (
            ("--only", "Kerb hole", "--without", "Kerb hole"),
            "--only Kerb hole: is left out by --without, too. Name it with one",
        ),
        (("--only", "Swale 9"), "The site's outlets: Kerb hole."),
        (("--set", "min_cover_in=-1"), "--set min_cover_in: is -1. Give a number from 0"),
        (("--set", "min_cover=9"), "--set min_cover: has no unit that fits min-cover. Write min_cover_in"),
        (
            ("--set", "nonsense=4"),
            (
                "--set nonsense: is no rule known here. siteplan rules lists the rules by name; a key is a "
                "rule's name and its unit, such as min_cover_in."
            ),
        ),
        (("--set", "search.zzz=4"), "--set search.zzz: is not known here. Known here are "),
        (("--set", "water.smalest=4"), "--set water.smalest: is not known here. Did you mean smallest?"),
        (("--set", "name.long=x"), "--set name.long: site.toml has no section [name]"),
        (("--set", "min_cover_in"), "'min_cover_in' is no KEY=VALUE; write it as min_cover_in=10"),
    ],
)
def test_what_cannot_be_asked_is_refused_by_its_option(option, told, tmp_path, capsys):
    assert main(["plan", str(SITE), "--out", str(tmp_path / "plan"), *option]) == 2
    assert told in capsys.readouterr().err
    assert not (tmp_path / "plan").exists()


def test_a_rule_in_another_unit_gives_way(tmp_path):
    from siteplan.survey.folder import read_site
    from siteplan.values.asked_for import WhatIf

    site = shutil.copytree(SITE, tmp_path / "site")
    text = (site / "site.toml").read_text("utf-8")
    (site / "site.toml").write_text(text.replace("[rules]", "[rules]\nmin_cover_in = 14"), "utf-8")
    own = read_site(site).rules["min-cover"].limit
    asked = read_site(site, WhatIf(settings=(("min_cover_m", "0.2"),))).rules["min-cover"].limit
    assert (own, asked) == (pytest.approx(14 / 12 * FOOT), pytest.approx(0.2))


def test_two_plans_side_by_side(plan_once, thinner, capsys):
    before = plan_once(SITE)
    assert main(["compare", str(before.folder), str(thinner.folder), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    told = {(one["what"], one["subject"]): (one["before"], one["after"]) for one in found["changed"]}
    assert told["served-by", "Pump pit"] == (None, "Kerb hole")
    assert told["rule", "min-cover"] == (pytest.approx(FOOT, abs=1e-6), pytest.approx(0.75 * FOOT, abs=1e-6))
    assert told["fails", "plan"] == (1, 0)
    assert found["breaks"] == []
    assert found["mends"] == [{"rule": "served", "subject": "Pump pit"}]
    both = [json.loads((one.folder / "plan.json").read_text("utf-8")) for one in (before, thinner)]
    assert told["trench", "plan"] == tuple(
        pytest.approx(sum(line["length"] for line in record["lines"]), abs=1e-3) for record in both
    )

    assert main(["compare", str(thinner.folder), str(before.folder)]) == 1
    said = capsys.readouterr().out
    assert "BREAKS served: Pump pit" in said
    assert "Pump pit: drains to: Kerb hole -> not drained" in said
    assert max(len(line) for line in said.splitlines()) <= 80


def test_a_plan_beside_itself_is_unchanged(plan_once, capsys):
    folder = str(plan_once(SITE).folder)
    assert main(["compare", folder, folder]) == 0
    assert "Nothing that a crew or an inspector reads is changed." in capsys.readouterr().out


def test_which_of_two_plans_cannot_be_read(plan_once, tmp_path, capsys):
    assert main(["compare", str(plan_once(SITE).folder), str(tmp_path / "none")]) == 2
    assert capsys.readouterr().err.startswith("the second plan, none: holds no plan.json.")


def test_a_line_pushed_aside_and_down_is_told_where(plan_once, tmp_path, capsys):
    folder = plan_once(SITE).folder
    edited = shutil.copytree(folder, tmp_path / "plan")
    record = json.loads((edited / "plan.json").read_text("utf-8"))
    line = record["lines"][0]
    assert len(line["vertices"]) > 2
    line["vertices"][1]["invert"] = round(line["vertices"][1]["invert"] - 0.02, 4)
    (edited / "plan.json").write_text(json.dumps(record), "utf-8")
    main(["compare", str(folder), str(edited), "--json"])
    told = [one for one in json.loads(capsys.readouterr().out)["changed"] if one["what"] == "invert"]
    assert [(one["station"], round(one["after"] - one["before"], 4)) for one in told] == [
        (line["vertices"][1]["station"], -0.02)
    ]
    line["vertices"][1]["y"] += 0.5
    (edited / "plan.json").write_text(json.dumps(record), "utf-8")
    main(["compare", str(folder), str(edited), "--json"])
    (way,) = [one for one in json.loads(capsys.readouterr().out)["changed"] if one["what"] == "way"]
    assert 0.3 < way["after"] <= 0.5


@pytest.mark.parametrize(
    ("what", "path", "unseen", "seen"),
    [
        # what a sheet would not print: half a millimetre, half of the last digit of a percent and of a litre a second
        ("invert", ("vertices", 1, "invert"), 0.0004, 0.0006),
        ("spare", ("spare",), 0.0004, 0.0006),
        ("length", ("vertices", -1, "station"), 0.0004, 0.0006),
        ("chance", ("doubt", "chance_min_grade"), -0.004, -0.006),
    ],
)
def test_what_no_sheet_would_show_is_no_change(plan_once, tmp_path, capsys, what, path, unseen, seen):
    folder = plan_once(SITE).folder
    edited = shutil.copytree(folder, tmp_path / "plan")
    text = (edited / "plan.json").read_text("utf-8")
    for by, told in ((unseen, False), (seen, True)):
        record = json.loads(text)
        held = record["lines"][0]
        for key in path[:-1]:
            held = held[key]
        held[path[-1]] += by
        (edited / "plan.json").write_text(json.dumps(record), "utf-8")
        main(["compare", str(folder), str(edited), "--json"])
        assert (what in {one["what"] for one in json.loads(capsys.readouterr().out)["changed"]}) == told, by


@pytest.mark.parametrize(("more", "told"), [(0.004, False), (0.006, True)])
def test_a_flow_is_another_from_half_of_a_hundredth_of_a_litre_on(plan_once, tmp_path, capsys, more, told):
    folder = plan_once(SITE).folder
    edited = shutil.copytree(folder, tmp_path / "plan")
    record = json.loads((edited / "plan.json").read_text("utf-8"))
    held = next(one for one in record["sources"] if one.get("flow_lps"))
    held["flow_lps"] += more
    (edited / "plan.json").write_text(json.dumps(record), "utf-8")
    main(["compare", str(folder), str(edited), "--json"])
    assert ("flow" in {one["what"] for one in json.loads(capsys.readouterr().out)["changed"]}) == told


@pytest.mark.parametrize(("steeper", "told"), [(4e-5, False), (6e-5, True), (-6e-5, True)])
def test_a_grade_is_another_from_half_of_its_last_printed_digit_on(plan_once, tmp_path, capsys, steeper, told):
    """Grades are printed to a hundredth of a percent: every vertex raised by so much of its station."""
    folder = plan_once(SITE).folder
    edited = shutil.copytree(folder, tmp_path / "plan")
    record = json.loads((edited / "plan.json").read_text("utf-8"))
    for vertex in record["lines"][0]["vertices"]:
        vertex["invert"] += steeper * vertex["station"]
    (edited / "plan.json").write_text(json.dumps(record), "utf-8")
    main(["compare", str(folder), str(edited), "--json"])
    assert ("grade" in {one["what"] for one in json.loads(capsys.readouterr().out)["changed"]}) == told


@pytest.mark.parametrize(("aside", "told"), [(0.048, False), (0.052, True)])
def test_a_way_is_another_from_half_a_decimetre_on(plan_once, tmp_path, capsys, aside, told):
    """What a crew sets a stake to: common practice, no source."""
    folder = plan_once(SITE).folder
    edited = shutil.copytree(folder, tmp_path / "plan")
    record = json.loads((edited / "plan.json").read_text("utf-8"))
    vertices = record["lines"][0]["vertices"]
    was = LineString([(v["x"], v["y"]) for v in vertices])
    (x0, y0), (x1, y1) = was.coords[0], was.coords[1]
    # the line's end pushed along its last piece and out of it: from the old end it is that far
    part = aside / math.dist((x0, y0), (x1, y1))
    vertices[0]["x"], vertices[0]["y"] = x0 + part * (x0 - x1), y0 + part * (y0 - y1)
    assert was.distance(Point(vertices[0]["x"], vertices[0]["y"])) == pytest.approx(aside)
    (edited / "plan.json").write_text(json.dumps(record), "utf-8")
    main(["compare", str(folder), str(edited), "--json"])
    assert ("way" in {one["what"] for one in json.loads(capsys.readouterr().out)["changed"]}) == told


def _other(folder, place, *, moved=0.0, crs=None, name=None, files=False, ends=True):
    """A copy of a plan whose lot, and what stands on it, lies elsewhere."""
    shutil.copytree(folder, place)
    record = json.loads((place / "plan.json").read_text("utf-8"))
    (lot,) = [one for one in record["features"] if one["kind"] == "lot"]
    lot["rings"] = [[[x + moved, y] for x, y in ring] for ring in lot["rings"]]
    for one in [*record["sources"], *record["outlets"]] if ends else []:
        one["x"] += moved or 1.0
    record["site"]["crs"] = crs or record["site"]["crs"]
    record["site"]["name"] = name or record["site"]["name"]
    if files:
        for one in record["site"]["inputs"]:
            one["sha256"] = one["sha256"][::-1]
    (place / "plan.json").write_text(json.dumps(record), "utf-8")
    return place


@pytest.mark.parametrize(
    ("first", "second", "same"),
    [
        ({}, {}, True),
        ({}, {"name": "Marsh Lane, as revised", "files": True, "ends": False}, True),  # another name is no other lot
        ({}, {"moved": 0.5, "files": True}, True),  # the lot line surveyed anew
        ({}, {"moved": 500.0}, False),  # a lot down the street under the same name, of the same county's grid
        ({"crs": "local"}, {"crs": "local", "name": "Else", "files": True}, False),  # both begin at 0, 0
        ({"crs": "local"}, {"crs": "local", "name": "Else", "ends": True}, True),  # the same files
        ({"crs": "local"}, {"crs": "local", "files": True}, True),  # the same name
        ({"crs": "local"}, {"crs": "local", "name": "Else", "files": True, "ends": False}, True),  # ends in place
        # a source set out anew within half a decimetre, as a way is one; and farther
        ({"crs": "local"}, {"crs": "local", "name": "Else", "files": True, "moved": 0.04}, True),
        ({"crs": "local"}, {"crs": "local", "name": "Else", "files": True, "moved": 0.06}, False),
        ({"crs": "local"}, {"name": "Else", "files": True}, False),
        ({"crs": "local"}, {"files": True}, True),  # a site that was given its place on the earth
    ],
)
def test_two_plans_of_two_sites_are_told_so_first(plan_once, tmp_path, first, second, same, capsys):
    """30 changes and no rule broken, of two lots that have nothing in common."""
    folder = plan_once(SITE).folder
    pair = [
        _other(folder, tmp_path / name, **({"ends": False} | made))
        for name, made in (("a", first), ("b", {"ends": bool(second)} | second))
    ]
    main(["compare", *map(str, pair)])
    said = capsys.readouterr().out
    main(["compare", *map(str, pair), "--json"])
    assert json.loads(capsys.readouterr().out)["same_site"] is same
    assert said.startswith("Before: " if same else "TWO SITES, not two plans of one: ")
    assert max(map(len, said.splitlines())) <= 80
    if not same:
        assert "no rule broken" not in said


@pytest.mark.parametrize(("over", "same"), [(0.06, True), (0.04, False)])
def test_two_lots_that_have_a_twentieth_in_common_are_one_site(plan_once, tmp_path, capsys, over, same):
    """Two surveys of a lot line differ by less, neighbours have less in common: ours."""
    folder = plan_once(SITE).folder
    record = json.loads((folder / "plan.json").read_text("utf-8"))
    (lot,) = [one for one in record["features"] if one["kind"] == "lot"]
    outline = Polygon(lot["rings"][0])
    low, high = 0.0, outline.bounds[2] - outline.bounds[0]
    for _ in range(50):
        middle = (low + high) / 2
        share = outline.intersection(translate(outline, middle)).area / outline.area
        low, high = (middle, high) if share > over else (low, middle)
    beside = _other(folder, tmp_path / "beside", moved=high)
    main(["compare", str(folder), str(beside), "--json"])
    told = json.loads(capsys.readouterr().out)
    assert told["lots_in_common"] == pytest.approx(over, abs=0.002)
    assert told["same_site"] is same


def test_neighbours_with_a_lot_line_in_common_are_two_sites_and_a_turned_frame_is_one(plan_once, tmp_path, capsys):
    """Each lot has a frame of its own about it.

    Places are set beside one another on the earth, not by their figures.
    """
    folder = plan_once(SITE).folder
    record = json.loads((folder / "plan.json").read_text("utf-8"))
    (lot,) = [one for one in record["features"] if one["kind"] == "lot"]
    wide = max(x for x, _ in lot["rings"][0]) - min(x for x, _ in lot["rings"][0])
    beside = _other(folder, tmp_path / "beside", moved=wide)
    main(["compare", str(folder), str(beside), "--json"])
    told = json.loads(capsys.readouterr().out)
    assert told["same_site"] is False
    assert told["lots_in_common"] == pytest.approx(0, abs=0.02)
