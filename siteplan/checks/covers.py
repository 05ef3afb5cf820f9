"""The walked lines in; findings on cover, depth and known ground out: the line against the surveyed surface."""

from __future__ import annotations

import numpy as np

from siteplan.books import rules
from siteplan.books.kinds import at_curb, into_pipe
from siteplan.books.practice import CURB_AND_GUTTER
from siteplan.books.rules import Rule
from siteplan.checks.report import DROP, HEIGHT, plain, stations_reached
from siteplan.checks.scene import Scene, heavy_at, pavement_asked
from siteplan.checks.walk import Flags, Walk, runs_of_samples
from siteplan.values.told import Finding

CURB_LIFT = 0.02  # m over the least grade up from a curb hole; two ways of finding it agree to this
AT_EDGE = 1e-6  # m, a zone's own edge belongs to the stricter side


def min_cover(scene: Scene) -> list[Finding]:
    """Cover in lawn and under walks, between the outlet zone and the start zone.

    Under vehicles the pavement's rule stands instead, unless its limit is not known.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each stretch short of cover, else one a line at the least.
    """
    found = []
    for walk in scene.walks.values():
        mask = _between_zones(walk)
        mask &= ~(walk.beneath("vehicles") & np.isfinite(pavement_asked(scene, walk)))
        found += stations_reached(
            scene,
            rules.MIN_COVER,
            walk,
            walk.cover,
            mask,
            measure=HEIGHT,
            said="cover",
            doubt=scene.site.accuracy,
            limit=scene.limit(rules.MIN_COVER),
            more="Lower the line, or take a heavier pipe where the site's rules allow it",
        )
    return found


def min_cover_pavement(scene: Scene) -> list[Finding]:
    """Cover under a driveway or vehicle paving where no heavy pipe lies, at both edges and between.

    In the outlet zone too.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        For each stretch under vehicles: one at its least cover, or one for each part that is short.
    """
    plain, relieved = rules.pavement_covers(scene.site.rules)
    return _under_vehicles(
        scene,
        rules.MIN_COVER_PAVEMENT,
        plain,
        heavy=None if relieved is None else False,
        more="Heavy pipe there, or a sleeve, is allowed with less where the site's rules allow it",
    )


def min_cover_pavement_heavy(scene: Scene) -> list[Finding]:
    """Cover under a driveway or vehicle paving where heavy pipe lies.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        For each stretch of heavy pipe under vehicles, over that pipe's own top; none where the rule does not hold:
        there min-cover-pavement judges heavy pipe too.
    """
    _, relieved = rules.pavement_covers(scene.site.rules)
    if relieved is None:
        return []
    return _under_vehicles(
        scene,
        rules.MIN_COVER_PAVEMENT_HEAVY,
        relieved,
        heavy=True,
        more="Lower the line, or raise the pavement over it",
    )


def _under_vehicles(scene: Scene, rule: Rule, limit: float | None, *, heavy: bool | None, more: str) -> list[Finding]:
    found = []
    for name, walk in scene.walks.items():
        strong = heavy_at(scene, walk)
        for start, end in walk.under.get("vehicles", ()):
            mask = (walk.s >= start - AT_EDGE) & (walk.s <= end + AT_EDGE)
            if heavy is not None:
                mask &= strong if heavy else ~strong
            found += stations_reached(
                scene,
                rule,
                walk,
                walk.cover,
                mask,
                measure=HEIGHT,
                doubt=scene.site.accuracy,
                said=f"cover under pavement from {scene.words.stations(start, end)}",
                limit=limit,
                more=more,
                subject=f"{name}:crossing at {scene.words.station(start)}",
            )
    return found


def outlet_zone_cover(scene: Scene) -> list[Finding]:
    """Cover inside the outlet zone, upstream of the stretch where the pipe may show.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each stretch short of cover, else one a line; lines that join another have no outlet zone.
    """
    found = []
    for walk in scene.walks.values():
        mask = (walk.s > walk.stretch - AT_EDGE) & (walk.s < walk.zone - AT_EDGE)
        found += stations_reached(
            scene,
            rules.OUTLET_ZONE_COVER,
            walk,
            walk.cover,
            mask,
            measure=HEIGHT,
            doubt=scene.site.accuracy,
            said=_zone_words(scene, walk),
            limit=scene.limit(rules.OUTLET_ZONE_COVER),
            more="Lower the line, or carry the ground over it",
        )
    return found


