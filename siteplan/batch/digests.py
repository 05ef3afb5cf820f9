"""Site folders and plan folders in; digests out, by which it is known what must be planned again."""

from __future__ import annotations

import hashlib
from pathlib import Path

from siteplan.pool.program import take_in_file


def folder_digest(folder: Path, leaving: Path) -> str:
    """Digest of every file in a site folder, by name and content.

    Parameters
    ----------
    folder : Path
        The site folder.
    leaving : Path
        Folder that is written, whole path; left out where it lies in the site folder.

    Returns
    -------
    str
        SHA-256, hexadecimal; files that are no plain ones count by their name.

    Raises
    ------
    OSError
        If a file cannot be read.
    """
    found = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if path.is_relative_to(leaving):
            continue
        if path.is_file():
            take_in_file(found, path.relative_to(folder).as_posix(), path)
        elif not path.is_dir():
            found.update(f"{path.relative_to(folder).as_posix()}\n".encode("utf-8", "surrogateescape"))
    return found.hexdigest()


def file_digests(folder: Path) -> dict[str, str]:
    """Digest of each file of a folder.

    Parameters
    ----------
    folder : Path
        A plan folder.

    Returns
    -------
    dict of str to str
        Name to SHA-256; empty where there is no such folder.
    """
    if not folder.is_dir():
        return {}
    found = {}
    for path in sorted(folder.iterdir()):
        if path.is_file():
            with path.open("rb") as stream:
                found[path.name] = hashlib.file_digest(stream, "sha256").hexdigest()
    return found
