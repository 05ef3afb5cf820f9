"""Pumped lines by what a user gets: terminal, plan.json, sheets, review, messages."""

from __future__ import annotations

import json
import math
import shutil
from itertools import pairwise

import pytest

from siteplan.cli.main import main

FOOT, GPM, INCH = 0.3048, 3.785411784 / 60, 25.4
GRAVITY_ONLY = {
    "min-grade",
    "continuous-fall",
    "max-grade",
    "drop-grade",
    "cleanout-spacing",
    "run-capacity",
    "size-fits",
    "self-cleaning",
    "belly-risk",
}


def planned(folder, out, capsys, *options):
    capsys.readouterr()
    code = main(["plan", str(folder), "--out", str(out), *options])
    said = capsys.readouterr()
    assert code in {0, 1}, said.err
    return code, said.out, json.loads((out / "plan.json").read_text(encoding="utf-8"))


def pressed(plan):
    return [line for line in plan["lines"] if line["kind"] == "pressure"]


def by_rule(plan, rule):
    return [one for one in plan["checks"] if one["rule"] == rule]


def head_by_hand(pumped, flow_lps, bore_m):
    """Hazen and Williams as US tables have it, in feet and gallons; velocity heads by hand [m]."""
    gpm, inches = flow_lps / GPM, bore_m * 1000 / INCH
    friction = 0.2083 * (100 / 140) ** 1.852 * gpm**1.852 / inches**4.8655 / 100 * pumped["pipe_length"]
    speed = flow_lps / 1000 / (math.pi * bore_m**2 / 4)
    return pumped["static_head"] + friction + pumped["losses"] * speed**2 / (2 * 9.80665)


@pytest.fixture(scope="module")
def kiln(sample_plan):
    return sample_plan("kiln-rise")


def test_the_sample_is_lifted_to_its_box_and_goes_on_by_gravity(kiln):
    plan = json.loads((kiln.folder / "plan.json").read_text(encoding="utf-8"))
    assert kiln.code == 0
    (line,) = pressed(plan)
    below = next(one for one in plan["lines"] if one["id"] == line["to"])
    pit = next(one for one in plan["sources"] if one["name"] == "PIT")
    assert line["sources"] == [pit["id"]]
    assert pit["id"] in below["sources"]
    start, end, box = line["vertices"][-1], line["vertices"][0], below["vertices"][-1]
    assert math.dist((start["x"], start["y"]), (pit["x"], pit["y"])) < 0.01
    assert math.dist((end["x"], end["y"]), (box["x"], box["y"])) < 0.01
    assert pit["lifted_to"][:2] == pytest.approx([64 * FOOT, 16 * FOOT])
    # an open gap of two bores over the top of what flows in the pipe below
    assert end["invert"] - box["invert"] - below["pipe"]["id_m"] >= 2 * line["pipe"]["id_m"] - 0.0005 or (
        end["invert"] - box["invert"] >= 2 * line["pipe"]["id_m"]
    )
    # no valve: it climbs all the way from the pit to the box and runs back
    inverts = [vertex["invert"] for vertex in line["vertices"]]
    assert all(low > high for low, high in pairwise(inverts))
    assert line["pumped"]["stands_full"] == 0.0


def test_flow_is_where_the_pumps_curve_and_the_lines_meet(kiln):
    plan = json.loads((kiln.folder / "plan.json").read_text(encoding="utf-8"))
    (line,) = pressed(plan)
    told = line["pumped"]
    curve = [(0, 24), (20, 21.5), (40, 16), (55, 9), (62, 4)]  # gpm, ft: as the site states it
    gpm = told["flow_lps"] / GPM
    (q0, h0), (q1, h1) = next(pair for pair in pairwise(curve) if pair[0][0] <= gpm <= pair[1][0])
    given = (h0 + (h1 - h0) * (gpm - q0) / (q1 - q0)) * FOOT
    assert told["head"] == pytest.approx(given, rel=0.002)
    assert head_by_hand(told, told["flow_lps"], line["pipe"]["id_m"]) == pytest.approx(given, rel=0.01)
    assert told["static_head"] == pytest.approx(
        max(v["invert"] for v in line["vertices"]) + line["pipe"]["id_m"] - 92.6 * FOOT, abs=1e-4
    )
    # the line below carries that flow, no rated one
    pit = next(one for one in plan["sources"] if one["name"] == "PIT")
    assert pit["flow_lps"] == told["flow_lps"]


