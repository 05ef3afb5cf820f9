"""Labels and what is in their way in; labels placed clear of each other out, and those for which there is no room.

Each label is tried at many places about what it names, in a fixed order of cost; the nearest free one is taken. A label that is
not beside its place has a leader to it. What finds no place is given back: the sheet sets a number there and the words beside.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from siteplan.plotting.fonts import text_corners, text_width
from siteplan.plotting.looks_of import LEADER
from siteplan.plotting.paper_sizes import Box
from siteplan.plotting.shapes import Lettering, Mark, Spot, Stroke

GAP = 0.5  # between a label and the next [mm]
LINE_STEP = 1.22  # of the type's size, from base line to base line
_REACHES = (1.6, 3.4, 6.0, 9.0, 13.0, 18.0, 24.0, 31.0, 40.0, 52.0, 66.0, 82.0)  # how far a label is looked for [mm]
_WAYS = 16
_OVER = 2.5  # cost of a millimetre of thin line under a label
_ALONG = 5.0  # mm that a leader may run in the pipe that it comes from
_CROSSED = 9.0  # cost of a leader over a pipe


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Words about one place of the drawing.

    Attributes
    ----------
    lines : tuple of str
        As set; the first one bold where `strong`.
    spot : tuple of float
        What they name [mm].
    along : tuple of (place, place), or None
        The straight piece that they are to lie along, where they are tried first.
    along_only : bool
        Whether they may lie nowhere else.
    needed : bool
        False: left out where there is no room, as another label or the key says it too.
    leader : bool
        Whether they may stand off with a leader.
    """

    layer: str
    lines: tuple[str, ...]
    spot: Spot
    size: float = 2.3
    strong: bool = False
    color: str = "#000000"
    along: tuple[tuple[Spot, Spot], ...] = ()
    along_only: bool = False
    needed: bool = True
    leader: bool = True
    reach: float = 40.0  # how far off it may stand [mm]
    elsewhere: tuple[Spot, ...] = ()  # where else it may stand, in the same area
    foot: float = 0.0  # how far off its place a leader ends, at the edge of a symbol [mm]


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """What came of it: shapes to draw, and labels without a place."""

    shapes: tuple[Mark, ...]
    left: tuple[Label, ...]


@dataclass(slots=True)
class _Taken:
    """What labels keep off: areas and leaders, pipes, and thin lines that they had better not cover."""

    hard: list[Any] = field(default_factory=list)
    pipes: list[Any] = field(default_factory=list)
    soft: list[Any] = field(default_factory=list)


def label_wide(label: Label) -> float:
    """How wide a label is.

    Parameters
    ----------
    label : Label
        Any.

    Returns
    -------
    float
        Of its widest line [mm].
    """
    return max(
        text_width(line, label.size, bold=label.strong and number == 0) for number, line in enumerate(label.lines)
    )


def place_labels(
    labels: Sequence[Label], room: Box, *, keep_off: Sequence[Sequence[Spot]], pipes: Sequence[Sequence[Spot]], thin: Sequence[Sequence[Spot]]
) -> Placed:  # fmt: skip
    """Labels where they touch neither each other nor what they must keep off.

    Parameters
    ----------
    labels : sequence of Label
        The most wanted first.
    room : Box
        Where they may stand [mm].
    keep_off : sequence of rings
        Symbols and what else no label may cover [mm].
    pipes : sequence of runs
        Lines that no label may cover and leaders had better not cross [mm].
    thin : sequence of runs
        Lines that labels had better not cover [mm].

    Returns
    -------
    Placed
        The same for the same labels.
    """
    import shapely

    taken = _Taken(
        hard=[shapely.Polygon(ring) for ring in keep_off if len(ring) > 2],
        pipes=[shapely.LineString(run).buffer(0.45, cap_style="flat") for run in pipes if len(run) > 1],
        soft=[shapely.LineString(run) for run in thin if len(run) > 1],
    )
    shapes: list[Mark] = []
    left: list[Label] = []
    for label in labels:
        found = _best(label, room, taken)
        if found is None:
            left.append(label)
            continue
        cover, drawn, leader = found
        taken.hard.append(shapely.buffer(cover, GAP, join_style="mitre"))
        if leader is not None:
            taken.hard.append(shapely.LineString(leader).buffer(0.3))
            shapes.append(Stroke(layer="leaders", points=leader, pen=LEADER))
        shapes.extend(drawn)
    return Placed(shapes=tuple(shapes), left=tuple(left))


