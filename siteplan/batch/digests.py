"""The program and a site folder in; digests out, by which it is known what must be planned again."""

from __future__ import annotations

import functools
import hashlib
import sys
from importlib import metadata
from pathlib import Path

import siteplan

_LIBRARIES = (
    "contourpy", "folium", "geopandas", "numba", "numpy", "pyogrio", "pyproj", "pythoncdt", "rasterio", "scipy", "shapely",
)  # fmt: skip
_LEFT_OUT = {"__pycache__"}


@functools.cache
def program_digest() -> str:
    """Digest of all that a plan hangs on beside its site: this package's own files, the libraries' versions, Python's.

    Returns
    -------
    str
        SHA-256, hexadecimal.
    """
    found = hashlib.sha256()
    home = Path(siteplan.__file__).parent
    for path in sorted(home.rglob("*")):
        if path.is_file() and not _LEFT_OUT.intersection(path.parts) and path.suffix != ".pyc":
            _add(found, path.relative_to(home).as_posix(), path)
    for name in _LIBRARIES:
        try:
            version = metadata.version(name)
        except metadata.PackageNotFoundError:
            version = ""
        found.update(f"{name} {version}\n".encode())
    found.update(f"{sys.version_info[:2]} {sys.platform}".encode())
    return found.hexdigest()


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
            _add(found, path.relative_to(folder).as_posix(), path)
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


def _add(found: hashlib._Hash, name: str, path: Path) -> None:
    with path.open("rb") as stream:
        content = hashlib.file_digest(stream, "sha256").hexdigest()
    found.update(f"{name}\n{content}\n".encode("utf-8", "surrogateescape"))
