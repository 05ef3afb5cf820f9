"""The as-laid check: stories with known answers, and each way in which shots mislead."""

from __future__ import annotations

import json

import pytest

from siteplan import units
from siteplan.errors import InputError
from siteplan.laid.asbuilt_text import asbuilt_as_json, asbuilt_as_text
from siteplan.laid.asbuilt_typed import checked_from_typed

FOOT = 0.3048
S4 = """sta,rod
0+00,6.00
0+10,5.90
0+20,5.80
0+30,5.70
0+40,5.82
0+50,5.50
0+60,5.40
0+70,5.30
0+80,5.22
0+90,5.10
1+00,5.00
"""
PLAN = """1,5010,2040,95.50,OUTLET INV
2,5040,2040,95.80,WYE-1
3,5070,2043,96.10,CO-1
4,5110,2050,96.51,DS START
20,5000,2030,99.10,SLAB CORNER
21,5012,2044,97.00,GUTTER FL
"""
LAID = [
    (5010, 2040, 95.50, "OUTLET INV"),
    (5020, 2040, 95.60, "INV"),
    (5030, 2040, 95.70, "INV"),
    (5040, 2040, 95.80, "WYE-1"),
    (5050, 2041, 95.90, "INV"),
    (5060, 2042, 96.00, "INV"),
    (5070, 2043, 96.10, "CO-1"),
    (5080, 2044.75, 96.2, "INV"),
    (5090, 2046.5, 96.31, "INV"),
    (5100, 2048.25, 96.41, "INV"),
    (5110, 2050, 96.51, "DS START"),
    (5000, 2030, 99.10, "SLAB CORNER"),
    (5012, 2044, 97.00, "GUTTER FL"),
]


def listed(rows, *, turn=lambda n, e: (n, e), up=lambda z, name: z):
    return "".join(
        f"{i},{turn(n, e)[0]},{turn(n, e)[1]},{up(z, name):.2f},{name}\n" for i, (n, e, z, name) in enumerate(rows, 1)
    )


def story(shots, **more):
    return {
        "plan": "95.50@1.00",
        "shots": shots(S4),
        "benchmark": "100.00",
        "backsight": "1.84",
        "check_back": "1.84",
        **more,
    }


def checked(**typed):
    design, result = checked_from_typed(typed)
    return json.loads(asbuilt_as_json(result, design)), asbuilt_as_text(result, design)


def test_three_shots_are_fitted_and_two_are_asked_for_more_where_they_stand(shots):
    ends = "sta,rod\n0+00,6.00\n{}1+00,5.00\n"
    record, text = checked(**story(lambda _: shots(ends.format("0+50,5.50\n"))))
    assert "together they fit the design as one line" in text
    assert len(record["lines"][0]["stations"]) == 3
    # slope of a straight line through shots at 0, 50 and 100 ft, each known to 0.01 ft: 0.01 / sqrt(50^2 + 50^2), and
    # 1.645 of it
    assert "0+00.0 to 1+00.0 falls: 1.00 % +- 0.02 %" in text
    (reach,) = record["lines"][0]["reaches"]
    assert reach["grade_percent"] == pytest.approx(1.0, abs=1e-4)
    assert reach["doubt_percent"] == pytest.approx(1.645 * 0.01 / (50**2 + 50**2) ** 0.5 * 100, rel=1e-3)
    _, text = checked(**story(lambda _: shots(ends.format(""))))
    assert "2 shots prove nothing" in text
    assert "  - 0+00.0 to 1+00.0: every stick" in text  # a grade alone has no length: no farther than it was shot


def test_the_belly_under_the_main_as_a_master_answers(shots):
    record, text = checked(**story(shots, crossing=["irrigation main@0+40,96.13,1.3in,97.30"]))
    assert record["verdict"] == "re-dig"
    (belly,) = record["bellies"]
    assert belly["station_from"] / FOOT == pytest.approx(30.0, abs=0.05)
    assert belly["station_to"] / FOOT == pytest.approx(43.8, abs=0.05)
    assert belly["depth"] / FOOT == pytest.approx(0.12, abs=0.005)
    assert belly["share_of_bore"] == pytest.approx(0.36, abs=0.005)
    assert belly["back_fall_percent"] == pytest.approx(-1.2, abs=0.02)
    low = next(row for row in record["lines"][0]["stations"] if abs(row["station"] / FOOT - 40) < 0.01)
    assert low["invert"] / FOOT == pytest.approx(95.68, abs=0.005)
    assert low["off"] / FOOT == pytest.approx(-0.22, abs=0.005)
    assert [(round(one["station_from"] / FOOT), round(one["station_to"] / FOOT)) for one in record["relay"]] == [
        (30, 50)
    ]
    for words in (
        "HI 101.84 ft",
        "0+30.0 to 0+43.8, deepest 0.12 ft (1.4 in), 36 % of the bore",
        "0.22 ft (0'-2 5/8\") below its design",
        "Nothing else to relay",
        "0+70.0 to 0+80.0: reads 0.80 % +- 0.2 %, within the doubt",
        "its bottom 96.02 ft, pipe top as laid 96.02 ft",
        "bottom at 96.49 ft or above",
        "design top 96.24 ft",
        "about 8 in of cover",
    ):
        assert words in text


