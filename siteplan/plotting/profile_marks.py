"""A line in; what is drawn of it in profile out: ground, pipe, crossings at their depth, sleeves, structures, water.

Heights stand at a scale of their own. The ground is dashed, as it is existing; what is to be built is solid.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from siteplan import units
from siteplan.plotting.fonts import wrapped
from siteplan.plotting.gathered import Gathered
from siteplan.plotting.graded import invert_figure, told_places
from siteplan.plotting.looks_of import DOUBT, GROUND, HAND_DIG, LEAST_COVER, PIPE_EDGE, SLEEVE, WATER
from siteplan.plotting.paper_sizes import Box
from siteplan.plotting.placing import Label
from siteplan.plotting.shapes import Filled, Pen, Spot, Stroke, rectangle, straight
from siteplan.plotting.symbols import around
from siteplan.plotting.view import cut_area, cut_to
from siteplan.sheets.drawing import BLUE
from siteplan.sheets.stakes import hand_dig_text, pipe_words
from siteplan.sheets.wording import KIND_TITLES, one_line
from siteplan.values.lines import Crossing, Line
from siteplan.values.whole_plan import Plan

_WIDE = 46.0  # of a label [mm]
_UNKNOWN_SIZE = 0.05  # radius at which a utility is drawn whose size nobody stated [m]; ours


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileView:
    """Stations and elevations on a page.

    The room, both scales, the station at its left and the elevation at its foot [m].
    """

    room: Box
    ratio: int  # of lengths
    steep: int  # of heights
    first: float
    low: float

    def x(self, station: float) -> float:
        """Across [mm]."""
        return self.room.left + (station - self.first) / (self.ratio * units.MILLIMETRE)

    def y(self, elevation: float) -> float:
        """Up [mm]."""
        return self.room.bottom + (elevation - self.low) / (self.steep * units.MILLIMETRE)

    @property
    def last(self) -> float:
        """The station at its right [m]."""
        return self.first + self.room.wide * self.ratio * units.MILLIMETRE

    def shows(self, station: float) -> bool:
        """Whether a station lies on the page."""
        return self.first - 1e-6 <= station <= self.last + 1e-6

    def run(self, layer: str, places: Sequence[Spot], pen: Pen) -> Iterator[Stroke]:
        """A run of stations and elevations, cut at the edges; places that are not known break it."""
        held: list[Spot] = []
        for station, level in (*places, (math.nan, math.nan)):
            if math.isfinite(level):
                held.append((self.x(station), self.y(level)))
                continue
            for piece in cut_to(self.room, held):
                yield Stroke(layer=layer, points=piece, pen=pen)
            held = []


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfiledLine:
    """A line with what its profile needs.

    Attributes
    ----------
    ground : tuple of (station, elevation)
        NaN where it is not known [m].
    doubt : tuple of (station, doubt)
        Of the ground at the stakes, one standard deviation [m].
    water : tuple of (station, elevation)
        Its surface at the design rain; empty where not known [m].
    least_cover : float or None
        The rule's limit [m].
    cover_from, cover_to : float
        Stations between which it holds [m].
    """

    plan: Plan
    line: Line
    ground: tuple[Spot, ...]
    doubt: tuple[Spot, ...]
    water: tuple[Spot, ...]
    least_cover: float | None
    cover_from: float
    cover_to: float


def profile_marks(of: ProfiledLine, view: ProfileView, out: Gathered) -> None:
    """Everything of one line on one sheet.

    Parameters
    ----------
    of : ProfiledLine
        The line.
    view : ProfileView
        Where and how large.
    out : Gathered
        Is added to.
    """
    _doubt(of, view, out)
    _pavement(of, view, out)
    ground = [*view.run("ground", of.ground, GROUND)]
    out.over.extend(ground)
    out.thin.extend(stroke.points for stroke in ground)
    out.key["ground"] = "Ground as it is; finished ground is the same"
    _least_cover(of, view, out)
    _pipe(of, view, out)
    _water(of, view, out)
    _sleeves(of, view, out)
    _utilities(of, view, out)
    _structures(of, view, out)
    _lines_met(of, view, out)


def _doubt(of: ProfiledLine, view: ProfileView, out: Gathered) -> None:
    """Two standard deviations of the ground to either side, where the plan states them.

    Between the stakes in proportion.
    """
    known = [(s, d) for s, d in of.doubt if d > 0]
    places = [(s, z) for s, z in of.ground if math.isfinite(z) and view.shows(s)]
    if len(known) < 2 or len(places) < 2:
        return
    twice = [2 * _between(known, s) for s, _ in places]
    upper = [(view.x(s), view.y(z + d)) for (s, z), d in zip(places, twice, strict=True)]
    lower = [(view.x(s), view.y(z - d)) for (s, z), d in zip(places, twice, strict=True)]
    for held in cut_area(view.room, [[*upper, *reversed(lower)]]):
        out.under.append(Filled(layer="doubt", rings=held, fill=DOUBT))
        out.key["doubt"] = "Ground within twice its standard deviation"


def _between(known: Sequence[Spot], station: float) -> float:
    for (a, low), (b, high) in pairwise(known):
        if station <= b:
            return low + (high - low) * min(max((station - a) / (b - a), 0.0), 1.0) if b > a else high
    return known[-1][1]


def _pavement(of: ProfiledLine, view: ProfileView, out: Gathered) -> None:
    for one in of.line.crossings:
        if one.kind == "utility" or not (view.shows(one.station_from) or view.shows(one.station_to)):
            continue
        left, right = max(view.x(one.station_from), view.room.left), min(view.x(one.station_to), view.room.right)
        out.under.append(
            rectangle(
                "crossings", Box(left=left, right=right, bottom=view.room.bottom, top=view.room.top), fill="#f1f1ec"
            )
        )
        name = one_line(one.name) or KIND_TITLES.get(one.kind, one.kind)
        cover = units.drop_text(one.cover_min, of.plan.length_unit)
        unit = of.plan.length_unit
        words = (
            f"{name}, {units.station_text(one.station_from, unit)} to {units.station_text(one.station_to, unit)}, "
            f"least cover there {cover}"
        )
        spot = ((left + right) / 2, view.room.top - 2.0)
        out.labels.append(
            (30, Label(layer="crossings", lines=tuple(wrapped(words, 2.2, _WIDE)), spot=spot, size=2.2, reach=90.0))
        )


def _least_cover(of: ProfiledLine, view: ProfileView, out: Gathered) -> None:
    if of.least_cover is None or of.line.pumped is not None:
        return
    places = [(s, z - of.least_cover) for s, z in of.ground if of.cover_from <= s <= of.cover_to]
    strokes = [*view.run("least_cover", places, LEAST_COVER)]
    if strokes:
        out.under.extend(strokes)
        out.key["least_cover"] = (
            f"Top of pipe stays under this: least cover {units.short_text(of.least_cover, of.plan.length_unit, 1)}"
        )


def _pipe(of: ProfiledLine, view: ProfileView, out: Gathered) -> None:
    """Invert and outside top of the pipe that lies there, as two lines."""
    line = of.line
    marks = sorted(
        {
            0.0,
            line.length,
            *(v.station for v in line.vertices),
            *(r.station_to for r in line.reaches if r.station_to < line.length),
        }
    )
    for a, b in pairwise(marks):
        pipe = line.pipe_at((a + b) / 2)
        low = [(a, line.at(a)[2]), (b, line.at(b)[2])]
        high = [(s, z + pipe.rise) for s, z in low]
        ring = [(view.x(s), view.y(z)) for s, z in (*low, *reversed(high))]
        for held in cut_area(view.room, [ring]):
            out.over.append(Filled(layer="pipe", rings=held, fill="#dcecf7"))
        for level, layer in ((low, "invert"), (high, "top_of_pipe")):
            strokes = [*view.run(layer, level, PIPE_EDGE)]
            out.over.extend(strokes)
            out.pipes.extend(stroke.points for stroke in strokes)
    out.key["pipe"] = "New pipe: invert and outside top"


def _water(of: ProfiledLine, view: ProfileView, out: Gathered) -> None:
    strokes = [*view.run("water", of.water, WATER)]
    if not strokes:
        return
    out.over.extend(strokes)
    out.key["water"] = "Water surface at the design rain"
    x, y = strokes[-1].points[-1]
    out.over.append(Filled(layer="water", rings=(((x, y), (x - 0.9, y + 1.5), (x + 0.9, y + 1.5)),), fill=BLUE))


def _sleeves(of: ProfiledLine, view: ProfileView, out: Gathered) -> None:
    for reach in of.line.reaches:
        sleeve = reach.sleeve
        if sleeve is None or not (view.shows(sleeve.station_from) or view.shows(sleeve.station_to)):
            continue
        marks = [
            sleeve.station_from,
            *(v.station for v in of.line.vertices if sleeve.station_from < v.station < sleeve.station_to),
            sleeve.station_to,
        ]
        top = [(s, of.line.at(s)[2] + reach.pipe.rise + sleeve.above) for s in marks]
        bottom = [(s, z - sleeve.pipe.od) for s, z in top]
        for level in (top, bottom, [top[0], bottom[0]], [top[-1], bottom[-1]]):
            out.over.extend(view.run("sleeves", level, SLEEVE))
        out.key["sleeve"] = "Sleeve round the line"
        middle = (sleeve.station_from + sleeve.station_to) / 2
        if view.shows(middle):
            unit = of.plan.length_unit
            words = (
                f"sleeve {pipe_words(sleeve.pipe, unit)}",
                f"{units.station_text(sleeve.station_from, unit)} to {units.station_text(sleeve.station_to, unit)}",
            )
            spot = (view.x(middle), view.y(bottom[0][1]))
            out.labels.append((12, Label(layer="sleeves", lines=words, spot=spot, size=2.2, reach=90.0)))


def clearance(of: ProfiledLine, one: Crossing) -> float | None:
    """Between the outsides of a line and of a utility that it crosses.

    Parameters
    ----------
    of : ProfiledLine
        The line.
    one : Crossing
        Of kind utility.

    Returns
    -------
    float or None
        [m]; below nought they meet; a utility over the line whose size nobody stated is taken as a line; None: its
        depth is not known.
    """
    if one.depth is None or not math.isfinite(one.cover_min):
        return None
    pipe = of.line.pipe_at(one.station_from)
    under = one.depth - one.cover_min - pipe.od  # the utility lies below
    over = one.cover_min - one.depth - 2 * (_radius(of.plan, one) or 0.0)
    return max(under, over)


def _radius(plan: Plan, one: Crossing) -> float | None:
    """Half of a utility's outside, where the survey states it [m]."""
    for feature in plan.features:
        if feature.kind == "utility" and feature.name == one.name:
            told = dict(feature.told)
            size = told.get("diameter")
            if isinstance(size, int | float) and told.get("service", "") == one.service:
                return float(size) / 2
    return None


