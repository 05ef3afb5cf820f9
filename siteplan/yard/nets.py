"""A yard's grounds in; the scene on nets of several spacings out.

The usual one, a fine one for every yes and no, and one along given ways.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from siteplan.books.prices import Prices
from siteplan.routes import kernels
from siteplan.routes.ends import end_of, start_of
from siteplan.routes.reach import reach_sweep
from siteplan.routes.straight import Place
from siteplan.routes.terms import Terms
from siteplan.routes.yard import Floats, Grounds, Yard, usual_cell, yard_of
from siteplan.site import Site
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import Pipe
from siteplan.values.water_ends import Outlet, Source
from siteplan.yard.candidates import swept
from siteplan.yard.trees import YardScene

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

FINEST = (
    0.15  # m: spacing of the net from which every yes and no is taken, where the lot is no larger than FINE_CELLS of it
)
COARSE_FINE = 0.30  # m: and never wider than this
FINE_CELLS = 200_000
ALONG = 14_000  # places aimed at on a net along given ways
_WIDEST, _NARROWEST = 8.0, 1.2  # m to each side of a way
_LONG = 2.0e5  # m: longer than any way on a lot


def scene_on(
    site: Site,
    grounds: Grounds,
    named: Sequence[Outlet],
    spots: tuple[LowSpot, ...],
    pipe: Pipe,
    asked: Terms,
    prices: Prices,
    yard: Yard,
) -> YardScene:
    """A net with the reach of every source over it and the last runs to every outlet.

    Parameters
    ----------
    site : Site
        The surveyed site.
    grounds : Grounds
        Where a line may run; the net's own.
    named : sequence of Outlet
        Outlets.
    spots : tuple of LowSpot
        Wet ground.
    pipe : Pipe
        The pipe laid.
    asked : Terms
        What the rules ask of a line in it.
    prices : Prices
        Relative prices.
    yard : Yard
        The net.

    Returns
    -------
    YardScene
    """
    assert yard.grounds is grounds
    starts = {source.id: start_of(site, yard, source, asked, prices) for source in site.sources}
    return YardScene(
        site=site,
        yard=yard,
        terms=asked,
        prices=prices,
        pipe=pipe,
        spots=spots,
        starts=starts,
        reaches={key: swept(yard, start, asked) for key, start in starts.items()},
        ends={outlet.id: end_of(site, yard, outlet, asked, prices) for outlet in named},
    )


def _again(scene: YardScene, named: Sequence[Outlet], yard: Yard) -> YardScene:
    fresh = scene_on(scene.site, yard.grounds, named, scene.spots, scene.pipe, scene.terms, scene.prices, yard)
    return replace(fresh, sizes=scene.sizes, lines_before=scene.lines_before, found_before=scene.found_before)


def _net(scene: YardScene, cell: float, within: BaseGeometry | None) -> Yard:
    shifted, turned = scene.yard.lies
    return yard_of(
        scene.site,
        scene.yard.grounds,
        scene.terms,
        scene.prices,
        cell=cell,
        shifted=shifted,
        turned=turned,
        within=within,
    )


def fine_scene(scene: YardScene, named: Sequence[Outlet]) -> YardScene:
    """The same yard on the fine net.

    Parameters
    ----------
    scene : YardScene
        On the usual net.
    named : sequence of Outlet
        Outlets.

    Returns
    -------
    YardScene
        On a net of 0.15 m, coarser on lots of more than an acre, 0.30 m at most; it lies as the usual one does.
    """
    cell = usual_cell(scene.yard.grounds, cells=FINE_CELLS, finest=FINEST, coarsest=COARSE_FINE)
    return _again(scene, named, _net(scene, cell, None))


def scene_along(scene: YardScene, named: Sequence[Outlet], ways: Sequence[Sequence[Place]]) -> YardScene:
    """The same yard on a net along given ways: as fine as a no is judged on, and no more places than a search bears.

    Parameters
    ----------
    scene : YardScene
        On any net of the yard.
    named : sequence of Outlet
        Outlets.
    ways : sequence of sequence of tuple
        Ways that the net lies along [m].

    Returns
    -------
    YardScene
    """
    import shapely

    grounds = scene.yard.grounds
    drawn = shapely.union_all([shapely.LineString(way) for way in ways if len(way) > 1])
    finest = usual_cell(grounds, cells=FINE_CELLS, finest=FINEST, coarsest=COARSE_FINE)
    cell = max(finest, 0.25)
    room = ALONG * cell**2
    wide = min(_WIDEST, max(_NARROWEST, 4 * cell, room / (2 * max(1.0, float(drawn.length)))))
    return _again(scene, named, _net(scene, cell, drawn.buffer(wide)))


def lengths_from(yard: Yard, nodes: np.ndarray) -> Floats:
    """Length of the shortest open way from some places of a net to every other.

    Parameters
    ----------
    yard : Yard
        The net.
    nodes : ndarray of int
        Where ways begin.

    Returns
    -------
    ndarray, shape (rows * cols,) [m]
        Infinite where none is open. Fall is not asked for.
    """
    is_open = yard.is_open > 0
    flat, deep = np.where(is_open, 0.0, -np.inf), np.where(is_open, -_LONG, np.inf)
    fallen = reach_sweep(
        flat,
        deep,
        yard.is_open,
        yard.shut,
        kernels.moves(16, yard.cols),
        yard.cell,
        1.0,
        nodes.astype(np.int64),
        np.zeros(nodes.size),
    )
    return -fallen


def detours(
    scene: YardScene, fine: YardScene, pairs: Sequence[tuple[Source, Outlet]]
) -> dict[tuple[str, str], tuple[float, float]]:
    """By how much ways over the usual net are longer than over the fine one, where a gap was too narrow for it.

    Parameters
    ----------
    scene, fine : YardScene
        The yard on both nets.
    pairs : sequence of tuple
        Sources and the outlets that they are served by.

    Returns
    -------
    dict
        By ids of source and outlet: by how much, infinite where the usual net has no way at all, and the length over
        the fine one [m].
    """
    found: dict[tuple[str, str], tuple[float, float]] = {}
    for source in dict.fromkeys(source for source, _ in pairs):
        least: dict[str, tuple[float, float]] = {}
        away = [lengths_from(one.yard, one.starts[source.id].nodes) for one in (scene, fine)]
        for outlet in (o for s, o in pairs if s is source):
            both = [
                float(np.min(length[one.ends[outlet.id].nodes] + one.ends[outlet.id].lengths, initial=math.inf))
                for length, one in zip(away, (scene, fine), strict=True)
            ]
            least[outlet.id] = (both[0], both[1])
        found.update({(source.id, key): (a - b, b) for key, (a, b) in least.items() if math.isfinite(b)})
    return found
