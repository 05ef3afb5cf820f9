"""The site folder as it is saved: small changes, nothing lost, nobody's work written over."""

from __future__ import annotations

import difflib
import json
import shutil
import sys
import tomllib
from pathlib import Path

import pytest

from siteplan.table import saving

SAMPLES = Path(__file__).parents[2] / "sample_sites"
NAMES = ("alder-court", "marsh-lane", "kiln-rise", "quince-terrace", "long-meadow")


def _changed_lines(before, after):
    return [
        line[0] + line[1:].strip()
        for line in difflib.unified_diff(before.splitlines(), after.splitlines(), n=0, lineterm="")
        if line[0] in "+-" and line[:3] not in {"+++", "---"}
    ]


def _point(document, kind):
    return next(one for one in document["features"] if one["properties"].get("kind") == kind)


@pytest.fixture
def sample(tmp_path, serve):
    def opened(name):
        folder = tmp_path / name
        shutil.copytree(SAMPLES / name, folder)
        return serve(folder)

    return opened


@pytest.mark.parametrize("name", NAMES)
def test_what_nobody_changed_keeps_its_bytes(sample, bytes_of, name):
    with sample(name) as asking:
        before = bytes_of(asking.folder)
        assert asking.change(lambda document: None)[0] == 200
        assert bytes_of(asking.folder) == before


@pytest.mark.parametrize("name", NAMES)
def test_one_moved_point_changes_one_line(sample, name):
    with sample(name) as asking:
        path = asking.folder / "features.geojson"
        before, places = path.read_text(), []

        def move(document):
            point = _point(document, "downspout")
            point["xy"] = [[point["xy"][0][0] + 0.25, point["xy"][0][1]]]
            places.append(point["xy"][0])

        assert asking.change(move)[0] == 200
        changed = _changed_lines(before, path.read_text())
        assert len(changed) == 2
        told = json.loads(changed[1][1:].rstrip(","))
        assert told["geometry"]["coordinates"] == pytest.approx(places[0], abs=1e-6)
        assert told["properties"]["kind"] == "downspout"


def test_a_pretty_printed_file_stays_so(tmp_path, serve):
    """Blanks, key order, a member of its own and numbers as they were written stay outside of what was changed."""
    folder = tmp_path / "site"
    folder.mkdir()
    (folder / "site.toml").write_text(
        'name = "X"\ncrs = "local"\nlength_unit = "m"\nelevation_unit = "m"\n\n[features]\nfiles = ["a.geojson"]\n'
    )
    drawing = {
        "features": [
            {
                "type": "Feature",
                "id": 7,
                "properties": {"name": "A", "kind": "tree", "mine": [1, 2]},
                "geometry": {"type": "Point", "coordinates": [1.50, 2e0]},
            },
            {
                "type": "Feature",
                "properties": {"kind": "lot", "name": "features"},
                "geometry": {"type": "Polygon", "coordinates": [[[0, 0], [20, 0], [20, 30], [0, 0]]]},
            },
            {"type": "Feature", "properties": {"kind": "unheard of"}, "geometry": None},
        ],
        "type": "FeatureCollection",
    }
    text = json.dumps(drawing, indent=2).replace("2.0", "2e0")
    (folder / "a.geojson").write_text(text)
    with serve(folder) as asking:

        def rename(document):
            _point(document, "lot")["properties"]["name"] = "Lot"

        assert asking.change(rename)[0] == 200
        after = (folder / "a.geojson").read_text()
        assert json.loads(after)["features"][0] == drawing["features"][0]
        assert json.loads(after)["features"][2] == drawing["features"][2]
        assert '"coordinates": [\n          1.5,\n          2e0' in after
        assert after.splitlines()[:5] == text.splitlines()[:5]


def test_site_toml_keeps_comments_and_order(sample):
    with sample("alder-court") as asking:
        path = asking.folder / "site.toml"
        text = path.read_text().replace("intensity = 5.5", "intensity = 5.5   # county sheet # 4")
        path.write_text("# the lot by the creek\n" + text)
        asking.post("reread", {})

        def edit(document):
            document["settings"] |= {
                "rainfall.intensity": 6.25,
                "rules.min_cover_in": 10,
                "rules.min_grade_percent": None,
            }

        assert asking.change(edit)[0] == 200
        changed = _changed_lines("# the lot by the creek\n" + text, path.read_text())
        assert changed == [
            "-intensity = 5.5   # county sheet # 4",
            "+intensity = 6.25   # county sheet # 4",
            "+",
            "+[rules]",
            "+min_cover_in = 10",
        ]
        assert asking.change(lambda d: d["settings"].update({"rules.min_cover_in": None}))[0] == 200
        assert "min_cover_in" not in path.read_text()
        assert tomllib.loads(path.read_text())["rainfall"]["intensity"] == 6.25


