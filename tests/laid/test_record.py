"""The record: only what is accepted, the same bytes each time, ties that find a place again."""

from __future__ import annotations

import math
import re
import sqlite3
from pathlib import Path

import pytest

from siteplan.cli.main import main
from siteplan.laid.asbuilt_typed import checked_from_typed
from siteplan.laid.record import laid_place
from siteplan.sheets.ties import Corner, swing_ties

FOOT = 0.3048


@pytest.fixture
def laid(drive_plan, shots):
    """A planned line and its rods, HI 104.00."""
    from siteplan.stored.folder_of import read_plan

    drive = drive_plan()
    (line,) = read_plan(drive.folder).plan.lines
    rows = ["sta,rod,name"]
    for row in line.rows:
        top = row.invert + line.pipe_at(row.station).rise
        rows.append(f"{row.station / FOOT:.2f},{104.0 - top / FOOT:.2f},{'CO' if 'cleanout' in row.note else ''}")
    return drive.folder, shots("\n".join(rows)), drive.at


def record(laid, out, *more):
    plan, rods, site = laid
    return main(
        [
            "record",
            str(plan),
            rods,
            "--hi",
            "104.00",
            "--site",
            str(site),
            "--date",
            "2026-05-01",
            "--out",
            str(out),
            *more,
        ]
    )


def test_a_record_of_what_was_accepted(laid, tmp_path, capsys):
    pictures = tmp_path / "pictures"
    pictures.mkdir()
    (pictures / "b <b>.jpg").write_bytes(b"x")
    (pictures / "notes.txt").write_bytes(b"x")
    assert record(laid, tmp_path / "rec", "--photos", str(pictures)) == 0
    assert {path.name for path in (tmp_path / "rec").iterdir()} == {"record.gpkg", "record.html", "owner.html"}
    page = (tmp_path / "rec" / "record.html").read_text()
    for words in ("2026-05-01", "b &lt;b&gt;.jpg", "ft from House", "cleanout"):
        assert words in page
    assert "notes.txt" not in page
    for column in ("Swing ties", "Place known", "Height known"):  # words, set as such
        assert f'<td class="t" data-head="{column}">' in page
        assert f'<td data-head="{column}">' not in page
    owner = (tmp_path / "rec" / "owner.html").read_text()
    for words in ("Each autumn", "first hard freeze", "Where the cleanouts are", "Swale", "ft from House"):
        assert words in owner


def test_the_package_opens_and_bears_no_clock(laid, tmp_path):
    for name in ("one", "two"):
        assert record(laid, tmp_path / name) == 0
    first, second = ((tmp_path / name / "record.gpkg").read_bytes() for name in ("one", "two"))
    assert first == second
    base = sqlite3.connect(tmp_path / "one" / "record.gpkg")
    try:
        assert {stamp for (stamp,) in base.execute("SELECT last_change FROM gpkg_contents")} == {
            "2026-05-01T00:00:00.000Z"
        }
        assert base.execute("PRAGMA application_id").fetchone() == (0x47504B47,)
        assert base.execute("SELECT count(*) FROM marks WHERE kind = 'cleanout'").fetchone()[0] >= 2
        low, high = base.execute("SELECT min(invert_m), max(invert_m) FROM shots").fetchone()
        assert (low / FOOT, high / FOOT) == pytest.approx((96.20, 97.85), abs=0.6)
    finally:
        base.close()


def test_other_programs_read_the_package(laid, tmp_path):
    geopandas = pytest.importorskip("geopandas")
    record(laid, tmp_path / "rec")
    pipes = geopandas.read_file(tmp_path / "rec" / "record.gpkg", layer="pipes")
    (path,) = pipes.geometry
    assert path.has_z
    assert path.length / FOOT == pytest.approx(110, abs=0.2)


