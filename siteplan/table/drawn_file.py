"""The text of a GeoJSON file in.

Its features, each with the text that it stands in, and the text with features changed out.

What nobody changed keeps its own bytes: a saved drawing differs from the old one in the features that were moved.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from siteplan.errors import InputError
from siteplan.survey.files import MOST_FIGURE, said

_BLANK = " \t\r\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnItem:
    """One feature of a file: its value, and the text that stands for it there, with the blanks before it."""

    value: Mapping[str, Any]
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnFile:
    """A GeoJSON file taken apart: what stands before its features, they, and what stands after them."""

    head: str
    items: tuple[DrawnItem, ...]
    tail: str
    crs: Mapping[str, Any] | None  # the file's own crs member


def new_file(crs: str | None) -> DrawnFile:
    """A file without features.

    Parameters
    ----------
    crs : str or None
        Name of the system that its coordinates stand in; None for plain site coordinates.

    Returns
    -------
    DrawnFile
    """
    member = None if crs is None else {"type": "name", "properties": {"name": crs}}
    told = "" if member is None else f'"crs": {_line(member)},\n'
    return DrawnFile(head=f'{{"type": "FeatureCollection",\n{told}"features": [', items=(), tail="\n]}\n", crs=member)


def taken_apart(text: str, shown: str) -> DrawnFile:
    """A GeoJSON file as its parts.

    Parameters
    ----------
    text : str
        All of it.
    shown : str
        Name in messages.

    Returns
    -------
    DrawnFile
        `put_together` gives the same text again.

    Raises
    ------
    InputError
        If it is no collection of features.
    """
    mend = "Save it again as a GeoJSON FeatureCollection, or take it off [features] files."
    try:
        data = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(shown, f"is no JSON: {said(error, 120)}", mend) from error
    if not isinstance(data, dict) or not isinstance(data.get("features"), list):
        raise InputError(shown, "holds no list of features", mend)
    start = _list_at(text)
    if start is None:
        raise InputError(shown, "holds its list of features where it cannot be found", mend)
    decoder = json.JSONDecoder()
    items: list[DrawnItem] = []
    since = start + 1
    at = _past(text, since)
    while text[at] != "]":
        value, end = decoder.raw_decode(text, at)
        if not isinstance(value, dict):
            raise InputError(shown, f"holds {said(value, 40)} where a feature should be", mend)
        items.append(DrawnItem(value=value, text=text[since:end]))
        at = _past(text, end)
        since = at + 1 if text[at] == "," else end
        at = _past(text, since)
    crs = data.get("crs")
    return DrawnFile(
        head=text[: start + 1], items=tuple(items), tail=text[since:], crs=crs if isinstance(crs, dict) else None
    )


def _list_at(text: str) -> int | None:
    """Where the collection's own list of features opens: the member stands one level deep."""
    decoder = json.JSONDecoder()
    at = _past(text, _past(text, 0) + 1)
    while text[at] == '"':
        name, end = decoder.raw_decode(text, at)
        at = _past(text, end)
        at = _past(text, at + 1)  # the colon
        if name == "features":
            return at
        _, end = decoder.raw_decode(text, at)
        at = _past(text, end)
        if text[at] != ",":
            return None
        at = _past(text, at + 1)
    return None


def _past(text: str, at: int) -> int:
    while text[at] in _BLANK:
        at += 1
    return at


def put_together(file: DrawnFile) -> str:
    """The text of a file, a feature a line.

    Parameters
    ----------
    file : DrawnFile
        Its parts.

    Returns
    -------
    str
    """
    return f"{file.head}{','.join(item.text for item in file.items)}{file.tail}"


def item_of(value: Mapping[str, Any]) -> DrawnItem:
    """A feature with the text that it will stand in.

    Parameters
    ----------
    value : mapping
        A GeoJSON feature.

    Returns
    -------
    DrawnItem
        Its numbers are finite and of a size that a site has.

    Raises
    ------
    ValueError
        For a number that is not.
    """
    return DrawnItem(value=value, text=f"\n{_line(value)}")


def _line(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def feature_value(properties: Mapping[str, Any], shape: str, places: Sequence[Sequence[float]]) -> dict[str, Any]:
    """A GeoJSON feature.

    Parameters
    ----------
    properties : mapping
        Kind, name and attributes.
    shape : str
        'Point', 'LineString' or 'Polygon'.
    places : sequence of pairs
        A polygon's corners once each, not closed.

    Returns
    -------
    dict
    """
    listed: list[Any] = [[_plain(x), _plain(y)] for x, y in places]
    coordinates = listed[0] if shape == "Point" else [[*listed, listed[0]]] if shape == "Polygon" else listed
    return {
        "type": "Feature",
        "properties": dict(properties),
        "geometry": {"type": shape, "coordinates": coordinates},
    }


def _plain(value: float) -> float:
    if not abs(value) <= MOST_FIGURE:
        raise ValueError(f"{value!r} is no coordinate")
    return value + 0.0


def places_of(value: Mapping[str, Any]) -> tuple[str, list[list[float]]] | None:
    """The shape and corners of a feature that can be drawn by hand.

    Parameters
    ----------
    value : mapping
        A GeoJSON feature.

    Returns
    -------
    tuple or None
        A polygon's corners once each; None for several parts, holes and what is no geometry.
    """
    geometry = value.get("geometry")
    if not isinstance(geometry, Mapping):
        return None
    shape, given = geometry.get("type"), geometry.get("coordinates")
    if shape == "Polygon" and isinstance(given, list) and len(given) == 1:
        given = given[0][:-1] if isinstance(given[0], list) else None
    elif shape == "Point":
        given = [given]
    elif shape != "LineString":
        return None
    if not isinstance(given, list) or not given:
        return None
    try:
        places = [[float(one[0]), float(one[1])] for one in given]
    except (TypeError, ValueError, IndexError, KeyError):
        return None
    return (str(shape), places) if all(abs(v) <= MOST_FIGURE for one in places for v in one) else None
