"""How near to the least cost a search over many sources comes, and how near to it the printed bound is.

    python benchmarks/many_sources.py [--lots 60] [--first 0] [--least 6] [--most 10] [--cell 1.5]

Invented lots with a house, a drive at times, 6 to 10 sources round the house and in the yard, one to three outlets. On
each the search of `siteplan/routes/many.py` is set against every way to join the sources, which takes 2**n bundles and
up to half a minute a lot. Prints a row a lot and the medians; ends with 1 where the median gap is over 2 %, one over 8
%, or a bound over the least cost.
"""

from __future__ import annotations

import argparse
import importlib.util
import math
import random
import statistics
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).parents[1]
_spec = importlib.util.spec_from_file_location("drawn_yards", ROOT / "tests" / "routes" / "drawn_yards.py")
assert _spec is not None
assert _spec.loader is not None
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)

from siteplan.books.prices import DEFAULT_PRICES  # noqa: E402
from siteplan.routes.many import searched  # noqa: E402
from siteplan.routes.outlets import named_outlets  # noqa: E402
from siteplan.routes.shared import Search, grow_all, one_size, search_of  # noqa: E402
from siteplan.values.tried import SearchEffort  # noqa: E402
from siteplan.yard.groups import yard_scene  # noqa: E402


def lot(number: int, least: int, most: int) -> tuple[Any, int]:
    """A site with its count of sources."""
    pick = random.Random(f"many {number}")
    count = least + number % (most - least + 1)
    slope, aside = pick.uniform(0.02, 0.045), pick.uniform(-0.01, 0.01)
    bumps = [(pick.uniform(0, 40), pick.uniform(0, 30), pick.uniform(-0.25, 0.2), pick.uniform(2, 8)) for _ in range(4)]

    def ground(x: Any, y: Any) -> Any:
        x, y = np.asarray(x, float), np.asarray(y, float)
        z = 30 - slope * x + aside * y - 1.4 * np.clip((x - 33) / 5, 0, 1)
        for east, north, high, wide in bumps:
            z = z + high * np.exp(-((x - east) ** 2 + (y - north) ** 2) / wide**2)
        return z

    features: list[Any] = []
    for k in range(count):
        side = pick.randrange(5)
        along = pick.uniform(0, 1)
        place = {
            0: (10 + 12 * along, 7.6),
            1: (22.4, 8 + 12 * along),
            2: (10 + 12 * along, 20.4),
            3: (9.6, 8 + 12 * along),
            4: (pick.uniform(2, 32), pick.choice([pick.uniform(1.5, 6), pick.uniform(22, 28)])),
        }[side]
        features.append(("downspout", place, {"roof_area": 30.0 + 5 * k}))
    outlets = [("curb_outlet", (40.8, pick.uniform(3, 27)))]
    if pick.random() < 0.6:
        outlets.append(("daylight_outlet", (38.0, pick.uniform(2, 28))))
    if pick.random() < 0.3:
        outlets.append(("daylight_outlet", (pick.uniform(25, 36), 1.5)))
    if pick.random() < 0.5:
        features.append(("driveway", yards.box(22, pick.uniform(8, 16), 18, 3)))
    return yards.drawn(*features, *outlets, ground=ground, house=yards.box(10, 8, 12, 12)), count


def searches(site: Any, cell: float) -> tuple[Search, Search, list[tuple[float, float]]]:
    """Two searches over one lot, before anything is grown, and the places of its sources."""
    scene = yard_scene(site, named_outlets(site), (), yards.PIPE, DEFAULT_PRICES, cell=cell)
    starts, ends = list(scene.starts.values()), list(scene.ends.values())
    gauges = one_size(scene.yard, starts, ends, scene.terms, DEFAULT_PRICES)
    return search_of(gauges), search_of(gauges), [(s.x, s.y) for s in site.sources]


def main() -> int:
    """Measure; 1 where an aim is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    for name, value in (("--lots", 60), ("--first", 0), ("--least", 6), ("--most", 10)):
        parser.add_argument(name, type=int, default=value)
    parser.add_argument("--cell", type=float, default=1.5)
    parser.add_argument("--gap", type=float, default=SearchEffort().gap)
    options = parser.parse_args()
    gaps: list[float] = []
    told: list[float] = []
    wrong, number = 0, options.first - 1
    while len(gaps) < options.lots:
        number += 1
        site, count = lot(number, options.least, options.most)
        quick, whole, places = searches(site, options.cell)
        began = time.perf_counter()
        found = searched(quick, places, SearchEffort(gap=options.gap))
        took, began = time.perf_counter() - began, time.perf_counter()
        if found is None:
            print(f"{number:3d} {count:2d} sources  none comes to an outlet")
            continue
        can = quick.everyone
        grow_all(whole, [bundle for bundle in range(1, can + 1) if bundle & ~can == 0])
        least = whole.best[can][0]
        gap, printed = found.cost / least - 1, found.gap
        wrong += found.bound > least + 1e-9 or not math.isfinite(found.cost)
        gaps.append(gap)
        told.append(printed)
        print(
            f"{number:3d} {count:2d} sources  least {least:8.3f}  found {found.cost:8.3f}  over it "
            f"{100 * gap:5.2f} %  bound {found.bound:8.3f}  printed gap {100 * printed:5.2f} %"
            f"  {found.steps:4d} bundles {took:5.2f} s ({found.stopped}), all ways {time.perf_counter() - began:6.2f} s",
            flush=True,
        )
    print(
        f"over the least cost: median {100 * statistics.median(gaps):.2f} %, worst {100 * max(gaps):.2f} %; "
        f"printed gap: median {100 * statistics.median(told):.2f} %, worst {100 * max(told):.2f} %; bounds "
        f"over the least cost: {wrong}"
    )
    return int(statistics.median(gaps) > 0.02 or max(gaps) > 0.08 or wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
