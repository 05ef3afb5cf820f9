"""The one door: picks a command by name, imports its file alone, and maps what happens to an exit code.

0 all well; 1 done, and something in the result fails; 2 the input cannot be used, nothing written;
3 a fault of ours.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module

from siteplan.errors import SiteplanError, harmless

TYPE_CHECKING = False  # typing itself would cost a quick command its start
if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import Any, NoReturn, TextIO

COMMANDS = {
    "plan": "lay out a site's lines, prove that they fall, write the map and the trench schedule",
    "batch": (
        "plan every lot of a subdivision: a pool or a cluster, goes on after a stop, one summary with the worst first"
    ),
    "screen": "which of a county's lots could drain by gravity at all, from parcels and public elevation",
    "new": (
        "begin a commented site folder from whatever there is: points, grid, surface, features, plat, deed; "
        "nothing guessed"
    ),
    "check": (
        "what a site folder still lacks for a plan, a capacity answer, a belly forecast; the three shots to take first"
    ),
    "fall": "is there fall? two rod readings (or elevations), a length, a cover, an outlet: GO, NO-GO or CANNOT TELL",
    "deed": "a lot by its deed's calls: corners, area, and how far they miss their start; nothing is spread silently",
    "levels": "reduce a level book, prove that it closes, or say which set-up most likely spoiled it",
    "pipes": "list the book of pipes: sizes, weight, stiffness, joints, and where each value comes from",
    "belly": (
        "what each kind of pipe would do on the ground under a plan's lines: standing water, stress, joints, "
        "side by side"
    ),
    "cutsheet": "target rods for today's height of instrument, offset stakes, a field card to print",
    "asbuilt": "what was laid against what was to be laid: accept, fix the paper, re-dig, or cannot tell; every belly",
    "review": "an inspector's recheck of a plan folder that trusts none of its numbers",
    "compare": (
        "two plans, or two batches of lots, side by side: what changed, where, by how much, and which rules the "
        "second breaks"
    ),
    "draw": "lay a site out by hand on a page of this machine, and see what each outlet has to spare while it moves",
    "export": (
        "a plan for maps (gpkg, geojson), drawing offices (svg, landxml), instruments (points) and spreadsheets (xlsx)"
    ),
    "sheets": "the plan set to print: plan and profiles to scale, as one PDF",
    "record": "the as-built record of an accepted line, and a page for the owner",
    "rules": "the rules in force with their sources; a jurisdiction's profile laid over the defaults",
    "completion": "a script that completes commands, options and files in bash, zsh or fish",
}


# one thread for the arrays' arithmetic, told before numpy is loaded: the arrays are small, so that threads only wait
# for each other, and what is added up must not hang on how many cores a machine has
for _threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

_SHOWN = 120  # characters of a name in a message


class _Parser(argparse.ArgumentParser):
    """A parser whose complaint is one line."""

    def error(self, message: str) -> NoReturn:
        self.exit(2, f"{self.prog}: {message}. {self.prog} --help tells its options.\n")


class _Harmless:
    """A stream that writes what `harmless` lets through: the one door by which a stranger's text reaches a terminal."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        return self._stream.write(harmless(text))

    def writelines(self, lines: Iterable[str]) -> None:
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


def _help(prog: str) -> argparse.HelpFormatter:
    # a fixed width: asking the terminal for its own would import shutil, a tenth of a quick command's start
    return argparse.HelpFormatter(prog, max_help_position=30, width=80)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments after the program's name; those of the process when absent.

    Returns
    -------
    int
        Exit code, see the module's head.
    """
    for stream in (sys.stdout, sys.stderr):
        # a console that cannot show a name shows its code points; a name must not end a command
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    plain = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = _Harmless(sys.stdout), _Harmless(sys.stderr)
    try:
        return _chosen(list(sys.argv[1:] if argv is None else argv))
    finally:
        sys.stdout, sys.stderr = plain


def _chosen(arguments: list[str]) -> int:
    if not arguments or arguments[0] in {"-h", "--help"}:
        print(_overview())
        return 0
    if arguments[0] == "--version":
        from siteplan import __version__

        print(f"siteplan {__version__}")
        return 0
    name, rest = arguments[0], arguments[1:]
    if name not in COMMANDS:
        print(f"siteplan: no command {name!r}. Commands: {', '.join(COMMANDS)}", file=sys.stderr)
        return 2
    return _run(name, [argument for argument in rest if argument != "--debug"], debug="--debug" in rest)


def _run(name: str, rest: list[str], *, debug: bool) -> int:
    command = import_module(f"siteplan.cli.{name}")
    parser = _Parser(prog=f"siteplan {name}", description=COMMANDS[name], allow_abbrev=False, formatter_class=_help)
    command.declare(parser)
    try:
        options = parser.parse_args(rest, argparse.Namespace(debug=debug))
        # `--option=--` leaves an empty list behind in place of a value
        given = [(value, parser.get_default(name)) for name, value in vars(options).items()]
        if any(value == [] != default or (isinstance(value, list) and [] in value) for value, default in given):
            parser.error("an option has no value")
        return int(command.run(options))
    except SystemExit as left:
        return left.code if isinstance(left.code, int) else 2
    except SiteplanError as error:
        for line in str(error).splitlines():
            print(line, file=sys.stderr)
        return 2 if isinstance(error, ValueError) else 3
    except BrokenPipeError:
        # whoever read the output has seen enough; Python would complain once more when it closes stdout
        import os

        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        if debug:
            raise
        return _unreachable(error)
    except KeyboardInterrupt:
        print("siteplan: stopped; nothing was written", file=sys.stderr)
        return 130
    except Exception as error:
        if debug:
            raise
        report = " ".join(f"a fault of ours ({type(error).__name__}: {error})".split())
        print(f"siteplan: {report}. Run again with --debug and send the report.", file=sys.stderr)
        return 3


def _unreachable(error: OSError) -> int:
    """A file or folder that the system refuses: the user's to mend, unless it is one of ours."""
    name = str(error.filename or "")
    shown = "".join(c if c.isprintable() else " " for c in name)
    shown = shown if len(shown) <= _SHOWN else f"{shown[:_SHOWN]}..."
    why = (error.strerror or type(error).__name__).lower()
    if name and name.startswith(__file__.rpartition("cli")[0]):
        print(f"siteplan: a fault of ours ({shown}: {why}). Install siteplan again.", file=sys.stderr)
        return 3
    where = f"{shown}: " if shown else ""
    print(
        f"siteplan: {where}{why}. Check the name, the folder, the space left and the right to read or write there.",
        file=sys.stderr,
    )
    return 2


def _overview() -> str:
    import textwrap

    width = max(map(len, COMMANDS))
    under = " " * (width + 4)
    lines = ["usage: siteplan COMMAND ...   (siteplan COMMAND --help tells its options)", ""]
    for name, text in COMMANDS.items():
        lines += textwrap.wrap(text, 80, initial_indent=f"  {name:<{width}}  ", subsequent_indent=under)
    return "\n".join([*lines, "", "Every command takes --debug, which shows the traceback of a fault of ours."])


if __name__ == "__main__":
    sys.exit(main())
