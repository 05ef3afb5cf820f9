"""Site and low spots in; the yard out: a square net of places where a line may pass, with its limits and prices.

Rows run south from the north-west corner; a border of closed cells two wide saves the kernels their bounds tests.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from siteplan.books.prices import Prices
from siteplan.routes.terms import Terms
from siteplan.survey.site import Site, heights
from siteplan.units import FOOT, INCH
from siteplan.values import LowSpot, Outlet

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]

BORDER = 2
CELLS = 5000  # open cells aimed at on one lot
FINEST = 0.4  # m
COARSEST = 3.0  # m
STREET_WIDTH = 2.0  # m each side of the straight way to an outlet off the lot
CLEAR = 0.005  # m beyond the clearance asked for, so that keeping it is no matter of rounding
MARGIN = 0.004  # m kept from the ceiling, so that the exact proof on the finished line has room
NEAR_LOT_LINE = 1.0  # m
NEAR_WALL = 1.5  # m
ROOTS = 6 * FOOT  # root circle of a tree whose trunk is not given


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grounds:
    """Where a line may run, as polygons in the plan's frame."""

    lot: BaseGeometry
    street: BaseGeometry  # off the lot, on the way to an outlet in the right of way
    barred: BaseGeometry  # no-dig areas and neighbours widened by half a trench, buildings by the clearance asked for
    solid: BaseGeometry  # the same, not widened: what a line may never cross
    vehicles: BaseGeometry  # driveways, and paving that is said to carry vehicles
    pavements: tuple[BaseGeometry, ...]  # each driveway, walk and paving by itself
    priced: tuple[tuple[BaseGeometry, float], ...]  # area and surcharge per metre


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Yard:
    """The net. Arrays are flat, (rows * cols,), border included; elevations [m]."""

    west: float  # x of the centres of column 0
    north: float  # y of the centres of row 0
    cell: float
    rows: int
    cols: int
    ground: Floats
    ceiling: Floats
    floor: Floats
    rate: Floats
    is_open: NDArray[np.uint8]
    grounds: Grounds

    def places(self, nodes: NDArray[Any]) -> Floats:
        """Coordinates of cells, shape (n, 2) [m]."""
        row, col = np.divmod(np.asarray(nodes), self.cols)
        return np.column_stack((self.west + col * self.cell, self.north - row * self.cell))

    def node_at(self, x: float, y: float) -> int:
        """Cell whose centre is nearest to a place; -1 off the net."""
        col = round((x - self.west) / self.cell)
        row = round((self.north - y) / self.cell)
        if not (0 <= row < self.rows and 0 <= col < self.cols):
            return -1
        return row * self.cols + col

    def near(self, x: float, y: float, radius: float) -> NDArray[np.intp]:
        """Open cells within a radius of a place, in order of cell number."""
        nodes = np.flatnonzero(self.is_open)
        place = self.places(nodes)
        return nodes[np.hypot(place[:, 0] - x, place[:, 1] - y) <= radius]


def grounds_of(
    site: Site, outlets: Sequence[Outlet], low_spots: Sequence[LowSpot], terms: Terms, prices: Prices
) -> Grounds:
    """Where a line may run and what it costs there.

    Parameters
    ----------
    site : Site
        The surveyed site.
    outlets : sequence of Outlet
        Named outlets; those off the lot open a strip of street.
    low_spots : sequence of LowSpot
        Wet ground, priced.
    terms : Terms
        Half a trench is kept from what is barred [m].
    prices : Prices
        Relative surcharges.

    Returns
    -------
    Grounds
        Polygons in the plan's frame [m].
    """
    import shapely
    from shapely.geometry import LineString, Point, Polygon
    from shapely.ops import nearest_points

    def union(*kinds: str) -> BaseGeometry:
        return shapely.union_all([feature.geometry for feature in site.of_kind(*kinds)])

    lot = union("lot")
    solid = union("building", "no_dig", "neighbour")
    strips = []
    for outlet in outlets:
        place = Point(outlet.x, outlet.y)
        if lot.distance(place) > 0:
            edge = nearest_points(lot, place)[0]
            strips.append(LineString([edge, place]).buffer(STREET_WIDTH))
    street = shapely.union_all(strips).difference(lot).difference(solid) if strips else Polygon()
    buildings = union("building")
    priced: list[tuple[BaseGeometry, float]] = [
        (union("driveway"), prices.driveway),
        (union("paving"), prices.paving),
        (union("walk"), prices.walk),
        (shapely.union_all([Polygon(spot.rings[0], spot.rings[1:]) for spot in low_spots if spot.rings]), prices.wet),
        (
            shapely.union_all(
                [
                    Point(tree.geometry.x, tree.geometry.y).buffer(root_radius(tree.attributes.get("diameter")))
                    for tree in site.of_kind("tree")
                ]
            ),
            prices.roots,
        ),
        (buildings.buffer(NEAR_WALL), prices.wall_side),
        (lot.boundary.buffer(NEAR_LOT_LINE), prices.lot_line),
        (street, prices.street),
    ]
    vehicles = shapely.union_all(
        [
            *(f.geometry for f in site.of_kind("driveway")),
            *(f.geometry for f in site.of_kind("paving") if f.attributes.get("vehicle")),
        ]
    )
    kept_clear = max(terms.half_trench, terms.wall_clearance + CLEAR)
    barred = shapely.union_all([buildings.buffer(kept_clear), union("no_dig", "neighbour").buffer(terms.half_trench)])
    for area in (lot, street, barred, solid, vehicles, *(area for area, _ in priced)):
        shapely.prepare(area)
    return Grounds(
        lot=lot, street=street, barred=barred, solid=solid, vehicles=vehicles,
        pavements=tuple(feature.geometry for feature in site.of_kind("driveway", "walk", "paving")),
        priced=tuple((area, price) for area, price in priced if not area.is_empty),
    )  # fmt: skip


