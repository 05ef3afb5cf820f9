"""Two batches side by side: lots newly failing and newly passing, margins moved."""

from __future__ import annotations

import json
import shutil

import numpy as np
import pytest
import rasterio

from siteplan.cli.main import main


@pytest.fixture(scope="module")
def revised(batched, tmp_path_factory):
    """A revision: one lot's ground is cut down at its start, another's survey is torn, one is gone, one is new."""
    home = tmp_path_factory.mktemp("revision")
    shutil.copytree(batched.sites, home / "sites")
    shutil.copytree(batched.out, home / "out")
    with rasterio.open(home / "sites" / "lot-1" / "ground.tif", "r+") as file:
        x = np.arange(-2.0, 63.0)
        file.write(file.read(1) - 0.1 * np.clip(x - 9, 0, 1), 1)
    shutil.rmtree(home / "sites" / "uphill")
    shutil.copytree(home / "sites" / "lot-2", home / "sites" / "lot-3")
    (home / "sites" / "lot-2" / "features.geojson").write_text("{", encoding="utf-8")
    shutil.copytree(batched.sites / "torn", home / "sites" / "new")
    code = main(["batch", str(home / "sites"), "--out", str(home / "out"), "--workers", "0", "--layouts", "1"])
    assert code == 1
    return home / "out"


def compared(capsys, *given):
    capsys.readouterr()
    code = main(["compare", *map(str, given), "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_a_revision_tells_what_it_breaks(batched, revised, capsys):
    code, found = compared(capsys, batched.out, revised)
    assert code == 1
    assert found["lots"]["newly_failing"] == ["lot-2"]
    assert found["lots"]["gone"] == ["uphill"]
    assert found["lots"]["added"] == ["lot-3", "new"]
    margins = {one["subject"]: (one["before"], one["after"]) for one in found["changed"] if one["what"] == "margin"}
    before, after = (
        json.loads((out / "lots" / "lot-1" / "plan.json").read_bytes())["lines"][0]["spare"]
        for out in (batched.out, revised)
    )
    assert margins["lot-1"] == (pytest.approx(before, abs=1e-5), pytest.approx(after, abs=1e-5))
    assert after < before - 0.05


def test_the_other_way_round_the_lot_passes_again(batched, revised, capsys):
    code, found = compared(capsys, revised, batched.out)
    assert code == 0
    assert found["lots"]["newly_passing"] == ["lot-2"]
    assert found["lots"]["newly_failing"] == []


def test_a_batch_beside_itself_is_the_same(batched, capsys):
    code, found = compared(capsys, batched.out, batched.out)
    assert code == 0
    assert found["changed"] == found["breaks"] == []


def test_a_person_reads_the_loss_first(batched, revised, capsys):
    capsys.readouterr()
    assert main(["compare", str(batched.out), str(revised)]) == 1
    said = capsys.readouterr().out
    assert "NEWLY FAILING lot-2" in said
    assert "MARGIN lot-1" in said
    assert max(map(len, said.splitlines())) <= 80


def test_a_batch_beside_a_plan_is_refused(batched, capsys):
    assert main(["compare", str(batched.out), str(batched.out / "lots" / "lot-1")]) == 2
    assert "the second folder, lot-1: is no batch folder" in capsys.readouterr().err


@pytest.mark.parametrize(("figure", "unseen", "seen"), [("margin", 0.0004, -0.0006), ("chance", -0.004, -0.006)])
def test_what_no_sheet_would_show_is_no_change(batched, tmp_path, capsys, figure, unseen, seen):
    """Half a millimetre, and half a percent of a chance: the last digits that a sheet prints."""
    out = shutil.copytree(batched.out, tmp_path / "out")
    path = out / "records" / "lot-1.json"
    text = path.read_text(encoding="utf-8")
    for by, told in ((unseen, False), (seen, True)):
        record = json.loads(text)
        record[figure] += by
        path.write_text(json.dumps(record), encoding="utf-8")
        _, found = compared(capsys, batched.out, out)
        assert ([(one["what"], one["subject"]) for one in found["changed"]] == [(figure, "lot-1")]) == told
