"""What a point list and the lot's other data give away: signs for its order and its units, each a sentence.

No decision is made here.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from itertools import combinations

from siteplan import units
from siteplan.survey.pointlist_rows import RawPoint, RawTable
from siteplan.survey.shot_codes import is_curb_top, is_flow_line

_COMPASS = {
    "N": (0, 1),
    "S": (0, -1),
    "E": (1, 0),
    "W": (-1, 0),
    "NE": (1, 1),
    "NW": (-1, 1),
    "SE": (1, -1),
    "SW": (-1, -1),
}
_LABEL = re.compile(
    (
        r"\b(LOT|HOUSE|BLDG|BUILDING|GARAGE|PROPERTY|PROP|CORNER|COR|PIN)\b[^/,;]*?\b(NORTH ?EAST|NORTH "
        r"?WEST|SOUTH ?EAST|SOUTH ?WEST|NE|NW|SE|SW|NORTH|SOUTH|EAST|WEST|[NSEW])\b"
    ),
    re.IGNORECASE,
)
_GROUPS = {
    "BLDG": "HOUSE",
    "BUILDING": "HOUSE",
    "PROPERTY": "LOT",
    "PROP": "LOT",
    "CORNER": "LOT",
    "COR": "LOT",
    "PIN": "LOT",
}
_TEXT_ELEVATION = re.compile(
    r"\b(?:EL|ELEV|ELEVATION)\b\.?\s*[:=]?\s*(\d+(?:\.\d+)?)\s*(FT\b|M\b|FEET\b|')?", re.IGNORECASE
)
_SIDE_SLACK = 0.02
_FAMILIES = ("ft", "m")

_AMONG = 0.95  # share of what is drawn that lies among the shots of a lot that is shot whole
_FEWER = 0.80  # and the share that says that it is read the wrong way, beside the other
_ON_CURB = 1.5  # shots of a curb lie this near to one that is drawn [m]
_OFF_CURB = 3.0  # and with the plan mirrored farther [m]
_FEWEST = 3  # shots of a curb that are believed

Box = tuple[float, float, float, float]
Place = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clues:
    """What else is known of the lot, in metres. All optional.

    Attributes
    ----------
    plat_sides : tuple of float [m]
        Sides of the lot as the plat has them, clockwise seen from above, the frontage first.
    plat_area, roof_area : float [m2]
        Of the lot and of all its roofs.
    frontage_bearing : float [degrees]
        Direction of the frontage, clockwise from north; either way along it.
    boxes : tuple of (west, south, east, north) [m]
        Extents of other features in the frame that the list must meet.
    places : tuple of (x, y) [m]
        Corners of the lot and its buildings, and the sources, in the same frame.
    curbs : tuple of tuple of (x, y) [m]
        Curbs as drawn, in the same frame.
    length_unit, elevation_unit : str
        Units that site.toml declares; 'ft', 'us-ft' or 'm'.
    """

    plat_sides: tuple[float, ...] = ()
    plat_area: float | None = None
    roof_area: float | None = None
    frontage_bearing: float | None = None
    boxes: tuple[Box, ...] = ()
    places: tuple[Place, ...] = ()
    curbs: tuple[tuple[Place, ...], ...] = ()
    length_unit: str | None = None
    elevation_unit: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ListSign:
    """One piece of evidence: what it speaks for ('ft', 'm', 'north-first', 'east-first') and its sentence."""

    says: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Corner:
    group: str
    compass: tuple[int, int]
    label: str
    point: RawPoint


def corner_named(description: str) -> tuple[str, tuple[int, int], str] | None:
    """The corner that a shot's description names by compass.

    Parameters
    ----------
    description : str
        As the crew wrote it: LOT SW, HOUSE NE, BLDG COR SOUTH EAST.

    Returns
    -------
    tuple or None
        'LOT', 'HOUSE' or the word itself; east and north as -1, 0 or 1; the label as printed. None where it names none.
    """
    found = _LABEL.search(description)
    if not found:
        return None
    word = re.sub(
        r"NORTH", "N", re.sub(r"SOUTH", "S", re.sub(r"EAST", "E", re.sub(r"WEST", "W", found[2].upper())))
    ).replace(" ", "")
    return _GROUPS.get(found[1].upper(), found[1].upper()), _COMPASS[word], f"{found[1].upper()} {word}"


def _corners(table: RawTable) -> tuple[_Corner, ...]:
    """Points whose description names a corner by compass: LOT SW, HOUSE NE."""
    corners = []
    for point in table.points:
        named = corner_named(point.description)
        if named is not None:
            group, compass, label = named
            corners.append(_Corner(group=group, compass=compass, label=label, point=point))
    return tuple(corners)


def _lot_ring(table: RawTable) -> tuple[RawPoint, ...]:
    """Corners of the lot in going round: by compass where labelled, else in the order of the list."""
    lot = [corner for corner in _corners(table) if corner.group == "LOT"]
    if len({corner.compass for corner in lot}) == len(lot) >= 3 and all(0 not in corner.compass for corner in lot):
        round_about = {(-1, -1): 0, (1, -1): 1, (1, 1): 2, (-1, 1): 3}
        return tuple(corner.point for corner in sorted(lot, key=lambda corner: round_about[corner.compass]))
    plain = [
        point
        for point in table.points
        if re.match(r"\s*(?:LOT|PROP|PROPERTY)\b.*(?:COR|CORNER|PIN|IP|\d)", point.description, re.IGNORECASE)
    ]
    return tuple(plain) if len(plain) >= 3 else tuple(corner.point for corner in lot) if len(lot) >= 3 else ()


def _sides(ring: tuple[RawPoint, ...]) -> list[float]:
    return [math.hypot(b.first - a.first, b.second - a.second) for a, b in zip(ring, ring[1:] + ring[:1], strict=True)]


def _area(ring: tuple[RawPoint, ...]) -> float:
    """Twice signed, first coordinate as x: positive when the ring turns left."""
    return sum(a.first * b.second - b.first * a.second for a, b in zip(ring, ring[1:] + ring[:1], strict=True)) / 2


def size_signs(table: RawTable, clues: Clues) -> list[ListSign]:
    """Unit of the coordinates by the lot's size: plat sides, plat area, roof, other features.

    Parameters
    ----------
    table : RawTable
        The list in its own numbers.
    clues : Clues
        What else is known.

    Returns
    -------
    list of Sign
        For 'ft' or 'm'; empty when nothing tells.
    """
    signs: list[ListSign] = []
    ring = _lot_ring(table)
    named = clues.length_unit or "ft"
    if ring:
        sides = _sides(ring)
        area = abs(_area(ring))
        read = (
            " x ".join(f"{side:.2f}" for side in sorted(sides)[:: max(1, len(sides) // 2)][:2])
            if len(sides) == 4
            else f"{len(sides)} sides, {sum(sides):.2f} round"
        )
        if clues.plat_sides:
            plat = " x ".join(
                f"{units.from_metres(side, named):.2f}"
                for side in sorted({round(side, 3) for side in clues.plat_sides})[:4]
            )
            fitting = [unit for unit in _FAMILIES if _same_sides(sides, clues.plat_sides, units.LENGTH[unit])]
            signs += [
                ListSign(
                    says=unit,
                    text=(
                        f"the lot reads {read} ({area:.0f} square), which in {units.UNIT_NAMES[unit]} is the "
                        f"plat's {plat} {units.UNIT_NAMES[named]}"
                    ),
                )
                for unit in fitting
            ]
        if clues.plat_area:
            fitting = [unit for unit in _FAMILIES if abs(area * units.LENGTH[unit] ** 2 / clues.plat_area - 1) <= 0.03]
            signs += [
                ListSign(
                    says=unit,
                    text=(
                        f"the lot's {area:.0f} square {units.UNIT_NAMES[unit]} are the plat's "
                        f"{clues.plat_area / units.LENGTH[named] ** 2:.0f} square {units.UNIT_NAMES[named]}"
                    ),
                )
                for unit in fitting
            ]
        if clues.roof_area:
            possible = [unit for unit in _FAMILIES if clues.roof_area <= area * units.LENGTH[unit] ** 2]
            if len(possible) == 1:
                other = _FAMILIES[1 - _FAMILIES.index(possible[0])]
                roof = clues.roof_area / units.LENGTH[other] ** 2
                signs.append(
                    ListSign(
                        says=possible[0],
                        text=(
                            f"in {units.UNIT_NAMES[other]} a roof of {roof:.0f} would stand on a lot of "
                            f"{area:.0f} square"
                        ),
                    )
                )
    if clues.boxes:
        inside = {
            unit: max(_inside(table, clues.boxes, unit, order) for order in ("north-first", "east-first"))
            for unit in _FAMILIES
        }
        for unit, other in (_FAMILIES, _FAMILIES[::-1]):
            if inside[unit] >= 0.8 and inside[other] <= 0.6 * inside[unit]:
                signs.append(
                    ListSign(
                        says=unit,
                        text=(
                            f"in {units.UNIT_NAMES[unit]} {inside[unit]:.0%} of the points lie on the other "
                            f"features, in {units.UNIT_NAMES[other]} {inside[other]:.0%}"
                        ),
                    )
                )
    return signs


def _same_sides(sides: list[float], plat: tuple[float, ...], factor: float) -> bool:
    if len(plat) == len(sides):
        pairs = zip(sorted(side * factor for side in sides), sorted(plat), strict=True)
        return all(abs(read - drawn) <= _SIDE_SLACK * drawn for read, drawn in pairs)
    # a plat given as 60 x 150: each of its figures must be a side, and each side one of its figures
    return all(any(abs(side * factor - drawn) <= _SIDE_SLACK * drawn for drawn in plat) for side in sides) and all(
        any(abs(side * factor - drawn) <= _SIDE_SLACK * drawn for side in sides) for drawn in plat
    )


def _inside(table: RawTable, boxes: tuple[Box, ...], unit: str, order: str) -> float:
    """Share of the points on the other features' extent, give or take a fifth of it and 15 m."""
    west, south = min(box[0] for box in boxes), min(box[1] for box in boxes)
    east, north = max(box[2] for box in boxes), max(box[3] for box in boxes)
    wide, high = 0.2 * (east - west) + 15, 0.2 * (north - south) + 15
    factor = units.LENGTH[unit]
    count = 0
    for point in table.points:
        y, x = (point.first, point.second) if order == "north-first" else (point.second, point.first)
        count += west - wide <= x * factor <= east + wide and south - high <= y * factor <= north + high
    return count / len(table.points)


