"""`siteplan completion SHELL`: a script that completes commands, options, values and files in a shell."""

from __future__ import annotations

import argparse
from importlib import import_module
from pathlib import Path

from siteplan.quick.completion import SHELLS, CommandWords, Word, completion_script

_FILES = ("FILE", "DIR", "F", "SITE", "PLAN", "PLAN_DIR")


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.epilog = (
        "bash: source <(siteplan completion bash). zsh: source <(siteplan completion zsh). fish: siteplan "
        "completion fish | source."
    )
    parser.add_argument("shell", metavar="SHELL", choices=SHELLS, help="bash, zsh or fish")


def run(options: argparse.Namespace) -> int:
    """Print the script, made from the commands' own parsers."""
    print(completion_script(options.shell, every_command()), end="")
    return 0


def every_command() -> tuple[CommandWords, ...]:
    """What each command declares.

    Returns
    -------
    tuple of CommandWords
        In the order of the overview.
    """
    from siteplan.cli.main import COMMANDS

    told = []
    for name, text in COMMANDS.items():
        parser = argparse.ArgumentParser(prog=f"siteplan {name}")
        import_module(f"siteplan.cli.{name}").declare(parser)
        told.append(CommandWords(name, text, tuple(_word(action, parser) for action in parser._actions)))  # noqa: SLF001
    return tuple(told)


def _word(action: argparse.Action, parser: argparse.ArgumentParser) -> Word:
    values = tuple(str(one) for one in action.choices or ())
    nothing = action.nargs == 0
    file = action.type is Path or action.metavar in _FILES or getattr(action.type, "__name__", "") == "out_file"
    takes = "nothing" if nothing else "file" if file else "value"
    text = parser._get_formatter()._expand_help(action) if action.help else ""  # noqa: SLF001 -- argparse keeps no open door to it
    return Word(tuple(action.option_strings), text, values, takes)
