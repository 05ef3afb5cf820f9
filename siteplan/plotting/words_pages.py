"""Words that found no room beside a drawing in; pages of them out, in two columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from siteplan.plotting.paper_sizes import Paper
from siteplan.plotting.shapes import Mark, Page
from siteplan.plotting.side_column import paragraphs

_TYPE = 2.6


def words_pages(paper: Paper, title: str, held: Sequence[tuple[str, Sequence[str]]]) -> list[Page]:
    """Pages of words.

    Parameters
    ----------
    paper : Paper
        As the drawing's.
    title : str
        Of the pages.
    held : sequence of (str, sequence of str)
        What they belong to, and the texts.

    Returns
    -------
    list of Page
        None where there is nothing to say.
    """
    pages: list[Page] = []
    waiting = [text for of, texts in held for text in (f"{of}:", *texts)]
    inside = paper.inside
    wide = (inside.wide - 6.0) / 2
    columns = [replace(inside, right=inside.left + wide), replace(inside, left=inside.right - wide)]
    while waiting:
        shapes: list[Mark] = []
        before = len(waiting)
        for box in columns:
            made, _, count = paragraphs("notes", box, box.top, waiting, _TYPE)
            shapes += made
            waiting = waiting[count:]
        if len(waiting) == before:  # one text is longer than a column
            half = len(waiting[0]) // 2
            waiting = [waiting[0][:half], waiting[0][half:], *waiting[1:]]
            continue
        pages.append(Page(paper=paper, title=title, shapes=tuple(shapes)))
    return pages
