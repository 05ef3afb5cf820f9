"""`siteplan fall`: two shots, a length, a cover, an outlet; GO, NO-GO or CANNOT TELL."""

from __future__ import annotations

import argparse


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the options.

    Parameters
    ----------
    parser : ArgumentParser
        That of this command.
    """
    parser.epilog = "Lengths as typed: 5.34, 5'-4 1/8\", 64 1/8 in, 1.63m. A higher rod reading is LOWER ground."
    add = parser.add_argument
    add("--rod-start", metavar="R", help="rod on the ground at the start of the line")
    add(
        "--rod-outlet",
        metavar="R",
        help="rod at the outlet, from the same set-up (gutter flow line, face ground, swale flow line, rim)",
    )
    add("--start-elev", metavar="E", help="or: elevation of the ground at the start")
    add("--outlet-elev", metavar="E", help="and the elevation at the outlet")
    add("--length", metavar="L", help="length along the pipe")
    add("--cover", metavar="C", help="least cover at the start (default 1.00 ft)")
    add("--outlet", metavar="KIND", help="curb, daylight, swale or popup (default curb)")
    add("--pipe", metavar="KIND", default="pvc_sdr35", help="kind of pipe in the book (default %(default)s)")
    add("--size", metavar="IN", default="4", help="its nominal inches (default %(default)s)")
    add("--grade", metavar="PERCENT", help="least grade (default 1.00)")
    add("--invert-allowance", metavar="H", help="outlet invert above the shot there (default by kind of outlet)")
    add("--doubt", metavar="D", help="doubt of the difference of the two shots (default 0.02 ft)")
    add("--curb-face", metavar="H", help="curb's face, gutter flow line to top: the concrete over the hole is judged")
    add("--unit", metavar="U", help="unit of bare numbers: ft, us-ft or m (default ft)")
    add("--json", action="store_true", help="figures in metres, for programs")


def run(options: argparse.Namespace) -> int:
    """Answer.

    Parameters
    ----------
    options : Namespace
        As declared.

    Returns
    -------
    int
        0 go, 1 no-go or cannot tell.
    """
    from siteplan.quick.fall_text import answer_from_typed, fall_as_json, fall_as_text  # --help needs none of it

    asked, answer = answer_from_typed(vars(options))
    print(fall_as_json(asked, answer) if options.json else fall_as_text(asked, answer))
    return 0 if answer.verdict == "go" else 1