def test_no_rule_of_falling_water_speaks_of_it(kiln):
    plan = json.loads((kiln.folder / "plan.json").read_text(encoding="utf-8"))
    spoken = {one["rule"] for one in plan["checks"] if one["subject"].split(":")[0] == "P1"}
    assert not spoken & GRAVITY_ONLY
    assert spoken >= {
        "min-cover",
        "max-depth",
        "inside-lot",
        "clear-of-building",
        "pump-reaches",
        "pumped-gap",
        "numbers-agree",
    }


def test_every_sheet_shows_it(kiln):
    said = " ".join(kiln.said.split())
    assert "P1 sure (under pressure): PIT pumped into L" in said
    assert "of height" in said
    assert "of friction" in said
    schedule = (kiln.folder / "trench_schedule.csv").read_text(encoding="utf-8")
    assert "\nP1," in schedule
    assert "REDUCING WYE 4 in x 1.5 in" not in schedule, "it pours into a box, no wye"
    quantities = (kiln.folder / "quantities.csv").read_text(encoding="utf-8")
    assert "Pipe,1.5 in schedule 40 PVC," in quantities
    assert "Check valve" not in quantities
    page = (kiln.folder / "map.html").read_text(encoding="utf-8")
    assert '"layer":"line_pressed"' in page
    assert "Line under pressure" in page
    assert "nobody reaches into a pit with the pump plugged in" in page
    assert "grade -" not in said


def test_a_cut_sheet_holds_its_trench(kiln, capsys):
    main(["cutsheet", str(kiln.folder), "--hi", "106", "--line", "P1"])
    assert "P1 sure (under pressure)" in capsys.readouterr().out


def test_pumped_all_the_way_to_a_curb_with_a_rated_point(pumped_lot, tmp_path, capsys):
    sump = {"pump_flow": 40, "pump_head": 16, "discharge": "Curb", "off_level": 90.0}
    site = pumped_lot.site_folder(tmp_path / "s", sump=sump, tables="\n[trench]\nfrost_depth_in = 24\n")
    code, said, plan = planned(site, tmp_path / "p", capsys)
    assert code == 0
    (line,) = plan["lines"]
    assert (line["kind"], line["to"], line["id"]) == ("pressure", plan["outlets"][0]["id"], "P1")
    told = line["pumped"]
    given = (
        16 * FOOT / 3 * (4 - (told["flow_lps"] / GPM / 40) ** 2)
    )  # 4/3 of the head at no flow, through the rated point
    assert told["head"] == pytest.approx(given, rel=0.003)
    assert by_rule(plan, "served")[0]["status"] == "pass"
    assert by_rule(plan, "sump-to-curb")[0]["status"] == "flag", "its water is sump water there too"
    (end,) = by_rule(plan, "outlet-control")
    assert end["status"] == "pass", "no fall to spare is asked of it"
    # a check valve is taken to stand in it: it lies under the frost but where it comes up to the curb, and that is told
    covers = [row["cover"] for row in line["stations"] if row["station"] > 2.0]
    assert min(covers) >= 24 * 0.0254
    (frost,) = by_rule(plan, "pumped-freezing")
    assert (frost["status"], frost["where"]) == ("flag", "station 0+00.0")
    assert any("check valve is taken to stand" in text for text in plan["assumptions"])
    assert "Check valve" in (tmp_path / "p" / "quantities.csv").read_text(encoding="utf-8")
    assert "1 source: 1 sure to drain" in said


def test_in_metres_to_a_box(pumped_lot, tmp_path, capsys):
    curb = {**pumped_lot.CURB, "invert": 29.7}
    sump = {"pump_curve": "0 8, 2 6, 4 2", "discharge": "Box", "off_level": 27.0}
    site = pumped_lot.site_folder(tmp_path / "s", sump=sump, more=(curb, pumped_lot.BOX), unit="m")
    code, said, plan = planned(site, tmp_path / "p", capsys)
    assert code == 0
    assert any("Box: its rim is not given" in text for text in plan["assumptions"])
    (line,) = pressed(plan)
    told = line["pumped"]
    assert told["curve"] == [[0.0, 8.0], [2.0, 6.0], [4.0, 2.0]]
    low, high = (2.0, 6.0), (4.0, 2.0)
    given = low[1] + (high[1] - low[1]) * (told["flow_lps"] - low[0]) / (high[0] - low[0])
    assert told["head"] == pytest.approx(given, rel=0.002)
    part = said[said.index("P1 ") :]
    part = part[: part.index("FLAG") if "FLAG" in part else None]
    assert "L/s" in part
    assert " ft" not in part
    assert "gpm" not in part


