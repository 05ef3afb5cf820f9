"""Levels of water in; findings on rims, standing water, sumps' gaps and pits, and the storm's hardest block, out."""

from __future__ import annotations

import math
from typing import NamedTuple

from siteplan.books import rules
from siteplan.books.kinds import pumped
from siteplan.checks.flows import design_rain, entry_of, level_at, outside, pieces_of, rain_over, source_flow
from siteplan.checks.report import DISTANCE, DROP, Measure, plain, ruled
from siteplan.checks.scene import Scene, Words
from siteplan.checks.verdict import Answer
from siteplan.checks.ways import broken_by, verdict_of
from siteplan.values.lines import Line
from siteplan.values.told import Finding
from siteplan.values.water_ends import Source

SECONDS = Measure(Words.seconds, "s", slack=1e-6)
_BLOCK = 300.0  # s, the storm test's block
RIM_EXACT = 1e-6  # m
RIM_SLACK = 0.03  # m; two ways of finding a level agree to this


class Rim(NamedTuple):
    """Where a source's water comes out [m], its standard deviation [m], the top of the pipe there [m].

    Also whether the survey gives it.
    """

    level: float
    doubt: float
    crown: float
    given: bool


def rim_of(scene: Scene, source: Source) -> Rim | None:
    """The rim at a source: what the survey gives, else the ground there.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    source : Source
        A source.

    Returns
    -------
    Rim or None
        None when no line takes its water. Never below the top of the pipe there.
    """
    place = entry_of(scene, source)
    if place is None:
        return None
    given = scene.site.told_of(source).get("rim")
    crown = scene.walks[place[0].id].invert_at(place[1]) + place[0].pipe_at(place[1]).bore
    level = source.ground if given is None else float(given)
    doubt = scene.site.accuracy if given is None and level > crown else 0.0
    return Rim(max(level, crown), doubt, crown, given is not None)


def tail_water(scene: Scene) -> list[Finding]:
    """Whether water at the design flow stays below every rim.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each source whose line has a known flow.

    References
    ----------
    `flows.level_at`.
    """
    rule, found = rules.TAIL_WATER, []
    pieces = pieces_of(scene)
    for source in scene.site.sources:
        place, rim = entry_of(scene, source), rim_of(scene, source)
        if place is None or rim is None:
            continue
        level = level_at(scene, pieces, *place)
        if level is None:
            continue
        words = scene.words
        if not rim.given:
            found.append(_without_rim(scene, source, place, rim, level))
            continue
        found.append(
            ruled(
                scene,
                rule,
                source.id,
                rim.level - level,
                measure=DROP,
                limit=scene.limit(rule),
                doubt=rim.doubt,
                said=(
                    f"water at {words.elevation(level)} under the rim of {source.name or source.id} at "
                    f"{words.elevation(rim.level)}: clearance"
                ),
                where=words.station(place[1]).of(place[0].id),
                more="Water comes out here: lower the outlet, raise the rim or enlarge the line",
            )
        )
    return found


def _without_rim(scene: Scene, source: Source, place: tuple[Line, float], rim: Rim, level: float) -> Finding:
    """Tail-water at a source whose rim nobody gave: kept only while the water stays inside the pipe there."""
    rule, words, title = rules.TAIL_WATER, scene.words, source.name or source.id
    where = words.station(place[1]).of(place[0].id)
    text = f"water at {words.elevation(level)}, the top of the pipe at {title} at {words.elevation(rim.crown)}"
    if level <= rim.crown + RIM_EXACT:
        said: Answer = "kept"
        text += f": it stays in the pipe, {words.drop(rim.crown - level)} to spare"
    elif not pumped(source.kind) and level > rim.level + 2 * rim.doubt + RIM_EXACT:
        said = "broken"
        text += (
            f", the ground at {words.elevation(rim.level)}: water comes out here: lower the outlet or enlarge the line"
        )
    else:
        said = "cannot tell"
        text += (
            f", {words.drop(level - rim.crown)} lower, and no rim is given there: give rim, where water would come out"
        )
    return plain(rule, source.id, said, text, where=where, value=rim.crown - level)


