"""Records of feature files in.

Drawn features with a known kind, sound geometry and attributes in SI out, still in file coordinates.
"""

from __future__ import annotations

import difflib
import itertools
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from siteplan import units
from siteplan.books.hydraulics import runoff_book
from siteplan.books.kinds import OUTLET_KINDS, SHAPE_OF, SOURCE_KINDS, Kind, PlannedKind
from siteplan.books.services import SERVICES
from siteplan.errors import InputError, NotGiven, raise_gathered, read_or_gather
from siteplan.survey.files import MOST_KEYS, NOTE_CAP, number_in, number_of, said
from siteplan.survey.pump_keys import PUMP_KEYS, pump_attributes
from siteplan.survey.records import FeatureRecord, VectorFile

if TYPE_CHECKING:
    from pyproj import CRS
    from shapely.geometry.base import BaseGeometry

SITE_KINDS = tuple(SHAPE_OF)
_VEHICLES = ("car", "truck")
ATTRIBUTES = (
    "roof_area",
    "drained_area",
    "flow",
    "pump_rate",
    "invert",
    "rim",
    "tail_water",
    "diameter_in",
    "diameter_mm",
    "depth",
    "radius",
    "curb_height",
    "pit_diameter",
    "pit_depth",
    "pit_rise",
    "refill_s",
    "vehicle",
    "cover",
    "service",
    "note",
    "holes",
    "hole_spacing",
    "air_gap",
    "own_line",
    "takes",
    "refuses",
    "takes_gpm",
    "takes_lps",
    "from",
    "to",
    "inverts",
    "grade_percent",
    "pipe",
    "mode",
    *PUMP_KEYS,
)
_HEIGHTS = ("invert", "rim", "tail_water", "off_level")
_ABOVE_ZERO = (
    "roof_area",
    "drained_area",
    "flow",
    "pump_rate",
    "diameter_in",
    "diameter_mm",
    "curb_height",
    "pit_diameter",
    "pit_depth",
    "pit_rise",
    "refill_s",
    "hole_spacing",
)
_PLANNED = tuple(kind.value for kind in PlannedKind)
_NAMED = (*SOURCE_KINDS, *OUTLET_KINDS, Kind.DISCHARGE_POINT)  # kinds whose names are spoken of, each but once
_MOST_HOLES = 20
GAPS = ("open", "none")
DRAIN_MODES = ("fixed", "guide")
_STEEPEST = 100.0  # percent
_SAME_FLOW = 0.01  # share by which one flow in two units may differ
_YES, _NO = ("true", "yes", "1", "1.0"), ("false", "no", "0", "0.0")  # as tables of every sort hold them
_WORDS = {
    "Polygon": "a polygon",
    "LineString": "a line",
    "Point": "a point",
    "MultiPolygon": "several polygons",
    "MultiLineString": "several lines",
    "MultiPoint": "several points",
}
_AT = re.compile(r"^(?P<why>[^\[]+)\[(?P<x>\S+) (?P<y>\S+)\]$")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawn:
    """A feature as drawn. `crs` None: the site's own coordinates."""

    kind: str
    name: str
    geometry: BaseGeometry
    attributes: Mapping[str, Any]
    file: str
    number: int
    place: str
    crs: CRS | None


def drawn_features(
    files: Sequence[VectorFile], length_unit: str, elevation_unit: str
) -> tuple[tuple[Drawn, ...], tuple[str, ...]]:
    """What the records mean, every fault of all files gathered.

    Parameters
    ----------
    files : sequence of VectorFile
        In the order site.toml names them.
    length_unit, elevation_unit : str
        Of attributes: 'ft', 'us-ft' or 'm'.

    Returns
    -------
    tuple
        The features in the order read, and the assumptions made (names given to the nameless,
        attributes that look misspelt, what an exported plan holds beside its lines).

    Raises
    ------
    InputError, InputErrors
        For a feature without a known kind or fitting, sound geometry, an attribute that is no number,
        a name used twice among sources and outlets, not exactly one lot, or no source.
    """
    faults: list[InputError] = []
    drawn: list[Drawn] = []
    misspelt: dict[str, str] = {}
    noticed: set[object] = set()
    passed: list[str] = []
    broken: set[str] = set()  # kinds of what was told to be wrong already
    for file in files:
        planned = [record for record in file.records if record.properties.get("kind") in _PLANNED]
        if planned:
            passed.append(
                f"{file.file}: {len(planned)} things of an exported plan are passed over; its lines (drain) are read"
            )
        for record in file.records:
            if record.properties.get("kind") in _PLANNED:
                continue
            meant = read_or_gather(partial(_meaning, record, file, length_unit, elevation_unit), faults)
            if meant is None:
                broken.add(_kind_meant(record.properties.get("kind")))
            drawn += meant or ()
            for key in itertools.islice(record.properties, MOST_KEYS):
                if key not in noticed:
                    noticed.add(key)
                    _notice(key, file.file, misspelt)
    faults += _missing(drawn, broken)
    faults += _twice(drawn)
    raise_gathered(faults)
    named, notes = _named(drawn)
    return named, (*passed, *misspelt.values(), *notes)


