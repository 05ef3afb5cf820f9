"""A plan in; its site plan on paper out, at the largest scale that fits or at the one asked for.

On several sheets where it must.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from siteplan import units
from siteplan.errors import InputError
from siteplan.plotting.clouds import Clouded, cloud_marks
from siteplan.plotting.gathered import Gathered
from siteplan.plotting.graded import unit_marks
from siteplan.plotting.ground_lines import GroundLines
from siteplan.plotting.line_marks import line_marks
from siteplan.plotting.paper_sizes import Box, Paper, fitting_scale, scale_words, scales
from siteplan.plotting.placing import Label, place_labels
from siteplan.plotting.shapes import Filled, Lettering, Mark, Page, Pen, rectangle, straight
from siteplan.plotting.side_column import key_rows, north_arrow, numbered, paragraphs, said_scale, scale_bar
from siteplan.plotting.site_marks import north_turn, site_marks
from siteplan.plotting.symbols import ring
from siteplan.plotting.view import View
from siteplan.plotting.words_pages import words_pages
from siteplan.sheets.benchmark_words import benchmark_lines
from siteplan.sheets.wording import placed
from siteplan.values.whole_plan import Plan

_ROUND_MM = 7.5  # round the lot, for its dimensions
_COLUMN_MM = 54.0  # at the right: north, scale bar, key
_GUTTER_MM = 3.0
_MOST_SHEETS = 12
_MATCH = Pen(color="#000000", width=0.5, dash=(6.0, 2.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanCut:
    """How a plan lies on paper: the paper as turned, the scale, the windows by rows from the north west."""

    paper: Paper
    ratio: int
    asked: bool
    views: tuple[View, ...]
    across: int


def _drawing_room(paper: Paper) -> Box:
    return replace(paper.inside, right=paper.inside.right - _COLUMN_MM - _GUTTER_MM)


def _extent(plan: Plan) -> Box:
    """The lot and all that the plan places [m]."""
    spots = [spot for one in plan.features if one.kind == "lot" for held in one.rings for spot in held]
    spots += placed(plan)
    xs, ys = [x for x, _ in spots], [y for _, y in spots]
    return Box(left=min(xs), bottom=min(ys), right=max(xs), top=max(ys))


def plan_cut(plan: Plan, paper: Paper, scale: int | None) -> PlanCut:
    """The scale of a plan on a paper, and the sheets that it takes.

    Parameters
    ----------
    plan : Plan
        As stored.
    paper : Paper
        To draw on; turned upright where that gives a larger scale.
    scale : int, optional
        1 to so many; the largest that fits on one sheet where absent, else the smallest usual one on several.

    Returns
    -------
    PlanCut
        Paper, scale and windows.

    Raises
    ------
    InputError
        Where it would take more than a dozen sheets.
    """
    extent, unit = _extent(plan), plan.length_unit
    best: tuple[int, Paper] | None = None
    for one in (paper, replace(paper, upright=True)):
        room = _drawing_room(one)
        inner = Box(left=0, bottom=0, right=room.wide - 2 * _ROUND_MM, top=room.high - 2 * _ROUND_MM)
        found = fitting_scale(extent.wide, extent.high, inner, unit)
        if scale is not None:
            fits = (
                extent.wide <= inner.wide * scale * units.MILLIMETRE
                and extent.high <= inner.high * scale * units.MILLIMETRE
            )
            found = scale if fits else None
        if found is not None and (best is None or found < best[0]):
            best = (found, one)
    ratio, turned = best or (scale or scales(unit)[-1], paper)
    room = _drawing_room(turned)
    middle = ((extent.left + extent.right) / 2, (extent.bottom + extent.top) / 2)
    if best is not None:
        views: tuple[View, ...] = (View(room=room, ratio=ratio, middle=middle),)
        return PlanCut(paper=turned, ratio=ratio, asked=scale is not None, views=views, across=1)
    per = ratio * units.MILLIMETRE
    wide, high = room.wide * per, room.high * per
    rim = 2 * _ROUND_MM * per
    across, down = math.ceil((extent.wide + rim) / wide), math.ceil((extent.high + rim) / high)
    if across * down > _MOST_SHEETS:
        raise InputError(
            "--scale" if scale else "--paper",
            f"would take {across * down} plan sheets at {scale_words(ratio, unit)} on {paper.title}",
            f"Take a larger paper, or a smaller scale such as --scale 1:{_smaller(extent, room)}.",
        )
    views = tuple(
        View(
            room=room,
            ratio=ratio,
            middle=(middle[0] + (i - (across - 1) / 2) * wide, middle[1] + ((down - 1) / 2 - j) * high),
        )
        for j in range(down)
        for i in range(across)
    )
    return PlanCut(paper=turned, ratio=ratio, asked=scale is not None, views=views, across=across)


def _smaller(extent: Box, room: Box) -> int:
    """A round scale at which a lot fits on one sheet."""
    need = max(extent.wide / (room.wide - 2 * _ROUND_MM), extent.high / (room.high - 2 * _ROUND_MM)) / units.MILLIMETRE
    return math.ceil(need / 120) * 120


def plan_pages(
    plan: Plan, paper: Paper, scale: int | None, ground: GroundLines | None, clouds: tuple[Clouded, ...] = ()
) -> Sequence[Page]:
    """The sheets of the site plan.

    Parameters
    ----------
    plan : Plan
        As stored.
    paper : Paper
        To draw on.
    scale : int, optional
        1 to so many; the largest that fits where absent.
    ground : GroundLines, optional
        Contours; none where absent.
    clouds : tuple of Clouded
        What changed since an earlier plan.

    Returns
    -------
    sequence of Page
        Plan sheets, then one of words where they found no room beside the drawing.

    Raises
    ------
    InputError
        Where it would take more than a dozen sheets.
    """
    cut = plan_cut(plan, paper, scale)
    pages: list[Page] = []
    rest: list[tuple[str, list[str]]] = []
    for number, view in enumerate(cut.views):
        title = "Plan" if len(cut.views) == 1 else f"Plan, part {number + 1} of {len(cut.views)}"
        shapes, over = _sheet(plan, cut, number, view, ground, clouds)
        pages.append(Page(paper=cut.paper, title=title, shapes=shapes, scale=scale_words(cut.ratio, plan.length_unit)))
        if over:
            rest.append((title, over))
    return [*pages, *words_pages(cut.paper, "Plan, notes by number", rest)]


def _sheet(
    plan: Plan, cut: PlanCut, number: int, view: View, ground: GroundLines | None, clouds: tuple[Clouded, ...]
) -> tuple[tuple[Mark, ...], list[str]]:
    out = Gathered()
    site_marks(plan, view, ground, out)
    line_marks(plan, view, out)
    cloud_marks(clouds, view, out)
    inner = Box(
        left=view.room.left + 0.5, bottom=view.room.bottom + 0.5, right=view.room.right - 0.5, top=view.room.top - 0.5
    )
    match = _match_lines(cut, number, view.room)
    out.labels.extend((1, label) for label in match[1])
    put = place_labels(out.ordered(), inner, keep_off=out.keep_off, pipes=out.pipes, thin=out.thin)
    left = [label for label in put.left if label.needed]
    marks, still = _number_marks(left, inner, out, put.shapes)
    column = Box(
        left=view.room.right + _GUTTER_MM,
        bottom=view.room.bottom,
        right=view.room.right + _GUTTER_MM + _COLUMN_MM,
        top=view.room.top,
    )
    beside, over = _column(plan, cut, view, column, out, numbered(still), ground)
    edge = rectangle("drawing_edge", view.room, Pen(color="#777777", width=0.13))
    return (edge, *out.under, *match[0], *out.over, *put.shapes, *marks, *beside), over


def _number_marks(
    left: Sequence[Label], inner: Box, out: Gathered, drawn: Sequence[Mark]
) -> tuple[list[Mark], list[Label]]:
    """A number in a ring where words found no room; those in the column begin with it."""
    from siteplan.plotting.fonts import text_corners

    shapes: list[Mark] = []
    taken = [*out.keep_off, *(text_corners(one) for one in drawn if isinstance(one, Lettering))]
    for number, label in enumerate(left, start=1):
        mark = Label(layer="numbers", lines=(f"({number})",), spot=label.spot, size=2.2, strong=True)
        put = place_labels([mark], inner, keep_off=taken, pipes=(), thin=())
        if not put.shapes:  # so crowded that it stands on its place
            x, y = (
                min(max(label.spot[0], inner.left + 2), inner.right - 2),
                min(max(label.spot[1], inner.bottom + 2), inner.top - 2),
            )
            shapes.append(Filled(layer="numbers", rings=(ring((x, y), 1.7),), fill="#ffffff", pen=Pen(width=0.15)))
            shapes.append(
                Lettering(layer="numbers", text=str(number), x=x, y=y - 0.7, size=1.9, anchor="middle", bold=True)
            )
            continue
        shapes.extend(put.shapes)
        taken.extend(text_corners(one) for one in put.shapes if isinstance(one, Lettering))
    return shapes, list(left)


def _match_lines(cut: PlanCut, number: int, room: Box) -> tuple[list[Mark], list[Label]]:
    """Where a sheet ends and the next one goes on."""
    if len(cut.views) == 1:
        return [], []
    row, column = divmod(number, cut.across)
    down = len(cut.views) // cut.across
    sides = (
        (column > 0, number - 1, (room.left, room.bottom), (room.left, room.top)),
        (column < cut.across - 1, number + 1, (room.right, room.bottom), (room.right, room.top)),
        (row > 0, number - cut.across, (room.left, room.top), (room.right, room.top)),
        (row < down - 1, number + cut.across, (room.left, room.bottom), (room.right, room.bottom)),
    )
    shapes: list[Mark] = []
    labels = []
    for there, other, a, b in sides:
        if there:
            shapes.append(straight("match_lines", a, b, _MATCH))
            words = (f"match line: goes on on Plan, part {other + 1}",)
            spot = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
            labels.append(Label(layer="match_lines", lines=words, spot=spot, along=((a, b),), strong=True))
    return shapes, labels


def _column(
    plan: Plan, cut: PlanCut, view: View, box: Box, out: Gathered, words: Sequence[str], ground: GroundLines | None
) -> tuple[list[Mark], list[str]]:
    """North, scale, key, notes; what finds no room is given back."""
    unit = plan.length_unit
    north = Box(left=box.left, right=box.left + 20.0, bottom=box.top - 22.0, top=box.top)
    shapes: list[Mark] = [*north_arrow(north, north_turn(plan, view.middle))]
    said, _, _ = paragraphs(
        "notes",
        Box(left=north.right + 1, right=box.right, bottom=north.bottom, top=box.top),
        box.top - 1.0,
        ["Grid north of the survey", said_scale(cut.ratio, unit, asked=cut.asked)],
    )
    shapes += said
    shapes += scale_bar(box.left + 1.0, box.top - 29.0, box.wide - 12.0, cut.ratio, unit)
    key = dict(out.key)
    if "contour" in key and ground is not None:
        key["contour"] = (
            f"Ground as surveyed, contours each {ground.interval:g} {units.UNIT_NAMES[plan.elevation_unit]}"
        )
    rows, y = key_rows(box, key, box.top - 32.0)
    shapes += rows
    notes = [*unit_marks(plan), *benchmark_lines(plan)]
    if ground is None:
        notes.append("Contours are not drawn: the site folder was not given.")
    told, y, count = paragraphs("notes", box, y - 1.5, [*notes, *words])
    shapes += told
    return shapes, [*notes, *words][count:]
