"""Many lots by one command: what is written, what is planned again, what a broken lot does to the others."""

from __future__ import annotations

import csv
import json
import shutil
import sys
from collections import Counter

import pyogrio
import pytest
from batch_lots import tree
from lots_listed import first_length, listed, tally

from siteplan.batch.summary import LOOKS
from siteplan.cli.main import main


def batch(sites, out, *options):
    return main(["batch", str(sites), "--out", str(out), "--workers", "0", "--layouts", "1", *options])


@pytest.fixture
def done(batched, tmp_path):
    """A copy of the batch, to be edited."""
    shutil.copytree(batched.sites, tmp_path / "sites")
    shutil.copytree(batched.out, tmp_path / "out")
    return tmp_path / "sites", tmp_path / "out"


def rows_of(out):
    return list(csv.DictReader((out / "summary.csv").read_text(encoding="utf-8-sig").splitlines()))


def planned_now(capsys, *given):
    capsys.readouterr()
    batch(*given, "--json")
    return json.loads(capsys.readouterr().out)["planned"]


def test_each_plan_is_what_plan_writes_alone(batched, tmp_path):
    code = main(["plan", str(batched.sites / "lot-1"), "--out", str(tmp_path / "alone"), "--layouts", "1"])
    assert code == 0
    assert tree(tmp_path / "alone") == tree(batched.out / "lots" / "lot-1")


def test_a_broken_lot_is_told_and_stops_no_other(batched):
    rows = {row["lot"]: row for row in rows_of(batched.out)}
    assert batched.code == 1
    assert {name: (row["state"], row["exit_code"]) for name, row in rows.items()} == {
        "torn": ("bad-input", "2"),
        "uphill": ("fails", "1"),
        "lot-1": ("sure", "0"),
        "lot-2": ("sure", "0"),
    }
    assert "features.geojson" in rows["torn"]["why"]
    assert not (batched.out / "lots" / "torn").exists()


def test_the_summary_has_the_worst_first_with_why_and_what_would_flip_it(batched):
    rows = rows_of(batched.out)
    assert [row["lot"] for row in rows[:2]] == ["torn", "uphill"]
    plan = json.loads((batched.out / "lots" / "uphill" / "plan.json").read_bytes())
    short = max(one["margin"] for one in plan["candidates"] if one["margin"] is not None)
    assert float(rows[1]["margin"]) == pytest.approx(short, abs=0.0006)
    assert short < 0
    assert "Leader" in rows[1]["why"]
    assert rows[1]["what_would_flip_it"] in {cure["what"] for one in plan["attempts"] for cure in one["cures"]}


def test_the_layers_hold_every_lot(batched):
    layers = dict(pyogrio.list_layers(batched.out / "summary.gpkg"))
    assert layers == {"lots": "Polygon", "lots_on_own_grids": "Polygon"}
    placed = pyogrio.read_dataframe(batched.out / "summary.gpkg", layer="lots")
    own = pyogrio.read_dataframe(batched.out / "summary.gpkg", layer="lots_on_own_grids")
    assert list(placed["lot"]) == ["torn"]
    assert placed.geometry.isna().all()
    assert set(own["lot"]) == {"uphill", "lot-1", "lot-2"}
    assert own.geometry.area.round(3).eq(60 * 24).all()


def test_table_layers_and_page_say_the_same(batched):
    rows = rows_of(batched.out)
    frames = [pyogrio.read_dataframe(batched.out / "summary.gpkg", layer=one) for one in ("lots", "lots_on_own_grids")]
    held = {row.lot: row for frame in frames for row in frame.itertuples()}
    shown = listed(batched.out / "index.html")
    assert [row["lot"] for row in rows] == [cells[0] for cells in shown]
    assert held.keys() == {row["lot"] for row in rows}
    for row, (_, state, spare, why, flip) in zip(rows, shown, strict=True):
        layer = held[row["lot"]]
        assert (layer.state, layer.exit_code, layer.why or "") == (row["state"], int(row["exit_code"]), row["why"])
        assert state.partition(" ")[2] == LOOKS[row["state"]].word
        assert (why, flip) == (row["why"], row["what_would_flip_it"])
        if row["margin"]:
            assert layer.margin_m == pytest.approx(float(row["margin"]), abs=0.0006)  # m, all of these lots
            assert first_length(spare) == pytest.approx(abs(float(row["margin"])), abs=0.006)
    assert tally(batched.out / "index.html") == Counter(LOOKS[row["state"]].word for row in rows)


