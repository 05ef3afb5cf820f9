"""Sources and outlets in.

The trees that serve them out, looked for a second time where the usual net was too coarse for them.

The usual net has some thousands of places whatever the lot. Which source can come to which outlet is known from the
fine net (`yard.nets`). A source that this one serves and the usual one does not, or whose way is much longer on the
usual one because a gap is too narrow for it, is laid out again on a net along the ways of the fine one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from siteplan.routes import kernels
from siteplan.routes.ends import end_of
from siteplan.routes.labels import leg_of
from siteplan.routes.reach import way_back
from siteplan.routes.shared import solve
from siteplan.routes.straight import Place
from siteplan.values.water_ends import Outlet, Source
from siteplan.yard.costs import tree_cost
from siteplan.yard.direct import net_chain
from siteplan.yard.nets import detours, scene_along
from siteplan.yard.pairs import Tried
from siteplan.yard.serving import Served, serve
from siteplan.yard.trees import Tree, YardScene

_EQUAL = 0.02  # m of invert below which two ways over the fine net count as equally high
_LONGER = 3.0  # m: a way round that is longer than the way through a gap by this is worth a second look
_SHARE = 0.10  # and by this share of it
_WORTH = 0.99  # of the cost, above which the first layout stays


def serve_closer(
    scene: YardScene,
    fine: YardScene | None,
    members: Sequence[Source],
    outlets: Sequence[Outlet],
    pairs: Mapping[tuple[str, str], Tried],
) -> tuple[YardScene, Served]:
    """Trees on the usual net, or on one along the ways of the fine net where that serves more sources or costs less.

    Parameters
    ----------
    scene : YardScene
        On the usual net.
    fine : YardScene or None
        On the fine net; None: the usual one decides alone.
    members : sequence of Source
        At least one.
    outlets : sequence of Outlet
        Where they may end.
    pairs : mapping
        By ids of source and outlet: whether there is fall, from the fine net.

    Returns
    -------
    tuple
        The scene with the net that was taken, and what was found on it.
    """
    first = serve(scene, members, outlets)
    if fine is None:
        return scene, first
    done = first.trees
    ways = [*_missed(fine, members, outlets, pairs, done)]
    if scene.site.laying.effort.closer:
        ways += _round_about(scene, fine, members, outlets, pairs, done)
    if not ways:
        return scene, first
    lines = [tuple(reversed(one.trace.corners)) for tree in done for one in tree.laid]
    along = scene_along(scene, outlets, [*ways, *lines])
    again = serve(along, members, outlets)
    more = _count(again.trees) - _count(done)
    if more > 0 or (more == 0 and _total(along, again.trees) < _WORTH * _total(scene, done)):
        return along, again
    return scene, first


def _count(trees: Sequence[Tree]) -> int:
    return len({source.id for tree in trees for one in tree.laid for source in one.carried})


def _total(scene: YardScene, trees: Sequence[Tree]) -> float:
    return sum(tree_cost(scene, tree) for tree in trees)


def _missed(
    fine: YardScene,
    members: Sequence[Source],
    outlets: Sequence[Outlet],
    pairs: Mapping[tuple[str, str], Tried],
    done: Sequence[Tree],
) -> Iterator[tuple[Place, ...]]:
    """Ways of the fine net for sources that it serves and the trees leave out."""
    served = {source.id for tree in done for one in tree.laid for source in one.carried}
    for source in (one for one in members if one.id not in served):
        for outlet in outlets:
            pair = pairs[source.id, outlet.id]
            if pair.why is not None:
                continue
            if pair.tree is not None:
                yield tuple(reversed(pair.tree.laid[0].trace.corners))
            elif (way := fine_way(fine, source, outlet)) is not None:
                yield way


def _round_about(
    scene: YardScene,
    fine: YardScene,
    members: Sequence[Source],
    outlets: Sequence[Outlet],
    pairs: Mapping[tuple[str, str], Tried],
    done: Sequence[Tree],
) -> Iterator[tuple[Place, ...]]:
    """Ways of the fine net that are much shorter than what the usual net has between the same two."""
    laid = {source.id for tree in done for one in tree.laid for source in one.carried}
    able = [(s, o) for s in members if s.id in laid for o in outlets if pairs[s.id, o.id].why is None]
    longer = detours(scene, fine, able)
    laid_as = _lengths(done)
    for source, outlet in able:
        more, least = longer.get((source.id, outlet.id), (0.0, 0.0))
        shorter = laid_as[source.id] - least
        if min(more, shorter) > max(_LONGER, _SHARE * least) and (way := fine_way(fine, source, outlet)) is not None:
            yield way


def _lengths(trees: Sequence[Tree]) -> dict[str, float]:
    """Length of the way of each source's own line down to its outlet, by id [m]."""
    found: dict[str, float] = {}
    for tree in trees:
        for one in tree.laid:
            length, line = one.trace.corner_stations[-1], one
            while line.parent is not None:
                trunk = tree.laid[line.parent]
                length += trunk.trace.corner_stations[trunk.trace.corners.index(line.trace.corners[0])]
                line = trunk
            found.update({source.id: length for source in (one.source, *(source for source, _ in one.drops))})
    return found


def fine_way(fine: YardScene, source: Source, outlet: Outlet) -> tuple[Place, ...] | None:
    """The cheapest way over the fine net, of those that are told apart there; else the highest.

    Parameters
    ----------
    fine : YardScene
        On the fine net.
    source, outlet : Source, Outlet
        Its ends.

    Returns
    -------
    tuple of tuple or None
        From the source to the outlet [m]; None where none falls.
    """
    start = fine.starts[source.id]
    end = end_of(fine.site, fine.yard, outlet, fine.terms, fine.prices, every=True)
    network = solve(fine.yard, [start], [end], fine.terms, fine.prices, slack=_EQUAL)
    arrival = network.arrivals.get((1, 0))
    if arrival is not None:
        return net_chain(fine, leg_of(network, 1, arrival.label, arrival.size).cells, source, outlet)
    inverts = fine.reaches[source.id].inverts
    arrives = np.where(inverts[end.nodes] >= end.needs, inverts[end.nodes] - fine.terms.grade * end.lengths, -math.inf)
    if not arrives.size or not math.isfinite(float(arrives.max())):
        return None
    yard = fine.yard
    cells = way_back(
        inverts,
        yard.ceiling,
        yard.floor,
        yard.is_open,
        yard.shut,
        kernels.moves(16, yard.cols),
        yard.cell,
        fine.terms.grade,
        start.nodes.astype(np.int64),
        start.inverts,
        int(end.nodes[int(np.argmax(arrives))]),
    )
    return net_chain(fine, [int(cell) for cell in cells[::-1]], source, outlet)
