"""Feet, inches, survey feet, percent, gallons a minute <-> SI. The only file that holds a conversion factor.

Inside the program a bare float is SI: metres, square metres, cubic metres a second, grade as a ratio.
Standard library only: quick commands start through this file.
"""

from __future__ import annotations

import math
import re

FOOT = 0.3048
US_SURVEY_FOOT = 1200 / 3937
INCH = 0.0254
CHAIN = 66 * US_SURVEY_FOOT  # NIST Special Publication 811, 2008, appendix B.8: chain and rod hang on the survey foot
ROD = CHAIN / 4
LINK = CHAIN / 100
GALLON_PER_MINUTE = 231 * INCH**3 / 60
POUND_FORCE = 4.4482216152605
PSI = POUND_FORCE / INCH**2
POUND_PER_FOOT = POUND_FORCE / FOOT  # lbf/ft: line load
POUND_PER_CUBIC_FOOT = POUND_FORCE / FOOT**3  # lbf/ft3: unit weight
POUND_INCH2 = POUND_FORCE * INCH**2  # lbf in2: bending stiffness
HOUR = 3600.0
MILLIMETRE = 0.001
LITRE = 0.001

LENGTH = {"ft": FOOT, "us-ft": US_SURVEY_FOOT, "m": 1.0, "in": INCH, "mm": MILLIMETRE}
DEED_LENGTH = {"ft": FOOT, "us-ft": US_SURVEY_FOOT, "m": 1.0, "chain": CHAIN, "rod": ROD, "link": LINK, "in": INCH}
ACRE = 10 * CHAIN**2
HECTARE = 1e4
FLOW = {"gpm": GALLON_PER_MINUTE, "lps": LITRE}
RAIN = {"in/h": INCH / HOUR, "mm/h": MILLIMETRE / HOUR}
GRADE = {"percent": 0.01, "in_per_ft": 1 / 12, "ratio": 1.0}
SITE_UNITS = ("ft", "us-ft", "m")
UNIT_NAMES = {"ft": "ft", "us-ft": "US survey ft", "m": "m"}
DEED_UNIT_NAMES = {**UNIT_NAMES, "chain": "chains", "rod": "rods", "link": "links", "in": "in"}
CLOSE_TICK = 1e-6  # of the unit: a figure that ends in 5 is not rounded down by the machine's own arithmetic
_LAST = {"ft": "0.01", "us-ft": "0.01", "m": "0.001"}  # the last digit that a length is printed to

MOST_LENGTH = 2e7  # from the equator to a pole and back again: no length, height or coordinate on earth is larger [m]
MOST_GRADE = 100.0  # fall over length [-]
MOST_TYPED = 60  # characters of one typed figure

_MARKS = str.maketrans(
    {
        "\u2032": "'",
        "\u2019": "'",
        "\u2018": "'",
        "\u2033": '"',
        "\u201d": '"',
        "\u201c": '"',
        "\u2212": "-",
        "\u2044": "/",
    }
)
# kept as text: a quick command that meets no feet and inches need not compile them (re keeps what it compiled)
_MARKED = r"\[([^\[\]]*)\]"  # a length in a sentence of ours, see `spoken`
_SPOKEN = (
    ("in per ft", 100 / 12, 2, "%"),
    ("US survey ft", US_SURVEY_FOOT, 2, "m"),
    ("ft", FOOT, 2, "m"),
    ("in", 25.4, 0, "mm"),
    ("lb", POUND_FORCE / 1000, 1, "kN"),
)
_FEET_INCHES = r"""(?x)^\s*(?P<sign>[+-]?)\s*
        (?:(?P<feet>\d+(?:\.\d+)?)\s*(?:'|ft\b|feet\b)\s*-?\s*)?
        (?:(?P<inches>\d+(?:\.\d+)?(?!\d*\s*/))?\s*(?:(?P<num>\d+)\s*/\s*(?P<den>\d+))?\s*(?P<mark>"|''|in\b|inches\b)?)?\s*$"""
_NUMBER_UNIT = r"^\s*(?P<number>[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(?P<unit>us-ft|ft|feet|in|mm|cm|m)?\s*$"


