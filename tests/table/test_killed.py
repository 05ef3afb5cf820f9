"""A save that dies on the way: the files of a site belong together as soon as somebody opens the folder again."""

from __future__ import annotations

import json
import random
import shutil
import signal
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest

SAMPLES = Path(__file__).parents[2] / "sample_sites"

_SAVER = """
import json
import sys
from pathlib import Path
from siteplan.table.session import TableSession
session = TableSession(Path(sys.argv[1]))
print("ready", flush=True)
for k in range(1, 100000):
    document = json.loads(json.dumps(session.document()))
    for one in document["features"]:
        if one["properties"]["kind"] == "tree":
            one["properties"]["note"] = f"save {k}"
    document["heights"] = [{"number": "1", "x": 10.0, "y": 20.0, "z": float(k), "note": ""}]
    document["settings"] = {**document["settings"], "note": f"save {k}"}
    session.change(document)
"""


def _states(folder):
    """What each of the three files says it was saved as; 0 before any."""
    drawn = json.loads((folder / "features.geojson").read_text())["features"]
    tree = next(one for one in drawn if one["properties"]["kind"] == "tree")
    site = tomllib.loads((folder / "site.toml").read_text())
    shots = folder / "shots.csv"
    rows = shots.read_text().splitlines()[1:] if "shots" in site["ground"] or shots.exists() else []
    return (
        int(tree["properties"].get("note", "save 0").split()[-1]),
        int(site.get("note", "save 0").split()[-1]),
        int(float(rows[0].split(",")[3])) if rows else 0,
    )


def _body(session, k):
    document = json.loads(json.dumps(session.document()))
    for one in document["features"]:
        if one["properties"]["kind"] == "tree":
            one["properties"]["note"] = f"save {k}"
    document["heights"] = [{"number": "1", "x": 10.0, "y": 20.0, "z": float(k), "note": ""}]
    document["settings"]["note"] = f"save {k}"
    return document


class _Killed(BaseException):
    pass


@pytest.mark.parametrize("after", [False, True])
@pytest.mark.parametrize("at", range(1, 6))
def test_dead_at_every_step_of_a_save(tmp_path, monkeypatch, at, after):
    """Five writes make a save of three files: history, journal, and they.

    Dead before or after each, all three say the same.
    """
    from siteplan.table import saving
    from siteplan.table.session import TableSession

    folder = Path(shutil.copytree(SAMPLES / "long-meadow", tmp_path / "site"))
    session = TableSession(folder)
    session.change(_body(session, 1))
    write, count = saving.write_file, []

    def dying(path, content):
        count.append(path)
        if len(count) == at and not after:
            raise _Killed
        write(path, content)
        if len(count) == at:
            raise _Killed

    monkeypatch.setattr(saving, "write_file", dying)
    with pytest.raises(_Killed):
        session.change(_body(session, 2))
    monkeypatch.setattr(saving, "write_file", write)
    TableSession(folder)
    states = _states(folder)
    assert len(set(states)) == 1
    assert states[0] == (1 if at < 2 or (at == 2 and not after) else 2)
    # and what somebody else wrote since the killed save is theirs
    assert not (folder / ".siteplan-history" / "saving.json").exists()


def test_a_killed_save_ends_without_what_somebody_wrote_since(tmp_path, monkeypatch):
    from siteplan.table import saving
    from siteplan.table.session import TableSession

    folder = Path(shutil.copytree(SAMPLES / "long-meadow", tmp_path / "site"))
    session = TableSession(folder)
    write, count = saving.write_file, []

    def dying(path, content):
        count.append(path)
        if len(count) == 3:
            raise _Killed
        write(path, content)

    monkeypatch.setattr(saving, "write_file", dying)
    with pytest.raises(_Killed):
        session.change(_body(session, 2))
    monkeypatch.setattr(saving, "write_file", write)
    theirs = (folder / "features.geojson").read_text().replace("Walnut", "Theirs")
    (folder / "features.geojson").write_text(theirs)
    TableSession(folder)
    assert (folder / "features.geojson").read_text() == theirs


def test_a_journal_that_names_a_file_elsewhere_is_no_journal(tmp_path):
    from siteplan.table.session import TableSession

    folder = Path(shutil.copytree(SAMPLES / "long-meadow", tmp_path / "site"))
    history = folder / ".siteplan-history"
    history.mkdir()
    for name in ("../outside.txt", "/tmp/siteplan-outside.txt", "a/../../outside.txt"):
        (history / "saving.json").write_text(json.dumps({"before": {name: None}, "after": {name: "written"}}))
        TableSession(folder)
        assert [path.name for path in tmp_path.iterdir()] == ["site"]
        assert not Path("/tmp/siteplan-outside.txt").exists()


@pytest.mark.slow
def test_killed_at_fifty_moments(tmp_path):
    """kill -9 while saves follow one another.

    Each file is whole at once, and all of them agree once the folder is opened.
    """
    from siteplan.table.session import TableSession

    folder = Path(shutil.copytree(SAMPLES / "long-meadow", tmp_path / "site"))
    chance, seen = random.Random(50), set()
    for _ in range(50):
        saver = subprocess.Popen([sys.executable, "-c", _SAVER, str(folder)], stdout=subprocess.PIPE, text=True)
        assert saver.stdout.readline() == "ready\n"
        time.sleep(chance.uniform(0.0, 0.25))
        saver.send_signal(signal.SIGKILL)
        saver.wait()
        saver.stdout.close()
        seen.add(len(set(_states(folder))))  # readable as they stand, though not of one save perhaps
        session = TableSession(folder)
        assert len(set(_states(folder))) == 1
        assert session.state.troubles == ()
    assert seen <= {1, 2, 3}
