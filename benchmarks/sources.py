"""What a lay-out costs against the number of sources.

One invented lot, 1 to 12 downspouts, flows that need more than one size.

    python benchmarks/sources.py [--least 1] [--most 12] [--cell 0] [--side 1]

Prints for each number the processor time of the search and of the whole lay-out (each taken twice, the second counts:
by then everything compiled is loaded), the bundles grown, cost, bound and gap. --cell is the spacing of the net [m]; 0:
the usual one, of some 5 000 places whatever the lot. --side makes lot, house and yard so many times longer and wider,
on ground of the same grades.
"""

from __future__ import annotations

import argparse
import importlib.util
import math
import sys
import time
from dataclasses import replace
from pathlib import Path

ROOT = Path(__file__).parents[1]
_spec = importlib.util.spec_from_file_location("drawn_yards", ROOT / "tests" / "routes" / "drawn_yards.py")
assert _spec is not None
assert _spec.loader is not None
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)

from siteplan.books.prices import DEFAULT_PRICES  # noqa: E402
from siteplan.routes.outlets import named_outlets  # noqa: E402
from siteplan.site import Site  # noqa: E402
from siteplan.water.sizes import Basis  # noqa: E402
from siteplan.waterworks.sizing import on_offer  # noqa: E402
from siteplan.yard.gauges import sizes_asked  # noqa: E402
from siteplan.yard.groups import yard_scene  # noqa: E402
from siteplan.yard.serving import searched_network, serve  # noqa: E402

FLOW = 0.0016  # m3/s of each downspout: four of them are more than 4 in carries at 1 %


def around(count: int) -> list[tuple[str, tuple[float, float]]]:
    """Downspouts evenly round the house, a hand off its wall."""
    corners = [(9.7, 7.7), (22.3, 7.7), (22.3, 20.3), (9.7, 20.3)]
    sides = [(corners[k], corners[(k + 1) % 4]) for k in range(4)]
    places = []
    for k in range(count):
        whole = 4 * (k + 0.3) / count
        (ax, ay), (bx, by) = sides[int(whole)]
        share = whole - int(whole)
        places.append(("downspout", (ax + share * (bx - ax), ay + share * (by - ay))))
    return places


def yard(count: int, side: float) -> Site:
    """The lot so many times longer and wider, its ground as steep."""
    kinds = (*around(count), ("curb_outlet", (40.8, 5.0)), ("daylight_outlet", (38.0, 24.0)))
    return yards.drawn(
        *((kind, (x * side, y * side)) for kind, (x, y) in kinds),
        ground=lambda x, y: side * yards.falling(x / side, y / side),
        cell=0.5 * side,
        extent=tuple(side * v for v in (-6.0, -6.0, 48.0, 36.0)),
        lot=[(x * side, y * side) for x, y in yards.LOT],
        house=[(x * side, y * side) for x, y in yards.HOUSE],
    )


def main() -> int:
    """Measure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--least", type=int, default=1)
    parser.add_argument("--most", type=int, default=12)
    parser.add_argument("--side", type=float, default=1.0)
    parser.add_argument("--cell", type=float, default=0.0)
    options = parser.parse_args()
    for count in range(options.least, options.most + 1):
        site = yard(count, options.side)
        named = named_outlets(site)
        sizes = sizes_asked(site, {s.id: FLOW for s in site.sources}, on_offer(site.sizing), Basis(), DEFAULT_PRICES)
        scene = yard_scene(site, named, (), yards.PIPE, DEFAULT_PRICES, cell=options.cell or None)
        scene = replace(scene, sizes=sizes)
        for _ in range(2):
            began = time.process_time()
            _, result = searched_network(scene, site.sources, named, site.laying.effort)
            search, began = time.process_time() - began, time.process_time()
            served = serve(scene, site.sources, named)
            whole = time.process_time() - began
        gap = math.nan if result is None else 100 * result.gap
        told = (0, 0.0, 0.0) if result is None else (result.steps, result.cost, result.bound)
        places = int(scene.yard.is_open.sum())
        print(
            (
                f"{site.lot.area:7.0f} m2  net {scene.yard.cell:.2f} m, {places:6d} places  {count:2d} sources  "
                f"search {search:6.2f} s  lines proven {whole:6.2f} s  {told[0]:4d} bundles  cost {told[1]:7.2f}  "
                f"bound {told[2]:7.2f}  gap {gap:5.2f} %  {len(served.trees)} trees"
            ),
            flush=True,
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
