"""Outlets and rims in.

Findings on where the water goes after it leaves, and whether a sump takes its own water back, out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from siteplan.books import rules
from siteplan.books.kinds import at_curb, into_pipe, pumped
from siteplan.books.practice import LEAVES_WALL_WITHIN
from siteplan.checks.downhill import Come, comes_down_to, standing_ground, walked_down
from siteplan.checks.outlet_ends import carried, on_the_lot
from siteplan.checks.ponding import line_rims
from siteplan.checks.report import DISTANCE, DROP, plain, ruled
from siteplan.checks.sampling import ground_at
from siteplan.checks.scene import Scene
from siteplan.checks.walk import Floats
from siteplan.units import FOOT
from siteplan.values.flows_worked import Met
from siteplan.values.lines import Line
from siteplan.values.told import Finding
from siteplan.values.water_ends import Outlet, Source

HARM = {
    "foundation": "a foundation",
    "own sump": "the sump it came from",
    "neighbour": "a neighbour's land",
    "walk": "a walk",
    "lot line": "the lot line",
}
GOOD = {"curb": "the curb", "easement": "an easement"}
_SAME_WAY = 0.25  # of a cell; the recheck looks along each step in tenths, 0.14 of a cell on a diagonal
WALL_REACH = 10 * FOOT  # IRC R401.3 speaks of the first 10 ft


def overflow_path(scene: Scene) -> list[Finding]:
    """Where the water goes after each outlet, and where it comes out when the outlet is blocked.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        Two for each line that ends at an outlet.

    References
    ----------
    Steepest descent over the surveyed grid, `siteplan.checks.downhill`.
    """
    z = standing_ground(scene)
    own = dict(on_the_lot(scene))
    found = []
    for name, walk in scene.walks.items():
        outlet = scene.outlets.get(walk.line.end)
        if outlet is None:
            continue
        found.append(_after(scene, z, name, outlet, on_lot=name in own))
        found.append(_blocked(scene, z, walk.line))
    return found


def _first(met: list[Come]) -> Come | None:
    """The first harm, when no good end comes before it; a foundation anywhere on the way on the lot."""
    for one in met:
        if one.what in GOOD:
            return None
        if one.what in HARM:
            return one
    return None


def _after(scene: Scene, z: Floats, name: str, outlet: Outlet, *, on_lot: bool) -> Finding:
    rule, words = rules.OVERFLOW_PATH, scene.words
    title, where = outlet.name or outlet.id, words.station(0.0)
    subject = f"{name}:after {title}"
    if at_curb(outlet.kind):
        return plain(rule, subject, "kept", f"after it leaves {title} the water runs in the gutter", where=where)
    if into_pipe(outlet.kind):
        return plain(rule, subject, "kept", f"after it leaves at {title} the water is in the old pipe", where=where)
    way = walked_down(scene, z, outlet.x, outlet.y)
    if len(way) < 2:
        return plain(
            rule,
            subject,
            "cannot tell",
            f"the ground at {title} is not known, so where its water goes is not known",
            where=where,
        )
    met = _met_after(scene, outlet, way)
    told = _told(scene, met)
    back = next((one for one in met if one.what in {"foundation", "own sump"}), None)
    gone = next((one for one in met if one.what in {"curb", "lot line", "easement"}), None)
    if back is not None and (gone is None or back.distance < gone.distance):
        text = f"after it leaves {title} the water {told}: move the outlet, or regrade"
        return plain(
            rule, subject, "broken", text, where=where, value=back.distance, limit=scene.limit(rule), broken="fail"
        )
    harm = _first(met)
    if not on_lot or harm is None:
        off = "" if on_lot else " (not on the lot's own surface: judged by consent or permit)"
        return plain(rule, subject, "kept", f"after it leaves {title} the water {told}{off}", where=where)
    return ruled(
        scene,
        rule,
        subject,
        harm.distance,
        measure=DISTANCE,
        limit=scene.limit(rule),
        where=where,
        said=f"after it leaves {title} the water {told}: way on the lot",
        more="Move the outlet, or ask for consent",
    )


def _met_after(scene: Scene, outlet: Outlet, way: Floats) -> list[Come]:
    """What the water that leaves an outlet comes to."""
    water = scene.plan.water
    stated = next((one.meets for one in water.paths if one.outlet == outlet.id), ()) if water is not None else ()
    return _as_stated(scene, comes_down_to(scene, way), stated)


def _as_stated(scene: Scene, found: Iterable[Come], stated: Sequence[Met]) -> list[Come]:
    """What the recheck finds, at the plan's own distance where both agree: one length is told as one figure."""
    settled = []
    for one in found:
        same = [met.distance for met in stated if met.kind == one.what]
        nearest = min(same, key=lambda distance: abs(distance - one.distance), default=math.inf)
        agrees = abs(nearest - one.distance) <= _SAME_WAY * scene.site.grid.cell
        settled.append(one._replace(distance=nearest) if agrees else one)
    return settled


def _told(scene: Scene, met: list[Come]) -> str:
    if not met:
        return "meets nothing that the survey shows"
    words = [f"{(HARM | GOOD)[one.what]} after {scene.words.far(one.distance)}" for one in met[:3]]
    return f"comes first to {words[0]}" + (f", then {', '.join(words[1:])}" if words[1:] else "")


