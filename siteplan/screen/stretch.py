"""A stretch of the parcels in; each of its lots screened, out.

Runs in a process of its own, and reads what it needs and no more.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from siteplan.errors import InputError, SiteplanError
from siteplan.pool.program import program_digest
from siteplan.screen.answers import AnswersAt, answer_key, answer_line, answers_in
from siteplan.screen.asked import LotScreen, PlaceToShoot, ScreenAsked, ScreenWhy
from siteplan.screen.coarse import coarse_site, corners_of, house_of, lowest_apart, screen_rules, street_places
from siteplan.screen.judged import Judged, judged_site
from siteplan.screen.layers import Parcel, layer_head, near_by, parcels_from
from siteplan.screen.tiles import TileSet, close_tiles, tile_set
from siteplan.site import heights
from siteplan.survey.frame import Frame, choose_frame, crs_of, mover

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_BLOCK = 400.0  # m: parcels of one block are looked at together, with what lies near the block
_ROUND = 6.0  # m of ground beyond a lot and its outlets
LEAST_SHAPE = {"--buildings": 2, "--streets": 1}  # dimensions of what counts
_SIMPLER = 0.02  # m of a parcel's outline


@dataclass(frozen=True, slots=True, kw_only=True)
class StretchTask:
    """So many parcels from one on.

    Attributes
    ----------
    asked : ScreenAsked
        Files and how to read them.
    first, count : int
        Parcels before it, and in it.
    program, inputs : str
        Digests: of the program that asks, and of when its files were written.
    earlier : tuple of AnswersAt
        Where answers may stand already.
    """

    asked: ScreenAsked
    first: int
    count: int
    program: str
    inputs: str
    earlier: tuple[AnswersAt, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StretchDone:
    """Lots in the order of the file; the lines of their answers; how many of these were worked out now."""

    lots: tuple[LotScreen, ...]
    answers: bytes
    now: int


@dataclass(slots=True)
class _Desk:
    """What a process has at hand for one stretch, and what it has worked out."""

    asked: ScreenAsked
    program: str
    earlier: dict[str, Judged]
    lines: dict[int, bytes]
    now: int = 0


@lru_cache(maxsize=4)
def county_frame(parcels: str) -> Frame:
    """The frame in metres that all lots of a layer are judged in.

    Parameters
    ----------
    parcels : str
        The layer.

    Returns
    -------
    Frame
        About its first parcel that can be used.

    Raises
    ------
    InputError
        If it holds none with an area.
    """
    head = layer_head(parcels, "--parcels")
    for first in range(0, head.count, 200):
        for parcel in parcels_from(head, first, 200, None):
            if parcel.shape is not None:
                x, y = parcel.shape.centroid.x, parcel.shape.centroid.y
                return choose_frame(head.crs, float(x), float(y), "m", "--parcels")
    raise InputError("--parcels", "holds no parcel with an area", "Name a layer of polygons.")


@lru_cache(maxsize=4)
def _tiles(elevation: str, unit: str | None) -> TileSet:
    return tile_set(Path(elevation), unit)


def forget_files() -> None:
    """Let go of what this process holds of files: they may have been written anew."""
    layer_head.cache_clear()
    county_frame.cache_clear()
    _tiles.cache_clear()
    close_tiles()


@lru_cache(maxsize=1)
def _begin(inputs: str) -> None:  # noqa: ARG001 - called again when it is another
    forget_files()


def screened_stretch(task: StretchTask) -> StretchDone:
    """Screen a stretch of the parcels.

    Parameters
    ----------
    task : StretchTask
        Which.

    Returns
    -------
    StretchDone
        One lot for each feature that may be one. A lot on which an earlier answer still hangs as it hung then is not
        worked out again.

    Raises
    ------
    InputError
        If a file cannot be read, or this process runs another program than the one that asks.
    """
    if program_digest() != task.program:
        raise InputError(
            "siteplan",
            "a process runs another siteplan, or other libraries, than the one that asked it",
            "Install the same everywhere, and run the same command again.",
        )
    _begin(task.inputs)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        head = layer_head(task.asked.parcels, "--parcels")
        parcels = parcels_from(head, task.first, task.count, task.asked.name_field)
        desk = _Desk(asked=task.asked, program=task.program, earlier=answers_in(task.earlier), lines={})
        found = [one for block in _blocks(parcels, task.asked) for one in _screened(block, desk)]
    found.sort(key=lambda one: one.number)
    return StretchDone(
        lots=tuple(found), answers=b"".join(line for _, line in sorted(desk.lines.items())), now=desk.now
    )


def _blocks(parcels: Sequence[Parcel], asked: ScreenAsked) -> Iterator[list[tuple[Parcel, BaseGeometry | None]]]:
    """Parcels in the county's frame, those of one block together."""
    import shapely

    head, frame = layer_head(asked.parcels, "--parcels"), county_frame(asked.parcels)
    there = mover(head.crs, frame.crs)
    held: dict[tuple[int, int], list[tuple[Parcel, BaseGeometry | None]]] = {}
    for parcel in parcels:
        lot = None
        if parcel.shape is not None:
            lot = shapely.transform(parcel.shape, lambda xy: np.column_stack(there(xy[:, 0], xy[:, 1])))
            lot = lot.simplify(_SIMPLER) if np.isfinite(shapely.get_coordinates(lot)).all() else None
        if lot is None or not lot.is_valid or lot.is_empty:
            held.setdefault((0, 0), []).append((parcel, None))
            continue
        key = (math.floor(lot.centroid.x / _BLOCK), math.floor(lot.centroid.y / _BLOCK))
        held.setdefault(key, []).append((parcel, lot))
    yield from held.values()