def _utilities(of: ProfiledLine, view: ProfileView, out: Gathered) -> None:
    line, unit = of.line, of.plan.length_unit
    for one in line.crossings:
        if one.kind != "utility" or not view.shows(one.station_from):
            continue
        reach = one.hand_dig or 0.0
        first, last = max(0.0, one.station_from - reach), min(line.length, one.station_to + reach)
        levels = [(s, line.at(s)[2] - line.pipe_at(s).below) for s in (first, one.station_from, last)]
        out.over.extend(view.run("hand_dig", levels, HAND_DIG))
        out.key["hand_dig"] = "HAND DIG"
        pipe = line.pipe_at(one.station_from)
        ground = line.at(one.station_from)[2] + pipe.rise + one.cover_min
        words = [hand_dig_text(one, line.length, unit)]
        x = view.x(one.station_from)
        if one.depth is None or not math.isfinite(ground):
            top = view.y(ground) if math.isfinite(ground) else view.room.top
            out.over.append(
                straight(
                    "utilities", (x, min(top, view.room.top)), (x, view.room.bottom), Pen(width=0.25, dash=(1.0, 1.0))
                )
            )
            spot = (x, view.y(line.at(one.station_from)[2]))
            words.append("may lie at any depth here")
        else:
            radius = _radius(of.plan, one)
            half = radius or _UNKNOWN_SIZE
            centre = ground - one.depth - half
            spot = (x, view.y(centre))
            ring = [
                (view.x(one.station_from + half * math.cos(t)), view.y(centre + half * math.sin(t)))
                for t in (k * math.pi / 12 for k in range(24))
            ]
            for held in cut_area(view.room, [ring]):
                out.over.append(
                    Filled(layer="utilities", rings=held, fill="#ffffff", pen=Pen(color="#a30000", width=0.35))
                )
            gap = clearance(of, one)
            words.append(
                f"clear of the line {units.drop_text(gap, unit)}" if gap is not None else "clearance not known"
            )
            if radius is None:
                words.append("its size is not stated")
            out.keep_off.append(around(spot, 1.6))
        lines = tuple(part for text in words for part in wrapped(text, 2.2, _WIDE))
        out.labels.append(
            (
                5,
                Label(
                    layer="hand_dig",
                    lines=lines,
                    spot=spot,
                    size=2.2,
                    reach=90.0,
                    strong=True,
                    color="#a30000",
                    foot=1.4,
                ),
            )
        )


