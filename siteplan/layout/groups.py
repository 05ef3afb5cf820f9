"""Site, outlets and wet ground in; the lines that serve the sources out, and every candidate with its reason."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from siteplan import units
from siteplan.books import rules
from siteplan.books.prices import Prices
from siteplan.fall.band import Band, Profile, Shortfall, digging, invert_at, pinned
from siteplan.fall.tree import settle
from siteplan.layout.candidates import Swept, arrival_spare, swept, why_not
from siteplan.layout.rows import cleanouts_of, crossings_of, marks_of, rows_of, stakes, vertices_of
from siteplan.routes.daylight import found_outlets
from siteplan.routes.ends import End, Start, end_of, rate_at, start_of
from siteplan.routes.lines import Laid, lay, ways_of
from siteplan.routes.network import MOST, Network, leg_of, solve
from siteplan.routes.terms import Terms, terms
from siteplan.routes.trace import passages
from siteplan.routes.yard import MARGIN, Yard, grounds_of, yard_of
from siteplan.survey.site import Site
from siteplan.values import Candidate, Line, LowSpot, Outlet, Pipe, Source

FINER = 0.25  # m: the finest net tried when a source is left over
MOST_CELLS = 40_000  # of the first net, above which no finer one is tried
WITHIN = (60.0, 0.30, 0.15, 0.06)  # m under the least digging in which few grades are looked for


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidOut:
    """What laying out a yard gives."""

    lines: tuple[Line, ...]
    outlets: tuple[Outlet, ...]
    candidates: tuple[Candidate, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Scene:
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Tree:
    """Lines that end at one outlet, in plan and with their inverts."""

    outlet: Outlet
    laid: tuple[Laid, ...]
    profiles: tuple[Profile, ...]


def lay_out(site: Site, named: tuple[Outlet, ...], spots: tuple[LowSpot, ...], pipe: Pipe, prices: Prices) -> LaidOut:
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
        The pipe laid.
    prices : Prices
        Relative prices.

    Returns
    -------
    LaidOut
        Lines, outlets (found ones among them), candidates, and notes for the plan's assumptions.
    """
    scene = _scene(site, named, spots, pipe, prices)
    laid_out = _laid_out(scene, named)
    left = _unserved(site, laid_out)
    if not left or scene.yard.cell <= FINER or scene.yard.rows * scene.yard.cols > MOST_CELLS:
        return laid_out
    # never a no from a coarse net alone: a narrow way, or the last centimetres, may show on a finer one
    finer = _scene(site, named, spots, pipe, prices, cell=max(FINER, 0.6 * scene.yard.cell))
    if all(_misses(arrival_spare(finer.reaches[s.id], finer.ends[o.id], o, finer.terms)) for s in left for o in named):
        return laid_out
    again = _laid_out(finer, named)
    return again if len(_unserved(site, again)) < len(left) else laid_out


def _unserved(site: Site, laid_out: LaidOut) -> list[Source]:
    served = {key for line in laid_out.lines for key in line.sources}
    return [source for source in site.sources if source.id not in served]


def _laid_out(scene: _Scene, named: tuple[Outlet, ...]) -> LaidOut:
    site, prices = scene.site, scene.prices
    spares = {
        (s.id, o.id): arrival_spare(scene.reaches[s.id], scene.ends[o.id], o, scene.terms)
        for s in site.sources
        for o in named
    }
    stranded = [s for s in site.sources if all(_misses(spares[s.id, o.id]) for o in named)]
    found = _found(scene, stranded or list(site.sources))
    ends = {**scene.ends, **{o.id: end_of(site, scene.yard, o, scene.terms, prices) for o in found}}
    scene = replace(scene, ends=ends)
    spares.update(
        {
            (s.id, o.id): arrival_spare(scene.reaches[s.id], ends[o.id], o, scene.terms)
            for s in site.sources
            for o in found
        }
    )
    groups: list[tuple[list[Source], tuple[Outlet, ...]]] = [([s for s in site.sources if s not in stranded], named)]
    if stranded:
        groups.append(([s for s in stranded if any(not _misses(spares[s.id, o.id]) for o in found)], found))
    trees: list[_Tree] = []
    costs: dict[tuple[str, str], tuple[float, float]] = {}
    together: list[Candidate] = []
    notes: list[str] = []
    for members, outlets in groups:
        for part in _parts(members, notes):
            network, done = _serve(scene, part, outlets)
            trees += done
            costs.update(_single_costs(scene, network, part, outlets))
            together += _bundles(network, part, outlets, done)
    lines = _lines_of(scene, trees)
    candidates = [
        _candidate(scene, s, o, spares[s.id, o.id], costs, lines) for s in site.sources for o in (*named, *found)
    ]
    used = {line.end for line in lines}
    offered = tuple(o for o in found if o.id in used or any(c.feasible for c in candidates if c.outlet == o.id))
    kept = {o.id for o in (*named, *offered)}
    return LaidOut(
        lines=lines, outlets=(*named, *offered), candidates=tuple(c for c in (*candidates, *together) if c.outlet in kept),
        notes=(*_layout_notes(scene, named, stranded, offered), *dict.fromkeys(notes)),
    )  # fmt: skip


