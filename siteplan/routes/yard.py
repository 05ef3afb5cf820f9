"""Site and low spots in; the yard out: a square net of places where a line may pass, with its limits and prices.

Rows run south from the north-west corner; a border of closed cells two wide saves the kernels their bounds tests.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from siteplan.books import rules
from siteplan.books.kinds import PAVEMENT_KINDS
from siteplan.books.practice import OFF_LOT_LINE, PAST_PAVEMENT, ROOT_CIRCLE
from siteplan.books.prices import Prices
from siteplan.routes.faces import across_walls, steep_faces
from siteplan.routes.kernels import moves
from siteplan.routes.terms import Terms
from siteplan.site import Site, heights
from siteplan.units import FOOT, INCH
from siteplan.values import LowSpot, Outlet

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]

_BORDER = 2
CELLS = 5000  # open cells aimed at on one lot
_FINEST = 0.4  # m
COARSEST = 3.0  # m
STREET_WIDTH = 2.0  # m each side of the straight way to an outlet off the lot
_CLEAR = 0.005  # m beyond the clearance asked for, so that keeping it is no matter of rounding
MARGIN = 0.004  # m kept from the ceiling, so that the exact proof on the finished line has room
NEAR_LOT_LINE = 1.0  # m
WIDENED = 0.13  # m round pavement while runs are chosen: more than half the spacing at which they are sampled
EVEN = 7  # decimals of what the searches start from [m]: below any survey, above the noise of large coordinates
SLIVER = 0.30  # m; a shorter stretch takes its neighbour's pipe


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grounds:
    """Where a line may run, as polygons in the plan's frame."""

    lot: BaseGeometry
    allowed: BaseGeometry  # the lot with what a survey may be out at its edge, and the street
    street: BaseGeometry  # off the lot, on the way to an outlet in the right of way
    barred: BaseGeometry  # no-dig areas, neighbours and retaining walls widened by half a trench, buildings by the clearance asked for
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

    def places(self, nodes: NDArray[Any]) -> Floats:
        """Coordinates of cells, shape (n, 2) [m]."""
        row, col = np.divmod(np.asarray(nodes), self.cols)
        return np.column_stack(
            _to_plan(self.west + col * self.cell, self.north - row * self.cell, self.origin, self.turned)
        )

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
        # the fill runs out with the slope of the pit, so the deep half costs more; a trench keeps out of it with its whole width
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
        lot=lot, allowed=allowed, street=street, barred=barred, solid=solid, vehicles=vehicles, vehicles_wide=vehicles_wide,
        walls=walls, near_walls=near_walls, heavier=heavier, heavier_wide=heavier_wide,
        pavements=tuple(feature.geometry for feature in site.of_kind(*PAVEMENT_KINDS)),
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
    return ROOT_CIRCLE if trunk is None else trunk / INCH * FOOT


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
    from shapely import affinity

    reachable = shapely.union_all([grounds.lot, grounds.street])
    if cell is None:
        cell = min(COARSEST, max(_FINEST, round(math.sqrt(reachable.area / CELLS), 2)))
    origin, turned = (float(grounds.lot.centroid.x), float(grounds.lot.centroid.y)), _turned(grounds.lot)
    # centred on the lot and turned with it, so that a lot moved, mirrored or turned has the same net
    own = affinity.rotate(
        affinity.translate(reachable, -origin[0], -origin[1]), -turned, origin=(0, 0), use_radians=True
    )
    low_x, low_y, high_x, high_y = own.bounds
    across, down = (int((high - low) / cell + 1e-6) + 1 for low, high in ((low_x, high_x), (low_y, high_y)))
    cols, rows = across + 2 * _BORDER, down + 2 * _BORDER
    west = (low_x + high_x - (across - 1) * cell) / 2 - _BORDER * cell
    north = (low_y + high_y + (down - 1) * cell) / 2 + _BORDER * cell
    col, row = np.meshgrid(np.arange(cols), np.arange(rows))
    x, y = _to_plan((west + col * cell).ravel(), (north - row * cell).ravel(), origin, turned)
    # rounded, so that equal ways stay equal when the whole site is moved or turned
    ground = np.round(heights(site.grid, x, y), EVEN)
    within = shapely.intersects_xy(reachable, x, y) & ~shapely.intersects_xy(grounds.barred, x, y)
    border = ((row < _BORDER) | (row >= rows - _BORDER) | (col < _BORDER) | (col >= cols - _BORDER)).ravel()
    is_open = within & np.isfinite(ground) & ~border
    cover = np.full(x.shape, terms.cover)
    if not grounds.heavier.is_empty:
        cover[shapely.intersects_xy(grounds.heavier.buffer(cell / 2), x, y)] += terms.heavier
    if not grounds.vehicles.is_empty:
        # a cover zone begins at the pavement's edge, between two cells: the larger cover a little early is the safe side
        widened = grounds.vehicles.buffer(cell / 2)
        shapely.prepare(widened)
        near = shapely.intersects_xy(widened, x, y)
        cover[near] = terms.cover_pavement
    rate = np.full(x.shape, prices.trench)
    for area, price in grounds.priced:
        rate[shapely.intersects_xy(area, x, y)] += price
    solid_ground = np.where(is_open, ground, 0.0)
    yard = Yard(
        west=west, north=north, cell=cell, rows=rows, cols=cols,
        ground=solid_ground,
        ceiling=np.where(is_open, solid_ground - cover - terms.rise - MARGIN, -np.inf),
        floor=np.where(is_open, solid_ground - terms.depth, np.inf),
        rate=rate, is_open=is_open.astype(np.uint8), shut=np.zeros(x.size, np.int32),
        grounds=grounds, origin=origin, turned=turned,
    )  # fmt: skip
    return replace(yard, shut=_shut(yard))


