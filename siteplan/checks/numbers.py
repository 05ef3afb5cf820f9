"""Plan and site in; what the plan states and the recheck finds otherwise out. No stored number is taken on trust."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

import numpy as np

from siteplan import units
from siteplan.books import pipes, rules
from siteplan.books.kinds import LINE_KINDS, PAVEMENT_KINDS, SOURCES, Flow, into_pipe
from siteplan.checks.beds import wrong_beds
from siteplan.checks.crossings import area_of, cuts, edge_angles
from siteplan.checks.curb_numbers import curb_mismatches
from siteplan.checks.falling import NO_LENGTH
from siteplan.checks.flows import shedding_ground, source_flow
from siteplan.checks.listed import listed_twice
from siteplan.checks.margin_numbers import margin_mismatches
from siteplan.checks.outlet_ends import TWO_SCANS, control_of, fall_to_spare, spares_differ
from siteplan.checks.report import plain
from siteplan.checks.sampling import ground_at
from siteplan.checks.scene import Scene
from siteplan.checks.settled import weak_ground
from siteplan.checks.walk import Floats, Stretch, Walk, can_be_walked, stretches_inside, turn_at
from siteplan.checks.water_numbers import water_mismatches
from siteplan.units import LITRE
from siteplan.values.forecasts import LowSpot
from siteplan.values.lines import Crossing, Line
from siteplan.values.told import Finding
from siteplan.values.water_ends import Source

LEVEL = 0.001  # m, elevations that follow from one another
_FLOW = 1e-6  # m3/s; flows are written to a millilitre a second
GROUND = 0.002  # m, two ways of reading one grid
_PLACE = 0.005  # m in plan
_STATION = 0.002  # m
_EDGE = 0.05  # m, a pavement edge or the rim of a low spot along a line
THIN = 0.005  # m, least cover between two samples
_GRADE = 5e-5  # ratio: half of the last printed digit of a percentage
TURN = 0.5  # degrees
ASLANT = 1.0  # degrees, between line and edge
RATIO = 1e-3  # of a flow or an area that follows by one multiplication
_WRITTEN = 1e-6  # m: figures of plan.json are written to it
ROUGHLY = 0.05  # of an area or volume counted by cells


class Mismatch(NamedTuple):
    """A stored number and what the recheck finds. None: the recheck finds that it should not be there at all."""

    subject: str
    what: str
    stored: float | None
    own: float | None
    where: str


def numbers_agree(scene: Scene) -> list[Finding]:
    """Whether the plan's numbers are those of the recheck.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        For each quantity of each line, source, outlet or low spot that differs, one finding at its first place;
        else one a line.
    """
    every = itertools.chain(
        _of_lines(scene),
        _of_sources(scene),
        _of_outlets(scene),
        _of_low_spots(scene),
        _of_candidates(scene),
        _of_water(scene),
        itertools.starmap(Mismatch, listed_twice(scene)),
    )
    return told_mismatches(every, scene.plan.lines)


def told_mismatches(every: Iterable[Mismatch], lines: Sequence[Line]) -> list[Finding]:
    """What differs, told once for each quantity of each subject, and lines of which nothing does.

    Parameters
    ----------
    every : iterable of Mismatch
        What differs.
    lines : sequence of Line
        Those that were looked at.

    Returns
    -------
    list of Finding
        Failures first.
    """
    rule = rules.NUMBERS_AGREE
    found: dict[tuple[str, str], list[Mismatch]] = {}
    for one in every:
        found.setdefault((one.subject, one.what), []).append(one)
    out = []
    for (subject, what), each in found.items():
        first = each[0]
        more = f"; so do {len(each) - 1} more" if len(each) > 1 else ""
        said = f"{what}: the plan states {_shown(first.stored)}, the recheck finds {_shown(first.own)}{more}"
        out.append(plain(rule, subject, "broken", said, where=first.where, value=first.stored, unit=""))
    wrong = {subject.split(":")[0] for subject, _ in found}
    out += [
        plain(
            rule,
            line.id,
            "kept",
            (
                f"{len(line.vertices)} vertices, {len(line.rows)} rows and {len(line.crossings)} crossings agree "
                "with the recheck"
            ),
        )
        for line in lines
        if line.id not in wrong
    ]
    return out


def _shown(value: float | None) -> str:
    return "nothing" if value is None else f"{value:.4g}" if abs(value) < 1 else f"{value:.3f}"


def _differs(stored: float | None, own: float | None, tolerance: float) -> bool:
    """Whether two numbers differ; a number that is none never agrees."""
    if stored is None or own is None:
        return stored is not own
    return not abs(stored - own) <= tolerance


def _of_lines(scene: Scene) -> Iterator[Mismatch]:
    ids = [line.id for line in scene.plan.lines]
    for line in scene.plan.lines:
        if ids.count(line.id) > 1 or line.id in scene.outlets:
            yield Mismatch(line.id, "lines and outlets of this id", float(ids.count(line.id)), 1.0, "")
            continue
        if not can_be_walked(line):
            yield Mismatch(line.id, "vertices", float(len(line.vertices)), None, "the whole line")
            continue
        walk = scene.walks[line.id]
        yield from of_course(scene, walk)
        spare = fall_to_spare(scene, line)
        if not math.isfinite(line.spare) or (spare is not None and spares_differ(line.spare, spare)):
            yield Mismatch(line.id, "fall to spare [m]", line.spare, spare, scene.words.stations(0.0, walk.length))
        yield from _of_reaches(scene, walk)
        yield from itertools.starmap(Mismatch, curb_mismatches(scene, walk))
        yield from itertools.starmap(Mismatch, margin_mismatches(scene, walk))
        yield from _of_weak_ground(scene, walk)
    accuracy = scene.site.accuracy
    if _differs(scene.plan.accuracy, accuracy, _WRITTEN):
        yield Mismatch("plan", "accuracy of the ground [m]", scene.plan.accuracy, accuracy, "")


def of_course(scene: Scene, walk: Walk) -> Iterator[Mismatch]:
    """Where a line is said to lie and what it is said to cross, against the survey; and its pipe against the book.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    walk : Walk
        The walked line.

    Yields
    ------
    Mismatch
        Each figure that differs.
    """
    yield from _of_vertices(scene, walk)
    yield from _of_rows(scene, walk)
    yield from _of_crossings(scene, walk)
    yield from _of_passages(scene, walk)
    yield from _of_pipe(scene, walk)


def _of_water(scene: Scene) -> Iterator[Mismatch]:
    return (Mismatch(*stated) for stated in water_mismatches(scene))


def _of_vertices(scene: Scene, walk: Walk) -> Iterator[Mismatch]:
    name, words = walk.line.id, scene.words
    ground = ground_at(scene.site.grid, walk.corners[:, 0], walk.corners[:, 1])
    for i, vertex in enumerate(walk.line.vertices):
        where = words.station(walk.at[i])
        if _differs(vertex.station, float(walk.at[i]), _STATION):
            yield Mismatch(name, "station of a vertex [m]", vertex.station, float(walk.at[i]), where)
        if math.isfinite(ground[i]) and _differs(vertex.ground, float(ground[i]), GROUND):
            yield Mismatch(name, "ground at a vertex [m]", vertex.ground, float(ground[i]), where)
        turn, drop = _turn_of(walk, i)
        if _differs(vertex.bend, turn, TURN) and not (drop and vertex.bend == 0.0):
            yield Mismatch(name, "bend [degrees]", vertex.bend, turn, where)


def _turn_of(walk: Walk, i: int) -> tuple[float, bool]:
    """The turn at a vertex, none at an end; whether it is one of two in one place, either of which may state it."""
    before = np.flatnonzero(walk.at < walk.at[i] - NO_LENGTH)
    after = np.flatnonzero(walk.at > walk.at[i] + NO_LENGTH)
    drop = len(before) + len(after) < len(walk.at) - 1
    if not (len(before) and len(after)):
        return 0.0, drop
    return turn_at(walk.corners[before[-1]], walk.corners[i], walk.corners[after[0]]), drop


def _of_rows(scene: Scene, walk: Walk) -> Iterator[Mismatch]:
    rows, name, words = walk.line.rows, walk.line.id, scene.words
    whole = words.stations(0.0, walk.length)
    if not rows:
        yield Mismatch(name, "schedule rows", 0.0, float(len(walk.at)), whole)
        return
    stations = np.array([row.station for row in rows], np.float64)
    if not (np.diff(stations) >= -_STATION).all():
        yield Mismatch(name, "order of the schedule's stations", None, None, whole)
    for end, own in ((float(stations.min()), 0.0), (float(stations.max()), walk.length)):
        if _differs(end, own, _STATION):
            yield Mismatch(name, "end of the schedule [m]", end, own, whole)
    grounds = ground_at(scene.site.grid, *(np.array([getattr(row, axis) for row in rows], np.float64) for axis in "xy"))
    bed = rules.needed(scene.site.rules, rules.BEDDING)
    for row, ground in zip(rows, grounds, strict=True):
        where = words.station(row.station)
        away = math.dist(walk.place(row.station), (row.x, row.y))
        if not away <= _PLACE:
            yield Mismatch(name, "place of a row, distance from the line [m]", away, 0.0, where)
        low, high, grades = _at_station(walk, row.station)
        if not low - LEVEL <= row.invert <= high + LEVEL:
            yield Mismatch(name, "invert of a row [m]", row.invert, low, where)
        if math.isfinite(ground) and _differs(row.ground, float(ground), GROUND):
            yield Mismatch(name, "ground of a row [m]", row.ground, float(ground), where)
        # where two pipes meet, either's wall
        cuts_here = [row.ground - row.invert + wall + bed for wall in walk.walls_at(row.station, _STATION)]
        if all(_differs(row.cut, own, LEVEL) for own in cuts_here):
            yield Mismatch(name, "cut of a row [m]", row.cut, cuts_here[-1], where)
        top = walk.rise if row.pipe_top is None else row.pipe_top
        lies = walk.rise_at(np.array([row.station - _STATION, row.station + _STATION]))
        if row.pipe_top is not None and not float(lies.min()) - 1e-6 <= top <= float(lies.max()) + 1e-6:
            yield Mismatch(name, "top of the pipe at a row above its invert [m]", row.pipe_top, float(lies[-1]), where)
        if _differs(row.cover, row.ground - (row.invert + top), LEVEL):
            yield Mismatch(name, "cover of a row [m]", row.cover, row.ground - (row.invert + top), where)
        if grades and not any(abs(row.grade - grade) <= _GRADE for grade in grades):
            yield Mismatch(name, "grade of a row [-]", row.grade, grades[0], where)


def _at_station(walk: Walk, station: float) -> tuple[float, float, list[float]]:
    """Least and greatest invert at a station (two at a drop), and the grade of the run downstream of it.

    At the outlet, where no run is downstream, the grade of the first run stands.
    """
    near = np.abs(walk.at - station) <= _STATION
    own = [walk.invert_at(station), *walk.inverts[near].tolist()]
    grades = []
    for start, end, fall in zip(walk.at[:-1], walk.at[1:], np.diff(walk.inverts), strict=True):
        if end - start > NO_LENGTH and start + _STATION < station <= end + _STATION:
            grades.append(float(fall / (end - start)))
    if station <= _STATION:
        long = int(np.argmax(np.diff(walk.at) > NO_LENGTH))
        grades = [float(np.diff(walk.inverts)[long] / np.diff(walk.at)[long])]
    return min(own), max(own), grades[-1:] if station > _STATION else grades


def _of_crossings(scene: Scene, walk: Walk) -> Iterator[Mismatch]:
    name, words = walk.line.id, scene.words
    for kind in PAVEMENT_KINDS:
        listed = [(c.station_from, c.station_to) for c in walk.line.crossings if c.kind == kind]
        own = walk.under.get(kind, ())
        gap = _apart(tuple(listed), own)
        if not gap <= _EDGE:
            yield Mismatch(
                name,
                f"length under {kind} [m]",
                _union(tuple(listed)),
                _union(own),
                words.stretches(own or listed),
            )
    met = [cuts(walk, utility.geometry) for utility in scene.site.of_kind("utility")]
    for cut in itertools.chain.from_iterable(met):
        if not any(c.kind == "utility" and _holds(walk, c, cut.station) for c in walk.line.crossings):
            yield Mismatch(name, "utility crossed at station [m]", None, cut.station, words.station(cut.station))
    for crossing in walk.line.crossings:
        yield from _of_crossing(scene, walk, crossing)
        if crossing.kind == "utility":
            yield from _of_utility(scene, walk, crossing)


def _of_utility(scene: Scene, walk: Walk, crossing: Crossing) -> Iterator[Mismatch]:
    """Whether a utility is called, and lies as deep, as the survey has it: a crew digs by these words."""
    where = scene.words.stations(crossing.station_from, crossing.station_to)
    known = [
        (feature.name, feature.attributes.get("service") or "", feature.attributes.get("depth"))
        for feature in scene.site.of_kind("utility")
    ]
    alike = [one for one in known if one[:2] == (crossing.name, crossing.service)]
    if not alike:
        yield Mismatch(walk.line.id, "utility of this name and service", 1.0, None, where)
    elif all(_differs(crossing.depth, depth, LEVEL) for _, _, depth in alike):
        yield Mismatch(walk.line.id, "depth of a utility [m]", crossing.depth, alike[0][2], where)
    own = scene.limit(rules.UTILITY_CROSSED)
    if _differs(crossing.hand_dig, own, LEVEL):
        yield Mismatch(walk.line.id, "reach of digging by hand at a utility [m]", crossing.hand_dig, own, where)


def _of_crossing(scene: Scene, walk: Walk, crossing: Crossing) -> Iterator[Mismatch]:
    import shapely

    name, words = walk.line.id, scene.words
    start, end = crossing.station_from, crossing.station_to
    where = words.stations(start, end)
    if not -_EDGE <= start <= end <= walk.length + _EDGE:
        yield Mismatch(name, f"stations of {units.with_article(crossing.kind)} crossing [m]", start, None, where)
        return
    shapes = [feature.geometry for feature in scene.site.of_kind(crossing.kind)]
    named = [feature.geometry for feature in scene.site.of_kind(crossing.kind) if feature.name == crossing.name]
    if not shapes:
        yield Mismatch(name, f"{crossing.kind} crossed", start, None, where)
        return
    angles: tuple[float, ...]
    if crossing.kind in LINE_KINDS:
        here = [cut for cut in cuts(walk, shapely.union_all(named or shapes)) if _holds(walk, crossing, cut.station)]
        angles = tuple(cut.angle for cut in here)
        if not here:
            yield Mismatch(name, f"{crossing.kind} crossed at station [m]", start, None, where)
    else:
        angles = edge_angles(walk, shapely.union_all(shapely.make_valid(named or shapes)), (start, end))
    if angles and not min(angles) - ASLANT <= crossing.angle <= max(angles) + ASLANT:
        yield Mismatch(
            name, f"angle of {units.with_article(crossing.kind)} crossing [degrees]", crossing.angle, min(angles), where
        )
    inside = (walk.s > start) & (walk.s < end)
    covers = _covers(scene, walk, np.concatenate(([start], walk.s[inside], [end])))
    if np.isfinite(covers).all():
        for what, stored, own, tolerance in (
            ("first edge", crossing.cover_from, float(covers[0]), GROUND),
            ("second edge", crossing.cover_to, float(covers[-1]), GROUND),
            ("least", crossing.cover_min, float(covers.min()), THIN),
        ):
            if _differs(stored, own, tolerance):
                yield Mismatch(
                    name, f"cover at {units.with_article(crossing.kind)} crossing, {what} [m]", stored, own, where
                )


def _holds(walk: Walk, crossing: Crossing, station: float) -> bool:
    """Whether a stated stretch lies about a place where a line is crossed: evenly, unless the line ends in it."""
    start, end = crossing.station_from, crossing.station_to
    if start <= _EDGE or end >= walk.length - _EDGE:
        return start - _EDGE <= station <= end + _EDGE
    return abs((start + end) / 2 - station) <= _EDGE


def _covers(scene: Scene, walk: Walk, stations: Floats) -> Floats:
    return _over(scene, walk, stations) - walk.rise_at(stations)


def _over(scene: Scene, walk: Walk, stations: Floats) -> Floats:
    """Ground above the invert at stations [m]."""
    x, y = (np.interp(stations, walk.at, walk.corners[:, axis]) for axis in (0, 1))
    return ground_at(scene.site.grid, x, y) - np.interp(stations, walk.at, walk.inverts)


def _of_passages(scene: Scene, walk: Walk) -> Iterator[Mismatch]:
    listed: dict[str, list[Stretch]] = {}
    for passage in walk.line.low_spots:
        listed.setdefault(passage.id, []).append((passage.station_from, passage.station_to))
    known = {spot.id: spot for spot in scene.plan.low_spots}
    for name in dict.fromkeys([*known, *listed]):
        area = area_of(known[name]) if name in known else None
        own = () if area is None else stretches_inside(walk.corners, walk.at, area)
        stated = tuple(listed.get(name, ()))
        if not _apart(stated, own) <= _EDGE:
            where = scene.words.stretches(own or stated)
            yield Mismatch(walk.line.id, f"length in low spot {name} [m]", _union(stated), _union(own), where)


def _of_pipe(scene: Scene, walk: Walk) -> Iterator[Mismatch]:
    stated = {
        (pipe.kind, pipe.nominal): pipe for pipe in (walk.line.pipe, *(reach.pipe for reach in walk.line.reaches))
    }
    for pipe in stated.values():
        entry = pipes.found(pipe.kind, pipe.nominal, scene.site.laying.own_pipes)
        if entry is None:
            if walk.line.reaches:
                yield Mismatch(
                    walk.line.id, f"pipe {pipe.kind} {pipe.nominal} in the book", 1.0, None, "the whole line"
                )
            continue
        for what in ("od", "bore", "wall", "roughness"):
            if _differs(getattr(pipe, what), getattr(entry, what), 1e-6):
                yield Mismatch(
                    walk.line.id,
                    f"{what} of the pipe",
                    getattr(pipe, what),
                    getattr(entry, what),
                    "the whole line",
                )


def _of_reaches(scene: Scene, walk: Walk) -> Iterator[Mismatch]:
    """Whether reaches follow one another from end to end, and their covers are those over their own pipe."""
    reaches, name, words = walk.line.reaches, walk.line.id, scene.words
    if not reaches:
        return
    ends = [0.0, *(reach.station_to for reach in reaches)]
    starts = [*(reach.station_from for reach in reaches), walk.length]
    for stated, own in zip(starts, ends, strict=True):
        if _differs(stated, own, _STATION):
            yield Mismatch(name, "station of a reach [m]", stated, own, words.station(own))
    for reach in reaches:
        low, high = max(0.0, reach.station_from), min(walk.length, reach.station_to)
        inside = (walk.s > low) & (walk.s < high)
        at = np.concatenate(([low], walk.s[inside], [high]))
        # its own boundaries count, over its own pipe
        over = _over(scene, walk, at) - reach.pipe.bore - (reach.pipe.od - reach.pipe.bore) / 2
        if np.isfinite(over).all() and _differs(reach.cover_min, float(over.min()), THIN):
            where = words.stations(reach.station_from, reach.station_to)
            yield Mismatch(name, "least cover of a reach [m]", reach.cover_min, float(over.min()), where)
    for stretch, length in wrong_beds(scene, walk):
        yield Mismatch(
            name, "length bedded otherwise than wheels or wet ground ask [m]", length, 0.0, words.stations(*stretch)
        )


def _of_weak_ground(scene: Scene, walk: Walk) -> Iterator[Mismatch]:
    """Whether the weak ground that a planned line states is all that there is, and no more."""
    line = walk.line
    if not (line.soft or (line.reaches and (line.belly or line.belly_unknown))):
        return
    stated = tuple((one.station_from, one.station_to) for one in line.soft)
    own = tuple((one.start, one.end) for one in weak_ground(scene, walk))
    if not _apart(stated, own) <= 2 * _EDGE:
        where = scene.words.stretches(own or stated)
        yield Mismatch(line.id, "length over weak ground [m]", _union(stated), _union(own), where)


def _of_sources(scene: Scene) -> Iterator[Mismatch]:
    surveyed = {source.id: source for source in scene.site.every_source}
    stated = {source.id for source in scene.plan.sources}
    for name in (name for name in surveyed if name not in stated):
        yield Mismatch(name, "source of the survey", None, 1.0, "")
    for source in scene.plan.sources:
        own = surveyed.get(source.id)
        if own is None:
            yield Mismatch(source.id, "source", 1.0, None, "")
            continue
        ground = float(ground_at(scene.site.grid, np.array([own.x]), np.array([own.y]))[0])
        pairs: list[tuple[str, float | None, float | None, float]] = [
            ("x [m]", source.x, own.x, LEVEL),
            ("y [m]", source.y, own.y, LEVEL),
            ("ground [m]", source.ground, ground if math.isfinite(ground) else own.ground, GROUND),
            (
                "ground known",
                float(source.ground_known),
                1.0 if math.isfinite(ground) else float(own.ground_known),
                0.0,
            ),
            ("highest start invert [m]", source.invert_limit, own.invert_limit, LEVEL),
            ("roof area [m2]", source.roof_area, own.roof_area, LEVEL),
            ("pump rate [m3/s]", source.pump_rate, own.pump_rate, 1e-9),
            *_of_pit(source, own),
        ]
        flow, says = source_flow(scene, own), scene.plan.inflows.of(source.id)
        if flow is not None and says is not None:
            pairs.append(("flow [m3/s]", says, flow, flow * RATIO))
        if SOURCES[own.kind].flow is Flow.GATHERED and own.roof_area is None:
            pairs += _of_gathered(scene, own)
        for what, stored, mine, tolerance in pairs:
            if _differs(stored, mine, tolerance):
                yield Mismatch(source.id, f"{what} of the source", stored, mine, "at the source")


def _of_pit(source: Source, own: Source) -> Iterator[tuple[str, float | None, float | None, float]]:
    """Where the pit of a lifted sump stands."""
    for k, what in enumerate(("x", "y", "ground")):
        yield (
            f"{what} of the pit [m]",
            None if source.pit is None else source.pit[k],
            None if own.pit is None else own.pit[k],
            LEVEL,
        )


def _of_gathered(scene: Scene, source: Source) -> Iterator[tuple[str, float | None, float | None, float]]:
    """An inlet's water comes from no more ground than is known, and from the cell that it stands in at least."""
    area = shedding_ground(scene, source)
    if area is None:
        return
    grid = scene.site.grid
    least, most = grid.cell**2, float(np.isfinite(grid.z).sum()) * grid.cell**2
    yield "ground drained [m2]", area, min(max(area, least), most), ROUGHLY * area


