"""Writes the figures of docs/as-laid-check.md from the simulated lines; a test fails when the page is stale."""  # noqa: INP001 - a script, no package

from __future__ import annotations

from pathlib import Path

from siteplan import units
from siteplan.laid.simulated import SEED, cases, tally

PAGE = Path(__file__).parent / "as-laid-check.md"
START, END = "<!-- figures: python docs/make_as_laid_figures.py -->", "<!-- end of figures -->"


def figures() -> str:
    """The table, from 300 invented lines and, to see how sure it is, from 3000."""
    rows = ["| lines | bellies of 1/2 in or more | good lines | depth, error (rms) |", "|---|---|---|---|"]
    for count, seed in ((300, SEED), (3000, SEED + 1)):
        one = tally(cases(count, seed))
        error = f"{units.from_metres(one.depth_error, 'ft'):.3f} ft"
        rows.append(
            f"| {count} (seed {seed}) | {one.found} of {one.bellied} bellies found ({one.found / one.bellied * 100:.1f} %) | "
            f"{one.false_alarms} of {one.good} good lines called bad ({one.false_alarms / one.good * 100:.1f} %) | {error} |"
        )
    return "\n".join(rows)


def main() -> None:
    """Put the table between its marks."""
    text = PAGE.read_text(encoding="utf-8")
    head, rest = text.split(START)
    _, tail = rest.split(END)
    PAGE.write_text(f"{head}{START}\n\n{figures()}\n\n{END}{tail}", encoding="utf-8")


if __name__ == "__main__":
    main()
