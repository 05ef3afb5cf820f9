"""Rules in force in; their screen or JSON, each with its source, date and standing, out."""

from __future__ import annotations

import json
from pathlib import Path

from siteplan.books.profiles import read_profile, rules_in_force
from siteplan.books.rules import RuleBook, outward
from siteplan.sheets.rule_rows import rule_row
from siteplan.sheets.terminal import fitted
from siteplan.survey.files import said, text_of


def book_of(site: Path | None, profile: Path | None) -> tuple[RuleBook, str, str]:
    """The rules of a site, of a profile, or the defaults.

    Parameters
    ----------
    site : Path or None
        Site folder.
    profile : Path or None
        Profile file, looked at without a site.

    Returns
    -------
    tuple of RuleBook, str and str
        The rules in force, whose they are, and the site's unit of lengths ('' without a site).

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
        return settings.rules, settings.name, settings.length_unit
    if profile is not None:
        shown = said(profile.name)
        if not profile.is_file():
            raise InputError(shown, "no such file", "Name a profile in TOML, as docs/rule-profiles.md tells.")
        own = read_profile(text_of(profile, shown), shown)
        return rules_in_force({}, "site.toml", own), own.name, ""
    return rules_in_force({}), "the defaults", ""


def rules_as_text(book: RuleBook, whose: str, length_unit: str = "") -> str:
    """The rules as a screen.

    Parameters
    ----------
    book : RuleBook
        Rules in force.
    whose : str
        Site or jurisdiction.
    length_unit : str
        The site's; '' where there is none.

    Returns
    -------
    str
        Lines of at most 80 columns without a trailing newline.
    """
    head = f"Rules in force: {whose}. Local code decides; a rule without a source is one that nobody gave a source for."
    out = fitted(head)
    for entry in book.values():
        row = rule_row(entry, length_unit)
        told = [
            row.limit,
            "used by others" if row.broken == "used by others" else f"when broken: {row.broken}",
            row.standing,
        ]
        out += [
            *fitted(f"{row.id}: {row.title}"),
            *fitted("; ".join([*told, *([f"source: {row.source}"] if row.source else [])]), 4),
        ]
    return "\n".join(out)


def rules_as_json(book: RuleBook, whose: str) -> str:
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
                "id": name,
                "title": rule.title,
                "sense": rule.sense,
                "limit": None if limit is None else round(limit, 6) + 0.0,
                "unit": unit,
                "source": entry.source,
                "date": rule.dated,
                "status": rule.authority,
                "broken": rule.broken,
                "applies": rule.applies,
                "caution": rule.caution,
                "replaced": entry.replaced,
            }
        )
    return json.dumps({"of": whose, "rules": entries}, indent=1, ensure_ascii=False, allow_nan=False)
