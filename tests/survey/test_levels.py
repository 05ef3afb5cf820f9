"""Level books: the arithmetic, the closure, the rod, and who spoiled the loop."""

from __future__ import annotations

from pathlib import Path

import pytest

from siteplan.errors import InputError, InputErrors
from siteplan.survey.levels import Reduction, reduce_book
from siteplan.survey.levels_book import elevation_in_text, point_key, read_level_book
from siteplan.units import FOOT

HEAD = "point,BS,IFS,FS,station,remark\n"
BOOK = (
    HEAD
    + """BM-1,4.12,,,,"nail in front step, EL 100.00"
DS1 GROUND,,4.86,,0+84,start
GR,,5.04,,0+70,
GR,,5.17,,0+60,
GR,,5.27,,0+50,
TP1,,,6.71,,spike
TP1,4.49,,,,set-up 2
GR,,3.20,,0+40,
GR,,3.45,,0+30,
GR,,3.88,,0+20,
GR,,4.35,,0+10,
TC,,4.78,,0+00,
GUTTER FL,,5.28,,0+00,
BM-1 (close),,,1.91,,
"""
)
# three set-ups and a way back, read off an inches rod and typed with a point
INCHES = (
    HEAD
    + """BM,4.10,,,,EL 100.00
A,,5.03,,,
TP1,,,6.02,,
TP1,5.11,,,,
B,,4.09,,,
TP2,,,3.08,,
TP2,2.07,,,,
BM,,,3.06,,
"""
)


def reduced(folder: Path, text: str | bytes, **options: object) -> Reduction:
    path = folder / "notes.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return reduce_book(read_level_book(path), **options)


def feet(result: Reduction) -> dict[str, float]:
    return {f"{p.point} {p.station}".strip(): round(p.elevation / FOOT, 2) for p in result.points}


def refusal(folder: Path, text: str | bytes, **options: object) -> str:
    with pytest.raises((InputError, InputErrors)) as caught:
        reduced(folder, text, **options)
    return str(caught.value)


# ---- the worked book of the practice reference, to its last printed digit


def test_the_worked_book(tmp_path: Path) -> None:
    result = reduced(tmp_path, BOOK)
    assert result.accepted
    assert result.setups == 2
    assert round(result.misclosure / FOOT, 3) == -0.010
    assert round(result.allowed / FOOT, 3) == 0.028
    assert result.page_check
    assert round((result.sum_backsights - result.sum_foresights) / FOOT, 2) == -0.01
    assert not result.adjusted
    assert feet(result) == {
        "BM-1": 100.00,
        "DS1 GROUND 0+84": 99.26,
        "GR 0+70": 99.08,
        "GR 0+60": 98.95,
        "GR 0+50": 98.85,
        "TP1": 97.41,
        "GR 0+40": 98.70,
        "GR 0+30": 98.45,
        "GR 0+20": 98.02,
        "GR 0+10": 97.55,
        "TC 0+00": 97.12,
        "GUTTER FL 0+00": 96.62,
    }


def test_one_row_turning_points_and_the_columns_of_the_printed_table(tmp_path: Path) -> None:
    printed = """Point;BS;HI;FS/IFS;Elev;Remark
BM-1;4.12;104.12;;100.00;100.00 + 4.12
DS1 ground;;;4.86;99.26;start
TP1 (spike);4.49;101.90;6.71;97.41;104.12 - 6.71
gutter FL;;;5.28;96.62;face 0.50 ok
BM-1 (close);;;1.91;99.99;misclosure -0.01
"""
    result = reduced(tmp_path, printed)
    assert feet(result) == {"BM-1": 100.00, "DS1 ground": 99.26, "TP1 (spike)": 97.41, "gutter FL": 96.62}
    assert round(result.misclosure / FOOT, 3) == -0.010
    # arithmetic in the book that the readings contradict
    message = refusal(tmp_path, printed.replace("99.26", "99.62"))
    assert message == (
        "notes.csv, row 3, elevation: is 99.62, and the readings give 99.26 ft. Correct whichever is wrong: "
        "the reading or the arithmetic."
    )
    assert "row 4, HI: is 101.09" in refusal(tmp_path, printed.replace("101.90", "101.09"))


