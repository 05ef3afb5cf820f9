"""A line and the site in.

The weak ground under it, what it will do on it, and plain statements of weight and load out.
"""

from __future__ import annotations

import contextlib
import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.bedding.beam import End, UnsettledError
from siteplan.bedding.belly import WET_SOIL, Bed, Case, Forecast, Stretch, forecast, pool_depth, settled_case
from siteplan.bedding.remedies import remedies, swings
from siteplan.bedding.ring import minimum_cover
from siteplan.bedding.trench import bedding_rule, frost_note
from siteplan.bedding.weight import weight_statements
from siteplan.books import rules, soils
from siteplan.books.kinds import OUTLETS, SOURCES, pumped
from siteplan.books.soils import Range
from siteplan.books.stock import PipeStock
from siteplan.books.vehicles import CONSTRUCTION, vehicle
from siteplan.ground.on_lines import ground_on
from siteplan.site import Site
from siteplan.trench.pipe_words import small
from siteplan.values.forecasts import BellyForecast, BellyUnknown, LowSpot, Pool, SoftGround
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.water_ends import Outlet

Floats = NDArray[np.float64]

_STEP = 0.05  # m between samples
_SHORT = 0.05  # m; weaker ground shorter than this is not looked at
WORST = 3  # mends told
NOTHING = 0.10 * units.INCH  # a shallower pool is not worth a word


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Along:
    """The ground over a line: stations and ground above the invert [m]."""

    station: Floats
    over: Floats

    def raised(self, by: float) -> Along:
        """The same with the pipe's invert taken higher by so much [m]."""
        return replace(self, over=self.over - by)

    def cover(self, low: float, high: float, pipe: Pipe) -> float:
        """Least cover over a pipe laid between two stations, both counted [m]."""
        inside = self.over[(self.station > low) & (self.station < high)]
        return float(np.concatenate((np.interp([low, high], self.station, self.over), inside)).min()) - pipe.rise


def ground_along(line: Line, site: Site) -> Along:
    """Ground above the invert along a line, at close stations, rows, vertices and edges.

    Parameters
    ----------
    line : Line
        With vertices, rows and crossings.
    site : Site
        For the ground; where it is not known, the height between known ones is taken.

    Returns
    -------
    Along
        Shape (n,) [m].
    """
    at = np.array([vertex.station for vertex in line.vertices])
    edges = [edge for crossing in line.crossings for edge in (crossing.station_from, crossing.station_to)]
    station = np.unique(np.concatenate((np.arange(0.0, at[-1], _STEP), at, edges)))
    station = station[(station >= 0) & (station <= at[-1])]
    _, _, _, ground, invert = ground_on(line, site.grid, station)
    known = np.isfinite(ground)
    rows = np.array([(row.station, row.ground) for row in line.rows if np.isfinite(row.ground)])
    if not known.all():
        ground = np.where(known, ground, np.interp(station, rows[:, 0], rows[:, 1]))
    return Along(station=station, over=ground - invert)