def _best(label: Label, room: Box, taken: _Taken) -> tuple[Any, list[Lettering], tuple[Spot, Spot] | None] | None:
    """The first place, by cost, that is free."""
    import numpy as np
    import shapely

    hard, pipes, soft = (np.array(held, dtype=object) for held in (taken.hard, taken.pipes, taken.soft))
    spot = shapely.Point(label.spot)
    # a leader may leave what it names
    walls = hard[~shapely.dwithin(hard, spot, 0.05)] if len(hard) else hard
    touched = shapely.dwithin(pipes, spot, 0.05) if len(pipes) else np.zeros(0, bool)
    tubes, own = pipes[~touched], pipes[touched]
    best: tuple[float, Any, list[Lettering], tuple[Spot, Spot] | None] | None = None
    for cost, make, leader in _candidates(label):
        if best is not None and cost >= best[0]:
            if leader is not None and cost - 2.0 * _WAYS * 0.02 - 6.0 >= best[0]:
                break  # what is tried later lies farther off
            continue
        drawn = make()
        cover = _cover(drawn, room)
        if cover is None or _meets(hard, cover) or _meets(pipes, cover):
            continue
        whole = cost
        if len(soft):
            whole += _OVER * float(shapely.length(shapely.intersection(soft, cover)).sum())
        if leader is not None:
            pulled = shapely.LineString(leader)
            if _meets(walls, pulled):
                continue
            whole += _CROSSED * int(shapely.intersects(tubes, pulled).sum()) if len(tubes) else 0.0
            within = float(shapely.length(shapely.intersection(own, pulled)).sum()) if len(own) else 0.0
            if within > _ALONG:
                continue
            whole += _OVER * within
        if best is None or whole < best[0]:
            best = (whole, cover, drawn, leader)
    return None if best is None else best[1:]


def _meets(held: Any, cover: Any) -> bool:
    import shapely

    return bool(len(held)) and bool(shapely.intersects(held, cover).any())


def _cover(drawn: Sequence[Lettering], room: Box) -> Any:
    """The rectangle round lines of type of one angle; None where it does not lie in the room."""
    import shapely

    held = [spot for one in drawn for spot in text_corners(one)]
    if any(not (room.left <= x <= room.right and room.bottom <= y <= room.top) for x, y in held):
        return None
    c, s = math.cos(math.radians(drawn[0].angle)), math.sin(math.radians(drawn[0].angle))
    turned = [(x * c + y * s, y * c - x * s) for x, y in held]
    west, south = min(x for x, _ in turned), min(y for _, y in turned)
    east, north = max(x for x, _ in turned), max(y for _, y in turned)
    if not drawn[0].angle:
        return shapely.box(west, south, east, north)
    return shapely.Polygon(
        [(x * c - y * s, x * s + y * c) for x, y in ((west, south), (east, south), (east, north), (west, north))]
    )


