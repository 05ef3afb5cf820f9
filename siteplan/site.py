"""The surveyed site as one frozen value: what `survey` hands to every later room."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.books.prices import COUPLING, DEFAULT_PRICES, PIPE_PRICES, Prices
from siteplan.books.rules import RuleBook
from siteplan.books.stock import PipeStock, stocks
from siteplan.books.unit_prices import UnitPrice
from siteplan.books.vehicles import USUAL
from siteplan.values.asked_for import NOTHING_ASKED, InputFile, WhatIf
from siteplan.values.tried import SearchEffort
from siteplan.values.water_ends import Outlet, Pump, Source

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tin:
    """A triangulated surface.

    Attributes
    ----------
    xy : ndarray, shape (n, 2) [m]
        Vertices, east and north.
    z : ndarray, shape (n,) [m]
        Heights of the vertices.
    triangles : ndarray of int, shape (m, 3)
        Vertex numbers, counter-clockwise, the least number first, in rising order.
    breaklines : ndarray of int, shape (k, 2)
        Edges that no triangle crosses.
    """

    xy: Floats
    z: Floats
    triangles: Indices
    breaklines: Indices


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grid:
    """An elevation grid as delivered, heights in metres, NaN where the ground is not known.

    Attributes
    ----------
    z : ndarray, shape (rows, cols) [m]
        Read-only; row 0 is the file's first row.
    to_index : callable (x, y) -> (row, col)
        From plan coordinates [m] to fractional row and column, cell centres at whole numbers.
        Arrays of shape (n,) in and out; never raises, out of range for places off the grid.
    to_plan : callable (row, col) -> (x, y)
        The inverse.
    cell : float
        Mean cell size in the plan's frame [m].
    """

    z: Floats
    to_index: Callable[[Floats, Floats], tuple[Floats, Floats]]
    to_plan: Callable[[Floats, Floats], tuple[Floats, Floats]]
    cell: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Feature:
    """One surveyed feature in the plan's frame [m]. `attributes` are converted to SI under the contract's names."""

    kind: str
    name: str
    geometry: BaseGeometry
    attributes: Mapping[str, Any]
    file: str
    number: int  # feature number in its file, from 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One survey shot on the ground, in the plan's frame [m]."""

    number: str
    x: float
    y: float
    z: float
    accuracy: float  # one standard deviation of the elevation
    description: str = ""
    file: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rain:
    """Rain as the site gives it: durations [s], intensities [m/s].

    Attributes
    ----------
    table : tuple of (float, float)
        Rising durations, each with the mean intensity over it; empty when the site gives one intensity.
    duration : float or None
        Length of the rain that sizes are chosen for; None: one intensity whose duration nobody stated.
    wanted : float or None
        Length of the rain that should be taken; another than `duration` where nobody asked for one and the table
        does not hold the usual one.
    source : str
        Where the figures come from, as the site says.
    years : float or None
        Return period [years].
    series : tuple of (float, float)
        A storm of the user's own: ends of blocks and the intensity in each; empty when he gives none.
    """

    table: tuple[tuple[float, float], ...] = ()
    duration: float | None = None
    source: str = "site.toml [rainfall], its source not stated"
    years: float | None = None
    series: tuple[tuple[float, float], ...] = ()
    wanted: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizing:
    """What pipe sizes are held to; see docs/water.md.

    Attributes
    ----------
    basis : str
        'manning', 'prandtl-colebrook', or the code of a printed table of books/capacity.csv.
    fill, fill_of : float, str
        Design fill for Manning, and whether it is of the depth or of the flow.
    age : str
        Roughness for Manning: 'design' (the pipe's own), 'new' or 'aged'.
    pipe : str
        Kind of pipe.
    smallest, largest : str or None
        Sizes on offer, both counted; None: 4 in or the kind's next above it, and the largest of the kind.
    kb : float or None
        Roughness in use for 'prandtl-colebrook' [m]; None for every other basis.
    own_pipes : mapping
        The site's [pipes] tables, which the book of pipes is asked with.
    """

    basis: str = "manning"
    fill: float = 0.80
    fill_of: str = "depth"
    age: str = "design"
    pipe: str = "pvc_sdr35"
    smallest: str | None = None
    largest: str | None = None
    kb: float | None = None
    own_pipes: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laying:
    """What a site says of pipe, costs and trench; see docs/pipe-and-ground.md.

    Attributes
    ----------
    own_pipes : mapping
        The [pipes] tables by label, as `books.stock.stocks` reads them.
    prices : Prices
        Relative prices of a route.
    pipe_prices : mapping of str to float
        Kind to relative price a metre of 4 in.
    coupling : float
        Relative price of a change of kind.
    frost : float or None
        Depth of frost [m]; None: not known.
    backfill : str
        'settled' or 'fresh': the loose fill round the house.
    backfill_depth : float
        Of that fill below the pipe [m].
    wet_layer : float
        Soil that the digging churns under the pipe in wet ground, at worst [m].
    wet_soil : str
        'mineral' or 'organic' (peat, muck): the soil of wet ground, which must hold a line down; '' not told.
    vehicle : str
        'car' or 'truck': on pavement whose survey names no vehicle.
    certainty : float
        How sure a line is to keep its covers where there is fall to spare for it, from 0.5 to below 1 [-].
    effort : SearchEffort
        When a search over many sources stops.
    unit_prices : tuple of UnitPrice
        Of what a plan takes; placeholders stand for what it does not price.
    """

    own_pipes: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    prices: Prices = DEFAULT_PRICES
    pipe_prices: Mapping[str, float] = field(default_factory=lambda: dict(PIPE_PRICES))
    coupling: float = COUPLING
    frost: float | None = None
    backfill: str = "settled"
    backfill_depth: float = 4 * units.FOOT
    wet_layer: float = 6 * units.INCH
    wet_soil: str = ""
    vehicle: str = USUAL
    certainty: float = 0.95
    effort: SearchEffort = field(default_factory=SearchEffort)
    unit_prices: tuple[UnitPrice, ...] = ()

    @property
    def stocks(self) -> tuple[PipeStock, ...]:
        """The book of pipes with the site's own on top."""
        return stocks(self.own_pipes)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Site:
    """Everything read from a site folder, in metres and one frame."""

    name: str
    crs: str  # 'local' or what pyproj reads; metres
    length_unit: str
    elevation_unit: str
    accuracy: float  # one standard deviation of an elevation [m]
    grid: Grid
    features: tuple[Feature, ...]
    sources: tuple[Source, ...]
    rules: RuleBook
    rainfall: float | None  # the intensity that sizes are chosen for [m/s]; None: not given
    inputs: tuple[InputFile, ...]
    assumptions: tuple[str, ...] = field(default=())
    note: str = ""
    rain: Rain = field(default=Rain())
    sizing: Sizing = field(default=Sizing())
    laying: Laying = field(default_factory=Laying)
    shots: tuple[Shot, ...] = field(default=())  # those that the ground is drawn from
    tin: Tin | None = None  # the triangles behind the grid, when shots alone make the ground
    survey_crs: str = ""  # the survey's own system: 'local', an authority code or WKT; '' the plan's
    survey_unit: str = ""  # of its coordinates: ft | us-ft | m | degree, or another by its name; '' the plan's
    what_if: WhatIf = field(default=NOTHING_ASKED)  # what was asked beside the site's own words
    shared_accuracy: float = 0.0  # one standard deviation of what all elevations of the ground have in common [m]
    pumps: tuple[Pump, ...] = ()  # of sumps that are lifted through a line under pressure
    settle_grade: float | None = (
        None  # least grade that inverts are settled by, where ways are looked for at a steeper one [-]
    )
    lifted: tuple[Source, ...] = ()  # sumps pumped all the way to an outlet: no line by gravity starts at them

    @property
    def lot(self) -> BaseGeometry:
        """The one lot, a polygon in the plan's frame [m]."""
        return next(feature.geometry for feature in self.features if feature.kind == "lot")

    def of_kind(self, *kinds: str) -> tuple[Feature, ...]:
        """Features of these kinds, in the order read."""
        return tuple(feature for feature in self.features if feature.kind in kinds)

    @property
    def every_source(self) -> tuple[Source, ...]:
        """Sources by gravity and those pumped all the way, in the order of their ids."""
        return tuple(sorted((*self.sources, *self.lifted), key=lambda one: (len(one.id), one.id)))

    def with_rates(self, rates: Mapping[str, float]) -> Site:
        """The site with what its pumps give through their lines, by id of the sump [m3/s]."""
        return replace(
            self,
            sources=tuple(replace(one, pump_rate=rates.get(one.id, one.pump_rate)) for one in self.sources),
            lifted=tuple(replace(one, pump_rate=rates.get(one.id, one.pump_rate)) for one in self.lifted),
        )

    def told_of(self, place: Source | Outlet) -> Mapping[str, Any]:
        """Attributes of the feature that a source or outlet stands for, in SI.

        None for a place the tool found by itself.
        """
        return next((feature.attributes for feature in self.of_kind(place.kind) if feature.name == place.name), {})


