"""Lines that end at curbs in; findings on the hole there: the concrete round it, the line that must pass it, the flow it takes.

What would make a hole do is worked out in one place, so that no two findings ask for opposite things of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from siteplan.books import rules
from siteplan.books.kinds import at_curb
from siteplan.books.pipes import kinds, sizes
from siteplan.books.practice import CURB_PIECE, FLOW_LINE_SHOT, NEXT_SIZE_DOWN, SAME_SIZE
from siteplan.checks.curb_sharing import hole_each, through_same_holes
from siteplan.checks.flows import FlowPiece, brought_by, lines_at, pieces_of
from siteplan.checks.pipe_flow import full_flow_anew
from siteplan.checks.report import Measure, plain, ruled
from siteplan.checks.sampling import lowest_near
from siteplan.checks.scene import Scene, Words
from siteplan.checks.verdict import answer
from siteplan.survey.shot_codes import is_flow_line
from siteplan.values import Finding, Line, Outlet, Pipe

_GUTTER = 0.6  # m
HERE = 0.005  # m
CUT_IN = 0.001  # m; a hole's bottom no deeper than this under the flow line is at it
CONCRETE = Measure(Words.small, "m", slack=1e-6)


class Hole(NamedTuple):
    """What a line's water goes through at a curb: how many pipes, each of this inside and outside [m]."""

    number: int
    inside: float
    outside: float


ByLine = Mapping[str, list[FlowPiece]]


class Room(NamedTuple):
    """The largest outside diameter that leaves the concrete asked for [m], one standard deviation of it [m], and the pipe of the book."""

    outside: float
    doubt: float
    largest: Pipe | None


def curb_ends(scene: Scene) -> Iterator[tuple[str, Line, Outlet, ByLine]]:
    """Lines that end at curb outlets, with the pieces of all lines.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Yields
    ------
    tuple of str, Line, Outlet and mapping of str to list of FlowPiece
        In the plan's order; pieces outlet first.
    """
    by_line = pieces_of(scene)
    for name, pieces in by_line.items():
        line = scene.lines[name]
        outlet = scene.outlets.get(line.end)
        if outlet is not None and at_curb(outlet.kind) and pieces:
            yield name, line, outlet, by_line


def curb_comes_to(line: Line) -> Pipe:
    """The pipe that comes to the curb: above the reducer, where there is one.

    Parameters
    ----------
    line : Line
        A line that ends at a curb outlet.

    Returns
    -------
    Pipe
        As large as what the line brings.
    """
    piece = line.curb_piece
    return line.pipe_at(0.0 if piece is None else piece.station_to)


def through_curb(line: Line) -> Pipe:
    """The pipe that goes through the curb.

    Parameters
    ----------
    line : Line
        A line that ends at a curb outlet.

    Returns
    -------
    Pipe
        That of its curb piece, else the line's last.
    """
    return line.pipe_at(0.0) if line.curb_piece is None else line.curb_piece.pipe


def above_the_hole(scene: Scene, name: str, pieces: Sequence[FlowPiece]) -> list[FlowPiece]:
    """Pieces of a line but for the last few feet of smaller pipe at a curb: the hole is judged by what passes it.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    name : str
        Of the line.
    pieces : sequence of Piece
        Outlet first.

    Returns
    -------
    list of Piece
        All of them at other outlets.
    """
    line = scene.lines[name]
    outlet, piece = scene.outlets.get(line.end), line.curb_piece
    if piece is None or outlet is None or not at_curb(outlet.kind) or piece.station_to > CURB_PIECE + HERE:
        return list(pieces)
    return [one for one in pieces if one.end > piece.station_to + HERE] or list(pieces)


def hole_of(scene: Scene, line: Line, outlet: Outlet) -> Hole:
    """What a line's water goes through at an outlet.

    Parameters
    ----------
    scene : Scene
        For the survey's `diameter` and `holes`.
    line : Line
        The line that ends there.
    outlet : Outlet
        The curb outlet.

    Returns
    -------
    Hole
        Of the pipe laid through it where the survey gives no diameter, or a wider one. Lines that share holes have one answer:
        the largest pipe that any of them lays there.
    """
    told, whose = scene.site.told_of(outlet), through_same_holes(scene, line, outlet) or (line,)
    if hole_each(scene, outlet):
        count = 1
    elif "holes" in told:
        count = int(told["holes"])
    else:
        count = max(1 if one.curb_piece is None else one.curb_piece.number for one in whose)
    return max((_one_hole(told, one, count) for one in whose), key=lambda hole: (hole.inside, hole.outside))


