"""A line with its inverts in; the line cut into reaches out, each with its pipe, bedding, coupling and sleeve.

The line's own pipe governs inverts. A heavier pipe of the same size lies with its invert level with it, so that its
top is a little higher: every cover stated here is over the pipe that lies there.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from siteplan import units
from siteplan.bedding.belly import WET_SOIL, Case, pool_depth
from siteplan.bedding.ring import deflection_under, ring_limit
from siteplan.bedding.sleeve import Sleeve, sleeve_fit
from siteplan.bedding.weight import wet_text
from siteplan.books import prices, rules, soils
from siteplan.books.kinds import DRIVEN_KINDS, into_pipe
from siteplan.books.practice import PAST_PAVEMENT, SLEEVE_PAST
from siteplan.books.stock import PipeStock
from siteplan.books.vehicles import DESIGN, vehicle
from siteplan.optional import optional
from siteplan.routes.trace import undercrossings
from siteplan.routes.yard import SLIVER
from siteplan.site import Site
from siteplan.trench.curb_piece import Company, company_at, curb_piece, with_curb_piece
from siteplan.trench.pipe_words import coupling_words, short, small
from siteplan.trench.under import (
    Along,
    forecast_of,
    ground_along,
    ground_notes,
    held_of,
    likely_cases,
    soft_of,
)
from siteplan.values.forecasts import LowSpot, SoftGround
from siteplan.values.laid_pipe import Bedding, PipeChoice, SleevePipe
from siteplan.values.lines import Crossing, Line, Reach, Row
from siteplan.values.water_ends import Inflows, Outlet
from siteplan.water.capacity import full_flow

_SLACK = 0.0005  # m, what rounding may take from a cover
_NO_PIECE = 0.001  # m; shorter than this no two stations are told apart
_BEDDINGS = {"wet ground": Bedding.STONE_BED, "house backfill": Bedding.TAMPED_UNDER}
SIDE_FILLS = ("hand_tamped", "stone")  # tried in this order beside a pipe under wheels
PLACES = ("pavement", "outlet zone", "wet ground", "house backfill")  # the first that holds names a stretch


@dataclass(frozen=True, slots=True, kw_only=True)
class Wheels:
    """A stretch under pavement that carries vehicles."""

    station_from: float
    station_to: float
    vehicle: str  # car | truck
    name: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Asked:
    """What a stretch asks of its pipe."""

    line: Line
    site: Site
    along: Along
    start: float
    end: float
    place: str
    free: bool  # whether the line ends at the surface
    wheels: tuple[Wheels, ...]
    flow: float | None
    likely: dict[str, Case]  # after 50 years, by kind, when the ground is weak anywhere

    def cover(self, stock: PipeStock, start: float | None = None, end: float | None = None) -> float:
        """Least cover over a pipe between two stations [m]."""
        low, high = self.start if start is None else start, self.end if end is None else end
        return self.along.cover(low, high, stock.pipe)

    def lawn_cover(self, stock: PipeStock) -> float:
        """Least cover over a pipe where lawn's is asked for: not in an outlet's zone, not in the start zone [m]."""
        zone = rules.needed(self.site.rules, rules.OUTLET_ZONE) if self.free else 0.0
        low = max(self.start, zone)
        high = min(self.end, self.line.length - rules.needed(self.site.rules, rules.START_ZONE))
        return self.cover(stock, low, high) if low <= high else math.inf


def with_pipes(
    lines: Sequence[Line], site: Site, inflows: Inflows, spots: Sequence[LowSpot], outlets: Sequence[Outlet]
) -> tuple[Line, ...]:
    """The lines with their reaches, the weak ground under them, and what they will do on it.

    Parameters
    ----------
    lines : sequence of Line
        Lines with vertices, rows and crossings; `Line.pipe` is the pipe that their inverts were set for.
    site : Site
        The surveyed site.
    inflows : Inflows
        What its sources bring, for the holes of a curb.
    spots : sequence of LowSpot
        Wet ground.
    outlets : sequence of Outlet
        For how an end is held.

    Returns
    -------
    tuple of Line
        In the same order, with `reaches`, `soft`, `held`, `belly` or `belly_unknown`, `ground_notes`; crossings with
        their sleeve, and with their covers over the pipe that lies there.
    """
    by_id = {outlet.id: outlet for outlet in outlets}
    joins = {line.id: [_joined_at(line, other) for other in lines if other.end == line.id] for line in lines}
    companies = {outlet.id: company_at(outlet, lines, site, inflows) for outlet in outlets}
    alone = Company((), None, 0.0)
    return tuple(
        optional(
            "pipes",
            partial(
                _with_pipes,
                line,
                site,
                inflows,
                spots,
                by_id.get(line.end),
                joins[line.id],
                companies.get(line.end, alone),
            ),
            replace(line, belly_unknown="unsolved"),
            line.id,
        )
        for line in lines
    )


def _joined_at(line: Line, other: Line) -> float:
    end = other.vertices[0]
    return min(line.vertices, key=lambda vertex: math.hypot(vertex.x - end.x, vertex.y - end.y)).station


def _with_pipes(
    line: Line,
    site: Site,
    inflows: Inflows,
    spots: Sequence[LowSpot],
    outlet: Outlet | None,
    joins: Sequence[float],
    company: Company,
) -> Line:
    found = ground_along(line, site)
    line = replace(line, soft=soft_of(line, site, spots), held=held_of(line, site, outlet))
    stocks = _of_size(line, site)
    wheels = wheels_over(line, site)
    flows = [inflows.of(source.id) for source in site.sources if source.id in line.sources]
    known = [flow for flow in flows if flow is not None]
    flow = sum(known) if known and len(known) == len(flows) else None
    free = outlet is not None and not into_pipe(outlet.kind)
    cut = _stretches(line, site, wheels, line.soft, free=free)
    places = _merged(cut, partial(_bears_heavy, line, site, found, stocks, free))
    weak = any(place in _BEDDINGS for _, _, place in places)
    likely = likely_cases(line, found, stocks) if line.soft and weak else {}
    asked = [
        _Asked(
            line=line,
            site=site,
            along=found,
            start=start,
            end=end,
            place=place,
            flow=flow,
            likely=likely,
            free=free,
            wheels=tuple(w for w in wheels if w.station_to > start and w.station_from < end)
            if place == "pavement"
            else (),
        )
        for start, end, place in places
    ]
    laid = _through([_reach(one, stocks) for one in asked], line, site)
    piece = curb_piece(line, laid, site, outlet, joins, company)
    face = None if outlet is None else site.told_of(outlet).get("curb_height")
    reaches = _coupled(with_curb_piece(laid, piece, found, site, face), site.length_unit)
    line = replace(line, reaches=reaches, curb_piece=piece)
    line = replace(line, rows=_rows(line, found, site, company))
    line = replace(
        line, crossings=tuple(_crossing(crossing, line, found, wheels, site.length_unit) for crossing in line.crossings)
    )
    belly = forecast_of(line, found, site, stocks)
    line = replace(line, belly_unknown=belly) if isinstance(belly, str) else replace(line, belly=belly)
    return replace(line, ground_notes=ground_notes(line, found, site))


def wheels_over(line: Line, site: Site) -> tuple[Wheels, ...]:
    """Stretches of a line under driveways and paving that carry vehicles.

    Parameters
    ----------
    line : Line
        The line in plan.
    site : Site
        For the features; a driveway whose survey names no vehicle carries the site's usual one.

    Returns
    -------
    tuple of Wheels
        By station [m].
    """
    corners = [(vertex.x, vertex.y) for vertex in line.vertices]
    found: list[Wheels] = []
    for feature in site.of_kind(*DRIVEN_KINDS):
        named = feature.attributes.get("vehicle")
        if feature.kind == "paving" and not named:
            continue
        drives = str(named or site.laying.vehicle)
        found += [
            Wheels(station_from=under.station_from, station_to=under.station_to, vehicle=drives, name=under.name)
            for under in undercrossings(replace(site, features=(feature,)), corners)
        ]
    return tuple(sorted(found, key=lambda w: (w.station_from, w.station_to, w.name)))


def pipe_assumptions(site: Site, lines: Sequence[Line]) -> tuple[str, ...]:
    """What was taken for granted about pipe, wheels and ground, for the plan.

    Parameters
    ----------
    site : Site
        For what it says of its trench and costs.
    lines : sequence of Line
        With reaches and weak ground.

    Returns
    -------
    tuple of str
        Sentences; only what bears on these lines.
    """
    unit, laying = site.length_unit, site.laying
    notes = []
    if any(reach.vehicle for line in lines for reach in line.reaches):
        car, truck = (units.spoken(vehicle(DESIGN[name]).marked, unit) for name in ("car", "truck"))
        notes.append(
            f'Driveways whose survey names no vehicle carry {units.with_article(laying.vehicle)}. "car" is '
            f'judged as {units.with_article(car)}, "truck" as {units.with_article(truck)}, '
            f"on bare ground: thin asphalt and slabs of {units.spoken('[4 to 6 in]', unit)} are not taken to "
            "spread a wheel."
        )
        plain, relieved = rules.pavement_covers(site.rules)
        if relieved is not None and plain is not None:
            notes.append(
                f"Under vehicles heavy pipe needs {small(relieved, unit)} of cover, other pipe "
                f"{small(plain, unit)} clear of the survey's doubt; "
                f"heavy pipe goes {small(PAST_PAVEMENT, unit)} past each edge."
            )
    if any(one.what == "house backfill" for line in lines for one in line.soft):
        notes.append(
            "The fill round the house is taken as settled (some ten years old or tamped); "
            'for a new house set house_backfill = "fresh" under [trench] in site.toml.'
            if laying.backfill == "settled"
            else (
                "The fill round the house is taken as fresh and loose for "
                f"{units.length_text(laying.backfill_depth, unit, 1)} below the pipe."
            )
        )
    if any(one.certain and one.what != "house backfill" for line in lines for one in line.soft):
        notes.append(
            f"Wet ground is forecast as dug clean, at worst with {small(laying.wet_layer, unit)} of churned "
            "soil left under the pipe; "
            "the stone bed that the schedule asks for there is better than that."
        )
    if not laying.wet_soil and any(line.low_spots for line in lines):
        notes.append(
            f"What holds an empty line down in wet ground is judged by {wet_text('', unit)}; "
            'where it is known set wet_soil = "mineral" or "organic" under [trench] in site.toml.'
        )
    if (
        laying.pipe_prices != prices.PIPE_PRICES
        or laying.prices != prices.DEFAULT_PRICES
        or laying.coupling != prices.COUPLING
    ):
        notes.append("Some prices are the site's own ([costs] in site.toml).")
    return tuple(notes)


def _of_size(line: Line, site: Site) -> tuple[PipeStock, ...]:
    """Pipes of the line's own size, the line's own kind first."""
    sized = [stock for stock in site.laying.stocks if stock.pipe.nominal == line.pipe.nominal]
    return tuple(sorted(sized, key=lambda stock: stock.pipe.kind != line.pipe.kind))


def _stretches(
    line: Line, site: Site, wheels: Sequence[Wheels], soft: Sequence[SoftGround], *, free: bool
) -> list[tuple[float, float, str]]:
    """The line cut by what lies over and under it."""
    length = line.length
    zones = [(w.station_from - PAST_PAVEMENT, w.station_to + PAST_PAVEMENT, "pavement") for w in wheels]
    if free:
        zones.append((0.0, rules.needed(site.rules, rules.OUTLET_ZONE), "outlet zone"))
    zones += [
        (s.station_from, s.station_to, "house backfill" if s.what == "house backfill" else "wet ground")
        for s in soft
        if s.certain
    ]
    zones = [(max(0.0, a), min(length, b), place) for a, b, place in zones if b > 0 and a < length]
    edges = sorted({0.0, length, *(edge for a, b, _ in zones for edge in (a, b))})
    cut = []
    for start, end in itertools.pairwise(edges):
        here = [place for a, b, place in zones if a <= (start + end) / 2 <= b]
        cut.append((start, end, min(here, key=PLACES.index) if here else "lawn"))
    return cut


def _merged(
    stretches: Sequence[tuple[float, float, str]], bears: Callable[[float, float], bool]
) -> list[tuple[float, float, str]]:
    """Neighbours of one kind made one, and slivers given to a neighbour whose pipe may lie there."""

    def joins(sliver: tuple[float, float, str], place: str) -> bool:
        start, end, own = sliver
        if own == "pavement" or end - start >= SLIVER:
            return False
        return place == "lawn" or end - start < _NO_PIECE or bears(start, end)

    cut: list[tuple[float, float, str]] = []
    for one in stretches:
        if cut and (cut[-1][2] == one[2] or joins(one, cut[-1][2])):
            cut[-1] = (cut[-1][0], one[1], cut[-1][2])
        else:
            cut.append(one)
    if len(cut) > 1 and joins(cut[0], cut[1][2]):
        cut[:2] = [(cut[0][0], cut[1][1], cut[1][2])]
    return cut


def _bears_heavy(
    line: Line, site: Site, found: Along, stocks: Sequence[PipeStock], free: bool, start: float, end: float
) -> bool:
    """Whether lawn's cover stays over heavy pipe between two stations.

    Or is no less than what the line's own has there.
    """
    here = _Asked(
        line=line,
        site=site,
        along=found,
        start=start,
        end=end,
        place="lawn",
        free=free,
        wheels=(),
        flow=None,
        likely={},
    )
    return all(not _lawn_short(here, stock) for stock in stocks if stock.is_heavy)


def _reach(asked: _Asked, stocks: Sequence[PipeStock]) -> Reach:
    """The pipe for a stretch: the line's own where it passes, else heavy pipe, else the cheapest that passes."""
    weighed = [(stock, *_judged(asked, stock)) for stock in stocks]
    own = weighed[0]
    passing = [entry for entry in weighed if not entry[1]]
    heavy = [entry for entry in passing if entry[0].is_heavy]
    if not own[1]:
        chosen, why = own, "the line's own pipe passes"
    elif passing:
        ranked = sorted(heavy or passing, key=lambda entry: (_price(asked, entry[0]), entry[0].pipe.kind))
        chosen, why = ranked[0], f"{short(own[0].pipe)} does not do: {own[1][0]}"
    else:
        stiffest = max(weighed, key=lambda entry: (entry[0].is_heavy, entry[0].stiffness))
        chosen = stiffest if asked.place in {"pavement", "outlet zone"} else own
        why = f"no kind passes all tests; {short(chosen[0].pipe)}: {chosen[1][0]}"
    stock, _, fill = chosen
    drives = _heaviest(asked.wheels)
    sleeved = _sleeve(asked, stock, drives)
    sleeve = None
    if sleeved is not None:
        # the sleeve carries the wheel, so that it decides what lies beside it
        sleeve, fill = sleeved
    return Reach(
        station_from=asked.start,
        station_to=asked.end,
        place=asked.place,
        pipe=stock.pipe,
        why=why,
        sleeve=sleeve,
        bedding=_bedding(asked, fill),
        cover_min=asked.cover(stock),
        vehicle=drives,
        choices=_choices(asked, weighed, stock),
    )


