"""Levelling against sources outside the project. Source and standing stand beside each value."""

from __future__ import annotations

from pathlib import Path

import pytest

from siteplan.survey.levels import reduce_book
from siteplan.survey.levels_book import read_level_book
from siteplan.units import FOOT

# Surveying, volume I (textbook), chapter on levelling, worked example of the rise-and-fall method; edition and page not
# at hand. Standing: memory. Ten readings down an even slope every 20 m, first point 208.125 m; the staff jumps from
# 4.685
# to 0.625, where the instrument was moved. Printed: the reduced levels below and a gradient of 1 in 19.61. The example
# is
# worked there by rise and fall, here by height of instrument: the second way to the same levels.
READINGS = ("0.385", "1.030", "1.925", "2.825", "3.730", "4.685", "0.625", "2.005", "3.110", "4.485")
PRINTED = {
    "1": 208.125,
    "2": 207.480,
    "3": 206.585,
    "4": 205.685,
    "5": 204.780,
    "6": 203.825,
    "7": 202.445,
    "8": 201.340,
    "9": 199.965,
}
GRADIENT = 19.61


def published_book(folder: Path) -> Path:
    rows = [f"1,{READINGS[0]},,,0,EL 208.125"]
    rows += [f"{i},,{text},,," for i, text in enumerate(READINGS[1:5], 2)]
    rows.append(f"6,{READINGS[6]},,{READINGS[5]},,change point")
    rows += [f"{i},,{text},,," for i, text in enumerate(READINGS[7:9], 7)]
    rows.append(f"9,,,{READINGS[9]},,")
    path = folder / "published.csv"
    path.write_text("point,BS,IFS,FS,station,remark\n" + "\n".join(rows) + "\n")
    return path


def test_reduced_levels_of_a_textbook_example(tmp_path: Path) -> None:
    result = reduce_book(read_level_book(published_book(tmp_path)), rod="metres", open_ended=True)
    assert {level.point: round(level.elevation, 3) for level in result.points} == PRINTED
    assert round(result.sum_backsights, 3) == 1.010
    assert round(result.sum_foresights, 3) == 9.170
    assert result.page_check
    fall = result.points[0].elevation - result.points[-1].elevation
    assert 8 * 20 / fall == pytest.approx(GRADIENT, abs=0.005)


def test_the_example_is_not_accepted_as_proven(tmp_path: Path) -> None:
    # a one-way run proves its arithmetic and nothing more
    result = reduce_book(read_level_book(published_book(tmp_path)), rod="metres")
    assert not result.accepted
    assert result.points == ()


# Closure allowance 0.02 ft x sqrt(set-ups) and its use: the trade's reference for this project, sections 5 and 6,
# itself
# from memory ("0.02 ft for simple work" read). Standing: common practice.
@pytest.mark.parametrize(("setups", "allowed"), [(1, 0.020), (2, 0.028), (3, 0.035), (4, 0.040)])
def test_allowance_of_a_loop(tmp_path: Path, setups: int, allowed: float) -> None:
    rows = ["BM,4.12,,,,EL 100.00"] + [f"TP{i},4.12,,4.12,," for i in range(1, setups)] + ["BM,,,4.12,,"]
    path = tmp_path / "loop.csv"
    path.write_text("point,BS,IFS,FS,station,remark\n" + "\n".join(rows) + "\n")
    result = reduce_book(read_level_book(path))
    assert result.setups == setups
    assert result.allowed / FOOT == pytest.approx(allowed, abs=0.0005)
