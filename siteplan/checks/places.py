"""The walked lines in; findings on where they run out: lot, neighbours, buildings, no-dig areas, trees."""

from __future__ import annotations

import math

import numpy as np

from siteplan.books import rules
from siteplan.books.kinds import at_curb, into_pipe
from siteplan.checks.report import DISTANCE, HEIGHT, plain, ruled, stations_reached
from siteplan.checks.scene import Scene
from siteplan.checks.walk import Stretch, Walk, length_of, runs_of_samples, stretches_inside
from siteplan.units import FOOT
from siteplan.values.told import Finding
from siteplan.values.water_ends import Outlet

ON_LINE = 0.3  # m; how far outside a lot line a line still counts as on it
INTO_WALL = 0.05  # m; a wall's outline is not known better
DOWNSPOUT_IN_WALL = 0.3  # m; a source drawn on the wall may lie this far inside its outline
NEAR_SOURCE = 5 * FOOT  # from a source the line must leave the wall; the rule's own words
ROUNDABOUT = 1 * FOOT  # more than a way out by this much is worth a word
ASLANT = (
    math.sqrt(2.0) - 1.0
)  # of the straight way: a line that leaves a wall at 45 degrees is on its way out, flatter it runs along it
TRUNKS = 12.0  # trunk diameters: 1 ft per inch


def inside_lot(scene: Scene) -> list[Finding]:
    """Whether the lines stay on the lot; the last part to an outlet off the lot is flagged with its permit.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each stretch off the lot, else one a line.
    """
    rule, words = rules.INSIDE_LOT, scene.words
    found = []
    lot = scene.areas.get("lot")
    for name, walk in scene.walks.items():
        if lot is None:
            found.append(plain(rule, name, "cannot tell", "the survey has no lot outline"))
            continue
        far = [
            stretch
            for stretch in _outside(walk, stretches_inside(walk.corners, walk.at, lot.buffer(ON_LINE)))
            if stretch[1] - stretch[0] > INTO_WALL
        ]
        # what counts is farther off than a lot line is known; it is told from where it crosses the line
        strays = [
            (start, end)
            for start, end in _outside(walk, stretches_inside(walk.corners, walk.at, lot))
            if any(first < end and last > start for first, last in far)
        ]
        outlet, way = scene.way_out(walk.line)
        for start, end in strays:
            real = end - start
            where = words.stations(start, end)
            last = start < INTO_WALL and (len(way) == 1 or outlet is not None)
            if outlet is not None and last and off_lot(scene, outlet):
                text = (
                    f"{words.far(real)} of it lies off the lot on the way to {outlet.name or outlet.id}: "
                    f"{_permission(outlet)}"
                )
                found.append(plain(rule, name, "broken", text, where=where, value=real, broken="flag"))
            else:
                found.append(
                    plain(
                        rule, name, "broken", f"{words.far(real)} of it lies outside the lot", where=where, value=real
                    )
                )
        if not strays:
            found.append(
                plain(rule, name, "kept", "stays on the lot", where=words.stations(0.0, walk.length), value=0.0)
            )
    return found


def off_lot(scene: Scene, outlet: Outlet) -> bool:
    """Whether an outlet lies off the lot, in a right of way or the like.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    outlet : Outlet
        A named outlet, or one found by the tool, which is never off the lot by right.

    Returns
    -------
    bool
        False on a site without a lot outline.
    """
    from shapely.geometry import Point

    lot = scene.areas.get("lot")
    return lot is not None and not outlet.found and bool(lot.distance(Point(outlet.x, outlet.y)) > ON_LINE)


