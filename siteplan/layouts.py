"""A plan at least cost in; other layouts of its yard, each laid, proven and judged like it, numbered by cost, out.

A layout that cannot be made, that leaves out a source which the plan serves, or that is drawn like another, is none to
choose: it is named with its reason, and ends nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, TypeVar

from siteplan.errors import SiteplanError
from siteplan.optional import gathering, is_gathering
from siteplan.proving import Proven, Surveyed, candidates_of, judged, laid_in_sizes, plan_of, proven
from siteplan.values.asked_for import ChoicesAsked
from siteplan.values.lines import Line
from siteplan.values.other_layouts import Aim, Layout, LayoutEnd, LayoutLeft, LayoutLine, LayoutPlace, LeftOut
from siteplan.values.told import BarredSize, MissingPart
from siteplan.values.tried import LaidOut
from siteplan.values.whole_plan import Plan

Made = TypeVar("Made")

if TYPE_CHECKING:
    from siteplan.waterworks.sizing import SizedYard
    from siteplan.yard.layouts import Try


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OneLayout:
    """A layout with all that a plan of it needs."""

    layout: Layout
    made: Proven
    barred: tuple[BarredSize, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weighed:
    """Layouts by number, and what was tried in vain."""

    layouts: tuple[OneLayout, ...]
    left: tuple[LayoutLeft, ...]


def weighed(
    held: Surveyed, sized: SizedYard, made: Proven, plan: Plan, missing: Sequence[MissingPart], asked: ChoicesAsked
) -> Weighed:
    """Layouts beside the one at least cost.

    Parameters
    ----------
    held : Surveyed
        The survey.
    sized : SizedYard
        As laid at least cost.
    made : Proven
        The same, proven.
    plan : Plan
        The same, judged.
    missing : sequence of MissingPart
        What it goes without: a layout may go without the same.
    asked : ChoicesAsked
        How many.

    Returns
    -------
    Weighed
        The layout at least cost among them; nothing where nothing is laid.
    """
    from siteplan.yard.layouts import LEAST_COST, alike, tries

    if not made.lines:
        return Weighed(layouts=(), left=())
    found = [_whole(held, LEAST_COST, made, plan, sized.barred)]
    left: list[tuple[Aim, LeftOut, OneLayout | None, str]] = []
    served, drawn = {key for line in made.lines for key in line.sources}, _drawn(made.laid)
    for one in tries(
        held.site, made.lines, made.outlets, made.spots, made.laid.candidates, held.pipe, every=asked.front
    ):
        if (len(found) >= asked.count or len(found) + len(left) > asked.count) and not asked.front:
            break
        other = _unless_fault(missing, partial(_laid, held, one))
        if other is None:
            left.append((one.aim, "fault", None, ""))
            continue
        laid = other.laid
        lost = sorted(served - {key for line in laid.lines for key in line.sources})
        twin = next((one for one in found if alike(one.made.lines, one.made.outlets, laid.lines, laid.outlets)), None)
        gone = sorted(drawn - _drawn(laid))
        if lost or gone:
            left.append((one.aim, "unserved" if lost else "drawn", None, (lost or gone)[0]))
        elif twin is not None:
            left.append((one.aim, "same", twin, ""))
        else:
            whole = _unless_fault(missing, partial(_one, held, one.aim, other))
            if whole is None:
                left.append((one.aim, "fault", None, ""))
            else:
                found.append(whole)
    found.sort(key=lambda one: (round(one.layout.cost, 6), one.layout.aim != LEAST_COST))
    numbered = [replace(one, layout=replace(one.layout, number=k)) for k, one in enumerate(found, start=1)]
    number = {id(had): one.layout.number for had, one in zip(found, numbered, strict=True)}
    return Weighed(
        layouts=tuple(numbered),
        left=tuple(
            LayoutLeft(aim=aim, why=why, like=None if twin is None else number[id(twin)], source=source)
            for aim, why, twin, source in left
        ),
    )


def _drawn(laid: LaidOut) -> frozenset[str]:
    """Sources whose line lies as a person drew it, or follows a guide."""
    return frozenset(one.source for own in laid.own for one in own.drawn if one.line is not None)


def _unless_fault(missing: Sequence[MissingPart], make: Callable[[], Made]) -> Made | None:
    """What is made for a layout; None where a fault of ours stands in its way that does not stand in the plan's own."""
    if not is_gathering():
        return make()
    try:
        with gathering() as more:
            made = make()
    except SiteplanError:
        raise
    except Exception:  # noqa: BLE001 - as `optional` does: a layout less is no end of a plan
        return None
    return None if {part.part for part in more} - {part.part for part in missing} else made


def _laid(held: Surveyed, one: Try) -> SizedYard:
    """A try laid, its lines at the site's own prices."""
    from siteplan.yard.layouts import priced

    sized = laid_in_sizes(held, one.site, one.prices)
    _, lines = priced(held.site, sized.laid.lines, sized.laid.outlets, held.spots)
    return replace(sized, laid=replace(sized.laid, lines=lines))