def root_radius(trunk: float | None) -> float:
    """Radius of the root circle of a tree: 1 ft for each inch of trunk.

    Parameters
    ----------
    trunk : float or None
        Diameter of the trunk [m]; None: not given, 6 ft are taken.

    Returns
    -------
    float
        Radius [m].

    References
    ----------
    City tree ordinance (no trench within 1 ft per inch of trunk), local.
    """
    return ROOTS if trunk is None else trunk / INCH * FOOT


def yard_of(site: Site, grounds: Grounds, terms: Terms, prices: Prices, *, cell: float | None = None) -> Yard:
    """The net of places where a line may pass.

    Parameters
    ----------
    site : Site
        The surveyed site; its ground is sampled at the net's places.
    grounds : Grounds
        Where a line may run.
    terms : Terms
        Cover, depth and pipe.
    prices : Prices
        Relative prices.
    cell : float, optional
        Spacing of the net [m]; chosen from the lot's size when absent.

    Returns
    -------
    Yard
        With ceilings lowered by the planning margin of 4 mm.
    """
    import shapely

    reachable = shapely.union_all([grounds.lot, grounds.street])
    if cell is None:
        cell = min(COARSEST, max(FINEST, round(math.sqrt(reachable.area / CELLS), 2)))
    low_x, low_y, high_x, high_y = reachable.bounds
    cols = int((high_x - low_x) / cell) + 2 + 2 * BORDER
    rows = int((high_y - low_y) / cell) + 2 + 2 * BORDER
    west = math.floor(low_x / cell) * cell - BORDER * cell
    north = math.ceil(high_y / cell) * cell + BORDER * cell
    col, row = np.meshgrid(np.arange(cols), np.arange(rows))
    x = (west + col * cell).ravel()
    y = (north - row * cell).ravel()
    ground = heights(site.grid, x, y)
    within = shapely.intersects_xy(reachable, x, y) & ~shapely.intersects_xy(grounds.barred, x, y)
    border = ((row < BORDER) | (row >= rows - BORDER) | (col < BORDER) | (col >= cols - BORDER)).ravel()
    is_open = within & np.isfinite(ground) & ~border
    cover = np.full(x.shape, terms.cover)
    if not grounds.vehicles.is_empty:
        # a cover zone begins at the pavement's edge, between two cells: the larger cover a little early is the safe side
        near = shapely.intersects_xy(grounds.vehicles.buffer(cell / 2), x, y)
        cover[near] = terms.cover_pavement
    rate = np.full(x.shape, prices.trench)
    for area, price in grounds.priced:
        rate[shapely.intersects_xy(area, x, y)] += price
    solid_ground = np.where(is_open, ground, 0.0)
    return Yard(
        west=west, north=north, cell=cell, rows=rows, cols=cols,
        ground=solid_ground,
        ceiling=np.where(is_open, solid_ground - cover - terms.rise - MARGIN, -np.inf),
        floor=np.where(is_open, solid_ground - terms.depth, np.inf),
        rate=rate, is_open=is_open.astype(np.uint8), grounds=grounds,
    )  # fmt: skip
