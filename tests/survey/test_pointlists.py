"""Point lists as surveyors send them: order and unit by evidence, questions where it leaves them open."""

from __future__ import annotations

from pathlib import Path

import pytest

from siteplan.errors import InputError, InputErrors
from siteplan.survey.pointlist_signs import Clues
from siteplan.survey.pointlists import PointList, read_points
from siteplan.units import FOOT, US_SURVEY_FOOT

S1 = """1,5000,2000,98.30,LOT SW
2,5000,2060,98.35,LOT SE
3,5150,2060,95.40,LOT NE
4,5150,2000,95.30,LOT NW
5,5066,2030,100.00,BM NAIL FRONT STEP
6,5068,2012,99.10,HOUSE SW / DS1 GROUND
7,5068,2048,99.15,HOUSE SE
8,5110,2048,98.95,HOUSE NE
9,5110,2012,98.90,HOUSE NW
13,4990,2012,98.35,TC
14,4989.5,2012,97.85,GUTTER FL
"""
S6 = """1,1524.000,609.600,30.023,LOT SW
2,1524.000,627.888,30.038,LOT SE
3,1569.720,627.888,29.230,LOT NE
4,1569.720,609.600,29.215,LOT NW
5,1535.582,618.744,30.480,BM STEP NAIL EL 100.00
6,1536.192,613.258,30.236,DS1
7,1542.288,613.258,30.145,GR
8,1549.908,613.258,30.038,GR
9,1557.528,613.258,29.901,GR
10,1563.624,613.258,29.322,GR TOE BANK
"""
FEET = Clues(length_unit="ft", elevation_unit="ft")
PLAT = Clues(
    length_unit="ft",
    elevation_unit="ft",
    plat_sides=(60 * FOOT, 150 * FOOT, 60 * FOOT, 150 * FOOT),
    roof_area=1750 * FOOT**2,
)


def read(folder: Path, text: str | bytes, **options: object) -> PointList:
    path = folder / "shots.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_points(path, **options)


def figures(points: PointList, unit: float = FOOT) -> dict[str, tuple[float | None, ...]]:
    return {
        p.number: tuple(None if v is None else round(v / unit, 2) for v in (p.northing, p.easting, p.elevation))
        for p in points.points
    }


def swapped(text: str) -> str:
    rows = [row.split(",", 3) for row in text.splitlines()]
    return "".join(f"{p},{b},{a},{rest}\n" for p, a, b, rest in rows)


def refusal(folder: Path, text: str | bytes, **options: object) -> str:
    with pytest.raises(InputError) as caught:
        read(folder, text, **options)
    message = str(caught.value)
    assert "\n" not in message
    return message


# ---- order


def test_labelled_corners_decide_the_order_and_say_so(tmp_path: Path) -> None:
    found = read(tmp_path, S1, clues=FEET)
    assert found.order == "north-first"
    assert figures(found)["6"] == (5068, 2012, 99.10)
    said = " ".join(found.evidence)
    assert "LOT SE lies east of LOT SW" in said
    assert "turn left, as their names say" in said


def test_easting_first_is_read_as_the_same_plan(tmp_path: Path) -> None:
    assert figures(read(tmp_path, swapped(S1), clues=FEET)) == figures(read(tmp_path, S1, clues=FEET))


def test_a_mirrored_plan_is_caught_although_every_length_agrees(tmp_path: Path) -> None:
    message = refusal(tmp_path, S1, order="east-first", clues=PLAT)
    assert "mirrored" in message
    assert "LOT SE lies east of LOT SW" in message
    assert 'points_order = "north-first"' in message
    header = "point,easting,northing,elevation,description\n" + S1
    assert "mirrored" in refusal(tmp_path, header, clues=PLAT)


def test_a_rotated_mirrored_lot_is_caught_by_its_hand(tmp_path: Path) -> None:
    # turned by 45 degrees the label pairs say nothing; the turn of three corners does
    corners = {"SW": (0, 0), "SE": (42.43, -42.43), "NE": (148.5, 63.6), "NW": (106.1, 106.1)}
    text = "".join(
        f"{i},{5000 + n},{2000 + e},100.1,LOT {name}\n" for i, (name, (e, n)) in enumerate(corners.items(), 1)
    )
    assert read(tmp_path, text, clues=FEET).order == "north-first"
    assert read(tmp_path, swapped(text), clues=FEET).order == "east-first"


