"""Design and coordinate shots in.

Which way round the columns are, where each shot lies on its line, and what has no shot out.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import SequenceMatcher

import numpy as np
from numpy.typing import NDArray

from siteplan.books.practice import AT_A_FITTING, BESIDE_PIPE, OFF_LINE, ON_A_FITTING, OUTLET_MOVED
from siteplan.laid.design import UNNAMED, Design, DesignLine, Item
from siteplan.laid.laid_shots import LaidShot
from siteplan.survey.shot_codes import speaks_of_new_pipe, speaks_of_something_else

Floats = NDArray[np.float64]

# m (0.3 ft): an object found by its place alone agrees in height so far; gutter and top of curb are farther apart
_ALIKE = 0.09
_SEEN = {"cleanout", "fitting"}
_CALLED = {*_SEEN, "outlet", "start"}  # kinds that a shot's name can tell


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Shots on their lines.

    Attributes
    ----------
    turned : str
        'as read', 'swapped' (northing and easting), 'mirrored' (one axis) or 'nowhere'.
    on_line : tuple of (str, float, Shot)
        Line, station [m] and shot.
    fixed : tuple of (Item, Shot)
        Fixed objects found in both.
    missing, unjudged : tuple of Item
        Without a shot; and those that shots without names cannot show.
    moved : tuple of (Item, float)
        Shot, but this far [m] from their place.
    stray : tuple of Shot
        On no line.
    found : tuple of (Item, Shot)
        Fittings, cleanouts and ends, and the shot of each.
    aside : mapping of int to float
        How far off its line a shot lies [m], by its row; nothing for shots by station.
    """

    turned: str
    on_line: tuple[tuple[str, float, LaidShot], ...]
    fixed: tuple[tuple[Item, LaidShot], ...]
    missing: tuple[Item, ...]
    unjudged: tuple[Item, ...]
    moved: tuple[tuple[Item, float], ...]
    stray: tuple[LaidShot, ...]
    found: tuple[tuple[Item, LaidShot], ...] = ()
    aside: Mapping[int, float] = field(default_factory=dict)


def place(design: Design, shots: Sequence[LaidShot]) -> Placed:
    """Put shots where they belong.

    Parameters
    ----------
    design : Design
        What was to be built.
    shots : sequence of Shot
        As read.

    Returns
    -------
    Placed
        Each shot once.
    """
    turned, shots = _turned(design, shots)
    fixed, rest = _fixed(design, shots)
    on_line: list[tuple[str, float, LaidShot]] = []
    stray: list[LaidShot] = []
    aside: dict[int, float] = {}
    for shot in rest:
        spot = _spot(design, shot)
        if spot is None:
            stray.append(shot)
        else:
            name, station, away = spot
            on_line.append((name, station, shot))
            if away is not None:
                aside[shot.row] = away
    missing, unjudged, moved, found = _matched(design, on_line, stray)
    return Placed(
        turned=turned,
        on_line=tuple(on_line),
        fixed=tuple(fixed),
        missing=tuple(missing),
        unjudged=tuple(unjudged),
        moved=tuple(moved),
        stray=tuple(stray),
        found=tuple(found),
        aside=aside,
    )


def plain_name(text: str) -> str:
    """A name without case and punctuation, so that 'CO-2' and 'co 2' are one.

    Parameters
    ----------
    text : str
        As written.

    Returns
    -------
    str
        Letters and digits.
    """
    return re.sub(r"[^a-z0-9]+", "", text.lower())


def place_along(line: DesignLine, x: float, y: float) -> tuple[float, float]:
    """Station of the nearest place of a line, and how far off it a point lies.

    Parameters
    ----------
    line : DesignLine
        A line with coordinates.
    x, y : float
        The point [m].

    Returns
    -------
    tuple of float
        Station [m], past the ends on the end pieces' way; distance from the line [m].
    """
    assert line.xy is not None
    best = (0.0, np.inf)
    last = len(line.xy) - 2
    for i, (a, b) in enumerate(itertools.pairwise(line.xy)):
        d = b - a
        square = float(d @ d)
        if square == 0:
            continue
        t = float((np.array([x, y]) - a) @ d) / square
        t = min(max(t, -np.inf if i == 0 else 0.0), np.inf if i == last else 1.0)
        away = float(np.hypot(*(a + t * d - (x, y))))
        # what lies past an end is as far off as it lies from the end, or straight lines would reach everywhere
        beyond = max(0.0, -t, t - 1) * np.sqrt(square)
        off = float(np.hypot(away, beyond))
        if off < best[1]:
            best = (float(line.station[i] + t * (line.station[i + 1] - line.station[i])), off)
    return best


