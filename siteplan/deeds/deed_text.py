"""A deed laid out in; what a person reads of it, and the same for programs, out."""

from __future__ import annotations

import json
import math
from collections import Counter
from pathlib import Path
from typing import Any

from siteplan import units
from siteplan.deeds.angles import quadrant_text
from siteplan.deeds.calls import Deed, call_text, read_deed
from siteplan.deeds.traverse import Misclosure, Traverse, laid_out
from siteplan.errors import InputError

_METRIC = "m"


def deed_from_file(path: Path, unit: str | None, close: str | None) -> tuple[Deed, Traverse]:
    """A deed's text in a file, laid out.

    Parameters
    ----------
    path : Path
        UTF-8 text.
    unit : str or None
        Of bare lengths where the text names none.
    close : str or None
        What is done about a misclosure, over what the text says.

    Returns
    -------
    tuple of Deed and Traverse
        With the misclosure spread only where 'compass-rule' is asked for.

    Raises
    ------
    InputError, InputErrors
        If it is no text, or a call cannot be made out.
    """
    if not path.exists():
        raise InputError(str(path), "no such file of a deed's calls", "Give a text with a call a line.")
    if path.is_dir():
        raise InputError(str(path), "is a folder", "Name the file that holds the deed's calls.")
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(str(path), f"is no UTF-8 text (byte {error.start})", "Save it as UTF-8.") from error
    deed = read_deed(text, path.name, unit=unit or "")
    deed = deed._replace(close=close or deed.close)
    return deed, laid_out(deed.calls, spread=deed.close == "compass-rule")


def deed_unit(deed: Deed) -> str:
    """The unit that a deed is told in: its own, or that of most of its lengths.

    Parameters
    ----------
    deed : Deed
        As read.

    Returns
    -------
    str
        Key of `units.DEED_LENGTH`.
    """
    return deed.unit or Counter(call.unit for call in deed.calls).most_common(1)[0][0]


def misclosure_text(missed: Misclosure, unit: str) -> str:
    """How far a deed misses its start.

    Parameters
    ----------
    missed : Misclosure
        Of the calls as written.
    unit : str
        Key of `units.DEED_LENGTH`.

    Returns
    -------
    str
        Length, bearing from the start, and the ratio.
    """
    if missed.ratio is None:
        return "closes on its start"
    per = units.DEED_LENGTH[unit]
    return (
        f"misses its start by {missed.length / per:.3f} {units.DEED_UNIT_NAMES[unit]}, "
        f"{quadrant_text(missed.azimuth)} of it: 1 in {missed.ratio:,.0f}"
        f" (the last digits of the calls make up to {missed.slack / per:.3f} {units.DEED_UNIT_NAMES[unit]})"
    )


def turn_text(deed: Deed) -> str:
    """How far a deed's calls were turned.

    Parameters
    ----------
    deed : Deed
        As read.

    Returns
    -------
    str
        Such as 'right by 0.7583 degrees'.
    """
    return f"{'right' if deed.turned > 0 else 'left'} by {abs(math.degrees(deed.turned)):.4f} degrees"


def _area_text(area: float, unit: str) -> str:
    if unit == _METRIC:
        return f"{area:,.2f} m2 ({area / units.HECTARE:.4f} ha)"
    foot = units.FOOT if unit in {"ft", "in"} else units.US_SURVEY_FOOT
    return f"{area / foot**2:,.1f} sq ft ({area / units.ACRE:.4f} acres)"


def deed_as_text(deed: Deed, traverse: Traverse) -> str:
    """Corners, area and closure as a person reads them.

    Parameters
    ----------
    deed, traverse : Deed, Traverse
        As read and as laid out.

    Returns
    -------
    str
        A row a call, in the deed's unit; coordinates from the start that the text gives, else from N 0, E 0.
    """
    unit = deed_unit(deed)
    per = units.DEED_LENGTH[unit]
    north, east = deed.start if deed.start is not None and unit in units.SITE_UNITS else (0.0, 0.0)
    lines = [f"{'':>4} {'northing':>12} {'easting':>12}   then ({units.DEED_UNIT_NAMES[unit]})"]
    for number, (call, (x, y)) in enumerate(zip(traverse.calls, traverse.corners, strict=True), 1):
        tangent = " (no chord's bearing is written: laid tangent to the call before)" if call.tangent else ""
        lines.append(f"{number:>4} {north + y / per:>12.3f} {east + x / per:>12.3f}   {call_text(call, unit)}{tangent}")
    missed = traverse.misclosure
    lines += [
        "",
        (
            f"Area {_area_text(traverse.area, unit)}, perimeter {missed.perimeter / per:,.3f} "
            f"{units.DEED_UNIT_NAMES[unit]}."
        ),
    ]
    lines.append(f"The deed {misclosure_text(missed, unit)}.")
    if traverse.spread:
        lines.append(
            "It is spread over the calls by the compass rule, as asked: corners and area are the adjusted ones."
        )
    elif missed.ratio is not None:
        lines.append(
            "Nothing is spread: corners stand where the calls lead, and the last side runs back to the "
            "start. --close compass-rule spreads it."
        )
    given = deed.start is not None and unit in units.SITE_UNITS
    lines.append(
        f"Coordinates are in {units.DEED_UNIT_NAMES[unit]}, "
        f"{'the start too' if given else 'from the start, which stands at N 0, E 0 here'}."
    )
    lines.append(
        f"Every call is turned {turn_text(deed)}, as the text asks; the bearings above are the turned ones."
        if deed.turned
        else "Bearings are taken as written, from the deed's own north."
    )
    lines.append("A deed is evidence, not a survey: a licensed surveyor sets corners.")
    return "\n".join(lines)


def deed_as_json(deed: Deed, traverse: Traverse) -> str:
    """The same for programs, in metres and degrees.

    Parameters
    ----------
    deed, traverse : Deed, Traverse
        As read and as laid out.

    Returns
    -------
    str
        corners [{x, y}] from the start, calls, area, misclosure, spread.
    """
    missed = traverse.misclosure
    told: dict[str, Any] = {
        "calls": [
            {
                "text": call.text,
                "azimuth_deg": math.degrees(call.azimuth),
                "length": call.length,
                **(
                    {
                        "radius": call.radius,
                        "delta_deg": math.degrees(call.delta),
                        "turn": "right" if call.turn > 0 else "left",
                        "arc": call.along,
                        "tangent": call.tangent,
                    }
                    if call.turn
                    else {}
                ),
            }
            for call in traverse.calls
        ],
        "corners": [{"x": x, "y": y} for x, y in traverse.corners],
        "start": None if deed.start is None else {"northing": deed.start[0], "easting": deed.start[1]},
        "area": traverse.area,
        "perimeter": missed.perimeter,
        "misclosure": {
            "east": missed.east,
            "north": missed.north,
            "length": missed.length,
            "azimuth_deg": math.degrees(missed.azimuth),
            "ratio": missed.ratio,
            "by_rounding": missed.by_rounding,
        },
        "spread": traverse.spread,
    }
    return json.dumps(told, indent=1, ensure_ascii=False)
