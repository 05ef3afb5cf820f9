"""Reach on a square yard against plain shortest paths on the same grid, as ratios.

Run: python benchmarks/reach.py [rounds] [--all]. Contenders take turns within a round, so that a busy machine slows all
alike; printed are medians of wall time. Peers: scikit-image's MCP_Geometric from one cell over all cells (eight
neighbours), and scipy's csgraph.dijkstra on the same grid's graph, whose building is not counted. They find lengths,
not inverts: it is the same sweep over the same cells, with less to keep. Grids: 200, 500 and, with `--all`, 2000
squares.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.csgraph import dijkstra
from skimage.graph import MCP_Geometric

from siteplan.routes import kernels
from siteplan.routes.reach import reach_sweep

CELL, GRADE, COVER, DEPTH, PAD = 0.5, 0.01, 0.4, 1.4, 2


def main() -> int:
    """Print one table."""
    counts = [int(argument) for argument in sys.argv[1:] if argument.isdigit()]
    rounds = counts[0] if counts else 7
    sizes = (200, 500, 2000) if "--all" in sys.argv else (200, 500)
    print(f"{'cells':16}{'reach, ns per cell':>20}{'MCP_Geometric / reach':>24}{'csgraph.dijkstra / reach':>26}")
    for size in sizes:
        contenders = _contenders(size)
        times: dict[str, list[float]] = {name: [] for name in contenders}
        for run in contenders.values():
            run()  # warm: pages, compiled code
        for _ in range(rounds):
            for name, run in contenders.items():
                start = time.perf_counter()
                run()
                times[name].append(time.perf_counter() - start)
        took = {name: statistics.median(taken) for name, taken in times.items()}
        own = took["reach"]
        print(
            f"{f'{size} x {size}':16}{own / size**2 * 1e9:20.0f}{took['mcp'] / own:24.1f}{took['dijkstra'] / own:26.1f}"
        )
    return 0


def _contenders(size: int) -> dict[str, Callable[[], object]]:
    rng = np.random.default_rng(size)
    x, y = np.meshgrid(np.arange(size) * CELL, np.arange(size) * CELL)
    ground = 100 - 0.02 * x - 0.005 * y + 0.15 * np.sin(x / 7) * np.cos(y / 9) + rng.normal(0, 0.01, x.shape)
    is_open = rng.random(x.shape) > 0.03
    is_open[0, 0] = True
    padded = {
        name: np.ascontiguousarray(np.pad(field, PAD, constant_values=edge)).ravel()
        for name, field, edge in (
            ("ceiling", np.where(is_open, ground - COVER, -np.inf), -np.inf),
            ("floor", np.where(is_open, ground - DEPTH, np.inf), np.inf),
            ("open", is_open.astype(np.uint8), 0),
        )
    }
    cols = size + 2 * PAD
    seed = np.array([PAD * cols + PAD])
    shut, table = np.zeros(cols * cols, np.int32), kernels.moves(8, cols)
    costs = np.where(is_open, 1.0, -1.0)
    graph = _graph(is_open)

    def reach() -> object:
        return reach_sweep(
            padded["ceiling"], padded["floor"], padded["open"], shut, table, CELL, GRADE, seed, padded["ceiling"][seed]
        )

    return {
        "reach": reach,
        "mcp": lambda: MCP_Geometric(costs).find_costs([(0, 0)]),
        "dijkstra": lambda: dijkstra(graph, indices=0),
    }


def _graph(is_open: NDArray[np.bool_]) -> csr_matrix:
    """The grid's graph: eight neighbours, no diagonal past a closed cell."""
    number = np.arange(is_open.size).reshape(is_open.shape)
    heads, tails, lengths = [], [], []
    for r, c in ((0, 1), (1, 0), (1, 1), (1, -1)):
        rows, cols = is_open.shape
        here = (slice(0, rows - r), slice(max(0, -c), cols - max(0, c)))
        there = (slice(r, rows), slice(max(0, c), cols + min(0, c)))
        both = is_open[here] & is_open[there]
        if r and c:
            both &= is_open[here[0], there[1]] & is_open[there[0], here[1]]
        heads.append(number[here][both])
        tails.append(number[there][both])
        lengths.append(np.full(int(both.sum()), CELL * np.hypot(r, c)))
    i, j, d = np.concatenate(heads), np.concatenate(tails), np.concatenate(lengths)
    return coo_matrix(
        (np.concatenate((d, d)), (np.concatenate((i, j)), np.concatenate((j, i)))), shape=(is_open.size,) * 2
    ).tocsr()


if __name__ == "__main__":
    sys.exit(main())