def test_without_a_pump_the_plan_says_which_would_serve(pumped_lot, tmp_path, capsys):
    sump = {"pump_rate": 30, "discharge": "Curb", "off_level": 90.0}
    code, said, plan = planned(pumped_lot.site_folder(tmp_path / "s", sump=sump), tmp_path / "p", capsys)
    assert code == 0
    (line,) = plan["lines"]
    serves = line["pumped"]["pump_that_serves"]
    assert serves["flow_lps"] == pytest.approx(30 * GPM, rel=1e-6)
    assert serves["head"] == pytest.approx(head_by_hand(line["pumped"], 30 * GPM, line["pipe"]["id_m"]), rel=0.01)
    assert line["state"] == "cannot-tell"
    # there is depth to spare: nobody leaves its cover in doubt
    assert {one["status"] for one in by_rule(plan, "min-cover")} == {"pass"}
    assert f"30.0 gpm at {serves['head'] / FOOT:.1f} ft of head would serve" in " ".join(said.split())


def test_a_pump_that_does_not_lift_so_high_fails(pumped_lot, tmp_path, capsys):
    sump = {"pump_flow": 20, "pump_head": 5, "discharge": "Curb", "off_level": 90.0}
    code, said, plan = planned(pumped_lot.site_folder(tmp_path / "s", sump=sump), tmp_path / "p", capsys)
    assert code == 1
    assert plan["lines"][0]["state"] == "fails"
    (found,) = by_rule(plan, "pump-reaches")
    assert found["status"] == "fail"
    assert "nothing comes out; one that gives" in found["message"]
    assert "NOTHING comes through" in said


def test_a_guessed_pit_is_told(pumped_lot, tmp_path, capsys):
    sump = {"pump_flow": 40, "pump_head": 20, "discharge": "Curb"}
    _, _, plan = planned(pumped_lot.site_folder(tmp_path / "s", sump=sump), tmp_path / "p", capsys)
    assert "the height is a guess" in by_rule(plan, "pump-reaches")[0]["message"]
    assert any(
        "no off_level is given; its pump is taken to stop 10.00 ft under" in text for text in plan["assumptions"]
    )


def test_a_barred_way_is_no_line_and_says_so(pumped_lot, tmp_path, capsys):
    bed = {"kind": "no_dig", "name": "Bed", "box": (-5, 20, 85, 30)}
    sump = {"pump_flow": 40, "pump_head": 20, "discharge": "Curb", "off_level": 90.0}
    site = pumped_lot.site_folder(tmp_path / "s", sump=sump, more=(pumped_lot.CURB, bed))
    code, said, plan = planned(site, tmp_path / "p", capsys)
    assert code == 1
    assert plan["lines"] == []
    assert "NOT DRAINED" in said
    assert any("no lawful way for a line under pressure to Curb" in text for text in plan["assumptions"])


def test_it_goes_round_what_it_can_and_pays_for_what_it_crosses(pumped_lot, tmp_path, capsys):
    bed = {"kind": "no_dig", "name": "Bed", "box": (50, 20, 70, 40)}
    gas = {"kind": "utility", "name": "Gas", "line": ((0, 16), (80, 15)), "service": "gas", "depth": 3.0}
    sump = {"pump_flow": 40, "pump_head": 20, "discharge": "Curb", "off_level": 90.0}
    site = pumped_lot.site_folder(tmp_path / "s", sump=sump, more=(pumped_lot.CURB, bed, gas))
    _, _, plan = planned(site, tmp_path / "p", capsys)
    (line,) = plan["lines"]
    inside = [v for v in line["vertices"] if 50 < v["x"] / FOOT < 70 and 20 < v["y"] / FOOT < 40]
    assert not inside
    assert [one["name"] for one in line["crossings"] if one["kind"] == "utility"] == ["Gas"]


