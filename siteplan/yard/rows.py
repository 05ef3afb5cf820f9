"""A laid line and its inverts in; vertices, schedule rows and crossings with their covers out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from siteplan import units
from siteplan.books.fittings import fitting_words
from siteplan.books.kinds import into_pipe
from siteplan.books.practice import JOINTS_GIVE, STAKES_FEET, STAKES_METRES
from siteplan.fall.band import Floats, Profile, invert_at
from siteplan.routes.lines import Laid
from siteplan.routes.terms import Terms
from siteplan.routes.trace import places_at, undercrossings
from siteplan.site import Site
from siteplan.values.laid_pipe import Fitting, FittingKind, Pipe
from siteplan.values.lines import Crossing, Passage, Row, Vertex

STAKES = {
    "ft": STAKES_FEET,
    "us-ft": STAKES_FEET.typed * units.US_SURVEY_FOOT,
    "m": STAKES_METRES,
}  # between stakes and pipe joints
ONE = 1e-3  # m: places on a line nearer than this are one
_MERGED = 0.15  # m: a stake nearer than this to a place with a reason gives way to it
_NEAR = 0.1  # m: rows nearer to one another than this are one stake; ours
CLOSEST = 0.5  # m: nobody builds cleanouts closer; the check says when a site asks for it
SHARP = 45.0 + JOINTS_GIVE  # degrees: a turn beyond it gets a cleanout


@dataclass(frozen=True, slots=True, kw_only=True)
class RowMark:
    """A place on a line that gets a row, and why."""

    station: float
    note: str


def stake_stations(length: float, unit: str) -> Floats:
    """Stations of stakes and pipe joints: every 10 ft, or every 3 m.

    Parameters
    ----------
    length : float
        Length of the line [m].
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    ndarray [m]
        From 0, the line's end not included unless it falls on one.
    """
    return np.arange(0.0, length - _MERGED, STAKES[unit])


def vertices_of(laid: Laid, profile: Profile, ground: Floats, cleanouts: Sequence[float]) -> tuple[Vertex, ...]:
    """Places where a line bends, changes grade, joins or ends.

    Parameters
    ----------
    laid : Laid
        The line in plan.
    profile : Profile
        Its inverts.
    ground : ndarray
        Ground at the trace's stations [m].
    cleanouts : sequence of float
        Stations of cleanouts [m].

    Returns
    -------
    tuple of Vertex
        By station, outlet first.
    """
    from siteplan.routes.straight import turn

    along = laid.trace
    corner_at = dict(zip(along.corner_stations, range(len(along.corners)), strict=True))
    breaks = [float(s) for s in profile.station if min(abs(float(s) - at) for at in along.corner_stations) > ONE]
    breaks += [s for s in cleanouts if min(abs(s - at) for at in (*along.corner_stations, *breaks)) > ONE]
    vertices = []
    for station in sorted({*along.corner_stations, *breaks}):
        k = corner_at.get(station)
        x, y = along.corners[k] if k is not None else (float(v) for v in places_at(along.corners, [station])[0])
        inner = k is not None and 0 < k < len(along.corners) - 1
        bend = (
            round(turn(along.corners[k - 1], along.corners[k], along.corners[k + 1]), 2)
            if inner and k is not None
            else 0.0
        )
        fittings = list(laid.fittings[k]) if k is not None else []
        if k is None and station in breaks and not _on(cleanouts, station):
            fittings.append(Fitting(kind=FittingKind.GRADE_BREAK))
        if k == 0 and laid.outlet is not None and into_pipe(laid.outlet.kind):
            fittings.append(Fitting(kind=FittingKind.TIE_IN))
        if _on(cleanouts, station):
            fittings.append(Fitting(kind=FittingKind.CLEANOUT))
        vertices.append(
            Vertex(
                x=x,
                y=y,
                station=station,
                invert=float(invert_at(profile, [station])[0]),
                ground=float(np.interp(station, along.station, ground)),
                bend=bend,
                fittings=tuple(fittings),
            )
        )
    return tuple(vertices)


def _on(stations: Sequence[float], station: float) -> bool:
    return any(abs(station - other) <= ONE for other in stations)


def on_paper(vertices: Sequence[Vertex], grade: float | None, least: float) -> tuple[Vertex, ...]:
    """Vertices with their inverts to the micrometre, such that every piece between two still falls at the least grade.

    Parameters
    ----------
    vertices : sequence of Vertex
        By station, outlet first.
    grade : float or None
        Least grade [-]; None: inverts that somebody gave stand as they are.
    least : float
        Invert below which the first may not be written: that of the line joined [m].

    Returns
    -------
    tuple of Vertex
        Inverts at most a few micrometres higher.
    """
    written: list[Vertex] = []
    for vertex in vertices:
        invert = max(round(vertex.invert, 6), round(least, 6))
        if written and grade is not None:
            # places are written to the micrometre too, so that a piece may be read two longer
            rise = grade * (vertex.station - written[-1].station + 2e-6)
            invert = max(invert, math.ceil((written[-1].invert + rise) * 1e6 - 1e-3) / 1e6)
        written.append(replace(vertex, invert=invert))
    return tuple(written)


def cleanouts_of(laid: Laid, spacing: float | None, unit: str) -> tuple[float, ...]:
    """Where a line gets cleanouts.

    At its upper end, at each sharp turn, and so that none is farther apart than allowed.

    Parameters
    ----------
    laid : Laid
        The line in plan.
    spacing : float or None
        Greatest distance between cleanouts [m]; None: not known, only turns and the upper end get one.
    unit : str
        The site's length unit: cleanouts between turns stand at stakes.

    Returns
    -------
    tuple of float
        Stations, ascending [m].
    """
    from siteplan.routes.straight import turn

    along = laid.trace
    corners, at = along.corners, along.corner_stations
    places = [at[-1]]
    places += [at[k] for k in range(1, len(corners) - 1) if turn(corners[k - 1], corners[k], corners[k + 1]) > SHARP]
    places = sorted(set(places))
    if spacing is None or spacing <= 0:
        return tuple(places)
    spacing = max(spacing, CLOSEST)
    filled: list[float] = []
    below = 0.0
    for place in places:
        parts = math.ceil((place - below) / spacing - 1e-9)
        for left in range(parts, 1, -1):
            wanted = below + (place - below) / left
            stake = round(wanted / STAKES[unit]) * STAKES[unit]
            fits = below < stake < place and stake - below <= spacing and place - stake <= spacing * (left - 1)
            below = stake if fits else wanted
            filled.append(below)
        filled.append(place)
        below = place
    return tuple(filled)


def marks_of(
    laid: Laid,
    vertices: Sequence[Vertex],
    crossings: Sequence[Crossing],
    passages: Sequence[Passage],
    names: dict[str, str],
    terms: Terms,
    unit: str,
) -> tuple[RowMark, ...]:
    """Every place of a line that gets a row in the schedule.

    Parameters
    ----------
    laid : Laid
        The line in plan.
    vertices, crossings, passages : sequence
        What happens along it.
    names : dict of str to str
        Names to print for wye marks: coordinates of the wye to the line that comes in; '' is the line's own end.
    terms : Terms
        For the end of the outlet zone.
    unit : str
        The site's length unit.

    Returns
    -------
    tuple of Mark
        By station.
    """
    length = laid.trace.corner_stations[-1]
    marks: dict[float, list[str]] = {}

    def mark(station: float, note: str) -> None:
        near = next((at for at in marks if abs(at - station) < 1e-3), station)
        marks.setdefault(near, []).append(note)

    for vertex in vertices:
        words = []
        if vertex.station == 0:
            words.append(names.get("", "outlet"))
        if vertex.station == length:
            lifted = " comes in here, pumped" if laid.source.pit is not None else ""
            words.append(f"start: {laid.source.name}{lifted}")
        wye = names.get(f"{vertex.x!r},{vertex.y!r}")
        if wye and vertex.station > 0:
            words.append(wye)
        if vertex.fittings:
            made = fitting_words(vertex.fittings)
            bent = vertex.bend and not vertex.has(FittingKind.WYE)
            words.append(f"bend {vertex.bend:.1f} degrees: {made}" if bent else made)
        mark(vertex.station, "; ".join(words))
    for crossing in crossings:
        what = f"{crossing.kind} {crossing.name}".strip()
        if crossing.station_to - crossing.station_from < 1e-6:
            mark(crossing.station_from, f"crosses {what}")
        else:
            mark(crossing.station_from, f"edge of {what}, low side")
            mark(crossing.station_to, f"edge of {what}, high side")
    for passage in passages:
        mark(passage.station_from, f"into wet low spot {passage.id}")
        mark(passage.station_to, f"out of wet low spot {passage.id}")
    if laid.outlet is not None and not into_pipe(laid.outlet.kind) and terms.zone < length:
        mark(terms.zone, "outlet zone ends here: heavy pipe between here and the outlet")
    for station in stake_stations(length, unit):
        if all(abs(float(station) - at) >= _MERGED for at in marks):
            mark(float(station), "")
    return tuple(RowMark(station=at, note="; ".join(note for note in marks[at] if note)) for at in sorted(marks))


def rows_of(
    laid: Laid, vertices: Sequence[Vertex], marks: Sequence[RowMark], pipe: Pipe, terms: Terms
) -> tuple[Row, ...]:
    """The schedule's rows.

    Parameters
    ----------
    laid : Laid
        The line in plan.
    vertices : sequence of Vertex
        Its inverts; straight between them.
    marks : sequence of Mark
        Where rows stand.
    pipe : Pipe
        For the top of pipe.
    terms : Terms
        For the trench bottom.

    Returns
    -------
    tuple of Row
        By station. Cut is to the trench bottom, cover to the outside top.
    """
    at = np.array([vertex.station for vertex in vertices])
    inverts = np.array([vertex.invert for vertex in vertices])
    along = laid.trace
    rows = []
    for mark in marks:
        ground = float(np.interp(mark.station, along.station, along.ground))
        invert = float(np.interp(mark.station, at, inverts))
        k = max(1, int(np.searchsorted(at, mark.station - 1e-9)))
        k = min(k, len(at) - 1)
        x, y = places_at(along.corners, [mark.station])[0]
        rows.append(
            Row(
                station=mark.station,
                x=float(x),
                y=float(y),
                ground=ground,
                invert=invert,
                cut=ground - invert + terms.below,
                cover=ground - invert - pipe.rise,
                grade=float((inverts[k] - inverts[k - 1]) / (at[k] - at[k - 1])),
                note=mark.note,
            )
        )
    return tuple(rows)


def stakes_apart(rows: Sequence[Row], vertices: Sequence[Vertex], unit: str) -> tuple[Row, ...]:
    """Rows a hand's breadth apart or nearer made one: nobody drives two stakes there.

    Parameters
    ----------
    rows : sequence of Row
        By station.
    vertices : sequence of Vertex
        Of the line; where the pipe turns, the stake stays.
    unit : str
        The site's length unit.

    Returns
    -------
    tuple of Row
        The kept row carries the notes of the others, each with its own station. The first and the last row stay.
    """
    turning = [vertex.station for vertex in vertices]
    ends = {rows[0].station, rows[-1].station} if rows else set()
    groups: list[list[Row]] = []
    for row in rows:
        if groups and row.station - groups[-1][0].station < _NEAR and {row.station, groups[-1][0].station} != ends:
            groups[-1].append(row)
        else:
            groups.append([row])
    found = []
    for group in groups:
        kept = min(group, key=lambda row: (row.station not in ends, not _on(turning, row.station)))
        notes = [
            kept.note,
            *(f"{units.station_text(row.station, unit)}: {row.note}" for row in group if row is not kept and row.note),
        ]
        found.append(replace(kept, note="; ".join(note for note in notes if note)))
    return tuple(found)


def crossings_of(site: Site, laid: Laid, profile: Profile, pipe: Pipe) -> tuple[Crossing, ...]:
    """Crossings with the cover at both edges and the least between them.

    Parameters
    ----------
    site : Site
        For the features crossed.
    laid : Laid
        The line in plan.
    profile : Profile
        Its inverts.
    pipe : Pipe
        For the top of pipe.

    Returns
    -------
    tuple of Crossing
        By station.
    """
    along = laid.trace

    def cover(stations: ArrayLike) -> Floats:
        ground = np.interp(np.asarray(stations, float), along.station, along.ground)
        covered: Floats = ground - invert_at(profile, stations) - pipe.rise
        return covered

    found = []
    for under in undercrossings(site, along.corners):
        inside = along.station[(along.station > under.station_from) & (along.station < under.station_to)]
        ends = cover([under.station_from, under.station_to])
        between = cover(inside) if inside.size else ends
        found.append(
            Crossing(
                kind=under.kind,
                name=under.name,
                station_from=under.station_from,
                station_to=under.station_to,
                angle=under.angle,
                cover_from=float(ends[0]),
                cover_to=float(ends[1]),
                cover_min=float(min(ends.min(), between.min())),
                depth=under.depth,
                service=under.service,
                hand_dig=site.rules["utility-crossed"].limit if under.kind == "utility" else None,
            )
        )
    return tuple(found)
