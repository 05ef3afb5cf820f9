"""Options and what a file says of its own set-up in; the height of the instrument out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from siteplan import units
from siteplan.books.practice import ROD_REACH
from siteplan.errors import InputError, raise_gathered

SHORTEST_ROD = 0.0  # what a rod can show
Reached = Literal["", "above the beam", "rod too short"]
_SAME = 1e-4  # m; two figures closer than this are one
_KEYS = ("hi", "benchmark", "backsight", "check_back")


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """Where heights come from. `hi` is None for coordinates.

    `slipped` is how far the mark moved between two readings [m].
    """

    hi: float | None
    hi_text: str
    benchmark: str = ""  # mark and backsight that it hangs on, as text; '' not given
    slipped: float | None = None
    where: str = "--hi"  # what a person typed it as


def set_up(typed: Mapping[str, Any], table_settings: Mapping[str, str], unit: str, shown: str = "") -> SetUp:
    """Height of instrument from the options, or from what the file's # lines say.

    Parameters
    ----------
    typed : mapping
        hi, benchmark, backsight, check_back, as typed or None.
    table_settings : mapping
        The same keys, from the file.
    unit : str
        'ft', 'us-ft' or 'm' of a bare number.
    shown : str
        What to call that file.

    Returns
    -------
    SetUp
        `hi` is None where nothing is given.

    Raises
    ------
    InputError
        For half of a pair, two that disagree (also an option and the file), or what is no number.
    """
    faults: list[InputError] = []
    by_option = {key: str(typed[key]) for key in _KEYS if typed.get(key)}
    by_file = {key: table_settings[key] for key in _KEYS if table_settings.get(key)}
    called = {key: _option(key) if key in by_option else f"{shown}, {key.replace('_', '-')}" for key in _KEYS}
    asked = _numbers(by_option, called, unit, faults)
    noted = _numbers(by_file, {key: f"{shown}, {key.replace('_', '-')}" for key in _KEYS}, unit, faults)
    for key in asked.keys() & noted.keys():
        if abs(asked[key] - noted[key]) > _SAME:
            one, other = (units.length_text(read[key], unit) for read in (asked, noted))
            what = f"{one} is not the {other} of '# {key.replace('_', '-')}' in {shown}"
            faults.append(InputError(_option(key), what, "Leave the option out, or correct one of the two."))
    read = {**noted, **asked}
    if ("benchmark" in read) != ("backsight" in read):
        faults.append(
            InputError("--benchmark and --backsight", "one is given without the other", "Give both, or --hi.")
        )
    raise_gathered(faults)
    hi = read.get("hi")
    if "benchmark" in read:
        own = read["benchmark"] + read["backsight"]
        if hi is not None and abs(own - hi) > _SAME:
            what = f"{units.length_text(hi, unit)} is not {units.length_text(own, unit)}, benchmark plus backsight"
            raise InputError(called["hi"], what, "Give one of the two, or correct a figure.")
        hi = own
    if hi is None:
        return SetUp(hi=None, hi_text="")
    text = f"HI {units.length_text(hi, unit)}"
    mark = ""
    if "benchmark" in read:
        mark = (
            f"benchmark {units.length_text(read['benchmark'], unit)} + backsight "
            f"{units.length_text(read['backsight'], unit)}"
        )
        text += f" ({mark})"
    slipped = None
    if "check_back" in read:
        if "backsight" not in read:
            raise InputError(
                "--check-back", "has no backsight to be checked against", "Give --benchmark and --backsight."
            )
        slipped = read["check_back"] - read["backsight"]
        text += f", checked back {units.length_text(read['check_back'], unit)}"
    where = " and ".join(called[key] for key in (("benchmark", "backsight") if mark else ("hi",)))
    return SetUp(hi=hi, hi_text=text, benchmark=mark, slipped=slipped, where=where)


def rod_reached(low: float, top: float) -> Reached:
    """Whether a rod shows what it is held to, by its readings.

    Parameters
    ----------
    low, top : float
        Readings on the lowest and on the highest thing it is held to at one place [m].

    Returns
    -------
    str
        '' in reach, 'above the beam', 'rod too short'.
    """
    if low < SHORTEST_ROD or top < SHORTEST_ROD:
        return "above the beam"
    return "rod too short" if low > ROD_REACH else ""


def refuse_blind(stand: SetUp, seen: Iterable[tuple[float, float]], inverts: Iterable[float], unit: str) -> None:
    """Refuse a height of instrument from which a rod reaches nothing of a plan: it is of another datum or unit.

    Parameters
    ----------
    stand : SetUp
        The set-up; one without a height of instrument is let pass.
    seen : iterable of (low, top)
        Trench bottom and top of pipe, place by place; or the highest bottom and the lowest top of a whole line [m].
    inverts : iterable of float
        Of the plan, for the words [m].
    unit : str
        'ft', 'us-ft' or 'm' of the words.

    Raises
    ------
    InputError
        Names the height and where the plan lies.
    """
    if stand.hi is None:
        return
    pairs = list(seen)
    if not pairs or any(not rod_reached(stand.hi - low, stand.hi - top) for low, top in pairs):
        return
    levels = sorted(inverts)
    lowest, highest = (units.length_text(value, unit) for value in (levels[0], levels[-1]))
    raise InputError(
        stand.where,
        (
            f"{units.length_text(stand.hi, unit)} as height of instrument puts no place of the plan within a "
            "rod's length of the beam"
        ),
        f"The plan's inverts lie between {lowest} and {highest}: is it another datum or unit?",
    )


def _numbers(
    texts: Mapping[str, str], called: Mapping[str, str], unit: str, faults: list[InputError]
) -> dict[str, float]:
    read = {}
    for key, text in texts.items():
        try:
            read[key] = units.read_length(text, unit)
        except ValueError as error:
            faults.append(InputError(called[key], str(error).partition(";")[0], "Type it as read, such as 102.37."))
    return read


def _option(key: str) -> str:
    return f"--{key.replace('_', '-')}"
