"""A line's reaches in; what goes through the curb at its outlet out.

Its own pipe, a smaller one behind a reducer, or several from a box.

Heavy 4 in pipe, 4.5 in high, never leaves 1.5 in of concrete over it in a face of 6 in. What is laid there is heavy
pipe one trade size down for the last few feet, behind a reducer whose bottom is flat, on the same inverts; where that
does not take the water, several through one box. Lines that come to one hole meet in such a box, too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from siteplan import units
from siteplan.books import rules
from siteplan.books.kinds import at_curb
from siteplan.books.practice import BELOW_JOIN, CURB_PIECE, NEXT_SIZE_DOWN, SAME_SIZE, SHORTEST_CURB_PIECE
from siteplan.books.stock import PipeStock
from siteplan.site import Site
from siteplan.trench.pipe_words import short, small
from siteplan.trench.under import Along
from siteplan.values.laid_pipe import CurbPiece, Pipe, PipeChoice
from siteplan.values.lines import Line, Reach
from siteplan.values.water_ends import Inflows, Outlet
from siteplan.water.capacity import full_flow
from siteplan.water.curb import holes_for
from siteplan.water.roughness import manning_n

_MOST_HOLES = 4  # taken by ourselves where only their spacing is told; common practice, no source
_EDGE = 1e-6


class Company(NamedTuple):
    """What comes to an outlet.

    Its lines, their design flow together [m3/s] (None: not known), the least grade of their outlet zones.
    """

    lines: tuple[str, ...]
    flow: float | None
    grade: float


def company_at(outlet: Outlet, lines: Sequence[Line], site: Site, inflows: Inflows) -> Company:
    """What all lines that end at an outlet bring there.

    Parameters
    ----------
    outlet : Outlet
        Where they end.
    lines : sequence of Line
        All lines, with their vertices.
    site : Site
        For its sources and the outlet zone.
    inflows : Inflows
        What they bring.

    Returns
    -------
    Company
        Of the lines that end there; grade 0 where none falls.
    """
    ends = [line for line in lines if line.end == outlet.id]
    carried = {source for line in ends for source in line.sources}
    flows = [inflows.of(source.id) for source in site.sources if source.id in carried]
    known = [flow for flow in flows if flow is not None]
    zone = rules.needed(site.rules, rules.OUTLET_ZONE)
    grades = [
        (b.invert - a.invert) / (b.station - a.station)
        for line in ends
        for a, b in zip(line.vertices, line.vertices[1:], strict=False)
        if b.station - a.station > 0.02 and a.station <= zone
    ]
    flow = math.fsum(known) if known and len(known) == len(flows) else None
    return Company(tuple(line.id for line in ends), flow, min(grades, default=0.0))


def curb_piece(
    line: Line, reaches: Sequence[Reach], site: Site, outlet: Outlet | None, joins: Sequence[float], company: Company
) -> CurbPiece | None:
    """What goes through the curb, where it is not the line's own pipe once.

    Parameters
    ----------
    line : Line
        With its vertices.
    reaches : sequence of Reach
        Outlet first, as the ground asks for them.
    site : Site
        For `curb_height`, `diameter`, `holes` and `hole_spacing` of the outlet, the rules and the book of pipes.
    outlet : Outlet or None
        Where the line ends.
    joins : sequence of float
        Stations where other lines come in [m].
    company : Company
        What all lines that end there bring.

    Returns
    -------
    CurbPiece or None
        None at other outlets, where the line's own pipe goes through once, where the face is not known, and where no
        pipe of the book both leaves the concrete asked for and takes the flow: the checks say what would. Where as many
        holes as lines are told, each line has one; else one box takes them all, also where one pipe leads from it.

    References
    ----------
    Geometry: the face less the concrete over the hole, the height of its bottom over the gutter, and the pipe's
    outside. Manning's equation for the flow, at the least grade of the outlet zone.
    """
    if outlet is None or not at_curb(outlet.kind) or not reaches:
        return None
    told, comes = site.told_of(outlet), reaches[0].pipe
    face, bored = told.get("curb_height"), told.get("diameter")
    count = holes_for(told.get("holes"), len(company.lines))
    narrow = bored is not None and float(bored) < comes.bore * (1 - SAME_SIZE)
    high = face is not None and not _fits(comes, float(face), line, outlet, site)
    if narrow:
        through = _of_bore(site, comes, float(bored or 0.0))
    elif high:
        through = _that_fits(site, comes, float(face or 0.0), line, outlet)
    else:
        through = comes
    if through is None:
        return None
    next_size = through.bore >= NEXT_SIZE_DOWN * comes.bore
    if "holes" not in told and not narrow and (high or len(company.lines) > 1):
        count = _needed(through, site, company)
        spaced = float(told.get("hole_spacing", 0.0)) - through.od >= (rules.limit(site.rules, rules.CURB_HOLE) or 0.0)
        if count > (_MOST_HOLES if spaced else 1):
            return None
    if count == 1 and high and not narrow and not next_size:
        return None
    # two lines in one trench to one hole meet where they can be cleaned
    shared = len(company.lines) > 1 and int(told.get("holes", 1)) != len(company.lines)
    if count > 1 or shared:
        return CurbPiece(pipe=through, number=count, station_to=0.0, fitting="box")
    end = _end(line, reaches, joins)
    if through is comes or end < SHORTEST_CURB_PIECE:
        return None
    return CurbPiece(pipe=through, number=1, station_to=end, fitting="flat-bottom reducer")


def with_curb_piece(
    reaches: Sequence[Reach], piece: CurbPiece | None, found: Along, site: Site, face: float | None
) -> list[Reach]:
    """The reaches with the smaller pipe of a curb piece at their lower end.

    Parameters
    ----------
    reaches : sequence of Reach
        Outlet first.
    piece : CurbPiece or None
        Pipes from a box lie at the curb itself and change no reach.
    found : Along
        Ground over the line.
    site : Site
        For the unit and prices.
    face : float or None
        Height of the curb's face [m].

    Returns
    -------
    list of Reach
        Couplings not yet named.
    """
    if piece is None or piece.fitting == "box":
        return list(reaches)
    unit, told = site.length_unit, []
    for reach in reaches:
        if reach.station_from >= piece.station_to - _EDGE:
            told.append(reach)
            continue
        why = f"the hole at the curb is of its size: {piece.fitting} above it"
        if face is not None and site.rules[rules.CURB_CONCRETE.id].limit is not None:
            why = (
                f"{short(reach.pipe)} of {units.size_text(reach.pipe.nominal, reach.pipe.od, unit)}, "
                f"{small(reach.pipe.od, unit)} high, leaves too little concrete over it in a face of "
                f"{small(face, unit)}: {piece.fitting} above it"
            )
        end = min(reach.station_to, piece.station_to)
        rates = site.laying.pipe_prices
        cost = (
            rates.get(piece.pipe.kind, 1.0)
            / max(rates.get(reach.pipe.kind, 1.0), 1e-9)
            * (piece.pipe.od / reach.pipe.od) ** 2
        )
        taken = PipeChoice(
            kind=piece.pipe.kind,
            nominal=piece.pipe.nominal,
            title=piece.pipe.title,
            passes=True,
            cost=round(cost, 3),
            why="taken",
        )
        told.append(
            replace(
                reach,
                station_to=end,
                pipe=piece.pipe,
                why=why,
                cover_min=found.cover(reach.station_from, end, piece.pipe),
                choices=(taken,),
            )
        )
        if reach.station_to > end + _EDGE:
            told.append(replace(reach, station_from=end, cover_min=found.cover(end, reach.station_to, reach.pipe)))
    return told


def _end(line: Line, reaches: Sequence[Reach], joins: Sequence[float]) -> float:
    """How far up from the curb smaller pipe may go: not past a wye, a bend or a sleeve, nor half the line."""
    bends = [vertex.station for vertex in line.vertices[1:-1] if vertex.bend > 1.0]
    stops = [
        *(station - BELOW_JOIN for station in (*joins, *bends) if station > _EDGE),
        *(reach.sleeve.station_from for reach in reaches if reach.sleeve is not None),
        line.length / 2,
    ]
    return min(CURB_PIECE, *stops)


def _fits(pipe: Pipe, face: float, line: Line, outlet: Outlet, site: Site) -> bool:
    """Whether a hole of a pipe's outside leaves the concrete asked for over it."""
    least = rules.limit(site.rules, rules.CURB_CONCRETE)
    if least is None:
        return True
    gutter = outlet.control - rules.needed(site.rules, rules.CURB_ALLOWANCE)
    lift = max(line.vertices[0].invert - pipe.below - gutter, 0.0)
    return pipe.od + lift <= face - least + _EDGE