def heights(grid: Grid, x: Floats, y: Floats) -> Floats:
    """Ground elevation by bilinear interpolation between the four cell centres around a place.

    Parameters
    ----------
    grid : Grid
        The elevation grid.
    x, y : ndarray, shape (n,) [m]
        Places in the plan's frame.

    Returns
    -------
    ndarray, shape (n,) [m]
        NaN where any of the four is unknown, and off the grid; within half a cell of the grid's
        edge the outermost centres are used.

    References
    ----------
    Bilinear interpolation; any text on raster surfaces (memory).
    """
    row, col = grid.to_index(np.asarray(x, float), np.asarray(y, float))
    rows, cols = grid.z.shape
    inside = (row >= -0.5) & (row <= rows - 0.5) & (col >= -0.5) & (col <= cols - 0.5)
    row = np.clip(np.where(inside, row, 0.0), 0, rows - 1)
    col = np.clip(np.where(inside, col, 0.0), 0, cols - 1)
    r0 = np.minimum(row.astype(np.intp), max(rows - 2, 0))
    c0 = np.minimum(col.astype(np.intp), max(cols - 2, 0))
    r1, c1 = np.minimum(r0 + 1, rows - 1), np.minimum(c0 + 1, cols - 1)
    fr, fc = row - r0, col - c0
    z = grid.z
    # a weight of exactly zero must not let an unknown neighbour in
    parts = (
        (z[r0, c0], (1 - fr) * (1 - fc)),
        (z[r0, c1], (1 - fr) * fc),
        (z[r1, c0], fr * (1 - fc)),
        (z[r1, c1], fr * fc),
    )
    total = np.zeros(len(fr))
    for value, weight in parts:
        total += np.where(weight == 0.0, 0.0, value * weight)
    return np.where(inside, total, np.nan)


