"""Texts of a site folder's files in.

The folder with all of them, or none, and what stood there before kept to step back to, out.

Every save is written down first, in a hidden folder inside the site: a save that was killed half-way is ended by
whoever opens the folder next. No name is taken from there but those of the site's own files.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from siteplan.errors import InputError
from siteplan.sheets.writing import write_file
from siteplan.survey.settings import SITE_FILE
from siteplan.table.folder_state import digest

HISTORY = ".siteplan-history"
MOST_KEPT = 300  # saves to step back over
_JOURNAL = "saving.json"
_NAME = "{:06d}.json"

Texts = Mapping[str, str | None]  # file name to text; None: no such file


class ChangedOnDiskError(InputError):
    """Files of the site were changed by somebody else since they were read.

    Parameters
    ----------
    names : tuple of str
        Of the files.
    """

    def __init__(self, names: tuple[str, ...]) -> None:
        super().__init__(
            ", ".join(names),
            "was changed on the disk since it was read here",
            "Take what is on the disk, or keep yours.",
        )
        self.names = names


def save_texts(folder: Path, before: Texts, after: Texts, *, anyway: bool = False) -> None:
    """Write several files of a site, all or none of them.

    Parameters
    ----------
    folder : Path
        The site folder.
    before : mapping
        What the files hold, as it was read.
    after : mapping
        What they shall hold; None takes one away.
    anyway : bool
        True writes over what somebody else wrote meanwhile; that is kept in the history.

    Raises
    ------
    ChangedOnDiskError
        If a file is not what was read, and nothing is written.
    InputError
        If the disk refuses.
    """
    names = [name for name in after if anyway or before.get(name) != after[name]]
    if not names:
        return
    with _alone(folder) as history:
        _end(folder, history)
        there = {name: text for name in names if (text := _text(folder / name)) != after[name]}
        if not there:
            return
        names = list(there)
        changed = tuple(name for name in names if there[name] != before.get(name))
        if changed and not anyway:
            raise ChangedOnDiskError(changed)
        wanted = {name: after[name] for name in names}
        number = _numbers(history)[-1] + 1 if _numbers(history) else 1
        write_file(history / _NAME.format(number), _packed({"before": there}))
        write_file(history / _JOURNAL, _packed({"before": _digests(there), "after": wanted}))
        _write(folder, wanted)
        (history / _JOURNAL).unlink()
        for old in _numbers(history)[:-MOST_KEPT]:
            (history / _NAME.format(old)).unlink()


def end_saving(folder: Path) -> None:
    """End what a killed save began, so that the files of a site belong together.

    Parameters
    ----------
    folder : Path
        The site folder.
    """
    if (folder / HISTORY / _JOURNAL).is_file():
        with _alone(folder) as history:
            _end(folder, history)


def steps_back(folder: Path) -> tuple[tuple[int, float, tuple[str, ...]], ...]:
    """The saves that can be stepped back over, the newest first.

    Parameters
    ----------
    folder : Path
        The site folder.

    Returns
    -------
    tuple of tuple
        Number, time of the save [s since 1970, by the file's own], and the files it changed.
    """
    history = folder / HISTORY
    found = []
    for number in reversed(_numbers(history)):
        held = _read(history / _NAME.format(number))
        if held is not None:
            time = (history / _NAME.format(number)).stat().st_mtime
            found.append((number, time, tuple(held["before"])))
    return tuple(found)


def newest_save(folder: Path) -> int:
    """Number of the newest save that is kept.

    Parameters
    ----------
    folder : Path
        The site folder.

    Returns
    -------
    int
        0: none is.
    """
    return max(_numbers(folder / HISTORY), default=0)


def texts_before(folder: Path, number: int) -> dict[str, str | None]:
    """What the files held before a save.

    Parameters
    ----------
    folder : Path
        The site folder.
    number : int
        Of the save.

    Returns
    -------
    dict
        Of all files that it and later saves changed.

    Raises
    ------
    InputError
        If there is no such save.
    """
    history = folder / HISTORY
    numbers = _numbers(history)
    if number not in numbers:
        raise InputError("history", f"holds no save {number}", "Take one of the list.")
    texts: dict[str, str | None] = {}
    for one in reversed(numbers[numbers.index(number) :]):
        texts |= (_read(history / _NAME.format(one)) or {"before": {}})["before"]
    return texts


def _write(folder: Path, texts: Texts) -> None:
    """The site file last: it names the others."""
    for name in sorted(texts, key=lambda one: (one == SITE_FILE, one)):
        text = texts[name]
        if text is None:
            (folder / name).unlink(missing_ok=True)
        else:
            write_file(folder / name, text.encode("utf-8"))


def _end(folder: Path, history: Path) -> None:
    held = _read(history / _JOURNAL)
    if held is not None:
        now = _digests({name: _text(folder / name) for name in held["after"]})
        meant = _digests(held["after"])
        # a file that is neither what it was nor what it was to be is somebody's newer work
        _write(folder, {name: held["after"][name] for name in meant if now[name] == held["before"].get(name)})
    (history / _JOURNAL).unlink(missing_ok=True)


def _digests(texts: Texts) -> dict[str, str | None]:
    return {
        name: None if text is None else hashlib.sha256(text.encode("utf-8")).hexdigest() for name, text in texts.items()
    }


def _text(path: Path) -> str | None:
    try:
        return path.read_bytes().decode("utf-8-sig", errors="replace")
    except FileNotFoundError:
        return None


def _packed(value: Mapping[str, Any]) -> bytes:
    return json.dumps(value, ensure_ascii=False, indent=1).encode("utf-8")


def _read(path: Path) -> dict[str, Any] | None:
    """A record of ours; None for what is none, or names a file that is no plain name inside the folder."""
    try:
        held = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        return None
    texts = held.get("after", held.get("before")) if isinstance(held, dict) else None
    if not isinstance(texts, dict) or not isinstance(held.get("before"), dict):
        return None
    home = path.parent.parent.resolve()
    good = all(
        home in (home / name).resolve().parents and (text is None or isinstance(text, str))
        for name, text in texts.items()
    )
    return held if good else None


def _numbers(history: Path) -> list[int]:
    names = [path.stem for path in history.glob("*.json")] if history.is_dir() else []
    return sorted(int(name) for name in names if name.isascii() and name.isdigit())


@contextlib.contextmanager
def _alone(folder: Path) -> Iterator[Path]:
    """One save at a time of one site, whoever saves; a lock that a killed program cannot leave behind."""
    history = folder / HISTORY
    try:
        history.mkdir(exist_ok=True)
    except OSError as fault:
        raise InputError(str(folder), f"cannot be written to ({fault.strerror})", "Change its rights.") from fault
    if sys.platform == "win32":
        yield history
        return
    import fcntl

    handle = os.open(history / "lock", os.O_RDWR | os.O_CREAT, 0o600)
    try:
        with contextlib.suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield history
    finally:
        os.close(handle)


def changed_since(folder: Path, digests: Mapping[str, str | None]) -> tuple[str, ...]:
    """Files that are no more what was read.

    Parameters
    ----------
    folder : Path
        The site folder.
    digests : mapping
        As read.

    Returns
    -------
    tuple of str
        Their names.
    """
    return tuple(name for name, known in digests.items() if digest(folder / name) != known)
