"""What a plan draws around its lines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

Ring = tuple[tuple[float, float], ...]

Shape = Literal["Point", "LineString", "Polygon"]

SHAPES: tuple[Shape, ...] = get_args(Shape)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFeature:
    """A feature of the site as a plan carries it, so that a sheet can be drawn from the plan alone."""

    kind: str
    name: str
    shape: Shape
    rings: tuple[Ring, ...]  # of a polygon the outer one and its holes; else one run of places [m]
    told: tuple[tuple[str, float | str | bool], ...] = ()  # its attributes by name, in SI
