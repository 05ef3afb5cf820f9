"""Lines in plan in.

Trees of lines with inverts that keep every limit out, and where lines meet or lie too near each other.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
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
from siteplan.routes.lines import Laid
from siteplan.routes.straight import Place
from siteplan.routes.terms import Terms
from siteplan.routes.yard import Yard
from siteplan.site import Feature, Site
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Margin
from siteplan.values.water_ends import Outlet, Source
from siteplan.yard.candidates import Swept
from siteplan.yard.gauges import SizesAsked, grade_of
from siteplan.yard.rows import stake_stations

WITHIN = (60.0, 0.30, 0.15, 0.06)  # m under the least digging in which few grades are looked for
_TOUCH = 0.01  # m
_ONE_BREAK = 0.3  # m: no grade is set anew this near to a corner or wye, but at it
_SAME_GRADE = 1e-6  # of a grade: rounding
MEETING = 1.0  # m from where two lines meet within which they run beside each other: a wye of 22.5 degrees needs 0.8


class Limit(NamedTuple):
    """Further limits on the invert at a station of a line [m]."""

    station: float
    ceiling: float
    floor: float


NO_LIMITS: Mapping[int, Sequence[Limit]] = MappingProxyType({})


class Joining(NamedTuple):
    """Lines of one's own the first of which joins a line of the planner's, the others one another; each in its pipe."""

    features: tuple[Feature, ...]  # the first before its branches
    parents: tuple[int | None, ...]
    sources: tuple[Source, ...]
    pipes: tuple[Pipe, ...]
    meets: str  # id of the source whose line, or a line on its way on, is joined


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
    sizes: SizesAsked | None = None  # None: one size, whatever comes
    lines_before: int = 0  # lines that another layout of this yard has numbered
    found_before: int = 0  # outlets that it has found
    joining: tuple[Joining, ...] = ()  # lines of one's own that join what is laid here


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tree:
    """Lines that end at one outlet, in plan and with their inverts."""

    outlet: Outlet
    laid: tuple[Laid, ...]
    profiles: tuple[Profile, ...]
    bought: tuple[tuple[Margin, ...], ...] = ()  # margins of each line by what they cost; empty: none weighed


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


class TreeBands(NamedTuple):
    """What the lines of a tree must keep, by the number of each.

    Bands, wyes, and the stations where grade may change [m].
    """

    bands: dict[str, Band]
    joins: dict[str, tuple[str, float]]
    breaks: dict[str, np.ndarray]


def tree_bands(
    scene: YardScene, laid: Sequence[Laid], outlet: Outlet, limits: Mapping[int, Sequence[Limit]] = NO_LIMITS
) -> TreeBands:
    """What lines in plan must keep.

    Parameters
    ----------
    scene : Scene
        The yard.
    laid : sequence of Laid
        Trunk before its branches.
    outlet : Outlet
        Where the trunk ends.
    limits : mapping of int to sequence of Limit
        Further limits by number of the line, where it crosses another.

    Returns
    -------
    TreeBands
        Without any margin.
    """
    unit = scene.site.length_unit
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
    breaks = {str(k): _grade_breaks(one.trace.corner_stations, unit) for k, one in enumerate(laid)}
    return TreeBands(bands, joins, breaks)


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
    asked = scene.terms
    bands, joins, breaks = tree_bands(scene, laid, outlet, limits)
    roomy = off_the_ceiling(
        bands, joins, grade=asked.grade, margin=margin_for(scene.site.accuracy, scene.site.laying.certainty)
    )
    # the least grade of the rules, then, where a run is too flat for its flow in its size, what that size asks for
    first: Tree | None = None
    for grade in sorted({asked.grade, max(asked.grade, *(one.grade for one in laid))}):
        for steepest, allowed in itertools.product(dict.fromkeys((asked.grade_max, asked.drop)), (roomy, bands)):
            highest = settle(allowed, joins, grade=grade, grade_max=steepest)
            if any(not isinstance(profile, Profile) for profile in highest.values()):
                continue
            profiles = _few_enough(scene, allowed, joins, highest, breaks, steepest, grade)
            if profiles is None:
                continue
            tree = Tree(outlet=outlet, laid=laid, profiles=profiles)
            first = first or tree
            if carries(scene, tree):
                return tree
            break
    return first


def _grade_breaks(corners: Sequence[float], unit: str) -> np.ndarray:
    """Stations where a crew sets another grade: at corners and wyes, and at stakes that no corner is near [m]."""
    stakes = np.asarray(stake_stations(corners[-1], unit), float)
    away = np.abs(stakes[:, None] - np.asarray(corners, float)[None, :]).min(axis=1)
    return np.unique(np.concatenate((stakes[away >= _ONE_BREAK], corners)))


def carries(scene: YardScene, tree: Tree) -> bool:
    """Whether every run of a tree carries what comes to it, in its line's size of pipe.

    Parameters
    ----------
    scene : Scene
        With flows and sizes.
    tree : Tree
        Settled.

    Returns
    -------
    bool
        True where no sizes are asked for or flows are not known.
    """
    if scene.sizes is None:
        return True
    for k, (one, profile) in enumerate(zip(tree.laid, tree.profiles, strict=True)):
        corners, at = one.trace.corners, one.trace.corner_stations
        coming = [(at[-1], [one.source])]
        coming += [(at[corners.index(place)], [source]) for source, place in one.drops]
        coming += [
            (at[corners.index(other.trace.corners[0])], list(other.carried)) for other in tree.laid if other.parent == k
        ]
        for low, high in itertools.pairwise(range(profile.station.size)):
            run = float(profile.station[high] - profile.station[low])
            if run <= _TOUCH:
                continue
            # of what comes in at a place on this run, its lower part carries it
            brought = [
                source for station, these in coming if station > profile.station[low] + _TOUCH for source in these
            ]
            asked = grade_of(scene, one.size, brought)
            if asked is None or (float(profile.invert[high] - profile.invert[low])) / run < asked - _SAME_GRADE:
                return False
    return True


def _few_enough(
    scene: YardScene,
    bands: Mapping[str, Band],
    joins: Mapping[str, tuple[str, float]],
    highest: Mapping[str, Profile | Shortfall],
    breaks: Mapping[str, np.ndarray],
    steepest: float | None,
    grade: float,
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
        settled = settle(held, joins, grade=grade, grade_max=steepest, breaks=breaks, elsewhere=within == WITHIN[0])
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
