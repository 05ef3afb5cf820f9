"""`siteplan levels`: exit codes, JSON keys, one line for bad input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from siteplan.cli.main import main
from siteplan.units import FOOT

GOOD = (
    "point,BS,IFS,FS,station,remark\nBM-1,4.12,,,,EL "
    "100.00\nDS1,,4.86,,0+84,start\nTP1,,,6.71,,\nTP1,4.49,,,,\nFL,,5.28,,0+00,\nBM-1,,,1.91,,\n"
)


@pytest.fixture
def notes(tmp_path: Path) -> Path:
    path = tmp_path / "notes.csv"
    path.write_text(GOOD)
    return path


def answer(capsys: pytest.CaptureFixture[str], *options: str) -> tuple[int, dict[str, object]]:
    code = main(["levels", *options, "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_an_accepted_book(notes: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, found = answer(capsys, str(notes))
    assert code == 0
    assert found["accepted"] is True
    assert found["suspect"] is None
    assert found["misclosure"] == -0.003048
    assert found["allowed"] == pytest.approx(0.02 * 2**0.5 * FOOT, abs=1e-6)
    points = {p["point"]: p["elevation"] for p in found["points"]}
    assert points["BM-1"] == 30.48
    assert points["DS1"] == pytest.approx(99.26 * FOOT, abs=1e-6)
    assert points["FL"] == pytest.approx(96.62 * FOOT, abs=1e-6)


def test_the_screen_says_the_page_check_and_the_verdict(notes: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["levels", str(notes)]) == 0
    out = capsys.readouterr().out
    assert out.startswith("ACCEPTED: notes.csv: misclosure -0.010 ft, allowed 0.028 ft for 2 set-ups; no adjustment\n")
    assert "page check  holds: sum BS 8.61 ft - sum FS 8.62 ft = -0.01 ft" in out
    assert "DS1   99.26 ft" in out


def test_a_refused_loop_gives_no_points_and_leaves_with_1(notes: Path, capsys: pytest.CaptureFixture[str]) -> None:
    notes.write_text(GOOD.replace("TP1,4.49", "TP1,4.94"))
    code, found = answer(capsys, str(notes))
    assert code == 1
    assert found["accepted"] is False
    assert found["points"] == []
    assert found["suspect"]["setup"] == 2
    assert found["suspect"]["likely"] == "4.49"
    assert main(["levels", str(notes)]) == 1
    out = capsys.readouterr().out
    assert out.startswith("REFUSED: notes.csv: misclosure +0.440 ft, allowed 0.028 ft for 2 set-ups\n")
    assert "nothing should be dug" in out


def test_options_reach_the_reduction(notes: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, found = answer(capsys, str(notes), "--benchmark", "BM-1=200.00", "--adjust", "--allowed", "0.05")
    assert code == 0
    assert found["adjusted"] is True
    points = {p["point"]: p for p in found["points"]}
    assert points["TP1"]["elevation"] - points["TP1"]["raw"] == pytest.approx(0.005 * FOOT, abs=2e-6)
    assert points["DS1"]["raw"] == pytest.approx(199.26 * FOOT, abs=1e-6)


def test_a_withheld_point_leaves_with_1(notes: Path, capsys: pytest.CaptureFixture[str]) -> None:
    notes.write_text(GOOD.replace("FL,,5.28,,0+00,", "DS1,,3.30,,0+84,"))
    code, found = answer(capsys, str(notes))
    assert code == 1
    assert found["accepted"] is True
    assert "DS1" not in {p["point"] for p in found["points"]}


@pytest.mark.parametrize(
    ("options", "line"),
    [
        (
            ["absent.csv"],
            "absent.csv: no such file of level notes. Give a CSV with a row for each shot: point,BS,IFS,FS.",
        ),
        (["{notes}", "--rod", "yards"], "--rod: is 'yards'. Give tenths, inches or metres."),
        (["{notes}", "--benchmark", "100.00"], "--benchmark: is '100.00'. Write NAME=ELEVATION, such as BM-1=100.00."),
        (
            ["{notes}", "--benchmark", "BM-1=high"],
            "--benchmark: 'high' is not a length. Type a number, such as 100.00.",
        ),
        (
            ["{notes}", "--benchmark", "BM-7=1"],
            "--benchmark: BM-7 is not in notes.csv. Name one of its points, such as BM-1.",
        ),
        (["{notes}", "--allowed", "0"], "--allowed: is 0. Give the misclosure allowed for one set-up, above 0."),
    ],
)
def test_bad_input_is_one_line_and_2(
    notes: Path, capsys: pytest.CaptureFixture[str], options: list[str], line: str
) -> None:
    assert main(["levels", *(option.format(notes=notes) for option in options)]) == 2
    caught = capsys.readouterr()
    assert caught.out == ""
    assert caught.err.strip() == line


def test_same_input_same_bytes_and_text_is_only_text(notes: Path, capsys: pytest.CaptureFixture[str]) -> None:
    notes.write_text(GOOD.replace("start", "\x1b[31mred\x07"))
    outs = []
    for _ in range(2):
        main(["levels", str(notes)])
        outs.append(capsys.readouterr().out)
    assert outs[0] == outs[1]
    assert "\x1b" not in outs[0]
    assert "\x07" not in outs[0]


def test_the_book_printed_in_the_manual_is_accepted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = (Path(__file__).parents[2] / "docs" / "levels.md").read_text()
    printed = page.split("```")[1].strip() + "\n"
    path = tmp_path / "manual.csv"
    path.write_text(printed)
    code, found = answer(capsys, str(path))
    assert code == 0
    assert [p["point"] for p in found["points"]] == ["BM-1", "DS1", "TP1", "GUTTER FL"]


def test_a_remark_that_says_another_elevation_is_told(notes: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, found = answer(capsys, str(notes), "--benchmark", "BM-1=101")
    assert code == 0
    assert "BM-1 is taken at 101.00 ft; row 2 says EL 100.00 ft" in str(found["notes"])
    lines = GOOD.splitlines()
    notes.write_text("\n".join([*lines[:-1], lines[-1][:-1] + ",EL 101.00"]) + "\n")
    _, found = answer(capsys, str(notes))
    assert "BM-1 is taken at 100.00 ft; row 7 says EL 101.00 ft" in str(found["notes"])
    # what the crew found on closing is no contradiction
    notes.write_text("\n".join([*lines[:-1], lines[-1][:-1] + ",EL 99.99 ck"]) + "\n")
    assert "is taken at" not in str(answer(capsys, str(notes))[1]["notes"])


def test_a_book_in_metres_without_a_datum_starts_at_100_m(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "book.csv"
    path.write_text("point,BS,IFS,FS\nBM,1.482,,\nA,,1.655,\nBM,,,1.482\n")
    code, found = answer(capsys, str(path), "--rod", "metres")
    points = {point["point"]: point["elevation"] for point in found["points"]}
    assert (code, points["BM"], points["A"]) == (0, 100.0, 99.827)
    assert "assumed datum, 100.000 m" in str(found["notes"])


@pytest.mark.parametrize("folder", [".", "..", "/"])
def test_a_folder_in_place_of_a_book_is_named(folder: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["levels", folder]) == 2
    assert capsys.readouterr().err.strip() == f"{folder}: is a folder. Name the file."
