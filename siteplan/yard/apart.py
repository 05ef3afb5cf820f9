"""Trees of lines in; the same out with room between lines that cross.

One joins the other, passes under or over it, or goes round.

Where two lines cross in plan, both trenches are opened there. Lines to one outlet join at a wye before they meet, or
one goes round: one pipe does for both from there on. Lines to two outlets pass each other with a bed between, or one
goes round; where neither can be had they join too. Of the ways of a kind the cheapest is taken. Lines that nothing
parts cannot both lie there: the one whose loss leaves more served is laid.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from siteplan.books.pipes import heavy
from siteplan.fall.band import invert_at
from siteplan.routes.ends import end_of, start_of
from siteplan.routes.lines import station_of
from siteplan.routes.straight import Place
from siteplan.routes.yard import yard_of
from siteplan.values.water_ends import Outlet, Source
from siteplan.yard.candidates import swept
from siteplan.yard.gauges import widest
from siteplan.yard.joins import led_in, without
from siteplan.yard.serving import serve
from siteplan.yard.trees import Limit, Tree, YardScene, alongside, settled_tree, tangles

SLACK = 0.006  # m more than asked: what rounding, and a steep pipe's width along its trench, take
_ROUNDS = 24  # pairs of lines parted in one layout at most
_JOINS = 3  # ways of leading one line into another that are weighed for each place where they meet
FREE = 1.0  # m round a shared outlet that a trench there does not bar

Cost = Callable[[YardScene, Tree], float]


class LinesCrossed(NamedTuple):
    """Two lines of a layout that meet: tree and number of each, the stations, and the clear height between them [m].

    `meet` is False where they only run beside each other within a trench's width; `one_outlet` tells whether their
    water goes to one outlet.
    """

    one: tuple[int, int]
    other: tuple[int, int]
    at_one: float
    at_other: float
    invert_one: float
    invert_other: float
    clear: float
    meet: bool
    one_outlet: bool


def between(scene: YardScene) -> float:
    """Height between the inverts of two lines that leaves no clear height between their pipes.

    Parameters
    ----------
    scene : Scene
        For the pipe; where heavy pipe may lie, its walls count.

    Returns
    -------
    float
        [m]
    """
    pipes = [pipe for pipe in (widest(scene), heavy(widest(scene))) if pipe is not None]
    return max(pipe.rise for pipe in pipes) + max((pipe.od - pipe.bore) / 2 for pipe in pipes)


def crossed(scene: YardScene, trees: Sequence[Tree]) -> list[LinesCrossed]:
    """Every place where lines cross, or touch, without joining; and where lines to one outlet run in one trench.

    Parameters
    ----------
    scene : Scene
        For the pipe and the width of a trench.
    trees : sequence of Tree
        The layout.

    Returns
    -------
    list of Crossed
        In the order of the lines.
    """
    numbered = [(t, k) for t, tree in enumerate(trees) for k in range(len(tree.laid))]
    laid = [tree.laid for tree in trees]
    meeting = tangles(laid)
    near = alongside(laid, 2 * scene.terms.half_trench, between(scene))
    found = []
    for meet, (a, b, place) in [*((True, one) for one in meeting), *((False, one) for one in near)]:
        one, other = numbered[a], numbered[b]
        (at_one, invert_one), (at_other, invert_other) = (_there(trees[t], k, place) for t, k in (one, other))
        found.append(
            LinesCrossed(
                one,
                other,
                at_one,
                at_other,
                invert_one,
                invert_other,
                clear=abs(invert_one - invert_other) - between(scene),
                meet=meet,
                one_outlet=trees[one[0]].outlet.id == trees[other[0]].outlet.id,
            )
        )
    return sorted(found, key=lambda c: (c.one, c.other))


def _there(tree: Tree, k: int, place: Place) -> tuple[float, float]:
    station = station_of(tree.laid[k].trace.corners, place)
    return station, float(invert_at(tree.profiles[k], [station])[0])


def parted(scene: YardScene, trees: Sequence[Tree], outlets: Sequence[Outlet], cost: Cost) -> list[Tree]:
    """Trees whose lines clear each other where they cross, as far as that can be had.

    Parameters
    ----------
    scene : Scene
        The yard.
    trees : sequence of Tree
        The layout.
    outlets : sequence of Outlet
        Where lines laid anew may end.
    cost : callable
        What a tree costs.

    Returns
    -------
    list of Tree
        Those that crossed too near are changed where some way to part them is proven, else left as they were.
    """
    now = list(trees)
    given_up: set[tuple[tuple[int, int], tuple[int, int]]] = set()
    for _ in range(_ROUNDS):
        near = [c for c in crossed(scene, now) if _too_near(scene, c) and (c.one, c.other) not in given_up]
        if not near:
            break
        pair = near[0].one, near[0].other
        these = [c for c in near if (c.one, c.other) == pair]
        option = _cheapest(scene, now, these, outlets, cost)
        if option is None:
            given_up.add(pair)
        else:
            now, given_up = option, set()
    return now


def _too_near(scene: YardScene, c: LinesCrossed) -> bool:
    return c.clear < scene.terms.apart or c.one_outlet


def _cheapest(
    scene: YardScene, now: Sequence[Tree], these: Sequence[LinesCrossed], outlets: Sequence[Outlet], cost: Cost
) -> list[Tree] | None:
    """The cheapest layout of the first kind that parts two lines; None where none does and they can stay."""
    before = clashes(scene, now)
    for kind in _kinds(scene, now, these, outlets):
        options = [
            (round(sum(cost(scene, tree) for tree in option), 6), number, option)
            for number, option in enumerate(kind)
            if clashes(scene, option) < before
        ]
        if options:
            return min(options, key=lambda option: option[:2])[2]
    if not any(c.meet and c.clear < scene.terms.apart for c in these):
        return None
    fewer = [
        (-_served(option), round(sum(cost(scene, tree) for tree in option), 6), number, option)
        for number, one in enumerate((these[0].other, these[0].one))
        if (option := without(scene, now, one)) is not None
    ]
    return min(fewer, key=lambda option: option[:3])[3] if fewer else None


def _served(trees: Sequence[Tree]) -> int:
    return sum(len(_sources(tree)) for tree in trees)


def clashes(scene: YardScene, trees: Sequence[Tree]) -> tuple[int, int]:
    """Places where lines cannot lie as drawn, and places where they had better join.

    Parameters
    ----------
    scene : Scene
        The yard.
    trees : sequence of Tree
        The layout.

    Returns
    -------
    tuple of (int, int)
        How many of each; the second counts the first too.
    """
    near = [c for c in crossed(scene, trees) if _too_near(scene, c)]
    return sum(c.meet and c.clear < scene.terms.apart for c in near), len(near)


def _kinds(
    scene: YardScene, trees: Sequence[Tree], crossings: Sequence[LinesCrossed], outlets: Sequence[Outlet]
) -> Iterator[Iterator[list[Tree]]]:
    """Ways to part two lines by kind, the kinds tried one after the other."""
    if crossings[0].one_outlet:
        yield itertools.chain(_joining(scene, trees, crossings), _round(scene, trees, crossings, outlets))
        yield _passing(scene, trees, crossings)
    else:
        yield itertools.chain(_passing(scene, trees, crossings), _round(scene, trees, crossings, outlets))
        yield _joining(scene, trees, crossings)


def _joining(scene: YardScene, trees: Sequence[Tree], crossings: Sequence[LinesCrossed]) -> Iterator[list[Tree]]:
    """Layouts with one of two lines led into the other, at each place where they meet."""
    for c in crossings:
        for cut, trunk, station in ((c.other, c.one, c.at_other), (c.one, c.other, c.at_one)):
            yield from itertools.islice(led_in(scene, trees, cut, trunk, station), _JOINS)


def _passing(scene: YardScene, trees: Sequence[Tree], crossings: Sequence[LinesCrossed]) -> Iterator[list[Tree]]:
    """Layouts with one of two lines under or over the other."""
    apart = between(scene) + scene.terms.apart + SLACK
    for moved_first, under in itertools.product((False, True), repeat=2):
        t, k = crossings[0].one if moved_first else crossings[0].other
        limits = []
        for c in crossings:
            station, still = (c.at_one, c.invert_other) if moved_first else (c.at_other, c.invert_one)
            limits.append(
                Limit(station, still - apart, -math.inf) if under else Limit(station, math.inf, still + apart)
            )
        tree = settled_tree(scene, trees[t].laid, trees[t].outlet, {k: limits})
        if tree is not None:
            yield [*trees[:t], tree, *trees[t + 1 :]]


def _round(
    scene: YardScene, trees: Sequence[Tree], crossings: Sequence[LinesCrossed], outlets: Sequence[Outlet]
) -> Iterator[list[Tree]]:
    """Layouts with one of two trees laid anew, the other's trenches barred."""
    one, other = crossings[0].one[0], crossings[0].other[0]
    if one == other:
        return
    for moved, still in ((other, one), (one, other)):
        option = _anew(scene, trees, moved, still, outlets)
        if option is not None:
            yield option


