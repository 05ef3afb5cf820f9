"""Records of plan.json in; how near to the least cost a search came, and why sources share lines or do not, out."""

from __future__ import annotations

from siteplan.stored.record_of import ANY, PlanRecord
from siteplan.stored.water_of import flow_maybe
from siteplan.values.tried import SEARCH_STOPS, SHARING_WHYS, SearchResult, Sharing


def search_result(one: PlanRecord) -> SearchResult:
    """How one group of sources was searched.

    Parameters
    ----------
    one : PlanRecord
        Of plan.json.

    Returns
    -------
    SearchResult
        The gap is not kept: it is worked out again.
    """
    return SearchResult(
        sources=one.whole("sources"),
        cost=one.number("cost", ANY),
        bound=one.number("bound", ANY),
        steps=one.whole("bundles"),
        stopped=SEARCH_STOPS[SEARCH_STOPS.index(one.word("stopped", SEARCH_STOPS))],
        gap_asked=one.number("gap_asked_percent", ANY) / 100,
        steps_asked=one.whole("bundles_asked"),
        seconds_asked=one.maybe("seconds_asked", ANY),
        delivered=one.maybe("delivered", ANY),
    )


def sharing(one: PlanRecord) -> Sharing:
    """Why sources share a line, or two groups do not.

    Parameters
    ----------
    one : PlanRecord
        Of plan.json.

    Returns
    -------
    Sharing
        The words are not kept: sheets make them again.
    """
    return Sharing(
        sources=one.texts("sources"),
        others=one.texts("others"),
        outlet=one.text("outlet"),
        why=SHARING_WHYS[SHARING_WHYS.index(one.word("why", SHARING_WHYS))],
        cost=one.number("cost", ANY),
        instead=one.maybe("instead", ANY),
        flow=flow_maybe(one, "flow_lps"),
        size=one.text_maybe("size"),
    )
