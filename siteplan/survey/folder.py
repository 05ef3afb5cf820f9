"""A site folder in; a Site out. Reads like a table of contents.

Settings, files, frame, ground, places, units, digests.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from siteplan import units
from siteplan.books.kinds import OUTLET_KINDS, SOURCE_KINDS
from siteplan.books.practice import NEAREST_GROUND, OFF_LOT_LINE
from siteplan.errors import InputError, raise_gathered, read_or_gather
from siteplan.site import Feature, Floats, Grid, Site, ground_near, heights
from siteplan.survey.astray import STREET, astray, misplaced
from siteplan.survey.curb_face import with_faces
from siteplan.survey.drains import tied_drains
from siteplan.survey.evidence import cells_inside, challenges, signs_text
from siteplan.survey.features import Drawn, drawn_features
from siteplan.survey.files import digests, said
from siteplan.survey.frame import Frame, Move, axis_unit, choose_frame, crs_of, datum_note, horizontal, mover
from siteplan.survey.grids import Raster, read_grid
from siteplan.survey.ground_files import read_ground
from siteplan.survey.old_pipes import old_pipes_told
from siteplan.survey.plausible import implausible
from siteplan.survey.pumps import NO_LIFTS, tied_pumps
from siteplan.survey.questions import answered
from siteplan.survey.records import VectorFile
from siteplan.survey.settings import SITE_FILE, Settings, read_settings
from siteplan.survey.shot_features import shot_features
from siteplan.survey.spikes import spikes
from siteplan.survey.vectors import read_vectors
from siteplan.survey.what_if import outlets_left
from siteplan.values.asked_for import NOTHING_ASKED, WhatIf
from siteplan.values.water_ends import Source
from siteplan.values.whole_plan import Lift

if TYPE_CHECKING:
    from pyproj import CRS
    from shapely.geometry.base import BaseGeometry

_AT_WALL = 0.15  # drawing accuracy: so near to known ground, or to a wall, a place counts as standing at it [m]
_NEARLY = 3.0  # m off the lot, within which a place is a slip of the hand
OUTSIDE_PART = 0.01  # part of the lot that may lie beyond the grid
STANDING_KINDS = (*SOURCE_KINDS, *OUTLET_KINDS)  # points that need ground
FEWEST_CELLS = 9  # known cells on the lot, below which the grid says nothing about it


def read_site(folder: Path, asked: WhatIf = NOTHING_ASKED, lifts: Mapping[str, Lift] = NO_LIFTS) -> Site:
    """Everything surveyed in a site folder, in metres and one frame.

    Parameters
    ----------
    folder : Path
        Holds site.toml and the files it names. Nothing in it is written.
    asked : WhatIf
        What is asked beside the site's own words: settings over site.toml's, outlets left out of play.
    lifts : mapping of str to Lift
        Where a plan chose to lift sumps that name no discharge, by name of the sump.

    Returns
    -------
    Site
        With digests of every file read and the assumptions made. A source's design flow is its roof area
        times the rain, the rational method with a runoff coefficient of 1; a sump's is its pump rate.

    Raises
    ------
    InputError, InputErrors
        If anything in it cannot be used; the faults of one stage of reading come together.

    References
    ----------
    Roof drainage by plan area times rainfall intensity: the plumbing codes' tables (International Plumbing
    Code, chapter 11, storm drainage; memory). Valid for roofs. Not for: areas that take up water.
    """
    from pyproj.exceptions import ProjError

    folder = Path(folder)
    settings = read_settings(folder, asked)
    try:
        return _read(folder, settings, asked, lifts)
    except ProjError as error:
        raise InputError(
            f"{SITE_FILE}, crs",
            f"{said(settings.crs, 60)} is known and cannot be used with these files: no way leads between their systems",
            "Name the projected CRS that the eastings and northings are in.",
        ) from error


def _read(folder: Path, settings: Settings, asked: WhatIf, chosen: Mapping[str, Lift]) -> Site:
    site_crs = (
        None if settings.crs == "local" else horizontal(crs_of(settings.crs, f"{SITE_FILE}, crs"), f"{SITE_FILE}, crs")
    )
    files, raster = _read_files(folder, settings, site_crs)
    drawn, notes = drawn_features(files, settings.length_unit, settings.elevation_unit)

    frame = _frame(drawn, site_crs, settings)
    moves = {file.file: mover(file.crs or site_crs, frame.crs, frame.unit) for file in files}
    features = _placed(drawn, moves)
    lot = next(feature.geometry for feature in features if feature.kind == "lot")
    centre = (lot.centroid.x, lot.centroid.y)
    ground = read_ground(folder, settings, raster, frame, site_crs, drawn, features, centre)
    grid = ground.grid
    coverage = _lot_on_grid(
        lot, grid, ground.shown, settings.length_unit, lambda outline: _hint(drawn, moves, outline), whole=ground.whole
    )
    outlets_left(features, OUTLET_KINDS, asked)
    places = {(feature.file, feature.number): feature.place for feature in drawn}
    coded = shot_features(ground.listed, features, ground.listed_in, len(drawn) + 1, settings.length_unit)
    places |= coded.places
    features, faces, face_oddities = with_faces((*features, *coded.features), ground.shots, settings.length_unit)
    turned = {
        (one.file, one.number): _turned(one, moves[one.file], lot, grid) for one in drawn if one.kind in STANDING_KINDS
    }
    of_old_pipes = old_pipes_told(features, places)
    features = tied_drains(features, places, settings.length_unit, settings.sizing)
    sources, standing = _sources(features, places, lot, grid, settings, turned)
    lifts = tied_pumps(features, sources, places, grid, settings.length_unit, settings.elevation_unit, chosen)
    features, sources = lifts.features, lifts.sources
    places = {
        (one.file, one.number): one.name for one in features
    } | places  # a box that a plan placed stands in no file

    site = Site(
        name=settings.name,
        crs=frame.text,
        length_unit=settings.length_unit,
        elevation_unit=settings.elevation_unit,
        accuracy=float(np.hypot(settings.accuracy, ground.rod_doubt)),
        grid=grid,
        features=features,
        sources=sources,
        pumps=lifts.pumps,
        lifted=lifts.lifted,
        what_if=asked,
        rules=settings.rules,
        rainfall=settings.rainfall,
        rain=settings.rain,
        sizing=settings.sizing,
        laying=settings.laying,
        inputs=digests(
            folder,
            [
                folder.resolve() / SITE_FILE,
                *ground.paths,
                *(path for file in files for path in file.paths),
                *([settings.profile] if settings.profile else []),
                *([settings.price_file] if settings.price_file else []),
            ],
        ),
        assumptions=(
            *frame.assumptions,
            *_datums(drawn, raster, frame, lot, ground.shown),
            *settings.assumptions,
            *ground.assumptions,
            *_of_files(files),
            *notes,
            *coverage,
            *standing,
            *lifts.notes,
            *faces,
            *coded.notes,
            *of_old_pipes,
        ),
        note=settings.note,
        shots=ground.shots,
        tin=ground.tin,
        shared_accuracy=settings.ground.shared_accuracy,
        survey_crs=frame.survey_crs,
        survey_unit=frame.survey_unit or settings.length_unit,
    )
    site = _units_challenged(site, site_crs, settings)
    oddities = [
        *coded.oddities,
        *face_oddities,
        *astray(drawn, features[: len(drawn)], lot, moves, settings.length_unit),
        *misplaced(features, places, lot, settings.length_unit),
        *implausible(site, places),
        *spikes(site, ground.shown),
    ]
    return replace(site, assumptions=(*site.assumptions, *answered(oddities, settings.confirmed)))


def _shown(folder: Path, path: Path) -> str:
    return path.relative_to(folder.resolve()).as_posix()


def _read_files(folder: Path, settings: Settings, site_crs: CRS | None) -> tuple[tuple[VectorFile, ...], Raster | None]:
    """Feature files and grid, where there is one, the faults of all of them gathered."""
    faults: list[InputError] = []
    files: list[VectorFile] = []
    raster: Raster | None = None
    own = settings.length_unit if site_crs is None else axis_unit(site_crs)
    metres = None if own is None else units.LENGTH[own]
    for path in settings.features:
        shown = _shown(folder, path)
        read = read_or_gather(partial(read_vectors, path, shown, local=site_crs is None, metres=metres), faults)
        if read is not None:
            files.append(read)
    if settings.ground.grid is not None:
        try:
            raster = read_grid(
                settings.ground.grid,
                _shown(folder, settings.ground.grid),
                site_crs=site_crs,
                elevation_unit=settings.elevation_unit,
                confirmed=settings.confirm_units,
            )
        except InputError as fault:
            faults.append(fault)
    raise_gathered(faults)
    return tuple(files), raster


def _of_files(files: Sequence[VectorFile]) -> tuple[str, ...]:
    return tuple(note for file in files for note in file.assumptions)


def _frame(drawn: Sequence[Drawn], site_crs: CRS | None, settings: Settings) -> Frame:
    lot = next(feature for feature in drawn if feature.kind == "lot")
    west, south, east, north = lot.geometry.bounds
    x, y = mover(lot.crs or site_crs, site_crs)(np.array([(west + east) / 2]), np.array([(south + north) / 2]))
    if not np.isfinite([x[0], y[0]]).all():
        raise InputError(lot.place, "has no place in the crs of site.toml", "Check crs, and the lot's coordinates.")
    return choose_frame(site_crs, float(x[0]), float(y[0]), settings.length_unit)


def _placed(drawn: Sequence[Drawn], moves: dict[str, Move]) -> tuple[Feature, ...]:
    """The features in the plan's frame."""
    import shapely

    faults: list[InputError] = []
    placed: list[Feature] = []
    for feature in drawn:
        move = moves[feature.file]
        geometry: BaseGeometry = shapely.transform(
            feature.geometry, lambda xy, move=move: np.column_stack(move(xy[:, 0], xy[:, 1]))
        )
        if not np.isfinite(shapely.get_coordinates(geometry)).all():
            faults.append(
                InputError(
                    feature.place,
                    "has a coordinate that has no place in the plan's frame",
                    "Check the coordinate, and crs in site.toml.",
                )
            )
            continue
        if not geometry.is_valid:
            faults.append(
                InputError(
                    feature.place,
                    (
                        f"is {units.with_article(feature.kind.replace('_', ' '))} too large or too thin to be "
                        "drawn in the plan's frame"
                    ),
                    "Check its coordinates, and crs in site.toml.",
                )
            )
            continue
        placed.append(
            Feature(
                kind=feature.kind,
                name=feature.name,
                geometry=geometry,
                attributes=feature.attributes,
                file=feature.file,
                number=feature.number,
            )
        )
    raise_gathered(faults)
    return tuple(placed)


