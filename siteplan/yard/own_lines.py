"""Lines that a person drew in.

The same laid exactly there, with inverts as given or settled, and set beside the planner's own, out.

Nothing is refused for breaking a rule: a drawn line is laid as it is drawn and the checks say what it breaks. What is
told here is where its inverts come from, and what the planner would lay for the same sources alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from siteplan.books.kinds import Kind
from siteplan.books.pipes import sizes
from siteplan.books.prices import Prices
from siteplan.errors import InputError
from siteplan.routes.terms import terms
from siteplan.site import Feature, Site
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.own_drawn import OwnDrawn, OwnInverts, OwnLines, PlannersOwn
from siteplan.values.tried import LaidOut
from siteplan.values.water_ends import Outlet, Source
from siteplan.yard.direct import along_chain
from siteplan.yard.drawn import Drawing, chain_of, drawn_lines
from siteplan.yard.gauges import SizesAsked
from siteplan.yard.groups import lay_beside, lay_out, lines_of_tree, yard_scene
from siteplan.yard.trees import Joining, Tree, YardScene

_JOINS_WITHIN = 2.0  # m round its end where a drawn line lets the line that it joins pass


class DrawnLines(NamedTuple):
    """A drawing as laid; no lines where a guide cannot be followed."""

    drawing: Drawing
    lines: tuple[Line, ...]
    inverts: tuple[OwnInverts, ...]


class DrawnAmong(NamedTuple):
    """What drawn lines are laid from."""

    site: Site
    named: tuple[Outlet, ...]
    spots: tuple[LowSpot, ...]
    pipe: Pipe
    prices: Prices


def laid_with_own(
    site: Site,
    named: tuple[Outlet, ...],
    spots: tuple[LowSpot, ...],
    pipe: Pipe,
    prices: Prices,
    asked: SizesAsked | None = None,
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
        The pipe laid where a drawn line names none.
    prices : Prices
        Relative prices.
    asked : SizesAsked, optional
        Sizes and flows of the lines that are not drawn.

    Returns
    -------
    LaidOut
        Drawn lines first. No other line comes into their trenches but at an outlet that they share.
    """
    given = DrawnAmong(site, named, spots, pipe, prices)
    drawings, joining = drawings_of(site, named), joining_of(given)
    laid = _laid_beside(given, drawings, joining, asked, ())
    # first as the planner lays the yard with their sources in it, then as it does without them; else it serves them
    # itself
    left = _missed(joining, laid)
    if left:
        again = _laid_beside(given, drawings, joining, asked, left)
        laid = laid if _missed(joining, again) else again
    return laid


def _missed(joining: Sequence[Joining], laid: LaidOut) -> tuple[Joining, ...]:
    drawn = {line.start for line in laid.lines if line.own}
    return tuple(one for one in joining if one.sources[0].id not in drawn)


def _laid_beside(
    given: DrawnAmong,
    drawings: Sequence[Drawing],
    joining: tuple[Joining, ...],
    asked: SizesAsked | None,
    apart: Sequence[Joining],
) -> LaidOut:
    """Drawn lines, the planner's for all other sources, and those that join them.

    Those apart have sources that it lays nothing from.
    """
    site, named, spots, pipe, prices = given
    rest = site
    if apart:
        mine = {source.id for one in apart for source in one.sources}
        kept = tuple(one for one in site.sources if one.id not in mine)
        rest = replace(site, sources=kept, features=(*site.features, *_kept_free(given, apart)))
    if not drawings:
        return lay_out(rest, named, spots, pipe, prices, asked, joining)
    drawn = laid_drawings(given, drawings)
    lines = tuple(line for one in drawn for line in one.lines)
    own = LaidOut(
        lines=lines,
        outlets=named,
        candidates=(),
        notes=(),
        own=tuple(_told(given, one) for one in drawn),
    )
    carried = {key for line in lines for key in line.sources}
    if carried >= {source.id for source in site.sources}:
        return own
    if lines:
        return lay_beside(rest, named, spots, pipe, prices, own, shared_ends=True, sizes=asked, joining=joining)
    more = lay_out(rest, named, spots, pipe, prices, asked, joining)
    return replace(more, own=(*own.own, *more.own))