def test_adjustment_only_inside_the_allowance_and_by_set_ups(tmp_path: Path) -> None:
    result = reduced(tmp_path, BOOK, adjust=True)
    by = {p.point: p for p in result.points}
    assert by["TP1"].elevation - by["TP1"].raw == pytest.approx(0.005 * FOOT)
    assert by["GUTTER FL"].elevation - by["GUTTER FL"].raw == pytest.approx(0.010 * FOOT)
    assert by["BM-1"].elevation == by["BM-1"].raw == 100 * FOOT
    tight = reduced(tmp_path, BOOK, adjust=True, allowed=0.005 * FOOT)
    assert not tight.accepted
    assert not tight.adjusted
    assert tight.points == ()


def test_benchmark_elevation_from_option_remark_or_assumed_aloud(tmp_path: Path) -> None:
    given = reduced(tmp_path, BOOK, benchmarks={"bm 1": 200 * FOOT})
    assert feet(given)["TP1"] == 197.41
    assert not given.datum_assumed
    silent = reduced(tmp_path, BOOK.replace(", EL 100.00", ""))
    assert silent.datum_assumed
    assert (
        "no elevation given for BM-1: assumed datum, 100.00 ft; differences are true, heights are not" in silent.notes
    )
    assert "BM-9 is not in notes.csv" in refusal(tmp_path, BOOK, benchmarks={"BM-9": 1.0})


@pytest.mark.parametrize(
    "first",
    ["BM1,4.12,,,nail in step EL 50.00,", "BM1,4.12,,,EL 50.00", "BM1,4.12,,,EL 50.00,nail", "BM1,4.12,,,,EL 50.00"],
)
def test_an_elevation_in_the_fifth_column_of_a_book_without_a_header_is_taken(tmp_path: Path, first: str) -> None:
    told = reduced(tmp_path, f"{first}\nGR1,,5.30,,0+10,\nTP1,3.90,,5.10,,\nGR2,,6.00,,,\nBM1,,,2.92,,\n")
    assert feet(told)["BM1"] == 50.00
    assert feet(told)["GR1 0+10"] == 48.82  # a station stays one
    assert not any("assumed" in note for note in told.notes)


def test_an_elevation_typed_as_a_station_is_taken(tmp_path: Path) -> None:
    told = reduced(tmp_path, HEAD + "BM1,4.12,,,EL 50.00,\nGR1,,5.30,,0+10,\nBM1,,,4.12,,\n")
    assert feet(told)["GR1 0+10"] == 48.82


def test_a_line_between_two_benchmarks_closes_on_the_second(tmp_path: Path) -> None:
    text = HEAD + "BM1,5.00,,,,EL 100.00\nTP1,4.00,,6.00,,\nBM2,,,3.50,,\n"
    assert "never returns to a known mark" in reduced(tmp_path, text).reason
    closed = reduced(tmp_path, text, benchmarks={"BM2": 99.52 * FOOT})
    assert closed.accepted
    assert round(closed.misclosure / FOOT, 3) == -0.020
    unproven = reduced(tmp_path, text, open_ended=True)
    assert unproven.accepted
    assert unproven.misclosure is None
    assert "unproven: the book never returns to a known mark" in unproven.notes


def test_a_check_back_in_one_set_up_is_a_closure(tmp_path: Path) -> None:
    # S4: benchmark 100.00, BS 1.84, check back 1.84; rods on the pipe's top
    text = HEAD + "BM,1.84,,,,100.00\nPIPE,,6.00,,0+00,\nPIPE,,5.82,,0+40,\nBM,,1.84,,,check back\n"
    result = reduced(tmp_path, text)
    assert result.accepted
    assert result.misclosure == pytest.approx(0, abs=1e-12)
    assert feet(result) == {"BM": 100.0, "PIPE 0+00": 95.84, "PIPE 0+40": 96.02}


