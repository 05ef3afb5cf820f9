"""Each order to relay can be carried out.

Between its ends as they lie the pipe can be laid, and what stays is right.
"""

from __future__ import annotations

import json

import pytest

from siteplan.laid.asbuilt_text import asbuilt_as_json, asbuilt_as_text
from siteplan.laid.asbuilt_typed import checked_from_typed

FOOT = 0.3048
TWO_SHOTS, OFF, REOPENS = 0.02, 0.05, 0.10  # ft, as docs/practice.md has them


def design(s, grades):
    """Invert at a station, of a line from 90.00 whose grades change where said."""
    z, at, grade = 90.0, 0.0, 0.0
    for start, then in grades:
        if s > start:
            z, at, grade = z + grade * (start - at), start, then
    return z + grade * (s - at)


def told(shots, offs, grades=((0.0, 0.015),), step=10):
    ends = sorted({0, step * (len(offs) - 1), *(s for s, _ in grades)})
    plan = "station,invert,name\n" + "".join(f"{s},{design(s, grades):.3f},\n" for s in ends)
    rows = [(i * step, round(design(i * step, grades) + off, 2)) for i, off in enumerate(offs)]
    made, result = checked_from_typed(
        {
            "plan": shots(plan, "plan.csv"),
            "shots": shots("station,elevation\n" + "".join(f"{s},{z:.2f}\n" for s, z in rows)),
            "on": "invert",
        }
    )
    return json.loads(asbuilt_as_json(result, made)), asbuilt_as_text(result, made), dict(rows)


FLAT_SAG = [0.01, 0.01, -0.01, -0.15, -0.24, -0.17, -0.01, 0.01, 0, 0, 0.01]
CASES = {
    "a sag that never holds water": (FLAT_SAG, ((0, 0.015),), [(20, 60)]),
    "steep enough to hold none": ([0, 0, -0.2, -0.4, -0.6, -0.6, -0.4, -0.2, 0, 0, 0], ((0, 0.025),), None),
    "low for long": ([0, 0, -0.16, -0.3, -0.3, -0.3, -0.3, -0.3, -0.15, 0, 0], ((0, 0.015),), [(10, 90)]),
    "a hump": ([0, 0, 0, 0, 0.16, 0.3, 0.16, 0, 0, 0, 0], ((0, 0.015),), [(30, 70)]),
    "laid too flat from a high lower end": ([0, 0.02, 0.16, 0.3, 0.2, 0.1, 0, 0, 0, 0, 0], ((0, 0.015),), None),
    "two sags": ([0, 0, -0.13, -0.25, 0, 0, 0, -0.13, -0.25, 0, 0], ((0, 0.015),), None),
    "sags that run into one another": ([0, 0, -0.14, -0.26, -0.15, -0.29, -0.4, -0.2, 0, 0, 0], ((0, 0.015),), None),
    "a sag across a change of grade": ([0, 0, 0, -0.14, -0.28, -0.14, 0, 0, 0, 0, 0], ((0, 0.012), (40, 0.02)), None),
    "a sag in a line that is low as a whole": ([o - 0.04 for o in FLAT_SAG], ((0, 0.015),), [(20, 60)]),
    "a belly": ([0, 0, 0, -0.2, -0.3, -0.15, 0, 0, 0, 0, 0], ((0, 0.01),), None),
}


@pytest.mark.parametrize("case", CASES)
def test_what_is_relaid_can_be_laid_and_what_stays_is_right(shots, case):
    offs, grades, expected = CASES[case]
    record, text, invert = told(shots, offs, grades)
    assert record["verdict"] == "re-dig", text
    spans = [(round(one["station_from"] / FOOT), round(one["station_to"] / FOOT)) for one in record["relay"]]
    assert spans
    if expected:
        assert spans == expected
    mended = dict(invert)
    for (first, last), one in zip(spans, record["relay"], strict=True):
        length = last - first
        laid, asked = (invert[last] - invert[first]) / length, (design(last, grades) - design(first, grades)) / length
        assert laid >= asked - 1.5 * TWO_SHOTS / length  # the design, as well as two shots can tell
        assert laid >= 0.01 - TWO_SHOTS / length
        assert one["grade_percent"] == pytest.approx(laid * 100, abs=0.01)
        assert one["designed_percent"] == pytest.approx(asked * 100, abs=0.01)
        assert one["anew"] == []
        assert f"it can be laid at {laid * 100:.2f} %" in text
        for s in range(first, last + 1, 10):
            a, b = invert[first] - design(first, grades), invert[last] - design(last, grades)
            mended[s] = design(s, grades) + a + (b - a) * (s - first) / length
    left = {s: z - design(s, grades) for s, z in mended.items()}
    assert max(abs(off) for off in left.values()) <= REOPENS
    falls = [(mended[s + 10] - mended[s]) / 10 for s in range(0, 100, 10)]
    assert min(falls) > 0
    assert "Nothing else to relay." in text
    # and so says the check itself, once it is done
    again, words, _ = told(shots, [round(left[s], 3) for s in sorted(left)], grades)
    assert again["verdict"] in {"accept", "fix-paper"}, words


