"""One cover: over the outside top of the pipe that lies there, in rows, reaches and crossings alike."""

from __future__ import annotations

import json
from itertools import pairwise

import numpy as np
import pytest
from sites_builder import build, feature

from siteplan.cli.main import main

GENTLE, BANK = 0.004, 1.1  # fall of the yard, and of the bank before the outlet [m]


def ground(x):
    """The yard, flatter than the least grade, so that a line loses cover on its way up [m]."""
    x = np.asarray(x, float)
    return 30 - GENTLE * x - BANK * np.clip((x - 20.6) / 2.4, 0, 1)


@pytest.fixture(params=["4 in", "6 in", "8 in"])
def plan(request, tmp_path, capsys):
    """A line whose heavy pipe ends under a walk."""
    drawn = [
        feature("lot", [(0, 0), (28, 0), (28, 14), (0, 14)], "Lot"),
        feature("building", [(2, 4), (8, 4), (8, 10), (2, 10)], "House"),
        feature("walk", [(16.2, 0), (20, 0), (20, 14), (16.2, 14)], "Walk"),
        feature("utility", [(14.5, -1), (14.5, 15)], "Main 1", service="gas"),
        feature("downspout", (8.3, 5), "DS-1", roof_area=20),
        feature("daylight_outlet", (22.5, 5.5), "Low corner"),
    ]
    asked = {"water.smallest": f'"{request.param}"', "water.largest": f'"{request.param}"'}
    site = build(
        tmp_path / "site",
        changes=asked,
        features=drawn,
        shape=(80, 120),
        bounds=(-1.5, -3.0, 28.5, 17.0),
        heights=lambda x, _: ground(x),
    )
    assert main(["plan", str(site), "--out", str(tmp_path / "plan")]) in {0, 1}, capsys.readouterr().err
    return json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))


def covers(line, low, high):
    """Cover every centimetre between two stations, each over the pipe of its reach.

    From the ground's own formula [m].
    """
    at = [one["station"] for one in line["vertices"]]
    x, invert = ([one[key] for one in line["vertices"]] for key in ("x", "invert"))
    found = []
    for reach in line["reaches"]:
        a, b = max(low, reach["station_from"]), min(high, reach["station_to"])
        if a < b:
            s = np.linspace(a, b, max(2, int((b - a) / 0.01)))
            rise = (reach["pipe"]["od_m"] + reach["pipe"]["id_m"]) / 2
            found.append(ground(np.interp(s, at, x)) - np.interp(s, at, invert) - rise)
    return np.concatenate(found)


def test_the_least_cover_of_a_crossing_is_over_the_pipe_that_lies_there(plan):
    (line,) = plan["lines"]
    (walk,) = [one for one in line["crossings"] if one["kind"] == "walk"]
    changes = [b["station_from"] for a, b in pairwise(line["reaches"]) if a["pipe"]["kind"] != b["pipe"]["kind"]]
    assert any(walk["station_from"] < at < walk["station_to"] for at in changes), "no change of pipe under the walk"
    every = covers(line, walk["station_from"], walk["station_to"])
    assert walk["cover_min"] == pytest.approx(every.min(), abs=0.0015)
    assert walk["cover_from"] == pytest.approx(every[0], abs=0.0015)
    assert walk["cover_to"] == pytest.approx(every[-1], abs=0.0015)


def test_rows_reaches_and_the_recheck_state_the_same_covers(plan):
    (line,) = plan["lines"]
    for row in line["stations"]:
        assert row["cover"] == pytest.approx(row["ground"] - row["invert"] - row["pipe_top"], abs=2e-6)
    for reach in line["reaches"]:
        assert reach["cover_min"] == pytest.approx(
            covers(line, reach["station_from"], reach["station_to"]).min(), abs=0.0015
        )
    assert [
        one["message"] for one in plan["checks"] if one["rule"] == "numbers-agree" and one["status"] == "fail"
    ] == []