def _datums(
    drawn: Sequence[Drawn], raster: Raster | None, frame: Frame, lot: BaseGeometry, shown: str
) -> tuple[str, ...]:
    """Which files stand on another datum than the plan, once each."""
    notes: dict[str, str | None] = {}
    for feature in drawn:
        if feature.crs is not None and feature.file not in notes:
            west, south, _, _ = feature.geometry.bounds
            notes[feature.file] = datum_note(feature.crs, frame, feature.file, west, south)
    if raster is not None and raster.crs is not None and frame.crs is not None:
        x, y = mover(frame.crs, raster.crs)(np.array([lot.centroid.x]), np.array([lot.centroid.y]))
        notes[shown] = datum_note(raster.crs, frame, shown, float(x[0]), float(y[0]))
    return tuple(note for note in notes.values() if note)


def _outline(grid: Grid) -> BaseGeometry | None:
    """The grid's edge in the plan's frame; None where it has no image there."""
    from shapely.geometry import Polygon

    rows, cols = grid.z.shape
    t = np.linspace(0, 1, 17)[:-1]
    row = np.concatenate([0 * t, rows * t, 0 * t + rows, rows * (1 - t)]) - 0.5
    col = np.concatenate([cols * t, 0 * t + cols, cols * (1 - t), 0 * t]) - 0.5
    x, y = grid.to_plan(row, col)
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        return None
    outline: BaseGeometry = Polygon(np.column_stack([x, y])).buffer(0)
    return outline


