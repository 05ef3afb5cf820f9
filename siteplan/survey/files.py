"""Names of files, as site.toml gives them, in; paths that stay inside the site folder, their text and digests, out."""

from __future__ import annotations

import hashlib
import unicodedata
from collections.abc import Iterable, Mapping
from pathlib import Path, PurePosixPath, PureWindowsPath

from siteplan.errors import InputError, as_written
from siteplan.values.asked_for import InputFile

TEXT_LIMIT = 64 * 2**20  # bytes of a text file; a lot's features take a thousandth of it
MOST_FIGURE = 1e12  # no length, area, flow or count of a site is larger, in any unit
MOST_DIGITS = 60
MOST_KEYS = 2000  # entries of one table or list: unknown ones are each compared with the known
NAME_CAP = 80
NOTE_CAP = 500


def said(value: object, cap: int = NAME_CAP) -> str:
    """What a person wrote, fit to be carried on: one line, no control or direction marks, capped.

    Parameters
    ----------
    value : object
        Text or number from a file.
    cap : int
        Most characters kept.

    Returns
    -------
    str
        Possibly empty. Lone surrogates go too: no file could hold them.
    """
    kept = []
    for c in str(value)[: 20 * cap]:
        kind = unicodedata.category(c)
        if c.isspace() or kind in {"Zl", "Zp"}:
            kept.append(" ")
        elif kind not in {"Cc", "Cf", "Cs", "Cn"}:
            kept.append(c)
    text = " ".join("".join(kept).split())
    return text if len(text) <= cap else text[: cap - 1].rstrip() + "\u2026"


def number_of(value: object) -> float | None:
    """A finite number that a file gives as such, or None.

    Parameters
    ----------
    value : object
        From TOML or JSON.

    Returns
    -------
    float or None
        As given [-]; None for texts, booleans, NaN and what is larger than any figure of a site.
    """
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    if isinstance(value, int) and abs(value) > MOST_FIGURE:
        return None
    number = float(value)
    return number if abs(number) <= MOST_FIGURE else None


def number_in(text: str) -> float | None:
    """A plain number that a cell holds as text, or None.

    Parameters
    ----------
    text : str
        From a table.

    Returns
    -------
    float or None
        As given [-]; None for everything but one finite number of a sensible size.
    """
    if "_" in text or len(text) > MOST_DIGITS:
        return None
    try:
        return number_of(float(text))
    except ValueError:
        return None


def shown_name(value: object) -> str:
    """A value of a file as an error message shows it.

    Parameters
    ----------
    value : object
        From TOML or JSON.

    Returns
    -------
    str
        One line.
    """
    return f'"{said(value)}"' if isinstance(value, str) else said(as_written(value), 60)


def most_keys(value: object) -> int:
    """Entries of the largest table or list in what a file holds.

    Parameters
    ----------
    value : object
        From TOML.

    Returns
    -------
    int
        0 for a plain value.
    """
    most, left = 0, [value]
    while left:
        one = left.pop()
        if isinstance(one, Mapping | list):
            most = max(most, len(one))
            left += one.values() if isinstance(one, Mapping) else one
    return most


def path_inside(folder: Path, name: object, where: str) -> Path:
    """Path of a file that site.toml names; a name is data and may not lead out of the folder.

    Parameters
    ----------
    folder : Path
        The site folder.
    name : object
        What site.toml gives.
    where : str
        Key named in the error.

    Returns
    -------
    Path
        Of an existing file, under the resolved folder.

    Raises
    ------
    InputError
        If it is no text, is absolute, climbs out (also by a link), or no such file is there.
    """
    if not isinstance(name, str) or not name.strip():
        raise InputError(
            where, f"is {shown_name(name)}, expected a file name", 'Write it as text, such as "ground.tif".'
        )
    shown = said(name)
    plain = PurePosixPath(name)
    windows = PureWindowsPath(name)
    odd = any(not c.isprintable() for c in name) or windows.parts != plain.parts
    if odd or plain.is_absolute() or windows.drive or windows.root or ".." in plain.parts:
        raise InputError(
            where,
            f'"{shown}" does not stay inside the site folder',
            'Name a file that lies in it, such as "ground.tif".',
        )
    home = folder.resolve()
    path = home / plain
    try:
        found = path.is_file()
        outside = found and not path.resolve().is_relative_to(home)
        odd_one = _no_plain_file(path) if found else None
        names = (
            [entry.name for entry in path.parent.iterdir() if entry.is_file()]
            if not found and path.parent.is_dir()
            else []
        )
    except (OSError, ValueError) as error:
        raise InputError(where, f'"{shown}" cannot be opened', "Check the name and the right to read it.") from error
    if odd_one is not None:
        raise InputError(
            where,
            f'"{shown}" has "{said(odd_one)}" beside it, which is no plain file: reading it would wait for ever',
            "Take that out of the folder.",
        )
    if outside:
        raise InputError(
            where, f'"{shown}" is a link that leads out of the site folder', "Copy the file into the folder."
        )
    if not found:
        raise InputError(where, f'no file "{shown}" in the site folder', _offer(name, names))
    return path


def _no_plain_file(path: Path) -> str | None:
    """A neighbour that a driver would open beside the file (ground.tif.aux.xml, roads.cpg) and that is a pipe.

    A socket or a device.
    """
    for entry in sorted(path.parent.iterdir()):
        if entry.name.startswith(path.stem) and entry.exists() and not entry.is_file() and not entry.is_dir():
            return entry.name
    return None


def _offer(name: str, names: Iterable[str]) -> str:
    import difflib

    near = difflib.get_close_matches(PurePosixPath(name).name, sorted(names), n=1)
    return f'Did you mean "{said(near[0])}"?' if near else "Put it there, or correct the name."


def text_of(path: Path, shown: str) -> str:
    """Text of a UTF-8 file, a byte order mark taken off.

    Parameters
    ----------
    path : Path
        An existing file.
    shown : str
        Its name in errors.

    Returns
    -------
    str
        Never only blanks.

    Raises
    ------
    InputError
        If it cannot be read, is too large, is empty, or is not UTF-8.
    """
    try:
        if path.stat().st_size > TEXT_LIMIT:
            raise InputError(
                shown,
                f"is larger than {TEXT_LIMIT // 2**20} MB",
                "Keep the features of this lot and its surroundings only.",
            )
        raw = path.read_bytes()
    except OSError as error:
        raise InputError(shown, "cannot be read", "Check the right to read it.") from error
    if not raw.strip():
        raise InputError(shown, "is empty", "Save it again with its content.")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(shown, f"is no UTF-8 text (byte {error.start})", "Save it as UTF-8.") from error


def digests(folder: Path, paths: Iterable[Path]) -> tuple[InputFile, ...]:
    """Name inside the folder and SHA-256 of every file that was read.

    Parameters
    ----------
    folder : Path
        The site folder.
    paths : iterable of Path
        Files under it; one named twice counts once.

    Returns
    -------
    tuple of InputFile
        In the order given, names with / between parts.
    """
    home = folder.resolve()
    found: dict[str, InputFile] = {}
    for path in paths:
        name = path.relative_to(home).as_posix()
        if name not in found:
            with path.open("rb") as stream:
                found[name] = InputFile(file=name, sha256=hashlib.file_digest(stream, "sha256").hexdigest())
    return tuple(found.values())