def test_one_defect_not_two_of_equal_weight(shots):
    record, _ = checked(**story(shots))
    assert [one["asks_for"] for one in record["reasons"]] == ["re-dig"]
    wrong = [reach for reach in record["lines"][0]["reaches"] if reach["says"] != "falls"]
    assert [(round(r["station_from"] / FOOT), round(r["station_to"] / FOOT)) for r in wrong] == [(30, 40)]


def test_the_same_line_without_the_belly_is_accepted(shots):
    record, text = checked(**{**story(shots), "shots": shots(S4.replace("0+40,5.82", "0+40,5.60"))})
    assert record["verdict"] == "accept"
    assert record["bellies"] == []
    assert "Nothing needs relaying." in text


def test_two_ends_prove_nothing(shots):
    record, _ = checked(**{**story(shots), "shots": shots("sta,rod\n0+00,6.00\n1+00,5.00\n")})
    assert record["verdict"] == "cannot-tell"
    assert record["reshoot"]


def test_a_long_gap_between_shots_is_not_accepted(shots):
    record, _ = checked(
        **{**story(shots), "shots": shots("sta,rod\n0+00,6.00\n0+10,5.90\n0+20,5.80\n0+60,5.40\n0+70,5.30\n")}
    )
    assert record["verdict"] == "cannot-tell"
    assert any("0+20.0 to 0+60.0" in place for place in record["reshoot"])


def test_inverts_trench_bottoms_and_bells(shots):
    rise, below, bell = (4.215 + 3.975) / 24, 0.01 + 0.25, (4.8 + 3.975) / 24
    rows = [
        f"0+{s:02d},{101.84 - (95.5 + 0.01 * s + up):.3f},{on}"
        for s, up, on in (
            (0, 0.0, "invert"),
            (10, rise, "top"),
            (20, bell, "bell"),
            (30, -below, "bottom"),
            (40, rise, ""),
            (50, 0.0, "invert"),
        )
    ]
    record, _ = checked(**{**story(shots), "shots": shots("sta,rod,on\n" + "\n".join(rows) + "\n")})
    assert record["verdict"] == "accept"
    assert max(abs(row["off"]) for row in record["lines"][0]["stations"]) < 0.001


def test_a_set_up_that_slipped_condemns_no_pipe(shots):
    record, text = checked(**{**story(shots), "check_back": "1.90"})
    assert record["verdict"] == "cannot-tell"
    assert "the set-up moved" in text


def test_an_inches_rod(shots):
    rise = (4.215 + 3.975) / 24
    rods = [
        units.feet_inches((101.84 - (95.5 + 0.01 * s + rise)) * FOOT, 16).replace('"', '""') for s in range(0, 60, 10)
    ]
    text = "sta,rod\n" + "".join(f'0+{10 * i:02d},"{rod}"\n' for i, rod in enumerate(rods))
    record, _ = checked(**{**story(shots), "shots": shots(text), "rod": "inches"})
    assert record["verdict"] == "accept"
    assert max(abs(row["off"]) for row in record["lines"][0]["stations"]) < 0.001


def test_the_other_surface_is_asked_about(shots):
    record, text = checked(**{**story(shots), "shots": shots(S4.replace("0+40,5.82", "0+40,5.60")), "on": "invert"})
    assert record["verdict"] == "cannot-tell"
    assert "did the rod stand on the outside top?" in text


def test_a_point_list_of_somebody_elses_plan(shots):
    record, _ = checked(plan=shots(PLAN, "plan.csv"), shots=shots(listed(LAID)))
    assert record["verdict"] == "accept"
    assert record["missing"] == []
    assert record["swapped"] is False
    assert record["datum_shift"] == 0.0