def test_a_second_run_is_compared_and_what_disagrees_is_withheld(tmp_path: Path) -> None:
    run = "HUB A,,{a},,,\nHUB B,,{b},,,\n"
    text = (
        HEAD
        + "BM,4.12,,,,EL 100.00\n"
        + run.format(a="5.04", b="6.17")
        + "BM,,,4.12,,\nBM,4.48,,,,\n"
        + run.format(a="5.41", b="6.73")
        + "BM,,,4.48,,\n"
    )
    result = reduced(tmp_path, text)
    assert result.accepted
    assert [(r.point, r.setups, r.agrees) for r in result.repeats] == [
        ("HUB A", (1, 2), True),
        ("HUB B", (1, 2), False),
    ]
    assert feet(result) == {"BM": 100.0, "HUB A": 99.08}
    assert "HUB B was shot in set-ups 1, 2 and differs by 0.200 ft: withheld, shoot it again" in result.notes


def test_ground_codes_without_a_station_are_not_one_point(tmp_path: Path) -> None:
    result = reduced(tmp_path, HEAD + "BM,4.12,,,,EL 100.00\nGR,,5.04,,,\nGR,,6.17,,,\nBM,,,4.13,,\n")
    assert [round(p.elevation / FOOT, 2) for p in result.points] == [100.0, 99.08, 97.95]
    assert result.repeats == ()


# ---- the rod


def test_an_inches_rod_is_suspected_by_digits_and_closure_and_never_reinterpreted(tmp_path: Path) -> None:
    result = reduced(tmp_path, INCHES)
    assert not result.accepted
    assert result.points == ()
    assert result.suspect.kind == "inches rod"
    assert "none of the 8 readings has digits 12 to 99" in result.suspect.text
    assert "read as tenths it misses by -0.880 ft, as feet and inches by +0.000 ft" in result.suspect.text
    assert "--rod inches" in result.suspect.text
    named = reduced(tmp_path, INCHES, rod="inches")
    assert named.accepted
    assert feet(named)["A"] == round(100 + 4 + 10 / 12 - 5 - 3 / 12, 2)
    insisted = reduced(tmp_path, INCHES, rod="tenths")
    assert not insisted.accepted
    assert insisted.reason == "misclosure -0.880 ft, allowed 0.035 ft for 3 set-ups"


def test_digits_alone_stop_a_book_that_closes_either_way(tmp_path: Path) -> None:
    text = HEAD + "BM,4.10,,,,EL 100.00\nA,,5.03,,,\nB,,6.11,,,\nBM,,,4.10,,\n"
    result = reduced(tmp_path, text)
    assert not result.accepted
    assert result.suspect.kind == "inches rod"
    assert reduced(tmp_path, text, rod="tenths").accepted
    assert feet(reduced(tmp_path, text, rod="tenths"))["B"] == 97.99
    assert feet(reduced(tmp_path, text, rod="inches"))["B"] == 97.92


def test_an_ordinary_tenths_rod_is_not_suspected(tmp_path: Path) -> None:
    assert reduced(tmp_path, BOOK).suspect is None
    # digits that look like inches, but only tenths close: accepted, and said
    text = HEAD + "BM,4.10,,,,EL 100.00\nTP1,5.01,,6.09,,\nBM,,,3.00,,\n"
    result = reduced(tmp_path, text)
    assert result.accepted
    assert any("an inches rod typed as decimals" in note for note in result.notes)


