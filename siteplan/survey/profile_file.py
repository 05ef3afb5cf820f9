"""What site.toml says under rule_profile in; the jurisdiction's profile and where it lies out."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from siteplan.books.profiles import RuleProfile, read_profile
from siteplan.errors import InputError, InputErrors
from siteplan.survey.files import path_inside, text_of

PROFILE_KEY = "rule_profile"


def site_profile(
    folder: Path, data: Mapping[str, Any], where: str, faults: list[InputError], notes: list[str]
) -> tuple[Path | None, RuleProfile | None]:
    """The jurisdiction's profile that a site names; it lies in the site folder and is digested with the rest.

    Parameters
    ----------
    folder : Path
        The site folder.
    data : mapping
        site.toml.
    where : str
        Its name in messages.
    faults, notes : list
        Take what cannot be used, and what is to be said of the profile.

    Returns
    -------
    tuple
        Path and profile; None when the site names none, or it cannot be used.
    """
    name = data.get(PROFILE_KEY)
    if name is None:
        return None, None
    try:
        path = path_inside(folder, name, f"{where}, {PROFILE_KEY}")
        file = path.relative_to(folder.resolve()).as_posix()
        profile = read_profile(text_of(path, file), file)
    except InputErrors as several:
        faults += several.faults
        return None, None
    except InputError as fault:
        faults.append(fault)
        return None, None
    dated = f", {profile.date}," if profile.date else ""
    notes.append(f"rules of {profile.name}{dated} are laid over the defaults ({file})")
    if profile.note:
        notes.append(f"{profile.name} says: {profile.note}")
    return path, profile