def joining_of(given: DrawnAmong) -> tuple[Joining, ...]:
    """Drawn lines that join lines of the planner's, each with those that join it.

    Parameters
    ----------
    given : DrawnAmong
        The yard.

    Returns
    -------
    tuple of Joining
        In the order in which they are read.
    """
    drains = given.site.of_kind(Kind.DRAIN)
    by_name = {one.name: one for one in given.site.sources}
    found = []
    for first in drains:
        if "meets" not in first.attributes:
            continue
        features, parents = _with_branches(first, drains)
        sources = tuple(by_name[one.attributes["from"]] for one in features if one.attributes["from"] in by_name)
        # one that is pumped all the way has no line to join: told by its name
        meets = next(one for one in given.site.every_source if one.name == first.attributes["meets"])
        if len(sources) == len(features):
            pipes = tuple(pipe_told(given, one) for one in features)
            found.append(Joining(features, parents, sources, pipes, meets.id))
    return tuple(found)


def _with_branches(first: Feature, drains: Sequence[Feature]) -> tuple[tuple[Feature, ...], tuple[int | None, ...]]:
    features, parents = [first], list[int | None]([None])
    for at, one in enumerate(features):  # it grows while it is walked
        for branch in drains:
            if branch.attributes.get("joins") == one.attributes["from"]:
                features.append(branch)
                parents.append(at)
    return tuple(features), tuple(parents)


def _kept_free(given: DrawnAmong, joining: Sequence[Joining]) -> list[Feature]:
    """The trenches of lines that join others, but for the place where they do.

    As ground that no other line may be laid in.
    """
    import shapely

    found: list[Feature] = []
    for one in joining:
        end = shapely.Point(chain_of(one.features[0])[-1]).buffer(_JOINS_WITHIN)
        for feature, pipe in zip(one.features, one.pipes, strict=True):
            trench = feature.geometry.buffer(terms(given.site.rules, pipe).half_trench) - end
            found.append(
                Feature(
                    kind=Kind.NO_DIG, name=feature.name, attributes={}, file="", number=len(found) + 1, geometry=trench
                )
            )
    return found


def drawings_of(site: Site, named: Sequence[Outlet]) -> tuple[Drawing, ...]:
    """Drawn lines, those that lead into one another together.

    Parameters
    ----------
    site : Site
        Its lines of kind drain.
    named : sequence of Outlet
        Those in play; a line to another is out of play, and what joins it.

    Returns
    -------
    tuple of Drawing
        In the order in which their trunks are read.
    """
    drains = site.of_kind(Kind.DRAIN)
    fallen = {one.name for one in site.sources}
    for one in drains:
        if one.attributes["from"] not in fallen:
            raise InputError(
                f"drain {one.name}".strip(),
                f"comes from {one.attributes['from']}, whose water is pumped all the way under pressure",
                "Take out the drain, or the sump's discharge.",
            )
    outlets = {one.name: one for one in named}
    found = []
    for trunk in drains:
        outlet = outlets.get(trunk.attributes["to"])
        if {"joins", "meets"} & set(trunk.attributes) or outlet is None:
            continue
        found.append(Drawing(outlet, *_with_branches(trunk, drains)))
    return tuple(found)


def laid_drawings(given: DrawnAmong, drawings: Sequence[Drawing]) -> tuple[DrawnLines, ...]:
    """Drawn lines laid where they are drawn, numbered on from one another.

    Parameters
    ----------
    given : DrawnAmong
        The yard.
    drawings : sequence of Drawing
        From `drawings_of`, or changed.

    Returns
    -------
    tuple of DrawnLines
        In the order given.
    """
    found: list[DrawnLines] = []
    for one in drawings:
        before = sum(len(done.lines) for done in found)
        held = scenes_of(given, one)
        tree, inverts = drawn_tree(held, one)
        found.append(DrawnLines(one, () if tree is None else lines_of_tree(held, tree, before), inverts))
    return tuple(found)


def scenes_of(given: DrawnAmong, drawing: Drawing) -> list[YardScene]:
    """The yard as each line of a drawing sees it, in its own pipe.

    Parameters
    ----------
    given : DrawnAmong
        The yard.
    drawing : Drawing
        Drawn lines.

    Returns
    -------
    list of YardScene
        One a line; lines of one pipe share theirs.
    """
    pipes = [pipe_told(given, feature) for feature in drawing.features]
    made = {(pipe.kind, pipe.nominal): pipe for pipe in pipes}
    scenes = {key: yard_scene(given.site, given.named, given.spots, pipe, given.prices) for key, pipe in made.items()}
    return [scenes[pipe.kind, pipe.nominal] for pipe in pipes]


