"""What a page sends in; features, heights and settings that are what they should be, out. InputError for anything else.

Nothing is guessed.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from typing import Any

from siteplan.books.kinds import SHAPE_OF
from siteplan.errors import InputError, NotGiven
from siteplan.survey.files import MOST_FIGURE, MOST_KEYS, NOTE_CAP, said, shown_name
from siteplan.survey.settings import SITE_FILE, faults_of_table
from siteplan.table.drawn_file import feature_value, places_of
from siteplan.table.folder_state import FolderState, HeldFile, known_kind, on_paper_places
from siteplan.table.heights_file import TypedHeight
from siteplan.table.settings_form import PICTURE_KEYS, ROWS_KEY, is_list, is_setting, settings_told
from siteplan.table.toml_lines import TomlValue, with_keys

MOST_DRAWN = 5000
_MOST_CORNERS = 4000
_MOST_ROWS = 50
_MOST_LISTED = 1000
_FINE = 6  # decimals of a coordinate: a micrometre
_FINE_DEGREES = 10


def told_feature(key: str, file: HeldFile, value: Mapping[str, Any], *, locked: bool = False) -> dict[str, Any]:
    """A feature as pages know it.

    Parameters
    ----------
    key : str
        Its id.
    file : HeldFile
        The file it stands in.
    value : mapping
        GeoJSON.
    locked : bool
        Whether it is only shown.

    Returns
    -------
    dict
        id, file, properties, shape, xy on the plane; locked where it cannot be changed by hand.
    """
    found = places_of(value)
    kind = known_kind(value)
    places = None if found is None else on_paper_places(found[1], file.onto)
    properties = value.get("properties")
    if found is None or places is None or kind is None or SHAPE_OF[kind] != found[0] or locked:
        return {
            "id": key,
            "file": file.name,
            "properties": dict(properties) if isinstance(properties, Mapping) else {},
            "shape": "" if found is None else found[0],
            "xy": places or [],
            "locked": True,
        }
    return {
        "id": key,
        "file": file.name,
        "properties": dict(properties or {}),
        "shape": found[0],
        "xy": places,
        "locked": False,
    }


def drawn_value(one: Mapping[str, Any], file: HeldFile, before: Mapping[str, Any] | None) -> dict[str, Any]:
    """A drawn feature as its file has it.

    Parameters
    ----------
    one : mapping
        As a page sends it.
    file : HeldFile
        The file it goes to.
    before : mapping or None
        GeoJSON of the feature as it was; what a page does not know of it stays.

    Returns
    -------
    dict
        GeoJSON in the file's coordinates.

    Raises
    ------
    InputError
        For what is none.
    """
    mend = "Draw it again."
    properties, shape, xy = one.get("properties"), one.get("shape"), one.get("xy")
    if not isinstance(properties, Mapping) or len(properties) > MOST_KEYS:
        raise InputError("a feature", "has no properties", mend)
    kind = properties.get("kind")
    if not isinstance(kind, str) or kind not in SHAPE_OF or SHAPE_OF[kind] != shape:
        raise InputError("a feature", f"is of kind {said(kind, 40)!r} and drawn as {said(shape, 20)!r}", mend)
    called = said(properties.get("name") or kind, 60)
    if (
        not isinstance(xy, list)
        or not _corners(str(shape)) <= len(xy) <= _MOST_CORNERS
        or (shape == "Point" and len(xy) != 1)
    ):
        raise InputError(called, "has too few corners, or too many", mend)
    for place in xy:
        if not isinstance(place, list) or len(place) != 2 or not all(_number(v) for v in place):
            raise InputError(called, "has a corner that is no pair of numbers", mend)
    kept = {said(key, 60): _attribute(value, called) for key, value in properties.items()}
    shown = told_feature("", file, before) if before is not None else None
    if shown is not None and shown["xy"] == xy and shown["shape"] == shape:
        return {**before, "properties": kept}  # type: ignore[dict-item]  # its place keeps every digit
    places = on_paper_places(xy, file.back)
    if places is None:
        raise InputError(called, "has a corner that has no place in the file's system", mend)
    degrees = (
        shape
        and all(abs(x) <= 180 and abs(y) <= 90 for x, y in places)
        and not all(a == b for a, b in zip(places, xy, strict=True))
    )
    fine = _FINE_DEGREES if degrees else _FINE
    made = feature_value(kept, str(shape), [[round(x, fine), round(y, fine)] for x, y in places])
    return made if before is None else {**before, "properties": made["properties"], "geometry": made["geometry"]}


def _corners(shape: str) -> int:
    return {"Point": 1, "LineString": 2}.get(shape, 3)


def _number(value: Any) -> bool:
    return (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and math.isfinite(value)
        and abs(value) <= MOST_FIGURE
    )


def _attribute(value: Any, called: str) -> Any:
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, str):
        return said(value, NOTE_CAP)
    if isinstance(value, list) and len(value) <= 200:
        return [_attribute(one, called) for one in value if not isinstance(one, list) or len(one) <= 4]
    if _number(value):
        return value
    raise InputError(called, f"has an attribute {shown_name(value)}", "Give a number, or a text.")


def typed_heights(listed: Any) -> tuple[TypedHeight, ...]:
    """Heights as a page sends them.

    Parameters
    ----------
    listed : object
        A list of number, x, y, z, note.

    Returns
    -------
    tuple of TypedHeight
        On the paper.

    Raises
    ------
    InputError
        For what is none.
    """
    mend = "Type it again."
    if not isinstance(listed, list) or len(listed) > MOST_DRAWN:
        raise InputError("heights", f"are no list of at most {MOST_DRAWN}", "Load the page again.")
    found = []
    for one in listed:
        if not isinstance(one, Mapping) or not _number(one.get("x")) or not _number(one.get("y")):
            raise InputError("a height", "has no place", mend)
        if one.get("z") is not None and not _number(one["z"]):
            raise InputError("a height", f"is {shown_name(one['z'])}", "Give a number.")
        high = one.get("z")
        found.append(
            TypedHeight(
                number=said(one.get("number", ""), 20),
                x=round(float(one["x"]), _FINE),
                y=round(float(one["y"]), _FINE),
                z=None if high is None else float(high),
                note=said(one.get("note", ""), 60),
            )
        )
    return tuple(found)


def changed_settings(given: Any, state: FolderState) -> dict[str, TomlValue | None]:
    """Settings that differ from those of the site.

    Parameters
    ----------
    given : object
        Keys and values; what is not named stays.
    state : FolderState
        The site.

    Returns
    -------
    dict
        None takes a key out.

    Raises
    ------
    InputError
        For a key that no form holds, or a value that is none.
    """
    if not isinstance(given, Mapping):
        raise InputError("settings", "are no table", "Load the page again.")
    now = settings_told(state.settings)
    changed: dict[str, TomlValue | None] = {}
    for key, value in given.items():
        if not isinstance(key, str) or not is_setting(key):
            raise InputError(said(key, 40), "is no setting that is typed here", "Write it in site.toml.")
        if is_list(key) and value is not None:
            listed = _rows(value) if key == ROWS_KEY else _listed(value, key)
            if listed != now.get(key, []):
                changed[key] = listed or None
            continue
        clean = said(value, NOTE_CAP) if isinstance(value, str) else value
        if clean is not None and not isinstance(clean, str | bool) and not _number(clean):
            raise InputError(key, f"is {shown_name(value)}", "Give a number, or a text.")
        if clean in {None, ""}:
            if key in now:
                changed[key] = None
        elif now.get(key) != clean:
            changed[key] = clean
    return changed


def _listed(value: Any, key: str) -> Any:
    """A list of texts, of numbers, or of rows of numbers; what it may say is judged as the commands judge it."""
    if isinstance(value, str):  # typed in a form that is none: told by the reader of the file
        return said(value, NOTE_CAP)
    plain = isinstance(value, list) and len(value) <= _MOST_LISTED
    if not plain or not all(
        isinstance(one, str) or _number(one) or (isinstance(one, list) and len(one) <= 4 and all(map(_number, one)))
        for one in value
    ):
        raise InputError(key, f"is {shown_name(value)}", "Give a list.")
    return [said(one, NOTE_CAP) if isinstance(one, str) else one for one in value]


class RefusedSettingError(InputError):
    """A value of a setting that no command would read.

    Parameters
    ----------
    key : str
        Of the setting.
    fault : InputError
        The reader's.
    """

    def __init__(self, key: str, fault: InputError) -> None:
        super().__init__(fault.where, fault.what, fault.mend)
        self.key = key


def refused_settings(state: FolderState, keys: Mapping[str, TomlValue | None]) -> tuple[RefusedSettingError, ...]:
    """Settings that would bring a fault into site.toml that is not there yet, in the words of the commands.

    Parameters
    ----------
    state : FolderState
        The site.
    keys : mapping
        As `changed_settings` gives them.

    Returns
    -------
    tuple of RefusedSettingError
        What a person has not given yet is no fault here, and where a picture lies is told beside it.
    """
    judged = {key: value for key, value in keys.items() if is_setting(key) and key not in PICTURE_KEYS}
    text = state.texts[SITE_FILE]
    if not judged or not _new_faults(state, text, judged):
        return ()
    found = [
        RefusedSettingError(key, fault)
        for key, value in judged.items()
        for fault in _new_faults(state, text, {key: value})[:1]
    ]
    if found:
        return tuple(found)
    return (RefusedSettingError(next(iter(judged)), _new_faults(state, text, judged)[0]),)


def _new_faults(state: FolderState, text: str, keys: Mapping[str, TomlValue | None]) -> list[InputError]:
    stood = {_told(fault) for fault in faults_of_table(state.folder, state.settings)}
    after = faults_of_table(state.folder, tomllib.loads(with_keys(text, keys, SITE_FILE)))
    return [fault for fault in after if not isinstance(fault, NotGiven) and _told(fault) not in stood]


def _told(fault: InputError) -> tuple[str, str, str]:
    return fault.where, fault.what, fault.mend


def _rows(value: Any) -> list[list[float]]:
    """Rows of column, row, easting, northing."""
    good = isinstance(value, list) and len(value) <= _MOST_ROWS
    if not good or not all(isinstance(row, list) and len(row) == 4 and all(map(_number, row)) for row in value):
        raise InputError(ROWS_KEY, "are no rows of four numbers", "Pick the points again.")
    return [[float(one) for one in row] for row in value]
