"""The walked lines in; findings on what lies in the trench out: wheels, sleeves, flotation, standing water, heavy ends.

Plain arithmetic of its own on the book's figures: a prism of soil, one wheel, Archimedes, and two bounds of a pool
that need no beam. The forecast that a plan states is held against those bounds.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from siteplan import units
from siteplan.books import rules, soils
from siteplan.books.kinds import DRIVEN_KINDS
from siteplan.books.pipes import heavy
from siteplan.books.practice import POOL_SHARE
from siteplan.books.stock import HEAVY_STIFFNESS, PipeStock
from siteplan.books.vehicles import DESIGN, Vehicle, vehicle
from siteplan.checks.crossings import area_of
from siteplan.checks.report import DISTANCE, HEIGHT, IN_PERCENT, Measure, plain, ruled
from siteplan.checks.scene import Scene, Words, heavy_at, stock_of
from siteplan.checks.settled import least_worst_pool, weak_ground
from siteplan.checks.walk import SAME, Stretch, Walk, runs_of_samples, stretches_inside
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import Bedding, Pipe, SleevePipe
from siteplan.values.lines import Reach
from siteplan.values.told import Finding

TIMES = Measure(lambda _, value: f"{value:.2f} times", "", slack=0.005)
DRY = 0.0005  # m; a shallower pool is printed as none
_WATER = 62.4 * units.POUND_PER_CUBIC_FOOT  # unit weight, the round figure of US handbooks
# soils of wet ground as a site tells them: row of the book of soils, group unit_weight, and how it is named
WET_SOILS = {"mineral": ("wet", "wet mineral soil"), "organic": ("organic", "light organic soil")}
LAG, BED = 1.5, 0.1  # of the modified Iowa formula: soil load grows over the years; the usual bedding constant
UNDER_OWN, UNDER_SLACK = 0.7, 0.002  # what joints, meshes and edges may take from the recheck's own worst pool; m
OVER_BOUND = 1.10  # stiff pipe may pond 5 % of the settlement more than a limp one; twice that
_AT_END = 0.02  # m; a sleeve need not go on past a line's own end


class PavementCrossed(NamedTuple):
    """A stretch of line under pavement that carries vehicles."""

    start: float
    end: float
    drives: str  # car | truck


def crossed_by_wheels(scene: Scene, walk: Walk) -> tuple[PavementCrossed, ...]:
    """Stretches under vehicles, by what drives there.

    Parameters
    ----------
    scene : Scene
        For the features and the site's usual vehicle.
    walk : Walk
        The walked line.

    Returns
    -------
    tuple of Crossed
        In order of station [m].
    """
    import shapely

    found = []
    for feature in scene.site.of_kind(*DRIVEN_KINDS):
        drives = feature.attributes.get("vehicle")
        if feature.kind == "driveway" or drives:
            name = str(drives or scene.site.laying.vehicle)
            area = shapely.make_valid(feature.geometry)
            found += [PavementCrossed(start, end, name) for start, end in stretches_inside(walk.corners, walk.at, area)]
    return tuple(sorted(found))


def outlet_zone_heavy(scene: Scene) -> list[Finding]:
    """Whether heavy pipe lies where the outlet zone has less cover than lawn asks for.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each stretch without, else one a line; lines that join another have no outlet zone.
    """
    rule, words = rules.OUTLET_ZONE_HEAVY, scene.words
    lawn = rules.needed(scene.site.rules, rules.MIN_COVER)
    found = []
    for name, walk in scene.walks.items():
        if walk.line.end in scene.lines or walk.zone <= 0:
            continue
        thin = np.isfinite(walk.ground) & (walk.s < walk.zone - SAME) & (walk.cover < lawn - HEIGHT.slack)
        light = runs_of_samples(thin & ~heavy_at(scene, walk))
        for first, last in light:
            least = float(walk.cover[first : last + 1].min())
            found.append(
                plain(
                    rule,
                    name,
                    "broken",
                    f"{words.small(least)} of cover at the least and no heavy pipe: {_heavier(scene, walk.line.pipe)}",
                    where=words.stations(walk.s[first], walk.s[last]),
                    value=least,
                    limit=lawn,
                )
            )
        if not light:
            said = "heavy pipe lies where cover is thin" if thin.any() else "cover is nowhere thin"
            found.append(plain(rule, name, "kept", said, where=words.stations(0.0, min(walk.zone, walk.length))))
    return found


def _heavier(scene: Scene, own: Pipe) -> str:
    """What to lay where cover is thin: the heavy pipe of this size, or what makes one where the book has none."""
    stronger = heavy(own)
    if stronger is not None:
        return f"lay {scene.words.size(stronger)} {stronger.title} there"
    return (
        f"the book has no heavy pipe in {scene.words.size(own)}: lay one with a plain wall and a pipe "
        "stiffness of at least "
        f"{units.stress_text(HEAVY_STIFFNESS, scene.site.length_unit)} there, given under [pipes]"
    )


def _not_held(words: Words, pipe: Pipe) -> str:
    """Why a pipe is not judged, and how to have it judged."""
    return (
        f"no strength or weight of {words.size(pipe)} {pipe.title} is known: give it under [pipes] in site.toml "
        f'(kind = "{pipe.kind}", nominal = "{pipe.nominal}"), or take a kind of the book'
    )


def _not_held_under(scene: Scene, walk: Walk, crossed: PavementCrossed) -> list[Pipe]:
    """Pipes under a crossing, sleeves too, whose strength neither book nor site holds."""
    here = [
        reach
        for reach in walk.line.reaches
        if reach.station_to > crossed.start + SAME and reach.station_from < crossed.end - SAME
    ]
    lying = [reach.pipe for reach in here] or [walk.line.pipe]
    lying += [reach.sleeve.pipe for reach in here if reach.sleeve is not None]
    return [pipe for k, pipe in enumerate(lying) if stock_of(scene, pipe) is None and pipe not in lying[:k]]


def ring_deflection(scene: Scene) -> list[Finding]:
    """Change of a pipe's diameter under soil and wheels, in the sleeve where there is one.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each pipe of each stretch under vehicles, at its least cover; 'cannot tell' for pipe that no book holds.

    References
    ----------
    Modified Iowa formula, Buried Pipe Design (Moser), eq. 3.4; wheel spread 1.15 times the depth, form of AASHTO LRFD
    3.6.1.2.6, from memory. The doubt is what the survey's doubt of the cover makes of it.
    """
    rule, words = rules.RING_DEFLECTION, scene.words
    found = []
    for name, walk in scene.walks.items():
        for crossed in crossed_by_wheels(scene, walk):
            wheel = vehicle(DESIGN[crossed.drives])
            for pipe in _not_held_under(scene, walk, crossed):
                said = (
                    f"what the wheels of {units.with_article(crossed.drives)} do to it: {_not_held(scene.words, pipe)}"
                )
                at_edge = words.stations(crossed.start, crossed.end)
                subject = f"{name}:crossing at {words.station(crossed.start)}"
                found.append(plain(rule, subject, "cannot tell", said, where=at_edge))
            for reach, stock, raised in _pipes_under(scene, walk, crossed):
                low, high = max(crossed.start, reach.station_from), min(crossed.end, reach.station_to)
                here = (walk.s >= low - SAME) & (walk.s <= high + SAME) & np.isfinite(walk.ground)
                if not here.any():
                    continue
                over = np.where(here, walk.ground - walk.z, np.inf)
                at = int(np.argmin(np.round(over, 6)))
                cover = float(over[at]) - stock.pipe.rise - raised
                subject, where = f"{name}:crossing at {words.station(crossed.start)}", words.station(walk.s[at])
                if cover <= scene.site.accuracy:
                    said = (
                        f"no cover over the {stock.named(scene.site.length_unit)}; "
                        f"{units.spoken(wheel.marked, scene.site.length_unit)}"
                    )
                    found.append(plain(rule, subject, "broken", said, where=where, value=cover, limit=None))
                    continue
                change = changed_by(stock, cover, wheel, reach.bedding.side_fill)
                # under a wheel less cover bends a pipe more, deep down more soil does
                thinner, deeper = (
                    changed_by(stock, other, wheel, reach.bedding.side_fill)
                    for other in (max(cover - scene.site.accuracy, cover / 2), cover + scene.site.accuracy)
                )
                helps = "More cover" if deeper < change else "Less soil over it"
                found.append(
                    ruled(
                        scene,
                        rule,
                        subject,
                        change,
                        measure=IN_PERCENT,
                        where=where,
                        doubt=max(abs(thinner - change), abs(deeper - change)),
                        limit=_lesser(scene.limit(rule), stock.ring_limit),
                        more=f"{helps}, heavier pipe, or stone compacted beside it",
                        said=(
                            f"{stock.named(scene.site.length_unit)} under {words.small(cover)} of soil, "
                            f"{units.spoken(wheel.marked, scene.site.length_unit)}, "
                            f"{reach.bedding.side_fill.replace('_', ' ')} fill beside it: change of diameter"
                        ),
                    )
                )
    return found


def changed_by(stock: PipeStock, cover: float, wheel: Vehicle, side_fill: str) -> float:
    """Change of diameter over diameter under a soil prism and one wheel on bare ground.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    cover : float
        Over its outside top [m], above 0.
    wheel : Vehicle
        The wheel.
    side_fill : str
        Row of the book of soils, group embedment.

    Returns
    -------
    float
        Ratio [-].

    References
    ----------
    As for `ring_deflection`; impact 33 (1 - H/8 ft) percent, AASHTO LRFD 3.6.2.2, from memory.
    """
    reaction = soils.value_range("embedment", side_fill).likely
    spread = 1.15 * cover
    jolt = 1 + max(0.0, 0.33 - 0.33 * cover / (8 * units.FOOT))
    patch = (wheel.width + spread + 0.06 * stock.pipe.bore) * (wheel.length + spread)
    wet = soils.value_range("unit_weight", "wet").likely
    pressed = LAG * wet * cover + wheel.presence * jolt * wheel.wheel / patch
    return BED * pressed / (0.149 * stock.stiffness + 0.061 * reaction)


def sleeve(scene: Scene) -> list[Finding]:
    """Sleeves where trucks cross: whether there is one, goes far enough past the edges, and lets the couplings through.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each crossing under trucks, and one for each sleeve elsewhere; 'cannot tell' where no book holds the
        pipe.
    """
    rule, words = rules.SLEEVE, scene.words
    found = []
    for name, walk in scene.walks.items():
        for crossed in crossed_by_wheels(scene, walk):
            subject, where = (
                f"{name}:crossing at {words.station(crossed.start)}",
                words.stations(crossed.start, crossed.end),
            )
            unknown = _not_held_under(scene, walk, crossed)
            if unknown:
                said = (
                    f"whether a sleeve is needed under {units.with_article(crossed.drives)}, or lets the "
                    f"couplings through: {_not_held(scene.words, unknown[0])}"
                )
                found.append(plain(rule, subject, "cannot tell", said, where=where))
                continue
            over = _sleeve_over(walk, crossed)
            if over is None:
                if crossed.drives == "truck":
                    said = (
                        "trucks cross and there is no sleeve: the pipe itself carries the wheel, and mending it "
                        "means digging up the pavement"
                    )
                    found.append(plain(rule, subject, "broken", said, where=where))
                continue
            reach, round_it = over
            outer, inner = stock_of(scene, round_it.pipe), stock_of(scene, reach.pipe)
            if outer is None or inner is None or outer.pipe.bore <= inner.bell:
                said = (
                    f"the couplings of {words.size(reach.pipe)} {reach.pipe.title} do not pass "
                    f"{units.with_article(words.size(round_it.pipe))} {round_it.pipe.title}"
                )
                found.append(plain(rule, subject, "broken", said, where=where, broken="fail"))
                continue
            past = [
                math.inf if at_end else gap
                for gap, at_end in (
                    (crossed.start - round_it.station_from, crossed.start < _AT_END or round_it.station_from < _AT_END),
                    (round_it.station_to - crossed.end, round_it.station_to > walk.length - _AT_END),
                )
            ]
            least = min(past)
            limit = scene.limit(rule)
            found.append(
                ruled(
                    scene,
                    rule,
                    subject,
                    least if math.isfinite(least) else limit or 0.0,
                    measure=DISTANCE,
                    limit=limit,
                    where=where,
                    said=f"{words.size(round_it.pipe)} sleeve past the pavement's edge",
                    more="Cut it longer",
                )
            )
    return found


def flotation(scene: Scene) -> list[Finding]:
    """Whether cover holds an empty line down in wet ground, water at the surface.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each stretch through certain wet ground, at its least cover. The lightest soil of the range that the
        site tells is taken; where it tells none, of wet mineral and of organic soil both, and what only the one of
        them holds down cannot be told.

    References
    ----------
    Published pipe-flotation technical notes: pipe and buoyant soil prism over the water displaced. Friction of the
    trench walls is left out. Unit weights: book of soils.
    """
    rule, words = rules.FLOTATION, scene.words
    limit, told = scene.limit(rule), scene.site.laying.wet_soil
    found = []
    for walk, spot, (start, end) in _wet(scene):
        here = (walk.s >= start - SAME) & (walk.s <= end + SAME) & np.isfinite(walk.ground)
        pipe = walk.line.pipe_at((start + end) / 2)
        stock = stock_of(scene, pipe)
        if not here.any():
            continue
        at = int(np.argmin(np.where(here, np.round(walk.cover, 6), np.inf)))
        cover = max(0.0, float(walk.cover[at]))
        subject, where = f"{walk.line.id}:low spot {spot.id}", words.station(walk.s[at])
        told_as = tuple(WET_SOILS) if told not in WET_SOILS else (told,)
        if stock is None:
            least = min(_soil_over_lift(pipe.od, pipe.od, cover, _lightest(name)) for name in told_as)
            said = (
                f"empty in flooded ground under {words.small(cover)} of soil at its lightest, weight over "
                f"uplift is {least:.2f} times "
                f"without the pipe's own weight: {_not_held(scene.words, pipe)}"
            )
            found.append(plain(rule, subject, "cannot tell", said, where=where, value=least, unit="", limit=limit))
            continue
        each = {name: _held_down(stock, cover, _lightest(name)) for name in told_as}
        taken = min(each, key=lambda name: each[name])
        light, heavy = _lightest(taken), max(each.values())
        short = limit is not None and each[taken] < limit
        more = "" if limit is None else _holds_it(scene, stock, cover, light, limit)
        if short and limit is not None and heavy >= limit:
            other = max(each, key=lambda name: each[name])
            said = (
                f"{stock.named(scene.site.length_unit)}, empty in flooded ground under {words.small(cover)}: "
                f"weight over uplift {heavy:.2f} times in {WET_SOILS[other][1]}, "
                f"{each[taken]:.2f} in {WET_SOILS[taken][1]}, at least {limit:.2f} asked. The site does not "
                "tell its wet soil: "
                f"set wet_soil under [trench]. {more}"
            )
            found.append(
                plain(rule, subject, "cannot tell", said, where=where, value=each[taken], unit="", limit=limit)
            )
            continue
        lift = _WATER * math.pi / 4 * stock.displaced**2
        found.append(
            ruled(
                scene,
                rule,
                subject,
                each[taken],
                measure=TIMES,
                where=where,
                limit=limit,
                doubt=(light - _WATER) * stock.pipe.od * scene.site.accuracy / lift,
                more=more,
                said=(
                    f"{stock.named(scene.site.length_unit)}, empty in flooded ground under {words.small(cover)} "
                    f"of {WET_SOILS[taken][1]} at its lightest: weight over uplift"
                ),
            )
        )
    return found


def _lightest(soil: str) -> float:
    """Least saturated unit weight of a soil of wet ground [N/m3]."""
    return soils.value_range("unit_weight", WET_SOILS[soil][0]).low


def _held_down(stock: PipeStock, cover: float, saturated: float) -> float:
    """Weight of an empty pipe and of the soil on it, less the soil's own uplift, over the pipe's uplift [-]."""
    lift = _WATER * math.pi / 4 * stock.displaced**2
    return stock.weight / lift + _soil_over_lift(stock.pipe.od, stock.displaced, cover, saturated)


def _soil_over_lift(od: float, displaced: float, cover: float, saturated: float) -> float:
    """Weight of the soil on a pipe less the soil's own uplift, over the pipe's uplift [-]: the pipe weighs nothing."""
    circle = math.pi / 4
    soil = (saturated - _WATER) * (cover * od + (1 - circle) / 2 * od**2) if cover > 0 else 0.0
    return soil / (_WATER * circle * displaced**2)


def _holds_it(scene: Scene, stock: PipeStock, cover: float, saturated: float, limit: float) -> str:
    """What mends a line that would float, each tried: more cover, heavier pipe, stone on it; else weights."""
    words = scene.words
    each_metre = (saturated - _WATER) * stock.pipe.od / (_WATER * math.pi / 4 * stock.displaced**2)
    ways = [f"{words.small(cover + max(0.0, limit - _held_down(stock, cover, saturated)) / each_metre)} of cover"]
    heavier = [
        one for one in scene.site.laying.stocks if one.pipe.nominal == stock.pipe.nominal and one.weight > stock.weight
    ]
    held = [
        one for one in heavier if _held_down(one, max(0.0, cover - one.pipe.rise + stock.pipe.rise), saturated) >= limit
    ]
    if held:
        ways.append(min(held, key=lambda one: (one.weight, one.pipe.kind)).name)
    stone = _held_down(stock, cover, _lightest("mineral"))
    if saturated < _lightest("mineral") and stone >= limit:
        ways.append(f"stone instead of the wet soil over it, up to the ground ({stone:.2f} times)")
    return f"What holds it: {', or '.join(ways)}; else weights on the line"


def belly_risk(scene: Scene) -> list[Finding]:
    """Standing water in lines over weak ground.

    The plan's forecast, held against bounds and a beam of the recheck's own.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each line that crosses certain wet ground, whose forecast is above the limit or could not be made.

    References
    ----------
    A limp pipe ponds as deep as its bed drops, a smooth dip like a wave of a cosine is empty when the grade is above pi
    times its depth over its length: geometry. Settlements: book of soils. A worst pool that is too small to be true:
    `settled.least_worst_pool`.
    """
    rule, words = rules.BELLY_RISK, scene.words
    found = []
    for name, walk in scene.walks.items():
        stock = stock_of(scene, walk.line.pipe)
        stretches = [stretch for other, _, stretch in _wet(scene) if other is walk]
        stated = walk.line.belly
        missing = stated is None and walk.line.belly_unknown is not None
        own = least_worst_pool(scene, walk)
        least_told = UNDER_OWN * own - UNDER_SLACK  # less than this no honest forecast states at worst
        planned = bool(walk.line.reaches)  # a line without them is no plan of ours: nothing says where its pipes lie
        if planned and not missing and least_told > (0.0 if stated is None else stated.depth[2]):
            told = "no forecast" if stated is None else f"{words.small(stated.depth[2])} of standing water at worst"
            found.append(
                plain(
                    rule,
                    name,
                    "broken",
                    (
                        f"the plan states {told}; on the weak ground that the recheck finds, water stands "
                        f"{words.small(own)} deep at worst"
                    ),
                    where=words.stations(0.0, walk.length),
                    value=0.0 if stated is None else stated.depth[2],
                    limit=least_told,
                )
            )
            continue
        if stock is None:
            weak = weak_ground(scene, walk)
            if weak:
                said = f"how deep water will stand in it on weak ground: {_not_held(scene.words, walk.line.pipe)}"
                at = words.stations(min(one.start for one in weak), max(one.end for one in weak))
                found.append(plain(rule, name, "cannot tell", said, where=at))
            continue
        if not stretches and not missing and (stated is None or not stated.risk):
            continue
        limit = _lesser(scene.limit(rule), POOL_SHARE * stock.pipe.bore)
        least, likely, most = _bounds(scene, walk, stock, stretches)
        between = f"{words.small(least)} to {words.small(most)} by the recheck's own bounds"
        where = (
            words.stations(min(s for s, _ in stretches), max(e for _, e in stretches))
            if stretches
            else words.stations(0.0, walk.length)
            if missing
            else "beside the house"
        )
        if stated is None:
            deep = likely
            said = (
                f"{'the plan could not make a forecast' if missing else 'no forecast'}; water may stand "
                f"{words.small(likely)} deep with a limp pipe; {between}"
            )
            answer = "kept" if most <= limit and not missing else "broken" if least > limit else "cannot tell"
        elif (
            stated.depth[2] > OVER_BOUND * most + HEIGHT.slack
            or not 0 <= stated.depth[0] <= stated.depth[1] <= stated.depth[2]
        ):
            deep = stated.depth[2]
            said = (
                f"the plan forecasts {words.small(deep)} of standing water at worst, outside of what the ground "
                f"can do: {between}"
            )
            answer = "broken"
        else:
            deep = stated.depth[1]
            said = f"water likely to stand {words.small(deep)} deep, {words.small(stated.depth[2])} at worst; {between}"
            if stated.depth[2] < DRY:
                said = f"no water is forecast to stand, at worst neither; {between}"
            answer = "broken" if deep > limit else "cannot tell" if stated.depth[2] > limit else "kept"
            if stated.stress is not None and stated.stress > 1:
                said, answer = f"{said}; the pipe would be bent to {stated.stress:.1f} times its limit", "broken"
            elif stated.turn_limit is not None and stated.turn > stated.turn_limit and answer == "kept":
                said, answer = (
                    f"{said}; a joint may turn {stated.turn:.1f} degrees, over its {stated.turn_limit:g}",
                    "cannot tell",
                )
        if answer != "kept":
            said += (
                f"; at most {words.small(limit)} asked. Over-dig two pipe diameters and bed in tamped stone, or "
                "lay it steeper"
            )
        found.append(plain(rule, name, answer, said, where=where, value=deep, limit=limit))  # type: ignore[arg-type]
    return found


def _bounds(scene: Scene, walk: Walk, stock: PipeStock, stretches: list[Stretch]) -> tuple[float, float, float]:
    """Least, likely for a limp pipe, and most standing water in a line [m]."""
    laying = scene.site.laying
    clean, churned = soils.value_range("bed_settlement", "clean"), soils.value_range("bed_settlement", "over_dumped")
    wet, loose = soils.value_range("line_modulus", "wet_loose"), soils.value_range("line_modulus", "loose_fill")
    known = walk.cover[np.isfinite(walk.cover)]
    deepest = max(0.0, float(known.max())) if known.size else 0.0
    weighs = soils.value_range("unit_weight", "wet").likely
    load = weighs * stock.pipe.od * deepest + stock.weight + _WATER * math.pi / 4 * stock.pipe.bore**2
    # beside the house, and where hollows are too shallow to be sure of
    sinks = (
        soils.value_range("bed_settlement", "house_backfill").high * laying.backfill_depth
        if laying.backfill == "fresh"
        else clean.high
    )
    least, likely, most = 0.0, 0.0, max(sinks + load / loose.low, clean.high + load / wet.likely)
    for start, end in stretches:
        fall = _fall(walk, start, end)
        smooth = clean.likely
        ratio = fall / (math.pi * smooth) if smooth > 0 else 1.0
        if ratio < 1:
            least = max(least, smooth * (math.sqrt(1 - ratio**2) - ratio * math.acos(ratio)))
        likely = max(likely, clean.likely + load / wet.likely)
        most = max(most, max(clean.high, churned.high * laying.wet_layer) + load / wet.low)
    return least, likely, most


def _fall(walk: Walk, start: float, end: float) -> float:
    """Grade at its least between two stations, times the length [m]."""
    falls = np.diff(walk.inverts) / np.maximum(np.diff(walk.at), 1e-9)
    here = (walk.at[1:] > start + SAME) & (walk.at[:-1] < end - SAME)
    return max(0.0, float(falls[here].min())) * (end - start) if here.any() else 0.0


def _wet(scene: Scene) -> Iterator[tuple[Walk, LowSpot, Stretch]]:
    """Certain low spots that the lines cross."""
    places = [(spot, area) for spot in scene.plan.low_spots if spot.certain and (area := area_of(spot)) is not None]
    for walk in scene.walks.values():
        for spot, area in places:
            for stretch in stretches_inside(walk.corners, walk.at, area):
                yield walk, spot, stretch


def _pipes_under(scene: Scene, walk: Walk, crossed: PavementCrossed) -> Iterator[tuple[Reach, PipeStock, float]]:
    """What carries the wheel on each part of a crossing, and how far its invert stands above the line's [m]."""
    line = walk.line
    reaches = line.reaches or (
        Reach(
            station_from=0.0,
            station_to=walk.length,
            place="lawn",
            pipe=line.pipe,
            why="",
            bedding=Bedding.FIRM,
            cover_min=0.0,
        ),
    )
    for reach in reaches:
        if reach.station_to <= crossed.start + SAME or reach.station_from >= crossed.end - SAME:
            continue
        inner = stock_of(scene, reach.pipe)
        outer = None if reach.sleeve is None else stock_of(scene, reach.sleeve.pipe)
        if inner is None:
            continue
        if outer is None:
            yield reach, inner, 0.0
        else:
            # the carrier lies on the sleeve's bottom: invert of the sleeve one carrier's wall below the line's
            yield reach, outer, -(inner.pipe.od - inner.pipe.bore) / 2


def _sleeve_over(walk: Walk, crossed: PavementCrossed) -> tuple[Reach, SleevePipe] | None:
    for reach in walk.line.reaches:
        if (
            reach.sleeve is not None
            and reach.sleeve.station_to > crossed.start
            and reach.sleeve.station_from < crossed.end
        ):
            return reach, reach.sleeve
    return None


def _lesser(limit: float | None, other: float) -> float:
    return other if limit is None else min(limit, other)