def _kind_meant(kind: object) -> str:
    """A known kind, or the one that a misspelt one is most like; '' none."""
    said_so = str(kind).strip()
    if said_so in SITE_KINDS:
        return said_so
    near = difflib.get_close_matches(said_so.lower().replace(" ", "_")[:40], SITE_KINDS, n=1, cutoff=0.45)
    return near[0] if near else ""


def _meaning(record: FeatureRecord, file: VectorFile, length_unit: str, elevation_unit: str) -> list[Drawn]:
    """One record as one feature, or one for each part of a several-part polygon or line."""
    place = record.place
    kind = record.properties.get("kind")
    if len(record.properties) > MOST_KEYS:
        raise InputError(place, f"has {len(record.properties)} attributes", f"Keep at most {MOST_KEYS}.")
    if kind is None or (isinstance(kind, str) and not kind.strip()):
        raise InputError(place, "has no kind", f"Give one of {', '.join(SITE_KINDS)}.")
    if not isinstance(kind, str) or kind.strip() not in SITE_KINDS:
        near = _kind_meant(kind)
        mend = f"Did you mean {near}?" if near else f"Give one of {', '.join(SITE_KINDS)}."
        raise InputError(place, f'is of kind "{said(kind, 40)}", which is not known', mend)
    kind = kind.strip()
    faults: list[InputError] = []
    attributes = _attributes(record.properties, place, length_unit, elevation_unit, faults)
    parts: list[BaseGeometry] = []
    try:
        parts = _parts(record.geometry, kind, place)
    except InputError as fault:
        faults.append(fault)
    raise_gathered(faults)
    name = record.properties.get("name")
    called = said(name) if isinstance(name, str | int | float) and not isinstance(name, bool) else ""
    several = len(parts) > 1
    return [
        Drawn(
            kind=kind,
            name=f"{called or kind.replace('_', ' ')} {count}" if several else called,
            geometry=part,
            attributes=MappingProxyType(attributes),
            file=file.file,
            number=record.number,
            place=place,
            crs=file.crs,
        )
        for count, part in enumerate(parts, 1)
    ]


def _parts(geometry: BaseGeometry | None, kind: str, place: str) -> list[BaseGeometry]:
    """The sound parts of a geometry that fits the kind."""
    wanted = SHAPE_OF[kind]
    if geometry is None or geometry.is_empty:
        raise InputError(
            place, f"is {units.with_article(kind)} without geometry", f"Draw it as {_WORDS[wanted]}, or take it out."
        )
    parts = list(getattr(geometry, "geoms", [geometry]))
    if any(part.geom_type != wanted for part in parts):
        raise InputError(
            place,
            f"is {units.with_article(kind)} drawn as {_WORDS.get(geometry.geom_type, 'a mixture')}",
            f"Draw it as {_WORDS[wanted]}.",
        )
    if len(parts) > 1 and (wanted == "Point" or kind == "lot"):
        raise InputError(
            place,
            f"is one {kind} in {len(parts)} parts",
            f"Draw {'the one lot of this plan' if kind == 'lot' else 'each as a feature of its own'}.",
        )
    for part in parts:
        _sound(part, kind, place)
    return parts