def ground_near(grid: Grid, x: float, y: float, reach: float) -> tuple[float, float] | None:
    """Height of the nearest cell whose ground is known, for a place where `heights` knows none.

    Parameters
    ----------
    grid : Grid
        The elevation grid.
    x, y : float
        A place in the plan's frame [m].
    reach : float
        How far to look, to the edge of a known cell [m].

    Returns
    -------
    tuple or None
        Height [m] and distance to that cell's edge [m], 0 inside it; of equally near cells the one whose
        centre is nearest, then the first in the file. None when there is none within reach.
    """
    row, col = (float(v[0]) for v in grid.to_index(np.array([x]), np.array([y])))
    rows, cols = grid.z.shape
    if not (np.isfinite(row) and np.isfinite(col)):
        return None
    # cells may be longer one way than the other (degrees), so how many are in reach is measured both ways
    px, py = grid.to_plan(np.array([row, row + 1, row]), np.array([col, col, col + 1]))
    area = abs((px[1] - px[0]) * (py[2] - py[0]) - (px[2] - px[0]) * (py[1] - py[0]))
    high, wide = (area / float(np.hypot(px[k] - px[0], py[k] - py[0])) for k in (2, 1))
    dr, dc = (int(np.ceil(reach / step)) + 2 if step > 0 else 0 for step in (high, wide))
    r0, r1 = (
        max(int(np.clip(row, -dr - 1, rows + dr)) - dr, 0),
        min(int(np.clip(row, -dr - 1, rows + dr)) + dr + 1, rows),
    )
    c0, c1 = (
        max(int(np.clip(col, -dc - 1, cols + dc)) - dc, 0),
        min(int(np.clip(col, -dc - 1, cols + dc)) + dc + 1, cols),
    )
    if r0 >= r1 or c0 >= c1:
        return None
    i, j = np.nonzero(np.isfinite(grid.z[r0:r1, c0:c1]))
    if not len(i):
        return None
    i, j = i + r0, j + c0
    ex, ey = grid.to_plan(np.clip(row, i - 0.5, i + 0.5), np.clip(col, j - 0.5, j + 0.5))
    mx, my = grid.to_plan(i.astype(float), j.astype(float))
    edge = np.where((np.abs(row - i) <= 0.5) & (np.abs(col - j) <= 0.5), 0.0, np.hypot(ex - x, ey - y))
    best = int(np.lexsort((j, i, np.round(np.hypot(mx - x, my - y), 6), np.round(edge, 6)))[0])
    if edge[best] > reach:
        return None
    return float(grid.z[i[best], j[best]]), float(edge[best])