def clear_of_neighbour(scene: Scene) -> list[Finding]:
    """Whether lines and their outlets keep off neighbours' land.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each stretch on a neighbour's land, else one a line; none on a site that shows no neighbour.
    """
    from shapely.geometry import Point

    rule, words = rules.CLEAR_OF_NEIGHBOUR, scene.words
    area = scene.areas.get("neighbour")
    found = []
    for name, walk in scene.walks.items():
        if area is None:
            continue
        out = [
            plain(
                rule,
                name,
                "broken",
                f"{words.far(end - start)} of it lies on a neighbour's land",
                where=words.stations(start, end),
                value=end - start,
            )
            for start, end in stretches_inside(walk.corners, walk.at, area)
        ]
        outlet = scene.outlets.get(walk.line.end)
        if outlet is not None and not out and area.contains(Point(outlet.x, outlet.y)):
            out.append(
                plain(
                    rule,
                    name,
                    "broken",
                    f"its outlet {outlet.name or outlet.id} lies on a neighbour's land",
                    where=words.station(0.0),
                    value=0.0,
                )
            )
        found += out or [plain(rule, name, "kept", "keeps off the neighbours' land", value=0.0)]
    return found


def clear_of_building(scene: Scene) -> list[Finding]:
    """Whether lines keep out of buildings, and their distance from foundations away from the source.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        A failure for each stretch inside a building, a flag for each that is too near, else one a line.
    """
    import shapely

    rule, words = rules.CLEAR_OF_BUILDING, scene.words
    area = scene.areas.get("building")
    found = []
    for name, walk in scene.walks.items():
        if area is None or area.is_empty:
            continue
        within = stretches_inside(walk.corners, walk.at, area.buffer(-INTO_WALL))
        bad = [
            (start, end)
            for start, end in within
            if not (end > walk.length - INTO_WALL and end - start <= DOWNSPOUT_IN_WALL)
        ]
        if bad:
            found += [
                plain(
                    rule,
                    name,
                    "broken",
                    f"{words.far(end - start)} of it runs inside a building",
                    where=words.stations(start, end),
                    value=end - start,
                )
                for start, end in bad
            ]
            continue
        away = shapely.distance(shapely.points(walk.x, walk.y), area)
        found += stations_reached(
            scene,
            rule,
            walk,
            away,
            walk.s < walk.length - NEAR_SOURCE,
            measure=HEIGHT,
            said="distance from a foundation",
            limit=scene.limit(rule),
            broken="flag",
            more="Keep out of the 45 degree plane under footings",
        )
    return found


def foundation_backfill(scene: Scene) -> list[Finding]:
    """Length of line in the loose fill round a foundation, beyond the straight way out.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One a line; none on a site without a building.
    """
    import shapely

    rule, words = rules.FOUNDATION_BACKFILL, scene.words
    area, band = scene.areas.get("building"), scene.limit(rule)
    found = []
    for name, walk in scene.walks.items():
        if area is None or area.is_empty:
            continue
        away = shapely.distance(shapely.points(walk.x, walk.y), area)
        if band is None:
            found.append(
                ruled(
                    scene,
                    rule,
                    name,
                    float(away.min()),
                    measure=DISTANCE,
                    said="distance from a foundation",
                    limit=None,
                    where="",
                )
            )
            continue
        places = stretches_near(walk, away, band)
        inside = length_of(places)
        straight = max(0.0, band - float(away[-1]))
        more = inside - straight
        over = f", {words.far(more)} more than the straight way out" if straight > 0 else ""
        if more > ASLANT * straight + ROUNDABOUT:
            text = (
                f"{words.far(inside)} of it lies in the loose fill within {words.far(band)} of a "
                f"foundation{over}: compact under the pipe, fall steeper there"
            )
            where = words.stretches(places)
            found.append(plain(rule, name, "broken", text, where=where, value=inside))
        else:
            text = (
                f"leaves the loose fill round the foundation by about the straight way ({words.far(inside)})"
                if inside
                else "keeps off the loose fill round foundations"
            )
            found.append(plain(rule, name, "kept", text, value=inside))
    return found


