"""Titles, tables and sentences in; one printable HTML page out, for a phone and for letter and A4 paper.

No script, no network, no colour that ink would lose; the page's own policy lets the browser load nothing.
"""

from __future__ import annotations

import base64
import hashlib
import itertools
from collections.abc import Sequence

from siteplan.sheets.markup import Markup, tag

STYLE = """
@page { margin: 14mm 12mm; @bottom-right { content: "page " counter(page) " of " counter(pages); font: 8pt sans-serif; } }
body { font: 15px/1.35 system-ui, sans-serif; margin: 1em auto; max-width: 60em; padding: 0 0.6em; color: #000; background: #fff; }
h1 { font-size: 1.3em; margin: 0 0 0.3em; } h2 { font-size: 1.1em; margin: 1.1em 0 0.2em; break-after: avoid; } h2 + p { break-after: avoid; }
p, ul { margin: 0.25em 0; } ul { padding-left: 1.2em; }
table { border-collapse: collapse; width: 100%; margin: 0.4em 0; font-variant-numeric: tabular-nums; }
th, td { border: 1px solid #555; padding: 0.15em 0.4em; text-align: right; vertical-align: top; }
th { background: #eee; } td.t, th.t { text-align: left; overflow-wrap: break-word; }
td, th { overflow-wrap: normal; } td { white-space: nowrap; } td.t, td.n { white-space: normal; overflow-wrap: break-word; } td.s { min-width: 4.5em; height: 1.6em; }
td.n { border-top: none; text-align: left; font-size: 0.85em; } tr.o td { border-bottom: none; } tr, tbody.g { break-inside: avoid; } thead { display: table-header-group; }
td.k { font-weight: 700; font-size: 1.1em; } .figure { white-space: nowrap; }
.wide { overflow-x: auto; } .sign { margin-top: 1.6em; border-top: 1px solid #000; padding-top: 0.2em; width: 46%; display: inline-block; margin-right: 3%; }
.warn { border: 2px solid #000; padding: 0.3em 0.5em; margin: 0.5em 0; font-weight: 700; }
@media print { body { font-size: 9.5pt; margin: 0; max-width: none; } .wide { overflow: visible; } }
@media screen and (max-width: 560px) {
  table, tbody.g, td.n { display: block; }
  thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  tbody.g { border: 1px solid #000; border-radius: 4px; padding: 0.4em 0.6em; margin: 0.5em 0; }
  tbody.g > tr { display: grid; grid-template-columns: repeat(3, auto); justify-content: space-between; gap: 0.25em 0.8em; }
  tbody.g > tr > td { border: 0; padding: 0; text-align: left; }
  tbody.g > tr > td.t, tbody.g > tr > td:first-child { grid-column: 1 / -1; }
  tbody.g > tr > td:first-child { font-weight: 700; }
  td[data-head]::before { content: attr(data-head); display: block; font-size: 0.8em; font-weight: 400; color: #333; }
  td.t[data-head]::before { display: inline; content: attr(data-head) ": "; }
  td:empty { display: none; }
  tbody.g:not(:has(td:not(:empty))) td { display: block; min-height: 3.2em; }
  tbody.g > tr > td.n { grid-column: 1 / -1; font-weight: 400; border-top: 1px dotted #555; margin-top: 0.25em; padding-top: 0.25em; }
}
"""
MADE_BY = '<meta name="generator" content="siteplan">'


def page(title: str, *inside: str, running: Sequence[str] = (), language: str = "en") -> bytes:
    """A whole page.

    Parameters
    ----------
    title : str
        Text.
    *inside : str
        Markup as it is, any other string escaped.
    running : sequence of str
        Up to three texts that stand at the head of every printed page: left, middle, right.
    language : str
        Of its words, as BCP 47 names it.

    Returns
    -------
    bytes
        HTML in UTF-8; the same for the same input.
    """
    style = STYLE + _running(running)
    digest = base64.b64encode(hashlib.sha256(style.encode("utf-8", "replace")).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    head = tag(
        "head",
        Markup('<meta charset="utf-8">'),
        Markup(f'<meta http-equiv="Content-Security-Policy" content="{policy}">'),
        Markup('<meta name="viewport" content="width=device-width, initial-scale=1">'),
        Markup(MADE_BY),
        tag("title", title),
        Markup(f"<style>{style}</style>"),
    )
    body = tag("body", tag("main", tag("h1", title), *inside))
    return f'<!DOCTYPE html>\n<html lang="{language}">\n{head}\n{body}\n</html>\n'.encode("utf-8", "replace")


def _running(texts: Sequence[str]) -> str:
    """Heads of printed pages. Every character but letters and digits is written by its number.

    No text can leave its quotes.
    """
    places = ("top-left", "top-center", "top-right")
    boxes = [
        (
            f"@{place} {{ content: "
            f'"{"".join(mark if mark.isascii() and mark.isalnum() else f"{chr(92)}{ord(mark):x} " for mark in text[:120])}"; '
            f"font: 8pt sans-serif; }}"
        )
        for place, text in zip(places, texts, strict=False)
    ]
    return "@page { " + " ".join(boxes) + " }\n" if boxes else ""


def table(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    words: Sequence[int] = (),
    blank: Sequence[int] = (),
    strong: Sequence[int] = (),
) -> Markup:
    """A table.

    Parameters
    ----------
    head : sequence of str
        Column titles.
    rows : sequence of sequence of str
        Cells, escaped unless they are markup; a row of one cell is a note on the row above it.
    words, blank, strong : sequence of int
        Columns that hold words, that stay blank for a pen, that are read from afar.

    Returns
    -------
    Markup
        Each row a card on a phone; in a box that scrolls sideways where a window is narrow all the same.
    """

    def kind(column: int) -> str | None:
        return "t" if column in words else "s" if column in blank else "k" if column in strong else None

    top = tag("thead", tag("tr", *(tag("th", cell, class_="t" if i in words else None) for i, cell in enumerate(head))))
    groups: list[Markup] = []
    last: tuple[str, ...] = ()
    for row, after in itertools.zip_longest(rows, rows[1:], fillvalue=last):
        if len(row) == 1 and len(head) > 1:
            continue  # stands in the group of the row above it
        cells = [tag("td", cell, class_=kind(i), data_head=head[i] or None) for i, cell in enumerate(row)]
        noted = len(after) == 1 and len(head) > 1
        group = [tag("tr", *cells, class_="o" if noted else None)]
        if noted:
            group.append(tag("tr", tag("td", after[0], class_="n", colspan=float(len(head)))))
        groups.append(tag("tbody", *group, class_="g"))
    body = Markup("".join(groups))
    return tag(
        "div", tag("table", top, body), class_="wide", role="group", aria_label=f"Table: {head[0]}", tabindex="0"
    )


def listed(items: Sequence[str]) -> Markup:
    """A list of sentences.

    Parameters
    ----------
    items : sequence of str
        Escaped unless markup.

    Returns
    -------
    Markup
        Nothing where there is nothing to list.
    """
    return tag("ul", *(tag("li", item) for item in items)) if items else Markup("")


def signatures(*who: str) -> Markup:
    """Lines to sign on.

    Parameters
    ----------
    *who : str
        What stands under each line: who, and what is to be written.

    Returns
    -------
    Markup
        Two to a row.
    """
    return tag("div", *(tag("div", one, class_="sign") for one in who))
