"""A screen that was stopped is gone on with, and after a change only what hangs on it is worked out again."""

from __future__ import annotations

import json
import shutil
import signal
import subprocess
import sys
import time

import geopandas
import numpy as np
import pytest
import rasterio
from shapely import affinity


@pytest.fixture
def judged(monkeypatch):
    """Short stretches; counts how often a lot is judged, and stops the command before the `stop`-th."""
    import siteplan.screen.stretch

    whole, told = siteplan.screen.stretch.judged_site, {"count": 0, "stop": None}

    def counted(*given):
        if told["count"] == told["stop"]:
            raise KeyboardInterrupt
        told["count"] += 1
        return whole(*given)

    monkeypatch.setattr(siteplan.screen.stretch, "judged_site", counted)
    monkeypatch.setattr("siteplan.screen.run._STRETCH", 4)
    return told


@pytest.fixture
def copied(screened, tmp_path):
    """A screen that is done, and layers of its own to change."""
    shutil.copytree(screened.paths["parcels"].parent, tmp_path / "in")
    shutil.copytree(screened.out, tmp_path / "out")
    return {name: tmp_path / "in" / path.name for name, path in screened.paths.items()}, tmp_path / "out"


def same(one, other):
    names = [{path.name for path in folder.iterdir()} for folder in (one, other)]
    return names[0] == names[1] and all((one / name).read_bytes() == (other / name).read_bytes() for name in names[0])


def again(screened, judged, paths, out):
    judged["count"] = 0
    code, rows = screened.screen(paths, out, "--name", "parcel")
    return code, rows, judged["count"]


def test_what_was_worked_out_before_a_stop_is_not_worked_out_again(screened, judged, tmp_path, capsys):
    judged["stop"] = 9
    with pytest.raises(FileNotFoundError):  # stopped before anything stands in the folder
        screened.screen(screened.paths, tmp_path / "out", "--name", "parcel")
    assert "the same command goes on" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
    judged["stop"] = None
    code, _, count = again(screened, judged, screened.paths, tmp_path / "out")
    assert (code, count) == (screened.code, 12 - 8)  # two stretches of four were whole
    assert "4 worked out now" in capsys.readouterr().out
    assert same(tmp_path / "out", screened.out)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_second_run_works_out_nothing_and_changes_nothing(screened, judged, copied):
    assert again(screened, judged, *copied)[2] == 0
    assert same(copied[1], screened.out)


def test_a_house_that_changed_is_worked_out_again_and_no_other(screened, judged, copied):
    houses = geopandas.read_file(copied[0]["buildings"])
    houses.loc[6, "geometry"] = affinity.translate(houses.geometry[6], 0.0, 3.0)
    copied[0]["buildings"].unlink()
    houses.to_file(copied[0]["buildings"])
    assert again(screened, judged, *copied)[2] == 1
    screened.screen(copied[0], copied[1].parent / "fresh", "--name", "parcel")
    assert same(copied[1], copied[1].parent / "fresh")
    assert not same(copied[1], screened.out)


def test_a_tile_that_changed_is_worked_out_again_where_lots_lie_over_it(screened, judged, copied):
    assert again(screened, judged, *copied)[2] == 0  # this process has read it all, as a worker of a cluster has
    lots = geopandas.read_file(copied[0]["parcels"])
    lot = lots.geometry[3].centroid
    for tile in (copied[0]["elevation"].parent / "tiles").glob("*.tif"):
        with rasterio.open(tile, "r+") as file:
            if file.bounds.left < lot.x < file.bounds.right and file.bounds.bottom < lot.y < file.bounds.top:
                z = file.read(1)
                file.write(z + np.linspace(0, 0.5, z.shape[1], dtype=z.dtype), 1)
    copied[0]["parcels"].unlink()
    lots.iloc[:11].to_file(copied[0]["parcels"])
    _, rows, count = again(screened, judged, *copied)
    assert len(rows) == 11
    assert 0 < count < 11
    screened.screen(copied[0], copied[1].parent / "fresh", "--name", "parcel")
    assert same(copied[1], copied[1].parent / "fresh")


def test_another_accuracy_and_another_program_ask_for_all_again(screened, judged, copied, monkeypatch):
    judged["count"] = 0
    screened.screen(*copied, "--name", "parcel", "--accuracy", "0.1")
    assert judged["count"] == 12
    assert again(screened, judged, *copied)[2] == 12  # back again
    for module in ("siteplan.screen.run", "siteplan.screen.stretch"):
        monkeypatch.setattr(f"{module}.program_digest", lambda: "another")
    assert again(screened, judged, *copied)[2] == 12


def test_a_process_with_another_program_answers_nothing(screened, judged, copied, monkeypatch, capsys):
    before = {path.name: path.read_bytes() for path in copied[1].iterdir()}
    monkeypatch.setattr("siteplan.screen.stretch.program_digest", lambda: "another")
    assert screened.screen(*copied, "--name", "parcel")[0] == 2
    assert "another siteplan" in capsys.readouterr().err
    assert {path.name: path.read_bytes() for path in copied[1].iterdir()} == before


def test_a_lot_before_the_others_moves_no_answer(screened, judged, copied):
    lots = geopandas.read_file(copied[0]["parcels"])
    copied[0]["parcels"].unlink()
    geopandas.pd.concat([lots.iloc[11:], lots.iloc[:11]], ignore_index=True).to_file(copied[0]["parcels"])
    _, rows, count = again(screened, judged, *copied)
    assert count < 12
    assert {name: row["margin"] for name, row in rows.items()} == {
        name: row["margin"] for name, row in screened.rows.items()
    }


@pytest.mark.parametrize("spoil", ["figure", "torn", "gone"])
def test_an_answer_that_is_not_as_it_was_written_is_worked_out_again(screened, judged, copied, spoil):
    file = copied[1] / "answers.jsonl"
    lines = file.read_bytes().splitlines(keepends=True)
    told = json.loads(lines[5])
    told["answer"]["margin"] += 1.0
    lines[5] = json.dumps(told, separators=(",", ":")).encode() + b"\n" if spoil == "figure" else lines[5][:40] + b"\n"
    file.write_bytes(b"".join(lines))
    if spoil == "gone":
        file.unlink()
    assert again(screened, judged, *copied)[2] == (12 if spoil == "gone" else 1)
    assert same(copied[1], screened.out)


@pytest.mark.slow
def test_a_screen_that_is_killed_is_gone_on_with(screened, tmp_path):
    paths = screened.county.county(tmp_path / "in", 400)
    given = [sys.executable, "-m", "siteplan", "screen", *(f"--{name}={path}" for name, path in paths.items())]
    whole, out = tmp_path / "whole", tmp_path / "out"
    ran = [*given, "--workers", "1", "--out"]
    assert subprocess.run([*ran, str(whole)], capture_output=True, check=False).returncode == 1
    began = subprocess.Popen([*ran, str(out)], stderr=subprocess.DEVNULL, start_new_session=True)
    parts = tmp_path / ".out.siteplan-answers"
    while began.poll() is None and not (parts.is_dir() and len(list(parts.glob("*.jsonl"))) >= 2):
        time.sleep(0.02)
    subprocess.run(["kill", "-9", "--", f"-{began.pid}"], check=True)
    assert began.wait() == -signal.SIGKILL
    assert not out.exists()
    again = subprocess.run([*ran, str(out), "--json"], capture_output=True, text=True, check=False)
    assert again.returncode == 1
    assert json.loads(again.stdout)["judged"] <= 200
    assert same(out, whole)
    assert not parts.exists()
