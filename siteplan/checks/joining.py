"""Lines and sources in; findings on how they hang together out: joins, and whether every source is served."""

from __future__ import annotations

import numpy as np

from siteplan import units
from siteplan.books import rules
from siteplan.books.kinds import TITLES
from siteplan.checks.report import plain
from siteplan.checks.scene import Scene
from siteplan.checks.walk import Walk
from siteplan.values.lines import Line
from siteplan.values.told import Finding
from siteplan.values.water_ends import Source

AT_JOIN = 0.05  # m; a branch that ends farther from a vertex of its trunk joins it nowhere
_EXACT = 1e-6  # m
_AT_SOURCE = 0.3  # m; a line that starts farther away does not take the source's water


def joins(scene: Scene) -> list[Finding]:
    """Whether lines that join another end on a vertex of it, not below its invert, and are counted there.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each thing wrong, else one for each line that joins another; none for a line that ends at an outlet.
    """
    rule, words = rules.JOINS, scene.words
    found = []
    for line in scene.plan.lines:
        if line.end in scene.outlets:
            continue
        trunk = scene.lines.get(line.end)
        if trunk is None:
            found.append(
                plain(
                    rule,
                    line.id,
                    "broken",
                    f"ends at {line.end!r}, which is neither an outlet nor a line",
                    where=words.station(0.0),
                )
            )
            continue
        if scene.way_out(line)[0] is None:
            found.append(
                plain(rule, line.id, "broken", "the lines it joins lead to no outlet", where=words.station(0.0))
            )
        if line.id not in scene.walks or trunk.id not in scene.walks:
            continue
        out = _at_the_join(scene, scene.walks[line.id], scene.walks[trunk.id])
        lost = [name for name in line.sources if name not in trunk.sources]
        if lost:
            out.append(
                plain(
                    rule,
                    line.id,
                    "broken",
                    f"joins {trunk.id}, which does not list its source {', '.join(lost)}",
                    where=words.station(0.0),
                )
            )
        found += out
        if not out:
            found.append(
                plain(
                    rule,
                    line.id,
                    "kept",
                    f"joins {trunk.id} at a vertex of it, not below its invert",
                    where=words.station(0.0),
                )
            )
    return found


def _at_the_join(scene: Scene, walk: Walk, trunk: Walk) -> list[Finding]:
    rule, words = rules.JOINS, scene.words
    away = np.hypot(*(trunk.corners - walk.corners[0]).T)
    if away.min() > AT_JOIN:
        return [
            plain(
                rule,
                walk.line.id,
                "broken",
                f"ends {words.small(float(away.min()))} from the nearest vertex of {trunk.line.id}",
                where=words.station(0.0),
                value=float(away.min()),
            )
        ]
    low = float(trunk.inverts[away <= AT_JOIN].max()) - float(walk.inverts[0])
    if low > _EXACT:
        return [
            plain(
                rule,
                walk.line.id,
                "broken",
                f"joins {trunk.line.id} {words.small(low)} below its invert: water stands here",
                where=words.station(0.0),
                value=low,
            )
        ]
    return []


def served(scene: Scene) -> list[Finding]:
    """Whether every source's water is taken once and led to an outlet.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One a source, and one for each line that begins at no source of the survey.
    """
    known = {source.id for source in scene.site.sources} | {pump.source for pump in scene.site.pumps}
    strays = [
        plain(rules.SERVED, line.id, "broken", f"takes water from {', '.join(lost)}, which is no source of the survey")
        for line in scene.plan.lines
        if (lost := [name for name in dict.fromkeys((line.start, *line.sources)) if name not in known])
    ]
    return [*(_served(scene, source) for source in scene.site.sources), *strays]


