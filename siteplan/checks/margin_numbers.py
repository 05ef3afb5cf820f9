"""A walked line in; the margins that its plan states and that the recheck finds otherwise, out."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from siteplan.books import rules
from siteplan.books.practice import READING_SPREAD
from siteplan.checks.outlet_ends import control_of, fall_to_spare
from siteplan.checks.scene import Scene, heavy_at
from siteplan.checks.walk import Flags, Walk
from siteplan.checks.walls import crossing_heights
from siteplan.values.lines import Margin

Stated = tuple[str, str, float | None, float | None, str]
_HELD = 0.005  # m: heights between two samples
_SPACING = 0.05  # m between samples
_STEEPEST = 0.25  # a steeper piece is a drop [-]
_SCANS = 0.02  # m: the same, and two scans of one curb (`TWO_SCANS`)
_GRADE = 5e-5  # ratio: half of the last printed digit of a percentage
_ASKED = 2e-6  # m and ratio: written to the micrometre
_SPARE = 0.02  # m: a stated fall to spare may be so much less than the recheck's
_SAME_RUN = 1e-4  # two pieces whose grades differ by less are one run [-]
_EDGE = 1e-6  # m
_COVERS = tuple(
    rule.id
    for rule in (rules.MIN_COVER, rules.OUTLET_ZONE_COVER, rules.MIN_COVER_PAVEMENT, rules.MIN_COVER_PAVEMENT_HEAVY)
)


def margin_mismatches(scene: Scene, walk: Walk) -> Iterator[Stated]:
    """Whether a line holds the margins that its plan states, and lacks what it says it lacks.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    walk : Walk
        A walked line.

    Yields
    ------
    tuple
        Subject, quantity, what the plan states, what it should be (None: no figure can be right), where.
    """
    line, found = walk.line, _found(scene, walk)
    if not line.margins:
        return  # a plan that states none
    covers = [one for one in line.margins if one.rule in _COVERS]
    rest = [one.rule for one in line.margins if one.rule not in _COVERS]
    own = {rule for rule in found if rule not in _COVERS}
    if (
        len(covers) > 1
        or len(set(rest)) < len(rest)
        or set(rest) != own
        or bool(covers) != any(r in found for r in _COVERS)
    ):
        yield (line.id, "margins stated", float(len(line.margins)), float(len(own) + bool(covers)), "")
        return
    tightest = min((found[rule] for rule in _COVERS if rule in found), default=None)
    for margin in line.margins:
        if margin.rule not in found:
            yield (line.id, f"margin of {margin.rule}", margin.held, None, "")
            continue
        held = tightest if margin.rule in _COVERS and tightest is not None else found[margin.rule]
        yield from _of_one(scene, walk, margin, held)


def _of_one(scene: Scene, walk: Walk, margin: Margin, held: float) -> Iterator[Stated]:
    name, rule = walk.line.id, margin.rule
    where = "" if margin.station is None else scene.words.station(margin.station)
    grade = rule == rules.MIN_GRADE.id
    unit, by = ("[%]", 100) if grade else ("[m]", 1)
    steep = float(np.max(np.abs(np.diff(walk.z)) / np.maximum(np.diff(walk.s), _EDGE), initial=0.0))
    between = _HELD + _SPACING * min(steep, _STEEPEST)  # two ways of sampling a steep run up to the edge of a zone
    near = _GRADE if grade else _SCANS if rule == rules.OUTLET_CONTROL.id else between
    if not abs(margin.held - held) <= near:
        yield (name, f"margin of {rule} {unit}", margin.held * by, held * by, where)
    asked = _asked(scene, walk, rule)
    if not abs(margin.asked - asked) <= _ASKED:
        yield (name, f"margin asked of {rule} {unit}", margin.asked * by, asked * by, where)
    # in between, what is written to the micrometre does not tell
    lacks, holds = margin.held < margin.asked - 2 * _ASKED, margin.held >= margin.asked
    if holds if margin.short_of is not None else lacks:
        yield (name, f"margin of {rule} that is lacking {unit}", (margin.asked - margin.held) * by, None, where)
    if not math.isfinite(margin.cost):
        yield (name, f"cost of the margin of {rule}", margin.cost, None, where)
    if margin.short_of == "fall" and rule != rules.MAX_DEPTH.id:
        spare = fall_to_spare(scene, walk.line)
        most = sum(_asked(scene, walk, each) for each in (rules.MIN_COVER.id, rules.OUTLET_CONTROL.id))
        most += _asked(scene, walk, rules.MIN_GRADE.id) * walk.length
        if spare is not None and spare > most + _SPARE:
            yield (name, f"fall to spare where {rule} lacks it [m]", most, spare, where)
    if margin.short_of == "drawn" and not walk.line.own:
        yield (name, f"margin of {rule} given up for a drawn line {unit}", margin.held * by, None, where)


def _asked(scene: Scene, walk: Walk, rule: str) -> float:
    """What the doubt behind a limit asks for the site's certainty."""
    sigma = _deviations(scene.site.laying.certainty)
    if rule == rules.MIN_GRADE.id:
        return sigma * READING_SPREAD / walk.length
    if rule == rules.LINES_CROSS.id:
        return sigma * READING_SPREAD
    if rule == rules.OUTLET_CONTROL.id:
        outlet, _ = scene.way_out(walk.line)
        if outlet is not None and control_of(scene, outlet)[1]:
            return sigma * min([shot.accuracy for shot in scene.site.shots] or [scene.site.accuracy])
    return sigma * scene.site.accuracy


