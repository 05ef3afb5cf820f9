"""A searched network and the trees taken from it in; why sources share a line or are kept apart, out."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from siteplan.routes.labels import Network
from siteplan.routes.sharing import may_end, may_share
from siteplan.values.lines import Line
from siteplan.values.tried import Sharing, SharingWhy
from siteplan.values.water_ends import Outlet, Source
from siteplan.yard.gauges import least_grade
from siteplan.yard.trees import YardScene

_MOST = 12  # decisions told of one group of sources, those of the most sources first
_SAME = 1e-9


def decided(
    scene: YardScene,
    network: Network,
    planned: Sequence[tuple[int, int]],
    sources: Sequence[Source],
    outlets: Sequence[Outlet],
) -> tuple[Sharing, ...]:
    """Why the trees planned are as they are.

    Parameters
    ----------
    scene : YardScene
        For flows and sizes.
    network : Network
        What was searched.
    planned : sequence of tuple of int
        Bundles of the trees with the numbers of their outlets.
    sources, outlets : sequence
        By number in the network.

    Returns
    -------
    tuple of Sharing
        One for each tree of several sources, one for each two trees.
    """

    def of(bundle: int) -> list[Source]:
        return [source for k, source in enumerate(sources) if bundle >> k & 1]

    found = []
    for bundle, number in planned:
        if bundle.bit_count() < 2:
            continue
        cost, instead = network.arrivals[bundle, number].cost, _parted(network, bundle)
        held = instead is not None and instead < cost - _SAME
        found.append(_told(scene, of(bundle), (), outlets[number], "holes" if held else "cheaper", cost, instead))
    for (one, at), (other, there) in itertools.combinations(planned, 2):
        both = one | other
        cost = network.arrivals[one, at].cost + network.arrivals[other, there].cost
        joined = [(network.arrivals[both, n].cost, n) for n in range(len(outlets)) if (both, n) in network.arrivals]
        plain = [network.plain[both, n] for n in range(len(outlets)) if (both, n) in network.plain]
        instead = min(joined)[0] if joined else None
        why = _why_apart(scene, network, (one, other), outlets, of(both))
        if why == "cheaper" and plain and min(plain) < cost - _SAME:
            why = "flow"
        found.append(_told(scene, of(one), of(other), outlets[min(joined)[1] if joined else at], why, cost, instead))
    return tuple(sorted(found, key=lambda one: -len(one.sources) - len(one.others))[:_MOST])


def _parted(network: Network, bundle: int) -> float | None:
    """Least cost of a bundle in two or more trees, whatever outlets have room for."""
    first = bundle & -bundle
    costs = [
        network.best[part][0] + network.best[bundle ^ part][0]
        for part in network.best
        if part & ~bundle == 0 and part & first and bundle ^ part in network.best
    ]
    return min(costs, default=None)


def _why_apart(
    scene: YardScene, network: Network, parts: tuple[int, int], outlets: Sequence[Outlet], members: Sequence[Source]
) -> SharingWhy:
    """What keeps two groups apart whatever it costs; 'cheaper' where nothing does."""
    if not may_share(scene.site, members):
        return "own-line"
    open_to = [n for n, outlet in enumerate(outlets) if all(may_end(scene.site, source, outlet) for source in members)]
    if not open_to:
        return "outlet-takes"
    alone = [1 << k for part in parts for k in range(part.bit_length()) if part >> k & 1]
    reached = [n for n in open_to if all((one, n) in network.arrivals for one in alone)]
    if not reached:
        return "no-fall"
    flow = _flow(scene, members)
    if flow is not None and all((takes := outlets[n].takes) is not None and flow > takes for n in reached):
        return "flow"
    return "cheaper"


def _flow(scene: YardScene, members: Sequence[Source]) -> float | None:
    flows = [None if scene.sizes is None else scene.sizes.flows.get(source.id) for source in members]
    known = [flow for flow in flows if flow is not None]
    return sum(known) if len(known) == len(flows) else None


def _told(
    scene: YardScene,
    one: Sequence[Source],
    others: Sequence[Source],
    outlet: Outlet,
    why: SharingWhy,
    cost: float,
    instead: float | None,
) -> Sharing:
    flow, size = _flow(scene, [*one, *others]), None
    if flow is not None and scene.sizes is not None:
        least = scene.terms.grade
        size = next(
            (
                gauge.pipe.nominal
                for gauge in scene.sizes.gauges
                if least_grade(scene.sizes.basis, gauge.pipe, flow, least, least) is not None
            ),
            None,
        )
    return Sharing(
        sources=tuple(source.id for source in one),
        others=tuple(source.id for source in others),
        outlet=outlet.id,
        why=why,
        cost=cost,
        instead=instead,
        flow=flow,
        size=size,
    )


def as_laid(told: Sequence[Sharing], lines: Sequence[Line]) -> tuple[Sharing, ...]:
    """Of what was decided on the net, what the lines laid bear out.

    Parameters
    ----------
    told : sequence of Sharing
        From `decided`.
    lines : sequence of Line
        As laid.

    Returns
    -------
    tuple of Sharing
        A group that the proof laid in another way is left out.
    """
    ids = {line.id for line in lines}
    groups = {frozenset(line.sources) for line in lines if line.end not in ids}
    return tuple(
        one for one in told if frozenset(one.sources) in groups and (not one.others or frozenset(one.others) in groups)
    )
