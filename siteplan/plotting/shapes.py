"""What stands on a page, as frozen values: strokes, areas, lettering.

Millimetres of paper from its lower left corner, y up.

A layer is a plain word of the trade: a reader that tells layers apart shows or hides them, a test measures by them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from siteplan.plotting.paper_sizes import Box, Paper

Spot = tuple[float, float]  # on the page [mm]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pen:
    """How a line is drawn. Widths and dashes in millimetres."""

    color: str = "#000000"
    width: float = 0.25
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A run of straight pieces."""

    layer: str
    points: tuple[Spot, ...]
    pen: Pen = Pen()
    closed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """An area: outer ring and holes, filled, with or without an edge."""

    layer: str
    rings: tuple[tuple[Spot, ...], ...]
    fill: str
    pen: Pen | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettering:
    """One line of text. `size` is that of the type: capitals stand 0.73 of it high."""

    layer: str
    text: str
    x: float
    y: float  # of the base line
    size: float = 2.8
    anchor: Anchor = "start"
    angle: float = 0.0  # counter-clockwise [degrees]
    bold: bool = False
    color: str = "#000000"
    ground: str = ""  # colour of a box under it; '' none


Mark = Stroke | Filled | Lettering


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A sheet before it is numbered: its paper, its title, its scale in words, what stands inside the frame."""

    paper: Paper
    title: str
    shapes: tuple[Mark, ...]
    scale: str = ""  # as written in the title block; '' not to scale


def rectangle(layer: str, box: Box, pen: Pen | None = None, *, fill: str = "") -> Mark:
    """A rectangle.

    Parameters
    ----------
    layer : str
        Its layer.
    box : Box
        Where it stands.
    pen : Pen, optional
        Of its edge.
    fill : str
        Its colour; '' only an edge.

    Returns
    -------
    Stroke or Filled
        One shape.
    """
    ring = ((box.left, box.bottom), (box.right, box.bottom), (box.right, box.top), (box.left, box.top))
    if fill:
        return Filled(layer=layer, rings=(ring,), fill=fill, pen=pen)
    return Stroke(layer=layer, points=ring, pen=pen or Pen(), closed=True)


def straight(layer: str, a: Spot, b: Spot, pen: Pen | None = None) -> Stroke:
    """A straight line between two places.

    Parameters
    ----------
    layer : str
        Its layer.
    a, b : tuple of float
        Its ends [mm].
    pen : Pen, optional
        A thin black one where absent.

    Returns
    -------
    Stroke
        One shape.
    """
    return Stroke(layer=layer, points=(a, b), pen=pen or Pen())
