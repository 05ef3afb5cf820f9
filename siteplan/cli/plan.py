"""`siteplan plan SITE --out DIR`: lay out, prove and write everything."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from siteplan.cli.typed import day, setting
from siteplan.values.asked_for import MOST_LAYOUTS, USUAL_LAYOUTS

if TYPE_CHECKING:
    from collections.abc import Callable

    from siteplan.site import Site
    from siteplan.values.whole_plan import Plan


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("site", type=Path, metavar="SITE", help="site folder with a site.toml")
    parser.add_argument(
        "--out", type=Path, required=True, metavar="DIR", help="folder to write; replaced only by a complete new one"
    )
    parser.add_argument(
        "--date", metavar="YYYY-MM-DD", type=day, help="date to print on the sheets; none is printed without it"
    )
    parser.add_argument(
        "--without",
        metavar="OUTLET",
        action="append",
        default=[],
        help="what if: leave this outlet out of play; may be given again",
    )
    parser.add_argument(
        "--only",
        metavar="OUTLET",
        action="append",
        default=[],
        help="what if: only this outlet is in play, and no found ones; may be given again",
    )
    parser.add_argument(
        "--set",
        dest="settings",
        metavar="KEY=VALUE",
        type=setting,
        action="append",
        default=[],
        help="what if: a rule's key, or section.key, laid over site.toml (min_cover_in=10, water.smallest=6)",
    )
    parser.add_argument(
        "--choose",
        metavar="N",
        type=int,
        help="take layout N of the table of layouts, 1 the cheapest, instead of the usual one",
    )
    parser.add_argument(
        "--layouts",
        dest="count",
        metavar="COUNT",
        type=int,
        choices=range(1, MOST_LAYOUTS + 1),
        default=USUAL_LAYOUTS,
        help=f"layouts to look for, 1 to {MOST_LAYOUTS} ({USUAL_LAYOUTS}); 1 sets none beside the plan, and is quickest",
    )
    parser.add_argument(
        "--front", action="store_true", help="lay every layout, and draw cost against fall to spare on the map"
    )
    parser.add_argument("--open", action="store_true", help="open the map in a browser when it is written")
    parser.add_argument("--json", action="store_true", help="print plan.json instead of the summary")


def run(options: argparse.Namespace) -> int:
    """Plan, write, and print the verdict; 1 when something in the plan fails."""
    from siteplan import api
    from siteplan.progress import telling

    _say_when_compiling()
    with telling(bar_on_screen()):
        made = api.plan(
            options.site,
            options.out,
            date=options.date,
            without=options.without,
            only=options.only,
            settings=options.settings,
            choose=options.choose,
            layouts=options.count,
            front=options.front,
            debug=options.debug,
        )
    _show(options, made.files, made.plan, made.site)
    if options.open:
        _open(options.out / "map.html")
    return 1 if made.fails else 0


def bar_on_screen() -> Callable[[float, float], None]:
    """A bar on the screen of how far a long search has come; nothing where nobody watches.

    Returns
    -------
    callable
        Takes the share of the work that is done and the gap to the bound, and draws.
    """
    import sys

    from siteplan.sheets.search_words import bar_text

    shown: list[str] = []

    def drawn(share: float, gap: float) -> None:
        text = bar_text(share, gap)
        if sys.stderr.isatty() and text not in shown[-1:]:
            print(f"\r{text}", end="\n" if share >= 1 else "", file=sys.stderr, flush=True)
            shown.append(text)

    return drawn


def _show(options: argparse.Namespace, files: dict[str, bytes], plan: Plan, site: Site) -> None:
    """Print the verdict; the plan stands whether or not anybody can read it here."""
    import sys

    from siteplan.sheets.summary import summary
    from siteplan.sheets.wording import one_line

    out = one_line(str(options.out))
    text = (
        f"{summary(plan, site)}\n\nWritten to {out}:\n  {', '.join(files)}\n"
        f"Open {out}/map.html in a browser; it needs no network."
    )
    if options.json:
        text = files["plan.json"].decode("utf-8").rstrip("\n")
    try:
        print(text, flush=True)
    except BrokenPipeError:
        raise
    except OSError as fault:
        print(
            f"siteplan: the plan is written to {out}, but it could not be shown here ({fault.strerror})",
            file=sys.stderr,
        )


def _open(page: Path) -> None:
    """Show the map; the plan stands where no browser can be started."""
    import sys
    import webbrowser

    if not webbrowser.open(page.resolve().as_uri()):
        print("siteplan: no browser could be started here; open the map by hand.", file=sys.stderr)


def _say_when_compiling() -> None:
    """Tell the user once why the very first run is slow."""
    import sys

    from siteplan import routes

    cache = Path(routes.__file__).parent / "__pycache__"
    if not any(cache.glob("kernels.*.nbi")):
        print("First run here: compiling, which takes some ten seconds once.", file=sys.stderr)
