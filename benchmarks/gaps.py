"""Whether a way through a gap of 3 ft is found wherever the gap is, on lots of a quarter acre to ten acres.

    python benchmarks/gaps.py [--positions 20] [--acres 0.25 1 4 10] [--turned 0 30] [--round]

A band of no-dig ground crosses the lot between the source and the outlet, with one gap of 3 ft in it, at places spread
evenly over a step of the net and far beyond it. With `--round` a dear way round the band's end is open: then a position
counts as found where the line goes through the gap. One core, about 1 s a position on a quarter acre and 4 s on ten
acres.
"""

from __future__ import annotations

import argparse
import importlib.util
import math
import sys
import time
from pathlib import Path

import numpy as np
from shapely.geometry import LineString, Polygon

_PATH = Path(__file__).parents[1] / "tests" / "routes" / "drawn_yards.py"
_spec = importlib.util.spec_from_file_location("drawn_yards", _PATH)
assert _spec is not None
assert _spec.loader is not None
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)

ACRE = 4046.8564
GAP = 0.9144  # m, 3 ft
FALL = 0.02


def lot(acres: float, at: float, turned: float, *, way_round: bool) -> tuple[object, Polygon]:
    """A lot with its band and the gap at `at` [m] from the middle; and the gap itself."""
    deep = math.sqrt(acres * ACRE * 0.75)
    wide = acres * ACRE / deep
    low, high = wide * 0.5, wide * 0.5 + 1.5
    middle = deep / 2 + at
    top = deep - 4 if way_round else deep + 1
    site = yards.drawn(
        ("downspout", (wide * 0.2 + 0.3, deep * 0.5)),
        ("daylight_outlet", (wide * 0.85, deep * 0.5), {"invert": 29.4 - FALL * wide * 0.85}),
        ("no_dig", [(low, -1), (high, -1), (high, middle - GAP / 2), (low, middle - GAP / 2)]),
        ("no_dig", [(low, middle + GAP / 2), (high, middle + GAP / 2), (high, top), (low, top)]),
        ground=lambda x, y: 30 - FALL * np.asarray(x, float) + 0 * np.asarray(y, float),
        house=None,
        lot=[(0, 0), (wide, 0), (wide, deep), (0, deep)],
        extent=(-6.0, -6.0, wide + 6, deep + 6),
        cell=max(0.5, wide / 200),
        turned=turned,
    )
    bars = [one.geometry for one in site.of_kind("no_dig")]
    return site, bars


def main() -> int:
    """Print one row a lot size."""
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--positions", type=int, default=20)
    asked.add_argument("--acres", type=float, nargs="*", default=[0.25, 1.0, 4.0, 10.0])
    asked.add_argument("--turned", type=float, nargs="*", default=[0.0])
    asked.add_argument("--round", action="store_true")
    options = asked.parse_args()
    missed = 0
    for acres in options.acres:
        for turned in options.turned:
            found, began = 0, time.perf_counter()
            deep = math.sqrt(acres * ACRE * 0.75)
            for k in range(options.positions):
                at = (k / options.positions - 0.5) * deep * 0.5
                site, bars = lot(acres, at, turned, way_round=options.round)
                plan = yards.laid_out(site)
                lines = [LineString([(v.x, v.y) for v in one.vertices]) for one in plan.lines if one.end == "O1"]
                between = bars[0].union(bars[1]).convex_hull if not options.round else None
                if not lines:
                    told = [c.reason for c in plan.candidates if c.outlet == "O1"]
                    print(f"  {acres:g} acres, gap at {at:.2f} m: {told}", file=sys.stderr)
                    continue
                near = bars[0].distance(lines[0]) < GAP and bars[1].distance(lines[0]) < GAP
                found += near
                del between
            took = (time.perf_counter() - began) / options.positions
            missed += options.positions - found
            print(
                f"{acres:6g} acres, turned {turned:g}: {found} of {options.positions} found, {took:.2f} s each",
                flush=True,
            )
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
