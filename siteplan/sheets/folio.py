"""Named bytes in; a plan folder that is whole or not there out. Standard library only."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path

from siteplan.sheets.writing import check_folder, write_folder

# what a plan folder holds: `siteplan.offered` makes each, and a test holds both to one list
PLAN_FILES = ("plan.json", "map.html", "trench_schedule.csv", "quantities.csv", "layouts.csv")
_FORMAT = "siteplan-plan"


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
    write_folder(out, files, names=PLAN_FILES, ours=_is_plan, kind="plan", mark="plan.json")


def check_folio(out: Path, names: Iterable[str] = PLAN_FILES) -> None:
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
    check_folder(out, names={*PLAN_FILES, *names}, ours=_is_plan, kind="plan", mark="plan.json")


def _is_plan(folder: Path) -> bool:
    try:
        return bool(json.loads((folder / "plan.json").read_bytes())["format"] == _FORMAT)
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return False