def _blocked(scene: Scene, z: Floats, line: Line) -> Finding:
    rule, words = rules.OVERFLOW_PATH, scene.words
    subject, rims = f"{line.id}:blocked", line_rims(scene, line)
    if not rims:
        text = (
            "with its outlet blocked or frozen the water has no known way out: it would find a joint, or the "
            "pit; give it an overflow at a known rim"
        )
        return plain(rule, subject, "broken", text, broken="fail")
    level, source = rims[0]
    next_up = next((rim for rim, _ in rims[1:] if rim > level), None)
    text = (
        f"blocked or frozen, its water stands at {words.elevation(level)} and comes out first at "
        f"{source.name or source.id}"
    )
    if next_up is not None:
        text += f", {words.drop(next_up - level)} below the next rim"
    way = walked_down(scene, z, source.x, source.y)
    if len(way) < 2:
        return plain(rule, subject, "cannot tell", f"{text}; the ground there is not known", where="at the source")
    water = scene.plan.water
    stated = next((one.meets for one in water.blocked if one.line == line.id), ()) if water is not None else ()
    met = [
        one
        for one in _as_stated(scene, comes_down_to(scene, way), stated)
        if one.what not in {"foundation", "own sump"}
    ]
    wall = _along_wall(scene, way)
    if wall is not None:
        text += f"; there it runs along the foundation for {words.far(wall)}: lead it away"
        return plain(rule, subject, "broken", text, where="at the source", value=wall, limit=LEAVES_WALL_WITHIN)
    return plain(rule, subject, "kept", f"{text}; from there it {_told(scene, met)}", where="at the source")


def _along_wall(scene: Scene, way: Floats) -> float | None:
    """Length of way beside a foundation, when it is more than leaving it takes."""
    import shapely

    building = scene.areas.get("building")
    if building is None:
        return None
    near = shapely.distance(shapely.points(way), building) <= max(0.5, scene.site.grid.cell)
    steps = np.hypot(*np.diff(way, axis=0).T)
    beside = float(steps[near[1:]].sum())
    return beside if beside > LEAVES_WALL_WITHIN else None


def _sumps_on_lot(scene: Scene) -> list[tuple[str, Outlet, Source]]:
    """Lines that end on the lot's own surface, with each sump they carry."""
    return [
        (name, outlet, source)
        for name, outlet in on_the_lot(scene)
        for source in scene.site.sources
        if pumped(source.kind) and source.id in carried(scene, scene.lines[name])
    ]


def sump_way_back(scene: Scene) -> list[Finding]:
    """Whether pumped water walks back to the footing.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each sump whose outlet lies on the lot's own surface.

    References
    ----------
    Ground at the wall against ground at the outlet, and steepest descent from the outlet.
    """
    rule, words, found = rules.SUMP_WAY_BACK, scene.words, []
    z = standing_ground(scene)
    for name, outlet, source in _sumps_on_lot(scene):
        subject, where = f"{source.id}:{name} to {outlet.name or outlet.id}", words.station(0.0).of(name)
        way = walked_down(scene, z, outlet.x, outlet.y)
        met = _met_after(scene, outlet, way)
        back = next((one for one in met if one.what in {"foundation", "own sump"}), None)
        gone = next((one for one in met if one.what in {"curb", "lot line", "easement"}), None)
        if back is not None and (gone is None or back.distance < gone.distance):
            text = (
                f"water from {outlet.name or outlet.id} {_told(scene, met)}: the pump pumps it again; move the "
                "outlet downhill and regrade"
            )
            found.append(plain(rule, subject, "broken", text, where=where, value=back.distance))
            continue
        ground = float(ground_at(scene.site.grid, np.array([outlet.x]), np.array([outlet.y]))[0])
        if not math.isfinite(ground):
            found.append(plain(rule, subject, "cannot tell", "the ground at the outlet is not known", where=where))
            continue
        found.append(
            ruled(
                scene,
                rule,
                subject,
                (source.pit or (0.0, 0.0, source.ground))[2] - ground,
                measure=DROP,
                limit=0.0,
                sense="at least",
                where=where,
                doubt=math.sqrt(2) * scene.site.accuracy,
                said="the ground at the outlet lies below the ground at the wall by",
                more="Pumped water walks back to the footing: move the outlet downhill, and regrade",
            )
        )
    return found


def wall_fall(scene: Scene) -> list[Finding]:
    """Fall of the ground from the wall at a sump towards its outlet.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each sump whose outlet lies on the lot's own surface, where the ground between is known.

    References
    ----------
    IRC R401.3: 6 in within the first 10 ft; in proportion where the outlet is nearer.
    """
    rule, words, found = rules.WALL_FALL, scene.words, []
    for _, outlet, source in _sumps_on_lot(scene):
        east, north, wall = source.pit or (source.x, source.y, source.ground)
        away = math.hypot(outlet.x - east, outlet.y - north)
        if away <= 0:
            continue
        reach = min(away, WALL_REACH)
        x, y = east + (outlet.x - east) * reach / away, north + (outlet.y - north) * reach / away
        ground = float(ground_at(scene.site.grid, np.array([x]), np.array([y]))[0])
        limit = scene.limit(rule)
        if not math.isfinite(ground):
            continue
        found.append(
            ruled(
                scene,
                rule,
                f"{source.id}:towards {outlet.name or outlet.id}",
                wall - ground,
                measure=DROP,
                limit=None if limit is None else limit * reach / WALL_REACH,
                doubt=math.sqrt(2) * scene.site.accuracy,
                said=f"fall of the ground in the first {words.far(reach)} from the wall",
                where="at the source",
                more="Regrade so that the ground falls away",
            )
        )
    return found
