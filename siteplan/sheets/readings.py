"""A line and the ground in; its readings station by station out.

They are what the page's slider steps through and what the profile draws: the schedule's rows and corners, and even
steps between them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from siteplan import units
from siteplan.ground.on_lines import ground_on
from siteplan.sheets.rod_levels import printed_drop
from siteplan.sheets.wording import level_text
from siteplan.site import Floats, Site
from siteplan.values.lines import Line

_STEP_FT, _STEP_M = 1.0, 0.25  # between readings
_MOST_READINGS = 400
_SAME = 0.004  # readings closer than this are one [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """Places along a line, outlet first. Ground is NaN where it is not known."""

    station: Floats
    x: Floats
    y: Floats
    ground: Floats
    invert: Floats


def readings(line: Line, site: Site) -> Readings:
    """Places along a line that the slider stops at.

    Parameters
    ----------
    line : Line
        The line; inverts are straight between its vertices.
    site : Site
        For the ground between the schedule's rows.

    Returns
    -------
    Readings
        Every row and vertex, and a place each foot or quarter metre between them (wider on long lines).
    """
    step = _STEP_M if line.length / _STEP_M <= _MOST_READINGS and site.length_unit == "m" else _STEP_FT * units.FOOT
    step = max(step, line.length / _MOST_READINGS)
    fixed = sorted({row.station for row in line.rows} | {vertex.station for vertex in line.vertices})
    kept: list[float] = []
    for place in fixed:
        if not kept or place - kept[-1] > _SAME:
            kept.append(place)
    between = np.arange(1, math.ceil(line.length / step)) * step
    apart = (
        np.abs(between[:, None] - np.array(kept)[None, :]).min(axis=1) > step / 4 if len(between) else np.zeros(0, bool)
    )
    station = np.sort(np.concatenate([np.array(kept), between[apart]]))
    _, x, y, ground, invert = ground_on(line, site.grid, station)
    known = {row.station: row.ground for row in line.rows if math.isfinite(row.ground)}
    for number_, place in enumerate(station):
        ground[number_] = known.get(float(place), ground[number_])  # a row's figure is the plan's own
    return Readings(station=station, x=x, y=y, ground=ground, invert=invert)


def reading_texts(line: Line, found: Readings, unit: str, elevation_unit: str) -> list[list[str]]:
    """What the page shows at each reading: station, ground, invert, top of pipe, cover, cut, grade.

    Cut is to the trench bottom, which lies as far under the invert as at the schedule's next row upstream.

    Parameters
    ----------
    line : Line
        The line.
    found : Readings
        From `readings`.
    unit, elevation_unit : str
        The site's, of lengths and of elevations: 'ft', 'us-ft' or 'm'.

    Returns
    -------
    list of list of str
        As printed, with units; a dash where the ground is not known.
    """
    told = []
    for station, ground, invert in zip(
        found.station.tolist(), found.ground.tolist(), found.invert.tolist(), strict=True
    ):
        row = next((row for row in line.rows if row.station >= station - _SAME and row.station > 0), line.rows[-1])
        under = row.cut - (row.ground - row.invert)
        known = math.isfinite(ground)
        told.append(
            [
                units.station_text(station, unit),
                level_text(ground, elevation_unit),
                units.length_text(invert, elevation_unit),
                units.length_text(invert + line.pipe_at(station).rise, elevation_unit),
                units.drop_text(printed_drop(ground, invert + line.pipe_at(station).rise, unit, elevation_unit), unit)
                if known
                else "not known",
                units.drop_text(printed_drop(ground, invert - under, unit, elevation_unit), unit)
                if known and math.isfinite(under)
                else "not known",
                units.grade_text(row.grade),
            ]
        )
    return told


def chart_data(found: Readings, west: float, south: float) -> dict[str, Any]:
    """Readings as numbers for the page's script.

    Parameters
    ----------
    found : Readings
        From `readings`.
    west, south : float
        Local origin of the map [m].

    Returns
    -------
    dict
        station, x, y, ground (null unknown) and invert, [m].
    """
    return {
        "station": [round(v, 4) for v in found.station.tolist()],
        "x": [round(v - west, 3) for v in found.x.tolist()],
        "y": [round(v - south, 3) for v in found.y.tolist()],
        "ground": [round(v, 4) if math.isfinite(v) else None for v in found.ground.tolist()],
        "invert": [round(v, 4) for v in found.invert.tolist()],
    }
