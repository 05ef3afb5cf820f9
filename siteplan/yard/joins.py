"""Two lines that meet in plan in; the same layout with the one led into the other by a wye out.

The line that is cut keeps its runs above the meeting, with the lines that fall into those. What fell into the rest of
it goes on down the old trench.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from siteplan.routes.lines import Laid, cornered, fittings_of, with_wyes, wyes
from siteplan.routes.sharing import may_end, may_share
from siteplan.routes.straight import Place, bend_price, chain_price, join_price, lawful_chain, turn
from siteplan.routes.trace import places_at, trace
from siteplan.yard.direct import known_between
from siteplan.yard.gauges import line_terms
from siteplan.yard.trees import Tree, YardScene, carries, settled_tree

BENDS_LEFT_OUT = 3  # lowest bends of the line that is cut which its last run may pass by
_TRIED = 16  # last runs proven, cheapest in plan first
_PAST = 0.05  # m above the meeting from which on a bend is kept
STRAIGHT = 0.01  # degrees of turn below which a corner is none

Number = tuple[int, int]  # of a tree, and of a line in it


@dataclass(slots=True, eq=False)
class _Node:
    """A line of a tree that is being taken apart, with its trunk itself in place of its number."""

    line: Laid
    parent: _Node | None


def led_in(scene: YardScene, trees: Sequence[Tree], cut: Number, trunk: Number, station: float) -> Iterator[list[Tree]]:
    """Layouts with one line cut above the place where it meets another, and led into that one.

    Parameters
    ----------
    scene : Scene
        The yard.
    trees : sequence of Tree
        The layout.
    cut, trunk : tuple of int
        Tree and number of the line that is cut, and of the one that it is led into.
    station : float
        Where they meet, along the line that is cut [m].

    Yields
    ------
    list of Tree
        Proven layouts, cheapest in plan first; none where the trunk's own water passes the line that is cut.
    """
    one, into = trees[cut[0]].laid[cut[1]], trees[trunk[0]].laid[trunk[1]]
    if not may_share(scene.site, (*one.carried, *into.carried)) or not all(
        may_end(scene.site, source, trees[trunk[0]].outlet) for source in one.carried
    ):
        return
    if cut[0] == trunk[0] and cut[1] in _way_down(trees[cut[0]], trunk[1]):
        return
    upper = tuple(
        place
        for place, at in zip(one.trace.corners, one.trace.corner_stations, strict=True)
        if at > station + _PAST or place == one.trace.corners[-1]
    )
    falling = {line.trace.corners[0] for line in trees[cut[0]].laid if line.parent == cut[1]}
    dropping = {place for _, place in one.drops}
    if not dropping <= set(upper):
        return
    short: list[list[Tree]] = []
    found = False
    for chain in itertools.islice(_chains(scene, into, one, station, upper, falling | dropping), _TRIED):
        new = _with_join(scene, trees, cut, trunk, chain)
        if new is None:
            continue
        if all(carries(scene, tree) for tree in new):
            found = True
            yield new
        else:
            short.append(new)
    if not found:  # too much water for the trunk is better than two lines in one place: a check tells
        yield from short


def without(scene: YardScene, trees: Sequence[Tree], number: Number) -> list[Tree] | None:
    """A layout without one line and what falls into it.

    Parameters
    ----------
    scene : Scene
        The yard.
    trees : sequence of Tree
        The layout.
    number : tuple of int
        Tree and number of the line.

    Returns
    -------
    list of Tree or None
        None where what is left of its tree cannot be proven.
    """
    t, k = number
    nodes = _nodes(trees[t])
    kept = [node for n, node in enumerate(nodes) if k not in _way_down(trees[t], n)]
    trunk = nodes[k].parent
    if trunk is not None:
        _tidy(scene, trunk, kept)
    rebuilt = _rebuilt(scene, kept)
    return None if rebuilt is None else [*trees[:t], *rebuilt, *trees[t + 1 :]]


def _way_down(tree: Tree, k: int) -> list[int]:
    """Numbers of the lines that a line's water passes, itself first."""
    way = [k]
    while (parent := tree.laid[way[-1]].parent) is not None:
        way.append(parent)
    return way


def _nodes(tree: Tree) -> list[_Node]:
    nodes: list[_Node] = []
    for one in tree.laid:
        nodes.append(_Node(one, None if one.parent is None else nodes[one.parent]))
    return nodes


