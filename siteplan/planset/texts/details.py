"""A stored plan in.

The details that its lines have, each drawn with the plan's own figures and where each is from, out.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from siteplan import units
from siteplan.books.fittings import fitting_words
from siteplan.books.kinds import DRIVEN_KINDS, OUTLETS
from siteplan.books.rules import (
    AIR_GAP,
    DAYLIGHT_STRETCH,
    OUTLET_FOUNDATION,
    OUTLET_LOT_LINE,
    OUTLET_ZONE_HEAVY,
    PUMPED_GAP,
    SLEEVE,
    UTILITY_CROSSED,
)
from siteplan.planset.asked import PlanSetAsked
from siteplan.planset.texts.detail_drawings import DETAIL_HIGH, DETAIL_VIEWS, View, lettered
from siteplan.planset.texts.flow import LAYER, LEAST_TYPE, Block, DrawnDetail, Prose, flowed
from siteplan.planset.texts.stated_rules import stated_rules
from siteplan.plotting.fonts import wrapped
from siteplan.plotting.paper_sizes import Box
from siteplan.plotting.shapes import Lettering, Mark, Page, Pen, rectangle
from siteplan.sheets.rod_levels import printed
from siteplan.sheets.stakes import pipe_words
from siteplan.sheets.wording import cover_said, depth_text, one_line
from siteplan.trench.pipe_words import small
from siteplan.values.laid_pipe import FittingKind
from siteplan.values.lines import Crossing, Line, Vertex
from siteplan.values.told import Finding
from siteplan.values.water_ends import Outlet
from siteplan.values.whole_plan import Plan

PRACTICE = "common practice, no source"
PLAN = "plan.json"
_MOST_PLACES = 8  # of one kind in one detail
_SIZE = LEAST_TYPE
_STEP = _SIZE * 1.32
_HEAD = 3.0
_SAME = 0.01  # m: stations nearer are one place


@dataclass(frozen=True, slots=True, kw_only=True)
class DetailItem:
    """A figure of a detail: where it stands in the drawing, what it is, where it is from."""

    at: str  # name of a place in the drawing; '' none
    text: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """One detail: which drawing, what stands over it, its figures."""

    view: View
    title: str
    items: tuple[DetailItem, ...]


def detail_pages(asked: PlanSetAsked) -> list[Page]:
    """The details of this lot: outlets, crossings, wyes, cleanouts, air gaps, as far as the plan has them.

    Parameters
    ----------
    asked : PlanSetAsked
        The plan and its paper.

    Returns
    -------
    list of Page
        None where the plan has no line.
    """
    found = details_of(asked)
    if not found:
        return []
    wide = (asked.paper.inside.wide - 6.0) / 2
    blocks: list[Block] = [_block(one, wide) for one in found]
    told = "Not to scale. Letters in a drawing stand before their figures; figures are this plan's own."
    return flowed(asked.paper, "Details", [Prose(text=told), *blocks], columns=2)


def details_of(asked: PlanSetAsked) -> list[Detail]:
    """The details as values.

    Parameters
    ----------
    asked : PlanSetAsked
        The plan.

    Returns
    -------
    list of Detail
        Outlets, crossings, wyes, cleanouts, air gaps.
    """
    plan = asked.plan
    sources = {one.id: one.source for one in stated_rules(asked.stored)}
    outlets = {one.id: one for one in plan.outlets}
    found = [
        _outlet(plan, line, outlets[line.end], sources) for line in plan.every_line if line.end in outlets and line.rows
    ]
    found += [_crossing(plan, line, one, sources) for line in plan.every_line for one in line.crossings]
    found += _in_lots("Wye", "wye", [*_wyes(plan)], _WYE_RULES)
    found += _in_lots("Cleanout", "cleanout", [*_cleanouts(plan)], _CLEANOUT_RULES)
    found += _gaps(plan, sources)
    return found


def _in_lots(title: str, view: View, items: Sequence[DetailItem], common: tuple[DetailItem, ...]) -> Iterator[Detail]:
    """One drawing for every few places of a kind."""
    parts = math.ceil(len(items) / _MOST_PLACES)
    for number in range(parts):
        part = f", {number + 1} of {parts}" if parts > 1 else ""
        own = items[number * _MOST_PLACES : (number + 1) * _MOST_PLACES]
        yield Detail(view=view, title=f"{title}{part}", items=(*own, *common))


_WYE_RULES = (
    DetailItem(
        at="turn",
        text="Laid so that the branch runs with the flow; its upper half, never its underside, takes the branch.",
        source=PRACTICE,
    ),
)
_CLEANOUT_RULES = (
    DetailItem(
        at="riser",
        text=(
            "Riser of the line's own size on a wye or a sweep that opens downstream, with a plug that can be taken out."
        ),
        source=PRACTICE,
    ),
    DetailItem(at="cap", text="Cap at the ground, or in a box under pavement where wheels go.", source=PRACTICE),
)


def _level(plan: Plan, value: float) -> str:
    return (
        units.length_text(printed(value, plan.elevation_unit), plan.elevation_unit)
        if math.isfinite(value)
        else "not known"
    )


def _finding(plan: Plan, rule: str, subjects: Sequence[str]) -> Finding | None:
    return next((one for one in plan.findings if one.rule == rule and one.subject.partition(":")[0] in subjects), None)


def _judged(plan: Plan, rule: str, line: Line, sources: Mapping[str, str], at: str) -> Iterator[DetailItem]:
    """What the check of a rule says of a line, with the rule's source."""
    found = _finding(plan, rule, (line.id,))
    if found is not None:
        yield DetailItem(at=at, text=f"{rule}: {one_line(found.message)}", source=sources.get(rule, "") or PLAN)


