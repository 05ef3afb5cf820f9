"""A way to lay a yard and its flows in; the yard laid with pipe that takes its water out.

The search weighs sizes as lines join (`siteplan.yard.gauges`). Where what it gives leaves out a source that a smaller
pipe would serve, or flows are not known, the yard is laid in one size, and again in the largest that any line asks for,
as a larger pipe needs more cover. Lines that a smaller size suits then take the smaller one on the same inverts: their
cover only grows. A source that the larger pipe leaves out has a line of its own in the smaller one, beside the others,
where that can be had.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from siteplan.books.hydraulics import USUAL_KB
from siteplan.books.kinds import Kind
from siteplan.books.pipes import found, sizes, smallest
from siteplan.site import Site, Sizing
from siteplan.units import MILLIMETRE, size_text
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.told import BarredSize
from siteplan.values.tried import LaidOut
from siteplan.values.water_ends import Inflows
from siteplan.water.sizes import Basis, SizeRun, size_runs
from siteplan.waterworks.carried import network

_ROUNDS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class SizedYard:
    """A yard laid with fitting sizes, and which sizes asked for could not be laid."""

    laid: LaidOut
    barred: tuple[BarredSize, ...] = ()


def on_offer(sizing: Sizing) -> tuple[Pipe, ...]:
    """Sizes that lines may have.

    Parameters
    ----------
    sizing : Sizing
        The site's kind of pipe and its smallest and largest size.

    Returns
    -------
    tuple of Pipe
        Smallest bore first, at least one.
    """
    every = sizes(sizing.pipe, sizing.own_pipes)
    names = [pipe.nominal for pipe in every]
    first = every.index(smallest(sizing.pipe, sizing.smallest, sizing.own_pipes))
    last = names.index(sizing.largest) if sizing.largest else len(every) - 1
    return every[min(first, last) : last + 1]


def weighable(site: Site, lines: Sequence[Line]) -> tuple[Line, ...]:
    """Lines whose pipe the book of strengths holds; the others are laid as they are, without reaches of other pipe.

    Parameters
    ----------
    site : Site
        For the book of pipes with the site's own.
    lines : sequence of Line
        As laid.

    Returns
    -------
    tuple of Line
        In the order given.
    """
    held = {(stock.pipe.kind, stock.pipe.nominal) for stock in site.laying.stocks}
    return tuple(line for line in lines if (line.pipe.kind, line.pipe.nominal) in held)


def unweighed_notes(site: Site, lines: Sequence[Line]) -> tuple[str, ...]:
    """What to say of lines whose pipe the book of strengths does not hold.

    Parameters
    ----------
    site : Site
        For the book of pipes with the site's own.
    lines : sequence of Line
        As laid.

    Returns
    -------
    tuple of str
        One sentence a size, none when the book holds them all.
    """
    known = {line.id for line in weighable(site, lines)}
    sizes_of: dict[str, list[str]] = {}
    for line in lines:
        if line.id not in known:
            sizes_of.setdefault(
                f"{size_text(line.pipe.nominal, line.pipe.od, site.length_unit)} {line.pipe.title}", []
            ).append(line.id)
    return tuple(
        (
            f"{', '.join(ids)}: the book holds no strength of {size}, so wheels, bedding, bellies and flotation "
            "are not judged there: give it under [pipes] in site.toml."
        )
        for size, ids in sizes_of.items()
    )


def basis_of(sizing: Sizing) -> Basis:
    """What capacities are held to, as the water room takes it.

    Parameters
    ----------
    sizing : Sizing
        As the site says.

    Returns
    -------
    Basis
        Of the same content.
    """
    return Basis(
        code=sizing.basis,
        fill=sizing.fill,
        fill_of="flow" if sizing.fill_of == "flow" else "depth",
        age="new" if sizing.age == "new" else "aged" if sizing.age == "aged" else "design",
        kb=USUAL_KB * MILLIMETRE if sizing.kb is None else sizing.kb,
        own_pipes=sizing.own_pipes,
    )


def laid_to_fit(
    site: Site,
    inflows: Inflows,
    lay: Callable[[Pipe], LaidOut],
    beside: Callable[[Pipe, LaidOut], LaidOut] | None = None,
    sized: Callable[[Mapping[str, float | None], Sequence[Pipe], Basis], LaidOut] | None = None,
) -> SizedYard:
    """The yard laid with the smallest sizes that take the water.

    Parameters
    ----------
    site : Site
        As surveyed, with its sizing.
    inflows : Inflows
        What its sources bring.
    lay : callable
        Lays the whole yard with one pipe.
    beside : callable, optional
        Lays what a layout leaves out in another pipe beside it.
    sized : callable, optional
        Lays the whole yard, given what sources bring, the sizes on offer and what capacities are held to, with each
        line in the size that its water and its fall ask for. What it gives is taken where it serves every source that a
        line in the smallest size could serve, and every line carries its water.

    Returns
    -------
    SizedYard
        Where the larger pipe leaves out a source that a smaller one serves, that source has a line of its own in the
        smaller one where that can be had. With the smallest size everywhere when flows are not known, when no size
        fits, or when a source would have no line at all; `barred` then says what stands in the larger pipe's way.

    References
    ----------
    `siteplan.water.sizes.size_runs`.
    """
    offered = on_offer(site.sizing)
    pipe = offered[0]
    if sized is not None and all(inflows.of(one.id) is not None for one in site.sources):
        flows = {source.id: inflows.of(source.id) for source in site.sources}
        weighed = sized(flows, offered, basis_of(site.sizing))
        asked = _free_sizes(site, inflows, weighed, offered)
        fits = not _too_small(weighed, asked)
        if fits and not ({source.id for source in site.sources} - _served(weighed)):
            return SizedYard(laid=_smaller_where_they_fit(site, weighed, asked))
        laid = lay(pipe)
        if fits and not (_served(laid) - _served(weighed)):
            return SizedYard(laid=_smaller_where_they_fit(site, weighed, asked))
    else:
        laid = lay(pipe)
    for _ in range(_ROUNDS):
        asked = _free_sizes(site, inflows, laid, offered)
        widest = max((size for size in asked.values() if size is not None), key=lambda size: size.bore, default=pipe)
        if widest.bore <= pipe.bore * (1 + 1e-9):
            return SizedYard(laid=_smaller_where_they_fit(site, laid, asked))
        again = lay(widest)
        lost = _served(laid) - _served(again)
        if lost:
            both = None if beside is None else _two_sizes(site, inflows, again, partial(beside, pipe, again), widest)
            if both is not None and not _served(laid) - _served(both):
                return SizedYard(laid=both)
            return SizedYard(laid=laid, barred=_barred(site, laid, again, asked, pipe, lost))
        laid, pipe = again, widest
    return SizedYard(laid=laid)


def _too_small(laid: LaidOut, asked: Mapping[str, Pipe | None]) -> bool:
    """Whether a line asks for more than the pipe that it is laid in."""
    sizes = ((line.pipe, asked[line.id]) for line in laid.lines)
    return any(size is not None and size.bore > pipe.bore * (1 + 1e-9) for pipe, size in sizes)


def _two_sizes(
    site: Site, inflows: Inflows, wide: LaidOut, beside: Callable[[], LaidOut], widest: Pipe
) -> LaidOut | None:
    """The layout in the wide pipe with the others beside it, each line in its fitting size.

    None where one is too small.
    """
    both = beside()
    asked = asked_sizes(site, inflows, both.lines, on_offer(site.sizing))
    before = {line.id for line in wide.lines}
    for line in both.lines:
        size, most = asked[line.id], widest if line.id in before else line.pipe
        if size is not None and size.bore > most.bore * (1 + 1e-9):
            return None
    return _smaller_where_they_fit(site, both, asked)


def _barred(
    site: Site, laid: LaidOut, wide: LaidOut, asked: Mapping[str, Pipe | None], pipe: Pipe, lost: set[str]
) -> tuple[BarredSize, ...]:
    """For each line too small.

    The size it asks for, and by how much the sources that this size leaves out fall short in it.
    """
    named = {outlet.id for outlet in laid.outlets if not outlet.found}
    found = []
    for line in laid.lines:
        size = asked[line.id]
        if size is None or size.bore <= pipe.bore * (1 + 1e-9):
            continue
        for source in (one for one in site.sources if one.id in lost):
            tried = [row for row in wide.candidates if row.sources == (source.id,)]
            nearest = max(tried, key=lambda row: -math.inf if row.margin is None else row.margin, default=None)
            short = None if nearest is None or nearest.margin is None else max(0.0, -nearest.margin)
            found.append(
                BarredSize(
                    line=line.id,
                    asked=size.nominal,
                    laid=pipe.nominal,
                    source=source.id,
                    outlet=nearest.outlet if nearest is not None and nearest.outlet in named else None,
                    short_by=short,
                    reason=None if nearest is None else nearest.reason,
                )
            )
    return tuple(found)


def asked_sizes(site: Site, inflows: Inflows, lines: Sequence[Line], offered: Sequence[Pipe]) -> dict[str, Pipe | None]:
    """The size each line asks for.

    The largest of its runs' smallest fitting sizes, none smaller than what falls into it.

    Parameters
    ----------
    site : Site
        For the sources and the basis.
    inflows : Inflows
        What the sources bring.
    lines : sequence of Line
        As laid.
    offered : sequence of Pipe
        Sizes on offer.

    Returns
    -------
    dict of str to Pipe or None
        By line; None where the flow is not known or no size fits.
    """
    by_run = run_sizes(site, inflows, lines, offered)
    asked: dict[str, Pipe | None] = {}
    for line in lines:
        own = [pipe for name, pipe in by_run.items() if name.partition("/")[0] == line.id]
        known = [pipe for pipe in own if pipe is not None]
        asked[line.id] = max(known, key=lambda pipe: pipe.bore) if known and len(known) == len(own) else None
    return asked


def run_sizes(site: Site, inflows: Inflows, lines: Sequence[Line], offered: Sequence[Pipe]) -> dict[str, Pipe | None]:
    """The smallest size that fits each run and never shrinks downstream.

    Parameters
    ----------
    site : Site
        For the sources and the basis.
    inflows : Inflows
        What the sources bring.
    lines : sequence of Line
        As laid.
    offered : sequence of Pipe
        Sizes on offer.

    Returns
    -------
    dict of str to Pipe or None
        By run id of `water_runs.network`.
    """
    net = network(lines, [], site.sources, inflows, site.sizing)
    asked = [
        SizeRun(id=piece.run.id, into=piece.run.into, flow=net.flows[piece.run.id], grade=piece.run.grade)
        for piece in net.pieces
    ]
    return size_runs(asked, offered, basis_of(site.sizing))


def _served(laid: LaidOut) -> set[str]:
    return {source for line in laid.lines for source in line.sources}


def _free_sizes(site: Site, inflows: Inflows, laid: LaidOut, offered: Sequence[Pipe]) -> dict[str, Pipe | None]:
    """The size that each line asks for; none where a person gives it."""
    told = told_sizes(site, laid)
    return {
        line: None if line in told else size for line, size in asked_sizes(site, inflows, laid.lines, offered).items()
    }


def told_sizes(site: Site, laid: LaidOut) -> frozenset[str]:
    """Lines whose size a person gives with the drawing: they keep it, and the checks say whether it takes their water.

    Parameters
    ----------
    site : Site
        Its drawn lines.
    laid : LaidOut
        Those lines as laid.

    Returns
    -------
    frozenset of str
        Ids of lines.
    """
    sized = {one.attributes["from"] for one in site.of_kind(Kind.DRAIN) if "nominal" in one.attributes}
    ids = {source.id for source in site.sources if source.name in sized}
    return frozenset(one.line for own in laid.own for one in own.drawn if one.line is not None and one.source in ids)


def _smaller_where_they_fit(site: Site, laid: LaidOut, asked: Mapping[str, Pipe | None]) -> LaidOut:
    kept = told_sizes(site, laid)  # of a layout in two sizes every line is asked

    def size(line: Line) -> Pipe:
        wanted = asked[line.id]
        if wanted is None or line.id in kept:
            return line.pipe
        # a drawn line may be of another kind: its own in that size, where there is one
        return found(line.pipe.kind, wanted.nominal, site.laying.own_pipes) or line.pipe

    return replace(laid, lines=tuple(_with_pipe(line, line.pipe, size(line)) for line in laid.lines))


def _with_pipe(line: Line, was: Pipe, pipe: Pipe) -> Line:
    """The line with a smaller pipe on the same inverts: more cover, a trench bottom nearer the invert."""
    if pipe.nominal == was.nominal:
        return line
    higher, less = was.rise - pipe.rise, was.below - pipe.below
    return replace(
        line,
        pipe=pipe,
        rows=tuple(replace(row, cover=row.cover + higher, cut=row.cut - less) for row in line.rows),
        crossings=tuple(
            replace(
                one,
                cover_from=one.cover_from + higher,
                cover_to=one.cover_to + higher,
                cover_min=one.cover_min + higher,
            )
            for one in line.crossings
        ),
    )