def _spot(design: Design, shot: LaidShot) -> tuple[str, float, float | None] | None:
    """Line and station of a shot, and how far off the line it lies where its place is known.

    None where it names a line that the plan has not, or lies on none.
    """
    lines = design.lines
    if shot.line and any(line.id != UNNAMED for line in lines):
        lines = tuple(line for line in lines if line.id == shot.line)
    if shot.station is not None and (shot.x is None or shot.line or len(lines) == 1):
        return (lines[0].id, shot.station, None) if len(lines) == 1 else None
    if shot.x is None or shot.y is None:
        return None
    near = [(*place_along(line, shot.x, shot.y), line.id) for line in lines if line.xy is not None]
    station, away, name = min(near, key=lambda one: (one[1], one[2]), default=(0.0, np.inf, ""))
    return (name, station, away) if away <= OFF_LINE else None


def _turned(design: Design, shots: Sequence[LaidShot]) -> tuple[str, list[LaidShot]]:
    """The reading of the columns under which most shots lie where the plan has something."""
    placed = [shot for shot in shots if shot.x is not None and shot.y is not None]
    if not placed or not any(line.xy is not None for line in design.lines):
        return "as read", list(shots)
    items = [item for item in design.items if item.x is not None]
    flat = np.array([(shot.x, shot.y) for shot in placed], float)
    named = {plain_name(item.name): item for item in items if plain_name(item.name)}
    options = [("as read", flat), ("swapped", flat[:, ::-1])]
    for axis in (0, 1):
        turned = flat.copy()
        turned[:, axis] = _mirror(design, placed, named, axis) - turned[:, axis]
        options.append(("mirrored", turned))
    scores = [_score(design, placed, named, items, xy) for _, xy in options]
    best = int(np.argmax(scores))  # the first of equals: as read before anything else
    if best and _stand(placed, items, options[best][1]) < _stand(placed, items, flat):
        return "as read", list(shots)  # fixed objects stand where they stood: the pipe itself lies elsewhere
    if (
        options[best][0] == "mirrored"
        and _score(design, placed, named, items, _moved_as_one(design, placed, named, flat)) >= scores[best]
    ):
        return ("nowhere" if scores[0] == 0 else "as read"), list(shots)  # moved as one, not turned over
    if scores[best] == 0:
        return "nowhere", list(shots)
    if best == 0 or scores[best] < scores[0] + 2:  # one stray shot is no mirror
        return "as read", list(shots)
    word, xy = options[best]
    moved = {id(shot): replace(shot, x=float(x), y=float(y)) for shot, (x, y) in zip(placed, xy, strict=True)}
    return word, [moved.get(id(shot), shot) for shot in shots]


def _stand(placed: Sequence[LaidShot], items: Sequence[Item], xy: Floats) -> int:
    """How many fixed objects stand where the plan has them."""
    fixed = {plain_name(item.name): item for item in items if item.kind == "fixed" and plain_name(item.name)}
    return sum(
        np.hypot((item.x or 0) - x, (item.y or 0) - y) <= AT_A_FITTING
        for shot, (x, y) in zip(placed, xy, strict=True)
        if (item := fixed.get(plain_name(shot.name))) is not None
    )


def _moved_as_one(design: Design, placed: Sequence[LaidShot], named: dict[str, Item], flat: Floats) -> Floats:
    """The shots shifted, not turned, onto the plan: by points of one name, else by the middles of both drawings."""
    by = [
        (item.x - shot.x, item.y - shot.y)
        for shot in placed
        if (item := named.get(plain_name(shot.name))) is not None
        and item.kind != "fixed"
        and item.x is not None
        and item.y is not None
        and shot.x is not None
        and shot.y is not None
    ]
    if by:
        return np.asarray(flat + np.median(np.array(by), axis=0), np.float64)
    own = np.concatenate([line.xy for line in design.lines if line.xy is not None])
    return np.asarray(flat + (own.min(axis=0) + own.max(axis=0) - flat.min(axis=0) - flat.max(axis=0)) / 2, np.float64)


