"""The text of a TOML file and keys to set in; the same text with those lines alone changed out.

Comments, order and blank lines stay. The result is read again: it says what was asked, and all else as before.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from typing import Any

from siteplan.errors import InputError

TomlValue = bool | int | float | str | list[str] | list[float] | list[list[float]]

_HEAD = re.compile(r"^\s*\[\s*([A-Za-z0-9_-]+(?:\.[A-Za-z0-9_-]+)*)\s*\]\s*(#.*)?$")
_ANY_HEAD = re.compile(r"^\s*\[")
_BARE = re.compile(r"^[A-Za-z0-9_-]+$")


def with_keys(text: str, keys: Mapping[str, TomlValue | None], shown: str) -> str:
    """A TOML text with some keys set or taken out.

    Parameters
    ----------
    text : str
        The file.
    keys : mapping
        'key', 'section.key' or 'section.part.key' to its value; None takes it out.
    shown : str
        Name in messages.

    Returns
    -------
    str
        With as few lines changed as can be.

    Raises
    ------
    InputError
        If the key stands there in a form whose lines cannot be told (several lines, an inline table): nothing is
        guessed.
    """
    wanted = _parsed(text, shown)
    for name, value in keys.items():
        section, key = _parts(name)
        text = _with_key(text, section, key, value)
        table = wanted
        for part in section.split(".") if section else ():
            table = table.setdefault(part, {})
            if not isinstance(table, dict):
                raise InputError(shown, f"has no section [{section}]", "Write it as a section and its keys below it.")
        table.pop(key, None)
        if value is not None:
            table[key] = value
    if _without_empty(_parsed(text, shown, ours=True)) != _without_empty(wanted):
        raise InputError(
            shown,
            f"holds {', '.join(keys)} in a form that cannot be changed line by line",
            "Write each key on a line of its own, under its section.",
        )
    return text


def toml_text(value: TomlValue) -> str:
    """A value as TOML writes it.

    Parameters
    ----------
    value : bool, int, float, str or list of these
        To be written.

    Returns
    -------
    str
        On one line.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):  # of texts, or of rows of numbers
        return f"[{', '.join(toml_text(one) for one in value)}]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return repr(value)


def _parsed(text: str, shown: str, *, ours: bool = False) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        mend = "Write each key on a line of its own." if ours else "Correct that line."
        raise InputError(shown, f"is no TOML: {error}", mend) from error


def _without_empty(table: Mapping[str, Any]) -> dict[str, Any]:
    inner = {key: _without_empty(value) if isinstance(value, dict) else value for key, value in table.items()}
    return {key: value for key, value in inner.items() if value != {}}


def _parts(name: str) -> tuple[str, str]:
    section, _, key = name.rpartition(".")
    if not all(_BARE.match(part) for part in name.split(".")):
        raise InputError(name, "is no plain key", "Use letters, digits, hyphens and underscores.")
    return section, key


def _with_key(text: str, section: str, key: str, value: TomlValue | None) -> str:
    lines = text.split("\n")
    start, end = _span(lines, section)
    if start is None:
        if value is None:
            return text
        gap = "" if not text.strip() or text.endswith("\n\n") else "\n" if text.endswith("\n") else "\n\n"
        return f"{text}{gap}[{section}]\n{key} = {toml_text(value)}\n"
    found = re.compile(rf'^\s*(?:{re.escape(key)}|"{re.escape(key)}"|\'{re.escape(key)}\')\s*=')
    for k in range(start, end):
        if found.match(lines[k]):
            if value is None:
                del lines[k]
                if section and not "".join(lines[start : end - 1]).strip():  # nothing is left of it: it goes as it came
                    del lines[max(start - 2, 0) if start > 1 and not lines[start - 2].strip() else start - 1 : start]
            else:
                lines[k] = f"{found.match(lines[k]).group(0).rstrip()} {toml_text(value)}{_remark(lines[k])}"  # type: ignore[union-attr]
            return "\n".join(lines)
    if value is None:
        return text
    example = re.compile(rf"^\s*#\s*{re.escape(key)}\s*=")
    for k in range(start, end):
        if example.match(lines[k]):  # a question left open: its answer stands where it was asked
            lines[k] = f"{key} = {toml_text(value)}"
            return "\n".join(lines)
    at = end
    while at > start and not lines[at - 1].strip():
        at -= 1
    lines.insert(at, f"{key} = {toml_text(value)}")
    if at == len(lines) - 1:
        lines.append("")
    return "\n".join(lines)


def _span(lines: list[str], section: str) -> tuple[int | None, int]:
    """Lines of a section: from below its head to above the next one."""
    heads = [k for k, line in enumerate(lines) if _ANY_HEAD.match(line)]
    if not section:
        return 0, heads[0] if heads else len(lines)
    for n, k in enumerate(heads):
        head = _HEAD.match(lines[k])
        if head and head.group(1) == section:
            return k + 1, heads[n + 1] if n + 1 < len(heads) else len(lines)
    return None, 0


def _remark(line: str) -> str:
    """The comment behind a plain value; what stands in quotes is no comment."""
    quoted = ""
    for k, c in enumerate(line):
        if quoted:
            quoted = "" if c == quoted else quoted
        elif c in "\"'":
            quoted = c
        elif c == "#":
            return line[len(line[:k].rstrip()) :]
    return ""
