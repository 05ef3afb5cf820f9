"""An accepted as-laid check in; the record for the next person who digs, and the owner's page, out."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.books.fittings import turns_made
from siteplan.books.kinds import pumped
from siteplan.books.rules import AIR_GAP
from siteplan.laid.verdict_values import AsBuilt, LaidLine
from siteplan.sheets.geopackage import Layer, geopackage
from siteplan.sheets.markup import tag
from siteplan.sheets.paper import listed, page, table
from siteplan.sheets.stakes import pipes_along, pipes_words
from siteplan.sheets.ties import Corner, Tie, corners, swing_ties
from siteplan.sheets.wording import KIND_TITLES, names, titled, way
from siteplan.survey.files import said
from siteplan.values.laid_pipe import FittingKind
from siteplan.values.lines import Line
from siteplan.values.whole_plan import Plan

if TYPE_CHECKING:
    from siteplan.site import Site

NO_DATE = "1970-01-01"


How = Literal["shot", "between shots", "beyond shots", "planned"]  # how a place, or a height, is known
HOW = {
    "shot": "shot",
    "between shots": "between shots",
    "beyond shots": "carried on past the last shot",
    "planned": "as planned: shots by station alone tell no place",
}
AT = 0.15  # m: a shot this near a place is of it


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """One place of the record, as laid; `place` says how its coordinates are known. `ground` is that of the plan.

    None where not known [m].
    """

    line: str
    station: float
    x: float
    y: float
    invert: float
    design: float
    ground: float | None
    depth: float | None  # ground to top of pipe
    place: How


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordMark:
    """A thing somebody must find again, with its ties; `place`, `height` say how coordinates and invert are known."""

    what: str
    kind: str  # cleanout | outlet | fitting | start
    line: str
    station: float
    x: float
    y: float
    invert: float
    depth: float | None
    ties: tuple[Tie, ...]
    place: How
    height: How


def spots(plan: Plan, result: AsBuilt) -> tuple[Spot, ...]:
    """Every shot of every line, as laid.

    Parameters
    ----------
    plan : Plan
        The plan, for places and grounds.
    result : AsBuilt
        The check.

    Returns
    -------
    tuple of Spot
        By line, outlet first.
    """
    out = []
    by_id = {line.id: line for line in plan.lines}
    for laid in result.lines:
        line = by_id.get(laid.design.id)
        if line is None or laid.fit is None:
            continue
        for station, invert, design in zip(laid.fit.station, laid.fit.shot, laid.fit.design, strict=True):
            x, y, how = laid_place(line, laid, float(station))
            ground = _place(line, float(station))[2]
            out.append(
                Spot(
                    line=line.id,
                    station=float(station),
                    x=x,
                    y=y,
                    invert=float(invert),
                    design=float(design),
                    ground=ground,
                    depth=None if ground is None else ground - float(invert) - laid.design.wall_at(float(station))[0],
                    place=how,
                )
            )
    return tuple(out)


def _place(line: Line, station: float) -> tuple[float, float, float | None]:
    x, y, _ = line.at(station)
    ground = (
        float(np.interp(station, [row.station for row in line.rows], [row.ground for row in line.rows]))
        if line.rows
        else math.nan
    )
    return x, y, ground if math.isfinite(ground) else None


def laid_place(line: Line, laid: LaidLine, station: float) -> tuple[float, float, How]:
    """Where the pipe lies at a station: as shot, or as far aside of the plan as the shots on both sides are.

    Parameters
    ----------
    line : Line
        As planned.
    laid : LaidLine
        As laid; its fit is there.
    station : float
        [m]

    Returns
    -------
    tuple
        Coordinates [m] and how they are known.
    """
    x, y, _ = _place(line, station)
    fit = laid.fit
    known = [
        (float(s), *xy) for s, xy in zip(fit.station if fit is not None else (), laid.xy, strict=True) if xy is not None
    ]
    if not known:
        return x, y, "planned"
    nearest = min(known, key=lambda one: abs(one[0] - station))
    if abs(nearest[0] - station) <= AT:
        return nearest[1], nearest[2], "shot"
    at = [s for s, _, _ in known]
    aside = [(own_x - _place(line, s)[0], own_y - _place(line, s)[1]) for s, own_x, own_y in known]
    x, y = (value + float(np.interp(station, at, [one[axis] for one in aside])) for axis, value in enumerate((x, y)))
    return x, y, "between shots" if at[0] < station < at[-1] else "beyond shots"


def marks(plan: Plan, result: AsBuilt, site: Site | None) -> tuple[RecordMark, ...]:
    """Cleanouts, outlets, bends and joins, each with its swing ties.

    Parameters
    ----------
    plan : Plan
        The plan.
    result : AsBuilt
        The check: inverts are those as laid where the line was shot.
    site : Site or None
        For the corners of buildings; without it there are no ties.

    Returns
    -------
    tuple of Mark
        By line, outlet first.
    """
    known: tuple[Corner, ...] = corners(site) if site is not None else ()
    called = names(plan)
    laid = {one.design.id: one for one in result.lines}
    outlets = {outlet.id for outlet in plan.outlets}
    out = []
    for line in plan.lines:
        fit = laid[line.id].fit if line.id in laid else None
        if fit is None:
            continue
        for place, vertex in enumerate(line.vertices):
            kinds = _kinds(line, place, outlets, called)
            if not kinds:
                continue
            invert = float(np.interp(vertex.station, fit.station, fit.shot))
            x, y, place_known = laid_place(line, laid[line.id], vertex.station)
            height_known = _height_known(fit.station, vertex.station)
            top = vertex.ground - invert - laid[line.id].design.wall_at(vertex.station)[0]
            out += [
                RecordMark(
                    what=what,
                    kind=kind,
                    line=line.id,
                    station=vertex.station,
                    x=x,
                    y=y,
                    invert=invert,
                    depth=top if math.isfinite(top) else None,
                    ties=swing_ties(x, y, known),
                    place=place_known,
                    height=height_known,
                )
                for kind, what in kinds
            ]
    return tuple(out)


def _height_known(stations: NDArray[np.float64], station: float) -> How:
    if float(np.abs(stations - station).min()) <= AT:
        return "shot"
    return "between shots" if stations[0] < station < stations[-1] else "beyond shots"


def _kinds(line: Line, place: int, outlets: set[str], called: dict[str, str]) -> list[tuple[str, str]]:
    vertex = line.vertices[place]
    kinds = []
    if place == 0:
        kinds.append(("outlet", called[line.end]) if line.end in outlets else ("fitting", f"wye on {line.end}"))
    elif place == len(line.vertices) - 1:
        kinds.append(("start", called.get(line.start, line.start)))
    elif made := turns_made(vertex.fittings):
        kinds.append(("fitting", made))
    if vertex.has(FittingKind.CLEANOUT):
        kinds.append(("cleanout", "cleanout"))
    return kinds


def ties_text(ties: Sequence[Tie], unit: str) -> str:
    """Ties as they are taped: 12.3 ft from House SW corner and 20.1 ft from House SE corner.

    Parameters
    ----------
    ties : sequence of Tie
        Ties.
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        A dash where there are none.
    """
    return " and ".join(f"{units.length_text(tie.distance, unit, 1)} from {tie.corner.name}" for tie in ties) or "-"


def record_package(plan: Plan, result: AsBuilt, site: Site | None, photos: Sequence[str], date: str | None) -> bytes:
    """The record as a GeoPackage: shots, pipes, marks, photographs' names.

    Parameters
    ----------
    plan : Plan
        The plan.
    result : AsBuilt
        The accepted check.
    site : Site or None
        For ties.
    photos : sequence of str
        Names.
    date : str or None
        Printed date; where it is an ISO date it stamps the file too.

    Returns
    -------
    bytes
        The file, the same for the same input. Lengths in metres.
    """
    unit = plan.length_unit

    def r(value: float | None) -> float | None:
        return None if value is None else round(value, 4) + 0.0

    found = spots(plan, result)
    kept = marks(plan, result, site)
    pipes = []
    by_id = {one.design.id: one for one in result.lines}
    for line in plan.lines:
        own = [spot for spot in found if spot.line == line.id]
        if own:
            at, z = [spot.station for spot in own], [spot.invert for spot in own]
            ends = sorted({*at, *(v.station for v in line.vertices)})
            path = [(*laid_place(line, by_id[line.id], s)[:2], float(np.interp(s, at, z))) for s in ends]
            values = {
                "line": line.id,
                "way": way(line, names(plan)),
                "pipe": _pipe(line, result, plan.length_unit, line.pipe.kind),
                "length_m": r(line.length),
            }
            pipes.append((path, values))
    layers = [
        Layer(
            name="pipes",
            description="pipes as laid; heights are inverts, metres",
            kind="LINESTRING",
            columns={"line": str, "way": str, "pipe": str, "length_m": float},
            rows=pipes,
        ),
        Layer(
            name="shots",
            description="inverts as laid, metres",
            kind="POINT",
            columns={
                "line": str,
                "station_m": float,
                "invert_m": float,
                "design_m": float,
                "off_m": float,
                "ground_m": float,
                "top_depth_m": float,
                "place": str,
            },
            rows=[
                (
                    [(s.x, s.y, s.invert)],
                    {
                        "line": s.line,
                        "station_m": r(s.station),
                        "invert_m": r(s.invert),
                        "design_m": r(s.design),
                        "off_m": r(s.invert - s.design),
                        "ground_m": r(s.ground),
                        "top_depth_m": r(s.depth),
                        "place": HOW[s.place],
                    },
                )
                for s in found
            ],
        ),
        Layer(
            name="marks",
            description="cleanouts, outlets and fittings with swing ties to building corners",
            kind="POINT",
            columns={
                "line": str,
                "station_m": float,
                "kind": str,
                "what": str,
                "invert_m": float,
                "top_depth_m": float,
                "ties": str,
                "place": str,
                "height": str,
            },
            rows=[
                (
                    [(m.x, m.y, m.invert)],
                    {
                        "line": m.line,
                        "station_m": r(m.station),
                        "kind": m.kind,
                        "what": m.what,
                        "invert_m": r(m.invert),
                        "top_depth_m": r(m.depth),
                        "ties": ties_text(m.ties, unit),
                        "place": HOW[m.place],
                        "height": HOW[m.height],
                    },
                )
                for m in kept
            ],
        ),
        Layer(
            name="photos",
            description="names of photographs taken before backfill",
            kind="",
            columns={"name": str},
            rows=[((), {"name": said(p)}) for p in photos],
        ),
    ]
    return geopackage(layers, plan.crs, _iso(date))


def _pipe(line: Line, result: AsBuilt, unit: str, name: str) -> str:
    """The pipe in the trench: what was told to be laid, or each of the plan's where it has several."""
    if result.laid_pipe:
        return result.laid_pipe
    return (
        pipes_words(line, unit)
        if len(pipes_along(line)) > 1
        else f"{units.size_text(line.pipe.nominal, line.pipe.od, unit)} {name}"
    )


