"""Site and low spots in; the yard out: a square net of places where a line may pass, with its limits and prices.

Rows run south from the north-west corner; a border of closed cells two wide saves the kernels their bounds tests.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from siteplan.books import rules
from siteplan.books.kinds import PAVEMENT_KINDS
from siteplan.books.practice import OFF_LOT_LINE, PAST_PAVEMENT, ROOT_CIRCLE
from siteplan.books.prices import Prices
from siteplan.remembered import remembered
from siteplan.routes.faces import across_walls, steep_faces
from siteplan.routes.lattice import lattice, to_plan
from siteplan.routes.terms import Terms
from siteplan.site import Site
from siteplan.units import FOOT, INCH
from siteplan.values.forecasts import LowSpot
from siteplan.values.water_ends import Outlet

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]

CELLS = 5000  # open cells aimed at on one lot
_FINEST = 0.4  # m
COARSEST = 3.0  # m
STREET_WIDTH = 2.0  # m each side of the straight way to an outlet off the lot
_CLEAR = 0.005  # m beyond the clearance asked for, so that keeping it is no matter of rounding
MARGIN = 0.004  # m kept from the ceiling, so that the exact proof on the finished line has room
NEAR_LOT_LINE = 1.0  # m
WIDENED = 0.13  # m round pavement while runs are chosen: more than half the spacing at which they are sampled
SLIVER = 0.30  # m; a shorter stretch takes its neighbour's pipe


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grounds:
    """Where a line may run, as polygons in the plan's frame."""

    lot: BaseGeometry
    allowed: BaseGeometry  # the lot with what a survey may be out at its edge, and the street
    street: BaseGeometry  # off the lot, on the way to an outlet in the right of way
    # no-dig areas, neighbours and retaining walls widened by half a trench, buildings by the clearance asked for
    barred: BaseGeometry
    solid: BaseGeometry  # the same, not widened: what a line may never cross
    vehicles: BaseGeometry  # driveways, and paving that is said to carry vehicles
    vehicles_wide: BaseGeometry  # the same, widened so that samples along a run miss no corner of it
    walls: BaseGeometry  # retaining walls, as lines: no run crosses one, not even at a source
    near_walls: BaseGeometry  # nearer to a retaining wall than the rule asks, and faces known from heights alone
    heavier: BaseGeometry  # where heavy pipe may lie under lawn: beside pavement, in wet ground, in fresh fill
    heavier_wide: BaseGeometry  # the same, widened as the pavement is
    pavements: tuple[BaseGeometry, ...]  # each driveway, walk and paving by itself
    priced: tuple[tuple[BaseGeometry, float], ...]  # area and surcharge per metre


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Yard:
    """The net. Arrays are flat, (rows * cols,), border included; elevations [m]."""

    west: float  # of the centres of column 0, along the net's own east, from its origin
    north: float  # of the centres of row 0
    cell: float
    rows: int
    cols: int
    ground: Floats
    ceiling: Floats
    floor: Floats
    rate: Floats
    is_open: NDArray[np.uint8]
    shut: NDArray[np.int32]  # bit m: move m out of the cell touches what bars lines
    grounds: Grounds
    origin: tuple[float, float] = (0.0, 0.0)
    turned: float = 0.0  # the net's east from the frame's east, to the left [radians]
    lies: tuple[float, float] = (0.0, 0.0)  # how it was asked to lie: `shifted` and `turned` of `yard_of`

    def places(self, nodes: NDArray[Any]) -> Floats:
        """Coordinates of cells, shape (n, 2) [m]."""
        row, col = np.divmod(np.asarray(nodes), self.cols)
        return np.column_stack(
            to_plan(self.west + col * self.cell, self.north - row * self.cell, self.origin, self.turned)
        )

    def near(self, x: float, y: float, radius: float) -> NDArray[np.intp]:
        """Open cells within a radius of a place, in order of cell number."""
        nodes = np.flatnonzero(self.is_open)
        place = self.places(nodes)
        return nodes[np.hypot(place[:, 0] - x, place[:, 1] - y) <= radius]


def _asked(
    site: Site, outlets: Sequence[Outlet], low_spots: Sequence[LowSpot], terms: Terms, prices: Prices
) -> Hashable:
    return site, tuple(outlets), tuple(low_spots), terms, prices


