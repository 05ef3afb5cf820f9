"""Trees taken apart into lines, and lines joined at wyes."""

from __future__ import annotations

import importlib.util
import math
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from siteplan.routes.labels import Leg
from siteplan.routes.lines import station_of, ways_of, wyes
from siteplan.routes.straight import turn
from siteplan.values.laid_pipe import FittingKind

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).with_name("drawn_yards.py"))
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)


def leg(*cells, source=None, above=()):
    return Leg(cells=cells, source=source, above=above, cost=0.0)


def test_the_longer_arm_is_the_trunk():
    tree = leg(9, 10, above=(leg(1, 9, source=0), leg(2, 3, 4, 9, source=1)))
    trunk, branch = ways_of(tree)
    assert (trunk.source, trunk.cells, trunk.parent, trunk.carried) == (1, (2, 3, 4, 9, 10), None, (1, 0))
    assert (branch.source, branch.cells, branch.parent, branch.carried) == (0, (1, 9), 0, (0,))


def test_meetings_one_after_the_other_stay_on_one_trunk():
    tree = leg(
        20, 21, above=(leg(9, 10, 20, above=(leg(1, 9, source=0), leg(2, 3, 4, 9, source=1))), leg(30, 20, source=2))
    )
    ways = ways_of(tree)
    assert [way.parent for way in ways] == [None, 0, 0]
    assert ways[0].cells == (2, 3, 4, 9, 10, 20, 21)
    assert set(ways[0].carried) == {0, 1, 2}


@pytest.fixture(scope="module")
def round_the_house():
    places = [(9.7, 7.7), (14, 7.7), (18, 7.7), (22.3, 7.7), (22.3, 20.3), (18, 20.3), (14, 20.3), (9.7, 20.3)]
    site = yards.drawn(*(("downspout", place) for place in places), ("curb_outlet", (40.8, 5.0)))
    return site, yards.laid_out(site)


def test_eight_downspouts_share_one_trench_that_crosses_nothing(round_the_house):
    site, plan = round_the_house
    assert yards.served(plan) == {source.id for source in site.sources}
    assert yards.faults(site, plan) == []
    assert sum(line.end.startswith("O") for line in plan.lines) == 1
    # a branch that the trunk had left aside would be many metres long
    assert max(line.length for line in plan.lines if len(line.sources) == 1) < 4.0


def test_branches_join_with_the_flow_and_above_the_outlet_zone(round_the_house):
    site, plan = round_the_house
    from siteplan.books import rules

    lines = {line.id: line for line in plan.lines}
    zone = rules.limit(site.rules, rules.OUTLET_ZONE)
    branches = [line for line in plan.lines if line.end in lines]
    assert branches
    for branch in branches:
        trunk = lines[branch.end]
        end, before = branch.vertices[0], branch.vertices[1]
        k = next(k for k, v in enumerate(trunk.vertices) if math.dist((v.x, v.y), (end.x, end.y)) < 1e-9)
        assert trunk.vertices[k].station > zone
        below = trunk.vertices[k - 1]
        assert turn((before.x, before.y), (end.x, end.y), (below.x, below.y)) <= 95.1
        assert trunk.vertices[k].has(FittingKind.WYE)
        assert end.fittings[0].kind is FittingKind.WYE


def test_sources_at_one_point_share_the_line_itself():
    site = yards.drawn(
        ("downspout", (22.3, 8.3)), ("downspout", (22.3, 8.3), {"name": "twin"}), ("curb_outlet", (40.8, 5.0))
    )
    plan = yards.laid_out(site)
    (line,) = plan.lines
    assert set(line.sources) == {"S1", "S2"}
    assert any("comes in from above" in row.note for row in line.rows)
    assert all(c.chosen for c in plan.candidates if c.sources in {("S1",), ("S2",)})


@pytest.mark.parametrize("seed", range(8))
def test_lines_on_rough_ground_keep_every_limit(seed):
    drive = ("driveway", yards.box(22, 9, 18, 3))
    site = yards.drawn(
        ("downspout", (22.3, 7.7)),
        ("downspout", (14.0, 20.3)),
        ("sump", (9.7, 14.0)),
        ("curb_outlet", (40.8, 4.0 + seed * 2.5)),
        *([drive] if seed % 2 else []),
        ("no_dig", yards.box(26, 15, 2, 4)),
        ground=yards.rough(seed, 0.06),
        asked={"min_cover_pavement_m": 0.3},
    )
    plan = yards.laid_out(site)
    assert yards.faults(site, plan) == []
    able = {c.sources[0] for c in plan.candidates if c.feasible and len(c.sources) == 1}
    assert able <= yards.served(plan)


def test_station_of_a_place():
    assert station_of(((0.0, 0.0), (4.0, 0.0), (4.0, 3.0)), (5.0, 2.0)) == pytest.approx(6.0)


@pytest.mark.parametrize(
    ("meeting", "first", "last"), [(50.0, 44.0, 55.5), (2.0, 0.3, 7.8), (98.0, 92.0, 99.5), (99.6, 93.6, 99.6)]
)
def test_a_branch_may_join_six_metres_either_way_and_a_foot_off_the_ends(meeting, first, last):
    """Looked at every half metre: ours. A fitting wants a foot of pipe beyond it: common practice, no source."""
    station = np.array([0.0, 100.0])
    trace = SimpleNamespace(
        corners=((0.0, 0.0), (100.0, 0.0)), corner_stations=(0.0, 100.0), station=station, floor=station * 0.0
    )
    target = wyes(
        SimpleNamespace(trace=trace, outlet=None),
        [(meeting, 3.0), (meeting, 0.0)],
        SimpleNamespace(grade=0.01, zone=0.0),
    )
    at = [x for x, _ in target.places]
    assert min(at) == pytest.approx(first)
    assert max(at) == pytest.approx(last, abs=0.26)
    assert max(at) <= min(meeting + 6.0, 99.7) + 1e-6
