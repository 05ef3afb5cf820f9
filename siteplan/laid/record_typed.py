"""Options of `siteplan record` as typed in; the record's files, or why there is none yet, out."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from siteplan.errors import InputError
from siteplan.laid.asbuilt_typed import checked_from_typed
from siteplan.laid.design import Design
from siteplan.laid.record import owner_page, record_package, record_page
from siteplan.laid.verdict_values import AsBuilt
from siteplan.stored.folder_of import read_plan
from siteplan.survey.files import said

PICTURES = {".jpg", ".jpeg", ".png", ".heic", ".webp", ".tif", ".tiff"}
_MOST = 500


def recorded_from_typed(typed: Mapping[str, Any]) -> tuple[Design, AsBuilt, dict[str, bytes]]:
    """Check what was laid, and record it when it is accepted.

    Parameters
    ----------
    typed : mapping
        As `checked_from_typed`, and site, photos, date.

    Returns
    -------
    tuple
        Design, check, and the files by name; none where the check does not accept.

    Raises
    ------
    InputError, InputErrors
        For what cannot be read.
    """
    folder = Path(typed["plan"])
    if not (folder.is_dir() or folder.name == "plan.json"):
        raise InputError(
            said(typed["plan"]),
            "is no plan folder; a record needs places and grounds",
            "Name a folder that siteplan plan wrote.",
        )
    plan = read_plan(folder).plan
    design, result = checked_from_typed(typed)
    if result.verdict not in {"accept", "fix-paper"}:
        return design, result, {}
    site = None
    if typed.get("site"):
        from siteplan.survey.folder import read_site

        site = read_site(Path(typed["site"]))
        if site.crs != plan.crs:
            raise InputError(
                "--site", "its crs is not the plan's: ties would be wrong", "Give the site that the plan was made from."
            )
    photos, date = _photos(typed.get("photos")), typed.get("date")
    files = {
        "record.gpkg": record_package(plan, result, site, photos, date),
        "record.html": record_page(plan, result, site, photos, date),
        "owner.html": owner_page(plan, result, site, date),
    }
    return design, result, files


def _photos(text: str | None) -> tuple[str, ...]:
    """Names of pictures in a folder, sorted; nothing of the folder's own place."""
    if text is None:
        return ()
    folder = Path(text)
    if not folder.is_dir():
        raise InputError("--photos", f"no folder {said(folder.name)!r}", "Name the folder that holds the photographs.")
    names = sorted(entry.name for entry in folder.iterdir() if entry.suffix.lower() in PICTURES and entry.is_file())
    return tuple(said(name) for name in names[:_MOST])
