"""Triangles in raster columns and rows in; heights on the raster's nodes out, compiled.

The one loop over every node of a yard.
"""

from __future__ import annotations

import math

import numpy as np

from siteplan.compiling import compiled
from siteplan.site import Floats

_TOUCHES = 1e-7  # a node this near an edge lies on it [raster steps]
_LEVEL = 1e-9  # an edge that rises less runs along a row [raster steps]


@compiled
def scan_triangles(col: Floats, row: Floats, height: Floats, rows: int, cols: int) -> Floats:
    """Heights on rows x cols nodes, flat; NaN beyond the triangles. Where triangles touch the later one holds.

    `col`, `row` and `height` are (m, 3): the corners of each triangle. Row by row, where the row enters and leaves
    the triangle is read along its edges, and the nodes between are shared out from there.
    """
    z = np.full(rows * cols, np.nan)
    for t in range(row.shape[0]):
        top = max(0.0, math.ceil(min(row[t, 0], row[t, 1], row[t, 2]) - _TOUCHES))
        bottom = min(rows - 1.0, math.floor(max(row[t, 0], row[t, 1], row[t, 2]) + _TOUCHES))
        line = top
        while line <= bottom:
            left, right, start, end = np.inf, -np.inf, 0.0, 0.0
            for a in range(3):
                b = (a + 1) % 3
                along, rise = line - row[t, a], row[t, b] - row[t, a]
                level = abs(rise) < _LEVEL
                part = 0.0 if level else along / rise
                if part < -_TOUCHES or part > 1 + _TOUCHES or (level and abs(along) > _TOUCHES):
                    continue
                part = min(max(part, 0.0), 1.0)
                # a level edge is met along all of it: both its ends count
                for far in range(2 if level else 1):
                    at = col[t, b] if far else col[t, a] + part * (col[t, b] - col[t, a])
                    high = height[t, b] if far else height[t, a] + part * (height[t, b] - height[t, a])
                    if at < left:
                        left, start = at, high
                    if at > right:
                        right, end = at, high
            if left <= right:
                first = max(0.0, math.ceil(left - _TOUCHES))
                last = min(cols - 1.0, math.floor(right + _TOUCHES))
                wide = right - left
                rate = 1.0 / wide if wide > _TOUCHES else 0.0
                offset, climb = (first - left) * rate, end - start
                node = int(line) * cols + int(first)
                for step in range(int(last - first) + 1):
                    z[node + step] = min(max(offset + step * rate, 0.0), 1.0) * climb + start
            line += 1.0
    return z