def _one_hole(told: Mapping[str, Any], line: Line, count: int) -> Hole:
    pipe = through_curb(line)
    inside = min(float(told.get("diameter", pipe.bore)), pipe.bore)
    # the survey's 3 in is the nominal size of the pipe that lies there
    outside = pipe.od if inside >= pipe.bore * (1 - SAME_SIZE) else inside + (pipe.od - pipe.bore)
    return Hole(count, inside, outside)


def room_at(scene: Scene, line: Line, outlet: Outlet) -> Room | None:
    """The largest pipe that a curb takes.

    Parameters
    ----------
    scene : Scene
        For the curb's height and the rules.
    line : Line
        The line that ends there.
    outlet : Outlet
        The curb outlet.

    Returns
    -------
    Room or None
        None where the height of the face or the concrete asked for is not known.

    References
    ----------
    Geometry: the face less the concrete over the hole and less its bottom's height over the gutter.
    """
    told, least, comes = scene.site.told_of(outlet), scene.limit(rules.CURB_CONCRETE), curb_comes_to(line)
    lift = lift_of(scene, line, outlet, comes)
    if "curb_height" not in told or least is None or not math.isfinite(lift):
        return None
    face = float(told["curb_height"]) - least
    outside = face - max(lift, 0.0)
    sold = [entry.pipe for entry in scene.site.laying.stocks]
    own = scene.site.laying.own_pipes
    if comes.kind in kinds(own):
        sold += [pipe for pipe in sizes(comes.kind, own) if pipe not in sold]
    fitting = [pipe for pipe in sold if pipe.od + max(lift_of(scene, line, outlet, pipe), 0.0) <= face + 1e-6]
    kind = comes.kind  # as heavy as what is laid to the curb: a thinner wall is the city's to allow
    best = max(fitting, key=lambda pipe: (pipe.kind == kind, pipe.bore, pipe.kind), default=None)
    return Room(outside, float(told.get("curb_height_doubt", 0.0)), best)


def lift_of(scene: Scene, line: Line, outlet: Outlet, pipe: Pipe) -> float:
    """Height of a hole's bottom over the gutter's flow line [m].

    Parameters
    ----------
    scene : Scene
        For the ground.
    line : Line
        The line that ends there.
    outlet : Outlet
        The curb outlet.
    pipe : Pipe
        What goes through the hole.

    Returns
    -------
    float
        Below 0 where it is cut into the gutter; NaN where no ground is known there.
    """
    return float(scene.walks[line.id].inverts[0]) - (pipe.od - pipe.bore) / 2 - gutter_at(scene, outlet)


def gutter_at(scene: Scene, outlet: Outlet) -> float:
    """Height of the gutter's flow line at a curb outlet [m].

    Parameters
    ----------
    scene : Scene
        For shots, ground and rules.
    outlet : Outlet
        A curb outlet.

    Returns
    -------
    float
        Of the nearest shot coded as a flow line; without one, what a given invert says of it, for a survey of the ground may
        know the curb's top alone; else the lowest ground near, NaN where none is known.
    """
    shots = [
        (round(away, 3), shot.z)
        for shot in scene.site.shots
        if is_flow_line(shot.description)
        and (away := math.hypot(shot.x - outlet.x, shot.y - outlet.y)) <= FLOW_LINE_SHOT
    ]
    if shots:
        return min(shots)[1]
    if outlet.invert is not None:
        return outlet.invert - (scene.limit(rules.CURB_ALLOWANCE) or 0.0)
    return lowest_near(scene.site.grid, outlet.x, outlet.y, _GUTTER)


def flattest(scene: Scene, pieces: Sequence[FlowPiece]) -> float:
    """The grade that a hole's capacity is worked with: the least of the outlet zone, not that of a last steep piece.

    Parameters
    ----------
    scene : Scene
        For the outlet zone.
    pieces : sequence of Piece
        Of one line, outlet first.

    Returns
    -------
    float
        Grade [-]; a hole is a few inches long and has no grade of its own (common practice, no source).
    """
    zone = scene.walks[pieces[0].line].zone
    return min(piece.grade for piece in pieces if piece.start <= zone)


def _flattest_of(scene: Scene, lines: Sequence[Line], by_line: ByLine) -> tuple[float, float]:
    """The least grade of the outlet zones of lines that share holes, and the roughness of the pipe there."""
    return min((flattest(scene, by_line[one.id]), by_line[one.id][0].rough) for one in lines if by_line.get(one.id))


