"""A plan's site in; what is drawn of it out.

Areas with real hatching, lines, utilities with their letter in the line, lot dimensions.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from siteplan import units
from siteplan.books.kinds import TITLES, Kind
from siteplan.books.services import service
from siteplan.plotting.fonts import wrapped
from siteplan.plotting.gathered import Gathered
from siteplan.plotting.ground_lines import GroundLines
from siteplan.plotting.looks_of import CONTOUR, INDEX_CONTOUR, area_look, run_look
from siteplan.plotting.placing import Label
from siteplan.plotting.shapes import Filled, Lettering, Pen, Spot, Stroke
from siteplan.plotting.symbols import around, benchmark_symbol, ring, sprinkler_symbol, tree_symbol
from siteplan.plotting.view import View, cut_area, hatched
from siteplan.sheets.coordinates import DEGREE, survey_places, survey_system
from siteplan.sheets.drawing import BLUE, BROWN, DARK
from siteplan.sheets.wording import KIND_TITLES, depth_text, one_line
from siteplan.values.drawn_shapes import PlanFeature
from siteplan.values.whole_plan import Plan

NAME_MM = 42.0  # the widest that a name is set before it breaks
_TITLED = {
    Kind.NEIGHBOUR,
    Kind.EASEMENT,
    Kind.NO_DIG,
    Kind.WET_AREA,
    Kind.BENCHMARK,
}  # whose kind is said before the name
_LETTER_EVERY = 30.0  # mm along a utility


def site_marks(plan: Plan, view: View, ground: GroundLines | None, out: Gathered) -> None:
    """Everything surveyed, from the ground up.

    Parameters
    ----------
    plan : Plan
        As stored.
    view : View
        Where and how large.
    ground : GroundLines, optional
        Contours.
    out : Gathered
        Is added to.
    """

    def rank(one: PlanFeature) -> int:
        look = area_look(one.kind)
        return 10 if look is None else look.order

    areas = sorted((one for one in plan.features if one.shape == "Polygon"), key=rank)
    for one in areas:
        if one.kind not in {Kind.LOT, Kind.BUILDING}:
            _area(one, areas, view, out)
    _low_ground(plan, view, out)
    if ground is not None:
        _contours(ground, view, out)
    for one in areas:
        if one.kind in {Kind.LOT, Kind.BUILDING}:
            _area(one, areas, view, out)
    for one in plan.features:
        if one.shape == "LineString" and one.kind != Kind.DRAIN:
            _run(one, plan, view, out)
        elif one.shape == "Point":
            _point(one, plan, view, out)
    _lot_dimensions(plan, view, out)


def _area(one: PlanFeature, others: Sequence[PlanFeature], view: View, out: Gathered) -> None:
    look = area_look(one.kind)
    if look is None:
        return
    before = len(out.under)
    if look.fill:
        out.under.extend(view.areas(one.kind, one.rings, look.fill))
    if look.hatching is not None:
        placed = [[view.at(spot) for spot in held] for held in one.rings]
        for angle in look.hatching.angles:
            out.under.extend(hatched(one.kind, view.room, placed, angle, look.hatching.apart, look.hatching.pen))
    for held in one.rings:
        edges = [*view.runs(one.kind, held, look.pen, closed=True)]
        out.under.extend(edges)
        out.thin.extend((*edge.points, *edge.points[: int(edge.closed)]) for edge in edges)
    if len(out.under) == before:
        return
    out.key[one.kind] = KIND_TITLES.get(one.kind, one.kind)
    spots = _spots_inside(one, others, view)
    if spots:
        _name(one, spots[0], out, rank=70 if one.kind == Kind.LOT else 60, leader=False, elsewhere=spots[1:])


def _spots_inside(one: PlanFeature, others: Sequence[PlanFeature], view: View) -> tuple[Spot, ...]:
    """Places inside what the drawing shows of an area, its middle first; of a lot, where nothing else stands."""
    import shapely

    parts = cut_area(view.room, [[view.at(spot) for spot in held] for held in one.rings])
    if not parts:
        return ()
    shown = shapely.union_all([shapely.Polygon(rings[0], rings[1:]) for rings in parts])
    if one.kind == Kind.LOT:
        inside = [
            shapely.Polygon([view.at(spot) for spot in other.rings[0]])
            for other in others
            if other.kind not in {Kind.LOT, Kind.NEIGHBOUR}
        ]
        free = shapely.difference(shown, shapely.union_all([shapely.make_valid(area) for area in inside]))
        shown = shown if free.is_empty else free
    solid = [part for part in shapely.get_parts(shown) if part.geom_type == "Polygon"]
    if not solid:
        return ()
    largest = max(solid, key=lambda part: part.area)
    middle = largest.representative_point()
    west, south, east, north = largest.bounds
    grid = [(west + (east - west) * i / 8, south + (north - south) * j / 8) for j in range(1, 8) for i in range(1, 8)]
    kept = [spot for spot in grid if largest.contains(shapely.Point(spot))]
    kept.sort(key=lambda spot: (round(math.dist(spot, (middle.x, middle.y)), 3), spot))
    return ((float(middle.x), float(middle.y)), *((float(x), float(y)) for x, y in kept))


def _name(
    one: PlanFeature,
    spot: Spot,
    out: Gathered,
    *,
    rank: int,
    leader: bool = True,
    more: Sequence[str] = (),
    elsewhere: Sequence[Spot] = (),
) -> None:
    title = TITLES.get(one.kind, one.kind)
    name = one_line(one.name)
    said = f"{title}: {name}" if name and one.kind in _TITLED else name or title
    lines = (*wrapped(said, 2.3, NAME_MM), *more)
    out.labels.append(
        (rank, Label(layer="names", lines=lines, spot=spot, color="#333333", leader=leader, elsewhere=tuple(elsewhere)))
    )


def _low_ground(plan: Plan, view: View, out: Gathered) -> None:
    """Hollows that the survey is sure of; those shallower than its doubt stand on the map alone."""
    for spot in plan.low_spots:
        if not spot.rings or spot.kind != "hollow" or not spot.certain:
            continue
        placed = [[view.at(place) for place in held] for held in spot.rings]
        edges = [
            edge
            for held in spot.rings
            for edge in view.runs("low_ground", held, Pen(color=BLUE, width=0.2), closed=True)
        ]
        if not edges:
            continue
        out.under.extend([*hatched("low_ground", view.room, placed, 0.0, 1.8, Pen(color=BLUE, width=0.1)), *edges])
        out.key["low_ground"] = "Low ground in which water stands"
        words = (f"low ground {spot.id}, {units.length_text(spot.depth, plan.length_unit)} deep",)
        if view.shows(spot.rings[0][0]):
            out.labels.append((55, Label(layer="names", lines=words, spot=placed[0][0], color=BLUE)))


def _contours(ground: GroundLines, view: View, out: Gathered) -> None:
    for level, held in ground.contours:
        index = round(level / ground.interval) % 5 == 0
        pen = INDEX_CONTOUR if index else CONTOUR
        longest: tuple[Spot, ...] = ()
        for run in held:
            for stroke in view.runs("contours", run, pen):
                out.under.append(stroke)
                longest = max(longest, stroke.points, key=_long)
        if not longest:
            continue
        out.key["contour"] = "Ground as surveyed (contours"
        if _long(longest) > 12.0:
            label = Label(
                layer="contour_levels",
                lines=(f"{level:g}",),
                spot=longest[len(longest) // 2],
                size=1.9,
                color=BROWN,
                needed=False,
                leader=False,
            )
            out.labels.append((80 if index else 95, label))


def _long(run: Sequence[Spot]) -> float:
    return sum(math.dist(a, b) for a, b in pairwise(run))


def _run(one: PlanFeature, plan: Plan, view: View, out: Gathered) -> None:
    look = run_look(one.kind)
    if look is None:
        return
    told = dict(one.told)
    for held in one.rings:
        strokes = [*view.runs(one.kind, held, look.pen)]
        if not strokes:
            continue
        longest = max(strokes, key=lambda stroke: _long(stroke.points)).points
        middle = _along(longest, 0.5)[0]
        out.thin.extend(stroke.points for stroke in strokes)
        if one.kind != Kind.UTILITY:
            out.under.extend(strokes)
            out.key[one.kind] = KIND_TITLES.get(one.kind, one.kind)
            _name(one, middle, out, rank=62)
            continue
        kind = service(str(told.get("service", "")))
        for stroke in strokes:
            _lettered(stroke, kind.letter, out)
        out.key[f"utility_{kind.word}"] = f"Utility: {kind.title}"
        depth = told.get("depth")
        deep = depth_text(float(depth) if isinstance(depth, int | float) else None, plan.length_unit)
        _name(one, _along(longest, 0.35)[0], out, rank=40, more=(f"{kind.title}, {deep}",))


def _lettered(stroke: Stroke, letter: str, out: Gathered) -> None:
    """A utility: the line, broken by its letter every so far."""
    whole = _long(stroke.points)
    count = max(1, round(whole / _LETTER_EVERY))
    out.under.append(stroke)
    if whole < 6.0:
        return
    for k in range(count):
        spot, angle = _along(stroke.points, (k + 0.5) / count)
        readable = (angle + 90.0) % 180.0 - 90.0
        c, s = math.cos(math.radians(readable)), math.sin(math.radians(readable))
        out.over.append(Filled(layer="utility_letters", rings=(ring(spot, 1.45),), fill="#ffffff"))
        out.over.append(
            Lettering(
                layer="utility_letters",
                text=letter,
                x=spot[0] + 0.8 * s,
                y=spot[1] - 0.8 * c,
                size=2.2,
                anchor="middle",
                angle=readable,
                bold=True,
                color=DARK,
            )
        )
        out.keep_off.append(around(spot, 1.4))


def _along(run: Sequence[Spot], share: float) -> tuple[Spot, float]:
    """The place a share along a run, and the run's direction there [degrees]."""
    left = share * _long(run)
    for a, b in pairwise(run):
        piece = math.dist(a, b)
        if left <= piece and piece > 0:
            t = left / piece
            return (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])), math.degrees(
                math.atan2(b[1] - a[1], b[0] - a[0])
            )
        left -= piece
    return run[-1], 0.0


