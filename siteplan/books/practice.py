"""Figures of practice that decide something and that more than one room works with, or that a user would want to know.

Each is a number in SI, and says what it decides and where it comes from. Limits that a site can change stand in
`rules`, prices in `prices`; a figure that belongs to one formula stays with its formula. docs/practice.md is made from
this file.
"""

from __future__ import annotations

from typing import Self

from siteplan import units

TRADE = "common practice, no source"
MEMORY = "common practice, from memory"


class Practice(float):
    """A figure of practice: a plain number in SI that carries what people read about it.

    Attributes
    ----------
    typed : float
        As practice says it, in `unit`.
    unit : {'ft', 'in', 'm', 'deg', 'min', 'ratio'}
        Of `typed`. Lengths are metres as a number; angles, minutes and ratios are kept as they are.
    decides : str
        What hangs on it.
    source : str
        Title and place, or `TRADE`.
    """

    __slots__ = ("decides", "source", "typed", "unit")

    typed: float
    unit: str
    decides: str
    source: str

    def __new__(cls, typed: float, unit: str, decides: str, source: str = TRADE) -> Self:
        """A number in SI from a number in the unit that practice uses."""
        self = super().__new__(cls, typed * units.LENGTH.get(unit, 1.0))
        self.typed, self.unit, self.decides, self.source = typed, unit, decides, source
        return self

    def __getnewargs__(self) -> tuple[float, str, str, str]:  # type: ignore[override] # a copy is made as it was made
        return self.typed, self.unit, self.decides, self.source


# Rods and shots
PAIR_DOUBT = Practice(0.02, "ft", "two shots of one set-up prove no less a difference than this")
READING_SPREAD = Practice(
    0.01,
    "ft",
    (
        "one standard deviation of a careful shot on firm ground or pipe, and of the difference of two from one "
        "set-up; a plan counts on it for a shot that it asks for"
    ),
)
SCATTER_OF_PIPE = Practice(0.02, "ft", "shots that scatter more about a straight run show the pipe and not the rod")
MISCLOSED = Practice(
    0.02,
    "ft",
    "a mark shot twice in one set-up may differ by this; a level run by this times the square root of its set-ups",
    MEMORY,
)
SOIL_SHOT = Practice(
    0.10, "ft", "one standard deviation of the ground's height where a site does not give its accuracy"
)
SHOT_BESIDE_GRID = Practice(
    0.03, "ft", "one standard deviation of a shot on soil beside a grid that has an accuracy of its own"
)
ROD_REACH = Practice(25, "ft", "a reading above it is no reading of a rod in feet")
ROD_REACH_METRES = Practice(8, "m", "a reading above it is no reading of a rod in metres")
ROUGH_GROUND = Practice(0.01, "ratio", "unshot flat ground strays by so much a metre from the nearest shot")
ROUGH_SLOPES = Practice(0.05, "ratio", "and by so much of the slope more")
ROUGHEST = Practice(0.15, "m", "and by no more than this")
CODE_GAP = Practice(30, "m", "shots of one code farther apart are not joined to one line: a gap in the shooting")
SPIKE_ASKED = Practice(1.5, "m", "a shot off all its neighbours by so much is asked about")
SPIKE_TOLD = Practice(0.5, "m", "and by so much is told")

# Ground and yard
NEAREST_GROUND = Practice(2.0, "m", "a source or an outlet on unknown ground takes the nearest known height within it")
OFF_LOT_LINE = Practice(0.3, "m", "what is drawn so little off the lot counts as on its line")
SPRINKLER_RADIUS = Practice(3.0, "m", "wet ground round a sprinkler whose radius is not given")
ROOT_CIRCLE = Practice(6, "ft", "kept round a tree whose trunk is not given")
LEAVES_WALL_WITHIN = Practice(1.5, "m", "water that comes out at a wall may run so far before it leaves the wall")
HOLLOWS_AROUND = Practice(10.0, "m", "how far outside the lot a hollow still matters")
UNSURE_HOLLOWS_AROUND = Practice(3.0, "m", "the same for one that the survey cannot tell from level ground")
HOLLOW_SEEN = Practice(0.001, "m", "a shallower hollow is the arithmetic of the survey, not ground")
PATH_FOLLOWED = Practice(
    60.0, "m", "water that leaves an outlet is followed so far over the ground: past it, it is another matter"
)
WETS_A_FOOTING = Practice(0.5, "m", "water so near to a wall wets its footing")
GUTTER_OF_CURB = Practice(0.75, "m", "a curb drawn at its back has its gutter within this")
BACK_AT_SUMP = Practice(1.5, "m", "water so near to the sump that it was pumped from is back in it")


