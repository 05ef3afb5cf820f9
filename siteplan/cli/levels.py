"""`siteplan levels NOTES`: elevations that close, or the reason they do not and the likely culprit."""

from __future__ import annotations

import argparse


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the options.

    Parameters
    ----------
    parser : ArgumentParser
        That of this command.
    """
    parser.epilog = (
        "Columns: point, BS, IFS, FS, station, remark. The first BS stands on the benchmark; its elevation may "
        "stand in its remark (EL 100.00)."
    )
    add = parser.add_argument
    add("notes", metavar="NOTES", help="level book as CSV")
    add(
        "--rod",
        metavar="ROD",
        help="tenths, inches (3.10 is 3 ft 10 in) or metres; when absent, tenths, unless the book speaks against it",
    )
    add(
        "--benchmark",
        metavar="NAME=ELEV",
        action="append",
        default=[],
        help="elevation of a known mark; may be repeated",
    )
    add(
        "--allowed",
        metavar="A",
        help="misclosure allowed for one set-up, times the square root of the set-ups (default 0.02 ft)",
    )
    add("--adjust", action="store_true", help="spread an allowed misclosure over the set-ups")
    add("--open", action="store_true", help="accept a book that never returns to a known mark, unproven")
    add("--json", action="store_true", help="figures in metres, for programs")


def run(options: argparse.Namespace) -> int:
    """Reduce and report.

    Parameters
    ----------
    options : Namespace
        As declared.

    Returns
    -------
    int
        0 accepted, 1 refused or a point withheld.
    """
    from siteplan.survey.levels_text import all_well, levels_as_json, levels_as_text, reduction_from_typed

    book, result = reduction_from_typed(vars(options))
    print(levels_as_json(book, result) if options.json else levels_as_text(book, result))
    return 0 if all_well(result) else 1