def test_how_an_inches_rod_is_typed(tmp_path: Path) -> None:
    text = HEAD + 'BM,3.10,,,,EL 100.00\nA,,3.4 1/2,,,\nB,,"4\'-2""",,,\nC,,3.1,,,\nBM,,,3.10,,\n'
    result = reduced(tmp_path, text, rod="inches")
    assert feet(result) == {"BM": 100.0, "A": round(100 + (46 - 40.5) / 12, 2), "B": 99.67, "C": 100.75}
    assert feet(result)["C"] == 100.75  # the book writes 3 ft 4 in as 3.4, so 3.1 is 3 ft 1 in
    message = refusal(tmp_path, text.replace("3.4 1/2", "3.04"), rod="inches")
    assert (
        message == "notes.csv, row 5, IFS: is '3.1': 1 in, or 10 in whose zero a spreadsheet dropped. Type 3.01 or 3.10"
    )
    assert "row 3, IFS: is '3.4 1/2', as an inches rod is written" in refusal(tmp_path, text, rod="tenths")


def test_a_metre_rod_is_asked_about_and_read_in_metres(tmp_path: Path) -> None:
    text = HEAD + "BM,1.234,,,,EL 30.480\nA,,1.534,,,\nBM,,,1.235,,\n"
    result = reduced(tmp_path, text)
    assert not result.accepted
    assert result.suspect.kind == "metre rod"
    named = reduced(tmp_path, text, rod="metres")
    assert {p.point: round(p.elevation, 3) for p in named.points} == {"BM": 30.480, "A": 30.180}
    assert feet(reduced(tmp_path, text, rod="tenths"))["A"] == 30.18


# ---- who spoiled the loop

SLIPS = [  # typed for, set-up, column, kind, what would close, other set-ups that no closure can tell from it
    ("TP1,4.49", "TP1,4.94", 2, "BS", "two digits changed over", "4.49", ()),
    (",6.71,", ",7.61,", 1, "FS", "two digits changed over across the point", "6.71", ()),
    ("BM-1,4.12", "BM-1,5.12", 1, "BS", "a whole foot misread", "4.120 ft", (2,)),
    (",6.71,", ",5.71,", 1, "FS", "a whole foot misread", "6.710 ft", (2,)),
]


@pytest.mark.parametrize(("was", "typed", "setup", "column", "kind", "likely", "also"), SLIPS)
def test_the_set_up_that_spoiled_the_loop_is_named(
    tmp_path: Path, was: str, typed: str, setup: int, column: str, kind: str, likely: str, also: tuple[int, ...]
) -> None:
    assert was in BOOK
    result = reduced(tmp_path, BOOK.replace(was, typed))
    assert not result.accepted
    assert result.points == ()
    assert result.reason.startswith("misclosure ")
    suspect = result.suspect
    assert (suspect.setup, suspect.column, suspect.likely, suspect.kind, suspect.also) == (
        setup,
        column,
        likely,
        kind,
        also,
    )
    assert f"set-up {setup}: {column} on " in suspect.text
    if also:
        assert "would explain it as well: take both again" in suspect.text


def test_ground_on_both_sides_decides_which_turning_point(tmp_path: Path) -> None:
    # a slipped benchmark sight lifts all ground alike; a slipped turning point tears it between 0+40 and 0+50
    benchmark = reduced(tmp_path, BOOK.replace("BM-1,4.12", "BM-1,5.12")).suspect
    turning = reduced(tmp_path, BOOK.replace("TP1,4.49", "TP1,5.49")).suspect
    assert benchmark.point == "BM-1"
    assert turning.point == "TP1"
    assert {turning.setup, *turning.also} == {1, 2}