def standing_water(scene: Scene) -> list[Finding]:
    """Length of each line that stands in water between rains.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each line that leads to an outlet.

    References
    ----------
    Level water behind the outlet's rim.
    """
    rule, found = rules.STANDING_WATER, []
    for name, walk in scene.walks.items():
        outlet, _ = scene.way_out(walk.line)
        if outlet is None:
            continue
        rim = scene.site.told_of(outlet).get("rim")
        if rim is None:
            found.append(plain(rule, name, "kept", "its outlet is open: it empties after each rain", value=0.0))
            continue
        wet = 0.0
        for start, end, low, high in zip(walk.at[:-1], walk.at[1:], walk.inverts[:-1], walk.inverts[1:], strict=True):
            span = abs(float(high - low))
            under = float(rim) - float(min(low, high))
            wet += float(end - start) * (min(max(under / span, 0.0), 1.0) if span > 1e-9 else float(under > 0))
        words = scene.words
        top = float(walk.inverts.max())
        more = (
            f"The rim of {outlet.name or outlet.id} at {words.elevation(float(rim))} is "
            f"{words.drop(abs(float(rim) - top))} {'above' if rim >= top else 'below'} the highest invert: it "
            "freezes and silts; take it to daylight, or weep it over stone"
        )
        found.append(
            ruled(
                scene,
                rule,
                name,
                wet,
                measure=DISTANCE,
                said="length that stands in water between rains",
                limit=scene.limit(rule),
                where=words.stations(0.0, min(wet, walk.length)),
                more=more,
            )
        )
    return found


def air_gap(scene: Scene) -> list[Finding]:
    """Whether a sump's pump pipe meets its line at an open gap above the water at the outlet.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each sump with a line.

    References
    ----------
    Practice.
    """
    rule, found, words = rules.AIR_GAP, [], scene.words
    pieces = pieces_of(scene)
    for source in scene.site.sources:
        place = entry_of(scene, source)
        if not pumped(source.kind) or place is None:
            continue
        where = "at the source"
        given = scene.site.told_of(source).get("rim")
        if scene.site.told_of(source).get("air_gap") == "none":
            found.append(_joined(scene, source))
            continue
        if given is None:
            text = (
                "the survey gives no rim of an open gap: leave one outside the wall, or a blocked line sends the "
                "water back to the pit"
            )
            found.append(plain(rule, source.id, "cannot tell", text, where=where))
            continue
        _, way = scene.way_out(place[0])
        end = pieces.get(way[-1].id, [])
        water = outside(scene, pieces, way[-1]) if end else None
        holds = water if water is not None else float(scene.walks[way[-1].id].inverts[0])
        gap = float(given) - holds
        kept = gap > 0
        text = (
            f"open rim at {words.elevation(float(given))}, {words.drop(abs(gap))} {'above' if kept else 'below'} "
            "the water at the outlet"
        )
        if not kept:
            text += ": it spills at the wall"
        found.append(
            plain(
                rule,
                source.id,
                "kept" if kept else "broken",
                text,
                where=where,
                value=gap,
            )
        )
    return found


def _joined(scene: Scene, source: Source) -> Finding:
    """A pump whose pipe is joined to its line without a gap."""
    rule, verdict = rules.AIR_GAP, verdict_of(scene, rules.AIR_GAP)
    text = (
        "the pump's pipe is joined without an open gap: a blocked or frozen line has no way out but the pit, and "
        "the pump runs against it"
    )
    if verdict is None:
        return plain(rule, source.id, "cannot tell", f"{text}; what the place asks is not known", where="at the source")
    if verdict == "allow":
        return plain(rule, source.id, "kept", f"{text}; allowed here", where="at the source")
    more = f"{text}: leave an open rim outside the wall"
    return plain(rule, source.id, "broken", more, where="at the source", broken=broken_by(verdict))


