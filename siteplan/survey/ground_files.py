"""Ground files and the plan's frame in; the one ground of a site out.

A grid, the shots and triangles behind it, and what was assumed.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.books.kinds import SOURCE_KINDS
from siteplan.errors import InputError, NotGiven
from siteplan.site import Feature, Floats, Grid, Shot, Tin
from siteplan.survey.features import Drawn
from siteplan.survey.files import said
from siteplan.survey.frame import Frame, Move, axis_unit, mover
from siteplan.survey.grids import Raster, grid_in_plan
from siteplan.survey.mixed import corrected
from siteplan.survey.pointlist_signs import Box, Clues, Place
from siteplan.survey.settings import SITE_FILE, Settings
from siteplan.survey.shot_codes import coded_lines, stands_off_ground
from siteplan.survey.shot_features import PlacedShot
from siteplan.survey.shots import ShotList, read_ground_shots
from siteplan.survey.tin import CrossingBreaklines, one_a_place, tin_of
from siteplan.survey.tin_grid import tin_grid

if TYPE_CHECKING:
    from pyproj import CRS

_MOST_NAMED = 12  # places at which several points stand, told one by one
_ON_LINE = 0.05  # a shot this near a drawn curb or wall lies on it [m]
BREAK_KINDS = ("curb", "wall")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GroundRead:
    """The ground of a site. `shots` are those that it is drawn from."""

    grid: Grid
    shots: tuple[Shot, ...]
    tin: Tin | None
    paths: tuple[Path, ...]
    assumptions: tuple[str, ...]
    shown: str  # the file whose extent is the ground's
    rod_doubt: float  # what a coarse rod adds to the heights, at the middle shot [m]
    whole: bool  # a delivered grid must cover the lot; shots cover what they cover
    listed: tuple[PlacedShot, ...] = ()  # every point of the list, on the ground or not
    listed_in: str = ""  # the list's name


class _Kept(NamedTuple):
    """Shots on the ground, one a place, and the pairs that breaklines join."""

    shots: tuple[Shot, ...]
    pairs: list[tuple[int, int]]
    faces: list[tuple[int, int, int]]
    notes: list[str]


def read_ground(
    folder: Path,
    settings: Settings,
    raster: Raster | None,
    frame: Frame,
    site_crs: CRS | None,
    drawn: Sequence[Drawn],
    features: Sequence[Feature],
    centre: tuple[float, float],
) -> GroundRead:
    """The ground of a site from a grid, from shots, or from a grid corrected by shots.

    Parameters
    ----------
    folder : Path
        The site folder.
    settings : Settings
        What site.toml says.
    raster : Raster or None
        The grid, when [ground] names one.
    frame : Frame
        The plan's.
    site_crs : CRS or None
        The site's; None for local coordinates.
    drawn, features : sequence
        Features as drawn and in the plan's frame.
    centre : tuple of float
        The middle of the lot [m].

    Returns
    -------
    GroundRead
        With every decision on order, unit and use of the shots as a sentence.

    Raises
    ------
    InputError, InputErrors
        If the shots cannot be read, leave a question open, or make no surface.
    """
    home = folder.resolve()
    grid = None if raster is None else grid_in_plan(raster, frame, *centre)
    grid_shown = "" if settings.ground.grid is None else settings.ground.grid.relative_to(home).as_posix()
    if settings.ground.shots is None:
        assert grid is not None
        assert raster is not None
        return GroundRead(
            grid=grid,
            shots=(),
            tin=None,
            paths=raster.paths,
            assumptions=raster.assumptions,
            shown=grid_shown,
            rod_doubt=0.0,
            whole=True,
        )
    shown = settings.ground.shots.relative_to(home).as_posix()
    unit = _coordinates_in(site_crs, shown)
    listed = read_ground_shots(settings.ground, home, _clues(settings, drawn, site_crs, unit))
    kept = _kept(listed, settings, frame, site_crs, unit, shown)
    every = _every(listed, frame, site_crs, unit)
    told = [*listed.evidence, *kept.notes]
    if grid is not None and raster is not None:
        bent, notes = corrected(
            grid,
            kept.shots,
            settings.accuracy,
            lift=settings.ground.datum == "shots",
            unit=settings.elevation_unit,
            shown=(grid_shown, shown),
        )
        return GroundRead(
            grid=bent,
            shots=kept.shots,
            tin=None,
            paths=(*raster.paths, *listed.paths),
            assumptions=(*raster.assumptions, *told, *notes),
            shown=grid_shown,
            rod_doubt=0.0,
            whole=True,
            listed=every,
            listed_in=shown,
        )
    tin, drawn_notes = _surface(kept, settings, features, shown)
    fine, cell = tin_grid(tin, settings.length_unit)
    told += [
        *drawn_notes,
        (
            f"ground: {len(tin.triangles)} triangles through {len(kept.shots)} shots and "
            f"{len(tin.breaklines)} breakline edges, carried on nodes "
            f"{units.length_text(cell, settings.length_unit)} apart; "
            "beyond the outermost shots the ground is not known, and between shots it is straight"
        ),
    ]
    return GroundRead(
        grid=fine,
        shots=kept.shots,
        tin=tin,
        paths=listed.paths,
        assumptions=tuple(told),
        shown=shown,
        rod_doubt=float(np.median([point.doubt for point in listed.points if point.elevation is not None])),
        whole=False,
        listed=every,
        listed_in=shown,
    )


def _every(listed: ShotList, frame: Frame, site_crs: CRS | None, unit: float) -> tuple[PlacedShot, ...]:
    """All points in the plan's frame; those that have no place there are told of elsewhere."""
    east, north = (
        np.array([getattr(point, axis) for point in listed.points]) / unit for axis in ("easting", "northing")
    )
    x, y = mover(site_crs, frame.crs)(east, north)
    return tuple(
        PlacedShot(number=point.number, x=float(a), y=float(b), description=point.description)
        for point, a, b in zip(listed.points, x.tolist(), y.tolist(), strict=True)
        if np.isfinite([a, b]).all()
    )


