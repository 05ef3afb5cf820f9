"""`siteplan pipes`: the book of pipes, with what loads and bellies ask of each and where it comes from."""

from __future__ import annotations

import argparse

from siteplan.books.stock import stocks
from siteplan.books.stock_text import pipes_as_json, pipes_as_text


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the options.

    Parameters
    ----------
    parser : ArgumentParser
        That of this command.
    """
    parser.add_argument("--kind", metavar="KIND", help="only this kind, such as pvc_sdr35")
    parser.add_argument("--sources", action="store_true", help="where each value comes from")
    parser.add_argument("--json", action="store_true", help="SI figures, for programs")


def run(options: argparse.Namespace) -> int:
    """List.

    Parameters
    ----------
    options : Namespace
        As declared.

    Returns
    -------
    int
        0.
    """
    book = stocks()
    print(
        pipes_as_json(book, options.kind)
        if options.json
        else pipes_as_text(book, options.kind, sources=options.sources)
    )
    return 0
