"""A line's way in; the site with the ground raised along it, where its cover falls short, out."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from siteplan.routes.terms import Terms
from siteplan.routes.trace import Trace, places_at
from siteplan.site import Site

_WIDTH = 1.5  # m each side of the line: wide enough for the runs to be straightened in. Common practice, no source
_SPACING = 0.5  # m between the places that are told
_PAST = 1.0  # m of the way before and after that is raised along


@dataclass(frozen=True, slots=True, kw_only=True)
class Regraded:
    """A site with fill along a way."""

    site: Site
    highest: float  # fill [m]
    volume: float  # [m3]
    width: float  # each side [m]
    station_from: float
    station_to: float
    way: tuple[tuple[float, float, float], ...]  # x, y and the finished ground [m]


def regraded(site: Site, along: Trace, control: float, terms: Terms, *, spare: float) -> Regraded | None:
    """The site with just so much fill that the cover holds along a way.

    Parameters
    ----------
    site : Site
        As surveyed.
    along : Trace
        The way, with its limits.
    control : float
        Lowest invert at the outlet [m].
    terms : Terms
        Least grade, daylight stretch.
    spare : float
        Fill beyond what is short [m].

    Returns
    -------
    Regraded or None
        None where no cover is short. Only ground within `WIDTH` of the way is raised, and never lowered.
    """
    short = control + terms.grade * along.station - along.ceiling
    short = np.where(along.station > terms.stretch, short, 0.0)
    if not (short > 0).any():
        return None
    first, last = along.station[short > 0][[0, -1]]
    length = float(along.station[-1])
    low, high = max(0.0, float(first) - _PAST), min(length, float(last) + _PAST)
    stations = np.linspace(low, high, max(2, int((high - low) / _SPACING) + 2))
    # the finished ground at each told place is high enough for all that lies half a space from it
    need = np.where(short > 0, along.ground + short + spare, along.ground)
    top = np.array([need[np.abs(along.station - at) <= _SPACING + 1e-9].max() for at in stations])
    xy = places_at(along.corners, stations)
    rows, cols = np.meshgrid(np.arange(site.grid.z.shape[0]), np.arange(site.grid.z.shape[1]), indexing="ij")
    x, y = site.grid.to_plan(rows.ravel().astype(float), cols.ravel().astype(float))
    near = (
        (x >= xy[:, 0].min() - _WIDTH)
        & (x <= xy[:, 0].max() + _WIDTH)
        & (y >= xy[:, 1].min() - _WIDTH)
        & (y <= xy[:, 1].max() + _WIDTH)
    )
    px, py = x[near], y[near]
    away, level = np.full(px.shape, np.inf), np.full(px.shape, -np.inf)
    for k in range(len(xy) - 1):
        step = xy[k + 1] - xy[k]
        share = np.clip(((px - xy[k, 0]) * step[0] + (py - xy[k, 1]) * step[1]) / max(float(step @ step), 1e-12), 0, 1)
        gap = np.hypot(px - xy[k, 0] - share * step[0], py - xy[k, 1] - share * step[1])
        closer = gap < away
        away = np.where(closer, gap, away)
        level = np.where(closer, top[k] + share * (top[k + 1] - top[k]), level)
    z = site.grid.z.ravel().copy()
    z[near] = np.where(away <= _WIDTH, np.fmax(z[near], np.where(np.isnan(z[near]), np.nan, level)), z[near])
    fill = np.nan_to_num(z - site.grid.z.ravel())
    return Regraded(
        site=replace(site, grid=replace(site.grid, z=z.reshape(site.grid.z.shape))),
        highest=float(fill.max()),
        volume=float(fill.sum()) * site.grid.cell**2,
        width=_WIDTH,
        station_from=float(first),
        station_to=float(last),
        way=tuple((float(px), float(py), float(z)) for (px, py), z in zip(xy.tolist(), top.tolist(), strict=True)),
    )