def _sound(part: BaseGeometry, kind: str, place: str) -> None:
    import shapely

    if not part.is_valid:
        why = str(shapely.is_valid_reason(part))
        at = _AT.match(why)
        if why.startswith("Too few points"):
            raise InputError(place, f"is {units.with_article(kind)} with too few different corners", "Draw it again.")
        if at:
            x, y = (_coordinate(at[axis]) for axis in ("x", "y"))
            what = (
                "crosses or touches itself"
                if "ntersection" in at["why"]
                else f"is unsound ({at['why'].strip().lower()})"
            )
            raise InputError(
                place,
                f"is {units.with_article(kind)} that {what} at {x}, {y} (coordinates of the file)",
                "Move the corner there.",
            )
        raise InputError(
            place, f"is {units.with_article(kind)} that is unsound ({said(why, 80).lower()})", "Draw it again."
        )
    if part.geom_type == "Polygon" and not part.area > 0:
        raise InputError(place, f"is {units.with_article(kind)} without area", "Draw its corners apart.")
    if part.geom_type == "LineString" and not part.length > 0:
        raise InputError(place, f"is {units.with_article(kind)} without length", "Draw its ends apart.")


def _coordinate(text: str) -> str:
    try:
        value = float(text)
    except ValueError:
        return said(text, 24)
    return f"{value:.6f}" if abs(value) <= 180 else f"{value:.2f}"


def _attributes(
    properties: Mapping[str, Any], place: str, length_unit: str, elevation_unit: str, faults: list[InputError]
) -> dict[str, Any]:
    """Attributes that are present, in SI under the contract's names; a diameter in either unit becomes `diameter`."""
    length, height = units.LENGTH[length_unit], units.LENGTH[elevation_unit]
    pump = units.FLOW["lps" if length_unit == "m" else "gpm"]
    factors = {
        **dict.fromkeys(("roof_area", "drained_area"), length**2),
        **dict.fromkeys(("pump_rate", "flow"), pump),
        **dict.fromkeys(_HEIGHTS, height),
        **dict.fromkeys(("curb_height", "hole_spacing", "pit_diameter", "pit_depth", "pit_rise"), length),
        "refill_s": 1.0,
        "diameter_in": units.INCH,
        "diameter_mm": units.MILLIMETRE,
        "depth": length,
        "radius": length,
        "holes": 1.0,
        "takes_gpm": units.FLOW["gpm"],
        "takes_lps": units.FLOW["lps"],
    }
    found: dict[str, Any] = {}
    for key, factor in factors.items():
        if _absent(properties.get(key)):
            continue
        number = _number(properties[key])
        if number is None:
            faults.append(
                InputError(
                    f"{place}, {key}", f'is "{said(properties[key], 40)}"', "Give a plain number, or leave it out."
                )
            )
        elif key not in _HEIGHTS and (number < 0 or (number == 0 and key in _ABOVE_ZERO)):
            faults.append(InputError(f"{place}, {key}", f"is {number:g}", "Give a number above 0, or leave it out."))
        else:
            found[key] = number * factor
    diameters = [found.pop(key) for key in ("diameter_in", "diameter_mm") if key in found]
    if len(diameters) == 2 and not math.isclose(*diameters, rel_tol=0.03):
        faults.append(
            InputError(
                place,
                f"has two diameters, {diameters[0] / units.INCH:g} in and {diameters[1] / units.MILLIMETRE:g} mm",
                "Keep one.",
            )
        )
    if diameters:
        found["diameter"] = diameters[0]
    flows = [found.pop(key) for key in ("takes_gpm", "takes_lps") if key in found]
    if len(flows) == 2 and not math.isclose(*flows, rel_tol=_SAME_FLOW):
        faults.append(
            InputError(place, "says what it can still take twice, in takes_gpm and in takes_lps", "Keep one.")
        )
    if flows:
        found["takes_flow"] = flows[0]
    holes = found.get("holes", 1)
    if holes not in range(1, _MOST_HOLES + 1):
        mend = f"Give how many holes go through the curb, a whole number from 1 to {_MOST_HOLES}."
        faults.append(InputError(f"{place}, holes", f"is {holes:g}", mend))
    covers = tuple(entry.cover for entry in runoff_book())
    services = tuple(entry.word for entry in SERVICES)
    for key, offered, mend in (
        ("vehicle", _VEHICLES, "Write car or truck."),
        ("cover", covers, f"Give one of {', '.join(covers)}."),
        ("service", services, f"Give one of {', '.join(services)}."),
        ("air_gap", GAPS, "Write open, or none where the pump's pipe is joined without a gap."),
    ):
        value = properties.get(key)
        if _absent(value):
            continue
        if isinstance(value, str) and value.strip() in offered:
            found[key] = value.strip()
        else:
            faults.append(InputError(f"{place}, {key}", f'is "{said(value, 40)}"', mend))
    found |= _sharing(properties, place, faults)
    found |= pump_attributes(properties, place, length_unit, faults)
    found |= _as_drawn(properties, place, height, faults)
    found |= _mark(properties, place, height, faults)
    note = properties.get("note")
    if not _absent(note):
        found["note"] = said(note, NOTE_CAP)
    return found


