"""Two places on a lot in; the cheapest lawful way for a pipe under pressure, and inverts that keep its cover, out.

No fall is asked of it.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from siteplan.books.prices import Prices
from siteplan.routes.ends import lawful
from siteplan.routes.kernels import moves
from siteplan.routes.straight import Place, bend_price, chain_price, lawful_chain, thinned, turn, with_standard_bends
from siteplan.routes.yard import MARGIN, Yard

Floats = NDArray[np.float64]

_TRIES = (1.5, 2.5, 4.0, 8.0)  # m: radii tried for the first and the last run
_STEEPEST = 0.5  # rise over length up to which a pipe is bent into the trench bottom; ours
PLAY = 0.10  # m that a run may lie lower than its cover asks, so that it breaks at fewer places; ours
_FALLS_BACK = 0.005  # fall back to the pump where nothing holds the water; ours [-]
_MOST = 28  # places of a way that bends are chosen from


def pressed_way(yard: Yard, start: Place, end: Place, prices: Prices) -> tuple[Place, ...] | None:
    """The cheapest way between two places in straight runs, by length, what is crossed and bends.

    Parameters
    ----------
    yard : Yard
        The net; its ceilings and floors are not looked at.
    start, end : tuple of float
        The pump and where its line ends [m].
    prices : Prices
        Relative prices.

    Returns
    -------
    tuple of tuple or None
        Bends from start to end [m]; None where no lawful way is found on this net.
    """
    straight = (start, end)
    best: list[tuple[float, tuple[Place, ...]]] = []
    if math.dist(*straight) > 1e-6 and lawful_chain(yard.grounds, straight):
        best.append((chain_price(yard.grounds, straight, prices), straight))
    cells = _over_net(yard, start, end)
    if cells is not None:
        places = [start, *((float(x), float(y)) for x, y in yard.places(np.array(cells))), end]
        chain = _fewest(yard, thinned(places, most=_MOST), prices)
        for one in (with_standard_bends(chain), chain):
            price = chain_price(yard.grounds, one, prices)
            if lawful_chain(yard.grounds, one) and math.isfinite(price):
                best.append((price, tuple(one)))
    return min(best, key=lambda one: (round(one[0], 6), len(one[1])))[1] if best else None


def _over_net(yard: Yard, start: Place, end: Place) -> list[int] | None:
    """Cells of the cheapest way over the net, from the start's side to the end's."""
    first, last = _fan(yard, start, at_wall=True), dict(_fan(yard, end, at_wall=False))
    table = moves(16, yard.cols)
    steps = [(k, int(row[0]), yard.cell * math.sqrt(float(row[3]))) for k, row in enumerate(table)]
    rate, is_open, shut = yard.rate.tolist(), yard.is_open.tolist(), yard.shut.tolist()
    cost = {node: length * rate[node] for node, length in first}
    came: dict[int, int] = {}
    heap = [(price, node) for node, price in cost.items()]
    heapq.heapify(heap)
    done: set[int] = set()
    best, at = math.inf, -1
    while heap:
        price, node = heapq.heappop(heap)
        if node in done or price >= best:
            continue
        done.add(node)
        if node in last and price + last[node] * rate[node] < best:
            best, at = price + last[node] * rate[node], node
        for k, step, length in steps:
            other = node + step
            if not is_open[other] or (shut[node] >> k) & 1 or other in done:
                continue
            new = price + length * (rate[node] + rate[other]) / 2
            if new < cost.get(other, math.inf) - 1e-9:
                cost[other], came[other] = new, node
                heapq.heappush(heap, (new, other))
    if at < 0:
        return None
    way = [at]
    while way[-1] in came:
        way.append(came[way[-1]])
    return way[::-1]


def _fan(yard: Yard, place: Place, *, at_wall: bool) -> list[tuple[int, float]]:
    """Cells that a lawful straight run ties to a place, with its length."""
    import shapely

    for radius in _TRIES:
        nodes = yard.near(*place, radius)
        if not nodes.size:
            continue
        heads = yard.places(nodes)
        runs = shapely.linestrings(np.stack((np.broadcast_to(place, heads.shape), heads), axis=1))
        good = lawful(yard.grounds, runs, at_wall=at_wall)
        if good.any():
            length = np.hypot(*(heads - np.array(place)).T)
            return list(zip(nodes[good].tolist(), length[good].tolist(), strict=True))
    return []


def _fewest(yard: Yard, places: Sequence[Place], prices: Prices) -> tuple[Place, ...]:
    """The cheapest chain of straight runs between places of a way, its bends paid for.

    The way itself where no other is lawful.
    """
    n = len(places)
    run = {
        (i, j): chain_price(yard.grounds, (places[i], places[j]), prices)
        for i, j in itertools.combinations(range(n), 2)
        if j == i + 1 or lawful_chain(yard.grounds, (places[i], places[j]))
    }
    best: dict[tuple[int, int], tuple[float, int]] = {(0, j): (run[0, j], -1) for j in range(1, n) if (0, j) in run}
    for i, j in sorted(run):
        if i == 0:
            continue
        ways = [
            (best[k, i][0] + run[i, j] + bend_price(turn(places[k], places[i], places[j]), prices), k)
            for k in range(i)
            if (k, i) in best
        ]
        if ways:
            best[i, j] = min(ways)
    ends = [(best[i, n - 1][0], i) for i in range(n - 1) if (i, n - 1) in best]
    if not ends or not math.isfinite(min(ends)[0]):
        return tuple(places)
    chain, pair = [n - 1], (min(ends)[1], n - 1)
    while pair[0] >= 0:
        chain.append(pair[0])
        pair = (best[pair][1], pair[0])
    return tuple(places[k] for k in reversed(chain))


def pressed_inverts(
    station: Floats, ceiling: Floats, floor: Floats, end: float, *, runs_back: bool
) -> tuple[tuple[float, float], ...]:
    """Inverts that keep the cover all along in few straight runs.

    Parameters
    ----------
    station : ndarray, shape (n,) [m]
        From the line's end, ascending.
    ceiling, floor : ndarray, shape (n,) [m]
        Highest and lowest invert there.
    end : float
        Invert at its end [m]: where that lies above the ceiling there, the line comes up to it as steeply as a pipe is
        bent.
    runs_back : bool
        True: it falls all the way back to the pump where the depth allows that, so that no sag keeps water.

    Returns
    -------
    tuple of (float, float)
        Stations and inverts, straight between them, from 0 to 0.10 m under the ceiling but at the end, and deeper where
        it is to fall back.
    """
    climb = _STEEPEST * station
    high = np.minimum.accumulate(ceiling - climb) + climb
    high = np.minimum.accumulate((high + climb)[::-1])[::-1] - climb
    want = np.maximum(np.minimum(high - PLAY / 2, end + climb), end - climb)
    if runs_back:
        fallen = np.minimum.accumulate(want + _FALLS_BACK * station) - _FALLS_BACK * station
        want = fallen if bool((fallen >= floor - MARGIN)[1:].all()) else want
    spans, found = [(0, len(station) - 1)], {0, len(station) - 1}
    while spans:
        a, b = spans.pop()
        if b - a < 2:
            continue
        off = np.abs(np.interp(station[a : b + 1], station[[a, b]], want[[a, b]]) - want[a : b + 1])
        worst = int(np.argmax(np.round(off, 9))) + a
        if off[worst - a] > PLAY / 2:
            found.add(worst)
            spans += [(a, worst), (worst, b)]
    return tuple((float(station[k]), float(want[k])) for k in sorted(found))