def daylight_stretch(scene: Scene) -> list[Finding]:
    """The last stretch before an outlet, where the pipe may show but not lie on top of the ground.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One a line that ends at an outlet, with the length that shows.
    """
    rule, words = rules.DAYLIGHT_STRETCH, scene.words
    found = []
    for name, walk in scene.walks.items():
        outlet = scene.outlets.get(walk.line.end)
        seen = np.isfinite(walk.ground) & (walk.s <= walk.stretch + AT_EDGE)
        if outlet is None or into_pipe(outlet.kind) or not seen.any():
            continue
        allowance = scene.limit(rules.CURB_ALLOWANCE if at_curb(outlet.kind) else rules.DAYLIGHT_ALLOWANCE) or 0.0
        feature = scene.feature_of(outlet)
        given = feature.attributes.get("invert") if feature else None
        if given is not None and np.isfinite(walk.ground[0]):
            allowance = max(allowance, float(given) - float(walk.ground[0]))
        height = np.where(seen, walk.z - walk.ground, -np.inf)
        shows = seen & (walk.cover < 0)
        exposed = sum(walk.s[last] - walk.s[first] for first, last in runs_of_samples(shows))
        where = words.stations(0.0, min(walk.stretch, walk.length))
        on_top = height > allowance + scene.site.accuracy + HEIGHT.slack
        if on_top.any():
            worst = int(np.argmax(height))
            found.append(
                plain(
                    rule,
                    name,
                    "broken",
                    (
                        f"the invert is {words.small(height[worst])} above the ground, more than the "
                        f"{words.small(allowance)} of an outlet: the pipe lies on top"
                    ),
                    where=words.station(walk.s[worst]),
                    value=float(exposed),
                    limit=scene.limit(rule),
                )
            )
        elif at_curb(outlet.kind) and exposed > 0:
            found.append(_at_a_curb(scene, walk, seen, float(exposed)))
        elif exposed > 0:
            found.append(
                plain(
                    rule,
                    name,
                    "kept",
                    (
                        f"the pipe shows above the ground for {words.far(exposed)}, within the last "
                        f"{words.far(walk.stretch)} where it may: mound or armour it"
                    ),
                    where=where,
                    value=float(exposed),
                    limit=scene.limit(rule),
                )
            )
        else:
            found.append(
                plain(
                    rule,
                    name,
                    "kept",
                    "the pipe nowhere shows above the ground",
                    where=where,
                    value=0.0,
                    limit=scene.limit(rule),
                )
            )
    return found


def _at_a_curb(scene: Scene, walk: Walk, seen: Flags, exposed: float) -> Finding:
    """A pipe that shows before a curb.

    On the least grade up from its end the survey may be short of a curb, else it stands out.
    """
    rule, words = rules.DAYLIGHT_STRETCH, scene.words
    least = float(walk.inverts[0]) + (scene.limit(rules.MIN_GRADE) or 0.0) * walk.s
    out = seen & (walk.cover < -scene.site.accuracy) & (walk.z > least + CURB_LIFT) & (walk.s > AT_EDGE)
    where = words.stations(0.0, min(walk.stretch, walk.length))
    limit = scene.limit(rule)
    if out.any():
        worst = int(np.argmin(np.where(out, walk.cover, np.inf)))
        text = (
            f"the pipe stands {words.small(-walk.cover[worst])} out of the ground behind the curb and falls "
            "steeply into the hole: lay it lower on an even grade"
        )
        return plain(rule, walk.line.id, "broken", text, where=words.station(walk.s[worst]), value=exposed, limit=limit)
    text = f"by the survey the pipe shows above the ground for {words.far(exposed)} behind the curb"
    if exposed <= CURB_AND_GUTTER:
        return plain(
            rule, walk.line.id, "kept", f"{text}, where the curb stands", where=where, value=exposed, limit=limit
        )
    text += "; a grid shows no curb: shoot its top and the ground behind it"
    return plain(rule, walk.line.id, "cannot tell", text, where=where, value=exposed, limit=limit)