def _of_outlets(scene: Scene) -> Iterator[Mismatch]:
    for outlet in scene.plan.outlets:
        feature = scene.feature_of(outlet)
        if feature is None and not outlet.found:
            yield Mismatch(outlet.id, "outlet", 1.0, None, "")
            continue
        ground = float(ground_at(scene.site.grid, np.array([outlet.x]), np.array([outlet.y]))[0])
        given = feature.attributes.get("invert") if feature is not None else None
        control, fixed = control_of(scene, outlet)
        pairs: list[tuple[str, float | None, float | None, float]] = [("invert", outlet.invert, given, LEVEL)]
        old = feature.attributes if feature is not None and into_pipe(outlet.kind) else {}
        pairs += [("inside", outlet.size, old.get("diameter"), LEVEL)]
        if feature is not None:
            pairs += [("x", outlet.x, feature.geometry.x, LEVEL), ("y", outlet.y, feature.geometry.y, LEVEL)]
        if math.isfinite(ground):
            pairs += [("ground", outlet.ground, ground, GROUND)]
        if fixed or math.isfinite(ground):
            pairs += [("control elevation", outlet.control, control, LEVEL if fixed else TWO_SCANS)]
        for what, stored, mine, tolerance in pairs:
            if _differs(stored, mine, tolerance):
                yield Mismatch(outlet.id, f"{what} of the outlet [m]", stored, mine, "at the outlet")
        takes = old.get("takes_flow")
        if _differs(outlet.takes, takes, _FLOW):
            stated, given = (None if one is None else one / LITRE for one in (outlet.takes, takes))
            yield Mismatch(outlet.id, "what the old pipe can still take [L/s]", stated, given, "at the outlet")


