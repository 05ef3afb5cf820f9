"""A place on a laid line: straight between vertices, the end beyond an end, the ground as surveyed."""

from __future__ import annotations

import numpy as np
import pytest

from siteplan.books.pipes import pipe
from siteplan.ground.on_lines import ground_on
from siteplan.site import Grid
from siteplan.values.lines import Line, Vertex

# 3-4-5: ten metres east, then five up a slope of 4 in 3; the second piece twice as steep as the first
CORNERS = ((0.0, 0.0, 0.0, 10.0), (10.0, 0.0, 10.0, 10.1), (13.0, 4.0, 15.0, 10.2))


@pytest.fixture
def line():
    vertices = tuple(Vertex(x=x, y=y, station=s, invert=z, ground=z + 1.0) for x, y, s, z in CORNERS)
    return Line(
        id="L1",
        sources=("S1",),
        start="S1",
        end="O1",
        pipe=pipe(),
        vertices=vertices,
        rows=(),
        crossings=(),
        low_spots=(),
        spare=0.0,
        binding="",
        cost=0.0,
    )


@pytest.mark.parametrize(
    ("station", "place"),
    [
        (0.0, (0, 0, 10)),
        (5.0, (5, 0, 10.05)),
        (10.0, (10, 0, 10.1)),
        (12.5, (11.5, 2, 10.15)),
        (15.0, (13, 4, 10.2)),
        (-1.0, (0, 0, 10)),
        (16.0, (13, 4, 10.2)),
    ],
)
def test_a_place_is_on_the_piece_between_two_vertices(line, station, place):
    assert line.at(station) == pytest.approx(place, abs=1e-12)


def test_the_ground_over_it_is_the_surveys_and_unknown_where_that_is(line):
    z = np.add.outer(np.zeros(8), 11.0 + 0.1 * np.arange(12.0))  # rises 0.1 a metre to the east
    z[:, 10:] = np.nan
    grid = Grid(z=z, to_index=lambda x, y: (y + 1.0, x), to_plan=lambda r, c: (c, r - 1.0), cell=1.0)
    found = ground_on(line, grid, [0.0, 5.5, 12.5])
    assert found.ground[:2] == pytest.approx([11.0, 11.55], abs=1e-12)
    assert np.isnan(found.ground[2])
    assert found.invert == pytest.approx([10.0, 10.055, 10.15], abs=1e-12)
    assert (found.x[2], found.y[2]) == pytest.approx((11.5, 2.0), abs=1e-12)
