"""Whether lines laid with sizes cost what the cheapest of all ways costs.

Small invented nets, up to 5 sources, 3 outlets.

    python benchmarks/sizes_together.py [--cases 60] [--first 0] [--most 5] [--side 6]

Each source has a flow, two or three sizes carry more or less of it, some outlets have room for one line or two. Every
way to join, every size of every line, every outlet is tried by code of its own (`tests/routes/sized_yards.py`), some
seconds a case. Prints a row a case; ends with 1 where the two costs differ.
"""

from __future__ import annotations

import argparse
import importlib.util
import math
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[1]
_spec = importlib.util.spec_from_file_location("sized_yards", ROOT / "tests" / "routes" / "sized_yards.py")
assert _spec is not None
assert _spec.loader is not None
sized = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(sized)

from siteplan.routes.shared import solve  # noqa: E402


def main() -> int:
    """Compare; 1 where a cost differs."""
    parser = argparse.ArgumentParser(description=__doc__)
    for name, value in (("--cases", 60), ("--first", 0), ("--most", 5), ("--side", 6)):
        parser.add_argument(name, type=int, default=value)
    options = parser.parse_args()
    wrong = none = 0
    for seed in range(options.first, options.first + options.cases):
        case = sized.case_of(seed, options.most, options.side)
        gauges = sized.gauges_for(case)
        rooms = case.room
        costs = []
        for slack in (0.0, 0.004):
            network = solve(*gauges.kit(0, -math.inf), gauges=gauges, slack=slack, most=lambda n, rooms=rooms: rooms[n])
            costs.append(network.best.get((1 << len(case.sources)) - 1, (math.inf, ()))[0])
        began = time.perf_counter()
        least = sized.least_by_all_ways(case)
        none += math.isinf(least)
        same = costs[0] == least or abs(costs[0] - least) < 1e-9
        wrong += not same
        over = costs[1] / least - 1 if math.isfinite(least) else 0.0
        print(
            f"{seed:3d}  {len(case.sources)} sources {len(case.outlets)} outlets {len(case.sizes)} sizes  "
            f"every way {least:8.4f}  search {costs[0]:8.4f}"
            f"  with 4 mm of invert counted as equal {100 * over:5.2f} % more{'' if same else '  DIFFERENT'}  "
            f"({time.perf_counter() - began:.1f} s)",
            flush=True,
        )
    print(f"{options.cases} cases, {none} that nothing serves, {wrong} different")
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
