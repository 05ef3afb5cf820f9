"""A session in; what the page draws of the ground, out: contours, shading and the height under the pointer, on the paper."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, Any

import numpy as np

from siteplan.sheets.relief import PictureFrame, contours, heights_base64, relief, shading_png
from siteplan.site import Shot, Site
from siteplan.units import LENGTH

if TYPE_CHECKING:
    from siteplan.table.answers import Answering, SurveyedFolder
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
    if held.site is None or held.onto is None:
        return {"known": False, "version": held.version}
    site = held.site
    west, south, east, north = site.lot.bounds
    more = _AROUND * max(east - west, north - south)
    seen = relief(site, PictureFrame(west=west - more, south=south - more, east=east + more, north=north + more))
    interval, levels = contours(seen, site.elevation_unit, site.accuracy)
    frame = seen.frame
    corners = _onto(held, np.array([[frame.west, frame.north], [frame.east, frame.north], [frame.west, frame.south]]))
    return {
        "known": True,
        "version": held.version,
        "interval": interval,
        "contours": [
            {"level": level, "lines": [np.round(_onto(held, line), 3).tolist() for line in lines]}
            for level, lines in levels
        ],
        "picture": base64.b64encode(shading_png(seen)).decode("ascii"),
        # three corners: the paper may stand turned to the plan's frame
        "corners": np.round(corners, 4).tolist(),
        "heights": {**heights_base64(seen), "unit": LENGTH[site.elevation_unit]},
        "shots": [_shot(held, site, one) for one in site.shots] if session.state.heights_file is None else [],
    }


def _onto(held: SurveyedFolder, places: np.ndarray) -> np.ndarray:
    assert held.onto is not None
    return np.column_stack(held.onto(places[:, 0], places[:, 1]))


def _shot(held: SurveyedFolder, site: Site, one: Shot) -> dict[str, Any]:
    place = _onto(held, np.array([[one.x, one.y]]))[0]
    return {
        "number": one.number,
        "x": round(float(place[0]), 4),
        "y": round(float(place[1]), 4),
        "z": round(one.z / LENGTH[site.elevation_unit], 3),
        "note": one.description,
    }
