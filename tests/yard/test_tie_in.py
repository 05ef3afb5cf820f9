"""Lines that come into a pipe that lies there already, on even ground where every figure can be done in the head."""

import json
import shutil
from dataclasses import replace

import numpy as np
import pytest

from siteplan.books.pipes import pipe
from siteplan.books.rules import rule_book
from siteplan.cli.main import main
from siteplan.routes.ends import zone_ceiling
from siteplan.routes.terms import terms
from siteplan.values.water_ends import Outlet

# 4 in SDR 35 by the book (ASTM D3034): 4.215 in outside, wall 0.120 in
BORE, TOP = (4.215 - 2 * 0.120) * 0.0254, (4.215 - 0.120) * 0.0254  # m: inside; top above the invert
OLD, WIDE = 99.20, 0.15  # the old pipe's invert and inside [m]; the ground over it lies at 100.12
LEVEL = OLD + 0.8 * (WIDE - BORE)  # where 4 in is level with it at 0.8 of both depths
COMES = 40.0 * 100 / 3600  # L/s: 40 m2 of roof under 100 mm/h


@pytest.fixture(scope="module")
def planned(tmp_path_factory, plan_once, even_ground):
    """A downspout and an old pipe 42 m west of it."""

    def make(tables="", **told):
        features = [
            even_ground.point("downspout", "DS", 48.0, 12.0, roof_area=40.0),
            even_ground.point("tie_in", "Old drain", 6.0, 12.0, **told),
        ]
        folder = even_ground.site_folder(tmp_path_factory.mktemp("tie") / "site", features, tables=tables)
        made = plan_once(folder)
        return made, json.loads((made.folder / "plan.json").read_text("utf-8"))

    return make


@pytest.fixture(scope="module")
def usual(planned):
    return planned(invert=OLD, diameter_mm=150, takes_lps=1.2)


def of(record, rule):
    return [(one["status"], one["message"]) for one in record["checks"] if one["rule"] == rule]


def test_a_line_comes_in_level_with_the_old_pipe_and_stays_covered_up_to_it(usual):
    made, record = usual
    (line,), (outlet,) = record["lines"], [one for one in record["outlets"] if one["kind"] == "tie_in"]
    first = line["vertices"][0]
    assert first["invert"] == pytest.approx(LEVEL, abs=2e-6)
    assert first["fittings"] == [{"kind": "tie_in", "angle_deg": None}]
    assert outlet["control"] == pytest.approx(LEVEL, abs=2e-6)
    assert (outlet["invert"], outlet["size_m"], outlet["takes_lps"]) == (OLD, 0.15, 1.2)
    # no outlet zone: the least cover of lawn, 12 in, holds over the join as everywhere
    assert min(row["cover"] for row in line["stations"]) >= 0.3048 - 1e-6
    assert line["stations"][0]["cover"] == pytest.approx(100.12 - LEVEL - TOP, abs=1e-5)
    assert {reach["place"] for reach in line["reaches"]} == {"lawn"}
    assert not [one for one in record["checks"] if one["rule"] in {"outlet-zone-cover", "daylight-stretch"}]
    assert of(record, "tie-in-takes") == [("pass", f"Old drain can still take 1.20 L/s, {COMES:.2f} L/s comes")]
    assert [status for status, _ in of(record, "tie-in-level") + of(record, "tie-in-size")] == ["pass", "pass"]
    assert [status for status, _ in of(record, "downspout-to-pipe")] == ["flag"]
    assert [one["amount"] for one in record["quantities"] if one["what"] == "tie_in"] == [1]
    assert "wye cut into the old pipe" in (made.folder / "trench_schedule.csv").read_text("utf-8")
    page = (made.folder / "map.html").read_text("utf-8")
    assert "Tie-in to an old pipe" in page
    assert "symbol-tie_in" in page


def test_more_than_it_can_take_fails(planned):
    _, record = planned(invert=OLD, diameter_mm=150, takes_lps=1.1)
    assert [status for status, _ in of(record, "tie-in-takes")] == ["fail"]
    assert record["lines"][0]["state"] == "fails"


def test_what_is_not_told_is_not_taken_for_well(planned):
    made, record = planned(invert=OLD)
    for rule in ("tie-in-takes", "tie-in-size", "tie-in-level"):
        ((status, message),) = of(record, rule)
        assert (status, message[:12]) == ("flag", "cannot tell:"), rule
    assert sum("of the old pipe" in one or "old pipe can still take" in one for one in record["assumptions"]) >= 2
    assert made.code == 0


def test_an_old_pipe_deeper_than_lines_may_lie_is_not_used(planned):
    # 100.12 - 98.6 - 0.039 = 1.48 m down, 4.5 ft are 1.37 m: 0.11 m too deep
    _, record = planned(invert=98.6, diameter_mm=150, takes_lps=5)
    (tried,) = [one for one in record["candidates"] if one["outlet"] == "O1"]
    assert not tried["feasible"]
    assert tried["reason"].startswith("too deep by 0.109 m at the old pipe")
    _, record = planned("\n[rules]\nmax_depth_m = 1.5\n", invert=98.6, diameter_mm=150, takes_lps=5)
    assert record["lines"][0]["to"] == "O1"