def _structures(of: ProfiledLine, view: ProfileView, out: Gathered) -> None:
    """Ends, fittings and joins: the name, what stands there, the inverts of lines that come in."""
    line, plan = of.line, of.plan
    for place in told_places(plan):
        station = next((station for name, station, _ in place.rows if name == line.id), None)
        if station is None or not view.shows(station):
            continue
        invert = line.at(station)[2]
        spot = (view.x(station), view.y(invert))
        foot = (spot[0], view.y(invert + line.pipe_at(station).rise))
        out.over.append(straight("structures", spot, foot, Pen(width=0.35)))
        rows = [
            f"{name} {'joins,' if at == 0.0 else 'at'} inv {invert_figure(level, plan.elevation_unit)}"
            for name, at, level in place.rows
            if name != line.id
        ]
        own = f"{units.station_text(station, plan.length_unit)} inv {invert_figure(invert, plan.elevation_unit)}"
        texts = [text for text in (place.head, own, place.words, *rows) if text]
        lines = tuple(part for text in texts for part in wrapped(text, 2.2, _WIDE, bold=text is place.head))
        rank = 4 if place.head else 10
        out.labels.append(
            (rank, Label(layer="places", lines=lines, spot=foot, size=2.2, reach=90.0, strong=bool(place.head)))
        )
        vertex = min(line.vertices, key=lambda one: abs(one.station - station))
        if any(fitting.kind.value == "cleanout" for fitting in vertex.fittings) and math.isfinite(vertex.ground):
            riser = [
                (foot[0] + d, y)
                for d, y in (
                    (-0.5, foot[1]),
                    (-0.5, view.y(vertex.ground)),
                    (0.5, view.y(vertex.ground)),
                    (0.5, foot[1]),
                )
            ]
            for piece in cut_to(view.room, riser):
                out.over.append(Stroke(layer="cleanouts", points=piece, pen=Pen(width=0.25)))
                out.pipes.append(piece)
            out.key["cleanout"] = "Cleanout, riser to the ground"


