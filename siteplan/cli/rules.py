"""`siteplan rules [SITE]`: the rules in force with their sources."""

from __future__ import annotations

import argparse
from pathlib import Path


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the options.

    Parameters
    ----------
    parser : ArgumentParser
        That of this command.
    """
    add = parser.add_argument
    add("site", metavar="SITE", nargs="?", type=Path, help="site folder; the defaults without it")
    add("--profile", metavar="FILE", type=Path, help="a jurisdiction's profile, laid over the defaults")
    add("--json", action="store_true", help="metres, percent and degrees, for programs")


def run(options: argparse.Namespace) -> int:
    """Print.

    Parameters
    ----------
    options : Namespace
        As declared.

    Returns
    -------
    int
        0.
    """
    from siteplan.review.rules_text import book_of, rules_as_json, rules_as_text

    book, whose, unit = book_of(options.site, options.profile)
    print(rules_as_json(book, whose) if options.json else rules_as_text(book, whose, unit))
    return 0
