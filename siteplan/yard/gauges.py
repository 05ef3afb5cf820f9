"""A yard and what its sources bring in; the sizes of pipe that a search may take, and what each asks of a line, out.

A pipe carries more the more steeply it falls: a size asks for the least grade at which it carries what a bundle of
sources brings, or is not to be had. So a smaller pipe on a steeper way is weighed against a larger one that lies
deeper.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from siteplan.books.prices import PIPE_SIZE, Prices
from siteplan.routes.ends import end_of, start_of
from siteplan.routes.lines import Laid
from siteplan.routes.shared import Gauges, Kit
from siteplan.routes.terms import Terms, terms
from siteplan.routes.yard import Floats, Yard
from siteplan.site import Site
from siteplan.values.laid_pipe import Pipe
from siteplan.values.water_ends import Outlet, Source
from siteplan.water.sizes import Basis, capacity_by

if TYPE_CHECKING:
    from siteplan.yard.trees import YardScene

STEP = 0.0005  # of grade, in which the least grade of a size rises
_STEEPEST = 0.5  # where a site sets no steepest grade


class Gauge(NamedTuple):
    """One size of pipe, what it asks of a line, and prices with it."""

    pipe: Pipe
    terms: Terms
    prices: Prices


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SizesAsked:
    """Sizes that lines may have, smallest first, and what sources bring by id [m3/s]; a flow that is not known is None.

    `at_least_grade`: a size is taken only where it carries what comes at the rules' own least grade.
    """

    gauges: tuple[Gauge, ...]
    flows: Mapping[str, float | None]
    basis: Basis
    at_least_grade: bool = False


def sizes_asked(
    site: Site, flows: Mapping[str, float | None], pipes: Sequence[Pipe], basis: Basis, prices: Prices
) -> SizesAsked:
    """The sizes that a search has to weigh: up to the one that carries all water at the least grade.

    Parameters
    ----------
    site : Site
        For its rules and the price of its kind of pipe.
    flows : mapping of str to float or None
        What each source brings [m3/s].
    pipes : sequence of Pipe
        On offer, smallest first.
    basis : Basis
        What capacities are held to.
    prices : Prices
        With the smallest pipe.

    Returns
    -------
    SizesAsked
        At least the smallest. A metre of a larger pipe costs more by its weight.
    """
    least = terms(site.rules, pipes[0]).grade
    every = sum(flow for flow in flows.values() if flow is not None)
    enough = next((k for k, pipe in enumerate(pipes) if _carries(basis, pipe, every, least)), len(pipes) - 1)
    metre = site.laying.pipe_prices.get(pipes[0].kind, 0.0)
    return SizesAsked(
        gauges=tuple(
            Gauge(
                pipe, terms(site.rules, pipe), prices._replace(trench=prices.trench + metre * _dearer(pipes[0], pipe))
            )
            for pipe in pipes[: enough + 1]
        ),
        flows=flows,
        basis=basis,
    )


def _dearer(smallest: Pipe, pipe: Pipe) -> float:
    """How many times the price of the smallest pipe a larger one costs more, by the metre."""
    return float((pipe.od / smallest.od) ** PIPE_SIZE - 1.0)


def _carries(basis: Basis, pipe: Pipe, flow: float, grade: float) -> bool:
    able = capacity_by(basis, pipe, grade).flow
    return able is not None and able >= flow * (1 - 1e-12)


def least_grade(basis: Basis, pipe: Pipe, flow: float, least: float, most: float) -> float | None:
    """The least grade, in steps above the least one allowed, at which a pipe carries a flow.

    Parameters
    ----------
    basis : Basis
        What capacities are held to.
    pipe : Pipe
        The pipe.
    flow : float
        [m3/s]
    least, most : float
        Grades between which to look [-].

    Returns
    -------
    float or None
        None where it carries the flow at none of them.
    """
    if _carries(basis, pipe, flow, least):
        return least
    low, high = 0, max(0, int((most - least) / STEP + 1e-9))
    if high == 0 or not _carries(basis, pipe, flow, least + high * STEP):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        if _carries(basis, pipe, flow, least + middle * STEP):
            high = middle
        else:
            low = middle
    return least + high * STEP


def grade_of(scene: YardScene, size: int, sources: Sequence[Source]) -> float | None:
    """The least grade of a line in a size that carries what sources bring together.

    Parameters
    ----------
    scene : YardScene
        With the sizes asked for.
    size : int
        Number of the size.
    sources : sequence of Source
        Whose water it is.

    Returns
    -------
    float or None
        The rules' own where no sizes are asked for or a flow is not known; None where the size does not carry it. What
        no size carries from one source alone is let into the largest, for a check to tell.
    """
    sizes = scene.sizes
    if sizes is None:
        return scene.terms.grade
    flows = [sizes.flows.get(source.id) for source in sources]
    known = [flow for flow in flows if flow is not None]
    if len(known) < len(flows):
        return scene.terms.grade
    asked = sizes.gauges[size].terms
    most = asked.grade if sizes.at_least_grade else asked.grade_max or asked.drop or _STEEPEST
    found = least_grade(sizes.basis, sizes.gauges[size].pipe, sum(known), asked.grade, most)
    if found is None and len(sources) == 1 and size == len(sizes.gauges) - 1:
        return asked.grade
    return found


def gauges_of(scene: YardScene, sources: Sequence[Source], outlets: Sequence[Outlet]) -> Gauges:
    """The sizes of pipe of a yard as a search over some sources and outlets asks for them.

    Parameters
    ----------
    scene : YardScene
        With the sizes asked for, or none: then there is one, which carries everything.
    sources, outlets : sequence
        By number in the search.

    Returns
    -------
    Gauges
        Nets, first and last runs are worked out when they are first asked for.
    """
    count = 1 if scene.sizes is None else len(scene.sizes.gauges)

    @functools.cache
    def net(size: int) -> Yard:
        return scene.yard if size == 0 else _in_pipe(scene, size)

    @functools.cache
    def kit(size: int, grade: float) -> Kit:
        held, prices = terms_of(scene, size, grade), prices_of(scene, size)
        if size == 0 and held.grade <= scene.terms.grade:
            own = [scene.starts[source.id] for source in sources]
            return Kit(scene.yard, own, [scene.ends[outlet.id] for outlet in outlets], scene.terms, scene.prices)
        site, yard = scene.site, net(size)
        return Kit(
            yard,
            [start_of(site, yard, source, held, prices) for source in sources],
            [end_of(site, yard, outlet, held, prices) for outlet in outlets],
            held,
            prices,
        )

    @functools.cache
    def grade(bundle: int, size: int) -> float | None:
        return grade_of(scene, size, [source for k, source in enumerate(sources) if bundle >> k & 1])

    nearest = min((math.dist((s.x, s.y), (o.x, o.y)) for s in sources for o in outlets), default=0.0)
    dearer = prices_of(scene, 1).trench - scene.prices.trench if count > 1 else 0.0
    return Gauges(count=count, kit=kit, grade=grade, larger=dearer * nearest)


def terms_of(scene: YardScene, size: int = 0, grade: float = 0.0) -> Terms:
    """What a line in pipe of a size must keep.

    Parameters
    ----------
    scene : YardScene
        The yard.
    size : int
        Number of the size.
    grade : float
        Least grade, where more is asked than by the rules [-].

    Returns
    -------
    Terms
        The scene's own for the smallest size at the rules' grade.
    """
    held = scene.terms if scene.sizes is None or size == 0 else scene.sizes.gauges[size].terms
    return held if grade <= held.grade else held._replace(grade=grade, rules_grade=held.grade)


def line_terms(scene: YardScene, line: Laid) -> Terms:
    """What a line that is laid must keep.

    Parameters
    ----------
    scene : YardScene
        The yard.
    line : Laid
        Of a size.

    Returns
    -------
    Terms
        At the rules' least grade: what its flow asks for is settled with the others of its tree.
    """
    return terms_of(scene, line.size) if line.pipe is None else terms(scene.site.rules, line.pipe)


def prices_of(scene: YardScene, size: int) -> Prices:
    """Relative prices with pipe of a size.

    Parameters
    ----------
    scene : YardScene
        The yard.
    size : int
        Number of the size.

    Returns
    -------
    Prices
        The scene's own for the smallest.
    """
    if scene.sizes is None or size == 0:
        return scene.prices
    more = scene.sizes.gauges[size].prices.trench - scene.sizes.gauges[0].prices.trench
    return scene.prices._replace(trench=scene.prices.trench + more)


def pipe_in_size(scene: YardScene, size: int) -> Pipe:
    """The pipe of a size.

    Parameters
    ----------
    scene : YardScene
        The yard.
    size : int
        Its number.

    Returns
    -------
    Pipe
        The scene's own for the smallest.
    """
    return scene.pipe if scene.sizes is None or size == 0 else scene.sizes.gauges[size].pipe


def widest(scene: YardScene) -> Pipe:
    """The largest pipe that a line of a yard may have.

    Parameters
    ----------
    scene : YardScene
        The yard.

    Returns
    -------
    Pipe
        The scene's own where no sizes are asked for.
    """
    return pipe_in_size(scene, 0 if scene.sizes is None else len(scene.sizes.gauges) - 1)


def _in_pipe(scene: YardScene, size: int) -> Yard:
    """The net as lines of a larger pipe see it.

    Their top lies higher, so their ceilings lie lower, and a metre costs more.
    """
    import shapely

    yard, small, large = scene.yard, terms_of(scene), terms_of(scene, size)
    lower: Floats = np.full(yard.ceiling.size, large.rise - small.rise)
    more = large.heavier - small.heavier
    if more and not yard.grounds.heavier.is_empty:
        nodes = np.flatnonzero(yard.is_open)
        x, y = yard.places(nodes).T
        lifted = shapely.intersects_xy(yard.grounds.heavier.buffer(yard.cell / 2), x, y)
        if not yard.grounds.vehicles.is_empty:  # there the pavement's cover stands in place of both
            lifted &= ~shapely.intersects_xy(yard.grounds.vehicles.buffer(yard.cell / 2), x, y)
        lower[nodes[lifted]] += more
    extra = prices_of(scene, size).trench - scene.prices.trench
    return replace(yard, ceiling=yard.ceiling - lower, rate=yard.rate + extra)
