"""Design and coordinate shots in; which way round the columns are, where each shot lies on its line, and what has no shot out."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from siteplan.field.design import UNNAMED, Design, DesignLine, Item
from siteplan.field.shots import Shot

Floats = NDArray[np.float64]

NEAR = 0.9  # m (3 ft): a shot this near a planned fitting is a shot on it; common practice, no source
OFF_LINE = 1.5  # m: a shot farther off every line is not on the pipe as planned
MOVED = 0.3  # m (1 ft): an outlet this far from its place has moved; common practice, no source
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
    """

    turned: str
    on_line: tuple[tuple[str, float, Shot], ...]
    fixed: tuple[tuple[Item, Shot], ...]
    missing: tuple[Item, ...]
    unjudged: tuple[Item, ...]
    moved: tuple[tuple[Item, float], ...]
    stray: tuple[Shot, ...]


def place(design: Design, shots: Sequence[Shot]) -> Placed:
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
    on_line: list[tuple[str, float, Shot]] = []
    stray: list[Shot] = []
    for shot in rest:
        spot = _spot(design, shot)
        if spot is None:
            stray.append(shot)
        else:
            on_line.append((*spot, shot))
    missing, unjudged, moved = _matched(design, on_line, stray)
    return Placed(
        turned=turned, on_line=tuple(on_line), fixed=tuple(fixed), missing=tuple(missing), unjudged=tuple(unjudged), moved=tuple(moved),
        stray=tuple(stray),
    )  # fmt: skip


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


def along(line: DesignLine, x: float, y: float) -> tuple[float, float]:
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


def _spot(design: Design, shot: Shot) -> tuple[str, float] | None:
    """Line and station of a shot; None where it names a line that the plan has not, or lies on none."""
    lines = design.lines
    if shot.line and any(line.id != UNNAMED for line in lines):
        lines = tuple(line for line in lines if line.id == shot.line)
    if shot.station is not None and (shot.x is None or shot.line or len(lines) == 1):
        return (lines[0].id, shot.station) if len(lines) == 1 else None
    if shot.x is None or shot.y is None:
        return None
    near = [(*along(line, shot.x, shot.y), line.id) for line in lines if line.xy is not None]
    station, away, name = min(near, key=lambda one: (one[1], one[2]), default=(0.0, np.inf, ""))
    return (name, station) if away <= OFF_LINE else None


def _turned(design: Design, shots: Sequence[Shot]) -> tuple[str, list[Shot]]:
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
    if scores[best] == 0:
        return "nowhere", list(shots)
    if best == 0 or scores[best] < scores[0] + 2:  # one stray shot is no mirror
        return "as read", list(shots)
    word, xy = options[best]
    moved = {id(shot): replace(shot, x=float(x), y=float(y)) for shot, (x, y) in zip(placed, xy, strict=True)}
    return word, [moved.get(id(shot), shot) for shot in shots]


def _mirror(design: Design, placed: Sequence[Shot], named: dict[str, Item], axis: int) -> float:
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


def _score(design: Design, placed: Sequence[Shot], named: dict[str, Item], items: Sequence[Item], xy: Floats) -> float:
    score = 0.0
    for shot, (x, y) in zip(placed, xy, strict=True):
        item = named.get(plain_name(shot.name))
        if item is not None and item.x is not None and item.y is not None and np.hypot(item.x - x, item.y - y) <= NEAR:
            score += 2
        near = any(along(line, x, y)[1] <= NEAR for line in design.lines if line.xy is not None)
        if near or any(np.hypot((one.x or 0) - x, (one.y or 0) - y) <= NEAR for one in items):
            score += 1
    return score


def _fixed(design: Design, shots: Sequence[Shot]) -> tuple[list[tuple[Item, Shot]], list[Shot]]:
    """Fixed objects that were shot, by name, else by place; and the shots that are on pipe."""
    objects = [item for item in design.items if item.kind == "fixed" and item.elevation is not None]
    found: list[tuple[Item, Shot]] = []
    rest: list[Shot] = []
    for shot in shots:
        same = [item for item in objects if plain_name(item.name) == plain_name(shot.name) and shot.name]
        if not same and shot.kind == "fixed" and shot.x is not None and shot.y is not None:
            same = [
                item
                for item in objects
                if item.x is not None and item.y is not None and np.hypot(item.x - shot.x, item.y - shot.y) <= MOVED
            ]
        if same and (shot.kind == "fixed" or same[0].kind == "fixed"):
            found.append((same[0], shot))
        elif shot.kind != "fixed":
            rest.append(shot)
    return found, rest


def _matched(
    design: Design, on_line: list[tuple[str, float, Shot]], stray: list[Shot]
) -> tuple[list[Item], list[Item], list[tuple[Item, float]]]:
    """Planned fittings, cleanouts and ends against shots, nearest pairs first; each shot stands for one."""
    wanted = [item for item in design.items if item.kind not in {"fixed", "pipe"}]
    candidates: list[tuple[str, float | None, Shot]] = [*on_line, *(("", None, shot) for shot in stray)]
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
            elif away is not None and away <= NEAR and own not in names:
                if shot.kind == item.kind:
                    pairs.append((1, away, i, j))
                elif item.kind in {"outlet", "start"} or (item.kind == "fitting" and item.kind not in spoken):
                    pairs.append((2, away, i, j))  # a shot on the pipe's end is a shot of the end
    taken: dict[int, float] = {}
    used: set[int] = set()
    for rank, away, i, j in sorted(pairs):
        if i not in taken and (j not in used or rank == 2):
            taken[i] = away
            used.add(j)
    return _left_over(wanted, taken, spoken, candidates)


def _left_over(
    wanted: Sequence[Item],
    taken: dict[int, float],
    spoken: set[str],
    candidates: Sequence[tuple[str, float | None, Shot]],
) -> tuple[list[Item], list[Item], list[tuple[Item, float]]]:
    """Items without a shot, those that nameless shots cannot show, and those shot elsewhere."""
    missing: list[Item] = []
    unjudged: list[Item] = []
    moved: list[tuple[Item, float]] = []
    for i, item in enumerate(wanted):
        if i in taken:
            if taken[i] > (MOVED if item.kind == "outlet" else NEAR):
                moved.append((item, taken[i]))
        elif item.kind in _SEEN and not spoken & _CALLED:
            unjudged.append(item)
        elif item.kind == "outlet" and (far := _nearest(item, candidates)) is not None:
            moved.append((item, far))
        elif item.kind != "start" or spoken & _CALLED:
            missing.append(item)
    return missing, unjudged, moved


def _distance(item: Item, line: str, station: float | None, shot: Shot) -> float | None:
    if item.x is not None and item.y is not None and shot.x is not None and shot.y is not None:
        return float(np.hypot(item.x - shot.x, item.y - shot.y))
    if item.station is not None and station is not None and item.line == line:
        return abs(item.station - station)
    return None


def _nearest(item: Item, candidates: Sequence[tuple[str, float | None, Shot]]) -> float | None:
    """How far off the one shot of an outlet lies, where shots say which they are."""
    away = [
        far
        for line, station, shot in candidates
        if shot.kind == "outlet" and (far := _distance(item, line, station, shot)) is not None
    ]
    return min(away, default=None)