@remembered(_asked, most=4)
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
    loose = rules.limit(site.rules, rules.FOUNDATION_BACKFILL) or 0.0
    wet = [(Polygon(spot.rings[0], spot.rings[1:]), spot.certain) for spot in low_spots if spot.rings]
    walls = union("wall")
    across = across_walls(site, walls, lot)
    near_walls = shapely.union_all([walls.buffer(terms.retaining), across, steep_faces(site, lot, terms.steep)])
    priced: list[tuple[BaseGeometry, float]] = [
        (union("driveway"), prices.driveway),
        (union("paving"), prices.paving),
        (union("walk"), prices.walk),
        (shapely.union_all([area for area, _ in wet]), prices.wet),
        (
            shapely.union_all(
                [
                    Point(tree.geometry.x, tree.geometry.y).buffer(root_radius(tree.attributes.get("diameter")))
                    for tree in site.of_kind("tree")
                ]
            ),
            prices.roots,
        ),
        # the fill runs out with the slope of the pit, so the deep half costs more; a trench keeps out of it with its
        # whole width
        (buildings.buffer(loose + terms.half_trench) if loose else Polygon(), prices.loose_fill),
        (buildings.buffer(loose / 2), prices.wall_side),
        (near_walls, prices.retaining),
        (lot.boundary.buffer(NEAR_LOT_LINE), prices.lot_line),
        (street, prices.street),
    ]
    vehicles = shapely.union_all(
        [
            *(f.geometry for f in site.of_kind("driveway")),
            *(f.geometry for f in site.of_kind("paving") if f.attributes.get("vehicle")),
        ]
    )
    kept_clear = max(terms.half_trench, terms.wall_clearance + _CLEAR)
    barred = shapely.union_all(
        [
            buildings.buffer(kept_clear),
            union("no_dig", "neighbour").buffer(terms.half_trench),
            walls.buffer(max(terms.half_trench, _CLEAR)),
            across,
        ]
    )
    allowed = shapely.union_all([lot.buffer(OFF_LOT_LINE), street])
    vehicles_wide = vehicles.buffer(WIDENED)
    heavier: BaseGeometry = Polygon()
    if terms.heavier > 0:
        fresh = [buildings.buffer(loose)] if site.laying.backfill == "fresh" else []
        heavier = shapely.union_all(
            [
                vehicles.buffer(PAST_PAVEMENT + SLIVER),
                *(area.buffer(SLIVER) for area, certain in wet if certain),
                *fresh,
            ]
        )
    heavier_wide = heavier.buffer(WIDENED)
    for area in (
        lot,
        allowed,
        street,
        barred,
        solid,
        vehicles,
        vehicles_wide,
        heavier,
        heavier_wide,
        walls,
        near_walls,
        *(area for area, _ in priced),
    ):
        shapely.prepare(area)
    return Grounds(
        lot=lot,
        allowed=allowed,
        street=street,
        barred=barred,
        solid=solid,
        vehicles=vehicles,
        vehicles_wide=vehicles_wide,
        walls=walls,
        near_walls=near_walls,
        heavier=heavier,
        heavier_wide=heavier_wide,
        pavements=tuple(feature.geometry for feature in site.of_kind(*PAVEMENT_KINDS)),
        priced=tuple((area, price) for area, price in priced if not area.is_empty),
    )


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
    return ROOT_CIRCLE if trunk is None else trunk / INCH * FOOT


def yard_of(
    site: Site,
    grounds: Grounds,
    terms: Terms,
    prices: Prices,
    *,
    cell: float | None = None,
    shifted: float = 0.0,
    turned: float = 0.0,
    within: BaseGeometry | None = None,
) -> Yard:
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
    shifted : float
        How far the net lies off its usual place, both ways, as a share of its spacing.
    turned : float
        How far it is turned from the lot's own direction, to the left [radians].
    within : Polygon or MultiPolygon, optional
        Places outside are closed; the whole lot when absent.

    Returns
    -------
    Yard
        With ceilings lowered by the planning margin of 4 mm.
    """
    import shapely

    reachable = shapely.union_all([grounds.lot, grounds.street])
    if cell is None:
        cell = usual_cell(grounds)
    # centred on the lot and turned with it, so that a lot moved, mirrored or turned has the same net
    lies = shifted, turned
    origin, turned = (float(grounds.lot.centroid.x), float(grounds.lot.centroid.y)), _turned(grounds.lot) + turned
    if within is not None:
        reachable = shapely.intersection(reachable, within)
    net = lattice(site.grid, (reachable, grounds.barred, grounds.allowed), cell, origin, turned, shifted)
    x, y, is_open = net.x, net.y, net.is_open > 0
    cover = np.full(x.shape, terms.cover)
    if not grounds.heavier.is_empty:
        cover[shapely.intersects_xy(grounds.heavier.buffer(cell / 2), x, y)] += terms.heavier
    if not grounds.vehicles.is_empty:
        # a cover zone begins at the pavement's edge, between two cells: the larger cover a little early is the safe
        # side
        widened = grounds.vehicles.buffer(cell / 2)
        shapely.prepare(widened)
        near = shapely.intersects_xy(widened, x, y)
        cover[near] = terms.cover_pavement
    rate = np.full(x.shape, prices.trench)
    for area, price in grounds.priced:
        rate[shapely.intersects_xy(area, x, y)] += price
    return Yard(
        west=net.west,
        north=net.north,
        cell=cell,
        rows=net.rows,
        cols=net.cols,
        ground=net.ground,
        ceiling=np.where(is_open, net.ground - cover - terms.rise - MARGIN, -np.inf),
        floor=np.where(is_open, net.ground - terms.depth, np.inf),
        rate=rate,
        is_open=net.is_open,
        shut=net.shut,
        grounds=grounds,
        origin=origin,
        turned=turned,
        lies=lies,
    )


def usual_cell(grounds: Grounds, *, cells: int = CELLS, finest: float = _FINEST, coarsest: float = COARSEST) -> float:
    """Spacing of a net with about so many open places on a lot.

    Parameters
    ----------
    grounds : Grounds
        Where a line may run.
    cells : int
        Places aimed at.
    finest, coarsest : float
        Between which the spacing stays [m].

    Returns
    -------
    float
        [m]
    """
    area = grounds.lot.area + grounds.street.area
    return min(coarsest, max(finest, round(math.sqrt(area / cells), 2)))


def _turned(lot: BaseGeometry) -> float:
    """How a lot lies: the direction of its tightest rectangle, from -45 to 45 degrees [radians]."""
    import shapely

    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(lot))
    (ax, ay), (bx, by) = corners[0], corners[1]
    angle = math.atan2(by - ay, bx - ax)
    angle -= round(angle / (math.pi / 2)) * (math.pi / 2)
    return 0.0 if abs(angle) < 1e-6 else angle