def _coordinates_in(site_crs: CRS | None, shown: str) -> float:
    """Metres in one unit of the site's coordinates; shots need a plane."""
    if site_crs is None:
        return 1.0
    unit = axis_unit(site_crs)
    if unit is None:
        raise InputError(
            f"{SITE_FILE}, crs",
            f"is in degrees, and the shots of {shown} are northings and eastings on a plane",
            "Name the projected CRS that the shots are in.",
        )
    return units.LENGTH[unit]


def _clues(settings: Settings, drawn: Sequence[Drawn], site_crs: CRS | None, unit: float) -> Clues:
    """What the rest of the folder tells about the point list."""
    from shapely import get_coordinates

    ground = settings.ground
    moves: dict[str, Move] = {}
    boxes: list[Box] = []
    places: list[Place] = []
    curbs: list[tuple[Place, ...]] = []
    for feature in drawn:
        if feature.kind not in {"lot", "building", "driveway", "curb", *SOURCE_KINDS}:
            continue
        if feature.file not in moves:
            metres = units.LENGTH[settings.length_unit] if site_crs is None else unit
            moves[feature.file] = _times(mover(feature.crs or site_crs, site_crs), metres)
        corners = tuple(
            (float(east), float(north))
            for east, north in zip(*moves[feature.file](*get_coordinates(feature.geometry).T), strict=True)
        )
        if not np.isfinite(corners).all():
            continue
        if feature.kind == "curb":
            curbs.append(corners)
            continue
        if feature.kind != "driveway":
            places += corners[1:] if len(corners) > 1 else corners  # a ring ends where it begins
        if feature.kind in SOURCE_KINDS:
            continue
        west, south, east, north = feature.geometry.bounds
        x, y = moves[feature.file](np.array([west, east, east, west]), np.array([south, south, north, north]))
        boxes.append((float(x.min()), float(y.min()), float(x.max()), float(y.max())))
    roofs = [feature.attributes["roof_area"] for feature in drawn if "roof_area" in feature.attributes]
    declared = settings.length_unit if site_crs is None else axis_unit(site_crs)
    return Clues(
        plat_sides=ground.plat_sides,
        plat_area=ground.plat_area,
        roof_area=sum(roofs) if roofs else None,
        frontage_bearing=ground.frontage_bearing,
        boxes=tuple(boxes),
        places=tuple(places),
        curbs=tuple(curbs),
        length_unit=declared,
        elevation_unit=settings.elevation_unit,
    )