def test_other_features_decide_when_labels_do_not(tmp_path: Path) -> None:
    text = "".join(f"{i},{5000 + 10 * i},{2000 + 5 * i},{98 + i / 10:.2f},GR\n" for i in range(1, 8))
    box = (2000 * FOOT, 5000 * FOOT, 2060 * FOOT, 5150 * FOOT)
    found = read(tmp_path, text, clues=Clues(length_unit="ft", boxes=(box,)))
    assert found.order == "north-first"
    assert "100% of the points lie on the other features" in " ".join(found.evidence)
    assert read(tmp_path, swapped(text), clues=Clues(length_unit="ft", boxes=(box,))).order == "east-first"


def test_frontage_bearing_decides(tmp_path: Path) -> None:
    text = (
        "1,5000,2000,98.3,LOT COR 1\n2,5000,2060,98.3,LOT COR 2\n3,5150,2060,95.4,LOT COR "
        "3\n4,5150,2000,95.3,LOT COR 4\n"
    )
    clues = Clues(length_unit="ft", plat_sides=PLAT.plat_sides, frontage_bearing=90.0)
    found = read(tmp_path, text, clues=clues)
    assert found.order == "north-first"
    assert "the frontage then bears 90.0 degrees from north, the plat has 90.0" in " ".join(found.evidence)
    assert read(tmp_path, swapped(text), clues=clues).order == "east-first"
    # a frontage at 45 degrees cannot tell: ask
    diagonal = (
        "1,0,0,98.3,LOT COR 1\n2,42.43,42.43,98.3,LOT COR 2\n3,148.5,-63.64,95.4,LOT COR "
        "3\n4,106.07,-106.07,95.3,LOT COR 4\n"
    )
    assert "northing or easting" in refusal(
        tmp_path, diagonal, clues=Clues(length_unit="ft", plat_sides=PLAT.plat_sides, frontage_bearing=45.0)
    )


