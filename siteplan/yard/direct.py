"""A source and an outlet in; ways between them that no net stands in for, drawn and proven on the ground itself, out.

A net sees places a step apart and keeps a margin; and it gives the first run its full cover, because it does not know
how long the line will be. A straight line between the two ends, and one with a single bend near them, need no net.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

import numpy as np

from siteplan import units
from siteplan.books.practice import NEAREST_GROUND
from siteplan.routes.bends import neater
from siteplan.routes.lines import Laid, fittings_of
from siteplan.routes.straight import Place, RunTarget, bend_price, chain_price, lawful_chain, straighten, turn
from siteplan.routes.trace import trace
from siteplan.values.water_ends import Outlet, Source
from siteplan.yard.trees import Tree, YardScene, settled_tree

_SHORT = 0.3  # m: source and outlet nearer than this are one place
FEW = 3  # places on a way: more are drawn in straight runs first
BENDS = 60  # places tried for the one bend of a short line


def along_chain(scene: YardScene, chain: Sequence[Place], source: Source, outlet: Outlet) -> Tree | None:
    """One line from a source to an outlet along given bends, or in fewer straight runs along them, if it can be proven.

    Parameters
    ----------
    scene : Scene
        The yard.
    chain : sequence of tuple
        Bends from the source to the outlet [m].
    source, outlet : Source, Outlet
        Its ends.

    Returns
    -------
    Tree or None
        None when a run is not lawful, the ground under it is not known, a turn is sharper than fittings make, or no
        inverts keep every limit.
    """
    if len(chain) > FEW:
        target = RunTarget(places=(chain[-1],), least=(outlet.control,), heading=(None,), outlet=outlet)
        asked = scene.site, scene.yard.grounds, chain[:-1], source, target, scene.terms, scene.prices
        runs = straighten(*asked, margin=0.0)
        for drawn in (chain,) if runs is None else (runs, chain):
            neat = neater(scene.site, scene.yard, tuple(drawn), *asked[3:])
            tree = _proven(scene, neat, source, outlet)
            if tree is not None:
                return tree
    return _proven(scene, chain, source, outlet)


def _proven(scene: YardScene, chain: Sequence[Place], source: Source, outlet: Outlet) -> Tree | None:
    if math.dist(chain[0], chain[-1]) < _SHORT or not lawful_chain(scene.yard.grounds, chain):
        return None
    if any(bend_price(turn(*chain[k - 1 : k + 2]), scene.prices) == math.inf for k in range(1, len(chain) - 1)):
        return None
    corners = tuple(reversed(tuple(chain)))
    along = trace(scene.site, scene.yard.grounds, corners, source, outlet, scene.terms)
    if not known_between(along.known, along.station):
        return None
    laid = Laid(
        source=source,
        carried=(source,),
        parent=None,
        outlet=outlet,
        trace=along,
        fittings=fittings_of(corners),
        straight=True,
    )
    return settled_tree(scene, (laid,), outlet)


def direct_tree(scene: YardScene, source: Source, outlet: Outlet) -> Tree | None:
    """The straight line from a source to an outlet, or the cheapest with one bend where they are near, if it is proven.

    Parameters
    ----------
    scene : Scene
        The yard.
    source, outlet : Source, Outlet
        Its ends.

    Returns
    -------
    Tree or None
        None when none is proven.
    """
    for chain in short_ways(scene, source, outlet):
        tree = along_chain(scene, chain, source, outlet)
        if tree is not None:
            return tree
    return None


def short_ways(scene: YardScene, source: Source, outlet: Outlet) -> Iterator[tuple[Place, ...]]:
    """Ways that need no net: the straight one, and where the ends are near those with one bend, cheapest in plan first.

    Parameters
    ----------
    scene : Scene
        The yard.
    source, outlet : Source, Outlet
        The ends.

    Yields
    ------
    tuple of tuple
        Bends from the source to the outlet [m]; only lawful ways.
    """
    ends = (source.x, source.y), (outlet.x, outlet.y)
    if math.dist(*ends) >= _SHORT and lawful_chain(scene.yard.grounds, ends):
        yield ends
    yield from _with_one_bend(scene, *ends)


def _with_one_bend(scene: YardScene, start: Place, end: Place) -> Iterator[tuple[Place, ...]]:
    """Chains with one bend on the net, cheapest in plan first: where the two ends are so near that zones decide."""
    apart = math.dist(start, end)
    near = scene.terms.zone + 2 * scene.yard.cell
    if not _SHORT < apart <= near:
        return
    places = scene.yard.places(scene.yard.near((start[0] + end[0]) / 2, (start[1] + end[1]) / 2, near))
    half = scene.yard.cell / 2
    places = np.concatenate([places + shift for shift in itertools.product((0.0, half), repeat=2)])
    length = np.hypot(*(places - start).T) + np.hypot(*(places - end).T)
    order = np.lexsort((*places.T[::-1], np.round(length, 6)))
    chains = [(start, (float(places[k, 0]), float(places[k, 1])), end) for k in order.tolist() if length[k] <= 2 * near]
    lawful = [chain for chain in chains if lawful_chain(scene.yard.grounds, chain)]
    step = max(1, len(lawful) // BENDS)
    priced = [(round(chain_price(scene.yard.grounds, chain, scene.prices), 6), chain) for chain in lawful[::step]]
    yield from (chain for price, chain in sorted(priced) if price < math.inf)


def known_between(known: np.ndarray, station: np.ndarray) -> bool:
    """Whether the ground along a line is known, but for a little at its ends.

    Parameters
    ----------
    known : ndarray of bool
        By station.
    station : ndarray [m]
        From the line's lower end.

    Returns
    -------
    bool
    """
    inside = (station > NEAREST_GROUND) & (station < float(station[-1]) - NEAREST_GROUND)
    return bool(known[inside].all())


def net_chain(scene: YardScene, cells: Sequence[int], source: Source, outlet: Outlet) -> tuple[Place, ...]:
    """Bends of a way over the net.

    Parameters
    ----------
    scene : Scene
        The yard.
    cells : sequence of int
        From the source down.
    source, outlet : Source, Outlet
        Its ends.

    Returns
    -------
    tuple of tuple
        Places from the source to the outlet; those straight on are left out [m].
    """
    way = [(source.x, source.y), *map(tuple, scene.yard.places(np.array(cells)).tolist()), (outlet.x, outlet.y)]
    kept = [way[0]]
    for here, after in itertools.pairwise(way[1:]):
        if math.dist(kept[-1], here) > 1e-6 and turn(kept[-1], here, after) > 0.01:
            kept.append(here)
    return (*kept, way[-1])


def bar(scene: YardScene, chain: Sequence[Place], source: Source, outlet: Outlet) -> str:
    """What bars a line along a way that has the fall for one.

    Parameters
    ----------
    scene : Scene
        The yard.
    chain : sequence of tuple
        Bends from the source to the outlet [m].
    source, outlet : Source, Outlet
        Its ends.

    Returns
    -------
    str
        The first thing that does, in the order in which `along_chain` looks.
    """
    if math.dist(chain[0], chain[-1]) < _SHORT:
        return "the outlet stands at the source: there is no line to lay"
    if not lawful_chain(scene.yard.grounds, chain):
        return (
            "its fall is enough, but the way to the outlet comes nearer to a building, a retaining wall, a lot "
            "line or no-dig ground than a line may"
        )
    if any(bend_price(turn(*chain[k - 1 : k + 2]), scene.prices) == math.inf for k in range(1, len(chain) - 1)):
        return "its fall is enough, but the way to the outlet turns more sharply than fittings make"
    along = trace(scene.site, scene.yard.grounds, tuple(reversed(chain)), source, outlet, scene.terms)
    if not known_between(along.known, along.station):
        return "its fall is enough, but the ground on the way is not known: shoot it"
    return (
        "its fall is enough, but the line would have to fall more steeply than "
        f"{units.grade_text(scene.terms.drop or math.inf)} somewhere on the way: a drop is no line"
    )
