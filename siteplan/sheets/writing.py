"""Bytes and a place in; one plain file, or one folder of ours, out: whole or not at all. Standard library only.

Everything that the program writes goes through here. A file is written beside its place and put there in one step. A
folder is written beside the old one, forced to disk, and exchanged with it in one step (Linux, renameat2). Elsewhere
two renames are needed; a run killed between them leaves the old folder whole under its set-aside name, and the next run
puts it back before it does anything else. Whatever is no plain file and no folder of ours is refused, and nothing is
deleted that was not written here.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import stat
import sys
from collections.abc import Callable, Collection, Iterator, Mapping
from pathlib import Path
from typing import IO

from siteplan.errors import InputError

_STRAY = {".ds_store", "thumbs.db", "desktop.ini"}  # what desktops leave in any folder they show
_LOCK = ".~lock."  # what an office program leaves beside a table it has open
_AT_FDCWD = -100
_RENAME_EXCHANGE = 2
_OTHER = "Name another place for it."


def write_file(path: Path, content: bytes) -> None:
    """Write a plain file in one step, in place of an earlier one or of nothing.

    Parameters
    ----------
    path : Path
        Its folder must exist. A link to a plain file stays, and the file that it points to is replaced.
    content : bytes
        All of it.

    Raises
    ------
    InputError
        If something other than a plain file stands there (a folder, a device, a pipe, a link to nothing), it may not be
        written to, or the disk refuses; what stood there is then as it was.
    """
    with _refusals(path, "Name a file in a folder that exists and can be written to."):
        target, mode = _plain_place(path)
        with _alone(target.parent):
            beside = target.with_name(".siteplan-new-file")
            _discard(path, beside)
            try:
                with _made(beside) as stream:
                    stream.write(content)
                    if mode is not None:
                        beside.chmod(mode)
                    stream.flush()
                    os.fsync(stream.fileno())
                beside.replace(target)
            except BaseException:
                with contextlib.suppress(OSError):
                    beside.unlink()
                raise
            _sync(target.parent)


def _plain_place(path: Path) -> tuple[Path, int | None]:
    """Where a file really is, and its permissions if it is there."""
    if not path.name or path.name in {".", ".."}:
        raise InputError(str(path), "is no name of a file", _OTHER)
    try:
        target = path.resolve()
    except (RuntimeError, ValueError) as fault:
        raise InputError(str(path), "cannot be looked up: it leads in a circle or is no path", _OTHER) from fault
    try:
        held = path.stat()
    except FileNotFoundError as fault:
        if path.is_symlink():
            raise InputError(str(path), "is a link to something that does not exist", _OTHER) from fault
        return target, None
    if not stat.S_ISREG(held.st_mode):
        raise InputError(str(path), f"is {_what(held.st_mode)}, not a plain file", _OTHER)
    if not held.st_mode & 0o222:
        raise InputError(str(path), "may not be written to (read-only)", "Change its permissions, or name another.")
    return target, stat.S_IMODE(held.st_mode)


def _what(mode: int) -> str:
    for holds, words in (
        (stat.S_ISDIR, "a folder"),
        (stat.S_ISLNK, "a link"),
        (stat.S_ISFIFO, "a pipe"),
        (stat.S_ISSOCK, "a socket"),
        (stat.S_ISREG, "a plain file"),
    ):
        if holds(mode):
            return words
    return "a device"


def write_folder(
    out: Path, files: Mapping[str, bytes], *, names: Collection[str], ours: Callable[[Path], bool], kind: str, mark: str
) -> None:
    """Write a folder of our own files whole, in place of an earlier one or of nothing.

    Parameters
    ----------
    out : Path
        The folder. Its parent must exist.
    files : mapping of str to bytes
        Plain file names and contents.
    names : collection of str
        Names that such a folder of ours may hold.
    ours : callable
        Whether a folder that stands there was written by us.
    kind : str
        What such a folder is called: 'plan', 'record'.
    mark : str
        The file by which it is known.

    Raises
    ------
    InputError
        If the place cannot take it (see `check_folder`), or the disk refuses; an earlier folder is then as it was.
    ValueError
        If a name is no plain file name.
    """
    for name in files:
        if not name or name in {".", ".."} or any(mark in name for mark in "/\\:\0"):
            raise ValueError(f"{name!r} is no plain file name")
    known = {*names, *files}
    target = _place(out, kind)
    new, old = _beside(target)
    with _refusals(out, "Make room or permission there, or name another --out."), _alone(target.parent):
        _recover(out, target, known)
        _judge(out, target, known, ours, kind, mark)
        try:
            _fill(new, files)
            _swap(target, new, old)
        except BaseException:
            with contextlib.suppress(OSError, InputError):
                _recover(out, target, known)
            raise
        for leftover in (new, old):
            _empty(out, leftover, target, known)
        _sync(target.parent)


def check_folder(out: Path, *, names: Collection[str], ours: Callable[[Path], bool], kind: str, mark: str) -> None:
    """Say early whether a folder of ours can be written there; mend what a killed run left.

    Parameters
    ----------
    out, names, ours, kind, mark
        See `write_folder`.

    Raises
    ------
    InputError
        If `out` is a file, a folder with something else in it, or has no parent that can be written to.
    """
    target = _place(out, kind)
    with _refusals(out, "Make room or permission there, or name another --out."), _alone(target.parent):
        _recover(out, target, set(names))
        _judge(out, target, names, ours, kind, mark)


def _place(out: Path, kind: str) -> Path:
    """Where the folder really is: a link is followed, so that the link itself stays."""
    try:
        target = out.resolve()
    except (OSError, RuntimeError, ValueError) as fault:
        raise InputError(str(out), f"cannot be looked up ({fault})", "Name another folder.") from fault
    if not target.name:
        raise InputError(str(out), "is the root of a disk", f"Name a folder for the {kind}.")
    if not target.parent.is_dir():
        what = "is not a folder" if target.parent.exists() else "does not exist"
        raise InputError(
            str(out), f"the folder it should stand in, {target.parent}, {what}", "Create it, or name another --out."
        )
    return target


def _beside(target: Path) -> tuple[Path, Path]:
    return target.with_name(f".{target.name}.siteplan-new"), target.with_name(f".{target.name}.siteplan-old")


def _judge(out: Path, target: Path, names: Collection[str], ours: Callable[[Path], bool], kind: str, mark: str) -> None:
    """Refuse to put a folder in place of anything that is not an earlier one of ours."""
    if not os.access(target.parent, os.W_OK | os.X_OK):
        raise InputError(
            str(out),
            "the folder it should stand in cannot be written to",
            "Change its permissions, or name another --out.",
        )
    if not target.exists():
        return
    if not target.is_dir():
        raise InputError(str(out), "is a file, not a folder", "Name another --out, or move the file away.")
    entries = {entry.name: entry for entry in target.iterdir() if not _stray(entry)}
    if not entries:
        return
    if not ours(target):
        raise InputError(
            str(out),
            f"holds files and is no {kind} folder (no {mark} of ours)",
            "Name an empty or new folder as --out."
            + (
                (
                    f" If its {mark} is an earlier {kind} of ours, written before these bore a mark: move that "
                    "folder aside to keep it, and run this again."
                )
                if mark in entries
                else ""
            ),
        )
    foreign = sorted(name for name, entry in entries.items() if name not in names or not _plain(entry))
    if foreign:
        more = f" and {len(foreign) - 1} more" if len(foreign) > 1 else ""
        raise InputError(
            str(out),
            f"holds {foreign[0]}{more}, which siteplan did not write and would lose",
            "Move it out, or name another --out.",
        )


def _stray(entry: Path) -> bool:
    return (entry.name.lower() in _STRAY or entry.name.startswith(_LOCK)) and _plain(entry)


def _plain(entry: Path) -> bool:
    try:
        return stat.S_ISREG(entry.lstat().st_mode)
    except OSError:
        return False


def _recover(out: Path, target: Path, names: Collection[str]) -> None:
    """Undo what a killed run left: the name is whole or free, and nothing stands beside it."""
    new, old = _beside(target)
    if old.is_dir() and not old.is_symlink() and not target.exists():
        old.rename(target)
        _sync(target.parent)
    for leftover in (new, old):
        _empty(out, leftover, target, names)


def _empty(out: Path, leftover: Path, target: Path, names: Collection[str]) -> None:
    """Take away a folder of ours that is not wanted any more.

    Our files are deleted, whatever else is in it moves on.
    """
    if not leftover.exists() and not leftover.is_symlink():
        return
    if leftover.is_symlink() or not leftover.is_dir():
        raise InputError(str(out), f"{leftover.name} stands beside it and is no folder of ours", "Move it away.")
    for entry in leftover.iterdir():
        if entry.name in names and _plain(entry):
            entry.unlink()
        elif target.is_dir() and not (target / entry.name).exists():
            entry.rename(target / entry.name)
        elif _stray(entry):
            entry.unlink()
        else:
            raise InputError(
                str(out), f"{leftover.name} beside it holds {entry.name}, which siteplan did not write", "Move it away."
            )
    leftover.rmdir()


def _discard(path: Path, beside: Path) -> None:
    """Take away what a killed run left of a file."""
    if beside.is_symlink() or beside.exists():
        if not _plain(beside):
            raise InputError(str(path), f"{beside.name} stands beside it and is no file of ours", "Move it away.")
        beside.unlink()


@contextlib.contextmanager
def _made(path: Path) -> Iterator[IO[bytes]]:
    with path.open("xb") as stream:
        yield stream


def _fill(new: Path, files: Mapping[str, bytes]) -> None:
    new.mkdir()
    for name, content in files.items():
        with _made(new / name) as handle:
            handle.write(content)
            handle.flush()
            os.fsync(handle.fileno())
    _sync(new)


def _swap(target: Path, new: Path, old: Path) -> None:
    """Put `new` under the target's name; what stood there is left as `new` or `old`."""
    if not target.exists():
        new.rename(target)
    elif not _exchange(new, target):
        target.rename(old)
        new.rename(target)
    _sync(target.parent)


