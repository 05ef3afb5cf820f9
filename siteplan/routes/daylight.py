"""Yard and a reach in; places out where a line could come to daylight on the lot by itself."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.books import rules
from siteplan.routes import kernels
from siteplan.routes.terms import Terms
from siteplan.routes.yard import MARGIN, Floats, Yard
from siteplan.site import Site
from siteplan.values.forecasts import LowSpot
from siteplan.values.water_ends import Outlet

_APART = 8.0  # m between two points offered
USUAL = 2  # points offered; more only where sources are left over that one more would serve
OFFERED = 4  # at most
LONGEST = 30.0  # m: a longer outlet zone is not searched for daylight points
SIDE_STEPS = ((-1, 0), (1, 0), (0, -1), (0, 1), (-1, -1), (-1, 1), (1, -1), (1, 1))
RAYS = tuple(
    (r, c) for r in range(-3, 4) for c in range(-3, 4) if math.gcd(r, c) == 1
)  # 32 directions, 8 to 13 degrees apart
LOOKED_AT = 0.45  # m between the places first looked at; every place of the net where none of these serves a source
_WET = 0.45  # m kept from wet ground
_RUNS_OFF = 1.35  # m within which the ground falls on
_FALLS_ON = 0.01  # m by which it does


def last_runs(yard: Yard, reach: Floats, terms: Terms, ends: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Highest invert with which a straight last run inside the outlet zone arrives at some places.

    Parameters
    ----------
    yard : Yard
        The net.
    reach : ndarray, shape (rows * cols,) [m]
        Highest invert under full cover, -inf where no line comes.
    terms : Terms
        Grade, outlet zone, daylight stretch.
    ends : ndarray of int, shape (n,)
        Places of the net where lines would end.

    Returns
    -------
    tuple of ndarray, each shape (n,) [m]
        Highest legal arrival, and the same without the ceiling of the daylight stretch, by which fall to spare is
        judged; -inf where none arrives above the ground by the daylight allowance. Runs in 32 directions.
    """
    zone = min(terms.zone, LONGEST)
    asked = np.array(
        [zone, terms.stretch, terms.daylight_allowance, terms.rise + terms.zone_cover, terms.depth, MARGIN / 2]
    )
    return kernels.last_runs_sweep(
        reach, yard.ground, yard.is_open, ends, np.array(RAYS), yard.cols, yard.cell, terms.grade, asked
    )


def found_outlets(
    site: Site,
    yard: Yard,
    reaches: Sequence[Floats],
    low_spots: Sequence[LowSpot],
    terms: Terms,
    *,
    sumps: Sequence[bool],
    walls: Sequence[float] | None = None,
    everywhere: bool = True,
    first: int = 1,
) -> tuple[Outlet, ...]:
    """Daylight points on the lot that the tool finds by itself.

    A point lies on the lot, keeps the distances that outlets keep from foundations and lot lines, stands in no
    wet low spot, no pavement and no easement, keeps off retaining walls, and is reached by a straight last run that
    ends above its ground.

    Parameters
    ----------
    site : Site
        The surveyed site.
    yard : Yard
        The net.
    reaches : sequence of ndarray, each shape (rows * cols,) [m]
        Reach of each source that is to be served.
    low_spots : sequence of LowSpot
        Wet ground.
    terms : Terms
        Zones and covers.
    sumps : sequence of bool
        Which of these sources is a sump: its outlet keeps farther from foundations, the others' do not.
    walls : sequence of float, optional
        Ground at the wall of each [m]: from a higher place a sump's water walks back to it, and such a place is taken
        only where there is no other.
    everywhere : bool
        True: for a source that no place of every 0.45 m serves, every place of the net is looked at.
    first : int
        Number of the first.

    Returns
    -------
    tuple of Outlet
        Ids D1, D2 and on: first the one that serves most sources, with fall beyond the survey's doubt where that
        can be had, and nearest; then the one that serves most of those left over. More than two only where they serve
        more sources.
    """
    if not reaches:
        return ()
    nodes = np.flatnonzero(yard.is_open)
    lawful = {sump: lawful_ends(site, yard, nodes, low_spots, sump=sump) for sump in set(sumps)}
    every = nodes[np.logical_or.reduce(list(lawful.values()))]
    stride = max(1, round(LOOKED_AT / yard.cell))
    row, col = np.divmod(every, yard.cols)
    some = (row % stride == 0) & (col % stride == 0)
    spare = np.full((len(reaches), every.size), -np.inf)
    for k, (reach, sump) in enumerate(zip(reaches, sumps, strict=True)):
        may = lawful[sump][np.searchsorted(nodes, every)]
        low = may & (yard.ground[every] < walls[k]) if sump and walls is not None else may
        for looked_at in (low & some, low & ~some, may & ~low & some, may & ~low & ~some):
            ends = every[looked_at]
            if not ends.size:
                continue
            control = yard.ground[ends] + terms.daylight_allowance
            legal, free = last_runs(yard, reach, terms, ends)
            spare[k, looked_at] = np.where(legal >= control, free - control, -np.inf)
            if (spare[k] >= 0).any() or not everywhere:
                break
    served = (spare >= 0).any(axis=0)
    return _pick(site, yard, every[served], spare[:, served], first)