def _mark(properties: Mapping[str, Any], place: str, height: float, faults: list[InputError]) -> dict[str, Any]:
    """What a benchmark says: its elevation and the datum that it stands in.

    Other features' words of that name are not read.
    """
    found: dict[str, Any] = {}
    if str(properties.get("kind")).strip() != Kind.BENCHMARK:
        return found
    if not _absent(properties.get("elevation")):
        number = _number(properties["elevation"])
        if number is None:
            what = f'is "{said(properties["elevation"], 40)}"'
            faults.append(InputError(f"{place}, elevation", what, "Give a plain number, or leave it out."))
        else:
            found["elevation"] = number * height
    if not _absent(properties.get("datum")):
        found["datum"] = said(properties["datum"], NOTE_CAP)
    return found


def _sharing(properties: Mapping[str, Any], place: str, faults: list[InputError]) -> dict[str, Any]:
    """What a source or outlet says of sharing: a line of its own, the kinds of source it takes or refuses."""
    found: dict[str, Any] = {}
    own = properties.get("own_line")
    if not _absent(own):
        typed = str(own).strip().lower()
        if typed in _YES or typed in _NO:
            found["own_line"] = typed in _YES
        else:
            faults.append(InputError(f"{place}, own_line", f'is "{said(own, 40)}"', "Write true or false."))
    for key in ("takes", "refuses"):
        if not _absent(properties.get(key)):
            found[key] = _source_kinds(properties[key], f"{place}, {key}", faults)
    return found


def _as_drawn(properties: Mapping[str, Any], place: str, height: float, faults: list[InputError]) -> dict[str, Any]:
    """What a line of one's own says.

    Its ends, its inverts or its grade, its pipe, and whether it is fixed or a guide.
    """
    found: dict[str, Any] = {
        key: said(properties[key], 120) for key in ("from", "to", "pipe") if not _absent(properties.get(key))
    }
    if not _absent(properties.get("mode")):
        found["mode"] = said(properties["mode"], 20)
        if found["mode"] not in DRAIN_MODES:
            faults.append(InputError(f"{place}, mode", f'is "{found["mode"]}"', f"Write {' or '.join(DRAIN_MODES)}."))
    if not _absent(properties.get("grade_percent")):
        grade = _number(properties["grade_percent"])
        if grade is None or not 0 < grade <= _STEEPEST:
            faults.append(
                InputError(
                    f"{place}, grade_percent",
                    f'is "{said(properties["grade_percent"], 40)}"',
                    f"Give percent, above 0 to {_STEEPEST:g}.",
                )
            )
        else:
            found["grade"] = grade / 100
    listed = properties.get("inverts")
    if not _absent(listed):
        cells: list[Any] = (
            listed.strip().strip("[]").split(",")
            if isinstance(listed, str)
            else list(listed)
            if isinstance(listed, list | tuple)
            else []
        )
        numbers = [_number(one) for one in cells[:MOST_KEYS]]
        if not numbers or None in numbers or len(cells) > MOST_KEYS:
            faults.append(
                InputError(
                    f"{place}, inverts",
                    f'is "{said(listed, 40)}"',
                    "List one elevation for each corner, upstream to downstream.",
                )
            )
        else:
            found["inverts"] = tuple(number * height for number in numbers if number is not None)
    if "inverts" in found and "grade" in found:
        faults.append(InputError(place, "gives both inverts and grade_percent", "Keep one of the two."))
    return found