def test_the_page_says_what_was_passed_over_and_asks_the_network_for_nothing(batched):
    page = (batched.out / "index.html").read_text(encoding="utf-8")
    assert "papers" in page
    assert 'href="lots/uphill/map.html"' in page
    assert "default-src 'none'; script-src 'sha256-" in page
    assert "http:" not in page
    assert page.count("<script") == 1


def test_a_second_run_plans_nothing_and_changes_nothing(done, capsys):
    sites, out = done
    # the sites lie elsewhere now: what is read is the same, and that decides
    before = tree(out)
    assert planned_now(capsys, sites, out) == 0
    assert tree(out) == before


def test_a_lot_that_changed_is_planned_again_and_no_other(done, capsys):
    sites, out = done
    text = (sites / "lot-2" / "site.toml").read_text(encoding="utf-8")
    (sites / "lot-2" / "site.toml").write_text(f"{text}\n# looked at again\n", encoding="utf-8")
    before = {path: path.stat().st_mtime_ns for path in (out / "lots" / "lot-1").iterdir()}
    assert planned_now(capsys, sites, out) == 1
    assert {path: path.stat().st_mtime_ns for path in (out / "lots" / "lot-1").iterdir()} == before


@pytest.mark.parametrize("spoil", ["edit", "delete", "record"])
def test_a_plan_that_is_not_as_it_was_written_is_made_again(done, capsys, spoil):
    sites, out = done
    before = tree(out)
    if spoil == "edit":
        with (out / "lots" / "lot-1" / "plan.json").open("ab") as file:
            file.write(b" ")
    elif spoil == "delete":
        (out / "lots" / "lot-1" / "trench_schedule.csv").unlink()
    else:
        record = out / "records" / "lot-1.json"
        record.write_bytes(record.read_bytes()[:40])  # as a disk may leave it that lost its power
    assert planned_now(capsys, sites, out) == 1
    assert tree(out) == before


def test_a_lot_that_is_gone_is_left_where_it_is_and_told(done):
    sites, out = done
    shutil.rmtree(sites / "lot-2")
    assert batch(sites, out) == 1
    assert (out / "lots" / "lot-2" / "plan.json").exists()
    assert "lot-2" not in {row["lot"] for row in rows_of(out)}
    assert "Not among the sites any more, and left as they are: lot-2" in (out / "index.html").read_text("utf-8")


def test_a_list_names_the_sites(batched, tmp_path, capsys):
    (tmp_path / "lots.txt").write_text(f"# phase 1\n\n{batched.sites / 'torn'}\n", encoding="utf-8")
    assert batch(tmp_path / "lots.txt", tmp_path / "out") == 1
    assert [row["lot"] for row in rows_of(tmp_path / "out")] == ["torn"]


@pytest.mark.parametrize(
    ("listed", "told"),
    [
        ("nowhere\n", 'line 1: "nowhere" is no folder'),
        ("{0}/torn\n{0}/torn/../TORN\n", "TORN"),
        ("{0}/torn\n{0}/torn\n", 'would be planned as "torn"'),
        ("# nothing\n", "holds no site folder"),
    ],
)
def test_a_list_that_cannot_be_used_writes_nothing(batched, tmp_path, capsys, listed, told):
    (tmp_path / "lots.txt").write_text(listed.format(batched.sites), encoding="utf-8")
    assert batch(tmp_path / "lots.txt", tmp_path / "out") == 2
    assert told in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_folder_of_somebody_elses_is_not_written_to(batched, tmp_path, capsys):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "letter.txt").write_text("mine", encoding="utf-8")
    assert batch(batched.sites, tmp_path / "out") == 2
    assert "is no batch folder" in capsys.readouterr().err
    assert tree(tmp_path / "out") == {"letter.txt": b"mine"}


def test_the_folder_written_may_lie_among_the_sites(batched, tmp_path):
    shutil.copytree(batched.sites / "torn", tmp_path / "sites" / "torn")
    out = tmp_path / "sites" / "out"
    assert batch(tmp_path / "sites", out) == 1
    assert batch(tmp_path / "sites", out) == 1
    assert [row["lot"] for row in rows_of(out)] == ["torn"]
    assert "Passed over" not in (out / "index.html").read_text("utf-8")


