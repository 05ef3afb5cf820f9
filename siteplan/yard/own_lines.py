"""Lines that a person drew in; the same laid exactly there, with inverts as given or settled, and set beside the planner's own, out.

Nothing is refused for breaking a rule: a drawn line is laid as it is drawn and the checks say what it breaks. What is said
here is where its inverts come from, what it costs beside the planner's own choice for that source, and what that choice is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from siteplan import units
from siteplan.books.kinds import Kind
from siteplan.books.pipes import found as found_pipe
from siteplan.books.prices import Prices
from siteplan.fall.band import Profile
from siteplan.routes.lines import Laid, fittings_of
from siteplan.routes.trace import trace
from siteplan.site import Feature, Site
from siteplan.values import LaidOut, Line, LowSpot, Outlet, Pipe, Source
from siteplan.yard.direct import along_chain
from siteplan.yard.gauges import SizesAsked
from siteplan.yard.groups import lay_beside, lay_out, lines_of_trees, yard_scene
from siteplan.yard.trees import Tree, YardScene, settled_tree

_SAME_COST = 0.005  # share of a cost that is not told


def laid_with_own(
    site: Site,
    named: tuple[Outlet, ...],
    spots: tuple[LowSpot, ...],
    pipe: Pipe,
    prices: Prices,
    sizes: SizesAsked | None = None,
) -> LaidOut:
    """The yard laid out: lines of one's own where they are drawn, and the planner's for all other sources.

    Parameters
    ----------
    site : Site
        The surveyed site; its lines of kind drain are those of one's own.
    named : tuple of Outlet
        Outlets that the site names.
    spots : tuple of LowSpot
        Wet ground.
    pipe : Pipe
        The pipe laid where a drawn line names no kind.
    prices : Prices
        Relative prices.
    sizes : SizesAsked, optional
        Sizes and flows of the lines that are not drawn.

    Returns
    -------
    LaidOut
        Drawn lines first. No other line comes into their trenches but at an outlet that they share.
    """
    drawn = [one for one in site.of_kind(Kind.DRAIN) if site.what_if.plays(one.attributes["to"])]
    if not drawn:
        return lay_out(site, named, spots, pipe, prices, sizes)
    lines: list[Line] = []
    notes: list[str] = []
    for feature in drawn:
        source = next(one for one in site.sources if one.name == feature.attributes["from"])
        outlet = next(one for one in named if one.name == feature.attributes["to"])
        held = found_pipe(feature.attributes.get("pipe", pipe.kind), pipe.nominal, site.laying.own_pipes) or pipe
        scene = replace(yard_scene(site, named, spots, held, prices), lines_before=len(lines))
        tree, how = _tree(scene, feature, source, outlet)
        if tree is None:
            notes.append(
                f"{feature.name or 'a drawn line'} is a guide from {source.name} to {outlet.name} that no line can follow: what is laid there is the planner's own"
            )
            continue
        (line,) = lines_of_trees(scene, [tree])
        lines.append(line)
        called = f" ({feature.name})" if feature.name else ""
        notes.append(f"{line.id} {'lies as drawn' if line.own else 'follows a guide'}{called}, {how}")
        notes += _beside(site, named, spots, pipe, prices, line, source)
    own = LaidOut(lines=tuple(lines), outlets=named, candidates=(), notes=tuple(notes))
    carried = {key for line in lines for key in line.sources}
    if carried >= {source.id for source in site.sources}:
        return own
    if lines:
        return lay_beside(site, named, spots, pipe, prices, own, shared_ends=True, sizes=sizes)
    free = lay_out(site, named, spots, pipe, prices, sizes)
    return replace(free, notes=(*notes, *free.notes))


def _tree(scene: YardScene, feature: Feature, source: Source, outlet: Outlet) -> tuple[Tree | None, str]:
    """A drawn line with inverts, and where these come from in words; None for a guide that cannot be followed."""
    import shapely

    chain = [(float(x), float(y)) for x, y in shapely.get_coordinates(feature.geometry)]
    if feature.attributes["mode"] == "guide":
        return along_chain(scene, chain, source, outlet), "in fewer straight runs where that is cheaper"
    corners = tuple(reversed(chain))
    along = trace(scene.site, scene.yard.grounds, corners, source, outlet, scene.terms)
    laid = Laid(
        source=source, carried=(source,), parent=None, outlet=outlet, trace=along, fittings=fittings_of(corners), straight=True, drawn=True,
    )  # fmt: skip
    at, length = np.asarray(along.corner_stations), float(along.station[-1])
    given, grade = feature.attributes.get("inverts"), feature.attributes.get("grade")
    if given is not None:
        return _held(laid, outlet, at, np.asarray(given[::-1])), "its inverts as given"
    if grade is not None:
        return _held(laid, outlet, np.array([0.0, length]), outlet.control + grade * np.array([0.0, length])), (
            f"at {units.grade_text(grade)} from the lowest invert of {outlet.name}"
        )
    settled = settled_tree(scene, (replace(laid, drawn=False),), outlet)
    if settled is not None:
        return replace(settled, laid=(laid,)), "its inverts settled here: none were given"
    # no inverts keep every limit: straight from the outlet to as high as the cover at the source lets it start, so that the checks say where it fails
    top = max(float(along.ceiling[-1]), outlet.control)
    return _held(laid, outlet, np.array([0.0, length]), np.array([outlet.control, top])), (
        "and no inverts keep every limit along it: it is drawn straight from the lowest invert of its outlet to the highest start, and the checks say what breaks"
    )


def _held(laid: Laid, outlet: Outlet, station: np.ndarray, invert: np.ndarray) -> Tree:
    return Tree(outlet=outlet, laid=(laid,), profiles=(Profile(station=station, invert=invert),))


def _beside(
    site: Site,
    named: tuple[Outlet, ...],
    spots: tuple[LowSpot, ...],
    pipe: Pipe,
    prices: Prices,
    line: Line,
    source: Source,
) -> Iterator[str]:
    """What the planner would lay for this source alone, beside the drawn line."""
    free = replace(site, sources=(source,), features=tuple(one for one in site.features if one.kind != Kind.DRAIN))
    own = next(iter(lay_out(free, named, spots, pipe, prices).lines), None)
    unit = site.length_unit
    if own is None:
        yield f"For {source.name} alone this planner finds no line to set beside {line.id}"
        return
    names = {one.id: one.name for one in named}
    share = line.cost / own.cost if own.cost > 0 else math.inf
    said = "as much as" if abs(share - 1) < _SAME_COST else f"{share:.2f} times"
    yield (
        f"{line.id} costs {said} what this planner would lay for {source.name} alone: {units.length_text(own.length, unit)} to "
        f"{names.get(own.end, 'a daylight point that it found')} with {units.length_text(own.spare, unit)} of fall to spare, against {units.length_text(line.length, unit)}"
        f" with {units.length_text(line.spare, unit)}"
    )
