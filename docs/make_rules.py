"""Writes docs/rules.md from the declared rules; a test fails when the page is stale: python docs/make_rules.py."""  # noqa: INP001 - a script, no package

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from siteplan.books.rules import RULES, Rule, limit_text, settings_keys
from siteplan.checks.judge import PARAMETERS

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
"""


def rules_page(parameters: Mapping[str, str]) -> str:
    """The page of rules, as Markdown; `parameters` are the rules that no check evaluates by themselves, with the reason."""
    rows = ["| rule | title | default | when broken |", "|---|---|---|---|"]
    rows += [
        f"| [{rule.id}](#{rule.id}) | {_cell(rule.title)} | {_limit(rule)} | {_broken(rule, parameters)} |"
        for rule in RULES
    ]
    parts = [_HEAD, "## All of them\n", "\n".join(rows) + "\n", "## One by one\n"]
    parts += [_entry(rule, parameters) for rule in RULES]
    return "\n".join(parts).rstrip("\n") + "\n"


def _entry(rule: Rule, parameters: Mapping[str, str]) -> str:
    keys = settings_keys(rule)
    lines = [
        f"### {rule.id}\n",
        f"{rule.title}.\n",
        f"- Limit: {_limit(rule)}",
        f"- Applies to: {rule.applies}",
        f"- When broken: {_broken(rule, parameters)}",
        f"- Standing: {rule.authority}; source: {rule.source}; dated {rule.dated}",
    ]
    if keys:
        lines.append(f"- Set by: {', '.join(f'`{key}`' for key in keys)}")
    if rule.id in parameters:
        lines.append(f"- Has no check of its own: {parameters[rule.id]}")
    if rule.caution:
        lines.append(f"- Caution: {rule.caution}")
    return "\n".join(lines) + "\n"


def _limit(rule: Rule) -> str:
    if rule.dimension == "none":
        return "no limit"
    if rule.dimension == "verdict":
        return limit_text(rule, rule.limit, rule.unit)
    return f"{rule.sense} {limit_text(rule, rule.limit, rule.unit)}"


def _broken(rule: Rule, parameters: Mapping[str, str]) -> str:
    return "used by others" if rule.id in parameters else rule.broken


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


if __name__ == "__main__":
    PAGE.write_text(rules_page(PARAMETERS), encoding="utf-8", newline="\n")
