"""What a folder lacks, in the order of what helps most; the first shots; a broken folder tells everything at once."""

from __future__ import annotations

import json
import shutil

import pytest

from siteplan.cli.main import main

FOOT = 0.3048


@pytest.fixture(scope="module")
def checked(ready):
    """The ready folder's check, run once."""
    import contextlib
    import io

    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        code = main(["check", str(ready), "--json"])
    return code, json.loads(out.getvalue())


def test_a_ready_folder_says_so_and_what_would_help(checked):
    code, told = checked
    assert code == 0
    assert told["ready"] is True
    assert not any(one["blocks"] for one in told["missing"])
    whats = {one["what"]: one["needed_for"] for one in told["missing"]}
    assert whats["no rain is given"] == "capacity"
    assert whats["roof_area is not given at DS-2"] == "capacity"
    assert whats["no invert is given at Low corner"] == "plan"
    assert whats["no utility is drawn"] == "plan"
    assert whats["whether the fill round the house is fresh is not told"] == "belly"
    order = [one["needed_for"] for one in told["missing"]]
    assert order == sorted(order, key=["plan", "capacity", "belly"].index)


def test_the_first_shots_stand_on_the_lot_in_its_own_coordinates(checked):
    _, told = checked
    assert 1 <= len(told["shots"]) <= 3
    for one in told["shots"]:
        assert 1990 <= one["x"] <= 2090
        assert 990 <= one["y"] <= 1110
        assert f"E {one['x']:.2f}" in one["place"]
        assert one["why"]
    assert told["survey"] == "the site's own grid, ft"
    # the plan's own figures: its least sure line's shots come first
    assert any("line L" in one["why"] or "there may be fall" in one["why"] for one in told["shots"])


