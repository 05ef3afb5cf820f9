"""What is delivered is moved until nothing near is cheaper: bends, wyes, and lines beside what costs much to cross."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from unittest import mock

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from siteplan.yard import groups
from siteplan.yard.costs import delivered_cost
from siteplan.yard.trees import tangles

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).parents[1] / "routes" / "drawn_yards.py")
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)


def both(site):
    """Cost before and after bends and wyes are moved, and the plan."""
    costs = []
    improved = groups.improved

    def spied(scene, trees, **more):
        better = improved(scene, trees, **more)
        costs.append([sum(delivered_cost(scene, tree) for tree in one) for one in (trees, better)])
        assert [{s.id for o in tree.laid for s in o.carried} for tree in better] == [
            {s.id for o in tree.laid for s in o.carried} for tree in trees
        ]
        assert len(tangles([tree.laid for tree in better])) <= len(tangles([tree.laid for tree in trees]))
        return better

    with mock.patch.object(groups, "improved", spied):
        plan = yards.laid_out(site)
    return costs[-1], plan


@pytest.mark.parametrize("seed", range(4))
def test_moved_lines_are_never_dearer_and_keep_every_limit(seed):
    rng = np.random.default_rng(seed)
    site = yards.drawn(
        ("downspout", (22.3, float(rng.uniform(8.3, 12)))),
        ("downspout", (9.7, 19.7)),
        ("downspout", (22.3, 19.0)),
        ("curb_outlet", (40.8, float(rng.uniform(2, 28)))),
        ("driveway", yards.box(24, float(rng.uniform(8, 14)), 16, 3)),
        ("tree", (float(rng.uniform(26, 36)), float(rng.uniform(4, 26)))),
        ground=yards.rough(seed, 0.12),
    )
    (before, after), plan = both(site)
    assert after <= before + 1e-9
    assert yards.faults(site, plan) == []
    if seed == 0:
        assert after < before - 0.1, "the first of these lots had a bend and a wye to gain by"


def test_a_line_lies_beside_a_drive_and_not_under_it():
    """The drive's edge runs 10 degrees off the way: under it a metre costs eleven times as much as beside it."""
    drive = [(24, 9.0), (40, 6.2), (40, 9.2), (24, 12.0)]
    site = yards.drawn(("downspout", (22.3, 8.5)), ("daylight_outlet", (39.0, 5.0)), ("driveway", drive))
    _, plan = both(site)
    (line,) = plan.lines
    under = LineString([(v.x, v.y) for v in line.vertices]).intersection(Polygon(drive)).length
    assert under < 0.5


def test_a_plan_says_what_its_lines_cost_on_the_net_and_as_delivered():
    site = yards.drawn(("downspout", (22.3, 9.0)), ("downspout", (9.7, 19.7)), ("curb_outlet", (40.8, 5.0)))
    (_, after), plan = both(site)
    (told,) = plan.search
    assert told.delivered is not None
    trenches = sum(line.cost for line in plan.lines)
    assert told.delivered >= trenches, "bends, wyes and settings of the grade come on top of the trenches"
    assert told.delivered >= after - 1e-9, "margins are bought, never paid out"
    assert told.delivered < 1.25 * told.cost
