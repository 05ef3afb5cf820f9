"""One plan, made in a process of its own: progress and the outcome as lines of JSON on its output."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any


def _tell(**told: Any) -> None:
    sys.stdout.write(json.dumps(told) + "\n")
    sys.stdout.flush()


def make_plan(site_folder: Path, out: Path) -> None:
    """Plan a site as `siteplan plan SITE --out DIR` does, and tell how far it has come.

    Parameters
    ----------
    site_folder, out : Path
        The site, and the plan folder.
    """
    from dataclasses import replace

    from siteplan.errors import InputError, InputErrors
    from siteplan.offered import made_sheets
    from siteplan.optional import gathering
    from siteplan.plan import plan_site
    from siteplan.progress import telling
    from siteplan.sheets.folio import check_folio, write_folio
    from siteplan.sheets.summary import summary
    from siteplan.table.answers import told_faults

    try:
        check_folio(out)
        with telling(lambda share, _gap: _tell(share=round(share, 4))):
            plan, site = plan_site(site_folder)
        with gathering(debug=False) as missing:
            files = made_sheets(plan, site)
        write_folio(out, files)
    except (InputError, InputErrors) as fault:
        _tell(faults=told_faults(fault))
        return
    _tell(summary=summary(replace(plan, missing=(*plan.missing, *missing)), site))


if __name__ == "__main__":
    make_plan(Path(sys.argv[1]), Path(sys.argv[2]))