def lawful_ends(
    site: Site, yard: Yard, nodes: NDArray[np.intp], low_spots: Sequence[LowSpot], *, sump: bool
) -> NDArray[np.bool_]:
    """Which places of the net may take water out onto the lawn.

    Parameters
    ----------
    site : Site
        The surveyed site.
    yard : Yard
        The net.
    nodes : ndarray of int, shape (n,)
        Open cells.
    low_spots : sequence of LowSpot
        Wet ground.
    sump : bool
        The water is a sump's: its outlet keeps farther from foundations.

    Returns
    -------
    ndarray of bool, shape (n,)
        Far enough from foundations and lot lines, dry, unpaved, off walls, and with lower ground beside it.
    """
    import shapely
    from shapely.geometry import Polygon

    place = yard.places(nodes)
    lot_line = rules.limit(site.rules, rules.OUTLET_LOT_LINE) or 0.0
    wall = rules.limit(site.rules, rules.OUTLET_FOUNDATION) or 0.0
    if sump:
        wall = max(wall, rules.limit(site.rules, rules.SUMP_OUTLET_FOUNDATION) or 0.0)
    barred = [feature.geometry.buffer(wall) for feature in site.of_kind("building")]
    barred += [
        feature.geometry for feature in site.of_kind("driveway", "walk", "paving", "easement", "no_dig", "neighbour")
    ]
    barred.append(yard.grounds.near_walls)
    # a hollow shallower than the survey can know may be none
    barred += [Polygon(one.rings[0], one.rings[1:]).buffer(_WET) for one in low_spots if one.rings and one.certain]
    inner = yard.grounds.lot.buffer(-lot_line).difference(shapely.union_all(barred))
    if inner.is_empty:
        return np.zeros(nodes.size, bool)
    within: NDArray[np.bool_] = shapely.intersects_xy(inner, place[:, 0], place[:, 1])
    return within & _runs_off(yard, nodes)


def _runs_off(yard: Yard, nodes: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Water that comes out must have lower open ground to go to near by."""
    falls = np.zeros(nodes.size, bool)
    steps = max(1, round(_RUNS_OFF / yard.cell))
    row, col = np.divmod(nodes, yard.cols)
    for r, c in SIDE_STEPS:
        at_row, at_col = row + steps * r, col + steps * c
        inside = (at_row >= 0) & (at_row < yard.rows) & (at_col >= 0) & (at_col < yard.cols)
        near = np.where(inside, at_row * yard.cols + at_col, 0)
        falls |= inside & (yard.is_open[near] > 0) & (yard.ground[near] < yard.ground[nodes] - _FALLS_ON)
    return falls


def _pick(site: Site, yard: Yard, nodes: NDArray[np.intp], spare: Floats, first: int) -> tuple[Outlet, ...]:
    place = yard.places(nodes)
    middle = np.array([[source.x, source.y] for source in site.sources]).mean(axis=0)
    away = np.round(np.hypot(place[:, 0] - middle[0], place[:, 1] - middle[1]), 3)
    sure = spare >= math.sqrt(2) * site.accuracy  # beyond what two shots can be wrong by
    open_sources = np.ones(spare.shape[0], bool)
    picked: list[int] = []
    while len(picked) < OFFERED:
        clear = np.ones(nodes.size, bool)
        for other in picked:
            clear &= np.hypot(*(place - place[other]).T) >= _APART
        serving = (spare[open_sources] >= 0).sum(axis=0) if open_sources.any() else np.ones(nodes.size, int)
        clear &= serving > 0
        if not clear.any() or (len(picked) >= USUAL and not open_sources.any()):
            break
        among = np.flatnonzero(clear)
        order = np.lexsort((nodes[among], away[among], -sure[:, among].sum(axis=0), -serving[among]))
        picked.append(int(among[order[0]]))
        open_sources &= spare[:, picked[-1]] < 0
    allowance = rules.needed(site.rules, rules.DAYLIGHT_ALLOWANCE)
    outlets = []
    for number, k in enumerate(picked, start=first):
        ground = float(yard.ground[nodes[k]])
        outlets.append(
            Outlet(
                id=f"D{number}",
                kind="daylight_outlet",
                name=f"found daylight point {number}",
                x=float(place[k, 0]),
                y=float(place[k, 1]),
                ground=ground,
                control=ground + allowance,
                found=True,
                basis=(
                    f"found by the tool: ground there ({units.length_text(ground, site.elevation_unit)}) plus "
                    f"{units.length_text(allowance, site.elevation_unit)}"
                ),
            )
        )
    return tuple(outlets)