def stretches_near(
    walk: Walk, away: np.ndarray[tuple[int, ...], np.dtype[np.float64]], band: float
) -> tuple[Stretch, ...]:
    """Stretches of a line nearer to something than a distance.

    Parameters
    ----------
    walk : Walk
        The walked line.
    away : ndarray, shape (n,) [m]
        Distance at the samples.
    band : float
        The distance [m].

    Returns
    -------
    tuple of (float, float) [m]
        Ends set between samples where the distance passes the band.
    """
    found = []
    for first, last in runs_of_samples(away < band):
        start, end = float(walk.s[first]), float(walk.s[last])
        if first > 0:
            start -= (start - float(walk.s[first - 1])) * _share(band, away[first], away[first - 1])
        if last < len(away) - 1:
            end += (float(walk.s[last + 1]) - end) * _share(band, away[last], away[last + 1])
        found.append((start, end))
    return tuple(found)


def _share(band: float, near: float, far: float) -> float:
    """How far on the way from a place inside the band to one outside it the band ends."""
    return float((band - near) / (far - near))


def clear_of_no_dig(scene: Scene) -> list[Finding]:
    """Whether lines keep out of no-dig areas.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each stretch inside one, else one a line; none on a site without any.
    """
    rule, words = rules.CLEAR_OF_NO_DIG, scene.words
    area = scene.areas.get("no_dig")
    found = []
    for name, walk in scene.walks.items():
        if area is None:
            continue
        out = [
            plain(
                rule,
                name,
                "broken",
                f"{words.far(end - start)} of it runs through a no-dig area",
                where=words.stations(start, end),
                value=end - start,
            )
            for start, end in stretches_inside(walk.corners, walk.at, area)
        ]
        found += out or [plain(rule, name, "kept", "keeps out of the no-dig areas", value=0.0)]
    return found


def clear_of_trees(scene: Scene) -> list[Finding]:
    """Distance of lines from trees: 12 trunk diameters where the trunk is given, else the rule's limit.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each tree too near, else one a line at the tree with least to spare; none on a site without trees.
    """
    rule, words = rules.CLEAR_OF_TREES, scene.words
    trees = scene.site.of_kind("tree")
    found = []
    for name, walk in scene.walks.items():
        each = []
        for tree in trees:
            trunk = tree.attributes.get("diameter")
            limit = TRUNKS * float(trunk) if trunk else scene.limit(rule)
            at, away = nearest(walk, np.array([tree.geometry.x, tree.geometry.y]))
            title = tree.name or "a tree"
            one = ruled(
                scene,
                rule,
                f"{name}:tree {title}",
                away,
                measure=DISTANCE,
                said=f"distance from {title}",
                limit=limit,
                where=words.station(at),
                more="Go round, or cut no root thicker than a thumb",
            )
            each.append((away - limit if limit is not None else -np.inf, one))
        out = [one for _, one in each if one.status != "pass"]
        if each:
            found += out or [min(each, key=lambda pair: pair[0])[1]]
    return found


def nearest(walk: Walk, spot: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> tuple[float, float]:
    """Where a line is nearest to a place.

    Parameters
    ----------
    walk : Walk
        The walked line.
    spot : ndarray, shape (2,) [m]
        A place.

    Returns
    -------
    tuple of float
        Station and distance [m].
    """
    start, way = walk.corners[:-1], np.diff(walk.corners, axis=0)
    long = np.maximum((way**2).sum(axis=1), 1e-18)
    share = np.clip(((spot - start) * way).sum(axis=1) / long, 0.0, 1.0)
    away = np.hypot(*(start + share[:, None] * way - spot).T)
    piece = int(np.argmin(away))
    return float(walk.at[piece] + share[piece] * np.sqrt(long[piece])), float(away[piece])


def _outside(walk: Walk, inside: tuple[Stretch, ...]) -> tuple[Stretch, ...]:
    """What the inside stretches leave of a line."""
    start, left = 0.0, []
    for first, last in inside:
        left.append((start, first))
        start = max(start, last)
    left.append((start, walk.length))
    return tuple((a, b) for a, b in left if b - a > 1e-9)


def _permission(outlet: Outlet) -> str:
    if at_curb(outlet.kind):
        return "curb, walk and parkway work needs the road owner's permit"
    if into_pipe(outlet.kind):
        return "it needs the consent of whoever owns that pipe and that land"
    return "it needs the consent of whoever owns that land; an easement is not consent"
