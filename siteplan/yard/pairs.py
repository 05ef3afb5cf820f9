"""A source and an outlet in; out.

Whether a line between them has the fall, shown by a line where the net alone says no.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from siteplan import units
from siteplan.books.kinds import TITLES, into_pipe
from siteplan.routes.ends import end_of, too_deep
from siteplan.routes.sharing import may_end
from siteplan.routes.straight import Place, RunTarget, lawful_chain, straighten
from siteplan.routes.terms import for_length
from siteplan.values.water_ends import Outlet, Source
from siteplan.yard.candidates import Why, arrival_spare, walled_in, why_along, why_not, why_too_deep
from siteplan.yard.direct import along_chain, bar, direct_tree, short_ways
from siteplan.yard.trees import Tree, YardScene

_WYE = 1e-9  # m: a wye's own station counts
_SHOWN = 12  # ways off the net whose shortage is looked at
_STEPPED = 0.0275  # share by which a way of steps to 16 neighbours is longer than the straight one, at most
_DOUBTFUL = 0.02  # m to spare below which every last run is looked at
_ROUNDED = 0.02  # m: what else a net may lose on the way, the margin under its ceilings among it
_GAINED = (0.8, 0.6, 0.4, 0.2, 0.0)  # shares of what is missing that a way pulled tight is asked to win back


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """A pair: fall to spare, below 0 or not known where no line is laid; the line that shows it.

    What it is short of.
    """

    spare: float | None
    tree: Tree | None = None  # a line off the net; None where the net has one, or none is proven
    why: Why | None = None  # None where there is fall


def tried_pair(scene: YardScene, source: Source, outlet: Outlet, fine: YardScene | None = None) -> Tried:
    """Whether a source can fall to an outlet.

    On the net, else straight, else along the way that loses least, pulled tight.

    Parameters
    ----------
    scene : Scene
        The yard.
    source, outlet : Source, Outlet
        The pair.
    fine : Scene, optional
        The yard on the net from which the answer is taken; `scene` itself when absent.

    Returns
    -------
    Tried
        Nothing is refused that one of these proves.
    """
    net = scene if fine is None else fine
    if not may_end(scene.site, source, outlet):
        return Tried(spare=None, why=_not_taken(source, outlet))
    if too_deep(outlet, scene.terms) > 0:
        return Tried(spare=None, why=why_too_deep(scene.site, outlet, scene.terms))
    if walled_in(scene.yard, outlet):
        start, unit = scene.starts[source.id], scene.site.length_unit
        return Tried(spare=None, why=why_not(scene.site, scene.yard, start, source, outlet, scene.terms, unit))
    end = net.ends[outlet.id]
    apart = math.dist((source.x, source.y), (outlet.x, outlet.y))
    held = for_length(scene.terms, apart)
    if held is not scene.terms:
        # so near that less of the line may show than the net lets
        end = end_of(scene.site, net.yard, outlet, held, scene.prices)
    amount = arrival_spare(net.reaches[source.id], end, outlet, scene.terms)
    usual = amount is not None and amount >= 0
    if fine is not None and (amount is None or amount < _DOUBTFUL):
        # every last run there is, not only those that a fan of a fine net is thinned to
        end = end_of(scene.site, net.yard, outlet, held, scene.prices, every=True)
        amount = arrival_spare(net.reaches[source.id], end, outlet, scene.terms)
    if amount is not None and usual:
        return Tried(spare=amount)
    tree = direct_tree(scene, source, outlet)
    if tree is not None:
        return Tried(spare=spare_of(scene, tree, 0).spare, tree=tree)
    unit = scene.site.length_unit
    if amount is not None and amount >= 0:
        # there by a last run that the usual fans leave out: a line pulled tight is proven now, the search may not find
        # one
        straight = why_not(scene.site, net.yard, net.starts[source.id], source, outlet, scene.terms, unit)
        tight = laid_along(scene, straight, source, outlet)
        return tight if tight.tree is not None else Tried(spare=amount)
    why = why_not(scene.site, net.yard, net.starts[source.id], source, outlet, scene.terms, unit, end)
    lawful = why.chain is None or lawful_chain(scene.yard.grounds, why.chain)
    for way in itertools.islice(short_ways(scene, source, outlet), _SHOWN):
        shown = why_along(scene.site, scene.yard, way, source, outlet, scene.terms, unit)
        if shown.margin is not None and (why.margin is None or not lawful or shown.margin > why.margin):
            why, lawful = shown, True
    return laid_along(scene, why, source, outlet)


def _not_taken(source: Source, outlet: Outlet) -> Why:
    whose = (
        "it stands nearer to a foundation than a sump's outlet may"
        if outlet.found
        else "as the site says (its keys takes, refuses)"
    )
    return Why(
        reason=f"{outlet.name} takes no water of {units.with_article(TITLES[source.kind].lower())}, {whose}",
        fall_available=None,
        fall_needed=None,
        margin=None,
        length=None,
    )


def laid_along(scene: YardScene, why: Why, source: Source, outlet: Outlet) -> Tried:
    """A pair whose way is known: the line along it where its fall is enough, else what it is short of.

    Parameters
    ----------
    scene : Scene
        The yard.
    why : Why
        With its way where the fall along it is enough.
    source, outlet : Source, Outlet
        The pair.

    Returns
    -------
    Tried
        With what bars the line where the fall is there and no line is proven.
    """
    if why.chain is None:
        return _pulled_tight(scene, why, source, outlet)
    tree = along_chain(scene, why.chain, source, outlet)
    if tree is not None:
        return Tried(spare=spare_of(scene, tree, 0).spare, tree=tree)
    barred = replace(why, reason=bar(scene, why.chain, source, outlet), chain=None)
    return Tried(spare=None, why=barred)


def _pulled_tight(scene: YardScene, why: Why, source: Source, outlet: Outlet) -> Tried:
    """A pair short on its way over the net, whose steps are up to 2.7 % longer than the straight.

    Along that way pulled tight.

    A chain of straight runs is asked for that arrives higher than the way over the net does, by all that is missing,
    then by less and less of it; the highest that there is tells what is missing.
    """
    if why.way is None or why.margin is None or why.margin >= 0:
        return Tried(spare=why.margin, why=why)
    most = _STEPPED * scene.terms.grade * (why.length or 0.0) + _ROUNDED
    if why.margin >= -most:
        tree = along_chain(scene, why.way, source, outlet)
        if tree is not None:
            return Tried(spare=spare_of(scene, tree, 0).spare, tree=tree)
    best = why
    for gained in _GAINED:
        if gained * -why.margin > most:
            continue
        low = replace(outlet, control=outlet.control + (1 - gained) * why.margin)
        target = RunTarget(places=(why.way[-1],), least=(low.control,), heading=(None,), outlet=low)
        chain = straighten(
            scene.site, scene.yard.grounds, why.way[:-1], source, target, scene.terms, scene.prices, margin=0.0
        )
        if chain is None:
            continue
        shown = why_along(scene.site, scene.yard, chain, source, outlet, scene.terms, scene.site.length_unit)
        if shown.margin is not None and shown.margin > (best.margin or 0.0):
            best = shown
        break
    if best.chain is None:
        return Tried(spare=best.margin, why=best)
    return laid_along(scene, best, source, outlet)


def why_unlaid(scene: YardScene, chain: Sequence[Place], source: Source, outlet: Outlet) -> Tried:
    """A pair with fall on the net whose lines could not be proven: what the way over the net is short of, as drawn.

    Parameters
    ----------
    scene : Scene
        The yard.
    chain : sequence of tuple
        The way over the net, from the source to the outlet [m].
    source, outlet : Source, Outlet
        The pair.

    Returns
    -------
    Tried
        As from `laid_along`.
    """
    why = why_along(scene.site, scene.yard, chain, source, outlet, scene.terms, scene.site.length_unit)
    return laid_along(scene, why, source, outlet)


class Decided(NamedTuple):
    """Fall to spare of a line over its whole way to the outlet [m], and where it is decided.

    The line, its station [m].
    """

    spare: float
    line: int
    station: float


def spare_of(scene: YardScene, tree: Tree, k: int) -> Decided:
    """Fall to spare of a line over its whole way to the outlet, and the place that decides it.

    Least of ceiling - grade x way to the outlet, less the control elevation; the covers over the lines that it joins
    hold it down as its own do. The daylight stretch is left out: there the pipe comes out of the ground as high as it
    lies.

    Parameters
    ----------
    scene : Scene
        For the least grade and the daylight stretch.
    tree : Tree
        Lines that end at one outlet.
    k : int
        Number of the line.

    Returns
    -------
    Decided
        Of places that decide alike, the one nearest the source.
    """
    parts = [(k, float(tree.laid[k].trace.station[-1]))]  # every line of the way, and how far up it the way runs
    while (parent := tree.laid[parts[-1][0]].parent) is not None:
        joins, trunk = tree.laid[parts[-1][0]].trace, tree.laid[parent].trace
        parts.append((parent, trunk.corner_stations[trunk.corners.index(joins.corners[0])]))
    below, least = sum(upto for _, upto in parts), Decided(math.inf, k, parts[0][1])
    for j, upto in parts:
        below -= upto
        here = tree.laid[j]
        at = here.trace.station
        use = at <= upto + _WYE
        if here.outlet is not None and not into_pipe(here.outlet.kind):
            shows = for_length(scene.terms, float(at[-1])).stretch
            use = use & (at > shows) if (at[use] > shows).any() else use
        allowed = np.where(use, here.trace.ceiling - scene.terms.grade * (at + below), np.inf)
        tight = int(np.argmin(allowed))
        if float(allowed[tight]) < least.spare:
            least = Decided(float(allowed[tight]), j, float(at[tight]))
    return least._replace(spare=least.spare - tree.outlet.control)