def max_depth(scene: Scene) -> list[Finding]:
    """Depth of the invert below the ground.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each stretch too deep, else one a line at its deepest.
    """
    return [
        finding
        for walk in scene.walks.values()
        for finding in stations_reached(
            scene,
            rules.MAX_DEPTH,
            walk,
            walk.depth,
            np.ones(len(walk.s), dtype=bool),
            measure=DROP,
            said="invert below ground",
            limit=scene.limit(rules.MAX_DEPTH),
            doubt=scene.site.accuracy,
        )
    ]


def trench_ladder(scene: Scene) -> list[Finding]:
    """Trench depth from which a ladder is needed.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each stretch that deep, else one a line at its deepest.
    """
    return _trench(scene, rules.TRENCH_LADDER, "A ladder within 25 ft of every worker, spoil 2 ft back")


def trench_protection(scene: Scene) -> list[Finding]:
    """Trench depth from which the sides are shored, sloped or shielded.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each stretch that deep, else one a line at its deepest.
    """
    return _trench(scene, rules.TRENCH_PROTECTION, "Nobody enters an unprotected trench here")


def ground_known(scene: Scene) -> list[Finding]:
    """Whether the ground is known along the lines and at the sources.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each stretch over unknown ground, one for each source on it, else one a line.
    """
    rule, words = rules.GROUND_KNOWN, scene.words
    found = []
    guessed = {source.id: source for source in scene.plan.sources if not source.ground_known}
    for name, walk in scene.walks.items():
        blind = runs_of_samples(~np.isfinite(walk.ground))
        for first, last in blind:
            length = float(walk.s[last] - walk.s[first])
            found.append(
                plain(
                    rule,
                    name,
                    "broken",
                    f"the ground is not known for {words.far(length)}: cover and depth cannot be judged there",
                    where=words.stations(walk.s[first], walk.s[last]),
                    value=length,
                )
            )
        start = guessed.get(walk.line.start)
        if start is not None and not blind:
            found.append(
                plain(
                    rule,
                    name,
                    "broken",
                    f"starts at {start.name or start.id} on unknown ground; the nearest known height was taken",
                    where=words.station(walk.length),
                )
            )
        if not blind and start is None:
            found.append(
                plain(
                    rule,
                    name,
                    "kept",
                    f"the ground is known along all {words.far(walk.length)}",
                    where=words.stations(0.0, walk.length),
                    value=0.0,
                )
            )
    found += [
        plain(
            rule,
            source.id,
            "broken",
            (
                f"{source.name or source.id} stands on unknown ground; the nearest known height was taken: shoot "
                "the ground there"
            ),
            where="at the source",
        )
        for source in guessed.values()
    ]
    return found


def trench_depth(scene: Scene, walk: Walk) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Depth of the trench: ground minus invert, plus one wall of the pipe that lies there and the bedding.

    Parameters
    ----------
    scene : Scene
        For the bedding.
    walk : Walk
        The walked line.

    Returns
    -------
    ndarray, shape (n,) [m]
        NaN where the ground is not known.
    """
    return walk.depth + walk.wall_below(walk.s) + rules.needed(scene.site.rules, rules.BEDDING)


def _trench(scene: Scene, rule: Rule, more: str) -> list[Finding]:
    return [
        finding
        for walk in scene.walks.values()
        for finding in stations_reached(
            scene,
            rule,
            walk,
            trench_depth(scene, walk),
            np.ones(len(walk.s), dtype=bool),
            measure=DROP,
            said="trench depth",
            limit=scene.limit(rule),
            doubt=scene.site.accuracy,
            more=more,
        )
    ]


def _between_zones(walk: Walk) -> Flags:
    """Samples where lawn cover is asked for; at the outlet's own end of a joined line too."""
    return (walk.s >= walk.zone - AT_EDGE) & (walk.s <= walk.head + AT_EDGE)


def _zone_words(scene: Scene, walk: Walk) -> str:
    asked = rules.needed(scene.site.rules, rules.MIN_COVER)
    thin = np.isfinite(walk.ground) & (walk.s <= walk.zone) & (walk.cover < asked)
    if not thin.any():
        return "cover in the outlet zone"
    reach = float(walk.s[thin].max())
    return (
        f"less than {scene.words.small(asked)} over pipe in the last {scene.words.far(reach)} (heavy pipe there, "
        "no tilling); where it may not show, cover"
    )
