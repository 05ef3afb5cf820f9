"""Lines, outlets, low spots and candidates as reckoned in; the same to the digit that plan.json carries out.

What follows from them (pipes, doubts, water, checks) is then worked out from the very figures that others read, and a
reviewer who works it out again finds the same: no way of water, no merged run, turns on a digit that was never written.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields, is_dataclass, replace
from typing import TypeVar

from siteplan.site import Feature
from siteplan.values.drawn_shapes import SHAPES, PlanFeature, Shape
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.tried import Candidate
from siteplan.values.water_ends import Outlet

DIGITS = 6  # of a metre
_RING_DIGITS = 4  # of a metre, of the rings of a low spot

Value = TypeVar("Value")


def lines_as_written(lines: Sequence[Line]) -> tuple[Line, ...]:
    """Lines with every length to the micrometre.

    Parameters
    ----------
    lines : sequence of Line
        As laid out.

    Returns
    -------
    tuple of Line
        Vertices, rows, crossings and passages rounded; pipes are the book's own.
    """
    return tuple(_written(line) for line in lines)


def features_as_written(features: Sequence[Feature]) -> tuple[PlanFeature, ...]:
    """Features of the site as a plan carries them, one for each part.

    Parameters
    ----------
    features : sequence of Feature
        As surveyed.

    Returns
    -------
    tuple of PlanFeature
        Places to the micrometre; of the attributes those that are one number, text or yes and no.
    """
    found = []
    for feature in features:
        told = tuple(
            (key, round(float(value), DIGITS) if isinstance(value, float) else value)
            for key, value in sorted(feature.attributes.items())
            if isinstance(value, int | float | str)
        )
        for part in getattr(feature.geometry, "geoms", [feature.geometry]):
            if part.is_empty:
                continue
            shape: Shape = next((one for one in SHAPES if one == part.geom_type), "LineString")
            runs = [part.exterior, *part.interiors] if shape == "Polygon" else [part]
            rings = tuple(tuple((round(x, DIGITS), round(y, DIGITS)) for x, y, *_ in run.coords) for run in runs)
            found.append(PlanFeature(kind=feature.kind, name=feature.name, shape=shape, rings=rings, told=told))
    return tuple(found)


def outlets_as_written(outlets: Sequence[Outlet]) -> tuple[Outlet, ...]:
    """Outlets with every length to the micrometre.

    Parameters
    ----------
    outlets : sequence of Outlet
        As found.

    Returns
    -------
    tuple of Outlet
        Places, grounds and controls rounded.
    """
    return tuple(_written(outlet) for outlet in outlets)


def low_spots_as_written(spots: Sequence[LowSpot]) -> tuple[LowSpot, ...]:
    """Wet low spots with every figure as plan.json carries it.

    Parameters
    ----------
    spots : sequence of LowSpot
        As found.

    Returns
    -------
    tuple of LowSpot
        Rings to a tenth of a millimetre, all else to the micrometre.
    """
    return tuple(
        replace(
            _written(spot),
            rings=tuple(
                tuple((_round(x, _RING_DIGITS), _round(y, _RING_DIGITS)) for x, y in ring) for ring in spot.rings
            ),
        )
        for spot in spots
    )


def candidates_as_written(candidates: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """Candidates with every figure as plan.json carries it.

    Parameters
    ----------
    candidates : sequence of Candidate
        As weighed.

    Returns
    -------
    tuple of Candidate
        Figures to six digits after the point.
    """
    return tuple(_written(candidate) for candidate in candidates)


def _round(value: float, digits: int = DIGITS) -> float:
    return round(float(value), digits) + 0.0 if math.isfinite(value) else value


def _written(value: Value) -> Value:
    if isinstance(value, Pipe):
        return value
    if isinstance(value, float):
        return _round(value)  # type: ignore[return-value]
    if isinstance(value, tuple):
        return tuple(_written(item) for item in value)  # type: ignore[return-value]
    if is_dataclass(value) and not isinstance(value, type):
        # a grade is written in percent to six digits, which is two digits more than a length
        return replace(
            value,
            **{
                one.name: _grade(getattr(value, one.name))
                if one.name == "grade"
                else _written(getattr(value, one.name))
                for one in fields(value)
            },
        )
    return value


def _grade(value: float) -> float:
    return round(value * 100, DIGITS) / 100 if math.isfinite(value) else value
