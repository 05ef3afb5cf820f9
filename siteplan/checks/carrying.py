"""The pieces of pipe and their flows in; findings on whether they carry them, fast enough and not too fast, out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from siteplan import units
from siteplan.books import rules
from siteplan.books.kinds import SOURCES, Flow, at_curb, into_pipe, pumped
from siteplan.books.pipes import sizes
from siteplan.books.practice import SAME_SIZE
from siteplan.checks.curb_ends import HERE, above_the_hole, hole_flow, hole_of, hole_taken
from siteplan.checks.curb_sharing import through_same_holes
from siteplan.checks.curbs import cure_or_where, cure_place
from siteplan.checks.flows import FlowPiece, brought_by, entry_of, lines_at, pieces_of, source_flow
from siteplan.checks.outlet_ends import carried, joined_at
from siteplan.checks.pipe_flow import allowed, by_kb, filled, full_flow_anew, leader, printed_row, speed_at, table_of
from siteplan.checks.report import Measure, plain, ruled
from siteplan.checks.scene import Scene, Words
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.told import Finding
from siteplan.values.water_ends import Outlet

FLOW_SLACK = 1e-9  # relative
RAIN_SLACK = 1e-6  # relative
Link = tuple[str, str, str, float, float, str, str]  # line, what, where, comes, passes [m3/s], cure, whose water
SPEED = Measure(Words.speed, "m/s", slack=1e-6)


def run_capacity(scene: Scene) -> list[Finding]:
    """Whether every run stays under its design fill.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One a line, at its tightest run; a flag when its flow is not known. A run that is over its design fill and not
        full is left to `size_fits` where that speaks of it: one fact, one finding.

    References
    ----------
    Manning's equation, `siteplan.checks.pipe_flow`.
    """
    rule, found = rules.RUN_CAPACITY, []
    told = {one.subject for one in size_fits(scene) if one.status == "fail"}
    for name, laid in pieces_of(scene).items():
        pieces = above_the_hole(scene, name, laid)
        known = [piece for piece in pieces if piece.flow is not None and piece.grade > 0]
        if len(known) < len([piece for piece in pieces if piece.grade > 0]) or not known:
            found += _unknown(scene, name, pieces)
            continue
        tight = max(known, key=lambda piece: ((piece.flow or 0.0) / piece.full, -piece.start))
        flow, words = tight.flow or 0.0, scene.words
        filling = filled(scene.site.sizing, tight.pipe, tight.grade, tight.rough)
        text = (
            f"{words.flow(flow)} comes; {words.size(tight.pipe)} at {words.percent(tight.grade)} carries "
            f"{words.flow(filling)} at its design fill and {words.flow(tight.full)} full"
        )
        over = flow > filling * (1 + FLOW_SLACK)
        drowned = flow > tight.full * (1 + FLOW_SLACK)
        if over and not drowned and name in told:
            continue
        if drowned:
            text += f"{_pumped_alone(scene, tight)}; {_would_help(scene, name, tight, flow)}"
        elif over:
            text += ": it still runs below full"
        found.append(
            plain(
                rule,
                name,
                "broken" if over else "kept",
                text,
                where=words.stations(tight.start, tight.end),
                value=flow / units.LITRE,
                unit="lps",
                limit=(tight.full if drowned else filling) / units.LITRE,
                broken="fail" if drowned else "flag",
            )
        )
    return found


def _pumped_alone(scene: Scene, piece: FlowPiece) -> str:
    """The pumps that alone bring more than a run carries, with what they bring."""
    carries = carried(scene, scene.lines[piece.line])
    return "".join(
        f", {source.name or source.id} alone pumps {scene.words.flow(source.pump_rate)}"
        for source in scene.site.sources
        if pumped(source.kind) and source.id in carries and source.pump_rate and source.pump_rate > piece.full
    )


def _unknown(scene: Scene, name: str, pieces: list[FlowPiece]) -> list[Finding]:
    if not pieces:
        return []
    line = scene.lines[name]
    missing = [
        source.name or source.id
        for source in scene.site.sources
        if source.id in line.sources and source_flow(scene, source) is None
    ]
    text = (
        f"what {', '.join(missing) or 'this line'} brings is not known, so its size is not judged: give "
        "[rainfall], roof_area and pump_rate"
    )
    return [plain(rules.RUN_CAPACITY, name, "cannot tell", text)]


def rain_duration(scene: Scene) -> list[Finding]:
    """Whether the rain that flows are worked for is as short as was wanted.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each line that carries a roof or an inlet, when the site gives a table of durations.

    References
    ----------
    The table's ends against the duration wanted; a roof answers in about 5 minutes (common practice, no source).
    """
    rule, rain = rules.RAIN_DURATION, scene.site.rain
    if not rain.table or rain.wanted is None:
        return []
    first, last = rain.table[0][0], rain.table[-1][0]
    taken = min(max(rain.wanted, first), last)
    wet = {source.id for source in scene.site.sources if not pumped(source.kind) and source_flow(scene, source)}
    kept = abs(taken - rain.wanted) <= RAIN_SLACK * rain.wanted
    if kept:
        text = f"flows are worked for a rain of {scene.words.minutes(taken)}"
    else:
        text = (
            f"the rainfall table {'begins' if taken > rain.wanted else 'ends'} at {scene.words.minutes(taken)} "
            f"and a roof answers in {scene.words.minutes(rain.wanted)}: flows are worked for the table's nearest "
            "row"
        )
        text += (
            (
                ", real ones are higher and the pipe may be too small; give the shorter rows, or say under "
                "[rainfall] which duration is meant"
            )
            if taken > rain.wanted
            else "; give longer rows, or say under [rainfall] which duration is meant"
        )
    return [
        plain(
            rule, name, "kept" if kept else "broken", text, value=taken, unit="s", limit=None if kept else rain.wanted
        )
        for name, line in scene.lines.items()
        if wet & set(carried(scene, line))
    ]


def size_fits(scene: Scene) -> list[Finding]:
    """Whether the pipe laid takes its flow on the basis in force.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each line whose flow is known; judged by Manning and 'cannot tell' where the book holds no printed
        figure. None for a line whose run would be full: `run_capacity` says so.

    References
    ----------
    The basis that the site names: Manning, or a printed table.
    """
    rule, found, sizing, words = rules.SIZE_FITS, [], scene.site.sizing, scene.words
    table = table_of(sizing.basis)
    kb = None if sizing.kb is None else f"Prandtl-Colebrook with kb {sizing.kb / units.MILLIMETRE:g} mm"
    basis = table.edition if table is not None else kb or "Manning at the design fill"
    for name, pieces in pieces_of(scene).items():
        falling = [piece for piece in above_the_hole(scene, name, pieces) if piece.grade > 0]
        if not falling or any(piece.flow is None for piece in falling):
            continue
        rows = {piece.start: printed_row(sizing, piece.pipe, piece.grade) for piece in falling}
        tight, most = max(
            ((piece, allowed(sizing, piece.pipe, piece.grade)) for piece in falling),
            key=lambda pair: (pair[0].flow or 0.0) / max(pair[1], 1e-12),
        )
        if table is not None:
            blank = next((piece for piece in falling if rows[piece.start] is None), None)
        else:
            blank = next((piece for piece in falling if kb and not by_kb(sizing, piece.pipe)), None)
        flow, row = tight.flow or 0.0, rows[tight.start]
        kept = flow <= most * (1 + FLOW_SLACK)
        formula = table is None and (kb is None or by_kb(sizing, tight.pipe))
        whose = basis if row is not None or formula else "Manning at the design fill"
        text = (
            f"{words.flow(flow)} is {100 * flow / max(most, 1e-12):.0f} % of the {words.flow(most)} that {whose} "
            f"gives {words.size(tight.pipe)} at {words.percent(tight.grade)}"
        )
        if row is not None:
            text += f", its row at {words.percent(row.grade)}, {row.standing}"
            text += f" ({row.note})" if row.suspect else ""
        if blank is not None and kb:
            text += (
                f"; kb speaks of smooth pipe, not of {words.size(blank.pipe)} {blank.pipe.title}: sized by "
                "Manning there"
            )
        elif blank is not None:
            text += (
                f"; of {basis} the book holds none for {words.size(blank.pipe)} {blank.pipe.title} at "
                f"{words.percent(blank.grade)}: sized by Manning there, ask for the printed table"
            )
        if not kept:
            if any((piece.flow or 0.0) > piece.full * (1 + FLOW_SLACK) for piece in falling):
                continue
            text += f", and it still runs below full; {_would_help(scene, name, tight, flow)}"
        found.append(
            plain(
                rule,
                name,
                "broken" if not kept else "kept" if blank is None else "cannot tell",
                text,
                where=words.stations(tight.start, tight.end),
                value=flow / units.LITRE,
                unit="lps",
                limit=most / units.LITRE,
            )
        )
    return found


def _would_help(scene: Scene, name: str, piece: FlowPiece, flow: float) -> str:
    """The size that takes the flow; or what keeps it from being laid, and what would help."""
    barred = [one for one in scene.plan.barred_sizes if one.line == name and one.laid == piece.pipe.nominal]
    if not barred:
        return _would_fit(scene, piece, flow)
    words = scene.words
    names = {one.id: one.name or one.id for one in scene.plan.sources}
    names |= {one.id: one.name or one.id for one in scene.plan.outlets}
    worst = max(barred, key=lambda one: math.inf if one.short_by is None else one.short_by)
    who = ", ".join(names.get(one.source, one.source) for one in barred)
    text = f"{worst.asked} would take it and is not laid: the cover over it leaves {who} without a line"
    if worst.reason is not None:
        text += f" ({names.get(worst.outlet or '', 'nearest, a daylight point')}: {worst.reason})"
    most = allowed(scene.site.sizing, piece.pipe, piece.grade)
    fall = "" if worst.short_by is None else f"{words.drop(worst.short_by)} more fall there, or "
    return f"{text}. Would help: {fall}{words.flow(max(flow - most, 0.0))} less water in this line"


def _would_fit(scene: Scene, piece: FlowPiece, flow: float) -> str:
    try:
        offered: tuple[Pipe, ...] = sizes(piece.pipe.kind, scene.site.laying.own_pipes)
    except KeyError:
        offered = ()
    for pipe in offered:
        if allowed(scene.site.sizing, pipe, piece.grade) >= flow:
            return f"{scene.words.size(pipe)} would take it, or more grade, or less water"
    return "no size of this kind takes it: more grade, two lines, or less water"


def size_shrinks(scene: Scene) -> list[Finding]:
    """Whether a line is smaller than what falls into it.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each line that joins another or changes its pipe.

    References
    ----------
    Common practice, no source.
    """
    rule, found, words = rules.SIZE_SHRINKS, [], scene.words
    for name, walk in scene.walks.items():
        line = walk.line
        places = [
            (below.pipe, above.pipe, below.station_to, name)
            for below, above in zip(line.reaches, line.reaches[1:], strict=False)
        ]
        trunk = scene.lines.get(line.end)
        if trunk is not None and trunk.id in scene.walks:
            at = joined_at(walk, scene.walks[trunk.id])
            places.insert(0, (trunk.pipe_at(max(at - HERE, 0.0)), line.pipe_at(0.0), 0.0, trunk.id))
        piece = line.curb_piece
        if piece is not None and line.end in scene.outlets:  # the rule of curb holes speaks of it
            places = [place for place in places if abs(place[2] - piece.station_to) > HERE]
        out = []
        for lower, upper, station, whose in places:
            if upper.bore - lower.bore > SAME_SIZE * upper.bore:
                text = (
                    f"{words.size(lower)} of {whose} below {words.size(upper)}: what passes the larger lodges in "
                    "the smaller"
                )
                out.append(
                    plain(rule, name, "broken", text, where=words.station(station), value=lower.bore, limit=upper.bore)
                )
        if places and not out:
            out = [plain(rule, name, "kept", "no pipe is smaller than what falls into it")]
        found += out
    return found


def self_cleaning(scene: Scene) -> list[Finding]:
    """Whether every run would be fast enough, flowing full, to carry its grit along.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One a line, at its slowest run.

    References
    ----------
    Velocity of the full pipe by Manning's equation.
    """
    rule, found = rules.SELF_CLEANING, []
    for name, pieces in pieces_of(scene).items():
        falling = [piece for piece in pieces if piece.grade > 0]
        if not falling:
            continue
        slow = min(falling, key=lambda piece: (round(_full_speed(piece), 9), piece.start))
        limit = scene.limit(rule)
        more = ""
        if limit is not None:
            more = (
                f"It would take {scene.words.percent((limit / (_full_speed(slow) / math.sqrt(slow.grade))) ** 2)} "
                "in this pipe"
            )
        found.append(
            ruled(
                scene,
                rule,
                name,
                _full_speed(slow),
                measure=SPEED,
                said="velocity flowing full",
                limit=limit,
                where=scene.words.stations(slow.start, slow.end),
                more=more,
            )
        )
    return found


def _full_speed(piece: FlowPiece) -> float:
    return piece.full / (math.pi * piece.pipe.bore**2 / 4)


def top_velocity(scene: Scene) -> list[Finding]:
    """Whether water runs faster at the design flow than pipe should carry it.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each line whose flow is known, at its fastest run.

    References
    ----------
    Flow over area at the depth of even flow.
    """
    rule, found = rules.TOP_VELOCITY, []
    for name, pieces in pieces_of(scene).items():
        speeds = [
            (speed_at(piece.flow, piece.pipe.bore, piece.grade, piece.rough), piece)
            for piece in pieces
            if piece.grade > 0 and piece.flow
        ]
        if not speeds:
            continue
        speed, piece = max(speeds, key=lambda pair: (round(pair[0], 9), -pair[1].start))
        found.append(
            ruled(
                scene,
                rule,
                name,
                speed,
                measure=SPEED,
                said="velocity at the design flow",
                limit=scene.limit(rule),
                where=scene.words.stations(piece.start, piece.end),
                more="Lay it flatter with a drop, or anchor it",
            )
        )
    return found


def weakest_link(scene: Scene) -> list[Finding]:
    """Whether leaders, reducers and curb holes pass what comes to them.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each that the survey or the plan gives a size, where its flow is known.

    References
    ----------
    `hydraulics.leader`; a reducer carries as a pipe of its own bore at the last run's grade, holes through a curb at
    the least grade of the outlet zone, and take what all the lines bring that go through them.
    """
    rule, found, words = rules.WEAKEST_LINK, [], scene.words
    for name, what, place, flow, passes, cure, whose in _links(scene, pieces_of(scene)):
        kept = flow <= passes * (1 + FLOW_SLACK)
        text = f"{what} passes {words.flow(passes)}, {words.flow(flow)}{whose} comes"
        if not kept:
            text += f": {cure}"
        found.append(
            plain(
                rule,
                name,
                "kept" if kept else "broken",
                text,
                where=place,
                value=flow / units.LITRE,
                unit="lps",
                limit=passes / units.LITRE,
            )
        )
    return found


def _links(scene: Scene, pieces: Mapping[str, list[FlowPiece]]) -> Iterator[Link]:
    for name, own in pieces.items():
        line = scene.lines[name]
        source = next((source for source in scene.site.sources if source.id == line.start), None)
        if source is not None and SOURCES[source.kind].flow is Flow.ROOF and "diameter" in scene.site.told_of(source):
            brings = source_flow(scene, source)
            if brings is not None:
                width = float(scene.site.told_of(source)["diameter"])
                yield (
                    name,
                    f"leader {source.name}, {scene.words.small(width)} across,",
                    "at the source",
                    brings,
                    leader(width),
                    "enlarge it before anything else on this line",
                    "",
                )
        outlet = scene.outlets.get(line.end)
        if outlet is None or into_pipe(outlet.kind) or not own or own[0].grade <= 0:
            continue
        if at_curb(outlet.kind):
            yield from _curb_link(scene, line, outlet, pieces)
            continue
        hole, at = hole_of(scene, line, outlet), scene.words.station(0.0)
        flow = brought_by(pieces, lines_at(scene, outlet))
        if flow is not None and hole.inside < own[0].pipe.bore:
            passes = full_flow_anew(hole.inside, own[0].grade, own[0].rough)
            yield (
                name,
                f"reducer {outlet.name}, {scene.words.small(hole.inside)} inside,",
                at,
                flow,
                passes,
                "enlarge it before anything else on this line",
                _joint(lines_at(scene, outlet)),
            )


def _curb_link(scene: Scene, line: Line, outlet: Outlet, pieces: Mapping[str, list[FlowPiece]]) -> Iterator[Link]:
    """The holes that a line's water goes through at a curb."""
    lines = through_same_holes(scene, line, outlet)
    flow, passes = brought_by(pieces, lines), hole_flow(scene, line, outlet, pieces)
    if flow is None or passes is None:
        return
    hole, taken = hole_of(scene, line, outlet), hole_taken(scene, line, outlet)
    several = "" if taken.number == 1 else f"{taken.number} times "
    inside = f"{scene.words.small(taken.inside)} inside,"
    if taken != hole:  # the hole as drilled leaves too little concrete: its own flow is none to count on
        inside = f"{inside} the largest that its face takes (not the {scene.words.small(hole.inside)} of the plan),"
    here = (rules.WEAKEST_LINK.id, line.id)
    first = next((one.id for one in lines_at(scene, outlet) if _over(scene, one, outlet, pieces)), line.id)
    place = cure_place(scene, outlet) or (rules.WEAKEST_LINK.id, first)
    cure = cure_or_where(scene, here, line, outlet, pieces, place)
    what = f"curb hole {outlet.name}, {several}{inside}"
    yield line.id, what, scene.words.station(0.0), flow, passes, cure, _joint(lines)


