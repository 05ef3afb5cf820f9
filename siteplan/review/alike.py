"""Two texts or two records in; where they say different things out. What rounding alone can do is no difference."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from siteplan import units

_TOKEN = re.compile(
    r"""-?\d+'-(?:\d+(?:\ \d+/\d+)?|\d+/\d+)"      # 1'-7 1/4"
      | \d+\+\d+(?:\.\d+)?                          # 0+84.0
      | (?<![\w.])-?\d+(?:\.\d+)?(?:e-?\d+)?(?![\w])   # 1.26
    """,
    re.VERBOSE,
)
_NOTHING = re.compile(r"-?0\.0+ \S+ (to spare|short)")
_FOLLOWS = re.compile(
    r"^water|doubt|chance|shots_wanted|^data"
)  # worked out from lines that were written to a micrometre
LOOSE = 2e-3
_EIGHTH = 1.01 / 8  # inch: the last printed fraction
Difference = tuple[str, str, str]  # where, stated, found


def text_differs(stated: str, found: str) -> tuple[str, str] | None:
    """First place at which two texts say different things.

    Parameters
    ----------
    stated, found : str
        Texts with printed figures in them.

    Returns
    -------
    tuple of str, or None
        What each says there; None when they agree, figures within one of their last digit.

    Examples
    --------
    >>> text_differs("fall 1.25 ft", "fall 1.26 ft"), text_differs("fall 1.25 ft", "fall 1.28 ft")
    (None, ('1.25', '1.28'))
    """
    if stated == found:
        return None
    stated, found = (_NOTHING.sub("nothing to spare", one.replace("\u00a0", " ")) for one in (stated, found))
    first, second = _TOKEN.split(stated), _TOKEN.split(found)
    mine, own = _TOKEN.findall(stated), _TOKEN.findall(found)
    for place, (a, b) in enumerate(zip(first, second, strict=False)):
        if a != b:
            return first_difference(a, b)
        if place < min(len(mine), len(own)) and not _same_figure(mine[place], own[place]):
            return mine[place], own[place]
    if len(first) != len(second):
        return f"{len(mine)} figures", f"{len(own)} figures"
    return None


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


def _same_figure(a: str, b: str) -> bool:
    if a == b:
        return True
    if "'-" in a or "'-" in b:
        try:
            return abs(units.read_length(a, "ft") - units.read_length(b, "ft")) <= _EIGHTH * units.INCH
        except ValueError:
            return False
    if "+" in a or "+" in b:
        if "+" not in a or "+" not in b:
            return False
        one, two = (float(left) * 1000 + float(right) for left, right in (a.split("+"), b.split("+")))
        return abs(one - two) <= 1.01 * 10.0 ** -max(_decimals(a), _decimals(b)) and bool(_decimals(a) or _decimals(b))
    digits = max(_decimals(a), _decimals(b))
    return digits > 0 and abs(float(a) - float(b)) <= 1.01 * 10.0**-digits


def _decimals(text: str) -> int:
    return len(text.partition("e")[0].partition(".")[2])


def record_differences(
    stated: Any, found: Any, path: str = "", *, close: float = 2e-6, loose: float = LOOSE
) -> Iterator[Difference]:
    """Places at which two JSON records differ.

    Parameters
    ----------
    stated, found : Any
        As parsed.
    path : str
        Place of both, for the result.
    close : float
        Numbers nearer than this, or than their own last printed digit in texts, are the same [any].
    loose : float
        The same for what is worked out from written lines (water, doubts, chances), and of their own size above 1 [any].

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
                yield from record_differences(stated[key], found[key], at, close=close, loose=loose)
    elif isinstance(stated, list) and isinstance(found, list):
        if len(stated) != len(found):
            yield path, f"{len(stated)} entries", f"{len(found)} entries"
        for number, (a, b) in enumerate(zip(stated, found, strict=False), 1):
            yield from record_differences(a, b, f"{path} {number}", close=close, loose=loose)
    elif isinstance(stated, str) and isinstance(found, str):
        if (told := text_differs(stated, found)) is not None:
            yield path, *told
    elif _is_number(stated) and _is_number(found):
        if abs(stated - found) > (max(loose, loose * abs(found)) if _FOLLOWS.search(path) else close):
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
