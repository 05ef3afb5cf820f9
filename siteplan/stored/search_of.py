"""Records of plan.json in; how near to the least cost a search came, out."""

from __future__ import annotations

from siteplan.stored.record_of import ANY, PlanRecord
from siteplan.values import SEARCH_STOPS, SearchResult


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
    )
