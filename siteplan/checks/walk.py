"""A line and the site in; the line walked out: place, invert and surveyed ground at close stations.

Only the vertices' coordinates and inverts are believed; stations, rows, crossings and spare are found anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from siteplan.books import rules
from siteplan.checks.sampling import ground_at
from siteplan.site import Site
from siteplan.values.lines import Line, Reach

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Stretch = tuple[float, float]  # station from, station to [m]

_STEP = 0.05  # m between samples
_TOUCH = 0.01  # m; a stretch shorter than this touches an area and does not cross it
SAME = 1e-6  # m; stretches that end this near each other are one


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Walk:
    """A line walked from its outlet upstream. Lengths and elevations [m]; n samples, k vertices."""

    line: Line
    corners: Floats  # (k, 2) east, north
    at: Floats  # (k,) stations of the vertices, found from their coordinates
    inverts: Floats  # (k,)
    s: Floats  # (n,) stations of the samples
    x: Floats
    y: Floats
    z: Floats  # invert
    ground: Floats  # as surveyed; NaN where not known
    zone: float  # station up to which less cover is allowed; may lie beyond the source
    stretch: float  # station up to which the pipe may show
    head: float  # station from which less cover is allowed at the source
    under: Mapping[str, tuple[Stretch, ...]]  # kind of pavement, or 'vehicles', to the stretches beneath it

    @property
    def length(self) -> float:
        """Length in plan, from the coordinates [m]."""
        return float(self.at[-1])

    @property
    def rise(self) -> float:
        """Height of the outside top of the line's own pipe above the invert: the bore and one wall [m]."""
        pipe = self.line.pipe
        return pipe.bore + (pipe.od - pipe.bore) / 2

    def rise_at(self, stations: Floats) -> Floats:
        """Height of the outside top above the invert [m] at stations, of the pipe that lies there.

        The one upstream where two meet.
        """
        found = np.full(len(stations), self.rise)
        for reach in self.line.reaches:
            found[stations >= reach.station_from - SAME] = reach.pipe.bore + (reach.pipe.od - reach.pipe.bore) / 2
        return found

    def wall_below(self, stations: Floats) -> Floats:
        """Wall below the invert [m] at stations, of the pipe that lies there; the one upstream where two meet."""
        found = np.full(len(stations), (self.line.pipe.od - self.line.pipe.bore) / 2)
        for reach in self.line.reaches:
            found[stations >= reach.station_from - SAME] = (reach.pipe.od - reach.pipe.bore) / 2
        return found

    def walls_at(self, station: float, within: float) -> list[float]:
        """Wall below the invert [m] of the pipe that lies at a station; of both where two meet within so much [m]."""
        here = [
            reach.pipe
            for reach in self.line.reaches
            if reach.station_from - within <= station <= reach.station_to + within
        ]
        return [(pipe.od - pipe.bore) / 2 for pipe in here or [self.line.pipe]]

    @property
    def cover(self) -> Floats:
        """Ground minus outside top of the pipe that lies there, at the samples [m]."""
        return self.ground - (self.z + self.rise_at(self.s))

    def within(self, reaches: Iterable[Reach]) -> Flags:
        """Which samples lie in reaches, their ends counted."""
        inside = np.zeros(len(self.s), dtype=bool)
        for reach in reaches:
            inside |= (self.s > reach.station_from - SAME) & (self.s < reach.station_to + SAME)
        return inside

    @property
    def depth(self) -> Floats:
        """Ground minus invert at the samples [m]."""
        return self.ground - self.z

    def beneath(self, kind: str) -> Flags:
        """Which samples lie under a kind of pavement, its edges counted."""
        inside = np.zeros(len(self.s), dtype=bool)
        for start, end in self.under.get(kind, ()):
            inside |= (self.s > start - SAME) & (self.s < end + SAME)
        return inside

    def place(self, station: float) -> tuple[float, float]:
        """Coordinates at a station [m]."""
        x, y = _along(self.at, self.corners, np.array([station]))
        return float(x[0]), float(y[0])

    def invert_at(self, station: float) -> float:
        """Invert at a station [m]."""
        return float(np.interp(station, self.at, self.inverts))


def can_be_walked(line: Line) -> bool:
    """Whether a line has two or more vertices, all of them numbers, and a length.

    Parameters
    ----------
    line : Line
        A line of a plan.

    Returns
    -------
    bool
        False: nothing along it can be checked.
    """
    numbers = np.array([(v.x, v.y, v.invert) for v in line.vertices], np.float64)
    if len(numbers) < 2 or not np.isfinite(numbers).all():
        return False
    return bool(np.hypot(*np.diff(numbers[:, :2], axis=0).T).sum() > _STEP)


