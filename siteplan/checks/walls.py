"""The walked lines in.

Findings out on retaining walls, on faces that heights alone show, and on lines that cross each other.
"""

from __future__ import annotations

import itertools
import math

import numpy as np

from siteplan.books import rules
from siteplan.checks.crossings import cuts
from siteplan.checks.report import DISTANCE, HEIGHT, IN_PERCENT, plain, ruled, stations_reached
from siteplan.checks.sampling import ground_at
from siteplan.checks.scene import Scene
from siteplan.checks.walk import Flags, Floats, Walk, runs_of_samples
from siteplan.site import Feature
from siteplan.units import FOOT
from siteplan.values.told import Finding

_AT_END = 0.02  # m; a wall met this near a line's end is touched there, not gone through
_FACE = 1 * FOOT  # height from which steep ground is a face
SIDE = 0.75  # m looked up and down the slope
JOINED = 0.1  # m; lines meet at a join this near to the end of one of them


def wall_crossed(scene: Scene) -> list[Finding]:
    """Retaining walls that lines go through or come near to, and ground that is drawn across one.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        A failure for each wall gone through, a flag for each stretch too near or on ground drawn from a wall's top to
        its toe, else one a line; none on a site without walls.
    """
    import shapely

    rule, words = rules.WALL_CROSSED, scene.words
    walls = scene.site.of_kind("wall")
    found = []
    for name, walk in scene.walks.items():
        if not walls:
            continue
        out = []
        for wall in walls:
            title = wall.name or "a retaining wall"
            for cut in cuts(walk, wall.geometry):
                if _AT_END < cut.station < walk.length - _AT_END:
                    text = (
                        f"goes through {title}: no line is laid through a retaining wall; go round it, or have it "
                        "designed"
                    )
                    out.append(
                        plain(
                            rule,
                            f"{name}:crossing {title}",
                            "broken",
                            text,
                            where=words.station(cut.station),
                            value=0.0,
                        )
                    )
        if not out:
            away = shapely.distance(
                shapely.points(walk.x, walk.y), shapely.union_all([wall.geometry for wall in walls])
            )
            out = stations_reached(
                scene,
                rule,
                walk,
                away,
                np.ones(len(away), bool),
                measure=DISTANCE,
                said="distance from a retaining wall",
                limit=scene.limit(rule),
                broken="flag",
                more="The trench takes the ground from beside it: ask an engineer",
            )
            drawn = np.any([_drawn_across(scene, walk, wall) for wall in walls], axis=0)
            for first, last in runs_of_samples(drawn):
                text = (
                    "cannot tell: the ground there is drawn straight from the top of a retaining wall to its "
                    "toe: shoot both sides of the wall"
                )
                out.append(
                    plain(rule, name, "broken", text, where=words.stations(walk.s[first], walk.s[last]), broken="flag")
                )
        found += out
    return found


def _drawn_across(scene: Scene, walk: Walk, wall: Feature) -> Flags:
    """Samples between four grid centres that do not all stand on one side of a wall."""
    import shapely
    from shapely.geometry import box

    grid = scene.site.grid
    row, col = grid.to_index(walk.x, walk.y)
    squares = np.column_stack((np.floor(row), np.floor(col)))
    paths = [
        shapely.LineString(np.column_stack(grid.to_index(*shapely.get_coordinates(part).T)))
        for part in shapely.get_parts(wall.geometry)
    ]
    met = {
        (r, c)
        for r, c in np.unique(squares, axis=0).tolist()
        if any(box(r, c, r + 1, c + 1).intersects(path) for path in paths)
    }
    return np.array([(r, c) in met for r, c in squares.tolist()], bool)


def steep_ground(scene: Scene) -> list[Finding]:
    """Ground along the lines that is steeper than a bank stands, over the height of a face.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each stretch, else one a line.
    """
    rule, words = rules.STEEP_GROUND, scene.words
    limit = scene.limit(rule)
    found = []
    for name, walk in scene.walks.items():
        slope, high = _slopes(scene, walk)
        known = np.isfinite(slope)
        if not known.any():
            continue
        if limit is None:
            worst = int(np.nanargmax(slope))
            found.append(
                ruled(
                    scene,
                    rule,
                    name,
                    float(slope[worst]),
                    measure=IN_PERCENT,
                    said="slope of the ground",
                    limit=None,
                    where=words.station(walk.s[worst]),
                )
            )
            continue
        face = known & (slope > limit) & (high >= _FACE)
        out = []
        for first, last in runs_of_samples(face):
            tall = float(high[first : last + 1].max())
            text = (
                f"the ground stands at {words.percent(float(slope[first : last + 1].max()))} over "
                f"{words.small(tall)} of height: a wall or a face may stand here. Look, and draw it on the survey"
            )
            out.append(
                plain(
                    rule,
                    name,
                    "broken",
                    text,
                    where=words.stations(walk.s[first], walk.s[last]),
                    value=float(slope[first : last + 1].max() * 100),
                    limit=limit * 100,
                    unit="percent",
                )
            )
        found += out or [
            plain(rule, name, "kept", "no face stands in the ground along it", limit=limit * 100, unit="percent")
        ]
    return found


