"""A curb outlet's place in; the gutter's flow line there, and what that height rests on, out."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np

from siteplan import units
from siteplan.books.practice import CODE_GAP, GUTTER_SEARCH
from siteplan.site import Shot, Site, heights
from siteplan.survey.shot_codes import is_flow_line

_ONE_HEIGHT = 0.02  # m; ground that runs through a shot is met to this, by the grid that carries it
_MOST = 20  # nearest shots of a flow line that are looked at in pairs


def flow_line_at(site: Site, x: float, y: float, ground: float) -> float:
    """The lowest ground within 0.6 m of a place.

    Parameters
    ----------
    site : Site
        The surveyed site.
    x, y : float
        The place [m].
    ground : float
        Elevation there [m].

    Returns
    -------
    float
        Elevation [m].
    """
    # on rings, so that a site drawn turned has the same flow line
    radius, bearing = np.meshgrid(np.linspace(0.1, 1.0, 10) * GUTTER_SEARCH, np.arange(0, 360, 5))
    turn = np.radians(bearing)
    around = heights(site.grid, (x + radius * np.cos(turn)).ravel(), (y + radius * np.sin(turn)).ravel())
    return float(np.nanmin(np.append(around, ground)))


def shown_by(site: Site, x: float, y: float, taken: float) -> str:
    """What a gutter's flow line rests on: a shot of it, two shots along it, or ground that nobody shot as a gutter.

    Parameters
    ----------
    site : Site
        The surveyed site.
    x, y : float
        The outlet [m].
    taken : float
        The flow line in use [m], from `flow_line_at`.

    Returns
    -------
    str
        A clause.
    """
    near = [shot for shot in site.shots if _away(shot, x, y) <= GUTTER_SEARCH]
    own = [shot for shot in near if is_flow_line(shot.description) or abs(shot.z - taken) <= _ONE_HEIGHT]
    if own:
        shot = min(own, key=lambda one: (not is_flow_line(one.description), one.z, _away(one, x, y)))
        return f"shot there: {_called(shot)}"
    within = units.length_text(GUTTER_SEARCH, site.length_unit)
    lacking = f"no shot of the flow line within {within} of the outlet"
    lows = [shot for shot in site.shots if is_flow_line(shot.description)]
    between = _between(lows, x, y)
    if between is not None:
        first, last, height, steep = between
        pair = " and ".join(f"{_called(one)} {_far(site, one, x, y)} away" for one in (first, last))
        if abs(taken - height) <= _ONE_HEIGHT + steep * GUTTER_SEARCH:
            return f"{lacking}: it is the height between {pair}"
        level = units.length_text(height, site.elevation_unit)
        return (
            f"{lacking}; the height between {pair} would be {level} and is not used: {_ground_of(site)}; shoot "
            "the flow line there"
        )
    nearest = min(lows, key=lambda one: (_away(one, x, y), one.number), default=None)
    if nearest is not None and _away(nearest, x, y) <= CODE_GAP:
        lacking += f" (the nearest, {_called(nearest)}, is {_far(site, nearest, x, y)} away and is not used)"
    return f"{lacking}: {_ground_of(site)}; shoot the flow line there"


def _between(lows: Sequence[Shot], x: float, y: float) -> tuple[Shot, Shot, float, float] | None:
    """Two shots of the flow line with the outlet beside the line between them, its height there [m].

    Also its slope [-].
    """
    close = sorted(
        (one for one in lows if _away(one, x, y) <= CODE_GAP), key=lambda one: (_away(one, x, y), one.number)
    )
    for last, first in itertools.combinations(close[:_MOST], 2):
        dx, dy = last.x - first.x, last.y - first.y
        run = math.hypot(dx, dy)
        if not 0 < run <= CODE_GAP:
            continue
        along = ((x - first.x) * dx + (y - first.y) * dy) / run**2
        aside = abs((x - first.x) * dy - (y - first.y) * dx) / run
        if 0 < along < 1 and aside <= GUTTER_SEARCH:
            return last, first, first.z + along * (last.z - first.z), abs(last.z - first.z) / run
    return None


def _away(shot: Shot, x: float, y: float) -> float:
    return math.hypot(shot.x - x, shot.y - y)


def _far(site: Site, shot: Shot, x: float, y: float) -> str:
    return units.length_text(_away(shot, x, y), site.length_unit, 1)


def _called(shot: Shot) -> str:
    return f'point {shot.number} "{shot.description}"'


def _ground_of(site: Site) -> str:
    """What the ground was made of, as far as it tells a curb."""
    if site.tin is None:
        return (
            "the ground there is the grid's corrected to the shots, and a grid does not show a curb"
            if site.shots
            else "the ground there is a grid's, and a grid does not show a curb"
        )
    if site.shots:
        return "the ground there is drawn between the shots around it"
    return "the ground there is that of the surface file"
