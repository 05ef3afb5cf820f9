"""Small random yards with flows, sizes of pipe and outlets, and the cheapest lines by trying every way.

Apart from what they judge.
"""

from __future__ import annotations

import heapq
import importlib.util
import itertools
import math
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from siteplan.books.prices import Prices
from siteplan.routes.ends import End, Start
from siteplan.routes.shared import Gauges, Kit
from siteplan.routes.terms import Terms
from siteplan.routes.yard import Yard

_spec = importlib.util.spec_from_file_location("small_yards", Path(__file__).with_name("small_yards.py"))
assert _spec is not None
assert _spec.loader is not None
small = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(small)

CELL, GRADE, STEEPEST = 0.5, 0.01, 0.03
DIGGING, DEEP, BELOW, LADDER, WYE = 1.2, 4.0, 0.1, 0.6, 0.3


class Size(NamedTuple):
    """How much lower its ceilings lie [m], what a metre costs more, flow at a fall of 1 in 1."""

    lower: float
    dearer: float
    flow: float


class SizedCase(NamedTuple):
    """A yard, cells of sources, their flows, outlets as (cell, control), lines that each takes (None: any), sizes."""

    yard: tuple[Any, ...]
    sources: tuple[tuple[int, int], ...]
    flows: tuple[float, ...]
    outlets: tuple[tuple[tuple[int, int], float], ...]
    room: tuple[int | None, ...]
    sizes: tuple[Size, ...]


def case_of(seed: int, most: int = 5, side: int = 6) -> SizedCase:
    """A case: two or three sizes, of which the smallest often carries one source and not all."""
    rng = np.random.default_rng(7000 + seed)
    count, outlets = int(rng.integers(2, most + 1)), int(rng.integers(1, 4))
    rows, cols = side, side + int(rng.integers(0, 2))
    yard = small.random_yard(9000 + seed, rows, cols, holes=0.08, depth=float(rng.choice([0.8, 1.1])))
    ground = yard[0] - float(rng.uniform(0.0, 0.06)) * np.arange(cols)[None, :]
    yard = (ground, yard[1] + ground - yard[0], yard[2] + ground - yard[0], yard[3], yard[4])
    places = [(int(r), int(c)) for r in range(rows) for c in range(cols)]
    picked = [places[k] for k in rng.permutation(len(places))[: count + outlets]]
    for place in picked:
        yard[3][place] = True
    ends = tuple((place, float(yard[2][place] + rng.uniform(0.0, 0.25))) for place in picked[count:])
    flows = tuple(float(rng.uniform(0.4, 1.6)) for _ in range(count))
    carries = float(rng.uniform(0.8, 2.2)) * max(flows) / math.sqrt(GRADE)
    sizes = tuple(Size(0.06 * k, 0.35 * k, carries * 2.0**k) for k in range(int(rng.integers(2, 4))))
    room = tuple(None if rng.random() < 0.7 else int(rng.integers(1, 3)) for _ in ends)
    return SizedCase(yard, tuple(picked[:count]), flows, ends, room, sizes)


def grade_for(case: SizedCase, bundle: int, size: int) -> float | None:
    """Least grade at which a size carries a bundle: flow grows with the square root of the fall."""
    flow = sum(f for k, f in enumerate(case.flows) if bundle >> k & 1)
    grade = max(GRADE, (flow / case.sizes[size].flow) ** 2)
    return grade if grade <= STEEPEST else None