@pytest.mark.parametrize(
    "name",
    [
        'a"b',
        "{{7*7}}",
        "<script>alert(1)</script>",
        "=cmd|' /C calc'!A0",
        "x\n[rules]\ny",
        "\u202eabc",
        "\x00",
        "a" * 9000,
        "]], [",
        "'''",
        "\\",
    ],
)
def test_hostile_names_are_data(sample, name):
    """In a feature, in a height and in the site's own name; the folder reads back, and nothing else stands in it."""
    with sample("alder-court") as asking:

        def edit(document):
            _point(document, "downspout")["properties"]["name"] = name
            document["settings"]["name"] = name
            document["heights"].append({"number": name, "x": 1210001, "y": 205001, "z": 101.5, "note": name})

        status, told = asking.change(edit)
        assert status == 200, told
        site = tomllib.loads((asking.folder / "site.toml").read_text())
        assert set(site) - {"name"} == {"crs", "length_unit", "elevation_unit", "ground", "features", "rainfall"}
        drawn = json.loads((asking.folder / "features.geojson").read_text())
        assert len(drawn["features"]) == 20
        asking.post("reread", {})
        (height,) = asking.get("state")[1]["heights"]
        assert height["z"] == 101.5


def test_heights_typed_make_the_ground(sample):
    with sample("alder-court") as asking:

        def add(document):
            document["heights"] += [{"number": "1", "x": 1210002.25, "y": 205003.5, "z": 101.25, "note": "gutter"}]

        assert asking.change(add)[0] == 200
        assert (
            asking.folder / "shots.csv"
        ).read_text() == "point,northing,easting,elevation,description\n1,205003.5,1210002.25,101.25,gutter\n"
        assert tomllib.loads((asking.folder / "site.toml").read_text())["ground"]["shots"] == "shots.csv"
        assert asking.change(lambda document: document["heights"].clear())[0] == 200
        assert "shots" not in tomllib.loads((asking.folder / "site.toml").read_text())["ground"]


def test_no_note_is_a_formula(sample):
    """A point list is opened in spreadsheets.

    What would run there bears an apostrophe, once however often it is saved.
    """
    with sample("alder-court") as asking:
        for k in range(3):

            def add(document, k=k):
                document["heights"].append({"number": f"=A{k}", "x": 1.0, "y": 2.0 + k, "z": -1.5, "note": "@SUM(1)"})

            assert asking.change(add)[0] == 200
        rows = (asking.folder / "shots.csv").read_text().splitlines()[1:]
        assert rows == [f"'=A{k},{2.0 + k},1.0,-1.5,'@SUM(1)" for k in range(3)]


def test_a_list_of_another_form_is_not_written(sample):
    with sample("alder-court") as asking:
        (asking.folder / "list.txt").write_text("1 205003.5 1210002.25 101.25 gutter\n")
        path = asking.folder / "site.toml"
        path.write_text(path.read_text().replace("[ground]", '[ground]\nshots = "list.txt"'))
        asking.post("reread", {})
        assert asking.get("state")[1]["heights_file"] is None
        status, told = asking.change(
            lambda document: document["heights"].append({"number": "2", "x": 1, "y": 2, "z": 3, "note": ""})
        )
        assert status == 422
        assert "form of its own" in told["refused"]
        assert (asking.folder / "list.txt").read_text() == "1 205003.5 1210002.25 101.25 gutter\n"


def test_two_pages_cannot_write_over_each_other(alder):
    one, two = alder.get("state")[1], alder.get("state")[1]

    def sent(document, shift):
        point = _point(document, "sump")
        point["xy"] = [[point["xy"][0][0] + shift, point["xy"][0][1]]]
        return alder.post("change", {key: document[key] for key in ("version", "features", "heights", "settings")})

    assert sent(one, 1)[0] == 200
    first = (alder.folder / "features.geojson").read_bytes()
    status, told = sent(two, 2)
    assert status == 409
    assert told["outdated"]
    assert (alder.folder / "features.geojson").read_bytes() == first