def pipe_told(given: DrawnAmong, feature: Feature) -> Pipe:
    """The pipe of a drawn line: of its kind and size, else of its kind in the size laid, else the one laid.

    Parameters
    ----------
    given : DrawnAmong
        The pipe laid, and the site's own pipes.
    feature : Feature
        The drawn line.

    Returns
    -------
    Pipe
        Of a kind that has not the size laid, its next larger; its largest where there is none.
    """
    told = feature.attributes
    every = sizes(told.get("pipe", given.pipe.kind), given.site.laying.own_pipes)
    size = told.get("nominal")
    if size is not None:
        return next(one for one in every if one.nominal == size)
    same = [one for one in every if one.nominal == given.pipe.nominal]
    wide = [one for one in every if one.bore >= given.pipe.bore]
    return (same or wide or list(every[-1:]))[0]


def _told(given: DrawnAmong, one: DrawnLines) -> OwnLines:
    """A drawing as it is told: what was drawn, what it comes to, and what the planner would lay instead."""
    ids: list[str | None] = [line.id for line in one.lines] or [None] * len(one.drawing.features)
    sources = [source_of(given.site, feature) for feature in one.drawing.features]
    drawn = tuple(
        OwnDrawn(
            line=line,
            name=feature.name,
            source=source.id,
            outlet=one.drawing.outlet.id,
            mode=feature.attributes["mode"],
            inverts=inverts,
        )
        for line, feature, source, inverts in zip(ids, one.drawing.features, sources, one.inverts, strict=True)
    )
    if not one.lines:
        return OwnLines(drawn=drawn, cost=None, length=None)
    return OwnLines(
        drawn=drawn,
        cost=math.fsum(line.cost for line in one.lines),
        length=math.fsum(line.length for line in one.lines),
    )


def planners_own(given: DrawnAmong, drawing: Drawing) -> PlannersOwn | None:
    """What the planner would lay for the sources of a drawing alone, in the smallest pipe.

    Parameters
    ----------
    given : DrawnAmong
        The yard.
    drawing : Drawing
        Drawn lines.

    Returns
    -------
    PlannersOwn or None
        None where a source would have no line.
    """
    sources = [source_of(given.site, one) for one in drawing.features]
    site = given.site
    free = replace(site, sources=tuple(sources), features=tuple(one for one in site.features if one.kind != Kind.DRAIN))
    lines = lay_out(free, given.named, given.spots, given.pipe, given.prices).lines
    if {key for line in lines for key in line.sources} < {source.id for source in sources}:
        return None
    ids, named = {line.id for line in lines}, {one.id for one in given.named}
    ends = dict.fromkeys(line.end for line in lines if line.end not in ids)
    return PlannersOwn(
        cost=math.fsum(line.cost for line in lines),
        length=math.fsum(line.length for line in lines),
        spare=min(line.spare for line in lines),
        outlets=tuple(end if end in named else None for end in ends),
        lines=len(lines),
    )


def source_of(site: Site, feature: Feature) -> Source:
    """The source that a drawn line comes from.

    Parameters
    ----------
    site : Site
        As surveyed.
    feature : Feature
        The drawn line.

    Returns
    -------
    Source
    """
    return next(one for one in site.sources if one.name == feature.attributes["from"])


def drawn_tree(scenes: Sequence[YardScene], drawing: Drawing) -> tuple[Tree | None, tuple[OwnInverts, ...]]:
    """Drawn lines with inverts, and where these come from.

    Parameters
    ----------
    scenes : sequence of YardScene
        One a line, from `scenes_of`.
    drawing : Drawing
        Drawn lines.

    Returns
    -------
    tuple of Tree and tuple of str
        None for a guide that cannot be followed.
    """
    sources = [source_of(scenes[0].site, one) for one in drawing.features]
    if drawing.features[0].attributes["mode"] == "guide":
        tree = along_chain(scenes[0], chain_of(drawing.features[0]), sources[0], drawing.outlet)
        return tree, ("none" if tree is None else "planner",)
    laid, profiles, inverts = drawn_lines(scenes, drawing, sources)
    return Tree(outlet=drawing.outlet, laid=laid, profiles=profiles), inverts
