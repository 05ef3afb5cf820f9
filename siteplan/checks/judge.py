"""Plan and Site in; every finding out. One table says which function answers for which rule."""

from __future__ import annotations

from collections.abc import Callable
from types import MappingProxyType

from siteplan.books import rules
from siteplan.checks import (
    after,
    by_pipe,
    carrying,
    covers,
    crossings,
    curbs,
    falling,
    joining,
    numbers,
    outlet_ends,
    pipe_loads,
    places,
    ponding,
    pressing,
    tie_ins,
    walls,
    ways,
)
from siteplan.checks.report import plain
from siteplan.checks.scene import Scene, scene_of
from siteplan.optional import optional
from siteplan.site import Site
from siteplan.values.told import Finding
from siteplan.values.water_ends import Inflows
from siteplan.values.whole_plan import Plan

Check = Callable[[Scene], list[Finding]]

TABLE = MappingProxyType[str, Check](
    {
        rules.CONTINUOUS_FALL.id: falling.continuous_fall,
        rules.MIN_GRADE.id: falling.min_grade,
        rules.MAX_GRADE.id: falling.max_grade,
        rules.DROP_GRADE.id: falling.drop_grade,
        rules.MIN_COVER.id: covers.min_cover,
        rules.MIN_COVER_PAVEMENT.id: covers.min_cover_pavement,
        rules.MIN_COVER_PAVEMENT_HEAVY.id: covers.min_cover_pavement_heavy,
        rules.OUTLET_ZONE_COVER.id: covers.outlet_zone_cover,
        rules.OUTLET_ZONE_HEAVY.id: pipe_loads.outlet_zone_heavy,
        rules.DAYLIGHT_STRETCH.id: covers.daylight_stretch,
        rules.MAX_DEPTH.id: covers.max_depth,
        rules.TRENCH_LADDER.id: covers.trench_ladder,
        rules.TRENCH_PROTECTION.id: covers.trench_protection,
        rules.OUTLET_CONTROL.id: outlet_ends.outlet_control,
        rules.OUTLET_FOUNDATION.id: outlet_ends.outlet_foundation,
        rules.SUMP_OUTLET_FOUNDATION.id: outlet_ends.sump_outlet_foundation,
        rules.OUTLET_LOT_LINE.id: outlet_ends.outlet_lot_line,
        rules.INSIDE_LOT.id: places.inside_lot,
        rules.CLEAR_OF_NEIGHBOUR.id: places.clear_of_neighbour,
        rules.CLEAR_OF_BUILDING.id: places.clear_of_building,
        rules.FOUNDATION_BACKFILL.id: places.foundation_backfill,
        rules.CLEAR_OF_NO_DIG.id: places.clear_of_no_dig,
        rules.WALL_CROSSED.id: walls.wall_crossed,
        rules.STEEP_GROUND.id: walls.steep_ground,
        rules.CLEAR_OF_TREES.id: places.clear_of_trees,
        rules.LINES_CROSS.id: walls.lines_cross,
        rules.CROSSING_ANGLE.id: crossings.crossing_angle,
        rules.LOW_SPOT_CROSSED.id: crossings.low_spot_crossed,
        rules.BELLY_RISK.id: pipe_loads.belly_risk,
        rules.FLOTATION.id: pipe_loads.flotation,
        rules.RING_DEFLECTION.id: pipe_loads.ring_deflection,
        rules.SLEEVE.id: pipe_loads.sleeve,
        rules.UTILITY_CROSSED.id: crossings.utility_crossed,
        rules.SERVED.id: joining.served,
        rules.OWN_LINE.id: joining.own_line,
        rules.OUTLET_TAKES.id: joining.outlet_takes,
        rules.PIPE_GRADE.id: by_pipe.pipe_grade,
        rules.PIPE_COVER.id: by_pipe.pipe_cover,
        rules.TIE_IN_LEVEL.id: tie_ins.tie_in_level,
        rules.TIE_IN_SIZE.id: tie_ins.tie_in_size,
        rules.TIE_IN_TAKES.id: tie_ins.tie_in_takes,
        rules.GROUND_KNOWN.id: covers.ground_known,
        rules.JOINS.id: joining.joins,
        rules.BEND.id: falling.bend,
        rules.CLEANOUT_SPACING.id: falling.cleanout_spacing,
        rules.RUN_CAPACITY.id: carrying.run_capacity,
        rules.RAIN_DURATION.id: carrying.rain_duration,
        rules.SIZE_FITS.id: carrying.size_fits,
        rules.SIZE_SHRINKS.id: carrying.size_shrinks,
        rules.SELF_CLEANING.id: carrying.self_cleaning,
        rules.TOP_VELOCITY.id: carrying.top_velocity,
        rules.WEAKEST_LINK.id: carrying.weakest_link,
        rules.CURB_CONCRETE.id: curbs.curb_concrete,
        rules.CURB_HOLE.id: curbs.curb_hole,
        rules.TAIL_WATER.id: ponding.tail_water,
        rules.STANDING_WATER.id: ponding.standing_water,
        rules.OVERFLOW_PATH.id: after.overflow_path,
        rules.AIR_GAP.id: ponding.air_gap,
        rules.PUMP_FITS.id: carrying.pump_fits,
        rules.PUMP_CYCLE.id: lambda scene: [*ponding.pump_cycle(scene), *pressing.lifted_cycle(scene)],
        rules.PUMP_REACHES.id: pressing.pump_reaches,
        rules.PUMPED_VELOCITY_LEAST.id: pressing.velocity_least,
        rules.PUMPED_VELOCITY_MOST.id: pressing.velocity_most,
        rules.PUMPED_GAP.id: pressing.gap_at_end,
        rules.PUMPED_FREEZING.id: pressing.freezing,
        rules.CHECK_VALVE.id: pressing.check_valve,
        rules.SUMP_WAY_BACK.id: after.sump_way_back,
        rules.WALL_FALL.id: after.wall_fall,
        rules.STORM_OVERFLOW.id: ponding.storm_overflow,
        **ways.WAY_CHECKS,
        rules.NUMBERS_AGREE.id: lambda scene: [*numbers.numbers_agree(scene), *pressing.pressed_numbers(scene)],
    }
)