def _lot_on_grid(
    lot: BaseGeometry, grid: Grid, shown: str, unit: str, hint: Callable[[BaseGeometry], str], *, whole: bool
) -> tuple[str, ...]:
    """The lot must lie on the grid, and the grid must know ground on it; shots need not reach all of it."""
    outline = _outline(grid)
    if outline is None or outline.is_empty:
        raise InputError(shown, "reaches beyond what the plan's frame can show", "Crop it to around the lot.")
    part = lot.difference(outline).area / lot.area
    if not lot.intersects(outline):
        away = _away(outline.distance(lot), unit)
        mend = "Check crs in site.toml and in both files, or use the grid of this place."
        what = "grid" if whole else "shots"
        raise InputError(shown, f"the lot lies {away} {_towards(outline, lot)} of the {what}{hint(outline)}", mend)
    if whole and part >= OUTSIDE_PART:
        reach = max(outline.distance(_point(x, y)) for x, y in lot.exterior.coords)
        raise InputError(
            shown,
            f"{part * 100:.0f} % of the lot lies beyond the grid, up to {units.length_text(reach, unit, 1)}",
            "Use a grid that covers the lot and some ground around it.",
        )
    notes = [f"{part * 100:.2f} % of the lot lies beyond {shown}; its ground is not known there"] if part > 1e-9 else []
    _, _, z = cells_inside(grid, lot)
    if not whole:
        everywhere = len(cells_inside(replace(grid, z=np.zeros_like(grid.z)), lot)[2])
        unknown = 1 - (1 - part) * len(z) / max(1, everywhere)
        notes = (
            [f"{shown}: the ground of {unknown * 100:.0f} % of the lot is not known; no line runs there"]
            if unknown > 0.02
            else []
        )
    if len(z) < FEWEST_CELLS:
        size = units.length_text(grid.cell, unit, 1)
        raise InputError(
            shown,
            f"knows the ground of {len(z)} cells on the lot (cells of {size})",
            "Use a finer grid, or one that knows the ground there.",
        )
    return tuple(notes)


