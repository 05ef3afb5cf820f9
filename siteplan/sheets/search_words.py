"""How near to the least cost a search came, and why sources share a line or are kept apart, in words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from siteplan import units
from siteplan.sheets.wording import counted, names
from siteplan.values.tried import SearchResult, Sharing
from siteplan.values.whole_plan import Plan

_WIDE = 30  # signs of a bar
_TIMES = 1.1  # times as much, under which the difference is told in percent
_NO_GAP = 0.00005  # a share under which a gap is printed as none


def search_text(results: Sequence[SearchResult]) -> tuple[str, ...]:
    """What a plan says of how its lines were searched.

    Parameters
    ----------
    results : sequence of SearchResult
        Of the plan.

    Returns
    -------
    tuple of str
        One paragraph for each group of sources searched together, none for a source by itself; then what all lines cost
        on the net and as delivered.
    """
    return (*(_one(result) for result in results if result.sources > 1), *_delivered(results))


def _delivered(results: Sequence[SearchResult]) -> tuple[str, ...]:
    told = [(one.cost, one.delivered) for one in results if one.delivered is not None]
    if not told:
        return ()
    net, laid = sum(cost for cost, _ in told), sum(delivered for _, delivered in told)
    more = 100 * (laid / net - 1) if net > 0 else 0.0
    side = f"{abs(more):.1f} % {'more' if more >= 0 else 'less'}"
    return (
        (
            f"As delivered the lines cost {laid:.1f}, {side} than the {net:.1f} of the cheapest lines on the "
            "net, which knows no bends, settings of the grade "
            "or margins (relative prices, docs/costs.md)."
        ),
    )


def _one(result: SearchResult) -> str:
    head = counted(result.sources, "source")
    if result.stopped == "every-way":
        return (
            f"{head} searched together over every way to share trenches and outlets: no other way costs less on "
            "the net (but for 4 mm of invert)."
        )
    near = (
        "which is the least there is on the net"
        if result.gap < _NO_GAP
        else f"at most {100 * result.gap:.1f} % over the least there is on the net"
    )
    why = {
        "gap": f"it stopped within the {100 * result.gap_asked:g} % asked for ([search] gap_percent)",
        "no-better": "taking out and putting back, exchanging and reordering found nothing better",
        "steps": f"it stopped after the {counted(result.steps_asked, 'bundle')} of sources asked for ([search] steps)",
        "time": (
            f"it stopped by the clock after the {result.seconds_asked or 0:g} s asked for ([search] seconds), so "
            "that another run may differ"
        ),
    }.get(result.stopped, "")
    return (
        f"{head} searched together, put in and improved, {near} ({result.cost:.1f} against a bound of "
        f"{result.bound:.1f}); {why}."
    )


def sharing_text(plan: Plan) -> tuple[str, ...]:
    """Why sources share a line, or two groups of them do not.

    Parameters
    ----------
    plan : Plan
        With its decisions.

    Returns
    -------
    tuple of str
        A sentence each.
    """
    called = names(plan)
    return tuple(_apart(plan, one, called) if one.others else _together(plan, one, called) for one in plan.sharing)


def _together(plan: Plan, one: Sharing, called: Mapping[str, str]) -> str:
    head = f"{_named(one.sources, called)} share a line to {called.get(one.outlet, one.outlet)}{_carried(plan, one)}"
    if one.why == "holes":
        return f"{head}: lines apart would cost {_less(one)}, and that outlet has no room for more of them"
    if one.instead is None:
        return f"{head}: parted they cannot be had"
    return f"{head}: the cheapest way of parting them would cost {_more(one)}"


def _apart(plan: Plan, one: Sharing, called: Mapping[str, str]) -> str:
    groups = [_named(group, called) for group in (one.sources, one.others)]
    head = f"{groups[0]} kept apart from {groups[1]}"
    if one.why == "own-line":
        return f"{head}: a line of one's own is asked for (own_line)"
    if one.why == "outlet-takes":
        return f"{head}: no outlet takes both kinds of water (takes, refuses)"
    if one.why == "no-fall":
        return f"{head}: no outlet is there that all of them can fall to"
    if one.why == "flow":
        water = "their water" if one.flow is None else units.flow_text(one.flow, plan.length_unit)
        if one.instead is not None:
            return (
                f"{head}: together {water} would ask for more than the line carries as it lies; in a line that "
                f"carries it they would cost {_more(one)}"
            )
        return (
            f"{head}: together {water} are more than a line there carries, in any pipe on offer at any grade that "
            "the ground allows, at no more cost"
        )
    return f"{head}: sharing a line would cost {'more' if one.instead is None else _more(one)}"


def _named(sources: Sequence[str], called: Mapping[str, str]) -> str:
    every = [called.get(name, name) for name in sources]
    return f"{', '.join(every[:-1])} and {every[-1]}" if len(every) > 1 else "".join(every)


def _carried(plan: Plan, one: Sharing) -> str:
    return "" if one.flow is None else f" ({units.flow_text(one.flow, plan.length_unit)})"


def _more(one: Sharing) -> str:
    times = (one.instead or 0.0) / one.cost
    return f"{times:.2f} times as much" if times >= _TIMES else f"{max(0.1, 100 * (times - 1)):.1f} % more"


def _less(one: Sharing) -> str:
    return f"{100 * (1 - (one.instead or 0.0) / one.cost):.1f} % less"


def bar_text(share: float, gap: float) -> str:
    """A bar for a terminal.

    Parameters
    ----------
    share : float
        Of the work that may be done, 0 to 1.
    gap : float
        As it stands [-].

    Returns
    -------
    str
        One line of the same width.
    """
    done = round(_WIDE * min(max(share, 0.0), 1.0))
    said = f"within {100 * gap:5.1f} % of the least" if math.isfinite(gap) and gap < 9.995 else "no lines for all yet"
    return f"searching [{'#' * done}{'.' * (_WIDE - done)}] {said:<27}"