def _iso(date: str | None) -> str:
    try:
        return dt.date.fromisoformat(date or "").isoformat()
    except ValueError:
        return NO_DATE


def record_page(plan: Plan, result: AsBuilt, site: Site | None, photos: Sequence[str], date: str | None) -> bytes:
    """The record on one page.

    Parameters
    ----------
    plan : Plan
        The plan.
    result : AsBuilt
        The accepted check.
    site : Site or None
        For ties.
    photos : sequence of str
        Names.
    date : str or None
        Printed.

    Returns
    -------
    bytes
        HTML in UTF-8 for letter and A4.
    """
    unit, high = plan.length_unit, plan.elevation_unit
    called = names(plan)
    found, kept = spots(plan, result), marks(plan, result, site)
    shift = result.datum_shift
    datum = (
        f"Heights are in the plan's datum; {units.length_text(abs(shift), high)} was taken off the shots' own."
        if shift
        else "Heights are in the plan's datum."
    )
    inside: list[str] = [
        tag(
            "p",
            (
                f"As laid and accepted{f', {said(date)}' if date else ''}. {datum} Depth is from the ground of "
                "the plan to the top of the pipe. Before digging: locate request all the same."
            ),
        ),
        *(tag("p", reason.text) for reason in result.reasons),
    ]
    for line in plan.lines:
        own = [spot for spot in found if spot.line == line.id]
        if not own:
            continue
        inside.append(
            tag(
                "h2",
                (
                    f"{line.id} {way(line, called)}: {_pipe(line, result, unit, line.pipe.title)}, "
                    f"{units.length_text(line.length, unit, 1)}"
                ),
            )
        )
        inside.append(
            table(
                [
                    "Station from outlet",
                    f"Invert {units.UNIT_NAMES[high]}",
                    "Off the plan",
                    "Depth to top",
                    "Place known",
                ],
                [
                    [
                        units.station_text(max(s.station, 0.0), unit),
                        units.length_text(s.invert, high).split(" ")[0],
                        units.length_text(s.invert - s.design, high).split(" ")[0],
                        "not known" if s.depth is None else units.drop_text(s.depth, unit),
                        HOW[s.place],
                    ]
                    for s in own
                ],
                words=[4],
            )
        )
        held = [mark for mark in kept if mark.line == line.id]
        inside.append(
            table(
                ["What", "Station", "Invert", "Depth to top", "Swing ties", "Place known", "Height known"],
                [
                    [
                        m.what if m.kind != "start" else f"start at {m.what}",
                        units.station_text(m.station, unit),
                        units.length_text(m.invert, high).split(" ")[0],
                        "not known" if m.depth is None else units.drop_text(m.depth, unit),
                        ties_text(m.ties, unit),
                        HOW[m.place],
                        HOW[m.height],
                    ]
                    for m in held
                ],
                words=[0, 4, 5, 6],
            )
        )
    if site is None:
        inside.append(tag("p", "No site folder was given: there are no ties to building corners."))
    inside += [
        tag("h2", "Photographs before backfill"),
        listed([said(name) for name in photos]) or tag("p", "None was named."),
    ]
    running = (titled(plan), "as-built record", f"date: {said(date) if date else '________'}")
    return page(f"As-built record: {titled(plan)}", *inside, running=running)