def _bedding(asked: _Asked, fill: str) -> Bedding:
    """What goes under and beside the pipe of a stretch.

    Wet ground under pavement asks for the stone bed that it asks for elsewhere, and wheels for stone beside the pipe:
    nobody digs a slab up for what sinks under it. Common practice, no source.
    """
    place = asked.place
    if place in _BEDDINGS:
        return _BEDDINGS[place]
    if place == "pavement" and any(
        one.certain
        and one.what != "house backfill"
        and min(one.station_to, asked.end) - max(one.station_from, asked.start) > SLIVER
        for one in asked.line.soft
    ):
        return Bedding.STONE_BED_AND_SIDES
    if fill == Bedding.STONE_SIDES.side_fill:
        return Bedding.STONE_SIDES
    return Bedding.TAMPED_SIDES if place == "pavement" else Bedding.FIRM


def _judged(asked: _Asked, stock: PipeStock) -> tuple[list[str], str]:
    """What a pipe fails by on a stretch, and the fill beside it that it needs."""
    unit, site = asked.site.length_unit, asked.site
    faults: list[str] = []
    fill = SIDE_FILLS[0]
    own = stock.pipe.kind == asked.line.pipe.kind
    lawn = rules.needed(site.rules, rules.MIN_COVER)
    if asked.place == "pavement":
        said, fill = _under_wheels(asked, stock)
        faults += said
    elif asked.place == "outlet zone":
        thin = asked.cover(stock)
        if thin < lawn - _SLACK and not stock.is_heavy:
            stands = f"stands {small(-thin, unit)} out of the ground" if thin < 0 else f"{small(thin, unit)} of cover"
            faults.append(f"{stands}, where lawn asks for {small(lawn, unit)} of cover: heavy pipe only")
    elif not own and _lawn_short(asked, stock):
        faults.append(
            f"its top stands higher: {small(asked.lawn_cover(stock), unit)} of cover, {small(lawn, unit)} asked"
        )
    case = asked.likely.get(stock.pipe.kind)
    if case is not None and asked.place in _BEDDINGS:
        deep = _pool_in(case, asked.start, asked.end)
        most = pool_depth(stock, rules.limit(site.rules, rules.BELLY_RISK))
        if deep > most:
            faults.append(f"water likely to stand {small(deep, unit)} deep, over {small(most, unit)}")
    if asked.flow is not None and not own:
        # the size of the line is not chosen here: a kind is refused only where it carries less than the line's own
        grade = _least_grade(asked)
        carries, usual = (full_flow(one.pipe.bore, grade, one.pipe.roughness) for one in (stock, _own(asked)))
        if carries < min(asked.flow, usual):
            faults.append(f"carries {100 * carries / asked.flow:.0f} % of the design flow when it runs full")
    return faults, fill


