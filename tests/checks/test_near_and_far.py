"""How near is near enough: figures of the recheck just inside and just outside, and one ring worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from siteplan.books.pipes import pipe
from siteplan.books.vehicles import vehicle
from siteplan.checks.beds import wrong_beds
from siteplan.checks.curb_ends import gutter_at
from siteplan.checks.curb_numbers import curb_mismatches
from siteplan.checks.outlet_ends import control_of
from siteplan.checks.pipe_loads import changed_by
from siteplan.checks.scene import scene_of, stock_of
from siteplan.site import Shot
from siteplan.values.laid_pipe import CurbPiece

FOOT = 0.3048


@pytest.mark.parametrize(("half", "known"), [(1.2, True), (2.4, False)])
def test_ground_of_an_outlet_is_looked_for_within_two_metres(scenes, half, known):
    """Cells of half a metre, none known within `half`: the nearest known ground is 1.5 m or 2.5 m away.

    The contract says 2 m.
    """
    hole = {"box": [10.0 - half, 20.0 - half, 10.0 + half, 20.0 + half]}
    outlet = {"id": "O1", "kind": "daylight_outlet", "name": "SLOPE", "at": [10.0, 20.0], "ground": 9.9}
    plan, site = scenes.build(boxes=[hole], outlets=[outlet])
    level, given = control_of(scene_of(plan, site), plan.outlets[0])
    assert not given
    assert math.isfinite(level) is known


@pytest.mark.parametrize(("away", "level"), [(1.3, 9.70), (1.7, 9.894)])
def test_a_shot_of_the_flow_line_counts_within_a_metre_and_a_half(scenes, away, level):
    """1.5 m: common practice, no source. Farther, the lowest ground within 0.6 m: 9.9 less 0.6 m at 1 %."""
    plan, site = scenes.build(outlets=[{"id": "O1", "kind": "curb_outlet", "name": "CURB", "at": [10.0, 20.0]}])
    site = replace(site, shots=(Shot(number="7", x=10.0, y=20.0 + away, z=9.70, accuracy=0.005, description="FL"),))
    assert gutter_at(scene_of(plan, site), plan.outlets[0]) == pytest.approx(level, abs=5e-4)


@pytest.mark.parametrize(("reducer", "right"), [(1.50, True), (1.60, False)])
def test_a_reducer_lies_within_five_feet_of_the_curb(scenes, reducer, right):
    """5 ft is 1.524 m: the project's reference page on the trade, section 5 ('last 5 ft: flat-bottom reducer')."""
    reaches = [{"to": reducer, "kind": "pvc_sch40", "nominal": "3 in"}, {"to": 99.0, "kind": "pvc_sch40"}]
    plan, site = scenes.build(
        outlets=[{"id": "O1", "kind": "curb_outlet", "name": "CURB", "at": [10.0, 20.0], "diameter": 0.0779}],
        lines=[
            {
                "id": "L1",
                "start": "S1",
                "end": "O1",
                "path": [[10.0, 20.0], [40.0, 20.0]],
                "grade": 0.02,
                "reaches": reaches,
            }
        ],
    )
    piece = CurbPiece(pipe=pipe("pvc_sch40", "3 in"), number=1, station_to=reducer, fitting="flat-bottom reducer")
    plan = replace(plan, lines=(replace(plan.lines[0], curb_piece=piece),))
    scene = scene_of(plan, site)
    told = [what for _, what, *_ in curb_mismatches(scene, scene.walks["L1"])]
    assert told == ([] if right else ["station of the reducer at the curb [m]"])


def test_the_ring_of_sewer_pipe_under_a_pickup_by_hand(scenes):
    """Moser's Iowa form with the wheel of the project's page on pipe and ground.

    18 in of wet soil at 120 lb/ft3, E' 200 psi.

    Patch (0.75 + 1.725 + 0.06 x 0.331)(0.667 + 1.725) = 5.967 ft2, impact 0.268, so 3000 lb press 637.6 psf = 4.428
    psi; soil 180 psf = 1.25 psi, 1.5 times; 0.1 (1.875 + 4.428) / (0.149 x 46 + 0.061 x 200) = 3.308 %.
    """
    plan, site = scenes.build()
    stock = stock_of(scene_of(plan, site), pipe("pvc_sdr35", "4 in"))
    assert stock is not None
    assert changed_by(stock, 1.5 * FOOT, vehicle("pickup"), "hand_tamped") == pytest.approx(0.03308, rel=2e-3)


def test_two_feet_past_a_pavement_still_lie_as_under_it(scenes):
    """2 ft past the edge at station 14 (14.61 m): common practice, no source.

    On wet ground beyond it the bed is of stone.
    """
    ends = (9.0, 14.1, 14.55, 14.65, 14.9)
    beds = ("tamped_sides", "stone_bed_and_sides", *["tamped_sides"] * 3)
    reaches = [{"to": to, "kind": "pvc_sdr35", "bedding": bed} for to, bed in zip(ends, beds, strict=True)]
    plan, site = scenes.build(
        more=[{"kind": "driveway", "name": "Drive", "box": [20.0, 0.0, 24.0, 40.0]}],
        low_spots=[{"id": "LS1", "kind": "wet_area", "box": [20.0, 10.0, 30.0, 30.0]}],
        lines=[
            {
                "id": "L1",
                "start": "S1",
                "end": "O1",
                "path": [[10.0, 20.0], [40.0, 20.0]],
                "grade": 0.02,
                "reaches": [*reaches, {"to": 99.0, "kind": "pvc_sdr35", "bedding": "stone_bed"}],
            }
        ],
    )
    scene = scene_of(plan, site)
    told = [stretch for stretch, _ in wrong_beds(scene, scene.walks["L1"])]
    assert told == [(14.65, 14.9)]
