"""How each kind of feature is drawn on paper: edge, fill, real lines as hatching.

One table for plan sheet, legend and SVG.

Existing things are thin or dashed, what is to be built is heavy and solid; kinds differ by dash, hatch, letter or shape
as well as by colour, so that a grey copy reads the same. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from siteplan.books.kinds import Kind
from siteplan.plotting.shapes import Pen
from siteplan.sheets.drawing import BLACK, BLUE, BROWN, DARK, GREY, PURPLE, RED


@dataclass(frozen=True, slots=True, kw_only=True)
class Hatching:
    """Parallel lines over an area, each family by its angle [degrees]; `apart` on paper [mm]."""

    angles: tuple[float, ...]
    apart: float
    pen: Pen


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaLook:
    """How an area is drawn; `order` from the ground up."""

    kind: str
    order: int
    pen: Pen
    fill: str = ""
    hatching: Hatching | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunLook:
    """How a line on the ground is drawn."""

    kind: str
    pen: Pen


AREA_LOOKS: tuple[AreaLook, ...] = (
    AreaLook(kind=Kind.NEIGHBOUR, order=0, pen=Pen(color=GREY, width=0.18, dash=(1.0, 1.2))),
    AreaLook(kind=Kind.DRIVEWAY, order=1, pen=Pen(color=GREY, width=0.25), fill="#eeeeea"),
    AreaLook(kind=Kind.PAVING, order=1, pen=Pen(color=GREY, width=0.25), fill="#eeeeea"),
    AreaLook(kind=Kind.WALK, order=2, pen=Pen(color=GREY, width=0.25), fill="#f3f3f0"),
    AreaLook(
        kind=Kind.EASEMENT,
        order=3,
        pen=Pen(color=PURPLE, width=0.3, dash=(4.0, 1.5)),
        hatching=Hatching(angles=(60.0,), apart=5.0, pen=Pen(color=PURPLE, width=0.12)),
    ),
    AreaLook(
        kind=Kind.WET_AREA,
        order=4,
        pen=Pen(color=BLUE, width=0.25, dash=(1.0, 1.0)),
        hatching=Hatching(angles=(0.0,), apart=2.2, pen=Pen(color=BLUE, width=0.12)),
    ),
    AreaLook(
        kind=Kind.NO_DIG,
        order=5,
        pen=Pen(color=RED, width=0.35, dash=(2.0, 1.2)),
        hatching=Hatching(angles=(45.0, 135.0), apart=4.5, pen=Pen(color=RED, width=0.12)),
    ),
    AreaLook(
        kind=Kind.BUILDING,
        order=6,
        pen=Pen(color=DARK, width=0.5),
        fill="#ffffff",
        hatching=Hatching(angles=(45.0,), apart=2.6, pen=Pen(color=GREY, width=0.13)),
    ),
    AreaLook(kind=Kind.LOT, order=9, pen=Pen(color=BLACK, width=0.5, dash=(7.0, 1.2, 1.2, 1.2, 1.2, 1.2))),
)
RUN_LOOKS: tuple[RunLook, ...] = (
    RunLook(kind=Kind.CURB, pen=Pen(color=DARK, width=0.45)),
    RunLook(kind=Kind.FENCE, pen=Pen(color=GREY, width=0.2, dash=(3.0, 1.0, 0.5, 1.0))),
    RunLook(kind=Kind.WALL, pen=Pen(color=DARK, width=0.9, dash=(1.6, 0.5))),
    RunLook(kind=Kind.UTILITY, pen=Pen(color=DARK, width=0.3)),
)
CONTOUR = Pen(color=BROWN, width=0.13, dash=(1.8, 0.9))
INDEX_CONTOUR = Pen(color=BROWN, width=0.25, dash=(2.6, 1.0))
LAID = Pen(color=BLUE, width=0.8)
LAID_FAILS = Pen(color=RED, width=0.8, dash=(1.6, 1.0))
PRESSED = Pen(color="#7a3b8f", width=0.8, dash=(4.0, 1.4, 1.0, 1.4))
LAID_UNSURE = Pen(color="#8a5a00", width=0.8, dash=(5.0, 1.2))
SLEEVE = Pen(color=BLACK, width=0.3)
HAND_DIG = Pen(color="#a30000", width=1.6, dash=(0.6, 0.6))
GROUND = Pen(color=BROWN, width=0.3, dash=(2.6, 1.0))
LEAST_COVER = Pen(color=GREY, width=0.2, dash=(0.4, 0.9))
PIPE_EDGE = Pen(color=BLUE, width=0.35)
WATER = Pen(color="#007c91", width=0.3, dash=(3.0, 0.6, 0.6, 0.6))
DOUBT = "#f0e4d6"
LEADER = Pen(color=BLACK, width=0.13)
TICK = Pen(color=BLACK, width=0.2)


def area_look(kind: str) -> AreaLook | None:
    """How an area of a kind is drawn.

    Parameters
    ----------
    kind : str
        Of a feature.

    Returns
    -------
    AreaLook or None
        None: it has no look of its own.
    """
    return next((one for one in AREA_LOOKS if one.kind == kind), None)


def run_look(kind: str) -> RunLook | None:
    """How a line of a kind is drawn.

    Parameters
    ----------
    kind : str
        Of a feature.

    Returns
    -------
    RunLook or None
        None: it has no look of its own.
    """
    return next((one for one in RUN_LOOKS if one.kind == kind), None)