def _lawn_short(asked: _Asked, stock: PipeStock) -> bool:
    """Whether a pipe that stands higher than the line's own has less than lawn's cover over it.

    Also less than the own.
    """
    lawn = rules.needed(asked.site.rules, rules.MIN_COVER)
    return asked.lawn_cover(stock) < min(lawn, asked.lawn_cover(_own(asked))) - _SLACK


def _under_wheels(asked: _Asked, stock: PipeStock) -> tuple[list[str], str]:
    """Cover and ring of a pipe under the wheels of a stretch."""
    site, unit = asked.site, asked.site.length_unit
    plain, relieved = rules.pavement_covers(site.rules)
    asks = relieved if stock.is_heavy and relieved is not None else plain
    if asks is None:
        asks = rules.needed(site.rules, rules.MIN_COVER)
    # only what keeps its cover in spite of the survey's doubt is left in the line's own pipe
    doubt = 0.0 if stock.is_heavy else site.accuracy
    faults: list[str] = []
    fill = SIDE_FILLS[0]
    for wheels in asked.wheels:
        cover = asked.cover(stock, wheels.station_from, wheels.station_to)
        if cover < asks + doubt - _SLACK:
            beside = "" if cover < asks else f" with {small(doubt, unit)} of doubt"
            faults.append(f"{small(cover, unit)} of cover under the pavement{beside}, {small(asks, unit)} asked of it")
        if cover <= 0:
            continue
        wheel = vehicle(DESIGN[wheels.vehicle])
        change = {
            name: deflection_under(stock, cover, WET_SOIL, soils.value_range("embedment", name).likely, wheel)
            for name in SIDE_FILLS
        }
        needed = next((name for name in SIDE_FILLS if change[name] <= ring_limit(stock)), None)
        if needed is None:
            faults.append(
                f"ring would change {100 * change['stone']:.1f} % in compacted stone too "
                f"({units.spoken(wheel.marked, unit)})"
            )
        elif needed == "stone":
            fill = "stone"
    return faults, fill


