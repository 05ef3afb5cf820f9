"""A line's margins in; the words that the sheets print of them out."""

from __future__ import annotations

from collections.abc import Mapping

from siteplan import units
from siteplan.books import rules
from siteplan.sheets.wording import cover_said
from siteplan.values.lines import SHORT_OF, Line, Margin, ShortOf

_OF: Mapping[str, str] = {
    rules.MIN_COVER.id: "cover",
    rules.OUTLET_ZONE_COVER.id: "cover in the outlet zone",
    rules.MIN_COVER_PAVEMENT.id: "cover under pavement",
    rules.MIN_COVER_PAVEMENT_HEAVY.id: "cover under pavement",
    rules.MIN_GRADE.id: "grade",
    rules.OUTLET_CONTROL.id: "outlet",
    rules.MAX_DEPTH.id: "depth",
    rules.LINES_CROSS.id: "height between crossing lines",
}
_WHY: Mapping[ShortOf, str] = {
    "fall": "there is no more fall to spare",
    "flow": "its flow needs the fall in this size of pipe",
    "depth": "it would be too deep",
    "price": "more costs too much",
    "crossing": "the other line leaves no more",
    "grades": "no run that keeps more fits between least cover and greatest depth",
    "drawn": "it lies as it was drawn",
}
_SEEN = 5e-4  # of a line's cost: less prints nought


def margin_texts(line: Line, unit: str) -> tuple[str, ...]:
    """What a line keeps beyond its limits, what that costs, and where less is kept than wanted.

    Parameters
    ----------
    line : Line
        The line.
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    tuple of str
        One sentence of what is held, one for each reason why a limit lacks some of it; none of a line without margins.
    """
    if not line.margins:
        return ()
    told = ", ".join(f"{_OF.get(one.rule, one.rule)} {_amount(one, one.held, unit)}" for one in line.margins)
    cost = sum(one.cost for one in line.margins)
    share = cost / line.cost if line.cost > 0 else 0.0
    paid = f"; they cost {100 * share:.1f} % of the line" if share >= _SEEN else "; they cost nothing"
    lacking = {why: [one for one in line.margins if one.short_of == why] for why in SHORT_OF}
    short = [
        f"short of what is wanted: {', '.join(_lacking(one, unit) for one in each)}: {_WHY[why]}"
        for why, each in lacking.items()
        if each
    ]
    return (f"past the limits: {told}{paid}", *short)


def _lacking(margin: Margin, unit: str) -> str:
    held, asked = (_amount(margin, value, unit) for value in (margin.held, margin.asked))
    return f"{_OF.get(margin.rule, margin.rule)} {held} of {asked}{_at(margin, unit)}"


def _at(margin: Margin, unit: str) -> str:
    return "" if margin.station is None else f" at {units.station_text(margin.station, unit)}"


def _amount(margin: Margin, value: float, unit: str) -> str:
    def said(amount: float) -> str:
        return units.grade_text(amount) if margin.rule == rules.MIN_GRADE.id else cover_said(amount, unit)

    return "nothing" if said(abs(value)) == said(0.0) else said(value)
