"""`siteplan batch SITES --out DIR`: plan every lot of a subdivision, going on from where an earlier run stands."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from siteplan.cli.typed import day
from siteplan.values.asked_for import MOST_LAYOUTS, USUAL_LAYOUTS

if TYPE_CHECKING:
    from siteplan.batch.run import BatchDone

_MOST_WORKERS = 256


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument(
        "sites", type=Path, metavar="SITES", help="folder of site folders, or a text file with a site folder a line"
    )
    parser.add_argument(
        "--out", type=Path, required=True, metavar="DIR", help="folder to write; the same command goes on with it"
    )
    parser.add_argument(
        "--workers",
        type=int,
        metavar="N",
        choices=range(_MOST_WORKERS + 1),
        help="processes on this machine (one a core); 0: none but this one",
    )
    parser.add_argument(
        "--scheduler", metavar="ADDRESS", help="of a running Dask scheduler, whose workers see the same files"
    )
    parser.add_argument(
        "--layouts",
        metavar="COUNT",
        type=int,
        choices=range(1, MOST_LAYOUTS + 1),
        default=USUAL_LAYOUTS,
        help=f"layouts to look for on each lot, as of plan ({USUAL_LAYOUTS}); 1 is quickest",
    )
    parser.add_argument("--date", metavar="YYYY-MM-DD", type=day, help="date to print on the sheets")
    parser.add_argument("--json", action="store_true", help="print the counts for programs")


def run(options: argparse.Namespace) -> int:
    """Plan what is not planned yet, and tell the worst.

    1 when a lot fails or cannot be read, 3 after a fault of ours.
    """
    import sys

    from siteplan.batch.run import BatchAsked, run_batch
    from siteplan.errors import InputError
    from siteplan.pool.processes import usual_workers

    if options.scheduler is not None and options.workers is not None:
        raise InputError("--workers", "is given beside --scheduler", "Give one: the scheduler has workers of its own.")
    workers = usual_workers() if options.workers is None else options.workers
    asked = BatchAsked(workers=workers, scheduler=options.scheduler, layouts=options.layouts, stamp=options.date)
    try:
        done = run_batch(options.sites, options.out, asked)
    except KeyboardInterrupt:
        print("siteplan: stopped; the lots done are kept, and the same command goes on from there", file=sys.stderr)
        return 130
    _show(options, done)
    return done.code


def _show(options: argparse.Namespace, done: BatchDone) -> None:
    import json

    from siteplan.batch.text import batch_text

    if options.json:
        print(json.dumps({"lots": done.counts, "planned": done.planned, "passed_over": done.passed}, indent=2))
    else:
        print(batch_text(done, str(options.out)))
