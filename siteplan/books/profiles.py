"""A jurisdiction's rules as TOML in; the rules in force out: defaults, the profile over them, the site's own over both.

Each limit of a profile carries its unit, source, date and status, and is shown with them. A profile speaks of declared
rules only: it cannot add one that no check answers for.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from typing import Any, NamedTuple, get_args

from siteplan import units
from siteplan.books.rules import (
    RULES,
    VERDICTS,
    Authority,
    InForce,
    Rule,
    RuleBook,
    limit_text,
    rule_book,
    settings_keys,
    worded,
)
from siteplan.errors import InputError, alike_or, raise_gathered

_KEYS = ("id", "value", "unit", "source", "date", "status", "note")
_HEAD = ("name", "date", "note")
_STATUSES = get_args(Authority)
_CAP = 200
_MOST_RULES = 500  # tables of one profile; each rule is named once
_UNIT_WORDS = {"%": "percent", "us-ft": "us_ft", "in/ft": "in_per_ft", "feet": "ft", "inches": "in", "degrees": "deg"}


class RuleProfile(NamedTuple):
    """A jurisdiction: its name, date and note, the settings its values stand for, and what it says of each rule."""

    name: str
    date: str
    note: str
    settings: Mapping[str, Any]  # as [rules] takes them
    rules: Mapping[str, Rule]  # by id, with the profile's source, date and status


def read_profile(text: str, where: str) -> RuleProfile:
    """A profile from its text.

    Parameters
    ----------
    text : str
        TOML: [jurisdiction] with name, date and note, then one [[rule]] for each limit.
    where : str
        File named in messages.

    Returns
    -------
    Profile
        Checked.

    Raises
    ------
    InputError, InputErrors
        For what is no TOML, an unknown key or rule (the nearest is offered), a unit of another kind, a value
        that is no limit, a missing source, date or status.
    """
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(where, f"is no TOML: {_said(error)}", "Correct that line.") from error
    faults = [
        InputError(f"{where}, {_said(key)}", "is not known here", "A profile holds [jurisdiction] and [[rule]] alone.")
        for key in data
        if key not in {"jurisdiction", "rule"}
    ]
    head = data.get("jurisdiction")
    if not isinstance(head, dict) or not isinstance(head.get("name"), str) or not head["name"].strip():
        faults.append(InputError(f"{where}, [jurisdiction] name", "is missing", "Say whose rules these are."))
        head = {}
    faults += [
        InputError(f"{where}, [jurisdiction] {_said(key)}", "is not known here", f"Write {', '.join(_HEAD)}.")
        for key in head
        if key not in _HEAD
    ]
    listed = data.get("rule", [])
    if not isinstance(listed, list):
        faults.append(InputError(f"{where}, rule", "is no list", "Write [[rule]] before each rule."))
        listed = []
    if len(listed) > _MOST_RULES:
        raise InputError(
            where,
            f"holds {len(listed)} rules",
            f"There are {len(RULES)} rules; name each once. docs/rules.md lists them.",
        )
    settings: dict[str, Any] = {}
    rules: dict[str, Rule] = {}
    for number, entry in enumerate(listed, 1):
        _read_rule(entry, f"{where}, [[rule]] {number}", settings, rules, faults)
    raise_gathered(faults)
    rule_book(settings, where)  # values and units are judged as a site's own are
    return RuleProfile(
        _said(head.get("name", "")), _said(head.get("date", "")), _said(head.get("note", "")), settings, rules
    )


def _read_rule(
    entry: Any, place: str, settings: dict[str, Any], rules: dict[str, Rule], faults: list[InputError]
) -> None:
    by_id = {rule.id: rule for rule in RULES}
    if not isinstance(entry, dict) or not isinstance(entry.get("id"), str):
        faults.append(
            InputError(place, "has no id", 'Write id = "min-cover" and its value, unit, source, date, status.')
        )
        return
    rule = by_id.get(entry["id"])
    place = f"{place} ({_said(entry['id'])})"
    if rule is None:
        mend = alike_or(entry["id"], by_id, "siteplan rules lists the rules by name.")
        faults.append(InputError(place, "is no rule known here", mend))
        return
    if rule.id in rules:
        faults.append(InputError(place, "stands twice", "Keep one of the two."))
        return
    faults += [
        InputError(f"{place}, {_said(key)}", "is not known here", f"Write {', '.join(_KEYS)}.")
        for key in entry
        if key not in _KEYS
    ]
    for key in ("source", "date", "status"):
        if not isinstance(entry.get(key), str) or not entry[key].strip():
            faults.append(
                InputError(
                    f"{place}, {key}", "is missing", 'Say where the limit comes from; status "unknown" if nobody knows.'
                )
            )
            return
    if entry["status"] not in _STATUSES:
        faults.append(
            InputError(f"{place}, status", f"is {_said(entry['status'])!r}", f"Write {', '.join(_STATUSES)}.")
        )
        return
    authority: Authority = next(one for one in _STATUSES if one == entry["status"])
    told = " ".join(part for part in (rule.caution, _said(entry.get("note", ""))) if part)
    keys = settings_keys(rule)
    if keys:
        unit = str(entry.get("unit", rule.unit))
        unit = _UNIT_WORDS.get(unit, unit)
        stem = rule.id.replace("-", "_")
        key = stem if stem in keys else f"{stem}_{unit}"
        if key not in keys:
            fitting = ", ".join(one[len(stem) + 1 :] for one in keys)
            faults.append(InputError(f"{place}, unit", f"is {_said(unit)!r}", f"Write one of {fitting}."))
            return
        if "value" not in entry:
            faults.append(
                InputError(
                    f"{place}, value", "is missing", 'Give a number, a verdict where the rule takes one, or "unknown".'
                )
            )
            return
        settings[key] = entry["value"]
    elif "value" in entry:
        faults.append(
            InputError(
                f"{place}, value", "stands with a rule that has no limit", "Take it out; the rule can only be heeded."
            )
        )
        return
    rules[rule.id] = rule._replace(
        source=_said(entry["source"]), dated=_said(entry["date"]), authority=authority, caution=told
    )


def _said(value: object) -> str:
    text = " ".join("".join(c if c.isprintable() else " " for c in str(value)[: 4 * _CAP]).split())
    return text if len(text) <= _CAP else text[: _CAP - 1] + "\u2026"


def rules_in_force(
    overrides: Mapping[str, Any], where: str = "site.toml", profile: RuleProfile | None = None, length_unit: str = "ft"
) -> RuleBook:
    """The rules in force: defaults, a profile over them, a site's own over both.

    Parameters
    ----------
    overrides : mapping
        The site's [rules] table.
    where : str
        File named in messages.
    profile : Profile, optional
        The jurisdiction's.
    length_unit : str
        The site's, for the words.

    Returns
    -------
    mapping of str to InForce
        By rule id, in declared order; `replaced` is what the last layer laid over.

    Raises
    ------
    InputError, InputErrors
        For an override that cannot be used.
    """
    own = rule_book(overrides, where, length_unit)
    if profile is None:
        return own
    base = rule_book(profile.settings, profile.name, length_unit)
    book: dict[str, InForce] = {}
    for rule in RULES:
        theirs, ours = base[rule.id], own[rule.id]
        said = profile.rules.get(rule.id)
        if said is None:
            book[rule.id] = ours
            continue
        shown = worded(rule, length_unit)
        # its title, range and caution are ours, the rest its own
        more = said.caution.removeprefix(rule.caution)
        said = said._replace(
            title=shown.title, applies=shown.applies, caution=shown.caution + more, limit=shown.limit, unit=shown.unit
        )
        text = f"{said.source} ({profile.name})"
        laid = InForce(said, theirs.limit, text, theirs.replaced)
        if ours.replaced is None:
            book[rule.id] = laid
            continue
        same = (
            ours.limit is not None
            and laid.limit is not None
            and math.isclose(ours.limit, laid.limit, rel_tol=1e-9, abs_tol=1e-12)
        )
        under = f"{_as_given(profile, rule, length_unit)} of {profile.name}"
        # what the site itself says is the site's: neither the profile's source nor its standing goes with it
        book[rule.id] = InForce(
            shown,
            ours.limit,
            f"{where} [rules], same as {profile.name}" if same else f"{where} [rules]",
            under,
            own=not same,
        )
    return book


def _as_given(profile: RuleProfile, rule: Rule, length_unit: str) -> str:
    for key in settings_keys(rule):
        if key in profile.settings:
            value = profile.settings[key]
            unit = key[len(rule.id) + 1 :] or "count"
            if value in VERDICTS:
                return str(value)
            return units.spoken(
                f"[{limit_text(rule, None if value == 'unknown' else float(value), unit)}]", length_unit
            )
    return "no limit"
