"""Rules in force in; their screen or JSON, each with its source, date and standing, out."""

from __future__ import annotations

import json
from pathlib import Path

from siteplan.books.profiles import read_profile, rules_in_force
from siteplan.books.rules import InForce, RuleBook, limit_text, outward
from siteplan.survey.files import said, text_of


def book_of(site: Path | None, profile: Path | None) -> tuple[RuleBook, str]:
    """The rules of a site, of a profile, or the defaults.

    Parameters
    ----------
    site : Path or None
        Site folder.
    profile : Path or None
        Profile file, looked at without a site.

    Returns
    -------
    tuple of RuleBook and str
        The rules in force, and whose they are.

    Raises
    ------
    InputError, InputErrors
        If either cannot be read, or both are given.
    """
    from siteplan.errors import InputError

    if site is not None and profile is not None:
        raise InputError(
            "--profile",
            "stands beside a site, which names its own",
            'Write rule_profile = "file.toml" in site.toml, or leave SITE out.',
        )
    if site is not None:
        from siteplan.survey.settings import read_settings

        settings = read_settings(site)
        return settings.rules, settings.name
    if profile is not None:
        shown = said(profile.name)
        if not profile.is_file():
            raise InputError(shown, "no such file", "Name a profile in TOML, as docs/rule-profiles.md tells.")
        own = read_profile(text_of(profile, shown), shown)
        return rules_in_force({}, "site.toml", own), own.name
    return rules_in_force({}), "the defaults"


def _limit(entry: InForce) -> str:
    """The limit in the rule's own unit, as a person speaks of it."""
    rule = entry.rule
    if rule.dimension == "none":
        return "no limit to set"
    if entry.limit is None:
        return "not known"
    if rule.dimension == "verdict":
        return limit_text(rule, entry.limit, rule.unit)
    from siteplan.books import rules as book

    factor = book._UNITS_OF[rule.dimension][rule.unit]  # noqa: SLF001 -- the book's own factors, not a second table
    return f"{rule.sense} {limit_text(rule, float(f'{entry.limit / factor:.6g}'), rule.unit)}".strip()


def as_text(book: RuleBook, whose: str) -> str:
    """The rules as a screen.

    Parameters
    ----------
    book : RuleBook
        Rules in force.
    whose : str
        Site or jurisdiction.

    Returns
    -------
    str
        Lines without a trailing newline.
    """
    width = max(len(name) for name in book)
    out = [
        f"Rules in force: {whose}. Status: code, local, practice, unknown. Local code decides; the source stands beside each."
    ]
    for name, entry in book.items():
        over = f"; replaces {entry.replaced}" if entry.replaced is not None else ""
        rule = entry.rule
        out.append(
            f"{name:<{width}}  {_limit(entry):<22} {rule.authority:<8} {rule.dated:<10} {'FAIL' if rule.broken == 'fail' else 'flag'}  {entry.source}{over}"
        )
    return "\n".join("".join(c if c.isprintable() else " " for c in line) for line in out)


def as_json(book: RuleBook, whose: str) -> str:
    """The rules for programs: metres, percent, degrees.

    Parameters
    ----------
    book : RuleBook
        Rules in force.
    whose : str
        Site or jurisdiction.

    Returns
    -------
    str
        One JSON object.
    """
    entries = []
    for name, entry in book.items():
        limit, unit = outward(entry)
        rule = entry.rule
        entries.append(
            {
                "id": name, "title": rule.title, "sense": rule.sense, "limit": None if limit is None else round(limit, 6) + 0.0, "unit": unit,
                "source": entry.source, "date": rule.dated, "status": rule.authority, "broken": rule.broken, "applies": rule.applies,
                "caution": rule.caution, "replaced": entry.replaced,
            }
        )  # fmt: skip
    return json.dumps({"of": whose, "rules": entries}, indent=1, ensure_ascii=False, allow_nan=False)