def elevation_signs(table: RawTable) -> list[ListSign]:
    """Unit of the elevations by a benchmark's text: EL 100.00 beside 30.480.

    Parameters
    ----------
    table : RawTable
        The list in its own numbers.

    Returns
    -------
    list of Sign
        For 'ft' or 'm'; empty when no text differs from its elevation by the foot.
    """
    signs = []
    for point in table.points:
        found = _TEXT_ELEVATION.search(point.description)
        if not found or point.elevation is None or point.elevation_metres is not None:
            continue
        stated = float(found[1])
        slack = 0.6 * 10.0 ** -len(found[1].partition(".")[2])
        mark = (found[2] or "").upper()
        unit_of_text = "m" if mark == "M" else "ft" if mark else None
        z, typed = point.elevation, point.elevation_text
        said = f"{point.description!r} (row {point.row}) has elevation {typed}"
        if abs(z - stated) <= slack:
            if unit_of_text:
                signs.append(ListSign(says=unit_of_text, text=f"{said}, in the unit its text names"))
        elif abs(z - stated * units.FOOT) <= slack * units.FOOT + 0.0006 and unit_of_text != "m":
            signs.append(ListSign(says="m", text=f"{said}, which is {found[1]} x {units.FOOT}"))
        elif abs(z * units.FOOT - stated) <= slack + 0.003 and unit_of_text != "ft":
            signs.append(ListSign(says="ft", text=f"{said}, which is {found[1]} / {units.FOOT}"))
    return signs


