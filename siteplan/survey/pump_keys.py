"""What a sump says of its pump in; flows and heads in SI out.

A rated point or a curve, where it lifts to, and whether a valve holds the line.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Mapping
from typing import Any

from siteplan import units
from siteplan.errors import InputError
from siteplan.survey.files import number_of, said

PUMP_KEYS = ("pump_flow", "pump_head", "pump_curve", "discharge", "check_valve", "off_level")
_MOST_POINTS = 40
_FEWEST_POINTS = 2
_MOST_FLOW, _MOST_HEAD = 1.0, 300.0  # m3/s, m: no pump of a pit gives more
_FIGURE = re.compile(r"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
_BETWEEN = re.compile(r"[\s,;:/()\[\]]*")
_YES, _NO = ("true", "yes", "1", "1.0"), ("false", "no", "0", "0.0")


def pump_attributes(
    properties: Mapping[str, Any], place: str, length_unit: str, faults: list[InputError]
) -> dict[str, Any]:
    """What is said of a pump.

    Parameters
    ----------
    properties : mapping
        Of one feature, as its file has them.
    place : str
        For messages.
    length_unit : str
        Of the site: flows are gpm or L/s, heads ft or m with it.
    faults : list of InputError
        Grows by what cannot be read.

    Returns
    -------
    dict
        `pump_point` (flow, head) or `pump_curve` (pairs of them) in SI, `discharge`, `check_valve`: what is given of
        these.
    """
    flow, head = units.FLOW["lps" if length_unit == "m" else "gpm"], units.LENGTH[length_unit]
    found: dict[str, Any] = {}
    rated = [_positive(properties, key, place, faults) for key in ("pump_flow", "pump_head")]
    if all(rated):
        found["pump_point"] = (rated[0] * flow, rated[1] * head)  # type: ignore[operator]
    elif any(rated) and not all(_given(properties, key) for key in ("pump_flow", "pump_head")):
        lacks = "pump_head" if rated[0] else "pump_flow"
        faults.append(
            InputError(place, f"gives one half of a rated point and no {lacks}", f"Give {lacks} too, or pump_curve.")
        )
    if _given(properties, "pump_curve"):
        curve = _curve(properties["pump_curve"], f"{place}, pump_curve", faults)
        if curve:
            found["pump_curve"] = tuple((q * flow, h * head) for q, h in curve)
    if "pump_point" in found and "pump_curve" in found:
        faults.append(InputError(place, "gives both a rated point and pump_curve", "Keep one of the two."))
    for q, h in (found["pump_point"],) if "pump_point" in found else found.get("pump_curve", ()):
        if q > _MOST_FLOW or h > _MOST_HEAD:
            faults.append(
                InputError(place, "gives a pump that is none of a pit", "Check the unit of its flows and heads.")
            )
            break
    if _given(properties, "discharge"):
        found["discharge"] = said(properties["discharge"], 120)
    if _given(properties, "check_valve"):
        typed = str(properties["check_valve"]).strip().lower()
        if typed in _YES or typed in _NO:
            found["check_valve"] = typed in _YES
        else:
            faults.append(
                InputError(
                    f"{place}, check_valve", f'is "{said(properties["check_valve"], 40)}"', "Write true or false."
                )
            )
    return found


def _given(properties: Mapping[str, Any], key: str) -> bool:
    value = properties.get(key)
    return not (
        value is None
        or (isinstance(value, str) and not value.strip())
        or (isinstance(value, float) and math.isnan(value))
    )


def _positive(properties: Mapping[str, Any], key: str, place: str, faults: list[InputError]) -> float | None:
    if not _given(properties, key):
        return None
    value = properties[key]
    number = (
        float(value) if isinstance(value, str) and _FIGURE.fullmatch(value.strip()) else number_of(value)
    )  # tables hold numbers as text
    if number is None or not number > 0:
        faults.append(InputError(f"{place}, {key}", f'is "{said(value, 40)}"', "Give a plain number above 0."))
        return None
    return number


def _curve(value: object, place: str, faults: list[InputError]) -> tuple[tuple[float, float], ...]:
    """Pairs of flow and head, as a list of lists or as text that holds their figures one after the other."""
    text = value if isinstance(value, str) else str(value)
    figures = [float(one) for one in _FIGURE.findall(text[:4000])]
    clean = _BETWEEN.fullmatch(_FIGURE.sub(" ", text[:4000])) is not None
    pairs = tuple(zip(figures[::2], figures[1::2], strict=False))
    mend = "List pairs of flow and head, flows rising and heads falling, such as [[0, 24], [40, 18], [60, 8]]."
    if not clean or len(figures) % 2 or not _FEWEST_POINTS <= len(pairs) <= _MOST_POINTS:
        faults.append(InputError(place, f'is "{said(text, 60)}"', mend))
        return ()
    falls = all(b[0] > a[0] and b[1] < a[1] for a, b in itertools.pairwise(pairs))
    if not falls or min(figures) < 0 or not all(math.isfinite(one) for one in figures):
        faults.append(InputError(place, f'is "{said(text, 60)}": no falling curve', mend))
        return ()
    return pairs
