"""Writes docs/rules.md from the declared rules; a test fails when the page is stale.

Python docs/make_rules.py.
"""  # noqa: INP001 - a script, no package

from __future__ import annotations

from pathlib import Path

from siteplan.books.rules import InForce, rule_book, settings_keys
from siteplan.checks.judge import PARAMETERS
from siteplan.sheets.rule_rows import rule_row

PAGE = Path(__file__).with_name("rules.md")
_HEAD = """\
# Rules

This page is made from the rules as they are declared in `siteplan/books/rules.py`; run `python docs/make_rules.py`
after a change there. A test fails when the page is stale.

Rules vary by place. Every limit below is a default that a site changes under `[rules]` in its `site.toml`, by any of
the keys named with the rule; `"unknown"` is a value, and is shown as such (the few limits without which no line can be
laid out cannot be unknown). The plan prints the limit in force, where it came from and what it replaced. A rule without
a limit cannot be changed, only heeded.

## How a finding gets its status

Every check is worked from the surveyed ground and features and from the lines' vertices alone; the numbers that the
plan stores are themselves checked.

- **pass**: the limit is kept by more than the doubt.
- **fail** or **flag**: the limit is broken by more than the doubt. Which of the two stands with each rule below.
- **cannot tell**: the margin, either way, is smaller than the doubt. Written as a flag whose message begins with these
  words.
- **limit not known**: the site says so. Written as a flag.

The doubt is the survey's accuracy (one standard deviation of an elevation) for cover and depth, and the square root of
two times that for the fall between two places. What is designed and not measured, such as the grade between two
inverts, has none. Distances in plan are taken as drawn.

A check is reported once a line when it passes, and once for each place where it does not.

## How a limit stands

**law**: a law or code asks for it. **local rules, which differ**: some places ask for it, others for something else; ask
yours. **practice**: the trade does so, or we do; no law is known to us. **standing not known**: nobody could say.
**set by this site**: its `site.toml` gives the limit in place of ours. The same row, under the same id, stands on the map,
on the check sheet and on the screen of `siteplan rules`.
"""


def rules_page() -> str:
    """The page of rules, as Markdown."""
    book = {entry.rule.id: entry for entry in rule_book({}).values()}
    rows = ["| rule | title | default | when broken | standing |", "|---|---|---|---|---|"]
    for entry in book.values():
        row = rule_row(entry)
        rows.append(f"| [{row.id}](#{row.id}) | {_cell(row.title)} | {row.limit} | {row.broken} | {row.standing} |")
    parts = [_HEAD, "## All of them\n", "\n".join(rows) + "\n", "## One by one\n"]
    parts += [_entry(entry) for entry in book.values()]
    return "\n".join(parts).rstrip("\n") + "\n"


def _entry(entry: InForce) -> str:
    rule, row = entry.rule, rule_row(entry)
    keys = settings_keys(rule)
    lines = [
        f"### {row.id}\n",
        f"{row.title}.\n",
        f"- Limit: {row.limit}",
        f"- Applies to: {rule.applies}",
        f"- When broken: {row.broken}",
        f"- Standing: {row.standing}; source: {row.source or f'none given, {rule.dated}'}",
    ]
    if keys:
        lines.append(f"- Set by: {', '.join(f'`{key}`' for key in keys)}")
    if rule.id in PARAMETERS:
        lines.append(f"- Has no check of its own: {PARAMETERS[rule.id]}")
    if rule.caution:
        lines.append(f"- Caution: {rule.caution}")
    return "\n".join(lines) + "\n"


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


if __name__ == "__main__":
    PAGE.write_text(rules_page(), encoding="utf-8", newline="\n")