def order_signs(table: RawTable, unit: str, clues: Clues) -> list[ListSign]:
    """Northing first or easting first, by corner labels, handedness, frontage, and where other features lie.

    Parameters
    ----------
    table : RawTable
        The list in its own numbers.
    unit : str
        Unit of its coordinates, already settled.
    clues : Clues
        What else is known.

    Returns
    -------
    list of Sign
        For 'north-first' or 'east-first'; empty when nothing tells.
    """
    corners = _corners(table)
    signs = [*_label_signs(corners), *_hand_signs(corners)]
    ring = _lot_ring(table)
    factor = units.LENGTH[unit]
    if ring and clues.plat_sides:
        signs += _plat_hand(ring, clues.plat_sides, factor)
        if clues.frontage_bearing is not None:
            signs += _frontage(ring, clues.plat_sides[0], clues.frontage_bearing, factor)
    if clues.boxes:
        inside = {order: _inside(table, clues.boxes, unit, order) for order in ("north-first", "east-first")}
        for order, other in (("north-first", "east-first"), ("east-first", "north-first")):
            if inside[order] >= 0.8 and inside[other] <= 0.6 * inside[order]:
                signs.append(
                    ListSign(
                        says=order,
                        text=(
                            f"as {order} {inside[order]:.0%} of the points lie on the other features, as {other} "
                            f"{inside[other]:.0%}"
                        ),
                    )
                )
    return [*signs, *drawn_signs(table, unit, clues)]


