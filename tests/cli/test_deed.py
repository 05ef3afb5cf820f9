"""`siteplan deed`, and a site whose lot is a deed's calls."""

from __future__ import annotations

import json

import pytest

from siteplan.cli.main import main
from siteplan.survey.folder import read_site

CALLS = "start = N 1000 E 2000\nN 0°00'00\" E 100.00 ft\nDue East 80.00 ft\nSouth 100.00 ft\nWest 80.00 ft\n"


@pytest.fixture
def calls(tmp_path):
    def written(text):
        path = tmp_path / "lot.deed"
        path.write_text(text, encoding="utf-8")
        return path

    return written


def test_corners_area_and_closure_are_printed(calls, capsys):
    assert main(["deed", str(calls(CALLS))]) == 0
    out = capsys.readouterr().out
    assert "1100.000     2080.000   S 00°00'00\" E 100.000 ft" in out
    assert "8,000.0 sq ft (0.1837 acres)" in out
    assert "closes on its start" in out


def test_a_misclosure_fails_until_somebody_decides(calls, capsys):
    path = calls(CALLS.replace("South 100.00", "South 100.50"))
    assert main(["deed", str(path)]) == 1
    out = capsys.readouterr().out
    assert "misses its start by 0.500 ft" in out
    assert "1 in 721" in out
    assert "Nothing is spread" in out
    assert main(["deed", str(path), "--close", "compass-rule", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["spread"] is True
    assert told["misclosure"]["north"] == pytest.approx(-0.5 * 0.3048)
    assert main(["deed", str(calls("N 4 E 3\nfoo"))]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 2


SITE = """name = "Deed lot"
crs = "local"
length_unit = "ft"
elevation_unit = "ft"
[ground]
shots = "shots.csv"
accuracy = 0.02
[features]
files = ["lot.deed", "points.csv"]
"""


@pytest.fixture
def deed_site(tmp_path):
    shots = ["point,northing,easting,elevation,description"]
    shots += [
        f"{k},{1000 + n},{2000 + e},{50 + 0.03 * e + 0.01 * n:.2f},GS"
        for k, (n, e) in enumerate(((n, e) for n in range(-20, 121, 20) for e in range(-20, 101, 20)), 1)
    ]
    (tmp_path / "shots.csv").write_text("\n".join(shots), encoding="utf-8")
    (tmp_path / "points.csv").write_text(
        "kind,name,easting,northing,roof_area\ndownspout,DS-1,2060,1060,400\n", encoding="utf-8"
    )
    (tmp_path / "site.toml").write_text(SITE, encoding="utf-8")
    (tmp_path / "lot.deed").write_text(CALLS, encoding="utf-8")
    return tmp_path


def test_a_site_takes_its_lot_from_calls(deed_site):
    site = read_site(deed_site)
    assert site.lot.area == pytest.approx(8000 * 0.3048**2, rel=1e-9)
    assert site.lot.bounds == pytest.approx([2000 * 0.3048, 1000 * 0.3048, 2080 * 0.3048, 1100 * 0.3048])
    assert any(one.file == "lot.deed" for one in site.inputs)
    assert any("lot.deed" in text and "closes on its start" in text for text in site.assumptions)
    assert any("grid's north" in text for text in site.assumptions)


def test_a_deed_with_a_north_of_its_own_is_turned_as_it_asks(deed_site, calls, capsys):
    """A square's calls turned a right angle to the right: what ran north runs east."""
    (deed_site / "lot.deed").write_text("turn = right 90°00'00\"\n" + CALLS, encoding="utf-8")
    (deed_site / "points.csv").write_text(
        "kind,name,easting,northing,roof_area\ndownspout,DS-1,2060,960,400\n", encoding="utf-8"
    )
    shots = (deed_site / "shots.csv").read_text(encoding="utf-8")
    (deed_site / "shots.csv").write_text(
        "\n".join(
            [
                shots.splitlines()[0],
                *(
                    f"{k},{900 + n},{1990 + e},50,GS"
                    for k, (n, e) in enumerate(((n, e) for n in range(0, 121, 20) for e in range(0, 121, 20)), 1)
                ),
            ]
        ),
        encoding="utf-8",
    )
    site = read_site(deed_site)
    assert site.lot.bounds == pytest.approx([2000 * 0.3048, 920 * 0.3048, 2100 * 0.3048, 1000 * 0.3048])
    assert any("turned right by 90.0000 degrees" in text for text in site.assumptions)
    assert main(["deed", str(calls("turn = left 0°30'\n" + CALLS))]) == 0
    assert "N 00°30'00\" W 100.000 ft" in capsys.readouterr().out
    assert main(["deed", str(calls("turn = 3\n" + CALLS))]) == 2
    assert "turn = right 0°45'30\"" in capsys.readouterr().err


def test_a_site_asks_about_a_misclosure_and_a_start(deed_site, capsys):
    path = deed_site / "lot.deed"
    path.write_text(CALLS.replace("South 100.00", "South 100.50").partition("\n")[2], encoding="utf-8")
    assert main(["plan", str(deed_site), "--out", str(deed_site / "out")]) == 2
    told = capsys.readouterr().err.splitlines()[-2:]
    assert [line.partition(":")[0] for line in told] == ["lot.deed, start", "lot.deed, close"]
    path.write_text("close = compass-rule\n" + CALLS.replace("South 100.00", "South 100.50"), encoding="utf-8")
    site = read_site(deed_site)
    assert any("spread over the calls by the compass rule" in text for text in site.assumptions)
    assert site.lot.bounds[3] / 0.3048 == pytest.approx(1100 + 0.5 * 180 / 360.5)  # the corner after two calls


def test_a_deed_that_is_not_there_is_named_with_its_mend(tmp_path, capsys):
    for place, told in (
        ("none.txt", "no such file of a deed's calls. Give a text with a call a line."),
        ("", "is a folder. Name the file"),
    ):
        assert main(["deed", str(tmp_path / place)]) == 2
        told_here = capsys.readouterr()
        assert told_here.out == ""
        assert told_here.err.startswith(f"{tmp_path / place}: {told}")


@pytest.mark.parametrize(
    ("unit", "shown"),
    [("meters", "30.000 m"), ("30.5M", None), ("US survey feet", "30.000 US survey ft"), ("ft", "30.000 ft")],
)
def test_a_deed_is_told_in_the_unit_that_its_calls_name(calls, capsys, unit, shown):
    ways = ("N 0°00'00\" E", "N 90°00'00\" E", "S 0°00'00\" E", "N 90°00'00\" W")
    lengths = (30.0, 20.0) * 2
    tail = "m" if shown is None else f" {unit}"  # with no space before it, too
    assert (
        main(["deed", str(calls("\n".join(f"{way} {run:.2f}{tail}" for way, run in zip(ways, lengths, strict=True))))])
        == 0
    )
    out = capsys.readouterr().out
    assert (shown or "30.000 m") in out
    assert ("ft" in out) == (shown is not None and "ft" in shown)