PARAMETERS = MappingProxyType[str, str](
    {
        rules.OUTLET_ZONE.id: "says where min-cover ends and outlet-zone-cover begins",
        rules.START_ZONE.id: "says where min-cover ends at a source",
        rules.BEDDING.id: "enters the trench depth that trench-ladder, trench-protection and numbers-agree look at",
        rules.TRENCH_WIDTH.id: "enters the digging quantity; no place on a line keeps or breaks it",
        rules.CURB_ALLOWANCE.id: "enters the control elevation that outlet-control looks at",
        rules.DAYLIGHT_ALLOWANCE.id: "enters the control elevation that outlet-control looks at",
        rules.LOW_SPOT_DOUBT.id: "tells certain hollows from doubtful ones, which low-spot-crossed reports apart",
    }
)


def findings(plan: Plan, site: Site, inflows: Inflows | None = None) -> tuple[Finding, ...]:
    """Judge a plan by every rule, from the site as surveyed.

    Parameters
    ----------
    plan : Plan
        Lines, sources, outlets, low spots and candidates; its own findings are not looked at.
    site : Site
        The site as surveyed, with the rules in force.
    inflows : Inflows, optional
        What inlets take from the ground about them; as the plan states it when absent.

    Returns
    -------
    tuple of Finding
        In the order of the rules, then of the lines; the same for the same input.

    References
    ----------
    Limits and their sources: `siteplan.books.rules`. What a check shares with the planner is the survey and the
    rules, no arithmetic.
    """
    scene = scene_of(plan, site, inflows)
    pressed = pressing.pressed_scene(scene) if scene.site.pumps else None
    whole = pressing.whole_scene(scene) if scene.plan.pressed else scene
    return tuple(
        finding
        for rule in rules.RULES
        if rule.id in TABLE
        for finding in (
            *_judged(rule, whole if rule is rules.LINES_CROSS else scene),
            *(_pressed(rule, pressed) if pressed is not None else ()),
        )
    )


def _pressed(rule: rules.Rule, scene: Scene) -> list[Finding]:
    """What one rule says of lines under pressure."""
    if rule.id in pressing.OWN_WAY:
        return optional("check", lambda: pressing.OWN_WAY[rule.id](scene), [], subject=rule.id)
    return _judged(rule, scene) if rule.id in pressing.PRESSED else []


def _judged(rule: rules.Rule, scene: Scene) -> list[Finding]:
    """What one rule's check finds; one that fails by a fault of ours is no pass, and ends nothing."""
    failed = plain(rule, "plan", "cannot tell", "this check could not be made, by a fault of ours")
    return optional("check", lambda: TABLE[rule.id](scene), [failed], subject=rule.id)