def hole_flow(scene: Scene, line: Line, outlet: Outlet, by_line: ByLine) -> float | None:
    """What the holes that a line's water goes through pass together, flowing full.

    Parameters
    ----------
    scene : Scene
        For the survey.
    line : Line
        The line that ends there.
    outlet : Outlet
        The curb outlet.
    by_line : mapping of str to list of FlowPiece
        From `pieces_of`.

    Returns
    -------
    float or None
        Flow [m3/s]. A hole larger than the curb takes counts as the largest that it takes. None where a line that goes through
        them does not fall.

    References
    ----------
    Manning's equation, the number of holes times one.
    """
    hole = hole_taken(scene, line, outlet)
    grade, rough = _flattest_of(scene, through_same_holes(scene, line, outlet), by_line)
    return hole.number * full_flow_anew(hole.inside, grade, rough) if grade > 0 else None


def hole_taken(scene: Scene, line: Line, outlet: Outlet) -> Hole:
    """What goes through the curb at an outlet, no larger than its face takes: what its flow is judged by.

    Parameters
    ----------
    scene : Scene
        For the survey.
    line : Line
        The line that ends there.
    outlet : Outlet
        The curb outlet.

    Returns
    -------
    Hole
        That of `hole_of`, or as many of the largest pipe that leaves the concrete asked for.
    """
    hole, room = hole_of(scene, line, outlet), room_at(scene, line, outlet)
    if room is None or room.largest is None or hole.outside <= room.outside + room.doubt:
        return hole
    return hole if room.largest.bore >= hole.inside else Hole(hole.number, room.largest.bore, room.largest.od)


def would_do(scene: Scene, line: Line, outlet: Outlet, by_line: ByLine) -> str:
    """What would make the holes of an outlet do: the size that the curb takes, and how many of it for all that comes there.

    Parameters
    ----------
    scene : Scene
        For the survey.
    line : Line
        The line that ends there.
    outlet : Outlet
        The curb outlet.
    by_line : mapping of str to list of FlowPiece
        From `pieces_of`.

    Returns
    -------
    str
        One sentence's end.
    """
    words, hole, room = scene.words, hole_of(scene, line, outlet), room_at(scene, line, outlet)
    ends = lines_at(scene, outlet)
    flow, (grade, rough) = brought_by(by_line, ends), _flattest_of(scene, ends, by_line)
    if room is not None and room.largest is None:
        return "no pipe of the book leaves that concrete in this face: take another outlet"
    pipe = curb_comes_to(line)
    through = through_curb(line)
    one, inside = words.size(through), hole.inside
    if room is not None and room.largest is not None and pipe.od > room.outside:
        one, inside = (
            f"{words.size(room.largest)} {room.largest.title}",
            room.largest.bore,
        )
    elif _narrower(inside, pipe.bore):
        one, inside = words.size(pipe), pipe.bore
    takes = "" if room is None else f"this face takes {words.small(room.outside)} outside at most: "
    if flow is None or grade <= 0:
        return f"{takes}{one} through it"
    passes = full_flow_anew(inside, grade, rough)
    count = max(1, math.ceil(flow / passes - 1e-9))
    if count == len(ends) > 1 and any((by_line[end.id][0].flow or 0.0) > passes for end in ends):
        count += 1  # as many holes as lines are one each, and one of them does not do with one
    if count == 1 and room is not None and NEXT_SIZE_DOWN * pipe.bore <= inside and _narrower(inside, pipe.bore):
        return (
            f"{takes}one hole of {one} behind a flat-bottom reducer passes {words.flow(passes)}, {words.flow(flow)} comes; "
            f"or a thinner-walled {words.size(pipe)} sleeve of that outside, where the city's detail has one"
        )
    asked = "give curb_height to know whether it takes them" if room is None else ""
    many = f"{count} holes of {one} pass the {words.flow(flow)} (holes = {count}, with hole_spacing)"
    text = f"one hole of {one} passes the {words.flow(flow)}" if count == 1 else many
    return f"{takes}{text}{'; ' + asked if asked else ''}"


def _narrower(inside: float, bore: float) -> bool:
    """Whether a hole is a size smaller than a pipe, and not the same size by another wall."""
    return inside < bore * (1 - SAME_SIZE)


