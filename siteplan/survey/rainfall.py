"""The [rainfall] and [water] tables of site.toml in; the rain and what sizes are held to, in SI, out."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from typing import Any, NamedTuple

from siteplan import units
from siteplan.books import pipes
from siteplan.books.hydraulics import COLEBROOK, LEAST_KB, MOST_KB, USUAL_KB, code_tables
from siteplan.books.practice import ROOF_ANSWERS
from siteplan.errors import InputError
from siteplan.site import Rain, Sizing
from siteplan.survey.files import NOTE_CAP, number_of, said, shown_name

_FILE = "site.toml"
_MINUTE = 60.0
HARDEST = 800 * units.RAIN["mm/h"]  # no rain of minutes is harder; near the records of the world, from memory
_ROUND = 1e-6


class _Units(NamedTuple):
    """How intensities are written in this site."""

    name: str
    factor: float  # to m/s


def read_rain_table(
    rain: Mapping[str, Any] | None, length_unit: str, faults: list[InputError], notes: list[str]
) -> tuple[float | None, Rain]:
    """The rain as the site gives it, and the intensity that sizes are chosen for.

    Parameters
    ----------
    rain : mapping or None
        The [rainfall] table.
    length_unit : str
        'ft' and 'us-ft' write inches an hour, 'm' millimetres an hour.
    faults : list of InputError
        What is wrong is added here.
    notes : list of str
        What is assumed is added here.

    Returns
    -------
    tuple
        Intensity [m/s], None when not given or not usable; and the rain.

    References
    ----------
    Log-log between two durations of a table, never beyond its ends (common practice, no source). A duration that a site
    asks for and its table does not hold is a fault; where nobody asked and the table does not hold the usual 5 minutes
    its nearest row is taken, and `Rain.wanted` tells so: `checks.carrying.rain_duration` flags it.
    """
    unit = _Units("mm/h", units.RAIN["mm/h"]) if length_unit == "m" else _Units("in/h", units.RAIN["in/h"])
    if rain is None or not rain:
        notes.append("no rainfall is given: what the downspouts carry is not known")
        return None, Rain()
    if "intensity" in rain and "table" in rain:
        faults.append(InputError(f"{_FILE}, [rainfall]", "gives both intensity and table", "Keep one of the two."))
        return None, Rain()
    asked = _above_zero(rain, "duration", "minutes", faults)
    depths = _gives_depths(rain, unit, faults)
    base = Rain(
        source=_source(rain, faults),
        years=_above_zero(rain, "years", "years", faults),
        series=_pairs(rain, "series", unit, faults, dry=True),
    )
    if "table" in rain:
        if depths is None and _like_depths(rain["table"], unit):
            faults.append(_depths_or_intensities(rain["table"], unit))
            return None, base
        given = _as_intensities(rain["table"]) if depths else rain["table"]
        table = _pairs({"table": given}, "table", unit, faults, falling=True)
        return _of_table(table, asked, base, faults) if table else (None, base)
    if "intensity" not in rain:
        if base.series or "duration" in rain or "source" in rain or "years" in rain:
            notes.append("no rainfall intensity is given: what the downspouts carry is not known")
        return None, base  # an unknown key has been reported as such
    return _of_one(rain["intensity"], asked, base, unit, faults)


def _of_one(
    given: object, asked: float | None, base: Rain, unit: _Units, faults: list[InputError]
) -> tuple[float | None, Rain]:
    number = number_of(given)
    if number is None or number <= 0:
        faults.append(
            InputError(
                f"{_FILE}, [rainfall] intensity",
                f"is {shown_name(given)}",
                f"Give a number above 0, in {unit.name}.",
            )
        )
        return None, base
    stated = None if asked is None else asked * _MINUTE
    return number * unit.factor, replace(base, duration=stated, wanted=stated)


def _of_table(
    table: tuple[tuple[float, float], ...], asked: float | None, base: Rain, faults: list[InputError]
) -> tuple[float | None, Rain]:
    wanted = (ROOF_ANSWERS if asked is None else asked) * _MINUTE
    first, last = table[0][0], table[-1][0]
    held = min(max(wanted, first), last)
    if asked is not None and abs(held - wanted) > _ROUND * wanted:
        short = wanted < first
        what = (
            f"is {asked:g} minutes and the table {'begins' if short else 'ends'} at "
            f"{(first if short else last) / _MINUTE:g}"
        )
        mend = (
            f"Add a row of {asked:g} minutes or less to the table; a longer rain's rate makes the pipe too small."
            if short
            else "Give a shorter one, or a longer row."
        )
        faults.append(InputError(f"{_FILE}, [rainfall] duration", what, mend))
        return None, base
    return intensity_at(table, held), replace(base, table=table, duration=held, wanted=wanted)


def _gives_depths(rain: Mapping[str, Any], unit: _Units, faults: list[InputError]) -> bool | None:
    """What a person says the table holds; None when nobody says."""
    said_of = rain.get("table_gives")
    if said_of is None:
        return None
    if said_of not in (
        "depths",
        "intensities",
    ):  # a tuple: what stands there may be a table, which no set can be asked for
        mend = 'Write "intensities" or "depths".'
        faults.append(InputError(f"{_FILE}, [rainfall] table_gives", f"is {shown_name(said_of)}", mend))
        return _like_depths(rain.get("table"), unit)  # one fault is enough
    return bool(said_of == "depths")


def _numbers(table: object) -> list[tuple[float, float]]:
    """The pairs of a table whose every entry is a pair of numbers above 0, else none."""
    pairs = [
        (number_of(pair[0]), number_of(pair[1])) if isinstance(pair, list) and len(pair) == 2 else (None, None)
        for pair in (table if isinstance(table, list) else [])
    ]
    sound = [(t, v) for t, v in pairs if t is not None and v is not None and t > 0 and v > 0]
    return sound if len(sound) == len(pairs) else []


def _like_depths(table: object, unit: _Units) -> bool:
    """Depths grow with the duration of the rain while their mean intensities do not; intensities never grow."""
    pairs = _numbers(table)
    steps = list(pairwise(pairs))
    return (
        bool(steps)
        and all(v * 60.0 / t * unit.factor <= HARDEST for t, v in pairs)
        and any(v1 > v0 * (1 + _ROUND) for (_, v0), (_, v1) in steps)
        and all(t1 > t0 and v1 >= v0 * (1 - _ROUND) for (t0, v0), (t1, v1) in steps)
        and all(v1 / t1 <= v0 / t0 * (1 + 0.01) for (t0, v0), (t1, v1) in steps)
    )


def _as_intensities(table: object) -> object:
    """The same table with depth over duration in an hour; left as it is where it holds no such pairs."""
    return [[minutes, depth * 60.0 / minutes] for minutes, depth in _numbers(table)] or table


def _depths_or_intensities(table: object, unit: _Units) -> InputError:
    pairs = _numbers(table)
    minutes, depth = pairs[0]
    depths = unit.name.partition("/")[0]
    what = (
        f"grows with the duration, as depths do and intensities never: as a depth the first row, {depth:g} {depths} in "
        f"{minutes:g} minutes, is {depth * 60.0 / minutes:.4g} {unit.name}"
    )
    mend = f'If they are depths in {depths} add table_gives = "depths"; else write intensities in {unit.name}.'
    return InputError(f"{_FILE}, [rainfall] table", what, mend)


def intensity_at(table: tuple[tuple[float, float], ...], duration: float) -> float:
    """Intensity of a table at a duration inside it, log-log between its rows.

    Parameters
    ----------
    table : tuple of (float, float)
        Rising durations [s] with mean intensities [m/s].
    duration : float
        Between the first row's and the last one's [s].

    Returns
    -------
    float
        Intensity [m/s].

    Raises
    ------
    ValueError
        If the table does not hold the duration.

    References
    ----------
    Straight between two rows on logarithmic paper (common practice, no source).
    """
    for (t0, i0), (t1, i1) in pairwise(table):
        if t0 <= duration <= t1:
            if duration in {t0, t1}:
                return i0 if duration == t0 else i1
            return float(i0 * (duration / t0) ** (math.log(i1 / i0) / math.log(t1 / t0)))
    if len(table) == 1 and duration == table[0][0]:
        return table[0][1]
    raise ValueError(f"the table goes from {table[0][0]:g} to {table[-1][0]:g} s, {duration:g} s is not in it")


def _above_zero(rain: Mapping[str, Any], key: str, unit: str, faults: list[InputError]) -> float | None:
    if key not in rain:
        return None
    number = number_of(rain[key])
    if number is None or not 0 < number < 1e6:
        faults.append(
            InputError(f"{_FILE}, [rainfall] {key}", f"is {shown_name(rain[key])}", f"Give {unit} as a number above 0.")
        )
        return None
    return number


def _source(rain: Mapping[str, Any], faults: list[InputError]) -> str:
    text = rain.get("source")
    if text is None:
        return "site.toml [rainfall], its source not stated"
    if not isinstance(text, str) or not said(text, NOTE_CAP):
        faults.append(
            InputError(
                f"{_FILE}, [rainfall] source", f"is {shown_name(text)}", "Write in quotes where the figures come from."
            )
        )
        return ""
    return said(text, NOTE_CAP)


def _pairs(
    rain: Mapping[str, Any],
    key: str,
    unit: _Units,
    faults: list[InputError],
    *,
    falling: bool = False,
    dry: bool = False,
) -> tuple[tuple[float, float], ...]:
    """Pairs of minutes and intensity, in SI; empty when the key is absent or wrong."""
    if key not in rain:
        return ()
    fault = _fault(rain[key], unit, falling=falling, dry=dry)
    if fault:
        example = "[[5, 7.2], [10, 5.9]]" if falling else "[[5, 1.2], [10, 4.0], [15, 0]]"
        word = "durations" if falling else "ends of blocks"
        mend = f"Write pairs of [minutes, {unit.name}], {word} rising: {example}."
        faults.append(InputError(f"{_FILE}, [rainfall] {key}", fault, mend))
        return ()
    return tuple((float(minutes) * _MINUTE, float(rate) * unit.factor) for minutes, rate in rain[key])


def _fault(table: object, unit: _Units, *, falling: bool, dry: bool) -> str:
    if not isinstance(table, list) or not table:
        return f"is {shown_name(table)}, expected a list of pairs"
    before: tuple[float, float] | None = None
    for count, pair in enumerate(table, 1):
        numbers = [number_of(value) for value in pair] if isinstance(pair, list) and len(pair) == 2 else [None]
        minutes, intensity = numbers if len(numbers) == 2 else (None, None)
        if minutes is None or intensity is None or minutes <= 0 or intensity < 0 or (intensity == 0 and not dry):
            return f"pair {count} is {shown_name(pair)}, expected [minutes, {unit.name}] above 0"
        if before is not None and minutes <= before[0]:
            return f"pair {count} has {minutes:g} minutes after {before[0]:g}"
        if falling and before is not None and intensity > before[1] * (1 + _ROUND):
            return (
                f"pair {count} rains harder than the shorter pair before it ({intensity:g} after {before[1]:g} "
                f"{unit.name})"
            )
        if falling and before is not None and intensity * minutes < before[0] * before[1] * (1 - _ROUND):
            return f"pair {count} brings less water than the shorter pair before it"
        before = (minutes, intensity)
    return ""


def read_sizing(
    water: Mapping[str, Any] | None, faults: list[InputError], own: Mapping[str, Mapping[str, Any]] | None = None
) -> Sizing:
    """What pipe sizes are held to.

    Parameters
    ----------
    water : mapping or None
        The [water] table.
    faults : list of InputError
        What is wrong is added here.
    own : mapping of str to mapping, optional
        The site's [pipes] tables: their kinds and sizes are on offer too.

    Returns
    -------
    Sizing
        Defaults where the site says nothing.
    """
    asked = water or {}
    usual = Sizing()
    basis = _one_of(
        asked, "basis", ("manning", COLEBROOK, *(table.code for table in code_tables())), usual.basis, faults
    )
    fill_of = _one_of(asked, "fill_of", ("depth", "flow"), usual.fill_of, faults)
    age = _one_of(asked, "roughness", ("design", "new", "aged"), usual.age, faults)
    kind = _one_of(asked, "pipe", pipes.kinds(own), usual.pipe, faults)
    offered = tuple(entry.nominal for entry in pipes.sizes(kind, own))
    smallest, largest = (_one_of(asked, key, offered, "", faults) or None for key in ("smallest", "largest"))
    if smallest is not None and largest is not None and offered.index(smallest) > offered.index(largest):
        faults.append(
            InputError(
                f"{_FILE}, [water] smallest",
                f"is {smallest} and largest is {largest}",
                "Give them the other way round.",
            )
        )
    fill = usual.fill
    if "design_fill" in asked:
        number = number_of(asked["design_fill"])
        if number is None or not 0 < number <= 1:
            mend = "Give a share above 0 and at most 1, such as 0.80."
            faults.append(InputError(f"{_FILE}, [water] design_fill", f"is {shown_name(asked['design_fill'])}", mend))
        else:
            fill = number
    kb = _kb(asked, basis, faults)
    return Sizing(
        basis=basis,
        fill=fill,
        fill_of=fill_of,
        age=age,
        pipe=kind,
        smallest=smallest,
        largest=largest,
        kb=kb,
        own_pipes=own or {},
    )


def _kb(asked: Mapping[str, Any], basis: str, faults: list[InputError]) -> float | None:
    """Roughness in use [m], for the one basis that takes it."""
    if basis != COLEBROOK:
        if "kb_mm" in asked:
            mend = f'Take it out, or write basis = "{COLEBROOK}".'
            faults.append(InputError(f"{_FILE}, [water] kb_mm", f"is given, but basis is {basis}", mend))
        return None
    if "roughness" in asked:
        mend = "Take roughness out and give kb_mm: it stands for wall, joints and laying together."
        faults.append(InputError(f"{_FILE}, [water] roughness", f"is given, but basis is {basis}", mend))
    if "kb_mm" not in asked:
        return USUAL_KB * units.MILLIMETRE
    number = number_of(asked["kb_mm"])
    if number is None or not LEAST_KB <= number <= MOST_KB:
        mend = (
            f"Give millimetres from {LEAST_KB:g} to {MOST_KB:g}: 0.25 a straight line without inlets, 0.5 to 1 "
            "drains, 1.5 old or rough lines."
        )
        faults.append(InputError(f"{_FILE}, [water] kb_mm", f"is {shown_name(asked['kb_mm'])}", mend))
        return USUAL_KB * units.MILLIMETRE
    return number * units.MILLIMETRE


def _one_of(asked: Mapping[str, Any], key: str, known: tuple[str, ...], usual: str, faults: list[InputError]) -> str:
    value = asked.get(key)
    if value is None:
        return usual
    if isinstance(value, str) and value in known:
        return value
    near = difflib.get_close_matches(str(value)[:40], known, n=1, cutoff=0.5)
    mend = f"Did you mean {near[0]}? Known are {', '.join(known)}." if near else f"Give one of {', '.join(known)}."
    faults.append(InputError(f"{_FILE}, [water] {key}", f"is {shown_name(value)}", mend))
    return usual
