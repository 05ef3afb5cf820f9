"""Sizes that are weighed while lines join, and outlets with room for so many lines, against every way tried."""

from __future__ import annotations

import importlib.util
import math
from pathlib import Path

import pytest

from siteplan.routes.labels import leg_of
from siteplan.routes.shared import solve

_spec = importlib.util.spec_from_file_location("sized_yards", Path(__file__).with_name("sized_yards.py"))
sized = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(sized)


def solved(case):
    gauges = sized.gauges_for(case)
    return solve(*gauges.kit(0, -math.inf), gauges=gauges, slack=0.0, most=lambda n: case.room[n])


@pytest.mark.parametrize("seed", range(14))
def test_lines_with_sizes_equal_every_way_tried(seed):
    case = sized.case_of(seed, most=4, side=5)
    everyone = (1 << len(case.sources)) - 1
    least = sized.least_by_all_ways(case)
    found = solved(case).best.get(everyone, (math.inf,))[0]
    assert found == pytest.approx(least, abs=1e-9)


def test_those_cases_are_of_every_sort():
    """Some need a larger pipe, some a steeper one, some part for want of room in the pipe.

    Some join for want of holes.
    """
    seen = {"larger": 0, "steeper": 0, "apart": 0, "joined": 0, "none": 0}
    for seed in range(14):
        case = sized.case_of(seed, most=4, side=5)
        network = solved(case)
        everyone = (1 << len(case.sources)) - 1
        if everyone not in network.best:
            seen["none"] += 1
            continue
        legs = [
            leg_of(network, bundle, network.arrivals[bundle, n].label, network.arrivals[bundle, n].size)
            for bundle, n in network.best[everyone][1]
        ]
        while legs:
            leg = legs.pop()
            legs += leg.above
            seen["larger"] += leg.size > 0
            seen["steeper"] += leg.grade > sized.GRADE
        seen["apart" if len(network.best[everyone][1]) > 1 else "joined"] += 1
    assert min(seen["larger"], seen["steeper"], seen["apart"], seen["joined"]) > 0
    assert seen["none"] < 7