def test_columns_swapped_with_a_shift_and_a_cleanout_missing(shots):
    rows = [row for row in LAID if row[3] != "CO-1"]
    record, _ = checked(
        plan=shots(PLAN, "plan.csv"), shots=shots(listed(rows, turn=lambda n, e: (e, n), up=lambda z, _: z + 0.30))
    )
    assert record["swapped"] is True
    assert record["datum_shift"] == pytest.approx(0.30 * FOOT, abs=0.001)
    assert record["missing"] == ["CO-1"]
    assert record["bellies"] == []
    assert record["verdict"] == "cannot-tell"


def test_a_datum_shift_alone_is_the_papers_fault(shots):
    record, _ = checked(plan=shots(PLAN, "plan.csv"), shots=shots(listed(LAID, up=lambda z, _: z - 0.42)))
    assert record["verdict"] == "fix-paper"
    assert record["datum_shift"] == pytest.approx(-0.42 * FOOT, abs=0.001)


def test_an_offset_of_the_pipe_alone_is_real(shots):
    def up(z, name):
        return z if name in {"SLAB CORNER", "GUTTER FL"} else z + 0.30

    record, text = checked(plan=shots(PLAN, "plan.csv"), shots=shots(listed(LAID, up=up)))
    assert record["datum_shift"] == 0.0
    assert record["verdict"] == "re-dig"
    assert "The pipe itself is off its design" in text


def test_without_fixed_objects_an_offset_is_not_guessed(shots):
    record, text = checked(plan=shots(PLAN, "plan.csv"), shots=shots(listed(LAID[:-2], up=lambda z, _: z + 0.20)))
    assert record["datum_shift"] is None
    assert record["verdict"] == "cannot-tell"
    assert "datum or pipe?" in text


def test_fixed_objects_that_disagree_shift_nothing(shots):
    record, _ = checked(
        plan=shots(PLAN, "plan.csv"),
        shots=shots(listed(LAID, up=lambda z, name: z + (0.3 if name == "GUTTER FL" else 0))),
    )
    assert record["verdict"] == "cannot-tell"
    assert record["datum_shift"] == 0.0


def test_a_mirrored_list(shots):
    record, _ = checked(plan=shots(PLAN, "plan.csv"), shots=shots(listed(LAID, turn=lambda n, e: (n, 4100 - e))))
    assert record["mirrored"] is True
    assert record["verdict"] == "fix-paper"


def test_an_outlet_that_moved(shots):
    rows = [(5004, 2040, 95.44, "OUTLET INV"), *LAID[1:]]
    record, text = checked(plan=shots(PLAN, "plan.csv"), shots=shots(listed(rows)))
    assert record["moved"] == [{"name": "OUTLET INV", "kind": "outlet", "distance": pytest.approx(6 * FOOT, abs=0.001)}]
    assert record["verdict"] == "fix-paper"
    assert "6.0 ft from its planned place" in text


def test_another_grid_altogether(shots):
    record, text = checked(
        plan=shots(PLAN, "plan.csv"), shots=shots(listed(LAID, turn=lambda n, e: (n + 900, e - 700)))
    )
    assert record["verdict"] == "cannot-tell"
    assert "another grid" in text


def test_a_plan_folder_by_rods_with_its_cover(day, shots):
    plan = day(fittings={40: [("cleanout", None)]})
    rows = ["sta,rod,name"]
    rows += [
        f"0+{s:02d},{102.37 - (96.66 + 0.0125 * s + (4.215 + 3.975) / 24):.2f},{'CO' if s == 40 else ''}"
        for s in (*range(0, 80, 10), 84)
    ]
    record, _ = checked(plan=str(plan), shots=shots("\n".join(rows)), hi="102.37")
    assert record["verdict"] == "accept"
    high = [
        row if i < 4 else ",".join([row.split(",")[0], f"{float(row.split(',')[1]) - 0.25:.2f}", row.split(",")[2]])
        for i, row in enumerate(rows)
    ]
    record, text = checked(plan=str(plan), shots=shots("\n".join(high)), hi="102.37")
    assert record["verdict"] == "re-dig"
    assert "less cover than the rule asks" in text