def _own(asked: _Asked) -> PipeStock:
    return next(
        s
        for s in asked.site.laying.stocks
        if (s.pipe.kind, s.pipe.nominal) == (asked.line.pipe.kind, asked.line.pipe.nominal)
    )


def _pool_in(case: Case, start: float, end: float) -> float:
    """Deepest water between two stations [m]."""
    return max((pool.depth for pool in case.pools if pool.end > start and pool.start < end), default=0.0)


def _least_grade(asked: _Asked) -> float:
    at = np.array([vertex.station for vertex in asked.line.vertices])
    up = np.array([vertex.invert for vertex in asked.line.vertices])
    falls = np.diff(up) / np.maximum(np.diff(at), 1e-9)
    here = (at[1:] > asked.start + 1e-9) & (at[:-1] < asked.end - 1e-9) & (np.diff(at) > 0.02)
    return max(1e-6, float(falls[here].min())) if here.any() else 1e-6


def _price(asked: _Asked, stock: PipeStock) -> float:
    """Relative price of a metre of pipe; by the square of its size."""
    four = 4.215 * units.INCH
    return asked.site.laying.pipe_prices.get(stock.pipe.kind, prices.UNLISTED_PIPE) * (stock.pipe.od / four) ** 2


def _choices(
    asked: _Asked, weighed: Sequence[tuple[PipeStock, list[str], str]], taken: PipeStock
) -> tuple[PipeChoice, ...]:
    """Every kind of the size: those that pass first, by price, then the others."""
    base = _price(asked, weighed[0][0]) or 1.0
    told = []
    for stock, faults, fill in weighed:
        good = "with compacted stone beside it" if fill == "stone" else "passes"
        why = "; ".join(faults) or (
            "taken" if stock is taken and fill != "stone" else f"taken, {good}" if stock is taken else good
        )
        told.append(
            PipeChoice(
                kind=stock.pipe.kind,
                nominal=stock.pipe.nominal,
                title=stock.pipe.title,
                passes=not faults,
                cost=round(_price(asked, stock) / base, 3),
                why=why,
            )
        )
    return tuple(sorted(told, key=lambda choice: (not choice.passes, choice.cost, choice.kind)))


