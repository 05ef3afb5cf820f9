"""Corners that a crew named.

A lot and a house are put forward where they close, and nothing is drawn until a person says so.
"""

from __future__ import annotations

import json
import tomllib

import pytest

from siteplan.cli.main import main

_LOT = {
    "LOT SW": (205000, 1210000),
    "LOT SE": (205000, 1210090),
    "LOT NE": (205140, 1210090),
    "LOT NW": (205140, 1210000),
}
_HOUSE = {
    "HOUSE SW": (205055, 1210025),
    "BLDG SE": (205055, 1210065),
    "HOUSE NE": (205085, 1210065),
    "HOUSE COR NW": (205085, 1210025),
}


def _begun(tmp_path, corners, *given):
    rows = [*corners, ("GUT", (204990, 1209985)), ("GR", (205010, 1210040))]
    path, folder = tmp_path / "crew.csv", tmp_path / "site"
    path.write_text(
        "".join(f"{k},{n},{e},100.{k},{note}\n" for k, (note, (n, e)) in enumerate(rows, 1)), encoding="utf-8"
    )
    assert main(["new", str(folder), "--points", str(path), "--json", *given]) == 0
    return folder


_ANSWERS = ("--crs", "EPSG:2272", "--unit", "us-ft", "--elevation-unit", "us-ft", "--order", "north-first")


