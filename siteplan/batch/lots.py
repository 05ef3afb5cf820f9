"""A folder of site folders, or a list of them, in; the lots with their names out, and what was passed over."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from siteplan.errors import InputError, raise_gathered
from siteplan.survey.files import said, text_of
from siteplan.survey.settings import SITE_FILE

_BETWEEN = "--"  # of the parts of a path in a lot's name
_LONGEST = 200  # bytes of a name; the plan's folder, and what is beside it while it is written, need room too
_DEEPEST = 8  # folders below which no site is looked for


@dataclass(frozen=True, slots=True, kw_only=True)
class LotFolder:
    """One site folder and what its lot is called.

    The name of its folder, and of those between where the sites lie deeper.
    """

    name: str
    folder: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class LotFolders:
    """The lots in the order of their names; folders without a site in them are passed over."""

    lots: tuple[LotFolder, ...]
    passed: tuple[str, ...] = ()


def lot_folders(sites: Path, out: Path) -> LotFolders:
    """Every site to be planned.

    Parameters
    ----------
    sites : Path
        A folder with site folders at any depth below it, one site folder, or a text file with a site folder a line
        (empty lines and those that begin with # say nothing; a path that does not begin at the root begins at the
        list).
    out : Path
        Folder that is written; not looked into.

    Returns
    -------
    LotFolders
        At least one lot.

    Raises
    ------
    InputError, InputErrors
        If there is no such place, no site in it, or two lots would have one name.
    """
    if sites.is_dir():
        found, passed = _below(sites, out.resolve())
    elif sites.is_file():
        found, passed = _listed(sites), ()
    else:
        raise InputError(
            said(sites, 200),
            "is no folder and no list",
            "Name a folder of site folders, or a text file with one a line.",
        )
    if not found:
        raise InputError(
            said(sites, 200),
            f"holds no site folder (none with a {SITE_FILE})",
            "Name the folder that the sites lie in.",
        )
    _told_apart(found)
    return LotFolders(lots=tuple(sorted(found, key=lambda one: one.name)), passed=tuple(sorted(passed)))


def _below(sites: Path, out: Path) -> tuple[list[LotFolder], tuple[str, ...]]:
    if (sites / SITE_FILE).is_file():
        return [LotFolder(name=sites.resolve().name, folder=sites.resolve())], ()
    found: list[LotFolder] = []
    passed: list[str] = []
    for child in _folders(sites, out):
        inside = list(_sites(child, out, {sites.resolve()}, 1))
        if not inside:
            passed.append(child.name)
        home = sites.resolve()
        found += [LotFolder(name=_BETWEEN.join(_parts(one, home)), folder=one) for one in inside]
    return found, tuple(passed)


def _parts(folder: Path, home: Path) -> tuple[str, ...]:
    return folder.relative_to(home).parts if folder.is_relative_to(home) else (folder.name,)


def _folders(folder: Path, out: Path) -> list[Path]:
    """Folders in a folder; none that a system hides, and not the one that is written."""
    try:
        entries = sorted(folder.iterdir())
    except OSError as fault:
        raise InputError(said(folder, 200), "cannot be read", "Check the right to read it.") from fault
    return [one for one in entries if one.is_dir() and not one.name.startswith(".") and one.resolve() != out]


def _sites(folder: Path, out: Path, above: set[Path], depth: int) -> Iterator[Path]:
    """Site folders at and below a folder; a link that leads back is not followed twice."""
    real = folder.resolve()
    if real in above or depth > _DEEPEST:
        return
    if (folder / SITE_FILE).is_file():
        yield folder.absolute() if folder.is_symlink() else real
        return
    for child in _folders(folder, out):
        yield from _sites(child, out, {*above, real}, depth + 1)


def _listed(path: Path) -> list[LotFolder]:
    found: list[LotFolder] = []
    faults: list[InputError] = []
    for number, line in enumerate(text_of(path, path.name).splitlines(), start=1):
        entry = line.strip()
        if not entry or entry.startswith("#"):
            continue
        where = f"{path.name}, line {number}"
        if not entry.isprintable():
            faults.append(InputError(where, "holds a character that cannot be printed", "Write one folder a line."))
            continue
        folder = Path(os.path.normpath(path.resolve().parent / entry))
        if not folder.is_dir():
            faults.append(
                InputError(
                    where, f'"{said(entry)}" is no folder', "Write the site folder as it is found from the list."
                )
            )
            continue
        found.append(LotFolder(name=folder.name, folder=folder))
    raise_gathered(faults)
    return found


def _told_apart(found: list[LotFolder]) -> None:
    """Each lot has a folder of its name, on disks too that do not tell capitals from small letters."""
    faults: list[InputError] = []
    seen: dict[str, LotFolder] = {}
    for one in sorted(found, key=lambda lot: lot.name):
        other = seen.setdefault(one.name.casefold(), one)
        if other is not one:
            faults.append(
                InputError(
                    said(one.folder, 200),
                    f'would be planned as "{said(one.name)}", as {said(other.folder, 200)} is',
                    "Give their folders names of their own.",
                )
            )
        if not one.name or len(os.fsencode(one.name)) > _LONGEST or not one.name.isprintable():
            faults.append(
                InputError(
                    said(one.folder, 200),
                    (
                        f"its name cannot be a lot's: empty, longer than {_LONGEST} bytes, or with characters "
                        "that cannot be printed"
                    ),
                    "Give the folder a plain name.",
                )
            )
    raise_gathered(faults)
