"""Bearings, azimuths and lengths as a deed writes them in.

Radians and metres, with how far each may be off by its last digit, out.
"""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from siteplan import units

_DEG = r"(?:\u00b0|DEGREES?\b|DEG\b\.?)"
_MIN = r"(?:'(?!')|MINUTES?\b|MIN\b\.?)"
_SEC = r"(?:\"|''|SECONDS?\b|SEC\b\.?)"
_N = r"\d+(?:\.\d+)?"
_ENDS = r"(?=\s*,?\s*(?:E|W|EAST|WEST)\b)"  # a last mark may be left out before the second letter of a bearing
_MARKS = str.maketrans(
    {
        "\u2032": "'",
        "\u2019": "'",
        "\u2018": "'",
        "\u00b4": "'",
        "`": "'",
        "\u2033": '"',
        "\u201d": '"',
        "\u201c": '"',
        "\u00ba": "\u00b0",
        "\u02da": "\u00b0",
        "\u2070": "\u00b0",
        "\u2212": "-",
        "\u2013": "-",
        "\u2014": "-",
        "\u00a0": " ",
    }
)
ANGLE = (
    rf"(?P<angle>{_N}\s*{_DEG}(?:\s*{_N}\s*(?:{_MIN}|{_ENDS})(?:\s*{_N}\s*(?:{_SEC}|{_ENDS}))?)?"  # 45 deg 30' 15"
    rf"|\d+-\d+(?:-{_N}|\.\d+)?"  # 45-30-15
    rf"|\d+\s+\d+(?:\s+{_N}|\.\d+)?(?=\s*[EW]\b)"  # 45 30 15
    rf"|{_N})"
)
QUADRANT = rf"\b(?P<ns>NORTH|SOUTH|N|S)\.?\s*{ANGLE}\s*,?\s*(?P<ew>EAST|WEST|E|W)\b\.?"
CARDINAL = r"\b(?:DUE\s+)?(?P<way>NORTH|SOUTH|EAST|WEST|N|S|E|W)\b\.?"
AZIMUTH = rf"\b(?:AZIMUTH|AZ)\b\.?\s*(?:OF\s+)?{ANGLE}"
_UNIT = (
    ("us-ft", r"U\.?\s?S\.?[\s-]*(?:SURVEY\s+)?(?:FEET|FOOT|FT)\b\.?|SURVEY\s+(?:FEET|FOOT|FT)\b\.?|US-FT\b|USFT\b"),
    ("ft", r"FEET\b|FOOT\b|FT\b\.?|'(?!')"),
    ("in", r"INCH(?:ES)?\b|IN\b\.?|\"|''"),
    ("chain", r"CHAINS?\b|CHS?\b\.?"),
    ("rod", r"RODS?\b|RDS?\b\.?|POLES?\b|PERCH(?:ES)?\b"),
    ("link", r"LINKS?\b|LKS?\b\.?"),
    ("m", r"METERS?\b|METRES?\b|M\b\.?"),
)
_ONE_LENGTH = (
    r"(?P<number>\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d*)?|\.\d+)\s*(?P<unit>" + "|".join(p for _, p in _UNIT) + ")?"
)
LENGTH = rf"(?:{re.sub(r'[?]P<(number|unit)>', '?:', _ONE_LENGTH)})(?:(?:\s*,?\s*(?:AND\s+)?)(?:\d+(?:\.\d*)?)\s*(?:{_UNIT[2][1]}|{_UNIT[5][1]}))?"
_WAYS = {"N": 0.0, "E": 90.0, "S": 180.0, "W": 270.0}


class Figure(NamedTuple):
    """A figure as written, SI, and half of its last digit.

    An angle [rad], a length [m] with the unit it was written in.
    """

    value: float
    half: float
    unit: str = ""


def plain_marks(text: str) -> str:
    """Text with one mark each for degrees, minutes and seconds, in capitals.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    str
        As long as the text.
    """
    return "".join(c.upper() if len(c.upper()) == 1 else c for c in text.translate(_MARKS))