def _misses(amount: float | None) -> bool:
    return amount is None or amount < 0


def _scene(
    site: Site, named: tuple[Outlet, ...], spots: tuple[LowSpot, ...], pipe: Pipe, prices: Prices,
    *, cell: float | None = None,
) -> _Scene:  # fmt: skip
    asked = terms(site.rules, pipe)
    yard = yard_of(site, grounds_of(site, named, spots, asked, prices), asked, prices, cell=cell)
    starts = {source.id: start_of(site, yard, source, asked, prices) for source in site.sources}
    return _Scene(
        site=site, yard=yard, terms=asked, prices=prices, pipe=pipe, spots=spots, starts=starts,
        reaches={key: swept(yard, start, asked) for key, start in starts.items()},
        ends={outlet.id: end_of(site, yard, outlet, asked, prices) for outlet in named},
    )  # fmt: skip


def _found(scene: _Scene, sources: Sequence[Source]) -> tuple[Outlet, ...]:
    reaches = [scene.reaches[source.id].inverts for source in sources]
    sump = any(source.kind == "sump" for source in sources)
    return found_outlets(scene.site, scene.yard, reaches, scene.spots, scene.terms, sump=sump)


def _parts(members: Sequence[Source], notes: list[str]) -> list[list[Source]]:
    """Sources in groups small enough to be laid out exactly, neighbours together."""
    if not members:
        return []
    if len(members) <= MOST:
        return [list(members)]
    x, y = np.mean([source.x for source in members]), np.mean([source.y for source in members])
    order = sorted(members, key=lambda source: (math.atan2(source.y - y, source.x - x), source.id))
    count = math.ceil(len(order) / MOST)
    size = math.ceil(len(order) / count)
    notes.append(
        f"{len(order)} sources are laid out in {count} groups of neighbours; lines of different groups do not share a trench."
    )
    return [order[k : k + size] for k in range(0, len(order), size)]


def _serve(scene: _Scene, sources: list[Source], outlets: tuple[Outlet, ...]) -> tuple[Network, list[_Tree]]:
    """The cheapest trees that can be proven; where a shared one cannot, its sources go alone."""
    starts = [scene.starts[source.id] for source in sources]
    ends = [scene.ends[outlet.id] for outlet in outlets]
    network = solve(scene.yard, starts, ends, scene.terms, scene.prices)
    everyone = (1 << len(sources)) - 1
    if everyone not in network.best:
        # the tolerance on inverts may cost the last millimetres
        network = solve(scene.yard, starts, ends, scene.terms, scene.prices, slack=0.0)
    trees: list[_Tree] = []
    singles = [1 << k for k in range(len(sources))]
    parts = (
        network.best[everyone][1]
        if everyone in network.best
        else [p for one in singles if one in network.best for p in network.best[one][1]]
    )
    for bundle, number in parts:
        tree = _tree(scene, network, bundle, number, sources, outlets)
        if tree is not None:
            trees.append(tree)
            continue
        for one in (k for k in singles if k & bundle):
            options = sorted(
                (network.arrivals[one, n].cost, n) for n in range(len(outlets)) if (one, n) in network.arrivals
            )
            alone = next(
                (t for _, n in options if (t := _tree(scene, network, one, n, sources, outlets)) is not None), None
            )
            if alone is not None:
                trees.append(alone)
    return network, trees


def _tree(
    scene: _Scene, network: Network, bundle: int, number: int, sources: Sequence[Source], outlets: Sequence[Outlet]
) -> _Tree | None:
    ways = ways_of(leg_of(network, bundle, network.arrivals[bundle, number].label))
    # wider margins where the finer proof of the finished line finds what the choice of runs stepped over
    for straightened, margin in ((True, MARGIN), (True, 0.012), (True, 0.03), (False, MARGIN)):
        laid = lay(
            scene.site,
            scene.yard,
            ways,
            sources,
            outlets[number],
            scene.terms,
            scene.prices,
            straightened=straightened,
            margin=margin,
        )
        tree = None if laid is None else _settled(scene, laid, outlets[number])
        if tree is not None:
            return tree
    return None


