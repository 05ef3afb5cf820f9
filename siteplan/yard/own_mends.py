"""Drawn lines and the rules that they break in.

The same lines with the least that is changed of them, least first, out.

Nothing here is a mend until it is judged: whoever asks lays each as it stands here and has it judged as any other line.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from siteplan import units
from siteplan.books import rules
from siteplan.books.kinds import Kind, at_curb
from siteplan.books.pipes import sizes
from siteplan.fall.band import Band, Profile, invert_at, pinned
from siteplan.fall.tree import settle
from siteplan.routes.ends import lawful
from siteplan.routes.outlets import end_level
from siteplan.routes.straight import Place, turn
from siteplan.routes.yard import Grounds
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.own_drawn import OwnChange, OwnLines, OwnMend, OwnMended
from siteplan.values.told import Finding
from siteplan.values.whole_plan import Plan
from siteplan.yard.drawn import Drawing
from siteplan.yard.groups import lay_out, lines_of_tree
from siteplan.yard.own_lines import DrawnAmong, drawings_of, drawn_tree, planners_own, scenes_of, source_of
from siteplan.yard.rows import stake_stations
from siteplan.yard.trees import Tree, YardScene

# which change answers which rule
_WAY = frozenset(
    one.id
    for one in (
        rules.CLEAR_OF_BUILDING,
        rules.CLEAR_OF_NO_DIG,
        rules.CLEAR_OF_NEIGHBOUR,
        rules.INSIDE_LOT,
        rules.WALL_CROSSED,
        rules.LINES_CROSS,
        rules.GROUND_KNOWN,
    )
)
_SIZE = frozenset(one.id for one in (rules.RUN_CAPACITY, rules.SIZE_FITS, rules.PUMP_FITS, rules.WEAKEST_LINK))
_LEVEL = frozenset(
    one.id
    for one in (
        rules.CONTINUOUS_FALL,
        rules.MIN_GRADE,
        rules.DROP_GRADE,
        rules.MIN_COVER,
        rules.MIN_COVER_PAVEMENT,
        rules.MIN_COVER_PAVEMENT_HEAVY,
        rules.OUTLET_ZONE_COVER,
        rules.DAYLIGHT_STRETCH,
        rules.MAX_DEPTH,
        rules.OUTLET_CONTROL,
        rules.JOINS,
        rules.TIE_IN_LEVEL,
        rules.TAIL_WATER,
    )
)
_SIZES_TRIED = 3
_MOST_TRIED = 6  # changes of one drawing that are laid and judged: each takes as long as judging the plan
_ROUNDS = 30  # halvings of the least change: a metre to a nanometre
_STEP = {"m": 0.005, "ft": 0.01 * units.FOOT}  # what a crew can set; the least change is rounded up to it
_ASIDE = 15.0  # m from the drawn way within which corners of what bars it are tried
_MOST_CORNERS = 80
# m that a moved corner keeps from what bars lines; half of it is left where their edges are drawn in fewer corners
_INSIDE = 0.10
_STRAIGHT = 0.5  # degrees of turn under which a corner is left out


class Changed(NamedTuple):
    """Drawn lines with something changed, not judged yet."""

    changes: tuple[OwnChange, ...]
    lines: tuple[Line, ...]  # by the ids of the drawn ones; of the planner's own, theirs


def changed(
    given: DrawnAmong, drawing: Drawing, lines: Sequence[Line], broken: Mapping[str, frozenset[str]]
) -> Iterator[Changed]:
    """What may mend drawn lines, least first.

    Parameters
    ----------
    given : DrawnAmong
        The yard.
    drawing : Drawing
        The lines as drawn.
    lines : sequence of Line
        The same as laid, trunk first: their pipes are kept.
    broken : mapping of str to frozenset of str
        By id of a line: ids of the rules that it breaks.

    Yields
    ------
    Changed
        First what the rules broken ask for alone, then inverts beside it, then what the planner would lay instead. None
        twice.
    """
    every = frozenset(itertools.chain.from_iterable(broken.values()))
    kept = _with_pipes(drawing, [line.pipe for line in lines])
    moved = _moved(given, kept, lines, broken) if every & _WAY else None
    if not every & _WAY or moved is not None:
        base, ways = moved or (kept, ())
        for size in (False, True) if every & _SIZE else (False,):
            yield from _levelled(given, base, ways, lines, broken, larger=size)
    yield from _planners(given, drawing)


def with_mends(
    given: DrawnAmong, plan: Plan, laid: Sequence[Line], judged: Callable[[tuple[Line, ...]], Sequence[Finding]]
) -> tuple[OwnLines, ...]:
    """Drawn lines with what the planner would lay in their place, the rules that they break, and what mends them.

    Parameters
    ----------
    given : DrawnAmong
        The yard.
    plan : Plan
        Judged.
    laid : sequence of Line
        All lines of the plan as laid out.
    judged : callable
        Lines of a whole plan to what every check finds of them.

    Returns
    -------
    tuple of OwnLines
        In the plan's order. Of the changes tried, the first after which nothing fails that did not fail elsewhere
        before; where there is none, the one that leaves the fewest rules broken.
    """
    before = _fails(plan.findings)
    drawings = {source_of(given.site, one.features[0]).id: one for one in drawings_of(given.site, given.named)}
    found = []
    for own in plan.own:
        ids = [one.line for one in own.drawn if one.line is not None]
        broken = {name: frozenset(rule for rule, of in before if of == name) for name in ids}
        every = sorted(frozenset(itertools.chain.from_iterable(broken.values())))
        drawing = drawings.get(own.drawn[0].source)
        if drawing is not None and ids:
            own = replace(own, planner=planners_own(given, drawing))  # noqa: PLW2901
        if not every or drawing is None or own.drawn[0].mode == "guide":
            found.append(replace(own, fails=tuple(every)))
            continue
        drawn = [next(line for line in laid if line.id == name) for name in ids]
        rest = tuple(line for line in laid if line.id not in ids)
        mends: list[OwnMend] = []
        for one in itertools.islice(changed(given, drawing, drawn, broken), _MOST_TRIED):
            after = _fails(judged((*one.lines, *rest)))
            mine = {line.id for line in one.lines}
            left = sorted({rule for rule, of in after if of in mine or (rule, of) not in before})
            mends.append(_mend(one, tuple(left)))
            if not left:
                break
        best = sorted(mends, key=lambda mend: len(mend.left))[:1]
        found.append(replace(own, fails=tuple(every), mends=tuple(best)))
    return tuple(found)


def _fails(findings: Sequence[Finding]) -> frozenset[tuple[str, str]]:
    """Rules that fail, each with the id of what it fails for."""
    return frozenset((one.rule, one.subject.split(":")[0]) for one in findings if one.status == "fail")


def _mend(one: Changed, left: tuple[str, ...]) -> OwnMend:
    return OwnMend(
        changes=one.changes,
        lines=tuple(
            OwnMended(
                line=line.id,
                pipe=line.pipe.kind,
                nominal=line.pipe.nominal,
                vertices=tuple((v.x, v.y, v.invert) for v in line.vertices),
            )
            for line in one.lines
        ),
        cost=math.fsum(line.cost for line in one.lines),
        left=left,
    )


def _levelled(
    given: DrawnAmong,
    base: Drawing,
    ways: tuple[OwnChange, ...],
    lines: Sequence[Line],
    broken: Mapping[str, frozenset[str]],
    *,
    larger: bool,
) -> Iterator[Changed]:
    """A drawing in its pipes, or in larger ones, as it is and with its inverts moved as little as may be."""
    every = frozenset(itertools.chain.from_iterable(broken.values()))
    for step in range(1, 1 + _SIZES_TRIED) if larger else (0,):
        pipes, grown = [], []
        for line in lines:
            pipe = _larger(given, line.pipe, step) if broken.get(line.id, frozenset()) & _SIZE else line.pipe
            if pipe is None:
                return
            pipes.append(pipe)
            if pipe != line.pipe:
                grown.append(OwnChange(kind="size", line=line.id, amount=None))
        drawing = _with_pipes(base, pipes)
        scenes = scenes_of(given, drawing)
        tree, _ = drawn_tree(scenes, drawing)
        if tree is None:
            continue
        if (ways or grown) and (not every & _LEVEL or ways):
            yield Changed((*ways, *grown), _renamed(lines_of_tree(scenes, tree, 0), lines))
        found = _nearest(scenes, tree)
        if found is not None:
            settled, amounts = found
            inverts = tuple(
                OwnChange(kind="inverts", line=line.id, amount=amount)
                for line, amount in zip(lines, amounts, strict=True)
                if amount > 0
            )
            if inverts:
                yield Changed((*ways, *grown, *inverts), _renamed(lines_of_tree(scenes, settled, 0), lines))


def _larger(given: DrawnAmong, pipe: Pipe, steps: int) -> Pipe | None:
    """A pipe of the same kind so many sizes larger; None where there is none."""
    every = sizes(pipe.kind, given.site.laying.own_pipes)
    at = next((k for k, one in enumerate(every) if one.nominal == pipe.nominal), len(every)) + steps
    return every[at] if at < len(every) else None


def _with_pipes(drawing: Drawing, pipes: Sequence[Pipe]) -> Drawing:
    """A drawing whose lines name the pipes that they are laid in."""
    features = tuple(
        replace(one, attributes=MappingProxyType({**one.attributes, "pipe": pipe.kind, "nominal": pipe.nominal}))
        for one, pipe in zip(drawing.features, pipes, strict=True)
    )
    return drawing._replace(features=features)


def _renamed(made: Sequence[Line], lines: Sequence[Line]) -> tuple[Line, ...]:
    """Lines made anew under the ids of those that they stand for."""
    ids = {new.id: old.id for new, old in zip(made, lines, strict=True)}
    return tuple(replace(one, id=ids[one.id], end=ids.get(one.end, one.end)) for one in made)


def _planners(given: DrawnAmong, drawing: Drawing) -> Iterator[Changed]:
    sources = tuple(source_of(given.site, one) for one in drawing.features)
    features = tuple(one for one in given.site.features if one.kind != Kind.DRAIN)
    lines = lay_out(
        replace(given.site, sources=sources, features=features), given.named, given.spots, given.pipe, given.prices
    ).lines
    named = {one.id for one in given.named}
    if {key for line in lines for key in line.sources} >= {source.id for source in sources} and all(
        line.end in named or any(line.end == other.id for other in lines) for line in lines
    ):
        ids = {line.id: f"P{k}" for k, line in enumerate(lines, 1)}  # no number of another line of the plan
        renamed = tuple(replace(one, id=ids[one.id], end=ids.get(one.end, one.end)) for one in lines)
        yield Changed((OwnChange(kind="planner", line=renamed[0].id, amount=None),), renamed)


def _nearest(scenes: Sequence[YardScene], tree: Tree) -> tuple[Tree, tuple[float, ...]] | None:
    """The tree with inverts that keep every limit and lie as near as may be to those it has.

    Also how far each line's move.

    References
    ----------
    Least largest change: legal inverts within e of the given ones are difference constraints (`fall.tree`); e by
    halving.
    """
    site, asked = scenes[0].site, scenes[0].terms
    bands = {
        str(k): Band(station=one.trace.station, ceiling=one.trace.ceiling, floor=one.trace.floor)
        for k, one in enumerate(tree.laid)
    }
    if at_curb(tree.outlet.kind) or tree.outlet.invert is not None:
        bands["0"] = pinned(bands["0"], end_level(site, tree.outlet, scenes[0].pipe))
    joins = {}
    for k, one in enumerate(tree.laid):
        if one.parent is not None:
            trunk = tree.laid[one.parent].trace
            joins[str(k)] = (str(one.parent), trunk.corner_stations[trunk.corners.index(one.trace.corners[0])])
    drawn = {key: invert_at(tree.profiles[int(key)], band.station) for key, band in bands.items()}

    def within(far: float) -> dict[str, Band] | None:
        held = {
            key: replace(
                band, ceiling=np.minimum(band.ceiling, drawn[key] + far), floor=np.maximum(band.floor, drawn[key] - far)
            )
            for key, band in bands.items()
        }
        return None if any((one.ceiling < one.floor - 1e-9).any() for one in held.values()) else held

    def fits(far: float) -> bool:
        held = within(far)
        if held is None:
            return False
        found = settle(held, joins, grade=asked.grade, grade_max=asked.drop)
        return all(isinstance(one, Profile) for one in found.values())

    low, high = 0.0, 20.0  # m; no line of a lot is moved farther
    if not fits(high):
        return None
    for _ in range(_ROUNDS):
        middle = (low + high) / 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    step = _STEP["m" if site.length_unit == "m" else "ft"]
    held = within(math.ceil(high / step) * step)
    assert held is not None
    breaks = {
        str(k): np.unique(
            np.concatenate((stake_stations(one.trace.corner_stations[-1], site.length_unit), one.trace.corner_stations))
        )
        for k, one in enumerate(tree.laid)
    }
    found = settle(held, joins, grade=asked.grade, grade_max=asked.drop, breaks=breaks)
    if not all(isinstance(one, Profile) for one in found.values()):
        found = settle(held, joins, grade=asked.grade, grade_max=asked.drop)
    profiles = [one for one in (found[str(k)] for k in range(len(tree.laid))) if isinstance(one, Profile)]
    if len(profiles) < len(tree.laid):
        return None
    amounts = tuple(
        float(np.abs(invert_at(one, bands[str(k)].station) - drawn[str(k)]).max()) for k, one in enumerate(profiles)
    )
    return replace(tree, profiles=tuple(profiles)), tuple(0.0 if one < 1e-6 else one for one in amounts)


def _moved(
    given: DrawnAmong, drawing: Drawing, lines: Sequence[Line], broken: Mapping[str, frozenset[str]]
) -> tuple[Drawing, tuple[OwnChange, ...]] | None:
    """A drawing whose lines keep to where lines may run, moved as little as may be; None where no way is found."""
    import shapely

    grounds = scenes_of(given, drawing)[0].yard.grounds
    features, changes = list(drawing.features), []
    for k, (feature, line) in enumerate(zip(drawing.features, lines, strict=True)):
        chain = [(float(x), float(y)) for x, y in shapely.get_coordinates(features[k].geometry)]
        parent = drawing.parents[k]
        if parent is not None:
            trunk = features[parent].geometry
            on = trunk.interpolate(trunk.project(shapely.Point(chain[-1])))
            chain[-1] = (float(on.x), float(on.y))
        if not broken.get(line.id, frozenset()) & _WAY:
            features[k] = replace(feature, geometry=shapely.LineString(chain))
            continue
        found = nearest_way(grounds, chain)
        if found is None:
            return None
        way, amount = found
        told = {key: value for key, value in feature.attributes.items() if key not in {"inverts", "grade"}}
        features[k] = replace(feature, geometry=shapely.LineString(way), attributes=MappingProxyType(told))
        changes.append(OwnChange(kind="way", line=line.id, amount=amount))
    return drawing._replace(features=tuple(features)), tuple(changes)


def nearest_way(grounds: Grounds, chain: Sequence[Place]) -> tuple[tuple[Place, ...], float] | None:
    """The way between a chain's ends that keeps to where lines may run and leaves the chain by the least.

    Parameters
    ----------
    grounds : Grounds
        Where a line may run.
    chain : sequence of tuple
        From the source down [m].

    Returns
    -------
    tuple or None
        The way and how far it leaves the chain at most [m]; of ways as near, the shortest. None where none is found
        over the chain's own corners and those of what bars it within 15 m.

    References
    ----------
    Bottleneck path, then shortest path, over corners that see one another; any text on graphs (memory).
    """
    import shapely

    drawn = shapely.LineString(chain)
    places = _corners(grounds, drawn, chain)
    pairs = np.array([(i, j) for i in range(len(places)) for j in range(len(places)) if j not in {i, 0} and i != 1])
    xy = np.array(places)
    runs = shapely.linestrings(np.stack((xy[pairs[:, 0]], xy[pairs[:, 1]]), axis=1))
    first = pairs[:, 0] == 0
    good = np.zeros(len(pairs), dtype=bool)
    for mask, at_wall in ((first, True), (~first, False)):
        good[mask] = lawful(grounds, runs[mask], at_wall=at_wall)
    pairs, runs = pairs[good], runs[good]
    if not len(pairs):
        return None
    along = np.linspace(0.0, 1.0, 9)
    samples = shapely.points(
        xy[pairs[:, 0]][:, None, :] + (xy[pairs[:, 1]] - xy[pairs[:, 0]])[:, None, :] * along[None, :, None]
    )
    aside = np.round(shapely.distance(samples, drawn).max(axis=1), 4)
    length = shapely.length(runs)
    for most in np.unique(aside):
        use = aside <= most
        way = _shortest(pairs[use], length[use], len(places))
        if way is not None:
            kept = [places[n] for n in way]
            inner = [kept[k] for k in range(1, len(kept) - 1) if turn(kept[k - 1], kept[k], kept[k + 1]) > _STRAIGHT]
            return (kept[0], *inner, kept[-1]), float(most)
    return None


def _corners(grounds: Grounds, drawn: object, chain: Sequence[Place]) -> list[Place]:
    """Source, end, and the corners that a way may have: the chain's own, and those of what bars it."""
    import shapely

    open_ground = shapely.simplify((grounds.allowed - grounds.barred).buffer(-_INSIDE), _INSIDE / 2)
    found = [chain[0], chain[-1]]
    for place in chain[1:-1]:
        point = shapely.Point(place)
        on = point if shapely.covers(open_ground, point) else shapely.ops.nearest_points(open_ground, point)[0]
        found.append((float(on.x), float(on.y)))
    edges = shapely.boundary(open_ground)
    met = shapely.get_coordinates(shapely.intersection(drawn, edges))
    rim = np.concatenate((met, shapely.get_coordinates(edges)))
    away = shapely.distance(shapely.points(rim), drawn)
    near = np.lexsort((rim[:, 1], rim[:, 0], np.round(away, 6)))[:_MOST_CORNERS]
    found += [(float(x), float(y)) for x, y in rim[near][away[near] <= _ASIDE]]
    return found


def _shortest(pairs: np.ndarray, length: np.ndarray, count: int) -> list[int] | None:
    """Numbers of the places on the shortest way from 0 to 1."""
    after: list[list[tuple[int, float]]] = [[] for _ in range(count)]
    for (i, j), far in zip(pairs.tolist(), length.tolist(), strict=True):
        after[i].append((j, far))
    best, came = [math.inf] * count, [-1] * count
    best[0] = 0.0
    queue = [(0.0, 0)]
    while queue:
        far, here = heapq.heappop(queue)
        if far > best[here]:
            continue
        for there, more in after[here]:
            if far + more < best[there] - 1e-9:
                best[there], came[there] = far + more, here
                heapq.heappush(queue, (far + more, there))
    if came[1] < 0:
        return None
    way = [1]
    while way[-1] != 0:
        way.append(came[way[-1]])
    return way[::-1]