def angle_of(text: str) -> Figure | None:
    """The angle that `ANGLE` found.

    Parameters
    ----------
    text : str
        Degrees, and minutes and seconds where they are written.

    Returns
    -------
    Figure or None
        [rad]; None where minutes or seconds are 60 or more, or a part that is not the last has decimals.
    """
    given = re.findall(_N, text)
    if any("." in part for part in given[:-1]) or any(float(part) >= 60 for part in given[1:]):
        return None
    degrees = math.fsum(float(part) / 60**k for k, part in enumerate(given))
    half = 0.5 * 10.0 ** -len(given[-1].partition(".")[2]) / 60 ** (len(given) - 1)
    return Figure(math.radians(degrees), math.radians(half))


def direction_of(found: re.Match[str]) -> Figure | None:
    """The azimuth that `QUADRANT`, `CARDINAL` or `AZIMUTH` found.

    Parameters
    ----------
    found : Match
        Of one of them.

    Returns
    -------
    Figure or None
        Clockwise from north, 0 to 2 pi [rad]; a cardinal way is exact. None for a quadrant bearing past 90 degrees, an
        azimuth of 360 or more, and what `angle_of` refuses.
    """
    groups = found.groupdict()
    if groups.get("way"):
        return Figure(math.radians(_WAYS[groups["way"][0]]), 0.0)
    angle = angle_of(found["angle"])
    if angle is None:
        return None
    if not groups.get("ns"):
        return angle if angle.value < 2 * math.pi else None
    if angle.value > math.pi / 2 + 1e-12:
        return None
    east = groups["ew"][0] == "E"
    turned = angle.value if (groups["ns"][0] == "N") == east else -angle.value
    return Figure((turned + (0.0 if groups["ns"][0] == "N" else math.pi)) % (2 * math.pi), angle.half)


def deed_length(text: str, unit: str | None) -> Figure | None:
    """A length as a deed writes it: 120.50 ft, 5 chains 20 links, 120 ft 6 in, or a bare number.

    Parameters
    ----------
    text : str
        What `LENGTH` found, in capitals.
    unit : str or None
        Key of `units.DEED_LENGTH` of a bare number.

    Returns
    -------
    Figure or None
        [m]; None for a bare number where no unit is given.
    """
    total, half, first = [], 0.0, ""
    for found in re.finditer(_ONE_LENGTH, text):
        name = next((key for key, pattern in _UNIT if found["unit"] and re.fullmatch(pattern, found["unit"])), unit)
        if name is None:
            return None
        number = found["number"].replace(",", "")
        total.append(float(number) * units.DEED_LENGTH[name])
        half = 0.5 * 10.0 ** -len(number.partition(".")[2]) * units.DEED_LENGTH[name]
        first = first or name
    return Figure(math.fsum(total), half, first)


def quadrant_text(azimuth: float, seconds: int = 0) -> str:
    r"""A direction as a quadrant bearing.

    Parameters
    ----------
    azimuth : float
        Clockwise from north [rad].
    seconds : int
        Decimals of the seconds.

    Returns
    -------
    str
        Such as N 45°30'15" E.

    Examples
    --------
    >>> quadrant_text(math.radians(225.5))
    'S 45°30\'00" W'
    """
    degrees = math.degrees(azimuth) % 360
    ticks = round(degrees * 3600 * 10**seconds) % (360 * 3600 * 10**seconds)
    half = 180 * 3600 * 10**seconds
    ns = "N" if ticks <= half // 2 or ticks >= half + half // 2 else "S"
    ew = "E" if ticks <= half else "W"
    inside = {"NE": ticks, "SE": half - ticks, "SW": ticks - half, "NW": 2 * half - ticks}[ns + ew]
    minutes, rest = divmod(inside, 60 * 10**seconds)
    whole = f"{rest / 10**seconds:0{3 + seconds if seconds else 2}.{seconds}f}"
    return f"{ns} {minutes // 60:02d}\u00b0{minutes % 60:02d}'{whole}\" {ew}"
