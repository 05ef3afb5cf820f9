"""What a screen found in; the words for a terminal out."""

from __future__ import annotations

from siteplan.screen.asked import SCREEN_STATES
from siteplan.screen.run import ScreenDone
from siteplan.screen.summary import SCREEN_LOOKS, SCREEN_NAMES
from siteplan.sheets.terminal import fitted
from siteplan.sheets.wording import counted, one_line


def screen_text(done: ScreenDone, out: str) -> str:
    """Counts by state, what was assumed, what was written.

    Parameters
    ----------
    done : ScreenDone
        What was found.
    out : str
        The folder, as typed.

    Returns
    -------
    str
        At most 80 columns; no newline at the end.
    """
    told = [f"{done.counts[state]} {SCREEN_LOOKS[state].word}" for state in SCREEN_STATES if done.counts.get(state)]
    now = f"; {done.judged} worked out now" if done.judged < sum(done.counts.values()) else ""
    lines = fitted(f"{counted(sum(done.counts.values()), 'lot')}: {', '.join(told)}{now}")
    if done.faults:
        lines += fitted(f"{counted(done.faults, 'lot')} left without an answer by a fault of ours")
    for note in done.notes:
        lines += fitted(note, 2)
    return "\n".join([*lines, "", *fitted(f"Written to {one_line(out)}: {', '.join(SCREEN_NAMES)}")])
