"""Lines as laid by the planner, and drawn lines that are to join them, in; trees that hold both out.

A source whose own line the planner laid gives that up for the drawn one. The trunk stays where it is in plan. Where a
drawn line's inverts are given and come in under it, it is settled anew below them, if that can be had.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from siteplan.books.kinds import Kind
from siteplan.fall.band import Profile, invert_at
from siteplan.routes.lines import Laid, cornered, fittings_of, station_of, with_wyes
from siteplan.routes.straight import Place, turn
from siteplan.routes.terms import terms
from siteplan.routes.trace import places_at, trace
from siteplan.survey.drains import DRAWN_TO
from siteplan.values.own_drawn import OwnDrawn, OwnInverts, OwnLines
from siteplan.yard.drawn import Drawing, chain_of, drawn_lines
from siteplan.yard.gauges import line_terms
from siteplan.yard.trees import Joining, Limit, Tree, YardScene, settled_tree

_BELOW = 1e-6  # m
_STRAIGHT = 0.01  # degrees
_AT_CORNER = 0.1  # m: a corner of the trunk so near is the place


class _Meeting(NamedTuple):
    """Where a drawn line comes to a line that is laid."""

    tree: int
    line: int
    place: Place
    off: float  # from its end as drawn [m]


def with_joining(scene: YardScene, trees: Sequence[Tree]) -> tuple[list[Tree], tuple[OwnLines, ...]]:
    """Trees with the drawn lines that join them.

    Parameters
    ----------
    scene : YardScene
        The yard, with these lines.
    trees : sequence of Tree
        Proven, margins bought.

    Returns
    -------
    list of Tree, and tuple of OwnLines
        What is told of each drawing, not named after its line yet; one that comes to no line of its source has no
        inverts.
    """
    now, told = list(trees), []
    for one in scene.joining:
        free = _without(scene, now, one)
        met = _meeting(now if free is None else free, one)
        inverts: Sequence[OwnInverts] = ["none" for _ in one.features]
        if free is not None and met is not None and met.off <= DRAWN_TO:
            free[met.tree], inverts = _joined(scene, free[met.tree], met, one)
            now = [tree for tree in free if tree.laid]
        off = None if met is None or met.off <= DRAWN_TO else met.off
        told.append(
            OwnLines(
                drawn=tuple(
                    OwnDrawn(
                        line=None,
                        name=feature.name,
                        source=source.id,
                        outlet="",
                        mode="fixed",
                        inverts=how,
                        meets=one.meets,
                        off=off if how == "none" else None,
                    )
                    for feature, source, how in zip(one.features, one.sources, inverts, strict=True)
                ),
                cost=None,
                length=None,
            )
        )
    return now, tuple(told)


def _without(scene: YardScene, trees: Sequence[Tree], one: Joining) -> list[Tree] | None:
    """Trees without the lines that the planner laid from the sources of drawn ones.

    None where others run through those lines.

    A tree that is nothing else is left empty in its place.
    """
    mine = {source.id for source in one.sources}
    found = []
    for tree in trees:
        gone = {k for k, line in enumerate(tree.laid) if line.source.id in mine}
        if not gone and not any(source.id in mine for line in tree.laid for source in line.carried):
            found.append(tree)
            continue
        through = [line for k, line in enumerate(tree.laid) if k not in gone and line.parent in gone]
        dropped = [line for line in tree.laid if any(source.id in mine for source, _ in line.drops)]
        if through or dropped or any(tree.laid[k].drops for k in gone):
            return None
        kept = [k for k in range(len(tree.laid)) if k not in gone]
        number = {k: n for n, k in enumerate(kept)}
        laid = [
            replace(
                tree.laid[k],
                carried=tuple(source for source in tree.laid[k].carried if source.id not in mine),
                parent=None if (parent := tree.laid[k].parent) is None else number[parent],
            )
            for k in kept
        ]
        found.append(
            Tree(
                outlet=tree.outlet,
                laid=tuple(_straightened(scene, laid, n) for n in range(len(laid))),
                profiles=tuple(tree.profiles[k] for k in kept),
                bought=tuple(tree.bought[k] for k in kept) if tree.bought else (),
            )
        )
    return found


def _straightened(scene: YardScene, laid: Sequence[Laid], n: int) -> Laid:
    """A line without the corners that were wyes alone, where no line joins it any more."""
    line, corners = laid[n], laid[n].trace.corners
    used = {place for _, place in line.drops} | {other.trace.corners[0] for other in laid if other.parent == n}
    kept = tuple(
        place
        for k, place in enumerate(corners)
        if k in {0, len(corners) - 1} or place in used or turn(corners[k - 1], place, corners[k + 1]) > _STRAIGHT
    )
    if len(kept) == len(corners):
        return line
    along = trace(scene.site, scene.yard.grounds, kept, line.source, line.outlet, line_terms(scene, line))
    return replace(line, trace=along, fittings=fittings_of(kept))


def _meeting(trees: Sequence[Tree], one: Joining) -> _Meeting | None:
    """The nearest place, to the end as drawn, of the lines on the way of a source to its outlet.

    None where it has none.
    """
    end = chain_of(one.features[0])[-1]
    found = []
    for t, tree in enumerate(trees):
        k = next(
            (
                k
                for k, line in enumerate(tree.laid)
                if one.meets in {line.source.id, *(source.id for source, _ in line.drops)}
            ),
            None,
        )
        while k is not None:
            corners = tree.laid[k].trace.corners
            x, y = (float(v) for v in places_at(corners, [station_of(corners, end)])[0])
            found.append(_Meeting(t, k, (x, y), math.dist((x, y), end)))
            k = tree.laid[k].parent
    return min(found, key=lambda met: (round(met.off, 6), met.tree, met.line), default=None)


def _joined(scene: YardScene, tree: Tree, met: _Meeting, one: Joining) -> tuple[Tree, tuple[OwnInverts, ...]]:
    import shapely

    laid, k = list(tree.laid), met.line
    (place, _), laid[k] = cornered(
        scene.site, scene.yard, laid[k], (met.place, met.place), line_terms(scene, laid[k]), near=_AT_CORNER
    )
    station = laid[k].trace.corner_stations[laid[k].trace.corners.index(place)]
    first = replace(one.features[0], geometry=shapely.LineString([*chain_of(one.features[0])[:-1], place]))
    scenes = [
        replace(scene, pipe=pipe, terms=terms(scene.site.rules, pipe), sizes=None, joining=()) for pipe in one.pipes
    ]
    carried = tuple(one.sources)
    at: int | None = k
    while at is not None:
        laid[at] = replace(laid[at], carried=(*laid[at].carried, *carried))
        at = laid[at].parent
    profiles, bought = tree.profiles, tree.bought
    inverts = first.attributes.get("inverts")
    if inverts is not None and inverts[-1] < _level(profiles[k], station) - _BELOW:
        lower = settled_tree(scene, tuple(laid), tree.outlet, {k: [Limit(station, float(inverts[-1]), -math.inf)]})
        profiles, bought = (profiles, bought) if lower is None else (lower.profiles, ())
    stand_in = replace(
        tree.outlet,
        kind=Kind.DAYLIGHT_OUTLET,
        x=place[0],
        y=place[1],
        invert=None,
        size=None,
        control=_level(profiles[k], station),
    )
    drawing = Drawing(stand_in, (first, *one.features[1:]), one.parents)
    branches, own, how = drawn_lines(scenes, drawing, one.sources, joins=True)
    count = len(laid)
    laid += [
        replace(branch, parent=k if branch.parent is None else count + branch.parent, outlet=None, pipe=pipe)
        for branch, pipe in zip(branches, one.pipes, strict=True)
    ]
    plain: list[Laid] = [replace(line, fittings=fittings_of(line.trace.corners)) for line in laid]
    whole = Tree(
        outlet=tree.outlet,
        laid=tuple(with_wyes(plain)),
        profiles=(*profiles, *own),
        bought=(*bought, *(() for _ in branches)) if bought else (),
    )
    return whole, how


def _level(profile: Profile, station: float) -> float:
    return float(invert_at(profile, [station])[0])