def _of_low_spots(scene: Scene) -> Iterator[Mismatch]:
    for spot in scene.plan.low_spots:
        area = area_of(spot)
        if area is None:
            yield Mismatch(spot.id, "rings of the low spot", 0.0, 1.0, "")
            continue
        if _differs(spot.area, float(area.area), ROUGHLY * float(area.area) + scene.site.grid.cell**2):
            yield Mismatch(spot.id, "area of the low spot [m2]", spot.area, float(area.area), "")
        if spot.kind == "hollow":
            yield from _of_hollow(scene, spot)


def _of_hollow(scene: Scene, spot: LowSpot) -> Iterator[Mismatch]:
    """Depth and volume below the spill from the cells inside the rings; certain or not from depth and doubt."""
    area, level = area_of(spot), spot.spill_elevation
    heights = _cells_inside(scene, spot)
    if area is None or not len(heights):
        return
    if level is None:
        yield Mismatch(spot.id, "spill elevation of the low spot [m]", None, float(heights.max()), "")
        return
    depth = level - float(heights.min())
    volume = float(np.mean(level - heights)) * float(area.area)
    if _differs(spot.depth, depth, GROUND):
        yield Mismatch(spot.id, "depth of the low spot [m]", spot.depth, depth, "")
    if heights.max() > level + GROUND:
        yield Mismatch(spot.id, "spill elevation of the low spot [m]", level, float(heights.max()), "")
    if _differs(spot.volume, volume, ROUGHLY * volume + LEVEL):
        yield Mismatch(spot.id, "volume of the low spot [m3]", spot.volume, volume, "")
    doubt = rules.needed(scene.site.rules, rules.LOW_SPOT_DOUBT) * scene.site.accuracy
    if spot.certain != (depth >= doubt) and abs(depth - doubt) > GROUND:
        yield Mismatch(spot.id, "certainty of the low spot", float(spot.certain), float(depth >= doubt), "")