def _hint(drawn: Sequence[Drawn], moves: dict[str, Move], outline: BaseGeometry) -> str:
    """What would bring a lot that is far off onto the grid: its order of coordinates or its unit.

    Else how it was read.
    """
    lot = next(feature for feature in drawn if feature.kind == "lot")
    x, y = np.array([lot.geometry.centroid.x]), np.array([lot.geometry.centroid.y])
    degrees = lot.crs is not None and lot.crs.is_geographic
    trials = [("with its coordinates in the other order", y, x)]
    if not degrees:
        trials += [
            ("with its feet as metres", x / units.FOOT, y / units.FOOT),
            ("with its metres as feet", x * units.FOOT, y * units.FOOT),
        ]
    for text, a, b in trials:
        east, north = moves[lot.file](a, b)
        if np.isfinite([east[0], north[0]]).all() and outline.contains(_point(float(east[0]), float(north[0]))):
            return f"; {text} it would lie on it"
    return f"; {lot.file} was read as longitude and latitude" if degrees else ""


def _away(distance: float, unit: str) -> str:
    if distance < 10_000:
        return units.length_text(distance, unit, 1)
    return f"{units.from_metres(distance, unit):,.0f} {units.UNIT_NAMES[unit]}"


def _point(x: float, y: float) -> BaseGeometry:
    from shapely.geometry import Point

    point: BaseGeometry = Point(x, y)
    return point


def _towards(outline: BaseGeometry, lot: BaseGeometry) -> str:
    dx, dy = lot.centroid.x - outline.centroid.x, lot.centroid.y - outline.centroid.y
    names = ("east", "north-east", "north", "north-west", "west", "south-west", "south", "south-east")
    return names[round(float(np.degrees(np.arctan2(dy, dx))) / 45) % 8]


def _turned(one: Drawn, move: Move, lot: BaseGeometry, grid: Grid) -> str:
    """Where a place would lie with its coordinates changed over, when that is on the lot and on known ground.

    Else nothing.
    """
    x, y = move(np.array([one.geometry.y]), np.array([one.geometry.x]))
    if not np.isfinite([x[0], y[0]]).all() or not np.isfinite(heights(grid, x, y)[0]):
        return ""
    near = lot.distance(_point(float(x[0]), float(y[0]))) <= (OFF_LOT_LINE if one.kind in SOURCE_KINDS else STREET)
    return "; with x and y changed over it would lie on the lot's known ground" if near else ""


