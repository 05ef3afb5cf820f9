"""Trees that are proven in.

The same with bends and wyes moved while that makes them cheaper, each change proven again, out.

The search over the net knows no bends and sees places a step apart; the choice of straight runs knows only places on
its way. Here every bend and every wye may go anywhere.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np

from siteplan.books.practice import JOINTS_GIVE
from siteplan.fall.band import Profile, invert_at
from siteplan.fall.tree import settle
from siteplan.routes.bends import SHORTEST, changes
from siteplan.routes.lattice import EVEN
from siteplan.routes.lines import WYE_CLEAR, Laid, fittings_of, with_wyes
from siteplan.routes.straight import (
    Place,
    at_standard_turn,
    bend_price,
    join_price,
    lawful_chain,
    run_prices,
    turn,
)
from siteplan.routes.trace import stations_of, trace
from siteplan.yard.apart import crossed
from siteplan.yard.costs import delivered_cost
from siteplan.yard.direct import known_between
from siteplan.yard.gauges import line_terms
from siteplan.yard.trees import Tree, YardScene, carries, settled_tree, tangles, tree_bands

STEPS = (2.0, 1.0, 0.5, 0.2)  # m by which bends and wyes are moved, in turn
_AROUND = tuple(k * math.pi / 4 for k in range(8))  # from the run up the line, which turns with the lot [radians]
_LEFT_OUT = 3  # lowest bends of a branch that its way to another wye may pass by
_SETTLED = 3  # drafts for which inverts in few grades are looked for, the cheapest first
_GAIN = 1e-3  # of cost, below which a change is none

Chains = tuple[tuple[Place, ...], ...]  # of each line, its end on the outlet or trunk first [m]


class _Priced(NamedTuple):
    """A line in plan: what its bends cost, its runs, and its length [m]."""

    bends: float
    runs: float
    length: float


@dataclass(slots=True, eq=False)
class _Pricer:
    """What drafts of one tree cost in plan, each run and each line looked at once."""

    scene: YardScene
    tree: Tree
    digging: tuple[float, ...] = ()  # of each line as it lies, by the metre
    seen: dict[tuple[Place, Place], float] = field(default_factory=dict)
    chains: dict[tuple[Place, ...], _Priced] = field(default_factory=dict)

    def look(self, drafts: Iterable[Chains]) -> None:
        """Price every run of some drafts that was not priced before, all at once."""
        new = dict.fromkeys(chain for chains in drafts for chain in chains if chain not in self.chains)
        pairs = (pair for chain in new for pair in itertools.pairwise(chain))
        fresh = [pair for pair in dict.fromkeys(pairs) if pair not in self.seen]
        if fresh:
            priced = run_prices(self.scene.yard.grounds, np.array(fresh), self.scene.prices)
            self.seen.update(zip(fresh, priced.tolist(), strict=True))
        prices = self.scene.prices
        for chain in new:
            self.chains[chain] = _Priced(
                bends=sum(bend_price(turn(*_three(chain, n)), prices) for n in _inner(chain)),
                runs=sum(self.seen[pair] for pair in itertools.pairwise(chain)),
                length=_length(chain),
            )

    def plan(self, chains: Chains) -> float:
        """Runs, bends and wyes; infinite where a bend or a wye cannot be made."""
        prices, total = self.scene.prices, 0.0
        for k, chain in enumerate(chains):
            priced = self.chains[chain]
            total += priced.bends
            parent = self.tree.laid[k].parent
            if parent is not None and total < math.inf:
                trunk = chains[parent]
                below = trunk[max(0, trunk.index(chain[0]) - 1)]
                total += join_price(chain[1], chain[0], (below[0] - chain[0][0], below[1] - chain[0][1]), prices)
            if total == math.inf:
                return total
            total += priced.runs
        return total

    def likely(self, chains: Chains) -> float:
        """With digging as deep on average as the lines lie now."""
        plan = self.plan(chains)
        if plan == math.inf:
            return plan
        return plan + sum(rate * self.chains[chain].length for rate, chain in zip(self.digging, chains, strict=True))


def improved(scene: YardScene, trees: Sequence[Tree], *, most: int, steps: Sequence[float] = STEPS) -> list[Tree]:
    """Trees with bends and wyes moved while that makes them cheaper.

    Parameters
    ----------
    scene : YardScene
        The yard.
    trees : sequence of Tree
        Of one layout.
    most : int
        Changes proven for one tree at most: the work done.
    steps : sequence of float
        By which bends and wyes are moved, in turn [m].

    Returns
    -------
    list of Tree
        In the same order. Drawn lines stay, and so does what passes over or under another line; none comes to cross
        another.
    """
    done = list(trees)
    for number, tree in enumerate(trees):
        met = any(number in (c.one[0], c.other[0]) for c in crossed(scene, done))
        if not met and not any(one.drawn for one in tree.laid):
            done[number] = _better(scene, done, number, most, steps)
    return done


def _better(scene: YardScene, trees: list[Tree], number: int, most: int, steps: Sequence[float]) -> Tree:
    tree = trees[number]
    drafts = _cheaper(scene, tree, most, steps)
    cost, able = delivered_cost(scene, tree), carries(scene, tree)
    # the last is the cheapest; where its inverts cannot be had in few grades, one of those before it
    for laid in drafts[: -_SETTLED - 1 : -1]:
        settled = settled_tree(scene, tuple(with_wyes(laid)), tree.outlet)
        if settled is None or (able and not carries(scene, settled)) or delivered_cost(scene, settled) > cost - _GAIN:
            continue
        if not crossed(scene, [*trees[:number], settled, *trees[number + 1 :]]):
            return settled
    return tree


def _cheaper(scene: YardScene, tree: Tree, most: int, steps: Sequence[float]) -> list[tuple[Laid, ...]]:
    """Drafts of a tree, each cheaper than the one before, with their highest inverts proven."""
    pricer = _Pricer(scene, tree)
    drafts, laid = [], tree.laid
    tried, rounds = 0, (0.0, *steps, 0.0)
    chains: Chains = tuple(one.trace.corners for one in laid)
    pricer.look([chains])
    now = _highest_cost(scene, pricer, laid, chains, tree)
    for step in rounds:
        found = True
        while found and tried < most and now is not None:
            found = False
            cost, pricer.digging = now
            options = list(dict.fromkeys(_options(scene, tree, chains, step)))
            pricer.look(options)
            ranked = sorted((round(pricer.likely(option), EVEN), option) for option in options)
            for likely, option in ranked:
                if tried == most or likely >= cost - _GAIN:
                    break
                tried += 1
                draft = _drafted(scene, tree, laid, option)
                if draft is not None and not _keeps_drops(draft):
                    draft = None
                told = None if draft is None else _highest_cost(scene, pricer, draft, option, tree)
                if draft is not None and told is not None and told[0] < cost - _GAIN and not tangles([draft]):
                    laid, chains, now, found = draft, option, told, True
                    drafts.append(draft)
                    break
    return drafts


def _keeps_drops(laid: Sequence[Laid]) -> bool:
    """Whether every source that drops into a line from above still stands over a place of it."""
    return all(place in one.trace.corners for one in laid for _, place in one.drops)


def _highest_cost(
    scene: YardScene, pricer: _Pricer, laid: tuple[Laid, ...], chains: Chains, tree: Tree
) -> tuple[float, tuple[float, ...]] | None:
    """What a draft costs with its highest inverts, and the digging of each line by the metre.

    None where it has none.
    """
    bands, joins, _ = tree_bands(scene, laid, tree.outlet)
    asked, prices = scene.terms, scene.prices
    for steepest in dict.fromkeys((asked.grade_max, asked.drop)):
        profiles = settle(bands, joins, grade=asked.grade, grade_max=steepest)
        if all(isinstance(profile, Profile) for profile in profiles.values()):
            break
    else:
        return None
    digging = []
    for one, profile in zip(laid, profiles.values(), strict=True):
        assert isinstance(profile, Profile)
        along = one.trace
        bottom = along.ground - invert_at(profile, along.station) + asked.below
        unit = prices.digging * bottom + prices.deep * np.maximum(0.0, bottom - asked.ladder)
        digging.append(float(((unit[1:] + unit[:-1]) / 2 * np.diff(along.station)).sum()))
    lengths = [max(1e-6, one.trace.corner_stations[-1]) for one in laid]
    return pricer.plan(chains) + sum(digging), tuple(d / length for d, length in zip(digging, lengths, strict=True))


def _inner(chain: Sequence[Place]) -> range:
    return range(1, len(chain) - 1)


def _three(chain: Sequence[Place], k: int) -> tuple[Place, Place, Place]:
    return chain[k - 1], chain[k], chain[k + 1]


def _length(chain: Sequence[Place]) -> float:
    return stations_of(chain)[-1]


def _options(scene: YardScene, tree: Tree, chains: Chains, step: float) -> Iterator[Chains]:
    """Drafts one change away: at step 0 bends left out, merged or made standard and branches led elsewhere.

    Else moves by it.
    """
    for k, one in enumerate(tree.laid):
        wyes = {chains[j][0] for j, other in enumerate(tree.laid) if other.parent == k}
        drops = {place for _, place in one.drops}
        if step == 0.0:
            yield from (_with(chains, k, option) for option in changes(chains[k]) if wyes | drops <= set(option))
            yield from _rejoined(tree, chains, k, wyes | drops)
            continue
        for at in (at for at in _inner(chains[k]) if chains[k][at] not in drops):
            for place in _moved(chains[k], at, step):
                yield from _to(tree, chains, k, at, place, wye=chains[k][at] in wyes)
        yield from _slid_along(scene, tree, chains, k, step)


def _slid_along(scene: YardScene, tree: Tree, chains: Chains, k: int, step: float) -> Iterator[Chains]:
    """Branch k with its wye up or down the trunk, not into the outlet zone."""
    parent = tree.laid[k].parent
    if parent is None:
        return
    trunk, zone = chains[parent], scene.terms.zone + WYE_CLEAR
    at = trunk.index(chains[k][0])
    if 0 < at < len(trunk) - 1:
        for to in (trunk[at - 1], trunk[at + 1]):
            slid = _towards(trunk[at], to, step)
            if slid is not None and _length((*trunk[:at], slid)) >= min(zone, _length(trunk[: at + 1])):
                yield from _to(tree, chains, parent, at, slid, wye=True)


def _moved(chain: Sequence[Place], at: int, step: float) -> Iterator[Place]:
    here = chain[at]
    beside = chain[at + 1]
    turned = math.atan2(beside[1] - here[1], beside[0] - here[0])
    for angle in _AROUND:
        yield (here[0] + step * math.cos(turned + angle), here[1] + step * math.sin(turned + angle))
    for to in (chain[at - 1], chain[at + 1]):
        nearer = _towards(here, to, step)
        if nearer is not None:
            yield nearer


def _towards(here: Place, to: Place, step: float) -> Place | None:
    away = math.dist(here, to)
    if away <= step + SHORTEST:
        return None
    return (here[0] + (to[0] - here[0]) * step / away, here[1] + (to[1] - here[1]) * step / away)


def _to(tree: Tree, chains: Chains, k: int, at: int, place: Place, wye: bool) -> Iterator[Chains]:
    """Line k with a corner at another place, with what joins there.

    As it is, and with the bends beside it made standard.
    """
    here = chains[k][at]
    moved = (*chains[k][:at], place, *chains[k][at + 1 :])
    draft = _with(chains, k, moved)
    if wye:
        for j, other in enumerate(tree.laid):
            if other.parent == k and chains[j][0] == here:
                draft = _with(draft, j, (place, *chains[j][1:]))
    yield draft
    held = {draft[j][0] for j, other in enumerate(tree.laid) if other.parent == k}
    for beside in (at - 1, at, at + 1):
        if 0 < beside < len(moved) - 1 and moved[beside] not in held:
            neat = at_standard_turn(*_three(moved, beside))
            if neat != moved[beside]:
                yield _with(draft, k, (*moved[:beside], neat, *moved[beside + 1 :]))


def _rejoined(tree: Tree, chains: Chains, k: int, held: set[Place]) -> Iterator[Chains]:
    """Branch k led to its trunk elsewhere: its lowest bends left out, to a wye at 45 degrees or square."""
    parent = tree.laid[k].parent
    if parent is None:
        return
    chain, old = chains[k], chains[k][0]
    others = {chains[j][0] for j, other in enumerate(tree.laid) if other.parent == parent and j != k}
    others |= {place for _, place in tree.laid[parent].drops}
    trunk = chains[parent]
    at = trunk.index(old)
    straight = 0 < at < len(trunk) - 1 and turn(*_three(trunk, at)) <= 0.01
    bare = (*trunk[:at], *trunk[at + 1 :]) if straight and old not in others else trunk
    for first in range(1, min(_LEFT_OUT + 1, len(chain) - 1) + 1):
        if any(place in held for place in chain[1:first]):
            break
        last = chain[first]
        for n in range(len(bare) - 1):
            for place in _feet(bare[n], bare[n + 1], last):
                more = bare if place in bare else (*bare[: n + 1], place, *bare[n + 1 :])
                yield _with(_with(chains, parent, more), k, (place, *chain[first:]))


def _feet(low: Place, high: Place, place: Place) -> Iterator[Place]:
    """Places on a run of a trunk that a line from `place` meets at 45 degrees with the flow, or square.

    Clear of bends.
    """
    run = math.dist(low, high)
    if run < 2 * WYE_CLEAR:
        return
    ux, uy = (high[0] - low[0]) / run, (high[1] - low[1]) / run
    along = (place[0] - low[0]) * ux + (place[1] - low[1]) * uy
    off = abs((place[0] - low[0]) * uy - (place[1] - low[1]) * ux)
    for at in (along - off, along, WYE_CLEAR, run - WYE_CLEAR):
        if WYE_CLEAR <= at <= run - WYE_CLEAR:
            yield (low[0] + ux * at, low[1] + uy * at)


def _with(chains: Chains, k: int, chain: Sequence[Place]) -> Chains:
    return (*chains[:k], tuple(chain), *chains[k + 1 :])


def _drafted(scene: YardScene, tree: Tree, laid: Sequence[Laid], chains: Chains) -> tuple[Laid, ...] | None:
    """The lines along other chains.

    None where one is not lawful, cannot be made, or lies on ground that is not known.
    """
    drafts: list[Laid] = []
    for k, (one, chain) in enumerate(zip(laid, chains, strict=True)):
        if chain == one.trace.corners:
            drafts.append(one)
            continue
        if not _buildable(scene, tree, chains, k):
            return None
        along = trace(scene.site, scene.yard.grounds, chain, one.source, one.outlet, line_terms(scene, one))
        if not known_between(along.known, along.station):
            return None
        drafts.append(replace(one, trace=along))
    return tuple(replace(one, fittings=fittings_of(one.trace.corners)) for one in drafts)


def _buildable(scene: YardScene, tree: Tree, chains: Chains, k: int) -> bool:
    chain = chains[k]
    turns = [turn(*_three(chain, n)) for n in _inner(chain)]
    if any(bend_price(angle, scene.prices) == math.inf for angle in turns):
        return False
    if any(step < SHORTEST for step in np.hypot(*np.diff(np.array(chain), axis=0).T)):
        return False
    stations = dict(zip(chain, stations_of(chain), strict=True))
    bends = [stations[chain[n]] for n, angle in zip(_inner(chain), turns, strict=True) if angle > JOINTS_GIVE]
    joins = sorted(stations[chains[j][0]] for j, other in enumerate(tree.laid) if other.parent == k)
    old = tree.laid[k].trace
    was = {old.corner_stations[old.corners.index(o.trace.corners[0])] for o in tree.laid if o.parent == k}
    if tree.laid[k].outlet is not None and any(at < min(scene.terms.zone, *was) - 1e-6 for at in joins):
        return False
    near = [abs(a - b) for a in joins for b in (*bends, *joins) if a != b]
    if any(1e-6 < gap < WYE_CLEAR - 1e-6 for gap in near) and len(joins) > 0:
        tight = [abs(a - b) for a in was for b in (*_bends(old.corners), *was) if a != b]
        if not any(1e-6 < gap < WYE_CLEAR - 1e-6 for gap in tight):
            return False
    return lawful_chain(scene.yard.grounds, tuple(reversed(chain)))


def _bends(chain: Sequence[Place]) -> list[float]:
    at = stations_of(chain)
    return [at[k] for k in _inner(chain) if turn(*_three(chain, k)) > JOINTS_GIVE]