def test_a_stated_pump_lifts_a_sump_that_gravity_serves_nowhere(pumped_lot, tmp_path, capsys):
    """Nobody wrote a discharge: the pump is there, and it reaches the curb, so that the pit is drained."""
    sump = {"pump_flow": 40, "pump_head": 20, "off_level": 90.0, "pump_rate": 30}
    bare = pumped_lot.site_folder(tmp_path / "s", sump=sump)
    code, said, plan = planned(bare, tmp_path / "p", capsys, "--only", "Curb")
    assert code == 0
    (line,) = plan["lines"]
    assert (line["id"], line["kind"], line["to"]) == ("P1", "pressure", plan["outlets"][0]["id"])
    assert line["pumped"]["lift_chosen"] is True
    assert by_rule(plan, "served")[0]["status"] == "pass"
    said = " ".join(said.split())
    assert "NOT DRAINED" not in said
    assert "no line by gravity serves it, so that its own pump lifts it" in said
    assert any("its pump lifts it to Curb by the plan's own choice" in text for text in plan["assumptions"])
    # as it would be had the survey named the curb
    named = pumped_lot.site_folder(tmp_path / "t", sump={**sump, "discharge": "Curb"})
    _, _, then = planned(named, tmp_path / "q", capsys, "--only", "Curb")
    assert then["lines"][0]["pumped"] == {**line["pumped"], "lift_chosen": False, "lift_to": None}
    assert then["lines"][0]["vertices"] == line["vertices"]
    # a review reads the site with the same pump lifted, and finds who pretends that the survey said so
    capsys.readouterr()
    main(["review", str(tmp_path / "p"), str(bare)])
    assert "FAIL" not in capsys.readouterr().out
    text = (tmp_path / "p" / "plan.json").read_text(encoding="utf-8")
    (tmp_path / "p" / "plan.json").write_text(text.replace('"lift_chosen": true', '"lift_chosen": false'), "utf-8")
    assert main(["review", str(tmp_path / "p"), str(bare)]) == 1
    assert "lift_chosen" in capsys.readouterr().out


def test_a_pump_is_lifted_only_where_it_reaches_and_may_end(pumped_lot, tmp_path, capsys):
    """Its water refused at the curb nearby it goes to the far one.

    No pump that is too weak, or none, is called a drain.
    """
    near = {**pumped_lot.CURB, "refuses": "sump"}
    far = {"kind": "curb_outlet", "name": "Far", "at": (10, -5)}
    strong = {"pump_flow": 40, "pump_head": 20, "off_level": 90.0}
    site = pumped_lot.site_folder(tmp_path / "a", sump=strong, more=(near, far))
    _, _, plan = planned(site, tmp_path / "ap", capsys, "--only", "Curb", "--only", "Far", "--layouts", "1")
    (line,) = plan["lines"]
    assert {one["id"]: one["name"] for one in plan["outlets"]}[line["to"]] == "Far"
    for name, weak in (("b", {**strong, "pump_head": 5}), ("c", {"off_level": 90.0, "pump_rate": 40})):
        site = pumped_lot.site_folder(tmp_path / name, sump=weak)
        code, said, plan = planned(site, tmp_path / f"{name}p", capsys, "--only", "Curb")
        assert (code, plan["lines"]) == (1, [])
        (lift,) = [cure for one in plan["attempts"] for cure in one["cures"] if cure["kind"] == "lift"]
        assert (lift["proven"], lift["own_pump"]) == (True, False)
        assert "NOT DRAINED" in said
        assert "gpm at" in said


@pytest.mark.parametrize(
    ("sump", "named"),
    [
        ({"discharge": "Kurb"}, "Did you mean Curb?"),
        ({"discharge": "Curb", "pump_flow": 40}, "pump_head"),
        ({"discharge": "Curb", "pump_flow": 40, "pump_head": -3}, "above 0"),
        ({"discharge": "Curb", "pump_curve": [[0, 10], [20, 12]]}, "no falling curve"),
        ({"discharge": "Curb", "pump_curve": "ten at five"}, "List pairs of flow and head"),
        (
            {"discharge": "Curb", "pump_curve": [[0, 10], [20, 2]], "pump_flow": 4, "pump_head": 4},
            "Keep one of the two",
        ),
        ({"discharge": "Curb", "check_valve": "perhaps"}, "Write true or false"),
        ({"discharge": "Curb", "off_level": 130}, "above the ground"),
        ({"discharge": "Curb", "pump_flow": 4e6, "pump_head": 4}, "Check the unit"),
    ],
)
def test_bad_input_is_one_clear_message(pumped_lot, tmp_path, capsys, sump, named):
    site = pumped_lot.site_folder(tmp_path / "s", sump=sump)
    assert main(["plan", str(site), "--out", str(tmp_path / "p")]) == 2
    said = capsys.readouterr().err
    assert named in said
    assert "features.geojson" in said
    assert "Traceback" not in said
    assert not (tmp_path / "p").exists()