def _gaps(plan: Plan) -> list[str]:
    """What an owner must know of the open gap at each sump.

    Only of one whose rim is known can it be said that it is there.
    """
    called = names(plan)
    known = {one.subject for one in plan.findings if one.rule == AIR_GAP.id and one.value is not None}
    sumps = [one for one in plan.sources if pumped(one.kind)]
    open_ = ", ".join(called[one.id] for one in sumps if one.id in known)
    other = ", ".join(called[one.id] for one in sumps if one.id not in known)
    told = []
    if open_:
        told.append(
            f"The air gap outside the wall at {open_} must stay open: it is where water goes when the line is "
            "blocked or frozen."
        )
    if other:
        told.append(
            f"No open gap outside the wall is known at {other}. If there is one, keep it open; if there is "
            "none, water that cannot get "
            "away goes back to the pit: ask for one."
        )
    return told


def owner_page(plan: Plan, result: AsBuilt, site: Site | None, date: str | None) -> bytes:
    """The owner's page: where the cleanouts are, when to look at the outlet.

    Parameters
    ----------
    plan : Plan
        The plan.
    result : AsBuilt
        The accepted check.
    site : Site or None
        For ties.
    date : str or None
        Printed.

    Returns
    -------
    bytes
        HTML in UTF-8.
    """
    unit = plan.length_unit
    called = names(plan)
    kept = marks(plan, result, site)
    outs = [[f"{m.what}, end of {m.line}", ties_text(m.ties, unit)] for m in kept if m.kind == "outlet"]
    cleans = [
        [
            f"{m.line} at {units.station_text(m.station, unit)}",
            "not known" if m.depth is None else units.drop_text(m.depth, unit),
            ties_text(m.ties, unit),
        ]
        for m in kept
        if m.kind == "cleanout"
    ]
    shot = {line.design.id for line in result.lines if line.fit is not None}
    drained = [
        f"{called[s.id]} ({KIND_TITLES.get(s.kind, s.kind).lower()})"
        for s in plan.sources
        if any(s.id in line.sources and line.id in shot for line in plan.lines)
    ]
    look = [
        "Each autumn, when the leaves are down: clear the outlet, see that nothing grows or lies before it.",
        "After the first hard freeze: ice at the outlet, or water at a downspout's foot, means the line cannot empty.",
        "In the first heavy rain of spring: water must come out of the outlet within minutes, and nowhere else.",
        (
            "Water that stands at a downspout or bubbles at a cleanout: the line is blocked below it. Clean from "
            "the next cleanout up the line; a cleanout cleans downstream only."
        ),
    ]
    keep = [
        "Do not plant trees over the lines, nor till deeper than a hand near the outlet: the pipe is shallow there.",
        "Keep cleanout caps in reach and closed. Anything that is built over one loses it.",
        "Keep trucks off the lines outside the drive.",
        *_gaps(plan),
        "Before anybody digs here: show this page and the record, and ask for locates all the same.",
    ]
    return page(
        f"Your drains: {titled(plan)}",
        tag(
            "p",
            (
                f"{'As laid' if not date else f'As laid, {said(date)}'}. Buried lines drain "
                f"{', '.join(drained) or 'nothing that was shot'}."
            ),
        ),
        tag("h2", "Where the outlets are"),
        table(["Outlet", "Tape from the house"], outs, words=[0, 1]) if outs else tag("p", "None was shot."),
        tag("h2", "Where the cleanouts are"),
        table(["Cleanout", "Depth to the pipe's top", "Tape from the house"], cleans, words=[0, 2])
        if cleans
        else tag("p", "None."),
        tag("h2", "When to look"),
        listed(look),
        tag("h2", "What to leave alone"),
        listed(keep),
        tag("h2", "Looked at"),
        table(["Date", "What was seen", "By"], [["", "", ""] for _ in range(6)], blank=[0, 1, 2]),
    )
