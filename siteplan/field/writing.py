"""Bytes and a place in; one file out, whole or not at all. Standard library only."""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Mapping
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


def write_folder(out: Path, files: Mapping[str, bytes]) -> None:
    """Write a folder of our own files, in place of an earlier one with the same names or of nothing.

    Parameters
    ----------
    out : Path
        The folder; its parent must exist.
    files : mapping of str to bytes
        Plain names and contents.

    Raises
    ------
    InputError
        If it holds anything else, or the disk refuses.
    """
    if out.exists() and not out.is_dir():
        raise InputError(str(out), "is a file, not a folder", "Name another --out.")
    foreign = (
        sorted(entry.name for entry in out.iterdir() if entry.name not in files and not entry.name.startswith("."))
        if out.exists()
        else []
    )
    if foreign:
        raise InputError(
            str(out), f"holds {foreign[0]}, which this command did not write", "Name an empty or new folder as --out."
        )
    new, old = (out.with_name(f".{out.name}.siteplan-{part}") for part in ("new", "old"))
    try:
        for left in (new, old):
            shutil.rmtree(left, ignore_errors=True)
        new.mkdir()
        for name, content in files.items():
            write_file(new / name, content)
        if out.exists():
            out.rename(old)
        new.rename(out)
        shutil.rmtree(old, ignore_errors=True)
    except OSError as error:
        if old.exists() and not out.exists():
            old.rename(out)
        shutil.rmtree(new, ignore_errors=True)
        raise InputError(
            str(out),
            f"cannot be written ({error.strerror or error})",
            "Name a folder whose parent exists and can be written to.",
        ) from error
