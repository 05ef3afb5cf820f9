"""Text in; lines of at most 80 columns for a terminal out, figures and coordinates whole."""

from __future__ import annotations

import re
import textwrap

from siteplan.sheets.markup import whole
from siteplan.sheets.wording import one_line

WIDTH = 80  # columns
_PAIR = re.compile(r"(?<=[\d\"']) (?=[EW]\b)")  # between the two figures of a place, and of a bearing
_COLUMNS = re.compile(r"\S {2,}(?=\S)")


def fitted(text: str, indent: int = 0) -> list[str]:
    """Text without control characters, wrapped; a name longer than a line is broken, for nothing may be lost.

    Parameters
    ----------
    text : str
        One paragraph.
    indent : int
        Columns before it.

    Returns
    -------
    list of str
        Lines of at most `WIDTH` columns.
    """
    gap = " " * indent
    lines = textwrap.wrap(
        _kept(one_line(text)), WIDTH, initial_indent=gap, subsequent_indent=gap + "  ", break_on_hyphens=False
    )
    return [line.replace("\u00a0", " ") for line in lines]


def fitted_page(text: str) -> str:
    """A whole screen: lines that fit stay as they are, the others are wrapped under their own indent.

    A row of a table under its last column.

    Parameters
    ----------
    text : str
        Lines of our own making.

    Returns
    -------
    str
        Lines of at most `WIDTH` columns, but for a word that is longer: a file's digest, a path are not broken.
    """
    out: list[str] = []
    for line in text.split("\n"):
        if len(line) <= WIDTH:
            out.append(line)
            continue
        lead = len(line) - len(line.lstrip(" "))
        cells = [found.end() for found in _COLUMNS.finditer(line)]
        start = cells[-1] if cells and cells[-1] < WIDTH * 3 // 4 else lead
        wrapped = textwrap.wrap(
            _kept(line[start:]),
            WIDTH,
            initial_indent=line[:start],
            subsequent_indent=" " * (start if start > lead else lead + 2),
            break_on_hyphens=False,
            break_long_words=False,
        )
        out += [one.replace("\u00a0", " ") for one in wrapped]
    return "\n".join(out)


def _kept(text: str) -> str:
    """Text whose figures, places and bearings do not break across lines."""
    return _PAIR.sub("\u00a0", whole(text))