def walked(line: Line, site: Site, areas: Mapping[str, BaseGeometry], *, free: bool) -> Walk:
    """The line, walked.

    Parameters
    ----------
    line : Line
        A line that `can_be_walked`.
    site : Site
        The surveyed site: ground and rules.
    areas : mapping of str to geometry
        Pavement by kind, 'vehicles' included; a kind that the site lacks is absent.
    free : bool
        Whether it ends at the surface; one that joins another line or an old pipe has no outlet zone.

    Returns
    -------
    Walk
        With samples every 0.05 m, at the vertices, at pavement edges and where zones end.
    """
    corners = np.array([(v.x, v.y) for v in line.vertices], np.float64)
    inverts = np.array([v.invert for v in line.vertices], np.float64)
    at = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))))
    length = float(at[-1])
    under = {kind: stretches_inside(corners, at, area) for kind, area in areas.items()}
    zone = rules.needed(site.rules, rules.OUTLET_ZONE) if free else 0.0
    # a short line lies under the ground over the half at its source
    stretch = min(rules.needed(site.rules, rules.DAYLIGHT_STRETCH), zone, length / 2)
    head = max(0.0, length - rules.needed(site.rules, rules.START_ZONE))
    edges = [station for stretches in under.values() for pair in stretches for station in pair]
    edges += [reach.station_to for reach in line.reaches]
    s = np.unique(np.concatenate((np.arange(0.0, length, _STEP), at, np.array([zone, stretch, head, *edges]))))
    s = s[(s >= 0) & (s <= length)]
    x, y = _along(at, corners, s)
    return Walk(
        line=line,
        corners=corners,
        at=at,
        inverts=inverts,
        s=s,
        x=x,
        y=y,
        z=np.interp(s, at, inverts),
        ground=ground_at(site.grid, x, y),
        zone=zone,
        stretch=stretch,
        head=head,
        under=under,
    )


def stretches_inside(corners: Floats, at: Floats, area: BaseGeometry) -> tuple[Stretch, ...]:
    """Stations between which a path lies inside an area.

    Parameters
    ----------
    corners : ndarray, shape (k, 2) [m]
        The path's corners, outlet first.
    at : ndarray, shape (k,) [m]
        Their stations.
    area : geometry
        Polygons.

    Returns
    -------
    tuple of (float, float) [m]
        In order of station; those that only touch the area are left out. Each straight piece is cut by itself, so
        a path that crosses itself is told apart.
    """
    import shapely

    if area.is_empty or len(corners) < 2:
        return ()
    pieces = shapely.linestrings(np.stack((corners[:-1], corners[1:]), axis=1))
    found: list[list[float]] = []
    for number, cut in enumerate(shapely.intersection(pieces, area)):
        spans = []
        for part in shapely.get_parts(cut):
            along = np.hypot(*(shapely.get_coordinates(part) - corners[number]).T)
            if len(along) > 1:
                spans.append([float(at[number] + along.min()), float(at[number] + along.max())])
        for start, end in sorted(spans):
            if found and start - found[-1][1] < SAME:
                found[-1][1] = max(found[-1][1], end)
            else:
                found.append([start, end])
    return tuple((start, end) for start, end in found if end - start > _TOUCH)


def runs_of_samples(held: Flags) -> tuple[tuple[int, int], ...]:
    """First and last sample of each unbroken stretch in which something holds.

    Parameters
    ----------
    held : ndarray of bool, shape (n,)
        Where it holds.

    Returns
    -------
    tuple of (int, int)
        Indices of samples, both included.
    """
    edge = np.diff(np.concatenate(([0], held.astype(np.int8), [0])))
    starts, ends = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1) - 1
    return tuple((int(start), int(end)) for start, end in zip(starts, ends, strict=True))


def length_of(stretches: tuple[Stretch, ...]) -> float:
    """Sum of the lengths of stretches.

    Parameters
    ----------
    stretches : tuple of (float, float)
        Stations from and to [m].

    Returns
    -------
    float
        Total length [m].
    """
    return sum(end - start for start, end in stretches)


def turn_at(before: Floats, here: Floats, after: Floats) -> float:
    """Turn in plan at a corner.

    Parameters
    ----------
    before, here, after : ndarray, shape (2,) [m]
        Three corners in order.

    Returns
    -------
    float
        Angle between the two directions, 0 to 180 [degrees]; 0 where a piece has no length.
    """
    arriving, leaving = here - before, after - here
    across = arriving[0] * leaving[1] - arriving[1] * leaving[0]
    return abs(float(np.degrees(np.arctan2(across, arriving @ leaving))))


def _along(at: Floats, corners: Floats, s: Floats) -> tuple[Floats, Floats]:
    return np.interp(s, at, corners[:, 0]), np.interp(s, at, corners[:, 1])