def _concrete_left(scene: Scene, line: Line, outlet: Outlet) -> tuple[float, float] | None:
    """Concrete over the hole and its doubt [m]; None where face or ground is not known."""
    told, lift = scene.site.told_of(outlet), lift_of(scene, line, outlet, through_curb(line))
    if "curb_height" not in told or not math.isfinite(lift):
        return None
    left = float(told["curb_height"]) - hole_of(scene, line, outlet).outside - lift
    return left, float(told.get("curb_height_doubt", 0.0))


def _too_thin(scene: Scene, line: Line, outlet: Outlet) -> bool:
    left, rule = _concrete_left(scene, line, outlet), rules.CURB_CONCRETE
    if left is None:
        return False
    return answer(left[0], scene.limit(rule), rule.sense, doubt=left[1], slack=CONCRETE.slack) == "broken"


def _one_size_down(scene: Scene, line: Line, outlet: Outlet) -> bool:
    """Whether the face takes no pipe of the line's own size, and what goes through it is the size below."""
    hole, room, pipe = hole_of(scene, line, outlet), room_at(scene, line, outlet), curb_comes_to(line)
    return hole.inside >= NEXT_SIZE_DOWN * pipe.bore and room is not None and pipe.od > room.outside


def _lodges(scene: Scene, line: Line, outlet: Outlet) -> bool:
    """Whether what passes the line lodges in the one hole at its end, which need not be so small."""
    hole, pipe = hole_of(scene, line, outlet), curb_comes_to(line)
    return hole.number == 1 and _narrower(hole.inside, pipe.bore) and not _one_size_down(scene, line, outlet)


def cure_place(scene: Scene, outlet: Outlet) -> tuple[str, str] | None:
    """Where what would make an outlet's holes do is said, so that it is said once.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    outlet : Outlet
        A curb outlet.

    Returns
    -------
    tuple of str and str, or None
        Rule and line of the first finding that asks for it: the concrete, then the size. None: neither does.
    """
    for rule, asks in ((rules.CURB_CONCRETE, _too_thin), (rules.CURB_HOLE, _lodges)):
        first = next((line.id for line in lines_at(scene, outlet) if asks(scene, line, outlet)), None)
        if first is not None:
            return rule.id, first
    return None


def cure_or_where(
    scene: Scene, place: tuple[str, str], line: Line, outlet: Outlet, by_line: ByLine, told: tuple[str, str]
) -> str:
    """What would do, in the finding that says it; in others the way to that one.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    place : tuple of str and str
        Rule and line of this finding.
    line : Line
        The line that ends there.
    outlet : Outlet
        The curb outlet.
    by_line : mapping of str to list of FlowPiece
        From `pieces_of`.
    told : tuple of str and str
        Rule and line of the finding that says it.

    Returns
    -------
    str
        One sentence's end.
    """
    return (
        would_do(scene, line, outlet, by_line) if place == told else f"what would do is said under {told[0]}, {told[1]}"
    )


def curb_concrete(scene: Scene) -> list[Finding]:
    """Concrete left over holes through curbs.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each line that ends at a curb outlet; 'cannot tell' where the height of the face is not known.

    References
    ----------
    Geometry: curb height less the hole and less its bottom's height over the gutter.
    """
    rule, found = rules.CURB_CONCRETE, []
    for name, line, outlet, by_line in curb_ends(scene):
        told, title = scene.site.told_of(outlet), outlet.name or outlet.id
        where, hole = scene.words.station(0.0), hole_of(scene, line, outlet)
        lift = lift_of(scene, line, outlet, through_curb(line))
        if not math.isfinite(lift):
            found.append(plain(rule, name, "cannot tell", f"the ground at {title} is not known", where=where))
            continue
        if lift < -CUT_IN:
            found.append(_cut_in(scene, name, title, lift))
        if "curb_height" not in told:
            text = f"the curb's face at {title} is not known: give curb_height, or shoot its top and flow line there; the hole is {scene.words.small(hole.outside)} high"
            found.append(plain(rule, name, "cannot tell", text, where=where))
            continue
        left, doubt = _concrete_left(scene, line, outlet) or (math.nan, 0.0)
        here = (rule.id, name)
        cure = cure_or_where(scene, here, line, outlet, by_line, cure_place(scene, outlet) or here)
        found.append(
            ruled(
                scene,
                rule,
                name,
                left,
                measure=CONCRETE,
                said=f"concrete over the hole at {title}",
                limit=scene.limit(rule),
                doubt=doubt,
                where=where,
                more=_sentence(cure),
            )
        )
    return found


