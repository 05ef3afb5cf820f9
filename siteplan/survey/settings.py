"""site.toml in; Settings out: units declared, file names checked, rain and accuracy in SI, rules in force."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from siteplan import units
from siteplan.books.practice import SOIL_SHOT
from siteplan.books.profiles import RuleProfile, rules_in_force
from siteplan.books.rules import RuleBook, rule_book
from siteplan.errors import InputError, InputErrors, NotGiven, raise_gathered, read_or_gather
from siteplan.site import Laying, Rain, Sizing
from siteplan.survey.files import MOST_KEYS, NOTE_CAP, most_keys, number_of, path_inside, said, shown_name, text_of
from siteplan.survey.ground_settings import GroundFiles, ground_files
from siteplan.survey.laying import SECTIONS, laying_of
from siteplan.survey.plat_image import PlatImage, plat_image
from siteplan.survey.profile_file import site_profile
from siteplan.survey.rainfall import read_rain_table, read_sizing
from siteplan.survey.site_keys import keys_of
from siteplan.survey.unit_prices import read_unit_prices
from siteplan.survey.what_if import asked_of_rules, laid_over, told_of_settings
from siteplan.values.asked_for import NOTHING_ASKED, WhatIf

SITE_FILE = "site.toml"
MOST_CONFIRMED = 1000

_SECTIONS = ("ground", "plat", "features", "rainfall", "water")  # those whose keys are looked through here
_KEYS: dict[str, tuple[str, ...]] = {
    "": (*keys_of(""), *_SECTIONS, "rules", *(one for one in SECTIONS if one not in keys_of(""))),
    **{section: keys_of(section) for section in _SECTIONS},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What site.toml says."""

    name: str
    crs: str  # 'local' or text for pyproj
    length_unit: str
    elevation_unit: str
    ground: GroundFiles
    accuracy: float  # [m]
    features: tuple[Path, ...]
    rainfall: float | None  # the intensity that sizes are chosen for [m/s]
    rain: Rain
    sizing: Sizing
    rules: RuleBook
    laying: Laying
    confirm_units: bool
    confirmed: tuple[str, ...]  # questions about single figures that a person answered with yes
    note: str
    assumptions: tuple[str, ...]
    price_file: Path | None = None
    plat_image: PlatImage | None = None  # to draw over; never read as data
    profile: Path | None = None  # the jurisdiction's rules, under the site's own


def read_settings(folder: Path, asked: WhatIf = NOTHING_ASKED) -> Settings:
    """What the site folder's site.toml says, every fault of it gathered.

    Parameters
    ----------
    folder : Path
        The site folder.
    asked : WhatIf
        Settings laid over the file's own.

    Returns
    -------
    Settings
        Lengths in metres, rain in m/s.

    Raises
    ------
    InputError, InputErrors
        If the folder or file is missing, is no TOML, or a key is missing, unknown or of the wrong kind.
    """
    if not asked.settings:
        return _read(folder, _table(folder))
    try:
        found = _read(folder, laid_over(_table(folder), asked))
        return replace(found, rules=asked_of_rules(found.rules, asked))
    except (InputError, InputErrors) as error:
        raise told_of_settings(error, asked) from error


def settings_with_faults(folder: Path) -> tuple[Settings, tuple[InputError, ...]]:
    """What site.toml says as far as it can be read, and every fault of it: for who tells all that a folder lacks.

    Parameters
    ----------
    folder : Path
        The site folder.

    Returns
    -------
    tuple of Settings and tuple of InputError
        A unit that is not declared is 'm' there, a system that is not named ''.

    Raises
    ------
    InputError
        If the folder or file is missing or is no TOML.
    """
    faults: list[InputError] = []
    return _gathered(folder, _table(folder), faults), tuple(faults)


def faults_of_table(folder: Path, data: Mapping[str, Any]) -> tuple[InputError, ...]:
    """What is wrong with a table of settings that is not written yet.

    Parameters
    ----------
    folder : Path
        The site folder, whose files it may name.
    data : mapping
        As site.toml would hold it.

    Returns
    -------
    tuple of InputError
        In the words of the commands; a system of coordinates that is none is among them.
    """
    from siteplan.survey.frame import crs_of

    faults: list[InputError] = []
    found = _gathered(folder, data, faults)
    if found.crs not in {"", "local"}:
        read_or_gather(partial(crs_of, found.crs, f"{SITE_FILE}, crs"), faults)
    return tuple(faults)


def told_keys(folder: Path) -> frozenset[tuple[str, str]]:
    """Keys that site.toml gives.

    Parameters
    ----------
    folder : Path
        The site folder.

    Returns
    -------
    frozenset of (str, str)
        Section, '' for the head of the file, and key.

    Raises
    ------
    InputError
        If the folder or file is missing or is no TOML.
    """
    data = _table(folder)
    return frozenset(
        pair
        for name, value in data.items()
        for pair in ([(name, key) for key in value] if isinstance(value, Mapping) else [("", name)])
    )


