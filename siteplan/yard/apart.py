"""Trees of lines in; the same out with room between lines that cross: one goes under or over the other, or another way round.

Where two lines cross in plan, both trenches are opened there. Of the ways to part them the cheapest that clears every
crossing is taken; one line is left as it is, the other gives way.
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
from siteplan.values import Outlet, Source
from siteplan.yard.candidates import swept
from siteplan.yard.trees import Limit, Scene, Tree, serve, settled, tangles

SLACK = 0.006  # m more than asked: what rounding, and a steep pipe's width along its trench, take
ROUNDS = 6  # crossings mended in one layout at most

Cost = Callable[[Scene, Tree], float]


class Crossed(NamedTuple):
    """Two lines of a layout that cross: tree and number of each, the stations, and the clear height between them [m]."""

    one: tuple[int, int]
    other: tuple[int, int]
    at_one: float
    at_other: float
    invert_one: float
    invert_other: float
    clear: float


def between(scene: Scene) -> float:
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
    pipes = [pipe for pipe in (scene.pipe, heavy(scene.pipe)) if pipe is not None]
    return max(pipe.rise for pipe in pipes) + max((pipe.od - pipe.bore) / 2 for pipe in pipes)


def crossed(scene: Scene, trees: Sequence[Tree]) -> list[Crossed]:
    """Every place where lines cross without joining.

    Parameters
    ----------
    scene : Scene
        For the pipe.
    trees : sequence of Tree
        The layout.

    Returns
    -------
    list of Crossed
        In the order of the lines.
    """
    numbered = [(t, k) for t, tree in enumerate(trees) for k in range(len(tree.laid))]
    found = []
    for a, b, place in tangles([tree.laid for tree in trees]):
        sides = [_there(trees[t], k, place) for t, k in (numbered[a], numbered[b])]
        clear = abs(sides[0][1] - sides[1][1]) - between(scene)
        found.append(
            Crossed(numbered[a], numbered[b], sides[0][0], sides[1][0], sides[0][1], sides[1][1], clear)
        )  # fmt: skip
    return found


def _there(tree: Tree, k: int, place: Place) -> tuple[float, float]:
    station = station_of(tree.laid[k].trace.corners, place)
    return station, float(invert_at(tree.profiles[k], [station])[0])


def parted(scene: Scene, trees: Sequence[Tree], outlets: Sequence[Outlet], cost: Cost) -> list[Tree]:
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
    for _ in range(ROUNDS):
        near = [c for c in crossed(scene, now) if c.clear < scene.terms.apart and (c.one, c.other) not in given_up]
        if not near:
            break
        pair = near[0].one, near[0].other
        these = [c for c in near if (c.one, c.other) == pair]
        clashes = _clashes(scene, now)
        options = [
            (round(sum(cost(scene, tree) for tree in option), 6), number, option)
            for number, option in enumerate(_options(scene, now, these, outlets))
            if _clashes(scene, option) < clashes
        ]
        if options:
            now = min(options, key=lambda option: option[:2])[2]
        else:
            given_up.add(pair)
    return now


def _clashes(scene: Scene, trees: Sequence[Tree]) -> int:
    return sum(c.clear < scene.terms.apart for c in crossed(scene, trees))


def _options(
    scene: Scene, trees: Sequence[Tree], crossings: Sequence[Crossed], outlets: Sequence[Outlet]
) -> Iterator[list[Tree]]:
    """Layouts with one of two lines under or over the other, or laid anew with the other's trench barred."""
    apart = between(scene) + scene.terms.apart + SLACK
    for moved_first, under in itertools.product((False, True), repeat=2):
        t, k = crossings[0].one if moved_first else crossings[0].other
        limits = []
        for c in crossings:
            station, still = (c.at_one, c.invert_other) if moved_first else (c.at_other, c.invert_one)
            limits.append(
                Limit(station, still - apart, -math.inf) if under else Limit(station, math.inf, still + apart)
            )
        tree = settled(scene, trees[t].laid, trees[t].outlet, {k: limits})
        if tree is not None:
            yield [*trees[:t], tree, *trees[t + 1 :]]
    one, other = crossings[0].one[0], crossings[0].other[0]
    if one != other:
        yield from (
            option
            for moved, still in ((other, one), (one, other))
            if (option := _anew(scene, trees, moved, still, outlets))
        )


def _anew(scene: Scene, trees: Sequence[Tree], moved: int, still: int, outlets: Sequence[Outlet]) -> list[Tree] | None:
    """A tree laid anew with another's trenches barred; None where one of its sources is then left out."""
    sources = _sources(trees[moved])
    apart = _barred(scene, trees[still], sources, outlets)
    _, laid = serve(apart, sources, outlets)
    if {source.id for tree in laid for source in _sources(tree)} != {source.id for source in sources}:
        return None
    return [*trees[:moved], *laid, *trees[moved + 1 :]]


def _sources(tree: Tree) -> list[Source]:
    every = [source for one in tree.laid for source in one.carried]
    return [source for k, source in enumerate(every) if source not in every[:k]]


def _barred(scene: Scene, tree: Tree, sources: Sequence[Source], outlets: Sequence[Outlet]) -> Scene:
    """The yard with the trenches of a tree taken out of it."""
    import shapely

    site, asked, prices = scene.site, scene.terms, scene.prices
    trenches = [shapely.LineString(one.trace.corners).buffer(2 * asked.half_trench) for one in tree.laid]
    barred = shapely.union_all([scene.yard.grounds.barred, *trenches])
    shapely.prepare(barred)
    yard = yard_of(site, replace(scene.yard.grounds, barred=barred), asked, prices, cell=scene.yard.cell)
    starts = {**scene.starts, **{s.id: start_of(site, yard, s, asked, prices) for s in sources}}
    return replace(
        scene, yard=yard, starts=starts,
        reaches={**scene.reaches, **{s.id: swept(yard, starts[s.id], asked) for s in sources}},
        ends={o.id: end_of(site, yard, o, asked, prices) for o in outlets},
    )  # fmt: skip