def least_by_all_ways(case: SizedCase) -> float:
    """Cheapest lines over every way to join, every size of every line, every outlet; infinite where there are none.

    Every pair of cost and invert that nothing beats is kept in every cell: nothing is bounded, nothing counts as equal.
    """
    ground, ceiling, floor, is_open, rate = case.yard
    out: dict[Any, list[Any]] = {}
    for edge in small.edges(is_open, 16):
        out.setdefault(edge[0], []).append(edge)
    everyone = (1 << len(case.sources)) - 1
    fronts: dict[tuple[int, int], dict[Any, list[tuple[float, float]]]] = {}

    def spread(seeds: list[tuple[float, float, Any]], size: int, grade: float) -> dict[Any, list[tuple[float, float]]]:
        top, kept = ceiling - case.sizes[size].lower, {}
        heap = [(cost, -z, cell) for cost, z, cell in seeds]
        heapq.heapify(heap)
        while heap:
            cost, low, cell = heapq.heappop(heap)
            front = kept.setdefault(cell, [])
            if front and front[-1][1] >= -low:
                continue
            front.append((cost, -low))
            for a, b, beside in out.get(cell, []):
                inverts = small.step(-low, a, b, beside, top, floor, CELL, grade)
                if inverts is not None:
                    more = small.step_cost(
                        inverts,
                        a,
                        b,
                        beside,
                        ground,
                        rate + case.sizes[size].dearer,
                        CELL,
                        (DIGGING, DEEP, BELOW, LADDER),
                    )
                    heapq.heappush(heap, (cost + more, -inverts[-1], b))
        return kept

    arrivals: dict[tuple[int, int], float] = {}
    for bundle in range(1, everyone + 1):
        for size in range(len(case.sizes)):
            grade = grade_for(case, bundle, size)
            if grade is None:
                continue
            seeds: list[tuple[float, float, Any]] = []
            if bundle.bit_count() == 1:
                cell = case.sources[bundle.bit_length() - 1]
                seeds = [(0.0, ceiling[cell] - case.sizes[size].lower, cell)]
            for a in range(1, bundle):
                b = bundle ^ a
                if a & ~bundle:
                    continue
                for other in range(size + 1):  # a is the trunk, in this size
                    one, two = fronts.get((a, size), {}), fronts.get((b, other), {})
                    seeds += [
                        (c1 + c2 + WYE, min(z1, z2), cell)
                        for cell in one.keys() & two.keys()
                        for c1, z1 in one[cell]
                        for c2, z2 in two[cell]
                    ]
            fronts[bundle, size] = spread(seeds, size, grade)
            for n, (cell, control) in enumerate(case.outlets):
                for cost, z in fronts[bundle, size].get(cell, []):
                    if z >= control:
                        arrivals[bundle, n] = min(cost, arrivals.get((bundle, n), math.inf))
    least = math.inf
    for parts in _partitions(list(range(len(case.sources)))):
        bundles = [sum(1 << k for k in part) for part in parts]
        for ends in itertools.product(range(len(case.outlets)), repeat=len(parts)):
            if any(room is not None and ends.count(n) > room for n, room in enumerate(case.room)):
                continue
            least = min(least, sum(arrivals.get(pair, math.inf) for pair in zip(bundles, ends, strict=True)))
    return least


def _partitions(members: list[int]) -> list[list[list[int]]]:
    if not members:
        return [[]]
    first, rest = members[0], members[1:]
    found = []
    for parts in _partitions(rest):
        found.append([[first], *parts])
        found += [[*parts[:k], [first, *parts[k]], *parts[k + 1 :]] for k in range(len(parts))]
    return found


def gauges_for(case: SizedCase) -> Gauges:
    """The same case as a search takes it."""
    ground, ceiling, floor, is_open, rate = case.yard
    rows, cols = ceiling.shape
    yard = Yard(
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
    )  # type: ignore[arg-type]
    terms = Terms(
        grade=GRADE,
        grade_max=None,
        drop=None,
        rise=0.1,
        below=BELOW,
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
        ladder=LADDER,
    )

    def node(cell: tuple[int, int]) -> int:
        return (cell[0] + 2) * (cols + 4) + cell[1] + 2

    def kit(size: int, grade: float) -> Kit:
        lower, dearer, _ = case.sizes[size]
        zero = np.array([0.0])
        return Kit(
            replace(yard, ceiling=yard.ceiling - lower, rate=yard.rate + dearer),
            [
                Start(nodes=np.array([node(cell)]), inverts=np.array([ceiling[cell] - lower]), costs=zero)
                for cell in case.sources
            ],
            [
                End(
                    nodes=np.array([node(cell)]),
                    lengths=zero,
                    caps=np.array([1e9]),
                    needs=np.array([control]),
                    costs=zero,
                    tops=np.array([-1e9]),
                    digging=zero,
                    free=np.array([1e9]),
                )
                for cell, control in case.outlets
            ],
            terms._replace(grade=max(GRADE, grade)),
            Prices(digging=DIGGING, deep=DEEP, wye=WYE),
        )

    far = min(math.dist(a, b) * CELL for a in case.sources for b, _ in case.outlets)
    return Gauges(
        count=len(case.sizes),
        kit=kit,
        grade=lambda bundle, size: grade_for(case, bundle, size),
        larger=case.sizes[1].dearer * far,
    )