def _read(folder: Path, data: Mapping[str, Any]) -> Settings:
    faults: list[InputError] = []
    found = _gathered(folder, data, faults)
    raise_gathered(faults)
    return found


def _gathered(folder: Path, data: Mapping[str, Any], faults: list[InputError]) -> Settings:
    notes: list[str] = []
    faults += _unknown_keys(data)
    length_unit = _unit(data, "length_unit", faults)
    elevation_unit = _unit(data, "elevation_unit", faults)
    name = _text(data, "name", "Give the lot a name.", faults)
    crs = _text(
        data, "crs", 'Write an EPSG code such as "EPSG:6539", or "local" for plain site coordinates.', faults, cap=4000
    )
    ground = _section(data, "ground", faults, needed='Add [ground] with grid = "ground.tif" or shots = "shots.csv".')
    features = _section(data, "features", faults, needed='Add [features] with files = ["features.geojson"].')
    rain = _section(data, "rainfall", faults)
    accuracy = _accuracy(ground, elevation_unit, faults, notes)
    plat = _section(data, "plat", faults)
    sources = ground_files(folder, ground, plat, length_unit, elevation_unit, accuracy, faults, notes)
    underlay = plat_image(folder, plat, faults)
    files = _files(folder, features, faults)
    rainfall, rained = read_rain_table(rain, length_unit, faults, notes)
    profile_path, profile = site_profile(folder, data, SITE_FILE, faults, notes)
    rules = _rules(data, faults, profile, length_unit)
    laying = laying_of(data, faults)
    unit_prices, price_file = read_unit_prices(folder, data, faults)
    sizing = read_sizing(_section(data, "water", faults), faults, laying.own_pipes)
    confirm = data.get("confirm_units", False)
    if not isinstance(confirm, bool):
        faults.append(InputError(f"{SITE_FILE}, confirm_units", f"is {shown_name(confirm)}", "Write true or false."))
    confirmed = _confirmed(data, faults)
    note = data.get("note", "")
    if not isinstance(note, str):
        faults.append(InputError(f"{SITE_FILE}, note", f"is {shown_name(note)}, expected text", "Write it in quotes."))
    return Settings(
        name=name,
        crs="local" if crs.lower() == "local" else crs,
        length_unit=length_unit,
        elevation_unit=elevation_unit,
        ground=sources,
        accuracy=accuracy,
        features=files,
        rainfall=rainfall,
        rain=rained,
        sizing=sizing,
        rules=rules,
        laying=replace(laying, unit_prices=unit_prices),
        price_file=price_file,
        plat_image=underlay,
        confirm_units=bool(confirm),
        confirmed=confirmed,
        note=said(note, NOTE_CAP),
        assumptions=tuple(notes),
        profile=profile_path,
    )


def _table(folder: Path) -> dict[str, Any]:
    if not folder.is_dir():
        kind = "is no folder" if folder.exists() else "no such folder"
        raise InputError(said(folder, 200), kind, f"Name a folder that holds {SITE_FILE}.")
    path = folder / SITE_FILE
    if not path.is_file():
        raise InputError(said(folder, 200), f"holds no {SITE_FILE}", "Name a site folder, or write the file.")
    text = text_of(path, SITE_FILE)
    try:
        data = tomllib.loads(text)
    except RecursionError as error:
        raise InputError(SITE_FILE, "is nested too deep to be read", "Write plain keys and values.") from error
    except ValueError as error:
        raise InputError(SITE_FILE, f"is no TOML: {said(error, 160)}", "Correct that line.") from error
    most = most_keys(data)
    if most > MOST_KEYS:
        raise InputError(SITE_FILE, f"has a table or list of {most} entries", f"Keep to {MOST_KEYS} in one place.")
    return data


def _unknown_keys(data: Mapping[str, Any]) -> list[InputError]:
    places = {key: f"[{section}] {key}" if section else key for section, keys in _KEYS.items() for key in keys}
    faults = []
    for section, known in _KEYS.items():
        table = data if not section else data.get(section)
        if not isinstance(table, Mapping):
            continue
        for key in table:
            if key in known:
                continue
            called = {one: f"[{one}]" if not section and one in _KEYS else one for one in known}
            near = difflib.get_close_matches(key, known, n=1)
            far = [] if near else difflib.get_close_matches(key, places, n=1)
            mend = (
                f"Did you mean {called[near[0]] if near else places[far[0]]}?"
                if near or far
                else (f"Known here are {', '.join(called.values())}.")
            )
            place = f"{SITE_FILE}, [{section}] {said(key)}" if section else f"{SITE_FILE}, {said(key)}"
            faults.append(InputError(place, "is not known here", mend))
    return faults


