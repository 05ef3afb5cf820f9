"""The [ground] and [plat] sections of site.toml in; which files the ground comes from and how they are read out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from siteplan import units
from siteplan.books.practice import SHOT_BESIDE_GRID
from siteplan.errors import InputError, NotGiven, alike_or
from siteplan.survey.files import number_of, path_inside, said, shown_name

_FILE = "site.toml"
_RODS = ("tenths", "inches", "metres")


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundFiles:
    """Where the ground comes from. Lengths in metres.

    Attributes
    ----------
    grid, shots, levels : Path or None
        At least a grid or shots; level notes only together with shots.
    shots_accuracy, shared_accuracy : float [m]
        One standard deviation of a shot, and of what all of the ground's elevations have in common.
    order, unit, elevation_unit : str or None
        A person's answers to what a point list leaves open.
    not_ground : tuple of str or None
        Numbers of the shots that do not stand on the ground; None: told by their descriptions.
    strip : float or None
        How far to each side the ground counts as level across shots that all lie on one line [m].
    datum : str or None
        'shots': the grid is lifted onto the shots whatever the difference.
    plat_sides, plat_area, frontage_bearing
        What the plat says; see `pointlist_signs.Clues`.
    """

    grid: Path | None = None
    shots: Path | None = None
    levels: Path | None = None
    shots_accuracy: float = SHOT_BESIDE_GRID
    shared_accuracy: float = 0.0
    order: str | None = None
    unit: str | None = None
    elevation_unit: str | None = None
    not_ground: tuple[str, ...] | None = None
    strip: float | None = None
    datum: str | None = None
    rod: str | None = None
    benchmarks: tuple[tuple[str, float], ...] = ()
    plat_sides: tuple[float, ...] = ()
    plat_area: float | None = None
    frontage_bearing: float | None = None


def ground_files(
    folder: Path,
    ground: Mapping[str, object] | None,
    plat: Mapping[str, object] | None,
    length_unit: str,
    elevation_unit: str,
    accuracy: float,
    faults: list[InputError],
    notes: list[str],
) -> GroundFiles:
    """What [ground] and [plat] say.

    Parameters
    ----------
    folder : Path
        The site folder.
    ground, plat : mapping or None
        The sections; None when absent.
    length_unit, elevation_unit : str
        Of their lengths and elevations.
    accuracy : float
        What [ground] accuracy says, or its default [m].
    faults, notes : list
        Faults and assumptions are added to them.

    Returns
    -------
    GroundFiles
        Usable only when no fault was added.
    """
    if ground is None:
        return GroundFiles()
    paths = _paths(folder, ground, faults)
    length, height = units.LENGTH[length_unit], units.LENGTH[elevation_unit]
    alone = paths["shots"] is not None and paths["grid"] is None
    small = units.from_metres(5.0, elevation_unit)
    own = _number(ground, "shots_accuracy", faults, f"one standard deviation of a shot in {elevation_unit}", most=small)
    shared = _number(
        ground, "shared_accuracy", faults, f"one standard deviation in {elevation_unit}", most=small, zero=True
    )
    if own is not None and alone and "accuracy" in ground:
        notes.append("[ground] shots_accuracy holds for the shots; accuracy holds for the verdicts of the checks")
    if paths["shots"] is not None and not alone and own is None:
        notes.append(
            f"accuracy of the shots is not given: one standard deviation of {SHOT_BESIDE_GRID.typed:.2f} ft "
            f"({SHOT_BESIDE_GRID:.3f} m) is assumed; accuracy is the grid's"
        )
    shot = own * height if own is not None else accuracy if alone else SHOT_BESIDE_GRID
    strip = _number(
        ground, "strip", faults, f"a width to each side in {length_unit}", most=units.from_metres(15.0, length_unit)
    )
    sides, area, bearing = _plat(plat, length, faults)
    return GroundFiles(
        **paths,
        shots_accuracy=shot,
        shared_accuracy=(shared or 0.0) * height,
        order=_one_of(ground, "points_order", ("north-first", "east-first"), faults),
        unit=_one_of(ground, "points_unit", units.SITE_UNITS, faults),
        elevation_unit=_one_of(ground, "points_elevation_unit", units.SITE_UNITS, faults),
        not_ground=_numbers(ground, faults),
        strip=None if strip is None else strip * length,
        datum=_one_of(ground, "datum", ("shots",), faults),
        rod=_one_of(ground, "rod", _RODS, faults),
        benchmarks=_benchmarks(ground, height, faults),
        plat_sides=sides,
        plat_area=area,
        frontage_bearing=bearing,
    )


def _paths(folder: Path, ground: Mapping[str, object], faults: list[InputError]) -> dict[str, Path | None]:
    paths: dict[str, Path | None] = {"grid": None, "shots": None, "levels": None}
    for key in paths:
        if key not in ground:
            continue
        try:
            paths[key] = path_inside(folder, ground[key], f"{_FILE}, [ground] {key}")
        except InputError as fault:
            faults.append(fault)
    if "grid" not in ground and "shots" not in ground:
        if "levels" in ground:
            faults.append(
                NotGiven(
                    f"{_FILE}, [ground]",
                    "gives levels only: rod readings have heights and no places",
                    'Add shots = "shots.csv" with the northing and easting of the same points, their elevations blank.',
                )
            )
        else:
            faults.append(
                NotGiven(
                    f"{_FILE}, [ground]",
                    "names no ground: neither grid nor shots",
                    'Add grid = "ground.tif", a GeoTIFF of elevations, or shots = "shots.csv", a point list.',
                )
            )
    elif "levels" in ground and "shots" not in ground:
        faults.append(
            InputError(
                f"{_FILE}, [ground] levels",
                "has no shots beside it: rod readings have heights and no places",
                'Add shots = "shots.csv" with the northing and easting of the same points.',
            )
        )
    return paths


def _number(
    table: Mapping[str, object],
    key: str,
    faults: list[InputError],
    what: str,
    *,
    most: float,
    zero: bool = False,
    section: str = "ground",
) -> float | None:
    if key not in table:
        return None
    number = number_of(table[key])
    if number is None or not (0 < number <= most or (zero and number == 0)):
        faults.append(
            InputError(
                f"{_FILE}, [{section}] {key}",
                f"is {shown_name(table[key])}",
                f"Give {what}, above 0 and at most {most:.3g}.",
            )
        )
        return None
    return number


def _one_of(table: Mapping[str, object], key: str, allowed: tuple[str, ...], faults: list[InputError]) -> str | None:
    value = table.get(key)
    if value is None:
        return None
    if value not in allowed:
        names = " or ".join(f'"{name}"' for name in allowed)
        listed = f"Write {names}."
        offer = alike_or(str(value), allowed, listed, mark='"')
        mend = listed if offer == listed or len(allowed) == 1 else f"{listed} {offer}"
        faults.append(InputError(f"{_FILE}, [ground] {key}", f"is {shown_name(value)}", mend))
        return None
    return str(value)


def _numbers(ground: Mapping[str, object], faults: list[InputError]) -> tuple[str, ...] | None:
    value = ground.get("not_ground")
    if value is None:
        return None
    if not isinstance(value, list) or not all(
        isinstance(one, str | int) and not isinstance(one, bool) for one in value
    ):
        faults.append(
            InputError(
                f"{_FILE}, [ground] not_ground",
                f"is {shown_name(value)}, expected a list of point numbers",
                'Write not_ground = ["5", "12"].',
            )
        )
        return None
    return tuple(said(one) for one in value)


def _benchmarks(ground: Mapping[str, object], height: float, faults: list[InputError]) -> tuple[tuple[str, float], ...]:
    value = ground.get("benchmarks")
    if value is None:
        return ()
    pairs = [(said(name), number_of(one)) for name, one in value.items()] if isinstance(value, Mapping) else []
    if not pairs or any(one is None for _, one in pairs):
        faults.append(
            InputError(
                f"{_FILE}, [ground] benchmarks",
                f"is {shown_name(value)}, expected names with elevations",
                "Write benchmarks = { BM-1 = 100.00 }.",
            )
        )
        return ()
    return tuple((name, one * height) for name, one in pairs if one is not None)


def _plat(
    plat: Mapping[str, object] | None, length: float, faults: list[InputError]
) -> tuple[tuple[float, ...], float | None, float | None]:
    if plat is None:
        return (), None, None
    sides = plat.get("sides", [])
    numbers = [number_of(one) for one in sides] if isinstance(sides, list) else [None]
    if any(one is None or one <= 0 for one in numbers) or (numbers and len(numbers) < 3):
        faults.append(
            InputError(
                f"{_FILE}, [plat] sides",
                f"is {shown_name(sides)}",
                "Write the lot's sides clockwise from the frontage: sides = [60, 150, 60, 150].",
            )
        )
        numbers = []
    area = _number(plat, "area", faults, "the lot's area", most=1e7, section="plat")
    bearing = number_of(plat["frontage_bearing"]) if "frontage_bearing" in plat else None
    if "frontage_bearing" in plat and (bearing is None or not 0 <= bearing < 360):
        faults.append(
            InputError(
                f"{_FILE}, [plat] frontage_bearing",
                f"is {shown_name(plat['frontage_bearing'])}",
                "Give degrees clockwise from north, at least 0 and below 360.",
            )
        )
        bearing = None
    return (
        tuple(one * length for one in numbers if one is not None),
        None if area is None else area * length**2,
        bearing,
    )
