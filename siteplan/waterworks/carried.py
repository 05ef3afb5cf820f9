"""Lines in; the tree of pipe runs that carries their water out, and where each source feeds it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from siteplan.site import Sizing
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line, Vertex
from siteplan.values.water_ends import Inflows, Outlet, Source
from siteplan.water.roughness import manning_n
from siteplan.water.sizes import upstream_first
from siteplan.water.steps import bend_loss, wye_loss
from siteplan.water.surface import SurfaceRun

_LEAST = 0.001  # m; vertices nearer than this are one place (a drop)


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A run and where it lies: straight, of one grade and one pipe, between two stations of its line [m]."""

    run: SurfaceRun
    line: str
    station_from: float
    station_to: float
    pipe: Pipe


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowNetwork:
    """Lines as hydraulics sees them.

    Attributes
    ----------
    pieces : tuple of Piece
        Line after line, outlet first.
    feeds : mapping of str to str
        Source id to the run whose upper end it feeds.
    roots : mapping of str to str
        Id of a line that ends at an outlet to its lowest run.
    flows : mapping of str to float or None
        Design flow of each run [m3/s]; None: some source above it is not known.
    """

    pieces: tuple[Piece, ...]
    feeds: Mapping[str, str]
    roots: Mapping[str, str]
    flows: Mapping[str, float | None]

    @property
    def runs(self) -> tuple[SurfaceRun, ...]:
        """Every run."""
        return tuple(piece.run for piece in self.pieces)

    def of_line(self, line: str) -> tuple[Piece, ...]:
        """Pieces of one line, outlet first."""
        return tuple(piece for piece in self.pieces if piece.line == line)

    def tree(self, root: str) -> tuple[SurfaceRun, ...]:
        """Runs whose water passes a root."""
        into = {piece.run.id: piece.run.into for piece in self.pieces}

        def ends(name: str) -> str:
            down = into[name]
            return name if down is None else ends(down)

        return tuple(piece.run for piece in self.pieces if ends(piece.run.id) == root)


def roughness_taken(pipe: Pipe, sizing: Sizing, grade: float) -> float:
    """Manning n of a pipe for sizing.

    Parameters
    ----------
    pipe : Pipe
        The pipe.
    sizing : Sizing
        Its age: 'design' is the pipe's own, 'new' and 'aged' as the book of roughness has them; or its kb.
    grade : float
        Fall over length, for kb alone [-].

    Returns
    -------
    float
        Manning n [s/m^(1/3)]; the pipe's own where the book does not know its kind; with kb the n of the same full
        flow.

    References
    ----------
    `siteplan.books.pipes.roughness_of`, with a source at every row.
    """
    return manning_n(pipe, sizing.age, sizing.kb, grade, sizing.own_pipes)


def network(
    lines: Sequence[Line], outlets: Sequence[Outlet], sources: Sequence[Source], inflows: Inflows, sizing: Sizing
) -> FlowNetwork:
    """The tree of runs of all lines, split at every bend, wye, change of grade and change of pipe.

    Parameters
    ----------
    lines : sequence of Line
        As laid, with their reaches.
    outlets : sequence of Outlet
        Where they may end.
    sources : sequence of Source
        As surveyed.
    inflows : Inflows
        What they bring.
    sizing : Sizing
        For the roughness.

    Returns
    -------
    Network
        A line that joins another falls into the run whose upper end is the wye.

    References
    ----------
    Losses at bends and wyes: `siteplan.water.steps`.
    """
    nodes = {line.id: _nodes(line) for line in lines}
    by_id = {line.id: line for line in lines}
    ends = {outlet.id for outlet in outlets}
    pieces: list[Piece] = []
    roots: dict[str, str] = {}
    for line in lines:
        into: str | None = None
        wye = 0.0
        if line.end in by_id:
            trunk = by_id[line.end]
            into = nodes[trunk.id][_nearest(trunk, line.vertices[0].x, line.vertices[0].y)]
            wye = wye_loss()
        own = _pieces(line, into, wye, sizing)
        pieces += own
        if line.end in ends and own:
            roots[line.id] = own[0].run.id
    feeds = {}
    for source in sources:
        carriers = [line for line in lines if source.id in line.sources]
        fed = {line.end for line in carriers}
        top = next((line for line in carriers if line.id not in fed), None)
        if top is None:
            continue
        at = len(top.vertices) - 1 if top.start == source.id else _nearest(top, source.x, source.y)
        feeds[source.id] = nodes[top.id][at]
    order = upstream_first({piece.run.id: piece.run.into for piece in pieces}, len(pieces))
    return FlowNetwork(pieces=tuple(pieces), feeds=feeds, roots=roots, flows=_flows(order, pieces, feeds, inflows))


def _nodes(line: Line) -> list[str]:
    """For each vertex the run whose upper end it is; the lowest one stands for the outlet end too."""
    found: list[str] = []
    number = 0
    for at, vertex in enumerate(line.vertices):
        if at and vertex.station - line.vertices[at - 1].station > _LEAST:
            number += _parts(line, line.vertices[at - 1].station, vertex.station)
        found.append(f"{line.id}/{max(number, 1)}")
    return found


def _breaks(line: Line, start: float, end: float) -> list[float]:
    inner = [reach.station_to for reach in line.reaches[:-1] if start + _LEAST < reach.station_to < end - _LEAST]
    return [start, *inner, end]


def _parts(line: Line, start: float, end: float) -> int:
    return len(_breaks(line, start, end)) - 1


def _nearest(line: Line, x: float, y: float) -> int:
    return min(range(len(line.vertices)), key=lambda k: math.hypot(line.vertices[k].x - x, line.vertices[k].y - y))


def _pieces(line: Line, into: str | None, wye: float, sizing: Sizing) -> list[Piece]:
    made: list[Piece] = []
    for below, above in pairwise(line.vertices):
        if above.station - below.station <= _LEAST:
            continue
        loss = bend_loss(below.bend) + (wye if not made else 0.0)
        for start, end in pairwise(_breaks(line, below.station, above.station)):
            pipe = line.pipe_at((start + end) / 2)
            low, high = _invert(below, above, start), _invert(below, above, end)
            run = SurfaceRun(
                id=f"{line.id}/{len(made) + 1}",
                into=made[-1].run.id if made else into,
                length=end - start,
                loss=loss,
                invert_down=low,
                invert_up=high,
                bore=pipe.bore,
                roughness=roughness_taken(pipe, sizing, (high - low) / (end - start)),
            )
            made.append(Piece(run=run, line=line.id, station_from=start, station_to=end, pipe=pipe))
            loss = 0.0
    return made


def _invert(below: Vertex, above: Vertex, station: float) -> float:
    share = (station - below.station) / (above.station - below.station)
    return below.invert + (above.invert - below.invert) * share


def _flows(
    order: Sequence[str], pieces: Sequence[Piece], feeds: Mapping[str, str], inflows: Inflows
) -> dict[str, float | None]:
    into = {piece.run.id: piece.run.into for piece in pieces}
    flows: dict[str, float | None] = dict.fromkeys(order, 0.0)
    for source, run in feeds.items():
        flows[run] = _sum(flows[run], inflows.of(source))
    for name in order:
        down = into[name]
        if down is not None:
            flows[down] = _sum(flows[down], flows[name])
    return flows


def _sum(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one + other
