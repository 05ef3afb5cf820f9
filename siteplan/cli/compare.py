"""`siteplan compare A B`: what changed between two plans, or two batches of plans, and what the second breaks."""

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
    parser.add_argument("first", metavar="A", type=Path, help="plan folder or batch folder, the one before")
    parser.add_argument("second", metavar="B", type=Path, help="the same, the one asked about")
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
        1 when the second plan breaks a rule that the first keeps, or a lot fails that passed.
    """
    from siteplan.batch.run import batch_lots

    if any(batch_lots(folder) is not None for folder in (options.first, options.second)):
        return _batches(options)
    from siteplan.review.compared import compared
    from siteplan.review.compared_text import compared_as_json, compared_as_text

    found = compared(options.first, options.second)
    print(compared_as_json(found) if options.json else compared_as_text(found))
    return 1 if found.breaks else 0


def _batches(options: argparse.Namespace) -> int:
    from siteplan.batch.run import lot_record
    from siteplan.batch.side_by_side import batches_compared
    from siteplan.batch.side_by_side_text import batches_as_json, batches_as_text

    found = batches_compared(options.first, options.second)
    if options.json:
        print(batches_as_json(found))
    else:
        held = {one.lot: lot_record(options.second, one.lot) for one in found.changed if one.what == "margin"}
        print(batches_as_text(found, {name: one.unit for name, one in held.items() if one is not None and one.unit}))
    return 1 if found.breaks or found.failing else 0
