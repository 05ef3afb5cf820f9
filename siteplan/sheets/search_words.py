"""How near to the least cost a search came, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence

from siteplan.sheets.wording import counted
from siteplan.values import SearchResult

_WIDE = 30  # signs of a bar
_NO_GAP = 0.00005  # a share under which a gap is printed as none


def search_text(results: Sequence[SearchResult]) -> tuple[str, ...]:
    """What a plan says of how its lines were searched.

    Parameters
    ----------
    results : sequence of SearchResult
        Of the plan.

    Returns
    -------
    tuple of str
        One paragraph for each group of sources searched together; none for a source by itself.
    """
    return tuple(_one(result) for result in results if result.sources > 1)


def _one(result: SearchResult) -> str:
    head = counted(result.sources, "source")
    if result.stopped == "every-way":
        return f"{head} searched together over every way to share trenches and outlets: no other way costs less on the net (but for 4 mm of invert)."
    near = (
        "which is the least there is on the net"
        if result.gap < _NO_GAP
        else f"at most {100 * result.gap:.1f} % over the least there is on the net"
    )
    why = {
        "gap": f"it stopped within the {100 * result.gap_asked:g} % asked for ([search] gap_percent)",
        "no-better": "taking out and putting back, exchanging and reordering found nothing better",
        "steps": f"it stopped after the {counted(result.steps_asked, 'bundle')} of sources asked for ([search] steps)",
        "time": f"it stopped by the clock after the {result.seconds_asked or 0:g} s asked for ([search] seconds), so that another run may differ",
    }.get(result.stopped, "")
    return f"{head} searched together, put in and improved, {near} ({result.cost:.1f} against a bound of {result.bound:.1f}); {why}."


def bar_text(share: float, gap: float) -> str:
    """A bar for a terminal.

    Parameters
    ----------
    share : float
        Of the work that may be done, 0 to 1.
    gap : float
        As it stands [-].

    Returns
    -------
    str
        One line of the same width.
    """
    done = round(_WIDE * min(max(share, 0.0), 1.0))
    said = f"within {100 * gap:5.1f} % of the least" if math.isfinite(gap) and gap < 9.995 else "no lines for all yet"
    return f"searching [{'#' * done}{'.' * (_WIDE - done)}] {said:<27}"
