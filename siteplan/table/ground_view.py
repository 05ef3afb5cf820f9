"""A session in; what the page draws of the ground, out.

Contours, shading and the height under the pointer, on the paper.
"""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, Any

import numpy as np

from siteplan.sheets.relief import PictureFrame, contours, heights_base64, relief, shading_png
from siteplan.site import Shot, Site
from siteplan.table.answers import frame_moves
from siteplan.table.bare_ground import bare_site
from siteplan.units import LENGTH

if TYPE_CHECKING:
    from siteplan.survey.frame import Move
    from siteplan.table.answers import Answering
    from siteplan.table.session import TableSession

_AROUND = 0.25  # of the lot's longer side, shown beyond it


def ground_view(session: TableSession, answering: Answering) -> dict[str, Any]:
    """The ground of a site that can be read; nothing while it cannot.

    Parameters
    ----------
    session : TableSession
        The site.
    answering : Answering
        Holds it as surveyed.

    Returns
    -------
    dict
        known: whether there is any; contours, picture and heights with their places on the paper; shots.
    """
    held = answering.surveyed()
    if held.site is not None and held.onto is not None:
        west, south, east, north = held.site.lot.bounds
        more = _AROUND * max(east - west, north - south)
        return _view(
            session, held.site, held.onto, (west - more, south - more, east + more, north + more), held.version
        )
    bare = bare_site(session.state)
    if bare is None:
        return {"known": False, "version": held.version}
    site, box = bare
    _, onto = frame_moves(session.state.paper, site)
    if site.shots:
        shots = _shots(session, site, onto)
        return {"known": False, "version": held.version, "shots": shots, "box": _box(box, _plain(session, onto))}
    return _view(session, site, onto, box, held.version)


def _view(
    session: TableSession, site: Site, onto: Move, box: tuple[float, float, float, float], version: int
) -> dict[str, Any]:
    west, south, east, north = box
    seen = relief(site, PictureFrame(west=west, south=south, east=east, north=north))
    interval, levels = contours(seen, site.elevation_unit, site.accuracy)
    frame = seen.frame
    corners = _onto(onto, np.array([[frame.west, frame.north], [frame.east, frame.north], [frame.west, frame.south]]))
    return {
        "known": True,
        "version": version,
        "interval": interval,
        "contours": [
            {"level": level, "lines": [np.round(_onto(onto, line), 3).tolist() for line in lines]}
            for level, lines in levels
        ],
        "picture": base64.b64encode(shading_png(seen)).decode("ascii"),
        # three corners: the paper may stand turned to the plan's frame
        "corners": np.round(corners, 4).tolist(),
        "heights": {**heights_base64(seen), "unit": LENGTH[site.elevation_unit]},
        "shots": _shots(session, site, onto) if session.state.heights_file is None else [],
        "box": _box(box, onto),
    }


def _plain(session: TableSession, onto: Move) -> Move:
    """Listed shots stand in the site's own coordinates, in metres: on the paper by its unit alone."""
    del onto
    metres = session.state.paper.metres
    return lambda x, y: (np.asarray(x) / metres, np.asarray(y) / metres)


def _box(box: tuple[float, float, float, float], onto: Move) -> list[list[float]]:
    west, south, east, north = box
    corners = _onto(onto, np.array([[west, south], [east, north]]))
    return [[round(float(x), 3), round(float(y), 3)] for x, y in corners]


def _shots(session: TableSession, site: Site, onto: Move) -> list[dict[str, Any]]:
    if session.state.heights_file is not None:
        return []
    move = onto if site.features else _plain(session, onto)
    return [_shot(move, site, one) for one in site.shots]


def _onto(onto: Move, places: np.ndarray) -> np.ndarray:
    return np.column_stack(onto(places[:, 0], places[:, 1]))


def _shot(onto: Move, site: Site, one: Shot) -> dict[str, Any]:
    place = _onto(onto, np.array([[one.x, one.y]]))[0]
    return {
        "number": one.number,
        "x": round(float(place[0]), 4),
        "y": round(float(place[1]), 4),
        "z": round(one.z / LENGTH[site.elevation_unit], 3),
        "note": one.description,
    }