def _cut_in(scene: Scene, name: str, title: str, lift: float) -> Finding:
    """A hole whose bottom lies under the gutter's flow line: no concrete under it, and the gutter's water stands in it."""
    words, doubt = scene.words, scene.site.accuracy
    text = f"the hole at {title} is cut {words.small(-lift)} below the flow line of the gutter: it cuts into the gutter's concrete, and the gutter's water and grit stand in it"
    unsure = -lift <= 2 * doubt
    if unsure:
        text += f"; the ground is known to {words.small(doubt)}: shoot the flow line there"
    return plain(
        rules.CURB_CONCRETE,
        f"{name}:flow line",
        "broken",
        text,
        where=words.station(0.0),
        value=lift,
        broken="flag" if unsure else "fail",
    )


def curb_hole(scene: Scene) -> list[Finding]:
    """Whether the line that comes to a curb goes through it in its own size, and whether several holes leave concrete between.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each line that ends at a curb outlet.

    References
    ----------
    Common practice, no source: what passes a line lodges in a smaller hole.
    """
    rule, words, found = rules.CURB_HOLE, scene.words, []
    for name, line, outlet, by_line in curb_ends(scene):
        hole, pipe = hole_of(scene, line, outlet), curb_comes_to(line)
        title, where = outlet.name or outlet.id, words.station(0.0)
        size = words.size(pipe)
        together = through_same_holes(scene, line, outlet)
        if hole.number == 1 and len(together) > 1 and together[0] is line:  # said once for them all
            text = (
                f"{_listed(together)} come to one hole {words.small(hole.inside)} inside at {title}: join them in a box or wye that can be "
                f"opened, or give a hole to each (holes = {len(together)}, with hole_spacing)"
            )
            found.append(plain(rule, f"{name}:one hole", "broken", text, where=where, broken="flag"))
        if _lodges(scene, line, outlet):
            here = (rule.id, name)
            cure = cure_or_where(scene, here, line, outlet, by_line, cure_place(scene, outlet) or here)
            text = f"a {size} line comes to a hole {words.small(hole.inside)} inside at {title}: what passes the line lodges there; {cure}"
            found.append(plain(rule, name, "broken", text, where=where, value=hole.inside, limit=pipe.bore))
        elif hole.number == 1 and _narrower(hole.inside, pipe.bore):
            room = room_at(scene, line, outlet)
            takes = "" if room is None else words.small(room.outside)
            # the face takes no pipe of the line's own size: one trade size down is what is drilled, and said once
            text = (
                f"a {size} line goes through the curb at {title} by a flat-bottom reducer and a hole {words.small(hole.inside)} inside, "
                f"for the face takes {takes} outside at most: put a cleanout above it, what passes the line lodges there"
            )
            found.append(
                plain(rule, name, "broken", text, where=where, value=hole.inside, limit=pipe.bore, broken="flag")
            )
        elif hole.number == 1:
            found.append(
                plain(rule, name, "kept", f"the line goes through the curb at {title} in its own size", where=where)
            )
        several = len(lines_at(scene, outlet)) if hole_each(scene, outlet) else hole.number
        if several > 1:
            found.append(_between(scene, name, outlet, hole, several))
    return found


def _between(scene: Scene, name: str, outlet: Outlet, hole: Hole, several: int) -> Finding:
    """Whether several holes of an outlet leave concrete between them."""
    rule, words, told = rules.CURB_HOLE, scene.words, scene.site.told_of(outlet)
    where, title = words.station(0.0), outlet.name or outlet.id
    subject = name if hole.number > 1 else f"{name}:beside"
    what = "from a box or wyes that can be opened" if hole.number > 1 else "one for each line"
    split = f"{several} holes {words.small(hole.inside)} inside at {title}, {what}"
    if "hole_spacing" not in told:
        text = f"{split}; their spacing is not known: give hole_spacing, from centre to centre"
        return plain(rule, subject, "cannot tell", text, where=where)
    return ruled(
        scene,
        rule,
        subject,
        float(told["hole_spacing"]) - hole.outside,
        measure=CONCRETE,
        said=f"{split}: concrete between them",
        limit=scene.limit(rule),
        where=where,
        broken="flag",
    )


def _listed(lines: Sequence[Line]) -> str:
    *most, last = [line.id for line in lines]
    return f"{', '.join(most)} and {last}"


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
