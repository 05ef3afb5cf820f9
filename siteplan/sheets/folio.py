"""Named bytes in; a folder that is whole or not there out. Standard library only.

The new folder is written beside the old one, forced to disk, and swapped in by one rename. Where the platform
can exchange two folders in one step (Linux, renameat2) there is no moment without a whole folder under the
name. Elsewhere two renames are needed; a run killed between them leaves the old folder whole under its
set-aside name, and the next run puts it back before it does anything else.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import json
import os
import shutil
import sys
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from siteplan.errors import InputError

FORMAT = "siteplan-plan"
# what a plan folder holds; a later sheet adds its name here
SHEETS = ("plan.json", "map.html", "trench_schedule.csv")
_STRAY = {".ds_store", "thumbs.db", "desktop.ini"}  # what desktops leave in any folder they show
_LOCK = ".~lock."  # what an office program leaves beside a table it has open
_AT_FDCWD = -100
_RENAME_EXCHANGE = 2


def write_folio(out: Path, files: Mapping[str, bytes]) -> None:
    """Write a plan folder whole, in place of an earlier one or of nothing.

    Parameters
    ----------
    out : Path
        The folder. Its parent must exist.
    files : mapping of str to bytes
        Plain file names and contents, plan.json among them.

    Raises
    ------
    InputError
        If the place cannot take a plan folder (see `check_folio`), or the disk refuses; an earlier
        folder is then as it was.
    ValueError
        If a name is no plain file name.
    """
    for name in files:
        if not name or name in {".", ".."} or any(mark in name for mark in "/\\:\0"):
            raise ValueError(f"{name!r} is no plain file name")
    target = _place(out)
    new, old = _beside(target)
    with _refusals(out), _alone(target.parent):
        _recover(target, new, old)
        _judge(out, target, files)
        try:
            _fill(new, files)
            _swap(target, new, old)
        except BaseException:
            with contextlib.suppress(OSError):
                _recover(target, new, old)
            raise
        for leftover in (new, old):
            if leftover.exists():
                shutil.rmtree(leftover)
        _sync(target.parent)


def check_folio(out: Path, names: Iterable[str] = SHEETS) -> None:
    """Say early whether a plan folder can be written there; mend what a killed run left.

    Parameters
    ----------
    out : Path
        The folder that `write_folio` is to write.
    names : iterable of str
        File names it is to hold.

    Raises
    ------
    InputError
        If `out` is a file, a folder with something else in it, or has no parent that can be written to.
    """
    target = _place(out)
    new, old = _beside(target)
    with _refusals(out), _alone(target.parent):
        _recover(target, new, old)
        _judge(out, target, names)


def _place(out: Path) -> Path:
    """Where the folder really is: a link is followed, so that the link itself stays."""
    try:
        target = out.resolve()
    except (OSError, RuntimeError) as fault:
        raise InputError(str(out), f"cannot be looked up ({fault})", "Name another folder.") from fault
    if not target.name:
        raise InputError(str(out), "is the root of a disk", "Name a folder for the plan.")
    if not target.parent.is_dir():
        what = "is not a folder" if target.parent.exists() else "does not exist"
        raise InputError(
            str(out), f"the folder it should stand in, {target.parent}, {what}", "Create it, or name another --out."
        )
    return target


def _beside(target: Path) -> tuple[Path, Path]:
    return tuple(target.with_name(f".{target.name}.siteplan-{part}") for part in ("new", "old"))  # type: ignore[return-value]


def _judge(out: Path, target: Path, names: Iterable[str]) -> None:
    """Refuse to put a plan in place of anything that is not an earlier plan."""
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
    held = sorted(
        entry.name
        for entry in target.iterdir()
        if entry.name.lower() not in _STRAY and not entry.name.startswith(_LOCK)
    )
    if not held:
        return
    if not _is_plan(target / "plan.json"):
        raise InputError(
            str(out),
            "holds files and is no plan folder (no plan.json of ours)",
            "Name an empty or new folder as --out.",
        )
    foreign = [name for name in held if name not in {*SHEETS, *names}]
    if foreign:
        more = f" and {len(foreign) - 1} more" if len(foreign) > 1 else ""
        raise InputError(
            str(out),
            f"holds {foreign[0]}{more}, which siteplan did not write and would lose",
            "Move it out, or name another --out.",
        )


def _is_plan(path: Path) -> bool:
    try:
        return bool(json.loads(path.read_bytes())["format"] == FORMAT)
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return False


def _recover(target: Path, new: Path, old: Path) -> None:
    """Undo what a killed run left: the name is whole or free, and nothing stands beside it."""
    if old.exists() and not target.exists():
        old.rename(target)
        _sync(target.parent)
    for leftover in (new, old):
        if leftover.is_dir() and not leftover.is_symlink():
            shutil.rmtree(leftover)
        elif leftover.exists() or leftover.is_symlink():
            leftover.unlink()


def _fill(new: Path, files: Mapping[str, bytes]) -> None:
    new.mkdir()
    for name, content in files.items():
        with (new / name).open("xb") as handle:
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
def _refusals(out: Path) -> Iterator[None]:
    """What the disk refuses, said as one line."""
    try:
        yield
    except OSError as fault:
        reason = fault.strerror or str(fault)
        raise InputError(
            str(out), f"could not be written ({reason})", "Make room or permission there, or name another --out."
        ) from fault