def drawn_signs(table: RawTable, unit: str, clues: Clues) -> list[ListSign]:
    """Northing first or easting first, by what is drawn.

    It lies among the shots of its lot, and shots of a curb lie on the curb.

    Parameters
    ----------
    table : RawTable
        The list in its own numbers.
    unit : str
        Unit of its coordinates.
    clues : Clues
        What is drawn.

    Returns
    -------
    list of Sign
        Empty when both orders do as well, and when neither does.

    References
    ----------
    Shares and distances: common practice, no source.
    """
    import numpy as np
    import shapely

    factor = units.LENGTH[unit]
    signs = []
    given = np.array([(raw.first, raw.second) for raw in table.points]) * factor
    read = {"north-first": given[:, ::-1], "east-first": given}
    pairs = (("north-first", "east-first"), ("east-first", "north-first"))
    if clues.places:
        among = {}
        for order, points in read.items():
            shot = shapely.convex_hull(shapely.multipoints(points)).buffer(_ON_CURB)
            among[order] = float(np.mean(shapely.covers(shot, shapely.points(clues.places))))
        signs += [
            ListSign(
                says=order,
                text=(
                    f"as {order} {among[order]:.0%} of the corners and sources that are drawn lie among the "
                    f"points, as {other} {among[other]:.0%}"
                ),
            )
            for order, other in pairs
            if among[order] >= _AMONG and among[other] <= _FEWER
        ]
    coded = [k for k, raw in enumerate(table.points) if is_curb_top(raw.description) or is_flow_line(raw.description)]
    drawn = [curb for curb in clues.curbs if len(curb) > 1]
    if len(coded) >= _FEWEST and drawn:
        curbs = shapely.multilinestrings([shapely.linestrings(curb) for curb in drawn])
        off = {
            order: float(np.median(shapely.distance(shapely.points(points[coded]), curbs)))
            for order, points in read.items()
        }
        signs += [
            ListSign(
                says=order,
                text=(
                    f"as {order} the shots of a curb lie on the curb that is drawn, as {other} "
                    f"{units.length_text(off[other], unit, 1)} off it"
                ),
            )
            for order, other in pairs
            if off[order] <= _ON_CURB and off[other] >= _OFF_CURB
        ]
    return signs


def _label_signs(corners: tuple[_Corner, ...]) -> list[ListSign]:
    """LOT SE must lie east of LOT SW, not north of it."""
    votes: dict[str, list[str]] = {"north-first": [], "east-first": []}
    for a, b in combinations(corners, 2):
        if a.group != b.group:
            continue
        east, north = b.compass[0] - a.compass[0], b.compass[1] - a.compass[1]
        first, second = b.point.first - a.point.first, b.point.second - a.point.second
        direct = second * east + first * north
        swapped = first * east + second * north
        word = f"{b.label} lies {_where(east, north)} of {a.label}"
        if direct > 0 and direct > 2 * abs(swapped):
            votes["north-first"].append(word)
        elif swapped > 0 and swapped > 2 * abs(direct):
            votes["east-first"].append(word)
    return [
        ListSign(
            says=order,
            text=words[0]
            + (f" (and {len(words) - 1} more such pair{'s' if len(words) > 2 else ''})" if len(words) > 1 else ""),
        )
        for order, words in votes.items()
        if words
    ]


