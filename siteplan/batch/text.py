"""What a run over many lots did in; the words for a terminal out."""

from __future__ import annotations

from siteplan.batch.record import LOT_STATES
from siteplan.batch.run import BatchDone
from siteplan.batch.summary import LOOKS, SUMMARIES
from siteplan.sheets.terminal import fitted
from siteplan.sheets.wording import counted, one_line


def batch_text(done: BatchDone, out: str) -> str:
    """Counts by state, the worst lots, what was written.

    Parameters
    ----------
    done : BatchDone
        What the run did.
    out : str
        Its folder, as typed.

    Returns
    -------
    str
        At most 80 columns; no newline at the end.
    """
    told = [f"{done.counts[state]} {LOOKS[state].word}" for state in LOT_STATES if done.counts.get(state)]
    lines = fitted(f"{counted(sum(done.counts.values()), 'lot')}: {', '.join(told)}; {done.planned} planned now")
    for one in done.worst:
        lines += fitted(f"{one.name}: {LOOKS[one.state].word}: {one.why}")
        lines += fitted(f"Would flip it: {one.flip}", 4) if one.flip and one.files else []
    if done.passed:
        lines += fitted(
            "Passed over, no site.toml in them: "
            f"{', '.join(done.passed[:5])}{' and more' if len(done.passed) > 5 else ''}"
        )
    lines += ["", *fitted(f"Written to {one_line(out)}: {', '.join(SUMMARIES)}; each plan under lots/")]
    return "\n".join(lines)