def _heaviest(wheels: Sequence[Wheels]) -> str:
    return max((w.vehicle for w in wheels), key=lambda name: vehicle(DESIGN[name]).wheel, default="")


def _sleeve(asked: _Asked, stock: PipeStock, drives: str) -> tuple[SleevePipe, str] | None:
    """A sleeve where trucks cross and the fill beside it, when one that the coupling passes still has its cover."""
    if drives != "truck":
        return None
    start = min(w.station_from for w in asked.wheels)
    end = max(w.station_to for w in asked.wheels)
    for fit in _sleeves(asked, stock):
        lower = asked.along.raised(fit.above + stock.pipe.rise - fit.stock.pipe.rise)
        faults, fill = _under_wheels(replace(asked, along=lower), fit.stock)
        if not faults:
            round_it = SleevePipe(
                pipe=fit.stock.pipe,
                station_from=max(0.0, start - SLEEVE_PAST),
                station_to=min(asked.line.length, end + SLEEVE_PAST),
                above=fit.above,
                play=fit.play,
            )
            return round_it, fill
    return None


def _sleeves(asked: _Asked, carrier: PipeStock) -> list[Sleeve]:
    """Pipes that the carrier's coupling passes, the smallest first; heavy before light of one size."""
    fits = [s for s in asked.site.laying.stocks if s.plain_wall and s.pipe.bore > carrier.bell]
    least = {s.pipe.nominal: min(o.pipe.bore for o in fits if o.pipe.nominal == s.pipe.nominal) for s in fits}
    fits.sort(key=lambda s: (least[s.pipe.nominal], not s.is_heavy, s.pipe.kind))
    return [sleeve_fit(carrier, stock) for stock in fits]