def _shut(yard: Yard) -> NDArray[np.int32]:
    """Moves between open cells whose straight way touches what bars lines, or leaves the lot and the street."""
    import shapely

    shut = np.zeros(yard.is_open.size, np.int32)
    nodes = np.flatnonzero(yard.is_open)
    if not nodes.size:
        return shut
    table = moves(16, yard.cols)[:, 0].tolist()
    back = [table.index(-step) for step in table]
    edges = shapely.union_all([yard.grounds.barred.boundary, yard.grounds.allowed.boundary])
    shapely.prepare(edges)
    # what a move touches lies within half its length of one of its ends
    near = nodes[shapely.dwithin(edges, shapely.points(yard.places(nodes)), 0.5 * math.sqrt(5) * yard.cell * 1.01)]
    here = yard.places(near)
    for move, step in enumerate(table):
        other = near + step
        both = yard.is_open[other] > 0
        runs = shapely.linestrings(np.stack((here[both], yard.places(other[both])), axis=1))
        bad = shapely.intersects(yard.grounds.barred, runs) | ~shapely.covers(yard.grounds.allowed, runs)
        shut[near[both][bad]] |= 1 << move
        shut[other[both][bad]] |= 1 << back[move]
    return shut


def _to_plan(east: Floats, north: Floats, origin: tuple[float, float], turned: float) -> tuple[Floats, Floats]:
    cos, sin = math.cos(turned), math.sin(turned)
    return origin[0] + cos * east - sin * north, origin[1] + sin * east + cos * north


def _turned(lot: BaseGeometry) -> float:
    """How a lot lies: the direction of its tightest rectangle, from -45 to 45 degrees [radians]."""
    import shapely

    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(lot))
    (ax, ay), (bx, by) = corners[0], corners[1]
    angle = math.atan2(by - ay, bx - ax)
    angle -= round(angle / (math.pi / 2)) * (math.pi / 2)
    return 0.0 if abs(angle) < 1e-6 else angle
