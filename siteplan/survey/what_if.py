"""What is asked for beside a site's own words in; settings laid over site.toml, and the outlets left in play, out."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from siteplan.books.rules import RULES, RuleBook, settings_keys
from siteplan.errors import InputError, InputErrors
from siteplan.site import Feature
from siteplan.survey.files import said
from siteplan.values.asked_for import WhatIf

_RULES = "rules"
SOURCE = "what if, not the site's own"  # of a limit that a question sets


def value_of(text: str) -> object:
    """A typed value as site.toml would read it: a number, true or false, else the text itself.

    Parameters
    ----------
    text : str
        What stands after the equals sign.

    Returns
    -------
    object
        bool, int, float or str.

    Examples
    --------
    >>> value_of("10"), value_of("true"), value_of("flag")
    (10, True, 'flag')
    """
    if "\n" not in text and "\r" not in text:
        try:
            value = tomllib.loads(f"value = {text}").get("value")
        except (ValueError, RecursionError):
            return text
        if isinstance(value, bool | int | float | str):
            return value
    return text


def laid_over(data: Mapping[str, Any], asked: WhatIf) -> dict[str, Any]:
    """site.toml with what is asked for laid over it.

    Parameters
    ----------
    data : mapping
        As read from site.toml.
    asked : WhatIf
        Its `settings` are pairs of key and value: a key without a dot is a rule's, one with a dot names its section.

    Returns
    -------
    dict
        A copy. A rule that the site sets in another unit gives way.

    Raises
    ------
    InputError
        Where site.toml has something else than a section at that name.
    """
    over = {key: dict(value) if isinstance(value, Mapping) else value for key, value in data.items()}
    rule_of = {key: rule.id for rule in RULES for key in settings_keys(rule)}
    for written, text in asked.settings:
        section, key = _parted(written)
        table = over.setdefault(section, {})
        if not isinstance(table, dict):
            raise InputError(
                _place(written),
                f"site.toml has no section [{said(section)}]",
                "Write --set min_cover_in=10, or --set water.smallest=4.",
            )
        if section == _RULES and key in rule_of:
            for other in [one for one in table if rule_of.get(one) == rule_of[key]]:
                del table[other]
        table[key] = value_of(text)
    return over


def told_of_settings(error: InputError | InputErrors, asked: WhatIf) -> InputError | InputErrors:
    """The same complaint, named by the option where it is about one.

    Parameters
    ----------
    error : InputError or InputErrors
        Of reading site.toml with the settings laid over it.
    asked : WhatIf
        What was laid over.

    Returns
    -------
    InputError or InputErrors
        With --set in place of site.toml where that is where the value stands.
    """
    places = {}
    for written, _ in asked.settings:
        section, key = _parted(written)
        places[f"site.toml, [{section}] {key}"] = _place(written)
    if isinstance(error, InputError):
        return InputError(places.get(error.where, error.where), error.what, error.mend)
    return InputErrors([InputError(places.get(one.where, one.where), one.what, one.mend) for one in error.faults])


def asked_of_rules(book: RuleBook, asked: WhatIf) -> RuleBook:
    """The rules in force, with the question named as the source of what it sets.

    Parameters
    ----------
    book : RuleBook
        Read with the settings laid over the site's own.
    asked : WhatIf
        What was laid over.

    Returns
    -------
    RuleBook
        In the same order.
    """
    rule_of = {key: rule.id for rule in RULES for key in settings_keys(rule)}
    set_here = {
        rule_of.get(key) for section, key in (_parted(written) for written, _ in asked.settings) if section == _RULES
    }
    return {name: entry._replace(source=SOURCE) if name in set_here else entry for name, entry in book.items()}


def outlets_left(features: Sequence[Feature], kinds: Sequence[str], asked: WhatIf) -> None:
    """Refuse a question about an outlet that the site does not have.

    Parameters
    ----------
    features : sequence of Feature
        Of the site.
    kinds : sequence of str
        Of outlets.
    asked : WhatIf
        Outlets by name.

    Raises
    ------
    InputError
        For a name that no outlet bears, for one that is asked for and left out, or when none is left.
    """
    names = [feature.name for feature in features if feature.kind in kinds]
    for option, given in (("--without", asked.without), ("--only", asked.only)):
        for name in given:
            if name not in names:
                near = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
                have = ", ".join(said(one, 40) for one in dict.fromkeys(names)) or "none"
                mend = f"Did you mean {said(near[0], 60)}?" if near else f"The site's outlets: {said(have, 200)}."
                raise InputError(option, f"no outlet is named {said(name, 60)!r}", mend)
    both = next((name for name in asked.only if name in asked.without), None)
    if both is not None:
        raise InputError(
            f"--only {said(both, 60)}", "is left out by --without, too", "Name it with one of the two options."
        )


def _parted(written: str) -> tuple[str, str]:
    section, dot, key = written.partition(".")
    return (section, key) if dot else (_RULES, written)


def _place(written: str) -> str:
    return f"--set {said(written, 60)}"
