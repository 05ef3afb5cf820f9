"""Shots and cells that stand far off all their neighbours.

A slipped digit in one elevation, asked about before a trench is laid by it.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from siteplan import units
from siteplan.books.practice import SPIKE_ASKED, SPIKE_TOLD
from siteplan.site import Floats, Site, heights
from siteplan.survey.evidence import cells_inside
from siteplan.survey.files import said
from siteplan.survey.questions import Oddity

NEIGHBOURS = 8
_FEWEST = 6  # shots, below which nothing is usual
STEEP = 0.5  # and at such a slope to the nearest [-]: a bank is shot at its top and its toe
_ALIKE = 3.0  # the neighbours agree among themselves this many times better [-]
MOST_TOLD = 8


def spikes(site: Site, shown: str) -> list[Oddity]:
    """Elevations that their neighbours speak against.

    Parameters
    ----------
    site : Site
        As read, in metres.
    shown : str
        The ground's file, for sentences about its cells.

    Returns
    -------
    list of Oddity
        Shots first, worst first; then at most one sentence about the grid.
    """
    return [*_shots(site), *_cells(site, shown)]


def _shots(site: Site) -> Iterator[Oddity]:
    shots = site.shots
    if len(shots) < _FEWEST:
        return
    xy = np.array([(shot.x, shot.y) for shot in shots])
    z = np.array([shot.z for shot in shots])
    off, slope, spread = _against_neighbours(xy, z)
    odd = (np.abs(off) > SPIKE_TOLD) & (slope > STEEP) & (spread * _ALIKE < np.abs(off))
    unit = site.elevation_unit
    for k in np.flatnonzero(odd)[np.argsort(-np.abs(off[odd]), kind="stable")][:MOST_TOLD].tolist():
        way = "above" if off[k] > 0 else "below"
        yield Oddity(
            key=f"shot {said(shots[k].number)}",
            where=f"{shots[k].file}, point {said(shots[k].number)}",
            what=(
                f"at {units.length_text(float(z[k]), unit)} lies {units.length_text(abs(float(off[k])), unit)} "
                f"{way} the ground that its {min(NEIGHBOURS, len(shots) - 1)} neighbours make"
            ),
            mend="Correct its elevation, or name it in not_ground under [ground] if it does not stand on the ground.",
            asks=abs(float(off[k])) > SPIKE_ASKED,
        )


def _against_neighbours(xy: Floats, z: Floats) -> tuple[Floats, Floats, Floats]:
    """How far each shot lies off the plane of its neighbours [m], the slope to the nearest [-].

    How well they agree [m].
    """
    from scipy.spatial import cKDTree

    count = min(NEIGHBOURS, len(z) - 1)
    away, near = cKDTree(xy).query(xy, k=count + 1)
    off, slope, spread = np.zeros(len(z)), np.zeros(len(z)), np.full(len(z), np.inf)
    for k in range(len(z)):
        others, far = near[k][near[k] != k][:count], away[k][near[k] != k][:count]
        if not ((z[others] - z[k] > SPIKE_TOLD).all() or (z[k] - z[others] > SPIKE_TOLD).all()):
            continue
        design = np.column_stack([np.ones(len(others)), xy[others] - xy[k]])
        fit, *_ = np.linalg.lstsq(design, z[others], rcond=None)
        residual = z[others] - design @ fit
        # a plane through a few shots beside one another may be tilted at will: never beyond their own heights
        level = float(np.clip(fit[0], z[others].min(), z[others].max()))
        off[k] = z[k] - level
        slope[k] = abs(off[k]) / max(float(far[0]), 0.1)
        spread[k] = float(np.sqrt(np.mean(residual**2)))
    return off, slope, spread


def _cells(site: Site, shown: str) -> Iterator[Oddity]:
    """Single cells on the lot that stand off all eight around them."""
    if site.tin is not None:
        return
    x, y, z = cells_inside(site.grid, site.lot)
    if len(z) < _FEWEST:
        return
    step = site.grid.cell * 1.5
    ring = [
        heights(site.grid, x + step * dx, y + step * dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1) if (dx, dy) != (0, 0)
    ]
    around = np.array(ring)
    known = np.isfinite(around).all(axis=0)
    over, under = z - np.where(known, around.max(axis=0), np.inf), np.where(known, around.min(axis=0), -np.inf) - z
    off = np.maximum(over, under)
    odd = np.flatnonzero(known & (off > np.maximum(SPIKE_TOLD, 2 * site.grid.cell)))
    if not len(odd):
        return
    worst = odd[np.argmax(off[odd])]
    unit = site.elevation_unit
    yield Oddity(
        key="cells",
        where=shown,
        what=(
            f"has {len(odd)} cell{'s' if len(odd) > 1 else ''} on the lot more than "
            f"{units.length_text(float(off[odd].min()), unit)} off all around; the worst by "
            f"{units.length_text(float(off[worst]), unit)}"
        ),
        mend="Take out what is no ground (a bin, a car, a hole in the data).",
        asks=False,
    )
