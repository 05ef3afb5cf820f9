"""The walked lines in; findings on fall, grade, bends and cleanouts out: what follows from the vertices alone."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from siteplan.books import rules
from siteplan.books.fittings import fitting_words, made_by_several
from siteplan.books.practice import JOINTS_GIVE
from siteplan.books.rules import Rule
from siteplan.checks.report import ANGLE, DISTANCE, IN_PERCENT, plain, ruled
from siteplan.checks.scene import Scene
from siteplan.checks.walk import Floats, Walk, turn_at
from siteplan.units import FOOT
from siteplan.values.laid_pipe import Fitting, FittingKind
from siteplan.values.told import Finding

NO_LENGTH = 0.001  # m; two vertices nearer than this are one place, a drop between them is vertical
AT_A_TURN = 1.0  # m; a cleanout this near a turn serves it
HARD_TURN = 91.0  # degrees; no fitting of a drain turns more
HARD_JOIN = 138.0  # degrees; a wye's 45 and the two fittings of a hard turn
_WRITTEN = 1e-6  # m: what writing inverts and stations to a micrometre may take from a rise, or add to it
_BEND = ANGLE._replace(slack=JOINTS_GIVE)


class Runs(NamedTuple):
    """Straight pieces between vertices, by station. Pieces without length are left out."""

    start: Floats  # station of the downstream end [m]
    end: Floats
    rise: Floats  # invert upstream minus invert downstream [m]

    @property
    def grade(self) -> Floats:
        """Fall over length [-]."""
        return self.rise / (self.end - self.start)


def runs_of(walk: Walk) -> Runs:
    """Straight pieces of a line, from its vertices.

    Parameters
    ----------
    walk : Walk
        The walked line.

    Returns
    -------
    Runs
        Stations and rises [m].
    """
    start, end, rise = walk.at[:-1], walk.at[1:], np.diff(walk.inverts)
    long = end - start > NO_LENGTH
    return Runs(start[long], end[long], rise[long])


def continuous_fall(scene: Scene) -> list[Finding]:
    """Whether every piece of every line falls towards its outlet.

    Also no line starts higher than its source lets water in.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each level or rising piece and each start that is too high, else one a line.
    """
    rule, words = rules.CONTINUOUS_FALL, scene.words
    found = []
    for name, walk in scene.walks.items():
        runs = runs_of(walk)
        level = np.flatnonzero(runs.rise <= 0)
        steps = np.flatnonzero((np.diff(walk.at) <= NO_LENGTH) & (np.diff(walk.inverts) < 0))
        for piece in level:
            back = -runs.rise[piece]
            said = f"falls backward by {words.drop(back)}" if back > 0 else "is level"
            found.append(
                plain(
                    rule,
                    name,
                    "broken",
                    f"the pipe {said} on the way to its outlet: water stands here",
                    where=words.stations(runs.start[piece], runs.end[piece]),
                    value=float(runs.grade[piece]) * 100,
                    unit="percent",
                )
            )
        found += [
            plain(
                rule,
                name,
                "broken",
                "the invert steps up on the way to its outlet: water stands here",
                where=words.station(walk.at[step]),
            )
            for step in steps
        ]
        over = _over_its_source(scene, walk)
        found += over
        if not len(level) and not len(steps) and not over:
            least = int(np.argmin(runs.grade))
            fall = walk.inverts[-1] - walk.inverts[0]
            found.append(
                plain(
                    rule,
                    name,
                    "kept",
                    (
                        f"falls all the way: {words.seen(fall)} in {words.far(walk.length)}, nowhere less than "
                        f"{words.percent(runs.grade[least])}"
                    ),
                    where=words.stations(runs.start[least], runs.end[least]),
                    value=float(runs.grade[least]) * 100,
                    unit="percent",
                )
            )
    return found


def _over_its_source(scene: Scene, walk: Walk) -> list[Finding]:
    """A line that starts higher than the survey says that its source's water comes: it does not run in."""
    source = next((one for one in scene.site.sources if one.id == walk.line.start), None)
    if source is None or source.invert_limit is None:
        return []
    over, words = float(walk.inverts[-1]) - source.invert_limit, scene.words
    if over <= 2 * _WRITTEN:
        return []
    text = (
        f"starts {words.drop(over)} over the {words.elevation(source.invert_limit)} at which {source.name} lets "
        "water in: it does not run in"
    )
    where = words.station(walk.length)
    return [plain(rules.CONTINUOUS_FALL, walk.line.id, "broken", text, where=where, value=-over)]


def min_grade(scene: Scene) -> list[Finding]:
    """Least grade of every run.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each piece too flat, else one a line at its flattest.
    """
    return _grades(scene, rules.MIN_GRADE, "grade")


def max_grade(scene: Scene) -> list[Finding]:
    """Greatest grade of every run.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each piece too steep, else one a line at its steepest.
    """
    return _grades(scene, rules.MAX_GRADE, "grade", more="It wants a drop fitting or anchors.")


def drop_grade(scene: Scene) -> list[Finding]:
    """Grades beyond which a run is no line in a trench but a drop.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each piece too steep, else one a line at its steepest.
    """
    return _grades(scene, rules.DROP_GRADE, "grade", more="No line is laid so: a drop has to be built")


