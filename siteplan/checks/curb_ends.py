"""Lines that end at curbs in; the holes that their water goes through, the concrete they leave, the flow they take."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from siteplan.books import rules
from siteplan.books.kinds import at_curb
from siteplan.books.pipes import kinds, sizes
from siteplan.books.practice import CURB_PIECE, FLOW_LINE_SHOT, SAME_SIZE
from siteplan.checks.curb_sharing import hole_each, through_same_holes
from siteplan.checks.flows import FlowPiece, pieces_of
from siteplan.checks.pipe_flow import full_flow_anew
from siteplan.checks.sampling import lowest_near
from siteplan.checks.scene import Scene
from siteplan.survey.shot_codes import is_flow_line
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.water_ends import Outlet

_GUTTER = 0.6  # m
HERE = 0.005  # m
CUT_IN = 0.001  # m; a hole's bottom no deeper than this under the flow line is at it


class Hole(NamedTuple):
    """What a line's water goes through at a curb: how many pipes, each of this inside and outside [m]."""

    number: int
    inside: float
    outside: float


ByLine = Mapping[str, list[FlowPiece]]


class Room(NamedTuple):
    """The largest outside diameter that leaves the concrete asked for [m], one standard deviation of it [m].

    Also the pipe of the book.
    """

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
        Of the pipe laid through it where the survey gives no diameter, or a wider one. Lines that share holes have one
        answer: the largest pipe that any of them lays there.
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
        Of the nearest shot coded as a flow line; without one, what a given invert says of it, for a survey of the
        ground may know the curb's top alone; else the lowest ground near, NaN where none is known.
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


def flattest_of(scene: Scene, lines: Sequence[Line], by_line: ByLine) -> tuple[float, float]:
    """The least grade of the outlet zones of lines that share holes, and the roughness of the pipe there.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    lines : sequence of Line
        Lines that end at one outlet.
    by_line : mapping of str to list of FlowPiece
        From `pieces_of`.

    Returns
    -------
    tuple of (float, float)
        Grade [-] and Manning's n [s/m^(1/3)].
    """
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
        Flow [m3/s]. A hole larger than the curb takes counts as the largest that it takes. None where a line that goes
        through them does not fall.

    References
    ----------
    Manning's equation, the number of holes times one.
    """
    hole = hole_taken(scene, line, outlet)
    grade, rough = flattest_of(scene, through_same_holes(scene, line, outlet), by_line)
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
