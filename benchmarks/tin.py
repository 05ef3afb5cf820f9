"""Shots to a raster: our triangles and scan against scipy's LinearNDInterpolator on the same work.

Prints ratios, lower is faster.

Run: python benchmarks/tin.py [shots] [nodes a side]
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import numpy as np
from scipy.interpolate import LinearNDInterpolator

from siteplan.survey.tin import raster_heights, tin_of

RUNS = 3


def best(work: Callable[[], object]) -> tuple[float, object]:
    """Least CPU seconds of a few runs, and the result."""
    times, made = [], None
    for _ in range(RUNS):
        start = time.process_time()
        made = work()
        times.append(time.process_time() - start)
    return min(times), made


def main(shots: int = 50_000, nodes: int = 1_000) -> None:
    """Print the table."""
    rng = np.random.default_rng(1)
    size = 100.0
    xy = rng.random((shots, 2)) * size
    z = 30 + 0.02 * xy[:, 0] + np.sin(xy[:, 1] / 9)
    cell = size / nodes
    at = (np.arange(nodes) + 0.5) * cell
    x, y = np.meshgrid(at, size - at)

    tin_time, tin = best(lambda: tin_of(xy, z))
    scan_time, ours = best(lambda: raster_heights(tin, cell / 2, size - cell / 2, cell, nodes, nodes))  # type: ignore[arg-type]
    made_time, surface = best(lambda: LinearNDInterpolator(xy, z))
    read_time, theirs = best(lambda: surface(x, y))  # type: ignore[operator]
    apart = float(np.nanmax(np.abs(np.asarray(ours) - np.asarray(theirs))))

    print(f"{shots} shots to {nodes} x {nodes} nodes, CPU seconds, best of {RUNS}; heights agree to {apart:.1e} m")
    print(f"{'step':<14}{'siteplan':>10}{'scipy':>10}{'ratio':>8}")
    for step, one, other in (
        ("triangulate", tin_time, made_time),
        ("grid", scan_time, read_time),
        ("both", tin_time + scan_time, made_time + read_time),
    ):
        print(f"{step:<14}{one:>10.3f}{other:>10.3f}{one / other:>8.2f}")


if __name__ == "__main__":
    main(*(int(arg) for arg in sys.argv[1:3]))