def _one(held: Surveyed, aim: Aim, sized: SizedYard) -> OneLayout:
    made = proven(held, sized.laid)
    plan = judged(plan_of(held, made, candidates_of(held, made), sized.barred), made.site)
    return _whole(held, aim, made, plan, sized.barred)


def _whole(held: Surveyed, aim: Aim, made: Proven, plan: Plan, barred: tuple[BarredSize, ...]) -> OneLayout:
    return OneLayout(layout=layout_of(held, aim, made, plan), made=made, barred=barred)


def usual(layouts: Sequence[OneLayout]) -> int:
    """Which layout a plan is when none is asked for.

    Parameters
    ----------
    layouts : sequence of OneLayout
        By number; the one at least cost among them.

    Returns
    -------
    int
        Number of the cheapest of those with the fewest fails that leave no source in doubt which the way at least cost
        drains for sure, and lead none to a point that we found in place of a named outlet; 0 where there is none. A
        saving is no reason to stake a line that may not fall, nor one to where nobody asked for it.
    """
    from siteplan.yard.layouts import LEAST_COST

    if not layouts:
        return 0
    plain = next(one for one in layouts if one.layout.aim == LEAST_COST)
    by_found = _by_found(plain.layout)
    own = [one for one in layouts if _by_found(one.layout) <= by_found]
    return min((one.layout.fails, len({*plain.layout.sure} - {*one.layout.sure}), one.layout.number) for one in own)[-1]


def _by_found(layout: Layout) -> frozenset[str]:
    """Sources that leave by daylight points that we found."""
    found = {end.id for end in layout.ends if end.found}
    return frozenset(key for line in layout.lines if line.end in found for key in line.sources)


def layout_of(held: Surveyed, aim: Aim, made: Proven, plan: Plan) -> Layout:
    """The figures of a layout.

    Parameters
    ----------
    held : Surveyed
        The survey, for prices.
    aim : Aim
        What it was laid for.
    made : Proven
        Its lines.
    plan : Plan
        The same, judged.

    Returns
    -------
    Layout
        Number 1, not chosen: those come when all are known.
    """
    from siteplan.books.rules import TRENCH_LADDER, TRENCH_PROTECTION, limit
    from siteplan.sheets.states import source_states
    from siteplan.yard.layouts import priced, under_pavement

    cost, _ = priced(held.site, made.lines, made.outlets, made.spots)
    cuts = [cut for line in plan.lines if (cut := _deepest(line)) is not None]
    chances = [None if line.doubt is None else line.doubt.chance_min_grade for line in plan.lines]
    counts = [finding.status for finding in plan.findings]
    ends = {line.end for line in plan.lines}
    return Layout(
        number=1,
        chosen=False,
        aim=aim,
        cost=round(cost, 6),
        length=sum(line.length for line in plan.lines),
        deepest_cut=max(cuts, default=None),
        over_ladder=_deeper(plan.lines, limit(held.site.rules, TRENCH_LADDER)),
        over_protection=_deeper(plan.lines, limit(held.site.rules, TRENCH_PROTECTION)),
        pavement=under_pavement(plan.lines),
        spare=min(line.spare for line in plan.lines),
        chance=None if any(one is None for one in chances) else min(one for one in chances if one is not None),
        bellies=sum(line.belly is not None and line.belly.risk for line in plan.lines),
        flags=counts.count("flag"),
        fails=counts.count("fail"),
        sure=tuple(sorted(key for key, state in source_states(plan).items() if state == "sure")),
        ends=tuple(LayoutEnd(id=o.id, name=o.name, x=o.x, y=o.y, found=o.found) for o in plan.outlets if o.id in ends),
        lines=tuple(
            LayoutLine(
                id=line.id,
                sources=line.sources,
                start=line.start,
                end=line.end,
                nominal=line.pipe.nominal,
                vertices=tuple(LayoutPlace(x=v.x, y=v.y, station=v.station, invert=v.invert) for v in line.vertices),
                spare=line.spare,
                chance=chance,
                deepest_cut=_deepest(line),
            )
            for line, chance in zip(plan.lines, chances, strict=True)
        ),
    )


def _deepest(line: Line) -> float | None:
    return max((row.cut for row in line.rows if math.isfinite(row.cut)), default=None)


def _deeper(lines: Sequence[Line], depth: float | None) -> float:
    """Length of trench whose bottom lies deeper, straight between the rows of the schedule [m]."""
    return 0.0 if depth is None else sum(part for line in lines for part in _stretches(line, depth))


def _stretches(line: Line, depth: float) -> Iterator[float]:
    for a, b in zip(line.rows, line.rows[1:], strict=False):
        if not (math.isfinite(a.cut) and math.isfinite(b.cut)):
            continue
        run, over, other = b.station - a.station, a.cut - depth, b.cut - depth
        if over > 0 and other > 0:
            yield run
        elif max(over, other) > 0:
            yield run * max(over, other) / abs(over - other)