def _times(move: Move, factor: float) -> Move:
    def scaled(x: Floats, y: Floats) -> tuple[Floats, Floats]:
        east, north = move(x, y)
        return east * factor, north * factor

    return scaled


def _kept(listed: ShotList, settings: Settings, frame: Frame, site_crs: CRS | None, unit: float, shown: str) -> _Kept:
    """Shots that stand on the ground, in the plan's frame, one a place."""
    points = listed.points
    named = settings.ground.not_ground
    absent = sorted(set(named or ()) - {point.number for point in points})
    if absent:
        raise InputError(
            f"{SITE_FILE}, [ground] not_ground",
            f"names {absent[0]}, which {shown} does not hold",
            "Give numbers of its points.",
        )
    left = None if named is None else frozenset(named)
    off = [point.number in left if left is not None else stands_off_ground(point.description) for point in points]
    blank = [point.elevation is None for point in points]
    use = [k for k in range(len(points)) if not off[k] and not blank[k]]
    if not use:
        raise NotGiven(
            shown, "has no shot on the ground with an elevation", "Give elevations, or levels under [ground]."
        )
    east, north = (np.array([getattr(points[k], axis) for k in use]) / unit for axis in ("easting", "northing"))
    x, y = mover(site_crs, frame.crs)(east, north)
    if not np.isfinite([x, y]).all():
        raise InputError(
            shown, "has a shot that has no place in the plan's frame", "Check crs, order and unit of the shots."
        )
    first, belongs = one_a_place(np.column_stack([x, y]))
    place = {k: int(belongs[n]) for n, k in enumerate(use)}
    z = np.array([points[k].elevation for k in use], float)
    notes = _left_out([points[k].number for k in range(len(points)) if off[k]], named is None, sum(blank), shown)
    shots, doubled = [], 0
    for lead, group in zip(first.tolist(), _groups(belongs, len(first)), strict=True):
        spread = float(np.ptp(z[group])) if len(group) > 1 else 0.0
        point = points[use[lead]]
        if len(group) > 1 and spread > 3 * np.sqrt(2) * settings.ground.shots_accuracy:
            numbers = " and ".join(said(points[use[g]].number) for g in group[:3])
            raise InputError(
                shown,
                (
                    f"points {numbers} stand at one place, {units.length_text(spread, settings.elevation_unit)} "
                    "apart in height"
                ),
                "Take the wrong one out, or move the top and bottom of a face a little apart.",
            )
        doubled += len(group) > 1
        if len(group) > 1 and doubled <= _MOST_NAMED:
            notes.append(
                f"{shown}: points {', '.join(said(points[use[g]].number) for g in group[:4])} stand at one "
                "place; their mean height is taken"
            )
        shots.append(
            Shot(
                number=said(point.number),
                x=float(x[lead]),
                y=float(y[lead]),
                z=float(z[group].mean() if len(group) > 1 else z[group[0]]),
                accuracy=_doubt_of([points[use[g]].doubt for g in group], settings.ground.shots_accuracy),
                description=said(point.description),
                file=shown,
            )
        )
    if doubled > _MOST_NAMED:
        notes.append(f"{shown}: so it is at {doubled - _MOST_NAMED} more places where several points stand")
    joined = [*coded_lines(points), *listed.breaklines] if not listed.faces else []
    pairs = [(place[a], place[b]) for a, b in joined if a in place and b in place and place[a] != place[b]]
    faces = [(place[a], place[b], place[c]) for a, b, c in listed.faces if a in place and b in place and c in place]
    return _Kept(tuple(shots), pairs, faces, notes)


def _groups(belongs: NDArray[np.intp], count: int) -> list[NDArray[np.intp]]:
    """Which shots belong to each of so many places, in the order of the list."""
    order = np.argsort(belongs, kind="stable")
    return np.split(order, np.searchsorted(belongs[order], np.arange(1, count)))


def _doubt_of(levels: list[float], shot: float) -> float:
    """One standard deviation of the mean of shots on one place [m].

    What the rod's step adds is common to a set-up, so it stays.
    """
    return float(np.hypot(shot / np.sqrt(len(levels)), max(levels)))


