"""A source that stands exactly on the wall of a house whose ground the grid does not know."""

from __future__ import annotations

import json

import numpy as np
import pytest

from siteplan.cli.main import main
from siteplan.survey.folder import read_site

ON_WALL = {"DS-1": (22, 8.3), "DS-2": (10, 19.7), "SUMP-1": (16, 20)}


@pytest.fixture(params=[0.25, 1.0], ids=["cells of 0.25 m", "cells of 1 m"])
def walled(site, sites, request):
    def heights(x, y):
        z = np.array(30.0 - 0.12 * x)
        z[(x > 10) & (x < 22) & (y > 8) & (y < 20)] = -9999.0
        return z

    features = sites.lot_features()
    for feature in features:
        name = feature["properties"].get("name")
        feature["geometry"]["coordinates"] = ON_WALL.get(name, feature["geometry"]["coordinates"])
    cell = request.param
    # cells of 1 and 2 m are shifted so that the walls run through them
    bounds = (-15.3, -12.3, 54.7, 43.7)
    return site(features=features, heights=heights, bounds=bounds, shape=(round(56 / cell), round(70 / cell)))


@pytest.mark.parametrize("walled", [0.25, 1.0, 2.0], indirect=True, ids=lambda cell: f"cells of {cell:g} m")
def test_its_ground_is_the_ground_beside_the_wall(walled):
    read = read_site(walled)
    assert all(source.ground_known for source in read.sources)
    for source in read.sources:
        assert source.ground == pytest.approx(30.0 - 0.12 * source.x, abs=0.12 * 2.0 + 1e-6)
    assert sum("stands at a wall; the ground beside it" in text for text in read.assumptions) == 3
    assert not any("is not known" in text for text in read.assumptions)


def test_nothing_says_that_it_is_not_known(walled, tmp_path, capsys):
    main(["plan", str(walled), "--out", str(tmp_path / "plan")])
    shown = capsys.readouterr().out
    assert "unknown ground" not in shown
    plan = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    told = [check for check in plan["checks"] if check["rule"] == "ground-known" and check["status"] != "pass"]
    # of a source nothing is said; a line says how far its own end lies over cells that the grid leaves out
    assert {check["subject"] for check in told} <= {line["id"] for line in plan["lines"]}
    assert all(check["value"] < 1.0 for check in told)
    assert [check for check in plan["checks"] if check["rule"] == "numbers-agree" and check["status"] != "pass"] == []
    assert plan["lines"], "the lot drains: a check on no line proves nothing"


def test_a_foot_and_a_half_inside_is_still_said(site, sites):
    features = sites.lot_features()
    features[4]["geometry"]["coordinates"] = [21.4, 8.6]

    def heights(x, y):
        z = np.array(30.0 - 0.12 * x)
        z[(x > 10) & (x < 22) & (y > 8) & (y < 20)] = -9999.0
        return z

    read = read_site(site(features=features, heights=heights))
    assert not read.sources[0].ground_known
    assert any('"DS-1" (downspout) stands where the ground is not known' in text for text in read.assumptions)
