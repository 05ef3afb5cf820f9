"""Records of plan.json in; what was tried for sources that no line serves, and what would serve them, out."""

from __future__ import annotations

from siteplan.stored.record_of import FARTHEST_APART, PLACE, PlanRecord
from siteplan.stored.water_of import flow_maybe
from siteplan.values.tried import CURE_FIGURES, CURES, Attempt, AttemptPlace, Cure


def attempt(one: PlanRecord) -> Attempt:
    """What was tried for one source on one outlet.

    Parameters
    ----------
    one : Record
        Of plan.json.

    Returns
    -------
    Attempt
        The words are not kept: sheets make them again.
    """
    return Attempt(
        source=one.text("source"),
        outlet=one.text("outlet"),
        short_by=one.maybe("short_by"),
        station=one.maybe("station"),
        tried=one.yes("tried", other=True),
        cures=tuple(_cure(each) for each in one.records("cures")),
        line=() if one.get("line") is None else tuple(_place(at) for at in one.inside("line").records("stations")),
    )


def _place(one: PlanRecord) -> AttemptPlace:
    return AttemptPlace(
        station=one.number("station"),
        x=one.number("x", PLACE),
        y=one.number("y", PLACE),
        ground=one.known("ground"),
        invert=one.number("invert"),
        short=one.number("short"),
    )


def _cure(one: PlanRecord) -> Cure:
    way = tuple(
        (place.known("x", PLACE), place.known("y", PLACE), place.known("ground")) for place in one.records("way")
    )
    figures = {name: one.maybe(name, PLACE if name in {"x", "y"} else FARTHEST_APART) for name in CURE_FIGURES}
    kind = one.word("kind", CURES)
    flow = flow_maybe(one, "flow_lps")
    return Cure(
        flow=flow,
        head=one.maybe("head"),
        own_pump=one.yes("own_pump", other=False),
        fails=() if one.get("fails") is None else one.texts("fails"),
        kind=CURES[CURES.index(kind)],
        amount=one.known("amount"),
        held=one.known("held"),
        way=way,
        **figures,
    )
