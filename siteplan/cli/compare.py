"""`siteplan compare A B`: what changed between two plans, and what the second breaks."""

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
    parser.add_argument("first", metavar="A", type=Path, help="plan folder, the one before")
    parser.add_argument("second", metavar="B", type=Path, help="plan folder, the one asked about")
    parser.add_argument("--json", action="store_true", help="changes and breaks, for programs")


def run(options: argparse.Namespace) -> int:
    """Compare and report.

    Parameters
    ----------
    options : Namespace
        As declared.

    Returns
    -------
    int
        1 when the second plan breaks a rule that the first keeps.
    """
    from siteplan.review.compared import compared
    from siteplan.review.compared_text import compared_as_json, compared_as_text

    found = compared(options.first, options.second)
    print(compared_as_json(found) if options.json else compared_as_text(found))
    return 1 if found.breaks else 0
