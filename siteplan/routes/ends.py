"""Source or outlet in; fan out: the straight first or last runs that tie it to the net.

A zone of less cover is length along the line, not a radius: it lies on one straight run.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from siteplan.books.kinds import at_curb, into_pipe
from siteplan.books.practice import NEAREST_GROUND
from siteplan.books.prices import Prices
from siteplan.routes.lattice import EVEN
from siteplan.routes.terms import Terms
from siteplan.routes.yard import MARGIN, Floats, Grounds, Yard
from siteplan.site import Site, heights
from siteplan.values.water_ends import Outlet, Source

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

SAMPLES = 33  # places along one straight run of a fan
PAST = 1e-4  # m past the edge of a zone where the next zone's limit is read
_AT_WALL = 0.30  # m of a first run that may lie inside a drawn wall
NEAR_START = 1.2  # m from the source within which that holds
BESIDE_WALL = 0.90  # m of it that may lie nearer to the wall than lines keep elsewhere
FAN = 150  # runs to an outlet, of some more than these on a fine net every second is looked at, and so on
TRIES = (1.5, 2.5, 4.0)  # m, radii tried for a first run


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Start:
    """First runs from a source: cells, inverts on arrival there [m], relative cost so far."""

    nodes: NDArray[np.intp]
    inverts: Floats
    costs: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class End:
    """Last runs to an outlet.

    A line at cell p with invert z arrives at min(z - grade * length, cap) when z >= need; it costs
    `cost` when it runs as high as it may, and `digging` more for each metre that it comes in lower.
    """

    nodes: NDArray[np.intp]
    lengths: Floats
    caps: Floats
    needs: Floats
    costs: Floats
    tops: Floats  # highest useful invert at p
    digging: Floats
    free: Floats  # the cap without the daylight stretch, where the pipe itself decides: fall to spare is judged by it


def straight_runs(tail: Floats, heads: Floats, breaks: Sequence[float] = ()) -> tuple[Floats, Floats, Floats, Floats]:
    """Sample straight runs that share one end.

    Parameters
    ----------
    tail : ndarray, shape (2,) [m]
        The shared end.
    heads : ndarray, shape (n, 2) [m]
        The other ends.
    breaks : sequence of float
        Distances from the tail at which a limit changes [m]: sampled on both sides.

    Returns
    -------
    tuple of ndarray
        x, y and distance from the tail, shape (n, m), from the tail to each head, and lengths, shape (n,) [m].
    """
    length = np.hypot(heads[:, 0] - tail[0], heads[:, 1] - tail[1])
    t = np.broadcast_to(np.linspace(0.0, 1.0, SAMPLES), (length.size, SAMPLES))
    if breaks and length.size:
        edges = np.array([at + side for at in breaks for side in (0.0, PAST)])
        with np.errstate(divide="ignore"):
            more = np.minimum(edges[None, :] / length[:, None], 1.0)
        t = np.sort(np.concatenate((t, more), axis=1), axis=1)
    x = tail[0] + (heads[:, :1] - tail[0]) * t
    y = tail[1] + (heads[:, 1:] - tail[1]) * t
    return x, y, length[:, None] * t, length


def lawful(grounds: Grounds, runs: NDArray[Any], *, at_wall: bool) -> NDArray[np.bool_]:
    """Which straight runs stay where a line may run.

    Parameters
    ----------
    grounds : Grounds
        Where a line may run.
    runs : ndarray of LineString, shape (n,)
        Straight runs in the plan's frame.
    at_wall : bool
        The runs begin at a source: a short piece there may lie within half a trench of the wall.

    Returns
    -------
    ndarray of bool, shape (n,)
        True where the run is lawful.
    """
    import shapely

    inside: NDArray[np.bool_] = shapely.covers(grounds.allowed, runs) & ~shapely.intersects(grounds.walls, runs)
    if not at_wall:
        clear: NDArray[np.bool_] = ~shapely.intersects(grounds.barred, runs)
        return inside & clear
    # a source may stand on the drawn wall or just inside it, and always stands within the clearance kept elsewhere
    through: Floats = shapely.length(shapely.intersection(runs, grounds.solid))
    beside: Floats = shapely.length(shapely.intersection(runs, grounds.barred))
    return inside & (through < _AT_WALL) & (beside < BESIDE_WALL) & _clear_beyond_the_start(grounds, runs)


def _clear_beyond_the_start(grounds: Grounds, runs: NDArray[Any]) -> NDArray[np.bool_]:
    import shapely

    places = shapely.get_coordinates(runs).reshape(-1, 2, 2)
    length = np.maximum(shapely.length(runs), 1e-9)
    share = np.minimum(NEAR_START / length, 1.0)[:, None]
    on = places[:, 0] + (places[:, 1] - places[:, 0]) * share
    rest = shapely.linestrings(np.stack((on, places[:, 1]), axis=1))
    clear: NDArray[np.bool_] = (share[:, 0] == 1.0) | ~shapely.intersects(grounds.barred, rest)
    return clear


def _as_runs(x: Floats, y: Floats) -> NDArray[Any]:
    import shapely

    runs: NDArray[Any] = shapely.linestrings(np.stack((x[:, [0, -1]], y[:, [0, -1]]), axis=-1))
    return runs


def start_of(site: Site, yard: Yard, source: Source, terms: Terms, prices: Prices) -> Start:
    """First runs from a source to the net, as high as cover and the source's own limit allow.

    Parameters
    ----------
    site : Site
        For the ground.
    yard : Yard
        The net.
    source : Source
        Where the line starts.
    terms : Terms
        Cover, depth, grade.
    prices : Prices
        Relative prices.

    Returns
    -------
    Start
        Empty when no cell of the net can be tied to the source.
    """
    tail = np.array([source.x, source.y])
    for radius in (max(r, terms.start_zone) for r in TRIES):
        nodes = yard.near(source.x, source.y, radius)
        if not nodes.size:
            continue
        zones = (terms.start_zone,) if terms.start_zone > 0 else ()
        x, y, along, length = straight_runs(tail, yard.places(nodes), zones)
        good = lawful(yard.grounds, _as_runs(x, y), at_wall=True) & known_enough(site, x, y, along)
        nodes, x, y, along, length = nodes[good], x[good], y[good], along[good], length[good]
        if not nodes.size:
            continue
        ground = ground_under(site, x, y, source.ground)
        cover = cover_at(yard.grounds, x, y, terms, wide=True)
        at_start = start_cover(cover, paved_at(yard.grounds, x, y, wide=True), terms)
        cover = np.where(along < terms.start_zone, at_start, cover)
        ceiling = ground - terms.rise - cover - MARGIN
        if source.invert_limit is not None:
            ceiling[:, 0] = np.minimum(ceiling[:, 0], source.invert_limit)
        profile: Floats = np.minimum.accumulate(ceiling + terms.grade * along, axis=1) - terms.grade * along
        legal = (profile >= ground - terms.depth).all(axis=1)
        if legal.any():
            rate = rate_at(yard.grounds, x, y, prices)
            cost = run_cost(along, rate, ground - profile, terms, prices)
            inverts: Floats = np.minimum(profile[:, -1], yard.ceiling[nodes])
            return Start(nodes=nodes[legal], inverts=np.round(inverts[legal], EVEN), costs=np.round(cost[legal], EVEN))
    return Start(nodes=np.empty(0, np.intp), inverts=np.empty(0), costs=np.empty(0))


def zone_ceiling(
    ground: Floats,
    away: Floats,
    outlet: Outlet,
    cover: Floats,
    paved: NDArray[np.bool_],
    terms: Terms,
    *,
    margin: float = 0.0,
) -> Floats:
    """Highest legal invert along the last stretch before an outlet.

    Within the daylight stretch of a daylight outlet the pipe may show: its invert keeps under the ground plus the
    daylight allowance, or on the least grade up from the control elevation where that is higher. At a curb the zone's
    cover holds up to the curb: no pipe stands out of a parkway to plunge into a hole; on the least grade up from the
    control alone it may lie higher than that, for a grid shows no curb and draws the ground behind one too low: on the
    rules' least grade, not on the steeper one at which a small pipe carries its water. A line that comes into an old
    pipe has its usual cover up to there. Else up to the end of the outlet zone the zone's cover holds, and beyond it
    the usual one. Under vehicles the pavement's cover holds in the zone too.

    Parameters
    ----------
    ground : ndarray [m]
        Ground along the line.
    away : ndarray [m]
        Distance to the outlet along the line, same shape.
    outlet : Outlet
        Its control elevation [m] counts.
    cover : ndarray [m]
        Usual cover at the same places.
    paved : ndarray of bool
        Where vehicles drive, from `paved_at`.
    terms : Terms
        Lengths and covers.
    margin : float
        Kept from what the ground sets, upstream of the outlet [m]; the grade up from the control needs none.

    Returns
    -------
    ndarray [m]
        Same shape.
    """
    ground = ground - np.where(away > 0, margin, 0.0)
    if into_pipe(outlet.kind):  # it never comes to the surface: there is no outlet zone
        return ground - terms.rise - cover
    zone = ground - terms.rise - terms.zone_cover
    least = outlet.control + (terms.grade if terms.rules_grade is None else terms.rules_grade) * away
    shows = np.maximum(zone if at_curb(outlet.kind) else ground + terms.daylight_allowance, least)
    usual = ground - terms.rise - cover
    open_ground = np.where(away <= terms.stretch, shows, np.where(away <= terms.zone, zone, usual))
    return np.where(paved, usual, open_ground)


def end_of(site: Site, yard: Yard, outlet: Outlet, terms: Terms, prices: Prices, *, every: bool = False) -> End:
    """Last runs from the net to an outlet.

    Parameters
    ----------
    site : Site
        For the ground.
    yard : Yard
        The net.
    outlet : Outlet
        Where the line ends.
    terms : Terms
        Cover, depth, grade, zones.
    prices : Prices
        Relative prices.
    every : bool
        True: runs from every place near the outlet, also of a fine net.

    Returns
    -------
    End
        Empty when no last run is lawful.
    """
    # a zone that asks for more cover than elsewhere is passed in one straight run
    stricter = terms.zone_cover > terms.cover and not into_pipe(outlet.kind)
    nodes = (
        np.empty(0, np.intp)
        if too_deep(outlet, terms) > 0
        else _fanned(
            yard, every, yard.near(outlet.x, outlet.y, max(terms.zone + 2 * yard.cell * stricter, 2.5 * yard.cell))
        )
    )
    place = yard.places(nodes)
    if nodes.size:
        x, y, away, length = straight_runs(np.array([outlet.x, outlet.y]), place, (terms.stretch, terms.zone))
        good = lawful(yard.grounds, _as_runs(x, y), at_wall=False) & (length > 1e-6) & known_enough(site, x, y, away)
        nodes, x, y, away, length = nodes[good], x[good, ::-1], y[good, ::-1], away[good, ::-1], length[good]
    if stricter and nodes.size:
        far = length >= terms.zone
        nodes, x, y, away, length = nodes[far], x[far], y[far], away[far], length[far]
    if not nodes.size:
        empty = np.empty(0)
        return End(
            nodes=np.empty(0, np.intp),
            lengths=empty,
            caps=empty,
            needs=empty,
            costs=empty,
            tops=empty,
            digging=empty,
            free=empty,
        )
    ground = ground_under(site, x, y, outlet.ground)
    along = length[:, None] - away
    cover, paved = cover_at(yard.grounds, x, y, terms, wide=True), paved_at(yard.grounds, x, y, wide=True)
    ceiling = zone_ceiling(ground, away, outlet, cover, paved, terms, margin=MARGIN / 2)
    floor = ground - terms.depth
    floor[:, -1] = outlet.control
    lift = terms.grade * along
    tops: Floats = np.minimum.accumulate(ceiling + lift, axis=1)
    legal = (tops >= floor + lift - 1e-9).all(axis=1)
    profile = tops - lift
    rate = rate_at(yard.grounds, x, y, prices)
    covered = np.where(away > terms.stretch, ceiling + lift, np.inf).min(axis=1) - terms.grade * length
    return End(
        nodes=nodes[legal],
        lengths=np.round(length[legal], EVEN),
        caps=np.round(profile[legal, -1], EVEN),
        needs=np.round((floor + lift).max(axis=1)[legal], EVEN),
        costs=np.round(run_cost(along, rate, ground - profile, terms, prices)[legal], EVEN),
        tops=np.round(tops[legal, 0], EVEN),
        digging=np.round((prices.digging * length)[legal], EVEN),
        free=np.round(covered[legal], EVEN),
    )


def too_deep(outlet: Outlet, terms: Terms) -> float:
    """How much deeper an old pipe lies than a line may.

    Parameters
    ----------
    outlet : Outlet
        Any; what opens at the surface never does.
    terms : Terms
        Greatest depth.

    Returns
    -------
    float
        [m]; 0 or less: a line may come into it.
    """
    return outlet.ground - terms.depth - outlet.control if into_pipe(outlet.kind) else -np.inf


def _fanned(yard: Yard, every: bool, nodes: NDArray[np.intp]) -> NDArray[np.intp]:
    """Cells of a fan, every second or third of a fine net: runs from cells side by side are one run."""
    stride = 1 if every else max(1, math.isqrt(nodes.size // FAN))
    row, col = np.divmod(nodes, yard.cols)
    some: NDArray[np.intp] = nodes[(row % stride == 0) & (col % stride == 0)]
    return some


def ground_under(site: Site, x: Floats, y: Floats, fallback: float) -> Floats:
    """Ground at sampled places.

    Parameters
    ----------
    site : Site
        For its grid.
    x, y : ndarray [m]
        Places, any shape.
    fallback : float
        Height taken where the ground is not known [m].

    Returns
    -------
    ndarray [m]
        Shape kept.
    """
    z = heights(site.grid, x.ravel(), y.ravel()).reshape(x.shape)
    return np.where(np.isfinite(z), z, fallback)


def cover_at(grounds: Grounds, x: Floats, y: Floats, terms: Terms, *, wide: bool = False) -> Floats:
    """Cover asked for over the line's own pipe.

    The pavement's under vehicles, the lawn's elsewhere, over the pipe that may lie there.

    Parameters
    ----------
    grounds : Grounds
        For the pavement that carries vehicles.
    x, y : ndarray [m]
        Places, any shape.
    terms : Terms
        The two covers.
    wide : bool
        True widens the pavement a little, for runs that are sampled without regard to its edges.

    Returns
    -------
    ndarray [m]
        Shape kept.
    """
    cover = np.full(x.shape, terms.cover)
    if not grounds.heavier.is_empty:
        area = grounds.heavier_wide if wide else grounds.heavier
        cover[_inside(area, x, y)] += terms.heavier
    if grounds.vehicles.is_empty or terms.cover_pavement <= terms.cover:
        return cover
    return np.where(paved_at(grounds, x, y, wide=wide), terms.cover_pavement, cover)


def known_enough(site: Site, x: Floats, y: Floats, away: Floats) -> NDArray[np.bool_]:
    """Which runs cross no unknown ground but that round their source or outlet.

    Parameters
    ----------
    site : Site
        For its grid.
    x, y : ndarray, shape (n, m) [m]
        Places along the runs.
    away : ndarray, shape (n, m) [m]
        Length along the run from the source or outlet.

    Returns
    -------
    ndarray of bool, shape (n,)
        True where the ground is known, or no farther off than the survey lets it be unknown.
    """
    known = np.isfinite(heights(site.grid, x.ravel(), y.ravel())).reshape(x.shape)
    near: NDArray[np.bool_] = np.asarray(known | (away <= NEAREST_GROUND), bool)
    return np.asarray(near.all(axis=1), bool)


def start_cover(cover: Floats, paved: NDArray[np.bool_], terms: Terms) -> Floats:
    """Cover asked for in the start zone: none of the lawn's, what heavier pipe stands higher, all of it under wheels.

    Parameters
    ----------
    cover : ndarray [m]
        As `cover_at` gives it.
    paved : ndarray of bool
        Where vehicles drive.
    terms : Terms
        The lawn's cover.

    Returns
    -------
    ndarray [m]
        At least 0.
    """
    return np.where(paved, cover, cover - terms.cover)


def paved_at(grounds: Grounds, x: Floats, y: Floats, *, wide: bool = False) -> NDArray[np.bool_]:
    """Where vehicles drive.

    Parameters
    ----------
    grounds : Grounds
        For the pavement that carries vehicles.
    x, y : ndarray [m]
        Places, any shape.
    wide : bool
        True widens the pavement a little.

    Returns
    -------
    ndarray of bool
        Shape kept; a pavement's edge counts.
    """
    if grounds.vehicles.is_empty:
        return np.zeros(x.shape, bool)
    return _inside(grounds.vehicles_wide if wide else grounds.vehicles, x, y)


def _inside(area: BaseGeometry, x: Floats, y: Floats) -> NDArray[np.bool_]:
    import shapely

    inside: NDArray[np.bool_] = shapely.intersects_xy(area, x.ravel(), y.ravel()).reshape(x.shape)
    return inside


def rate_at(grounds: Grounds, x: Floats, y: Floats, prices: Prices) -> Floats:
    """Relative price of a metre of trench before its depth counts.

    Parameters
    ----------
    grounds : Grounds
        Priced areas.
    x, y : ndarray [m]
        Places, any shape.
    prices : Prices
        Relative prices.

    Returns
    -------
    ndarray [1/m]
        Shape kept.
    """
    import shapely

    rate = np.full(x.size, prices.trench)
    px, py = x.ravel(), y.ravel()
    for area, price in grounds.priced:
        rate[shapely.intersects_xy(area, px, py)] += price
    return rate.reshape(x.shape)


def run_cost(along: Floats, rate: Floats, depth: Floats, terms: Terms, prices: Prices) -> Floats:
    """Relative cost of straight runs from prices and invert depths at places along them (trapezoid rule).

    Parameters
    ----------
    along : ndarray, shape (n, m) [m]
        Length from the run's head to each place.
    rate, depth : ndarray, shape (n, m)
        Price before depth [1/m] and depth of the invert [m].
    terms : Terms
        Trench bottom below the invert, ladder depth.
    prices : Prices
        Relative prices.

    Returns
    -------
    ndarray, shape (n,)
        Relative cost.
    """
    bottom = depth + terms.below
    unit = rate + prices.digging * bottom + prices.deep * np.maximum(0.0, bottom - terms.ladder)
    cost: Floats = (0.5 * (unit[:, 1:] + unit[:, :-1]) * np.diff(along, axis=1)).sum(axis=1)
    return cost
