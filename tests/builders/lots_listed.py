"""The page of many lots, read as a person reads it: its list and its counts."""

from __future__ import annotations

import re
from collections import Counter
from html import unescape
from pathlib import Path


def _text(markup: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", markup)).split())


def listed(page: Path) -> list[list[str]]:
    """The cells of each row of the list, in its order."""
    body = page.read_text("utf-8").partition("<tbody>")[2].partition("</tbody>")[0]
    rows = re.findall(r"<tr.*?</tr>", body, re.DOTALL)
    return [[_text(cell) for cell in re.findall(r"<t[hd][ >].*?</t[hd]>", row, re.DOTALL)] for row in rows]


def tally(page: Path) -> Counter[str]:
    """How many lots the head says there are in each state, by its word."""
    head = page.read_text("utf-8").partition('class="tally"')[2].partition("</ul>")[0]
    told = (re.fullmatch(r"\S+ (\d+) (.*)", _text(one)) for one in re.findall(r"<li>.*?</li>", head, re.DOTALL))
    return Counter({one[2]: int(one[1]) for one in told if one})


def first_length(words: str) -> float:
    """The first figure in some words."""
    return float(re.search(r"\d+(\.\d+)?", words)[0])