def _settled(scene: _Scene, laid: tuple[Laid, ...], outlet: Outlet) -> _Tree | None:
    asked, unit = scene.terms, scene.site.length_unit
    bands = {
        str(k): Band(station=one.trace.station, ceiling=one.trace.ceiling, floor=one.trace.floor)
        for k, one in enumerate(laid)
    }
    # a hole in a curb and a given invert are places to hit, not floors: the last run comes down to them
    if outlet.kind == "curb_outlet" or outlet.invert is not None:
        bands["0"] = pinned(bands["0"], outlet.control)
    joins: dict[str, tuple[str, float]] = {}
    for k, one in enumerate(laid):
        if one.parent is not None:
            trunk = laid[one.parent].trace
            joins[str(k)] = (str(one.parent), trunk.corner_stations[trunk.corners.index(one.trace.corners[0])])
    breaks = {
        str(k): np.unique(np.concatenate((stakes(one.trace.corner_stations[-1], unit), one.trace.corner_stations)))
        for k, one in enumerate(laid)
    }
    for steepest in dict.fromkeys((asked.grade_max, None)):
        highest = settle(bands, joins, grade=asked.grade, grade_max=steepest)
        if any(not isinstance(profile, Profile) for profile in highest.values()):
            continue
        profiles = _few_enough(scene, bands, joins, highest, breaks, steepest)
        if profiles is not None:
            return _Tree(outlet=outlet, laid=laid, profiles=profiles)
    return None


def _few_enough(
    scene: _Scene, bands: Mapping[str, Band], joins: Mapping[str, tuple[str, float]], highest: Mapping[str, Profile | Shortfall],
    breaks: Mapping[str, np.ndarray], steepest: float | None,
) -> tuple[Profile, ...] | None:  # fmt: skip
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
        settled = settle(held, joins, grade=scene.terms.grade, grade_max=steepest, breaks=breaks)
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


def _spare(scene: _Scene, tree: _Tree, k: int) -> tuple[float, float]:
    """Fall to spare on the way to the outlet under this line's own covers, and the station that decides it [m].

    Least of ceiling - grade x way to the outlet, less the control elevation. The daylight stretch is left out:
    there the pipe comes out of the ground as high as it lies.
    """
    one = tree.laid[k]
    along, below, at = one.trace, 0.0, one
    while at.parent is not None:
        trunk = tree.laid[at.parent]
        below += trunk.trace.corner_stations[trunk.trace.corners.index(at.trace.corners[0])]
        at = trunk
    allowed = along.ceiling - scene.terms.grade * (along.station + below)
    if one.outlet is not None:
        allowed = np.where(along.station > scene.terms.stretch, allowed, np.inf)
    if not np.isfinite(allowed).any():
        allowed = along.ceiling - scene.terms.grade * (along.station + below)
    tight = int(np.argmin(allowed))
    return float(allowed[tight]) - tree.outlet.control, float(along.station[tight])


def _lines_of(scene: _Scene, trees: Sequence[_Tree]) -> tuple[Line, ...]:
    lines: list[Line] = []
    for tree in trees:
        first = len(lines) + 1
        ids = [f"L{first + k}" for k in range(len(tree.laid))]
        lines += [_line(scene, tree, k, ids) for k in range(len(tree.laid))]
    return tuple(lines)


def _line(scene: _Scene, tree: _Tree, k: int, ids: Sequence[str]) -> Line:
    site, asked, unit = scene.site, scene.terms, scene.site.length_unit
    one, profile = tree.laid[k], tree.profiles[k]
    end = tree.outlet.id if one.parent is None else ids[one.parent]
    end_name = tree.outlet.name if one.parent is None else f"joins {ids[one.parent]}"
    crossings = crossings_of(site, one, profile, scene.pipe)
    wet = passages(scene.spots, one.trace.corners)
    cleanouts = cleanouts_of(one, rules.limit(site.rules, rules.CLEANOUT_SPACING), unit)
    vertices = vertices_of(one, profile, one.trace.ground, cleanouts)
    names = {"": f"outlet: {end_name}" if one.parent is None else end_name}
    for j, branch in enumerate(tree.laid):
        if branch.parent == k:
            x, y = branch.trace.corners[0]
            names[f"{x!r},{y!r}"] = f"{ids[j]} joins from {branch.source.name}"
    for source, (x, y) in one.drops:
        names[f"{x!r},{y!r}"] = f"{source.name} comes in from above"
    marks = marks_of(one, vertices, crossings, wet, names, asked, unit)
    amount, station = _spare(scene, tree, k)
    return Line(
        id=ids[k], sources=tuple(source.id for source in one.carried), start=one.source.id, end=end, pipe=scene.pipe,
        vertices=vertices, rows=rows_of(one, vertices, marks, scene.pipe, asked), crossings=crossings, low_spots=wet,
        spare=amount, binding=_binding(station, one.trace.corner_stations[-1], unit),
        cost=_cost(scene, one, profile),
    )  # fmt: skip


def _binding(station: float, length: float, unit: str) -> str:
    if length - station < 1e-6:
        return "the cover at the source decides"
    return f"the cover at station {units.station_text(station, unit)} decides"