def _grades(scene: Scene, rule: Rule, said: str, more: str = "") -> list[Finding]:
    found = []
    limit = scene.limit(rule)
    for name, walk in scene.walks.items():
        runs = runs_of(walk)
        worst = int(np.argmin(runs.grade) if rule.sense == "at least" else np.argmax(runs.grade))
        each = [
            ruled(
                scene,
                rule,
                name,
                float(grade),
                measure=IN_PERCENT._replace(slack=max(IN_PERCENT.slack, _WRITTEN * (1 + abs(grade)) / (end - start))),
                said=said,
                limit=limit,
                more=more,
                where=scene.words.stations(start, end),
            )
            for start, end, grade in zip(runs.start, runs.end, runs.grade, strict=True)
        ]
        out = [finding for finding in each if finding.status != "pass"]
        found += out if out and limit is not None else [each[worst]]
    return found


def bend(scene: Scene) -> list[Finding]:
    """Turns in plan, and how each is made; the turn of a branch into its trunk too.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each turn that one fitting cannot make and whose fitting is not said to be two, else one a line.
    """
    rule, words = rules.BEND, scene.words
    limit = scene.limit(rule)
    found = []
    for name, walk in scene.walks.items():
        turns = turns_of(scene, walk)
        if not turns:
            continue
        out = []
        for at, turn, fittings in turns:
            hard = HARD_JOIN if at == 0 else HARD_TURN
            if limit is None or (turn <= hard + _BEND.slack and made_by_several(fittings)):
                continue
            more = "Turn it in before its wye" if at == 0 else "Make it with two fittings"
            if turn > hard + _BEND.slack:
                more = "No fittings turn water back: set the line out anew here"
            one = ruled(
                scene, rule, name, turn, measure=_BEND, said="turn of", limit=limit, where=words.station(at), more=more
            )
            if one.status != "pass":
                out.append(one)
        if out:
            found += out
            continue
        at, turn, fittings = max(turns, key=lambda place: place[1])
        if limit is not None and turn > limit + _BEND.slack:
            found.append(
                plain(
                    rule,
                    name,
                    "kept",
                    f"sharpest turn {words.degrees(turn)}, made by {fitting_words(fittings)}",
                    where=words.station(at),
                    value=turn,
                    unit="deg",
                )
            )
        else:
            found.append(
                ruled(
                    scene, rule, name, turn, measure=_BEND, said="sharpest turn", limit=limit, where=words.station(at)
                )
            )
    return found


def turns_of(scene: Scene, walk: Walk) -> list[tuple[float, float, tuple[Fitting, ...]]]:
    """Turns of a line, from its coordinates.

    Parameters
    ----------
    scene : Scene
        For the line that it joins.
    walk : Walk
        The walked line.

    Returns
    -------
    list of (station [m], turn [degrees], fittings)
        Turns under half a degree are straight on. At a join, the turn from the branch into the trunk's last piece.
    """
    keep = np.concatenate(([True], np.diff(walk.at) > NO_LENGTH))
    corners, at = walk.corners[keep], walk.at[keep]
    fittings = [vertex.fittings for vertex, kept in zip(walk.line.vertices, keep, strict=True) if kept]
    turns = [
        (float(at[i]), turn_at(corners[i - 1], corners[i], corners[i + 1]), fittings[i])
        for i in range(1, len(corners) - 1)
    ]
    trunk = scene.walks.get(walk.line.end)
    if trunk is not None and trunk is not walk:
        join = int(np.argmin(np.hypot(*(trunk.corners - corners[0]).T)))
        down = [i for i in range(join) if trunk.at[join] - trunk.at[i] > NO_LENGTH]
        if down:
            turns.insert(
                0,
                (
                    0.0,
                    turn_at(corners[1], corners[0], corners[0] + trunk.corners[down[-1]] - trunk.corners[join]),
                    fittings[0],
                ),
            )
    return [(station, turn, made) for station, turn, made in turns if turn > ANGLE.slack]


def cleanout_spacing(scene: Scene) -> list[Finding]:
    """Distances between places from which a line can be cleaned, and turns without one.

    A cleanout cleans downstream: the source's end counts as one, the outlet does not.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each stretch too long and each sharp turn without a cleanout, else one a line.
    """
    rule, words = rules.CLEANOUT_SPACING, scene.words
    limit = scene.limit(rule)
    sharp = scene.limit(rules.BEND)
    found = []
    for name, walk in scene.walks.items():
        access = _cleanouts(walk)
        ends = np.array(sorted({0.0, *access, walk.length}))
        gaps = np.diff(ends)
        each = [
            ruled(
                scene,
                rule,
                name,
                float(gap),
                measure=DISTANCE,
                said="length to clean from one end",
                limit=limit,
                where=words.stations(start, start + gap),
                more="Add a cleanout",
            )
            for start, gap in zip(ends[:-1], gaps, strict=True)
        ]
        out = [finding for finding in each if finding.status != "pass"] if limit is not None else []
        for at, turn, _ in turns_of(scene, walk):
            served = any(abs(at - place) <= AT_A_TURN for place in (*access, walk.length))
            if sharp is not None and turn > sharp + _BEND.slack and not served and at > 0:
                out.append(
                    plain(
                        rule,
                        name,
                        "broken",
                        f"turn of {words.degrees(turn)} without a cleanout within {words.far(AT_A_TURN)}",
                        where=words.station(at),
                        value=turn,
                        unit="deg",
                    )
                )
        found += out or [each[int(np.argmax(gaps))]]
    return found


def _cleanouts(walk: Walk) -> list[float]:
    fitted = {
        float(at) for vertex, at in zip(walk.line.vertices, walk.at, strict=True) if vertex.has(FittingKind.CLEANOUT)
    }
    return sorted(at for at in fitted if 3 * NO_LENGTH < at < walk.length - FOOT / 2)