def _anew(
    scene: YardScene, trees: Sequence[Tree], moved: int, still: int, outlets: Sequence[Outlet]
) -> list[Tree] | None:
    """A tree laid anew with another's trenches barred; None where one of its sources is then left out."""
    sources = _sources(trees[moved])
    shared = trees[moved].outlet.id == trees[still].outlet.id
    apart = _barred(scene, trees[still], sources, outlets, shared=shared)
    laid = serve(apart, sources, outlets).trees
    if {source.id for tree in laid for source in _sources(tree)} != {source.id for source in sources}:
        return None
    return [*trees[:moved], *laid, *trees[moved + 1 :]]


def _sources(tree: Tree) -> list[Source]:
    every = [source for one in tree.laid for source in one.carried]
    return [source for k, source in enumerate(every) if source not in every[:k]]


def _barred(
    scene: YardScene, tree: Tree, sources: Sequence[Source], outlets: Sequence[Outlet], *, shared: bool
) -> YardScene:
    """The yard with the trenches of a tree taken out of it, but for the place of an outlet that is shared."""
    import shapely

    site, asked, prices = scene.site, scene.terms, scene.prices
    trenches = [shapely.LineString(one.trace.corners).buffer(2 * asked.half_trench) for one in tree.laid]
    opened = shapely.union_all(trenches)
    if shared:  # both come there: its own place is not barred
        opened -= shapely.Point(tree.outlet.x, tree.outlet.y).buffer(FREE)
    barred = shapely.union_all([scene.yard.grounds.barred, opened])
    shapely.prepare(barred)
    yard = yard_of(site, replace(scene.yard.grounds, barred=barred), asked, prices, cell=scene.yard.cell)
    starts = {**scene.starts, **{s.id: start_of(site, yard, s, asked, prices) for s in sources}}
    return replace(
        scene,
        yard=yard,
        starts=starts,
        reaches={**scene.reaches, **{s.id: swept(yard, starts[s.id], asked) for s in sources}},
        ends={o.id: end_of(site, yard, o, asked, prices) for o in outlets},
    )