def _where(east: int, north: int) -> str:
    words = [
        word
        for value, word in ((north, "north" if north > 0 else "south"), (east, "east" if east > 0 else "west"))
        if value
    ]
    return " and ".join(words)


def _hand_signs(corners: tuple[_Corner, ...]) -> list[ListSign]:
    """Three labelled corners turn left or right; a mirrored plan turns them over, however it is rotated."""
    hands: dict[str, list[str]] = {"north-first": [], "east-first": []}
    for a, b, c in combinations(corners, 3):
        if not a.group == b.group == c.group:
            continue
        wanted = (b.compass[0] - a.compass[0]) * (c.compass[1] - a.compass[1]) - (c.compass[0] - a.compass[0]) * (
            b.compass[1] - a.compass[1]
        )
        # seen with easting as x: second coordinate first
        turned = (b.point.second - a.point.second) * (c.point.first - a.point.first) - (
            c.point.second - a.point.second
        ) * (b.point.first - a.point.first)
        if wanted and turned:
            hands["north-first" if wanted * turned > 0 else "east-first"].append(
                f"{a.label}, {b.label}, {c.label} turn {'left' if wanted > 0 else 'right'}, as their names say"
            )
    return [ListSign(says=order, text=texts[0]) for order, texts in hands.items() if texts]


def _plat_hand(ring: tuple[RawPoint, ...], plat: tuple[float, ...], factor: float) -> list[ListSign]:
    """Sides in the plat's clockwise order run clockwise on the ground.

    Told apart only when the plat is not its own mirror.
    """
    sides = [side * factor for side in _sides(ring)]
    n = len(sides)
    if n != len(plat):
        return []

    def fits(some: list[float]) -> bool:
        return any(
            all(abs(some[(start + i) % n] - plat[i]) <= _SIDE_SLACK / 4 * plat[i] for i in range(n))
            for start in range(n)
        )

    forward, backward = fits(sides), fits(sides[::-1])
    if forward == backward:
        return []
    left_with_first_as_x = _area(ring) > 0
    # east-first has the first coordinate as x; a ring that runs the plat's way is clockwise, which turns right
    clockwise_as_east_first = not left_with_first_as_x
    order = "east-first" if clockwise_as_east_first == forward else "north-first"
    return [ListSign(says=order, text="the lot's sides run clockwise in the plat's order")]


def _frontage(ring: tuple[RawPoint, ...], frontage: float, bearing: float, factor: float) -> list[ListSign]:
    """The side as long as the frontage must have its bearing; swapped coordinates turn it to 90 degrees minus."""
    found: dict[str, list[float]] = {"north-first": [], "east-first": []}
    for a, b, side in zip(ring, ring[1:] + ring[:1], _sides(ring), strict=True):
        if abs(side * factor - frontage) <= _SIDE_SLACK * frontage:
            first, second = b.first - a.first, b.second - a.second
            found["north-first"].append(math.degrees(math.atan2(second, first)) % 180)
            found["east-first"].append(math.degrees(math.atan2(first, second)) % 180)
    fits = {order: any(_turn(angle, bearing) <= 5 for angle in angles) for order, angles in found.items()}
    if fits["north-first"] == fits["east-first"]:
        return []
    order = "north-first" if fits["north-first"] else "east-first"
    angle = min(found[order], key=lambda one: _turn(one, bearing))
    return [
        ListSign(
            says=order, text=f"the frontage then bears {angle:.1f} degrees from north, the plat has {bearing % 180:.1f}"
        )
    ]


def _turn(a: float, b: float) -> float:
    apart = abs(a - b) % 180
    return min(apart, 180 - apart)