def to_metres(value: float, unit: str) -> float:
    """Length in metres.

    Parameters
    ----------
    value : float
        Length [unit].
    unit : str
        'ft' (international), 'us-ft' (survey), 'm', 'in' or 'mm'.

    Returns
    -------
    float
        The same length [m].

    Raises
    ------
    ValueError
        If the unit is not one of these.

    References
    ----------
    International foot 0.3048 m exactly; US survey foot 1200/3937 m (federal notice 2020-21902, retired end of 2022).
    """
    if unit not in LENGTH:
        raise ValueError(f"unknown length unit {unit!r}; one of {', '.join(LENGTH)}")
    return value * LENGTH[unit]


def from_metres(value: float, unit: str) -> float:
    """Length in another unit; the inverse of `to_metres`.

    Parameters
    ----------
    value : float
        Length [m].
    unit : str
        'ft', 'us-ft', 'm', 'in' or 'mm'.

    Returns
    -------
    float
        The same length [unit].

    Raises
    ------
    ValueError
        If the unit is not one of these.
    """
    if unit not in LENGTH:
        raise ValueError(f"unknown length unit {unit!r}; one of {', '.join(LENGTH)}")
    return value / LENGTH[unit]


def read_length(text: str, unit: str) -> float:
    """Length in metres from what a person typed: 5'-4 1/8", 5.34, 64.25 in, 1.63m.

    Parameters
    ----------
    text : str
        The typed length. A bare number is in `unit`.
    unit : str
        'ft', 'us-ft' or 'm': the unit of a bare number. Under 'us-ft' feet marks are survey feet too.

    Returns
    -------
    float
        Length [m].

    Raises
    ------
    ValueError
        If the text is no length, or larger than any on earth; says what can be typed.
    """
    value = _length_typed(_short(text), unit)
    if not abs(value) <= MOST_LENGTH:
        raise ValueError(
            f"{_as_typed(text)} is larger than any length on earth; type 5.34, 5'-4 1/8\", 64 1/8 in or 1.63m"
        )
    return value


def _as_typed(text: str) -> str:
    """A text between quotes without a backslash before feet and inch marks."""
    return repr(text).replace("\\'", "'")


def _short(text: str) -> str:
    """The text, if it is no longer than a figure can be: what is longer is not parsed at all."""
    if len(text) > MOST_TYPED:
        raise ValueError(
            f"{_as_typed(text[:20])}... has {len(text)} characters, too many for a figure; type 5.34, 5'-4 "
            '1/8" or 1.63m'
        )
    return text


def _length_typed(text: str, unit: str) -> float:
    typed = text.translate(_MARKS).strip()
    if unit in LENGTH and typed.isascii() and typed.replace(".", "", 1).isdigit():
        return float(typed) * LENGTH[unit]  # most readings are this plain; quick commands need no expression for them
    plain = re.match(_NUMBER_UNIT, typed.lower())
    foot = US_SURVEY_FOOT if unit == "us-ft" else FOOT
    if plain:
        number = float(plain["number"])
        own = plain["unit"] or unit
        factor = {"feet": foot, "ft": foot, "cm": 0.01}.get(own) or LENGTH[own]
        if not math.isfinite(number):
            raise ValueError(f"{_as_typed(text)} is not a finite length")
        return number * factor
    parts = re.match(_FEET_INCHES, typed.lower())
    # after a feet mark a bare number can only be inches; without one the inch mark is needed
    if not parts or (
        parts["feet"] is None and (parts["mark"] is None or (parts["inches"] is None and parts["num"] is None))
    ):
        raise ValueError(f"{_as_typed(text)} is not a length; type 5.34, 5'-4 1/8\", 64 1/8 in or 1.63m")
    if "." in (parts["feet"] or "") and (parts["inches"] or parts["num"]):
        raise ValueError(f"{_as_typed(text)} has decimal feet and inches at once")
    inches = float(parts["inches"] or 0)
    if parts["num"]:
        if int(parts["den"]) == 0:
            raise ValueError(f"{_as_typed(text)} has a fraction over zero")
        inches += int(parts["num"]) / int(parts["den"])
    if parts["feet"] is not None and inches >= 12:
        raise ValueError(f"{_as_typed(text)} has 12 inches or more after the feet")
    value = float(parts["feet"] or 0) * foot + inches * foot / 12
    return -value if parts["sign"] == "-" else value


