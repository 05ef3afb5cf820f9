"""Lines of one's own as values in.

Sentences on where they lie, what they cost beside the planner's, and what mends them, out.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

from siteplan import units
from siteplan.sheets.wording import one_line
from siteplan.values.lines import Line
from siteplan.values.own_drawn import OwnChange, OwnDrawn, OwnInverts, OwnLines, OwnMend
from siteplan.values.water_ends import Outlet, Source
from siteplan.values.whole_plan import Plan

_SAME_COST = 0.005  # share of a cost that is not told
_INVERTS: dict[OwnInverts, str] = {
    "given": "its inverts as given",
    "grade": "at the grade given, up from its lower end",
    "settled": "its inverts settled here: none were given",
    "straight": (
        "and no inverts keep every limit along it: it is drawn straight from its lowest end to the highest "
        "start, and the checks say what breaks"
    ),
    "planner": "in fewer straight runs where that is cheaper",
    "none": "",
}


def own_text(
    own: Sequence[OwnLines], outlets: Sequence[Outlet], sources: Sequence[Source], unit: str
) -> tuple[str, ...]:
    """What a plan says of the lines that a person drew.

    Parameters
    ----------
    own : sequence of OwnLines
        Of the plan.
    outlets : sequence of Outlet
        The plan's.
    sources : sequence of Source
        The plan's.
    unit : str
        The site's length unit.

    Returns
    -------
    tuple of str
        Sentences: first how each line lies, then what the planner would lay.
    """
    places: tuple[Outlet | Source, ...] = (*outlets, *sources)
    called = {place.id: one_line(place.name) or place.id for place in places}
    return tuple(itertools.chain.from_iterable(_of(one, called, unit) for one in own))


def own_facts(plan: Plan, line: Line) -> tuple[str, ...]:
    """What is said of a drawn line beside its own figures; what holds of a whole drawing stands with its trunk.

    Parameters
    ----------
    plan : Plan
        As stored.
    line : Line
        One of its lines.

    Returns
    -------
    tuple of str
        Sentences; none for a line that nobody drew.
    """
    found = next(((own, one) for own in plan.own for one in own.drawn if one.line == line.id), None)
    if found is None:
        return ()
    own, drawn = found
    places: tuple[Outlet | Source, ...] = (*plan.outlets, *plan.sources)
    called = {place.id: one_line(place.name) or place.id for place in places}
    unit = plan.length_unit
    told = [_lies(own, drawn, called, unit)]
    if drawn is own.drawn[0]:
        told += [] if drawn.meets else [_beside(own, called, unit)]
        told += [mend_text(own, unit)] if own.fails else []
    return tuple(told)


def own_left(plan: Plan) -> tuple[str, ...]:
    """What is said of drawings that are not laid.

    Parameters
    ----------
    plan : Plan
        As stored.

    Returns
    -------
    tuple of str
        One sentence a line drawn; none where all are laid.
    """
    places: tuple[Outlet | Source, ...] = (*plan.outlets, *plan.sources)
    called = {place.id: one_line(place.name) or place.id for place in places}
    return tuple(_lies(own, one, called, plan.length_unit) for own in plan.own for one in own.drawn if one.line is None)


def _of(own: OwnLines, called: dict[str, str], unit: str) -> Iterator[str]:
    for one in own.drawn:
        yield _lies(own, one, called, unit)
    if own.cost is None or own.length is None or own.drawn[0].meets:
        return
    yield _beside(own, called, unit)


def _lies(own: OwnLines, one: OwnDrawn, called: dict[str, str], unit: str) -> str:
    source, outlet = called.get(one.source, one.source), called.get(one.outlet, one.outlet)
    if one.line is None and one.meets is not None:
        into, name = called.get(one.meets, one.meets), one_line(one.name) or f"the line drawn from {source}"
        away = (
            f"ends {units.length_text(one.off, unit)} from the line of {into}"
            if one.off is not None
            else f"cannot join the line of {into}"
        )
        return (
            f"{name} {away}: it is not laid, and what is laid from {source} is the planner's own. Draw its end on "
            "that line"
        )
    if one.line is None:
        return (
            f"{one_line(one.name) or 'a drawn line'} is a guide from {source} to {outlet} that no line can "
            "follow: what is laid there is the planner's own"
        )
    name = f" ({one_line(one.name)})" if one.name else ""
    into = f", into the line of {called.get(one.meets, one.meets)}" if one.meets and one is own.drawn[0] else ""
    return (
        f"{one.line} {'lies as drawn' if one.mode == 'fixed' else 'follows a guide'}{name}{into}, "
        f"{_INVERTS[one.inverts]}"
    )


def _beside(own: OwnLines, called: dict[str, str], unit: str) -> str:
    ids = [one.line for one in own.drawn if one.line is not None]
    sources = " and ".join(called.get(one.source, one.source) for one in own.drawn)
    who = " and ".join(ids) if len(ids) < 3 else f"{', '.join(ids[:-1])} and {ids[-1]}"
    planner = own.planner
    if planner is None:
        return f"For {sources} alone this planner finds no line to set beside {who}"
    share = (own.cost or 0.0) / planner.cost if planner.cost > 0 else float("inf")
    dear = "as much as" if abs(share - 1) < _SAME_COST else f"{share:.2f} times"
    ends = " and ".join(
        "a daylight point that it found" if end is None else called.get(end, end) for end in planner.outlets
    )
    cost = "costs" if len(ids) == 1 else "cost"
    return (
        f"{who} {cost} {dear} what this planner would lay for {sources} alone: "
        f"{units.length_text(planner.length, unit)} to {ends}"
        f" with {units.length_text(planner.spare, unit)} of fall to spare, against "
        f"{units.length_text(own.length or 0.0, unit)}"
    )


def mends_text(own: Sequence[OwnLines], unit: str) -> tuple[str, ...]:
    """What a plan says of how drawn lines that break a rule are mended.

    Parameters
    ----------
    own : sequence of OwnLines
        Of the plan.
    unit : str
        The site's length unit.

    Returns
    -------
    tuple of str
        One sentence for each drawing that breaks a rule.
    """
    return tuple(mend_text(one, unit) for one in own if one.fails)


def mend_text(own: OwnLines, unit: str) -> str:
    """What mends one drawing.

    Parameters
    ----------
    own : OwnLines
        Drawn lines that break rules.
    unit : str
        The site's length unit.

    Returns
    -------
    str
        One sentence: what was changed, and what was found when it was judged again.
    """
    who = " and ".join(one.line for one in own.drawn if one.line is not None)
    broken = ", ".join(own.fails)
    if own.drawn[0].meets:
        return f"{who} as drawn fails {broken}; what mends a line that joins one of this planner's is not looked for"
    if not own.mends:
        return f"{who} as drawn fails {broken}; no change of ours was found that could be laid"
    (mend,) = own.mends[:1]
    what = "; ".join(_change(one, mend, unit) for one in mend.changes)
    if mend.left:
        return f"{who} as drawn fails {broken}; the nearest that was tried ({what}) still fails {', '.join(mend.left)}"
    return (
        f"{who} as drawn fails {broken}; the least change found that mends it: {what}. Laid so and judged again, "
        "it breaks no rule"
    )


def _change(one: OwnChange, mend: OwnMend, unit: str) -> str:
    laid = next((each for each in mend.lines if each.line == one.line), mend.lines[0])
    if one.kind == "inverts":
        low, high = (units.length_text(z, unit) for z in (laid.vertices[0][2], laid.vertices[-1][2]))
        return (
            f"{one.line} on inverts from {high} down to {low}, none moved by more than "
            f"{units.drop_text(one.amount or 0.0, unit)}"
        )
    if one.kind == "way":
        return f"{one.line} on a way that leaves the drawn one by {units.length_text(one.amount or 0.0, unit)} at most"
    if one.kind == "size":
        return f"{one.line} in {laid.nominal} pipe"
    length = math.fsum(
        math.hypot(b[0] - a[0], b[1] - a[1]) for each in mend.lines for a, b in itertools.pairwise(each.vertices)
    )
    return f"what this planner would lay in its place, {units.length_text(length, unit)}"
