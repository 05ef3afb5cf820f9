"""The figures of practice, typed anew beside what is known of each, so that none moves unseen.

Also that the rooms work with them.
"""

from __future__ import annotations

import copy
import json

import pytest

from siteplan.books import practice
from siteplan.books.practice import Practice

FOOT, INCH = 0.3048, 0.0254

# section of the project's reference page on the trade where there is one; the others are common practice, no source
KNOWN = {
    "PAIR_DOUBT": 0.02 * FOOT,
    "READING_SPREAD": 0.01 * FOOT,  # section 4: turning points and benchmarks are read to 0.01 ft
    "SCATTER_OF_PIPE": 0.02 * FOOT,
    "MISCLOSED": 0.02 * FOOT,  # section 6, level closure: 0.02 ft x sqrt(set-ups)
    "SOIL_SHOT": 0.1 * FOOT,  # section 4: earth spots may be given to 0.1 ft
    "SHOT_BESIDE_GRID": 0.03 * FOOT,
    "ROD_REACH": 25 * FOOT,
    "ROD_REACH_METRES": 8,
    "ROUGH_GROUND": 0.01,
    "ROUGH_SLOPES": 0.05,
    "ROUGHEST": 0.15,
    "CODE_GAP": 30,
    "SPIKE_ASKED": 1.5,
    "SPIKE_TOLD": 0.5,
    "NEAREST_GROUND": 2,
    "OFF_LOT_LINE": 0.3,
    "SPRINKLER_RADIUS": 3,
    "ROOT_CIRCLE": 6 * FOOT,
    "LEAVES_WALL_WITHIN": 1.5,
    "GUTTER_SEARCH": 0.6,
    "USUAL_CURB_FACE": 0.5 * FOOT,  # section 1, gutter flow line and top of curb: about 0.50 ft
    "HIGHEST_CURB_FACE": 1.5 * FOOT,
    "FACE_AGREES": 0.03 * FOOT,
    "CURB_PIECE": 5 * FOOT,  # section 5: the last 5 ft to a 3-in curb hole
    "SWALE_RISE": 0.33 * FOOT,
    "POPUP_LIFT": INCH,
    "JOINTS_GIVE": 2.5,
    "STICK": 10 * FOOT,  # section 5: a 10-ft stick
    "STAKES_FEET": 10 * FOOT,  # section 5: the table of dig day
    "STAKES_METRES": 3,
    "PAST_PAVEMENT": 2 * FOOT,
    "ADVISED_PAST_PAVEMENT": 4
    * FOOT,  # the story of the driveway: from about 0+34 to 0+54 for a drive from 0+38 to 0+50
    "SLEEVE_PAST": FOOT,  # one city's rule for driveways, read
    "POOL_LIMIT": 0.5 * INCH,  # the project's page on pipe and ground, what to flag
    "POOL_SHARE": 0.1,  # the same
    "SET_GRADE_METRES": 0.0005,
    "SET_GRADE_FEET": 1 / 192,  # a sixteenth of an inch in twelve inches
    "FEWER_GRADES": 0.03,
    "MARGIN_WORTH": 0.1,
    "GRADE_STEP": 0.0025,
    "FLATTEST_BY_LASER": 0.005,  # section 6, min pipe slope: 0.5 % only smooth pipe on laser grade
    "THINNEST_COVER": 6 * INCH,
    "ROOF_ANSWERS": 5,  # section 6, design rain: the 5-minute rate
    "SMALLEST_BORE": 3.5 * INCH,
    "FLOAT_TRAVEL": 8 * INCH,
    "LONGEST_ZONE": 18.5,
    "LEAST_COVER_SHARE": 0.5,
    "SAME_TRENCH": 1,
    "SAME_SHARE": 0.1,
    "PAVEMENT_DEARER": 10,
    "DIG_DEARER": 5,
    "DEEPEST": 3.1,
    "POPUP_HEAD": 0.15,
    "MOST_FILL": 0.45,
    "OFF_GRADE": 0.05 * FOOT,  # section 6, as-built tolerance
    "REOPENS": 0.1 * FOOT,  # the same; Eugene 5.06, read
    "DATUM_SEEN": 0.02 * FOOT,
    "FIXED_AGREE": 0.04 * FOOT,
    "LEAST_WATER": 0.01 * FOOT,  # section 5: 0.01 ft is 1/8 in
    "AT_A_FITTING": 0.9,
    "ON_A_FITTING": 0.3,
    "OUTLET_MOVED": 0.3,
    "OFF_LINE": 1.5,
    "BESIDE_PIPE": 0.3,
    "CAP_SURE": FOOT,
    "NEXT_TO": 1,
    "UNDER_PRESSURE_PIPE": 0.25 * FOOT,
    "TAPE_REACH": 30,
    "TIES_CROSS": 30,
    "HOLLOWS_AROUND": 10,
    "UNSURE_HOLLOWS_AROUND": 3,
    "HOLLOW_SEEN": 0.001,
    "FLOW_LINE_SHOT": 1.5,
    "CURB_AND_GUTTER": 0.6,
    "BURIED_END": 0.15,
    "NEXT_SIZE_DOWN": 0.6,
    "SAME_SIZE": 0.05,  # the book of pipes: kinds of one size differ by 3.5 % at most, sizes by 12 % at least
    "SHORTEST_CURB_PIECE": FOOT,
    "BELOW_JOIN": FOOT,
    "LEADER_SHARE": 7 / 24,  # older US plumbing codes; memory
    "SHORT_PIECE": 20 * FOOT,
    "PAVEMENT_CUT_BACK": 6 * INCH,
    "PAVEMENT_THICKNESS": 4 * INCH,  # section 7, row 10: a 4-in slab
    "PATH_FOLLOWED": 60,
    "WETS_A_FOOTING": 0.5,
    "GUTTER_OF_CURB": 0.75,
    "BACK_AT_SUMP": 1.5,
}


def test_no_figure_moves_unseen():
    held = {name: float(one) for name, one in vars(practice).items() if isinstance(one, Practice)}
    assert held == pytest.approx(KNOWN, rel=1e-12)


def test_a_figure_is_a_plain_number_wherever_it_goes():
    lift = practice.POPUP_LIFT
    assert json.dumps([lift, 2 * lift]) == "[0.0254, 0.0508]"
    assert f"{lift} {lift:.3f}" == "0.0254 0.025"
    assert type(lift + 0.0) is float
    again = copy.deepcopy(lift)
    assert (again, again.typed, again.unit, again.decides) == (lift, 1.0, "in", lift.decides)