def read_grade(text: str) -> float:
    """Grade from what a person typed: 1.25, 1.25 %, 1/8 in/ft. A bare number is percent.

    Parameters
    ----------
    text : str
        The typed grade.

    Returns
    -------
    float
        Fall over length [-]; 1/8 in/ft is 1.042 %, not 1 %.

    Raises
    ------
    ValueError
        If the text is no grade, or steeper than any bank; says what can be typed.
    """
    value = _grade_typed(_short(text))
    if not abs(value) <= MOST_GRADE:
        raise ValueError(f"{_as_typed(text)} is steeper than anything stands; type 1.25, 1.25% or 1/8in/ft")
    return value


def _grade_typed(text: str) -> float:
    typed = text.translate(_MARKS).strip().lower()
    found = re.fullmatch(r"([+-]?\d*\.?\d+)\s*%?|(\d+)\s*/\s*(\d+)\s*(?:in|\")\s*(?:/|per )\s*(?:ft|foot|')", typed)
    if not found or (found[3] is not None and int(found[3]) == 0):
        raise ValueError(f"{_as_typed(text)} is not a grade; type 1.25, 1.25% or 1/8in/ft")
    if found[1] is not None:
        return float(found[1]) * GRADE["percent"]
    return int(found[2]) / int(found[3]) * GRADE["in_per_ft"]


def feet_inches(value: float, denominator: int = 8) -> str:
    """Length as feet, inches and a fraction: 1'-9 7/8".

    Parameters
    ----------
    value : float
        Length [m].
    denominator : int
        Finest fraction of an inch, a power of two.

    Returns
    -------
    str
        Rounded to the nearest fraction, half away from zero; below a foot the feet stay: 0'-8 5/8".
    """
    sign = "-" if value < 0 else ""
    ticks = math.floor(abs(value) / INCH * denominator + 0.5 + 1e-9)
    if ticks == 0:
        sign = ""
    feet, ticks = divmod(ticks, 12 * denominator)
    inches, ticks = divmod(ticks, denominator)
    fraction = f" {_fraction(ticks, denominator)}" if ticks else ""
    return f"{sign}{feet}'-{inches}{fraction}\""


def _fraction(ticks: int, denominator: int) -> str:
    """Lowest terms, as 3/8; the standard library's fractions would cost quick commands their start."""
    common = math.gcd(ticks, denominator)
    return f"{ticks // common}/{denominator // common}"


def inches_text(value: float, denominator: int = 8) -> str:
    """Length as inches and a fraction: 5 3/8 in.

    Parameters
    ----------
    value : float
        Length [m].
    denominator : int
        Finest fraction of an inch, a power of two.

    Returns
    -------
    str
        Rounded to the nearest fraction, half away from zero.
    """
    sign = "-" if value < 0 else ""
    ticks = math.floor(abs(value) / INCH * denominator + 0.5 + 1e-9)
    if ticks == 0:
        sign = ""
    inches, ticks = divmod(ticks, denominator)
    fraction = _fraction(ticks, denominator) if ticks else ""
    whole = str(inches) if inches or not ticks else ""
    return f"{sign}{' '.join(part for part in (whole, fraction) if part)} in"


def rounded(value: float, digits: int) -> float:
    """A figure at its last printed digit: a 5 goes up, though the machine may hold it a hair under.

    Parameters
    ----------
    value : float
        In the unit that it is printed in.
    digits : int
        Digits after the point.

    Returns
    -------
    float
        Never -0.0; what is not finite stays as it is.

    Examples
    --------
    >>> rounded(100.405, 2), rounded(1.005, 2), rounded(-0.001, 2)
    (100.41, 1.01, 0.0)
    """
    if not math.isfinite(value):
        return value
    scale = 10.0**digits
    return math.floor(value * scale + 0.5 + scale * CLOSE_TICK) / scale + 0.0


