"""A stored plan in; whether its table of layouts follows from the lines listed in it, and from the plan itself, out.

Pencil arithmetic alone: what another layout's ground asks, and its checks, are only made again.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from siteplan.books.kinds import PAVEMENT_KINDS
from siteplan.review.reviewed import Reviewed, finding
from siteplan.sheets.states import source_states
from siteplan.stored.folder_of import StoredPlan
from siteplan.values.other_layouts import Layout
from siteplan.values.whole_plan import Plan

_LENGTH = 2e-4  # m a vertex: what writing to a micrometre may leave
_FIGURE = 2e-5  # of any other


def layout_findings(stored: StoredPlan) -> Iterator[Reviewed]:
    """The table of layouts against itself, and the layout taken against the plan.

    Parameters
    ----------
    stored : StoredPlan
        The plan as it stands.

    Yields
    ------
    Reviewed
        A fail for each figure that does not follow, or one pass; nothing where the plan lists no layout.
    """
    plan = stored.plan
    if not plan.layouts:
        return
    wrong = [*_table(plan), *(fault for one in plan.layouts for fault in _one(one))]
    taken = [one for one in plan.layouts if one.chosen]
    if len(taken) == 1:
        wrong += _taken(plan, taken[0])
    for message in wrong:
        yield finding("arithmetic", "layouts", "fail", message)
    if not wrong:
        yield finding(
            "arithmetic",
            "layouts",
            "pass",
            "lengths, deepest cuts, spares and order of the layouts follow from their lines",
        )


def _table(plan: Plan) -> Iterator[str]:
    numbers = [one.number for one in plan.layouts]
    if numbers != list(range(1, len(numbers) + 1)):
        yield f"layouts are numbered {numbers}, not 1 and on"
    if any(b.cost < a.cost - _FIGURE for a, b in itertools.pairwise(plan.layouts)):
        yield "layouts do not stand in the order of their cost"
    chosen = [one.number for one in plan.layouts if one.chosen]
    if len(chosen) != 1:
        yield f"{len(chosen)} layouts are marked as the one that this plan is"
    asked = plan.choices_asked.choose
    if asked is not None and chosen != [asked]:
        yield f"layout {asked} was chosen, and layout {chosen[0] if chosen else 'none'} is marked as taken"


def _one(layout: Layout) -> Iterator[str]:
    name = f"layout {layout.number}"
    ids = {line.id for line in layout.lines} | {end.id for end in layout.ends}
    for line in layout.lines:
        laid = sum(math.dist((a.x, a.y), (b.x, b.y)) for a, b in itertools.pairwise(line.vertices))
        if abs(laid - line.length) > _LENGTH * len(line.vertices):
            yield f"{name}, {line.id}: length {line.length:.3f} m, its coordinates give {laid:.3f} m"
        if any(b.invert < a.invert - _LENGTH for a, b in itertools.pairwise(line.vertices)):
            yield f"{name}, {line.id}: an invert falls going upstream"
        if line.end not in ids:
            yield f"{name}, {line.id}: ends at {line.end}, which the layout does not have"
    told = {
        "length": (layout.length, sum(line.length for line in layout.lines)),
        "deepest cut": (
            layout.deepest_cut,
            max((c for line in layout.lines if (c := line.deepest_cut) is not None), default=None),
        ),
        "fall to spare": (layout.spare, min(line.spare for line in layout.lines)),
    }
    for what, (stated, found) in told.items():
        if (stated is None) != (found is None) or (
            stated is not None and found is not None and abs(stated - found) > _LENGTH * len(layout.lines)
        ):
            yield f"{name}: {what} {stated}, its lines give {found}"
    chances = [line.chance for line in layout.lines]
    known = [chance for chance in chances if chance is not None]
    least = min(known) if len(known) == len(chances) else None
    if (layout.chance is None) != (least is None) or abs((layout.chance or 0.0) - (least or 0.0)) > _FIGURE:
        yield f"{name}: chance {layout.chance}, its lines give {least}"


def _taken(plan: Plan, layout: Layout) -> Iterator[str]:
    """What the layout taken says against the plan's own lines and checks."""
    name = f"layout {layout.number}, which this plan is"
    ways = {line.id: [(v.x, v.y, v.station, v.invert) for v in line.vertices] for line in plan.lines}
    listed = {line.id: [(v.x, v.y, v.station, v.invert) for v in line.vertices] for line in layout.lines}
    if ways != listed:
        yield f"{name}: its lines are not those of the plan"
    paved = sum(
        c.station_to - c.station_from for line in plan.lines for c in line.crossings if c.kind in PAVEMENT_KINDS
    )
    sure = sorted(key for key, state in source_states(plan).items() if state == "sure")
    if sure != sorted(layout.sure):
        yield f"{name}: drains {', '.join(layout.sure) or 'none'} for sure, the plan gives {', '.join(sure) or 'none'}"
    counts = [one.status for one in plan.findings]
    for what, stated, found in (
        ("flags", layout.flags, counts.count("flag")),
        ("fails", layout.fails, counts.count("fail")),
        ("length under pavement", layout.pavement, paved),
        (
            "lines where water may stand",
            layout.bellies,
            sum(line.belly is not None and line.belly.risk for line in plan.lines),
        ),
    ):
        if abs(stated - found) > _LENGTH:
            yield f"{name}: {what} {stated:g}, the plan gives {found:g}"
