# ruff: noqa: INP001
"""The pages of docs/ as a site that opens with no network: python docs/make_site.py OUT."""

from __future__ import annotations

import logging
import sys
from pathlib import Path

CONFIG = Path(__file__).parent / "site" / "mkdocs.yml"


def site_into(out: Path) -> int:
    """Build it strictly: a broken link, anchor or a page that the list leaves out is an error.

    Parameters
    ----------
    out : Path
        Folder of the site; what stood there goes.

    Returns
    -------
    int
        Pages written.

    Raises
    ------
    mkdocs.exceptions.Abort
        On the first warning.
    """
    logging.basicConfig(level=logging.WARNING, format="%(message)s")  # which link, on which page
    from mkdocs.commands.build import build
    from mkdocs.config import load_config

    config = load_config(str(CONFIG), site_dir=str(out.resolve()), strict=True)
    build(config)
    return len(list(out.rglob("*.html")))


if __name__ == "__main__":
    if len(sys.argv) != 2:
        raise SystemExit(__doc__)
    sys.stdout.write(f"{site_into(Path(sys.argv[1]))} pages\n")
