"""Lists as collectors and offices hand them over.

Headers of many kinds, orders of each list by itself, grades that fall.
"""

from __future__ import annotations

import json

import pytest

from siteplan.cli.main import main

POINTS = [
    (500 + s, 300.0, 88.40 + 0.015 * s, {0: "OUTFALL", 40: "WYE", 100: "START"}.get(s, "INV"))
    for s in range(0, 110, 10)
]
FIXED = [(505, 310, 90.11, "SLAB CORNER"), (560, 290, 92.35, "BM")]


def listed(head, order, rows, skip=()):
    text = head
    for i, (n, e, z, name) in enumerate(rows, 1):
        cells = {"p": str(i), "n": f"{n:.2f}", "e": f"{e:.2f}", "z": f"{z:.2f}", "d": name, "-": ""}
        text += ",".join(cells[one] for one in order if one not in skip) + "\n"
    return text


ENDS = [POINTS[0], POINTS[4], POINTS[-1], *FIXED]
HEADED = {
    "north,east": listed("point,northing,easting,elevation,description\n", "pnezd", [*POINTS, *FIXED]),
    "east,north": listed("name,east,north,z,code\n", "penzd", [*POINTS, *FIXED]),
    "x,y": listed("Pt,X,Y,Elev,Feature\n", "penzd", [*POINTS, *FIXED]),
}
BARE = {
    "north-first": listed("", "pnezd", [*POINTS, *FIXED]),
    "east-first": listed("", "penzd", [*POINTS, *FIXED]),
}


def run(shots, plan, list_, *more):
    return main(["asbuilt", shots(plan, "plan.csv"), shots(list_), *more, "--json"])


@pytest.mark.parametrize("shot", [*HEADED, *BARE])
@pytest.mark.parametrize("first", ["headed", "north-first", "east-first"])
def test_each_list_is_read_as_it_is_written(shots, shot, first, capsys):
    plan = {
        "headed": listed("point,easting,northing,elev,desc\n", "penzd", ENDS),
        "north-first": listed("", "pnezd", ENDS),
        "east-first": listed("", "penzd", ENDS),
    }[first]
    bare = {one for one in (shot, first) if one.endswith("-first")}
    if len(bare) > 1:  # two lists, two orders: each says its own
        assert run(shots, f"# order = {first}\n{plan}", f"# order = {shot}\n{BARE[shot]}") == 0
    else:
        assert run(shots, plan, {**HEADED, **BARE}[shot], *(["--order", bare.pop()] if bare else [])) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["verdict"] == "accept"
    assert record["swapped"] is False


def test_it_is_said_which_list_an_order_is_for(shots, capsys):
    plan = listed("", "penzd", ENDS)
    assert run(shots, plan, HEADED["x,y"], "--order", "east-first") == 0
    (told,) = [one for one in json.loads(capsys.readouterr().out)["assumptions"] if "header" in one]
    assert told.startswith("plan.csv has no header")
    assert "easting" in told
    assert run(shots, listed("point,easting,northing,elev,desc\n", "penzd", ENDS), BARE["north-first"]) == 0
    (told,) = [one for one in json.loads(capsys.readouterr().out)["assumptions"] if "header" in one]
    assert told.startswith("shots.csv has no header")


@pytest.mark.parametrize(
    ("plan", "list_"),
    [
        (listed("point,easting,northing,elev,desc\n", "penzd", ENDS), HEADED["north,east"]),
        ("88.40@1.5", "station,rod\n0,5.0\n10,4.85\n20,4.7\n"),
        ("88.40@1.5", "0,5.0\n10,4.85\n20,4.7\n"),
    ],
)
def test_an_order_that_no_list_needs_is_told(shots, plan, list_, capsys):
    plan = plan if "@" in plan else shots(plan, "plan.csv")
    assert main(["asbuilt", plan, shots(list_), "--hi", "93.74", "--order", "east-first"]) == 2
    err = capsys.readouterr().err
    assert err.startswith("--order: no list needs it")
    assert "shots.csv" in err
    assert len(err.strip().splitlines()) == 1


@pytest.mark.parametrize("said", ["# order = upside-down\n", "# order = north-first\n"])
def test_a_lists_own_order_that_is_none_or_another_than_the_options(shots, said, capsys):
    plan = listed("point,easting,northing,elev,desc\n", "penzd", ENDS)
    assert run(shots, plan, said + BARE["east-first"], "--order", "east-first") == 2
    assert "shots.csv, order" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("head", "order"),
    [
        ("name,north,east,z,code\n", "pnezd"),
        ("Name,Code,Northing,Easting,Elevation\n", "pdnez"),
        ("Point ID,Northing (ft),Easting (ft),Elevation (ft),Code\n", "pnezd"),
        ("point,northing,easting,elevation,code,description\n", "pnez-d"),
        ("point,northing,easting,elevation,code,description\n", "pnezd-"),
        ("pnt,n,e,z,name,code\n", "pnezd-"),
        ("name,n,e,z,description,notes\n", "pnezd-"),
        ("name,n,e,z,note\n", "dnez-"),
    ],
)
def test_headers_of_collectors(shots, head, order, capsys):
    list_ = listed(head, order, [*POINTS, *FIXED])
    assert run(shots, listed("point,easting,northing,elev,desc\n", "penzd", ENDS), list_) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["verdict"] == "accept"
    assert {one["name"] for one in record["fixed"]} == {"SLAB CORNER", "BM"}
    assert record["missing"] == record["unjudged"] == []


@pytest.mark.parametrize("head", ["name,north,north,z,code\n", "name,north,east,z,level,code\n"])
def test_two_columns_of_one_figure_are_still_refused(shots, head, capsys):
    order = "pnnzd" if "level" not in head else "pnezzd"
    assert run(shots, listed("", "pnezd", ENDS), listed(head, order, POINTS)) == 2
    assert "two columns for" in capsys.readouterr().err


@pytest.mark.parametrize("grade", ["-1", "-0.25%", "0", "-1/8in/ft", "51"])
def test_a_grade_that_does_not_fall_is_refused_as_the_quick_answer_does(shots, grade, capsys):
    assert main(["asbuilt", f"95.50@{grade}", shots("station,elevation\n0,95.5\n10,95.4\n20,95.3\n")]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("PLAN")
    assert len(told.err.strip().splitlines()) == 1


def test_a_list_whose_stations_rise_downstream_is_refused(shots, capsys):
    """Every figure would be judged the wrong way round."""
    plan = shots("station,invert\n0,96.50\n50,96.00\n100,95.50\n", "plan.csv")
    rows = "".join(f"{s},{96.5 - s / 100:.2f}\n" for s in range(0, 110, 10))
    assert main(["asbuilt", plan, shots("station,elevation\n" + rows)]) == 2
    err = capsys.readouterr().err
    assert err.startswith("plan.csv")
    assert "outlet" in err