def _smaller(site: Site, comes: Pipe) -> list[PipeStock]:
    """Heavy pipe smaller than what comes, its own kind and the largest first."""
    found = [s for s in site.laying.stocks if s.is_heavy and s.pipe.bore < comes.bore * (1 - SAME_SIZE)]
    return sorted(found, key=lambda s: (s.pipe.kind != comes.kind, -s.pipe.bore, s.pipe.kind))


def _of_bore(site: Site, comes: Pipe, bored: float) -> Pipe | None:
    """Heavy pipe whose bore a hole's told diameter names, else the largest below it."""
    fits = [s.pipe for s in _smaller(site, comes) if s.pipe.bore <= bored * (1 + SAME_SIZE)]
    return max(fits, key=lambda pipe: (pipe.bore, pipe.kind == comes.kind), default=None)


def _that_fits(site: Site, comes: Pipe, face: float, line: Line, outlet: Outlet) -> Pipe | None:
    """The largest heavy pipe that leaves the concrete asked for."""
    fits = [s.pipe for s in _smaller(site, comes) if _fits(s.pipe, face, line, outlet, site)]
    return max(fits, key=lambda pipe: (pipe.bore, pipe.kind == comes.kind), default=None)


def _needed(pipe: Pipe, site: Site, company: Company) -> int:
    """How many of a pipe take all that comes; 1 where it is not known."""
    if company.flow is None:
        return 1
    if company.grade <= 0:
        return _MOST_HOLES + 1
    each = full_flow(
        pipe.bore, company.grade, manning_n(pipe, site.sizing.age, site.sizing.kb, company.grade, site.sizing.own_pipes)
    )
    return max(1, math.ceil(company.flow / each - 1e-9))