def _outlet(plan: Plan, line: Line, outlet: Outlet, sources: Mapping[str, str]) -> Detail:
    unit, first = plan.length_unit, line.rows[0]
    opens = OUTLETS[outlet.kind].opens if outlet.kind in OUTLETS else "ground"
    over = small(abs(first.invert - outlet.control), unit)
    side = "over" if first.invert >= outlet.control else "UNDER"
    items = [
        DetailItem(
            at="invert",
            text=(
                f"Invert at the end of {line.id} {_level(plan, first.invert)}, {over} {side} the height that "
                "rules there."
            ),
            source=PLAN,
        ),
        DetailItem(
            at="control", text=f"That height {_level(plan, outlet.control)}: {one_line(outlet.basis)}.", source="survey"
        ),
        DetailItem(
            at="pipe",
            text=f"Pipe: {pipe_words(line.pipe_at(0.0), unit)}; trench {units.drop_text(first.cut, unit)} deep there."
            if math.isfinite(first.cut)
            else f"Pipe: {pipe_words(line.pipe_at(0.0), unit)}.",
            source=PLAN,
        ),
    ]
    if (piece := line.curb_piece) is not None:
        count = f"{piece.number} of " if piece.number > 1 else ""
        items.append(
            DetailItem(
                at="piece",
                text=(
                    f"Through the curb: {count}{pipe_words(piece.pipe, unit)} behind a {piece.fitting}, inverts "
                    f"level, to {units.station_text(piece.station_to, unit)}."
                ),
                source=PLAN,
            )
        )
    items += _judged(plan, OUTLET_ZONE_HEAVY.id, line, sources, "zone")
    items += _judged(plan, DAYLIGHT_STRETCH.id, line, sources, "cover")
    if opens == "curb":
        items.append(
            DetailItem(
                at="",
                text="The curb is cored or sawn to the pipe and made good with concrete; the road owner says how.",
                source=PRACTICE,
            )
        )
    if opens == "ground":
        items += _judged(plan, OUTLET_LOT_LINE.id, line, sources, "")
        items += _judged(plan, OUTLET_FOUNDATION.id, line, sources, "")
        items += [
            DetailItem(
                at="guard", text="A guard against animals that can be opened; it must not hold leaves.", source=PRACTICE
            ),
            DetailItem(
                at="apron",
                text="Stone or a splash block where the water falls, flush with the ground.",
                source=PRACTICE,
            ),
        ]
    view: View = "curb" if opens == "curb" else "daylight" if opens == "ground" else "tie-in"
    title = {"curb": "Outlet at the curb", "daylight": "End at daylight", "tie-in": "Into the old pipe"}[view]
    return Detail(view=view, title=f"{title}: {line.id} at {one_line(outlet.name) or outlet.id}", items=tuple(items))