def _point(one: PlanFeature, plan: Plan, view: View, out: Gathered) -> None:
    place = one.rings[0][0]
    if not view.shows(place) or one.kind not in {Kind.TREE, Kind.BENCHMARK, Kind.SPRINKLER}:
        return
    spot = view.at(place)
    told = dict(one.told)
    more: tuple[str, ...] = ()
    if one.kind == Kind.TREE:
        thick = told.get("diameter")
        across = float(thick) if isinstance(thick, int | float) else 0.0
        out.over.extend(tree_symbol(spot, across * view.by))
        if across:
            more = (f"trunk {units.short_text(across, plan.length_unit)}",)
    elif one.kind == Kind.BENCHMARK:
        out.over.extend(benchmark_symbol(spot))
    else:
        out.over.extend(sprinkler_symbol(spot))
    out.keep_off.append(around(spot, 1.9))
    out.key[one.kind] = KIND_TITLES.get(one.kind, one.kind)
    _name(one, spot, out, rank=45 if one.kind == Kind.BENCHMARK else 64, more=more)


def _lot_dimensions(plan: Plan, view: View, out: Gathered) -> None:
    """Bearing and length along each lot line, clockwise."""
    for one in plan.features:
        if one.kind != Kind.LOT:
            continue
        held = list(one.rings[0])
        if held[0] == held[-1]:
            held.pop()
        if sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(held, [*held[1:], held[0]], strict=True)) > 0:
            held.reverse()
        for a, b in zip(held, [*held[1:], held[0]], strict=True):
            long = math.dist(a, b)
            shown = [*view.runs("lot", (a, b), Pen())]
            if long < 1e-3 or not shown:
                continue
            words = f"{bearing_text(plan, a, b)}  {units.length_text(long, plan.length_unit)}"
            first, last = shown[0].points
            middle = ((first[0] + last[0]) / 2, (first[1] + last[1]) / 2)
            out.labels.append((5, Label(layer="lot_dimensions", lines=(words,), spot=middle, along=((first, last),))))


