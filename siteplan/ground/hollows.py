"""Site in; out: its wet low spots: hollows of the ground, marked wet areas, sprinklers' zones."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.books.practice import HOLLOW_SEEN, HOLLOWS_AROUND, SPRINKLER_RADIUS, UNSURE_HOLLOWS_AROUND
from siteplan.books.rules import LOW_SPOT_DOUBT, needed
from siteplan.ground.cells import cells_within, centre
from siteplan.ground.fill import PLAIN_CELLS, Engine, Hole
from siteplan.ground.outline import outline
from siteplan.ground.runoff import Surface, runoff_surface
from siteplan.site import Feature, Site
from siteplan.values.drawn_shapes import Ring
from siteplan.values.forecasts import LowSpot

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Labels = NDArray[np.int32]

_CORNERS = 48  # of the polygon that stands for a sprinkler's circle

HOLE_ASSUMPTION = {
    "wall": "Ground that the survey does not know inside the grid holds surface water back like a wall; "
    "at the grid's edge water leaves.",
    "outlet": "Ground that the survey does not know inside the grid swallows surface water; "
    "at the grid's edge water leaves.",
}
BUILDING_ASSUMPTION = (
    "Buildings hold surface water back; elevations that the grid gives under them (floors, basement pits) "
    "are not used, "
    "and roof water is not counted as running off over the ground."
)


def label_groups(raised: Bools, *, engine: Engine = "auto") -> tuple[Labels, int]:
    """Number the groups of marked cells that hang together over sides or corners.

    Parameters
    ----------
    raised : ndarray of bool, shape (rows, cols)
        The marked cells. Two filled cells side by side always stand at one level, so the groups of
        filled > ground are the hollows.
    engine : {'auto', 'plain', 'compiled'}
        Plain Python, or numba on big grids; the answers are the same.

    Returns
    -------
    labels : ndarray of int, shape (rows, cols)
        From 1 in the order of each group's first cell, row by row; 0 elsewhere.
    count : int
        How many groups.
    """
    if engine == "compiled" or (engine == "auto" and raised.size > PLAIN_CELLS):
        from siteplan.ground.compiled_flow import label_compiled

        return label_compiled(raised)
    rows, cols = raised.shape
    stride = cols + 2
    padded = np.zeros((rows + 2, stride), np.uint8)
    padded[1:-1, 1:-1] = raised
    left = bytearray(padded.tobytes())
    around = (-stride - 1, -stride, -stride + 1, -1, 1, stride - 1, stride, stride + 1)
    labels = np.zeros((rows + 2) * stride, np.int32)
    count = 0
    for start in np.flatnonzero(padded.ravel()).tolist():
        if not left[start]:
            continue
        count += 1
        left[start] = 0
        group = [start]
        for i in group:  # grows while it is walked
            for step in around:
                if left[i + step]:
                    left[i + step] = 0
                    group.append(i + step)
        labels[group] = count
    return labels.reshape(rows + 2, stride)[1:-1, 1:-1].copy(), count


def hollow_table(ground: Floats, filled: Floats, area: Floats, labels: Labels, count: int) -> Floats:
    """Depth, area, volume and spill level of every hollow.

    Parameters
    ----------
    ground, filled : ndarray, shape (rows, cols) [m]
        Before and after filling.
    area : ndarray, shape (rows, cols) [m2]
        True area of each cell.
    labels : ndarray of int, shape (rows, cols)
        From `label_groups`.
    count : int
        How many hollows there are.

    Returns
    -------
    ndarray, shape (count, 4)
        Greatest depth [m], area [m2], volume [m3], spill elevation [m]; row k is label k + 1.
    """
    at = np.flatnonzero(labels)
    which = labels.ravel()[at] - 1
    size = area.ravel()[at]
    depth = filled.ravel()[at] - ground.ravel()[at]
    table = np.zeros((count, 4))
    np.maximum.at(table[:, 0], which, depth)
    table[:, 1] = np.bincount(which, size, minlength=count)
    table[:, 2] = np.bincount(which, size * depth, minlength=count)
    table[which, 3] = filled.ravel()[at]  # one level in each hollow
    return table


def low_spots(
    site: Site,
    *,
    hole: Hole = "wall",
    buildings: bool = True,
    near: float = HOLLOWS_AROUND,
    least_depth: float = HOLLOW_SEEN,
    surface: Surface | None = None,
) -> tuple[LowSpot, ...]:
    """The wet low spots of a lot.

    Parameters
    ----------
    site : Site
        As surveyed.
    hole : {'wall', 'outlet'}
        What an inner no-data hole does to water (`fill.fill`).
    buildings : bool
        True: cells whose centre lies in a building hold water back (`runoff.runoff_surface`).
    near : float
        Hollows farther than this from the lot are left out [m]; those that the survey cannot tell, already beyond
        `UNSURE_HOLLOWS_AROUND`.
    least_depth : float
        Hollows shallower than this are left out [m].
    surface : Surface, optional
        From `runoff.runoff_surface`, when it is at hand; `hole` and `buildings` are then without meaning.

    Returns
    -------
    tuple of LowSpot
        Hollows, deepest first, then wet areas, then sprinklers in the order read; ids LS1, LS2, ... for low spot (one
        letter, such as W, is a buried service's on these sheets). A hollow is certain when its depth is at or above the
        rule `low-spot-doubt` times the survey's accuracy; what a person marked is certain. Depth, volume and spill of a
        marked area are those of the ground inside it, 0 and None where it stands in no hollow or the ground is unknown;
        area is the marked one, and nothing is known of a sprinkler's depth. Catchment is the ground that drains into
        the hollow, itself included, without roofs.

    References
    ----------
    `HOLLOW_SEEN`, `HOLLOWS_AROUND`, `SPRINKLER_RADIUS`: see the book of practice.
    """
    surface = runoff_surface(site, hole=hole, buildings=buildings) if surface is None else surface
    labels, count = label_groups(surface.filled > surface.ground)
    table = hollow_table(surface.ground, surface.filled, surface.area, labels, count)
    spots = [
        *_hollows(site, surface, labels, table, near=near, least_depth=least_depth),
        *(spot for feature in site.of_kind("wet_area") for spot in _wet_areas(feature, surface, labels, least_depth)),
        *(_sprinkler(feature) for feature in site.of_kind("sprinkler")),
    ]
    return tuple(replace(spot, id=f"LS{number}") for number, spot in enumerate(spots, 1))


def assumptions(site: Site, *, hole: Hole = "wall", buildings: bool = True) -> tuple[str, ...]:
    """What `low_spots` takes for granted on this site, as sentences for the plan.

    Parameters
    ----------
    site : Site
        As surveyed.
    hole, buildings
        As for `low_spots`.

    Returns
    -------
    tuple of str
        Only those that bear on this site.
    """
    texts = []
    if np.isnan(site.grid.z).any():
        texts.append(HOLE_ASSUMPTION[hole])
    if buildings and site.of_kind("building"):
        texts.append(BUILDING_ASSUMPTION)
    if site.of_kind("lot"):
        far, unsure = (
            units.length_text(reach, site.length_unit, 1) for reach in (HOLLOWS_AROUND, UNSURE_HOLLOWS_AROUND)
        )
        texts.append(
            f"Hollows are kept within {far} of the lot, those too shallow for this survey to tell within "
            f"{unsure}; what lies farther off is left out."
        )
    if any(_radius(feature) is None for feature in site.of_kind("sprinkler")):
        reach = units.length_text(SPRINKLER_RADIUS, site.length_unit)
        texts.append(
            f"A sprinkler wets the ground within {reach} of it where no radius is given (common practice, no source)."
        )
    return tuple(texts)


def _hollows(
    site: Site, surface: Surface, labels: Labels, table: Floats, *, near: float, least_depth: float
) -> Iterator[LowSpot]:
    """Hollows of the ground at or near the lot, deepest first, equal ones in the order of their first cell."""
    doubt = needed(site.rules, LOW_SPOT_DOUBT) * site.accuracy
    lots = [feature.geometry for feature in site.of_kind("lot")]
    cells = _cells_by_label(labels, len(table))
    for k in np.argsort(-table[:, 0], kind="stable").tolist():
        depth, area, volume, level = table[k].tolist()
        if depth < least_depth:
            break
        row, col = np.divmod(cells[k], labels.shape[1])
        reach = near if depth >= doubt else min(near, UNSURE_HOLLOWS_AROUND)
        if lots and not _may_touch(surface, row, col, lots, reach):
            continue
        rings = outline(surface.grid, row, col)
        if lots and not _touches(rings, lots, reach):
            continue
        spill, catchment = _spill(surface, labels, k + 1, cells[k])
        yield LowSpot(
            id="",
            kind="hollow",
            depth=depth,
            area=area,
            volume=volume,
            spill_elevation=level,
            spill=spill,
            catchment=catchment,
            certain=depth >= doubt,
            rings=rings,
        )


def _cells_by_label(labels: Labels, count: int) -> list[NDArray[np.intp]]:
    at = np.flatnonzero(labels)
    at = at[np.argsort(labels.ravel()[at], kind="stable")]
    return np.split(at, np.searchsorted(labels.ravel()[at], np.arange(2, count + 1))) if count else []


def _may_touch(
    surface: Surface, row: NDArray[np.intp], col: NDArray[np.intp], lots: list[BaseGeometry], near: float
) -> bool:
    """A cheap no for hollows far from the lot, by the rectangles round both."""
    x, y = surface.grid.to_plan(row.astype(float), col.astype(float))
    reach = near + 2 * surface.grid.cell
    for lot in lots:
        left, low, right, high = lot.bounds
        if x.min() <= right + reach and x.max() >= left - reach and y.min() <= high + reach and y.max() >= low - reach:
            return True
    return False


def _touches(rings: tuple[Ring, ...], lots: list[BaseGeometry], near: float) -> bool:
    from shapely.geometry import Polygon

    shape = Polygon(rings[0], rings[1:])
    return any(bool(shape.distance(lot) <= near) for lot in lots)


def _spill(surface: Surface, labels: Labels, label: int, cells: NDArray[np.intp]) -> tuple[tuple[float, float], float]:
    """Where a hollow spills (the cell on its rim that carries most) and how much ground drains into it."""
    member, down = labels.ravel(), surface.down.ravel()
    filled, gathered = surface.filled.ravel(), surface.gathered.ravel()
    level = filled[cells[0]]
    ways_out = cells[member[down[cells]] != label]
    through: dict[int, float] = {}
    for out in ways_out.tolist():
        rim = onto = int(down[out])
        # a way over the level rim may lead back into the hollow; what it carries is counted where it leaves for good
        while onto >= 0 and filled[onto] == level and member[onto] != label:
            onto = int(down[onto])
        if onto < 0 or member[onto] != label:
            through[rim] = through.get(rim, 0.0) + float(gathered[out])
    rim = min(through, key=lambda cell: (-through[cell], cell))
    return centre(surface.grid, rim), math.fsum(through.values())


def _wet_areas(feature: Feature, surface: Surface, labels: Labels, least_depth: float) -> Iterator[LowSpot]:
    """One low spot for each part of a marked wet area, with what the ground inside it says."""
    from shapely.geometry import MultiPolygon
    from shapely.geometry.polygon import orient

    shape = feature.geometry
    for part in shape.geoms if isinstance(shape, MultiPolygon) else (shape,):
        inside = np.flatnonzero(cells_within(surface.grid, (part,)) & (labels > 0))
        stands = surface.filled.ravel()[inside] - surface.ground.ravel()[inside]
        depth = float(stands.max()) if len(inside) else 0.0
        wet = depth >= least_depth
        level, spill, catchment = None, None, None
        if wet:
            deepest = int(inside[int(np.argmax(stands))])
            label = int(labels.ravel()[deepest])
            level = float(surface.filled.ravel()[deepest])
            spill, catchment = _spill(surface, labels, label, np.flatnonzero(labels == label))
        tidy = orient(part, 1.0)
        yield LowSpot(
            id="",
            kind="wet_area",
            depth=depth if wet else 0.0,
            area=float(part.area),
            volume=float(stands @ surface.area.ravel()[inside]) if wet else 0.0,
            spill_elevation=level,
            spill=spill,
            catchment=catchment,
            certain=True,
            rings=tuple(
                tuple((float(x), float(y)) for x, y, *_ in ring.coords) for ring in (tidy.exterior, *tidy.interiors)
            ),
        )


def _sprinkler(feature: Feature) -> LowSpot:
    radius = _radius(feature) or SPRINKLER_RADIUS
    x, y = feature.geometry.x, feature.geometry.y
    ring = [
        (x + radius * math.cos(k * math.tau / _CORNERS), y + radius * math.sin(k * math.tau / _CORNERS))
        for k in range(_CORNERS)
    ]
    return LowSpot(
        id="",
        kind="sprinkler",
        depth=0.0,
        area=math.pi * radius**2,
        volume=0.0,
        spill_elevation=None,
        spill=None,
        catchment=None,
        certain=True,
        rings=((*ring, ring[0]),),
    )


def _radius(feature: Feature) -> float | None:
    """A sprinkler's radius [m] where the site gives a usable one."""
    radius = feature.attributes.get("radius")
    usable = isinstance(radius, int | float) and not isinstance(radius, bool) and math.isfinite(radius) and radius > 0
    return float(radius) if usable and radius is not None else None
