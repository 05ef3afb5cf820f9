"""Heights of the ground in; the same as short text out, which the page's script reads back to the centimetre.

Ground is smooth: what a node has over the plane of the three before it is mostly one centimetre or none, so that one
letter tells it. The page's size is what this is for (a page of one lot is to stay under 1 MB).
"""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np

from siteplan.sheets.relief import Relief

# what JSON and HTML both leave as it is; the middle letter is "no difference"
LETTERS = "".join(chr(code) for code in range(35, 127) if chr(code) not in "&<>\\'")
_HALF = len(LETTERS) // 2
_LONG, _DIGITS = "!", 3  # what is larger: this, then so many digits to the base of the letters


def packed_heights(ground: Relief) -> dict[str, Any]:
    """Heights for the read-out under the cursor.

    Parameters
    ----------
    ground : Relief
        The sampled ground.

    Returns
    -------
    dict
        rows, cols, cell [m], base [m], step [m], letters, data and gaps. Data: node by node, row 0 north, what its
        count of steps above base has over left + above - above left (outside the grid all 0). Gaps: lengths of
        runs of nodes, known and unknown in turn, known first.
    """
    known = np.isfinite(ground.z)
    low, high = (float(np.min(ground.z[known])), float(np.max(ground.z[known]))) if known.any() else (0.0, 0.0)
    step = max(0.01, (high - low) / 60_000)
    # an unknown node is told as the last known one: it costs a letter and changes nothing
    flat = np.where(known, np.round((np.where(known, ground.z, low) - low) / step), 0).astype(np.int64).ravel()
    last = np.maximum.accumulate(np.where(known.ravel(), np.arange(flat.size), 0))
    counts = flat[last].reshape(ground.z.shape)
    over = np.diff(np.diff(counts, axis=0, prepend=0), axis=1, prepend=0)
    rows, cols = (int(size) for size in ground.z.shape)
    return {
        "rows": rows,
        "cols": cols,
        "cell": round(ground.cell, 6),
        "base": round(low, 4),
        "step": round(step, 6),
        "letters": LETTERS,
        "data": "".join(_told(int(value)) for value in over.ravel()),
        "gaps": [] if known.all() else _runs(known.ravel().tolist()),
    }


def _told(value: int) -> str:
    if abs(value) <= _HALF - 1:
        return LETTERS[value + _HALF]
    number = value + len(LETTERS) ** _DIGITS // 2
    digits = [number // len(LETTERS) ** place % len(LETTERS) for place in reversed(range(_DIGITS))]
    return _LONG + "".join(LETTERS[digit] for digit in digits)


def _runs(known: list[bool]) -> list[int]:
    found = [] if known[0] else [0]
    return [*found, *(len(list(run)) for _, run in itertools.groupby(known))]
