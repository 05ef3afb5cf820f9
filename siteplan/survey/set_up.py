"""Options and what a file says of its own set-up in; the height of the instrument out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from siteplan import units
from siteplan.errors import InputError, raise_gathered


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """Where heights come from. `hi` is None for coordinates; `slipped` is how far the mark moved between two readings [m]."""

    hi: float | None
    hi_text: str
    benchmark: str = ""  # mark and backsight that it hangs on, as text; '' not given
    slipped: float | None = None


def set_up(typed: Mapping[str, Any], table_settings: Mapping[str, str], unit: str) -> SetUp:
    """Height of instrument from the options, or from what the file's # lines say.

    Parameters
    ----------
    typed : mapping
        hi, benchmark, backsight, check_back, as typed or None.
    table_settings : mapping
        The same keys, from the file.
    unit : str
        'ft', 'us-ft' or 'm' of a bare number.

    Returns
    -------
    SetUp
        `hi` is None where nothing is given.

    Raises
    ------
    InputError
        For half of a pair, two that disagree, or what is no number.
    """
    said_of = {key: typed.get(key) or table_settings.get(key) for key in ("hi", "benchmark", "backsight", "check_back")}
    read: dict[str, float] = {}
    faults = []
    for key, text in said_of.items():
        if text is None:
            continue
        try:
            read[key] = units.read_length(str(text), unit)
        except ValueError as error:
            faults.append(InputError(_option(key), str(error).partition(";")[0], "Type it as read, such as 102.37."))
    if ("benchmark" in read) != ("backsight" in read):
        faults.append(
            InputError("--benchmark and --backsight", "one is given without the other", "Give both, or --hi.")
        )
    raise_gathered(faults)
    hi = read.get("hi")
    if "benchmark" in read:
        own = read["benchmark"] + read["backsight"]
        if hi is not None and abs(own - hi) > 1e-4:
            what = f"{units.length_text(hi, unit)} is not {units.length_text(own, unit)}, benchmark plus backsight"
            raise InputError("--hi", what, "Give one of the two, or correct a figure.")
        hi = own
    if hi is None:
        return SetUp(hi=None, hi_text="")
    text = f"HI {units.length_text(hi, unit)}"
    mark = ""
    if "benchmark" in read:
        mark = f"benchmark {units.length_text(read['benchmark'], unit)} + backsight {units.length_text(read['backsight'], unit)}"
        text += f" ({mark})"
    slipped = None
    if "check_back" in read:
        if "backsight" not in read:
            raise InputError(
                "--check-back", "has no backsight to be checked against", "Give --benchmark and --backsight."
            )
        slipped = read["check_back"] - read["backsight"]
        text += f", checked back {units.length_text(read['check_back'], unit)}"
    return SetUp(hi=hi, hi_text=text, benchmark=mark, slipped=slipped)


def _option(key: str) -> str:
    return f"--{key.replace('_', '-')}"