def _candidates(label: Label) -> Iterator[tuple[float, Callable[[], list[Lettering]], tuple[Spot, Spot] | None]]:
    """Places with their cost, the near ones first: along a straight piece, then about the place in all directions."""
    for number, (a, b) in enumerate(label.along):
        for cost, drawn in _beside(label, a, b, number):
            yield cost, partial(list, drawn), None
    if label.along_only:
        return
    high = (len(label.lines) - 1) * LINE_STEP * label.size + label.size
    wide = label_wide(label)
    for reach in [one for one in _REACHES if one <= label.reach] if label.leader else _REACHES[:2]:
        for k in range(_WAYS):
            angle = math.radians(45.0 + (k // 2 + 1) * (-1) ** k * 360.0 / _WAYS) if k else math.radians(45.0)
            ux, uy = math.cos(angle), math.sin(angle)
            tip = (label.spot[0] + ux * reach, label.spot[1] + uy * reach)
            for turn, (dx, dy) in enumerate(_hung(ux, uy)):
                x, y = tip[0] + dx * wide, tip[1] + dy * high
                box = Box(left=x, right=x + wide, bottom=y, top=y + high)
                near = (min(max(label.spot[0], box.left), box.right), min(max(label.spot[1], box.bottom), box.top))
                off = math.dist(near, label.spot)
                leader = None
                if label.leader and off > max(2.2, label.foot + 0.8):
                    near = tip if turn else near
                    far = math.dist(near, label.spot)
                    share = label.foot / far
                    x, y = label.spot
                    leader = ((x + share * (near[0] - x), y + share * (near[1] - y)), near)
                cost = reach + 0.02 * k + 0.3 * turn + (1.5 if leader else 0.0) + (2.0 if label.along else 0.0)
                yield cost, partial(_set_in, label, box), leader
    for number, (x, y) in enumerate(label.elsewhere):
        box = Box(left=x - wide / 2, right=x + wide / 2, bottom=y - high / 2, top=y + high / 2)
        yield 6.0 + 0.1 * number, partial(_set_in, label, box), None


def _hung(ux: float, uy: float) -> tuple[tuple[float, float], ...]:
    """How a box hangs at the tip of a leader, by the leader's direction: its lower left corner as shares of its width and height."""
    if abs(uy) > 0.8:  # over or under: middle, then either end
        down = 0.0 if uy > 0 else -1.0
        return (-0.5, down), (0.0, down), (-1.0, down)
    side = 0.0 if ux > 0 else -1.0
    return (side, -0.5 + 0.5 * uy), (side, 0.0), (side, -1.0)


def _set_in(label: Label, box: Box) -> list[Lettering]:
    top = box.top - 0.78 * label.size
    return [
        Lettering(
            layer=label.layer, text=line, x=box.left, y=top - number * LINE_STEP * label.size, size=label.size,
            bold=label.strong and number == 0, color=label.color, ground="#ffffff",
        )
        for number, line in enumerate(label.lines)
    ]  # fmt: skip


def _beside(label: Label, a: Spot, b: Spot, number: int) -> Iterator[tuple[float, list[Lettering]]]:
    """Along a straight piece, over it and under it, at its middle and towards its ends; read from below or from the right."""
    run = math.dist(a, b)
    wide = label_wide(label)
    if run < 1e-6 or wide > run * 1.02:
        return
    angle = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
    if not -89.9 < angle <= 90.1:
        a, b, angle = b, a, angle - 180.0 if angle > 0 else angle + 180.0
    ux, uy = (b[0] - a[0]) / run, (b[1] - a[1]) / run
    rows = len(label.lines)
    spare = (run - wide) / 2 / run
    for shift in (0.0, -spare / 2, spare / 2, -spare, spare):
        x, y = a[0] + (0.5 + shift) * (b[0] - a[0]), a[1] + (0.5 + shift) * (b[1] - a[1])
        for side in (1, -1):
            drawn = []
            for k, line in enumerate(label.lines):
                if side > 0:
                    off = 0.9 + 0.24 * label.size + (rows - 1 - k) * LINE_STEP * label.size
                else:
                    off = -0.9 - 0.76 * label.size - k * LINE_STEP * label.size
                drawn.append(
                    Lettering(
                        layer=label.layer, text=line, x=x - uy * off, y=y + ux * off, size=label.size, anchor="middle",
                        angle=angle, bold=label.strong and k == 0, color=label.color, ground="#ffffff",
                    )
                )  # fmt: skip
            yield 0.3 * number + abs(shift) + (0.0 if side > 0 else 0.2), drawn
