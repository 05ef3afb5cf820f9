"""Labels and what is in their way in; labels placed clear of each other out, and those for which there is no room.

Each label is tried at many places about what it names, in a fixed order of cost; the nearest free one is taken. A label
that is not beside its place has a leader to it. What finds no place is given back: the sheet sets a number there and
the words beside.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
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
_AT_ONCE = 48  # places judged together


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
class LabelsPlaced:
    """What came of it: shapes to draw, and labels without a place."""

    shapes: tuple[Mark, ...]
    left: tuple[Label, ...]


@dataclass(slots=True)
class _Taken:
    """What labels keep off: areas and leaders, pipes, and thin lines that they had better not cover."""

    pipes: Any  # trees of shapes, for what lies on them
    soft: Any
    hard: list[Any] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Barring:
    """Trees of what bars a label: for its words, and for its leader, which may leave what it names."""

    all: Any
    walls: Any


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
    labels: Sequence[Label],
    room: Box,
    *,
    keep_off: Sequence[Sequence[Spot]],
    pipes: Sequence[Sequence[Spot]],
    thin: Sequence[Sequence[Spot]],
) -> LabelsPlaced:
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
    LabelsPlaced
        The same for the same labels.
    """
    import shapely

    taken = _Taken(
        hard=[shapely.Polygon(ring) for ring in keep_off if len(ring) > 2],
        pipes=shapely.STRtree(
            [shapely.LineString(run).buffer(0.45, cap_style="flat") for run in pipes if len(run) > 1]
        ),
        soft=shapely.STRtree([shapely.LineString(run) for run in thin if len(run) > 1]),
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
    return LabelsPlaced(shapes=tuple(shapes), left=tuple(left))


Found = tuple[Any, list[Lettering], tuple[Spot, Spot] | None]


def _best(label: Label, room: Box, taken: _Taken) -> Found | None:
    """The cheapest place that is free."""
    import numpy as np
    import shapely

    along = [(cost, drawn, cover) for cost, drawn in _all_along(label) if (cover := _cover(drawn, room)) is not None]
    boxes, costs, leaders = _about(label, room)
    geometry = np.array([cover for _, _, cover in along] + list(shapely.box(*boxes.T)), dtype=object)
    if not len(geometry):
        return None
    cost = np.concatenate([[one for one, _, _ in along], costs])
    pulled = np.full(len(geometry), None, dtype=object)
    led = len(along) + np.flatnonzero(~np.isnan(leaders[:, 0]))
    pulled[led] = shapely.linestrings(leaders[led - len(along)].reshape(-1, 2, 2)) if len(led) else None
    best = _cheapest_free(label, taken, geometry, pulled, cost)
    if best is None:
        return None
    if best < len(along):
        return along[best][2], along[best][1], None
    left, bottom, right, top = (float(v) for v in boxes[best - len(along)])
    leader = None
    if pulled[best] is not None:
        ax, ay, bx, by = (float(v) for v in leaders[best - len(along)])
        leader = ((ax, ay), (bx, by))
    return geometry[best], _set_in(label, Box(left=left, bottom=bottom, right=right, top=top)), leader


def _cheapest_free(label: Label, taken: _Taken, geometry: Any, pulled: Any, least: Any) -> int | None:
    """Which place is free and costs least, the first of equals.

    Looked for from those that cost least with nothing about them up.

    Whatever lies about a place only adds to its cost, so that none is looked at whose own cost is over what was found.
    """
    import numpy as np
    import shapely

    hard = np.array(taken.hard, dtype=object)
    walls = hard[~shapely.dwithin(hard, shapely.Point(label.spot), 0.05)]
    barring = _Barring(all=shapely.STRtree(hard), walls=shapely.STRtree(walls))
    order = np.argsort(least, kind="stable")
    found: tuple[float, int] | None = None
    for first in range(0, len(order), _AT_ONCE):
        part = np.sort(order[first : first + _AT_ONCE])
        if found is not None and float(np.round(least[order[first]], 6)) > found[0]:
            break
        free, cost = _judged(label, taken, barring, geometry[part], pulled[part], least[part])
        for k in np.flatnonzero(free).tolist():
            held = (float(np.round(cost[k], 6)), int(part[k]))
            found = held if found is None else min(found, held)
    return None if found is None else found[1]


def _judged(label: Label, taken: _Taken, barring: _Barring, geometry: Any, pulled: Any, least: Any) -> tuple[Any, Any]:
    """Which of some places are free, and what each costs with all that lies about it."""
    import numpy as np
    import shapely

    free, cost = np.ones(len(geometry), bool), np.array(least)
    for held in (barring.all, taken.pipes):
        free[held.query(geometry, predicate="intersects")[0]] = False
    _judge_leaders(label, taken.pipes, barring.walls, pulled, free, cost)
    at = np.flatnonzero(free)
    which, under = taken.soft.query(geometry[at], predicate="intersects")
    lengths = shapely.length(shapely.intersection(geometry[at][which], taken.soft.geometries[under]))
    np.add.at(cost, at[which], _OVER * lengths)
    return free, cost


def _judge_leaders(label: Label, pipes: Any, walls: Any, pulled: Any, free: Any, cost: Any) -> None:
    """Leaders over labels and symbols are barred, those over pipes are dear; a leader may leave what it names."""
    import numpy as np
    import shapely

    at = np.flatnonzero(free & (pulled != None))  # noqa: E711 - element by element
    if not len(at):
        return
    free[at[walls.query(pulled[at], predicate="intersects")[0]]] = False
    own = shapely.dwithin(pipes.geometries, shapely.Point(label.spot), 0.05)
    met, tubes = pipes.query(pulled[at], predicate="intersects")
    np.add.at(cost, at[met[~own[tubes]]], _CROSSED)
    for tube in pipes.geometries[own]:
        within = shapely.length(shapely.intersection(pulled[at], tube))
        free[at[within > _ALONG]] = False
        cost[at] += _OVER * within


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
    return shapely.Polygon(
        [(x * c - y * s, x * s + y * c) for x, y in ((west, south), (east, south), (east, north), (west, north))]
    )


def _all_along(label: Label) -> Iterator[tuple[float, list[Lettering]]]:
    for number, (a, b) in enumerate(label.along):
        yield from _beside(label, a, b, number)


def _about(label: Label, room: Box) -> tuple[Any, Any, Any]:
    """Boxes about the place in all directions, those outside the room left out, with their costs and leaders.

    Returns
    -------
    ndarray, shape (n, 4) [mm]
        Left, bottom, right, top.
    ndarray, shape (n,)
        Costs.
    ndarray, shape (n, 4) [mm]
        Foot and tip of the leader; NaN where there is none.
    """
    import numpy as np

    x, y = label.spot
    high = (len(label.lines) - 1) * LINE_STEP * label.size + label.size
    wide = label_wide(label)
    if label.along_only:
        return np.zeros((0, 4)), np.zeros(0), np.zeros((0, 4))
    reaches = np.array([one for one in _REACHES if one <= label.reach] if label.leader else _REACHES[:2])
    ux, uy, dx, dy = _directions()
    order, turn = np.meshgrid(np.arange(_WAYS), np.arange(3), indexing="ij")
    tip_x = x + reaches[:, None, None] * ux[None, :, None] + 0.0 * turn
    tip_y = y + reaches[:, None, None] * uy[None, :, None] + 0.0 * turn
    left, bottom = tip_x + dx * wide, tip_y + dy * high
    near_x, near_y = np.clip(x, left, left + wide), np.clip(y, bottom, bottom + high)
    off = np.hypot(near_x - x, near_y - y)
    led = (off > max(2.2, label.foot + 0.8)) & label.leader
    end_x, end_y = np.where(turn > 0, tip_x, near_x), np.where(turn > 0, tip_y, near_y)
    share = label.foot / np.maximum(np.hypot(end_x - x, end_y - y), 1e-9)
    cost = reaches[:, None, None] + 0.02 * order + 0.3 * turn + 1.5 * led + (2.0 if label.along else 0.0)
    leaders = np.stack([x + share * (end_x - x), y + share * (end_y - y), end_x, end_y], axis=-1)
    leaders[~led] = np.nan
    boxes = np.stack([left, bottom, left + wide, bottom + high], axis=-1).reshape(-1, 4)
    cost, leaders = cost.ravel(), leaders.reshape(-1, 4)
    if label.elsewhere:
        spots = np.array(label.elsewhere)
        more = np.column_stack(
            [spots[:, 0] - wide / 2, spots[:, 1] - high / 2, spots[:, 0] + wide / 2, spots[:, 1] + high / 2]
        )
        boxes = np.vstack([boxes, more])
        cost = np.concatenate([cost, 6.0 + 0.1 * np.arange(len(more))])
        leaders = np.vstack([leaders, np.full((len(more), 4), np.nan)])
    rim = 0.03 * label.size  # tails hang under the box
    kept = (
        (boxes[:, 0] >= room.left)
        & (boxes[:, 1] - rim >= room.bottom)
        & (boxes[:, 2] <= room.right)
        & (boxes[:, 3] <= room.top)
    )
    return boxes[kept], cost[kept], leaders[kept]


@cache
def _directions() -> tuple[Any, Any, Any, Any]:
    """Unit vectors in the order in which they are tried, and how a box hangs at the tip of a leader of each.

    Returns
    -------
    ndarray, shape (ways,)
        East and north parts, two of them.
    ndarray, shape (1, ways, 3)
        The box's lower left corner from the tip, as shares of its width and of its height, two of them.
    """
    import numpy as np

    turns = [0 if k == 0 else (k // 2 + 1) * (-1) ** k for k in range(_WAYS)]
    angles = np.radians(45.0 + np.array(turns) * 360.0 / _WAYS)
    ux, uy = np.cos(angles), np.sin(angles)
    dx, dy = np.zeros((1, _WAYS, 3)), np.zeros((1, _WAYS, 3))
    for k in range(_WAYS):
        if abs(uy[k]) > 0.8:  # over or under: middle, then either end
            dx[0, k], dy[0, k] = (-0.5, 0.0, -1.0), 0.0 if uy[k] > 0 else -1.0
        else:
            dx[0, k], dy[0, k] = 0.0 if ux[k] > 0 else -1.0, (-0.5 + 0.5 * uy[k], 0.0, -1.0)
    return ux, uy, dx, dy


def _set_in(label: Label, box: Box) -> list[Lettering]:
    top = box.top - 0.78 * label.size
    return [
        Lettering(
            layer=label.layer,
            text=line,
            x=box.left,
            y=top - number * LINE_STEP * label.size,
            size=label.size,
            bold=label.strong and number == 0,
            color=label.color,
            ground="#ffffff",
        )
        for number, line in enumerate(label.lines)
    ]


def _beside(label: Label, a: Spot, b: Spot, number: int) -> Iterator[tuple[float, list[Lettering]]]:
    """Along a straight piece, over it and under it, at its middle and towards its ends.

    Read from below or from the right.
    """
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
                        layer=label.layer,
                        text=line,
                        x=x - uy * off,
                        y=y + ux * off,
                        size=label.size,
                        anchor="middle",
                        angle=angle,
                        bold=label.strong and k == 0,
                        color=label.color,
                        ground="#ffffff",
                    )
                )
            yield 0.3 * number + abs(shift) + (0.0 if side > 0 else 0.2), drawn
