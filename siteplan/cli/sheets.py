"""`siteplan sheets PLAN_DIR --out FILE.pdf`: the plan set to print, to scale."""

from __future__ import annotations

import argparse
from pathlib import Path

from siteplan.books.phrases import LANGUAGES
from siteplan.cli.typed import day, out_file

_PAPERS = ("letter", "tabloid", "a4", "a3")


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the options.

    Parameters
    ----------
    parser : ArgumentParser
        That of this command.
    """
    add = parser.add_argument
    add("plan", metavar="PLAN_DIR", type=Path, help="plan folder")
    add("--out", metavar="FILE.pdf", required=True, type=out_file, help="the file to write")
    add("--paper", choices=_PAPERS, help="letter without it, a4 on a metric site")
    add("--scale", metavar="1:N", type=_scale, help="1:240, or 1in=20ft; the largest usual one that fits without it")
    add("--site", metavar="SITE", type=Path, help="the site folder: contours, and the ground between the stakes")
    add(
        "--against", metavar="PLAN_DIR", type=Path, help="an earlier plan: clouds round what changed, and a table of it"
    )
    add(
        "--parts",
        metavar="A,B",
        type=_words,
        default=(),
        help="only these parts, such as plan,profiles; all without it",
    )
    add("--language", choices=LANGUAGES, default=LANGUAGES[0], help="of what the crew reads; names and figures stay")
    add("--revision", metavar="MARK", default="", help="printed in the title block")
    add("--date", metavar="YYYY-MM-DD", type=day, help="printed in the title block; the plan's own without it")


def _scale(text: str) -> int:
    from siteplan.plotting.paper_sizes import read_scale

    try:
        return read_scale(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from error


def _words(text: str) -> tuple[str, ...]:
    return tuple(word.strip() for word in text.split(",") if word.strip())


def run(options: argparse.Namespace) -> int:
    """Write the set.

    Parameters
    ----------
    options : Namespace
        As declared.

    Returns
    -------
    int
        0; 1 where a part could not be drawn.
    """
    from siteplan.planset.typed_set import set_from_typed
    from siteplan.planset.whole import plan_set
    from siteplan.sheets.writing import write_file

    content, left = plan_set(set_from_typed(vars(options)), options.parts)
    write_file(options.out, content)
    for one in left:
        print(f"Left out: {one.title}, {one.why}")
    print(f"Written to {options.out}")
    return 1 if left else 0
