"""Site and a frame in; what the map draws of the ground out: shading, contours, heights under the cursor.

Drawing only: the figures a person relies on are those of the plan. The ground is sampled on an even grid along the
plan's own axes, whatever frame the survey's grid stands in, and smoothed a little before it is shaded and contoured.
"""

from __future__ import annotations

import base64
import math
import struct
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from siteplan.site import Floats, Site, heights

MOST_NODES = 60_000  # samples of the ground on the page; 0.25 m apart on a lot of 60 x 60 m
_UNKNOWN = -32768
_INTERVALS_FT = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
_INTERVALS_M = (0.1, 0.25, 0.5, 1.0, 2.5, 5.0)
_MOST_CONTOURS = 16


Levels = tuple[float, list[tuple[float, list[Floats]]]]  # interval, then each level with its lines


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureFrame:
    """The window of the plan that the map shows [m]."""

    west: float
    south: float
    east: float
    north: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relief:
    """The ground on an even grid over a frame; row 0 north, nodes at cell centres."""

    frame: PictureFrame  # outer edges of the cells
    cell: float
    z: Floats  # (rows, cols) [m], NaN unknown
    smooth: Floats  # the same, smoothed


def relief(site: Site, frame: PictureFrame) -> Relief:
    """The ground sampled over a frame.

    Parameters
    ----------
    site : Site
        Its grid is read by bilinear interpolation.
    frame : Frame
        The window wanted; the cells cover it, and reach less than a cell beyond.

    Returns
    -------
    Relief
        At most about 60 000 nodes, no closer than the survey's own cells divided by two.
    """
    width, height = frame.east - frame.west, frame.north - frame.south
    cell = max(site.grid.cell / 2, math.sqrt(width * height / MOST_NODES))
    cols, rows = max(2, math.ceil(width / cell)), max(2, math.ceil(height / cell))
    x = frame.west + (np.arange(cols) + 0.5) * cell
    y = frame.south + (np.arange(rows)[::-1] + 0.5) * cell
    xs, ys = np.meshgrid(x, y)
    z = heights(site.grid, xs.ravel(), ys.ravel()).reshape(rows, cols)
    covered = PictureFrame(
        west=frame.west, south=frame.south, east=frame.west + cols * cell, north=frame.south + rows * cell
    )
    return Relief(frame=covered, cell=cell, z=z, smooth=_smoothed(z, max(1, round(site.grid.cell / cell))))


def shading_png(ground: Relief) -> bytes:
    """Hillshade as a grey PNG, lightened so that lines win; unknown ground is clear.

    Parameters
    ----------
    ground : Relief
        The sampled ground.

    Returns
    -------
    bytes
        PNG, 8-bit grey with alpha, one pixel a node.

    References
    ----------
    Shaded relief as the cosine between the surface normal and the light, light from the north-west at 45 degrees
    (common cartographic practice, no source). Heights are exaggerated so that a lot's small relief shows.
    """
    z = ground.smooth
    known = np.isfinite(z)
    level = np.where(known, z, np.nanmean(z) if known.any() else 0.0)
    down, right = np.gradient(level, ground.cell)
    slope = np.hypot(down, right)
    steep = float(np.quantile(slope[known], 0.9)) if known.any() else 0.0
    lift = min(12.0, 0.6 / max(steep, 0.01))
    east, north = -right * lift, down * lift  # rows run south
    light = (-east - -north + math.sqrt(2)) / (2 * np.sqrt(1 + east**2 + north**2))  # light from NW, 45 degrees up
    grey = np.clip(176 + 79 * np.clip(light / (math.sqrt(2) / 2) - 0.25, 0, 1), 0, 255)
    pixels = np.zeros((*z.shape, 2), np.uint8)
    pixels[..., 0] = np.where(known, np.round(grey), 255)
    pixels[..., 1] = np.where(known, 255, 0)
    return _png(pixels)