def _mirror(design: Design, placed: Sequence[LaidShot], named: dict[str, Item], axis: int) -> float:
    """Twice the axis of a mirror: from points of one name, else from the middles of both drawings."""
    sums = []
    for shot in placed:
        item = named.get(plain_name(shot.name))
        if item is not None and item.x is not None and item.y is not None and shot.x is not None and shot.y is not None:
            sums.append((shot.x + item.x, shot.y + item.y)[axis])
    if sums:
        return float(np.median(sums))
    own = np.concatenate([line.xy[:, axis] for line in design.lines if line.xy is not None])
    theirs = np.array([(shot.x, shot.y)[axis] for shot in placed], float)
    return float((own.min() + own.max() + theirs.min() + theirs.max()) / 2)


def _score(
    design: Design, placed: Sequence[LaidShot], named: dict[str, Item], items: Sequence[Item], xy: Floats
) -> float:
    score = 0.0
    for shot, (x, y) in zip(placed, xy, strict=True):
        item = named.get(plain_name(shot.name))
        if (
            item is not None
            and item.x is not None
            and item.y is not None
            and np.hypot(item.x - x, item.y - y) <= AT_A_FITTING
        ):
            score += 2
        near = any(place_along(line, x, y)[1] <= AT_A_FITTING for line in design.lines if line.xy is not None)
        if near or any(np.hypot((one.x or 0) - x, (one.y or 0) - y) <= AT_A_FITTING for one in items):
            score += 1
    return score


def _fixed(design: Design, shots: Sequence[LaidShot]) -> tuple[list[tuple[Item, LaidShot]], list[LaidShot]]:
    """Fixed objects that were shot: nearest in place and height and likest in name, each once.

    Also the shots that are left.
    """
    objects = [item for item in design.items if item.kind == "fixed" and item.elevation is not None]
    no_pipe = _no_pipe(design, shots)
    same = [
        (i, j)
        for i, item in enumerate(objects)
        for j, shot in enumerate(shots)
        if shot.name and plain_name(item.name) == plain_name(shot.name)
    ]
    near = [
        (i, j)
        for i, item in enumerate(objects)
        for j, shot in enumerate(shots)
        if (i, j) not in same and no_pipe[j] and (away := _apart(item, shot)) is not None and away <= OUTLET_MOVED
    ]
    shift = _shift_of(objects, shots, same, near)
    costs = [(_unlike(objects[i], shots[j], shift), i, j) for i, j in same]
    costs += [
        (1 + _unlike(objects[i], shots[j], shift), i, j)
        for i, j in near
        if abs(shots[j].height - (objects[i].elevation or 0.0) - shift) <= _ALIKE
    ]
    taken: dict[int, int] = {}
    for _, i, j in sorted(costs):
        if i not in taken and j not in taken.values():
            taken[i] = j
    found = [(objects[i], shots[j]) for i, j in sorted(taken.items(), key=lambda pair: pair[1])]
    used = set(taken.values())
    return found, [shot for j, shot in enumerate(shots) if j not in used]


def _no_pipe(design: Design, shots: Sequence[LaidShot]) -> list[bool]:
    """Which shots may be of a fixed object: by place and height, and by name where these leave both open."""
    spots = [_beside(design, shot) for shot in shots]
    # however far the datum, or what the rod stood on, lies off: the others on the line lie as far
    usual = float(np.median([over for away, over, _ in spots if away <= BESIDE_PIPE] or [0.0]))
    out = []
    for shot, (away, over, bore) in zip(shots, spots, strict=True):
        hinted = shot.kind == "fixed" or speaks_of_something_else(shot.name)
        off_line = away > OFF_LINE
        beside = away > BESIDE_PIPE or abs(over - usual) > bore
        out.append(hinted or off_line or (beside and not speaks_of_new_pipe(shot.name)))
    return out


def _beside(design: Design, shot: LaidShot) -> tuple[float, float, float]:
    """How far off the nearest line a shot lies, how high over its design, and that line's bore [m].

    Infinitely far where no place is known.
    """
    best = (math.inf, 0.0, 0.0)
    if shot.x is None or shot.y is None:
        return best
    for line in design.lines:
        if line.xy is not None:
            station, away = place_along(line, shot.x, shot.y)
            if away < best[0]:
                best = (away, shot.height - float(line.at(np.array([station]))[0]), line.bore)
    return best


def _apart(item: Item, shot: LaidShot) -> float | None:
    if item.x is None or item.y is None or shot.x is None or shot.y is None:
        return None
    return float(np.hypot(item.x - shot.x, item.y - shot.y))


def _unlike(item: Item, shot: LaidShot, shift: float) -> float:
    """How unlike an object and a shot are: a foot of place, a tenth of height and a wholly other name weigh alike."""
    away = _apart(item, shot) or 0.0
    name = 1 - SequenceMatcher(None, plain_name(item.name), plain_name(shot.name)).ratio()
    return away / OUTLET_MOVED + abs(shot.height - (item.elevation or 0.0) - shift) / (_ALIKE / 3) + name


