"""`siteplan review` from outside, and the inspector's page walked command by command."""

from __future__ import annotations

import json
import re
import shlex
import shutil
from pathlib import Path

import pytest

from siteplan.cli.main import main

REPO = Path(__file__).parents[2]
SITE = REPO / "sample_sites" / "alder-court"
FOOT = 0.3048


@pytest.fixture
def place(tmp_path, monkeypatch, sample_plan):
    """A folder with the samples, a plan of one and its rods from HI 104.20, as the walks begin."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "sample_sites").symlink_to(REPO / "sample_sites")
    (tmp_path / "docs").symlink_to(REPO / "docs")
    shutil.copytree(sample_plan("alder-court").folder, "alder-plan")
    from siteplan.stored.folder_of import read_plan

    rows = ["line,sta,rod,name"]
    for line in read_plan(tmp_path / "alder-plan").plan.lines:
        for row in line.rows:
            top = row.invert + line.pipe_at(row.station).rise
            # a person writes CO or wye where he shot one
            word = "CO" if "cleanout" in row.note else "wye" if re.search(r"wye|bend|joins", row.note) else ""
            rows.append(f"{line.id},{row.station / FOOT:.2f},{104.20 - top / FOOT:.2f},{word}")
    (tmp_path / "rods.csv").write_text("\n".join(rows), encoding="utf-8")
    return tmp_path


def commands(page):
    """Every siteplan command in a page's code blocks and lines."""
    text = (REPO / "docs" / page).read_text(encoding="utf-8")
    bare = [line.strip().removeprefix("$ ") for line in text.splitlines()]
    found = [line for line in bare if line.startswith("siteplan ")]
    found += [code for code in re.findall(r"`(siteplan [^`]*)`", text) if "sample_sites" in code]
    return [shlex.split(line)[1:] for line in found]


@pytest.mark.parametrize("page", ["walk-inspector.md", "walk-contractor.md"])
def test_every_command_of_a_walk_works_as_written(place, page, capsys):
    walk = [one for one in commands(page) if one[0] != "plan"]
    assert len(walk) >= 3
    for one in walk:
        assert main(one) == 0, one
    capsys.readouterr()
    made = {"walk-inspector.md": ["check.html"], "walk-contractor.md": ["cut.html", "alder-record/owner.html"]}
    for name in made[page]:
        assert (place / name).is_file()


def test_keys_and_exit_code(place, capsys):
    capsys.readouterr()
    assert main(["review", "alder-plan", "sample_sites/alder-court", "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert set(record) >= {"findings", "counts"}
    assert set(record["counts"]) == {"pass", "flag", "fail"}
    assert all(set(one) >= {"rule", "subject", "status", "where", "message"} for one in record["findings"])
    assert len(record["findings"]) == sum(record["counts"].values())
    (place / "alder-plan" / "trench_schedule.csv").write_text("line\n", encoding="utf-8")
    assert main(["review", "alder-plan", "sample_sites/alder-court"]) == 1
    assert capsys.readouterr().out.splitlines()[1].startswith("FAIL schedule")


def test_another_site_altogether_is_seen(place, capsys):
    capsys.readouterr()
    assert main(["review", "alder-plan", "sample_sites/marsh-lane", "--json"]) == 1
    assert any(
        one["rule"] == "inputs" and one["status"] == "fail" for one in json.loads(capsys.readouterr().out)["findings"]
    )


def test_nothing_in_the_plan_folder_is_written(place):
    before = {path.name: path.read_bytes() for path in (place / "alder-plan").iterdir()}
    main(["review", "alder-plan", "sample_sites/alder-court", "--html", "check.html"])
    assert {path.name: path.read_bytes() for path in (place / "alder-plan").iterdir()} == before


def test_what_cannot_be_used(tmp_path, capsys):
    assert main(["review", str(tmp_path)]) == 2
    assert main(["review", str(tmp_path / "none"), str(SITE)]) == 2
    err = capsys.readouterr().err
    assert "Traceback" not in err
    assert len(err.strip().splitlines()) == 2