def contours(ground: Relief, unit: str, accuracy: float) -> Levels:
    """Contours of the smoothed ground at an even interval of the site's unit.

    Parameters
    ----------
    ground : Relief
        The sampled ground.
    unit : str
        The site's elevation unit: 'ft', 'us-ft' or 'm'.
    accuracy : float
        One standard deviation of an elevation [m]; contours no closer than the survey can tell.

    Returns
    -------
    tuple
        Interval [unit], and for each level [unit] its lines, each an array of shape (n, 2) [m] of east, north.
    """
    from contourpy import contour_generator

    from siteplan.units import LENGTH

    scale = LENGTH[unit]
    z = ground.smooth / scale
    if not np.isfinite(z).any():
        return 0.0, []
    low, high = float(np.nanmin(z)), float(np.nanmax(z))
    choices = _INTERVALS_M if unit == "m" else _INTERVALS_FT
    interval = next(
        (step for step in choices if (high - low) / step <= _MOST_CONTOURS and step * scale >= 2 * accuracy),
        choices[-1],
    )
    rows, cols = z.shape
    x = ground.frame.west + (np.arange(cols) + 0.5) * ground.cell
    y = ground.frame.north - (np.arange(rows) + 0.5) * ground.cell
    drawer = contour_generator(x=x, y=y, z=np.ma.masked_invalid(z), line_type="Separate")
    levels = np.arange(math.ceil(low / interval), math.floor(high / interval) + 1)
    found = []
    for number in levels:
        level = round(float(number) * interval, 6)
        lines = [
            np.asarray(line, float)
            for line in drawer.lines(level)
            if _long_enough(np.asarray(line, float), ground.cell)
        ]
        if lines:
            found.append((level, lines))
    return interval, found


def heights_base64(ground: Relief) -> dict[str, object]:
    """Heights for the read-out under the cursor, as the page's script reads them.

    Parameters
    ----------
    ground : Relief
        The sampled ground.

    Returns
    -------
    dict
        rows, cols, cell [m], base [m], step [m] and data: little-endian int16 counts of `step` above `base`, row 0
        north, -32768 where the ground is not known, in base64.
    """
    known = np.isfinite(ground.z)
    low, high = (float(np.min(ground.z[known])), float(np.max(ground.z[known]))) if known.any() else (0.0, 0.0)
    base = (low + high) / 2
    step = max(0.01, (high - low) / 60_000)
    counts = np.where(known, np.round((np.where(known, ground.z, base) - base) / step), _UNKNOWN).astype("<i2")
    rows, cols = ground.z.shape
    return {
        "rows": rows,
        "cols": cols,
        "cell": round(ground.cell, 6),
        "base": round(base, 4),
        "step": round(step, 6),
        "unknown": _UNKNOWN,
        "data": base64.b64encode(counts.tobytes()).decode("ascii"),
    }


def _long_enough(line: Floats, cell: float) -> bool:
    """Rings of a few cells are the survey's noise."""
    return float(np.hypot(*np.diff(line, axis=0).T).sum()) >= 8 * cell


def _smoothed(z: Floats, times: int) -> Floats:
    """Binomial 1-2-1 in both directions, `times` over and once more, unknown cells left out of the mean."""
    known = np.isfinite(z)
    value, weight = np.where(known, z, 0.0), known.astype(float)
    for _ in range(times + 1):
        for axis in (0, 1):
            value, weight = _binomial(value, axis), _binomial(weight, axis)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = value / weight
    return np.where(known, mean, np.nan)


def _binomial(values: Floats, axis: int) -> Floats:
    padded = np.pad(values, [(1, 1) if a == axis else (0, 0) for a in (0, 1)], mode="edge")
    middle = np.take(padded, range(1, padded.shape[axis] - 1), axis=axis)
    before = np.take(padded, range(padded.shape[axis] - 2), axis=axis)
    after = np.take(padded, range(2, padded.shape[axis]), axis=axis)
    return (before + 2 * middle + after) / 4


def _png(pixels: NDArray[np.uint8]) -> bytes:
    """Grey and alpha as PNG, each row coded as the difference from the row above (ISO/IEC 15948, filter type 2)."""
    rows, cols, _ = pixels.shape
    above = np.vstack([np.zeros((1, cols, 2), np.uint8), pixels[:-1]])
    coded = np.zeros((rows, 1 + cols * 2), np.uint8)
    coded[:, 0] = 2
    coded[:, 1:] = (pixels - above).reshape(rows, -1)  # wraps at 256 as the standard asks

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", cols, rows, 8, 4, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(coded.tobytes(), 6))
        + chunk(b"IEND", b"")
    )