def test_the_gutter_of_a_plan_folder_is_a_fixed_object(day, shots):
    rows = ["sta,rod,name"]
    rows += [
        f"0+{s:02d},{102.67 - (96.66 + 0.0125 * s + (4.215 + 3.975) / 24) - 0.3:.2f}," for s in (*range(0, 80, 10), 84)
    ]
    rows.append(f"gutter,{102.67 - 96.62 - 0.3:.2f},Curb gutter flow line")
    record, _ = checked(plan=str(day()), shots=shots("\n".join(rows)), hi="102.67")
    assert record["datum_shift"] == pytest.approx(0.30 * FOOT, abs=0.002)
    assert record["verdict"] == "fix-paper"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("sta,rod\n0+00,six\n0+10,5.90\n", "row 2, rod"),
        ("sta,rod\nhere,6.00\n0+10,5.90\n", "row 2, station"),
        ("sta,rod\n", "a header and no rows"),
        ("sta,rod,on\n0+00,6.00,roof\n", "row 2, on"),
        ("", "is empty"),
    ],
)
def test_shots_that_cannot_be_read_are_one_line(shots, text, said):
    with pytest.raises(InputError) as caught:
        checked(**{**story(shots), "shots": shots(text, "bad.csv")})
    assert said in str(caught.value)


def test_rods_without_a_height_of_instrument(shots):
    with pytest.raises(InputError, match="--hi: is missing"):
        checked(plan="95.50@1.00", shots=shots(S4))


def test_the_files_own_lines_say_the_set_up(shots):
    text = "# benchmark = 100.00\n# backsight = 1.84\n# on = top\n" + S4
    record, _ = checked(plan="95.50@1.00", shots=shots(text))
    assert record["set_up"].startswith("HI 101.84 ft")


def test_the_same_input_gives_the_same_bytes(shots):
    assert checked(**story(shots)) == checked(**story(shots))


def rods_at(grade, first=5.999, by=10, to=60):
    return "sta,rod\n" + "".join(f"{s},{first - grade / 100 * s:.2f}\n" for s in range(0, to + 1, by))


def test_a_flat_pipe_falls_too_little_and_no_pair_of_it_is_offered_for_acceptance(shots):
    """1.00 % was asked; 0.00 % over 10 ft is five times the doubt of two shots short of it."""
    record, text = checked(plan="95.50@1.00", shots=shots(rods_at(0.0)), hi="101.84")
    assert record["verdict"] == "re-dig"
    assert "0+00.0 to 0+60.0 falls too little: 0.00 % +- 0.03 %; designed 1.00 %, and no less is asked of it." in text
    (stretch,) = record["relay"]
    assert (stretch["station_from"], stretch["station_to"]) == (0.0, pytest.approx(60 * FOOT))
    assert "cannot be told" not in text
    assert "Nothing needs relaying" not in text
    assert "accept, or shoot again" not in text


def test_pairs_of_a_stretch_to_relay_are_not_shot_again_to_be_accepted(shots):
    _, text = checked(plan="95.50@1.00", shots=shots(rods_at(0.5)), hi="101.84")
    assert "Relay:\n  - 0+00.0 to 0+60.0: falls too little" in text
    assert "accept, or shoot again" not in text


def test_a_pair_short_beyond_the_doubt_of_two_shots_is_told_as_that(shots):
    rows = ["0,6.00", "10,5.90", "20,5.80", "30,5.75", "40,5.60", "50,5.50", "60,5.40"]
    _, text = checked(plan="95.50@1.00", shots=shots("sta,rod\n" + "\n".join(rows) + "\n"), hi="101.84")
    assert "0+20.0 to 0+30.0: reads 0.50 % +- 0.2 %, short of 1.00 % beyond the doubt of two shots: shoot again" in text
    # 0.80 % is within it
    rows[3] = "30,5.72"
    _, text = checked(plan="95.50@1.00", shots=shots("sta,rod\n" + "\n".join(rows) + "\n"), hi="101.84")
    assert "reads 0.80 % +- 0.2 %, within the doubt of two shots: accept, or shoot again" in text


def test_a_pipe_condemned_for_its_height_is_not_said_to_need_nothing(shots):
    sunk = [(n, e, z - (0.3 if "SLAB" not in name and "GUTTER" not in name else 0.0), name) for n, e, z, name in LAID]
    record, text = checked(plan=shots(PLAN, "plan.csv"), shots=shots(listed(sunk)), unit="ft")
    assert record["verdict"] == "re-dig"
    assert "Nothing needs relaying" not in text


def test_shots_on_the_other_surface_are_told_by_how_far_they_lie_off(shots):
    """Rods 0.33 ft too long: the pipe's own height is 0.341 ft, and 0.33 ft is what was found."""
    _, text = checked(plan="95.50@1.00", shots=shots(rods_at(1.0, first=5.999 + 0.33)), hi="101.84")
    assert "All shots lie 0.33 ft low, about the height of the pipe's top above its invert (0.34 ft)" in text
