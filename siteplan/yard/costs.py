"""A tree of lines in; what it costs by the relative prices out."""

from __future__ import annotations

import numpy as np

from siteplan.fall.band import Profile, invert_at
from siteplan.routes.ends import rate_at
from siteplan.routes.lines import Laid
from siteplan.routes.straight import Place, bend_price, crossed_askew, join_price, turn
from siteplan.yard.gauges import line_terms, prices_of
from siteplan.yard.trees import Tree, YardScene


def trench_cost(scene: YardScene, one: Laid, profile: Profile) -> float:
    """What the trench of a line costs, without its fittings.

    Parameters
    ----------
    scene : YardScene
        For ground and prices.
    one : Laid
        The line in plan.
    profile : Profile
        Its inverts.

    Returns
    -------
    float
        [-], see docs/costs.md.
    """
    along, prices, asked = one.trace, prices_of(scene, one.size), line_terms(scene, one)
    rate = rate_at(scene.yard.grounds, along.x, along.y, prices)
    bottom = along.ground - invert_at(profile, along.station) + asked.below
    unit = rate + prices.digging * bottom + prices.deep * np.maximum(0.0, bottom - asked.ladder)
    return float(((unit[1:] + unit[:-1]) / 2 * np.diff(along.station)).sum())


def tree_cost(scene: YardScene, tree: Tree) -> float:
    """What a tree costs by the relative prices: its trench, and its bends.

    Parameters
    ----------
    scene : YardScene
        For ground and prices.
    tree : Tree
        Laid.

    Returns
    -------
    float
        [-], see docs/costs.md.
    """
    bends = sum(
        bend_price(turn(*one.trace.corners[k - 1 : k + 2]), scene.prices)
        for one in tree.laid
        for k in range(1, len(one.trace.corners) - 1)
    )
    return bends + sum(trench_cost(scene, one, profile) for one, profile in zip(tree.laid, tree.profiles, strict=True))


def delivered_cost(scene: YardScene, tree: Tree) -> float:
    """What a tree costs as it is delivered.

    Trench, bends, wyes, settings of the grade, and edges of pavement crossed askew.

    Parameters
    ----------
    scene : YardScene
        For ground and prices.
    tree : Tree
        Laid.

    Returns
    -------
    float
        [-], see docs/costs.md.
    """
    prices = scene.prices
    joins = sum(
        join_price(one.trace.corners[1], one.trace.corners[0], downstream(tree, k), prices)
        for k, one in enumerate(tree.laid)
    )
    drops = prices.wye * sum(len(one.drops) for one in tree.laid)
    breaks = prices.grade_break * sum(profile.runs for profile in tree.profiles)
    askew = prices.askew * sum(crossed_askew(scene.yard.grounds, one.trace.corners) for one in tree.laid)
    return tree_cost(scene, tree) + joins + drops + breaks + askew


def downstream(tree: Tree, k: int) -> Place | None:
    """Direction of the trunk below the place where a line joins it.

    Parameters
    ----------
    tree : Tree
        Laid.
    k : int
        Number of the line.

    Returns
    -------
    tuple of float or None
        None for the line that ends at the outlet.
    """
    parent = tree.laid[k].parent
    if parent is None:
        return None
    corners = tree.laid[parent].trace.corners
    at = corners.index(tree.laid[k].trace.corners[0])
    here, below = corners[at], corners[max(0, at - 1)]
    return (below[0] - here[0], below[1] - here[1])