def _left_out(numbers: list[str], by_words: bool, blank: int, shown: str) -> list[str]:
    notes = []
    if numbers:
        why = (
            "their descriptions name no ground (not_ground under [ground] decides otherwise)"
            if by_words
            else "as not_ground in site.toml says"
        )
        more = f" and {len(numbers) - 12} more" if len(numbers) > 12 else ""
        notes.append(
            f"{shown}: points {', '.join(said(one) for one in numbers[:12])}{more} are left out of the ground: {why}"
        )
    if blank:
        notes.append(f"{shown}: {blank} points without an elevation are left out of the ground")
    return notes


def _surface(kept: _Kept, settings: Settings, features: Sequence[Feature], shown: str) -> tuple[Tin, list[str]]:
    xy = np.array([(shot.x, shot.y) for shot in kept.shots])
    z = np.array([shot.z for shot in kept.shots])
    if kept.faces:
        return _given(xy, z, kept), []
    drawn = _drawn_lines(xy, features)
    pairs = [*kept.pairs, *drawn]
    notes = (
        [f"{shown}: {len(kept.pairs)} breakline edges by description, {len(drawn)} along drawn curbs and walls"]
        if pairs
        else []
    )
    try:
        return tin_of(xy, z, pairs), notes
    except CrossingBreaklines as crossing:
        (a, b), (c, d) = (pairs[k] for k in crossing.pairs[0])
        names = [said(kept.shots[k].number) for k in (a, b, c, d)]
        raise InputError(
            shown,
            f"has breaklines that cross: {names[0]} to {names[1]} and {names[2]} to {names[3]}",
            "Number the lines (FL1, FL2), or correct the descriptions.",
        ) from crossing
    except ValueError as error:
        strip = settings.ground.strip
        if strip is None or len(xy) < 2:
            raise NotGiven(
                shown,
                (
                    f"has {len(xy)} shot{'s' if len(xy) > 1 else ''} on the ground, all on one line: no surface "
                    "can be drawn"
                ),
                (
                    "Shoot some ground on both sides; or say strip = 5 under [ground] to take the ground as "
                    "level across the line for that far on each side."
                ),
            ) from error
    wide, across, crossing_pairs = _strip(xy, z, strip)
    notes.append(
        f"{shown}: all shots lie on one line; the ground is taken as level across it for "
        f"{units.length_text(strip, settings.length_unit, 1)} on each side, as strip in site.toml says"
    )
    return tin_of(wide, across, crossing_pairs), notes


def _given(xy: Floats, z: Floats, kept: _Kept) -> Tin:
    """Triangles as the file has them, turned the right way round."""
    triangles = np.array(kept.faces, np.intp)
    a, b, c = (xy[triangles[:, k]] for k in range(3))
    twice = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    triangles = np.where((twice < 0)[:, None], triangles[:, ::-1], triangles)[np.abs(twice) > 1e-12]
    return Tin(xy=xy, z=z, triangles=triangles, breaklines=np.empty((0, 2), np.intp))


def _drawn_lines(xy: Floats, features: Sequence[Feature]) -> list[tuple[int, int]]:
    """Shots that follow one another along a drawn curb or wall."""
    import shapely

    points = shapely.points(xy)
    pairs: dict[tuple[int, int], None] = {}
    for feature in features:
        if feature.kind not in BREAK_KINDS:
            continue
        on = np.flatnonzero(shapely.dwithin(points, feature.geometry, _ON_LINE))
        order = on[np.argsort(shapely.line_locate_point(feature.geometry, points[on]), kind="stable")]
        pairs.update(dict.fromkeys((int(min(a, b)), int(max(a, b))) for a, b in itertools.pairwise(order)))
    return list(pairs)


def _strip(xy: Floats, z: Floats, half: float) -> tuple[Floats, Floats, list[tuple[int, int]]]:
    """Shots on one line with a copy of each on both sides, joined across."""
    _, _, axes = np.linalg.svd(xy - xy.mean(axis=0), full_matrices=False)
    across = np.array([-axes[0, 1], axes[0, 0]])
    n = len(xy)
    wide = np.concatenate([xy, xy + half * across, xy - half * across])
    pairs = [(k, k + n) for k in range(n)] + [(k, k + 2 * n) for k in range(n)]
    return wide, np.tile(z, 3), pairs
