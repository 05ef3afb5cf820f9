"""`siteplan fall`: the stories' figures, the flips, the bad input, and what it may not import."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from siteplan.cli.main import main
from siteplan.quick.fall import default_allowance, pipe_size, quick_fall
from siteplan.units import FOOT

RODS = ["--rod-start", "4.86", "--rod-outlet", "7.50", "--length", "84", "--outlet", "curb"]
S1_CURB = ["--start-elev", "99.10", "--outlet-elev", "97.85", "--length", "78", "--outlet", "curb"]
S1_REAR = [
    "--start-elev",
    "99.10",
    "--outlet-elev",
    "95.90",
    "--length",
    "76.7",
    "--outlet",
    "daylight",
    "--invert-allowance",
    "0.10",
]
S6_METRES = ["--start-elev", "30.236", "--outlet-elev", "29.322", "--length", "27.432", "--outlet", "daylight"]


def answer(capsys: pytest.CaptureFixture[str], options: list[str]) -> tuple[int, dict[str, Any]]:
    code = main(["fall", *options, "--json"])
    return code, json.loads(capsys.readouterr().out)


def screen(capsys: pytest.CaptureFixture[str], options: list[str]) -> tuple[int, str]:
    code = main(["fall", *options])
    return code, capsys.readouterr().out


def feet(value: float) -> float:
    return round(value / FOOT, 3)


# ---- the worked example and the stories, to their printed digits


def test_worked_example_from_two_rods(capsys: pytest.CaptureFixture[str]) -> None:
    code, found = answer(capsys, RODS)
    assert code == 0
    assert found["verdict"] == "go"
    assert feet(found["fall_available"]) == 1.259
    assert round(found["spare"] / FOOT, 2) == 0.42
    assert feet(found["fall_needed"]) == 0.840
    assert feet(found["doubt"]) == 0.020
    assert round(found["grade_max_percent"], 2) == 1.50
    assert found["grade_chosen_percent"] == 1.25
    assert feet(found["pipe"]["rise"]) == 0.341
    _, text = screen(capsys, RODS)
    assert text.startswith("GO: 0.42 ft (0'-5\") to spare, doubt +-0.02 ft")
    assert "choose          1.25 % (0.15 in per ft)" in text
    assert "cover at the start 14.5 in" in text
    assert "cover there 1.4 in under a 6.0 in curb face" in text


def test_rods_and_elevations_agree(capsys: pytest.CaptureFixture[str]) -> None:
    _, rods = answer(capsys, RODS)
    _, elevations = answer(
        capsys, ["--start-elev", "99.26", "--outlet-elev", "96.62", "--length", "84", "--outlet", "curb"]
    )
    for key in ("fall_available", "fall_needed", "spare", "grade_max_percent", "flip", "start_cover"):
        assert rods[key] == elevations[key]
    assert feet(elevations["outlet_invert"]) == 96.66
    assert round(elevations["start_invert"] / FOOT, 2) == 97.71


@pytest.mark.parametrize("start", ["4'-10 5/16\"", "4.86ft", "58.32 in", "1.481328m", "4' 10.32"])
def test_readings_as_crews_write_them(capsys: pytest.CaptureFixture[str], start: str) -> None:
    _, found = answer(capsys, ["--rod-start", start, *RODS[2:]])
    assert found["fall_available"] == pytest.approx(1.259 * FOOT, abs=0.001 * FOOT)


def test_a_curb_hole_without_its_concrete_is_no_go(capsys: pytest.CaptureFixture[str]) -> None:
    # 6 in less 0.04 ft (0.48 in) less 4.095 in from invert to top of 4 in SDR 35 leaves 1.425 in; 1.5 in asked
    code, text = screen(capsys, [*RODS, "--curb-face", "0.5"])
    assert code == 1
    assert text.startswith("NO-GO: the hole would take too much of the curb; by fall 0.42 ft")
    assert "SHORT: 1.4 in of concrete over it in a 6.0 in face, 1.5 in asked" in text
    assert "would flip it   a pipe through the curb whose top is at most 4.0 in above its invert" in text
    code, text = screen(capsys, [*RODS, "--curb-face", "7 in"])
    assert code == 0
    assert "2.4 in of concrete over it in a 7.0 in face" in text


def test_a_face_that_nobody_typed_is_not_passed(capsys: pytest.CaptureFixture[str]) -> None:
    _, text = screen(capsys, RODS)
    assert "curb hole       cannot tell: the face is not typed (--curb-face)" in text
    assert "curb hole" not in screen(capsys, [*RODS[:6], "--outlet", "daylight"])[1]


def test_s1_the_high_curb_is_no_go(capsys: pytest.CaptureFixture[str]) -> None:
    code, found = answer(capsys, S1_CURB)
    assert code == 1
    assert found["verdict"] == "no-go"
    assert round(found["fall_available"] / FOOT, 2) == -0.13
    assert round(found["fall_needed"] / FOOT, 2) == 0.78
    assert found["flip"]["change"] == "pump"
    assert "1.00 % leaves 1.1 in of cover at the start" in found["flip"]["text"]
    assert "0.50 % leaves 5.7 in of cover at the start" in found["flip"]["text"]
    assert "a pump" in found["flip"]["text"]
    _, text = screen(capsys, S1_CURB)
    assert text.startswith("NO-GO: short by 0.91 ft")
    assert "gutter flow line, not the top of the curb" in text


def test_s1_rear_daylight_is_go(capsys: pytest.CaptureFixture[str]) -> None:
    code, found = answer(capsys, S1_REAR)
    assert code == 0
    assert feet(found["outlet_invert"]) == 96.0
    assert round(found["fall_available"] / FOOT, 2) == 1.76
    assert round(found["grade_max_percent"], 2) == 2.29


def test_s2_swale_and_s3_popup(capsys: pytest.CaptureFixture[str]) -> None:
    _, swale = answer(
        capsys, ["--start-elev", "101.20", "--outlet-elev", "98.40", "--length", "78.4", "--outlet", "swale"]
    )
    assert feet(swale["outlet_invert"]) == 98.73
    assert round(swale["grade_max_percent"], 2) == 1.44
    assert swale["grade_chosen_percent"] == 1.25
    assert round(swale["start_invert"] / FOOT, 2) == 99.71
    code, popup = answer(
        capsys, ["--start-elev", "99.60", "--outlet-elev", "99.00", "--length", "42", "--outlet", "popup"]
    )
    assert (code, popup["verdict"]) == (1, "no-go")
    assert round(popup["fall_available"] / FOOT, 2) == -0.74  # the rim above the highest possible invert
    assert round(popup["stands_full"] / FOOT, 1) == 42.0
    _, text = screen(capsys, ["--start-elev", "99.60", "--outlet-elev", "99.00", "--length", "42", "--outlet", "popup"])
    assert "42 ft of the line stands full up to the rim, and freezes, unless a weep at the low elbow empties it" in text


def test_s6_in_metres_and_wrongly_as_feet(capsys: pytest.CaptureFixture[str]) -> None:
    code, right = answer(capsys, [*S6_METRES, "--unit", "m"])
    assert (code, right["verdict"]) == (0, "go")
    assert round(right["grade_max_percent"], 2) == 1.79
    assert round(right["fall_available"] / FOOT, 2) == 1.61
    assert right["cautions"] == []
    code, wrong = answer(capsys, S6_METRES)
    assert (code, wrong["verdict"]) == (1, "no-go")
    assert round(wrong["fall_available"] / FOOT, 2) == -0.48
    assert "typed to 0.001, as metres are: read that way it is GO" in wrong["cautions"][0]
    assert "--unit m" in wrong["cautions"][0]


def test_rods_that_look_like_inches_get_a_second_answer(capsys: pytest.CaptureFixture[str]) -> None:
    _, found = answer(capsys, ["--rod-start", "4.10", "--rod-outlet", "6.08", "--length", "60", "--outlet", "curb"])
    assert found["verdict"] == "cannot-tell"
    assert "both rods end in 00 to 11, as an inches rod does: read that way it is NO-GO" in found["cautions"][0]
    assert "readings typed as 4'-10\"" in found["cautions"][0]


def test_what_nobody_typed_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    _, found = answer(capsys, RODS[:6])
    said = "; ".join(found["assumptions"])
    for words in (
        "outlet taken as a curb",
        "cover 1.00 ft",
        "least grade 1.00 %",
        "outlet invert 0.04 ft",
        "doubt 0.02 ft",
        "0.341 ft above its invert",
    ):
        assert words in said
    _, told = answer(capsys, [*RODS, "--cover", "1", "--grade", "1", "--invert-allowance", "0.04", "--doubt", "0.02"])
    assert told["assumptions"] == ["outside top of pipe 0.341 ft above its invert"]


def test_a_finer_grade_is_not_rounded_to_one_percent(capsys: pytest.CaptureFixture[str]) -> None:
    _, found = answer(capsys, [*RODS, "--grade", "1/8in/ft"])
    assert found["min_grade_percent"] == 1.0417
    assert feet(found["fall_needed"]) == 0.875


def test_other_pipes_of_the_book(capsys: pytest.CaptureFixture[str]) -> None:
    _, heavy = answer(capsys, [*RODS, "--pipe", "pvc_sch40"])
    assert feet(heavy["pipe"]["rise"]) == 0.355
    assert feet(heavy["fall_available"]) == 1.245


# ---- the one change that would flip it


def flipped(answer_: dict[str, Any], flip: dict[str, Any]) -> str:
    """Verdict after making the change that the flip names."""
    drop, length, cover, grade = (
        answer_["drop"],
        answer_["length"],
        answer_["cover"],
        answer_["min_grade_percent"] / 100,
    )
    match flip["change"]:
        case "cover":
            cover = flip["to"]
        case "length":
            length = flip["to"]
        case "grade":
            grade = flip["to"] / 100
        case "outlet":
            drop -= flip["by"]
    return quick_fall(
        drop,
        length,
        outlet_kind="curb",
        rise=answer_["pipe"]["rise"],
        cover=cover,
        min_grade=grade,
        doubt=answer_["doubt"],
    ).verdict


@pytest.mark.parametrize("outlet_rod", ["6.70", "6.86", "7.00", "7.05", "7.07", "7.09", "7.10", "7.50", "9.30"])
def test_every_flip_really_turns_the_verdict(capsys: pytest.CaptureFixture[str], outlet_rod: str) -> None:
    _, found = answer(capsys, ["--rod-start", "4.86", "--rod-outlet", outlet_rod, "--length", "84", "--outlet", "curb"])
    changes = [flip for flip in found["flips"] if flip["change"] not in {"pump", "shots"}]
    assert changes
    for flip in changes:
        after = flipped(found, flip)
        assert (after == "go") == (found["verdict"] != "go"), flip


def test_three_verdicts_and_the_doubt(capsys: pytest.CaptureFixture[str]) -> None:
    # needs 0.84; available rod - 4.86 - 1.381: 7.09 gives 0.849, which the shots cannot tell from 0.84
    code, close = answer(capsys, ["--rod-start", "4.86", "--rod-outlet", "7.09", "--length", "84", "--outlet", "curb"])
    assert (code, close["verdict"], close["flip"]["change"]) == (1, "cannot-tell", "shots")
    assert close["grade_chosen_percent"] is None
    _, sure = answer(
        capsys,
        ["--rod-start", "4.86", "--rod-outlet", "7.08", "--length", "84", "--outlet", "curb", "--doubt", "0.0005"],
    )
    assert sure["verdict"] == "no-go"
    _, coarse = answer(capsys, [*RODS, "--doubt", "0.5"])
    assert coarse["verdict"] == "cannot-tell"


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    drop=st.floats(-3, 10),
    length=st.floats(1, 200),
    cover=st.floats(0, 2),
    grade=st.floats(0.002, 0.05),
    doubt=st.floats(0, 0.2),
    kind=st.sampled_from(["curb", "daylight", "swale", "popup"]),
)
def test_laws_of_a_quick_answer(
    drop: float, length: float, cover: float, grade: float, doubt: float, kind: str
) -> None:
    rise = pipe_size("pvc_sdr35").rise
    found = quick_fall(drop, length, outlet_kind=kind, rise=rise, cover=cover, min_grade=grade, doubt=doubt)
    assert found.fall_available == pytest.approx(drop - cover - rise - default_allowance(kind))
    assert found.spare == pytest.approx(found.fall_available - grade * length)
    assert (found.verdict == "go") == (found.spare > doubt + 1e-9)
    # a stricter rule never makes a line possible
    rank = ["no-go", "cannot-tell", "go"].index
    for harder in ({"cover": cover + 0.1}, {"min_grade": grade * 1.5}):
        options = {"cover": cover, "min_grade": grade, **harder}
        assert rank(quick_fall(drop, length, outlet_kind=kind, rise=rise, doubt=doubt, **options).verdict) <= rank(
            found.verdict
        )
    if found.grade_chosen is not None:
        assert found.grade_chosen >= grade
        assert found.start_cover >= cover - 1e-9  # the chosen grade keeps the cover
        assert found.grade_chosen * length <= found.fall_available - doubt + 1e-9


# ---- bad input: one line, 2


@pytest.mark.parametrize(
    ("options", "line"),
    [
        (["--rod-start", "4.86", "--length", "84"], "--rod-outlet: is missing. Give it beside --rod-start."),
        (["--outlet-elev", "96", "--length", "84"], "--start-elev: is missing. Give it beside --outlet-elev."),
        (
            ["--length", "84"],
            (
                "siteplan fall: no shots were given. Give --rod-start and --rod-outlet of one set-up, or "
                "--start-elev and --outlet-elev."
            ),
        ),
        (
            [*RODS, "--start-elev", "99"],
            (
                "siteplan fall: --rod-start, --rod-outlet, --start-elev do not go together. Give --rod-start and "
                "--rod-outlet of one set-up, or --start-elev and --outlet-elev."
            ),
        ),
        (RODS[:4], "--length: is missing. Give the length along the pipe, such as --length 84."),
        ([*RODS[:4], "--length", "0"], "--length: is 0. Give the length along the pipe, above 0."),
        ([*RODS[:4], "--length", "-84"], "--length: is -84. Give the length along the pipe, above 0."),
        (
            [*RODS[:4], "--length", "eighty"],
            "--length: 'eighty' is not a length. Type 5.34, 5'-4 1/8\", 64 1/8 in or 1.63m.",
        ),
        (
            ["--rod-start", "58.32", *RODS[2:]],
            (
                "--rod-start: reads 58.32, which is 58.32 ft; no rod is read there. Type the reading with its "
                "unit, such as 64.25in or 1.63m."
            ),
        ),
        (
            ["--rod-start", "-4.86", *RODS[2:]],
            (
                "--rod-start: reads -4.86, which is -4.86 ft; no rod is read there. Type the reading with its "
                "unit, such as 64.25in or 1.63m."
            ),
        ),
        (
            ["--rod-start", "4,86", *RODS[2:]],
            "--rod-start: '4,86' is not a length. Type 5.34, 5'-4 1/8\", 64 1/8 in or 1.63m.",
        ),
        (
            ["--rod-start", "nan", *RODS[2:]],
            "--rod-start: 'nan' is not a length. Type 5.34, 5'-4 1/8\", 64 1/8 in or 1.63m.",
        ),
        (
            ["--start-elev", "-9999", "--outlet-elev", "96", "--length", "84"],
            (
                "--start-elev: is -9999, a survey's mark for an unknown elevation. Shoot the point, or read its "
                "height off the rod."
            ),
        ),
        ([*RODS, "--cover", "-1"], "--cover: is -1, below 0. Give 0 or more."),
        ([*RODS, "--grade", "steep"], "--grade: 'steep' is not a grade. Type 1.25 (percent) or 1/8in/ft."),
        ([*RODS, "--grade", "0"], "--grade: is 0.00 %. Give a least grade above 0 and up to 50 percent."),
        ([*RODS, "--unit", "yd"], "--unit: is 'yd'. Give ft, us-ft or m."),
        ([*RODS[:6], "--outlet", "street"], "--outlet: is 'street'. Give one of curb, daylight, swale, popup."),
        ([*RODS, "--size", "5"], "--size: the book has no pvc_sdr35 of 5 in. Give one of 4, 6, 8, 10, 12."),
    ],
)
def test_bad_input_is_one_line_and_2(capsys: pytest.CaptureFixture[str], options: list[str], line: str) -> None:
    assert main(["fall", *options]) == 2
    caught = capsys.readouterr()
    assert caught.out == ""
    assert caught.err.strip() == line


def test_an_unknown_pipe_offers_the_book(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["fall", *RODS, "--pipe", "clay"]) == 2
    assert capsys.readouterr().err.startswith("--pipe: the book has no pipe 'clay'. Give one of pvc_sch40, pvc_sdr35")


def test_same_input_same_bytes(capsys: pytest.CaptureFixture[str]) -> None:
    assert screen(capsys, RODS) == screen(capsys, RODS)
    assert answer(capsys, S1_CURB) == answer(capsys, S1_CURB)


# ---- quick to start: nothing heavy comes in; time itself is measured in benchmarks/startup.py

HEAVY = (
    "numpy",
    "scipy",
    "shapely",
    "rasterio",
    "geopandas",
    "folium",
    "numba",
    "dataclasses",
    "inspect",
    "fractions",
    "decimal",
    "difflib",
    "pathlib",
    "importlib.resources",
    "importlib.metadata",
    "siteplan.values",
)
PROBE = """
import sys
from siteplan.cli.main import main
code = main(sys.argv[1:])
print("MODULES", code, " ".join(sorted(sys.modules)))
"""


@pytest.mark.parametrize(
    ("options", "absent"),
    [
        (["fall", *RODS], (*HEAVY, "json")),
        (["fall", *RODS, "--json"], HEAVY),
        (["fall", "--help"], (*HEAVY, "json", "typing", "siteplan.books.rules", "csv")),
    ],
)
def test_what_a_quick_command_does_not_import(options: list[str], absent: tuple[str, ...]) -> None:
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}
    done = subprocess.run(
        [sys.executable, "-S", "-c", PROBE, *options], capture_output=True, text=True, check=True, env=environment
    )
    line = next(line for line in done.stdout.splitlines() if line.startswith("MODULES"))
    _, code, *loaded = line.split()
    assert code == "0"
    assert [name for name in absent if name in loaded] == []


def test_the_manual_runs_and_tells_the_defaults_in_force(capsys: pytest.CaptureFixture[str]) -> None:
    page = (Path(__file__).parents[2] / "docs" / "fall-command.md").read_text()
    command = next(line for line in page.splitlines() if line.startswith("$ siteplan fall")).split()[2:]
    assert main(command) == 0
    assert capsys.readouterr().out.startswith("GO: 0.42 ft")
    for kind, printed in (("curb", "0.04 ft"), ("daylight", "0.05 ft"), ("swale", "0.33 ft")):
        row = next(line for line in page.splitlines() if line.startswith(f"| `{kind}` |"))
        assert row.rstrip(" |").endswith(printed)
        assert f"{default_allowance(kind) / FOOT:.2f} ft" == printed


POPUP = ["--start-elev", "101.5", "--outlet-elev", "99.2", "--length", "110", "--outlet", "popup", "--cover", "6in"]


def test_a_popup_says_how_much_of_the_line_stands_full_though_it_is_go(capsys: pytest.CaptureFixture[str]) -> None:
    """The pipe must stay under the lawn at the pop-up, so its end lies below the rim however much fall there is."""
    code, found = answer(capsys, POPUP)
    assert (code, found["verdict"]) == (0, "go")
    # by hand: 1.25 % of 110 ft puts the start 1.375 ft above the rim, the end at least the pipe's 0.341 ft below it
    assert found["stands_full"] / FOOT == pytest.approx(110 * 0.341 / (1.375 + 0.341), abs=0.1)
    _, text = screen(capsys, POPUP)
    assert "at least 22 ft of the line stands full up to the rim, and freezes, unless a weep" in text
    assert "the riser below the rim" not in text
    assert "start invert 100.58 ft; at the pop-up the pipe stays under the lawn, below its rim" in text


def test_a_shortfall_that_rounds_to_nothing_is_not_told_as_one(capsys: pytest.CaptureFixture[str]) -> None:
    options = ["--rod-start", "4.86", "--rod-outlet", "7.50", "--length", "126", "--outlet", "curb", "--doubt", "0.1"]
    code, text = screen(capsys, options)
    assert code == 1
    assert text.startswith("CANNOT TELL: nothing to spare, doubt +-0.10 ft")
    assert "until the doubt is under" not in text
    # one that can be shot is still offered
    _, text = screen(capsys, [*options[:5], "120", *options[6:]])
    assert "shoot both ends again from one set-up until the doubt is under 0.06 ft" in text


def test_the_outlet_that_makes_it_go_is_named_once(capsys: pytest.CaptureFixture[str]) -> None:
    _, text = screen(capsys, ["--rod-start", "7.5", "--rod-outlet", "4.86", "--length", "84", "--outlet", "curb"])
    assert text.count("4.89 ft") == 1


def test_a_typed_quote_is_shown_as_typed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["fall", "--rod-start", "4'-13\"", "--rod-outlet", "7.50", "--length", "84"]) == 2
    assert "\\" not in capsys.readouterr().err


def test_the_ways_out_of_a_shortfall_by_hand(capsys):
    """The worked line of the project's reference page, section 5, shot shallower: 2.10 ft of drop.

    2.10 - 1.00 cover - 0.341 pipe - 0.04 at the curb = 0.719 ft, and 0.02 ft of doubt leave 0.699: over 84 ft that is
    0.83 %, laid in steps of 0.05; at 1 % it reaches 69.9 ft; and 0.141 ft more come from 0.85 ft of cover.
    """
    main(["fall", "--rod-start", "5.40", *RODS[2:]])
    said = capsys.readouterr().out
    assert "short by 0.12 ft" in said
    assert "a least grade of 0.80 % makes it GO" in said
    assert "a line of 69 ft makes it GO" in said
    assert "0.85 ft of cover at the start instead of 1.00 ft makes it GO" in said


def test_the_ways_out_in_metres_by_hand(capsys):
    """0.914 - 0.300 - 0.104 - 0.015 = 0.495 m, less 0.006 of doubt.

    At 2.1 % it reaches 23.27 m, told in halves of a metre.
    """
    main(["fall", *S6_METRES, "--unit", "m", "--cover", "0.30", "--grade", "2.1"])
    assert "a line of 23.0 m makes it GO" in capsys.readouterr().out


def test_an_eighth_of_an_inch_a_foot_is_not_rounded_to_two_digits(capsys):
    """The same page, section 4: 1.00 % is not 1/8 in/ft, which is 1.042 %."""
    main(["fall", "--rod-start", "5.17", *RODS[2:], "--grade", "1/8in/ft"])
    assert "choose          1.042 % (0.125 in per ft)" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("value", "unit", "nothing"),
    [
        (0.0049 * 0.3048, "ft", True),
        (-0.0051 * 0.3048, "ft", False),
        (0.0049 * 1200 / 3937, "us-ft", True),
        (0.0051 * 1200 / 3937, "us-ft", False),
        (0.00049, "m", True),
        (-0.00051, "m", False),
    ],
)
def test_half_of_what_a_rod_reads_is_nothing(value, unit, nothing):
    """Rods are read to 0.01 ft or to a millimetre.

    The project's reference on the trade, section 4, turning points and benchmarks.
    """
    from siteplan.quick.fall import nothing_text

    assert nothing_text(value, unit) == nothing