def _text(data: Mapping[str, Any], key: str, mend: str, faults: list[InputError], cap: int = 120) -> str:
    value = data.get(key)
    if value is None:
        faults.append(NotGiven(f"{SITE_FILE}, {key}", "is missing", mend, key=key))
    elif not isinstance(value, str):
        faults.append(InputError(f"{SITE_FILE}, {key}", f"is {shown_name(value)}, expected text", mend))
    elif not said(value, cap):
        faults.append(InputError(f"{SITE_FILE}, {key}", "is empty", mend))
    else:
        return said(value, cap)
    return ""


def _unit(data: Mapping[str, Any], key: str, faults: list[InputError]) -> str:
    value = data.get(key)
    of = "lengths and attributes" if key == "length_unit" else "every elevation"
    if value is None:
        faults.append(
            NotGiven(
                f"{SITE_FILE}, {key}",
                "is missing; a unit is declared, never guessed",
                f'Write "ft", "us-ft" or "m", the unit of {of}.',
                key=key,
            )
        )
        return "m"
    if value not in units.SITE_UNITS:
        faults.append(
            InputError(f"{SITE_FILE}, {key}", f"is {shown_name(value)}", 'Write "ft", "us-ft" (US survey foot) or "m".')
        )
        return "m"
    return str(value)


def _section(data: Mapping[str, Any], key: str, faults: list[InputError], needed: str = "") -> Mapping[str, Any] | None:
    value = data.get(key)
    if value is None:
        if needed:
            faults.append(NotGiven(f"{SITE_FILE}, [{key}]", "is missing", needed, key=key))
        return None
    if not isinstance(value, Mapping):
        faults.append(
            InputError(
                f"{SITE_FILE}, {key}",
                f"is {shown_name(value)}, expected a section",
                f"Write [{key}] and its keys below it.",
            )
        )
        return None
    return value


def _accuracy(ground: Mapping[str, Any] | None, unit: str, faults: list[InputError], notes: list[str]) -> float:
    default = float(SOIL_SHOT)
    if ground is None:
        return default
    if "accuracy" not in ground:
        notes.append(
            f"accuracy of the ground is not given: one standard deviation of {SOIL_SHOT.typed:.2f} ft "
            f"({default:.3f} m) is assumed"
        )
        return default
    number = number_of(ground["accuracy"])
    most = units.from_metres(5.0, unit)  # worse than any ground model: a slipped digit
    if number is None or not 0 < number <= most:
        mend = f"Give one standard deviation of an elevation in {unit}, above 0 and at most {most:.3g}."
        faults.append(InputError(f"{SITE_FILE}, [ground] accuracy", f"is {shown_name(ground['accuracy'])}", mend))
        return default
    return units.to_metres(number, unit)


def _files(folder: Path, features: Mapping[str, Any] | None, faults: list[InputError]) -> tuple[Path, ...]:
    if features is None:
        return ()
    where = f"{SITE_FILE}, [features] files"
    names = features.get("files")
    if not isinstance(names, list) or not names:
        what = "is missing" if names is None else f"is {shown_name(names)}, expected a list of file names"
        fault = NotGiven if names in (None, []) else InputError
        faults.append(fault(where, what, 'Write files = ["features.geojson"].'))
        return ()
    paths: list[Path] = []
    for name in names:
        try:
            path = path_inside(folder, name, where)
        except InputError as fault:
            faults.append(fault)
            continue
        if any(path.samefile(other) for other in paths):
            faults.append(InputError(where, f'names "{said(name)}" twice', "Keep it once."))
            continue
        paths.append(path)
    return tuple(paths)


def _confirmed(data: Mapping[str, Any], faults: list[InputError]) -> tuple[str, ...]:
    value = data.get("confirm", [])
    if not isinstance(value, list) or not all(isinstance(one, str) for one in value) or len(value) > MOST_CONFIRMED:
        mend = 'Write what the question said, in a list: confirm = ["DS-1, roof_area"].'
        faults.append(InputError(f"{SITE_FILE}, confirm", f"is {shown_name(value)}, expected a list of texts", mend))
        return ()
    return tuple(said(one, 160) for one in value)


def _rules(
    data: Mapping[str, Any], faults: list[InputError], profile: RuleProfile | None, length_unit: str
) -> RuleBook:
    overrides = _section(data, "rules", faults)
    try:
        return rules_in_force(overrides or {}, SITE_FILE, profile, length_unit)
    except InputErrors as several:
        faults += several.faults
    except InputError as fault:
        faults.append(fault)
    except OverflowError:
        faults.append(
            InputError(f"{SITE_FILE}, [rules]", "holds a number too large to be used", "Give a sensible limit.")
        )
    return rule_book({}, SITE_FILE)