def length_text(value: float, unit: str, decimals: int = 2) -> str:
    """Length printed in the site's unit with the unit beside it: 1.26 ft, 0.384 m.

    Parameters
    ----------
    value : float
        Length [m].
    unit : str
        'ft', 'us-ft' or 'm'.
    decimals : int
        Digits after the point in feet; metres get one more, which is about as fine.

    Returns
    -------
    str
        Number and unit; never '-0.00'.
    """
    return f"{length_figure(value, unit, decimals)} {UNIT_NAMES[unit]}"


def length_figure(value: float, unit: str, decimals: int = 2) -> str:
    """The figure of a length as `length_text` prints it, for a table whose head names the unit.

    Parameters
    ----------
    value : float
        Length [m].
    unit : str
        'ft', 'us-ft' or 'm'.
    decimals : int
        Digits after the point in feet; metres get one more.

    Returns
    -------
    str
        Number alone; never '-0.00'.
    """
    digits = decimals + 1 if unit == "m" else decimals
    return f"{rounded(from_metres(value, unit), digits):.{digits}f}"


def drop_text(value: float, unit: str) -> str:
    """A small height as a crew reads it: 0.42 ft (0'-5") for feet sites, 0.128 m for metric ones.

    Parameters
    ----------
    value : float
        Height [m].
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        With feet and inches beside decimal feet.
    """
    if unit == "m":
        return length_text(value, unit)
    return f"{length_text(value, unit)} ({feet_inches(value)})"


def small_text(value: float, unit: str) -> str:
    r"""A small height that is never printed as nothing, nor finer than any survey is: 'less than 0.01 ft'.

    Parameters
    ----------
    value : float
        Height [m].
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        As `drop_text`; where that would print nought, less than its last digit.

    Examples
    --------
    >>> small_text(0.03, "ft"), small_text(0.0002, "ft"), small_text(0.0, "ft")
    ('0.10 ft (0\'-1 1/8")', 'less than 0.01 ft', 'nothing')
    """
    if not _prints_nought(value, unit):
        return drop_text(value, unit)
    return "nothing" if abs(value) < 5e-7 * LENGTH[unit] else f"less than {_LAST[unit]} {UNIT_NAMES[unit]}"


def with_article(words: str) -> str:
    """Words of ours behind 'a' or 'an'.

    Parameters
    ----------
    words : str
        Such as a kind of feature, or a size.

    Returns
    -------
    str
        Both.

    Examples
    --------
    >>> with_article("inlet"), with_article("utility"), with_article("8 in line"), with_article("US survey foot")
    ('an inlet', 'a utility', 'an 8 in line', 'a US survey foot')
    """
    sounds_open = re.match(r"[aeio]|u(?!s|ni|ti)|(?:8|11|18)(?![\d])|8\d", words, re.IGNORECASE)
    return f"{'an' if sounds_open else 'a'} {words}"


def spoken(text: str, unit: str) -> str:
    """A sentence of ours with its marked lengths in the unit of whoever reads: '[18 or 24 in]' each side.

    Parameters
    ----------
    text : str
        A constant of ours or a figure in brackets, never what a user wrote; lengths in brackets, in feet or inches.
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        Without the brackets; in metres with 2 digits and whole millimetres where the unit is 'm', grades in percent.

    Examples
    --------
    >>> spoken("within [25 ft], [18 or 24 in] each side", "m")
    'within 7.62 m, 457 or 610 mm each side'
    >>> spoken("within [25 ft]", "ft")
    'within 25 ft'
    """
    if unit != "m":
        return text.replace("[", "").replace("]", "")
    return re.sub(_MARKED, lambda found: _in_metric(found[1]), text)


def _in_metric(figures: str) -> str:
    for name, scale, digits, after in _SPOKEN:
        if figures.endswith(f" {name}"):
            words = figures.removesuffix(f" {name}").split(" ")
            told = (f"{_ratio(one) * scale:.{digits}f}" if one[0].isdigit() else one for one in words)
            return f"{' '.join(told)} {after}"
    return figures


