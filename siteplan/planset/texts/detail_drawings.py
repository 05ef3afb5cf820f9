"""A box and the letters of a detail in; its drawing out.

Pipes, ground, concrete, stone, and each letter beside what it names.

Drawn in tenths of the box, not to scale: the figures stand in words beside the letters.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Literal

from siteplan.plotting.paper_sizes import Box
from siteplan.plotting.shapes import Filled, Lettering, Mark, Pen, Spot, Stroke
from siteplan.plotting.symbols import ring

View = Literal["curb", "daylight", "tie-in", "pavement", "sleeve", "over-line", "under-line", "wye", "cleanout", "gap"]
DETAIL_HIGH = 40.0  # [mm]

_LAYER = "detail"
_PIPE = Pen(color="#1f4e79", width=0.4)
_GROUND = Pen(color="#7a4a12", width=0.35)
_EDGE = Pen(width=0.3)
_THIN = Pen(color="#555555", width=0.15)
_ARROW = Pen(color="#1f4e79", width=0.25)
_CONCRETE, _WATER, _STONE, _INSIDE = "#d9d9d9", "#cfe3f5", "#e8e0d0", "#ffffff"
_RADIUS = 1.9

# by drawing and name of a place: what the letter points at, and where it stands
_PLACES: Mapping[View, Mapping[str, tuple[Spot, Spot]]] = {
    "curb": {
        "invert": ((2.7, 3.6), (1.7, 6.2)),
        "control": ((2.2, 2.7), (1.0, 1.2)),
        "pipe": ((7.6, 4.6), (8.2, 2.2)),
        "piece": ((3.3, 4.2), (3.3, 8.6)),
        "cover": ((6.2, 6.3), (6.4, 9.0)),
        "zone": ((5.0, 3.9), (5.2, 1.5)),
    },
    "daylight": {
        "invert": ((2.8, 4.3), (1.6, 7.6)),
        "control": ((2.5, 3.1), (4.4, 1.2)),
        "pipe": ((7.6, 5.3), (8.2, 2.8)),
        "cover": ((5.2, 6.2), (5.2, 9.0)),
        "zone": ((5.8, 4.9), (6.2, 2.2)),
        "guard": ((2.7, 4.7), (3.0, 8.6)),
        "apron": ((1.4, 2.7), (0.8, 5.4)),
        "piece": ((4.0, 4.9), (4.0, 8.8)),
    },
    "tie-in": {
        "invert": ((4.6, 4.9), (3.0, 7.8)),
        "control": ((2.2, 3.4), (1.2, 1.4)),
        "pipe": ((7.6, 7.2), (8.8, 5.2)),
        "cover": ((6.4, 8.0), (6.0, 9.1)),
        "zone": ((6.0, 6.0), (6.6, 3.9)),
        "piece": ((5.2, 5.4), (5.6, 3.4)),
    },
    "pavement": {"pipe": ((1.8, 3.6), (1.2, 1.4)), "cover": ((5.0, 5.6), (6.0, 9.2)), "fill": ((3.2, 5.4), (2.2, 9.0))},
    "sleeve": {
        "pipe": ((1.2, 3.6), (0.8, 1.2)),
        "cover": ((5.0, 5.9), (6.0, 9.2)),
        "fill": ((3.2, 5.9), (2.2, 9.0)),
        "sleeve": ((7.2, 4.5), (8.6, 1.4)),
    },
    "over-line": {
        "pipe": ((1.6, 3.2), (1.0, 1.2)),
        "cover": ((7.6, 6.0), (8.8, 9.0)),
        "utility": ((5.5, 6.6), (6.6, 9.1)),
        "clear": ((5.0, 5.0), (3.2, 6.6)),
    },
    "under-line": {
        "pipe": ((1.6, 5.2), (1.0, 2.6)),
        "cover": ((7.6, 7.0), (8.8, 9.1)),
        "utility": ((5.5, 2.4), (6.9, 1.2)),
        "clear": ((5.0, 3.9), (3.4, 2.2)),
    },
    "wye": {"branch": ((6.6, 6.9), (8.2, 8.6)), "turn": ((4.6, 4.4), (3.2, 7.6))},
    "cleanout": {"depth": ((5.4, 5.2), (7.0, 6.4)), "riser": ((4.6, 6.0), (2.8, 6.8)), "cap": ((5.0, 8.4), (6.6, 9.2))},
    "gap": {"gap": ((4.9, 5.5), (7.0, 5.6)), "pipe": ((4.4, 8.0), (2.6, 8.6))},
}


def lettered(view: View, names: Sequence[str]) -> dict[str, str]:
    """Letters for the places of a drawing that figures speak of.

    Parameters
    ----------
    view : str
        Which drawing.
    names : sequence of str
        Places, in the order of the figures; one may come twice.

    Returns
    -------
    dict of str to str
        A letter for each place that the drawing has.
    """
    known = [one for one in dict.fromkeys(names) if one in _PLACES[view]]
    return {name: chr(ord("A") + number) for number, name in enumerate(known)}


class _Sheet:
    """Marks in tenths of a box."""

    def __init__(self, box: Box) -> None:
        self.box = box
        self.marks: list[Mark] = []

    def at(self, spot: Spot) -> Spot:
        return self.box.left + spot[0] * self.box.wide / 10, self.box.bottom + spot[1] * self.box.high / 10

    def run(self, pen: Pen, *spots: Spot) -> None:
        self.marks.append(Stroke(layer=_LAYER, points=tuple(self.at(one) for one in spots), pen=pen))

    def area(self, fill: str, *spots: Spot, pen: Pen | None = _EDGE) -> None:
        self.marks.append(Filled(layer=_LAYER, rings=(tuple(self.at(one) for one in spots),), fill=fill, pen=pen))

    def pipe(self, a: Spot, b: Spot, high: float = 0.9, pen: Pen = _PIPE) -> None:
        """A pipe along its invert from a to b, `high` tenths over it."""
        self.area(_INSIDE, a, b, (b[0], b[1] + high), (a[0], a[1] + high), pen=None)
        self.run(pen, a, b)
        self.run(pen, (a[0], a[1] + high), (b[0], b[1] + high))

    def flow(self, a: Spot, b: Spot) -> None:
        """An arrow, the way the water runs."""
        (xa, ya), (xb, yb) = self.at(a), self.at(b)
        long = max(((xb - xa) ** 2 + (yb - ya) ** 2) ** 0.5, 1e-9)
        ux, uy = (xb - xa) / long, (yb - ya) / long
        wings = ((xb - 2 * ux - uy, yb - 2 * uy + ux), (xb, yb), (xb - 2 * ux + uy, yb - 2 * uy - ux))
        self.marks.append(Stroke(layer=_LAYER, points=((xa, ya), (xb, yb)), pen=_ARROW))
        self.marks.append(Stroke(layer=_LAYER, points=wings, pen=_ARROW))

    def circle(self, middle: Spot, radius: float, fill: str, pen: Pen = _EDGE) -> None:
        self.marks.append(Filled(layer=_LAYER, rings=(ring(self.at(middle), radius),), fill=fill, pen=pen))

    def letters(self, view: View, letters: Mapping[str, str]) -> list[Mark]:
        for name, letter in letters.items():
            what, where = (self.at(one) for one in _PLACES[view][name])
            self.marks.append(Stroke(layer=_LAYER, points=(where, what), pen=_THIN))
            self.marks.append(Filled(layer=_LAYER, rings=(ring(what, 0.4, 8),), fill="#000000"))
            self.marks.append(Filled(layer=_LAYER, rings=(ring(where, _RADIUS),), fill="#ffffff", pen=_EDGE))
            self.marks.append(
                Lettering(
                    layer="letter", text=letter, x=where[0], y=where[1] - 0.85, size=2.5, anchor="middle", bold=True
                )
            )
        return self.marks


def _curb(box: Box, letters: Mapping[str, str]) -> list[Mark]:
    on = _Sheet(box)
    on.area(
        _CONCRETE,
        (0.0, 2.0),
        (0.0, 3.1),
        (2.2, 2.7),
        (2.7, 2.8),
        (2.8, 6.2),
        (3.7, 6.2),
        (3.7, 1.2),
        (2.2, 1.2),
        (2.2, 2.0),
    )
    on.run(_GROUND, (3.7, 6.2), (10.0, 8.0))
    on.pipe((2.7, 3.6), (10.0, 4.9))
    on.flow((9.4, 5.3), (8.6, 5.15))
    return on.letters("curb", letters)


def _daylight(box: Box, letters: Mapping[str, str]) -> list[Mark]:
    on = _Sheet(box)
    on.area(_STONE, (0.4, 2.1), (2.6, 3.0), (2.6, 3.6), (0.4, 2.8), pen=_THIN)
    on.run(_GROUND, (0.0, 2.3), (2.8, 3.6), (4.4, 6.0), (10.0, 8.4))
    on.pipe((2.8, 4.3), (10.0, 5.6))
    on.run(_EDGE, (2.7, 4.2), (2.7, 5.3))
    on.run(_EDGE, (2.6, 4.2), (2.6, 5.3))
    on.flow((9.4, 6.0), (8.6, 5.85))
    return on.letters("daylight", letters)


def _tie_in(box: Box, letters: Mapping[str, str]) -> list[Mark]:
    on = _Sheet(box)
    old = Pen(color="#555555", width=0.4, dash=(1.6, 0.8))
    on.pipe((0.4, 3.4), (9.6, 4.4), 1.4, old)
    on.area(_INSIDE, (4.4, 4.9), (5.2, 4.9), (9.8, 8.2), (9.0, 8.2), pen=None)
    on.run(_PIPE, (4.5, 5.1), (9.0, 8.2))
    on.run(_PIPE, (5.4, 5.2), (9.8, 8.2))
    on.flow((2.8, 4.4), (1.6, 4.27))
    return on.letters("tie-in", letters)


def _pavement(on: _Sheet) -> None:
    on.area(_STONE, (2.4, 3.0), (7.6, 3.0), (7.6, 6.8), (2.4, 6.8), pen=None)
    on.area(_CONCRETE, (2.4, 6.8), (7.6, 6.8), (7.6, 8.0), (2.4, 8.0))
    on.run(_GROUND, (0.0, 7.8), (2.4, 8.0))
    on.run(_GROUND, (7.6, 8.0), (10.0, 8.2))


def _under_pavement(box: Box, letters: Mapping[str, str]) -> list[Mark]:
    on = _Sheet(box)
    _pavement(on)
    on.pipe((0.0, 3.2), (10.0, 4.4))
    on.flow((9.4, 4.8), (8.6, 4.65))
    return on.letters("pavement", letters)


def _sleeved(box: Box, letters: Mapping[str, str]) -> list[Mark]:
    on = _Sheet(box)
    _pavement(on)
    on.pipe((1.7, 2.9), (8.3, 3.7), 2.1, Pen(width=0.45))
    on.pipe((0.0, 3.2), (10.0, 4.4))
    on.run(Pen(width=0.45), (1.7, 2.9), (1.7, 5.0))
    on.run(Pen(width=0.45), (8.3, 3.7), (8.3, 5.8))
    on.flow((9.6, 4.85), (8.9, 4.72))
    return on.letters("sleeve", letters)


def _utility_over(box: Box, letters: Mapping[str, str]) -> list[Mark]:
    on = _Sheet(box)
    on.run(_GROUND, (0.0, 8.2), (10.0, 8.4))
    on.pipe((0.0, 2.9), (10.0, 4.1))
    on.circle((5.0, 6.3), 2.2, "#f4c7c3")
    on.flow((9.4, 4.5), (8.6, 4.4))
    return on.letters("over-line", letters)


def _utility_under(box: Box, letters: Mapping[str, str]) -> list[Mark]:
    on = _Sheet(box)
    on.run(_GROUND, (0.0, 8.2), (10.0, 8.4))
    on.pipe((0.0, 4.6), (10.0, 5.8))
    on.circle((5.0, 2.4), 2.2, "#f4c7c3")
    on.flow((9.4, 6.2), (8.6, 6.1))
    return on.letters("under-line", letters)


def _wye(box: Box, letters: Mapping[str, str]) -> list[Mark]:
    on = _Sheet(box)
    on.pipe((0.4, 3.2), (9.6, 3.2), 1.4)
    on.area(_INSIDE, (4.0, 4.5), (4.9, 4.5), (8.0, 9.2), (7.1, 9.2), pen=None)
    on.run(_PIPE, (4.0, 4.6), (7.1, 9.2))
    on.run(_PIPE, (4.9, 4.6), (8.0, 9.2))
    on.flow((2.6, 3.9), (1.4, 3.9))
    on.flow((6.6, 7.7), (6.1, 7.0))
    return on.letters("wye", letters)


def _cleanout(box: Box, letters: Mapping[str, str]) -> list[Mark]:
    on = _Sheet(box)
    on.run(_GROUND, (0.0, 8.0), (10.0, 8.2))
    on.pipe((0.4, 2.4), (9.6, 3.2), 1.2)
    on.area(_INSIDE, (4.6, 3.4), (5.4, 3.6), (5.4, 8.0), (4.6, 8.0), pen=None)
    on.run(_PIPE, (3.6, 3.8), (4.6, 5.2), (4.6, 8.1))
    on.run(_PIPE, (4.8, 4.0), (5.4, 4.8), (5.4, 8.1))
    on.area("#000000", (4.4, 8.1), (5.6, 8.1), (5.6, 8.5), (4.4, 8.5))
    on.flow((2.4, 3.2), (1.4, 3.1))
    return on.letters("cleanout", letters)


def _gap(box: Box, letters: Mapping[str, str]) -> list[Mark]:
    on = _Sheet(box)
    on.run(_GROUND, (0.0, 3.8), (4.1, 3.8))
    on.run(_GROUND, (5.7, 3.8), (10.0, 3.8))
    on.area(_INSIDE, (4.5, 6.4), (5.3, 6.4), (5.3, 9.6), (4.5, 9.6), pen=None)
    on.run(_PIPE, (4.5, 6.4), (4.5, 9.6))
    on.run(_PIPE, (5.3, 6.4), (5.3, 9.6))
    on.run(_PIPE, (4.1, 4.6), (4.1, 1.6), (2.4, 1.0))
    on.run(_PIPE, (5.7, 4.6), (5.7, 1.0), (3.6, 0.4))
    on.area(_WATER, (4.15, 1.2), (5.65, 1.2), (5.65, 2.0), (4.15, 2.0), pen=None)
    on.flow((4.9, 6.2), (4.9, 4.9))
    return on.letters("gap", letters)


DETAIL_VIEWS: Mapping[View, Callable[[Box, Mapping[str, str]], list[Mark]]] = {
    "curb": _curb,
    "daylight": _daylight,
    "tie-in": _tie_in,
    "pavement": _under_pavement,
    "sleeve": _sleeved,
    "over-line": _utility_over,
    "under-line": _utility_under,
    "wye": _wye,
    "cleanout": _cleanout,
    "gap": _gap,
}
