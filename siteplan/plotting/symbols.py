"""Marks of one place: sources, outlets, fittings, trees, benchmarks.

Each as strokes and areas about a place on the page.
"""

from __future__ import annotations

import math

from siteplan.plotting.looks_of import TICK
from siteplan.plotting.paper_sizes import Box
from siteplan.plotting.shapes import Filled, Lettering, Mark, Pen, Spot, Stroke
from siteplan.sheets.drawing import BLACK, BLUE, BROWN, GREY

_EDGE = Pen(color=BLACK, width=0.25)
_LETTERS = {
    "downspout": "D",
    "sump": "S",
    "inlet": "I",
    "area_drain": "A",
    "discharge_point": "P",
    "curb_outlet": "C",
    "daylight_outlet": "",
    "tie_in": "T",
}
SYMBOL_MM = 1.7  # half of a symbol


def ring(spot: Spot, radius: float, sides: int = 20, turn: float = 0.0) -> tuple[Spot, ...]:
    """A regular polygon about a place; of many sides, a circle.

    Parameters
    ----------
    spot : tuple of float
        Its middle [mm].
    radius : float
        To its corners [mm].
    sides : int
        How many.
    turn : float
        Of its first corner from the right, counter-clockwise [degrees].

    Returns
    -------
    tuple of places
        Counter-clockwise.
    """
    return tuple(
        (
            spot[0] + radius * math.cos(math.radians(turn + 360.0 * k / sides)),
            spot[1] + radius * math.sin(math.radians(turn + 360.0 * k / sides)),
        )
        for k in range(sides)
    )


def end_symbol(kind: str, spot: Spot, layer: str) -> list[Mark]:
    """A source or an outlet, with the letter of its kind.

    Parameters
    ----------
    kind : str
        Of books.kinds.
    spot : tuple of float
        Where [mm].
    layer : str
        Its layer.

    Returns
    -------
    list of Mark
        White inside, so that the line ends at it.
    """
    if kind in {"curb_outlet", "daylight_outlet"}:
        outline = ring(spot, SYMBOL_MM * 1.25, 3, -90.0)
    elif kind in {"sump", "tie_in"}:
        outline = ring(spot, SYMBOL_MM * 1.25, 4, 45.0)
    elif kind in {"inlet", "area_drain"}:
        outline = ring(spot, SYMBOL_MM * 1.1, 8, 22.5)
    elif kind == "discharge_point":
        outline = ring(spot, SYMBOL_MM * 1.25, 4, 0.0)
    else:
        outline = ring(spot, SYMBOL_MM)
    said: list[Mark] = [Filled(layer=layer, rings=(outline,), fill="#ffffff", pen=Pen(color=BLUE, width=0.4))]
    if letter := _LETTERS.get(kind, ""):
        drop = 0.75 if kind != "curb_outlet" else 0.35
        said.append(
            Lettering(layer=layer, text=letter, x=spot[0], y=spot[1] - drop, size=2.0, anchor="middle", bold=True)
        )
    return said


def fitting_symbol(kind: str, spot: Spot, layer: str = "fittings") -> list[Mark]:
    """A fitting.

    Parameters
    ----------
    kind : str
        Of values.FittingKind, or 'reducer'.
    spot : tuple of float
        Where [mm].
    layer : str
        Its layer.

    Returns
    -------
    list of Mark
        Cleanout: ring with a cross; wye: solid triangle; bend: solid dot; tie-in: square; grade break: stroke; reducer:
        lozenge.
    """
    x, y = spot
    if kind == "cleanout":
        r = 1.25
        return [
            Filled(layer=layer, rings=(ring(spot, r),), fill="#ffffff", pen=_EDGE),
            Stroke(layer=layer, points=((x - r, y), (x + r, y)), pen=_EDGE),
            Stroke(layer=layer, points=((x, y - r), (x, y + r)), pen=_EDGE),
        ]
    if kind == "wye":
        return [Filled(layer=layer, rings=(ring(spot, 1.0, 3, 90.0),), fill=BLACK)]
    if kind in {"bend", "turned_pair"}:
        return [Filled(layer=layer, rings=(ring(spot, 0.6),), fill=BLACK)]
    if kind == "grade_break":
        return [Stroke(layer=layer, points=((x - 0.9, y - 0.9), (x + 0.9, y + 0.9)), pen=_EDGE)]
    if kind == "reducer":
        return [Filled(layer=layer, rings=(ring(spot, 1.1, 4),), fill="#ffffff", pen=_EDGE)]
    return [Filled(layer=layer, rings=(ring(spot, 1.2, 4, 45.0),), fill="#ffffff", pen=_EDGE)]


