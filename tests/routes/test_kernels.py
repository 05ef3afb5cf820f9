"""The sweeps against exhaustion on small yards: every value, not a sample."""

from __future__ import annotations

import importlib.util
import itertools
import math
from pathlib import Path

import numpy as np
import pytest

from siteplan.books.prices import Prices
from siteplan.routes import kernels, labels, shared
from siteplan.routes.ends import End, Start
from siteplan.routes.reach import reach_sweep
from siteplan.routes.terms import Terms
from siteplan.routes.yard import Yard

_spec = importlib.util.spec_from_file_location("small_yards", Path(__file__).with_name("small_yards.py"))
small = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(small)

CELL, GRADE = 0.5, 0.02
PRICE = (1.2, 4.0, 0.1, 0.6)


def reach_of(yard, start, neighbours, grade=GRADE):
    _, ceiling, floor, is_open, _ = yard
    cols = ceiling.shape[1] + 4
    node = (start[0] + 2) * cols + start[1] + 2
    best = reach_sweep(
        small.padded(ceiling, -np.inf),
        small.padded(floor, np.inf),
        small.padded(is_open, 0).astype(np.uint8),
        np.zeros((ceiling.shape[0] + 4) * cols, np.int32),
        kernels.moves(neighbours, cols),
        CELL,
        grade,
        np.array([node]),
        np.array([ceiling[start]]),
    )
    return best.reshape(ceiling.shape[0] + 4, cols)[2:-2, 2:-2]


def reach_by_exhaustion(yard, start, neighbours, grade=GRADE):
    """Value iteration over all edges until nothing rises."""
    _, ceiling, floor, is_open, _ = yard
    best = np.full(ceiling.shape, -np.inf)
    if is_open[start]:
        best[start] = ceiling[start]
    every = list(small.edges(is_open, neighbours))
    rising = True
    while rising:
        rising = False
        for a, b, beside in every:
            if best[a] > -np.inf:
                inverts = small.step(best[a], a, b, beside, ceiling, floor, CELL, grade)
                if inverts and inverts[-1] > best[b]:
                    best[b] = inverts[-1]
                    rising = True
    return best


@pytest.mark.parametrize("seed", range(200))
def test_reach_equals_exhaustion(seed):
    rng = np.random.default_rng(1000 + seed)
    rows, cols = int(rng.integers(3, 9)), int(rng.integers(3, 9))
    neighbours = 8 if seed % 2 else 16
    yard = small.random_yard(seed, rows, cols, depth=float(rng.choice([0.55, 0.7, 1.2])))
    yard[3][0, 0] = True
    grade = float(rng.choice([0.005, 0.02, 0.06]))
    found = reach_of(yard, (0, 0), neighbours, grade)
    want = reach_by_exhaustion(yard, (0, 0), neighbours, grade)
    assert np.array_equal(np.isfinite(found), np.isfinite(want))
    both = np.isfinite(want)
    np.testing.assert_allclose(found[both], want[both], rtol=0, atol=1e-12)


def test_some_of_those_yards_are_hard():
    """The comparison above would be empty if everything could be reached, or nothing."""
    shares = []
    for seed in range(200):
        rng = np.random.default_rng(1000 + seed)
        rows, cols = int(rng.integers(3, 9)), int(rng.integers(3, 9))
        yard = small.random_yard(seed, rows, cols, depth=float(rng.choice([0.55, 0.7, 1.2])))
        yard[3][0, 0] = True
        best = reach_of(yard, (0, 0), 16)
        shares.append(np.isfinite(best).sum() / yard[3].sum())
    assert 0.2 < np.mean(shares) < 0.95
    assert sum(0.1 < share < 0.9 for share in shares) > 40