def size_text(nominal: str, outside: float, unit: str, word: str = "outside") -> str:
    """A pipe's size by its name, with what a metric tape finds beside a name in inches.

    Parameters
    ----------
    nominal : str
        The size as the trade names it: '4 in', 'DN 110'. A name, no length; it stays as it is.
    outside : float
        Outside diameter [m].
    unit : str
        'ft', 'us-ft' or 'm'.
    word : str
        What says that it is measured outside.

    Returns
    -------
    str
        '4 in'; on a metric site '4 in (107 mm outside)'.

    Examples
    --------
    >>> size_text("4 in", 0.10706, "ft"), size_text("4 in", 0.10706, "m"), size_text("DN 110", 0.110, "m")
    ('4 in', '4 in (107 mm outside)', 'DN 110')
    """
    if unit != "m" or not nominal.endswith(" in"):
        return nominal
    return f"{nominal} ({outside / MILLIMETRE:.0f} mm {word})"


def short_text(value: float, unit: str, decimals: int = 0) -> str:
    """A short length as a crew reads it: 12 in, 305 mm.

    Parameters
    ----------
    value : float
        Length [m].
    unit : str
        'ft', 'us-ft' or 'm'.
    decimals : int
        Digits of inches; millimetres are whole, or to a tenth where inches have two.

    Returns
    -------
    str
        In inches or millimetres.
    """
    if unit == "m":
        return f"{round(value / MILLIMETRE, max(decimals - 1, 0)) + 0.0:.{max(decimals - 1, 0)}f} mm"
    return f"{round(value / INCH, decimals) + 0.0:g} in"


def line_load_text(value: float, unit: str, decimals: int = 2) -> str:
    """A load on a length of pipe: 0.57 lbf/ft, 8.3 N/m.

    Parameters
    ----------
    value : float
        Load [N/m].
    unit : str
        'ft', 'us-ft' or 'm'.
    decimals : int
        Digits of pounds; newtons have one fewer.

    Returns
    -------
    str
        In pounds force a foot or newtons a metre.
    """
    if unit == "m":
        return f"{value + 0.0:.{max(decimals - 1, 0)}f} N/m"
    return f"{value / POUND_PER_FOOT + 0.0:.{decimals}f} lbf/ft"


def unit_weight_text(value: float, unit: str) -> str:
    """Unit weight of soil: 110 lbf/ft3, 17.3 kN/m3.

    Parameters
    ----------
    value : float
        Unit weight [N/m3].
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        In pounds force a cubic foot or kilonewtons a cubic metre.
    """
    return f"{value / 1000:.1f} kN/m3" if unit == "m" else f"{value / POUND_PER_CUBIC_FOOT:.0f} lbf/ft3"


def stress_text(value: float, unit: str) -> str:
    """A stress: 2000 psi, 13.8 MPa.

    Parameters
    ----------
    value : float
        Stress [Pa].
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        In pounds a square inch or megapascals.
    """
    return f"{value / 1e6:.1f} MPa" if unit == "m" else f"{value / PSI:.0f} psi"


def _ratio(text: str) -> float:
    over, _, under = text.partition("/")
    return float(over) / float(under or 1)


def _prints_nought(value: float, unit: str) -> bool:
    return rounded(abs(value) / LENGTH[unit], 3 if unit == "m" else 2) == 0


def spare_text(spare: float, unit: str, doubt: float | None = None) -> str:
    r"""Fall to spare, or what is missing, as every sheet and finding says it.

    Parameters
    ----------
    spare : float
        Fall available less fall needed [m]; NaN is not known.
    unit : str
        'ft', 'us-ft' or 'm'.
    doubt : float or None
        One standard deviation of it [m]; None: not said.

    Returns
    -------
    str
        A phrase in lower case; never a spare of nought.

    Examples
    --------
    >>> spare_text(0.03, "ft", 0.006), spare_text(0.0002, "m"), spare_text(-0.0002, "m")
    ('0.10 ft (0\'-1 1/8") of fall to spare, doubt +-0.02 ft', 'no fall to spare', 'short of fall by less than 0.001 m')
    """
    if not math.isfinite(spare):
        return "fall to spare not known"
    if _prints_nought(spare, unit) and spare > -5e-7 * LENGTH[unit]:
        text = "no fall to spare"
    elif spare > 0:
        text = f"{drop_text(spare, unit)} of fall to spare"
    else:
        text = f"short of fall by {small_text(-spare, unit)}"
    return text if doubt is None else f"{text}, doubt +-{length_text(doubt, unit)}"