def _cells_inside(scene: Scene, spot: LowSpot) -> Floats:
    """Known heights of the grid's cells whose centre lies inside a low spot."""
    import shapely

    area, grid = area_of(spot), scene.site.grid
    ring = np.array(spot.rings[0], np.float64)
    row, col = grid.to_index(ring[:, 0], ring[:, 1])
    rows, cols = grid.z.shape
    r0, r1 = max(0, math.floor(row.min())), min(rows - 1, math.ceil(row.max()))
    c0, c1 = max(0, math.floor(col.min())), min(cols - 1, math.ceil(col.max()))
    if r1 < r0 or c1 < c0:
        return np.empty(0)
    r, c = (axis.ravel() for axis in np.mgrid[r0 : r1 + 1, c0 : c1 + 1])
    inside = shapely.contains_xy(area, *grid.to_plan(r.astype(np.float64), c.astype(np.float64)))
    heights = grid.z[r[inside], c[inside]]
    return np.asarray(heights[np.isfinite(heights)], np.float64)


def _of_candidates(scene: Scene) -> Iterator[Mismatch]:
    for one in scene.plan.candidates:
        subject = f"{', '.join(one.sources)}:to {one.outlet}"
        if one.fall_available is not None and one.fall_needed is not None:
            margin = one.fall_available - one.fall_needed
            if _differs(one.margin, margin, LEVEL):
                yield Mismatch(subject, "margin of a candidate [m]", one.margin, margin, "")


def _union(stretches: tuple[Stretch, ...]) -> float:
    """Length covered by stretches, each place once."""
    covered, upto = 0.0, -math.inf
    for start, end in sorted(stretches):
        covered += max(0.0, end - max(start, upto))
        upto = max(upto, end)
    return covered


def _apart(some: tuple[Stretch, ...], others: tuple[Stretch, ...]) -> float:
    """Length that lies in one set of stretches and not in the other."""
    both = _union((*some, *others))
    return 2 * both - _union(some) - _union(others)