def _shift_of(
    objects: Sequence[Item], shots: Sequence[LaidShot], same: Sequence[tuple[int, int]], near: Sequence[tuple[int, int]]
) -> float:
    """Height of the shots over the plan that most objects agree on: by their own names, else by their places."""
    lone = [(i, j) for i, j in same if sum(i == a for a, _ in same) == sum(j == b for _, b in same) == 1]
    each = [shots[j].height - (objects[i].elevation or 0.0) for i, j in lone or [*same, *near]]
    if not each:
        return 0.0
    return min(each, key=lambda one: (-sum(abs(one - other) <= _ALIKE / 3 for other in each), abs(one)))


def _matched(
    design: Design, on_line: list[tuple[str, float, LaidShot]], stray: list[LaidShot]
) -> tuple[list[Item], list[Item], list[tuple[Item, float]], list[tuple[Item, LaidShot]]]:
    """Planned fittings, cleanouts and ends against shots, nearest pairs first; each shot stands for one."""
    wanted = [item for item in design.items if item.kind not in {"fixed", "pipe"}]
    candidates: list[tuple[str, float | None, LaidShot]] = [*on_line, *(("", None, shot) for shot in stray)]
    plain = [plain_name(item.name) for item in wanted]
    names = {name for name in plain if plain.count(name) == 1}  # a plan's six wyes share a name that tells nothing
    spoken = {shot.kind for _, _, shot in candidates}  # kinds that shots call by name
    pairs: list[tuple[int, float, int, int]] = []
    for i, item in enumerate(wanted):
        for j, (line, station, shot) in enumerate(candidates):
            away = _distance(item, line, station, shot)
            own = plain_name(shot.name)
            if own in names and own == plain_name(item.name) and away is not None:
                pairs.append((0, away, i, j))
            elif away is not None and away <= AT_A_FITTING and own not in names:
                if shot.kind == item.kind:
                    pairs.append((1, away, i, j))
                elif item.kind in {"outlet", "start"} or (item.kind == "fitting" and item.kind not in spoken):
                    pairs.append((2, away, i, j))  # a shot on the pipe's end is a shot of the end
                elif away <= ON_A_FITTING and line and not speaks_of_something_else(shot.name):
                    pairs.append((2, away, i, j))
    taken: dict[int, float] = {}
    found: list[tuple[Item, LaidShot]] = []
    used: set[int] = set()
    for rank, away, i, j in sorted(pairs):
        if i not in taken and (j not in used or rank == 2):
            taken[i] = away
            used.add(j)
            found.append((wanted[i], candidates[j][2]))
    return (*_left_over(wanted, taken, spoken, candidates), found)


def _left_over(
    wanted: Sequence[Item],
    taken: dict[int, float],
    spoken: set[str],
    candidates: Sequence[tuple[str, float | None, LaidShot]],
) -> tuple[list[Item], list[Item], list[tuple[Item, float]]]:
    """Items without a shot, those that nameless shots cannot show, and those shot elsewhere."""
    missing: list[Item] = []
    unjudged: list[Item] = []
    moved: list[tuple[Item, float]] = []
    for i, item in enumerate(wanted):
        if i in taken:
            if taken[i] > (OUTLET_MOVED if item.kind == "outlet" else AT_A_FITTING):
                moved.append((item, taken[i]))
        elif item.kind in _SEEN and not spoken & _CALLED:
            unjudged.append(item)
        elif item.kind == "outlet" and (far := _nearest(item, candidates)) is not None:
            moved.append((item, far))
        elif item.kind != "start" or spoken & _CALLED:
            missing.append(item)
    return missing, unjudged, moved


def _distance(item: Item, line: str, station: float | None, shot: LaidShot) -> float | None:
    if item.x is not None and item.y is not None and shot.x is not None and shot.y is not None:
        return float(np.hypot(item.x - shot.x, item.y - shot.y))
    if item.station is not None and station is not None and item.line == line:
        return abs(item.station - station)
    return None


def _nearest(item: Item, candidates: Sequence[tuple[str, float | None, LaidShot]]) -> float | None:
    """How far off the one shot of an outlet lies, where shots say which they are."""
    away = [
        far
        for line, station, shot in candidates
        if shot.kind == "outlet" and (far := _distance(item, line, station, shot)) is not None
    ]
    return min(away, default=None)