def _crossing(plan: Plan, line: Line, one: Crossing, sources: Mapping[str, str]) -> Detail:
    unit = plan.length_unit
    name = one_line(one.name) or one.kind
    first, last = (units.station_text(max(at, 0.0), unit) for at in (one.station_from, one.station_to))
    lies = line.pipe_at((one.station_from + one.station_to) / 2)
    items = [
        DetailItem(
            at="pipe", text=f"{line.id}: {pipe_words(lies, unit)}, crosses at {one.angle:.0f}\u00b0.", source=PLAN
        )
    ]
    if one.kind == "utility":
        over = one.depth is not None and math.isfinite(one.cover_min) and one.depth > one.cover_min
        view: View = "under-line" if over else "over-line"
        items.append(
            DetailItem(at="cover", text=f"Cover over the line there {cover_said(one.cover_min, unit)}.", source=PLAN)
        )
        items.append(
            DetailItem(
                at="utility",
                text=f"{name}: {depth_text(one.depth, unit)}. The marks of a locate show no depth: expose it by hand.",
                source="survey",
            )
        )
        said = _found_there(plan, UTILITY_CROSSED.id, line, one)
        if said is not None:
            items.append(
                DetailItem(at="clear", text=one_line(said.message), source=sources.get(UTILITY_CROSSED.id, "") or PLAN)
            )
        return Detail(view=view, title=f"Crossing of a utility: {line.id} {first}, {name}", items=tuple(items))
    items.append(
        DetailItem(
            at="cover",
            text=(
                f"Cover {cover_said(one.cover_from, unit)} at the low edge, {cover_said(one.cover_to, unit)} at "
                f"the high one, least {cover_said(one.cover_min, unit)}."
            ),
            source=PLAN,
        )
    )
    sleeve = next(
        (
            reach.sleeve
            for reach in line.reaches
            if reach.sleeve is not None
            and reach.sleeve.station_from < one.station_to
            and reach.sleeve.station_to > one.station_from
        ),
        None,
    )
    if sleeve is not None:
        a, b = (units.station_text(at, unit) for at in (sleeve.station_from, sleeve.station_to))
        items.append(
            DetailItem(
                at="sleeve",
                text=(
                    f"Sleeve: {pipe_words(sleeve.pipe, unit)}, {a} to {b}, "
                    f"{units.length_text(sleeve.length, unit, 1)} long, its top {small(sleeve.above, unit)} over "
                    f"the line's; play inside {small(sleeve.play, unit)}."
                ),
                source=sources.get(SLEEVE.id, "") or PLAN,
            )
        )
    elif one.kind in DRIVEN_KINDS:
        said = _found_there(plan, SLEEVE.id, line, one)
        items.append(
            DetailItem(
                at="",
                text="No sleeve is planned." if said is None else f"No sleeve is planned: {one_line(said.message)}.",
                source=sources.get(SLEEVE.id, "") or PLAN,
            )
        )
    items.append(
        DetailItem(
            at="fill",
            text=(
                "Backfill under pavement tamped in thin layers to the underside of the pavement, which is cut "
                "straight and made good as it was."
            ),
            source=PRACTICE,
        )
    )
    view = "sleeve" if sleeve is not None else "pavement"
    return Detail(view=view, title=f"Crossing: {line.id} {first} to {last}, {name}", items=tuple(items))


def _found_there(plan: Plan, rule: str, line: Line, crossed: Crossing) -> Finding | None:
    """What a rule found where a line crosses something."""
    return next(
        (
            one
            for one in plan.findings
            if one.rule == rule
            and one.place is not None
            and one.place.line == line.id
            and one.place.station_from <= crossed.station_to + _SAME
            and one.place.station_to >= crossed.station_from - _SAME
        ),
        None,
    )


def _wyes(plan: Plan) -> Iterator[DetailItem]:
    lines = {one.id: one for one in plan.lines}
    for branch in plan.lines:
        trunk = lines.get(branch.end)
        if trunk is None:
            continue
        end = branch.vertices[0]
        at = min(trunk.vertices, key=lambda one: math.dist((one.x, one.y), (end.x, end.y)))
        over = end.invert - at.invert
        rise = (
            f", {small(over, plan.length_unit)} over it: wye rolled up, or a drop" if over > 0.02 else ", level with it"
        )
        made = fitting_words(at.fittings) or "wye"
        size = (
            f"{pipe_words(trunk.pipe_at(at.station), plan.length_unit)} x "
            f"{pipe_words(branch.pipe_at(0.0), plan.length_unit)}"
        )
        yield DetailItem(
            at="branch",
            text=(
                f"{branch.id} into {trunk.id} at {units.station_text(at.station, plan.length_unit)}: {size}; "
                f"{made}. Trunk invert {_level(plan, at.invert)}, branch {_level(plan, end.invert)}{rise}."
            ),
            source=PLAN,
        )