def _cost(scene: _Scene, one: Laid, profile: Profile) -> float:
    along, prices, asked = one.trace, scene.prices, scene.terms
    rate = rate_at(scene.yard.grounds, along.x, along.y, prices)
    bottom = along.ground - invert_at(profile, along.station) + asked.below
    unit = rate + prices.digging * bottom + prices.deep * np.maximum(0.0, bottom - asked.ladder)
    return float(((unit[1:] + unit[:-1]) / 2 * np.diff(along.station)).sum())


def _single_costs(
    scene: _Scene, network: Network, sources: Sequence[Source], outlets: Sequence[Outlet]
) -> dict[tuple[str, str], tuple[float, float]]:
    """Cost and length on the net of each source alone to each outlet."""
    costs = {}
    for k, source in enumerate(sources):
        for n, outlet in enumerate(outlets):
            arrival = network.arrivals.get((1 << k, n))
            if arrival is None:
                continue
            cells = leg_of(network, 1 << k, arrival.label).cells
            places = [
                (source.x, source.y),
                *map(tuple, scene.yard.places(np.array(cells)).tolist()),
                (outlet.x, outlet.y),
            ]
            length = sum(math.dist(a, b) for a, b in itertools.pairwise(places))
            costs[source.id, outlet.id] = (arrival.cost, length)
    return costs


def _bundles(
    network: Network, sources: Sequence[Source], outlets: Sequence[Outlet], done: Sequence[_Tree]
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
                    reason="not every one of these sources can fall to this outlet in a shared trench at a lower cost than apart",
                )
            )
            continue
        reason = None if chosen else f"costs {arrival.cost / best:.2f} times the chosen lines"
        rows.append(
            Candidate(
                sources=ids, outlet=outlet.id, feasible=True, fall_available=None, fall_needed=None, margin=arrival.invert - outlet.control,
                length=None, cost=arrival.cost, chosen=chosen, reason=reason,
            )
        )  # fmt: skip
    return rows


def _candidate(
    scene: _Scene,
    source: Source,
    outlet: Outlet,
    amount: float | None,
    costs: Mapping[tuple[str, str], tuple[float, float]],
    lines: Sequence[Line],
) -> Candidate:
    if _misses(amount):
        why = why_not(
            scene.site, scene.yard, scene.starts[source.id], source, outlet, scene.terms, scene.site.length_unit
        )
        return Candidate(
            sources=(source.id,), outlet=outlet.id, feasible=False, fall_available=why.fall_available, fall_needed=why.fall_needed,
            margin=why.margin, length=why.length, cost=None, chosen=False, reason=why.reason, flip=why.flip,
        )  # fmt: skip
    cost, length = costs.get((source.id, outlet.id), (None, None))
    # the last line that carries it; a source that drops into a line has none of its own
    carrier = next((line for line in lines if source.id in line.sources and line.end in scene.ends), None)
    chosen = carrier is not None and carrier.end == outlet.id
    needed = None if length is None else scene.terms.grade * length
    return Candidate(
        sources=(source.id,), outlet=outlet.id, feasible=True, fall_available=None if needed is None or amount is None else needed + amount,
        fall_needed=needed, margin=amount, length=length, cost=cost, chosen=chosen,
        reason=None if chosen else _lost(source, outlet, cost, costs, carrier),
    )  # fmt: skip


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
        return "has fall on the net, but no line with straight runs could be proven"
    taken = costs.get((source.id, carrier.end))
    if cost is not None and taken is not None and taken[0] > 0 and cost >= taken[0]:
        return f"costs {cost / taken[0]:.2f} times as much as the outlet taken"
    return "cheaper alone, but not as part of the lines that serve all sources"


def _layout_notes(
    scene: _Scene, named: Sequence[Outlet], stranded: Sequence[Source], found: Sequence[Outlet]
) -> list[str]:
    unit = scene.site.length_unit
    notes = [
        f"Lines are searched on a net of {units.length_text(scene.yard.cell, unit)} and then proven on the surveyed ground every {units.length_text(0.05, unit)} and at every edge."
    ]
    if any(not scene.yard.grounds.lot.covers(_point(o)) for o in named):
        notes.append(
            f"Off the lot a line may run within {units.length_text(2.0, unit, 1)} of the straight way from the lot to an outlet the site names; that ground is taken for right of way."
        )
    if stranded and found:
        notes.append("Sources that no named outlet can serve were tried on daylight points found by the tool.")
    if scene.terms.grade_max is not None:
        notes.append(
            f"Runs steeper than {units.grade_text(scene.terms.grade_max)} are avoided where that is possible and flagged where not."
        )
    return notes


def _point(outlet: Outlet) -> object:
    from shapely.geometry import Point

    return Point(outlet.x, outlet.y)
