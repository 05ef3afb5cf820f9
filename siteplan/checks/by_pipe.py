"""Walked lines in; findings on the least grade and cover that a table asks of their class and size of pipe, out."""

from __future__ import annotations

from itertools import pairwise

from siteplan.books import rules
from siteplan.books.pipe_limits import limit_of
from siteplan.checks.report import HEIGHT, plain, stations_reached
from siteplan.checks.scene import Scene
from siteplan.checks.ways import broken_by, verdict_of
from siteplan.values.told import Finding

_EXACT = 1e-6  # grade; inverts are written to the micrometre
_NO_RUN = 0.02  # m between two vertices under which a grade is none


def pipe_grade(scene: Scene) -> list[Finding]:
    """Least grade by class and size of pipe.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each piece too flat for its pipe, else one a line; none where the site allows it or no row speaks of the
        pipe.
    """
    rule, words = rules.PIPE_GRADE, scene.words
    verdict = verdict_of(scene, rule)
    if verdict in {None, "allow"}:
        return []
    found = []
    for name, walk in scene.walks.items():
        tight: list[tuple[float, Finding]] = []
        for lower, upper in pairwise(walk.line.vertices):
            run = upper.station - lower.station
            row = limit_of(rule.id, walk.line.pipe_at((lower.station + upper.station) / 2))
            if row is None or run < _NO_RUN:
                continue
            grade = (upper.invert - lower.invert) / run
            kept = grade >= row.limit - _EXACT
            text = (
                f"{words.percent(grade)}, {words.percent(row.limit)} or more asked of "
                f"{words.size(walk.line.pipe)}: {row.source}"
            )
            tight.append(
                (
                    grade - row.limit,
                    plain(
                        rule,
                        name,
                        "kept" if kept else "broken",
                        text,
                        where=words.stations(lower.station, upper.station),
                        value=100 * grade,
                        unit="percent",
                        limit=100 * row.limit,
                        broken=broken_by(verdict or "fail"),
                    ),
                )
            )
        out = [one for _, one in tight if one.status != "pass"]
        if tight:
            found += out or [min(tight, key=lambda pair: pair[0])[1]]
    return found


def pipe_cover(scene: Scene) -> list[Finding]:
    """Least cover by class and size of pipe, where lawn's is asked for.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        For each reach of one pipe: each stretch short of it, else the tightest place; none where the site allows it.
    """
    rule = rules.PIPE_COVER
    verdict = verdict_of(scene, rule)
    if verdict in {None, "allow"}:
        return []
    found = []
    for walk in scene.walks.values():
        reaches = [(one.station_from, one.station_to, one.pipe) for one in walk.line.reaches]
        for start, end, pipe in reaches or [(0.0, walk.length, walk.line.pipe)]:
            row = limit_of(rule.id, pipe)
            if row is None:
                continue
            mask = (walk.s >= max(start, walk.zone)) & (walk.s <= min(end, walk.head))
            found += stations_reached(
                scene,
                rule,
                walk,
                walk.cover,
                mask,
                measure=HEIGHT,
                doubt=scene.site.accuracy,
                said="cover",
                limit=row.limit,
                broken=broken_by(verdict or "fail"),
                more=row.source,
            )
    return found
