"""A laid line and stations on it in; where they lie, the ground there and the invert under it out.

The one place where ground is read along a line that is laid: forecasts, sheets and advice ask here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from siteplan.site import Grid, heights
from siteplan.values.lines import Line

Floats = NDArray[np.float64]


class LineGround(NamedTuple):
    """Stations of a line with their places, ground and inverts, arrays of shape (n,) [m].

    NaN where the ground is not known.
    """

    station: Floats
    x: Floats
    y: Floats
    ground: Floats
    invert: Floats


def ground_on(line: Line, grid: Grid, stations: Sequence[float] | Floats) -> LineGround:
    """The ground over a laid line.

    Parameters
    ----------
    line : Line
        With its vertices; straight between them in plan and in height.
    grid : Grid
        The ground as surveyed.
    stations : array_like, shape (n,) [m]
        From the outlet up.

    Returns
    -------
    LineGround
        As surveyed; nothing is put in where the ground is not known.
    """
    station = np.asarray(stations, float)
    at = np.array([vertex.station for vertex in line.vertices])
    x, y, invert = (
        np.interp(station, at, [getattr(vertex, name) for vertex in line.vertices]) for name in ("x", "y", "invert")
    )
    return LineGround(station=station, x=x, y=y, ground=heights(grid, x, y), invert=invert)
