"""Bytes and a place in; one file out, whole or not at all. Standard library only."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from siteplan.errors import InputError


def write_file(path: Path, content: bytes) -> None:
    """Write a file in one step, in place of an earlier one.

    Parameters
    ----------
    path : Path
        Its folder must exist.
    content : bytes
        All of it.

    Raises
    ------
    InputError
        If the disk refuses; an earlier file is then as it was.
    """
    beside = path.with_name(f".{path.name}.siteplan-new")
    try:
        if path.is_dir():
            raise IsADirectoryError
        with beside.open("wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        beside.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            beside.unlink()
        why = (
            "is a folder" if isinstance(error, IsADirectoryError) else f"cannot be written ({error.strerror or error})"
        )
        raise InputError(str(path), why, "Name a file in a folder that exists and can be written to.") from error