# Outlets
GUTTER_SEARCH = Practice(0.6, "m", "the lowest ground so near a curb outlet is taken for the gutter's flow line")
USUAL_CURB_FACE = Practice(0.50, "ft", "top of a curb above its flow line, where nobody measured it")
HIGHEST_CURB_FACE = Practice(1.5, "ft", "a higher face is no curb's")
FACE_AGREES = Practice(0.03, "ft", "a typed curb face and a shot one that differ by more are told")
CURB_PIECE = Practice(5.0, "ft", "of smaller pipe before a curb: the reducer lies where it can be dug up")
SWALE_RISE = Practice(0.33, "ft", "an outlet's invert above the flow line of its swale")
POPUP_LIFT = Practice(1.0, "in", "what the lid of a pop-up lifts")
FLOW_LINE_SHOT = Practice(1.5, "m", "from a curb outlet to a shot that tells its gutter's flow line")
CURB_AND_GUTTER = Practice(0.6, "m", "about 2 ft: what a line may lie bare behind a curb's face")
BURIED_END = Practice(0.15, "m", "a given invert farther under the ground at its face is no daylight")
NEXT_SIZE_DOWN = Practice(
    0.6, "ratio", "of the bore: 3 in of 4 in and 4 in of 6 in are one trade size down, 3 in of 6 in is two"
)
SAME_SIZE = Practice(
    0.05,
    "ratio",
    "of the bore: walls and kinds of one nominal size differ by less, sizes by more",
    "the book of pipes: 3.5 % between kinds of 3 in, 2.7 % of 6 in; 12 % from DN 110 to DN 125",
)
SHORTEST_CURB_PIECE = Practice(1.0, "ft", "a shorter piece before a curb cannot be laid with its coupling")
BELOW_JOIN = Practice(1.0, "ft", "from a wye or a bend to the reducer before a curb")


# Pipe and trench
JOINTS_GIVE = Practice(2.5, "deg", "a turn that the joints of two pipe lengths take up by themselves")
STICK = Practice(10, "ft", "the laying length of pipe")
STAKES_FEET = Practice(10, "ft", "between stakes on a site in feet (international or survey)")
STAKES_METRES = Practice(3.0, "m", "between stakes on a site in metres")
PAST_PAVEMENT = Practice(
    2, "ft", "heavy pipe and its bedding go on so far past each edge of pavement that carries wheels (1 to 2 ft)"
)
ADVISED_PAST_PAVEMENT = Practice(
    4, "ft", "heavy pipe that a review advises in place of a lighter one goes on so far: nobody cuts pipe at the slab"
)
SLEEVE_PAST = Practice(
    1,
    "ft",
    "a sleeve goes on so far past each edge of the pavement",
    "a rule of one city for driveways (read), and common practice",
)
POOL_LIMIT = Practice(
    0.5,
    "in",
    "a deeper pool in a line that settles is flagged, or a smaller one by the next figure",
    MEMORY,
)
POOL_SHARE = Practice(0.10, "ratio", "of the bore: a deeper pool in a line that settles is flagged", MEMORY)
SET_GRADE_METRES = Practice(
    0.0005, "ratio", "on a metric site lines are laid in grades that are whole numbers of it where such grades fit"
)
SET_GRADE_FEET = Practice(0.0625 / 12, "ratio", "the same on a site in feet: a sixteenth of an inch a foot (0.52 %)")
FEWER_GRADES = Practice(
    0.03, "ratio", "of the cost of lines that end together: so much more is dug to have fewer grades to set"
)
MARGIN_WORTH = Practice(
    0.10, "ratio", "of the cost of lines that end together: a margin that costs more than this is given up"
)
GRADE_STEP = Practice(0.0025, "ratio", "grades that a crew sets and remembers")
FLATTEST_BY_LASER = Practice(0.005, "ratio", "smooth pipe laid by laser: nobody is told to lay flatter")
THINNEST_COVER = Practice(0.50, "ft", "nobody is told that less cover than this is the way out")