def test_without_ground_the_outlet_the_farthest_source_and_the_middle_come_first(ready, tmp_path, capsys):
    folder = tmp_path / "lot"
    shutil.copytree(ready, folder)
    (folder / "shots.csv").write_text("point,northing,easting,elevation,description\n", encoding="utf-8")
    assert main(["check", str(folder), "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert [one["what"] for one in told["missing"] if one["blocks"]] == ["shots.csv: has a header and no points"]
    # outlet at 2003, 1005; DS-2 at 2062, 1062 is farther from it than DS-1 at 2060, 1030
    assert [(one["x"], one["y"]) for one in told["shots"]] == [(2003, 1005), (2062, 1062), (2032.5, 1033.5)]
    assert "Low corner" in told["shots"][0]["why"]
    assert main(["check", str(folder)]) == 1
    out = capsys.readouterr().out
    assert "not ready for a plan" in out
    assert "1. N 1005.00 E 2003.00: Low corner, the ground at daylight" in out


def test_a_broken_folder_tells_everything_at_once(ready, tmp_path, capsys):
    folder = tmp_path / "lot"
    shutil.copytree(ready, folder)
    settings = (folder / "site.toml").read_text(encoding="utf-8")
    settings = settings.replace('crs = "local"', "# no crs").replace('name = "lot 3"', "name = 3\nodd_key = 1")
    (folder / "site.toml").write_text(settings, encoding="utf-8")
    features = json.loads((folder / "features.geojson").read_text(encoding="utf-8"))
    features["features"][2]["properties"]["roof_area"] = "many"
    (folder / "features.geojson").write_text(json.dumps(features), encoding="utf-8")
    shots = (folder / "shots.csv").read_text(encoding="utf-8")
    (folder / "shots.csv").write_text(shots.replace("\n3,", "\n3,x", 1), encoding="utf-8")
    assert main(["check", str(folder)]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    wheres = [line.partition(":")[0] for line in captured.err.splitlines()]
    assert wheres == [
        "site.toml, odd_key",
        "site.toml, name",
        "site.toml, crs",
        'features.geojson, feature 3 ("DS-1"), roof_area',
        "shots.csv, row 4, northing",
    ]
    assert main(["check", str(tmp_path / "nowhere")]) == 2


def test_what_an_unreadable_file_may_hold_is_not_called_missing(ready, tmp_path, capsys):
    folder = tmp_path / "lot"
    shutil.copytree(ready, folder)
    (folder / "features.geojson").write_text("{", encoding="utf-8")
    assert main(["check", str(folder)]) == 2
    told = capsys.readouterr().err
    assert "features.geojson: is no JSON" in told
    assert "hold no lot" not in told
    assert "no source" not in told


def test_an_order_that_nothing_tells_is_a_question_until_something_does(heap, tmp_path, capsys):
    folder = tmp_path / "lot"
    assert main(["new", str(folder), "--points", str(heap / "crew list.csv"), "--unit", "ft", "--crs", "local"]) == 0
    assert main(["check", str(folder), "--json"]) == 1
    told = json.loads(capsys.readouterr().out.partition("missing.\n")[2])
    assert any("does northing or easting come first" in one["what"] for one in told["missing"])
    # drawn features lie on the shots only one way round: the evidence answers it
    (folder / "features.geojson").write_bytes((heap / "lot.geojson").read_bytes())
    from siteplan.survey.gathered import gathered_site

    assert gathered_site(folder).faults == ()


_CREW = "".join(
    f"{k},{n},{e},{z},{note}\n"
    for k, (n, e, z, note) in enumerate(
        [
            (205000, 1210000, 101.2, "LOT SW"),
            (205000, 1210090, 101.1, "LOT SE"),
            (205140, 1210090, 100.8, "LOT NE"),
            (205140, 1210000, 101, "LOT NW"),
            (205055, 1210025, 102.6, "GR"),
        ],
        1,
    )
)


@pytest.mark.parametrize(
    ("crs", "length", "told"),
    [
        ("EPSG:2272", "us-ft", "coordinates in US survey ft as declared"),  # its own unit
        ("EPSG:2272", "m", "coordinates in US survey ft as declared"),
        ("local", "ft", "coordinates in ft as declared"),
    ],
)
def test_the_site_s_units_answer_for_those_of_its_list(tmp_path, capsys, crs, length, told):
    """What `new` leaves open is all that `check` asks.

    Units of the list follow from system and units, and the plan says so.
    """
    from siteplan.survey.gathered import gathered_site

    path, folder = tmp_path / "crew.csv", tmp_path / "site"
    path.write_text(_CREW, encoding="utf-8")
    assert main(["new", str(folder), "--points", str(path)]) == 0
    opened = {one.key for one in gathered_site(folder).faults if getattr(one, "key", "")}
    assert opened == {"crs", "length_unit", "elevation_unit"}
    text = (folder / "site.toml").read_text(encoding="utf-8")
    for line, answer in (
        ('# crs = "local"', crs),
        ('# length_unit = "ft"', length),
        ('# elevation_unit = "ft"', "us-ft"),
    ):
        assert line in text
        text = text.replace(line, f'{line[2:].partition(" = ")[0]} = "{answer}"')
    (folder / "site.toml").write_text(text, encoding="utf-8")
    capsys.readouterr()
    assert main(["check", str(folder), "--json"]) == 1
    asked = [one["what"] for one in json.loads(capsys.readouterr().out)["missing"] if one["blocks"]]
    assert [one for one in asked if "shots.csv" in one] == []
    drawn = [
        (
            "lot",
            "Polygon",
            [[[1210000, 205000], [1210090, 205000], [1210090, 205140], [1210000, 205140], [1210000, 205000]]],
        ),
        ("downspout", "Point", [1210025, 205055]),
    ]
    features = [
        {
            "type": "Feature",
            "properties": {"kind": kind, "name": kind},
            "geometry": {"type": shape, "coordinates": places},
        }
        for kind, shape, places in drawn
    ]
    held = json.loads((folder / "features.geojson").read_text(encoding="utf-8"))
    named = {} if crs == "local" else {"crs": {"type": "name", "properties": {"name": crs}}}
    (folder / "features.geojson").write_text(json.dumps({**held, **named, "features": features}), encoding="utf-8")
    site = gathered_site(folder).site
    assert site is not None
    assert any(told in one for one in site.assumptions), site.assumptions


@pytest.fixture
def bare_folder(tmp_path):
    """No system, no units, no lot, no source, no ground."""
    assert main(["new", str(tmp_path / "bare")]) == 0
    path = tmp_path / "bare" / "site.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('crs = "local"', '# crs = "local"'), encoding="utf-8")
    return tmp_path / "bare"


def test_plan_and_table_name_all_that_check_names(bare_folder, capsys):
    """A person is not sent round by round: units, lot, source and ground are asked for at once, in the same words."""
    from siteplan.table.answers import Answering
    from siteplan.table.session import TableSession

    capsys.readouterr()
    assert main(["check", str(bare_folder), "--json"]) == 1
    asked = [one for one in json.loads(capsys.readouterr().out)["missing"] if one["blocks"]]
    assert len(asked) >= 6
    assert main(["plan", str(bare_folder), "--out", str(bare_folder.parent / "plan")]) == 2
    captured = capsys.readouterr()
    lines = [line for line in captured.err.splitlines() if not line.startswith("First run here")]
    assert lines == [" ".join(f"{one['what'].rstrip('.')}. {one['mend']}".split()) for one in asked]
    assert captured.out == ""
    assert not (bare_folder.parent / "plan").exists()
    told = Answering(TableSession(bare_folder)).answer({})["faults"]
    assert [(f"{one['where']}: {one['what']}", one["mend"]) for one in told] == [
        (one["what"], one["mend"]) for one in asked
    ]


@pytest.mark.parametrize(("chance", "asked"), [(0.019, False), (0.021, True), (0.979, True), (0.981, False)])
def test_shots_are_asked_for_where_a_verdict_stands_open_by_more_than_one_in_fifty(chance, asked):
    from types import SimpleNamespace

    from siteplan.begin.first_shots import _of_open_sources

    source = SimpleNamespace(id="S1", name="Sump", x=0.0, y=0.0)
    outlet = SimpleNamespace(id="O1", name="Curb", kind="curb_outlet", x=9.0, y=0.0)
    way = SimpleNamespace(sources=("S1",), outlet="O1", chance=chance)
    plan = SimpleNamespace(lines=(), sources=(source,), outlets=(outlet,), candidates=(way,), attempts=())
    assert [(one.x, one.y) for one in _of_open_sources(plan)] == ([(9.0, 0.0), (0.0, 0.0)] if asked else [])