def _deviations(certainty: float) -> float:
    """Standard deviations below which a normal value lies with a certainty: erf turned round by halving."""
    low, high = 0.0, 10.0
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if (1 + math.erf(middle / math.sqrt(2))) / 2 < certainty else (low, middle)
    return (low + high) / 2


def _found(scene: Scene, walk: Walk) -> dict[str, float]:
    """Margin to each limit that the line has."""
    limit = {rule.id: scene.limit(rule) for rule in (rules.MIN_GRADE, rules.MAX_DEPTH, rules.LINES_CROSS)}
    found = _covers(scene, walk)
    rise, run = np.diff(walk.inverts), np.diff(walk.at)
    grades = rise[run > 0] / run[run > 0]
    least = max(limit[rules.MIN_GRADE.id] or 0.0, 1e-4)
    found[rules.MIN_GRADE.id] = float(grades.min()) - least
    outlet = scene.outlets.get(walk.line.end)
    if outlet is not None:
        control, _ = control_of(scene, outlet)
        turn = next((k for k in range(1, len(grades)) if abs(grades[k] - grades[0]) > _SAME_RUN), len(grades))
        long = np.flatnonzero(run > 0)[turn - 1] + 1
        found[rules.OUTLET_CONTROL.id] = float(walk.inverts[long] - least * walk.at[long]) - control
    known = np.isfinite(walk.depth)
    if known.any() and limit[rules.MAX_DEPTH.id] is not None:
        found[rules.MAX_DEPTH.id] = float(limit[rules.MAX_DEPTH.id] or 0.0) - float(walk.depth[known].max())
    heights = crossing_heights(scene, walk)
    if heights:
        found[rules.LINES_CROSS.id] = min(heights) - (limit[rules.LINES_CROSS.id] or 0.0)
    return found


def _covers(scene: Scene, walk: Walk) -> dict[str, float]:
    plain, relieved = rules.pavement_covers(scene.site.rules)
    heavy = heavy_at(scene, walk) & (relieved is not None)
    driven = walk.beneath("vehicles")
    told = driven & (heavy | (plain is not None))
    parts: list[tuple[str, float | None, Flags]] = [
        (
            _COVERS[0],
            scene.limit(rules.MIN_COVER),
            (walk.s >= walk.zone - _EDGE) & (walk.s <= walk.head + _EDGE) & ~told,
        ),
        (_COVERS[1], scene.limit(rules.OUTLET_ZONE_COVER), (walk.s > walk.stretch) & (walk.s < walk.zone - _EDGE)),
        (_COVERS[2], plain, told & ~heavy),
        (_COVERS[3], relieved, told & heavy),
    ]
    found = {}
    for rule, limit, where in parts:
        use = where & np.isfinite(walk.cover)
        if limit is not None and use.any():
            found[rule] = float(walk.cover[use].min()) - limit
    return found