def _sources(
    features: Sequence[Feature],
    places: dict[tuple[str, int], str],
    lot: BaseGeometry,
    grid: Grid,
    settings: Settings,
    turned: Mapping[tuple[str, int], str],
) -> tuple[tuple[Source, ...], tuple[str, ...]]:
    """Sources with their ground and flow; outlets are looked at too, for they need ground as well."""
    points = [feature for feature in features if feature.kind in STANDING_KINDS]
    x: Floats = np.array([feature.geometry.x for feature in points])
    y: Floats = np.array([feature.geometry.y for feature in points])
    known = heights(grid, x, y)
    faults: list[InputError] = []
    sources: list[Source] = []
    notes: list[str] = []
    unit = settings.length_unit
    walls = [feature.geometry.exterior for feature in features if feature.kind == "building"]
    stray = [
        (feature.file, feature.number)
        for feature, under in zip(points, known.tolist(), strict=True)
        if not np.isfinite(under) or (feature.kind in SOURCE_KINDS and lot.distance(feature.geometry) > OFF_LOT_LINE)
    ]
    # one that would lie better by chance says nothing while another of its file does not
    known_turned = {file: all(turned.get(key) for key in stray if key[0] == file) for file, _ in stray}
    # and a step off the lot alone is a slip of the hand, no matter of the order
    far = {feature.file for feature in points if lot.distance(feature.geometry) > _NEARLY}
    for feature, under in zip(points, known.tolist(), strict=True):
        ground = under
        place = places[feature.file, feature.number]
        off = lot.distance(feature.geometry)
        over = (
            turned.get((feature.file, feature.number), "")
            if known_turned.get(feature.file) and feature.file in far
            else ""
        )
        if feature.kind in SOURCE_KINDS and off > OFF_LOT_LINE:
            faults.append(
                InputError(
                    place,
                    f"lies {_away(off, unit)} outside the lot{over}",
                    "Move it, or correct the lot or crs in site.toml.",
                )
            )
            continue
        sure = bool(np.isfinite(under))
        if not sure:
            try:
                ground, sure, note = _taken(feature, grid, (place, over), settings, walls)
            except InputError as fault:
                faults.append(fault)
                continue
            notes.append(note)
        if feature.kind in SOURCE_KINDS:
            sources.append(_source(feature, f"S{len(sources) + 1}", ground, sure=sure))
    raise_gathered(faults)
    return tuple(sources), tuple(notes)


def _taken(
    feature: Feature, grid: Grid, place: tuple[str, str], settings: Settings, walls: Sequence[BaseGeometry]
) -> tuple[float, bool, str]:
    """Height of the nearest known ground, whether that is the ground there, and the sentence that says so.

    Grids know no ground under a house. What stands on the wall stands beside it: the ground there is known as soon as
    the cell that the wall runs through, or the next one, is.
    """
    unit, limit = settings.length_unit, units.length_text(NEAREST_GROUND, settings.length_unit, 1)
    x, y = feature.geometry.x, feature.geometry.y
    near = ground_near(grid, x, y, NEAREST_GROUND)
    if near is None:
        wider = ground_near(grid, x, y, 100.0)
        where = (
            f"the nearest known ground is {units.length_text(wider[1], unit, 1)} away"
            if wider
            else "no ground is known around it"
        )
        raise InputError(
            place[0],
            f"stands where the ground is not known, and {where} (at most {limit}){place[1]}",
            "Move it onto known ground, or use a grid that knows the ground there.",
        )
    height, away = near
    reading = units.length_text(height, settings.elevation_unit)
    at_wall = any(wall.distance(feature.geometry) <= _AT_WALL for wall in walls)
    if away <= (max(_AT_WALL, grid.cell / np.sqrt(2)) if at_wall else _AT_WALL):
        beside = "at a wall" if at_wall else "at the edge of the ground that is known"
        return (
            height,
            True,
            f'"{feature.name}" ({feature.kind}) stands {beside}; the ground beside it, {reading}, is taken',
        )
    return (
        height,
        False,
        (
            f'"{feature.name}" ({feature.kind}) stands where the ground is not known; the nearest known height, '
            f"{reading}, {units.length_text(away, unit, 1)} away, is taken"
        ),
    )


def _source(feature: Feature, ident: str, ground: float, *, sure: bool) -> Source:
    has = feature.attributes
    return Source(
        id=ident,
        kind=feature.kind,
        name=feature.name,
        x=feature.geometry.x,
        y=feature.geometry.y,
        ground=ground,
        ground_known=sure,
        invert_limit=has.get("invert"),
        roof_area=has.get("roof_area"),
        pump_rate=has.get("pump_rate"),
        note=has.get("note", ""),
    )


def _units_challenged(site: Site, site_crs: CRS | None, settings: Settings) -> Site:
    coordinates_in = settings.length_unit if site_crs is None else axis_unit(site_crs)
    faults = challenges(site, coordinates_in=coordinates_in)
    if not settings.confirm_units:
        raise_gathered(faults)
        return site
    passed = signs_text(faults) or (
        "confirm_units in site.toml: the units were confirmed by hand; nothing spoke against them",
    )
    return replace(site, assumptions=(*site.assumptions, *passed))
