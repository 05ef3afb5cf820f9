"""A line in; the written part on its pipe, bed and belly as static HTML out."""

from __future__ import annotations

from siteplan import units
from siteplan.sheets.bedding_words import bedding_words
from siteplan.sheets.markup import Markup, tag, whole
from siteplan.sheets.stakes import pipe_words
from siteplan.sheets.wording import cover_said, one_line
from siteplan.values.forecasts import BellyForecast, BellyUnknown
from siteplan.values.lines import Line, Reach

_PLACES = {
    "lawn": "lawn",
    "pavement": "under pavement",
    "outlet zone": "outlet zone",
    "wet ground": "wet ground",
    "house backfill": "fill round the house",
}
BELLY_UNKNOWN: dict[BellyUnknown, str] = {
    "unsolved": "Standing water on this ground could not be forecast: the sums for this line do not come out in balance.",
    "no-pipe-in-book": "Standing water on this ground could not be forecast: the book does not hold this pipe.",
}


def ground_panel(line: Line, unit: str) -> Markup:
    """Pipe and bed of a line: what lies where, what it will do on its ground, and what else was weighed.

    Parameters
    ----------
    line : Line
        With its reaches.
    unit : str
        The site's length unit.

    Returns
    -------
    Markup
        One details element; empty for a line without reaches.
    """
    if not line.reaches:
        return Markup("")
    heads = ("From", "To", "Where", "Pipe", "Least cover", "Bedding", "Sleeve", "Coupling at its upper end")
    rows = [_row(reach, unit, heads) for reach in line.reaches]
    table = tag(
        "table",
        tag("thead", tag("tr", *[tag("th", head, scope="col") for head in heads])),
        tag("tbody", *rows),
        class_="cards",
    )
    weighed = [
        tag(
            "li",
            (
                f"{units.station_text(reach.station_from, unit)} to {units.station_text(reach.station_to, unit)}: "
                f"{_choices(reach)}"
            ),
        )
        for reach in line.reaches
        if reach.choices
    ]
    inside: list[str] = [
        tag("summary", "Pipe and bed"),
        tag("div", table, class_="scroll", tabindex="0", role="group", aria_label="Table"),
    ]
    if line.belly is not None:
        inside.append(_belly(line.belly, unit))
    elif line.belly_unknown is not None:
        inside.append(tag("p", tag("b", "Not known. "), BELLY_UNKNOWN[line.belly_unknown]))
    inside.append(
        tag(
            "details",
            tag("summary", "Kinds weighed, with cost against the line's own"),
            tag("ul", *weighed, class_="plain"),
        )
    )
    if line.ground_notes:
        notes = [tag("li", one_line(note)) for note in line.ground_notes]
        inside.append(
            tag("details", tag("summary", "Weight, machines, frost, trench"), tag("ul", *notes, class_="plain"))
        )
    return tag("details", *inside, class_="ground")


def _row(reach: Reach, unit: str, heads: tuple[str, ...]) -> Markup:
    sleeve = ""
    if reach.sleeve is not None:
        round_it = reach.sleeve
        sleeve = (
            f"{pipe_words(round_it.pipe, unit)}, {units.length_text(round_it.length, unit, 1)}, "
            f"{units.station_text(round_it.station_from, unit)} to {units.station_text(round_it.station_to, unit)}"
        )
    place = _PLACES.get(reach.place, reach.place)
    if reach.vehicle:
        place += f" ({reach.vehicle}s)"
    cells = (
        place,
        pipe_words(reach.pipe, unit),
        cover_said(reach.cover_min, unit),
        bedding_words(reach, unit),
        sleeve,
        reach.coupling,
    )
    return tag(
        "tr",
        *[
            tag("td", units.station_text(at, unit), class_="number", data_head=head)
            for head, at in zip(heads, (reach.station_from, reach.station_to), strict=False)
        ],
        *[tag("td", whole(one_line(cell)), data_head=head) for head, cell in zip(heads[2:], cells, strict=True)],
    )


def _choices(reach: Reach) -> str:
    return "; ".join(
        f"{one_line(choice.title)} {'passes' if choice.passes else 'does not pass'} (cost {choice.cost:.2f}"
        + (f": {one_line(choice.why)})" if choice.why != "passes" else ")")
        for choice in reach.choices
    )


def _belly(belly: BellyForecast, unit: str) -> Markup:
    low, likely, high = (_small(depth, unit) for depth in belly.depth)
    said = f"Standing water after 50 years: {low} at best, {likely} likely, {high} at worst"
    if belly.pools:
        worst = max(belly.pools, key=lambda pool: (pool.depth, -pool.station_from))
        said += (
            f", then from {units.station_text(worst.station_from, unit)} to "
            f"{units.station_text(worst.station_to, unit)}"
        )
    parts: list[str] = [tag("p", tag("b", "At risk. " if belly.risk else "Drains. "), whole(said + "."))]
    figures = [f"Decided by: {belly.decides}"]
    if belly.stress is not None:
        figures.append(f"bending {100 * belly.stress:.0f} % of its limit")
    if belly.turn > 0:
        limit = "" if belly.turn_limit is None else f" of {belly.turn_limit:g}\u00b0"
        figures.append(f"a joint turns {belly.turn:.1f}\u00b0{limit}")
    parts.append(tag("p", "; ".join(figures) + ".", class_="note"))
    told = [*(f"Helps: {mend}" for mend in belly.mends), *belly.statements]
    parts.append(tag("ul", *[tag("li", one_line(item)) for item in told], class_="plain"))
    return tag("div", *parts)


def _small(length: float, unit: str) -> str:
    return f"{length / units.MILLIMETRE:.0f} mm" if unit == "m" else f"{length / units.INCH:.1f} in"