def _through(reaches: list[Reach], line: Line, site: Site) -> list[Reach]:
    """Heavy pipe laid on through a short stretch where that is cheaper than the couplings it saves."""
    told = list(reaches)
    by_kind = {stock.pipe.kind: stock for stock in _of_size(line, site)}
    rates = site.laying.pipe_prices
    for k, reach in enumerate(told):
        if reach.pipe.kind != line.pipe.kind:
            continue
        below = told[k - 1].pipe if k else None
        above = told[k + 1].pipe if k + 1 < len(told) else None
        beside = {pipe.kind: pipe for pipe in (below, above) if pipe is not None and pipe.kind != line.pipe.kind}
        if len(beside) != 1 or (below is not None and above is not None and below.kind != above.kind):
            continue
        pipe = next(iter(beside.values()))
        choice = next((c for c in reach.choices if c.kind == pipe.kind), None)
        # the upper end of a line and its outlet need no coupling
        saved = (below is not None) + (above is not None)
        more = rates.get(pipe.kind, prices.UNLISTED_PIPE) - rates.get(line.pipe.kind, prices.UNLISTED_PIPE)
        if (
            choice is None
            or not choice.passes
            or more * (reach.station_to - reach.station_from) >= saved * site.laying.coupling
        ):
            continue
        stock = by_kind[pipe.kind]
        told[k] = replace(
            reach,
            pipe=stock.pipe,
            why=f"as its neighbour: cheaper than {'two couplings' if saved == 2 else 'a coupling'}",
            cover_min=reach.cover_min - (stock.pipe.rise - reach.pipe.rise),
        )
    return told