def long_loop(hump: float) -> str:
    """Five set-ups along ground that falls 0.5 % over humps, and back to the benchmark from the last."""

    def ground(station: int) -> float:
        return 99.5 - 0.005 * station + hump * ((station // 20) % 3)

    lines, high = ["BM,4.13,,,,EL 100.00"], 104.13
    for i in range(5):
        lines += [f"S,,{high - ground(100 * i + step):.2f},,{i}+{step:02d}," for step in (0, 25, 50, 75)]
        if i == 4:
            break
        turning = round(ground(100 * i + 90) - 0.3, 2)
        high_next = round(turning + 4.62 + i / 100, 2)
        lines += [f"TP{i + 1},,,{high - turning:.2f},,", f"TP{i + 1},{high_next - turning:.2f},,,,"]
        high = high_next
    return HEAD + "\n".join([*lines, f"BM,,,{high - 100:.2f},,"]) + "\n"


@pytest.mark.parametrize("at", [1, 2, 3, 4])
@pytest.mark.parametrize("slip", [1.0, -1.0, 0.1, -0.1])
def test_a_slip_in_a_long_loop_is_traced_to_its_turning_point(tmp_path: Path, at: int, slip: float) -> None:
    good = long_loop(0.1 * abs(slip))
    assert reduced(tmp_path, good).accepted
    lines = good.splitlines()
    index = next(i for i, line in enumerate(lines) if line.startswith(f"TP{at},") and not line.startswith(f"TP{at},,"))
    name, reading, rest = lines[index].split(",", 2)
    lines[index] = f"{name},{float(reading) + slip:.2f},{rest}"
    suspect = reduced(tmp_path, "\n".join(lines) + "\n").suspect
    named = {suspect.setup, *suspect.also}
    assert (
        at + 1 in named
    )  # the backsight that slipped; or the foresight on the same point, which no closure can tell from it
    assert named <= {at, at + 1}


def test_what_no_common_slip_explains_is_said(tmp_path: Path) -> None:
    suspect = reduced(tmp_path, BOOK.replace(",1.91,", ",2.2875,")).suspect
    assert "no single common slip explains" in suspect.text
    assert suspect.setup in {1, 2}


# ---- ways of writing

WAYS = {
    "as printed": BOOK,
    "byte order mark and carriage returns": "\ufeff" + BOOK.replace("\n", "\r\n"),
    "semicolons and decimal commas": "point;BS;IFS;FS;station;remark\n"
    + "".join(
        line.replace('"nail in front step, EL 100.00"', "EL 100.00")
        .replace(",", ";")
        .replace(".", ",")
        .replace("100,00", "100.00")
        + "\n"
        for line in BOOK.splitlines()[1:]
    ),
    "tabs": BOOK.replace('"nail in front step, EL 100.00"', "EL 100.00").replace(",", "\t"),
    "no header": BOOK.split("\n", 1)[1],
    "remark commas unquoted": BOOK.replace('"', ""),
    "other names": BOOK.replace("point,BS,IFS,FS,station,remark", "Pt,Backsight,Intermediate,Foresight,Sta,Notes"),
    "all foresights in one column": "point,BS,FS/IFS,station,remark\n"
    + "".join(
        ",".join([c[0], c[1], c[2] or c[3], *c[4:]]) + "\n"
        for c in (line.replace('"', "").split(",", 5) for line in BOOK.splitlines()[1:])
    ),
}


@pytest.mark.parametrize("way", WAYS)
def test_every_way_of_writing_gives_the_same_elevations(tmp_path: Path, way: str) -> None:
    assert feet(reduced(tmp_path, WAYS[way])) == feet(reduced(tmp_path, BOOK))


def test_points_and_remarks() -> None:
    assert point_key("BM-1 (close)") == point_key("bm 1") == point_key("BM1 check") == "bm1"
    assert point_key("1-1") != point_key("11")
    assert elevation_in_text("nail in step EL 100.00") == "100.00"
    assert elevation_in_text("100.00 + 4.12", "4.12", anything=True) == "100.00"
    assert elevation_in_text("100.00 and 98.20", anything=True) is None
    assert elevation_in_text("spike", anything=True) is None


# ---- twenty books that cannot be used: row, column, mending


def book(*rows: str) -> str:
    return HEAD + "\n".join(rows) + "\n"


START = "BM,4.12,,,,EL 100.00"
MALFORMED = {
    "letter for a digit": (
        book(START, "A,,5.O4,,,", "BM,,,4.12,,"),
        "row 3, IFS: is '5.O4', no rod reading",
        "Type it as read",
    ),
    "decimal comma in quotes": (
        book(START, 'A,,"5,04",,,', "BM,,,4.12,,"),
        "row 3, IFS: is '5,04', no rod reading",
        "Write the decimal with a point",
    ),
    "minus sign": (
        book(START, "A,,-5.04,,,", "BM,,,4.12,,"),
        "row 3, IFS: is '-5.04', below 0",
        "type it without the sign",
    ),
    "lost decimal point": (
        book(START, "A,,504,,,", "BM,,,4.12,,"),
        "row 3, IFS: is '504', longer than any rod (25 ft)",
        "Put the decimal point where it belongs",
    ),
    "two points": (
        book(START, "A,,5.0.4,,,", "BM,,,4.12,,"),
        "row 3, IFS: is '5.0.4', no rod reading",
        "Type it as read",
    ),
    "no backsight at the start": (
        book("BM,,4.12,,,", "A,,5.04,,,"),
        "row 2, BS: is blank: the book starts on BM without a backsight",
        "Begin with the BS",
    ),
    "backsight on an unknown point": (
        book(START, "TP1,,,6.71,,", "TP2,4.49,,,,", "BM,,,1.90,,"),
        "row 3, FS: turns on TP1, and no BS on it follows",
        "Give the BS on TP1",
    ),
    "backsight on a point never shot": (
        book(START, "HUB,,,6.71,,", "NAIL,4.49,,,,", "BM,,,1.90,,"),
        "row 4, BS: stands on NAIL, whose elevation is not known",
        "or correct its name",
    ),
    "backsight on a side shot": (
        book(START, "TP1,,6.71,,,", "TP1,4.49,,,,", "BM,,,1.90,,"),
        "row 4, BS: stands on TP1, which was only a side shot",
        "Move that reading to FS",
    ),
    "lost set-up": (
        book(START, "TP1,,,6.71,,", "A,,3.20,,,", "BM,,,4.12,,"),
        "row 3, FS: turns on TP1, and no BS on it follows",
        "or move the reading to IFS",
    ),
    "side shot and backsight in one row": (
        book(START, "A,4.49,5.04,,,", "BM,,,4.12,,"),
        "row 3, IFS: A has an IFS and a BS",
        "A side shot stands alone",
    ),
    "side shot and foresight in one row": (
        book(START, "A,,5.04,6.71,,", "BM,,,4.12,,"),
        "row 3, IFS: A has an IFS and a FS",
        "A side shot stands alone",
    ),
    "no reading": (book(START, "A,,,,0+50,shot?", "BM,,,4.12,,"), "row 3: A has no reading", "or take the row out"),
    "no point": (book(START, ",,5.04,,,", "BM,,,4.12,,"), "row 3, point: has a reading and no point", "Name the point"),
    "unknown column": (
        "point,BS,IFS,FS,azimuth,remark\n" + START + "\n",
        "row 1: has the column 'azimuth'",
        "Name the columns",
    ),
    "column twice": (
        "point,BS,backsight,FS\nBM,4.12,,\n",
        "row 1: names the column BS twice (BS, backsight)",
        "Keep one",
    ),
    "no foresight column": (
        "point,BS,IFS,station,remark\nBM,4.12,,,EL 100\n",
        "row 1: has no column FS",
        "Name the columns",
    ),
    "cells beyond the header": (
        "remark,point,BS,IFS,FS\nEL 100.00,BM,4.12,,,,7\nx,BM,,,4.12\n",
        "row 2: has 7 cells under 5 columns",
        "put the remark last",
    ),
    "prose": ("Level notes of Tuesday\nwet\n", "has no columns", "Separate point, BS"),
    "header alone": (HEAD, "has a header and no readings", "Give one row"),
    "empty": ("\n \n", "is empty", "Give one row"),
    "fraction over zero": (
        book(START, "A,,5'-4/0\",,,", "BM,,,4.12,,"),
        "row 3, IFS: is '5\\'-4/0\"', no rod reading",
        "Type it as read",
    ),
    "twelve inches": (
        book(START, "A,,5'-12\",,,", "BM,,,4.12,,"),
        "row 3, IFS: is '5\\'-12\"', no rod reading",
        "Type it as read",
    ),
    "benchmark's elevation garbled": (
        BOOK.replace("EL 100.00", "EL 1l00.00"),
        "row 2, remark: states the elevation '1l00.00'",
        "Write it as a number",
    ),
    "benchmark's elevation torn": (
        BOOK.replace("EL 100.00", "EL 1-00.00"),
        "row 2, remark: states the elevation '1-00.00'",
        "Write it as a number",
    ),
    "elevation under the backsight": (
        book("BM,EL 100.00,,,,4.12", "BM,,,4.12,,"),
        "row 2, BS: is 'EL 100.00', no rod reading",
        "Type it as read",
    ),
}


@pytest.mark.parametrize("case", MALFORMED)
def test_malformed_book_says_row_column_and_mending(tmp_path: Path, case: str) -> None:
    text, where, mend = MALFORMED[case]
    message = refusal(tmp_path, text).splitlines()[0]
    assert message.startswith("notes.csv"), message
    assert where in message, message
    assert mend in message, message


def test_there_are_twenty_and_more_malformed_books() -> None:
    assert len(MALFORMED) >= 20


def test_readings_that_no_inches_rod_shows(tmp_path: Path) -> None:
    message = refusal(tmp_path, BOOK, rod="inches").splitlines()
    assert message[0] == "notes.csv, row 2, BS: is '4.12': no inches rod shows 12 in. Correct it, or say --rod tenths"
    assert len(message) == 11
    assert message[-1] == "and 3 more"


def test_files_that_are_no_text(tmp_path: Path) -> None:
    assert "is no text file" in refusal(tmp_path, b"PK\x03\x04\x00\x00,,,,")
    with pytest.raises(InputError, match="no such file of level notes"):
        read_level_book(tmp_path / "absent.csv")


def test_a_stray_quote_does_not_make_inches_of_the_benchmark(tmp_path: Path) -> None:
    assert feet(reduced(tmp_path, BOOK.replace('"nail', "nail")))["BM-1"] == 100.0


# ---- closure is the evidence for the rod


# a loop of three set-ups off an inches rod; a sheet dropped the zero of 3.10 and 5.10, and no reading has two digits
# after the point
DROPPED = (
    HEAD
    + """BM,3.1,,,,EL 100.00
A,,5.3,,,
TP1,,,6.2,,
TP1,5.1,,,,
B,,4.9,,,
TP2,,,3.8,,
TP2,2.7,,,,
BM,,,2.5,,
"""
)


def test_closure_alone_suspects_an_inches_rod_whose_zeros_a_sheet_dropped(tmp_path: Path) -> None:
    """3'-10" + 5'-10" + 2'-7" less 6'-2", 3'-8" and 2'-5" is nothing; 3.1 + 5.1 + 2.7 less 6.2, 3.8 and 2.5 is -1.6."""
    result = reduced(tmp_path, DROPPED)
    assert not result.accepted
    assert result.points == ()
    assert result.suspect.kind == "inches rod"
    assert "read as tenths it misses by -1.600 ft, as feet and inches by +0.000 ft" in result.suspect.text
    assert "3.1 taken as 3 ft 10 in" in result.suspect.text
    assert "--rod inches" in result.suspect.text
    named = reduced(tmp_path, DROPPED, rod="inches")
    assert named.accepted
    assert feet(named)["A"] == round(100 + (46 - 63) / 12, 2)
    assert any("10 in whose zero a spreadsheet dropped" in note for note in named.notes)


def test_one_inch_is_one_inch_where_that_closes(tmp_path: Path) -> None:
    """3'-1" less 6'-8" and 5'-4" less 1'-9" is nothing; with 3'-10" it is 9 in, and in tenths -0.2 ft."""
    text = HEAD + "BM,3.1,,,,EL 100.00\nTP1,5.4,,6.8,,\nBM,,,1.9,,\n"
    result = reduced(tmp_path, text)
    assert result.suspect.kind == "inches rod"
    assert "misses by -0.200 ft, as feet and inches by +0.000 ft" in result.suspect.text
    assert "zero dropped" not in result.suspect.text
    assert reduced(tmp_path, text, rod="inches").accepted


def test_no_reading_needs_two_digits(tmp_path: Path) -> None:
    """4'-9" + 6'-7" = 3'-4" + 8'-0"; in tenths 0.2 ft are missing."""
    text = HEAD + "BM,4.9,,,,EL 100.00\nA,,5.3,,,\nTP1,6.7,,3.4,,\nBM,,,8.0,,\n"
    result = reduced(tmp_path, text)
    assert not result.accepted
    assert result.suspect.kind == "inches rod"
    assert "read as tenths it misses by +0.200 ft, as feet and inches by +0.000 ft" in result.suspect.text


def test_an_inches_rod_that_only_closes_in_tenths_is_told(tmp_path: Path) -> None:
    text = HEAD + "BM,4.5,,,,EL 100.00\nA,,5.3,,,\nTP1,6.9,,3.4,,\nBM,,,8.0,,\n"
    result = reduced(tmp_path, text, rod="inches")
    assert not result.accepted
    assert result.suspect.kind == "tenths rod"
    assert "--rod tenths" in result.suspect.text


def test_a_tenths_book_with_one_digit_is_not_suspected(tmp_path: Path) -> None:
    text = HEAD + "BM,4.5,,,,EL 100.00\nA,,5.3,,,\nTP1,6.9,,3.4,,\nBM,,,8.0,,\n"
    result = reduced(tmp_path, text)
    assert result.accepted
    assert result.suspect is None


# ---- how finely the rod was read is doubt of the heights


@pytest.mark.parametrize(
    ("text", "rod", "resolution"),
    [
        (BOOK, None, 0.01 * FOOT),
        (INCHES, "inches", FOOT / 12),
        (HEAD + "BM,4.5,,,,EL 100.00\nA,,5.3,,,\nBM,,,4.5,,\n", "tenths", 0.1 * FOOT),
        (HEAD + "BM,3.10 1/8,,,,EL 100.00\nA,,3.4 1/2,,,\nBM,,,3.10 1/8,,\n", "inches", FOOT / 96),
        (HEAD + "BM,1.234,,,,EL 30.0\nA,,1.534,,,\nBM,,,1.234,,\n", "metres", 0.001),
        (
            HEAD + "BM,4.15,,,,EL 100.00\nA,,5.30,,,\nB,,5.25,,,\nC,,5.05,,,\nD,,6.20,,,\nBM,,,4.15,,\n",
            "tenths",
            0.05 * FOOT,
        ),
    ],
)
def test_reading_resolution(tmp_path: Path, text: str, rod: str | None, resolution: float) -> None:
    assert reduced(tmp_path, text, rod=rod).resolution == pytest.approx(resolution)


def test_resolution_becomes_doubt_of_the_heights(tmp_path: Path) -> None:
    """A reading to r is off by r / sqrt(12) (uniform); two of them a set-up, and set-ups add up in squares."""
    result = reduced(tmp_path, INCHES, rod="inches")
    inch = FOOT / 12
    assert result.doubt == pytest.approx(inch / 6**0.5, rel=0.05)
    by_name = {level.point: level.doubt for level in result.points}
    assert by_name["BM"] == 0.0
    assert by_name["A"] == pytest.approx(inch / 6**0.5, rel=0.05)
    assert by_name["B"] == pytest.approx(inch / 6**0.5 * 2**0.5, rel=0.05)
    fine = reduced(tmp_path, BOOK)
    assert fine.doubt == pytest.approx(0.0108 * FOOT, abs=0.0002 * FOOT)
