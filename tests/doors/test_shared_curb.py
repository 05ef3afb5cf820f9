"""Two lines round a garage that end at one curb outlet: what both bring is judged against the holes there."""

from __future__ import annotations

import csv
import json

import pytest

from siteplan.cli.main import main

# 3 in schedule 40 pipe, 3.068 in inside, n 0.011, full at 1 %: 0.46314 / 0.011 x (3.068 / 12)^(8/3) x 0.01^0.5 cfs
ONE_HOLE = 0.46314 / 0.011 * (3.068 / 12) ** (8 / 3) * 0.1 * 28.316847  # L/s


def brings(roof):
    """Square feet of roof under 5.5 in/h [L/s]."""
    return roof * 0.3048**2 * 5.5 * 0.0254 / 3600 * 1000


def planned(stories, folder, roof, lines=2, own=False, **curb):
    """A garage from the house to the parkway parts the yard: no line can join the other before the curb."""
    rows = []
    yard = (4992.5, 98.8), (4996.5, 99.4), (5005, 100.1), (5030, 100.6), (5050, 101.6), (5068, 102.4), (5150, 102.4)
    for east in range(1990, 2081, 10):
        rows += [(4985, east, 97.95, "GR"), (4989.5, east, 97.85, "GUTTER FL"), (4990, east, 98.35, "TC")]
        rows += [(north, east, up, "GR") for north, up in yard]
    points = "".join(f"{k},{n},{e},{z},{d}\n" for k, (n, e, z, d) in enumerate(rows, 1))
    features = [
        stories.one("lot", stories.box(4986, 2000, 5150, 2060), "Lot"),
        stories.one("building", stories.box(5068, 2012, 5110, 2048), "House"),
        stories.one("building", stories.box(4994, 2022, 5068, 2038), "Garage"),
        stories.one("curb", [(4990, 1990), (4990, 2070)], "Curb"),
        stories.one("downspout", (5068, 2012), "DS1", roof_area=roof, **({"own_line": True} if own else {})),
        stories.one("downspout", (5068, 2048), "DS2", roof_area=roof),
        stories.one("curb_outlet", (4989.5, 2030), "CURB", **curb),
    ]
    tables = "\n[rainfall]\nintensity = 5.5\n[rules]\noutlet_zone_ft = 30\n"
    site = stories.write(folder / "site", points, features, tables=tables)
    main(["plan", str(site), "--out", str(folder / "out")])
    plan = json.loads((folder / "out" / "plan.json").read_text(encoding="utf-8"))
    assert [line["to"] for line in plan["lines"]] == [plan["outlets"][0]["id"]] * lines
    text = (folder / "out" / "trench_schedule.csv").read_text(encoding="utf-8-sig")
    return plan, list(csv.DictReader(text.splitlines()))


def of(plan, rule):
    return [one for one in plan["checks"] if one["rule"] == rule]


def panel_agrees(plan):
    """What the water panel says of the hole is what the finding says of it: flow, capacity and how many."""
    for link in of(plan, "weakest-link"):
        (told,) = [
            one
            for water in plan["water"]["lines"]
            if water["line"] == link["subject"]
            for one in water["links"]
            if one["kind"] == "curb hole"
        ]
        assert told["flow_lps"] == pytest.approx(link["value"], abs=1e-3)
        if told["capacity_lps"] is None:  # the hole of the plan is none that the face takes
            assert "the largest that its face takes" in link["message"]
            assert "too little" in told["statement"]
        else:
            assert told["capacity_lps"] == pytest.approx(link["limit"], rel=1e-3)


def test_two_lines_at_one_hole_are_judged_together(stories, tmp_path):
    plan, _ = planned(stories, tmp_path, 800)
    links = of(plan, "weakest-link")
    assert [one["status"] for one in links] == ["fail", "fail"]
    for one in links:
        assert one["value"] == pytest.approx(2 * brings(800), rel=1e-3)
        assert one["limit"] == pytest.approx(ONE_HOLE, rel=0.01)
        assert "L1 and L2" in one["message"]
    # what would do is said once, in the first finding that asks for it
    cures = [one for one in [*of(plan, "curb-concrete"), *links] if "holes = 2" in one["message"]]
    assert [(one["rule"], one["subject"]) for one in cures] == [("curb-concrete", "L1")]
    assert all("under curb-concrete, L1" in one["message"] for one in links)
    (shared,) = [one for one in of(plan, "curb-hole") if one["status"] != "pass"]
    assert "L1 and L2 come to one hole" in shared["message"]
    panel_agrees(plan)


