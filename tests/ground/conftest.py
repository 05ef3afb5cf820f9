"""Sites built by hand: a grid of any cell shape, turned by any angle, and features on it."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Polygon

from siteplan.books.rules import rule_book
from siteplan.site import Feature, Grid, Site


def _grid(z, *, cell=1.0, tall=1.0, angle=0.0, origin=(1000.0, 2000.0)):
    """A grid with row 0 in the north, cells `cell` wide and `cell * tall` high, turned by `angle` [radians]."""
    cos, sin = np.cos(angle), np.sin(angle)

    def to_plan(row, col):
        u, v = np.asarray(col, float) * cell, -np.asarray(row, float) * cell * tall
        return origin[0] + cos * u - sin * v, origin[1] + sin * u + cos * v

    def to_index(x, y):
        dx, dy = np.asarray(x, float) - origin[0], np.asarray(y, float) - origin[1]
        return -(cos * dy - sin * dx) / (cell * tall), (cos * dx + sin * dy) / cell

    z = np.array(z, dtype=float)
    z.flags.writeable = False
    return Grid(z=z, to_index=to_index, to_plan=to_plan, cell=cell * tall**0.5)


def _feature(kind, geometry, **attributes):
    return Feature(kind=kind, name="", geometry=geometry, attributes=attributes, file="by hand", number=1)


def _cells(grid, row0, col0, row1, col1):
    """The polygon that covers whole cells from (row0, col0) up to, not with, (row1, col1)."""
    row = np.array([row0, row0, row1, row1]) - 0.5
    col = np.array([col0, col1, col1, col0]) - 0.5
    x, y = grid.to_plan(row, col)
    return Polygon(list(zip(x, y, strict=True)))


def _site(grid, *features, accuracy=0.03, rules=None):
    return Site(
        name="By hand",
        crs="local",
        length_unit="m",
        elevation_unit="m",
        accuracy=accuracy,
        grid=grid,
        features=tuple(features),
        sources=(),
        rules=rule_book(rules or {}),
        rainfall=None,
        inputs=(),
    )


@pytest.fixture(name="make_grid")
def _make_grid():
    return _grid


@pytest.fixture(name="make_site")
def _make_site():
    return _site


@pytest.fixture(name="feature")
def _make_feature():
    return _feature


@pytest.fixture(name="cells")
def _make_cells():
    return _cells
