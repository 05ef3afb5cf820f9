"""A site begun from whatever there is: proven, answered or left open, never guessed; nothing is ever written over."""

from __future__ import annotations

import hashlib
import itertools
import json
import tomllib
from pathlib import Path

import pytest

from siteplan.cli.main import main
from siteplan.survey.folder import read_site

SAMPLES = Path(__file__).parents[2] / "sample_sites"
FILES = {
    "points": "crew list.csv",
    "grid": "dem.tif",
    "tin": "ground.xml",
    "features": "lot.geojson",
    "plat": "plat.png",
    "deed": "deed.txt",
}
EVERY = [
    some
    for count in range(len(FILES) + 1)
    for some in itertools.combinations(FILES, count)
    if not {"features", "deed"} <= set(some)
]


def begun(folder, heap, some, *more):
    """Arguments of `new` with these files."""
    named = [part for key in some for part in (f"--{key}", str(heap / FILES[key]))]
    return main(["new", str(folder), *named, *more])


@pytest.mark.parametrize("some", EVERY, ids=lambda some: "+".join(some) or "nothing")
def test_whatever_is_given_makes_a_folder_that_check_reads(some, heap, tmp_path, capsys):
    folder = tmp_path / "lot"
    assert begun(folder, heap, some) == 0
    capsys.readouterr()
    settings = tomllib.loads((folder / "site.toml").read_text(encoding="utf-8"))
    # whole copies, and their digests in the file
    for key in some:
        content = (heap / FILES[key]).read_bytes()
        digest = hashlib.sha256(content).hexdigest()
        assert digest in (folder / "site.toml").read_text(encoding="utf-8")
        assert [path for path in folder.iterdir() if path.read_bytes() == content], key
    # a list without a header names neither its order nor its unit; nothing says which system anything is in
    assert "points_order" not in settings["ground"]
    assert ("crs" in settings) == (not set(some) - {"plat"})
    # a grid whose band is in ft and a surface that names its unit prove elevations, a surface proves coordinates too
    assert settings.get("elevation_unit") == ("ft" if {"grid", "tin"} & set(some) else None)
    assert settings.get("length_unit") == ("ft" if "tin" in some else None)
    assert main(["check", str(folder), "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    wheres = [one["what"].partition(":")[0] for one in told["missing"] if one["blocks"]]
    assert told["ready"] is False
    for key in ("crs", "length_unit", "elevation_unit"):
        assert (f"site.toml, {key}" in wheres) == (key not in settings), key
    assert all(one["mend"] and one["needed_for"] in {"plan", "capacity", "belly"} for one in told["missing"])
    if "features" not in some:
        assert any("no source of water" in one["what"] for one in told["missing"])
        assert any("hold no lot" in one["what"] for one in told["missing"]) == ("deed" not in some)
    if {"points", "tin"} <= set(some):
        assert "shots" not in settings["ground"]  # which of the two is the ground is asked


def test_a_folder_with_everything_answered_is_read_by_plan(ready, capsys):
    site = read_site(ready)
    assert site.name == "lot 3"
    assert site.length_unit == site.elevation_unit == "ft"
    assert len(site.shots) == 56
    assert {one.file for one in site.inputs} == {"site.toml", "shots.csv", "features.geojson"}


def test_what_files_prove_is_written_with_its_reason(heap, tmp_path, capsys):
    folder = tmp_path / "lot"
    assert begun(folder, heap, ("grid", "tin"), "--crs", "local", "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert told["open"] == []
    assert told["settled"]["elevation_unit"]["value"] == "ft"
    assert "its band is in" in told["settled"]["elevation_unit"]["why"]
    assert told["settled"]["length_unit"]["why"] == "ground.xml names its unit"
    text = (folder / "site.toml").read_text(encoding="utf-8")
    assert 'length_unit = "ft"  # ground.xml names its unit' in text


def test_a_header_proves_order_and_units(heap, tmp_path):
    folder = tmp_path / "lot"
    assert main(["new", str(folder), "--points", str(heap / "headed.csv"), "--crs", "local"]) == 0
    text = (folder / "site.toml").read_text(encoding="utf-8")
    settings = tomllib.loads(text)
    assert settings["length_unit"] == settings["elevation_unit"] == "ft"
    assert "order north-first (point, northing, easting): the header says point, northing, easting" in text


def _level_grid(path):
    """200 ft by 200 ft of a state's plane, all at 30."""
    import numpy as np
    import rasterio
    from affine import Affine

    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=50,
        width=50,
        count=1,
        dtype="float32",
        crs="EPSG:6539",
        transform=Affine(4, 0, 1210000, 0, -4, 205200),
    ) as out:
        out.write(np.full((50, 50), 30, "float32"), 1)


def test_points_on_a_grid_are_in_its_system_and_points_beside_it_are_asked_about(tmp_path, capsys):
    _level_grid(tmp_path / "dem.tif")
    row = "{n},{y},{x},30.1,GS\n"
    for name, x, y in (("on.csv", 1210050, 205100), ("off.csv", 5000, 5000)):
        rows = "".join(row.format(n=k, x=x + 3 * k, y=y + 5 * k) for k in range(6))
        (tmp_path / name).write_text(rows, encoding="utf-8")
        assert (
            main(
                [
                    "new",
                    str(tmp_path / name[:-4]),
                    "--grid",
                    str(tmp_path / "dem.tif"),
                    "--points",
                    str(tmp_path / name),
                ]
            )
            == 0
        )
    capsys.readouterr()
    on, off = (tomllib.loads((tmp_path / name / "site.toml").read_text(encoding="utf-8")) for name in ("on", "off"))
    assert on["crs"] == "EPSG:6539"
    assert on["length_unit"] == "us-ft"  # of its coordinates; no attribute is written yet
    assert "crs" not in off
    assert "Are they in that system too?" in (tmp_path / "off" / "site.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(("beside", "among", "taken"), [(39, 4, True), (41, 5, False), (39, 3, False)])
def test_four_points_in_five_on_the_grid_or_a_fifth_of_it_beside_tell_the_system(tmp_path, beside, among, taken):
    """A grid of 200 ft.

    40 ft beside it a crew may still have shot (what is drawn is seldom all of a survey; no source).
    """
    _level_grid(tmp_path / "dem.tif")
    places = [(1210200 + beside, 205000 - beside)] * among + [(1210260, 204940)] * (5 - among)
    rows = "".join(f"{n},{y + n / 10},{x - n / 10},30.1,GS\n" for n, (x, y) in enumerate(places))
    (tmp_path / "shots.csv").write_text(rows, encoding="utf-8")
    given = ["--grid", str(tmp_path / "dem.tif"), "--points", str(tmp_path / "shots.csv")]
    assert main(["new", str(tmp_path / "lot"), *given]) == 0
    settings = tomllib.loads((tmp_path / "lot" / "site.toml").read_text(encoding="utf-8"))
    assert settings.get("crs") == ("EPSG:6539" if taken else None)


def test_a_file_of_more_than_two_gigabytes_is_not_copied(tmp_path, capsys):
    head = b"\x89PNG\r\n\x1a\n" + (13).to_bytes(4) + b"IHDR" + (40).to_bytes(4) + (30).to_bytes(4)
    with (tmp_path / "plat.png").open("wb") as out:
        out.write(head)
        out.truncate(2 * 2**30 + 1)  # no room on the disk: a hole
    assert main(["new", str(tmp_path / "lot"), "--plat", str(tmp_path / "plat.png")]) == 2
    assert "is larger than 2 GB" in capsys.readouterr().err
    assert not (tmp_path / "lot").exists()


def test_nothing_is_ever_written_over_and_nothing_half_written(heap, tmp_path, capsys):
    folder = tmp_path / "lot"
    folder.mkdir()
    assert begun(folder, heap, ()) == 0  # empty is as good as new
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert begun(folder, heap, ("points",)) == 2
    assert "is not empty" in capsys.readouterr().err
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    bad = tmp_path / "bad.csv"
    bad.write_text("1,foo,3,4\n", encoding="utf-8")
    other = tmp_path / "other"
    assert (
        main(
            [
                "new",
                str(other),
                "--points",
                str(bad),
                "--grid",
                str(bad),
                "--tin",
                str(tmp_path / "no"),
                "--plat",
                str(bad),
            ]
        )
        == 2
    )
    told = capsys.readouterr().err.splitlines()
    assert len(told) == 4  # every file's fault at once
    assert not other.exists()
    capsys.readouterr()
    for place, says in ((bad, "is a file"), (tmp_path / "no" / "lot", "would stand in a folder that is not there")):
        assert begun(place, heap, ()) == 2
        assert says in capsys.readouterr().err
    assert main(["new", str(other), "--grid", str(heap / "dem.tif"), "--crs", "EPSG:999999"]) == 2
    assert not other.exists()


def test_a_strangers_names_are_data(heap, tmp_path):
    """Names of files and of the lot go into comments and texts as one line, and never become paths."""
    odd = tmp_path / 'x"]\nname = "y.csv'
    odd.write_bytes((heap / "headed.csv").read_bytes())
    folder = tmp_path / "lot"
    assert main(["new", str(folder), "--points", str(odd), "--name", 'a"\n[rules]\nb = 1 \x07', "--crs", "local"]) == 0
    settings = tomllib.loads((folder / "site.toml").read_text(encoding="utf-8"))
    assert settings["name"] == 'a" [rules] b = 1'
    assert "rules" not in settings
    assert sorted(path.name for path in folder.iterdir()) == ["features.geojson", "shots.csv", "site.toml"]


def test_the_same_files_make_the_same_bytes(heap, tmp_path):
    made = []
    for name in ("one", "two"):
        assert begun(tmp_path / name, heap, ("grid", "features", "plat"), "--name", "Lot") == 0
        made.append({path.name: path.read_bytes() for path in (tmp_path / name).iterdir()})
    assert made[0] == made[1]


def test_a_sample_begun_from_its_own_files_is_the_same_site(tmp_path):
    """The grid proves the system; roof areas are written and nothing says in which unit, so that is asked."""
    sample = SAMPLES / "alder-court"
    files = ["--grid", str(sample / "ground.tif"), "--features", str(sample / "features.geojson")]
    assert main(["new", str(tmp_path / "asked"), *files]) == 0
    settings = tomllib.loads((tmp_path / "asked" / "site.toml").read_text(encoding="utf-8"))
    assert settings["crs"] == "EPSG:6539"
    assert {"length_unit", "elevation_unit"}.isdisjoint(settings)
    assert main(["new", str(tmp_path / "answered"), *files, "--unit", "ft"]) == 0
    begun_one, own = read_site(tmp_path / "answered"), read_site(sample)
    assert begun_one.sources == own.sources
    assert begun_one.lot.equals(own.lot)
    assert begun_one.survey_crs == own.survey_crs
