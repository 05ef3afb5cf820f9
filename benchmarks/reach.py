"""Reach over a grid, as ratios to a plain shortest path by two general libraries on the same grid.

    python benchmarks/reach.py

The peers carry no invert, no ceiling and no floor: they do less. Eight neighbours; rounds are interleaved and the
median of each is taken; building scipy's graph is not counted. Needs scikit-image and scipy (the dev extra).
"""

from __future__ import annotations

import statistics
import time

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from skimage.graph import MCP_Geometric

from siteplan.routes import kernels

CELL, GRADE, ROUNDS = 0.5, 0.01, 5


def yard(side: int) -> tuple[np.ndarray, ...]:
    """Rolling ground with a few blocked squares: ceiling, floor, open, with a closed border."""
    row, col = np.mgrid[0:side, 0:side]
    ground = 100 - 0.012 * CELL * (row + col) + 0.05 * np.sin(row / 9) * np.cos(col / 13)
    is_open = np.ones((side, side), np.uint8)
    for k in range(5):
        low = side * (2 * k + 1) // 12
        is_open[low : low + side // 15, side // 3 : side // 2] = 0
    is_open[:2], is_open[-2:], is_open[:, :2], is_open[:, -2:] = 0, 0, 0, 0
    ceiling = np.where(is_open, ground - 0.4, -np.inf)
    floor = np.where(is_open, ground - 1.5, np.inf)
    return ceiling, floor, is_open


def graph(is_open: np.ndarray) -> coo_array:
    """The same eight-neighbour graph for scipy, edges weighted by length."""
    side = is_open.shape[0]
    number = np.arange(side * side).reshape(side, side)
    heads, tails, lengths = [], [], []
    for dr, dc in ((0, 1), (1, 0), (1, 1), (1, -1)):
        a = (slice(0, side - dr), slice(max(0, -dc), side - max(0, dc)))
        b = (slice(dr, side), slice(max(0, dc), side - max(0, -dc)))
        both = (is_open[a] > 0) & (is_open[b] > 0)
        heads.append(number[a][both])
        tails.append(number[b][both])
        lengths.append(np.full(int(both.sum()), CELL * np.hypot(dr, dc)))
    return coo_array(
        (np.concatenate(lengths), (np.concatenate(heads), np.concatenate(tails))), shape=(side**2, side**2)
    ).tocsr()


def main() -> None:
    """Print the table."""
    print(f"{'cells':>12} {'reach ns/cell':>14} {'MCP_Geometric / reach':>22} {'csgraph.dijkstra / reach':>25}")
    for side in (200, 500, 2000):
        ceiling, floor, is_open = yard(side)
        flat = [np.ascontiguousarray(field.ravel()) for field in (ceiling, floor, is_open)]
        shut = np.zeros(side * side, np.int64)
        table = kernels.moves(8, side)
        start = np.array([3 * side + 3])
        top = flat[0][start]
        costs = np.where(is_open > 0, 1.0, -1.0)
        matrix = graph(is_open)
        tasks = {
            "reach": lambda: kernels.reach_sweep(*flat, shut, table, CELL, GRADE, start, top),  # noqa: B023
            "mcp": lambda: MCP_Geometric(costs, fully_connected=True).find_costs([(3, 3)]),  # noqa: B023
            "dijkstra": lambda: dijkstra(matrix, directed=False, indices=int(start[0])),  # noqa: B023
        }
        tasks["reach"]()  # compiled before it is timed
        spent: dict[str, list[float]] = {name: [] for name in tasks}
        for _ in range(ROUNDS):
            for name, task in tasks.items():
                began = time.perf_counter()
                task()
                spent[name].append(time.perf_counter() - began)
        median = {name: statistics.median(times) for name, times in spent.items()}
        print(
            f"{side:>5} x {side:<5}{median['reach'] / side**2 * 1e9:>13.0f} "
            f"{median['mcp'] / median['reach']:>22.1f} {median['dijkstra'] / median['reach']:>25.1f}"
        )


if __name__ == "__main__":
    main()