def north_turn(plan: Plan, spot: Spot) -> float:
    """How far the survey's grid north stands from the plan's, counter-clockwise.

    Parameters
    ----------
    plan : Plan
        For its frame and the survey's.
    spot : tuple of float
        A place of the plan [m].

    Returns
    -------
    float
        Degrees; 0 for a survey in degrees, whose north is the plan's own.
    """
    if survey_system(plan).unit == DEGREE:
        return 0.0
    east, north = survey_places(plan, [spot[0], spot[0]], [spot[1] - 50.0, spot[1] + 50.0])
    # a run due north in the plan lies this far clockwise of the survey's north
    return math.degrees(math.atan2(float(east[1] - east[0]), float(north[1] - north[0])))


def bearing_text(plan: Plan, a: Spot, b: Spot) -> str:
    """The bearing of a lot line from the survey's grid north.

    Parameters
    ----------
    plan : Plan
        For its frame and the survey's.
    a, b : tuple of float
        Ends of the line [m].

    Returns
    -------
    str
        By quadrants in feet, 'N 12\u00b034'56" E'; from north all round in metres, '12\u00b034'56"'.
    """
    azimuth = math.degrees(math.atan2(b[0] - a[0], b[1] - a[1])) + north_turn(plan, a)
    seconds = round(azimuth % 360.0 * 3600.0) % (360 * 3600)
    if plan.length_unit == "m":
        return _angle_text(seconds)
    half, quarter = 180 * 3600, 90 * 3600
    south = quarter < seconds < 3 * quarter
    west = seconds > half
    turned = seconds if seconds <= quarter else abs(half - seconds) if south else 4 * quarter - seconds
    return f"{'S' if south else 'N'} {_angle_text(turned)} {'W' if west else 'E'}"


def _angle_text(seconds: int) -> str:
    return f"{seconds // 3600}\u00b0{seconds // 60 % 60:02d}'{seconds % 60:02d}\""
