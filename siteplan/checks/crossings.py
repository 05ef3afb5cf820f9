"""The walked lines in; findings on what they cross out: pavement edges, wet low spots, utilities."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from siteplan.books import rules
from siteplan.books.kinds import PAVEMENT_KINDS
from siteplan.checks.report import ANGLE, plain, ruled
from siteplan.checks.scene import Scene
from siteplan.checks.walk import Floats, Stretch, Walk, length_of, runs_of_samples, stretches_inside
from siteplan.site import Feature
from siteplan.values.forecasts import LowSpot
from siteplan.values.told import Finding

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

TOUCHED = 0.1  # m; a line that is under the edge of a hollow for less touches it
_AT_END = 0.02  # m; an edge this near a line's end is where it starts or stops, not a crossing


class Cut(NamedTuple):
    """Where a line crosses another line."""

    station: float
    angle: float  # 90 is square [degrees]


class Gap(NamedTuple):
    """What is between a line and a utility that it crosses. None: not known."""

    depth: float | None  # ground to top of the utility [m]
    clearance: float | None  # below 0: they meet [m]
    over: bool | None  # the line passes over the utility


def edge_angles(walk: Walk, area: BaseGeometry, stretch: Stretch) -> tuple[float, ...]:
    """Angles between a line and the edges of an area, where it goes in and where it comes out.

    Parameters
    ----------
    walk : Walk
        The walked line.
    area : geometry
        Polygons that it crosses.
    stretch : (float, float)
        Stations between which it lies inside [m].

    Returns
    -------
    tuple of float
        0 to 90 [degrees]; an end of the line inside the area crosses no edge and gives none.
    """
    found = []
    for station, inward in ((stretch[0], 1.0), (stretch[1], -1.0)):
        if station < _AT_END or station > walk.length - _AT_END:
            continue
        middle = station + inward * min(_AT_END, (stretch[1] - stretch[0]) / 2)
        along = np.array(walk.place(middle)) - np.array(walk.place(station))
        edge = _edge_at(area, np.array(walk.place(station)))
        across = abs(along[0] * edge[1] - along[1] * edge[0])
        found.append(float(np.degrees(np.arctan2(across, abs(along @ edge)))))
    return tuple(found)


def cuts(walk: Walk, path: BaseGeometry) -> tuple[Cut, ...]:
    """Places where a line crosses a surveyed line, such as a utility or a wall.

    Parameters
    ----------
    walk : Walk
        The walked line.
    path : geometry
        Line strings.

    Returns
    -------
    tuple of Cut
        In order of station [m]; a place met twice at a corner is one.
    """
    import shapely

    found: list[Cut] = []
    pieces = shapely.linestrings(np.stack((walk.corners[:-1], walk.corners[1:]), axis=1))
    for number, met in enumerate(shapely.intersection(pieces, path)):
        start = walk.corners[number]
        heading = walk.corners[number + 1] - start
        for part in shapely.get_parts(met):
            if part.is_empty or not heading.any():
                continue
            place = shapely.get_coordinates(part).mean(axis=0)
            station = float(walk.at[number] + np.hypot(*(place - start)))
            edge = _edge_at(path, place)
            across = abs(heading[0] * edge[1] - heading[1] * edge[0])
            found.append(Cut(station, float(np.degrees(np.arctan2(across, abs(heading @ edge))))))
    found.sort()
    return tuple(cut for i, cut in enumerate(found) if i == 0 or cut.station - found[i - 1].station > _AT_END)


def crossing_angle(scene: Scene) -> list[Finding]:
    """Angles at which driveways, walks and paving are crossed, at both edges.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each crossing, at the edge crossed most aslant; a line that crosses no edge has none.
    """
    rule, words = rules.CROSSING_ANGLE, scene.words
    found = []
    for name, walk in scene.walks.items():
        for kind in PAVEMENT_KINDS:
            for stretch in walk.under.get(kind, ()):
                angles = edge_angles(walk, scene.areas[kind], stretch)
                if angles:
                    found.append(
                        ruled(
                            scene,
                            rule,
                            f"{name}:crossing {kind}",
                            min(angles),
                            measure=ANGLE,
                            said=f"crosses {kind} at",
                            limit=scene.limit(rule),
                            where=words.stations(*stretch),
                            more="Cross it squarely: less pavement to cut",
                        )
                    )
    return found


def low_spot_crossed(scene: Scene) -> list[Finding]:
    """Wet low spots that the lines cross; those that the survey may have made up are told apart.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each certain low spot crossed, one a line for all doubtful ones, else one a line.
    """
    rule, words = rules.LOW_SPOT_CROSSED, scene.words
    places = [(spot, area) for spot in scene.plan.low_spots if (area := area_of(spot)) is not None]
    found = []
    for name, walk in scene.walks.items():
        doubtful: list[Stretch] = []
        names = []
        clear = True
        for spot, area in places:
            stretches = stretches_inside(walk.corners, walk.at, area)
            if not stretches:
                continue
            clear = False
            if not spot.certain:
                doubtful += stretches
                names.append(spot.id)
                continue
            length = length_of(stretches)
            deep = f", {words.drop(spot.depth)} deep" if spot.kind == "hollow" else ""
            found.append(
                plain(
                    rule,
                    f"{name}:low spot {spot.id}",
                    "broken",
                    (
                        f"crosses wet ground {spot.id} ({spot.kind.replace('_', ' ')}{deep}) for "
                        f"{words.far(length)}: over-dig and bed in stone, or go round"
                    ),
                    where=words.stretches(stretches),
                    value=length,
                )
            )
        if doubtful:
            length = length_of(tuple(doubtful))
            what = "hollows" if len(names) > 1 else "a hollow"
            met = f"crosses {words.far(length)} of {what}" if length >= TOUCHED else f"touches the edge of {what}"
            found.append(
                plain(
                    rule,
                    f"{name}:low spot {', '.join(names)}",
                    "cannot tell",
                    f"{met} shallower than the survey can know",
                    where=words.stretches(sorted(doubtful)),
                    value=length,
                )
            )
        if clear:
            found.append(plain(rule, name, "kept", "crosses no wet low spot", value=0.0))
    return found


def area_of(spot: LowSpot) -> BaseGeometry | None:
    """The ground that a low spot covers, from its rings.

    Parameters
    ----------
    spot : LowSpot
        Wet ground; its first ring is the outer one.

    Returns
    -------
    geometry or None
        None when it has no ring.
    """
    import shapely
    from shapely.geometry import Polygon

    if not spot.rings:
        return None
    area: BaseGeometry = shapely.make_valid(Polygon(spot.rings[0], spot.rings[1:]))
    return area


def utility_crossed(scene: Scene) -> list[Finding]:
    """Known utilities crossed or run beside within the hand-dig distance, with the clearance where depth is known.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each crossing and each stretch beside a utility, else one a line; none on a site without utilities.
    """
    import shapely

    rule, words = rules.UTILITY_CROSSED, scene.words
    utilities = scene.site.of_kind("utility")
    band = scene.limit(rule)
    found = []
    for name, walk in scene.walks.items():
        out = []
        samples = shapely.points(walk.x, walk.y)
        for utility in utilities:
            title = utility.name or "utility"
            met = cuts(walk, utility.geometry)
            out += [_met(scene, walk, utility, cut, band) for cut in met]
            if band is None:
                continue
            for first, last in runs_of_samples(shapely.distance(samples, utility.geometry) < band):
                start, end = float(walk.s[first]), float(walk.s[last])
                if not any(start - band <= cut.station <= end + band for cut in met):
                    out.append(
                        plain(
                            rule,
                            f"{name}:beside {title}",
                            "broken",
                            f"runs beside {title} within {words.small(band)} for {words.far(end - start)}: hand-dig",
                            where=words.stations(start, end),
                            value=end - start,
                        )
                    )
        if utilities and not out:
            out.append(plain(rule, name, "kept", "crosses no known utility; private lines are not marked", value=0.0))
        found += out
    return found


def gap_to(walk: Walk, utility: Feature, station: float) -> Gap:
    """Clearance between a line's pipe and a utility that it crosses.

    Parameters
    ----------
    walk : Walk
        The walked line.
    utility : Feature
        With `depth` of its top below ground [m] and `diameter` [m] where known.
    station : float
        Where it is crossed [m].

    Returns
    -------
    Gap
        Outside to outside [m].
    """
    depth, diameter = (_number(utility, key) for key in ("depth", "diameter"))
    here = int(np.argmin(np.abs(walk.s - station)))
    if depth is None or not np.isfinite(walk.ground[here]):
        return Gap(depth, None, None)
    top = float(walk.ground[here]) - depth
    bottom = None if diameter is None else top - diameter
    invert = walk.invert_at(station)
    lies = walk.line.pipe_at(station)
    pipe_top, pipe_bottom = invert + float(walk.rise_at(np.array([station]))[0]), invert - (lies.od - lies.bore) / 2
    if pipe_bottom >= top:
        return Gap(depth, pipe_bottom - top, over=True)
    if bottom is None:
        return Gap(depth, None, over=False if pipe_top < top else None)
    if pipe_top <= bottom:
        return Gap(depth, bottom - pipe_top, over=False)
    return Gap(depth, -min(top - pipe_bottom, pipe_top - bottom), over=None)


def _met(scene: Scene, walk: Walk, utility: Feature, cut: Cut, band: float | None) -> Finding:
    words = scene.words
    title = utility.name or "utility"
    gap = gap_to(walk, utility, cut.station)
    reach = band or 0.0
    where = words.stations(max(0.0, cut.station - reach), min(walk.length, cut.station + reach))
    if gap.depth is None:
        said = "its depth is not known: expose it by hand before grade is final"
    elif gap.clearance is None:
        said = f"its top is {words.small(gap.depth)} below ground, its size is not known: expose it by hand"
    elif gap.clearance < 0:
        said = f"its top is {words.small(gap.depth)} below ground: they MEET, {words.small(-gap.clearance)} of overlap"
    else:
        said = (
            f"its top is {words.small(gap.depth)} below ground: the line passes {'over' if gap.over else 'under'} "
            f"it with {words.small(gap.clearance)} clear"
        )
    dig = "limit not known: hand-dig distance" if band is None else f"hand-dig {words.small(band)} each side"
    message = f"{dig}; crosses {title} at {words.station(cut.station)} and {words.degrees(cut.angle)}; {said}"
    return plain(
        rules.UTILITY_CROSSED, f"{walk.line.id}:crossing {title}", "broken", message, where=where, value=gap.clearance
    )


def _number(feature: Feature, key: str) -> float | None:
    value = feature.attributes.get(key)
    return float(value) if isinstance(value, int | float) and np.isfinite(value) else None


def _edge_at(shape: BaseGeometry, place: Floats) -> Floats:
    """Direction of the straight piece of a shape's outline nearest to a place."""
    import shapely

    outline = shapely.boundary(shape) if shapely.get_dimensions(shape) == 2 else shape
    best, edge = np.inf, np.array([1.0, 0.0])
    for part in shapely.get_parts(outline):
        corners = shapely.get_coordinates(part)
        start, way = corners[:-1], np.diff(corners, axis=0)
        long = np.maximum((way**2).sum(axis=1), 1e-18)
        share = np.clip(((place - start) * way).sum(axis=1) / long, 0.0, 1.0)
        away = np.hypot(*(start + share[:, None] * way - place).T)
        nearest = int(np.argmin(away))
        if away[nearest] < best:
            best, edge = float(away[nearest]), way[nearest]
    return edge
