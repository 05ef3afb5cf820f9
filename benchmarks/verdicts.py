"""Whether which source can come to which outlet hangs on how the net happens to lie.

Shifted by half a place, turned by 30 degrees.

    python benchmarks/verdicts.py [--lots 60] [--first 0]

An on-demand job on one core, some 2 s a lot. Prints every pair whose verdict differs, with what it has to spare on each
net, and ends with 1 when there was any.
"""

from __future__ import annotations

import argparse
import math
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "doors"))

from random_lots import lot  # noqa: E402

from siteplan.ground.hollows import low_spots  # noqa: E402
from siteplan.routes.outlets import named_outlets  # noqa: E402
from siteplan.survey.folder import read_site  # noqa: E402
from siteplan.waterworks.sizing import on_offer  # noqa: E402
from siteplan.yard.groups import yard_scene  # noqa: E402
from siteplan.yard.nets import fine_scene  # noqa: E402
from siteplan.yard.pairs import tried_pair  # noqa: E402

LIES = ((0.0, 0.0), (0.5, 0.0), (0.0, math.radians(30)))


def main() -> int:
    """Print the pairs that differ."""
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--lots", type=int, default=60)
    asked.add_argument("--first", type=int, default=0)
    options = asked.parse_args()
    pairs = differ = near = 0
    for seed in range(options.first, options.first + options.lots):
        with tempfile.TemporaryDirectory() as work:
            site = read_site(lot(Path(work) / "lot", seed, crowded=seed % 2 == 0))
        named, spots, pipe = named_outlets(site), low_spots(site), on_offer(site.sizing)[0]
        told = []
        for shifted, turned in LIES:
            scene = yard_scene(site, named, spots, pipe, site.laying.prices, shifted=shifted, turned=turned)
            fine = fine_scene(scene, named)
            told.append({(s.name, o.name): tried_pair(scene, s, o, fine) for s in site.sources for o in named})
        for key in told[0]:
            spares = [one[key].spare for one in told]
            able = {one[key].why is None for one in told}
            pairs += 1
            near += any(spare is not None and abs(spare) < 0.01 for spare in spares)
            if len(able) > 1:
                differ += 1
                print(f"LOT {seed} {key}: {[one[key].why is None for one in told]}, to spare {spares}", flush=True)
    print(f"{pairs} pairs on {options.lots} lots, {near} within 10 mm of a verdict: {differ} differ")
    return 1 if differ else 0


if __name__ == "__main__":
    sys.exit(main())