def test_two_lines_whose_water_one_hole_takes_come_into_one_box(stories, tmp_path):
    """Nobody told a second hole, and no line can join the other: they come together in a box that can be opened."""
    plan, table = planned(stories, tmp_path, 250)
    assert [(line["curb_piece"]["number"], line["curb_piece"]["fitting"]) for line in plan["lines"]] == [(1, "box")] * 2
    holes = of(plan, "curb-hole")
    assert {one["status"] for one in holes} == {"pass"}
    assert any("L1 and L2 come into one box that can be opened" in one["message"] for one in holes)
    for one in of(plan, "weakest-link"):
        assert (one["status"], one["value"]) == ("pass", pytest.approx(2 * brings(250), rel=1e-3))
        assert one["limit"] == pytest.approx(ONE_HOLE, rel=0.01)
    assert {one["status"] for one in of(plan, "numbers-agree")} == {"pass"}
    assert sum("box that can be opened, one for L1 and L2" in row["point"] for row in table) == 2
    counted = {(one["what"], one["kind"]): one["amount"] for one in plan["quantities"]}
    assert counted["reducer", "box"] == 1
    assert counted["curb_opening", ""] == 1
    panel_agrees(plan)
    # a box that only one of them states is none
    text = (tmp_path / "out" / "plan.json").read_text(encoding="utf-8")
    (tmp_path / "out" / "plan.json").write_text(
        text.replace('"fitting": "box"', '"fitting": "flat-bottom reducer"', 1), "utf-8"
    )
    assert main(["review", str(tmp_path / "out"), str(tmp_path / "site")]) == 1


def test_one_hole_and_a_line_that_joins_none_leaves_one_source_undrained_and_says_so(stories, tmp_path, capsys):
    """`holes = 1` is what there is: the second line has no hole to end in, and no fault of ours ends the plan."""
    plan, _ = planned(stories, tmp_path, 250, lines=1, own=True, holes=1)
    assert [one["status"] for one in of(plan, "served")].count("fail") == 1
    assert "NOT DRAINED" in capsys.readouterr().out


def test_each_of_two_lines_has_a_hole_of_its_own_where_there_are_two(stories, tmp_path):
    plan, _ = planned(stories, tmp_path, 800, holes=2, hole_spacing=1.0)
    assert [(line["curb_piece"]["number"], line["curb_piece"]["fitting"]) for line in plan["lines"]] == [
        (1, "flat-bottom reducer")
    ] * 2
    for one in of(plan, "weakest-link"):
        assert one["status"] == "pass"
        assert one["value"] == pytest.approx(brings(800), rel=1e-3)
        assert one["limit"] == pytest.approx(ONE_HOLE, rel=0.01)
    # 1 ft from centre to centre, 3.500 in outside
    between = [one for one in of(plan, "curb-hole") if one["value"] == pytest.approx((12 - 3.5) * 0.0254, abs=1e-4)]
    assert between
    assert {one["status"] for one in of(plan, "numbers-agree")} == {"pass"}
    panel_agrees(plan)


def test_one_box_takes_the_water_of_both_lines(stories, tmp_path):
    plan, table = planned(stories, tmp_path, 1200, hole_spacing=1.0)
    # 2 x 4.33 L/s over 3.14 L/s are 2.8 holes
    assert [(line["curb_piece"]["number"], line["curb_piece"]["fitting"]) for line in plan["lines"]] == [(3, "box")] * 2
    for one in of(plan, "weakest-link"):
        assert one["status"] == "pass"
        assert one["value"] == pytest.approx(2 * brings(1200), rel=1e-3)
        assert one["limit"] == pytest.approx(3 * ONE_HOLE, rel=0.01)
    assert {one["status"] for one in of(plan, "numbers-agree")} == {"pass"}
    ends = [row["point"] for row in table if "box that can be opened" in row["point"]]
    assert len(ends) == 2
    assert "one for L1 and L2" in ends[0]
    panel_agrees(plan)