def _slopes(scene: Scene, walk: Walk) -> tuple[Floats, Floats]:
    """Slope of the ground at the samples [-], and its height from 0.75 m down the slope to 0.75 m up it [m]."""
    grid = scene.site.grid
    half = grid.cell / 2
    east = (ground_at(grid, walk.x + half, walk.y) - ground_at(grid, walk.x - half, walk.y)) / grid.cell
    north = (ground_at(grid, walk.x, walk.y + half) - ground_at(grid, walk.x, walk.y - half)) / grid.cell
    slope = np.hypot(east, north)
    way = np.maximum(slope, 1e-12)
    low = np.full(len(slope), np.inf)
    high = np.full(len(slope), -np.inf)
    for off in np.linspace(-SIDE, SIDE, 13):
        z = ground_at(grid, walk.x + off * east / way, walk.y + off * north / way)
        low, high = np.fmin(low, z), np.fmax(high, z)
    return slope, np.where(np.isfinite(high - low), high - low, 0.0)


def lines_cross(scene: Scene) -> list[Finding]:
    """Clear height between lines where they meet in plan without joining, over the pipes that lie there.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each line of a pair that meets, at their tightest place; none where lines do not meet.
    """
    found = []
    for one, other in itertools.combinations(scene.walks.values(), 2):
        places = [(s, t) for s, t in crossing_places(one, other) if not _is_join(one, other, s, t)]
        if not places:
            continue
        gaps = [_clear(one, other, s, t) for s, t in places]
        tight = int(np.argmin(gaps))
        s, t = places[tight]
        found += [_crossed(scene, one, other, (s, t), gaps[tight]), _crossed(scene, other, one, (t, s), gaps[tight])]
    return found


def crossing_heights(scene: Scene, walk: Walk) -> list[float]:
    """Clear heights at every place where a line crosses another without joining it.

    Parameters
    ----------
    scene : Scene
        For the other lines.
    walk : Walk
        The line.

    Returns
    -------
    list of float
        Outside to outside [m]; below 0 the pipes meet.
    """
    return [
        _clear(walk, other, s, t)
        for other in scene.walks.values()
        if other is not walk
        for s, t in crossing_places(walk, other)
        if not _is_join(walk, other, s, t)
    ]


def _crossed(scene: Scene, walk: Walk, other: Walk, at: tuple[float, float], gap: float) -> Finding:
    """What one line of a pair bears of their crossing, at its own station and the other's."""
    rule, words = rules.LINES_CROSS, scene.words
    subject, where = f"{walk.line.id}:crossing {other.line.id}", words.station(at[0])
    met = f"crosses {other.line.id} (its {words.station(at[1])})"
    if gap >= 0:
        return ruled(
            scene,
            rule,
            subject,
            gap,
            measure=HEIGHT,
            said=f"{met} with a clear height of",
            limit=scene.limit(rule),
            where=where,
            more="The upper pipe has no bed of its own there",
        )
    text = f"{met} and the pipes meet, {words.small(-gap)} of overlap: they cannot both lie there as drawn"
    return plain(rule, subject, "broken", text, where=where, value=gap, limit=scene.limit(rule))


def crossing_places(one: Walk, other: Walk) -> list[tuple[float, float]]:
    """Stations at which two lines meet in plan.

    Parameters
    ----------
    one, other : Walk
        Walked lines.

    Returns
    -------
    list of (float, float)
        Station on the one and on the other [m]; where they run on each other, the ends and the middle of the stretch.
    """
    found = []
    for i in range(len(one.corners) - 1):
        for j in range(len(other.corners) - 1):
            a, u = one.corners[i], one.corners[i + 1] - one.corners[i]
            b, v = other.corners[j], other.corners[j + 1] - other.corners[j]
            across = u[0] * v[1] - u[1] * v[0]
            lone, ltwo = math.hypot(*u), math.hypot(*v)
            if lone < 1e-9 or ltwo < 1e-9:
                continue
            gap = b - a
            if abs(across) > 1e-9 * lone * ltwo:
                s = (gap[0] * v[1] - gap[1] * v[0]) / across
                t = (gap[0] * u[1] - gap[1] * u[0]) / across
                if -1e-9 <= s <= 1 + 1e-9 and -1e-9 <= t <= 1 + 1e-9:
                    found.append((float(one.at[i] + s * lone), float(other.at[j] + t * ltwo)))
            elif abs(u[0] * gap[1] - u[1] * gap[0]) / lone < 1e-3:
                ends = sorted((float(gap @ u) / lone, float((gap + v) @ u) / lone))
                low, high = max(0.0, ends[0]), min(lone, ends[1])
                if high - low > 1e-3:
                    sense = math.copysign(1.0, float(u @ v))
                    found += [
                        (float(one.at[i] + s), float(other.at[j] + (s - float(gap @ u) / lone) * sense))
                        for s in (low, (low + high) / 2, high)
                    ]
    return found


def _is_join(one: Walk, other: Walk, s: float, t: float) -> bool:
    if one.line.end == other.line.id and s < JOINED:
        return True
    if other.line.end == one.line.id and t < JOINED:
        return True
    if one.line.end != other.line.end:
        return False
    # two lines that end at one outlet, or at one place of a line, meet there
    return s < JOINED and t < JOINED


def _clear(one: Walk, other: Walk, s: float, t: float) -> float:
    """Clear height between the pipes of two lines at stations of theirs; below 0 they meet [m]."""
    ends = []
    for walk, station in ((one, s), (other, t)):
        lies = walk.line.pipe_at(station)
        invert = walk.invert_at(station)
        ends.append((invert - (lies.od - lies.bore) / 2, invert + float(walk.rise_at(np.array([station]))[0])))
    (low, top), (under, over) = ends
    return max(low - over, under - top)
