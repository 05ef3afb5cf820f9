"""The recheck's head line where a line runs full and drowned, worked by hand from Manning's pipe and velocity heads."""

from __future__ import annotations

import math

import pytest

from siteplan.checks.flows import level_at, pieces_of
from siteplan.checks.pipe_flow import over_lid
from siteplan.checks.scene import scene_of

BORE, N, RAIN = 3.975 * 0.0254, 0.011, 3e-5  # 4 in sewer pipe; m/s
TAIL = 13.0  # drowns the whole line
AREA = math.pi * BORE**2 / 4


def head(flow):
    return (flow / AREA) ** 2 / (2 * 9.80665)


def friction(flow, length):
    """Manning, the section full: slope = (n v)^2 / R^(4/3) with R a quarter of the bore."""
    return length * (N * flow / AREA) ** 2 / (BORE / 4) ** (4 / 3)


def level(scenes, line, station, **told):
    plan, site = scenes.build(
        outlets=[{"id": "O1", "kind": "daylight_outlet", "name": "SLOPE", "at": [10.0, 20.0], "tail_water": TAIL}],
        **told,
    )
    scene = scene_of(plan, site)
    pieces = pieces_of(scene)
    return level_at(scene, pieces, scene.lines[line], station)


def roofs(*areas_at):
    return [
        {"id": f"S{i}", "kind": "downspout", "name": f"DS-{i}", "at": at, "roof_area": area}
        for i, (area, at) in enumerate(areas_at, 1)
    ]


@pytest.mark.parametrize("degrees", [0.0, 22.5, 45.0, 90.0])
def test_a_bend_takes_0_0033_of_a_velocity_head_a_degree(scenes, degrees):
    """FHWA HEC-22, 3rd ed., bends in pipe runs: 0.0033 a degree (memory)."""
    a = math.radians(degrees)
    top = [25.0 + 10 * math.cos(a), 20.0 + 10 * math.sin(a)]
    line = {
        "id": "L1",
        "start": "S1",
        "end": "O1",
        "path": [[10.0, 20.0], [25.0, 20.0], top],
        "grade": 0.02,
        "reaches": [],
    }
    flow = 520.0 * RAIN
    found = level(scenes, "L1", 25.0, lines=[line], sources=roofs((520.0, top)))
    assert found == pytest.approx(TAIL + friction(flow, 25.0) + 0.0033 * degrees * head(flow), abs=1e-4)


def test_a_branch_takes_half_a_velocity_head_at_its_wye(scenes):
    """0.5 of the branch's velocity head at a 45 degree wye: common practice, no source.

    Docs of the water room say the same.
    """
    trunk = {
        "id": "L1",
        "start": "S1",
        "end": "O1",
        "path": [[10.0, 20.0], [25.0, 20.0], [40.0, 20.0]],
        "grade": 0.02,
        "reaches": [],
    }
    branch = {
        "id": "L2",
        "start": "S2",
        "end": "L1",
        "path": [[25.0, 20.0], [30.0, 25.0]],
        "grade": 0.02,
        "reaches": [],
    }
    trunk["sources"] = ["S1", "S2"]
    length = math.hypot(5, 5)
    found = level(
        scenes, "L2", length, lines=[trunk, branch], sources=roofs((300.0, [40.0, 20.0]), (200.0, [30.0, 25.0]))
    )
    both, own = 500.0 * RAIN, 200.0 * RAIN
    at_wye = TAIL + friction(both, 15.0) + head(both) - head(own)
    assert found == pytest.approx(at_wye + friction(own, length) + 0.5 * head(own), abs=1e-4)


def test_water_under_a_lid_that_lifts_an_inch():
    """10 L/s out of a riser 0.1 m across, by hand.

    Ring 0.31416 m, gap 0.0254 m, v = 0.01 / (0.6 x 0.31416 x 0.0254) = 2.0886 m/s, v2/2g = 0.2224 m; over the bare rim
    0.0669 m (1.84 L h^1.5) would do. The lift: common practice, no source."""
    assert over_lid(10.0, 0.1, 0.010) == pytest.approx(10.2224, abs=2e-4)
    # 1 L/s: the orifice asks for 2.2 mm, the weir for 14.4 mm
    assert over_lid(10.0, 0.1, 0.001) == pytest.approx(10.0144, abs=2e-4)
