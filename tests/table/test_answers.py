"""The answer under the hand: the planner's own figures for the place where the hand is, saved or not."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

SAMPLES = Path(__file__).parents[2] / "sample_sites"


def _of(document, kind, name=None):
    return next(
        one
        for one in document["features"]
        if one["properties"]["kind"] == kind and name in {None, one["properties"].get("name")}
    )


def _spares(told):
    return {(pair["source"], pair["outlet"]): pair["spare"] for pair in told["pairs"]}


@pytest.mark.parametrize(
    ("kind", "shift"), [pytest.param("curb_outlet", (-7.5, 0.0), marks=pytest.mark.slow), ("sump", (3.0, 4.0))]
)
def test_a_place_not_saved_yet_answers_as_if_it_were(alder, kind, shift):
    """What is told while the hand holds a thing is what the folder tells once it is saved there.

    Also the folder is untouched meanwhile.
    """
    document = alder.get("state")[1]
    one = _of(document, kind)
    place = [one["xy"][0][0] + shift[0], one["xy"][0][1] + shift[1]]
    before = (alder.folder / "features.geojson").read_bytes()
    for quick in (True, False):
        status, held = alder.post(
            "answer", {"about": one["id"], "moved": [{"id": one["id"], "xy": [place]}], "quick": quick}
        )
        assert status == 200
        assert (alder.folder / "features.geojson").read_bytes() == before
        still = alder.post("answer", {"about": one["id"], "quick": quick})[1]
        assert _spares(still) != _spares(held)
    one["xy"] = [place]
    assert (
        alder.post("change", {key: document[key] for key in ("version", "features", "heights", "settings")})[0] == 200
    )
    saved = alder.post("answer", {"about": one["id"]})[1]
    assert _spares(saved) == pytest.approx(_spares(held), abs=1e-9)


@pytest.mark.slow
def test_figures_agree_with_the_plan(alder, sample_plan):
    """Each pair's spare is the one of the plan's table of ways weighed, where its line is taken for itself.

    The first answer is near it.
    """
    plan = sample_plan("alder-court").plan
    names = {one.id: one.name for one in (*plan.sources, *plan.outlets)}
    weighed = {
        (names[one.sources[0]], names[one.outlet]): one.margin
        for one in plan.candidates
        if len(one.sources) == 1 and one.outlet in names and one.margin is not None and not one.chosen
    }
    told = _spares(alder.post("answer", {})[1])
    quick = _spares(alder.post("answer", {"quick": True})[1])
    both = set(weighed) & set(told)
    assert len(both) >= 3
    for pair in both:
        assert told[pair] == pytest.approx(weighed[pair], abs=0.02)
    assert all(abs(quick[pair] - told[pair]) < 0.05 for pair in told)


def test_reach_is_where_daylight_can_be(alder):
    """Alder Court falls to its rear: every place told lies on the lot, and an outlet put on one has fall to spare."""
    document = alder.get("state")[1]
    source, outlet = _of(document, "downspout", "DS-1"), _of(document, "daylight_outlet")
    reach = alder.post("answer", {"about": source["id"]})[1]["reach"]
    assert reach["source"] == "DS-1"
    assert len(reach["dots"]) > 20
    for x, y, high in reach["dots"]:
        assert 1210000 - 1 <= x <= 1210090 + 1
        assert 205000 - 16 <= y <= 205140 + 1
        assert high >= 0
    rear = sorted(dot for dot in reach["dots"] if dot[1] > 205120)[10:60:25]
    assert rear
    for x, y, _ in rear:
        told = alder.post("answer", {"about": outlet["id"], "moved": [{"id": outlet["id"], "xy": [[x, y]]}]})[1]
        assert _spares(told)["DS-1", outlet["properties"]["name"]] >= 0


def test_an_outlet_where_no_ground_is_known(alder):
    outlet = _of(alder.get("state")[1], "curb_outlet")
    status, told = alder.post(
        "answer", {"about": outlet["id"], "moved": [{"id": outlet["id"], "xy": [[1209000, 205000]]}], "quick": True}
    )
    assert status == 200
    assert [fault["what"] for fault in told["faults"]] == ["stands where no ground is known"]


@pytest.mark.parametrize(
    "moved",
    [
        7,
        [7],
        [{"id": 3}],
        [{"id": "f1", "xy": []}],
        [{"id": "f1", "xy": [[1]]}],
        [{"id": "f1", "xy": [["a", 2]]}],
        [{"id": "none", "xy": [[1, 2]]}],
        [{"id": "f1", "xy": [[1e300, 1e300]]}],
    ],
)
def test_a_question_that_is_none(alder, moved):
    status, told = alder.post("answer", {"moved": moved, "quick": True, "about": ["x"]})
    assert status == 200
    assert len(told["pairs"]) == 10


def test_what_is_missing_is_told_until_nothing_is(tmp_path, serve):
    folder = tmp_path / "site"
    folder.mkdir()
    (folder / "site.toml").write_text('name = "X"\ncrs = "local"\nlength_unit = "ft"\nelevation_unit = "ft"\n')
    with serve(folder) as asking:
        assert asking.get("ground")[1] == {"known": False, "version": 1}
        told = asking.post("answer", {})[1]
        assert told["pairs"] == []
        assert any("[ground]" in fault["where"] for fault in told["faults"])

        def draw(document):
            lot = {
                "id": "p1",
                "file": "",
                "properties": {"kind": "lot", "name": "Lot"},
                "shape": "Polygon",
                "xy": [[0, 0], [60, 0], [60, 90], [0, 90]],
                "locked": False,
            }
            spout = {
                "id": "p2",
                "file": "",
                "properties": {"kind": "downspout", "name": "DS-1"},
                "shape": "Point",
                "xy": [[30, 60]],
                "locked": False,
            }
            outlet = {
                "id": "p3",
                "file": "",
                "properties": {"kind": "daylight_outlet", "name": "Y"},
                "shape": "Point",
                "xy": [[30, 8]],
                "locked": False,
            }
            document["features"] += [lot, spout, outlet]
            document["heights"] += [
                {"number": str(k), "x": x, "y": y, "z": 100 + y / 5, "note": ""}
                for k, (x, y) in enumerate([(0, 0), (60, 0), (60, 90), (0, 90)])
            ]

        assert asking.change(draw)[0] == 200
        told = asking.post("answer", {})[1]
        assert told["faults"] == []
        (pair,) = told["pairs"]
        assert pair["serves"]
        # 52 ft apart; the least grade takes 1 % of the length of the fall there is
        assert pair["length"] == pytest.approx(52 * 0.3048, rel=0.02)
        assert pair["needed"] == pytest.approx(0.01 * pair["length"])
        profile = pair["way"]["profile"]
        assert profile["ground"][0] == pytest.approx(100 + 8 / 5, abs=0.01)
        assert profile["ground"][-1] == pytest.approx(100 + 60 / 5, abs=0.01)
        assert all(invert < ground for invert, ground in zip(profile["invert"][3:], profile["ground"][3:], strict=True))
        assert asking.get("ground")[1]["known"]


def test_a_bend_of_a_line_of_one_s_own(tmp_path, serve):
    """Drawn round the house it keeps every limit.

    Its bend moved into the house, the run that fails is told before anything is saved.
    """
    folder = Path(shutil.copytree(SAMPLES / "alder-court", tmp_path / "site"))
    path = folder / "features.geojson"
    data = json.loads(path.read_text())
    line = {
        "type": "Feature",
        "properties": {"kind": "drain", "name": "Own", "from": "DS-1", "to": "Curb hole"},
        "geometry": {"type": "LineString", "coordinates": [[1210024, 205054], [1210024, 205030], [1210028, 204990]]},
    }
    data["features"].append(line)
    path.write_text(json.dumps(data))
    with serve(folder) as asking:
        document = asking.get("state")[1]
        drain = _of(document, "drain")
        (told,) = asking.post("answer", {"about": drain["id"]})[1]["own"]
        assert told["breaks"] == []
        moved = [drain["xy"][0], [1210045, 205070], drain["xy"][2]]
        (told,) = asking.post(
            "answer", {"about": drain["id"], "moved": [{"id": drain["id"], "xy": moved}], "quick": True}
        )[1]["own"]
        assert any("no line may" in one["why"] for one in told["breaks"])
        assert path.read_text() == json.dumps(data)


@pytest.mark.parametrize(
    ("kind", "name", "step"),
    [("sump", None, (1.5, 2.0)), ("daylight_outlet", None, (2.0, -1.5)), ("curb_outlet", None, (-3.0, 0.0))],
)
def test_what_is_kept_between_moves_changes_no_figure(alder, monkeypatch, kind, name, step):
    """Answers under a moving hand reuse what did not move.

    They are those of a yard worked out whole, to the last digit.
    """
    one = _of(alder.get("state")[1], kind, name)
    asked = [
        {
            "quick": True,
            "about": one["id"],
            "moved": [{"id": one["id"], "xy": [[one["xy"][0][0] + k * step[0], one["xy"][0][1] + k * step[1]]]}],
        }
        for k in range(1, 5)
    ]
    kept = [_spares(alder.post("answer", question)[1]) for question in asked]
    monkeypatch.setattr("siteplan.table.answers._scene_moved", lambda *_: None)
    assert [_spares(alder.post("answer", question)[1]) for question in asked] == kept
    assert len({tuple(one.values()) for one in kept}) > 1


def _begun(tmp_path, *given):
    from siteplan.cli.main import main

    folder = tmp_path / "begun"
    assert main(["new", str(folder), *given]) == 0
    return folder


def test_a_grid_is_seen_before_there_is_a_lot(tmp_path, serve):
    """Alder Court's ground alone, in feet: its contours lie where the site's own do, and nothing else is known."""
    folder = _begun(
        tmp_path, "--grid", str(SAMPLES / "alder-court" / "ground.tif"), "--unit", "ft", "--elevation-unit", "ft"
    )
    with serve(folder) as asking:
        ground = asking.get("ground")[1]
        assert ground["known"]
        assert len(ground["contours"]) > 5
        (west, south), (east, north) = ground["box"]
        assert (west < 1210000, south < 205000, east > 1210090, north > 205140) == (True,) * 4
        assert asking.post("answer", {})[1]["faults"]


def test_shots_are_seen_before_there_is_a_lot(tmp_path, serve):
    rows = "".join(f"{k},{2000 + 30 * (k // 4)},{5000 + 25 * (k % 4)},{100 + k / 10},GR\n" for k in range(12))
    path = tmp_path / "crew.txt"
    path.write_text(rows)
    folder = _begun(
        tmp_path,
        "--points",
        str(path),
        "--unit",
        "ft",
        "--elevation-unit",
        "ft",
        "--order",
        "north-first",
        "--crs",
        "local",
    )
    with serve(folder) as asking:
        ground = asking.get("ground")[1]
        assert not ground["known"]
        assert [(one["x"], one["y"], one["z"]) for one in ground["shots"]][:5] == [
            (5000, 2000, 100),
            (5025, 2000, 100.1),
            (5050, 2000, 100.2),
            (5075, 2000, 100.3),
            (5000, 2030, 100.4),
        ]
        assert ground["box"] == [[5000, 2000], [5075, 2060]]


@pytest.mark.parametrize("unit", ["us-ft", "m"])
def test_shots_in_a_system_of_its_own_unit(tmp_path, serve, unit):
    """Coordinates are in the system's unit whatever lengths are in: US survey feet here."""
    path = tmp_path / "crew.txt"
    path.write_text(
        "".join(f"{k},{205000 + 30 * (k // 4)},{1210000 + 25 * (k % 4)},{30 + k / 10},GR\n" for k in range(12))
    )
    given = ("--unit", unit, "--elevation-unit", unit, "--order", "north-first", "--crs", "EPSG:2272")
    with serve(_begun(tmp_path, "--points", str(path), *given)) as asking:
        ground = asking.get("ground")[1]
        assert [(one["x"], one["y"]) for one in ground["shots"]][:2] == [(1210000, 205000), (1210025, 205000)]
        assert ground["box"] == [[1210000, 205000], [1210075, 205060]]


@pytest.mark.parametrize(
    ("spare", "unit", "mark"),
    [
        (0.1397, "ft", "+5.5 in"),
        (-0.1422, "us-ft", "\u22125.6 in"),
        (-0.143, "m", "\u2212143 mm"),
        (-0.0004, "ft", "less than 0.1 in short"),
        (-0.0004, "m", "less than 1 mm short"),
        (0.0, "ft", "+0 in"),
    ],
)
def test_a_shortage_is_never_marked_as_nought(spare, unit, mark):
    """Inches of 25.4 mm, by hand."""
    from siteplan.table.answers import _figures

    assert _figures(spare, None, None, "", unit)["spare_mark"] == mark