def soft_of(line: Line, site: Site, spots: Sequence[LowSpot]) -> tuple[SoftGround, ...]:
    """Weaker ground under a line: wet low spots, hollows that may be none, and the loose fill round the house.

    Parameters
    ----------
    line : Line
        With its passages through low spots.
    site : Site
        For buildings, and what the site says of its trench.
    spots : sequence of LowSpot
        Wet ground.

    Returns
    -------
    tuple of SoftGround
        By station. In wet ground the bottom is dug clean at best and likely, at worst the digging churns a layer that
        settles as dumped soil does.

    References
    ----------
    Book of soils, groups line_modulus and bed_settlement; each known to a factor 2 or 3.
    """
    sure = {spot.id: spot for spot in spots}
    wet, firm, fill = (soils.value_range("line_modulus", name) for name in ("wet_loose", "firm", "loose_fill"))
    clean, churned = soils.settlement("clean"), soils.settlement("over_dumped", site.laying.wet_layer)
    found = []
    for passage in line.low_spots:
        spot = sure.get(passage.id)
        certain = spot is None or spot.certain
        found.append(
            SoftGround(
                station_from=passage.station_from,
                station_to=passage.station_to,
                certain=certain,
                what=f"wet ground {passage.id}"
                if certain
                else f"hollow {passage.id}, shallower than the survey can tell",
                modulus=(wet.low, wet.likely, wet.high) if certain else (wet.likely, firm.likely, firm.high),
                drop=(clean.low, clean.likely, max(clean.high, churned.high)) if certain else (0.0, 0.0, clean.high),
                loose=site.laying.wet_layer if certain else 0.0,
            )
        )
    fresh = site.laying.backfill == "fresh"
    sinks = soils.settlement("house_backfill", site.laying.backfill_depth) if fresh else clean
    found += [
        SoftGround(
            station_from=start,
            station_to=end,
            what="house backfill",
            modulus=(fill.low, fill.likely, fill.high),
            drop=(sinks.low, sinks.likely, sinks.high),
            loose=site.laying.backfill_depth if fresh else 0.0,
        )
        for start, end in _beside_house(line, site)
    ]
    kept = [one for one in found if one.station_to - one.station_from > _SHORT]
    return tuple(sorted(kept, key=lambda one: (one.station_from, one.station_to, one.what)))


def _beside_house(line: Line, site: Site) -> list[tuple[float, float]]:
    import shapely
    from shapely.geometry import LineString

    width = rules.limit(site.rules, rules.FOUNDATION_BACKFILL)
    buildings = [feature.geometry for feature in site.of_kind("building")]
    if not width or not buildings:
        return []
    found: list[tuple[float, float]] = []
    zone = shapely.union_all(buildings).buffer(width)
    for a, b in itertools.pairwise(line.vertices):
        run = LineString([(a.x, a.y), (b.x, b.y)])
        for piece in shapely.get_parts(shapely.intersection(run, zone)):
            if piece.geom_type == "LineString" and piece.length > 0:
                ends = sorted(
                    a.station + run.project(shapely.Point(place)) for place in (piece.coords[0], piece.coords[-1])
                )
                if found and ends[0] - found[-1][1] < _SHORT:
                    found[-1] = (found[-1][0], ends[1])
                else:
                    found.append((ends[0], ends[1]))
    return [(float(start), min(float(end), line.length)) for start, end in found]


def held_of(line: Line, site: Site, outlet: Outlet | None) -> tuple[str, str]:
    """How a line's ends are held.

    Fast in a curb's concrete and at a downspout or pump, in line at a wye, loose in the open.

    Parameters
    ----------
    line : Line
        The line.
    site : Site
        For the kind of its source.
    outlet : Outlet or None
        Where it ends; None when it joins another line.

    Returns
    -------
    tuple of str
        At the outlet and at the upper end: fixed, guided or free.
    """
    low = "guided" if outlet is None else OUTLETS[outlet.kind].end
    source = next((one for one in site.sources if one.id == line.start), None)
    return low, "guided" if source is None else SOURCES[source.kind].end


def bed_of(line: Line, found: Along | None = None) -> Bed:
    """A line's bed for the forecast.

    Parameters
    ----------
    line : Line
        With `soft` and `held`.
    found : Along, optional
        The ground over it; its rows when absent.

    Returns
    -------
    Bed
        Inverts as laid, cover over the line's own pipe.
    """
    if found is None:
        covers = [
            (row.station, row.ground - row.invert - line.pipe.rise) for row in line.rows if np.isfinite(row.ground)
        ]
    else:
        # a metre apart is close enough for a load
        every = np.unique(np.concatenate((np.arange(0, len(found.station), 20), [len(found.station) - 1])))
        covers = [(float(found.station[k]), float(found.over[k]) - line.pipe.rise) for k in every]
    inverts: list[tuple[float, float]] = []
    for vertex in line.vertices:
        if not inverts or vertex.station > inverts[-1][0] + 1e-9:
            inverts.append((vertex.station, vertex.invert))
    length = inverts[-1][0]
    return Bed(
        inverts=tuple(inverts),
        covers=tuple(_rising(covers)),
        ends=cast("tuple[End, End]", line.held),
        stretches=tuple(
            Stretch(
                start=max(0.0, one.station_from),
                end=min(one.station_to, length),
                what=one.what,
                modulus=Range(*one.modulus),
                drop=Range(*one.drop),
                loose=one.loose,
            )
            for one in line.soft
        ),
    )