def yard_value(yard):
    ground, ceiling, floor, is_open, rate = yard
    rows, cols = ceiling.shape
    return Yard(
        west=0.0,
        north=0.0,
        cell=CELL,
        rows=rows + 4,
        cols=cols + 4,
        ground=small.padded(ground, 0),
        ceiling=small.padded(np.where(is_open, ceiling, -np.inf), -np.inf),
        floor=small.padded(np.where(is_open, floor, np.inf), np.inf),
        rate=small.padded(rate, 1),
        is_open=small.padded(is_open, 0).astype(np.uint8),
        shut=np.zeros((rows + 4) * (cols + 4), np.int32),
        grounds=None,
    )


TERMS = Terms(
    grade=GRADE,
    grade_max=None,
    drop=None,
    rise=0.1,
    below=PRICE[2],
    cover=0.4,
    cover_pavement=0.4,
    depth=0.9,
    zone=0.0,
    zone_cover=0.0,
    stretch=0.0,
    start_zone=0.0,
    daylight_allowance=0.0,
    half_trench=0.15,
    wall_clearance=0.3,
    retaining=0.0,
    steep=None,
    apart=0.0,
    ladder=PRICE[3],
)
PRICES = Prices(digging=PRICE[0], deep=PRICE[1], wye=0.3)


def fan_start(yard, cell):
    node = (cell[0] + 2) * (yard[1].shape[1] + 4) + cell[1] + 2
    return Start(nodes=np.array([node]), inverts=np.array([yard[1][cell]]), costs=np.array([0.0]))


def fan_end(yard, cell, control):
    node = (cell[0] + 2) * (yard[1].shape[1] + 4) + cell[1] + 2
    zero = np.array([0.0])
    return End(
        nodes=np.array([node]),
        lengths=zero,
        caps=np.array([1e9]),
        needs=np.array([control]),
        costs=zero,
        tops=np.array([-1e9]),
        digging=zero,
        free=np.array([1e9]),
    )


def pareto_by_exhaustion(yard, start, neighbours, z0):
    """Every (cost, invert) with which some path without a repeated cell arrives at each cell."""
    ground, ceiling, floor, is_open, rate = yard
    out: dict = {}
    for edge in small.edges(is_open, neighbours):
        out.setdefault(edge[0], []).append(edge)
    found: dict = {}

    def walk(at, seen, cost, z):
        found.setdefault(at, []).append((cost, z))
        for a, b, beside in out.get(at, []):
            if b in seen:
                continue
            inverts = small.step(z, a, b, beside, ceiling, floor, CELL, GRADE)
            if inverts is not None:
                walk(
                    b, seen | {b}, cost + small.step_cost(inverts, a, b, beside, ground, rate, CELL, PRICE), inverts[-1]
                )

    walk(start, {start}, 0.0, z0)
    return found