def own_line(scene: Scene) -> list[Finding]:
    """Whether nothing else runs in the line of a source that asks for its own, from the source down to the outlet.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each such source that a line carries; what else runs there is read off the lines that end on its way.
    """
    found = []
    titles = {one.id: one.name or one.id for one in scene.site.sources}
    for source in scene.site.sources:
        begins = [line for line in scene.plan.lines if line.start == source.id or source.id in line.sources]
        if not scene.site.told_of(source).get("own_line") or not begins:
            continue
        way = {line.id for one in begins for line in (one, *scene.way_out(one)[1])}
        shared = {
            name
            for line in scene.plan.lines
            if line.id in way or line.end in way
            for name in (line.start, *line.sources)
        } - {source.id}
        others = ", ".join(sorted(titles.get(name, name) for name in shared))
        title = source.name or source.id
        found.append(
            plain(
                rules.OWN_LINE, source.id, "broken", f"{title} asks for a line of its own and shares it with {others}"
            )
            if others
            else plain(rules.OWN_LINE, source.id, "kept", f"{title} has a line of its own to the outlet")
        )
    return found


def outlet_takes(scene: Scene) -> list[Finding]:
    """Whether the water that comes to an outlet is of kinds that it takes and does not refuse.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each source whose water comes to an outlet that says what it takes.
    """
    found = []
    for source in scene.site.sources:
        for line in (one for one in scene.plan.lines if one.start == source.id or source.id in one.sources):
            outlet = scene.outlets.get(line.end)
            told = {} if outlet is None else scene.site.told_of(outlet)
            takes, refuses = told.get("takes") or (), told.get("refuses") or ()
            if outlet is None or not (takes or refuses):
                continue
            wrong = source.kind in refuses or bool(takes and source.kind not in takes)
            water = TITLES[source.kind].lower()
            text = f"{source.name or source.id}, {units.with_article(water)}, comes to {outlet.name or outlet.id}"
            found.append(
                plain(rules.OUTLET_TAKES, source.id, "broken", f"{text}, which does not take it", where=line.id)
                if wrong
                else plain(rules.OUTLET_TAKES, source.id, "kept", f"{text}, which takes it", where=line.id)
            )
    return found


def _served(scene: Scene, source: Source) -> Finding:
    rule, title = rules.SERVED, source.name or source.id
    carrying = [line for line in scene.plan.lines if source.id in line.sources or line.start == source.id]
    if not carrying:
        return plain(rule, source.id, "broken", f"no line carries {title}", where="at the source")
    feeding = {line.end for line in carrying}
    tops = [line for line in carrying if line.id not in feeding]
    if len(tops) > 1:
        return plain(
            rule,
            source.id,
            "broken",
            f"{title} is taken more than once: {', '.join(line.id for line in tops)}",
            where="at the source",
        )
    ends = [line for line in carrying if line.end in scene.outlets]
    if not tops or len(ends) != 1:
        return plain(
            rule, source.id, "broken", f"the lines that carry {title} lead to no outlet", where="at the source"
        )
    away = _distance(scene, tops[0], source)
    if away is None or away > _AT_SOURCE:
        gone = "cannot be walked" if away is None else f"starts {scene.words.far(away)} away from it"
        return plain(
            rule,
            source.id,
            "broken",
            f"line {tops[0].id} is said to carry {title} but {gone}",
            where="at the source",
            value=away,
        )
    outlet = scene.outlets[ends[0].end]
    way = "" if tops[0] is ends[0] else f" and {ends[0].id}"
    return plain(
        rule,
        source.id,
        "kept",
        f"{title} is led to {outlet.name or outlet.id} by {tops[0].id}{way}",
        where="at the source",
    )


def _distance(scene: Scene, line: Line, source: Source) -> float | None:
    """From a source to the start of the line that takes it, or to the nearest vertex if the line began elsewhere."""
    walk = scene.walks.get(line.id)
    if walk is None:
        return None
    corners = walk.corners[-1:] if line.start == source.id else walk.corners
    return float(np.hypot(*(corners - np.array([source.x, source.y])).T).min())