def test_two_pumps_at_one_point_are_refused(pumped_lot, tmp_path, capsys):
    other = {"kind": "sump", "name": "PIT 2", "at": (21, 52), "discharge": "Box"}
    site = pumped_lot.site_folder(
        tmp_path / "s", sump={"discharge": "Box"}, more=(pumped_lot.CURB, pumped_lot.BOX, other)
    )
    assert main(["plan", str(site), "--out", str(tmp_path / "p")]) == 2
    assert "Draw a discharge point for each pump" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"flow_lps": {flow_lps}, "velocity"', '"flow_lps": 3.1, "velocity"'),
        ('"static_head": {static_head}', '"static_head": 1.5'),
        ('"runs_back": {runs_back}', '"runs_back": 0.002'),
        ('"check_valve": false', '"check_valve": true'),
        ('"off_level": {off_level}', '"off_level": 29.9'),
    ],
)
def test_an_edited_figure_is_found_by_a_review(kiln, tmp_path, capsys, old, new):
    folder = tmp_path / "edited"
    shutil.copytree(kiln.folder, folder)
    text = (folder / "plan.json").read_text(encoding="utf-8")
    told = pressed(json.loads(text))[0]["pumped"]
    wanted = old.format(**told) if "{" in old else old
    assert text.count(wanted) == 1
    (folder / "plan.json").write_text(text.replace(wanted, new), encoding="utf-8")
    capsys.readouterr()
    assert main(["review", str(folder), str(kiln.at)]) == 1
    said = capsys.readouterr().out
    assert "numbers-agree, P1" in said


def test_where_no_way_leads_round_a_drain_it_passes_under_it_with_a_bed_between(pumped_lot, tmp_path, capsys):
    """A drain staked from lot line to lot line between pit and street, as deep as the line's own cover asks for.

    The pump's pipe gives way.
    """
    across = (
        pumped_lot.CURB,
        {"kind": "downspout", "name": "DS", "at": (4, 30), "roof_area": 600},
        {"kind": "daylight_outlet", "name": "East", "at": (74, 30)},
        {
            "kind": "drain",
            "name": "staked",
            "line": ((4, 30), (74, 30)),
            "from": "DS",
            "to": "East",
            "inverts": [99.0, 98.6],
        },
        {"kind": "no_dig", "name": "b", "box": (74.5, 10, 85, 40)},
        {"kind": "no_dig", "name": "c", "box": (-5, 10, 3.5, 40)},
    )
    sump = {"pump_flow": 40, "pump_head": 24, "discharge": "Curb", "off_level": 88.0, "check_valve": False}
    site = pumped_lot.site_folder(tmp_path / "s", sump=sump, more=across)
    _, _, plan = planned(site, tmp_path / "p", capsys)
    (line,) = pressed(plan)
    found = [one for one in by_rule(plan, "lines-cross") if one["subject"].startswith("P1")]
    assert [one["status"] for one in found] == ["pass"]
    assert found[0]["value"] >= 0.0762
    # the drain lies at 98.68 ft where x is 60: the pump's pipe is under that there, and runs back to the pit for all
    # that
    at_drain = [row["invert"] / FOOT for row in line["stations"] if 24 < row["y"] / FOOT < 36]
    assert min(at_drain, default=99.0) < 98.7
    assert line["pumped"]["stands_full"] == 0.0


def test_two_pumps_are_compared_by_what_comes_through(pumped_lot, tmp_path, capsys):
    for name, flow in (("a", 40), ("b", 30)):
        sump = {"pump_flow": flow, "pump_head": 16, "discharge": "Curb", "off_level": 90.0}
        planned(pumped_lot.site_folder(tmp_path / name, sump=sump), tmp_path / f"{name}-plan", capsys)
    main(["compare", str(tmp_path / "a-plan"), str(tmp_path / "b-plan"), "--json"])
    changed = json.loads(capsys.readouterr().out)["changed"]
    (flow,) = [one for one in changed if one["what"] == "flow" and "under pressure" in one["subject"]]
    plans = [json.loads((tmp_path / f"{name}-plan" / "plan.json").read_text(encoding="utf-8")) for name in "ab"]
    assert [flow["before"], flow["after"]] == pytest.approx([one["lines"][0]["pumped"]["flow_lps"] for one in plans])
    assert not [one for one in changed if one["what"] in {"line", "way", "served-by"}]


def test_without_its_outlet_it_is_not_drained_and_says_so(pumped_lot, tmp_path, capsys):
    sump = {"pump_flow": 40, "pump_head": 16, "discharge": "Curb", "off_level": 90.0}
    site = pumped_lot.site_folder(tmp_path / "s", sump=sump)
    code, said, plan = planned(site, tmp_path / "p", capsys, "--without", "Curb")
    assert code == 1
    assert pressed(plan) == []
    assert "NOT DRAINED" in said
    assert any("PIT is lifted to Curb, which is out of play" in text for text in plan["assumptions"])