@pytest.mark.parametrize("seed", range(12))
def test_route_cost_equals_exhaustion(seed):
    yard = small.random_yard(500 + seed, 3, 3, holes=0.1, depth=0.62 if seed % 3 else 1.0)
    yard[3][0, 0] = yard[3][2, 2] = True
    every = pareto_by_exhaustion(yard, (0, 0), 8, yard[1][0, 0])
    arrivals = every.get((2, 2), [])
    controls = sorted({z for _, z in arrivals})
    control = controls[len(controls) // 2] - 1e-9 if controls else yard[2][2, 2]
    want = min((cost for cost, z in arrivals if z >= control), default=None)
    solved = shared.solve(
        yard_value(yard),
        [fan_start(yard, (0, 0))],
        [fan_end(yard, (2, 2), control)],
        TERMS,
        PRICES,
        slack=0.0,
        neighbours=8,
    )
    found = solved.arrivals.get((1, 0))
    if want is None:
        assert found is None
    else:
        assert found is not None
        assert found.cost == pytest.approx(want, abs=1e-9)
        assert found.invert >= control


def label_search(yard, start, goal, control, *, z0=None, neighbours=16):
    """Plain label-correcting search that keeps every undominated (cost, invert): exact on larger yards."""
    ground, ceiling, floor, is_open, rate = yard
    out: dict = {}
    for edge in small.edges(is_open, neighbours):
        out.setdefault(edge[0], []).append(edge)
    first = (0.0, ceiling[start] if z0 is None else z0)
    kept: dict = {start: [first]}
    todo = [(start, first)]
    while todo:
        at, label = todo.pop()
        if label not in kept[at]:
            continue
        for a, b, beside in out.get(at, []):
            inverts = small.step(label[1], a, b, beside, ceiling, floor, CELL, GRADE)
            if inverts is None:
                continue
            new = (label[0] + small.step_cost(inverts, a, b, beside, ground, rate, CELL, PRICE), inverts[-1])
            old = kept.setdefault(b, [])
            if any(cost <= new[0] and z >= new[1] for cost, z in old):
                continue
            old[:] = [other for other in old if not (new[0] <= other[0] and new[1] >= other[1])] + [new]
            todo.append((b, new))
    return min((cost for cost, z in kept.get(goal, []) if z >= control), default=None)


@pytest.mark.parametrize("seed", range(16))
def test_route_cost_equals_label_search(seed):
    yard = small.random_yard(900 + seed, 7, 8, depth=0.75)
    yard[3][0, 0] = yard[3][6, 7] = True
    control = yard[2][6, 7]
    want = label_search(yard, (0, 0), (6, 7), control)
    solved = shared.solve(
        yard_value(yard), [fan_start(yard, (0, 0))], [fan_end(yard, (6, 7), control)], TERMS, PRICES, slack=0.0
    )
    found = solved.arrivals.get((1, 0))
    assert (found is None) == (want is None)
    if found is not None:
        assert found.cost == pytest.approx(want, abs=1e-9)


@pytest.mark.parametrize("seed", range(10))
def test_shared_trench_equals_exhaustion(seed):
    """Two sources, one outlet: every meeting cell, every pair of paths to it, the best way on from there."""
    yard = small.random_yard(2000 + seed, 3, 3, holes=0.0, depth=0.8)
    ceiling = yard[1]
    goal, control = (2, 2), yard[2][2, 2]
    one = pareto_by_exhaustion(yard, (0, 0), 8, ceiling[0, 0])
    two = pareto_by_exhaustion(yard, (0, 2), 8, ceiling[0, 2])
    apart = sum(min((cost for cost, z in each.get(goal, []) if z >= control), default=math.inf) for each in (one, two))
    want = apart
    for cell in one:
        if cell not in two:
            continue
        pairs = {(c1 + c2 + PRICES.wye, min(z1, z2)) for c1, z1 in _front(one[cell]) for c2, z2 in _front(two[cell])}
        for cost, z in pairs:
            onward = label_search(yard, cell, goal, control, z0=z, neighbours=8)
            want = want if onward is None else min(want, cost + onward)
    solved = shared.solve(
        yard_value(yard),
        [fan_start(yard, (0, 0)), fan_start(yard, (0, 2))],
        [fan_end(yard, goal, control)],
        TERMS,
        PRICES,
        neighbours=8,
        slack=0.0,
    )
    if math.isinf(want):
        assert 3 not in solved.best
    else:
        assert solved.best[3][0] == pytest.approx(want, abs=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_bundles_that_no_outlet_can_have_are_left_out_and_nothing_else(seed, monkeypatch):
    """With every bundle searched, whether or not it can arrive, the arrivals and the cheapest ways are the same."""
    yard = small.random_yard(2600 + seed, 7, 7, holes=0.0, depth=1.5)
    corners = ((0, 0), (0, 6), (3, 0))
    for cell in (*corners, (6, 6)):
        yard[3][cell] = True
    highest = [reach_of(yard, corner, 16)[6, 6] for corner in corners]
    control = min(highest) + 1e-3  # the lowest of the three cannot arrive
    lowest = 1 << int(np.argmin(highest))
    given = yard_value(yard), [fan_start(yard, cell) for cell in corners], [fan_end(yard, (6, 6), control)], TERMS
    lean, alone = shared.solve(*given, PRICES), shared.solve(*given, PRICES, all_or_none=True)
    monkeypatch.setattr(shared, "_ever", lambda spare, bundle, allowed: True)
    whole = shared.solve(*given, PRICES)
    assert (lean.arrivals, lean.best) == (whole.arrivals, whole.best)
    assert not alone.labels
    several = [bundle for bundle in range(1, 8) if bundle & lowest and bundle != lowest]
    assert [bundle for bundle, grown in lean.labels.items() if not grown.node.size] == several
    assert whole.labels[7].node.size
    assert not any(bundle & lowest for bundle, _ in whole.arrivals)


def _front(pairs):
    kept: list = []
    for cost, z in sorted(pairs, key=lambda pair: (pair[0], -pair[1])):
        if not kept or z > kept[-1][1]:
            kept.append((cost, z))
    return kept


@pytest.mark.parametrize("seed", range(6))
def test_mirrored_and_turned_yards_cost_the_same(seed):
    yard = small.random_yard(3000 + seed, 7, 7, depth=0.9)
    yard[3][0, 0] = yard[3][6, 6] = yard[3][0, 6] = True
    costs = []
    for turned in (lambda f: f, lambda f: f.T, lambda f: f[::-1, ::-1]):
        fields = tuple(np.ascontiguousarray(turned(field)) for field in yard)
        marks = np.zeros((7, 7), int)
        marks[0, 0], marks[0, 6], marks[6, 6] = 1, 2, 3
        at = {int(v): tuple(int(k) for k in np.argwhere(turned(marks) == v)[0]) for v in (1, 2, 3)}
        solved = shared.solve(
            yard_value(fields),
            [fan_start(fields, at[1]), fan_start(fields, at[2])],
            [fan_end(fields, at[3], fields[2][at[3]])],
            TERMS,
            PRICES,
            slack=0.0,
        )
        costs.append(solved.best.get(3, (None,))[0])
    assert costs[0] is None or costs == pytest.approx([costs[0]] * 3, abs=1e-9)


def test_moves_are_8_or_16():
    with pytest.raises(ValueError, match="8 or 16"):
        kernels.moves(4, 10)


def test_tree_reads_back_to_its_cost():
    """The legs of a solved network, walked again by the test's own step, arrive with the cost that was promised."""
    yard = small.random_yard(77, 8, 8, holes=0.05, depth=1.0)
    for cell in ((0, 0), (0, 7), (7, 7)):
        yard[3][cell] = True
    starts = [fan_start(yard, (0, 0)), fan_start(yard, (0, 7))]
    solved = shared.solve(yard_value(yard), starts, [fan_end(yard, (7, 7), yard[2][7, 7])], TERMS, PRICES, slack=0.0)
    cost, parts = solved.best[3]
    total = 0.0
    beside_of = {(a, b): beside for a, b, beside in small.edges(yard[3], 16)}

    def walk(leg):
        spent, z = 0.0, None
        if leg.source is not None:
            cell = divmod(leg.cells[0], 12)
            z = yard[1][cell[0] - 2, cell[1] - 2]
        else:
            (c1, z1), (c2, z2) = (walk(arm) for arm in leg.above)
            spent, z = c1 + c2 + PRICES.wye, min(z1, z2)
        cells = [(node // 12 - 2, node % 12 - 2) for node in leg.cells]
        for a, b in itertools.pairwise(cells):
            inverts = small.step(z, a, b, beside_of[a, b], yard[1], yard[2], CELL, GRADE)
            assert inverts is not None
            spent += small.step_cost(inverts, a, b, beside_of[a, b], yard[0], yard[4], CELL, PRICE)
            z = inverts[-1]
        return spent, z

    for bundle, number in parts:
        arrival = solved.arrivals[bundle, number]
        total += walk(labels.leg_of(solved, bundle, arrival.label))[0]
    assert total == pytest.approx(cost, abs=1e-9)
