"""The commands with their options in; a script that completes them in a shell out. Standard library only."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

SHELLS = ("bash", "zsh", "fish")
_PROGRAM = "siteplan"


class Word(NamedTuple):
    """An option or a place of a command.

    Attributes
    ----------
    names : tuple of str
        '--out' and the like; empty for a place without a name.
    help : str
        One line.
    values : tuple of str
        What it may be, where that is listed.
    takes : str
        'nothing', 'value' or 'file'.
    """

    names: tuple[str, ...]
    help: str
    values: tuple[str, ...]
    takes: str


class CommandWords(NamedTuple):
    """A command, its help line, its options and places."""

    name: str
    help: str
    words: tuple[Word, ...]


def completion_script(shell: str, commands: Sequence[CommandWords]) -> str:
    """A script that completes commands, options, listed values and files.

    Parameters
    ----------
    shell : str
        One of `SHELLS`.
    commands : sequence of CommandWords
        As the parsers declare them.

    Returns
    -------
    str
        To be read by that shell when it starts.

    References
    ----------
    Bash Reference Manual, 'Programmable Completion'; zsh manual, 'Completion System', _arguments; fish documentation,
    complete (all from memory).
    """
    make = {"bash": _bash, "zsh": _zsh, "fish": _fish}[shell]
    return "\n".join(make(commands)) + "\n"


def _options(command: CommandWords) -> tuple[Word, ...]:
    return tuple(word for word in command.words if word.names)


def _listed(command: CommandWords) -> tuple[str, ...]:
    """Values of places that are listed."""
    return tuple(value for word in command.words if not word.names for value in word.values)


def _bash(commands: Sequence[CommandWords]) -> Iterator[str]:
    yield f"# completion of {_PROGRAM} for bash: source it, or keep it among bash's completions"
    yield f"_{_PROGRAM}() {{"
    yield '    local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD-1]} words="" listed=""'
    yield "    COMPREPLY=()"
    yield '    if [ "$COMP_CWORD" -eq 1 ]; then'
    yield f'        COMPREPLY=($(compgen -W "{" ".join(one.name for one in commands)} --help --version" -- "$cur"))'
    yield "        return"
    yield "    fi"
    yield '    case "${COMP_WORDS[1]}" in'
    for command in commands:
        yield f"    {command.name})"
        yield '        case "$prev" in'
        for word in _options(command):
            if word.takes == "nothing":
                continue
            yield f"        {'|'.join(word.names)})"
            if word.values:
                yield f'            COMPREPLY=($(compgen -W "{" ".join(word.values)}" -- "$cur"))'
            elif word.takes == "file":
                yield '            mapfile -t COMPREPLY < <(compgen -f -- "$cur")'
            yield "            return ;;"
        yield "        esac"
        named = [name for word in _options(command) for name in word.names]
        yield f'        words="{" ".join([*named, "--debug"])}" listed="{" ".join(_listed(command))}" ;;'
    yield "    esac"
    yield '    case "$cur" in -*) listed=" " ;; *) words="" ;; esac'
    yield (
        '    mapfile -t COMPREPLY < <(compgen -W "$words" -- "$cur"; compgen -W "$listed" -- "$cur"; [ -n '
        '"$listed" ] || compgen -f -- "$cur")'
    )
    yield "}"
    yield f"complete -o filenames -F _{_PROGRAM} {_PROGRAM}"


def _plain(text: str) -> str:
    """A help line without what a shell would read as its own."""
    text = re.sub(r"[:;]", ",", text.replace("'", "\u2019"))
    return re.sub(r"\s+", " ", re.sub(r"[\[\]\"`\\$%{}|&<>]", " ", text)).replace(" ,", ",").strip()


def _zsh(commands: Sequence[CommandWords]) -> Iterator[str]:
    yield f"#compdef {_PROGRAM}"
    yield f"_{_PROGRAM}() {{"
    yield "    local -a commands"
    yield "    commands=("
    for command in commands:
        yield f"        '{command.name}:{_plain(command.help)}'"
    yield "    )"
    yield "    if (( CURRENT == 2 )); then"
    yield "        _describe command commands"
    yield "        return"
    yield "    fi"
    yield '    local command="$words[2]"'
    yield "    shift words; (( CURRENT-- ))"
    yield '    case "$command" in'
    for command in commands:
        yield f"    {command.name})"
        rows = []
        for word in _options(command):
            for name in word.names:
                row = f"'{name}[{_plain(word.help)}]"
                if word.values:
                    row += f":value:({' '.join(word.values)})"
                elif word.takes != "nothing":
                    row += f":{word.takes}:{'_files' if word.takes == 'file' else ' '}"
                rows.append(f"{row}'")
        listed = _listed(command)
        rows.append(f"'*:value:({' '.join(listed)})'" if listed else "'*:file:_files'")
        yield "        _arguments \\"
        yield from (f"            {row}{' ;;' if row is rows[-1] else ' ' + chr(92)}" for row in rows)
    yield "    esac"
    yield "}"
    yield f"compdef _{_PROGRAM} {_PROGRAM}"


def _fish(commands: Sequence[CommandWords]) -> Iterator[str]:
    yield f"# completion of {_PROGRAM} for fish: keep it as {_PROGRAM}.fish among fish's completions"
    for command in commands:
        yield f"complete -c {_PROGRAM} -f -n __fish_use_subcommand -a {command.name} -d '{_plain(command.help)}'"
    for command in commands:
        seen = f"complete -c {_PROGRAM} -n '__fish_seen_subcommand_from {command.name}'"
        for word in _options(command):
            name = next((one for one in word.names if one.startswith("--")), word.names[0])
            row = f"{seen} -l {name[2:]}" if name.startswith("--") else f"{seen} -s {name[1:]}"
            if word.values:
                row += f" -x -a '{' '.join(word.values)}'"
            elif word.takes != "nothing":
                row += " -r -F" if word.takes == "file" else " -x"
            yield f"{row} -d '{_plain(word.help)}'"
        if listed := _listed(command):
            yield f"{seen} -f -a '{' '.join(listed)}'"
