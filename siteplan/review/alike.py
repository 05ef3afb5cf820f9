"""Two texts or two records in; where they say different things out. Words are the same or not.

Of figures the last digit is no difference.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

_TOKEN = re.compile(
    r"""-?\d+'-(?:\d+(?:\ \d+/\d+)?|\d+/\d+)"      # 1'-7 1/4"
      | \d+\+\d+(?:\.\d+)?                          # 0+84.0
      | (?<![\w.])-?\d+(?:\.\d+)?(?:e-?\d+)?(?![\w])   # 1.26
    """,
    re.VERBOSE,
)
CLOSE = 2e-6  # of any figure: the last digit that plan.json holds, where another machine solves the same equations
Difference = tuple[str, str, str]  # where, stated, found


def text_differs(stated: str, found: str) -> tuple[str, str] | None:
    """First place at which two texts say different things.

    Both are made from values that are stored, by the same code: what an honest plan says is the same letter by letter.

    Parameters
    ----------
    stated, found : str
        Texts with printed figures in them.

    Returns
    -------
    tuple of str, or None
        What each says there, a figure whole; None when they are the same.

    Examples
    --------
    >>> text_differs("fall 1.25 ft", "fall 1.25 ft"), text_differs("fall 1.25 ft", "fall 1.26 ft")
    (None, ('1.25', '1.26'))
    """
    if stated == found:
        return None
    first, second = _TOKEN.split(stated), _TOKEN.split(found)
    mine, own = _TOKEN.findall(stated), _TOKEN.findall(found)
    for place, (a, b) in enumerate(zip(first, second, strict=False)):
        if a != b:
            return first_difference(a, b)
        if place < min(len(mine), len(own)) and mine[place] != own[place]:
            return mine[place], own[place]
    return f"{len(mine)} figures", f"{len(own)} figures"


def first_difference(a: str, b: str) -> tuple[str, str]:
    """A few words about the first letter that differs.

    Parameters
    ----------
    a, b : str
        Texts that differ.

    Returns
    -------
    tuple of str
        What each says there.
    """
    at = next((i for i, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
    start = max(0, at - 20)
    return " ".join(a[start : at + 40].split()) or "nothing", " ".join(b[start : at + 40].split()) or "nothing"


def record_differences(stated: Any, found: Any, path: str = "") -> Iterator[Difference]:
    """Places at which two JSON records differ.

    Parameters
    ----------
    stated, found : Any
        As parsed.
    path : str
        Place of both, for the result.

    Yields
    ------
    tuple of str
        Where, what is stated, what is found.
    """
    if isinstance(stated, Mapping) and isinstance(found, Mapping):
        for key in dict.fromkeys([*found, *stated]):
            at = f"{path}.{key}" if path else str(key)
            if key not in stated:
                yield at, "nothing", shown_difference(found[key])
            elif key not in found:
                yield at, shown_difference(stated[key]), "nothing"
            else:
                yield from record_differences(stated[key], found[key], at)
    elif isinstance(stated, list) and isinstance(found, list):
        if len(stated) != len(found):
            yield path, f"{len(stated)} entries", f"{len(found)} entries"
        for number, (a, b) in enumerate(zip(stated, found, strict=False), 1):
            yield from record_differences(a, b, f"{path} {number}")
    elif isinstance(stated, str) and isinstance(found, str):
        if (told := text_differs(stated, found)) is not None:
            yield path, *told
    elif _is_number(stated) and _is_number(found):
        if not abs(stated - found) <= CLOSE:
            yield path, shown_difference(stated), shown_difference(found)
    elif stated != found or type(stated) is not type(found):
        yield path, shown_difference(stated), shown_difference(found)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def shown_difference(value: Any) -> str:
    """A stored value as a reader is shown it: figures to six places, what holds others by what it holds.

    Parameters
    ----------
    value : any
        As plan.json holds it [any].

    Returns
    -------
    str
        At most 60 letters.
    """
    if isinstance(value, Mapping):
        text = f"a table of {', '.join(str(key) for key in value)}" if value else "an empty table"
    elif isinstance(value, list):
        text = "1 entry" if len(value) == 1 else f"{len(value)} entries"
    elif isinstance(value, float):
        text = f"{value:.6g}" if abs(value) < 1 else f"{value:.6f}".rstrip("0").rstrip(".")
    else:
        text = "nothing" if value is None else str(value)
    return text if len(text) <= 60 else text[:59] + "\u2026"