def test_corners_that_close_are_put_forward_and_not_drawn(tmp_path, capsys):
    folder = _begun(tmp_path, [*_LOT.items(), *_HOUSE.items()], *_ANSWERS)
    told = json.loads(capsys.readouterr().out)
    assert told["open"] == ["corners"]
    assert "shots 1, 2, 3, 4 close to a lot" in told["settled"]["corners"]["why"]
    text = (folder / "site.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text)["features"]["files"] == ["features.geojson"]
    assert main(["check", str(folder), "--json"]) == 1
    assert "hold no lot" in capsys.readouterr().out
    # the person's answer: the line that the question names
    lines = [line for line in text.splitlines() if not line.startswith("files = ")]
    answered = "\n".join(line.removeprefix("# ") if line.startswith("# files = ") else line for line in lines)
    (folder / "site.toml").write_text(answered + "\n", encoding="utf-8")
    assert main(["check", str(folder), "--json"]) == 1
    asked = capsys.readouterr().out
    assert "hold no lot" not in asked
    assert "no building is drawn" not in asked
    drawn = json.loads((folder / "corners.geojson").read_text(encoding="utf-8"))
    assert drawn["crs"]["properties"]["name"] == "EPSG:2272"
    assert {one["properties"]["kind"]: one["geometry"]["coordinates"][0] for one in drawn["features"]} == {
        "lot": [[e, n] for n, e in (*_LOT.values(), _LOT["LOT SW"])],
        "building": [[e, n] for n, e in (*_HOUSE.values(), _HOUSE["HOUSE SW"])],
    }


def _answered(folder, crs):
    """What a person writes under the questions of the new site.toml."""
    lines = []
    for line in (folder / "site.toml").read_text(encoding="utf-8").splitlines():
        if line.startswith("files = "):
            continue
        taken = (
            line.removeprefix("# ") if line.startswith(("# files = ", "# length_unit", "# elevation_unit")) else line
        )
        lines.append(f'crs = "{crs}"' if line.startswith("# crs = ") else taken.replace('"ft"', '"us-ft"'))
    (folder / "site.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")


@pytest.mark.parametrize("crs", ["local", "EPSG:2272"])
def test_while_the_system_is_open_they_are_put_forward_as_listed(tmp_path, capsys, crs):
    """Nobody said which system: the drawing names none, and holds for either answer."""
    from siteplan.survey.gathered import gathered_site

    folder = _begun(tmp_path, [*_LOT.items(), *_HOUSE.items()])
    told = json.loads(capsys.readouterr().out)
    assert {"crs", "corners"} <= set(told["open"])
    assert "in the list's own coordinates" in told["settled"]["corners"]["why"]
    assert "assumed grid of the crew's own, or which system?" in told["settled"]["crs"]["why"]
    assert (
        "speaks for an assumed grid" not in told["settled"]["crs"]["why"]
    )  # a million feet is no figure that crews assume
    drawn = json.loads((folder / "corners.geojson").read_text(encoding="utf-8"))
    assert "crs" not in drawn
    _answered(folder, crs)
    points = (("downspout", "DS-1", 25, 55), ("curb_outlet", "Hole", 40, -10))
    spouts = [
        {
            "type": "Feature",
            "properties": {"kind": kind, "name": name},
            "geometry": {"type": "Point", "coordinates": [1210000 + x, 205000 + y]},
        }
        for kind, name, x, y in points
    ]
    (folder / "features.geojson").write_text(
        json.dumps({"type": "FeatureCollection", "features": spouts}), encoding="utf-8"
    )
    found = gathered_site(folder)
    assert found.site is not None, found.faults
    assert found.site.lot.area == pytest.approx(
        90 * 140 * (1200 / 3937) ** 2, rel=1e-4
    )  # the grid of the state, in the frame of the lot
    assert [str(one.kind) for one in found.drawn] == ["lot", "building", "downspout", "curb_outlet"]


def test_small_figures_speak_for_an_assumed_grid(tmp_path, capsys):
    near = {name: (n - 200000, e - 1205000) for name, (n, e) in _LOT.items()}
    rows = [*near.items(), ("GUT", (4990, 4985)), ("GR", (5010, 5040))]
    path = tmp_path / "crew.csv"
    path.write_text(
        "".join(f"{k},{n},{e},100.{k},{note}\n" for k, (note, (n, e)) in enumerate(rows, 1)), encoding="utf-8"
    )
    assert main(["new", str(tmp_path / "site"), "--points", str(path), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["settled"]["crs"]["value"] is None  # evidence, and no answer
    assert (
        "No coordinate of the list is beyond 5,140, which speaks for an assumed grid" in told["settled"]["crs"]["why"]
    )
    assert "corners" in told["open"]


_ROWS = list(_LOT.items())


@pytest.mark.parametrize(
    ("corners", "kinds"),
    [
        (_ROWS[:3], []),  # three of four
        ([*_ROWS, ("LOT SW", (205001, 1210001))], []),  # one named twice
        ([*_ROWS, ("LOT N", (205150, 1210040))], []),  # more corners than four
        ([*_ROWS[:2], ("LOT NE", (204950, 1210020)), _ROWS[3]], []),  # it crosses itself
        ([*_ROWS, *((note, (n, e + 200)) for note, (n, e) in _HOUSE.items())], ["lot"]),  # a house off the lot
        # of a house 40 ft wide 0.7 ft may stand over the lot line and 0.9 ft may not: a fiftieth of it. Ours
        ([*_ROWS, *((note, (n, e + 25.7)) for note, (n, e) in _HOUSE.items())], ["lot", "building"]),
        ([*_ROWS, *((note, (n, e + 25.9)) for note, (n, e) in _HOUSE.items())], ["lot"]),
        (list(_HOUSE.items()), []),  # a house and no lot
    ],
)
def test_corners_that_do_not_close_are_left_alone(tmp_path, corners, kinds):
    folder = _begun(tmp_path, corners, *_ANSWERS)
    path = folder / "corners.geojson"
    drawn = json.loads(path.read_text(encoding="utf-8"))["features"] if path.exists() else []
    assert [one["properties"]["kind"] for one in drawn] == kinds
    assert ("corners.geojson" in (folder / "site.toml").read_text(encoding="utf-8")) is bool(kinds)


def test_lengths_in_metres_move_no_shot_of_a_system_in_feet(tmp_path):
    """The grid proves the system, in feet; --unit tells lengths alone, and nothing says that the list is in metres."""
    from pathlib import Path

    rows = [(205000 + 20 * (k // 3), 1210010 + 30 * (k % 3)) for k in range(9)]
    path, folder = tmp_path / "crew.csv", tmp_path / "site"
    path.write_text("".join(f"{k},{n},{e},100.{k},GR\n" for k, (n, e) in enumerate(rows, 1)), encoding="utf-8")
    grid = Path(__file__).parents[2] / "sample_sites" / "alder-court" / "ground.tif"
    given = (
        "--points",
        str(path),
        "--grid",
        str(grid),
        "--unit",
        "m",
        "--elevation-unit",
        "ft",
        "--order",
        "north-first",
    )
    assert main(["new", str(folder), *given]) == 0
    told = tomllib.loads((folder / "site.toml").read_text(encoding="utf-8"))
    assert told["crs"].startswith("EPSG:")
    assert told["length_unit"] == "m"
    assert "points_unit" not in told["ground"]
