"""What is delivered against the best that a slow improver finds, by the product's own prices, on invented lots.

    python benchmarks/delivered.py [--lots 60] [--first 0] [--work 400]

Each lot is laid out as the product does. The slow improver lays it out again on six other nets (finer, coarser,
shifted, turned), moves bends and wyes of each result and of the product's own with many more tries and finer steps,
buys the margins that the product buys, and keeps the cheapest that serves as many sources. Prints the gap of each lot,
the mean and the worst. An on-demand job: some 20 s a lot on one core.
"""

from __future__ import annotations

import argparse
import math
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from unittest import mock

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "doors"))

from random_lots import lot  # noqa: E402

from siteplan.ground.hollows import low_spots  # noqa: E402
from siteplan.routes.outlets import named_outlets  # noqa: E402
from siteplan.survey.folder import read_site  # noqa: E402
from siteplan.waterworks.sizing import on_offer  # noqa: E402
from siteplan.yard import groups  # noqa: E402
from siteplan.yard.bought import with_margins  # noqa: E402
from siteplan.yard.costs import delivered_cost  # noqa: E402
from siteplan.yard.improved import improved  # noqa: E402

NETS = (
    (1.0, 0.5, 0.0),
    (0.75, 0.0, 0.0),
    (0.85, 0.25, 0.0),
    (1.25, 0.0, 0.0),
    (1.0, 0.0, math.radians(22)),
    (0.8, 0.3, math.radians(40)),
)
FINE_STEPS = (3.0, 2.0, 1.4, 1.0, 0.7, 0.5, 0.35, 0.2, 0.1)


def laid(scene: Any, named: Any, *, plain: bool) -> tuple[Any, list[Any], Any]:
    """The trees of a layout, with or without what the product moves afterwards."""
    kept: list[Any] = []
    lines_of = groups.lines_of_trees

    def spy(scene: Any, trees: Sequence[Any]) -> Any:
        kept[:] = [scene, list(trees)]
        return lines_of(scene, trees)

    with mock.patch.object(groups, "lines_of_trees", spy):
        if plain:
            with mock.patch.object(groups, "improved", lambda _scene, trees, **_more: list(trees)):
                out = groups._lay(scene, named)  # noqa: SLF001 - the layout of one net, which no door asks for
        else:
            out = groups._lay(scene, named)  # noqa: SLF001 - the layout of one net, which no door asks for
    return kept[0], kept[1], out


def cost_of(scene: Any, trees: Sequence[Any]) -> tuple[int, float]:
    served = {source.id for tree in trees for one in tree.laid for source in one.carried}
    return -len(served), sum(delivered_cost(scene, tree) for tree in trees)


def slowly(scene: Any, trees: Sequence[Any], work: int) -> list[Any]:
    """Trees with much work spent on their bends and wyes, and with the margins that a plan buys.

    What is compared costs the same things.
    """
    return with_margins(scene, improved(scene, trees, most=work, steps=FINE_STEPS))


def main() -> int:
    """Print the gaps."""
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--lots", type=int, default=60)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--work", type=int, default=400)
    asked.add_argument("--nets", type=int, default=len(NETS))
    options = asked.parse_args()
    gaps, moved = [], []
    for seed in range(options.first, options.first + options.lots):
        with tempfile.TemporaryDirectory() as work:
            site = read_site(lot(Path(work) / "lot", seed, crowded=seed % 3 == 0))
        named, spots, pipe = named_outlets(site), low_spots(site), on_offer(site.sizing)[0]
        prices = site.laying.prices
        base = groups.yard_scene(site, named, spots, pipe, prices)
        began = time.perf_counter()
        scene, before, _ = laid(base, named, plain=True)
        middle = time.perf_counter()
        scene, trees, _ = laid(base, named, plain=False)
        spent = time.perf_counter() - middle - (middle - began)
        plain, own = cost_of(scene, before), cost_of(scene, trees)
        if not own[0]:
            continue
        best = min(own, cost_of(scene, slowly(scene, trees, options.work)))
        for share, shifted, turned in NETS[: options.nets]:
            other = groups.yard_scene(
                site, named, spots, pipe, prices, cell=share * base.yard.cell, shifted=shifted, turned=turned
            )
            net, found, _ = laid(other, named, plain=True)
            best = min(best, cost_of(net, slowly(net, found, options.work)))
        gap = math.inf if best[0] < own[0] else own[1] / best[1] - 1
        was = plain[1] / best[1] - 1
        gaps.append(gap)
        moved.append(was)
        print(
            (
                f"LOT {seed}: {-own[0]} served ({-best[0]} by the best), {own[1]:.2f} against {best[1]:.2f}: "
                f"{100 * gap:.2f} % over, {100 * was:.2f} % before bends and wyes moved ({spent:+.2f} s)"
            ),
            flush=True,
        )
    known = [gap for gap in gaps if math.isfinite(gap)]
    print(
        f"{len(gaps)} lots: mean {100 * sum(known) / len(known):.2f} %, worst {100 * max(known):.2f} %; "
        f"before {100 * sum(moved) / len(moved):.2f} %, {100 * max(moved):.2f} %; fewer served on "
        f"{len(gaps) - len(known)}"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