def _chains(
    scene: YardScene, trunk: Laid, one: Laid, station: float, upper: Sequence[Place], held: set[Place]
) -> Iterator[tuple[Place, ...]]:
    """Ways from the source along the line's own bends to a wye on the trunk, cheapest in plan first [m]."""
    ((x, y),) = places_at(one.trace.corners, [station]).tolist()
    target = wyes(trunk, [*reversed(upper), (x, y)], line_terms(scene, trunk), in_zone=True)
    found: list[tuple[float, tuple[Place, ...]]] = []
    for first in range(min(BENDS_LEFT_OUT + 1, len(upper))):
        if any(place in held for place in upper[:first]):
            break
        for place, heading in zip(target.places, target.heading, strict=True):
            chain = (*reversed(upper[first:]), place)
            if math.dist(*chain[-2:]) < _PAST or not lawful_chain(scene.yard.grounds, chain):
                continue
            price = join_price(chain[-2], place, heading, scene.prices) + chain_price(
                scene.yard.grounds, chain, scene.prices
            )
            if price < math.inf:
                found.append((round(price, 6), chain))
    yield from (chain for _, chain in sorted(found))


def _with_join(
    scene: YardScene, trees: Sequence[Tree], cut: Number, trunk: Number, chain: tuple[Place, ...]
) -> list[Tree] | None:
    """The layout with the line cut laid along a chain; None where it cannot be proven."""
    site, yard = scene.site, scene.yard
    opened = {t: _nodes(trees[t]) for t in sorted({cut[0], trunk[0]})}
    one, into = opened[cut[0]][cut[1]], opened[trunk[0]][trunk[1]]
    every = [node for nodes in opened.values() for node in nodes]
    if not _goes_on(scene, one, [n for n in every if n.parent is one and n.line.trace.corners[0] not in chain]):
        return None
    corners, into.line = cornered(site, yard, into.line, tuple(reversed(chain)), line_terms(scene, into.line))
    along = trace(site, yard.grounds, corners, one.line.source, None, line_terms(scene, one.line))
    if not known_between(along.known, along.station):
        return None
    before, one.parent = one.parent, into
    one.line = replace(one.line, outlet=None, trace=along)
    if before is not None:
        _tidy(scene, before, every)
    rebuilt = _rebuilt(scene, every)
    if rebuilt is None:
        return None
    first = min(opened)
    left = [(t, tree) for t, tree in enumerate(trees) if t not in opened]
    return [*(tree for t, tree in left if t < first), *rebuilt, *(tree for t, tree in left if t > first)]


def _goes_on(scene: YardScene, one: _Node, orphans: Sequence[_Node]) -> bool:
    """Let the highest line that fell in below the cut go on down the old trench, and the others join that one.

    Returns
    -------
    bool
        False where no fitting makes the turn into the old trench.
    """
    if not orphans:
        return True
    corners = one.line.trace.corners
    order = sorted(orphans, key=lambda node: -corners.index(node.line.trace.corners[0]))
    head, at = order[0], corners.index(order[0].line.trace.corners[0])
    whole = (*corners[:at], *head.line.trace.corners)
    if at == 0 or bend_price(turn(*whole[at - 1 : at + 2]), scene.prices) == math.inf:
        return False
    along = trace(
        scene.site, scene.yard.grounds, whole, head.line.source, one.line.outlet, line_terms(scene, head.line)
    )
    head.line, head.parent = replace(head.line, outlet=one.line.outlet, trace=along), one.parent
    for node in order[1:]:
        node.parent = head
    return True


def _tidy(scene: YardScene, trunk: _Node, every: Sequence[_Node]) -> None:
    """Take out of a trunk the corner at which nothing joins any more and nothing turns."""
    used = {node.line.trace.corners[0] for node in every if node.parent is trunk}
    used |= {place for _, place in trunk.line.drops}
    corners = trunk.line.trace.corners
    kept = [
        corners[0],
        *(
            here
            for before, here, after in zip(corners, corners[1:], corners[2:], strict=False)
            if here in used or turn(before, here, after) > STRAIGHT
        ),
        corners[-1],
    ]
    if len(kept) < len(corners):
        line = trunk.line
        along = trace(scene.site, scene.yard.grounds, kept, line.source, line.outlet, line_terms(scene, line))
        trunk.line = replace(line, trace=along)


def _rebuilt(scene: YardScene, every: Sequence[_Node]) -> list[Tree] | None:
    """Trees of lines whose trunks, bends and loads may have changed; None where one cannot be proven."""
    trees = []
    for root in (node for node in every if node.parent is None):
        order = [root]
        for node in order:  # grows: every line after its trunk
            order += [branch for branch in every if branch.parent is node]
        carried = {id(node): [node.line.source, *(source for source, _ in node.line.drops)] for node in order}
        for node in reversed(order[1:]):
            carried[id(node.parent)] += carried[id(node)]
        laid = with_wyes(
            [
                replace(
                    node.line,
                    carried=tuple(carried[id(node)]),
                    fittings=fittings_of(node.line.trace.corners),
                    parent=None
                    if node.parent is None
                    else next(k for k, other in enumerate(order) if other is node.parent),
                )
                for node in order
            ]
        )
        assert root.line.outlet is not None
        tree = settled_tree(scene, tuple(laid), root.line.outlet)
        if tree is None:
            return None
        trees.append(tree)
    return trees
