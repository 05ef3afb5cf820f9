"""Small pieces that the page's written parts are made of.

A status, a section, a list, pairs, and what leads to a place on the map.
"""

from __future__ import annotations

from siteplan.sheets.markup import Markup, tag, whole
from siteplan.sheets.wording import one_line
from siteplan.values.whole_plan import Plan

_SHAPES = {
    "fail": '<path d="M1 1h14v14H1z"/><path class="status-ink" d="M4.5 4.5l7 7m0-7l-7 7"/>',
    "flag": '<path d="M8 .8L15.6 15H.4z"/><path class="status-ink" d="M8 5.4v4.4m0 1.6v1.4"/>',
    "pass": '<circle cx="8" cy="8" r="7.2"/><path class="status-ink" d="M4.6 8.3l2.4 2.4 4.4-5"/>',
}


def status_mark(status: str) -> Markup:
    """The shape of a status: a crossed square fails, a triangle flags, a ticked disc passes.

    Parameters
    ----------
    status : str
        fail, flag or pass.

    Returns
    -------
    Markup
        A small svg, hidden from screen readers (the word stands beside it).
    """
    return Markup(
        f'<svg class="mark {status}" viewBox="0 0 16 16" aria-hidden="true"><use href="#mark-{status}"/></svg>'
    )


def status_shapes() -> Markup:
    """The shapes that `status_mark` shows, once for a page: a list of findings holds hundreds of marks.

    Returns
    -------
    Markup
        One svg of no size.
    """
    held = "".join(f'<symbol id="mark-{name}" viewBox="0 0 16 16">{shape}</symbol>' for name, shape in _SHAPES.items())
    return Markup(f'<svg class="hatches" width="0" height="0" aria-hidden="true">{held}</svg>')


def part(ident: str, title: str, *inside: str, spanish: str | None = None) -> Markup:
    """One part of the page: a tab where scripts run, a chapter where they do not.

    Parameters
    ----------
    ident : str
        Ours; the part's id is part-IDENT.
    title : str
        Its name on the tab and over it.
    *inside : str
        Markup.
    spanish : str, optional
        Its name on the tab in Spanish, of a part for the crew.

    Returns
    -------
    Markup
        One section.
    """
    return tag(
        "section",
        tag("h2", title, class_="part-title"),
        *inside,
        class_="part",
        id=f"part-{ident}",
        data_tab=title,
        data_tab_es=spanish,
    )


def chapter(title: str, *inside: str) -> Markup:
    """A section under a heading.

    Parameters
    ----------
    title : str
        The heading.
    *inside : str
        Markup.

    Returns
    -------
    Markup
        One section.
    """
    return tag("section", tag("h3", title, class_="chapter"), *inside)


def both(name: str, english: str, spanish: str, class_: str | None = None) -> Markup:
    """Words that the crew may turn into Spanish.

    Parameters
    ----------
    name : str
        Element name, one of ours.
    english, spanish : str
        The words, not escaped.
    class_ : str, optional
        Class of the element.

    Returns
    -------
    Markup
        The English words; the Spanish ones wait beside them.
    """
    return tag(name, english, class_=class_, data_es=spanish)


def bullets(items: tuple[str, ...] | list[str]) -> Markup:
    """Sentences as a list.

    Parameters
    ----------
    items : sequence of str
        Text, not escaped.

    Returns
    -------
    Markup
        One list.
    """
    return tag("ul", *[tag("li", one_line(item)) for item in items], class_="plain")


def facts_list(*each: tuple[str, str]) -> Markup:
    """Names and values; what has no value is left out.

    Parameters
    ----------
    *each : tuple of str
        Name and value.

    Returns
    -------
    Markup
        One description list.
    """
    return tag("dl", *[tag("div", tag("dt", name), tag("dd", whole(value))) for name, value in each if value])


def line_number(plan: Plan, line: str) -> int | None:
    """Where a line stands among all lines of the plan.

    Parameters
    ----------
    plan : Plan
        The plan.
    line : str
        Id of a line.

    Returns
    -------
    int or None
        From 0; None for an id that is no line's.
    """
    return next((place for place, one in enumerate(plan.every_line) if one.id == line), None)


def to_line(plan: Plan, line: str, station: float | None, *inside: str) -> Markup:
    """Words that lead to a place on a line: on the map and in its profile.

    Parameters
    ----------
    plan : Plan
        The plan.
    line : str
        Id of a line.
    station : float or None
        [m]; None: the whole line.
    *inside : str
        Markup.

    Returns
    -------
    Markup
        The words alone where there is no such line.
    """
    place = line_number(plan, line)
    if place is None:
        return tag("span", *inside)
    at = None if station is None else f"{station:.4f}"
    return tag("span", *inside, class_="go", data_line=str(place), data_at=at)


def to_mark(key: str, *inside: str) -> Markup:
    """Words that lead to a source or an outlet on the map.

    Parameters
    ----------
    key : str
        Id of the source or outlet.
    *inside : str
        Markup.

    Returns
    -------
    Markup
        One span.
    """
    return tag("span", *inside, class_="go", data_key=key)


def boxed(table: Markup) -> Markup:
    """A table that scrolls by itself where the window is narrow.

    Parameters
    ----------
    table : Markup
        The table.

    Returns
    -------
    Markup
        One element that the keyboard reaches.
    """
    return tag("div", table, class_="scroll", tabindex="0", role="group", aria_label="Table")
