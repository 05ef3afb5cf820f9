"""Chances against a simulation written apart: every cell of the survey drawn, every 5 cm of the line judged."""

from __future__ import annotations

import importlib.util
import math
from pathlib import Path

import numpy as np
import pytest

from siteplan.yard.doubts import with_doubt

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).parents[1] / "routes" / "drawn_yards.py")
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)

FT, ERROR, TOGETHER, CELL = 0.3048, 0.03, 3.0, 0.5
RISE, COVER, ZONE, SHOWN = 0.341 * FT, FT, 15 * FT, 7.5 * FT
WEST, NORTH = -6.0, 36.0  # of the survey's first cell


def cells_round(x, y):
    """The four cells that a height is interpolated from, and their shares."""
    u, v = (x - WEST) / CELL, (NORTH - y) / CELL
    i, j = math.floor(v), math.floor(u)
    b, a = v - i, u - j
    return {(i, j): (1 - a) * (1 - b), (i, j + 1): a * (1 - b), (i + 1, j): (1 - a) * b, (i + 1, j + 1): a * b}


def simulated(site, line, outlet, *, grade, draws=12_000, seed=9):
    corners = [(vertex.x, vertex.y) for vertex in line.vertices]
    at = [vertex.station for vertex in line.vertices]
    stations = np.arange(SHOWN + 0.01, line.length, 0.05)
    places = [(np.interp(s, at, [c[0] for c in corners]), np.interp(s, at, [c[1] for c in corners])) for s in stations]
    shares = [cells_round(*place) for place in [(outlet.x, outlet.y), *places]]
    cells = sorted({cell for share in shares for cell in share})
    number = {cell: k for k, cell in enumerate(cells)}
    z = np.array([site.grid.z[cell] for cell in cells])
    away = CELL * np.hypot(
        *(np.array(cells, float)[:, None, :] - np.array(cells, float)[None, :, :]).transpose(2, 0, 1)
    )
    values, vectors = np.linalg.eigh(ERROR**2 * np.exp(-away / TOGETHER))
    rng = np.random.default_rng(seed)
    weights = np.zeros((len(shares), len(cells)))
    for row, share in enumerate(shares):
        for cell, part in share.items():
            weights[row, number[cell]] += part
    ground = weights @ z
    ceiling = ground[1:] - RISE - np.where(stations <= ZONE, 0.0, COVER)
    held = 0
    for _ in range(draws // 500):
        error = (rng.standard_normal((500, len(cells))) * np.sqrt(np.maximum(values, 0))) @ vectors.T @ weights.T
        least = (ceiling - grade * stations - outlet.control + error[:, 1:] - error[:, :1]).min(axis=1)
        held += int((least >= 0).sum())
    return held / draws, len(stations)


@pytest.mark.parametrize("seed", range(6))
def test_chances_are_those_of_errors_on_the_cells(seed):
    rng = np.random.default_rng(seed)
    fall, height = rng.uniform(0.012, 0.03), rng.uniform(0.0, 0.05)
    phase, k = rng.uniform(0, 6, 4), rng.uniform(0.2, 0.6, 4)

    def ground(x, y):
        waves = np.sin(k[0] * x + phase[0]) * np.sin(k[1] * y + phase[1]) + np.sin(k[2] * x + k[3] * y + phase[2])
        return 30 - fall * np.asarray(x, float) + height * waves - 0.12 * np.clip(x - 33, 0, 4)

    start, end = (10.0, 6.0 + 3 * seed), (36.5, 14.0)
    site = yards.drawn(("downspout", start), ("daylight_outlet", end), ground=ground, house=None, cell=CELL)
    plan = yards.laid_out(site)
    lines = [line for line in plan.lines if line.end == "O1"]
    if not lines:
        pytest.skip("this ground gives no line to judge")
    (line,) = with_doubt(lines, site, plan.outlets, ())
    outlet = plan.outlets[0]
    holds, limits = simulated(site, line, outlet, grade=0.01)
    falls, _ = simulated(site, line, outlet, grade=0.0)
    assert limits > 300
    assert line.doubt.chance_min_grade == pytest.approx(holds, abs=0.02)
    assert line.doubt.chance_falls == pytest.approx(falls, abs=0.02)
