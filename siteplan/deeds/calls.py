"""Text of a deed's calls in; the calls as values out: a way and a length each, or a curve.

What cannot be made out is an error.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import NamedTuple

from siteplan import units
from siteplan.deeds.angles import (
    ANGLE,
    AZIMUTH,
    CARDINAL,
    LENGTH,
    QUADRANT,
    Figure,
    angle_of,
    deed_length,
    direction_of,
    plain_marks,
    quadrant_text,
)
from siteplan.errors import InputError, NotGiven, raise_gathered

MOST_CALLS = 500
_MOST_TEXT = 200_000
DEED_UNITS = tuple(unit for unit in units.DEED_LENGTH if unit != "in")
CLOSINGS = ("compass-rule", "last-side")
_SHOWN = 60
_WAY = re.sub(r"[?]P<\w+>", "?:", f"(?:{QUADRANT}|{AZIMUTH}|{CARDINAL})")
_BEGINS = rf"(?:{_WAY}|CURVE\b)"
_HIDDEN = rf"{_WAY}[\s,]*(?:A\s+)?(?:DISTANCE\s+(?:OF\s+)?|FOR\s+)?{LENGTH}"  # a call in a text that is passed over
_HEAD = re.compile(r"^\s*(?P<key>[A-Za-z_]+)\s*=\s*(?P<value>.*?)\s*$")
_START = re.compile(r"^N\s*(?P<n>[+-]?\d+(?:\.\d+)?)\s*,?\s*E\s*(?P<e>[+-]?\d+(?:\.\d+)?)$", re.IGNORECASE)
_TURN = rf"(?P<hand>RIGHT|LEFT)\s+{ANGLE}\s*$"
_FULL = Figure(math.inf, 0.0)  # what is no angle turns too far
_FILLER = frozenset(
    (
        "A",
        "AN",
        "AND",
        "ALONG",
        "ARC",
        "BEARING",
        "BEARS",
        "BEING",
        "CENTRAL",
        "CURVE",
        "CURVING",
        "DISTANCE",
        "FOR",
        "FROM",
        "HAVING",
        "IN",
        "IS",
        "LENGTH",
        "LONG",
        "OF",
        "ON",
        "SAID",
        "THE",
        "THENCE",
        "TO",
        "WHICH",
        "WHOSE",
        "WITH",
        "AT",
    )
)


class Call(NamedTuple):
    """One call. `azimuth` and `length` are those of a straight side, or of a curve's chord.

    Attributes
    ----------
    text : str
        As written, one line.
    line : int
        Of the text, from 1.
    azimuth : float
        Clockwise from the deed's north [rad].
    length : float
        [m].
    slack : float
        How far the call's end may lie off, by half of the last digit of each of its figures [m].
    turn : int
        1 a curve to the right, -1 to the left, 0 straight.
    radius, delta : float
        Of a curve: radius [m], central angle [rad].
    tangent : bool
        Whether a curve was laid tangent to the call before it, for no chord's bearing is written.
    unit : str
        That of its length or radius, as written; key of `units.DEED_LENGTH`.
    """

    text: str
    line: int
    azimuth: float
    length: float
    slack: float
    turn: int = 0
    radius: float = 0.0
    delta: float = 0.0
    tangent: bool = False
    unit: str = ""

    @property
    def along(self) -> float:
        """Length along the side or the curve [m]."""
        return self.radius * self.delta if self.turn else self.length


class Deed(NamedTuple):
    """The calls of one parcel and what the text says beside them.

    Attributes
    ----------
    calls : tuple of Call
        In the order of the text.
    start : tuple of float or None
        Northing and easting at which the first call begins, as written [the survey's unit].
    close : str
        'compass-rule', 'last-side', or '' where nobody asked for anything.
    name : str
        Of the lot.
    unit : str
        Of bare lengths, a key of `units.DEED_LENGTH`; '' where each length has its own.
    turned : float
        How far every call was turned, clockwise, to bring the deed's north to the site's [rad].
    """

    calls: tuple[Call, ...]
    start: tuple[float, float] | None = None
    close: str = ""
    name: str = ""
    unit: str = ""
    turned: float = 0.0


def read_deed(text: str, where: str, *, unit: str = "") -> Deed:
    """A deed's calls, every fault gathered.

    Parameters
    ----------
    text : str
        Lines `key = value` (unit, start, close, name, turn), comments after #, and calls: one a line, or parted by
        semicolons or by the word thence.
    where : str
        Name of the text in errors.
    unit : str
        Of bare lengths where the text names none.

    Returns
    -------
    Deed
        At least three calls, or two of which one is a curve.

    Raises
    ------
    InputError, InputErrors
        For what cannot be made out, with its line; `NotGiven` where a length has no unit.
    """
    if len(text) > _MOST_TEXT:
        raise InputError(where, f"is {len(text)} characters long", f"Keep to {_MOST_TEXT}: the calls of one parcel.")
    faults: list[InputError] = []
    head, rest = _head(text, where, faults)
    unit = head.get("unit", unit)
    calls: list[Call] = []
    for line, part in _parts(rest):
        if len(calls) + len(faults) >= MOST_CALLS:
            faults.append(InputError(where, f"holds more than {MOST_CALLS} calls", "Give the calls of one parcel."))
            break
        try:
            calls.append(_call(part, line, f"{where}, line {line}", unit, calls[-1] if calls else None))
        except InputError as fault:
            faults.append(fault)
    if not faults and len(calls) < (2 if any(call.turn for call in calls) else 3):
        what = f"holds {len(calls)} call{'' if len(calls) == 1 else 's'}, which close no lot"
        mend = "Write the calls one a line, such as: N 45°30'15\" E 120.50 ft"
        faults.append(NotGiven(where, what, mend) if not calls else InputError(where, what, mend))
    raise_gathered(faults)
    turned = _turned(head.get("turn", ""))
    calls = [call._replace(azimuth=(call.azimuth + turned) % (2 * math.pi)) for call in calls]
    start = head.get("start", "")
    found = _START.match(start) if start else None
    return Deed(
        calls=tuple(calls),
        start=(float(found["n"]), float(found["e"])) if found else None,
        close=head.get("close", ""),
        name=head.get("name", ""),
        unit=unit,
        turned=turned,
    )


def _turned(text: str) -> float:
    """Clockwise from 'right' and an angle, or 'left' [rad]; 0 where nothing is written."""
    found = re.match(_TURN, plain_marks(text))
    angle = angle_of(found["angle"]) if found else None
    return 0.0 if found is None or angle is None else angle.value * (1 if found["hand"] == "RIGHT" else -1)


def _head(text: str, where: str, faults: list[InputError]) -> tuple[dict[str, str], list[tuple[int, str]]]:
    """Settings of the text, and its other lines with their numbers, comments taken off."""
    head: dict[str, str] = {}
    rest: list[tuple[int, str]] = []
    for number, raw in enumerate(text.splitlines(), 1):
        line = raw.partition("#")[0]
        found = _HEAD.match(line)
        if not found:
            rest.append((number, line))
            continue
        key, value = found["key"].lower(), found["value"]
        place = f"{where}, line {number}, {key}"[:120]
        allowed = {"unit": DEED_UNITS, "close": CLOSINGS}.get(key)
        turn = re.match(_TURN, plain_marks(value)) if key == "turn" else None
        if key not in {"unit", "start", "close", "name", "turn"}:
            faults.append(InputError(place, "is not known here", "The keys are unit, start, close, name and turn."))
        elif key == "turn" and (turn is None or (angle_of(turn["angle"]) or _FULL).value >= math.pi):
            faults.append(InputError(place, f'is "{value[:_SHOWN]}"', "Write it as: turn = right 0°45'30\""))
        elif key in head:
            faults.append(InputError(place, "is given twice", "Keep one."))
        elif allowed is not None and value not in allowed:
            faults.append(InputError(place, f'is "{value[:_SHOWN]}"', f"Write one of {', '.join(allowed)}."))
        elif key == "start" and not _START.match(value):
            faults.append(InputError(place, f'is "{value[:_SHOWN]}"', "Write it as: start = N 5000.00 E 2000.00"))
        else:
            head[key] = value
    return head, rest


def _parts(lines: list[tuple[int, str]]) -> Iterator[tuple[int, str]]:
    """Each call's text with the line it begins on: parted by 'thence' where that is written, else by lines.

    By semicolons always.
    """
    whole = "\n".join(text for _, text in lines)
    marks = plain_marks(whole)
    mark = rf";|\bTHENCE\b|\n(?=[ \t]*{_BEGINS})" if re.search(r"\bTHENCE\b", marks) else r";|\n"
    numbers = [number for number, _ in lines]
    begin = 0
    for found in [*re.finditer(mark, marks), None]:
        end = len(whole) if found is None else found.start()
        part = whole[begin:end]
        if part.strip(" \t\n,.;"):
            lead = len(part) - len(part.lstrip(" \t\n,.;"))
            yield numbers[whole.count("\n", 0, begin + lead)], " ".join(part.split()).strip(" ,.;")
        begin = end if found is None else found.end()


def _call(part: str, line: int, where: str, unit: str, before: Call | None) -> Call:
    text = plain_marks(part)
    if re.search(r"\b(CURVE|CURVING|RADIUS)\b", text):
        return _curve(part, text, line, where, unit, before)
    for pattern in (QUADRANT, AZIMUTH, CARDINAL):
        found = re.match(rf"(?:RUN(?:NING)?\s+|GO(?:ING)?\s+)?{pattern}", text)
        if found is None:
            continue
        way = direction_of(found)
        if way is None:
            raise InputError(
                where,
                f'has "{found[0][:_SHOWN]}", which is no direction',
                "A bearing has up to 90 degrees, an azimuth less than 360, minutes and seconds less than 60.",
            )
        after = text[found.end() :]
        run = re.match(rf"[\s,]*(?:(?:A\s+)?DISTANCE\s+(?:OF\s+)?|FOR\s+)?(?P<length>{LENGTH})", after)
        if run is None:
            raise InputError(where, f'has no length after "{found[0][:_SHOWN]}"', "Write it as 120.50 ft.")
        left = after[run.end() :].strip(" ,.")
        passed = re.match(r"(?:MORE OR LESS\b[ ,]*)?(?:(?:TO|ALONG|WITH|AT)\b.*)?$", left)
        if passed is None or re.search(_HIDDEN, left):
            raise InputError(
                where, f'holds "{left[:_SHOWN]}" after its length, which cannot be made out', _mend_of_call()
            )
        length = _length(run["length"], unit, where)
        _above_zero(length, "length", where)
        slack = math.hypot(length.half, length.value * way.half)
        return Call(part, line, way.value, length.value, slack, unit=length.unit)
    raise InputError(where, f'"{part[:_SHOWN]}" is no call', _mend_of_call())


def _mend_of_call() -> str:
    return (
        "Write a call as N 45°30'15\" E 120.50 ft, as AZ 45°30'15\" 120.50 ft, or as "
        "curve right, radius 50.00 ft, arc 78.54 ft, chord N 45°00'00\" E 70.71 ft."
    )


def _length(text: str, unit: str, where: str) -> Figure:
    found = deed_length(text, unit or None)
    if found is None:
        raise NotGiven(
            where,
            f'"{text[:_SHOWN]}" has no unit',
            "Write unit = ft, us-ft, m, chain, rod or link on a line of its own, or the unit beside each length.",
        )
    return found


def _above_zero(figure: Figure, what: str, where: str) -> None:
    if not 0 < figure.value < units.MOST_LENGTH:
        raise InputError(where, f"has a {what} that is nothing, or longer than the earth", "Correct the figure.")


class _Taken:
    """A curve's text with what was made out taken off."""

    def __init__(self, text: str) -> None:
        self.left = text

    def take(self, pattern: str) -> re.Match[str] | None:
        found = re.search(pattern, self.left)
        if found:
            self.left = f"{self.left[: found.start()]} , {self.left[found.end() :]}"
        return found


def _curve(part: str, text: str, line: int, where: str, unit: str, before: Call | None) -> Call:
    """Radius and one of arc, chord and central angle; what is written beside that must agree with it."""
    from_to = r"\s*,?\s*(?:(?:IS|OF|BEING)\s+)?"
    rest = _Taken(text)
    hand = rest.take(r"\b(?P<hand>RIGHT|LEFT)\b")
    chord_way = None
    for pattern in (QUADRANT, AZIMUTH, rf"(?<=CHORD ){CARDINAL}"):
        chord_way = rest.take(
            rf"(?:\bCHORD\s+)?(?:\b(?:BEARING|BEARS|DIRECTION)\b{from_to})?{pattern}(?P<tail>{from_to}(?:(?:AND\s+)?(?:A\s+)?(?:CHORD\s+)?(?:LENGTH|DISTANCE)\s+(?:OF\s+)?|FOR\s+)?(?P<length>{LENGTH})(?!\s*\u00b0))?"
        )
        if chord_way:
            break
    radius = rest.take(rf"\bRADIUS{from_to}(?P<length>{LENGTH})") or rest.take(rf"(?P<length>{LENGTH})\s+RADIUS\b")
    angle = rest.take(rf"\b(?:DELTA|CENTRAL\s+ANGLE){from_to}{ANGLE}")
    arc = rest.take(rf"\bARC(?:\s+(?:LENGTH|DISTANCE))?{from_to}(?P<length>{LENGTH})")
    chord = rest.take(rf"\bCHORD(?:\s+(?:LENGTH|DISTANCE))?{from_to}(?P<length>{LENGTH})")
    odd = [word for word in re.findall(r"[^\s,.;:]+", rest.left) if word not in _FILLER | {"CHORD", "TANGENT"}]
    if odd:
        raise InputError(
            where, f'is a curve with "{" ".join(odd)[:_SHOWN]}", which cannot be made out', _mend_of_call()
        )
    if hand is None:
        raise InputError(where, "is a curve that turns neither right nor left", "Write curve right or curve left.")
    if radius is None:
        raise InputError(where, "is a curve without a radius", _mend_of_call())
    if chord is not None and chord_way is not None and chord_way["length"]:
        raise InputError(where, "is a curve with two lengths of its chord", "Keep one.")
    turn = 1 if hand["hand"] == "RIGHT" else -1
    bend = _length(radius["length"], unit, where)
    _above_zero(bend, "radius", where)
    delta = None if angle is None else angle_of(angle["angle"])
    if angle is not None and (delta is None or not 0 < delta.value < 2 * math.pi):
        raise InputError(
            where, f'has a central angle "{angle["angle"]}"', "Give degrees, minutes and seconds, below 360."
        )
    along = None if arc is None else _length(arc["length"], unit, where)
    across_text = chord["length"] if chord is not None else chord_way["length"] if chord_way is not None else None
    across = None if across_text is None else _length(across_text, unit, where)
    delta = _delta(bend, delta, along, across, where)
    way = _chord_way(chord_way, where) if chord_way is not None else _tangent(before, turn, delta, where)
    length = 2 * bend.value * math.sin(delta.value / 2)
    slack = math.hypot(
        2 * math.sin(delta.value / 2) * bend.half,
        bend.value * abs(math.cos(delta.value / 2)) * delta.half,
        length * way.half,
    )
    return Call(part, line, way.value, length, slack, turn, bend.value, delta.value, chord_way is None, bend.unit)


def _chord_way(found: re.Match[str], where: str) -> Figure:
    way = direction_of(found)
    if way is None:
        raise InputError(
            where,
            "has a chord whose direction is none",
            "A bearing has up to 90 degrees, minutes and seconds less than 60.",
        )
    return way


def _tangent(before: Call | None, turn: int, delta: Figure, where: str) -> Figure:
    """The chord of a curve that goes on in the direction of the call before it."""
    if before is None:
        raise InputError(
            where,
            "is a curve that nothing comes before, without the bearing of its chord",
            "Write chord N 45°00'00\" E.",
        )
    ends = before.azimuth + before.turn * before.delta / 2
    return Figure((ends + turn * delta.value / 2) % (2 * math.pi), delta.half / 2)


def _delta(radius: Figure, angle: Figure | None, arc: Figure | None, chord: Figure | None, where: str) -> Figure:
    """The central angle, by the figure that tells it best; the others are compared with it to their last digits."""
    if angle is None and arc is None and chord is None:
        raise InputError(where, "is a curve without arc, chord or central angle", _mend_of_call())
    if angle is not None:
        delta = angle
    elif arc is not None:
        delta = Figure(arc.value / radius.value, arc.half / radius.value + arc.value * radius.half / radius.value**2)
    else:
        assert chord is not None
        share = chord.value / (2 * radius.value)
        if share > 1:
            raise InputError(where, "has a chord longer than twice its radius", "Correct one of the two.")
        delta = Figure(2 * math.asin(share), chord.half / radius.value / max(0.1, math.sqrt(1 - share**2)))
    if not 0 < delta.value < 2 * math.pi:
        raise InputError(where, "has an arc longer than a whole circle", "Correct the arc or the radius.")
    for what, figure, own, by_radius, by_delta in (
        ("arc", arc, radius.value * delta.value, delta.value, radius.value),
        ("chord", chord, 2 * radius.value * math.sin(delta.value / 2), 2 * math.sin(delta.value / 2), radius.value),
    ):
        if figure is None:
            continue
        allowed = figure.half + by_radius * radius.half + by_delta * delta.half
        if abs(figure.value - own) > 1.01 * allowed:
            other = "arc" if what == "chord" and angle is None else "central angle"
            raise InputError(
                where,
                (
                    f"is a curve whose {what} is {abs(figure.value - own):.4f} m off what its radius and {other} "
                    "make of it, more than their last digits allow"
                ),
                "Correct one of the figures, or leave the wrong one out.",
            )
    return delta


def call_text(call: Call, unit: str) -> str:
    """A call in one unit, as the sheets write it.

    Parameters
    ----------
    call : Call
        As read.
    unit : str
        Key of `units.DEED_LENGTH`.

    Returns
    -------
    str
        Bearing and length; of a curve its hand, radius, arc and chord.
    """
    per, name = units.DEED_LENGTH[unit], units.DEED_UNIT_NAMES[unit]
    way = f"{quadrant_text(call.azimuth)} {call.length / per:.3f} {name}"
    if not call.turn:
        return way
    hand = "right" if call.turn > 0 else "left"
    return f"curve {hand}, radius {call.radius / per:.3f} {name}, arc {call.along / per:.3f} {name}, chord {way}"