def _lines_met(of: ProfiledLine, view: ProfileView, out: Gathered) -> None:
    """Other lines of the plan that come in or cross, as their outside at their own height."""
    for other, station, level in lines_met(of.plan, of.line):
        if not view.shows(station):
            continue
        pipe = other.pipe_at(0.0)
        half = pipe.od / 2
        centre = level + pipe.bore / 2
        ring = [
            (view.x(station + half * math.cos(t)), view.y(centre + half * math.sin(t)))
            for t in (k * math.pi / 12 for k in range(24))
        ]
        for held in cut_area(view.room, [ring]):
            out.over.append(Stroke(layer="lines_met", points=held[0], pen=Pen(color=BLUE, width=0.3), closed=True))
            out.key["lines_met"] = "Another line of this plan"
        if other.end != of.line.id:
            words = (f"{other.id} crosses, inv {invert_figure(level, of.plan.elevation_unit)}",)
            out.labels.append(
                (11, Label(layer="places", lines=words, spot=(view.x(station), view.y(centre)), size=2.2, reach=90.0))
            )


def lines_met(plan: Plan, line: Line) -> Iterator[tuple[Line, float, float]]:
    """Other lines that a line meets in plan.

    Parameters
    ----------
    plan : Plan
        As stored.
    line : Line
        One of its lines.

    Yields
    ------
    (Line, float, float)
        The other one, this one's station and the other's invert there [m].
    """
    for other in plan.every_line:
        if other.id == line.id:
            continue
        if other.end == line.id:
            end = other.vertices[0]
            at = min(line.vertices, key=lambda v: math.hypot(v.x - end.x, v.y - end.y))
            yield other, at.station, end.invert
            continue
        if line.end == other.id:
            continue
        for a, b in pairwise(line.vertices):
            for c, d in pairwise(other.vertices):
                cut = _cut((a.x, a.y), (b.x, b.y), (c.x, c.y), (d.x, d.y))
                if cut is not None:
                    yield other, a.station + cut[0] * (b.station - a.station), c.invert + cut[1] * (d.invert - c.invert)


def _cut(a: Spot, b: Spot, c: Spot, d: Spot) -> tuple[float, float] | None:
    """Where two straight pieces cross, as shares of each."""
    rx, ry, sx, sy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
    turn = rx * sy - ry * sx
    if abs(turn) < 1e-12:
        return None
    t = ((c[0] - a[0]) * sy - (c[1] - a[1]) * sx) / turn
    u = ((c[0] - a[0]) * ry - (c[1] - a[1]) * rx) / turn
    return (t, u) if 0 < t < 1 and 0 < u < 1 else None
