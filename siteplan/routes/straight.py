"""A route over cells in; straight runs between bends out, each run proven over its whole length.

The route's cells are the candidate bends. Among them the cheapest chain of straight runs is chosen (trench, what it
crosses, each bend by how it is made), then bends are moved a little so that standard fittings make them.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from siteplan.books.practice import JOINTS_GIVE, NEAREST_GROUND
from siteplan.books.prices import Prices
from siteplan.routes.ends import (
    PAST,
    cover_at,
    ground_under,
    lawful,
    paved_at,
    rate_at,
    start_cover,
    zone_ceiling,
)
from siteplan.routes.lattice import EVEN
from siteplan.routes.terms import Terms
from siteplan.routes.yard import MARGIN, Floats, Grounds
from siteplan.site import Site
from siteplan.values.laid_pipe import Fitting, FittingKind
from siteplan.values.water_ends import Outlet, Source

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Place = tuple[float, float]

MOST_BENDS = 40  # cells of the route kept as candidate bends
_STEP = 0.25  # m between places proven along a run at this stage; the finished line is proven finer
STANDARD = (22.5, 45.0, 67.5, 90.0)
_MADE_OF = {22.5: (22.5,), 45.0: (45.0,), 67.5: (45.0, 22.5), 90.0: (45.0, 45.0)}  # bends that a crew carries
KEPT = 6  # labels kept at a candidate bend
SQUARE = 60.0  # degrees to a pavement edge, below which a crossing costs more
_SHARPEST = 100.0  # degrees


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunTarget:
    """Where the last run may end, and what a line must bring there."""

    places: tuple[Place, ...]
    least: tuple[float, ...]  # lowest invert on arrival at each place
    heading: tuple[Place | None, ...]  # downstream direction of the trunk there; None at an outlet
    outlet: Outlet | None  # for its zone of less cover; None: joins a trunk


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Run:
    """What a straight run asks and costs: arrival = min(z, top) - grade * length when z >= need."""

    length: float
    top: float
    need: float
    surcharge: float
    tops: Floats
    lift: Floats
    ground: Floats
    rate: Floats
    weights: Floats  # of the trapezoid rule [m]


def turn(a: Place, b: Place, c: Place) -> float:
    """Turn in plan at b on the way from a to c.

    Parameters
    ----------
    a, b, c : tuple of float
        Places [m].

    Returns
    -------
    float
        0 straight on, 180 back [degrees].
    """
    u, v = (b[0] - a[0], b[1] - a[1]), (c[0] - b[0], c[1] - b[1])
    return math.degrees(abs(math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1])))


def fittings_for(angle: float) -> tuple[Fitting, ...]:
    """How a turn is made from what a crew carries.

    Parameters
    ----------
    angle : float
        Turn in plan [degrees].

    Returns
    -------
    tuple of Fitting
        None when the joints take it up; what no bends make of an odd angle is left to a turned pair.
    """
    if angle <= JOINTS_GIVE:
        return ()
    nearest = min(STANDARD, key=lambda standard: abs(standard - angle))
    if abs(nearest - angle) <= JOINTS_GIVE:
        return _bends(nearest)
    lower = max((standard for standard in STANDARD if standard < angle), default=0.0)
    return (*_bends(lower), Fitting(kind=FittingKind.TURNED_PAIR, angle=round(angle - lower, 2)))


def _bends(standard: float) -> tuple[Fitting, ...]:
    return tuple(Fitting(kind=FittingKind.BEND, angle=one) for one in _MADE_OF.get(standard, ()))


def bend_price(angle: float, prices: Prices) -> float:
    """Relative price of a turn.

    Parameters
    ----------
    angle : float
        Turn in plan [degrees].
    prices : Prices
        Price of a fitting and of an odd angle.

    Returns
    -------
    float
        0 for a turn that joints take up; infinite beyond what two fittings make.
    """
    if angle <= JOINTS_GIVE:
        return 0.0
    if angle > _SHARPEST:
        return math.inf
    nearest = min(STANDARD, key=lambda standard: abs(standard - angle))
    fittings = math.ceil(angle / 45.0 - 1e-9)
    return prices.bend * fittings + (0.0 if abs(nearest - angle) <= JOINTS_GIVE else prices.odd_bend)


def thinned(places: Sequence[Place], most: int = MOST_BENDS) -> tuple[Place, ...]:
    """A route without its collinear places, and no more than `most` of the rest.

    Parameters
    ----------
    places : sequence of tuple
        The route [m].
    most : int
        Greatest number kept; ends stay.

    Returns
    -------
    tuple of tuple
        Places [m].
    """
    kept = [places[0]]
    for k in range(1, len(places) - 1):
        if math.dist(kept[-1], places[k]) > 1e-6 and turn(kept[-1], places[k], places[k + 1]) > 0.5:
            kept.append(places[k])
    kept.append(places[-1])
    # long straights keep places along them: a bend may do better there
    spread = max(1.0, _length(kept) / most)
    full = [kept[0]]
    for place in kept[1:]:
        parts = max(1, int(math.dist(full[-1], place) / spread))
        start = full[-1]
        full += [
            (start[0] + (place[0] - start[0]) * k / parts, start[1] + (place[1] - start[1]) * k / parts)
            for k in range(1, parts + 1)
        ]
    if len(full) <= most:
        return tuple(full)
    chosen = sorted({round(k) for k in np.linspace(0, len(full) - 1, most)})
    return tuple(full[k] for k in chosen)


def _length(places: Sequence[Place]) -> float:
    return sum(math.dist(a, b) for a, b in itertools.pairwise(places))


def straighten(
    site: Site,
    grounds: Grounds,
    route: Sequence[Place],
    source: Source,
    target: RunTarget,
    terms: Terms,
    prices: Prices,
    *,
    margin: float = MARGIN,
    branches: Sequence[Sequence[Place]] = (),
) -> tuple[Place, ...] | None:
    """Straight runs along a route.

    Parameters
    ----------
    site : Site
        For the ground.
    grounds : Grounds
        Where a line may run.
    route : sequence of tuple
        The route from the source down, without the target [m].
    source : Source
        The start; first of the route.
    target : Target
        Where the line may end.
    terms : Terms
        Cover, depth, grade, zones.
    prices : Prices
        Relative prices.
    margin : float
        Kept from the ceilings [m]; samples are coarser here than in the proof of the finished line.
    branches : sequence of sequence of tuple
        Routes of lines that join this one, each from its source to a place of this route [m]: a run that leaves
        that place aside pays for the longer branch.

    Returns
    -------
    tuple of tuple, or None
        Bends from the source to the end [m]; None when no chain of proven runs exists along this route.
    """
    places = thinned(route)
    count = len(places)
    ends = target.places
    every = [*places, *ends]
    pairs = [(i, j) for i in range(count) for j in range(i + 1, count)]
    pairs += [(i, count + k) for i in range(count) for k in range(len(ends))]
    runs = _proven_runs(site, grounds, every, pairs, count, source, target, terms, prices, margin)
    aside = _aside(every, list(runs), count, branches, prices)
    labels: list[list[tuple[float, float, int, int]]] = [[] for _ in every]  # cost, invert, place before, label before
    top = min(
        source.ground - terms.rise - (0.0 if terms.start_zone > 0 else terms.cover) - margin,
        math.inf if source.invert_limit is None else source.invert_limit,
    )
    labels[0] = [(0.0, top, -1, -1)]
    by_head: dict[int, list[int]] = {}
    for i, j in runs:
        by_head.setdefault(i, []).append(j)
    for i in range(count):
        labels[i] = _undominated(labels[i])
        for number, (spent, z, before, _) in enumerate(labels[i]):
            for j in by_head.get(i, ()):
                run = runs[i, j]
                if z < run.need:
                    continue
                angle = 0.0 if before < 0 else turn(every[before], every[i], every[j])
                price = bend_price(angle, prices)
                arrival = min(z, run.top) - terms.grade * run.length
                if price == math.inf or (j >= count and arrival < target.least[j - count]):
                    continue
                total = spent + price + _cost(run, z, terms, prices) + aside.get((i, j), 0.0)
                if j >= count:
                    total += join_price(every[i], every[j], target.heading[j - count], prices)
                    if total == math.inf:
                        continue
                labels[j].append((round(total, EVEN), round(arrival, EVEN), i, number))
    finished = [(label[0], j, number) for j in range(count, len(every)) for number, label in enumerate(labels[j])]
    if not finished:
        return None
    _, at, number = min(finished)
    chain = [every[at]]
    _, _, at, number = labels[at][number]
    while at >= 0:
        chain.append(every[at])
        _, _, at, number = labels[at][number]
    return tuple(reversed(chain))


def join_price(a: Place, b: Place, heading: Place | None, prices: Prices) -> float:
    """Relative price of a branch's wye and of what turns the branch into it.

    Parameters
    ----------
    a, b : tuple of float
        The branch's last run, b on the trunk [m].
    heading : tuple of float or None
        Downstream direction of the trunk; None: the line ends at an outlet.
    prices : Prices
        Relative prices.

    Returns
    -------
    float
        0 at an outlet; infinite where the branch would come in against the flow.
    """
    if heading is None:
        return 0.0
    angle = turn(a, b, (b[0] + heading[0], b[1] + heading[1]))
    if angle > 95.0:
        return math.inf
    return prices.wye + (
        0.0
        if abs(angle - 45.0) <= JOINTS_GIVE
        else prices.bend + (0.0 if abs(angle - 90.0) <= JOINTS_GIVE else prices.odd_bend)
    )


def _undominated(labels: list[tuple[float, float, int, int]]) -> list[tuple[float, float, int, int]]:
    """The cheapest few, by (cost, -invert), at most two for each place they come from."""
    kept: list[tuple[float, float, int, int]] = []
    for label in sorted(labels, key=lambda label: (label[0], -label[1], label[2])):
        if len(kept) == KEPT:
            break
        if all(not (other[2] == label[2] and other[1] >= label[1]) for other in kept):
            kept.append(label)
    return kept


def _proven_runs(
    site: Site,
    grounds: Grounds,
    every: Sequence[Place],
    pairs: Sequence[tuple[int, int]],
    count: int,
    source: Source,
    target: RunTarget,
    terms: Terms,
    prices: Prices,
    margin: float,
) -> dict[tuple[int, int], _Run]:
    import shapely

    head = np.array([every[i] for i, _ in pairs])
    tail = np.array([every[j] for _, j in pairs])
    lines = shapely.linestrings(np.stack((head, tail), axis=1))
    first = np.array([i == 0 for i, _ in pairs])
    good = np.zeros(len(pairs), bool)
    good[~first] = lawful(grounds, lines[~first], at_wall=False)
    good[first] = lawful(grounds, lines[first], at_wall=True)
    length = np.hypot(*(tail - head).T)
    good &= length > 1e-6
    askew = _askew(grounds, lines) * prices.askew
    proven: dict[tuple[int, int], _Run] = {}
    numbers = np.flatnonzero(good)
    if not numbers.size:
        return proven
    parts = [_samples(float(length[n]), pairs[n], count, target, terms) for n in numbers.tolist()]
    sizes = np.array([part.size for part in parts])
    owner = np.repeat(np.arange(numbers.size), sizes)
    t = np.concatenate(parts)
    a, b = head[numbers][owner], tail[numbers][owner]
    x, y = a[:, 0] + (b[:, 0] - a[:, 0]) * t, a[:, 1] + (b[:, 1] - a[:, 1]) * t
    outlet = target.outlet
    near_end = np.array([pairs[n][1] >= count for n in numbers.tolist()])[owner]
    starts = np.array([pairs[n][0] == 0 for n in numbers.tolist()])[owner]
    along = length[numbers][owner] * t
    away = length[numbers][owner] - along
    ground = ground_under(site, x, y, math.nan)
    # unknown ground takes a height round a source and an outlet, and bars a run elsewhere
    ground = np.where(np.isnan(ground) & starts & (along <= NEAREST_GROUND), source.ground, ground)
    if outlet is not None:
        ground = np.where(np.isnan(ground) & near_end & (away <= NEAREST_GROUND), outlet.ground, ground)
    cover = cover_at(grounds, x, y, terms, wide=True)
    rate = rate_at(grounds, x, y, prices)
    if terms.start_zone > 0:
        # a branch has its full cover again where it joins
        zone = starts & (along < terms.start_zone) & ~(near_end & (t == 1.0) & (outlet is None))
        cover = np.where(zone, start_cover(cover, paved_at(grounds, x, y, wide=True), terms), cover)
    ceiling = ground - terms.rise - cover - margin
    if outlet is not None:
        ceiling = np.where(
            near_end,
            zone_ceiling(ground, away, outlet, cover, paved_at(grounds, x, y, wide=True), terms, margin=margin / 2),
            ceiling,
        )
    floor = ground - terms.depth
    lift = terms.grade * along
    at = np.concatenate(([0], np.cumsum(sizes)))
    for k, n in enumerate(numbers.tolist()):
        s = slice(at[k], at[k + 1])
        tops = np.minimum.accumulate(ceiling[s] + lift[s])
        bottoms = floor[s] + lift[s]
        if near_end[at[k]] and outlet is not None:
            bottoms[-1] = outlet.control + lift[s][-1]
        if not (tops >= bottoms - 1e-9).all():  # not a number, where the ground is not known
            continue
        proven[pairs[n]] = _Run(
            length=float(length[n]),
            top=float(tops[-1]),
            need=float(bottoms.max()),
            surcharge=float(askew[n]),
            tops=tops,
            lift=lift[s],
            ground=ground[s],
            rate=rate[s],
            weights=_weights(along[s]),
        )
    return proven


def branch_longer(branch: Sequence[Place], chains: NDArray[Any]) -> Floats:
    """How much longer a branch gets when it joins a line as it is drawn, not where its route met it.

    Parameters
    ----------
    branch : sequence of tuple
        Its route, from its source to the meeting [m].
    chains : ndarray of LineString, shape (n,)
        Ways in which the line may be drawn.

    Returns
    -------
    ndarray, shape (n,) [m]
        Below 0 where the line comes nearer.
    """
    import shapely

    run = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(np.array(branch), axis=0).T))))
    step = max(1, len(branch) // 12)
    kept = sorted({*range(0, len(branch), step), len(branch) - 1})
    away = shapely.distance(shapely.points(np.array(branch)[kept])[:, None], chains[None, :])
    longer: Floats = (run[kept][:, None] + away).min(axis=0) - run[-1]
    return longer


def _aside(
    every: Sequence[Place],
    runs: Sequence[tuple[int, int]],
    count: int,
    branches: Sequence[Sequence[Place]],
    prices: Prices,
) -> dict[tuple[int, int], float]:
    """What each run costs the branches whose meeting lies on the part of the route that it replaces."""
    import shapely

    extra: dict[tuple[int, int], float] = {}
    for branch in branches:
        met = min(range(count), key=lambda k: math.dist(every[k], branch[-1]))
        over = [(i, j) for i, j in runs if i <= met < j]
        if not over:
            continue
        lines = shapely.linestrings(np.array([[every[i], every[j]] for i, j in over]))
        for pair, longer in zip(over, branch_longer(branch, lines).tolist(), strict=True):
            extra[pair] = extra.get(pair, 0.0) + (prices.trench + prices.digging) * longer
    return extra


def _samples(length: float, pair: tuple[int, int], count: int, target: RunTarget, terms: Terms) -> Floats:
    """Where a run is proven, as shares of its length: evenly, and on both sides of the edges of zones."""
    even = np.linspace(0.0, 1.0, max(3, math.ceil(length / _STEP) + 1))
    edges = []
    if pair[1] >= count and target.outlet is not None:
        edges += [
            length - terms.stretch,
            length - terms.stretch - PAST,
            length - terms.zone,
            length - terms.zone - PAST,
        ]
    if pair[0] == 0 and terms.start_zone > 0:
        edges += [terms.start_zone, terms.start_zone - PAST]
    extra = [edge / length for edge in edges if 0 < edge < length]
    return np.unique(np.concatenate((even, extra))) if extra else even


def _weights(along: Floats) -> Floats:
    steps = np.diff(along)
    weights = np.zeros(along.size)
    weights[1:] += steps / 2
    weights[:-1] += steps / 2
    return weights


def _cost(run: _Run, z: float, terms: Terms, prices: Prices) -> float:
    bottom = run.ground - (np.minimum(run.tops, z) - run.lift) + terms.below
    unit = run.rate + prices.digging * bottom + prices.deep * np.maximum(0.0, bottom - terms.ladder)
    return run.surcharge + float(unit @ run.weights)


def _askew(grounds: Grounds, runs: NDArray[Any]) -> NDArray[np.float64]:
    """How many pavement edges each run crosses at less than 60 degrees."""
    import shapely

    count = np.zeros(len(runs))
    heading = np.diff(shapely.get_coordinates(runs).reshape(-1, 2, 2), axis=1)[:, 0]
    for area in grounds.pavements:
        shapely.prepare(area)
        met = np.flatnonzero(shapely.intersects(area, runs))
        if not met.size:
            continue
        east, north = heading[met].T
        rings = [shapely.get_coordinates(ring) for ring in shapely.get_parts(area.boundary)]
        pieces = np.concatenate([np.stack((places[:-1], places[1:]), axis=1) for places in rings])
        for edge, (ex, ey) in zip(shapely.linestrings(pieces), pieces[:, 1] - pieces[:, 0], strict=True):
            across = np.abs(east * ey - north * ex)
            square = np.hypot(east, north) * math.hypot(ex, ey)
            with np.errstate(invalid="ignore", divide="ignore"):
                flat = met[across / square < math.sin(math.radians(SQUARE))]
            count[flat] += shapely.intersects(edge, runs[flat])
    return count


def crossed_askew(grounds: Grounds, chain: Sequence[Place]) -> int:
    """How many pavement edges a chain crosses at less than 60 degrees.

    Parameters
    ----------
    grounds : Grounds
        For the pavements.
    chain : sequence of tuple
        Bends, in either order [m].

    Returns
    -------
    int
    """
    import shapely

    runs = shapely.linestrings(np.stack((np.array(chain[:-1]), np.array(chain[1:])), axis=1))
    return int(_askew(grounds, runs).sum())


def with_standard_bends(chain: Sequence[Place], *, sweeps: int = 12) -> tuple[Place, ...]:
    """Move bends a little so that standard fittings make them; the ends stay.

    Each bend moves square to the chord between its neighbours until its turn is the nearest standard angle:
    with the chord cut into a and b and the bend t off it, tan(turn) = t (a + b) / (a b - t^2).

    Parameters
    ----------
    chain : sequence of tuple
        Bends from the source to the end [m].
    sweeps : int
        Passes over the bends; each disturbs its neighbours' turns a little.

    Returns
    -------
    tuple of tuple
        Bends [m]; those that joints take up are gone. It must be proven again.

    References
    ----------
    Plane geometry: sum of the angles at the chord.
    """
    places = list(chain)
    k = 1
    while k < len(places) - 1:
        if turn(places[k - 1], places[k], places[k + 1]) <= JOINTS_GIVE:
            del places[k]
        else:
            k += 1
    for _ in range(sweeps):
        for k in range(1, len(places) - 1):
            places[k] = at_standard_turn(places[k - 1], places[k], places[k + 1])
    return tuple(places)


def at_standard_turn(a: Place, v: Place, b: Place) -> Place:
    """A bend moved square to the chord between its neighbours until its turn is the nearest standard angle.

    Parameters
    ----------
    a, v, b : tuple of float
        The bend v between its neighbours [m].

    Returns
    -------
    tuple of float
        The bend's new place [m]; unmoved where it lies beyond its neighbours or hardly turns.
    """
    chord = math.dist(a, b)
    if chord < 1e-6:
        return v
    e = ((b[0] - a[0]) / chord, (b[1] - a[1]) / chord)
    along = (v[0] - a[0]) * e[0] + (v[1] - a[1]) * e[1]
    off = (v[1] - a[1]) * e[0] - (v[0] - a[0]) * e[1]
    rest = chord - along
    angle = turn(a, v, b)
    if along <= 0 or rest <= 0 or angle < JOINTS_GIVE:
        return v
    target = math.radians(min(STANDARD, key=lambda standard: abs(standard - angle)))
    if abs(target - math.pi / 2) < 1e-9:
        t = math.sqrt(along * rest)
    else:
        tangent = math.tan(target)
        t = (-chord + math.sqrt(chord**2 + 4 * tangent**2 * along * rest)) / (2 * tangent)
    t = math.copysign(t, off)
    return (a[0] + e[0] * along - e[1] * t, a[1] + e[1] * along + e[0] * t)


def chain_price(grounds: Grounds, chain: Sequence[Place], prices: Prices) -> float:
    """Relative price of a chain before depth: what it crosses, how it crosses it, and its bends.

    Parameters
    ----------
    grounds : Grounds
        Priced areas and pavements.
    chain : sequence of tuple
        Bends from the source to the end [m].
    prices : Prices
        Relative prices.

    Returns
    -------
    float
        Relative cost.
    """
    runs = np.stack((np.array(chain[:-1]), np.array(chain[1:])), axis=1)
    bends = sum(bend_price(turn(chain[k - 1], chain[k], chain[k + 1]), prices) for k in range(1, len(chain) - 1))
    return float(run_prices(grounds, runs, prices).sum()) + bends


def run_prices(grounds: Grounds, runs: Floats, prices: Prices) -> Floats:
    """Relative price of straight runs before depth: what they cross, and how.

    Parameters
    ----------
    grounds : Grounds
        Priced areas and pavements.
    runs : ndarray, shape (n, 2, 2) [m]
        Both ends of each.
    prices : Prices
        Relative prices.

    Returns
    -------
    ndarray, shape (n,)
        Relative cost.
    """
    import shapely

    lines = shapely.linestrings(runs)
    total: Floats = prices.trench * shapely.length(lines) + prices.askew * _askew(grounds, lines)
    for area, price in grounds.priced:
        met = shapely.intersects(area, lines)
        total[met] += price * _length_in(area, lines[met])
    return total


def _length_in(area: BaseGeometry, lines: NDArray[Any]) -> Floats:
    """Length of straight lines inside an area [m]; what lies in it whole is not cut."""
    import shapely

    lengths: Floats = shapely.length(lines)
    cut = ~shapely.covers(area, lines)
    lengths[cut] = shapely.length(shapely.intersection(lines[cut], area))
    return lengths


def lawful_chain(grounds: Grounds, chain: Sequence[Place]) -> bool:
    """Whether every run of a chain stays where a line may run.

    Parameters
    ----------
    grounds : Grounds
        Where a line may run.
    chain : sequence of tuple
        Bends from the source to the end [m].

    Returns
    -------
    bool
        True when all do.
    """
    import shapely

    lines: NDArray[Any] = shapely.linestrings(np.stack((np.array(chain[:-1]), np.array(chain[1:])), axis=1))
    return bool(
        lawful(grounds, lines[:1], at_wall=True).all()
        and (len(lines) == 1 or lawful(grounds, lines[1:], at_wall=False).all())
    )
