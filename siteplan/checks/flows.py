"""The walked lines and the sources in; the flow of every piece of pipe and the water level at every source out.

Each source's water is followed down its way, station by station, and added to every piece it passes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from siteplan import units
from siteplan.books.hydraulics import runoff_of
from siteplan.books.kinds import SOURCES, Flow, pumped
from siteplan.checks.outlet_ends import joined_at
from siteplan.checks.pipe_flow import (
    STANDARD_GRAVITY,
    even_depth,
    full_flow_anew,
    least_energy_depth,
    over_lid,
    roughness_in_force,
)
from siteplan.checks.scene import Scene
from siteplan.checks.walk import turn_at
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.water_ends import Outlet, Source

_SHORT = 0.001  # m; a shorter piece is a drop
_HERE = 0.005  # m along a line
_TAIL = 12  # decimals of a litre a second; beyond them nothing is meant


@dataclass(slots=True)
class FlowPiece:
    """Straight pipe of one grade between two stations of a line [m]; `flow` [m3/s] is None when not known."""

    line: str
    start: float
    end: float
    low: float
    high: float
    pipe: Pipe
    rough: float
    turn: float  # at its lower end [degrees]
    flow: float | None = 0.0

    @property
    def grade(self) -> float:
        """Fall over length [-]."""
        return (self.high - self.low) / (self.end - self.start)

    @property
    def full(self) -> float:
        """Flowing full [m3/s]; 0 without fall."""
        return full_flow_anew(self.pipe.bore, self.grade, self.rough) if self.grade > 0 else 0.0


def source_flow(scene: Scene, source: Source) -> float | None:
    """What a source brings, from the survey.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    source : Source
        As surveyed.

    Returns
    -------
    float or None
        The pump's rate, an area drain's own flow, or what an hour of the rain sheds from its area [m3/s]; of an inlet
        whose ground is gathered, as the scene has it.

    References
    ----------
    A millimetre of rain on a square metre is a litre. Rational method: all of it from a roof, the share of the book of
    runoff from other ground.
    """
    if pumped(source.kind):
        return source.pump_rate
    rain = design_rain(scene)
    if SOURCES[source.kind].flow is Flow.AREA:
        told = scene.site.told_of(source)
        if "flow" in told:
            return float(told["flow"])
        return _shed(told.get("drained_area"), rain, told.get("cover", "concrete"))
    if SOURCES[source.kind].flow is Flow.GATHERED:
        if source.roof_area is None:
            return scene.inflows.of(source.id)
        return _shed(source.roof_area, rain, scene.site.told_of(source).get("cover"))
    return _shed(source.roof_area, rain, None)


def _shed(area: float | None, rain: float | None, cover: str | None) -> float | None:
    """What an hour of rain [m/s] sheds from an area [m2], as a flow [m3/s]; all of it where no cover is named."""
    if area is None or rain is None:
        return None
    fallen = rain * units.HOUR / units.MILLIMETRE * area  # litres an hour
    share = 1.0 if cover is None else runoff_of(cover).default
    # the tail of a binary fraction cut off: a sentence of ours rounds a flow as the sheets do, which read it from
    # plan.json
    return round(fallen * share / units.HOUR, _TAIL) * units.LITRE


def shedding_ground(scene: Scene, source: Source) -> float | None:
    """Ground that a stated flow of an inlet stands for.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    source : Source
        An inlet whose ground is gathered.

    Returns
    -------
    float or None
        Its flow over rain and runoff coefficient [m2]; None where one of them is not known or there is no rain.

    References
    ----------
    Rational method, solved for the area.
    """
    flow, rain = scene.plan.inflows.of(source.id), design_rain(scene)
    one = _shed(1.0, rain, scene.site.told_of(source).get("cover", "lawn_heavy"))
    return None if flow is None or not one else flow / one


def design_rain(scene: Scene) -> float | None:
    """Rain that sizes are chosen for, read from the site's table anew.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    float or None
        Intensity [m/s]; None where the table does not hold the duration.

    References
    ----------
    Straight between the rows on logarithmic paper (common practice, no source).
    """
    rain = scene.site.rain
    if not rain.table or rain.duration is None:
        return scene.site.rainfall
    return rain_over(scene, rain.duration)


def rain_over(scene: Scene, duration: float) -> float | None:
    """The table's intensity over a duration, never beyond its ends.

    Parameters
    ----------
    scene : Scene
        What every check looks at; its site gives a table.
    duration : float
        Length of the rain [s].

    Returns
    -------
    float or None
        Intensity [m/s]; None where the table does not hold the duration.

    References
    ----------
    Straight between the rows on logarithmic paper (common practice, no source).
    """
    lengths, rates = (np.log(np.array(column)) for column in zip(*scene.site.rain.table, strict=True))
    rate = np.interp(math.log(duration), lengths, rates, left=np.nan, right=np.nan)
    return float(np.exp(rate)) if np.isfinite(rate) else None


def entry_of(scene: Scene, source: Source) -> tuple[Line, float] | None:
    """Where a source's water enters: the line and the station.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    source : Source
        A source.

    Returns
    -------
    tuple of Line and float, or None
        The upper end of the line that starts at it, else the vertex nearest to it of the first line that carries it.
    """
    own = next((line for line in scene.plan.lines if line.start == source.id), None)
    if own is not None and own.id in scene.walks:
        return own, scene.walks[own.id].length
    carriers = [line for line in scene.plan.lines if source.id in line.sources and line.id in scene.walks]
    onto = {line.end for line in carriers}
    for line in carriers:
        if line.id not in onto:
            walk = scene.walks[line.id]
            return line, float(
                walk.at[int(np.argmin(np.hypot(walk.corners[:, 0] - source.x, walk.corners[:, 1] - source.y)))]
            )
    return None


def pieces_of(scene: Scene, flows: Mapping[str, float | None] | None = None) -> dict[str, list[FlowPiece]]:
    """Every line cut into pieces of one grade and pipe, with their flows.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    flows : mapping of str to float or None, optional
        What each source brings [m3/s]; the design flows when absent.

    Returns
    -------
    dict of str to list of Piece
        By line, outlet first.
    """
    found: dict[str, list[FlowPiece]] = {}
    for name, walk in scene.walks.items():
        line = walk.line
        own: list[FlowPiece] = []
        for k in range(1, len(walk.at)):
            start, end = float(walk.at[k - 1]), float(walk.at[k])
            if end - start <= _SHORT:
                continue
            turn = turn_at(*walk.corners[k - 2 : k + 1]) if k >= 2 else 0.0
            cuts = [
                start,
                *sorted(r.station_to for r in line.reaches if start + _SHORT < r.station_to < end - _SHORT),
                end,
            ]
            z = np.interp(cuts, [start, end], walk.inverts[k - 1 : k + 1])
            for j in range(1, len(cuts)):
                pipe = line.pipe_at((cuts[j - 1] + cuts[j]) / 2)
                grade = float(z[j] - z[j - 1]) / (cuts[j] - cuts[j - 1])
                rough = roughness_in_force(pipe, scene.site.sizing, grade)
                own.append(
                    FlowPiece(
                        name, cuts[j - 1], cuts[j], float(z[j - 1]), float(z[j]), pipe, rough, turn if j == 1 else 0.0
                    )
                )
        found[name] = own
    for source in scene.site.sources:
        brings = source_flow(scene, source) if flows is None else flows.get(source.id)
        _pour(scene, found, source, brings)
    return found


def _pour(scene: Scene, pieces: Mapping[str, list[FlowPiece]], source: Source, brings: float | None) -> None:
    place = entry_of(scene, source)
    seen: set[str] = set()
    while place is not None and place[0].id not in seen:
        line, station = place
        seen.add(line.id)
        for piece in pieces.get(line.id, []):
            if piece.end <= station + _HERE:
                piece.flow = None if brings is None or piece.flow is None else piece.flow + brings
        place = _onto(scene, line)


def _onto(scene: Scene, line: Line) -> tuple[Line, float] | None:
    trunk = scene.lines.get(line.end)
    if trunk is None or trunk.id not in scene.walks or line.id not in scene.walks:
        return None
    return trunk, joined_at(scene.walks[line.id], scene.walks[trunk.id])


def lines_at(scene: Scene, outlet: Outlet) -> tuple[Line, ...]:
    """Lines that end at an outlet.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    outlet : Outlet
        An outlet of the plan.

    Returns
    -------
    tuple of Line
        In the plan's order.
    """
    return tuple(line for line in scene.plan.lines if line.end == outlet.id and line.id in scene.walks)


def brought_by(by_line: Mapping[str, Sequence[FlowPiece]], lines: Sequence[Line]) -> float | None:
    """What lines bring to their outlet together.

    Parameters
    ----------
    by_line : mapping of str to sequence of FlowPiece
        From `pieces_of`, outlet first.
    lines : sequence of Line
        Lines that end at one outlet.

    Returns
    -------
    float or None
        Sum of their flows [m3/s]; None where one of them is not known.
    """
    flows = [by_line[line.id][0].flow for line in lines if by_line.get(line.id)]
    known = [flow for flow in flows if flow is not None]
    return math.fsum(known) if known and len(known) == len(lines) else None


def outside(scene: Scene, pieces: Mapping[str, list[FlowPiece]], line: Line) -> float | None:
    """Water outside the outlet that a line ends at.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    pieces : mapping of str to list of FlowPiece
        From `pieces_of`.
    line : Line
        A line with pieces that ends at an outlet.

    Returns
    -------
    float or None
        The higher of the tail-water the survey gives and the water over a pop-up's rim [m], which all that comes there
        leaves by; None: free.

    References
    ----------
    `hydraulics.over_lid`.
    """
    outlet = scene.outlets.get(line.end)
    told = {} if outlet is None else scene.site.told_of(outlet)
    levels = [float(told["tail_water"])] if "tail_water" in told else []
    if outlet is not None and "rim" in told:
        flow = brought_by(pieces, lines_at(scene, outlet))
        levels.append(over_lid(float(told["rim"]), pieces[line.id][0].pipe.bore, flow or 0.0))
    return max(levels, default=None)


def level_at(
    scene: Scene, pieces: Mapping[str, list[FlowPiece]], line: Line, station: float, depth: int = 0
) -> float | None:
    """Level of the water at a station, by head lines from the outlet up.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    pieces : mapping of str to list of Piece
        From `pieces_of`.
    line : Line
        A line.
    station : float
        A place on it [m].
    depth : int
        How many lines have been followed, to stop at a ring.

    Returns
    -------
    float or None
        Elevation [m]; None where a flow on the way is not known or the line leads nowhere.

    References
    ----------
    Even or critical depth where the pipe runs part-full; S (Q/Qfull)^2 and velocity heads at bends (0.0033 a degree)
    and wyes (0.5) where it is full or drowned: FHWA HEC-22, simplified (memory).
    """
    own = pieces.get(line.id, [])
    if not own or depth > len(scene.lines) or own[0].flow is None:
        return None
    wye = 0.0
    trunk = _onto(scene, line)
    if trunk is not None:
        below = level_at(scene, pieces, trunk[0], trunk[1], depth + 1)
        if below is None:
            return None
        under = [piece for piece in pieces[trunk[0].id] if piece.end <= trunk[1] + _HERE]
        level: float = below + max(_head(under[-1]) - _head(own[0]), 0.0) if under else below
        wye = 0.5
    elif line.end in scene.outlets:
        water = outside(scene, pieces, line)
        level = own[0].low if water is None else water
    else:
        return None
    for piece in own:
        if piece.end > station + _HERE:
            break
        if piece.flow is None:
            return None
        level = _up(piece, level, 0.0033 * piece.turn + wye)
        wye = 0.0
    return level


def _head(piece: FlowPiece) -> float:
    """Velocity head of the full section [m]."""
    return float(((piece.flow or 0.0) / (math.pi * piece.pipe.bore**2 / 4)) ** 2 / (2 * STANDARD_GRAVITY))


def _up(piece: FlowPiece, below: float, loss: float) -> float:
    flow, bore = piece.flow or 0.0, piece.pipe.bore
    if flow == 0.0:
        return max(below, piece.high)
    if piece.grade <= 0:
        slope = (flow / full_flow_anew(bore, 1.0, piece.rough)) ** 2
        return max(below, piece.low + bore) + slope * (piece.end - piece.start) + loss * _head(piece)
    lost = piece.grade * (flow / piece.full) ** 2 * (piece.end - piece.start) + loss * _head(piece)
    if flow > piece.full:
        return max(below, piece.low + bore) + lost
    even = even_depth(flow, bore, piece.grade, piece.rough) or bore
    return max(below + lost, piece.high + max(even, least_energy_depth(flow, bore)))