def test_sites_at_two_depths_keep_apart(batched, tmp_path):
    for phase in ("phase-1", "phase-2"):
        shutil.copytree(batched.sites / "torn", tmp_path / "sites" / phase / "torn")
    assert batch(tmp_path / "sites", tmp_path / "out") == 1
    assert {row["lot"] for row in rows_of(tmp_path / "out")} == {"phase-1--torn", "phase-2--torn"}


def test_a_name_that_would_act_is_text(batched, tmp_path):
    name = "=cmd()<script>alert(1)<|script>"
    shutil.copytree(batched.sites / "torn", tmp_path / "sites" / name)
    assert batch(tmp_path / "sites", tmp_path / "out") == 1
    assert rows_of(tmp_path / "out")[0]["lot"] == f"'{name}"
    assert "<script>alert" not in (tmp_path / "out" / "index.html").read_text("utf-8")


def test_a_fault_of_ours_is_one_lots_own_and_tried_again(batched, tmp_path, monkeypatch, capsys):
    sites, out = tmp_path / "sites", tmp_path / "out"
    shutil.copytree(batched.sites / "torn", sites / "torn")

    def bursts(*_, **__):
        raise ZeroDivisionError("by nought")

    with monkeypatch.context() as patch:
        patch.setattr("siteplan.plan.plan_site", bursts)
        assert batch(sites, out) == 3
    assert "ZeroDivisionError" in rows_of(out)[0]["why"]
    assert planned_now(capsys, sites, out) == 1
    assert rows_of(out)[0]["state"] == "bad-input"


def test_two_ways_to_share_the_work_are_not_asked_for_at_once(batched, tmp_path, capsys):
    given = ["batch", str(batched.sites), "--out", str(tmp_path / "out"), "--workers", "1", "--scheduler", "tcp://x:1"]
    assert main(given) == 2
    assert "--scheduler" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_process_writes_what_this_one_writes(done, batched):
    sites, out = done
    shutil.rmtree(out / "lots" / "lot-1")
    (out / "records" / "torn.json").unlink()
    assert main(["batch", str(sites), "--out", str(out), "--workers", "1", "--layouts", "1"]) == 1
    assert tree(out) == tree(batched.out)


def test_without_the_library_of_the_cluster_it_is_said_how_to_have_it(batched, tmp_path, monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, "distributed", None)
    given = ["batch", str(batched.sites), "--out", str(tmp_path / "out"), "--scheduler", "tcp://127.0.0.1:8786"]
    assert main(given) == 2
    assert "siteplan[cluster]" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nonsense", "::::", "tcp://\udcff:1", "http://127.0.0.1:80"])
def test_where_no_scheduler_answers_it_is_said_at_once(batched, tmp_path, capsys, address):
    pytest.importorskip("distributed")
    assert main(["batch", str(batched.sites), "--out", str(tmp_path / "out"), "--scheduler", address]) == 2
    assert "no scheduler answers" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_what_is_written_into_a_site_folder_is_no_part_of_its_survey(batched, tmp_path, capsys):
    shutil.copytree(batched.sites / "torn", tmp_path / "torn")
    assert batch(tmp_path / "torn", tmp_path / "torn" / "out") == 1
    assert planned_now(capsys, tmp_path / "torn", tmp_path / "torn" / "out") == 0


def test_lots_on_one_local_grid_are_drawn_as_they_lie(tmp_path):
    from siteplan.batch.record import LotRecord
    from siteplan.batch.summary import summaries

    def lot(name, west):
        ring = ((west, 0.0), (west + 20.0, 0.0), (west + 20.0, 30.0), (west, 30.0), (west, 0.0))
        return LotRecord(name=name, key="", state="sure", code=0, unit="m", crs="local", ring=ring, files={})

    def page(*lots):
        held = {one.name: one for one in lots}
        return dict(summaries(list(held), held.get, (), (), None))["index.html"].decode()

    beside = page(lot("a", 0.0), lot("b", 20.0), lot("c", 40.0))
    assert beside.count("<polygon") == 3
    assert "as on one grid" in beside
    over = page(lot("a", 0.0), lot("b", 5.0))
    assert over.count("<polygon") == 0
    assert over.count("<rect") == 2
