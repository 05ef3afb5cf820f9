"""Ways found at a steeper least grade in; their inverts settled by the site's own least grade out.

A layout for more fall looks for its ways at a grade that the rules do not ask for. Held to it, a line would spend on
grade the fall that its cover wants: what is margin and what is limit is for the site's own rules to say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from siteplan.routes.lines import Laid
from siteplan.routes.trace import trace
from siteplan.yard.apart import clashes
from siteplan.yard.gauges import grade_of, line_terms
from siteplan.yard.trees import Tree, YardScene, carries, settled_tree


def at_own_grade(scene: YardScene, trees: Sequence[Tree]) -> tuple[YardScene, list[Tree]]:
    """A yard and its trees by the site's own least grade.

    Parameters
    ----------
    scene : YardScene
        Whose site says by which grade inverts are settled, where that is another than the one that ways were looked for
        at.
    trees : sequence of Tree
        Proven.

    Returns
    -------
    tuple of YardScene and list of Tree
        Both as they were where the site says nothing, and where no inverts are found or lines that cross would come
        nearer.
    """
    grade = scene.site.settle_grade
    if grade is None or grade >= scene.terms.grade:
        return scene, list(trees)
    sizes = scene.sizes
    if sizes is not None:
        gauges = tuple(one._replace(terms=one.terms._replace(grade=grade)) for one in sizes.gauges)
        sizes = replace(sizes, gauges=gauges)
    own = replace(scene, terms=scene.terms._replace(grade=grade), sizes=sizes)
    settled = []
    for tree in trees:
        now = tree if any(one.drawn for one in tree.laid) else _settled(own, tree)
        if now is None:
            return scene, list(trees)
        settled.append(now)
    return (own, settled) if clashes(own, settled) <= clashes(scene, trees) else (scene, list(trees))


def _settled(scene: YardScene, tree: Tree) -> Tree | None:
    """A tree by other rules.

    Where its flow wants more grade than they do, under the ceilings that it was found with.
    """
    able = carries(scene, tree)
    asked = [replace(one, grade=grade_of(scene, one.size, one.carried) or one.grade) for one in tree.laid]
    for laid in ([_traced(scene, one) for one in asked], asked):
        now = settled_tree(scene, tuple(laid), tree.outlet)
        if now is not None and (carries(scene, now) or not able):
            return now
    return None


def _traced(scene: YardScene, one: Laid) -> Laid:
    """A line with its limits by the rules of a yard."""
    corners, asked = one.trace.corners, line_terms(scene, one)
    return replace(one, trace=trace(scene.site, scene.yard.grounds, corners, one.source, one.outlet, asked))