def _cleanouts(plan: Plan) -> Iterator[DetailItem]:
    for line in plan.every_line:
        for vertex in line.vertices:
            if vertex.has(FittingKind.CLEANOUT):
                yield DetailItem(
                    at="depth",
                    text=(
                        f"{line.id} {units.station_text(vertex.station, plan.length_unit)}: "
                        f"{_riser(plan, line, vertex)}"
                    ),
                    source=PLAN,
                )


def _riser(plan: Plan, line: Line, vertex: Vertex) -> str:
    pipe = pipe_words(line.pipe_at(vertex.station), plan.length_unit)
    depth = vertex.ground - vertex.invert
    deep = (
        f"{units.drop_text(depth, plan.length_unit)} from the ground to it"
        if math.isfinite(depth)
        else "ground not known"
    )
    return f"{pipe}, invert {_level(plan, vertex.invert)}, {deep}."


def _gaps(plan: Plan, sources: Mapping[str, str]) -> Iterator[Detail]:
    """The open gap of each sump: where its pump's line ends, or at its start where the plan only asks for one."""
    for line in plan.pressed:
        if line.pumped is None or line.pumped.gap is None:
            continue
        items = [
            DetailItem(
                at="gap",
                text=(
                    f"{line.id} ends {units.small_text(line.pumped.gap, plan.length_unit)} over the pipe that "
                    "takes its water."
                ),
                source=PLAN,
            )
        ]
        items += _judged(plan, PUMPED_GAP.id, line, sources, "gap")
        items.append(
            DetailItem(at="pipe", text=f"{pipe_words(line.pipe, plan.length_unit)} under pressure.", source=PLAN)
        )
        yield Detail(view="gap", title=f"Air gap: end of {line.id}", items=tuple(items))
    for source in plan.sources:
        found = _finding(plan, AIR_GAP.id, (source.id,))
        if found is not None:
            items = [
                DetailItem(
                    at="gap",
                    text=one_line(found.message)[:1].upper() + one_line(found.message)[1:] + ".",
                    source=sources.get(AIR_GAP.id, "") or PLAN,
                ),
                DetailItem(
                    at="pipe",
                    text=(
                        "The pump's pipe ends over the open end of the drain and touches nothing: what backs up "
                        "spills outside."
                    ),
                    source=PRACTICE,
                ),
            ]
            yield Detail(view="gap", title=f"Air gap: {one_line(source.name) or source.id}", items=tuple(items))


def _block(one: Detail, wide: float) -> DrawnDetail:
    """A detail as one piece, which a page's end does not part."""
    letters = lettered(one.view, [item.at for item in one.items])
    told = [
        (f"{letters[item.at]}  " if item.at in letters else "", f"{item.text} [{item.source}]") for item in one.items
    ]
    title = wrapped(one.title, _HEAD, wide, bold=True)
    lines = [
        (mark if k == 0 else "", text) for mark, said in told for k, text in enumerate(wrapped(said, _SIZE, wide - 5.0))
    ]
    above = 2.5 + len(title) * _HEAD * 1.3
    high = above + DETAIL_HIGH + 1.5 + len(lines) * _STEP + 2.0

    def draw(box: Box) -> Sequence[Mark]:
        marks: list[Mark] = []
        y = box.top - 2.5
        for text in title:
            marks.append(Lettering(layer=LAYER, text=text, x=box.left, y=y - 0.76 * _HEAD, size=_HEAD, bold=True))
            y -= _HEAD * 1.3
        picture = Box(left=box.left, bottom=y - DETAIL_HIGH, right=box.right, top=y)
        marks.append(rectangle("detail", picture, Pen(color="#aaaaaa", width=0.12)))
        marks += DETAIL_VIEWS[one.view](picture, letters)
        y = picture.bottom - 1.5
        for mark, text in lines:
            base = y - 0.76 * _SIZE
            if mark:
                marks.append(Lettering(layer=LAYER, text=mark.strip(), x=box.left + 0.5, y=base, size=_SIZE, bold=True))
            marks.append(Lettering(layer=LAYER, text=text, x=box.left + 5.0, y=base, size=_SIZE))
            y -= _STEP
        return marks

    return DrawnDetail(high=high, draw=draw)
