"""Coded shots and curb outlets in.

The height of the curb's face at each outlet, where top and flow line were shot there, out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from siteplan import units
from siteplan.books.practice import FACE_AGREES
from siteplan.site import Feature, Shot
from siteplan.survey.files import said
from siteplan.survey.questions import Oddity
from siteplan.survey.shot_codes import is_curb_top, is_flow_line

ACROSS = 0.75  # m; the top of a curb and its flow line, shot across it, lie no farther apart
# m from the outlet to the pair: a face changes along a street, at driveways most. Common practice, no source
ALONG = 3.0
LOWEST, HIGHEST = 0.05, 0.35  # m; a curb's face. Common practice, no source


class Face(NamedTuple):
    """A curb's face [m], one standard deviation of it [m], how far from the outlet it was shot [m].

    Also the two shots.
    """

    height: float
    doubt: float
    away: float
    top: Shot
    flow_line: Shot


def face_near(shots: Sequence[Shot], x: float, y: float) -> Face | None:
    """The face of a curb at a place: a top-of-curb shot less the flow-line shot across from it.

    Parameters
    ----------
    shots : sequence of Shot
        With their descriptions.
    x, y : float
        The place [m].

    Returns
    -------
    Face or None
        Of the pair nearest to the place; None where none lies within 3 m of it.

    References
    ----------
    Difference of two elevations, their errors independent. Top and flow line belong together when they lie within 0.75
    m in plan and 0.05 to 0.35 m in height (common practice, no source).
    """
    near = [shot for shot in shots if math.hypot(shot.x - x, shot.y - y) <= ALONG + ACROSS / 2]
    lows = [shot for shot in near if is_flow_line(shot.description)]
    if not lows:
        return None
    places = np.array([(shot.x, shot.y, shot.z) for shot in lows])
    found: list[tuple[float, float, str, Face]] = []
    for top in near:
        if not is_curb_top(top.description):
            continue
        apart = np.hypot(top.x - places[:, 0], top.y - places[:, 1])
        away = np.hypot((top.x + places[:, 0]) / 2 - x, (top.y + places[:, 1]) / 2 - y)
        height = top.z - places[:, 2]
        fits = np.flatnonzero((apart <= ACROSS) & (away <= ALONG) & (height >= LOWEST) & (height <= HIGHEST))
        if not len(fits):
            continue
        # of each top its nearest pair alone, so that a thousand shots of one curb make a thousand pairs
        k = min(
            fits.tolist(), key=lambda one: (round(float(away[one]), 3), round(float(apart[one]), 3), lows[one].number)
        )
        low = lows[k]
        face = Face(float(height[k]), math.hypot(top.accuracy, low.accuracy), float(away[k]), top, low)
        found.append((round(float(away[k]), 3), round(float(apart[k]), 3), f"{top.number}/{low.number}", face))
    return min(found, key=lambda one: one[:3])[3] if found else None


def with_faces(
    features: Sequence[Feature], shots: Sequence[Shot], unit: str
) -> tuple[tuple[Feature, ...], tuple[str, ...], tuple[Oddity, ...]]:
    """The features with `curb_height` of curb outlets read off the shots where nobody typed it.

    Parameters
    ----------
    features : sequence of Feature
        As placed.
    shots : sequence of Shot
        Those that the ground is drawn from.
    unit : str
        The user's length unit, for the notes.

    Returns
    -------
    tuple of Feature, tuple of str and tuple of Oddity
        `curb_height_doubt` stands beside a height from shots; where each height comes from; and what to ask where
        a typed height is not the shot one.
    """
    told: list[str] = []
    odd: list[Oddity] = []
    changed: list[Feature] = []
    for feature in features:
        face = face_near(shots, feature.geometry.x, feature.geometry.y) if feature.kind == "curb_outlet" else None
        if face is None:
            changed.append(feature)
            continue
        whose = (
            f"shot {said(face.top.number)} less shot {said(face.flow_line.number)}, "
            f"{units.length_text(face.away, unit, 1)} from it"
        )
        height = units.length_text(face.height, unit)
        typed = feature.attributes.get("curb_height")
        if typed is None:
            more = {"curb_height": face.height, "curb_height_doubt": face.doubt}
            changed.append(replace(feature, attributes=MappingProxyType({**feature.attributes, **more})))
            told.append(f'"{feature.name}": curb face {height}, top less flow line: {whose}')
            continue
        changed.append(feature)
        if abs(float(typed) - face.height) > FACE_AGREES + 2 * face.doubt:
            own = units.length_text(float(typed), unit)
            odd.append(
                Oddity(
                    key=f"{feature.name}, curb_height",
                    where=f'"{feature.name}"',
                    what=f"has curb_height {own}, and the shots make it {height} ({whose})",
                    mend=(
                        "Measure the curb's face there and give that, or take curb_height out: the shots' own is "
                        "taken then."
                    ),
                    asks=True,
                )
            )
    return tuple(changed), tuple(told), tuple(odd)