def grade_text(value: float) -> str:
    """Grade as percent: 1.25 %.

    Parameters
    ----------
    value : float
        Grade, fall over length [-].

    Returns
    -------
    str
        Two digits after the point.
    """
    return f"{value * 100 + 0.0:.2f} %"


def station_text(value: float, unit: str) -> str:
    """Station along a line: 0+84.0 in feet (hundreds + feet), 0+025.60 in metres (kilometres + metres).

    Parameters
    ----------
    value : float
        Length from the outlet [m].
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        Rounded to 0.1 ft or 0.01 m.
    """
    if unit == "m":
        hundredths = math.floor(value * 100 + 0.5)
        return f"{hundredths // 100000}+{hundredths % 100000 / 100:06.2f}"
    tenths = math.floor(from_metres(value, unit) * 10 + 0.5)
    return f"{tenths // 1000}+{tenths % 1000 / 10:04.1f}"


def flow_text(value: float, unit: str) -> str:
    """Flow printed in the site's unit with the unit beside it: 61.2 gpm, 3.86 L/s.

    Parameters
    ----------
    value : float
        Flow [m3/s].
    unit : str
        'ft' or 'us-ft' print gallons a minute, 'm' litres a second.

    Returns
    -------
    str
        Number and unit; never '-0.0'.

    Examples
    --------
    >>> flow_text(0.00265, "ft"), flow_text(0.00265, "m")
    ('42.0 gpm', '2.65 L/s')
    """
    if unit == "m":
        return f"{round(value / LITRE, 2) + 0.0:.2f} L/s"
    return f"{round(value / GALLON_PER_MINUTE, 1) + 0.0:.1f} gpm"


def rain_text(value: float, unit: str) -> str:
    """Rainfall intensity printed in the site's unit: 6.20 in/h, 157.5 mm/h.

    Parameters
    ----------
    value : float
        Intensity [m/s].
    unit : str
        'ft' or 'us-ft' print inches an hour, 'm' millimetres an hour.

    Returns
    -------
    str
        Number and unit.
    """
    if unit == "m":
        return f"{value / RAIN['mm/h']:.1f} mm/h"
    return f"{value / RAIN['in/h']:.2f} in/h"


def volume_text(value: float, unit: str) -> str:
    """Volume of water printed in the site's unit: 42 gal, 159 L.

    Parameters
    ----------
    value : float
        Volume [m3].
    unit : str
        'ft' or 'us-ft' print gallons, 'm' litres.

    Returns
    -------
    str
        Number and unit; a small volume keeps one digit after the point.
    """
    number, name = (value / LITRE, "L") if unit == "m" else (value / (GALLON_PER_MINUTE * 60), "gal")
    return f"{number:.1f} {name}" if abs(number) < 9.95 else f"{number:.0f} {name}"


def amount_in(value: float, counted: str, unit: str) -> tuple[float, str]:
    """An amount in the unit that a site orders it in: feet, square feet and cubic yards, or metres.

    Parameters
    ----------
    value : float
        In `counted`.
    counted : str
        'm', 'm2', 'm3' or 'piece'.
    unit : str
        The site's length unit.

    Returns
    -------
    tuple of float and str
        Amount and its unit.

    Raises
    ------
    KeyError
        For another unit.

    Examples
    --------
    >>> amount_in(0.764554857984, "m3", "ft")
    (1.0, 'cu yd')
    """
    per = LENGTH[unit]
    factor, called = {
        "m": (per, "ft"),
        "m2": (per**2, "sq ft"),
        "m3": (27 * per**3, "cu yd"),
        "piece": (1.0, "pieces"),
    }[counted]
    if unit == "m" or counted == "piece":
        return value, {"m": "m", "m2": "m2", "m3": "m3", "piece": "pieces"}[counted]
    return round(value / factor, 9), called