def pump_cycle(scene: Scene) -> list[Finding]:
    """Whether a pump would start too often.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each sump whose rate, pit and float travel are known.

    References
    ----------
    Shortest cycle 4 V / Q, when the inflow is half the rate; any text on pumping stations (memory).
    """
    rule, found = rules.PUMP_CYCLE, []
    for source in scene.site.sources:
        told = scene.site.told_of(source)
        if any(pump.source == source.id for pump in scene.site.pumps):
            continue  # what runs back from its line counts: `pressing.lifted_cycle`
        if not pumped(source.kind) or not source.pump_rate or not {"pit_diameter", "pit_rise"} <= set(told):
            continue
        volume = math.pi / 4 * float(told["pit_diameter"]) ** 2 * float(told["pit_rise"])
        found.append(
            ruled(
                scene,
                rule,
                source.id,
                4 * volume / source.pump_rate,
                measure=SECONDS,
                limit=scene.limit(rule),
                said="time from start to start when it refills at half the pump's rate",
                where="at the source",
                more="Let the float travel farther, widen the pit, or take a smaller pump",
            )
        )
    return found


def storm_overflow(scene: Scene) -> list[Finding]:
    """Whether water comes out on the way in the storm's hardest block.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each source, when the site gives a table of durations or a series. The plan's own storm may say more:
        a source it says overflows is never passed.

    References
    ----------
    Rational method at the hardest block; `flows.level_at`.
    """
    rule, found, words = rules.STORM_OVERFLOW, [], scene.words
    hardest, usual = hardest_rain(scene), design_rain(scene)
    if hardest is None:
        return []
    flows: dict[str, float | None] = {}
    for source in scene.site.sources:
        own = source_flow(scene, source)
        flows[source.id] = own if own is None or pumped(source.kind) or not usual else own / usual * hardest
    pieces = pieces_of(scene, flows)
    storm = None if scene.plan.water is None else scene.plan.water.storm
    for source in scene.site.sources:
        place, rim = entry_of(scene, source), rim_of(scene, source)
        level = None if place is None else level_at(scene, pieces, *place)
        if place is None or rim is None or level is None:
            continue
        told = next((one for one in storm.sources if one.source == source.id), None) if storm is not None else None
        spilt = 0.0 if told is None else told.overflow + told.flooded
        over = level - rim.level
        text = (
            f"at the storm's hardest block water stands at {words.elevation(level)}, the rim at "
            f"{words.elevation(rim.level)}"
        )
        said = _storm_answer(over, spilt)
        if said == "kept" and not rim.given and level > rim.crown + RIM_EXACT:
            said = "cannot tell"
            text += " (no rim is given: the ground's)"
        if spilt > 0:
            text += f"; in the storm test {words.volume(spilt)} comes out here"
        if said != "kept":
            text += ": take a larger pipe below it, or lead the overflow where it harms nothing"
        found.append(plain(rule, source.id, said, text, where=words.station(place[1]).of(place[0].id), value=-over))
    return found


def _storm_answer(over: float, spilt: float) -> Answer:
    if spilt > 0 or over > RIM_SLACK:
        return "broken"
    return "kept" if over < -RIM_SLACK else "cannot tell"


def hardest_rain(scene: Scene) -> float | None:
    """The hardest block of the storm that a site's rain makes.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    float or None
        Intensity [m/s]; None when the site gives neither a table nor a series.

    References
    ----------
    The middle block of an alternating-block storm has the table's intensity of one block, which is 5 minutes long or as
    long as the table's nearest row.
    """
    rain = scene.site.rain
    if rain.series:
        return max(rate for _, rate in rain.series)
    if not rain.table:
        return None
    return rain_over(scene, min(max(_BLOCK, rain.table[0][0]), rain.table[-1][0]))


def line_rims(scene: Scene, root: Line) -> list[tuple[float, Source]]:
    """Rims joined to a line that ends at an outlet, lowest first; a sump without a gap has none.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    root : Line
        A line that ends at an outlet.

    Returns
    -------
    list of (float, Source)
        Elevations [m].
    """
    found = []
    for source in scene.site.sources:
        place, rim = entry_of(scene, source), rim_of(scene, source)
        if place is None or rim is None or root not in scene.way_out(place[0])[1]:
            continue
        told = scene.site.told_of(source)
        if pumped(source.kind) and ("rim" not in told or told.get("air_gap") == "none"):
            continue
        found.append((rim.level, source))
    return sorted(found, key=lambda pair: (pair[0], pair[1].name))
