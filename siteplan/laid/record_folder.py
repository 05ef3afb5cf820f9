"""Named bytes of an as-built record in; a record folder that is whole or not there out. Standard library only."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from siteplan.sheets.writing import write_folder

PAGE = "record.html"
_NAMES = ("record.gpkg", PAGE, "owner.html")


def write_record(out: Path, files: Mapping[str, bytes]) -> None:
    """Write a record folder whole, in place of an earlier record or of nothing.

    Parameters
    ----------
    out : Path
        The folder. Its parent must exist.
    files : mapping of str to bytes
        Plain file names and contents.

    Raises
    ------
    InputError
        If a folder with anything else stands there, or the disk refuses; an earlier record is then as it was.
    """
    write_folder(out, files, names=_NAMES, ours=_is_record, kind="record", mark=PAGE)


def _is_record(folder: Path) -> bool:
    from siteplan.sheets.paper import MADE_BY

    try:
        return MADE_BY.encode() in (folder / PAGE).read_bytes()[:4096]
    except OSError:
        return False