def _exchange(one: Path, two: Path) -> bool:
    """Exchange two folders in one step; False where the platform or the disk cannot."""
    if not sys.platform.startswith("linux"):
        return False
    call = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if call is None:
        return False
    call.argtypes = (ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_uint)
    call.restype = ctypes.c_int
    if call(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(two), _RENAME_EXCHANGE) == 0:
        return True
    fault = ctypes.get_errno()
    if fault in {errno.EINVAL, errno.ENOSYS, errno.EOPNOTSUPP}:
        return False
    raise OSError(fault, os.strerror(fault), str(two))


def _sync(folder: Path) -> None:
    """Force a folder's entries to disk where folders can be opened (not on Windows)."""
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as fault:
        if fault.errno not in {errno.EINVAL, errno.EOPNOTSUPP}:  # some network disks know no sync of a folder
            raise
    finally:
        os.close(handle)


@contextlib.contextmanager
def _alone(parent: Path) -> Iterator[None]:
    """One run at a time in a parent folder, by a lock that a killed run cannot leave behind."""
    if sys.platform == "win32":
        yield
        return
    import fcntl

    handle = os.open(parent, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):  # a disk without locks: go on without
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


@contextlib.contextmanager
def _refusals(out: Path, mend: str) -> Iterator[None]:
    """What the disk refuses, said as one line."""
    try:
        yield
    except InputError:
        raise  # it says already what stands in the way, and how to mend it
    except (OSError, ValueError) as fault:
        reason = (fault.strerror if isinstance(fault, OSError) else None) or str(fault)
        raise InputError(str(out), f"could not be written ({reason})", mend) from fault
