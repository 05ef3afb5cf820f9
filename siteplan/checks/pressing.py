"""Lines under pressure in.

Findings on the pump, velocity, gap, frost, what runs back, and that their figures are true, out.

No rule of falling water judges such a line. Those on where it lies are asked of it as of any other, in a scene of its
own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from siteplan import units
from siteplan.books import rules
from siteplan.books.pumping import LEAST_PUMPED, SMOOTHNESS
from siteplan.checks.numbers import Mismatch, of_course, told_mismatches
from siteplan.checks.outlet_ends import end_held
from siteplan.checks.ponding import SECONDS
from siteplan.checks.pressed_flow import PressedFigures, figures_again, head_asked, head_given, sampled
from siteplan.checks.report import HEIGHT, Measure, plain, ruled
from siteplan.checks.scene import Scene, Words, scene_of
from siteplan.checks.walk import Walk
from siteplan.values.lines import Line
from siteplan.values.told import Finding
from siteplan.values.water_ends import Pump

SPEED = Measure(Words.speed, "m/s", slack=0.0005)
_SHARE = Measure(lambda _, value: f"{value:.2f}", "", slack=0.005)
_BORES = Measure(lambda _, value: f"{value:.1f} bores", "", slack=0.02)
_HEAD = 0.01  # m, and share: of heads found two ways
_SLACK = 0.015
_TIME = 0.02
_NOTHING_STANDS = 0.10  # m of pipe

# rules on where a line lies, asked of those under pressure too
PRESSED = frozenset(
    rule.id
    for rule in (
        rules.MIN_COVER,
        rules.MIN_COVER_PAVEMENT,
        rules.MIN_COVER_PAVEMENT_HEAVY,
        rules.DAYLIGHT_STRETCH,
        rules.MAX_DEPTH,
        rules.TRENCH_LADDER,
        rules.TRENCH_PROTECTION,
        rules.OUTLET_FOUNDATION,
        rules.SUMP_OUTLET_FOUNDATION,
        rules.OUTLET_LOT_LINE,
        rules.INSIDE_LOT,
        rules.CLEAR_OF_NEIGHBOUR,
        rules.CLEAR_OF_BUILDING,
        rules.FOUNDATION_BACKFILL,
        rules.CLEAR_OF_NO_DIG,
        rules.WALL_CROSSED,
        rules.STEEP_GROUND,
        rules.CLEAR_OF_TREES,
        rules.CROSSING_ANGLE,
        rules.LOW_SPOT_CROSSED,
        rules.UTILITY_CROSSED,
        rules.SERVED,
        rules.OUTLET_TAKES,
        rules.GROUND_KNOWN,
        rules.BEND,
        rules.SUMP_WAY_BACK,
        rules.WALL_FALL,
        *rules.WAYS.values(),
    )
)


OWN_WAY = {rules.OUTLET_CONTROL.id: end_held}  # rules that are asked of them otherwise than of lines that fall


def pressed_scene(scene: Scene) -> Scene:
    """The lines under pressure as a scene of their own, with the sources that they alone serve.

    Parameters
    ----------
    scene : Scene
        The whole plan's.

    Returns
    -------
    Scene
        Its lines are those under pressure.
    """
    site = replace(scene.site, sources=scene.site.lifted, lifted=())
    plan = replace(scene.plan, lines=scene.plan.pressed, pressed=())
    return scene_of(plan, site, scene.inflows)


def whole_scene(scene: Scene) -> Scene:
    """Every line in one scene, for what lines are to each other.

    Parameters
    ----------
    scene : Scene
        The whole plan's.

    Returns
    -------
    Scene
        Lines by gravity, then those under pressure.
    """
    return scene_of(replace(scene.plan, lines=scene.plan.every_line, pressed=()), scene.site, scene.inflows)


def _lifts(scene: Scene) -> Iterator[tuple[Pump, Line | None, Walk | None]]:
    walks = whole_scene(scene).walks if scene.plan.pressed else {}
    for pump in scene.site.pumps:
        line = next((one for one in scene.plan.pressed if one.start == pump.source), None)
        yield pump, line, None if line is None else walks.get(line.id)


def pump_reaches(scene: Scene) -> list[Finding]:
    """Whether each pump brings its water through its line.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One a pump: a line that is not there, a pump that does not lift so high or brings less than comes to it breaks
        the rule; without a curve, or with a guessed level in the pit, nobody can tell.

    References
    ----------
    `pressed_flow.figures_again`.
    """
    rule, words, found = rules.PUMP_REACHES, scene.words, []
    for pump, line, walk in _lifts(scene):
        if line is None or walk is None:
            text = f"no line under pressure is laid from {pump.name} to {pump.discharge}"
            found.append(plain(rule, pump.source, "broken", text, where="at the source"))
            continue
        own = figures_again(walk, pump)
        serve = _that_serves(scene, own, line, pump)
        if not pump.curve:
            text = f"no pump is stated for {pump.name}: {serve}"
            found.append(plain(rule, line.id, "cannot tell", text, where="the whole line"))
            continue
        if own.flow < LEAST_PUMPED:
            top = float(head_given(pump, np.array([0.0]))[0])
            text = (
                f"its pump gives {words.far(top)} of head with nothing flowing, and the line asks for "
                f"{words.far(own.static)} of height alone: nothing comes out; {serve}"
            )
            found.append(plain(rule, line.id, "broken", text, where="the whole line", value=0.0, unit="lps"))
            continue
        text = _brings(scene, own, line)
        comes = pump.inflow or 0.0
        if comes > own.flow:
            text += f"; {words.flow(comes)} comes to the pit when it refills as told, so that it floods; {serve}"
            found.append(
                plain(rule, line.id, "broken", text, where="the whole line", value=own.flow / units.LITRE, unit="lps")
            )
            continue
        said = "kept" if pump.off_level_given else "cannot tell"
        if not pump.off_level_given:
            text = f"no off_level is given, so the height is a guess; by it {text}"
        found.append(
            plain(rule, line.id, said, text, where="the whole line", value=own.flow / units.LITRE, unit="lps")  # type: ignore[arg-type]
        )
    return found


def _brings(scene: Scene, own: PressedFigures, line: Line) -> str:
    """What comes through and against what.

    In the plan's figures where they are true, so that one figure is printed one way.
    """
    words, told = scene.words, line.pumped
    friction, fittings = head_asked(own, line.pipe.bore, own.flow)
    flow, static, length = own.flow, own.static, own.length
    if told is not None and abs(told.flow - flow) <= _SLACK * flow and abs(told.static - static) <= _HEAD:
        flow, static, friction, fittings, length = told.flow, told.static, told.friction, told.fittings, told.length
    return (
        f"{words.flow(flow)} comes through, at a head of {words.far(static + friction + fittings)}: "
        f"{words.far(static)} of height, "
        f"{words.far(friction)} of friction in {words.far(length)} of pipe, {words.far(fittings)} in fittings"
    )


def _that_serves(scene: Scene, own: PressedFigures, line: Line, pump: Pump) -> str:
    words = scene.words
    flow = _wanted(scene, line, pump)
    friction, fittings = head_asked(own, line.pipe.bore, flow)
    return f"one that gives {words.flow(flow)} at {words.far(own.static + friction + fittings)} of head would serve"


def _wanted(scene: Scene, line: Line, pump: Pump) -> float:
    slow = scene.limit(rules.PUMPED_VELOCITY_LEAST) or 0.0
    return max(pump.wanted or 0.0, pump.inflow or 0.0, slow * math.pi * (line.pipe.bore / 2) ** 2, LEAST_PUMPED)


def velocity_least(scene: Scene) -> list[Finding]:
    """Whether water in each line under pressure is fast enough to carry its grit.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One a line whose pump brings water.
    """
    return _velocities(
        scene, rules.PUMPED_VELOCITY_LEAST, "Grit settles at the low places: a smaller pipe keeps it moving"
    )


def velocity_most(scene: Scene) -> list[Finding]:
    """Whether water in each line under pressure is slow enough not to hammer.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One a line whose pump brings water.
    """
    return _velocities(scene, rules.PUMPED_VELOCITY_MOST, "Take a larger pipe, or a smaller pump")


def _velocities(scene: Scene, rule: rules.Rule, more: str) -> list[Finding]:
    found = []
    for pump, line, walk in _lifts(scene):
        flow = 0.0 if walk is None else figures_again(walk, pump).flow
        if line is None or flow <= 0:
            continue
        speed = flow / (math.pi * (line.pipe.bore / 2) ** 2)
        found.append(
            ruled(
                scene,
                rule,
                line.id,
                speed,
                measure=SPEED,
                limit=scene.limit(rule),
                said="velocity",
                where="the whole line",
                more=more,
            )
        )
    return found


def gap_at_end(scene: Scene) -> list[Finding]:
    """Open height at the end of each line under pressure that pours into one by gravity.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One a line that ends at a discharge point.
    """
    rule, found = rules.PUMPED_GAP, []
    for pump, line, walk in _lifts(scene):
        if pump.to_outlet or line is None or walk is None:
            continue
        below = scene.walks.get(line.end)
        if below is None:
            text = f"ends at {line.end!r}, which is no line by gravity"
            found.append(plain(rule, line.id, "broken", text, where=scene.words.station(0.0)))
            continue
        away = float(np.hypot(*(below.corners[-1] - walk.corners[0])))
        if away > units.FOOT:
            text = f"ends {scene.words.far(away)} from where {line.end} starts"
            found.append(plain(rule, line.id, "broken", text, where=scene.words.station(0.0), broken="fail"))
            continue
        open_height = float(walk.inverts[0] - below.inverts[-1]) - below.line.pipe_at(below.length).bore
        found.append(
            ruled(
                scene,
                rule,
                line.id,
                open_height / line.pipe.bore,
                measure=_BORES,
                limit=scene.limit(rule),
                said=(
                    f"it ends {scene.words.small(open_height)} over the top of the water in {line.end}, in its "
                    "own bores"
                ),
                where=scene.words.station(0.0),
                more=(
                    "A blocked line below it stands up into the pump's pipe: raise its end, or set the line "
                    "below deeper"
                ),
            )
        )
    return found


def freezing(scene: Scene) -> list[Finding]:
    """Depth below the frost where a line under pressure stands full between runs.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One a line; kept where it empties each time.
    """
    rule, words, frost, found = rules.PUMPED_FREEZING, scene.words, scene.site.laying.frost, []
    for pump, line, walk in _lifts(scene):
        if line is None or walk is None:
            continue
        own = figures_again(walk, pump)
        if own.standing <= _NOTHING_STANDS:
            found.append(plain(rule, line.id, "kept", "it empties each time the pump stops", value=0.0))
            continue
        by = "behind its check valve" if pump.check_valve else "in a sag"
        stands = f"{words.far(own.standing)} of it stands full {by} between runs"
        if frost is None:
            text = f"{stands}, and the depth of frost is not known: set frost_depth_in or frost_depth_mm under [trench]"
            found.append(plain(rule, line.id, "cannot tell", text, where="the whole line", value=own.standing))
            continue
        cover = sampled(walk, own.stands)
        if not np.isfinite(cover[~np.isposinf(cover)]).any():
            text = f"{stands}, and the ground there is not known"
            found.append(plain(rule, line.id, "cannot tell", text, where="the whole line"))
            continue
        worst, limit = int(np.nanargmin(cover)), scene.limit(rule)
        found.append(
            ruled(
                scene,
                rule,
                line.id,
                float(cover[worst]),
                measure=HEIGHT,
                limit=None if limit is None else frost + limit,
                doubt=scene.site.accuracy,
                said=f"{stands}, frost goes {words.small(frost)} deep; cover there",
                where=words.station(walk.s[worst]),
                more=(
                    "Leave the valve out and let it run back, drill a weep hole over the pump, or lay it deeper "
                    "and box its end in"
                ),
            )
        )
    return found


def check_valve(scene: Scene) -> list[Finding]:
    """Share of the pit's water that runs back at each stop.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One a line; a valve keeps the rule, and without the pit's size nobody can tell.
    """
    rule, words, found = rules.CHECK_VALVE, scene.words, []
    for pump, line, walk in _lifts(scene):
        if line is None or walk is None:
            continue
        if pump.check_valve:
            found.append(plain(rule, line.id, "kept", "a check valve holds the water in it", value=0.0, unit=""))
            continue
        own = figures_again(walk, pump)
        text = f"{words.volume(own.fallen)} runs back into the pit at each stop"
        if not pump.storage:
            text += ": give pit_diameter and pit_rise to tell whether that starts the pump again"
            found.append(plain(rule, line.id, "cannot tell", text, where="at the source"))
            continue
        found.append(
            ruled(
                scene,
                rule,
                line.id,
                own.fallen / pump.storage,
                measure=_SHARE,
                limit=scene.limit(rule),
                said=f"{text}, as a share of the {words.volume(pump.storage)} between off and on",
                where="at the source",
                more="Set a check valve, widen the pit, or let the float travel farther",
            )
        )
    return found


def lifted_cycle(scene: Scene) -> list[Finding]:
    """Shortest time from start to start of pumps that lift through a line, with what runs back.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each whose pit is known and which brings water.

    References
    ----------
    (V - D) / i + V / (q - i), least over the inflow i (memory).
    """
    rule, words, found = rules.PUMP_CYCLE, scene.words, []
    for pump, line, walk in _lifts(scene):
        own = None if walk is None else figures_again(walk, pump)
        if line is None or own is None or own.cycle is None:
            continue
        often = f", {3600 / own.cycle:.0f} starts an hour" if own.cycle > 0 else ""
        back = "" if pump.check_valve else f" while {words.volume(own.fallen)} runs back each time"
        found.append(
            ruled(
                scene,
                rule,
                pump.source,
                own.cycle,
                measure=SECONDS,
                limit=scene.limit(rule),
                said=f"shortest time from start to start{back}{often}",
                where="at the source",
                more="Let the float travel farther, widen the pit, set a check valve, or take a smaller pump",
            )
        )
    return found


def pressed_numbers(scene: Scene) -> list[Finding]:
    """Whether what the plan states of lines under pressure is what the recheck finds.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One a quantity that differs, else one a line.
    """
    own_scene = whole_scene(scene)
    told: list[Mismatch] = []
    for line in scene.plan.pressed:
        walk, pump = own_scene.walks.get(line.id), next((p for p in scene.site.pumps if p.source == line.start), None)
        if walk is None or pump is None or line.pumped is None:
            told.append(Mismatch(line.id, "a pump of the survey at its start", 1.0, None, "at the source"))
            continue
        told += [*of_course(own_scene, walk), *_of_figures(own_scene, walk, pump)]
    return told_mismatches(told, scene.plan.pressed)


def _of_figures(scene: Scene, walk: Walk, pump: Pump) -> Iterator[Mismatch]:
    line, stated = walk.line, walk.line.pumped
    assert stated is not None
    own, bore = figures_again(walk, pump), walk.line.pipe.bore
    flow = own.flow if pump.curve else _wanted(scene, line, pump)
    friction, fittings = head_asked(own, bore, flow)
    wanted = _wanted(scene, line, pump)
    below = scene.walks.get(line.end)
    gap = None if below is None else float(walk.inverts[0] - below.inverts[-1]) - below.line.pipe_at(below.length).bore
    for what, said, found, slack in (
        ("static head [m]", stated.static, own.static, _HEAD),
        ("friction [m]", stated.friction, friction, _HEAD + _SLACK * friction),
        ("head in fittings [m]", stated.fittings, fittings, _HEAD + 2 * _SLACK * fittings),
        ("flow through the line [m3/s]", stated.flow, flow, 1e-6 + _SLACK * flow),
        ("velocity [m/s]", stated.velocity, 4 * flow / (math.pi * bore**2), 0.005 + _SLACK * stated.velocity),
        ("Hazen and Williams' C", stated.smoothness, float(SMOOTHNESS), 1e-9),
        ("losses in velocity heads", stated.losses, own.losses, 0.1),
        ("length of pipe [m]", stated.length, own.length, _HEAD),
        ("level at which the pump stops [m]", stated.off_level, pump.off_level, 1e-3),
        ("check valve", float(stated.check_valve), float(pump.check_valve), 0.0),
        ("what runs back [m3]", stated.fallen, own.fallen, 1e-4 + _TIME * own.fallen),
        ("length that stands full [m]", stated.standing, own.standing, 0.15),
        ("gap at its end [m]", stated.gap, None if pump.to_outlet else gap, 2e-3),
        (
            "shortest cycle [s]",
            stated.cycle,
            own.cycle if pump.curve else stated.cycle,
            0.5 + _TIME * (own.cycle or 0.0),
        ),
        (
            "time from start to start [s]",
            stated.cycle_usual,
            _usual(own, pump, flow),
            0.5 + _TIME * (stated.cycle_usual or 0.0),
        ),
        ("flow of a pump that serves [m3/s]", stated.wanted_flow, wanted, 1e-6 + _SLACK * wanted),
        (
            "head of a pump that serves [m]",
            stated.wanted_head,
            own.static + sum(head_asked(own, bore, wanted)),
            2 * _HEAD + _SLACK * stated.wanted_head,
        ),
    ):
        if (said is None) != (found is None) or (
            said is not None and found is not None and not abs(said - found) <= slack
        ):
            yield Mismatch(line.id, what, said, found, "the whole line")
    points = [figure for pair in stated.curve for figure in pair]
    surveyed = [figure for pair in pump.curve for figure in pair]
    if len(points) != len(surveyed) or not np.allclose(points, surveyed, rtol=1e-5, atol=1e-8):
        yield Mismatch(
            line.id, "points of the pump's curve", float(len(points) // 2), float(len(surveyed) // 2), "at the source"
        )


def _usual(own: PressedFigures, pump: Pump, flow: float) -> float | None:
    if not pump.storage or not pump.inflow or not 0 < pump.inflow < flow:
        return None
    return max(pump.storage - own.fallen, 0.0) / pump.inflow + pump.storage / (flow - pump.inflow)