def test_an_old_pipe_too_shallow_for_cover_over_the_join_is_not_used(planned):
    # level at 99.75 + 0.039 = 99.789; over the join 100.12 - 99.789 - 0.104 = 0.227 m of cover, 12 in are 0.305: no
    # zone waives it
    _, record = planned(invert=99.75, diameter_mm=150, takes_lps=5)
    (tried,) = [one for one in record["candidates"] if one["outlet"] == "O1"]
    assert not tried["feasible"]
    assert not [line for line in record["lines"] if line["to"] == "O1"]


def test_the_recheck_finds_an_edited_figure(usual, tmp_path, capsys):
    made, _ = usual
    for key, value in (("takes_lps", 9.0), ("size_m", 0.2), ("control", LEVEL - 0.05), ("invert", OLD - 0.01)):
        folder = tmp_path / key
        shutil.copytree(made.folder, folder)
        edited = json.loads((folder / "plan.json").read_text("utf-8"))
        edited["outlets"][0][key] = value
        (folder / "plan.json").write_text(json.dumps(edited), "utf-8")
        main(["review", str(folder), str(made.at), "--json"])
        found = json.loads(capsys.readouterr().out)["findings"]
        assert [
            one
            for one in found
            if one["rule"] == "numbers-agree" and one["status"] == "fail" and "O1" in one["subject"]
        ], key


@pytest.mark.parametrize(
    ("told", "message"),
    [
        ({}, "is a tie-in without the invert of its old pipe. Expose the old pipe, shoot its invert and give invert."),
        ({"invert": 99.2, "takes_lps": "much"}, 'takes_lps: is "much". Give a plain number, or leave it out.'),
        ({"invert": 99.2, "takes_lps": -1}, "takes_lps: is -1. Give a number above 0, or leave it out."),
        ({"invert": 99.2, "takes_lps": 2, "takes_gpm": 90}, "says what it can still take twice"),
        ({"invert": 99.2, "diameter_mm": 150, "diameter_in": 4}, "has two diameters"),
    ],
)
def test_what_cannot_be_used_is_told(told, message, even_ground, tmp_path, capsys):
    features = [even_ground.point("downspout", "DS", 48.0, 12.0), even_ground.point("tie_in", "Old", 6.0, 12.0, **told)]
    folder = even_ground.site_folder(tmp_path / "site", features)
    assert main(["plan", str(folder), "--out", str(tmp_path / "plan")]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert message in said
    assert not (tmp_path / "plan").exists()


def test_gallons_and_litres_are_one_figure(planned):
    _, record = planned(invert=OLD, diameter_mm=150, takes_gpm=20)
    assert record["outlets"][0]["takes_lps"] == pytest.approx(
        20 * 3.785411784 / 60, abs=1e-3
    )  # US gallon: 231 cubic inches


def test_no_stretch_before_an_old_pipe_has_less_cover():
    away = np.array([0.0, 0.5, 1.5, 4.0, 20.0])
    ground, cover = np.full(5, 10.0), np.full(5, 0.3048)
    outlet = Outlet(id="O1", kind="tie_in", name="Old", x=0.0, y=0.0, ground=10.0, control=9.0, basis="", invert=9.0)
    asked = terms(rule_book({}), pipe("pvc_sdr35", "4 in"))
    found = zone_ceiling(ground, away, outlet, cover, np.zeros(5, dtype=bool), asked)
    assert found == pytest.approx(10.0 - 0.3048 - TOP)
    open_end = zone_ceiling(
        ground, away, replace(outlet, kind="daylight_outlet"), cover, np.zeros(5, dtype=bool), asked
    )
    assert open_end[0] > found[0]


def test_what_brings_more_than_the_old_pipe_takes_is_no_cure(planned):
    """Six inches of cover, and a pump, reach the old pipe; it takes 0.9 L/s and 1.1 L/s comes.

    Neither serves, and the rule is named.
    """
    made, record = planned(invert=99.75, diameter_mm=150, takes_lps=0.9)
    (attempt,) = record["attempts"]
    assert {"min-cover", "lift"} <= {cure["kind"] for cure in attempt["cures"]}
    for cure in attempt["cures"]:
        if cure["kind"] in {"min-cover", "lift"}:
            assert cure["fails"] == ["tie-in-takes"]
            assert cure["proven"] is False
            assert "FAILS tie-in-takes" in cure["what"]
    said = " ".join(made.said.split())
    assert "Would reach it: " in said
    order = [bool(cure["fails"]) for cure in attempt["cures"]]
    assert order == sorted(order)


def test_what_the_old_pipe_takes_is_a_cure(planned):
    _, record = planned(invert=99.75, diameter_mm=150, takes_lps=1.2)
    cures = {cure["kind"]: cure for cure in record["attempts"][0]["cures"]}
    assert cures["min-cover"]["fails"] == []
    assert cures["min-cover"]["proven"] is True


@pytest.mark.parametrize(("takes", "told"), [(1.1, True), (1.2, False)])
def test_a_plan_that_fails_alone_says_that_other_layouts_were_not_looked_for(
    plan_once, even_ground, tmp_path, takes, told
):
    features = [
        even_ground.point("downspout", "DS", 48.0, 12.0, roof_area=40.0),
        even_ground.point("tie_in", "Old drain", 6.0, 12.0, invert=OLD, diameter_mm=150, takes_lps=takes),
    ]
    made = plan_once(even_ground.site_folder(tmp_path / "site", features), "--layouts", "1")
    said = " ".join(made.said.split())
    assert "This plan is layout 1." in said
    assert ("It fails, and no other was looked for" in said) is told