def _rising(pairs: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    kept: list[tuple[float, float]] = []
    for station, value in pairs:
        if not kept or station > kept[-1][0] + 1e-9:
            kept.append((station, value))
    return kept


def forecasts(
    line: Line, found: Along | None, stocks: Sequence[PipeStock], unit: str, pool: float | None
) -> dict[str, Forecast]:
    """What each kind of pipe would do on a line's ground, laid all the way.

    Parameters
    ----------
    line : Line
        With `soft` and `held`.
    found : Along or None
        The ground over it.
    stocks : sequence of PipeStock
        Pipes of one size.
    unit : str
        The site's length unit, for what each says.
    pool : float or None
        Depth of standing water that the rule in force flags [m]; None: not known.

    Returns
    -------
    dict of str to Forecast
        By kind; kinds whose line cannot be solved are left out.
    """
    bed = bed_of(line, found)
    told = {}
    for stock in stocks:
        with contextlib.suppress(UnsettledError):
            told[stock.pipe.kind] = forecast(stock, bed, unit=unit, pool=pool)
    return told


def likely_cases(line: Line, found: Along | None, stocks: Sequence[PipeStock]) -> dict[str, Case]:
    """How a line likely lies after 50 years in each kind of pipe: what a kind is taken or refused by.

    Parameters
    ----------
    line : Line
        With `soft` and `held`.
    found : Along or None
        The ground over it.
    stocks : sequence of PipeStock
        Pipes of one size.

    Returns
    -------
    dict of str to Case
        By kind; kinds whose line cannot be solved are left out. The same case as in `forecasts`, without the others.
    """
    bed = bed_of(line, found)
    cases = {}
    for stock in stocks:
        with contextlib.suppress(UnsettledError):
            cases[stock.pipe.kind] = settled_case(stock, bed, "likely", "long")
    return cases


def forecast_of(line: Line, found: Along, site: Site, stocks: Sequence[PipeStock]) -> BellyForecast | BellyUnknown:
    """What a line will do in its main pipe.

    Parameters
    ----------
    line : Line
        With reaches, `soft` and `held`.
    found : Along
        The ground over it.
    site : Site
        For limits and frost.
    stocks : sequence of PipeStock
        Pipes of its size, its own first.

    Returns
    -------
    BellyForecast or BellyUnknown
        In the pipe that lies on most of the weak ground, the line's own where there is none; why there is none when
        the book does not hold the line's pipe or the line cannot be solved.
    """
    kind = _main_kind(line)
    stock = next((one for one in stocks if one.pipe.kind == kind), None)
    if stock is None:
        return "no-pipe-in-book"
    bed, asked = bed_of(line, found), rules.limit(site.rules, rules.BELLY_RISK)
    try:
        outcome = forecast(stock, bed, unit=site.length_unit, pool=asked)
    except UnsettledError:
        return "unsolved"
    limit = pool_depth(stock, asked)
    worst = outcome.case("high", "long")
    mends: tuple[str, ...] = ()
    decides = "nothing: no weak ground under it"
    if line.soft and outcome.depth.high > NOTHING:
        others = [one for one in stocks if one is not stock and one.plain_wall]
        mends, decides = _mended(stock, bed, others, outcome, site.length_unit)
    elif line.soft:
        decides = "nothing that was tried: it drains at the worst guess too"
    share = None if outcome.stress is None or not stock.stress_limit else outcome.stress / stock.stress_limit
    turned = stock.joint_turn is not None and outcome.turn > stock.joint_turn
    return BellyForecast(
        depth=_three(outcome.depth),
        length=_three(outcome.pool_length),
        pools=tuple(
            Pool(station_from=p.start, station_to=p.end, depth=p.depth) for p in worst.pools if p.depth > NOTHING
        ),
        stress=share,
        turn=outcome.turn,
        turn_limit=stock.joint_turn,
        risk=outcome.depth.high > limit or (share is not None and share > 1) or turned,
        decides=decides,
        mends=mends,
        statements=(f"Forecast in {stock.named(site.length_unit)}.", *outcome.flags, *outcome.notes),
    )


def _mended(
    stock: PipeStock, bed: Bed, others: Sequence[PipeStock], outcome: Forecast, unit: str
) -> tuple[tuple[str, ...], str]:
    """What would help, and which unknown moves the depth most; neither stops a plan."""
    try:
        left = sorted(remedies(stock, bed, others), key=lambda r: round(r.depth.high, 4))
        mends = tuple(
            f"{r.title}: {small(r.depth.likely, unit)} likely, {small(r.depth.high, unit)} at worst"
            for r in left
            if r.depth.high < outcome.depth.high - NOTHING
        )[:WORST]
        decides = swings(stock, bed)[0].what
    except UnsettledError:
        return (), "not known: a line that was tried cannot be solved"
    return mends, decides


def _three(span: Range) -> tuple[float, float, float]:
    return span.low, span.likely, span.high


def _main_kind(line: Line) -> str:
    lengths: dict[str, float] = {}
    for reach in line.reaches:
        if reach.place in {"wet ground", "house backfill"}:
            lengths[reach.pipe.kind] = lengths.get(reach.pipe.kind, 0.0) + reach.station_to - reach.station_from
    return max(lengths, key=lambda kind: (lengths[kind], kind)) if lengths else line.pipe.kind


def ground_notes(line: Line, found: Along, site: Site) -> tuple[str, ...]:
    """Weight, flotation, machines and frost of a line in plain statements.

    Parameters
    ----------
    line : Line
        With its reaches and forecast.
    found : Along
        The ground over it.
    site : Site
        For what it says of frost.

    Returns
    -------
    tuple of str
        Sentences with their numbers, in the site's units.
    """
    stock = next(
        (s for s in site.laying.stocks if (s.pipe.kind, s.pipe.nominal) == (line.pipe.kind, line.pipe.nominal)), None
    )
    if stock is None:
        return ()
    cover = found.over - line.pipe.rise
    zone = rules.needed(site.rules, rules.OUTLET_ZONE)
    past = cover[found.station >= min(zone, line.length / 2)]
    least = max(0.0, float(past.min()))
    notes = list(weight_statements(stock, least, WET_SOIL, site.laying.wet_soil, site.length_unit))
    notes += _machines(stock, least, site.length_unit)
    lifted = any(pumped(source.kind) for source in site.sources if source.id in line.sources)
    notes.append(
        frost_note(
            site.laying.frost,
            least,
            empties=line.belly is None or not line.belly.risk,
            pumped=lifted,
            unit=site.length_unit,
        )
    )
    notes += bedding_rule(stock.pipe.od, "firm", site.length_unit)
    if any(reach.place == "wet ground" for reach in line.reaches):
        notes.append(bedding_rule(stock.pipe.od, "soft", site.length_unit)[0])
    return tuple(notes)


def _machines(stock: PipeStock, least: float, unit: str) -> list[str]:
    """What machines ask of a backfilled trench before it is paved: a case of its own, usually the worst one."""
    reaction: Any = soils.value_range("embedment", "hand_tamped").likely
    notes = []
    for name in CONSTRUCTION:
        wheel = vehicle(name)
        needed = minimum_cover(stock, wheel, unit_weight=WET_SOIL, reaction=reaction).least
        asks = units.spoken("more than [60 in], that is never", unit) if needed is None else small(needed, unit)
        verdict = (
            "enough"
            if needed is not None and least >= needed
            else "not enough: plank it, bed it in compacted stone, or keep it off"
        )
        notes.append(
            f"Machines on the open trench: {units.spoken(wheel.marked, unit)}, needs {asks} over "
            f"{stock.named(unit)} in hand-tamped soil; the least here is {small(least, unit)}: {verdict}."
        )
    return notes
