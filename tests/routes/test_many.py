"""More sources than are joined in every way.

Against every way on small nets, the bound never over it, the same answer again.
"""

from __future__ import annotations

import importlib.util
import math
from dataclasses import replace
from pathlib import Path

import pytest

from siteplan.routes.bounds import least_cost
from siteplan.routes.many import searched
from siteplan.routes.shared import Gauges, grow_all, search_of
from siteplan.values.tried import SearchEffort

_spec = importlib.util.spec_from_file_location("sized_yards", Path(__file__).with_name("sized_yards.py"))
sized = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(sized)

WHOLE = SearchEffort(gap=0.0, steps=10_000)


def case_of(seed, count):
    """A case of exactly so many sources, outlets with room for any number.

    One size that carries all or several that do not.
    """
    cases = (sized.case_of(900 + 37 * seed + k, most=7, side=7) for k in range(200))
    case = next(one for one in cases if len(one.sources) == count)
    return case._replace(room=(None,) * len(case.outlets))


def plain(gauges):
    return Gauges(count=1, kit=gauges.kit, grade=lambda _bundle, _size: sized.GRADE)


def with_last_runs(gauges, cost):
    """The same with a last run to each outlet that costs something, as on a lot."""

    def kit(size, grade):
        made = gauges.kit(size, grade)
        return made._replace(ends=[replace(end, costs=end.costs + cost) for end in made.ends])

    return replace(gauges, kit=kit)


def all_ways(gauges, bundles):
    search = search_of(gauges, slack=0.0)
    grow_all(search, range(1, bundles + 1))
    return search.best.get(bundles, (math.inf,))[0]


@pytest.mark.parametrize("several_sizes", [False, True])
@pytest.mark.parametrize("seed", range(6))
def test_many_sources_come_near_every_way_and_stay_over_the_bound(seed, several_sizes):
    case = case_of(seed, 6 + seed % 2)
    gauges = sized.gauges_for(case)
    gauges = gauges if several_sizes else plain(gauges)
    search = search_of(gauges, slack=0.0)
    result = searched(search, [(c, -r) for r, c in case.sources], WHOLE)
    if result is None:
        return
    least = all_ways(gauges, search.everyone) if search.everyone.bit_count() == len(case.sources) else None
    assert result.bound <= result.cost
    if least is not None:
        assert result.bound <= least + 1e-9
        assert least - 1e-9 <= result.cost <= 1.08 * least


def test_those_cases_are_served():
    served = [
        searched(
            search_of(plain(sized.gauges_for(case_of(seed, 6 + seed % 2)))),
            [(c, -r) for r, c in case_of(seed, 6 + seed % 2).sources],
            WHOLE,
        )
        for seed in range(6)
    ]
    assert sum(one is not None and one.sources >= 5 for one in served) >= 4


def test_the_bound_of_one_source_is_near_its_cheapest_way():
    """With one source nothing is shared.

    Only a way that is cheaper and lower than another keeps the bound under the cost.
    """
    near = []
    for seed in range(8):
        case = case_of(seed, 6)
        one = case._replace(sources=case.sources[:1], flows=case.flows[:1])
        search = search_of(with_last_runs(plain(sized.gauges_for(one)), 1.5), slack=0.0)
        grow_all(search, [1])
        if 1 in search.best:
            near.append(least_cost(search) / search.best[1][0])
    assert len(near) > 3
    assert max(near) <= 1 + 1e-9
    assert sorted(near)[len(near) // 2] > 0.98


def test_work_asked_for_stops_it_and_the_same_work_gives_the_same_lines():
    gauges = plain(sized.gauges_for(case_of(1, 7)))
    places = [(c, -r) for r, c in case_of(1, 7).sources]
    results = [searched(search_of(gauges), places, replace(WHOLE, steps=steps)) for steps in (1, 1, 10_000)]
    assert results[0] == results[1]
    assert results[0].stopped == "steps"
    assert results[2].stopped in {"no-better", "gap"}
    assert results[2].cost <= results[0].cost + 1e-9
    assert searched(search_of(gauges), places, replace(WHOLE, gap=10.0)).stopped == "gap"


def test_whoever_listens_is_told_how_far_it_is():
    case = case_of(1, 7)
    heard = []
    searched(
        search_of(plain(sized.gauges_for(case))),
        [(c, -r) for r, c in case.sources],
        WHOLE,
        lambda *told: heard.append(told),
    )
    shares = [share for share, _ in heard]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert heard[-1][1] < math.inf
