"""Site, outlets and wet ground in; the lines that serve the sources out, and every candidate with its reason."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial

from siteplan import units
from siteplan.books import rules
from siteplan.books.kinds import pumped
from siteplan.books.prices import Prices
from siteplan.optional import optional
from siteplan.routes.daylight import found_outlets
from siteplan.routes.ends import end_of
from siteplan.routes.labels import Network, leg_of
from siteplan.routes.sharing import most_lines
from siteplan.routes.straight import Place
from siteplan.routes.terms import Terms, terms
from siteplan.routes.trace import passages
from siteplan.routes.yard import grounds_of, yard_of
from siteplan.site import Feature, Site
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.own_drawn import OwnLines
from siteplan.values.tried import Candidate, LaidOut, MissedWay, SearchResult, Sharing
from siteplan.values.water_ends import Outlet, Source
from siteplan.yard.apart import FREE, crossed, parted
from siteplan.yard.bought import with_margins
from siteplan.yard.candidates import Why
from siteplan.yard.closer import serve_closer
from siteplan.yard.costs import delivered_cost, tree_cost, trench_cost
from siteplan.yard.decided import as_laid
from siteplan.yard.direct import along_chain, direct_tree, net_chain
from siteplan.yard.gauges import SizesAsked, line_terms, pipe_in_size
from siteplan.yard.improved import improved
from siteplan.yard.nets import fine_scene, scene_on
from siteplan.yard.own_grade import at_own_grade
from siteplan.yard.own_joined import with_joining
from siteplan.yard.pairs import Tried, spare_of, tried_pair, why_unlaid
from siteplan.yard.rows import cleanouts_of, crossings_of, marks_of, on_paper, rows_of, vertices_of
from siteplan.yard.spares import binding_text
from siteplan.yard.trees import Joining, Tree, YardScene, carries

MUCH_DEARER = 1.1  # times the cost taken; less is told in percent
SEEN = 0.05  # percent that is still printed
_MOVED = 30  # changes of bends and wyes proven for one tree at most
_DROP = 0.02  # m: a branch that comes in higher than this over its trunk is told


def lay_out(
    site: Site,
    named: tuple[Outlet, ...],
    spots: tuple[LowSpot, ...],
    pipe: Pipe,
    prices: Prices,
    sizes: SizesAsked | None = None,
    joining: tuple[Joining, ...] = (),
) -> LaidOut:
    """Lay lines from every source that can be served.

    Sources that no named outlet can serve are tried on daylight points that the tool finds by itself; where named
    outlets serve everything, found points are only offered.

    Parameters
    ----------
    site : Site
        The surveyed site.
    named : tuple of Outlet
        Outlets that the site names.
    spots : tuple of LowSpot
        Wet ground.
    pipe : Pipe
        The pipe laid; the smallest where sizes are asked for.
    prices : Prices
        Relative prices.
    sizes : SizesAsked, optional
        Sizes and flows, so that each line is laid in the size that its water and its fall ask for.
    joining : tuple of Joining
        Lines of one's own that join them.

    Returns
    -------
    LaidOut
        Lines, outlets (found ones among them), candidates, and notes for the plan's assumptions.
    """
    return _lay(replace(yard_scene(site, named, spots, pipe, prices), sizes=sizes, joining=joining), named)


def lay_beside(
    site: Site,
    named: tuple[Outlet, ...],
    spots: tuple[LowSpot, ...],
    pipe: Pipe,
    prices: Prices,
    there: LaidOut,
    *,
    shared_ends: bool = False,
    sizes: SizesAsked | None = None,
    joining: tuple[Joining, ...] = (),
) -> LaidOut:
    """A layout, and beside it lines in another pipe from the sources that it leaves out.

    Parameters
    ----------
    site, named, spots, pipe, prices
        As for `lay_out`; the pipe is that of the new lines.
    there : LaidOut
        The layout that stays as it is: no new line comes into its trenches.
    shared_ends : bool
        True: but for the places of the outlets, where new lines may end too.
    sizes : SizesAsked, optional
        Sizes and flows of the new lines.
    joining : tuple of Joining
        Lines of one's own that join the new lines.

    Returns
    -------
    LaidOut
        Both, numbered on.
    """
    from siteplan.routes.daylight import OFFERED

    left = _unserved(site, there)
    alone = replace(
        site,
        sources=tuple(left),
        features=(*site.features, *_trenches(there, terms(site.rules, pipe), named if shared_ends else ())),
    )
    scene = replace(yard_scene(alone, named, spots, pipe, prices), sizes=sizes, joining=joining)
    more = _lay(replace(scene, lines_before=len(there.lines), found_before=OFFERED), named)
    names = {source.id for source in left}
    rows = [row for row in there.candidates if len(row.sources) > 1 or row.sources[0] not in names]
    return LaidOut(
        lines=(*there.lines, *more.lines),
        outlets=tuple(dict.fromkeys((*there.outlets, *more.outlets))),
        candidates=(*rows, *more.candidates),
        notes=tuple(dict.fromkeys((*there.notes, *more.notes))),
        search=(*there.search, *more.search),
        sharing=(*there.sharing, *more.sharing),
        own=(*there.own, *more.own),
        missed=(*(one for one in there.missed if one.source not in names), *more.missed),
    )


def _trenches(laid: LaidOut, asked: Terms, free: Sequence[Outlet]) -> list[Feature]:
    """The trenches of a layout, as ground that no other line may be laid in."""
    import shapely

    places = shapely.union_all([shapely.Point(one.x, one.y).buffer(FREE) for one in free])
    return [
        Feature(
            kind="no_dig",
            name=line.id,
            attributes={},
            file="",
            number=k,
            geometry=shapely.LineString([(v.x, v.y) for v in line.vertices]).buffer(asked.half_trench) - places,
        )
        for k, line in enumerate(laid.lines, start=1)
    ]


def _lay(scene: YardScene, named: tuple[Outlet, ...]) -> LaidOut:
    fine = optional("finer-net", lambda: fine_scene(scene, named), None)
    return _laid_out(scene, named, fine)


def _refused(source: str, outlet: str, why: Why) -> Candidate:
    return Candidate(
        sources=(source,),
        outlet=outlet,
        feasible=False,
        fall_available=why.fall_available,
        fall_needed=why.fall_needed,
        margin=why.margin,
        length=why.length,
        cost=None,
        chosen=False,
        reason=why.reason,
    )


def _unserved(site: Site, laid_out: LaidOut) -> list[Source]:
    served = {key for line in laid_out.lines for key in line.sources}
    return [source for source in site.sources if source.id not in served]


def _laid_out(scene: YardScene, named: tuple[Outlet, ...], fine: YardScene | None) -> LaidOut:
    site = scene.site
    pairs = {(s.id, o.id): tried_pair(scene, s, o, fine) for s in site.sources for o in named}
    stranded = [s for s in site.sources if all(pairs[s.id, o.id].why is not None for o in named)]
    found = optional("found-outlets", lambda: _found(fine or scene, stranded), ())
    scene, fine = _with_ends(scene, found), None if fine is None else _with_ends(fine, found)
    pairs.update({(s.id, o.id): tried_pair(scene, s, o, fine) for s in site.sources for o in found})
    groups: list[tuple[list[Source], tuple[Outlet, ...]]] = [([s for s in site.sources if s not in stranded], named)]
    if stranded:
        groups.append(([s for s in stranded if any(pairs[s.id, o.id].why is None for o in found)], found))
    trees: list[Tree] = []
    costs: dict[tuple[str, str], tuple[float, float]] = {
        key: (tree_cost(scene, pair.tree), pair.tree.laid[0].trace.corner_stations[-1])
        for key, pair in pairs.items()
        if pair.tree is not None
    }
    ways: dict[tuple[str, str], tuple[Place, ...]] = {}
    together: list[Candidate] = []
    results: list[tuple[SearchResult, list[Source]]] = []
    sharing: list[Sharing] = []
    notes: list[str] = []
    for members, outlets in groups:
        if not members:
            continue
        net, found_here = serve_closer(scene, fine, members, outlets, pairs)
        done = list(found_here.trees)
        trees += done
        results += [] if found_here.result is None else [(found_here.result, members)]
        sharing += found_here.sharing
        for network, part in found_here.solved:
            single = _single_ways(net, network, part, outlets)
            costs.update({key: (cost, _length(chain)) for key, (cost, chain) in single.items()})
            ways.update({key: chain for key, (_, chain) in single.items()})
            together += optional("candidates", partial(_bundles, network, part, outlets, done), ())
    trees = _filled(scene, trees, groups, pairs, ways)
    used = {tree.outlet.id for tree in trees}
    free = [o for o in (*named, *found) if not o.found or o.id in used]
    trees = optional("parting", partial(parted, scene, trees, free, tree_cost), trees)
    trees = optional("improving", partial(improved, scene, trees, most=_MOVED), trees)
    settling, trees = optional("margins", partial(at_own_grade, scene, trees), (scene, trees))
    trees = optional("margins", partial(with_margins, settling, trees), trees)
    plain, (trees, own) = trees, optional("own-joined", partial(with_joining, settling, trees), (trees, ()))
    lines = lines_of_trees(settling, trees)
    own = tuple(_as_laid_own(one, lines) for one in own)
    notes += _crossing_notes(scene, trees)
    served = {source.id for tree in trees for one in tree.laid for source in one.carried}
    for source in (s for s in site.sources if s.id not in served):
        for outlet in (*named, *found):
            key = source.id, outlet.id
            if pairs[key].why is None:
                way = ways.get(key) or _straight(source, outlet)
                pairs[key] = optional(
                    "candidates", partial(why_unlaid, scene, way, source, outlet), pairs[key], source.id
                )
    candidates = optional(
        "candidates",
        lambda: [
            _candidate(scene, s, o, pairs[s.id, o.id], costs, lines) for s in site.sources for o in (*named, *found)
        ],
        (),
    )
    used = {line.end for line in lines}
    offered = tuple(o for o in found if o.id in used or any(c.feasible for c in candidates if c.outlet == o.id))
    kept = {o.id for o in (*named, *offered)}
    return LaidOut(
        lines=lines,
        outlets=(*named, *offered),
        candidates=tuple(c for c in (*candidates, *together) if c.outlet in kept),
        notes=(*_layout_notes(scene, named, stranded, offered), *dict.fromkeys(notes)),
        search=tuple(
            replace(one, delivered=_delivered(scene, plain, members, one.sources)) for one, members in results
        ),
        sharing=as_laid(sharing, lines),
        own=own,
        missed=tuple(
            MissedWay(source=source, outlet=outlet, way=pair.why.way)
            for (source, outlet), pair in pairs.items()
            if outlet in kept and pair.why is not None and pair.why.way is not None
        ),
    )


def _as_laid_own(own: OwnLines, lines: Sequence[Line]) -> OwnLines:
    """The lines of a drawing that joins others, by the sources that they come from."""
    by_source = {line.start: line for line in lines if line.own}
    ends = {line.id: line.end for line in lines}

    def outlet(line: Line) -> str:
        end = line.end
        while end in ends:
            end = ends[end]
        return end

    drawn = tuple(
        replace(one, line=by_source[one.source].id, outlet=outlet(by_source[one.source]))
        if one.source in by_source
        else one
        for one in own.drawn
    )
    laid = [by_source[one.source] for one in own.drawn if one.source in by_source]
    if not laid:
        return own
    cost, length = (math.fsum(each) for each in zip(*((line.cost, line.length) for line in laid), strict=True))
    return replace(own, drawn=drawn, cost=cost, length=length)


def _delivered(scene: YardScene, trees: Sequence[Tree], members: Sequence[Source], count: int) -> float | None:
    """What the lines of some sources cost as they lie.

    None where not so many of them have one, or others run with them.
    """
    ids = {source.id for source in members}
    theirs = [(tree, {source.id for one in tree.laid for source in one.carried}) for tree in trees]
    own = [(tree, carried) for tree, carried in theirs if carried & ids]
    if len({key for _, carried in own for key in carried & ids}) != count or any(carried - ids for _, carried in own):
        return None
    return sum(delivered_cost(scene, tree) for tree, _ in own)


def _with_ends(scene: YardScene, outlets: Sequence[Outlet]) -> YardScene:
    ends = {o.id: end_of(scene.site, scene.yard, o, scene.terms, scene.prices) for o in outlets}
    return replace(scene, ends={**scene.ends, **ends})


def yard_scene(
    site: Site,
    named: tuple[Outlet, ...],
    spots: tuple[LowSpot, ...],
    pipe: Pipe,
    prices: Prices,
    *,
    cell: float | None = None,
    shifted: float = 0.0,
    turned: float = 0.0,
) -> YardScene:
    """The yard with its net, the reach of every source over it and the last runs to every outlet.

    Parameters
    ----------
    site, named, spots, pipe, prices
        As for `lay_out`.
    cell : float, optional
        Step of the net [m]; the usual one when absent.
    shifted, turned : float
        How the net lies, see `yard_of`.

    Returns
    -------
    YardScene
        Without found outlets.
    """
    asked = terms(site.rules, pipe)
    grounds = grounds_of(site, named, spots, asked, prices)
    yard = yard_of(site, grounds, asked, prices, cell=cell, shifted=shifted, turned=turned)
    return scene_on(site, grounds, named, spots, pipe, asked, prices, yard)


def _found(scene: YardScene, stranded: Sequence[Source]) -> tuple[Outlet, ...]:
    """Daylight points for sources that no named outlet serves.

    Where none is left over, points that are only offered.
    """
    if scene.site.what_if.only:
        return ()
    sources = stranded or scene.site.sources
    reaches = [scene.reaches[source.id].inverts for source in sources]
    sumps = [pumped(source.kind) for source in sources]
    walls = [source.ground if source.pit is None else source.pit[2] for source in sources]
    return found_outlets(
        scene.site,
        scene.yard,
        reaches,
        scene.spots,
        scene.terms,
        sumps=sumps,
        walls=walls,
        everywhere=bool(stranded),
        first=scene.found_before + 1,
    )


def lines_of_trees(scene: YardScene, trees: Sequence[Tree]) -> tuple[Line, ...]:
    """Trees as lines of a plan, numbered on from those that the scene counts as before.

    Parameters
    ----------
    scene : YardScene
        The yard.
    trees : sequence of Tree
        Proven, or drawn by a person.

    Returns
    -------
    tuple of Line
        Trunks before their branches; those that have no margins yet get them.
    """
    trees = optional("margins", partial(with_margins, scene, trees), trees)
    lines: list[Line] = []
    for tree in trees:
        first = len(lines)
        ids = [f"L{scene.lines_before + first + 1 + k}" for k in range(len(tree.laid))]
        for k in range(len(tree.laid)):  # trunks before their branches
            lines.append(_line(scene, tree, k, ids, lines[first:]))
    return tuple(lines)


def lines_of_tree(scenes: Sequence[YardScene], tree: Tree, before: int) -> tuple[Line, ...]:
    """A tree as lines of a plan, each in the pipe of its own scene.

    Parameters
    ----------
    scenes : sequence of YardScene
        One for each line.
    tree : Tree
        Proven, or drawn by a person.
    before : int
        Lines numbered before.

    Returns
    -------
    tuple of Line
        Trunk before its branches.
    """
    ids = [f"L{before + 1 + k}" for k in range(len(tree.laid))]
    lines: list[Line] = []
    for k, scene in enumerate(scenes):
        lines.append(_line(scene, tree, k, ids, lines))
    return tuple(lines)


def _crossing_notes(scene: YardScene, trees: Sequence[Tree]) -> list[str]:
    """Lines that cross without joining: how far apart they pass, for a person to look at."""
    first = scene.lines_before + 1
    numbers = {
        (t, k): n
        for n, (t, k) in enumerate(((t, k) for t, tree in enumerate(trees) for k in range(len(tree.laid))), start=first)
    }
    unit, notes = scene.site.length_unit, []
    for c in (one for one in crossed(scene, trees) if one.meet):
        at, low, high = (c.at_one, c.at_other), numbers[c.one], numbers[c.other]
        here, there = (units.station_text(station, unit) for station in at)
        under = "under" if c.invert_other < c.invert_one else "over"
        said = (
            (
                f"passes {under} L{low} (its station {here}) with {units.length_text(c.clear, unit)} and more "
                "between the pipes"
            )
            if c.clear >= scene.terms.apart
            else f"crosses L{low} (its station {here}) and cannot lie there as drawn: no way to part them was found"
        )
        notes.append(f"L{high} at station {there} {said}.")
    return notes


def _line(scene: YardScene, tree: Tree, k: int, ids: Sequence[str], before: Sequence[Line]) -> Line:
    site, unit = scene.site, scene.site.length_unit
    one, profile = tree.laid[k], tree.profiles[k]
    asked, pipe = line_terms(scene, one), one.pipe or pipe_in_size(scene, one.size)
    end = tree.outlet.id if one.parent is None else ids[one.parent]
    end_name = tree.outlet.name if one.parent is None else f"joins {ids[one.parent]}"
    crossings = crossings_of(site, one, profile, pipe)
    wet = passages(scene.spots, one.trace.corners)
    cleanouts = cleanouts_of(one, rules.limit(site.rules, rules.CLEANOUT_SPACING), unit)
    vertices, joined = vertices_of(one, profile, one.trace.ground, cleanouts), -math.inf
    if one.parent is not None:
        x, y = one.trace.corners[0]
        joined = min(before[one.parent].vertices, key=lambda vertex: math.dist((vertex.x, vertex.y), (x, y))).invert
    vertices = on_paper(vertices, None if one.drawn else asked.grade, -math.inf if one.drawn else joined)
    if math.isfinite(joined) and vertices[0].invert - joined > _DROP:
        end_name += (
            f", {units.length_text(vertices[0].invert - joined, unit)} above its invert: the wye is rolled up or "
            "a drop is built"
        )
    names = {"": f"outlet: {end_name}" if one.parent is None else end_name}

    def name(place: Place, words: str) -> None:
        key = f"{place[0]!r},{place[1]!r}"
        names[key] = f"{names[key]}; {words}" if key in names else words

    for j, branch in enumerate(tree.laid):
        if branch.parent == k:
            name(branch.trace.corners[0], f"{ids[j]} joins from {branch.source.name}")
    for source, place in one.drops:
        name(place, f"{source.name} comes in from above")
    marks = marks_of(one, vertices, crossings, wet, names, asked, unit)
    decided = spare_of(scene, tree, k)
    return Line(
        id=ids[k],
        sources=tuple(source.id for source in one.carried),
        start=one.source.id,
        end=end,
        pipe=pipe,
        vertices=vertices,
        rows=rows_of(one, vertices, marks, pipe, asked),
        crossings=crossings,
        low_spots=wet,
        spare=decided.spare,
        binding=binding_text(
            decided.station, None if decided.line == k else ids[decided.line], one.trace.corner_stations[-1], unit
        ),
        cost=trench_cost(scene, one, profile),
        own=one.drawn,
        margins=tree.bought[k] if tree.bought else (),
    )


def _filled(
    scene: YardScene,
    trees: Sequence[Tree],
    groups: Sequence[tuple[Sequence[Source], Sequence[Outlet]]],
    pairs: Mapping[tuple[str, str], Tried],
    ways: Mapping[tuple[str, str], tuple[Place, ...]],
) -> list[Tree]:
    """Trees, with a line of its own for each source that they leave out and that a line off the net serves.

    A source alone on its line takes one off the net where that costs less.
    """
    filled = list(trees)
    for members, outlets in groups:
        for source in members:
            at = next((k for k, tree in enumerate(filled) if any(source in one.carried for one in tree.laid)), None)
            shared = at is not None and (len(filled[at].laid) > 1 or len(filled[at].laid[0].carried) > 1)
            if shared:
                continue
            options = []
            for outlet in outlets:
                room = most_lines(scene.site, outlet)
                others = sum(tree.outlet.id == outlet.id for k, tree in enumerate(filled) if k != at)
                if room is not None and others >= room:
                    continue
                pair = pairs[source.id, outlet.id]
                tree = pair.tree
                if tree is None and at is None and pair.why is None:
                    way = ways.get((source.id, outlet.id))
                    tree = (
                        direct_tree(scene, source, outlet) or (way and along_chain(scene, way, source, outlet)) or None
                    )
                if tree is not None:
                    options.append((round(tree_cost(scene, tree), 6), outlet.id, tree))
            if not options:
                continue
            cost, _, tree = min(options, key=lambda option: option[:2])
            if at is None:
                filled.append(tree)
            elif cost < tree_cost(scene, filled[at]) - 1e-6 and carries(scene, tree) >= carries(scene, filled[at]):
                filled[at] = tree
    return filled


def _straight(source: Source, outlet: Outlet) -> tuple[Place, ...]:
    return ((source.x, source.y), (outlet.x, outlet.y))


def _length(chain: Sequence[Place]) -> float:
    return sum(math.dist(a, b) for a, b in itertools.pairwise(chain))


def _single_ways(
    scene: YardScene, network: Network, sources: Sequence[Source], outlets: Sequence[Outlet]
) -> dict[tuple[str, str], tuple[float, tuple[Place, ...]]]:
    """Cost and way on the net of each source alone to each outlet."""
    ways = {}
    for k, source in enumerate(sources):
        for n, outlet in enumerate(outlets):
            arrival = network.arrivals.get((1 << k, n))
            if arrival is not None:
                cells = leg_of(network, 1 << k, arrival.label, arrival.size).cells
                ways[source.id, outlet.id] = (arrival.cost, net_chain(scene, cells, source, outlet))
    return ways


def _bundles(
    network: Network, sources: Sequence[Source], outlets: Sequence[Outlet], done: Sequence[Tree]
) -> list[Candidate]:
    """Ways to serve several sources together that were weighed: every source of the group to each one outlet."""
    everyone = (1 << len(sources)) - 1
    if len(sources) < 2 or everyone not in network.best:
        return []
    best = network.best[everyone][0]
    rows = []
    for n, outlet in enumerate(outlets):
        arrival = network.arrivals.get((everyone, n))
        chosen = any(
            tree.outlet is outlet and sum(1 + len(one.drops) for one in tree.laid) == len(sources) for tree in done
        )
        ids = tuple(source.id for source in sources)
        if arrival is None:
            rows.append(
                Candidate(
                    sources=ids,
                    outlet=outlet.id,
                    feasible=False,
                    fall_available=None,
                    fall_needed=None,
                    margin=None,
                    length=None,
                    cost=None,
                    chosen=False,
                    reason=(
                        "not every one of these sources can fall to this outlet in a shared trench at a lower "
                        "cost than apart"
                    ),
                )
            )
            continue
        reason = None if chosen else _dearer(arrival.cost, best, "the chosen lines")
        rows.append(
            Candidate(
                sources=ids,
                outlet=outlet.id,
                feasible=True,
                fall_available=None,
                fall_needed=None,
                margin=arrival.invert - outlet.control,
                length=None,
                cost=arrival.cost,
                chosen=chosen,
                reason=reason,
            )
        )
    return rows


def _candidate(
    scene: YardScene,
    source: Source,
    outlet: Outlet,
    pair: Tried,
    costs: Mapping[tuple[str, str], tuple[float, float]],
    lines: Sequence[Line],
) -> Candidate:
    amount, why = pair.spare, pair.why
    if why is not None:
        return _refused(source.id, outlet.id, why)
    cost, length = costs.get((source.id, outlet.id), (None, None))
    # the last line that carries it; a source that drops into a line has none of its own
    carrier = next((line for line in lines if source.id in line.sources and line.end in scene.ends), None)
    chosen = carrier is not None and carrier.end == outlet.id
    needed = None if length is None else scene.terms.grade * length
    return Candidate(
        sources=(source.id,),
        outlet=outlet.id,
        feasible=True,
        fall_available=None if needed is None or amount is None else needed + amount,
        fall_needed=needed,
        margin=amount,
        length=length,
        cost=cost,
        chosen=chosen,
        reason=None if chosen else _lost(source, outlet, cost, costs, carrier),
    )


def _lost(
    source: Source,
    outlet: Outlet,
    cost: float | None,
    costs: Mapping[tuple[str, str], tuple[float, float]],
    carrier: Line | None,
) -> str:
    if outlet.found:
        return "works, and is not named by the site: name it as an outlet to have it weighed against the others"
    if carrier is None:
        return "a line along it is proven by itself, and not beside the lines that serve the others"
    taken = costs.get((source.id, carrier.end))
    if cost is not None and taken is not None and taken[0] > 0 and cost >= taken[0]:
        return _dearer(cost, taken[0], "the outlet taken")
    return "cheaper alone, but not as part of the lines that serve all sources"


def _dearer(cost: float, taken: float, what: str) -> str:
    """By how much something costs more than what was taken, never 'as much' by rounding."""
    if cost / taken >= MUCH_DEARER:
        return f"costs {cost / taken:.2f} times as much as {what}"
    more = 100 * (cost / taken - 1)
    return f"costs {more:.1f} % more than {what}" if more >= SEEN else f"costs as much as {what}"


def _layout_notes(
    scene: YardScene, named: Sequence[Outlet], stranded: Sequence[Source], found: Sequence[Outlet]
) -> list[str]:
    unit = scene.site.length_unit
    notes = [
        (
            f"Lines are searched on a net of {units.length_text(scene.yard.cell, unit)} and then proven on the "
            f"surveyed ground every {units.length_text(0.05, unit)} and at every edge."
        )
    ]
    if any(not scene.yard.grounds.lot.covers(_point(o)) for o in named):
        notes.append(
            f"Off the lot a line may run within {units.length_text(2.0, unit, 1)} of the straight way from "
            "the lot to an outlet the site names; that ground is taken for right of way."
        )
    if stranded and found:
        notes.append("Sources that no named outlet can serve were tried on daylight points found by the tool.")
    if scene.terms.grade_max is not None:
        notes.append(
            f"Runs steeper than {units.grade_text(scene.terms.grade_max)} are avoided where that is possible "
            "and flagged where not."
        )
    return notes


def _point(outlet: Outlet) -> object:
    from shapely.geometry import Point

    return Point(outlet.x, outlet.y)
