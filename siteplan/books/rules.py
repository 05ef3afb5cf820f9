"""Each rule declared once; a site's overrides in; the rules in force out.

Rules vary by place. Every limit here is a default that a site changes under [rules] in site.toml;
the plan prints the limit in force, where it came from, and what it replaced.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Literal, NamedTuple, get_args

from siteplan import units
from siteplan.books.kinds import OUTLETS, SOURCES, Verdict, usual_way, way_id
from siteplan.errors import InputError, alike_or, as_written, raise_gathered

Dimension = Literal["length", "grade", "angle", "flow", "velocity", "time", "count", "verdict", "none"]
Sense = Literal["at least", "at most", "none"]
Authority = Literal["code", "local", "practice", "unknown"]

_UNITS_OF: dict[str, dict[str, float]] = {
    "length": {"ft": units.FOOT, "us_ft": units.US_SURVEY_FOOT, "in": units.INCH, "mm": units.MILLIMETRE, "m": 1.0},
    "grade": units.GRADE,
    "angle": {"deg": 1.0},
    "flow": units.FLOW,
    "velocity": {"ft_per_s": units.FOOT, "m_per_s": 1.0},
    "time": {"s": 1.0},
    "count": {"count": 1.0},
    "verdict": {"verdict": 1.0},
    "none": {},
}
_SI_UNIT = {
    "length": "m",
    "grade": "percent",
    "angle": "deg",
    "flow": "lps",
    "velocity": "m/s",
    "time": "s",
    "count": "",
    "verdict": "verdict",
    "none": "",
}

VERDICTS: tuple[str, ...] = get_args(Verdict)  # what a place says of a way of draining; kept as its place in this list
SHEET = "common practice, no source"
GREATEST = 1e9  # no limit of the trade is larger in any unit; also keeps out infinities and integers no float holds


# what figures of a plan can hold [m, ratio, degrees, m3/s, m/s, s, -]
_MOST: dict[str, float] = {
    "length": 10_000.0,
    "grade": 10.0,
    "angle": 180.0,
    "flow": 1000.0,
    "velocity": 100.0,
    "time": 1e6,
    "count": 1000.0,
}


class Rule(NamedTuple):
    """One rule. `limit` is in `unit`; None means not known, and is shown as such."""

    id: str
    title: str
    sense: Sense
    limit: float | None
    unit: str
    dimension: Dimension
    source: str
    dated: str
    authority: Authority
    broken: Literal["fail", "flag"]
    applies: str
    caution: str = ""


class InForce(NamedTuple):
    """A rule with the limit a site is judged by. `limit` is SI (metres, ratio, degrees, m3/s)."""

    rule: Rule
    limit: float | None
    source: str
    replaced: str | None  # text of the default that an override replaced
    own: bool = False  # the site itself sets another limit: neither source nor standing of the rule goes with it


RuleBook = Mapping[str, InForce]

# way out, protection, spoil back: 29 CFR 1926.651(c)(2), 1926.652(a)(1), 1926.651(j)(2); metric rounded to the safe
# side
TRENCH_DEPTHS: Mapping[str, tuple[str, str, str]] = {"ft": ("4 ft", "5 ft", "2 ft"), "m": ("1.2 m", "1.5 m", "0.7 m")}

_MARKED: dict[str, tuple[str, str, str, str]] = {}  # title, source, range and caution with their lengths marked
_METRIC_UNIT = {"ft": ("m", 2), "us_ft": ("m", 2), "in": ("mm", 0), "gpm": ("lps", 2), "ft_per_s": ("m_per_s", 2)}


def _rule(
    name: str, title: str, sense: Sense, limit: float | None, unit: str, dimension: Dimension, source: str, dated: str,
    authority: Authority, broken: Literal["fail", "flag"], applies: str, caution: str = "",
) -> Rule:  # fmt: skip
    """One rule, whose words may hold lengths such as [5 ft]: they are printed in the unit of whoever reads."""
    _MARKED[name] = title, source, applies, caution
    title, source, applies, caution = (units.spoken(text, "ft") for text in _MARKED[name])
    return Rule(name, title, sense, limit, unit, dimension, source, dated, authority, broken, applies, caution)


def worded(rule: Rule, length_unit: str) -> Rule:
    """A rule in the words and the unit that a site's people use.

    Parameters
    ----------
    rule : Rule
        As declared.
    length_unit : str
        The site's.

    Returns
    -------
    Rule
        Its `limit` and `unit` are for print: a metric one is rounded to a millimetre or a centimetre.
    """
    if length_unit != "m" or rule.id not in _MARKED:
        return rule
    title, source, applies, caution = (units.spoken(text, "m") for text in _MARKED[rule.id])
    words = rule._replace(title=title, source=source, applies=applies, caution=caution)
    if rule.limit is None or rule.unit not in _METRIC_UNIT:
        return words
    unit, digits = _METRIC_UNIT[rule.unit]
    factors = _UNITS_OF[rule.dimension]
    return words._replace(unit=unit, limit=round(rule.limit * factors[rule.unit] / factors[unit], digits))


CONTINUOUS_FALL = _rule(
    "continuous-fall",
    "The line falls all the way to its outlet",
    "none",
    None,
    "",
    "none",
    SHEET,
    "2026",
    "practice",
    "fail",
    "every run",
)
MIN_GRADE = _rule(
    "min-grade", "Least grade of any run", "at least", 1.00, "percent", "grade",
    ("common practice; sanitary lines of [4 in] and up take [1/8 in per ft] (a military plumbing training "
        "text), storm tables differ"), "2026", "practice", "fail", "every run",
    ("1.00 % is a trade floor, below the [1/8 in per ft] of plumbing codes; 2 % is preferred; local code may "
        "ask for more."),
)  # fmt: skip
MAX_GRADE = _rule(
    "max-grade", "Grade above which a run wants a drop fitting or anchors", "at most", 15.0, "percent", "grade",
    SHEET, "2026", "practice", "flag", "every run",
)  # fmt: skip
DROP_GRADE = _rule(
    "drop-grade", "Grade beyond which a run is no line in a trench but a drop", "at most", 100.0, "percent", "grade",
    SHEET, "2026", "practice", "fail", "every run",
    "1 to 1 is 45 degrees: steeper wants a drop structure of its own, designed for the place.",
)  # fmt: skip
MIN_COVER = _rule(
    "min-cover", "Least cover over the outside top of pipe in lawn", "at least", 12.0, "in", "length",
    ("common practice; a sewer district asks for [18 in] in lawn, a city specification (Boulder CO 02722) [18 "
        "in] over mains"), "2026", "practice", "fail", "between start zone and outlet zone",
    "Districts ask for [12 to 36 in]; local code rules.",
)  # fmt: skip
MIN_COVER_PAVEMENT = _rule(
    "min-cover-pavement", "Least cover under a driveway or vehicle paving", "at least", 18.0, "in", "length",
    "common practice; a sewer district asks for [24 in] under a private drive and [36 in] under a street", "2026", "practice", "fail", "both pavement edges and between, from the pavement's top",
    "A heavier pipe or a sleeve may be allowed with less; ask where trucks cross.",
)  # fmt: skip
MIN_COVER_PAVEMENT_HEAVY = _rule(
    "min-cover-pavement-heavy", "Least cover under a driveway or vehicle paving over heavy pipe (schedule 40 or as stiff)",
    "at least", 12.0, "in", "length", "common practice; AASHTO LRFD Table 12.6.6.3-1 asks for [12 in] under unpaved roads (memory)", "2026", "practice", "fail",
    "both pavement edges and between, where heavy pipe lies; elsewhere min-cover-pavement",
    ("Where a site sets min-cover-pavement to another limit than the default, this one holds only if the site "
        "sets it too."),
)  # fmt: skip
OUTLET_ZONE_HEAVY = _rule(
    "outlet-zone-heavy", "Heavy pipe where the outlet zone has less cover than lawn asks for", "none", None, "", "none",
    SHEET, "2026", "practice", "flag", "outlet zone", "No tilling over it.",
)  # fmt: skip
RING_DEFLECTION = _rule(
    "ring-deflection", "Change of a pipe's diameter under soil and wheels", "at most", 5.0, "percent", "grade",
    "Buried Pipe Design (Moser), ch. 3; the modified Iowa formula is good to 2 points of percent", "2026", "practice", "flag",
    "reaches under vehicles", "Planning aid: where trucks cross, an engineer decides.",
)  # fmt: skip
SLEEVE = _rule(
    "sleeve", "A sleeve where trucks cross: its length past each edge of the pavement", "at least", 1.0, "ft", "length",
    "a city driveway rule; [6 in] over [4 in] under trucks is common practice, no source", "2026", "practice", "flag",
    "crossings under trucks, and every sleeve that the plan names",
    "The carrier's couplings must pass; the sleeve is bedded as the pipe is.",
)  # fmt: skip
BELLY_RISK = _rule(
    "belly-risk", "Standing water in a line on soft ground, or a tenth of the bore if that is less", "at most", 0.5, "in",
    "length", ("common practice; one city (Eugene OR 5.06) opens the design again when a flow line is off by more than "
        "[0.10 ft]"), "2026", "practice", "flag", "wet low spots crossed",
    "Known to a factor 2 to 3. Over-dig two pipe diameters, refill with tamped stone.",
)  # fmt: skip
FLOTATION = _rule(
    "flotation", "Weight over uplift of an empty line with water at the ground", "at least", 1.5, "count", "count",
    "a published pipe-flotation technical note (2007) for the form; 1.5 is its factor of safety", "2026", "practice", "flag", "wet low spots crossed", "Before backfill nothing holds it: weight it, or fill it.",
)  # fmt: skip
OUTLET_ZONE = _rule(
    "outlet-zone", "Length at the outlet where less cover is allowed", "at most", 15.0, "ft", "length",
    SHEET, "2026", "practice", "flag", "last stretch before an outlet; heavy pipe there, no tilling",
)  # fmt: skip
OUTLET_ZONE_COVER = _rule(
    "outlet-zone-cover", "Least cover inside the outlet zone, upstream of the daylight stretch", "at least", 0.0, "in",
    "length", SHEET, "2026", "practice", "fail", "outlet zone",
)  # fmt: skip
DAYLIGHT_STRETCH = _rule(
    "daylight-stretch", "Length at the outlet where the pipe may show above the ground", "at most", 7.5, "ft",
    "length", SHEET, "2026", "practice", "fail", "last stretch before an outlet; half the line where that is less",
    "Mound or armour a pipe that shows.",
)  # fmt: skip
START_ZONE = _rule(
    "start-zone", "Length at the source where less cover is allowed", "at most", 0.0, "ft", "length",
    SHEET, "2026", "practice", "flag", "first stretch at a source",
)  # fmt: skip
MAX_DEPTH = _rule(
    "max-depth", "Greatest depth of the invert below ground", "at most", 4.5, "ft", "length",
    "common practice; with pipe wall and bedding the trench then stays under the [5 ft] of 29 CFR 1926.652(a)(1)", "2026", "practice", "fail", "everywhere",
    "Chosen so that the trench bottom stays under [5 ft].",
)  # fmt: skip
BEDDING = _rule(
    "bedding", "Bedding under the pipe", "at least", 0.25, "ft", "length",
    SHEET, "2026", "practice", "flag", "trench bottom = invert - wall - bedding",
)  # fmt: skip
TRENCH_WIDTH = _rule(
    "trench-width", "Width of the trench", "at least", 12.0, "in", "length",
    SHEET, "2026", "practice", "flag", "digging quantity and clearance from obstacles",
)  # fmt: skip
TRENCH_LADDER = _rule(
    "trench-ladder", "Trench depth from which a way out is needed within [25 ft]", "at most", 4.0, "ft", "length",
    "US federal trench standard 29 CFR 1926.651(c)(2), via a contractors' association summary", "2026", "code", "flag",
    "trench bottom", "Ladder within [25 ft] of every worker; spoil [2 ft] back; a competent person decides.",
)  # fmt: skip
TRENCH_PROTECTION = _rule(
    "trench-protection", "Trench depth from which a protective system is needed", "at most", 5.0, "ft", "length",
    "US federal trench standard 29 CFR 1926.652(a)(1), via a contractors' association summary", "2026", "code", "flag",
    "trench bottom", "Nobody enters unprotected; sooner in wet, sandy or surcharged ground.",
)  # fmt: skip
CURB_ALLOWANCE = _rule(
    "curb-allowance", "Outlet invert above the gutter flow line", "at least", 0.04, "ft", "length",
    SHEET, "2026", "practice", "fail", "curb outlets",
)  # fmt: skip
DAYLIGHT_ALLOWANCE = _rule(
    "daylight-allowance", "Outlet invert above the ground at the face", "at least", 0.05, "ft", "length",
    SHEET, "2026", "practice", "fail", "daylight outlets without a given invert",
)  # fmt: skip
OUTLET_CONTROL = _rule(
    "outlet-control", "The line ends at or above the outlet's control elevation", "none", None, "", "none",
    SHEET, "2026", "practice", "fail", "outlet end",
)  # fmt: skip
OUTLET_FOUNDATION = _rule(
    "outlet-foundation", "Outlet on the lot's own surface, distance from a foundation", "at least", 10.0, "ft",
    "length", "common practice; IRC R801.3 asks for [5 ft] from foundation walls on expansive soil", "2026", "local", "fail", "daylight outlets on the lot",
    "Local rules differ.",
)  # fmt: skip
SUMP_OUTLET_FOUNDATION = _rule(
    "sump-outlet-foundation", "Outlet of a sump line, distance from a foundation", "at least", 15.0, "ft", "length",
    "trade articles: past the loose backfill, [10 ft] bare minimum, [15 to 20 ft] good", "2026", "practice", "fail", "daylight outlets on the lot that carry a sump",
    "[10 ft] bare minimum; ground must fall away.",
)  # fmt: skip
OUTLET_LOT_LINE = _rule(
    "outlet-lot-line", "Outlet on the lot's own surface, distance from a lot line", "at least", 10.0, "ft", "length",
    ("city ordinances, which conflict: Warrenville IL 3-2.B asks for [5 ft], another US city (24-131) for [10 "
        "ft], others forbid aiming at a line"), "2026", "local", "fail",
    "daylight outlets on the lot", "Curb, roadside and easement outlets are judged by permit or consent instead.",
)  # fmt: skip
INSIDE_LOT = _rule(
    "inside-lot", "The line stays on the lot", "none", None, "", "none",
    "common practice; curb and parkway work is by permit (Lakeside Park KY, curb cuts)", "2026", "practice", "fail", "everywhere; the part to a curb or roadside outlet is flagged with its permit",
    "Curb, walk and parkway work needs the road owner's permit.",
)  # fmt: skip
CLEAR_OF_NEIGHBOUR = _rule(
    "clear-of-neighbour", "No part of a line or outlet on a neighbour's land", "none", None, "", "none",
    SHEET, "2026", "practice", "fail", "everywhere",
)  # fmt: skip
CLEAR_OF_BUILDING = _rule(
    "clear-of-building", "Distance of the trench's centre line from a foundation, away from the source", "at least",
    12.0, "in", "length", SHEET, "2026", "practice", "fail", "beyond the first [5 ft] from a source",
    "Inside a building it fails, nearer than the limit it is flagged. Keep out of the 45 degree plane under footings.",
)  # fmt: skip
FOUNDATION_BACKFILL = _rule(
    "foundation-backfill", "Width of loose backfill round a foundation that settles", "at least", 10.0, "ft",
    "length", SHEET, "2026", "practice", "flag", "length of line inside it, by more than [1 ft] over leaving at 45 degrees, or passing by",
    "Compact under the pipe; steeper is better there.",
)  # fmt: skip
CLEAR_OF_NO_DIG = _rule(
    "clear-of-no-dig", "No line through a no-dig area", "none", None, "", "none",
    SHEET, "2026", "practice", "fail", "everywhere",
)  # fmt: skip
CLEAR_OF_TREES = _rule(
    "clear-of-trees", "Distance from a tree's trunk (12 times its diameter when that is given)", "at least",
    6.0, "ft", "length", "Vancouver WA 20.170.100: no trench within 12 diameters of a trunk", "2026", "local", "flag", "everywhere",
)  # fmt: skip
WALL_CROSSED = _rule(
    "wall-crossed", "No line through a retaining wall; distance of the trench's centre line from one", "at least", 3.0, "ft", "length",
    SHEET, "2026", "practice", "fail", "everywhere; daylight points that the tool finds keep the distance too",
    ("Through a wall it fails, nearer than the limit it is flagged: a trench beside a wall takes the ground "
        "from under its footing or toe. An engineer decides."),
)  # fmt: skip
STEEP_GROUND = _rule(
    "steep-ground", "Ground so steep over [1 ft] and more of height that a wall or a face may stand there", "at most", 100.0, "percent", "grade",
    SHEET, "2026", "practice", "flag", "everywhere; slopes are read over one square of the ground's grid",
    "Banks stand at 2 to 1 or flatter. Look at the place; shoot the top and the toe; draw a wall where one stands.",
)  # fmt: skip
LINES_CROSS = _rule(
    "lines-cross", "Clear height between two lines that cross, outside to outside", "at least", 3.0, "in", "length",
    SHEET, "2026", "practice", "fail", "places where lines meet without joining",
    "The depth of a usual bed: the upper pipe needs one of its own.",
)  # fmt: skip
CROSSING_ANGLE = _rule(
    "crossing-angle", "Angle at which a driveway, walk or paving is crossed", "at least", 60.0, "deg", "angle",
    SHEET, "2026", "practice", "flag", "driveway, walk and paving crossings",
)  # fmt: skip
LOW_SPOT_CROSSED = _rule(
    "low-spot-crossed", "Wet low spots crossed: the bed is soft and a belly starts there", "none", None, "", "none",
    SHEET, "2026", "practice", "flag", "everywhere", "Over-dig and bed in stone, or go round.",
)  # fmt: skip
LOW_SPOT_DOUBT = _rule(
    "low-spot-doubt", "A hollow counts as certain when deeper than this many times the survey's accuracy", "at least",
    2.0, "count", "count", SHEET, "2026", "practice", "flag", "wet low spots",
)  # fmt: skip
UTILITY_CROSSED = _rule(
    "utility-crossed", "Known utility crossed: hand-dig this far each side of the mark", "at least", 24.0, "in",
    "length", "state one-call laws: hand-dig [18 or 24 in] each side of a mark (Mississippi, Florida)", "2026", "code", "flag", "utility crossings",
    "Marks show no depth; private lines are not marked. Expose it by hand before grade is final.",
)  # fmt: skip
SERVED = _rule(
    "served", "Every source has a line to a lawful outlet", "none", None, "", "none",
    SHEET, "2026", "practice", "fail", "every source",
)  # fmt: skip
GROUND_KNOWN = _rule(
    "ground-known", "The ground is known along the whole line", "none", None, "", "none",
    SHEET, "2026", "practice", "flag", "everywhere", "Shoot the ground there before ordering pipe.",
)  # fmt: skip
OWN_LINE = _rule(
    "own-line", "A source that asks for a line of its own shares none", "none", None, "", "none",
    SHEET, "2026", "practice", "fail", "sources marked own_line",
)  # fmt: skip
OUTLET_TAKES = _rule(
    "outlet-takes", "An outlet is given only the kinds of water that it takes", "none", None, "", "none",
    SHEET, "2026", "practice", "fail", "outlets with takes or refuses",
)  # fmt: skip
PIPE_GRADE = _rule(
    "pipe-grade", "Least grade by size of pipe, by the rows of books/pipe_limits.csv", "none", 0.0, "verdict", "verdict",
    "each row's own: Chicago Municipal Code table 18-29-704.1", "2026", "code", "fail", "every run, where the site sets flag or fail",
    ("[1/4 in per ft] to [2.5 in], [1/8 in per ft] from [3 in] to [6 in], [1/16 in per ft] from [8 in]. It is "
        "judged, not planned for: set min_grade to be laid so."),
)  # fmt: skip
PIPE_COVER = _rule(
    "pipe-cover", "Least cover by class of pipe, by the rows of books/pipe_limits.csv", "at least", 0.0, "verdict", "verdict",
    "each row's own: AASHTO LRFD table 12.6.6.3-1 (memory)", "2026", "practice", "fail", "where lawn's cover is asked for, where the site sets flag or fail",
    "It is judged, not planned for: set min_cover to be laid so. Under vehicles the rules of pavement speak.",
)  # fmt: skip
TIE_IN_LEVEL = _rule(
    "tie-in-level", "Share of both depths at which a line and the old pipe that it comes into are level; the line no lower", "at least", 0.8, "count", "count",
    ("Recommended Standards for Wastewater Facilities (2014) 33.6, change of size: the 0.8 depth points of "
        "both at one elevation (a quotation of it)"), "2014", "practice", "fail",
    "tie-ins", ("0 levels the inverts, 0.5 the middles, 1 the tops. Lower than this the old pipe, running full, stands "
        "back in the line."),
)  # fmt: skip
TIE_IN_SIZE = _rule(
    "tie-in-size", "An old pipe is not smaller than the line that comes into it", "none", None, "", "none",
    "Chicago Municipal Code 18-29-704.2: no reduction of size in the direction of flow", "2026", "code", "fail",
    "tie-ins whose diameter the survey gives", "What passes the larger pipe lodges in the smaller.",
)  # fmt: skip
TIE_IN_TAKES = _rule(
    "tie-in-takes", "An old pipe is given no more water than it can still take", "none", None, "", "none",
    SHEET, "2026", "practice", "fail", "tie-ins; what it can still take as the survey gives it", "Ask its owner, and look into it with a camera first.",
)  # fmt: skip
JOINS = _rule(
    "joins", "A line that joins another ends on it, at or above its invert", "none", None, "", "none",
    SHEET, "2026", "practice", "fail", "wyes",
)  # fmt: skip
BEND = _rule(
    "bend", "Greatest turn made by one fitting; a 90 is two 45s", "at most", 45.0, "deg", "angle",
    "IPC 2018 708.1.4 asks for a cleanout at each turn over 45 degrees; two 45s for a 90 are common practice", "2026", "practice", "flag", "bends", "No tees or hard 90s below ground.",
)  # fmt: skip
CLEANOUT_SPACING = _rule(
    "cleanout-spacing", "Distance between cleanouts", "at most", 50.0, "ft", "length",
    ("Chicago 708.3: every [50 ft] for [4 in] and smaller; IPC 708.1.1: [100 ft] (memory); each turn over 45 "
        "degrees: IPC 2018 708.1.4"), "2026", "local", "flag",
    "every line; and at each turn over 45 degrees", "A cleanout cleans downstream only.",
)  # fmt: skip

RUN_CAPACITY = _rule(
    "run-capacity", "A run's flow stays under its design fill, and under what it carries full", "none", None, "", "none",
    "Manning's equation with the true bore; design fill 0.80 of the depth is common practice", "2026", "practice", "fail",
    "every run whose flow is known", "Between the design fill and full it is flagged; above full it fails.",
)  # fmt: skip
RAIN_DURATION = _rule(
    "rain-duration", "The flows are those of a rain as short as the roof answers, or of the duration asked for", "none", None, "", "none",
    "a roof answers in about 5 minutes: common practice, no source", "2026", "practice", "flag",
    "every line that carries rain, when the site gives a table of durations",
    "A longer rain's mean rate is lower: pipes sized for it are too small by as much.",
)  # fmt: skip
SIZE_FITS = _rule(
    "size-fits", "The pipe laid takes its flow on the basis of capacity in force", "none", None, "", "none",
    "the basis that [water] in site.toml names; Manning unless it names a printed table", "2026", "local", "fail",
    "every line whose flow is known", "Editions of one code differ by half: ask which is in force.",
)  # fmt: skip
SIZE_SHRINKS = _rule(
    "size-shrinks", "A line is not smaller than what falls into it", "none", None, "", "none",
    SHEET, "2026", "practice", "flag", "wyes, and changes of pipe along a line",
    "What passes the larger pipe lodges in the smaller. A millimetre or two between kinds of one size is no shrinking.",
)  # fmt: skip
SELF_CLEANING = _rule(
    "self-cleaning", "Least velocity flowing full", "at least", 2.0, "ft_per_s", "velocity",
    "a plumbing engineers' data book, vol. 2; Purcell OK code 12-488", "2026", "local", "flag", "every run",
    "A smooth [4 in] pipe meets it at 1 %, a corrugated one needs 1.6 %.",
)  # fmt: skip
TOP_VELOCITY = _rule(
    "top-velocity", "Greatest velocity at the design flow", "at most", 15.0, "ft_per_s", "velocity",
    "Irving TX 35-29.4", "2026", "local", "flag", "every run whose flow is known", "Anchor steep pipe and armour its outlet.",
)  # fmt: skip
WEAKEST_LINK = _rule(
    "weakest-link", "Leaders, reducers and curb holes pass the flow that comes to them", "none", None, "", "none",
    "weirs, orifices and Manning's equation; leaders as US codes have them with water on 7/24 of the area", "2026", "practice",
    "fail", "leaders and outlets whose diameter the survey gives, and curb outlets",
)  # fmt: skip
CURB_CONCRETE = _rule(
    "curb-concrete", "Concrete left over a hole through a curb", "at least", 1.5, "in", "length",
    SHEET, "2026", "practice", "fail", "curb outlets; the face as the survey gives it, or from shots of its top and flow line", "A city's detail and permit decide.",
)  # fmt: skip
CURB_HOLE = _rule(
    "curb-hole", "A curb hole takes the line that comes to it; concrete left between two holes", "at least", 4.0, "in", "length",
    SHEET, "2026", "practice", "fail", "curb outlets", "What passes the line lodges in a smaller hole. A city's detail and permit decide.",
)  # fmt: skip
TAIL_WATER = _rule(
    "tail-water", "Water at the design flow stays below the rim at every source", "at least", 0.0, "in", "length",
    "full-pipe head line S (Q/Qfull)^2 from the water outside: FHWA HEC-22 procedure, simplified (memory)", "2026", "practice",
    "fail", "every source whose flow is known",
)  # fmt: skip
STANDING_WATER = _rule(
    "standing-water", "Length of line that stands in water between rains", "at most", 0.0, "ft", "length",
    SHEET, "2026", "practice", "flag", "lines that leave over a rim above their inverts",
    "It freezes and silts: take it to daylight, or weep it over stone.",
)  # fmt: skip
OVERFLOW_PATH = _rule(
    "overflow-path", ("Way over the lot's own ground that water has before it meets a lot line, a neighbour, a walk or a "
        "foundation"),
    "at least", 10.0, "ft", "length", "city ordinances on distance to the lot line, which conflict ([5 ft], [10 ft])", "2026", "local",
    "flag", "outlets on the lot's own surface; and where water comes out when an outlet is blocked",
    "Water that meets a foundation fails at any distance.",
)  # fmt: skip
AIR_GAP = _rule(
    "air-gap", "An open gap between a sump's pump and its line, above the water at the outlet", "none", 2.0, "verdict", "verdict",
    "practice, some local rules (memory)", "2026", "practice", "fail", "sumps; the survey's `rim` is the gap's, `air_gap` says whether there is one",
    ("Without it a blocked line sends the water back to the pit. The setting says how a pump that is joined "
        "without a gap is judged; a gap that spills fails."),
)  # fmt: skip
PUMP_FITS = _rule(
    "pump-fits", "A sump's line carries its pump's rate", "none", None, "", "none",
    "Manning's equation, flowing full, less the other water in it", "2026", "practice", "fail", "sumps whose rate is known",
)  # fmt: skip
PUMP_CYCLE = _rule(
    "pump-cycle", "Shortest time from one start of a pump to the next", "at least", 60.0, "s", "time",
    SHEET, "2026", "practice", "flag", "sumps whose pit and float travel the survey gives",
)  # fmt: skip
PUMP_REACHES = _rule(
    "pump-reaches", "A pump lifts its water through its line under pressure", "none", None, "", "none",
    "the pump's curve against static head, friction by Hazen and Williams, and fittings", "2026", "practice", "fail", "lines under pressure",
    "Without a curve or a rated point nobody can tell; the plan then says which pump would serve.",
)  # fmt: skip
PUMPED_VELOCITY_LEAST = _rule(
    "pumped-velocity-least", "Least velocity in a line under pressure", "at least", 2.0, "ft_per_s", "velocity",
    "Recommended Standards for Wastewater Facilities, section 49.1, force mains (memory)", "2014", "practice", "flag", "lines under pressure",
    "Slower water leaves its grit in the line.",
)  # fmt: skip
PUMPED_VELOCITY_MOST = _rule(
    "pumped-velocity-most", "Greatest velocity in a line under pressure", "at most", 8.0, "ft_per_s", "velocity",
    SHEET, "2026", "practice", "flag", "lines under pressure", "Faster water hammers when a check valve shuts: a larger pipe, or a smaller pump.",
)  # fmt: skip
PUMPED_GAP = _rule(
    "pumped-gap", "Open height from the end of a line under pressure down to what it pours into, in its own bores", "at least", 2.0, "count", "count",
    "ASME A112.1.2, air gaps: twice the opening (memory)", "2012", "practice", "flag", "lines under pressure that end at a discharge point",
    "A pipe let into the one below it has no way out but the pit when that is blocked.",
)  # fmt: skip
PUMPED_FREEZING = _rule(
    "pumped-freezing", "Depth below the frost of the top of a line under pressure where it stands full between runs", "at least", 0.0, "in", "length",
    ("IRC P2603.6 asks [6 in] below frost for water service, which stands full too (read); that the frost "
        "line is enough here is common practice, no source"), "2026", "practice", "flag",
    "lines under pressure that a check valve or a sag keeps full", "A frozen line stops the pump: the pit floods.",
)  # fmt: skip
CHECK_VALVE = _rule(
    "check-valve", "Share of the pit's water between off and on that runs back at each stop", "at most", 0.5, "count", "count",
    SHEET, "2026", "practice", "flag", "lines under pressure", "What runs back starts the pump again. A check valve holds it, and keeps the line full.",
)  # fmt: skip
SUMP_WAY_BACK = _rule(
    "sump-way-back", "Pumped water does not walk back to the footing", "none", None, "", "none",
    SHEET, "2026", "practice", "fail", "outlets on the lot that carry a sump",
    "Found by steepest descent over the surveyed ground, hollows filled.",
)  # fmt: skip
WALL_FALL = _rule(
    "wall-fall", "Fall of the ground from the wall at a sump, in the first [10 ft] towards its outlet", "at least", 6.0, "in", "length",
    "IRC R401.3: [6 in] in the first [10 ft]", "2026", "code", "flag", "outlets on the lot that carry a sump",
)  # fmt: skip
STORM_OVERFLOW = _rule(
    "storm-overflow", "No water comes out on the way in the storm test", "none", None, "", "none",
    "rational method at the storm's hardest block; head line as tail-water", "2026", "practice", "fail",
    "every source, when a storm is run", "Roofs answer at once and pipes hold nothing here: peaks come out a little high.",
)  # fmt: skip


def _way(source: str, outlet: str, verdict: Verdict) -> Rule:
    """What a place says of one kind of source that leaves by one kind of outlet."""
    told = verdict == "flag"
    return Rule(
        way_id(source, outlet), f"Whether {SOURCES[source].water} may leave {OUTLETS[outlet].by}", "none", float(VERDICTS.index(verdict)), "verdict", "verdict",
        _CITIES if told else SHEET, "2026", "local" if told else "practice", "fail",
        f"every {SOURCES[source].title.lower()} whose line ends at a {OUTLETS[outlet].title.lower()}", "Places differ: allow, flag or fail, as the place says.",
    )  # fmt: skip


_CITIES = "city rules, which say opposite things: Conneaut and Grove City OH, Luverne MN, Arlington, Evansville"
WAYS: Mapping[tuple[str, str], Rule] = MappingProxyType(
    {(source, outlet): _way(source, outlet, usual_way(source, outlet)) for source in SOURCES for outlet in OUTLETS}
)

NUMBERS_AGREE = _rule(
    "numbers-agree", "Stored numbers agree with the recheck", "none", None, "", "none",
    SHEET, "2026", "practice", "fail", "every elevation, station, cover and grade that the plan states",
    "A number that does not agree was changed, or a part of the program is wrong: do not stake from it.",
)  # fmt: skip

RULES: tuple[Rule, ...] = (
    CONTINUOUS_FALL, MIN_GRADE, MAX_GRADE, DROP_GRADE, MIN_COVER, MIN_COVER_PAVEMENT,
    MIN_COVER_PAVEMENT_HEAVY, OUTLET_ZONE, OUTLET_ZONE_COVER, OUTLET_ZONE_HEAVY,
    DAYLIGHT_STRETCH, START_ZONE, MAX_DEPTH, BEDDING, TRENCH_WIDTH, TRENCH_LADDER, TRENCH_PROTECTION, CURB_ALLOWANCE,
    DAYLIGHT_ALLOWANCE, OUTLET_CONTROL, OUTLET_FOUNDATION, SUMP_OUTLET_FOUNDATION, OUTLET_LOT_LINE, INSIDE_LOT,
    CLEAR_OF_NEIGHBOUR, CLEAR_OF_BUILDING, FOUNDATION_BACKFILL, CLEAR_OF_NO_DIG, WALL_CROSSED, STEEP_GROUND, CLEAR_OF_TREES, LINES_CROSS, CROSSING_ANGLE,
    LOW_SPOT_CROSSED, LOW_SPOT_DOUBT, BELLY_RISK, FLOTATION, RING_DEFLECTION, SLEEVE, UTILITY_CROSSED, SERVED, OWN_LINE, OUTLET_TAKES, PIPE_GRADE, PIPE_COVER, TIE_IN_LEVEL, TIE_IN_SIZE, TIE_IN_TAKES, GROUND_KNOWN, JOINS, BEND, CLEANOUT_SPACING,
    RUN_CAPACITY, RAIN_DURATION, SIZE_FITS, SIZE_SHRINKS, SELF_CLEANING, TOP_VELOCITY, WEAKEST_LINK, CURB_CONCRETE, CURB_HOLE, TAIL_WATER, STANDING_WATER,
    OVERFLOW_PATH, AIR_GAP, PUMP_FITS, PUMP_CYCLE, PUMP_REACHES, PUMPED_VELOCITY_LEAST, PUMPED_VELOCITY_MOST, PUMPED_GAP, PUMPED_FREEZING, CHECK_VALVE, SUMP_WAY_BACK, WALL_FALL, STORM_OVERFLOW,
    *WAYS.values(),
    NUMBERS_AGREE,
)  # fmt: skip

_NEEDED = {  # the planner cannot work without these; "unknown" is refused for them
    rule.id
    for rule in (
        MIN_GRADE, MIN_COVER, OUTLET_ZONE, OUTLET_ZONE_COVER, DAYLIGHT_STRETCH, START_ZONE, MAX_DEPTH, BEDDING,
        TRENCH_WIDTH, CURB_ALLOWANCE, DAYLIGHT_ALLOWANCE, LOW_SPOT_DOUBT, CLEAR_OF_BUILDING, TIE_IN_LEVEL,
    )
}  # fmt: skip


def settings_units(rule: Rule) -> dict[str, str]:
    """Keys that set this rule under [rules], each with its unit: its id with `_` for `-`, and the unit last.

    Parameters
    ----------
    rule : Rule
        A declared rule.

    Returns
    -------
    dict of str to str
        The rule's own unit first; empty for a rule without a limit.
    """
    stem = rule.id.replace("-", "_")
    fitting = _UNITS_OF[rule.dimension]
    own = rule.unit if rule.unit in fitting else None
    order = ([own] if own else []) + [unit for unit in fitting if unit != own]
    return {stem if unit in {"count", "verdict"} else f"{stem}_{unit}": unit for unit in order}


def settings_keys(rule: Rule) -> tuple[str, ...]:
    """Keys that set this rule under [rules].

    Parameters
    ----------
    rule : Rule
        A declared rule.

    Returns
    -------
    tuple of str
        As `settings_units`.
    """
    return tuple(settings_units(rule))


def rule_unit_text(unit: str) -> str:
    """A unit of a rule as printed.

    Parameters
    ----------
    unit : str
        Any unit of a rule's kind.

    Returns
    -------
    str
        '' for what is counted or is a verdict.

    Examples
    --------
    >>> rule_unit_text("us_ft"), rule_unit_text("ft_per_s"), rule_unit_text("count")
    ('US survey ft', 'ft/s', '')
    """
    return "" if unit in {"count", "verdict"} else unit.replace("us_ft", "US survey ft").replace("_per_", "/")


def limit_text(rule: Rule, limit: float | None, unit: str) -> str:
    """A limit as printed: '12 in', '1.00 percent', 'not known'.

    Parameters
    ----------
    rule : Rule
        The rule, for its dimension.
    limit : float or None
        In `unit`.
    unit : str
        Any unit of the rule's kind.

    Returns
    -------
    str
        Number and unit.
    """
    if rule.dimension == "none":
        return ""
    if limit is None:
        return "not known"
    if rule.dimension == "verdict":
        return VERDICTS[int(limit)]
    return f"{limit:g} {rule_unit_text(unit)}".strip()


def declared_text(entry: InForce) -> str:
    """A limit in force as printed in the unit that its rule is declared in: '12 in'.

    Parameters
    ----------
    entry : InForce
        A rule with a limit.

    Returns
    -------
    str
        Number and unit.
    """
    rule = entry.rule
    if entry.limit is None or rule.dimension in {"none", "verdict"}:
        return limit_text(rule, entry.limit, rule.unit)
    return limit_text(rule, float(f"{entry.limit / _UNITS_OF[rule.dimension][rule.unit]:.6g}"), rule.unit)


def _typed(value: object) -> str:
    """A value as somebody typed it, no longer than a line holds."""
    text = as_written(value)
    return text if len(text) <= 60 else text[:59] + "\u2026"


def rule_book(overrides: Mapping[str, Any], where: str = "site.toml", length_unit: str = "ft") -> RuleBook:
    """The rules in force: the defaults with a site's overrides laid on top.

    Parameters
    ----------
    overrides : mapping
        The [rules] table: key (see `settings_keys`) to a number, a verdict, or the text "unknown".
    where : str
        File named in error messages.
    length_unit : str
        The site's, for the words.

    Returns
    -------
    mapping of str to InForce
        By rule id, in declared order.

    Raises
    ------
    InputError, InputErrors
        For an unknown key (the nearest is offered), a unit of another kind, a value that is no finite
        number at or above 0, a key given twice in two units, or "unknown" for a limit the planner needs.
    """
    keys = {key: rule for rule in RULES for key in settings_keys(rule)}
    faults: list[InputError] = []
    given: dict[str, tuple[str, float | None, str]] = {}
    for key, value in overrides.items():
        place = f"{where}, [rules] {key}"
        rule = keys.get(key)
        if rule is None:
            faults.append(_unknown_key(place, key, keys))
            continue
        if rule.id in given:
            faults.append(
                InputError(place, f"sets {rule.id} a second time ({given[rule.id][0]})", "Keep one of the two.")
            )
            continue
        if value == "unknown":
            if rule.id in _NEEDED:
                faults.append(
                    InputError(place, "cannot be unknown: no line can be laid out without it", "Give a number.")
                )
            given[rule.id] = (key, None, "")
            continue
        if rule.dimension == "verdict":
            if value in VERDICTS:
                given[rule.id] = (key, float(VERDICTS.index(value)), "verdict")
            else:
                faults.append(InputError(place, f"is {value!r}", 'Write "allow", "flag", "fail" or "unknown".'))
            continue
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < GREATEST:
            faults.append(InputError(place, f"is {_typed(value)}", 'Give a number from 0 to 1e9, or "unknown".'))
            continue
        unit = key[len(rule.id) + 1 :] or "count"
        most = _MOST[rule.dimension] / _UNITS_OF[rule.dimension][unit]
        if value > most:
            faults.append(
                InputError(
                    place,
                    f"is {value:g}",
                    f'No plan of a lot holds such a limit: give {float(f"{most:.3g}"):g} at most, or "unknown".',
                )
            )
            continue
        given[rule.id] = (key, float(value), unit)
    raise_gathered(faults)
    book: dict[str, InForce] = {}
    for rule in RULES:
        shown = worded(rule, length_unit)
        default = None if rule.limit is None else rule.limit * _UNITS_OF[rule.dimension][rule.unit]
        if rule.id not in given:
            book[rule.id] = InForce(shown, default, shown.source, None)
            continue
        _, number, unit = given[rule.id]
        limit = None if number is None else number * _UNITS_OF[rule.dimension][unit]
        was = limit_text(shown, shown.limit, shown.unit)
        same = limit is not None and default is not None and math.isclose(limit, default, rel_tol=1e-9, abs_tol=1e-12)
        note = f"{where} [rules], same as the default" if same else f"{where} [rules]"
        book[rule.id] = InForce(shown, limit, note, was, own=not same)
    return book


def _unknown_key(place: str, key: str, keys: Mapping[str, Rule]) -> InputError:
    for rule in keys.values():
        stem = rule.id.replace("-", "_")
        if key == stem or (
            key.startswith(stem + "_")
            and key.rsplit("_", 1)[-1] in {"percent", "ft", "in", "m", "mm", "gpm", "lps", "deg", "ratio", "s"}
        ):
            return InputError(place, f"has no unit that fits {rule.id}", f"Write {', '.join(settings_keys(rule))}.")
    otherwise = "siteplan rules lists the rules by name; a key is a rule's name and its unit, such as min_cover_in."
    return InputError(place, "is no rule known here", alike_or(key, keys, otherwise))


def limit(book: RuleBook, rule: Rule) -> float | None:
    """Limit in force, SI; None when not known.

    Parameters
    ----------
    book : RuleBook
        The rules in force.
    rule : Rule
        The rule asked for.

    Returns
    -------
    float or None
        Metres, ratio, degrees or m3/s by the rule's kind.
    """
    return book[rule.id].limit


def needed(book: RuleBook, rule: Rule) -> float:
    """Limit in force of a rule that the planner cannot work without.

    Parameters
    ----------
    book : RuleBook
        The rules in force.
    rule : Rule
        One that `rule_book` refuses to leave unknown.

    Returns
    -------
    float
        Metres, ratio, degrees or m3/s by the rule's kind.

    Raises
    ------
    ValueError
        If the limit is not known.
    """
    value = book[rule.id].limit
    if value is None:
        raise ValueError(f"{rule.id} has no limit")
    return value


def pavement_covers(book: RuleBook) -> tuple[float | None, float | None]:
    """Cover asked for under vehicles, by pipe.

    Parameters
    ----------
    book : RuleBook
        The rules in force.

    Returns
    -------
    tuple of float or None
        Over any pipe, and over heavy pipe [m], neither less than the lawn's; None: not known, or no such relief.
        A site that sets the first to its own limit is not given the trade's relief unless it sets the second as well.
    """
    lawn = needed(book, MIN_COVER)
    plain, heavy = book[MIN_COVER_PAVEMENT.id], book[MIN_COVER_PAVEMENT_HEAVY.id]
    usual = MIN_COVER_PAVEMENT.limit or 0.0
    own = plain.replaced is not None and (
        plain.limit is None or not math.isclose(plain.limit, usual * _UNITS_OF["length"][MIN_COVER_PAVEMENT.unit])
    )
    relief = heavy.limit if heavy.replaced is not None or not own else None
    if plain.limit is not None and relief is not None and relief > plain.limit:
        relief = None
    return (
        None if plain.limit is None else max(plain.limit, lawn),
        None if relief is None else max(relief, lawn),
    )


def outward(entry: InForce) -> tuple[float | None, str]:
    """Limit and unit as plan.json carries them: metres, percent, degrees.

    Parameters
    ----------
    entry : InForce
        A rule in force.

    Returns
    -------
    tuple
        Limit (None when not known or when the rule has none) and unit.
    """
    unit = _SI_UNIT[entry.rule.dimension]
    if entry.limit is None:
        return None, unit
    scale = {"grade": 100.0, "flow": 1000.0}.get(entry.rule.dimension, 1.0)
    return entry.limit * scale, unit
