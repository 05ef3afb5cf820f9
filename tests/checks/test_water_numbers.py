"""A changed figure of water is found: flows, capacities, depths and the storm's balance are worked a second way."""

from __future__ import annotations

from dataclasses import replace

import pytest

from siteplan.checks.judge import findings
from siteplan.ground.runoff import runoff_surface
from siteplan.waterworks.works import water_of


@pytest.fixture
def planned(scenes):
    return watered(scenes, 50.0)


def watered(scenes, roof):
    plan, site = scenes.build(
        sources=[
            {"id": "S1", "kind": "downspout", "name": "DS-1", "at": [40.0, 20.0], "roof_area": roof},
            {"id": "S2", "kind": "downspout", "name": "DS-2", "at": [40.0, 12.0], "roof_area": 80.0},
        ],
        lines=[
            {
                "id": "L1",
                "start": "S1",
                "end": "O1",
                "sources": ["S1", "S2"],
                "path": [[10.0, 20.0], [25.0, 20.0], [40.0, 20.0]],
                "grade": 0.02,
            },
            {"id": "L2", "start": "S2", "end": "L1", "path": [[25.0, 20.0], [40.0, 12.0]], "grade": 0.02},
        ],
    )
    return replace(plan, water=water_of(site, plan.inflows, runoff_surface(site), (), plan.lines, plan.outlets)), site


def told(plan, site):
    return [one.message for one in findings(plan, site) if one.rule == "numbers-agree" and one.status != "pass"]


def test_the_planners_figures_agree(planned):
    assert told(*planned) == []


@pytest.mark.parametrize(
    ("path", "by", "says"),
    [
        ("water.lines.0.runs.0.flow", 1e-5, "flow of a run"),
        ("water.lines.0.runs.0.full", 2e-5, "full flow of a run"),
        ("water.lines.1.runs.0.design", -2e-5, "capacity of a run"),
        ("water.lines.0.runs.1.depth", 0.001, "depth of even flow"),
        ("water.lines.0.runs.1.velocity", 0.01, "velocity at the design flow"),
        ("water.storm.outflow", 1e-5, "water that the storm test loses"),
        ("water.storm.sources.0.inflow", 0.1, "water of a source in the storm"),
    ],
)
def test_a_changed_figure_is_found(scenes, planned, path, by, says):
    plan, site = planned
    assert any(says in message for message in told(scenes.changed(plan, path, by=by), site))


@pytest.mark.parametrize("figure", ["flow", "velocity"])
@pytest.mark.parametrize("part", [0.0013, -0.0013])
def test_a_small_roofs_figures_are_held_as_narrowly_as_a_large_ones(scenes, figure, part):
    """A roof of 4 m2 at some 100 mm/h runs 0.1 litre a second.

    A little over a part in a thousand is found, half of it is rounding.
    """
    plan, site = watered(scenes, 4.0)
    path = f"water.lines.0.runs.1.{figure}"
    stated = getattr(plan.water.lines[0].runs[1], figure)
    assert told(plan, site) == []
    assert told(scenes.changed(plan, path, by=part * stated), site)
    assert told(scenes.changed(plan, path, by=part / 2 * stated), site) == []


@pytest.mark.parametrize(("by", "found"), [(0.0004, False), (0.0006, True), (-0.0006, True)])
def test_a_depth_of_water_is_held_to_half_a_millimetre(scenes, planned, by, found):
    plan, site = planned
    assert bool(told(scenes.changed(plan, "water.lines.0.runs.1.depth", by=by), site)) == found


def test_a_line_left_out_or_made_up_is_found(planned):
    plan, site = planned
    fewer = replace(plan, water=replace(plan.water, lines=plan.water.lines[:1]))
    assert any("water of the line" in message for message in told(fewer, site))
    strange = replace(plan.water.lines[0], line="L9")
    more = replace(plan, water=replace(plan.water, lines=(*plan.water.lines, strange)))
    assert any("line whose water is stated" in message for message in told(more, site))


def test_levels_of_the_checks_and_of_the_planner_are_alike(planned):
    plan, site = planned
    for line in plan.water.lines:
        source = next(one for one in plan.lines if one.id == line.line).start
        clear = next(one for one in findings(plan, site) if one.rule == "tail-water" and one.subject == source)
        # nobody gave a rim: the check counts from the pipe's top at the source, the planner's spare from the ground
        # there
        top = next(one for one in plan.lines if one.id == line.line)
        crown = top.vertices[-1].invert + top.pipe_at(top.vertices[-1].station).bore
        assert clear.value == pytest.approx(line.rim_spare - (line.rim - crown), abs=0.005)


def test_a_plan_without_water_is_judged_all_the_same(planned):
    plan, site = planned
    bare = [one for one in findings(replace(plan, water=None), site) if one.rule == "run-capacity"]
    assert [one.status for one in bare] == ["pass", "pass"]
