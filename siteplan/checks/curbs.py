"""Lines that end at curbs in; findings on the hole there: the concrete round it, the line that must pass it, the flow it takes.

What would make a hole do is worked out in one place, so that no two findings ask for opposite things of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from siteplan import units
from siteplan.books import rules
from siteplan.books.kinds import at_curb
from siteplan.books.pipes import kinds, sizes
from siteplan.books.practice import CURB_PIECE, FLOW_LINE_SHOT, NEXT_SIZE_DOWN
from siteplan.checks.flows import FlowPiece, pieces_of
from siteplan.checks.pipe_flow import full_flow_anew
from siteplan.checks.report import Measure, plain, ruled
from siteplan.checks.sampling import lowest_near
from siteplan.checks.scene import Scene, Words
from siteplan.survey.shot_codes import is_flow_line
from siteplan.values import Finding, Line, Outlet, Pipe

_GUTTER = 0.6  # m
HERE = 0.005  # m
CUT_IN = 0.001  # m; a hole's bottom no deeper than this under the flow line is at it
ONE_SIZE = 0.003  # m; kinds of one nominal size differ in bore by less
CONCRETE = Measure(Words.small, "m", slack=1e-6)


class Hole(NamedTuple):
    """What goes through a curb: how many pipes, each of this inside and outside [m]."""

    number: int
    inside: float
    outside: float


class Room(NamedTuple):
    """The largest outside diameter that leaves the concrete asked for [m], one standard deviation of it [m], and the pipe of the book."""

    outside: float
    doubt: float
    largest: Pipe | None


def curb_ends(scene: Scene) -> Iterator[tuple[str, Line, Outlet, list[FlowPiece]]]:
    """Lines that end at curb outlets, with their pieces.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Yields
    ------
    tuple of str, Line, Outlet and list of Piece
        In the plan's order; pieces outlet first.
    """
    for name, pieces in pieces_of(scene).items():
        line = scene.lines[name]
        outlet = scene.outlets.get(line.end)
        if outlet is not None and at_curb(outlet.kind) and pieces:
            yield name, line, outlet, pieces


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
    """What goes through the curb at an outlet.

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
        Of the pipe laid through it where the survey gives no diameter, or a wider one.
    """
    told, pipe = scene.site.told_of(outlet), through_curb(line)
    inside = min(float(told.get("diameter", pipe.bore)), pipe.bore)
    count = line.curb_piece.number if line.curb_piece is not None and "holes" not in told else int(told.get("holes", 1))
    # the survey's 3 in is the nominal size of the pipe that lies there
    outside = pipe.od if pipe.bore - inside <= ONE_SIZE else inside + (pipe.od - pipe.bore)
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


def hole_flow(scene: Scene, line: Line, outlet: Outlet, pieces: Sequence[FlowPiece]) -> float:
    """What the holes of an outlet pass together, flowing full.

    Parameters
    ----------
    scene : Scene
        For the survey.
    line : Line
        The line that ends there.
    outlet : Outlet
        The curb outlet.
    pieces : sequence of Piece
        Of the line, outlet first; all fall.

    Returns
    -------
    float
        Flow [m3/s]. A hole larger than the curb takes counts as the largest that it takes.

    References
    ----------
    Manning's equation, the number of holes times one.
    """
    hole = hole_taken(scene, line, outlet)
    return hole.number * full_flow_anew(hole.inside, flattest(scene, pieces), pieces[0].rough)


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


def would_do(scene: Scene, line: Line, outlet: Outlet, pieces: Sequence[FlowPiece]) -> str:
    """What would make the hole of an outlet do: the size that the curb takes, and how many of it.

    Parameters
    ----------
    scene : Scene
        For the survey.
    line : Line
        The line that ends there.
    outlet : Outlet
        The curb outlet.
    pieces : sequence of Piece
        Of the line, outlet first.

    Returns
    -------
    str
        One sentence's end.
    """
    words, hole, room = scene.words, hole_of(scene, line, outlet), room_at(scene, line, outlet)
    flow, grade = pieces[0].flow, flattest(scene, pieces)
    if room is not None and room.largest is None:
        return "no pipe of the book leaves that concrete in this face: take another outlet"
    pipe = curb_comes_to(line)
    one, inside = through_curb(line).nominal, hole.inside
    if room is not None and room.largest is not None and pipe.od > room.outside:
        one, inside = (
            f"{units.size_text(room.largest.nominal, room.largest.od, scene.site.length_unit)} {room.largest.title}",
            room.largest.bore,
        )
    elif inside < pipe.bore - ONE_SIZE:
        one, inside = pipe.nominal, pipe.bore
    takes = "" if room is None else f"this face takes {words.small(room.outside)} outside at most: "
    if flow is None or grade <= 0:
        return f"{takes}{one} through it"
    passes = full_flow_anew(inside, grade, pieces[0].rough)
    count = max(1, math.ceil(flow / passes - 1e-9))
    if count == 1 and room is not None and NEXT_SIZE_DOWN * pipe.bore <= inside < pipe.bore - ONE_SIZE:
        return (
            f"{takes}one hole of {one} behind a flat-bottom reducer passes {words.flow(passes)}, {words.flow(flow)} comes; "
            f"or a thinner-walled {pipe.nominal} sleeve of that outside, where the city's detail has one"
        )
    asked = "give curb_height to know whether it takes them" if room is None else ""
    many = f"{count} holes of {one} pass the {words.flow(flow)} (holes = {count}, with hole_spacing)"
    text = f"one hole of {one} passes the {words.flow(flow)}" if count == 1 else many
    return f"{takes}{text}{'; ' + asked if asked else ''}"


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
    for name, line, outlet, pieces in curb_ends(scene):
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
        left = float(told["curb_height"]) - hole.outside - lift
        found.append(
            ruled(
                scene, rule, name, left, measure=CONCRETE, said=f"concrete over the hole at {title}", limit=scene.limit(rule),
                doubt=float(told.get("curb_height_doubt", 0.0)), where=where, more=_sentence(would_do(scene, line, outlet, pieces)),
            )
        )  # fmt: skip
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
    for name, line, outlet, pieces in curb_ends(scene):
        hole, pipe, told = hole_of(scene, line, outlet), curb_comes_to(line), scene.site.told_of(outlet)
        title, where, limit = outlet.name or outlet.id, words.station(0.0), scene.limit(rule)
        narrower = pipe.bore - hole.inside > ONE_SIZE
        room = room_at(scene, line, outlet)
        # the face takes no pipe of the line's own size: one trade size down is what is drilled, and said once
        one_down = hole.inside >= NEXT_SIZE_DOWN * pipe.bore
        if narrower and hole.number == 1 and one_down and room is not None and pipe.od > room.outside:
            text = (
                f"a {pipe.nominal} line goes through the curb at {title} by a flat-bottom reducer and a hole {words.small(hole.inside)} inside, "
                f"for the face takes {words.small(room.outside)} outside at most: put a cleanout above it, what passes the line lodges there"
            )
            found.append(
                plain(rule, name, "broken", text, where=where, value=hole.inside, limit=pipe.bore, broken="flag")
            )
            continue
        if narrower and hole.number == 1:
            text = f"a {pipe.nominal} line comes to a hole {words.small(hole.inside)} inside at {title}: what passes the line lodges there; {would_do(scene, line, outlet, pieces)}"
            found.append(plain(rule, name, "broken", text, where=where, value=hole.inside, limit=pipe.bore))
            continue
        if hole.number == 1:
            found.append(
                plain(rule, name, "kept", f"the line goes through the curb at {title} in its own size", where=where)
            )
            continue
        split = (
            f"{hole.number} holes {words.small(hole.inside)} inside at {title}, from a box or wyes that can be opened"
        )
        if "hole_spacing" not in told:
            text = f"{split}; their spacing is not known: give hole_spacing, from centre to centre"
            found.append(plain(rule, name, "cannot tell", text, where=where))
            continue
        between = float(told["hole_spacing"]) - hole.outside
        found.append(
            ruled(scene, rule, name, between, measure=CONCRETE, said=f"{split}: concrete between them", limit=limit, where=where, broken="flag")
        )  # fmt: skip
    return found


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
