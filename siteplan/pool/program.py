"""The program in; its digest out: all that work hangs on beside what it is given.

By it is known what must be done again.
"""

from __future__ import annotations

import functools
import hashlib
import sys
from importlib import metadata
from pathlib import Path

import siteplan

_LIBRARIES = (
    *("contourpy", "folium", "geopandas", "numba", "numpy", "pyogrio"),
    *("pyproj", "pythoncdt", "rasterio", "scipy", "shapely"),
)
_LEFT_OUT = {"__pycache__"}


@functools.cache
def program_digest() -> str:
    """Digest of this package's own files, the libraries' versions, Python's.

    Returns
    -------
    str
        SHA-256, hexadecimal.
    """
    found = hashlib.sha256()
    home = Path(siteplan.__file__).parent
    for path in sorted(home.rglob("*")):
        if path.is_file() and not _LEFT_OUT.intersection(path.parts) and path.suffix != ".pyc":
            take_in_file(found, path.relative_to(home).as_posix(), path)
    for name in _LIBRARIES:
        try:
            version = metadata.version(name)
        except metadata.PackageNotFoundError:
            version = ""
        found.update(f"{name} {version}\n".encode())
    found.update(f"{sys.version_info[:2]} {sys.platform}".encode())
    return found.hexdigest()


def take_in_file(found: hashlib._Hash, name: str, path: Path) -> None:
    """Let a digest hang on a file.

    Parameters
    ----------
    found : hash
        The digest so far; changed.
    name : str
        What the file is called in it.
    path : Path
        The file.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    with path.open("rb") as stream:
        content = hashlib.file_digest(stream, "sha256").hexdigest()
    found.update(f"{name}\n{content}\n".encode("utf-8", "surrogateescape"))
