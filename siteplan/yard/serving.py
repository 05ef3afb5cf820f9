"""Sources and outlets on a net in; trees of lines that are proven to fall out, shared trenches where they pay."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from siteplan.optional import optional
from siteplan.progress import told
from siteplan.routes.labels import Network, leg_of
from siteplan.routes.lines import YardWay, lay, ways_of
from siteplan.routes.many import searched
from siteplan.routes.shared import MOST, search_of, solve
from siteplan.routes.sharing import may_end, may_share, most_lines
from siteplan.routes.yard import MARGIN
from siteplan.values.tried import SearchEffort, SearchResult, Sharing
from siteplan.values.water_ends import Outlet, Source
from siteplan.yard.decided import decided
from siteplan.yard.gauges import gauges_of, terms_of
from siteplan.yard.trees import Tree, YardScene, carries, settled_tree, tangles

# margins under the ceilings, tried in turn: a wider one helps where the finer proof of the finished line finds what
# the choice of runs, or the net, stepped over
MARGINS = (MARGIN, 0.012, 0.03)  # m
LOWERED = (0.02, 0.05)  # m, by which the whole net's ceilings are lowered in turn
_ONE_ORDER = SearchEffort(gap=math.inf)  # of many sources: the first order found serves, no bound is wanted
_SLACK = 0.004  # m of invert below which two lines on the net count as equally high


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Served:
    """What was searched, each network with its sources, the trees proven.

    Also how near to the least cost the search came.
    """

    solved: tuple[tuple[Network, tuple[Source, ...]], ...]
    trees: tuple[Tree, ...]
    result: SearchResult | None
    sharing: tuple[Sharing, ...]


def serve(scene: YardScene, sources: Sequence[Source], outlets: Sequence[Outlet]) -> Served:
    """The cheapest trees that can be proven.

    Up to MOST sources are laid out over all ways to share trenches, more as `siteplan.routes.many` does.

    Parameters
    ----------
    scene : Scene
        The yard.
    sources : sequence of Source
        At least one.
    outlets : sequence of Outlet
        Where they may end.

    Returns
    -------
    Served
        A source that no line can be proven for is in none of the trees.
    """
    first = _serve(scene, sources, outlets)
    whole = _count(first.trees) == (0 if first.result is None else first.result.sources)
    if scene.sizes is None or (whole and all(carries(scene, tree) for tree in first.trees)):
        return first
    # a line that falls on the net as its flow asks may not do so in straight runs: then every size where it carries
    # anywhere
    surer = _serve(replace(scene, sizes=replace(scene.sizes, at_least_grade=True)), sources, outlets)
    if _count(surer.trees) >= _count(first.trees) and all(carries(scene, tree) for tree in surer.trees):
        return surer
    return first


def _count(trees: Sequence[Tree]) -> int:
    return len({source.id for tree in trees for one in tree.laid for source in one.carried})


def _serve(scene: YardScene, sources: Sequence[Source], outlets: Sequence[Outlet]) -> Served:
    network, planned, result = _together(scene, sources, outlets, scene.site.laying.effort)
    trees = _proven(scene, network, planned, sources, outlets)
    trees += _last_millimetres(scene, planned, sources, outlets)
    sharing = optional("sharing", lambda: decided(scene, network, planned, sources, outlets), ())
    return Served(solved=((network, tuple(sources)),), trees=tuple(trees), result=result, sharing=sharing)


def searched_network(
    scene: YardScene,
    sources: Sequence[Source],
    outlets: Sequence[Outlet],
    effort: SearchEffort,
    *,
    slack: float = _SLACK,
    together: bool = False,
) -> tuple[Network, SearchResult | None]:
    """What serving sources at outlets costs, in every bundle looked at.

    Parameters
    ----------
    scene : Scene
        The yard.
    sources, outlets : sequence
        By number in the network.
    effort : SearchEffort
        When to stop with more than MOST sources.
    slack : float
        Inverts closer than this count as equal [m].
    together : bool
        True: only all sources together at one outlet are asked for.

    Returns
    -------
    tuple of Network and SearchResult or None
        None where nothing can be served.
    """
    may, gauges = _allowed(scene, sources, outlets), gauges_of(scene, sources, outlets)
    yard, starts, ends, terms, prices = gauges.kit(0, -math.inf)

    def most(number: int) -> int | None:
        return most_lines(scene.site, outlets[number])

    if len(sources) > MOST:
        search = search_of(gauges, slack=slack, may=may, most=most)
        result = searched(search, [(source.x, source.y) for source in sources], effort, told)
        return search.network(), result
    network = solve(
        yard, starts, ends, terms, prices, slack=slack, may=may, most=most, all_or_none=together, gauges=gauges
    )
    can = _can(network, len(sources))
    if can not in network.best:
        return network, None
    cost = network.best[can][0]
    return network, SearchResult(
        sources=can.bit_count(),
        cost=cost,
        bound=cost,
        steps=len(network.labels),
        stopped="every-way",
        gap_asked=effort.gap,
        steps_asked=effort.steps,
        seconds_asked=effort.seconds,
    )


def _can(network: Network, count: int) -> int:
    """All sources where they can be served; else the most that can, at the least cost."""
    everyone = (1 << count) - 1
    if everyone in network.best:
        return everyone
    return max(network.best, key=lambda one: (one.bit_count(), -round(network.best[one][0], 6), -one), default=0)


def _last_millimetres(
    scene: YardScene, planned: Sequence[tuple[int, int]], sources: Sequence[Source], outlets: Sequence[Outlet]
) -> list[Tree]:
    """Sources that only the tolerance on inverts kept from an outlet, alone and without it."""
    taken = sum(bundle for bundle, _ in planned)
    trees: list[Tree] = []
    for source in (source for k, source in enumerate(sources) if not taken >> k & 1):
        ends = [outlets[n].id for _, n in planned] + [tree.outlet.id for tree in trees]
        rooms = [most_lines(scene.site, outlet) for outlet in outlets]
        free = [o for o, room in zip(outlets, rooms, strict=True) if room is None or ends.count(o.id) < room]
        if not free:  # all holes are taken
            break
        exact, _ = searched_network(scene, [source], free, _ONE_ORDER, slack=0.0, together=True)
        trees += _proven(scene, exact, list(exact.best[1][1]) if 1 in exact.best else [], [source], free)
    return trees


def _together(
    scene: YardScene, sources: Sequence[Source], outlets: Sequence[Outlet], effort: SearchEffort
) -> tuple[Network, list[tuple[int, int]], SearchResult | None]:
    """A network, the bundles of its cheapest trees with the numbers of their outlets.

    Also how near they are to the least cost.
    """
    network, result = searched_network(scene, sources, outlets, effort)
    can = _can(network, len(sources))
    return network, list(network.best[can][1]) if can in network.best else [], result


def _allowed(scene: YardScene, sources: Sequence[Source], outlets: Sequence[Outlet]) -> Callable[[int, int], bool]:
    """Whether a bundle of these sources may end together at the outlet of a number.

    Also that outlet takes all their water.
    """
    site = scene.site
    flows = [0.0 if scene.sizes is None else scene.sizes.flows.get(source.id) or 0.0 for source in sources]
    ends = [[may_end(site, source, outlet) for outlet in outlets] for source in sources]

    def may(bundle: int, number: int) -> bool:
        members = [k for k in range(len(sources)) if bundle >> k & 1]
        takes = outlets[number].takes
        if takes is not None and sum(flows[k] for k in members) > takes:
            return False
        return all(ends[k][number] for k in members) and may_share(site, [sources[k] for k in members])

    return may


def _ways(network: Network, bundle: int, number: int) -> list[YardWay]:
    arrival = network.arrivals[bundle, number]
    return list(ways_of(leg_of(network, bundle, arrival.label, arrival.size)))


def _proven(
    scene: YardScene,
    network: Network,
    planned: Sequence[tuple[int, int]],
    sources: Sequence[Source],
    outlets: Sequence[Outlet],
) -> list[Tree]:
    """Trees of the bundles planned; one that cannot be proven is planned anew with more room, then apart."""
    trees: list[Tree] = []
    for bundle, number in planned:
        members = [source for k, source in enumerate(sources) if bundle >> k & 1]
        tree = _best_drawn(scene, _ways(network, bundle, number), sources, members, outlets[number])
        if tree is not None:
            trees.append(tree)
            continue
        if len(members) > 1:
            ends = [n for other, n in planned if other != bundle]
            trees += _apart(scene, network, bundle, sources, outlets, ends)
    return trees


def _apart(
    scene: YardScene,
    network: Network,
    bundle: int,
    sources: Sequence[Source],
    outlets: Sequence[Outlet],
    taken: Sequence[int],
) -> list[Tree]:
    """A bundle that cannot be proven, without one source, the tightest first; that one alone. At last each alone.

    `taken` are the outlets at which the other trees end: one that is full has no room for another line.
    """
    used = list(taken)

    def drawn(part: int) -> Tree | None:
        members = [source for k, source in enumerate(sources) if part >> k & 1]
        ends = [n for n in range(len(outlets)) if (part, n) in network.arrivals]
        for n in sorted(ends, key=lambda n: (network.arrivals[part, n].cost, n)):
            room = most_lines(scene.site, outlets[n])
            if room is not None and used.count(n) >= room:
                continue
            tree = _best_drawn(scene, _ways(network, part, n), sources, members, outlets[n])
            if tree is not None:
                used.append(n)
                return tree
        return None

    def spare(k: int) -> float:
        inverts = [
            network.arrivals[1 << k, n].invert - o.control
            for n, o in enumerate(outlets)
            if (1 << k, n) in network.arrivals
        ]
        return max(inverts, default=-math.inf)

    alone = [k for k in range(len(sources)) if bundle >> k & 1]
    for k in sorted(alone, key=lambda k: (round(spare(k), 6), k)) if len(alone) > 2 else ():
        most = drawn(bundle ^ (1 << k))
        if most is not None:
            last = drawn(1 << k)
            return [most] if last is None else [most, last]
    return [tree for k in alone if (tree := drawn(1 << k)) is not None]


def _best_drawn(
    scene: YardScene, ways: Sequence[YardWay], sources: Sequence[Source], members: Sequence[Source], outlet: Outlet
) -> Tree | None:
    """A tree in straight runs, on the net as it is or with more room; else over cells; else one that crosses itself."""
    tree = _straight(scene, ways, sources, outlet)
    if tree is not None and not tangles([tree.laid]):
        return tree
    everyone = (1 << len(members)) - 1
    for lowered in LOWERED:
        lower = replace(scene, yard=replace(scene.yard, ceiling=scene.yard.ceiling - lowered))
        network, _ = searched_network(lower, members, [outlet], _ONE_ORDER, together=True)
        if (everyone, 0) in network.arrivals:
            roomy = _straight(scene, _ways(network, everyone, 0), members, outlet)
            if roomy is not None and not tangles([roomy.laid]):
                return roomy
            tree = tree or roomy
    return _laid(scene, ways, sources, outlet, straightened=False, margin=MARGIN) or tree


def _straight(scene: YardScene, ways: Sequence[YardWay], sources: Sequence[Source], outlet: Outlet) -> Tree | None:
    """Ways laid in straight runs and proven, where it can be had such that nothing crosses."""
    tangled: Tree | None = None
    for margin in MARGINS:
        tree = _laid(scene, ways, sources, outlet, straightened=True, margin=margin)
        if tree is not None and not tangles([tree.laid]):
            return tree
        tangled = tangled or tree
    return tangled


def _laid(
    scene: YardScene,
    ways: Sequence[YardWay],
    sources: Sequence[Source],
    outlet: Outlet,
    *,
    straightened: bool,
    margin: float,
) -> Tree | None:
    laid = lay(
        scene.site,
        scene.yard,
        ways,
        sources,
        outlet,
        [terms_of(scene, way.size, way.grade) for way in ways],
        scene.prices,
        straightened=straightened,
        margin=margin,
    )
    return None if laid is None else settled_tree(scene, laid, outlet)
