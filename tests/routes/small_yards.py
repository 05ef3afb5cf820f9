"""Small random yards and searches by exhaustion, written apart from the kernels they judge."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

PAD = 2


def random_yard(seed: int, rows: int, cols: int, *, holes: float = 0.15, depth: float = 0.9, cover: float = 0.4):
    """Rough ground with closed cells: (ground, ceiling, floor, open, rate), each (rows, cols)."""
    rng = np.random.default_rng(seed)
    plane = 10 + rng.normal(0, 0.03) * np.arange(cols)[None, :] + rng.normal(0, 0.03) * np.arange(rows)[:, None]
    ground = plane + rng.normal(0, 0.06, (rows, cols))
    is_open = rng.random((rows, cols)) > holes
    ceiling = ground - cover - np.where(rng.random((rows, cols)) < 0.2, 0.15, 0.0)
    return ground, ceiling, ground - depth, is_open, 1.0 + rng.integers(0, 3, (rows, cols))


def padded(field: np.ndarray, value: float) -> np.ndarray:
    return np.pad(field.astype(float), PAD, constant_values=value).ravel()


def edges(
    is_open: np.ndarray, neighbours: int
) -> Iterator[tuple[tuple[int, int], tuple[int, int], list[tuple[int, int]]]]:
    """(from, to, cells beside the middle) of every lawful move."""
    rows, cols = is_open.shape

    def ok(r: int, c: int) -> bool:
        return 0 <= r < rows and 0 <= c < cols and bool(is_open[r, c])

    for r in range(rows):
        for c in range(cols):
            if not ok(r, c):
                continue
            for dr in range(-2, 3):
                for dc in range(-2, 3):
                    size = dr * dr + dc * dc
                    if size not in ({1, 2} if neighbours == 8 else {1, 2, 5}) or not ok(r + dr, c + dc):
                        continue
                    if size == 1:
                        beside: list[tuple[int, int]] = []
                    elif size == 2:
                        beside = [(r + dr, c), (r, c + dc)]
                    elif abs(dr) == 2:
                        beside = [(r + dr // 2, c), (r + dr // 2, c + dc)]
                    else:
                        beside = [(r, c + dc // 2), (r + dr, c + dc // 2)]
                    if all(ok(*cell) for cell in beside):
                        yield (r, c), (r + dr, c + dc), beside


def along(a, b, beside, field: np.ndarray) -> list[float]:
    """A field at the start, the middle and the end of an edge, on bilinear ground."""
    if not beside:
        return [field[a], (field[a] + field[b]) / 2, field[b]]
    if abs(a[0] - b[0]) + abs(a[1] - b[1]) == 2:
        return [field[a], (field[a] + field[b] + field[beside[0]] + field[beside[1]]) / 4, field[b]]
    return [field[a], (field[beside[0]] + field[beside[1]]) / 2, field[b]]


def step(z: float, a, b, beside, ceiling, floor, cell: float, grade: float) -> list[float] | None:
    """Inverts at start, middle, end of the highest legal pipe along an edge; None when there is none."""
    length = cell * math.hypot(a[0] - b[0], a[1] - b[1])
    tops, bottoms = along(a, b, beside, ceiling), along(a, b, beside, floor)
    if beside:
        inverts = [z]
        for k in (1, 2):
            inverts.append(min(inverts[-1] - grade * length / 2, tops[k]))
            if inverts[-1] < bottoms[k]:
                return None
        return inverts
    end = min(z - grade * length, tops[2])
    return None if end < bottoms[2] else [z, (z + end) / 2, end]


def step_cost(inverts, a, b, beside, ground, rate, cell: float, price) -> float:
    length = cell * math.hypot(a[0] - b[0], a[1] - b[1])
    digging, deep, below, ladder = price
    units = []
    for z, g, r in zip(inverts, along(a, b, beside, ground), along(a, b, beside, rate), strict=True):
        depth = g - z + below
        units.append(r + digging * depth + deep * max(0.0, depth - ladder))
    return length * (units[0] + 2 * units[1] + units[2]) / 4