def test_a_file_changed_on_the_disk_is_asked_about(alder):
    document = alder.get("state")[1]
    path = alder.folder / "features.geojson"
    theirs = path.read_text().replace('"Oak"', '"Old oak"')
    path.write_text(theirs)
    assert alder.get("alive")[1]["disk"] == ["features.geojson"]
    _point(document, "sump")["properties"]["note"] = "mine"
    body = {key: document[key] for key in ("version", "features", "heights", "settings")}
    status, told = alder.post("change", body)
    assert status == 409
    assert told["disk"] == ["features.geojson"]
    assert path.read_text() == theirs
    # mine all the same: theirs can be stepped back to
    assert alder.post("change", {**body, "anyway": True})[0] == 200
    assert '"mine"' in path.read_text()
    newest = alder.get("history")[1]["steps"][0]
    assert alder.post("back", {"number": newest["number"]})[0] == 200
    assert path.read_text() == theirs


def test_steps_back_over_many_saves_and_restarts(sample, serve, bytes_of):
    def named(asking, k):
        return asking.change(lambda document: document["settings"].update({"name": f"Name {k}"}))[0]

    with sample("long-meadow") as asking:
        folder, before = asking.folder, bytes_of(asking.folder)
        assert [named(asking, k) for k in range(5)] == [200] * 5
    with serve(folder) as asking:
        steps = asking.get("history")[1]["steps"]
        assert [one["number"] for one in steps] == [5, 4, 3, 2, 1]
        assert asking.post("back", {"number": 3})[0] == 200
        assert tomllib.loads((folder / "site.toml").read_text())["name"] == "Name 1"
        assert asking.post("back", {"number": 1})[0] == 200
        assert {name: data for name, data in bytes_of(folder).items() if not name.startswith(".")} == before
        assert asking.post("back", {"number": 99})[0] == 422


def test_history_is_bounded(sample, monkeypatch):
    assert saving.MOST_KEPT == 300  # docs/draw.md
    monkeypatch.setattr("siteplan.table.saving.MOST_KEPT", 4)
    with sample("long-meadow") as asking:
        for k in range(7):
            asking.change(lambda document, k=k: document["settings"].update({"name": f"Name {k}"}))
        assert [one["number"] for one in asking.get("history")[1]["steps"]] == [7, 6, 5, 4]
        if sys.platform != "win32":  # nobody else of the machine holds a save up
            assert (asking.folder / saving.HISTORY / "lock").stat().st_mode & 0o777 == 0o600


def test_undo_brings_back_the_very_bytes(alder):
    """The page sends the old feature again: the file is what it was, to the byte."""
    path = alder.folder / "features.geojson"
    before, first = path.read_bytes(), alder.get("state")[1]
    assert alder.change(lambda d: d["features"].remove(_point(d, "sump")))[0] == 200
    assert path.read_bytes() != before
    assert alder.change(lambda d: d.update(features=first["features"]))[0] == 200
    assert path.read_bytes() == before


def test_lon_lat_stays_lon_lat(tmp_path, serve):
    """A file in degrees is drawn on the site's plane, and a moved point goes back to degrees.

    A millimetre off at most.
    """
    folder = tmp_path / "site"
    shutil.copytree(SAMPLES / "marsh-lane", folder)
    from pyproj import Transformer

    to = Transformer.from_crs("EPSG:25832", "EPSG:4326", always_xy=True)
    path = folder / "features.geojson"
    data = json.loads(path.read_text())
    data.pop("crs", None)

    def turned(part):
        return list(to.transform(*part)) if isinstance(part[0], int | float) else [turned(one) for one in part]

    for one in data["features"]:
        one["geometry"]["coordinates"] = turned(one["geometry"]["coordinates"])
    path.write_text(json.dumps(data))
    with serve(folder) as asking:
        place = []

        def move(document):
            point = _point(document, "curb_outlet")
            assert 560_000 < point["xy"][0][0] < 562_000
            point["xy"] = [[point["xy"][0][0] + 1, point["xy"][0][1]]]
            place.append(point["xy"][0])

        assert asking.change(move)[0] == 200
        moved = next(
            one for one in json.loads(path.read_text())["features"] if one["properties"]["kind"] == "curb_outlet"
        )
        back = Transformer.from_crs("EPSG:4326", "EPSG:25832", always_xy=True).transform(
            *moved["geometry"]["coordinates"]
        )
        assert back == pytest.approx(place[0], abs=1e-3)
