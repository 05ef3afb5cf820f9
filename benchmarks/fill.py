"""Filling, the table of hollows and the way down, as ratios to a warm copy of the grid and to a general library.

Run: python benchmarks/fill.py [rounds] [--large]. Every round times each contender once, one after the other, so that
a busy machine slows all alike; printed are medians of CPU time. The library is scikit-image, morphology.reconstruction,
seeded from the grid's edge; for the table, its measure.label and regionprops_table are added. Grids: two synthetic
ones (a slope with waves, 2 cm of noise and a level pad), and
matplotlib's jacksboro grid in whole metres. `--large` adds 4000 x 4000 cells (the library needs 2 GB for it).
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable

import matplotlib.cbook
import numpy as np
from numpy.typing import NDArray
from skimage.measure import label, regionprops_table
from skimage.morphology import reconstruction

from siteplan.ground.fill import fill, outlet_cells
from siteplan.ground.hollows import hollow_table, label_groups
from siteplan.ground.runoff import accumulation, flow_to

Floats = NDArray[np.float64]
SLOW = 1_200_000  # plain Python is left out above this many cells


def main() -> int:
    """Print one table."""
    counts = [int(argument) for argument in sys.argv[1:] if argument.isdigit()]
    rounds = counts[0] if counts else 7
    grids = {"lot 200 x 200": _lot(200), "synthetic 1000 x 1000": _lot(1000), "jacksboro 344 x 403": _jacksboro()}
    if "--large" in sys.argv:
        grids["synthetic 4000 x 4000"] = _lot(4000)
    print(f"{'grid':24}{'work':44}{'ns per cell':>12}{'x copy':>9}{'library /':>11}")
    for name, z in grids.items():
        contenders = _contenders(z)
        _agree(z)
        times: dict[str, list[float]] = {work: [] for work in contenders}
        for run in contenders.values():
            run()  # warm: pages, compiled code
        for _ in range(rounds):
            for work, run in contenders.items():
                start = time.process_time()
                run()
                times[work].append(time.process_time() - start)
        cost = {work: statistics.median(taken) / z.size * 1e9 for work, taken in times.items()}
        for work, each in cost.items():
            peer = "library: fill + table" if "table" in work else "library: fill"
            ratio = "" if work.startswith(("library", "copy")) or "way down" in work else f"{cost[peer] / each:.1f}"
            print(f"{name:24}{work:44}{each:12.1f}{each / cost['copy, warm']:9.1f}{ratio:>11}")
    return 0


def _contenders(z: Floats) -> dict[str, Callable[[], object]]:
    area = np.ones(z.shape)
    room = np.empty_like(z)
    filled, outlets = fill(z, engine="compiled"), outlet_cells(z)

    def table(filled: Floats) -> Floats:
        labels, count = label_groups(filled > z, engine="compiled")
        return hollow_table(z, filled, area, labels, count)

    runs: dict[str, Callable[[], object]] = {
        "copy, warm": lambda: np.copyto(room, z),
        "compiled: fill": lambda: fill(z, engine="compiled"),
        "compiled: fill + table": lambda: table(fill(z, engine="compiled")),
        "compiled: way down and water gathered": lambda: accumulation(
            flow_to(filled, outlets=outlets, engine="compiled"), area, engine="compiled"
        ),
        "compiled: fill, way down and water gathered": lambda: accumulation(
            flow_to(fill(z, engine="compiled"), outlets=outlet_cells(z), engine="compiled"), area, engine="compiled"
        ),
    }
    if z.size <= SLOW:
        runs["plain: fill"] = lambda: fill(z, engine="plain")
        runs["plain: way down and water gathered"] = lambda: accumulation(
            flow_to(filled, outlets=outlets, engine="plain"), area, engine="plain"
        )
    runs["library: fill"] = lambda: _library(z)
    runs["library: fill + table"] = lambda: _library_table(z, _library(z))
    return runs


def _library(z: Floats) -> Floats:
    start = z.copy()
    start[1:-1, 1:-1] = z.max()
    return np.asarray(reconstruction(start, z, method="erosion", footprint=np.ones((3, 3))), dtype=np.float64)


def _library_table(z: Floats, filled: Floats) -> object:
    depth = filled - z
    labels = label(depth > 0, connectivity=2)
    return regionprops_table(
        labels, intensity_image=depth, properties=("label", "num_pixels", "intensity_max", "intensity_mean")
    )


def _agree(z: Floats) -> None:
    """No ratio is worth printing between two different answers."""
    if not np.array_equal(fill(z, engine="compiled"), _library(z)):
        raise SystemExit("the compiled engine and the library differ")


def _lot(cells: int) -> Floats:
    row, col = np.mgrid[:cells, :cells].astype(float)
    z = 0.02 * col + np.sin(col / 17) * np.cos(row / 23) + np.random.default_rng(1).normal(0, 0.02, (cells, cells))
    third, half = cells // 3, cells // 2
    z[third:half, third:half] = z[third, third]  # a level pad
    return np.asarray(z, dtype=np.float64)


def _jacksboro() -> Floats:
    with np.load(matplotlib.cbook.get_sample_data("jacksboro_fault_dem.npz", asfileobj=False)) as data:
        return np.asarray(data["elevation"], dtype=np.float64)


if __name__ == "__main__":
    sys.exit(main())