def _over(scene: Scene, line: Line, outlet: Outlet, pieces: Mapping[str, list[FlowPiece]]) -> bool:
    flow, passes = brought_by(pieces, through_same_holes(scene, line, outlet)), hole_flow(scene, line, outlet, pieces)
    return flow is not None and passes is not None and flow > passes * (1 + FLOW_SLACK)


def _joint(lines: Sequence[Line]) -> str:
    *most, last = [line.id for line in lines]
    return f" of {', '.join(most)} and {last} together" if most else ""


def pump_fits(scene: Scene) -> list[Finding]:
    """Whether a sump's line carries its pump beside the other water in it.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each sump with a rate and a line; none where the run is too small for all that comes, the pump's water
        among it: `run_capacity` says so, and one fact is said once.

    References
    ----------
    Full flow of the tightest run on its way, less the other water there.
    """
    rule, found, words = rules.PUMP_FITS, [], scene.words
    pieces = pieces_of(scene)
    drowned = {one.subject for one in run_capacity(scene) if one.status == "fail"}
    for source in scene.site.sources:
        place = entry_of(scene, source)
        if not pumped(source.kind) or not source.pump_rate or place is None:
            continue
        _, way = scene.way_out(place[0])
        room = [
            (max(piece.full - max((piece.flow or source.pump_rate) - source.pump_rate, 0.0), 0.0), piece)
            for piece in _on_the_way(scene, place, way, pieces)
        ]
        if not room:
            continue
        left, piece = min(room, key=lambda pair: (pair[0], pair[1].start))
        kept = source.pump_rate <= left * (1 + FLOW_SLACK)
        if not kept and piece.line in drowned:
            continue
        text = (
            f"{source.name or source.id} pumps {words.flow(source.pump_rate)}; {piece.line} has room for "
            f"{words.flow(left)} at its tightest"
        )
        if not kept:
            text += (
                ": when it runs in the design rain water stands in the line; take a larger line, more grade, or "
                "a smaller pump"
            )
        found.append(
            plain(
                rule,
                source.id,
                "kept" if kept else "broken",
                text,
                where=words.stations(piece.start, piece.end).of(piece.line),
                value=source.pump_rate / units.LITRE,
                unit="lps",
                limit=left / units.LITRE,
            )
        )
    return found


def _on_the_way(
    scene: Scene, place: tuple[Line, float], way: tuple[Line, ...], pieces: Mapping[str, list[FlowPiece]]
) -> list[FlowPiece]:
    found: list[FlowPiece] = []
    station = place[1]
    for k, line in enumerate(way):
        found += [piece for piece in pieces.get(line.id, []) if piece.end <= station + 0.005]
        if k + 1 < len(way) and line.id in scene.walks and way[k + 1].id in scene.walks:
            station = joined_at(scene.walks[line.id], scene.walks[way[k + 1].id])
    return found
