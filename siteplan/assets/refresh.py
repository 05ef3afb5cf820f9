"""An npm package file of Leaflet in; the three files we carry and their digests out.

    npm pack leaflet@1.9.4
    python -m siteplan.assets.refresh leaflet-1.9.4.tgz

Fetches nothing itself. The files are kept as published; what the page leaves out of them
(the link to a source map, pictures that no layer of ours shows) is left out when the page is built.
"""

from __future__ import annotations

import hashlib
import json
import sys
import tarfile
from pathlib import Path

CARRIED = {
    "leaflet.js": "package/dist/leaflet.js",
    "leaflet.css": "package/dist/leaflet.css",
    "LICENSE": "package/LICENSE",
}
FOLDER = Path(__file__).parent / "leaflet"


def refresh(package: Path, folder: Path = FOLDER) -> str:
    """Take Leaflet's files out of a package file.

    Parameters
    ----------
    package : Path
        What `npm pack leaflet@VERSION` wrote.
    folder : Path
        Where the files and SOURCES.toml go.

    Returns
    -------
    str
        The text of SOURCES.toml as written.

    Raises
    ------
    KeyError
        If the package holds no such file.
    """
    lines = []
    with tarfile.open(package) as pack:
        version = json.loads(_member(pack, "package/package.json"))["version"]
        for name, member in CARRIED.items():
            content = _member(pack, member)
            (folder / name).write_bytes(content)
            lines += [
                "",
                "[[file]]",
                f'name = "{name}"',
                f'from = "{member}"',
                f'sha256 = "{hashlib.sha256(content).hexdigest()}"',
            ]
    head = [
        "# written by siteplan/assets/refresh.py; a test holds the files to these digests",
        'package = "leaflet"',
        'registry = "npm"',
        f'version = "{version}"',
        f'package_sha256 = "{hashlib.sha256(package.read_bytes()).hexdigest()}"',
        'licence = "BSD-2-Clause"',
    ]
    text = "\n".join([*head, *lines]) + "\n"
    (folder / "SOURCES.toml").write_text(text, encoding="utf-8")
    return text


def _member(pack: tarfile.TarFile, name: str) -> bytes:
    handle = pack.extractfile(name)
    if handle is None:
        raise KeyError(name)
    return handle.read()


if __name__ == "__main__":
    print(refresh(Path(sys.argv[1])), end="")  # noqa: T201
