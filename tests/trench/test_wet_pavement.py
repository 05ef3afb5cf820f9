"""Pavement over wet ground: what wheels ask beside the pipe and what wet ground asks under it, both."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from siteplan.checks.beds import wrong_beds
from siteplan.checks.scene import scene_of
from siteplan.sheets.bedding_words import bedding_words
from siteplan.trench.reaches import with_pipes
from siteplan.values.laid_pipe import Bedding
from siteplan.values.water_ends import Inflows

_spec = importlib.util.spec_from_file_location("checks_scenes", Path(__file__).parents[1] / "checks" / "scenes.py")
scenes = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(scenes)

DRIVE = [{"kind": "driveway", "name": "Drive", "box": [22.0, 0.0, 26.0, 40.0], "vehicle": "car"}]


def lot(wet, reaches=()):
    return scenes.build(
        more=DRIVE,
        knots=[[-40.0, 10.0], [10.0, 10.0], [40.0, 12.0], [90.0, 12.0]],
        low_spots=[{"id": "LS1", "kind": "wet_area", "box": wet}],
        lines=[
            {
                "id": "L1",
                "start": "S1",
                "end": "O1",
                "path": [[10.0, 20.0], [40.0, 20.0]],
                "grade": 0.02,
                "reaches": list(reaches),
            }
        ],
    )


@pytest.mark.parametrize(
    ("wet", "bedding"),
    [
        ([20.0, 10.0, 30.0, 30.0], Bedding.STONE_BED_AND_SIDES),  # all of the drive
        ([25.0, 10.0, 30.0, 30.0], Bedding.STONE_BED_AND_SIDES),  # its edge
        ([30.0, 10.0, 34.0, 30.0], None),  # beside it
    ],
)
def test_a_drive_over_wet_ground_is_over_dug_and_bedded_in_stone(wet, bedding):
    plan, site = lot(wet)
    (line,) = with_pipes(plan.lines, site, Inflows(), plan.low_spots, plan.outlets)
    (reach,) = [one for one in line.reaches if one.place == "pavement"]
    if bedding is None:
        assert reach.bedding in {Bedding.TAMPED_SIDES, Bedding.STONE_SIDES}
        return
    assert reach.bedding is bedding
    assert reach.bedding.side_fill == "stone"
    words = bedding_words(reach, "m")
    assert words.startswith("over-dig")
    assert "under the pipe and beside it to its top" in words


@pytest.mark.parametrize(
    ("laid", "right"), [("stone_bed_and_sides", True), ("tamped_sides", False), ("stone_bed", False)]
)
def test_the_recheck_asks_for_both(laid, right):
    reaches = [
        {"to": 11.39, "kind": "pvc_sdr35"},
        {"to": 16.61, "kind": "pvc_sch40", "bedding": laid},
        {"to": 20.0, "kind": "pvc_sdr35", "bedding": "stone_bed"},
        {"to": 99.0, "kind": "pvc_sdr35"},
    ]
    plan, site = lot([20.0, 10.0, 30.0, 30.0], reaches)
    scene = scene_of(plan, site)
    told = [stretch for stretch, _ in wrong_beds(scene, scene.walks["L1"])]
    assert ((11.39, 16.61) in told) is not right
