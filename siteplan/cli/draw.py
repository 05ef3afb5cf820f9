"""`siteplan draw SITE`: a page of this machine to lay the site out by hand, with the answer following."""

from __future__ import annotations

import argparse
from pathlib import Path


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("site", type=Path, metavar="SITE", help="site folder with a site.toml; siteplan new makes one")
    parser.add_argument("--port", metavar="N", type=int, default=0, help="port on the loopback; a free one without it")
    parser.add_argument("--no-browser", action="store_true", help="print the address, and open nothing")
    parser.add_argument(
        "--out", type=Path, metavar="DIR", help="plan folder that the page's Plan button writes (SITE/plan)"
    )


def run(options: argparse.Namespace) -> int:
    """Serve until the page is closed for long, or Ctrl+C."""
    import threading

    from siteplan.table.serving import TableServer

    out = options.out if options.out is not None else options.site / "plan"
    server = TableServer(options.site, out, port=options.port)
    print(f"Drawing table: {server.address}", flush=True)
    threading.Thread(target=server.warm, daemon=True).start()
    if not options.no_browser:
        import webbrowser

        threading.Thread(target=webbrowser.open, args=(server.address,), daemon=True).start()
    try:
        server.serve_while_looked_at()
    except KeyboardInterrupt:
        return 0
    return 0
