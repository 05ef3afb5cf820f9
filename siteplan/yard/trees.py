"""Sources and outlets on a net in; trees of lines that are proven to fall out, shared trenches where they pay."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from siteplan.books.kinds import at_curb
from siteplan.books.prices import Prices
from siteplan.fall.band import Band, Profile, Shortfall, digging, invert_at, limited, pinned
from siteplan.fall.margins import margin_for, off_the_ceiling
from siteplan.fall.tree import settle
from siteplan.routes.ends import End, Start
from siteplan.routes.labels import Network, leg_of
from siteplan.routes.lines import Laid, YardWay, lay, ways_of
from siteplan.routes.shared import MOST, solve
from siteplan.routes.sharing import may_end, may_share
from siteplan.routes.straight import Place
from siteplan.routes.terms import Terms
from siteplan.routes.yard import MARGIN, Yard
from siteplan.site import Site
from siteplan.values import LowSpot, Outlet, Pipe, Source
from siteplan.yard.candidates import Swept
from siteplan.yard.rows import stake_stations

WITHIN = (60.0, 0.30, 0.15, 0.06)  # m under the least digging in which few grades are looked for
# margins under the ceilings, tried in turn: a wider one helps where the finer proof of the finished line finds what
# the choice of runs, or the net, stepped over
MARGINS = (MARGIN, 0.012, 0.03)  # m
LOWERED = (0.02, 0.05)  # m, by which the whole net's ceilings are lowered in turn
_TOUCH = 0.01  # m
MEETING = 1.0  # m from where two lines meet within which they run beside each other: a wye of 22.5 degrees needs 0.8


class Limit(NamedTuple):
    """Further limits on the invert at a station of a line [m]."""

    station: float
    ceiling: float
    floor: float


NO_LIMITS: Mapping[int, Sequence[Limit]] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class YardScene:
    """What every group of sources is laid out in."""

    site: Site
    yard: Yard
    terms: Terms
    prices: Prices
    pipe: Pipe
    spots: tuple[LowSpot, ...]
    starts: Mapping[str, Start]  # by source id
    reaches: Mapping[str, Swept]
    ends: Mapping[str, End]  # by outlet id
    lines_before: int = 0  # lines that another layout of this yard has numbered
    found_before: int = 0  # outlets that it has found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tree:
    """Lines that end at one outlet, in plan and with their inverts."""

    outlet: Outlet
    laid: tuple[Laid, ...]
    profiles: tuple[Profile, ...]


def serve(
    scene: YardScene, sources: Sequence[Source], outlets: Sequence[Outlet]
) -> tuple[list[tuple[Network, list[Source]]], list[Tree]]:
    """The cheapest trees that can be proven.

    Up to MOST sources are laid out over all ways to share trenches. Of more, those farthest apart are, and the
    others join what lies there, each where that costs least, or go alone.

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
    tuple of list
        What was solved, each with its sources, and the trees.
    """
    first = _spread(sources, outlets) if len(sources) > MOST else list(sources)
    rest = [source for source in sources if source not in first]
    network, planned = _together(scene, first, outlets)
    solved = [(network, first)]
    if not rest:
        trees = _proven(scene, network, planned, first, outlets)
        return solved, [*trees, *_last_millimetres(scene, planned, first, outlets)]
    everyone = [*first, *rest]
    grown = [_GrownTree(number=number, ways=_ways(network, bundle, number)) for bundle, number in planned]
    for k, source in enumerate(rest, start=len(first)):
        alone = solve(
            scene.yard,
            [scene.starts[source.id]],
            [scene.ends[o.id] for o in outlets],
            scene.terms,
            scene.prices,
            may=_allowed(scene.site, [source], outlets),
        )
        solved.append((alone, [source]))
        _join(scene, grown, alone, k, everyone, outlets)
    trees, left = [], []
    for one in grown:
        tree = _straight(scene, one.ways, everyone, outlets[one.number])
        if tree is not None and not tangles([tree.laid]):
            trees.append(tree)
        else:
            left += [everyone[way.source] for way in one.ways]
    joined = {way.source for one in grown for way in one.ways}
    left += [source for k, source in enumerate(everyone) if k not in joined]
    for k in range(0, len(left), MOST):
        part = left[k : k + MOST]
        network, planned = _together(scene, part, outlets)
        trees += _proven(scene, network, planned, part, outlets)
        trees += _last_millimetres(scene, planned, part, outlets)
    return solved, trees


def _last_millimetres(
    scene: YardScene, planned: Sequence[tuple[int, int]], sources: Sequence[Source], outlets: Sequence[Outlet]
) -> list[Tree]:
    """Sources that only the tolerance on inverts kept from an outlet, alone and without it."""
    taken = sum(bundle for bundle, _ in planned)
    trees: list[Tree] = []
    for source in (source for k, source in enumerate(sources) if not taken >> k & 1):
        ends = [scene.ends[outlet.id] for outlet in outlets]
        exact = solve(
            scene.yard,
            [scene.starts[source.id]],
            ends,
            scene.terms,
            scene.prices,
            slack=0.0,
            all_or_none=True,
            may=_allowed(scene.site, [source], outlets),
        )
        trees += _proven(scene, exact, list(exact.best[1][1]) if 1 in exact.best else [], [source], outlets)
    return trees


def _spread(sources: Sequence[Source], outlets: Sequence[Outlet]) -> list[Source]:
    """Sources far apart, beginning with the one farthest from every outlet."""

    def away(source: Source, others: Sequence[Source | Outlet]) -> float:
        return round(min((math.dist((source.x, source.y), (o.x, o.y)) for o in others), default=0.0), 6)

    chosen = [max(sources, key=lambda source: (away(source, outlets), source.id))]
    while len(chosen) < MOST:
        chosen.append(
            max((s for s in sources if s not in chosen), key=lambda source: (away(source, chosen), source.id))
        )
    return [source for source in sources if source in chosen]


def _together(
    scene: YardScene, sources: Sequence[Source], outlets: Sequence[Outlet]
) -> tuple[Network, list[tuple[int, int]]]:
    """A network, and the bundles of its cheapest trees with the numbers of their outlets."""
    starts = [scene.starts[source.id] for source in sources]
    ends = [scene.ends[outlet.id] for outlet in outlets]
    network = solve(scene.yard, starts, ends, scene.terms, scene.prices, may=_allowed(scene.site, sources, outlets))
    everyone = (1 << len(sources)) - 1
    if everyone in network.best:
        return network, list(network.best[everyone][1])
    can = sum(1 << k for k in range(len(sources)) if 1 << k in network.best)
    return network, list(network.best[can][1]) if can in network.best else []


def _allowed(site: Site, sources: Sequence[Source], outlets: Sequence[Outlet]) -> Callable[[int, int], bool]:
    """Whether a bundle of these sources may end together at the outlet of a number."""
    ends = [[may_end(site, source, outlet) for outlet in outlets] for source in sources]

    def may(bundle: int, number: int) -> bool:
        members = [k for k in range(len(sources)) if bundle >> k & 1]
        return all(ends[k][number] for k in members) and may_share(site, [sources[k] for k in members])

    return may


def _ways(network: Network, bundle: int, number: int) -> list[YardWay]:
    return list(ways_of(leg_of(network, bundle, network.arrivals[bundle, number].label)))


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
            trees += _apart(scene, network, bundle, sources, outlets)
    return trees


def _apart(
    scene: YardScene, network: Network, bundle: int, sources: Sequence[Source], outlets: Sequence[Outlet]
) -> list[Tree]:
    """A bundle that cannot be proven, without one source, the tightest first; that one alone. At last each alone."""

    def drawn(part: int) -> Tree | None:
        members = [source for k, source in enumerate(sources) if part >> k & 1]
        ends = [n for n in range(len(outlets)) if (part, n) in network.arrivals]
        for n in sorted(ends, key=lambda n: (network.arrivals[part, n].cost, n)):
            tree = _best_drawn(scene, _ways(network, part, n), sources, members, outlets[n])
            if tree is not None:
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
    everyone, may = (1 << len(members)) - 1, _allowed(scene.site, members, [outlet])
    starts, ends = [scene.starts[source.id] for source in members], [scene.ends[outlet.id]]
    for lowered in LOWERED:
        lower = replace(scene.yard, ceiling=scene.yard.ceiling - lowered)
        network = solve(lower, starts, ends, scene.terms, scene.prices, may=may, all_or_none=True)
        if (everyone, 0) in network.arrivals:
            roomy = _straight(scene, _ways(network, everyone, 0), members, outlet)
            if roomy is not None and not tangles([roomy.laid]):
                return roomy
            tree = tree or roomy
    return _laid(scene, ways, sources, outlet, straightened=False, margin=MARGIN) or tree


@dataclass(slots=True, kw_only=True, eq=False)
class _GrownTree:
    """A tree that sources join one by one."""

    number: int  # of its outlet
    ways: list[YardWay]


def _join(
    scene: YardScene,
    grown: list[_GrownTree],
    alone: Network,
    k: int,
    sources: Sequence[Source],
    outlets: Sequence[Outlet],
) -> None:
    """Add source k to the tree it joins cheapest, or to a tree of its own."""
    labels, grade = alone.labels[1], scene.terms.grade
    best: tuple[float, int, int, int] | None = None  # cost, tree, way, label
    for t, tree in enumerate(grown):
        control = outlets[tree.number].control
        carried = {number for way in tree.ways for number in way.carried}
        if not may_end(scene.site, sources[k], outlets[tree.number]) or not may_share(
            scene.site, [sources[number] for number in (*sorted(carried), k)]
        ):
            continue
        for w, way in enumerate(tree.ways):
            levels = scene.reaches[sources[way.source].id].inverts
            below = _lengths_below(scene, tree.ways, w, outlets[tree.number])
            for cell, length in zip(way.cells, below, strict=True):
                for label in labels.order[labels.start[cell] : labels.start[cell + 1]].tolist():
                    level = float(labels.level[label])
                    if level < control + grade * length:
                        continue
                    deeper = max(0.0, float(levels[cell]) - level)  # the trunk comes down to what arrives
                    cost = float(labels.cost[label]) + scene.prices.wye + scene.prices.digging * deeper * length
                    if best is None or cost < best[0] - 1e-9:
                        best = (cost, t, w, label)
    ends = sorted((alone.arrivals[1, n].cost, n) for n in range(len(outlets)) if (1, n) in alone.arrivals)
    if ends and (best is None or ends[0][0] <= best[0]):
        ways = [way._replace(source=k, carried=(k,)) for way in _ways(alone, 1, ends[0][1])]
        grown.append(_GrownTree(number=ends[0][1], ways=ways))
    elif best is not None:
        _, t, w, label = best
        ways = grown[t].ways
        ways.append(YardWay(k, leg_of(alone, 1, label).cells, w, (k,)))
        trunk: int | None = w
        while trunk is not None:
            ways[trunk] = ways[trunk]._replace(carried=(*ways[trunk].carried, k))
            trunk = ways[trunk].parent


def _lengths_below(scene: YardScene, ways: Sequence[YardWay], number: int, outlet: Outlet) -> list[float]:
    """Length from each cell of a way down to the outlet, over the net [m]."""
    way = ways[number]
    places = [(float(x), float(y)) for x, y in scene.yard.places(np.array(way.cells))]
    if way.parent is None:
        after = math.dist(places[-1], (outlet.x, outlet.y))
    else:
        trunk = ways[way.parent]
        after = _lengths_below(scene, ways, way.parent, outlet)[trunk.cells.index(way.cells[-1])]
    steps = [math.dist(a, b) for a, b in itertools.pairwise(places)]
    return [after + sum(steps[k:]) for k in range(len(places))]


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
        scene.terms,
        scene.prices,
        straightened=straightened,
        margin=margin,
    )
    return None if laid is None else settled_tree(scene, laid, outlet)


def tangles(trees: Sequence[Sequence[Laid]]) -> list[tuple[int, int, Place]]:
    """Where lines cross, or run on each other, without joining there.

    Parameters
    ----------
    trees : sequence of sequence of Laid
        Lines of each tree.

    Returns
    -------
    list of tuple
        Numbers of two lines, counted through all trees, and a place, every place [m].
    """
    import shapely

    every = [(t, k, one) for t, tree in enumerate(trees) for k, one in enumerate(tree)]
    paths = [shapely.LineString(one.trace.corners) for _, _, one in every]
    found = []
    for a, b in itertools.combinations(range(len(every)), 2):
        meeting = shapely.intersection(paths[a], paths[b])
        places = [(x, y) for x, y in shapely.get_coordinates(meeting).tolist()]
        found += [(a, b, place) for place in places if not _joined(every[a], every[b], place)]
    return found


def alongside(trees: Sequence[Sequence[Laid]], trench: float, pipes: float) -> list[tuple[int, int, Place]]:
    """Where lines run too near each other without meeting: lines to one outlet in one trench, any lines pipe on pipe.

    Parameters
    ----------
    trees : sequence of sequence of Laid
        Lines of each tree.
    trench : float
        Width of a trench [m].
    pipes : float
        Distance between the middles of two pipes that touch [m].

    Returns
    -------
    list of tuple
        Numbers of two lines, counted through all trees, and the middle of the stretch, on the second [m]. Not told
        near a place where they meet: there they join, or `tangles` tells it.
    """
    import shapely

    every = [(t, k, one) for t, tree in enumerate(trees) for k, one in enumerate(tree)]
    paths = [shapely.LineString(one.trace.corners) for _, _, one in every]
    outlets = [tree[0].outlet for tree in trees]
    found = []
    for a, b in itertools.combinations(range(len(every)), 2):
        one, two = outlets[every[a][0]], outlets[every[b][0]]
        shared = every[a][0] != every[b][0] and one is not None and two is not None and one.id == two.id
        width = trench if shared else pipes
        if shapely.distance(paths[a], paths[b]) >= width:
            continue
        beside = shapely.intersection(paths[b], paths[a].buffer(width))
        ends = shapely.MultiPoint([every[k][2].trace.corners[0] for k in (a, b)])
        met = shapely.intersection(paths[a], paths[b])
        wyes = [
            shapely.Point(every[k][2].trace.corners[0])
            for k, trunk in ((a, b), (b, a))
            if _falls_into(every[k], every[trunk])
        ]
        apart = [p for p in shapely.get_parts(beside) if not any(shapely.distance(p, wye) < _TOUCH for wye in wyes)]
        for part in shapely.get_parts(shapely.union_all(apart) - shapely.union(met, ends).buffer(MEETING)):
            if shapely.length(part) > 0:
                x, y = shapely.get_coordinates(shapely.line_interpolate_point(part, 0.5, normalized=True))[0].tolist()
                found.append((a, b, (x, y)))
    return found


def _joined(one: tuple[int, int, Laid], two: tuple[int, int, Laid], place: Place) -> bool:
    """Whether two lines are meant to meet at a place: at the wye of one on the other, or where both end."""
    ends = [line.trace.corners[0] for _, _, line in (one, two)]
    at = [math.dist(end, place) < _TOUCH for end in ends]
    if (at[0] and _falls_into(one, two)) or (at[1] and _falls_into(two, one)):
        return True
    return all(at)


def _falls_into(one: tuple[int, int, Laid], two: tuple[int, int, Laid]) -> bool:
    return one[0] == two[0] and one[2].parent == two[1]


def settled_tree(
    scene: YardScene, laid: tuple[Laid, ...], outlet: Outlet, limits: Mapping[int, Sequence[Limit]] = NO_LIMITS
) -> Tree | None:
    """Lines in plan with inverts that keep every limit, in few grades where that is cheap.

    Parameters
    ----------
    scene : Scene
        The yard.
    laid : tuple of Laid
        Trunk before its branches.
    outlet : Outlet
        Where the trunk ends.
    limits : mapping of int to sequence of Limit
        Further limits by number of the line, where it crosses another.

    Returns
    -------
    Tree or None
        None when no inverts do, not even at the grade beyond which a line is a drop.
    """
    asked, unit = scene.terms, scene.site.length_unit
    bands = {
        str(k): Band(station=one.trace.station, ceiling=one.trace.ceiling, floor=one.trace.floor)
        for k, one in enumerate(laid)
    }
    # a hole in a curb and a given invert are places to hit, not floors: the last run comes down to them
    if at_curb(outlet.kind) or outlet.invert is not None:
        bands["0"] = pinned(bands["0"], outlet.control)
    for k, more in limits.items():
        for limit in more:
            bands[str(k)] = limited(bands[str(k)], limit.station, limit.ceiling, limit.floor)
    joins: dict[str, tuple[str, float]] = {}
    for k, one in enumerate(laid):
        if one.parent is not None:
            trunk = laid[one.parent].trace
            joins[str(k)] = (str(one.parent), trunk.corner_stations[trunk.corners.index(one.trace.corners[0])])
    breaks = {
        str(k): np.unique(
            np.concatenate((stake_stations(one.trace.corner_stations[-1], unit), one.trace.corner_stations))
        )
        for k, one in enumerate(laid)
    }
    roomy = off_the_ceiling(
        bands, joins, grade=asked.grade, margin=margin_for(scene.site.accuracy, scene.site.laying.certainty)
    )
    for steepest, allowed in itertools.product(dict.fromkeys((asked.grade_max, asked.drop)), (roomy, bands)):
        highest = settle(allowed, joins, grade=asked.grade, grade_max=steepest)
        if any(not isinstance(profile, Profile) for profile in highest.values()):
            continue
        profiles = _few_enough(scene, allowed, joins, highest, breaks, steepest)
        if profiles is not None:
            return Tree(outlet=outlet, laid=laid, profiles=profiles)
    return None


def _few_enough(
    scene: YardScene,
    bands: Mapping[str, Band],
    joins: Mapping[str, tuple[str, float]],
    highest: Mapping[str, Profile | Shortfall],
    breaks: Mapping[str, np.ndarray],
    steepest: float | None,
) -> tuple[Profile, ...] | None:
    """Few grades where that is cheap, more where the ground would make few grades deep.

    A profile of few grades is asked to stay within a given depth of the least digging; of the depths tried, the one
    whose digging and grade breaks cost least is taken.
    """
    best: tuple[float, tuple[Profile, ...]] | None = None
    for within in WITHIN:
        held = {}
        for key, band in bands.items():
            top = highest[key]
            assert isinstance(top, Profile)
            held[key] = replace(
                band, floor=np.maximum(band.floor, np.minimum(invert_at(top, band.station) - within, band.ceiling))
            )
        # nearer to the least digging only where that needs no grade breaks between stakes
        settled = settle(
            held, joins, grade=scene.terms.grade, grade_max=steepest, breaks=breaks, elsewhere=within == WITHIN[0]
        )
        profiles = tuple(profile for profile in settled.values() if isinstance(profile, Profile))
        if len(profiles) < len(bands):
            continue
        dug = sum(
            digging(profile, band.station, band.ceiling) for profile, band in zip(profiles, bands.values(), strict=True)
        )
        cost = scene.prices.digging * dug + scene.prices.grade_break * sum(profile.runs for profile in profiles)
        if best is None or cost < best[0] - 1e-9:
            best = (cost, profiles)
    return None if best is None else best[1]
