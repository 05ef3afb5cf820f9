"""A site's ground in; contours and the ground along each line out, as a drawing shows them.

A plan folder holds no ground but that at its stakes: with the site folder beside it a sheet can show the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

from siteplan.plotting.shapes import Spot
from siteplan.site import Floats, Site
from siteplan.values.whole_plan import Plan

_SEEN = 0.01  # m


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundLines:
    """Places in the plan's frame [m].

    Attributes
    ----------
    interval : float
        Between contours, in the site's unit of elevations; 0 where there are none.
    contours : tuple of (float, runs)
        Level in that unit, and its lines.
    along : mapping of line id to run
        Station and ground of each line [m], outlet first; NaN where the ground is not known.
    """

    interval: float
    contours: tuple[tuple[float, tuple[tuple[Spot, ...], ...]], ...]
    along: dict[str, tuple[tuple[float, float], ...]]


def ground_lines(plan: Plan, site: Site) -> GroundLines:
    """Contours over the lot and what the lines run under.

    Parameters
    ----------
    plan : Plan
        Made from this site.
    site : Site
        As surveyed.

    Returns
    -------
    GroundLines
        For the sheets.
    """
    from siteplan.sheets.readings import readings
    from siteplan.sheets.relief import PictureFrame, contours, relief
    from siteplan.sheets.wording import placed

    lot = [spot for one in plan.features if one.kind == "lot" for ring in one.rings for spot in ring]
    spots = [*lot, *placed(plan)]
    xs, ys = [x for x, _ in spots], [y for _, y in spots]
    rim = 12.0  # m beyond the lot
    frame = PictureFrame(west=min(xs) - rim, south=min(ys) - rim, east=max(xs) + rim, north=max(ys) + rim)
    interval, levels = contours(relief(site, frame), plan.elevation_unit, plan.accuracy)
    along = {}
    for line in plan.every_line:
        found = readings(line, site)
        along[line.id] = tuple(zip(found.station.tolist(), found.ground.tolist(), strict=True))
    runs = tuple((level, tuple(_plain(run) for run in held)) for level, held in levels)
    return GroundLines(interval=interval, contours=runs, along=along)


def _plain(run: Floats) -> tuple[Spot, ...]:
    """Without the places that a drawing does not show: a centimetre is less than a pen's width at the largest scale."""
    from shapely.geometry import LineString

    kept = LineString(run).simplify(_SEEN).coords if len(run) > 1 else run
    return tuple((float(x), float(y)) for x, y in kept)