def test_nothing_is_recorded_of_what_is_not_accepted(laid, tmp_path, capsys):
    plan, rods, site = laid
    text = Path(rods).read_text(encoding="utf-8").splitlines()
    sta, rod, *name = text[len(text) // 2].split(",")
    text[len(text) // 2] = ",".join([sta, f"{float(rod) + 0.5:.2f}", *name])
    Path(rods).write_text("\n".join(text), encoding="utf-8")
    assert record((plan, rods, site), tmp_path / "rec") == 1
    assert not (tmp_path / "rec").exists()
    assert "No record is written" in capsys.readouterr().err


def test_a_folder_that_holds_something_else_is_left_alone(laid, tmp_path):
    out = tmp_path / "rec"
    out.mkdir()
    (out / "letter.txt").write_text("mine")
    assert record(laid, out) == 2
    assert [path.name for path in out.iterdir()] == ["letter.txt"]


def test_ties_cross_well_and_find_the_place_again():
    known = [Corner(name="A", x=0, y=0), Corner(name="B", x=0.5, y=0), Corner(name="C", x=10, y=0)]
    ties = swing_ties(4.0, 3.0, known)
    assert {tie.corner.name for tie in ties} != {"A", "B"}  # nearest, but the tapes hardly cross
    for tie in ties:
        assert tie.distance == pytest.approx(math.dist((tie.corner.x, tie.corner.y), (4.0, 3.0)))
    assert swing_ties(500.0, 500.0, known) == ()


def test_the_record_is_of_the_place_that_was_shot(laid, tmp_path, shots):
    """2.8 ft beside its planned line: marks, shots, pipes and ties lie where the pipe lies."""
    from siteplan.stored.folder_of import read_plan

    plan, _, site = laid
    (line,) = read_plan(plan).plan.lines
    rows = ["station,northing,easting,elevation,name"] + [
        f",{row.y / FOOT:.3f},{row.x / FOOT + 2.8:.3f},{row.invert / FOOT:.3f},{'CO' if 'cleanout' in row.note else 'INV'}"
        for row in line.rows
    ]
    listed = shots("\n".join(rows), "coordinates.csv")
    out = tmp_path / "aside"
    assert main(["record", str(plan), listed, "--site", str(site), "--out", str(out)]) == 0
    base = sqlite3.connect(out / "record.gpkg")
    try:
        pipe, marks = (
            base.execute("SELECT geom FROM pipes").fetchone()[0],
            base.execute("SELECT kind, geom, ties, place, height FROM marks").fetchall(),
        )
        drawn = base.execute("SELECT min_x, max_x FROM gpkg_contents WHERE table_name = 'pipes'").fetchone()
    finally:
        base.close()
    assert pipe
    assert drawn == pytest.approx((2032.8 * FOOT, 2032.8 * FOOT), abs=0.01)
    assert {place for kind, _, _, place, _ in marks if kind == "cleanout"} == {"shot"}
    (outlet,) = [one for one in marks if one[0] == "outlet"]
    assert (outlet[3], outlet[4]) == ("shot", "shot")
    page = (out / "record.html").read_text()
    assert "2.8 ft beside its planned line" in page
    start = next(one for one in marks if one[0] == "start")
    _, checked = checked_from_typed({"plan": str(plan), "shots": listed})
    x, y, how = laid_place(line, checked.lines[0], 25 * FOOT)  # between 0+20 and 0+30
    assert (x / FOOT, y / FOOT) == pytest.approx((2032.8, 5030), abs=0.01)
    assert how == "between shots"
    near = re.match(r"([\d.]+) ft from House", start[2])
    # the house's south-west corner is N 5117 E 2025, its south-east corner E 2060: taped from N 5115 E 2032.8
    assert float(near[1]) == pytest.approx(math.hypot(2, 7.8), abs=0.06)


def test_by_stations_alone_the_place_is_as_planned_and_says_so(laid, tmp_path):
    assert record(laid, tmp_path / "rec") == 0
    assert "shots by station alone tell no place" in (tmp_path / "rec" / "record.html").read_text()


def test_the_record_names_the_pipe_that_was_laid(laid, tmp_path):
    """Rods 0.014 ft apart between the two walls stay within tolerance; the record names what was told to lie there."""
    assert record(laid, tmp_path / "rec", "--pipe", "pvc_sch40") == 0
    base = sqlite3.connect(tmp_path / "rec" / "record.gpkg")
    try:
        assert base.execute("SELECT DISTINCT pipe FROM pipes").fetchall() == [("4 in pvc_sch40",)]
    finally:
        base.close()
    assert "4 in pvc_sch40, " in (tmp_path / "rec" / "record.html").read_text()
