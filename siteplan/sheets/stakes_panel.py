"""A plan in; its part 'Stakes' out: a card for the stake in hand where scripts run, and every line's schedule."""

from __future__ import annotations

from collections.abc import Sequence

from siteplan import units
from siteplan.books.phrases import LANGUAGES, Language, phrase
from siteplan.sheets.crew_cards import hand_dug, two_tapes
from siteplan.sheets.markup import Markup, tag, whole
from siteplan.sheets.panel_parts import both, boxed, part, to_line
from siteplan.sheets.schedule import printed_rows
from siteplan.sheets.states import line_state
from siteplan.sheets.ties import Corner
from siteplan.sheets.wording import names, way
from siteplan.values.lines import Line
from siteplan.values.whole_plan import Plan


def stakes_part(plan: Plan, corners: Sequence[Corner]) -> Markup:
    """The crew's part: the page's script puts the card in its first place.

    Parameters
    ----------
    plan : Plan
        The plan.
    corners : sequence of Corner
        Corners of the buildings, for the tapes.

    Returns
    -------
    Markup
        One part.
    """
    if not plan.every_line:
        return part("stakes", "Stakes", tag("p", "No line can be laid: there is nothing to stake."))
    called = names(plan)
    return part(
        "stakes",
        phrase("card.stakes"),
        tag("div", class_="crew", id="crew"),
        both("h3", phrase("page.schedules"), phrase("page.schedules", "spanish"), "chapter"),
        both("p", phrase("page.low_end"), phrase("page.low_end", "spanish"), "note"),
        *[
            tag(
                "details",
                both("summary", f"{line.id} {way(line, called)}", f"{line.id} {way(line, called, 'spanish')}"),
                boxed(_schedule(plan, line, corners)),
                class_="schedule",
            )
            for line in plan.every_line
        ],
        spanish=phrase("card.stakes", "spanish"),
    )


def _schedule(plan: Plan, line: Line, corners: Sequence[Corner]) -> Markup:
    """The trench schedule of a line, as its file prints it; each stake is a card where the window is narrow."""
    unit = plan.length_unit
    name, level = units.UNIT_NAMES[unit], units.UNIT_NAMES[plan.elevation_unit]
    heads, spanish = (_heads(name, level, unit, language) for language in LANGUAGES)
    bodies = []
    for place, row in zip(line.rows, printed_rows(plan, line), strict=True):
        figures = [row.ground, row.invert, row.grade, row.cover, row.cut]
        figures += [] if unit == "m" else [whole(row.cut_text)]
        cells = [
            tag("td", to_line(plan, line.id, place.station, row.station), class_="number", data_head=heads[0]),
            *(
                tag("td", figure, class_="number", data_head=head)
                for head, figure in zip(heads[1:], figures, strict=True)
            ),
        ]
        by_hand = hand_dug(plan, line, place.station)
        words = [
            *([both("strong", f"{phrase('card.hand')} ", f"{phrase('card.hand', 'spanish')} ")] if by_hand else []),
            *([tag("span", whole(row.point), class_="point")] if row.point else []),
            *(
                [tag("span", whole(f"Tapes: {tapes}"), class_="tapes")]
                if (tapes := two_tapes(place, corners, unit))
                else []
            ),
        ]
        note = [tag("tr", tag("td", *words, colspan=float(len(heads))), class_="said")] if words else []
        bodies.append(
            tag(
                "tbody",
                tag("tr", *cells),
                *note,
                class_="by-hand" if by_hand else None,
                data_stake=f"{place.station:.4f}",
            )
        )
    return tag(
        "table",
        both(
            "caption",
            f"Trench schedule of {line.id}: {line_state(plan, line).text}",
            f"{phrase('schedule.title', 'spanish')} {line.id}: {line_state(plan, line).text_in('spanish')}",
        ),
        tag(
            "thead",
            tag(
                "tr", *[tag("th", *pair[:1], scope="col", data_es=pair[1]) for pair in zip(heads, spanish, strict=True)]
            ),
        ),
        *bodies,
        class_="stakes",
    )


def _heads(name: str, level: str, unit: str, language: Language) -> list[str]:
    columns = [("station", ""), ("ground", level), ("invert", level), ("grade", "%"), ("cover", name), ("cut", name)]
    columns += [] if unit == "m" else [("feet_inches", "")]
    return [f"{phrase(f'schedule.{word}', language)} {of}".strip() for word, of in columns]