# Water
ROOF_ANSWERS = Practice(5.0, "min", "how soon a roof answers: the duration of the rain where none is asked for")
SMALLEST_BORE = Practice(3.5, "in", "4 in and DN 110 are the smallest pipe laid unless the site says so")
FLOAT_TRAVEL = Practice(8, "in", "travel of a pump's float where the site does not give it")
LEADER_SHARE = Practice(
    7 / 24,
    "ratio",
    "of a round leader's area that water takes: the lower of two in print (the other is 1/3)",
    "older US plumbing codes, from memory",
)


# What is offered
LONGEST_ZONE = Practice(18.5, "m", "some 60 ft: nobody speaks of a longer stretch of thin cover as an outlet zone")
LEAST_COVER_SHARE = Practice(0.5, "ratio", "of the default cover: less is not offered")
DEEPEST = Practice(3.1, "m", "some 10 ft: a deeper trench on a lot is another job")
POPUP_HEAD = Practice(
    0.15, "m", "a pop-up's rim stays so far under the ground at its source, so that it opens before the water comes out"
)
MOST_FILL = Practice(0.45, "m", "more fill is a landscape of its own")

SAME_TRENCH = Practice(1.0, "m", "two layouts whose trenches lie no farther apart are one layout")
SAME_SHARE = Practice(
    0.1, "ratio", "and of each no more than this share of its trench may lie farther from the other's"
)
PAVEMENT_DEARER = Practice(10, "ratio", "times its price that pavement is taken at where a layout is to avoid it")
DIG_DEARER = Practice(5, "ratio", "times its price that depth is taken at where a layout is to be shallow")

# As laid
OFF_GRADE = Practice(0.05, "ft", "an invert so far off its design is off grade, for grades about 1 %")
REOPENS = Practice(
    0.10,
    "ft",
    "a flow line farther off reopens the design",
    "a rule of one city for record drawings (Eugene 5.06, read)",
)
DATUM_SEEN = Practice(0.02, "ft", "a common shift of all fixed objects beyond it is another datum")
FIXED_AGREE = Practice(0.04, "ft", "fixed objects shot from one set-up agree to this")
LEAST_WATER = Practice(0.01, "ft", "a shallower pool is not told: 1/8 in, the last digit of a rod")
AT_A_FITTING = Practice(0.9, "m", "3 ft: a shot so near to a planned fitting is a shot on it, if it may be one")
ON_A_FITTING = Practice(0.3, "m", "1 ft: a shot so near to a fitting is on it whatever it is called")
OUTLET_MOVED = Practice(0.3, "m", "1 ft: an outlet so far from its place has moved")
OFF_LINE = Practice(1.5, "m", "a shot farther off every line is not on the pipe as planned")
BESIDE_PIPE = Practice(0.3, "m", "1 ft: a shot farther off the others' line is not on their pipe")
CAP_SURE = Practice(1.0, "ft", "a shot called cleanout and so high over the design is its cap and cannot be the pipe")
NEXT_TO = Practice(1.0, "m", "an object so near to the outlet is what it empties beside")
UNDER_PRESSURE_PIPE = Practice(0.25, "ft", "between a drain and a pressure pipe that crosses it")
TAPE_REACH = Practice(30.0, "m", "what a tape reaches: a tie is taken to no farther corner")
TIES_CROSS = Practice(30.0, "deg", "two tapes that cross at less, or at 180 less it, fix no place")
SHORT_PIECE = Practice(20, "ft", "two sticks: a shorter piece may be flatter than asked, as long as it falls")

# Quantities
PAVEMENT_CUT_BACK = Practice(6, "in", "pavement is sawn so far past each side of the trench, and restored over it")
PAVEMENT_THICKNESS = Practice(
    4, "in", "concrete of a walk or drive, where it is concrete: what is poured again over a trench"
)