def tree_symbol(spot: Spot, trunk: float) -> list[Mark]:
    """A tree: its trunk to scale where that shows, in a ring.

    Parameters
    ----------
    spot : tuple of float
        Where [mm].
    trunk : float
        Its thickness on paper [mm].

    Returns
    -------
    list of Mark
        Strokes and the trunk.
    """
    x, y = spot
    pen = Pen(color=GREY, width=0.2)
    return [
        Stroke(layer="tree", points=ring(spot, 2.0, 12), pen=pen, closed=True),
        *(
            Stroke(layer="tree", points=((x, y), (x + 2.0 * math.cos(a), y + 2.0 * math.sin(a))), pen=pen)
            for a in (math.radians(30 + 60 * k) for k in range(6))
        ),
        Filled(layer="tree", rings=(ring(spot, max(trunk / 2, 0.4)),), fill=GREY),
    ]


def benchmark_symbol(spot: Spot) -> list[Mark]:
    """A benchmark: a ring, two of its quarters solid.

    Parameters
    ----------
    spot : tuple of float
        Where [mm].

    Returns
    -------
    list of Mark
        Ring and quarters.
    """
    x, y = spot
    r = 1.6
    quarters = [
        (
            (x, y),
            *(
                (x + r * math.cos(math.radians(a)), y + r * math.sin(math.radians(a)))
                for a in range(first, first + 91, 15)
            ),
        )
        for first in (0, 180)
    ]
    return [
        Filled(layer="benchmark", rings=(ring(spot, r),), fill="#ffffff", pen=_EDGE),
        *(Filled(layer="benchmark", rings=(quarter,), fill=BLACK) for quarter in quarters),
    ]


def sprinkler_symbol(spot: Spot) -> list[Mark]:
    """A sprinkler: a dot with four strokes.

    Parameters
    ----------
    spot : tuple of float
        Where [mm].

    Returns
    -------
    list of Mark
        Dot and strokes.
    """
    x, y = spot
    pen = Pen(color=BROWN, width=0.2)
    return [
        Filled(layer="sprinkler", rings=(ring(spot, 0.5),), fill=BROWN),
        *(
            Stroke(layer="sprinkler", points=((x + 0.8 * a, y + 0.8 * b), (x + 1.6 * a, y + 1.6 * b)), pen=pen)
            for a, b in ((1, 0), (0, 1), (-1, 0), (0, -1))
        ),
    ]


def arrow(spot: Spot, toward: Spot, color: str) -> Filled:
    """A flow arrow on a line, solid, its point towards where the water goes.

    Parameters
    ----------
    spot : tuple of float
        Its middle [mm].
    toward : tuple of float
        A unit vector.
    color : str
        Of the line.

    Returns
    -------
    Filled
        One triangle.
    """
    ux, uy = toward
    tip = (spot[0] + 1.6 * ux, spot[1] + 1.6 * uy)
    foot = (spot[0] - 1.2 * ux, spot[1] - 1.2 * uy)
    return Filled(
        layer="flow",
        rings=((tip, (foot[0] - 1.1 * uy, foot[1] + 1.1 * ux), (foot[0] + 1.1 * uy, foot[1] - 1.1 * ux)),),
        fill=color,
    )


def cross_stroke(spot: Spot, across: Spot, half: float, layer: str, pen: Pen = TICK) -> Stroke:
    """A short stroke across a line.

    Parameters
    ----------
    spot : tuple of float
        Where [mm].
    across : tuple of float
        A unit vector square to the line.
    half : float
        Half of its length [mm].
    layer : str
        Its layer.
    pen : Pen
        How it is drawn.

    Returns
    -------
    Stroke
        One.
    """
    (x, y), (ax, ay) = spot, across
    return Stroke(layer=layer, points=((x - half * ax, y - half * ay), (x + half * ax, y + half * ay)), pen=pen)


def around(spot: Spot, half: float) -> tuple[Spot, ...]:
    """The square about a symbol that no label may cover.

    Parameters
    ----------
    spot : tuple of float
        Its middle [mm].
    half : float
        Half of the square [mm].

    Returns
    -------
    tuple of places
        Four corners.
    """
    box = Box(left=spot[0] - half, bottom=spot[1] - half, right=spot[0] + half, top=spot[1] + half)
    return (box.left, box.bottom), (box.right, box.bottom), (box.right, box.top), (box.left, box.top)
