"""The laid lines and the site in; how much pipe, fittings, digging, stone and pavement they take, out.

Areas of trench are the width asked for (rule trench-width) times the depth of the schedule's rows, straight between
rows. Nothing is added for waste, overlap, sloped sides or loosening; what is left over is told in the volume it had in
the ground.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from siteplan.books import rules
from siteplan.books.kinds import at_curb
from siteplan.books.practice import PAVEMENT_CUT_BACK, PAVEMENT_THICKNESS
from siteplan.books.stock import PipeStock
from siteplan.books.unit_prices import price_for
from siteplan.site import Site
from siteplan.values.laid_pipe import Bedding, FittingKind, Pipe
from siteplan.values.lines import Line, Reach
from siteplan.values.quantities_taken import QUANTITIES, Quantity, QuantityOf, QuantityUnit, TakenSort
from siteplan.values.water_ends import Outlet

PAVED = ("driveway", "walk", "paving")
_UNIT: dict[QuantityOf, QuantityUnit] = {
    "pipe": "m",
    "sleeve": "m",
    "excavation": "m3",
    "bedding": "m3",
    "stone": "m3",
    "backfill": "m3",
    "spoil": "m3",
    "pavement": "m2",
    "concrete": "m3",
    "lawn": "m2",
}
_FITTINGS: dict[FittingKind, QuantityOf] = {
    FittingKind.BEND: "bend",
    FittingKind.TURNED_PAIR: "turned_pair",
    FittingKind.WYE: "wye",
    FittingKind.GRADE_BREAK: "grade_break",
    FittingKind.CLEANOUT: "cleanout",
    FittingKind.TIE_IN: "tie_in",
}
_LEAST = 5e-4  # m, m2 or m3 that is not told

Amount = tuple[QuantityOf, TakenSort, float]
_ONE = TakenSort()  # of one sort


def quantities_of(site: Site, lines: Sequence[Line], outlets: Sequence[Outlet]) -> tuple[Quantity, ...]:
    """What a layout takes.

    Parameters
    ----------
    site : Site
        For the width of a trench, the bedding, the book of pipes and the unit prices.
    lines : sequence of Line
        As laid, with their reaches and rows.
    outlets : sequence of Outlet
        The plan's.

    Returns
    -------
    tuple of Quantity
        In the order of the work; amounts to a millimetre, a thousandth of a square or cubic metre. Where a row's ground
        is not known its trench is not counted.

    References
    ----------
    Volume of a trench by mean areas between stations; any text on earthwork (memory). Stone under a soft bottom: two
    diameters (`bedding.trench`). Volumes of pipe by their outside diameter.
    """
    at_curbs = {outlet.id for outlet in outlets if at_curb(outlet.kind)}
    totals: dict[tuple[QuantityOf, TakenSort], float] = {}
    boxed: set[str] = set()
    for line in lines:
        # one box at a curb and what leads from it serves all lines that end there: the first of them counts it
        told = line if line.end not in boxed else replace(line, curb_piece=None)
        curb = line.end in at_curbs - boxed
        if line.curb_piece is not None and line.curb_piece.fitting == "box":
            boxed.add(line.end)
        for what, sort, amount in _of_line(site, told, curb=curb):
            totals[what, sort] = totals.get((what, sort), 0.0) + amount
    for sort, length in [(key[1], amount) for key, amount in totals.items() if key[0] == "pipe"]:
        stick = _stick(site, sort)
        if stick is not None:
            totals["sticks", sort] = float(math.ceil(round(length / stick, 6)))
    found = []
    for what in QUANTITIES:
        for sort in sorted((sort for key, sort in totals if key == what), key=lambda one: one.kind):
            amount, unit = totals[what, sort], _UNIT.get(what, "piece")
            priced = None if what == "sticks" else price_for(what, sort.kind, site.laying.unit_prices)
            if amount >= _LEAST:
                found.append(
                    Quantity(
                        what=what,
                        kind=sort.kind,
                        sort=sort,
                        amount=round(amount, 3),
                        unit=unit,
                        price=None if priced is None else priced.price,
                        basis="" if priced is None else priced.basis,
                    )
                )
    return tuple(found)


def _sort(pipe: Pipe) -> TakenSort:
    return TakenSort(pipe=pipe.kind, nominal=pipe.nominal)


def _stick(site: Site, sort: TakenSort) -> float | None:
    stocks: Sequence[PipeStock] = site.laying.stocks
    return next((one.lay_length for one in stocks if _sort(one.pipe) == sort), None)


def _of_line(site: Site, line: Line, *, curb: bool) -> Iterator[Amount]:
    reaches = line.reaches or (_whole(line),)
    yield from _pipes(line, reaches)
    yield from _fittings(line, reaches)
    if line.pumped is not None:
        # the riser in the pit, and what holds the line
        yield "pipe", _sort(line.pipe), max(0.0, line.vertices[-1].invert - line.pumped.off_level)
        yield "check_valve", TakenSort(nominal=line.pipe.nominal), float(line.pumped.check_valve)
    if curb:
        yield "curb_opening", _ONE, float(1 if line.curb_piece is None else line.curb_piece.number)
    yield from _ground(site, line, reaches)
    yield from _surface(site, line)


def _whole(line: Line) -> Reach:
    return Reach(
        station_from=0.0,
        station_to=line.length,
        place="lawn",
        pipe=line.pipe,
        why="",
        bedding=Bedding.FIRM,
        cover_min=0.0,
    )


def _sloped(line: Line, first: float, last: float) -> float:
    """Length of pipe between two stations, along its own slope [m]."""
    total = 0.0
    for a, b in pairwise(line.vertices):
        over = min(last, b.station) - max(first, a.station)
        if over > 0 and b.station > a.station:
            total += over * math.hypot(1.0, (b.invert - a.invert) / (b.station - a.station))
    return total


def _pipes(line: Line, reaches: Sequence[Reach]) -> Iterator[Amount]:
    piece = line.curb_piece
    past = 0.0 if piece is None else piece.station_to
    if piece is not None:
        yield "pipe", _sort(piece.pipe), piece.number * _sloped(line, 0.0, past)
        yield "reducer", TakenSort(word=piece.fitting), 1.0
    for reach in reaches:
        length = _sloped(line, max(past, reach.station_from), reach.station_to)
        if length > 0:
            yield "pipe", _sort(reach.pipe), length
        if reach.sleeve is not None:
            yield (
                "sleeve",
                _sort(reach.sleeve.pipe),
                _sloped(line, reach.sleeve.station_from, reach.sleeve.station_to),
            )
    for lower, upper in pairwise(reaches):
        if lower.coupling:
            yield "coupling", replace(_sort(lower.pipe), onto=(upper.pipe.kind, upper.pipe.nominal)), 1.0


def _fittings(line: Line, reaches: Sequence[Reach]) -> Iterator[Amount]:
    counted: Counter[tuple[QuantityOf, TakenSort]] = Counter()
    for vertex in line.vertices:
        nominal = next(
            (r.pipe.nominal for r in reaches if vertex.station < r.station_to - 1e-6), reaches[-1].pipe.nominal
        )
        for one in vertex.fittings:
            angle = one.angle if one.kind is FittingKind.BEND else None
            counted[_FITTINGS[one.kind], TakenSort(nominal=nominal, angle=angle)] += 1
    yield from ((what, sort, float(number)) for (what, sort), number in counted.items())


def _dug(line: Line, first: float, last: float) -> tuple[float, float]:
    """Depth to the trench bottom summed along a stretch [m2], and the length of it whose ground is known [m]."""
    area = known = 0.0
    for a, b in pairwise(line.rows):
        low, high = max(first, a.station), min(last, b.station)
        if high <= low or not (math.isfinite(a.cut) and math.isfinite(b.cut)):
            continue
        slope = (b.cut - a.cut) / (b.station - a.station)
        middle = a.cut + slope * ((low + high) / 2 - a.station)
        area += middle * (high - low)
        known += high - low
    return area, known


def _ground(site: Site, line: Line, reaches: Sequence[Reach]) -> Iterator[Amount]:
    """Digging, bed, stone, backfill and what is left over."""
    width, bed = rules.needed(site.rules, rules.TRENCH_WIDTH), rules.needed(site.rules, rules.BEDDING)
    dug = laid = stone = filled = 0.0
    for reach in reaches:
        area, length = _dug(line, reach.station_from, reach.station_to)
        soft = reach.bedding.over_dug
        deeper = max(0.0, 2 * reach.pipe.od - bed) if soft else 0.0
        opened = width * (area + deeper * length)
        pipe = math.pi / 4 * reach.pipe.od**2 * length
        under = width * (bed + deeper) * length
        beside = max(0.0, width * reach.pipe.od * length - pipe) if reach.bedding.side_fill == "stone" else 0.0
        if reach.sleeve is not None:
            round_it = reach.sleeve.pipe.od**2 - reach.pipe.od**2
            pipe += math.pi / 4 * max(0.0, round_it) * reach.sleeve.length
        dug += opened
        laid += pipe
        stone += beside + (under if soft else 0.0)
        filled += 0.0 if soft else under
    back = max(0.0, dug - laid - stone - filled)
    yield "excavation", _ONE, dug
    yield "bedding", _ONE, filled
    yield "stone", _ONE, stone
    yield "backfill", _ONE, back
    yield "spoil", _ONE, dug - back


def _surface(site: Site, line: Line) -> Iterator[Amount]:
    """Pavement to cut and restore, and lawn, over the trench."""
    width = rules.needed(site.rules, rules.TRENCH_WIDTH)
    paved = 0.0
    for one in line.crossings:
        if one.kind in PAVED:
            length = one.station_to - one.station_from
            area = length * (width + 2 * PAVEMENT_CUT_BACK)
            paved += length
            yield "pavement", TakenSort(word=one.kind), area
            yield "concrete", TakenSort(word=one.kind), area * PAVEMENT_THICKNESS
    yield "lawn", _ONE, max(0.0, line.length - paved) * width