def test_sides_in_the_plats_order_decide_when_the_plat_is_not_its_own_mirror(tmp_path: Path) -> None:
    # clockwise from the frontage, seen from above: 60 west along the street, then 150, 80, 151.33 round
    ring = [(0.0, 0.0), (0.0, 60.0), (-10.0, 210.0), (70.0, 200.0)]
    sides = tuple(
        ((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5 * FOOT for a, b in zip(ring, ring[1:] + ring[:1], strict=True)
    )
    text = "".join(f"{i},{5000 + n},{2000 + e},98.{i},LOT COR {i}\n" for i, (e, n) in enumerate(ring, 1))
    clues = Clues(length_unit="ft", plat_sides=sides)
    assert read(tmp_path, text, clues=clues).order == "north-first"
    assert read(tmp_path, swapped(text), clues=clues).order == "east-first"


def test_what_nothing_settles_is_asked_with_its_key_and_a_person_answers(tmp_path: Path) -> None:
    text = "1,5000,2000,98.30,GR\n2,5040,2010,98.10,GR\n3,5080,2020,97.90,GR\n"
    message = refusal(tmp_path, text, clues=FEET)
    assert message.startswith("shots.csv: does northing or easting come first?")
    assert 'points_order = "north-first" or "east-first"' in message
    found = read(tmp_path, text, order="east-first", clues=FEET)
    assert figures(found)["3"] == (2020, 5080, 97.90)
    assert "as a person confirmed" in " ".join(found.evidence)


def test_labels_that_contradict_each_other_are_asked_and_a_person_settles_it(tmp_path: Path) -> None:
    text = S1 + "21,5200,2000,98.0,GARAGE SW\n22,5210,2000,98.0,GARAGE SE\n"
    message = refusal(tmp_path, text, clues=FEET)
    assert "the evidence disagrees" in message
    assert "GARAGE SE" in message
    assert read(tmp_path, text, order="north-first", clues=FEET).order == "north-first"


# ---- units


def test_s6_stops_and_asks_with_the_evidence(tmp_path: Path) -> None:
    message = refusal(tmp_path, S6, clues=PLAT)
    assert message.startswith("shots.csv: is it in metres?")
    assert "18.29 x 45.72" in message
    assert "836 square" in message
    assert "60.00 x 150.00 ft" in message
    assert "a roof of 1750" in message
    assert "'BM STEP NAIL EL 100.00' (row 5) has elevation 30.480, which is 100.00 x 0.3048" in message
    assert 'points_unit = "m"' in message


def test_s6_with_the_unit_confirmed_is_the_plats_lot(tmp_path: Path) -> None:
    found = read(tmp_path, S6, unit="m", clues=PLAT)
    assert (found.unit, found.elevation_unit, found.order) == ("m", "m", "north-first")
    feet = figures(found)
    assert feet["3"][0] - feet["1"][0] == pytest.approx(150, abs=0.005)
    assert feet["2"][1] - feet["1"][1] == pytest.approx(60, abs=0.005)
    assert feet["6"][2] == 99.20
    assert feet["10"][2] == 96.20
    assert feet["10"][0] - feet["6"][0] == pytest.approx(90.00, abs=0.011)


def test_s6_said_to_be_feet_is_refused_against_unanimous_evidence(tmp_path: Path) -> None:
    assert "all evidence speaks against it" in refusal(tmp_path, S6, unit="ft", clues=PLAT)


def test_unit_by_evidence_when_nothing_is_declared(tmp_path: Path) -> None:
    found = read(tmp_path, S6)
    assert (found.unit, found.elevation_unit) == ("m", "m")
    assert "elevations in m by evidence" in " ".join(found.evidence)
    assert "feet or metres?" in refusal(tmp_path, S1)


def test_heights_in_another_unit_than_the_grid_are_asked(tmp_path: Path) -> None:
    metric_heights = "\n".join(
        ",".join([*row.split(",")[:3], f"{float(row.split(',')[3]) * FOOT:.3f}", row.split(",", 4)[4]])
        for row in S1.splitlines()
    ).replace("BM NAIL", "BM EL 100.00 NAIL")
    message = refusal(tmp_path, metric_heights, clues=FEET)
    assert "is it in metres?" in message
    found = read(tmp_path, metric_heights, unit="ft", elevation_unit="m", clues=FEET)
    assert figures(found)["6"] == (5068, 2012, 99.10)


def test_survey_feet_and_international_feet_are_kept_apart(tmp_path: Path) -> None:
    text = (
        "point,N (us-ft),E (us-ft),Z (us-ft),D\n1,650000.00,2000000.00,98.30,LOT "
        "SW\n2,650000.00,2000060.00,98.35,LOT SE\n"
    )
    found = read(tmp_path, text)
    assert found.unit == "us-ft"
    assert found.points[0].easting == 2000000 * US_SURVEY_FOOT
    international = read(tmp_path, text.replace("us-ft", "ft"))
    assert international.unit == "ft"
    assert (found.points[0].easting - international.points[0].easting) / FOOT == pytest.approx(4.0, abs=0.001)


def test_which_foot_is_asked_where_the_list_must_meet_other_data(tmp_path: Path) -> None:
    rows = [
        (650000, 2000000, "LOT SW"),
        (650000, 2000060, "LOT SE"),
        (650150, 2000060, "LOT NE"),
        (650150, 2000000, "LOT NW"),
    ]
    text = "".join(f"{i},{n},{e},98.3,{d}\n" for i, (n, e, d) in enumerate(rows, 1))
    box = (2000000 * FOOT, 650000 * FOOT, 2000060 * FOOT, 650150 * FOOT)
    message = refusal(tmp_path, text, clues=Clues(boxes=(box,), plat_area=9000 * FOOT**2))
    assert "survey feet or international feet?" in message
    assert "4.00 ft apart" in message
    assert 'points_unit = "us-ft" or "ft"' in message
    assert "feet taken as international feet" in " ".join(
        read(tmp_path, text, clues=Clues(plat_area=9000 * FOOT**2)).evidence
    )


# ---- ways of writing


WAYS = {
    "as printed": S1,
    "byte order mark": "\ufeff" + S1,
    "carriage returns": S1.replace("\n", "\r\n"),
    "old line ends": S1.replace("\n", "\r"),
    "tabs": S1.replace(",", "\t"),
    "semicolons": S1.replace(",", ";"),
    "decimal comma with semicolons": S1.replace(",", ";").replace(".", ","),
    "decimal comma with tabs": S1.replace(",", "\t").replace(".", ","),
    "blanks": S1.replace(",", "  "),
    "decimal comma with blanks": "\n".join(
        "  ".join([p, f"{float(a):.2f}", f"{float(b):.2f}", f"{float(z):.2f}"]).replace(".", ",") + " " + d
        for p, a, b, z, d in (row.split(",") for row in S1.splitlines())
    ),
    "blank lines and comments": "# from the office\n\n" + S1.replace("\n", "\n\n"),
    "header": "Point,Northing,Easting,Elev,Description\n" + S1,
    "header with units": "Pt,N (ft),E (ft),Z (ft),D\n" + S1,
    "header in another order": "Description;Z;X;Y;No\n"
    + "".join(f"{d};{z};{b};{a};{p}\n" for p, a, b, z, d in (row.split(",") for row in S1.splitlines())),
    "quoted descriptions": "".join(
        ",".join(row.split(",")[:4]) + ',"' + row.split(",")[4] + '"\n' for row in S1.splitlines()
    ),
}


@pytest.mark.parametrize("way", WAYS)
def test_every_way_of_writing_gives_the_same_points(tmp_path: Path, way: str) -> None:
    plain = read(tmp_path, S1, clues=FEET)
    found = read(tmp_path, WAYS[way], clues=FEET)
    assert figures(found) == figures(plain)
    assert [p.description for p in found.points] == [p.description for p in plain.points]


def test_utf16_and_western_text(tmp_path: Path) -> None:
    assert figures(read(tmp_path, S1.encode("utf-16"), clues=FEET)) == figures(read(tmp_path, S1, clues=FEET))
    assert (
        read(tmp_path, S1.replace("TC", "caf\u00e9").encode("cp1252"), clues=FEET).points[9].description == "caf\u00e9"
    )


def test_unknown_elevations_commas_in_text_and_text_numbers(tmp_path: Path) -> None:
    text = S1 + (
        'BM1,5066,2030,,NAIL, FRONT STEP, PAINTED\n31A,5067,2030,0,OAK\nTP-2,5067,2031,-9999.00,"ELM, 12"" '
        'trunk"\n33,5067,2032,98\'-3 5/8",STEP\n'
    )
    found = {point.number: point for point in read(tmp_path, text, clues=FEET).points}
    assert found["BM1"].elevation is found["31A"].elevation is found["TP-2"].elevation is None
    assert found["BM1"].description == "NAIL, FRONT STEP, PAINTED"
    assert found["TP-2"].description == 'ELM, 12" trunk'
    assert found["33"].elevation == pytest.approx((98 + 3.625 / 12) * FOOT, abs=1e-12)
    assert (
        "3 points have no elevation (blank, 0 or -9999): rows 12, 13, 14" in read(tmp_path, text, clues=FEET).evidence
    )


def test_a_row_that_stands_twice_is_read_once_and_said(tmp_path: Path) -> None:
    found = read(tmp_path, S1 + "14,4989.5,2012,97.85,GUTTER FL\n", clues=FEET)
    assert len(found.points) == 11
    assert "row 12 repeats point 14 of row 11; read once" in found.evidence


# ---- twenty lists that cannot be used: row, field, mending

GOOD = S1.splitlines()


def row(at: int, text: str) -> str:
    return "\n".join([*GOOD[: at - 1], text, *GOOD[at:]]) + "\n"


MALFORMED = {
    "no elevation field": (
        row(3, "3,5150,2060"),
        "row 3: has 3 fields",
        "leave the elevation blank between separators",
    ),
    "letter O for zero": (row(3, "3,515O,2060,95.40,LOT NE"), "row 3, second field: is '515O'", "Write it in digits"),
    "blank northing": (row(2, "2,,2060,98.35,LOT SE"), "row 2, second field: is blank", "Give the coordinate"),
    "unknown easting": (row(2, "2,5000,-9999,98.35,LOT SE"), "row 2, third field: is -9999", "Give the coordinate"),
    "spreadsheet exponent": (
        row(4, "4,5.15E+03,2000,95.30,LOT NW"),
        "row 4, second field: is '5.15E+03'",
        "export the column as plain numbers",
    ),
    "not a number": (row(5, "5,nan,2030,100.00,BM"), "row 5, second field: is 'nan'", "Write it in digits"),
    "feet marks in a coordinate": (
        row(5, "5,5066'-3\",2030,100.00,BM"),
        "row 5, second field",
        "feet and inches are read for elevations alone",
    ),
    "description before elevation": (
        row(6, "6,5068,2012,HOUSE SW,99.10"),
        "row 6, elevation: is 'HOUSE SW'",
        "A row is point, northing, easting, elevation, description",
    ),
    "inches over twelve": (
        row(6, "6,5068,2012,98'-13\",HOUSE"),
        "row 6, elevation: '98'-13\"' has 12 inches or more after the feet",
        "Write 98.30",
    ),
    "thousands marks": (
        row(6, '6,"5,068.00",2012,99.10,HOUSE'),
        "row 6: writes a number as '5,068.00'",
        "without thousands marks",
    ),
    "decimal commas under comma separators": (
        "\n".join(r.replace(".", ",") for r in GOOD[:9] if "." in r) + "\n",
        "row 1, description: begins with the number",
        "Write decimals with a point",
    ),
    "one decimal comma": (
        row(7, "7,5068,2048,99,15,HOUSE SE"),
        "row 7, description: begins with the number '15'",
        "Write decimals with a point",
    ),
    "two decimal marks": (
        row(7, "7,5068,2048,99.15,HOUSE SE").replace(",", ";").replace("98.30", "98,30"),
        "row 2: has '98.35' where row 1 has '98,30'",
        "Use one decimal mark",
    ),
    "same number twice": (
        row(8, "7,5110,2048,98.95,HOUSE NE"),
        "row 8, point: number 7 stands in row 7 too",
        "Number one of them anew",
    ),
    "no point number": (row(8, ",5110,2048,98.95,HOUSE NE"), "row 8, point: has no number", "Number the point"),
    "slipped decimal in a coordinate": (
        row(9, "9,511.0,2012,98.90,HOUSE NW"),
        "row 9, second field: point 9 at 511.00 ft lies",
        "Put the decimal point",
    ),
    "slipped decimal in an elevation": (
        row(9, "9,5110,2012,989.0,HOUSE NW"),
        "row 9, elevation: point 9 at 989.00 ft lies",
        "Put the decimal point",
    ),
    "degrees": (
        "1,41.12345,-81.12345,98.3,LOT SW\n2,41.12346,-81.12300,98.4,LOT SE\n",
        "row 1, second field: is 41.12345",
        "plane grid",
    ),
    "header in degrees": ("name,lat,lon,z\n1,41.1,-81.1,98\n", "row 1, lat: is in degrees", "plane grid"),
    "header without easting": (
        "point,northing,elevation,description\n1,5000,98.3,GR\n",
        "row 1: is no row of numbers, and as a header names no easting",
        "Name the columns",
    ),
    "header that names northing twice": (
        "point,N,y,E,z\n1,5000,5000,2000,98\n",
        "row 1: names the northing twice (N, y)",
        "Keep one",
    ),
    "no elevations at all": (
        "1,5000,2000,,LOT SW\n2,5000,2060,,LOT SE\n",
        "has no elevation in any row",
        "Give the elevations",
    ),
    "coordinates without numbers before them": (
        "5000.00 2000.00 98.30 GR\n5010.00 2010.00 98.20 GR\n",
        "row 1, elevation: is 'GR'",
        "A row is point",
    ),
    "prose": ("Dear all,\nattached are the shots.\n", "row 1: is no row of numbers", "Name the columns"),
    "one word": ("shots\n", "row 1: has no four fields", "Write point, northing"),
    "empty": ("\n\n", "is empty", "Give one row"),
    "header alone": (
        "point,northing,easting,elevation,description\n",
        "has a header and no points",
        "one row for each point",
    ),
    "thousands or decimals": (
        "1;5,000;2,000;98,300;GR\n2;5,010;2,010;98,200;GR\n",
        "row 1: has '5,000': a decimal comma, or thousands",
        "with a point",
    ),
    "fields beyond the header": (
        "d,z,n,e,p\nGR,98.3,5000,2000,1,extra\n",
        "row 2: has 6 fields under 5 columns",
        "Quote the field",
    ),
}


@pytest.mark.parametrize("case", MALFORMED)
def test_malformed_list_says_row_field_and_mending(tmp_path: Path, case: str) -> None:
    text, where, mend = MALFORMED[case]
    with pytest.raises((InputError, InputErrors)) as caught:
        read(tmp_path, text, clues=FEET)
    message = str(caught.value).splitlines()[0]
    assert message.startswith("shots.csv"), message
    assert where in message, message
    assert mend in message, message


def test_there_are_twenty_and_more_malformed_lists() -> None:
    assert len(MALFORMED) >= 20


def test_all_faults_of_a_list_are_told_at_once(tmp_path: Path) -> None:
    text = row(3, "3,515O,2060,95.40,LOT NE").replace("5,5066,", "5,,")
    with pytest.raises(InputErrors) as caught:
        read(tmp_path, text, clues=FEET)
    assert [fault.where for fault in caught.value.faults] == [
        "shots.csv, row 3, second field",
        "shots.csv, row 5, second field",
    ]


def test_not_a_text_file_and_no_file(tmp_path: Path) -> None:
    assert "is no text file" in refusal(tmp_path, b"PK\x03\x04\x00\x00\x00\x00", clues=FEET)
    with pytest.raises(InputError, match="cannot be read"):
        read_points(tmp_path / "absent.csv")
