"""What stands beside a drawing.

North, a true scale bar, the key of what is on this sheet, benchmark, words that found no room in it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from siteplan import units
from siteplan.books.kinds import Kind
from siteplan.books.services import service
from siteplan.plotting.clouds import CLOUD, GONE
from siteplan.plotting.fonts import wrapped
from siteplan.plotting.looks_of import (
    CONTOUR,
    HAND_DIG,
    LAID,
    LAID_FAILS,
    LAID_UNSURE,
    PRESSED,
    SLEEVE,
    area_look,
    run_look,
)
from siteplan.plotting.paper_sizes import Box, scale_words
from siteplan.plotting.placing import Label
from siteplan.plotting.shapes import Filled, Lettering, Mark, Pen, Stroke, rectangle, straight
from siteplan.plotting.symbols import (
    arrow,
    benchmark_symbol,
    cross_stroke,
    end_symbol,
    fitting_symbol,
    ring,
    sprinkler_symbol,
    tree_symbol,
)
from siteplan.plotting.view import hatched
from siteplan.sheets.drawing import BLUE

_TYPE = 2.2
_STEP = _TYPE * 1.25
_SAMPLE = 9.0  # width of a sample in the key [mm]
_BAR_FT, _BAR_M = (1, 2, 5, 10, 20, 40, 50, 100), (1, 2, 5, 10, 20, 50)
_PENS: Mapping[str, Pen] = {
    "laid": LAID,
    "laid_fails": LAID_FAILS,
    "laid_unsure": LAID_UNSURE,
    "pressed": PRESSED,
    "hand_dig": HAND_DIG,
    "contour": CONTOUR,
    "cloud": CLOUD,
    "gone": GONE,
}


def north_arrow(box: Box, turn: float) -> list[Mark]:
    """An arrow to grid north.

    Parameters
    ----------
    box : Box
        Where it stands [mm].
    turn : float
        Of north from the top of the sheet, counter-clockwise [degrees].

    Returns
    -------
    list of Mark
        Half of it solid, with its letter.
    """
    x, y, r = (box.left + box.right) / 2, (box.bottom + box.top) / 2 - 1.0, min(box.wide, box.high) / 2 - 3.0
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def at(dx: float, dy: float) -> tuple[float, float]:
        return x + dx * c - dy * s, y + dx * s + dy * c

    pen = Pen(width=0.25)
    head = at(0, r + 1.0)
    return [
        Stroke(layer="north", points=ring((x, y), r * 0.62, 36), pen=pen, closed=True),
        Filled(layer="north", rings=((at(0, r), at(-0.34 * r, -r), at(0, -0.55 * r)),), fill="#000000"),
        Stroke(layer="north", points=(at(0, r), at(0.34 * r, -r), at(0, -0.55 * r)), pen=pen, closed=True),
        Lettering(layer="north", text="N", x=head[0], y=head[1], size=3.2, anchor="middle", angle=turn, bold=True),
    ]


def scale_bar(left: float, base: float, room: float, ratio: int, unit: str) -> list[Mark]:
    """A bar that is true at the sheet's scale, whatever a copier does to the sheet.

    Parameters
    ----------
    left, base : float
        Its lower left corner [mm].
    room : float
        How long it may be [mm].
    ratio : int
        1 to so many.
    unit : str
        The site's length unit.

    Returns
    -------
    list of Mark
        Four parts, solid and open in turn, with figures.
    """
    own = units.LENGTH[unit] / (ratio * units.MILLIMETRE)  # mm of paper to a unit
    choices = _BAR_M if unit == "m" else _BAR_FT
    part = next((one for one in reversed(choices) if 4 * one * own <= room), choices[0])
    pen = Pen(width=0.2)
    shapes: list[Mark] = []
    for k in range(4):
        box = Box(left=left + k * part * own, right=left + (k + 1) * part * own, bottom=base, top=base + 1.6)
        shapes.append(rectangle("scale_bar", box, pen, fill="#000000" if k % 2 == 0 else "#ffffff"))
    for k in range(5):
        mark = f"{k * part}" if k < 4 else f"{k * part} {units.UNIT_NAMES[unit]}"
        shapes.append(
            Lettering(
                layer="scale_bar",
                text=mark,
                x=left + k * part * own,
                y=base + 2.3,
                size=_TYPE,
                anchor="middle" if k < 4 else "start",
            )
        )
    return shapes


def key_rows(box: Box, key: Mapping[str, str], top: float) -> tuple[list[Mark], float]:
    """The key, of what is on this sheet only.

    Parameters
    ----------
    box : Box
        The column [mm].
    key : mapping of str to str
        A look's word to its words.
    top : float
        Where it begins [mm].

    Returns
    -------
    list of Mark
        Samples and words.
    float
        Where it ends [mm].
    """
    shapes: list[Mark] = [Lettering(layer="key", text="Key", x=box.left, y=top - 2.6, size=2.8, bold=True)]
    y = top - 4.2
    for look, words in key.items():
        lines = wrapped(words, _TYPE, box.right - box.left - _SAMPLE - 2.0)
        high = max(4.1, len(lines) * _STEP + 0.9)
        sample = Box(left=box.left, right=box.left + _SAMPLE, bottom=y - high / 2 - 1.6, top=y - high / 2 + 1.6)
        shapes.extend(_sample(look, sample))
        first = y - high / 2 + (len(lines) - 1) * _STEP / 2 - 0.36 * _TYPE
        shapes.extend(
            Lettering(layer="key", text=line, x=box.left + _SAMPLE + 2.0, y=first - k * _STEP, size=_TYPE)
            for k, line in enumerate(lines)
        )
        y -= high
    return shapes, y


def _sample(look: str, box: Box) -> list[Mark]:
    x, y = (box.left + box.right) / 2, (box.bottom + box.top) / 2
    left, right = (box.left, y), (box.right, y)
    group, _, kind = look.partition("_")
    made: list[Mark] = []
    if look in _PENS:
        made = [straight("key", left, right, _PENS[look])]
        made += [arrow((x, y), (-1.0, 0.0), _PENS[look].color)] if group in {"laid", "pressed"} else []
    elif look == "station":
        made = [straight("key", left, right, LAID), cross_stroke((x, y), (0.0, 1.0), 1.1, "key")]
    elif look == "sleeve":
        sides = [straight("key", (box.left + 1, y + d), (box.right - 1, y + d), SLEEVE) for d in (1.1, -1.1)]
        made = [straight("key", left, right, LAID), *sides]
    elif group == "fitting":
        made = fitting_symbol(kind, (x, y), "key")
    elif group == "end":
        made = end_symbol(kind, (x, y), "key")
    elif group == "utility":
        made = [
            straight("key", left, right, Pen(width=0.3)),
            Filled(layer="key", rings=(ring((x, y), 1.45),), fill="#ffffff"),
            Lettering(layer="key", text=service(kind).letter, x=x, y=y - 0.8, size=2.2, anchor="middle", bold=True),
        ]
    elif look == Kind.TREE:
        made = tree_symbol((x, y), 0.8)
    elif look == Kind.BENCHMARK:
        made = benchmark_symbol((x, y))
    elif look == Kind.SPRINKLER:
        made = sprinkler_symbol((x, y))
    elif (run := run_look(look)) is not None:
        made = [straight("key", left, right, run.pen)]
    else:
        made = _area_sample(look, box)
    return made


def _area_sample(look: str, box: Box) -> list[Mark]:
    area = area_look(look)
    edge = ((box.left, box.bottom), (box.right, box.bottom), (box.right, box.top), (box.left, box.top))
    if look == "low_ground":
        lines = hatched("key", box, [edge], 0.0, 1.1, Pen(color=BLUE, width=0.1))
        return [*lines, Stroke(layer="key", points=edge, pen=Pen(color=BLUE, width=0.2), closed=True)]
    if area is None:
        return []
    if area.kind == Kind.LOT:
        y = (box.bottom + box.top) / 2
        short = replace(area.pen, dash=tuple(part / 2 for part in area.pen.dash))
        return [straight("key", (box.left, y), (box.right, y), short)]
    inside: list[Mark] = [Filled(layer="key", rings=(edge,), fill=area.fill)] if area.fill else []
    hatching = area.hatching
    if hatching is not None:
        for angle in hatching.angles:
            inside.extend(hatched("key", box, [edge], angle, min(hatching.apart, 2.2), hatching.pen))
    return [*inside, Stroke(layer="key", points=edge, pen=area.pen, closed=True)]


def paragraphs(
    layer: str, box: Box, top: float, texts: Sequence[str], size: float = _TYPE
) -> tuple[list[Mark], float, int]:
    """Paragraphs down a column, as many as there is room for.

    Parameters
    ----------
    layer : str
        Their layer.
    box : Box
        The column [mm].
    top : float
        Where they begin [mm].
    texts : sequence of str
        One each.
    size : float
        Of the type [mm].

    Returns
    -------
    list of Mark
        Lines of type.
    float
        Where they end [mm].
    int
        How many were set.
    """
    shapes: list[Mark] = []
    y = top
    for number, text in enumerate(texts):
        lines = wrapped(text, size, box.wide)
        if y - len(lines) * size * 1.25 < box.bottom:
            return shapes, y, number
        for line in lines:
            y -= size * 1.25
            shapes.append(Lettering(layer=layer, text=line, x=box.left, y=y + 0.3 * size, size=size))
        y -= 0.8
    return shapes, y, len(texts)


def numbered(left: Sequence[Label]) -> list[str]:
    """Words of labels without a place, by the number that stands there.

    Parameters
    ----------
    left : sequence of Label
        In the order of their numbers.

    Returns
    -------
    list of str
        '1  words'.
    """
    return [f"({number}) {' / '.join(label.lines)}" for number, label in enumerate(left, start=1)]


def said_scale(ratio: int, unit: str, *, asked: bool) -> str:
    """The scale under the bar, and why it is that one.

    Parameters
    ----------
    ratio : int
        1 to so many.
    unit : str
        The site's length unit.
    asked : bool
        Whether a person asked for it.

    Returns
    -------
    str
        One line.
    """
    return f"{scale_words(ratio, unit)}, {'as asked for' if asked else 'the largest that fits'}"