def _source_kinds(value: object, place: str, faults: list[InputError]) -> tuple[str, ...]:
    """Kinds of source, as a list or as text with commas between them.

    Tables hold lists as such text, perhaps in brackets.
    """
    listed = value.strip().strip("[]").split(",") if isinstance(value, str) else value
    if not isinstance(listed, list | tuple) or len(listed) > MOST_KEYS:
        faults.append(InputError(place, f'is "{said(value, 40)}"', f"List kinds of source: {', '.join(SOURCE_KINDS)}."))
        return ()
    kinds = tuple(str(one).strip().strip("\"'").strip() for one in listed)
    for kind in (one for one in kinds if one not in SOURCE_KINDS):
        near = difflib.get_close_matches(kind[:40], SOURCE_KINDS, n=1, cutoff=0.45)
        mend = f"Did you mean {near[0]}?" if near else f"Give kinds of source: {', '.join(SOURCE_KINDS)}."
        faults.append(InputError(place, f'names "{said(kind, 40)}", which is no kind of source', mend))
    return kinds


def _absent(value: object) -> bool:
    return (
        value is None
        or (isinstance(value, str) and not value.strip())
        or (isinstance(value, float) and math.isnan(value))
    )


def _number(value: object) -> float | None:
    """A number, or text that is nothing but one; CSV and many tables hold numbers as text."""
    if isinstance(value, str):
        return number_in(value)
    return number_of(value)


def _notice(key: object, file: str, misspelt: dict[str, str]) -> None:
    text = str(key)[:40]
    if text in ATTRIBUTES or text in {"kind", "name"} or text in misspelt:
        return
    near = difflib.get_close_matches(
        text.lower().replace(" ", "_"), [name for name in ATTRIBUTES if name != "note"], n=1, cutoff=0.8
    )
    if near:
        misspelt[text] = f'{file}: attribute "{said(text)}" is not read; {near[0]} would be'


def _missing(drawn: Sequence[Drawn], broken: set[str]) -> list[InputError]:
    """The lot and a source must be there; what is there but broken has been told already."""
    where = "site.toml, [features] files"
    faults: list[InputError] = []
    lots = [feature for feature in drawn if feature.kind == "lot"]
    if not lots and "lot" not in broken:
        faults.append(NotGiven(where, "hold no lot", "Draw the lot as one polygon of kind lot."))
    if len(lots) > 1:
        faults.append(
            InputError(
                lots[1].place,
                f"is a second lot; the first is {lots[0].place}",
                "Keep the one lot of this plan; the others may be of kind neighbour.",
            )
        )
    if not any(feature.kind in SOURCE_KINDS for feature in drawn) and not broken.intersection(SOURCE_KINDS):
        faults.append(
            NotGiven(where, f"hold no source of water ({', '.join(SOURCE_KINDS)})", "Mark at least one point.")
        )
    return faults


def _twice(drawn: Sequence[Drawn]) -> list[InputError]:
    first: dict[str, Drawn] = {}
    faults = []
    for feature in drawn:
        if feature.kind not in _NAMED or not feature.name:
            continue
        other = first.setdefault(feature.name.casefold(), feature)
        if other is not feature:
            faults.append(
                InputError(
                    feature.place,
                    f"has the same name as {other.place}",
                    "Give each source and outlet a name of its own.",
                )
            )
    return faults


def _named(drawn: Sequence[Drawn]) -> tuple[tuple[Drawn, ...], tuple[str, ...]]:
    """Names for the sources and outlets that have none, none of them used already."""
    taken = {feature.name.casefold() for feature in drawn}
    counts: dict[str, int] = {}
    named, notes = [], []
    for feature in drawn:
        if feature.name or feature.kind not in _NAMED:
            named.append(feature)
            continue
        stem = feature.kind.replace("_", " ")
        name = ""
        while not name or name in taken:
            counts[stem] = counts.get(stem, 0) + 1
            name = f"{stem} {counts[stem]}"
        taken.add(name)
        named.append(replace(feature, name=name))
        notes.append(f'{feature.place} has no name; it is called "{name}" here')
    return tuple(named), tuple(notes)