def _coupled(reaches: Sequence[Reach], unit: str) -> tuple[Reach, ...]:
    told = list(reaches)
    for k, (below, above) in enumerate(itertools.pairwise(told)):
        if (below.pipe.kind, below.pipe.nominal) != (above.pipe.kind, above.pipe.nominal):
            told[k] = replace(below, coupling=coupling_words(below.pipe, above.pipe, unit))
    return tuple(told)


def _rows(line: Line, found: Along, site: Site, company: Company) -> tuple[Row, ...]:
    """The schedule's rows with one at each change of pipe.

    Covers and trench bottoms are those of the pipe that lies there.
    """
    bed = rules.needed(site.rules, rules.BEDDING)
    rows = [_of_its_pipe(row, line, bed) for row in line.rows]
    for below, above in itertools.pairwise(line.reaches):
        if not below.coupling:
            continue
        station = below.station_to
        sized = below.pipe.nominal != above.pipe.nominal
        lower, upper = (
            f"{units.size_text(one.nominal, one.od, site.length_unit)} {short(one)}" if sized else short(one)
            for one in (below.pipe, above.pipe)
        )
        note = f"pipe changes: {lower} downstream, {upper} upstream"
        near = next((k for k, row in enumerate(rows) if abs(row.station - station) < 1e-3), None)
        if near is not None:
            rows[near] = replace(rows[near], note="; ".join(part for part in (rows[near].note, note) if part))
            continue
        x, y, invert = line.at(station)
        over = float(np.interp(station, found.station, found.over))
        grade = next((row for row in rows if row.station > station), rows[-1]).grade
        rows.append(
            Row(
                station=station,
                x=x,
                y=y,
                ground=invert + over,
                invert=invert,
                cover=over - above.pipe.rise,
                pipe_top=above.pipe.rise,
                cut=over + above.pipe.below + bed,
                grade=grade,
                note=note,
            )
        )
        rows.sort(key=lambda row: row.station)
    if line.curb_piece is not None and line.curb_piece.fitting == "box" and rows:
        piece = line.curb_piece
        *most, last = company.lines
        whose = f", one for {', '.join(most)} and {last}" if most else ""
        note = (
            f"box that can be opened{whose}: {piece.number} of "
            f"{units.size_text(piece.pipe.nominal, piece.pipe.od, site.length_unit)} {short(piece.pipe)} through "
            "the curb, inverts level"
        )
        rows[0] = replace(rows[0], note="; ".join(part for part in (rows[0].note, note) if part))
    return tuple(rows)


def _of_its_pipe(row: Row, line: Line, bed: float) -> Row:
    lies = line.pipe_at(row.station)
    over = row.ground - row.invert
    return replace(row, pipe_top=lies.rise, cover=over - lies.rise, cut=over + lies.below + bed)


def _crossing(crossing: Crossing, line: Line, found: Along, wheels: Sequence[Wheels], unit: str) -> Crossing:
    """A crossing with its sleeve, its covers over the pipe that lies there."""
    if not math.isfinite(crossing.cover_min):
        return crossing
    over = [crossing.station_from, crossing.station_to]
    higher = [line.pipe_at(station).rise - line.pipe.rise for station in over]
    inside = [r for r in line.reaches if r.station_to > over[0] - 1e-6 and r.station_from < over[1] + 1e-6]
    rises = {reach.pipe.rise for reach in inside}
    if len(rises) > 1:
        least = min(found.cover(max(over[0], r.station_from), min(over[1], r.station_to), r.pipe) for r in inside)
    else:
        least = crossing.cover_min - (next(iter(rises), line.pipe.rise) - line.pipe.rise)
    sleeve = next(
        (
            r.sleeve
            for r in inside
            if r.sleeve is not None and r.sleeve.station_from <= over[0] and r.sleeve.station_to >= over[1]
        ),
        None,
    )
    carries = any(abs(w.station_from - over[0]) < 1e-6 and abs(w.station_to - over[1]) < 1e-6 for w in wheels)
    text = None
    if sleeve is not None and carries:
        text = (
            f"{units.size_text(sleeve.pipe.nominal, sleeve.pipe.od, unit)} {short(sleeve.pipe)}, "
            f"{units.length_text(sleeve.length, unit, 1)} long, its top {small(sleeve.above, unit)} above the "
            "line's"
        )
    return replace(
        crossing,
        cover_from=crossing.cover_from - higher[0],
        cover_to=crossing.cover_to - higher[1],
        cover_min=least,
        sleeve=text or crossing.sleeve,
    )