def test_a_line_low_all_the_way_up_is_set_anew_at_its_upper_end(shots):
    record, text, _ = told(shots, [0, 0, 0, -0.1, -0.2, -0.28, -0.36, -0.44, -0.52, -0.6, -0.68])
    (order,) = record["relay"]
    assert order["station_to"] / FOOT == pytest.approx(100)
    assert order["anew"] == [pytest.approx(100 * FOOT)]
    assert order["invert_to"] / FOOT == pytest.approx(91.5)  # the design
    assert "1+00.0 set anew" in text


def test_where_no_two_ends_leave_a_grade_the_designer_decides(shots):
    """Of a pipe given by an invert and a grade nobody knows where its upper end is."""
    rows = "".join(f"{s},{95.5 + 0.01 * min(s, 30):.2f}\n" for s in range(0, 110, 10))
    made, result = checked_from_typed({"plan": "95.50@1.00", "shots": shots("station,elevation\n" + rows)})
    text = asbuilt_as_text(result, made)
    (order,) = json.loads(asbuilt_as_json(result, made))["relay"]
    assert order["grade_percent"] is None
    assert "the designer decides" in text
    assert "Nothing else to relay" not in text


def test_pipe_that_stays_far_off_its_design_is_not_said_to_need_nothing(shots):
    record, text, _ = told(shots, [-0.15, -0.15, -0.15, -0.35, -0.4, -0.15, -0.15, -0.15, -0.15, -0.15, -0.15])
    assert record["relay"]
    assert "Nothing else to relay." not in text


@pytest.mark.parametrize(
    ("grade", "said"),
    [
        (0.015, "designed 1.50 %, least asked 1.00 %"),
        (0.03, "designed 3.00 %, least asked 1.00 %"),
        (0.006, "designed 0.60 %, and no less is asked of it"),
    ],
)
def test_the_least_grade_is_not_told_as_the_designs(shots, grade, said):
    fall = -(grade - 0.001)
    offs = [0, 0, 0, *(fall * 10 * i for i in range(1, 5)), *([fall * 40] * 4)]
    record, text, _ = told(shots, offs, ((0, grade),))
    assert record["verdict"] == "re-dig"
    (line,) = [one for one in text.splitlines() if "falls too little: 0.1" in one and "[re-dig]" in one]
    assert said in line
    assert "was to be laid" not in text


GROUND = (97.12, 97.55, 98.02, 98.45, 98.70, 98.85, 98.95, 99.08, 99.26)  # of the day sheet, every 10 ft and at the end


@pytest.mark.parametrize("up", [(0, 0, 0, 0, 0.1, 0.3, 0.75, 0.3, 0), (0, 0, 0, 0, 0, 0.3, 0.75, 0.8, 0.8)])
def test_where_cover_was_lost_the_order_goes_on_to_where_it_is_kept_again(day, shots, up):
    """It named one station, at which no pipe can be laid lower between its neighbours."""
    at, rise = (0, 10, 20, 30, 40, 50, 60, 70, 84), (4.215 + 3.975) / 24
    invert = [96.66 + 0.0125 * s for s in at]
    rows = "".join(f"{s},{102.37 - z - off - rise:.3f},\n" for s, z, off in zip(at, invert, up, strict=True))
    gutter = f",{102.37 - 96.62:.2f},Curb gutter flow line\n"
    text = shots("sta,rod,name\n" + rows + "gutter" + gutter)
    made, result = checked_from_typed({"plan": str(day()), "shots": text, "hi": "102.37"})
    record = json.loads(asbuilt_as_json(result, made))
    assert any("less cover" in one["text"] for one in record["reasons"])
    (order,) = record["relay"]
    first, last = (round(order[key] / FOOT) for key in ("station_from", "station_to"))
    assert first < 60 < last
    low, high = (order[key] / FOOT for key in ("invert_from", "invert_to"))
    for s, z, ground, off in zip(at, invert, GROUND, up, strict=True):
        inside = first <= s <= last
        laid = low + (high - low) * (s - first) / (last - first) if inside else z + off
        planned = ground - z - rise
        assert ground - laid - rise >= min(1.0, planned) - 0.06, s


def test_an_outlet_below_its_gutter_is_raised_to_where_the_plan_has_it_above(day, shots):
    at, rise = (0, 10, 20, 30, 40, 50, 60, 70, 84), (4.215 + 3.975) / 24
    low = dict.fromkeys(at, 0.0) | {0: -0.16, 10: -0.12, 20: -0.06}
    rows = "".join(f"{s},{102.37 - (96.66 + 0.0125 * s + low[s]) - rise:.3f},\n" for s in at)
    text = shots("sta,rod,name\n" + rows + f"gutter,{102.37 - 96.62:.2f},Curb gutter flow line\n")
    made, result = checked_from_typed({"plan": str(day()), "shots": text, "hi": "102.37"})
    record = json.loads(asbuilt_as_json(result, made))
    (order,) = record["relay"]
    assert (order["station_from"], order["anew"]) == (0.0, [0.0])
    assert order["invert_from"] / FOOT == pytest.approx(96.66, abs=0.01)
    assert order["station_to"] / FOOT == pytest.approx(30, abs=0.1)