def _screened(block: Sequence[tuple[Parcel, BaseGeometry | None]], desk: _Desk) -> Iterator[LotScreen]:
    import shapely

    asked = desk.asked
    lots = [lot for _, lot in block if lot is not None]
    beside: list[list[BaseGeometry]] = [[], []]
    if lots:
        frame = county_frame(asked.parcels)
        west, south, east, north = shapely.total_bounds(lots)
        far = asked.half_street + 20.0
        bounds = (float(west) - far, float(south) - far, float(east) + far, float(north) + far)
        assert frame.crs is not None
        for place, (path, option) in enumerate(((asked.buildings, "--buildings"), (asked.streets, "--streets"))):
            if path is not None:
                beside[place] = near_by(layer_head(path, option), bounds, frame.crs, LEAST_SHAPE[option])
    trees = [shapely.STRtree(one) if one else None for one in beside]

    def near(which: int, lot: BaseGeometry, far: float) -> list[BaseGeometry]:
        tree = trees[which]
        return (
            []
            if tree is None
            else [beside[which][k] for k in sorted(tree.query(lot, predicate="dwithin", distance=far))]
        )

    for parcel, lot in block:
        if lot is None:
            yield LotScreen(number=parcel.number, name=parcel.name, state="cannot-tell", why="no-outline")
        else:
            yield _safely(parcel, lot, near(0, lot, 0.0), near(1, lot, asked.half_street + 20.0), desk)


def _safely(
    parcel: Parcel, lot: BaseGeometry, buildings: list[BaseGeometry], streets: list[BaseGeometry], desk: _Desk
) -> LotScreen:
    """One lot; a fault of ours in it ends no other."""
    try:
        return _one(parcel, lot, buildings, streets, desk)
    except SiteplanError:
        raise
    except Exception:  # noqa: BLE001 - it is told, and the exit code is that of a fault
        return _unknown(_plain(parcel, lot, county_frame(desk.asked.parcels), drawn=False), "fault")


def _one(
    parcel: Parcel, lot: BaseGeometry, buildings: list[BaseGeometry], streets: list[BaseGeometry], desk: _Desk
) -> LotScreen:
    import shapely

    from siteplan.ground.hollows import low_spots
    from siteplan.survey.grids import grid_in_plan

    asked = desk.asked
    frame, tiles = county_frame(asked.parcels), _tiles(asked.elevation, asked.elevation_unit)
    house = house_of(lot, buildings)
    places = street_places(lot, streets, asked.half_street)
    area = shapely.union_all([lot, shapely.MultiPoint(places)]).buffer(_ROUND) if len(places) else lot.buffer(_ROUND)
    outline = shapely.get_coordinates(area)
    x, y = mover(frame.crs, tiles.crs)(outline[:, 0], outline[:, 1])
    plain = _plain(parcel, lot, frame, drawn=house is not None)
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        return _unknown(plain, "no-ground")
    raster = tiles.window((float(x.min()), float(y.min()), float(x.max()), float(y.max())))
    if raster is None or not np.isfinite(raster.z).any():
        return _unknown(plain, "no-ground")
    grid = grid_in_plan(raster, frame, float(lot.centroid.x), float(lot.centroid.y))
    corners = corners_of(lot, house)
    known = heights(grid, *np.array(corners, float).reshape(-1, 2).T)
    if not corners:
        return _unknown(plain, "no-corner")
    if not np.isfinite(known).all():
        return _unknown(plain, "no-ground")
    outlets = lowest_apart(places, grid) if len(places) else places
    key = answer_key(desk.program, asked, frame.text, (lot, *buildings), (corners, outlets), raster)
    judged = desk.earlier.get(key)
    if judged is None:
        rules, accuracy = screen_rules(asked.min_grade), asked.accuracy
        site = coarse_site(lot, buildings, corners, outlets, grid, crs=frame.text, accuracy=accuracy, rules=rules)
        judged = judged_site(site, low_spots(site))
        desk.now += 1
    desk.lines[parcel.number] = answer_line(parcel.number, key, judged)
    return _found(plain, judged, asked)


def _plain(parcel: Parcel, lot: BaseGeometry, frame: Frame, *, drawn: bool) -> LotScreen:
    """The lot with its outlines, before anything is judged."""
    import shapely

    assert parcel.shape is not None
    own, ring = shapely.get_coordinates(parcel.shape.exterior), shapely.get_coordinates(lot.exterior)
    lon, lat = mover(frame.crs, crs_of("EPSG:4326", "--parcels"))(ring[:, 0], ring[:, 1])
    return LotScreen(
        number=parcel.number,
        name=parcel.name,
        state="cannot-tell",
        drawn_house=drawn,
        ring=tuple((round(float(a), 7), round(float(b), 7)) for a, b in zip(lon, lat, strict=True)),
        own_ring=tuple((float(a), float(b)) for a, b in own),
    )


def _unknown(plain: LotScreen, why: ScreenWhy) -> LotScreen:
    return replace(plain, why=why)


def _found(plain: LotScreen, judged: Judged, asked: ScreenAsked) -> LotScreen:
    shots: list[PlaceToShoot] = []
    if judged.state == "cannot-tell":
        back = mover(county_frame(asked.parcels).crs, layer_head(asked.parcels, "--parcels").crs)
        corner, end = judged.deciding
        for place, what in ((end, "outlet"), (corner, "corner")):
            if place is not None:
                x, y = back(np.array([place[0]]), np.array([place[1]]))
                shots.append(
                    PlaceToShoot(x=float(x[0]), y=float(y[0]), what="outlet" if what == "outlet" else "corner")
                )
    return replace(
        plain,
        state=judged.state,
        margin=judged.margin,
        street=judged.street,
        rear=judged.rear,
        chance=judged.chance,
        why=judged.why,
        shots=tuple(shots),
    )
